package store

import (
	"slices"

	"pawl/model/numbers"
	"pawl/model/register"
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

// PoliciesClaimedOn gives the policies in force, by name, and with them those that ended
// and that a claim was made on: whom one covered, it covered.
func (r *Rx) PoliciesClaimedOn() ([]worth.Policy, error) {
	return many[worth.Policy](r, "name_key, id", 0, "ended IS NULL OR id IN (SELECT policy FROM claims)")
}

// Policy gives one by id, one that ended too.
func (r *Rx) Policy(id string) (worth.Policy, bool, error) {
	return one[worth.Policy](r, "id = ?", id)
}

// Lives gives the lives that the shop set itself, oldest first.
func (r *Rx) Lives() ([]worth.LifeRow, error) {
	return many[worth.LifeRow](r, "since, id", 0, "ended IS NULL")
}

// Conditions gives the condition that holds of each of the tools that have one.
func (r *Rx) Conditions(tools []string) (map[string]worth.Condition, error) {
	out := map[string]worth.Condition{}
	for some := range slices.Chunk(tools, lookRows) {
		all, err := many[worth.Condition](r, "since, id", 0, "tool IN ? AND ended IS NULL", some)
		if err != nil {
			return nil, err
		}
		for _, c := range all {
			out[c.Tool] = c
		}
	}
	return out, nil
}

// IndexPoints gives the values of the index that the shop goes by, oldest entered
// first.
func (r *Rx) IndexPoints() ([]worth.IndexPoint, error) {
	return many[worth.IndexPoint](r, "entered, id", 0, "ended IS NULL")
}

// ToolsNumbered gives tools by the number joined last.
func (r *Rx) ToolsNumbered(all []string) (map[numbers.Number]register.Tool, error) {
	out := map[numbers.Number]register.Tool{}
	for some := range slices.Chunk(all, lookRows) {
		tools, err := many[register.Tool](r, "number", 0, "number IN ?", some)
		if err != nil {
			return nil, err
		}
		for _, t := range tools {
			out[t.Number] = t
		}
	}
	return out, nil
}

// Shown is a photo or paper, as far as is needed to say whether it can be shown.
type Shown struct {
	Kind, MediaType string
	SHA256          string
	Width, Height   int64
}

// ShownOf gives the photos and papers of each of the tools.
func (r *Rx) ShownOf(tools []string) (map[string][]Shown, error) {
	out := map[string][]Shown{}
	for some := range slices.Chunk(tools, lookRows) {
		err := r.query(func(scan func(...any) error) error {
			var tool string
			var s Shown
			err := scan(&tool, &s.Kind, &s.SHA256, &s.MediaType, &s.Width, &s.Height)
			out[tool] = append(out[tool], s)
			return err
		}, "SELECT DISTINCT tool, kind, sha256, coalesce(media_type, ''), coalesce(width, 0), coalesce(height, 0) FROM evidence WHERE withdrawn IS NULL AND kind IS NOT NULL AND tool IN ("+marks(len(some))+") ORDER BY tool, kind", anys(some)...)
		if err != nil {
			return nil, err
		}
	}
	return out, nil
}
