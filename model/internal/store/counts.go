package store

import (
	"slices"

	"pawl/model/counts"
	"pawl/model/custody"
	"pawl/model/dates"
	"pawl/model/ledger"
	"pawl/model/numbers"
)

// Count gives one by id.
func (r *Rx) Count(id string) (counts.Count, bool, error) {
	return one[counts.Count](r, "id = ?", id)
}

// CountsBefore gives counts started before (at, id), newest first.
func (r *Rx) CountsBefore(at int64, id string, open bool, limit int) ([]counts.Count, error) {
	where := "(started < ? OR (started = ? AND id < ?))"
	if open {
		where += " AND closed IS NULL"
	}
	return many[counts.Count](r, "started DESC, id DESC", limit, where, at, at, id)
}

// SampleOf gives the newest sample of the same that is open still or was started since
// then, other than one.
func (r *Rx) SampleOf(c counts.Count, since dates.Instant) (counts.Count, bool, error) {
	list, err := many[counts.Count](r, "started DESC, id DESC", 1, "how <> ? AND sort = ? AND coalesce(target, '') = ? AND id <> ? AND (closed IS NULL OR started >= ?)",
		string(counts.InFull), string(c.Sort), c.Target, c.ID, int64(since))
	if err != nil || len(list) == 0 {
		return counts.Count{}, false, err
	}
	return list[0], true, nil
}

// DrawOf gives what the sample of a count was drawn from.
func (r *Rx) DrawOf(count string) (counts.DrawRow, bool, error) {
	return one[counts.DrawRow](r, "id = ?", count)
}

// FrameRows gives the list of a count, part by part.
func (r *Rx) FrameRows(count string) ([]counts.FrameRow, error) {
	return many[counts.FrameRow](r, "part", 0, `"count" = ?`, count)
}

// Outcomes gives how a count ended, part by part.
func (r *Rx) Outcomes(count string) ([]counts.OutcomeRow, error) {
	return many[counts.OutcomeRow](r, "part", 0, `"count" = ?`, count)
}

// Sightings gives what was seen in a count, oldest first.
func (r *Rx) Sightings(count string) ([]counts.Sighting, error) {
	return many[counts.Sighting](r, `"at", id`, 0, `"count" = ?`, count)
}

// SightingsOf gives what was seen in a count of those tools.
func (r *Rx) SightingsOf(count string, tools []string) (map[string]counts.Sighting, error) {
	out := map[string]counts.Sighting{}
	for some := range slices.Chunk(tools, lookRows) {
		all, err := many[counts.Sighting](r, "tool", 0, `"count" = ? AND tool IN ?`, count, some)
		if err != nil {
			return nil, err
		}
		for _, s := range all {
			out[s.Tool] = s
		}
	}
	return out, nil
}

// SightingForChange gives what was seen of one tool in a count, for an act that changes it.
func (tx *Tx) SightingForChange(count, tool string) (counts.Sighting, bool, error) {
	return changeWhere[counts.Sighting](tx, `"count" = ? AND tool = ?`, count, tool)
}

// Differences gives what was settled of a count.
func (r *Rx) Differences(count string) ([]counts.Difference, error) {
	return many[counts.Difference](r, "settled_at, id", 0, `"count" = ?`, count)
}

// DifferencesOf gives what was settled in a count of those tools.
func (r *Rx) DifferencesOf(count string, tools []string) (map[string]counts.Difference, error) {
	out := map[string]counts.Difference{}
	for some := range slices.Chunk(tools, lookRows) {
		all, err := many[counts.Difference](r, "tool", 0, `"count" = ? AND tool IN ?`, count, some)
		if err != nil {
			return nil, err
		}
		for _, d := range all {
			out[d.Tool] = d
		}
	}
	return out, nil
}

// StillMissing gives the differences that were settled as missing, newest first, of tools
// of which nothing was seen since: in no count, and by no change of custody. Of a tool
// that was missing in several counts it is the newest.
func (r *Rx) StillMissing(before dates.Instant, id string, limit int) ([]counts.Difference, error) {
	return many[counts.Difference](r, "settled_at DESC, id DESC", limit, "how = 'missing' AND (settled_at, id) < (?, ?) AND "+nothingSince,
		int64(before), id)
}

// nothingSince holds of a difference after which nothing was seen of its tool. A look of
// the same count that was entered after it ends it too, though it was made before: the
// count shows the tool as seen.
const nothingSince = `NOT EXISTS (SELECT 1 FROM differences d WHERE d.tool = differences.tool AND (d.settled_at, d.id) > (differences.settled_at, differences.id))
		AND NOT EXISTS (SELECT 1 FROM sightings s WHERE s.tool = differences.tool AND (s."at" > differences.settled_at
			OR s."count" = differences."count" AND s.found <> 'confirmed' AND EXISTS (SELECT 1 FROM lines i JOIN lines e ON e.noun = 'difference' AND e.id = differences.id
				WHERE i.noun = 'sighting' AND i.id = s.id AND i.seq > e.seq)))
		AND NOT EXISTS (SELECT 1 FROM loans l WHERE l.tool = differences.tool AND (l.since > differences.settled_at OR l.ended > differences.settled_at))
		AND EXISTS (SELECT 1 FROM tools g WHERE g.id = differences.tool AND g.gone IS NULL)`

// MissingHere is a tool of which StillMissing has a difference.
type MissingHere struct {
	Place string // id of where it belongs
	Count string // the newest in which it was searched for and not found
	Held  bool   // by the record it is out or away besides
}

// MissingOf gives those of the tools that are still missing; MissingIn those that belong
// directly in one of the places.
func (r *Rx) MissingOf(tools []string) (map[string]MissingHere, error) {
	return r.missingHere("t.id", tools)
}

// MissingIn is told at MissingOf.
func (r *Rx) MissingIn(places []string) (map[string]MissingHere, error) {
	return r.missingHere("t.place", places)
}

func (r *Rx) missingHere(column string, ids []string) (map[string]MissingHere, error) {
	out := map[string]MissingHere{}
	for some := range slices.Chunk(ids, lookRows) {
		err := r.query(func(scan func(...any) error) error {
			var tool string
			var m MissingHere
			err := scan(&tool, &m.Place, &m.Count, &m.Held)
			out[tool] = m
			return err
		}, `SELECT t.id, coalesce(t.place, ''), differences."count", EXISTS (SELECT 1 FROM loans o WHERE o.tool = t.id AND o.ended IS NULL)
			FROM tools t JOIN differences ON differences.tool = t.id WHERE `+column+" IN ("+marks(len(some))+") AND differences.how = ? AND "+nothingSince,
			append(values(some), string(counts.Missing))...)
		if err != nil {
			return nil, err
		}
	}
	return out, nil
}

// Listed is a tool as the list of a count is made of it.
type Listed struct {
	counts.Entry
	Owner    string // person id; empty = the shop
	Outsider bool   // it is somebody's outside
	Price    *int64 // minor units of Currency; nil = not known
	Currency string
	Created  dates.Instant
}

// ToList gives the tools that a count is over, with who has each now, in the order of
// their numbers. Places is for a count over a place.
func (r *Rx) ToList(c counts.Count, places []string) (out []Listed, err error) {
	where, args := "", []any{}
	switch c.Sort {
	case counts.OfPlace:
		where, args = " AND t.place IN ("+marks(len(places))+")", values(places)
	case counts.OfPerson:
		where, args = " AND (t.owner = ? AND t.outsider IS NULL OR l.person = ?)", []any{c.Target, c.Target}
	case counts.OfKind:
		where, args = " AND t.kind = ?", []any{c.Target}
	}
	err = r.query(func(scan func(...any) error) error {
		var t Listed
		var number string
		err := scan(&t.Tool, &number, &t.Place, &t.Owner, &t.Outsider, &t.Price, &t.Currency, &t.Loan, &t.Person, &t.Whom, (*int64)(&t.Since), (*int64)(&t.Created))
		t.Number = numbers.Number(number)
		out = append(out, t)
		return err
	}, `SELECT t.id, t.number, coalesce(t.place, ''), coalesce(t.owner, ''), t.outsider IS NOT NULL, t.price, coalesce(t.currency, ''),
		coalesce(l.id, ''), coalesce(l.person, ''), coalesce(l.whom, ''), coalesce(l.since, 0), coalesce(t.created, 0)
		FROM tools t LEFT JOIN loans l ON l.tool = t.id AND l.ended IS NULL WHERE t.gone IS NULL`+where+" ORDER BY t.number", args...)
	return out, err
}

// LoansChangedSince gives the loans of the tools that began, ended or were entered after
// then, oldest first.
func (r *Rx) LoansChangedSince(tools []string, since dates.Instant) (map[string][]custody.Loan, error) {
	out := map[string][]custody.Loan{}
	for some := range slices.Chunk(tools, lookRows) {
		all, err := many[custody.Loan](r, "tool, since, id", 0, "tool IN ? AND (since > ? OR ended > ? OR entered > ?)", some, int64(since), int64(since), int64(since))
		if err != nil {
			return nil, err
		}
		for _, l := range all {
			out[l.Tool] = append(out[l.Tool], l)
		}
	}
	return out, nil
}

// MovedAfter gives the tools of which a loan, or the tool itself, was written after then.
func (r *Rx) MovedAfter(at dates.Instant) (map[string]bool, error) {
	out := map[string]bool{}
	err := r.query(func(scan func(...any) error) error {
		var raw []byte
		if err := scan(&raw); err != nil {
			return err
		}
		l, err := ledger.ParseLine(raw)
		for _, tool := range l.Tools {
			out[tool] = true
		}
		return err
	}, `SELECT line FROM lines WHERE "at" > ? AND noun IN ('loan', 'tool')`, int64(at))
	return out, err
}

// PlaceAt gives where a tool belonged at a time, by the ledger; found is false where that is
// not on record, or was withheld.
func (r *Rx) PlaceAt(tool string, at dates.Instant) (place string, found bool, err error) {
	var after []byte
	err = r.query(func(scan func(...any) error) error { return scan(&after) },
		`SELECT after FROM lines WHERE noun = 'tool' AND id = ? AND "at" <= ? ORDER BY rev DESC LIMIT 1`, tool, int64(at))
	if err != nil || after == nil {
		return "", false, err
	}
	image, err := ledger.ParseImage(after)
	if err != nil {
		return "", false, err
	}
	place, _ = image["place"].(string)
	return place, true, nil
}

// LoansByID gives loans by id.
func (r *Rx) LoansByID(ids []string) (map[string]custody.Loan, error) {
	out := map[string]custody.Loan{}
	for some := range slices.Chunk(ids, lookRows) {
		all, err := many[custody.Loan](r, "id", 0, "id IN ?", some)
		if err != nil {
			return nil, err
		}
		for _, l := range all {
			out[l.ID] = l
		}
	}
	return out, nil
}

// Left is a tool that left for good.
type Left struct {
	Why string
	At  dates.Instant
}

// LeftSince gives those of the tools that were said after then to be gone.
func (r *Rx) LeftSince(tools []string, since dates.Instant) (map[string]Left, error) {
	out := map[string]Left{}
	for some := range slices.Chunk(tools, lookRows) {
		err := r.query(func(scan func(...any) error) error {
			var id string
			var l Left
			err := scan(&id, &l.Why, (*int64)(&l.At))
			out[id] = l
			return err
		}, "SELECT id, coalesce(gone_why, ''), gone FROM tools WHERE gone > ? AND id IN ("+marks(len(some))+")", append([]any{int64(since)}, values(some)...)...)
		if err != nil {
			return nil, err
		}
	}
	return out, nil
}

// LastSeen is the last time at which the record shows that a tool was there.
type LastSeen struct {
	How string // counted, custody, tightening or measurement, tool calibration or bench check
	At  dates.Instant
}

// lastSeen are the questions asked for it, less which tools. A holder's word is no look.
var lastSeen = []struct{ how, query string }{
	{"counted", `SELECT tool, max("at") FROM sightings WHERE found <> 'confirmed'`},
	{"custody", "SELECT tool, max(CASE WHEN ended IS NULL OR ended_how = 'gone' THEN since ELSE ended END) FROM loans WHERE since > 0"},
	{"tightening or measurement", "SELECT tool, max(happened) FROM uses WHERE withdrawn IS NULL AND happened > 0"},
	{"tool calibration or bench check", "SELECT tool, max(done_at) FROM calibrations WHERE withdrawn IS NULL AND done_at > 0"},
}

// LastSeenOf gives it for those of the tools of which there is such a time.
func (r *Rx) LastSeenOf(tools []string) (map[string]LastSeen, error) {
	out := map[string]LastSeen{}
	later := func(tool, how string, at dates.Instant) error {
		if at > out[tool].At {
			out[tool] = LastSeen{How: how, At: at}
		}
		return nil
	}
	for some := range slices.Chunk(tools, lookRows) {
		if err := r.seenLast(later, " AND tool IN ("+marks(len(some))+")", values(some)...); err != nil {
			return nil, err
		}
	}
	return out, nil
}

func (r *Rx) seenLast(tell func(tool, how string, at dates.Instant) error, which string, args ...any) error {
	for _, q := range lastSeen {
		err := r.query(func(scan func(...any) error) error {
			var tool string
			var at *int64
			if err := scan(&tool, &at); err != nil || at == nil {
				return err
			}
			return tell(tool, q.how, dates.Instant(*at))
		}, q.query+which+" GROUP BY tool", args...)
		if err != nil {
			return err
		}
	}
	return nil
}
