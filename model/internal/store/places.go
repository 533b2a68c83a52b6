package store

import (
	"strings"

	"pawl/model/custody"
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
