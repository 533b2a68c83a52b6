package register

import (
	"sort"
	"strings"

	"pawl/model/fault"
	"pawl/model/names"
)

// Place is the recorded row of a shop, bay, box, drawer or van: a tree.
type Place struct {
	ID      string `gorm:"primaryKey"`
	Rev     int64
	Parent  string // place id; empty = top level
	Name    string
	NameKey string // folded; unique under its parent
	Code    string // what its printed code carries: P/CODE
}

// TableName names the table of places.
func (Place) TableName() string { return "places" }

// MaxDepth is how deep places may be nested.
const MaxDepth = 12

// SplitPath reads "Bay 1/Cart" as the names from the top down.
func SplitPath(path string) ([]string, error) {
	parts := strings.Split(path, "/")
	if len(parts) > MaxDepth {
		return nil, fault.New(fault.Invalid, "place %q is %d levels deep; %d are taken", path, len(parts), MaxDepth)
	}
	for i, part := range parts {
		name, err := names.Check(part)
		if err != nil {
			return nil, fault.New(fault.Invalid, "place %q: level %d: %s", path, i+1, err).WithHint(`write "Bay 1/Cart"`)
		}
		parts[i] = name
	}
	return parts, nil
}

// Places is the tree, by id.
type Places map[string]Place

// Path gives "Bay 1/Cart" for a place id, empty for none.
func (t Places) Path(id string) string {
	var path []string
	for seen := 0; id != "" && seen < MaxDepth; seen++ {
		p, ok := t[id]
		if !ok {
			break
		}
		path = append([]string{p.Name}, path...)
		id = p.Parent
	}
	return strings.Join(path, "/")
}

// Child finds the place of that name under a parent.
func (t Places) Child(parent, name string) (Place, bool) {
	key := names.Key(name)
	for _, p := range t {
		if p.Parent == parent && p.NameKey == key {
			return p, true
		}
	}
	return Place{}, false
}

// Resolve finds a place by path, or by a name that only one place has.
func (t Places) Resolve(path string) (Place, error) {
	levels, err := SplitPath(path)
	if err != nil {
		return Place{}, err
	}
	at, found := Place{}, true
	for _, name := range levels {
		if at, found = t.Child(at.ID, name); !found {
			break
		}
	}
	if found {
		return at, nil
	}
	var same []string
	if len(levels) == 1 {
		for id, p := range t {
			if p.NameKey == names.Key(levels[0]) {
				at, same = p, append(same, t.Path(id))
			}
		}
	}
	if len(same) == 1 {
		return at, nil
	}
	sort.Strings(same)
	f := fault.New(fault.NotFound, "there is no place %q", path)
	if len(same) > 1 {
		return Place{}, f.WithHint("which one: %s", strings.Join(same, ", "))
	}
	return Place{}, f.WithHint("add it: pawl places add %q", path)
}

// Under gives the ids of a place and of everything in it.
func (t Places) Under(id string) []string {
	out := []string{id}
	for i := 0; i < len(out); i++ {
		for cid, p := range t {
			if p.Parent == out[i] {
				out = append(out, cid)
			}
		}
	}
	sort.Strings(out)
	return out
}
