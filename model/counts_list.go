package model

import (
	"context"
	"slices"
	"strconv"
	"strings"

	"pawl/model/counts"
	"pawl/model/custody"
	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/numbers"
	"pawl/model/register"
)

// CountRow is one tool of a count in names.
type CountRow struct {
	Tool     string
	Number   numbers.Number
	Kind     string
	Maker    string
	Model    string
	Serial   string
	Bucket   counts.Bucket // empty: it is not listed
	Look     bool          // it is to be looked for
	Place    string        // path of where it belonged when the count started
	Expected string        // in words: where it was expected
	Holder   string        // who had it then
	Seen     *CountSeen    // nil: nobody saw it, and nobody gave their word
	Moved    *CountMoved   // nil: its custody did not change
	Settled  *CountSettled
	LastSeen store.LastSeen // before, or in this count; At 0: never

}

// CountSeen is a look at a tool, or somebody's word.
type CountSeen struct {
	At        dates.Instant
	By        string
	Place     string // path; empty = nobody said
	Label     string
	Missing   register.Pieces
	Condition string
	Why       string // what does not fit the record
	ByWord    bool
}

// CountMoved is the act of custody by which a tool moved after the count started.
type CountMoved struct {
	Words string
	Loan  string // id of the stretch in somebody's hands; empty: it left for good
	At    dates.Instant
}

// CountSettled is how a difference was settled.
type CountSettled struct {
	How               counts.Settlement
	Place, Whom, Note string
	By                string
	At                dates.Instant
}

// countRows puts tools of a count into names, in the order given.
func (d *directory) countRows(st *countStanding, ids []string) (out []CountRow, err error) {
	tools, err := d.ToolsByID(ids)
	if err != nil {
		return nil, err
	}
	var loans []string
	for _, id := range ids {
		if l := st.changes[id].Loan; l != "" {
			loans = append(loans, l)
		}
	}
	changed, err := d.LoansByID(loans)
	if err != nil {
		return nil, err
	}
	last, err := d.LastSeenOf(ids)
	if err != nil {
		return nil, err
	}
	for _, id := range ids {
		t := tools[id]
		row := CountRow{Tool: id, Number: t.Number, Kind: t.Kind, Maker: t.Maker, Model: t.Model, Serial: t.Serial, LastSeen: last[id]}
		if e, on := st.list.entry(id); on {
			d.listedRow(st, e, changed, &row)
		} else if s := st.extras[id]; s != nil {
			row.Place, row.Expected, row.Seen = d.places.Path(t.Place), "not on the list", d.countSeen(*s)
		}
		if done := st.settled[id]; done != nil {
			row.Settled = &CountSettled{How: done.How, Place: d.places.Path(done.Place), Whom: done.Whom, Note: done.Note, By: d.owner(done.Person), At: done.SettledAt}
		}
		out = append(out, row)
	}
	return out, nil
}

// listedRow fills in where a listed tool was expected, and where it is.
func (d *directory) listedRow(st *countStanding, e counts.Entry, loans map[string]custody.Loan, row *CountRow) {
	row.Bucket, row.Look, row.Place = st.bucket(e), e.Look, d.places.Path(e.Place)
	row.Expected, row.Holder = d.expected(e)
	if s := st.seen[e.Tool]; s != nil {
		row.Seen = d.countSeen(*s)
	}
	end := st.changes[e.Tool]
	switch {
	case end.Gone != "":
		row.Moved = &CountMoved{Words: "gone: " + end.Gone, At: end.At}
		return
	case row.Bucket != counts.Moved:
		return
	}
	row.Moved = &CountMoved{Loan: end.Loan, At: end.At, Words: d.movedWords(loans[end.Loan], end.At)}
}

// movedWords says what a change of custody after the start of a count was.
func (d *directory) movedWords(l custody.Loan, at dates.Instant) string {
	who := d.holder(l).Name
	if l.Ended != 0 && l.Ended <= at {
		return string(l.EndedHow) + " by " + who + " at " + l.Ended.String()
	}
	return string(l.State) + " to " + who + " since " + l.Since.String()
}

// expected says where a tool was expected when the count started.
func (d *directory) expected(e counts.Entry) (words, holder string) {
	switch e.State() {
	case custody.Out:
		holder = d.person(e.Person)
		return "out to " + holder + " since " + e.Since.String(), holder
	case custody.Away:
		return "away to " + e.Whom + " since " + e.Since.String(), e.Whom
	}
	if e.Place == "" {
		return "in place; no place is recorded", ""
	}
	return "in " + d.places.Path(e.Place), ""
}

func (d *directory) countSeen(s counts.Sighting) *CountSeen {
	return &CountSeen{At: s.At, By: d.owner(s.Person), Place: d.places.Path(s.Place), Label: s.Label, Missing: s.Missing,
		Condition: s.Condition, Why: s.Why, ByWord: s.Found == counts.ByWord}
}

// Lists of the tools of a count, besides the buckets.
const (
	ListDifferences = "differences" // what is to be settled, or was
	ListExtra       = "extra"       // seen and not listed
	ListToLookFor   = "to look for" // not seen, out and away: nobody accounted for them yet
	ListAll         = "all"         // every listed tool, then extras
)

// CountToolsQuery picks tools of a count.
type CountToolsQuery struct {
	Which  string // one of the lists, or a bucket; empty: all
	Limit  int    // 0: 50; at most 200
	Cursor string
}

// CountTools gives tools of a count, by place and number, with the cursor of the next
// page.
func (s *Shop) CountTools(ctx context.Context, by By, id string, q CountToolsQuery) (rows []CountRow, next string, err error) {
	limit, err := pageLimit(q.Limit)
	if err != nil {
		return nil, "", err
	}
	err = s.standing(ctx, id, func(d *directory, st *countStanding) error {
		ids, err := d.pickedTools(st, q.Which)
		if err != nil {
			return err
		}
		at, from, err := placeInList(ids, st.count.ID+"/"+q.Which, q.Cursor)
		if err != nil {
			return err
		}
		if ids = ids[from:]; len(ids) > limit {
			ids = ids[:limit]
			next = cursor{List: at.List, Key: ids[limit-1]}.String()
		}
		rows, err = d.countRows(st, ids)
		return err
	})
	return rows, next, err
}

// placeInList finds the tool after the one that a cursor names. A list changes while
// tools are scanned: where that one is no longer on it, the list begins again.
func placeInList(ids []string, filters, text string) (c cursor, from int, err error) {
	c, err = parseCursor(under("count tools", filters), text)
	if err != nil || c.Key == "" {
		return c, 0, err
	}
	return c, slices.Index(ids, c.Key) + 1, nil
}

// pickedTools gives the tools of one list, by place and number.
func (d *directory) pickedTools(st *countStanding, which string) (out []string, err error) {
	which = strings.ToLower(strings.TrimSpace(which))
	if which == "" {
		which = ListAll
	}
	if which == ListDifferences {
		return st.differing(), nil
	}
	bucket := counts.Bucket(which)
	if !slices.Contains([]string{ListAll, ListExtra, ListToLookFor}, which) && !slices.Contains(counts.Buckets, bucket) {
		return nil, fault.At("#/which", "%q is no list of a count", which).WithHint("use all, differences, extra, to look for, or one of: %s", bucketWords())
	}
	for _, i := range st.list.walked(d.places) {
		e, b := st.list.frame[i], st.buckets[i]
		unseen := which == ListToLookFor && (b == counts.NotSeen || b == counts.StillOut || b == counts.StillAway)
		if which == ListAll || b == bucket || unseen {
			out = append(out, e.Tool)
		}
	}
	if which == ListAll || which == ListExtra {
		for _, s := range st.unlisted() {
			out = append(out, s.Tool)
		}
	}
	return out, nil
}

func bucketWords() string {
	var all []string
	for _, b := range counts.Buckets {
		all = append(all, string(b))
	}
	return strings.Join(all, ", ")
}

func decimal(n int64) string { return strconv.FormatInt(n, 10) }
