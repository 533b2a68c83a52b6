package store

import (
	"slices"

	"pawl/model/dates"
	"pawl/model/markings"
)

// Markings gives a tool's markings, oldest first.
func (r *Rx) Markings(tool string) ([]markings.Marking, error) {
	return many[markings.Marking](r, "since, id", 0, "tool = ?", tool)
}

// Terms gives the terms of the markings of tools, those from the start first, then oldest
// first; withdrawn ones too.
func (r *Rx) Terms(tools ...string) ([]markings.Term, error) {
	return hangingOn[markings.Term](r, "day NULLS FIRST, entered, id", tools)
}

// Checks gives the looks at the markings of tools, oldest first; withdrawn ones too.
func (r *Rx) Checks(tools ...string) ([]markings.Check, error) {
	return hangingOn[markings.Check](r, "day, entered, id", tools)
}

// MarkingsOf gives the markings of each of the tools, oldest first.
func (r *Rx) MarkingsOf(tools []string) (map[string][]markings.Marking, error) {
	all, err := hangingOn[markings.Marking](r, "since, id", tools)
	out := map[string][]markings.Marking{}
	for _, m := range all {
		out[m.Tool] = append(out[m.Tool], m)
	}
	return out, err
}

// hangingOn gives rows of tools: in the order asked for among those of one tool.
func hangingOn[T any](r *Rx, order string, tools []string) (out []T, err error) {
	for some := range slices.Chunk(tools, lookRows) {
		rows, err := many[T](r, order, 0, "tool IN ?", some)
		if err != nil {
			return nil, err
		}
		out = append(out, rows...)
	}
	return out, nil
}

// Stretch is a time in somebody's hands.
type Stretch struct {
	Tool, Person string
	Since, Ended dates.Instant // Ended 0: it goes on
}

// Stretches gives every time for which tools were out, oldest first for each tool.
func (r *Rx) Stretches(tools []string) (out []Stretch, err error) {
	for some := range slices.Chunk(tools, lookRows) {
		err := r.query(func(scan func(...any) error) error {
			var s Stretch
			err := scan(&s.Tool, &s.Person, (*int64)(&s.Since), (*int64)(&s.Ended))
			out = append(out, s)
			return err
		}, "SELECT tool, coalesce(person, ''), coalesce(since, 0), coalesce(ended, 0) FROM loans WHERE state = 'out' AND tool IN ("+marks(len(some))+") ORDER BY tool, since, id", anys(some)...)
		if err != nil {
			return nil, err
		}
	}
	return out, nil
}

// LookedAt gives the ids of all tools at whose markings somebody looked, with their
// kinds: gone ones too.
func (r *Rx) LookedAt() (kinds map[string]string, err error) {
	kinds = map[string]string{}
	err = r.query(func(scan func(...any) error) error {
		var id, kind string
		err := scan(&id, &kind)
		kinds[id] = kind
		return err
	}, "SELECT id, coalesce(kind, '') FROM tools WHERE id IN (SELECT tool FROM marking_checks WHERE withdrawn IS NULL AND grade IS NOT NULL)")
	return kinds, err
}

// Looks says whether this shop looks at markings: whether any look is on record.
func (r *Rx) Looks() (is bool, err error) {
	err = r.query(func(scan func(...any) error) error { return scan(&is) }, "SELECT EXISTS (SELECT 1 FROM marking_checks WHERE withdrawn IS NULL)")
	return is, err
}
