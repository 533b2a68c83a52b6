package store

import (
	"slices"

	"pawl/model/markings"
)

// Markings gives a tool's markings, oldest first.
func (r *Rx) Markings(tool string) ([]markings.Marking, error) {
	return many[markings.Marking](r, "since, id", 0, "tool = ?", tool)
}

// Terms gives the terms of the markings of tools, oldest first; withdrawn ones too.
func (r *Rx) Terms(tools ...string) ([]markings.Term, error) {
	return hangingOn[markings.Term](r, "day, entered, id", tools)
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
