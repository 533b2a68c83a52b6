package store

import (
	"strings"

	"pawl/model/custody"
	"pawl/model/dates"
	"pawl/model/register"
)

// Places gives the whole tree, closed places too.
func (r *Rx) Places() (register.Places, error) {
	all, err := many[register.Place](r, "id", 0, "id <> ''")
	tree := register.Places{}
	for _, p := range all {
		tree[p.ID] = p
	}
	return tree, err
}

// Belonging counts the tools that belong in each of the places and are not gone.
func (r *Rx) Belonging(places []string) (map[string]int64, error) {
	out := map[string]int64{}
	if len(places) == 0 {
		return out, nil
	}
	err := r.query(func(scan func(...any) error) error {
		var place string
		var n int64
		err := scan(&place, &n)
		out[place] = n
		return err
	}, "SELECT place, count(*) FROM tools WHERE gone IS NULL AND place IN (?"+strings.Repeat(", ?", len(places)-1)+") GROUP BY place", anys(places)...)
	return out, err
}

// NotHere counts, of the tools that belong in each of the places, those that are out
// and those that are away.
func (r *Rx) NotHere(places []string) (map[string]map[custody.State]int64, error) {
	out := map[string]map[custody.State]int64{}
	if len(places) == 0 {
		return out, nil
	}
	err := r.query(func(scan func(...any) error) error {
		var place string
		var state custody.State
		var n int64
		err := scan(&place, (*string)(&state), &n)
		if out[place] == nil {
			out[place] = map[custody.State]int64{}
		}
		out[place][state] = n
		return err
	}, `SELECT t.place, l.state, count(*) FROM tools t JOIN loans l ON l.tool = t.id
		WHERE t.gone IS NULL AND l.ended IS NULL AND t.place IN (?`+strings.Repeat(", ?", len(places)-1)+") GROUP BY t.place, l.state", anys(places)...)
	return out, err
}

// SeenHere is the last time at which a tool was seen, and that was in a place.
type SeenHere struct {
	Tool, Count, Person string
	At                  dates.Instant
}

// SeenIn gives the tools that were seen last in a place, in a count or when a difference
// of one was settled, newest first, and belong in none of the places that are named.
// What changed hands since, or left, is not among them.
func (r *Rx) SeenIn(place string, not []string, limit int) (out []SeenHere, err error) {
	args := append([]any{place, place}, anys(not)...)
	err = r.query(func(scan func(...any) error) error {
		var s SeenHere
		err := scan(&s.Tool, &s.Count, &s.Person, (*int64)(&s.At))
		out = append(out, s)
		return err
	}, seenIn+" AND coalesce(t.place, '') NOT IN ("+marks(len(not))+") ORDER BY e.seen DESC, e.tool LIMIT ?", append(args, limit)...)
	return out, err
}

// seenIn asks for what was seen in a place and not again since. A later look that says no
// place ends it: nobody knows that the tool was still there.
const seenIn = `SELECT e.tool, e.counted, e.person, e.seen FROM (
		SELECT tool, "count" AS counted, coalesce(person, '') AS person, "at" AS seen FROM sightings WHERE place = ? AND found <> 'confirmed'
		UNION ALL
		SELECT tool, "count", coalesce(person, ''), settled_at FROM differences WHERE place = ? AND how = 'found') e
	JOIN tools t ON t.id = e.tool
	WHERE t.gone IS NULL
		AND NOT EXISTS (SELECT 1 FROM sightings s WHERE s.tool = e.tool AND s."at" > e.seen AND s.found <> 'confirmed')
		AND NOT EXISTS (SELECT 1 FROM differences d WHERE d.tool = e.tool AND d.settled_at > e.seen)
		AND NOT EXISTS (SELECT 1 FROM loans l WHERE l.tool = e.tool AND (l.since > e.seen OR l.ended > e.seen))`
