package store

import (
	"slices"

	"pawl/model/worth"
)

// Quotes gives the quotes of each of the tools, oldest entered first.
func (r *Rx) Quotes(tools []string) (map[string][]worth.Quote, error) {
	out := map[string][]worth.Quote{}
	for some := range slices.Chunk(tools, lookRows) {
		all, err := many[worth.Quote](r, "entered, id", 0, "tool IN ?", some)
		if err != nil {
			return nil, err
		}
		for _, q := range all {
			out[q.Tool] = append(out[q.Tool], q)
		}
	}
	return out, nil
}

// Policies gives the policies in force, by name.
func (r *Rx) Policies() ([]worth.Policy, error) {
	return many[worth.Policy](r, "name_key, id", 0, "ended IS NULL")
}

// PolicyByID gives one, in force or not.
func (r *Rx) PolicyByID(id string) (worth.Policy, bool, error) {
	return one[worth.Policy](r, "id = ?", id)
}

// KindsOfEvidence gives the kinds of photos and papers that each of the tools has.
func (r *Rx) KindsOfEvidence(tools []string) (map[string][]string, error) {
	out := map[string][]string{}
	for some := range slices.Chunk(tools, lookRows) {
		err := r.query(func(scan func(...any) error) error {
			var tool, kind string
			err := scan(&tool, &kind)
			out[tool] = append(out[tool], kind)
			return err
		}, "SELECT DISTINCT tool, kind FROM evidence WHERE withdrawn IS NULL AND kind IS NOT NULL AND tool IN ("+marks(len(some))+") ORDER BY tool, kind", anys(some)...)
		if err != nil {
			return nil, err
		}
	}
	return out, nil
}
