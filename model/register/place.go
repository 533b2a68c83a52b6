package register

import (
	"slices"
	"sort"
	"strings"

	"pawl/model/dates"
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
	Code    string // what its printed code carries: P/CODE; never given to another place

	Person    string        // person id: whose place it is; empty = everybody's
	Withdrawn dates.Instant // when it was closed; 0 = it is there
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

// Child finds the place of that name under a parent. A closed one gave its name up.
func (t Places) Child(parent, name string) (Place, bool) {
	key := names.Key(name)
	for _, p := range t {
		if p.Parent == parent && p.NameKey == key && p.Withdrawn == 0 {
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
			if p.NameKey == names.Key(levels[0]) && p.Withdrawn == 0 {
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

// Parts gives the ids of the places directly in a place, by name; an empty id gives
// those of the top.
func (t Places) Parts(id string) (out []string) {
	for cid, p := range t {
		if p.Parent == id && p.Withdrawn == 0 {
			out = append(out, cid)
		}
	}
	sort.Slice(out, func(i, j int) bool { return t[out[i]].Name < t[out[j]].Name })
	return out
}

// MayRename asks whether a place can have another name, and gives it with that name.
func (t Places) MayRename(p Place, name string) (Place, error) {
	levels, err := SplitPath(name)
	if err == nil && len(levels) != 1 {
		err = fault.New(fault.Invalid, "%q is a path and no name", name).WithHint("give the name alone; to put it elsewhere, move it")
	}
	if err != nil {
		return p, fault.At("#/name", "%s", fault.Of(err).Error())
	}
	if same, found := t.Child(p.Parent, levels[0]); found && same.ID != p.ID {
		return p, t.taken(same)
	}
	if p.Name == levels[0] {
		return p, fault.New(fault.Conflict, "place %q has that name already", t.Path(p.ID)).WithFact("id", p.ID)
	}
	p.Name, p.NameKey = levels[0], names.Key(levels[0])
	return p, nil
}

// MayMove asks whether a place can go into another, the top where that has no id, and
// gives it in there. What is in it goes along.
func (t Places) MayMove(p, to Place) (Place, error) {
	if p.Parent == to.ID {
		where := "at the top"
		if to.ID != "" {
			where = "in " + t.Path(to.ID)
		}
		return p, fault.New(fault.Conflict, "place %q is %s already", t.Path(p.ID), where).WithFact("id", p.ID)
	}
	if slices.Contains(t.Under(p.ID), to.ID) {
		return p, fault.New(fault.Conflict, "place %q cannot go into itself", t.Path(p.ID)).WithHint("name a place that is not in it").WithFact("id", to.ID)
	}
	if same, found := t.Child(to.ID, p.Name); found {
		return p, t.taken(same)
	}
	if deep := t.depth(to.ID) + t.height(p.ID); deep > MaxDepth {
		return p, fault.New(fault.Invalid, "place %q would be %d levels deep there; %d are taken", t.Path(p.ID), deep, MaxDepth).WithHint("move it higher up")
	}
	p.Parent = to.ID
	return p, nil
}

// MayClose asks whether a place that so many tools belong in can be closed.
func (t Places) MayClose(p Place, tools int64) error {
	parts := t.Parts(p.ID)
	switch {
	case tools > 0:
		return fault.New(fault.Conflict, "place %q is not empty: %d tools belong there", t.Path(p.ID), tools).WithHint("give them another place first: pawl edit NUMBER --place PATH")
	case len(parts) > 0:
		return fault.New(fault.Conflict, "place %q is not empty: %s is in it", t.Path(p.ID), t[parts[0]].Name).WithHint("move or close what is in it first")
	}
	return nil
}

func (t Places) taken(p Place) error {
	return fault.New(fault.Conflict, "there is a place %q already", t.Path(p.ID)).WithHint("rename one of the two first").WithFact("id", p.ID)
}

// depth is the number of levels down to a place, which counts; height those from it
// down to the lowest in it.
func (t Places) depth(id string) (n int) {
	for ; id != "" && n <= MaxDepth; n++ {
		id = t[id].Parent
	}
	return n
}

func (t Places) height(id string) int {
	most := 0
	for _, part := range t.Parts(id) {
		most = max(most, t.height(part))
	}
	return 1 + most
}

// Under gives the ids of a place and of everything in it.
func (t Places) Under(id string) []string {
	out := []string{id}
	for i := 0; i < len(out); i++ {
		for cid, p := range t {
			if p.Parent == out[i] && p.Withdrawn == 0 {
				out = append(out, cid)
			}
		}
	}
	sort.Strings(out)
	return out
}
