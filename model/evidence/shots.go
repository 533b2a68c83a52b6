package evidence

import (
	"cmp"
	"slices"
)

// Shot is one photo of a walk along the drawers. For each tool, one shot shows
// its label, the next the whole tool, the next its serial plate; then comes the
// next label.
type Shot struct {
	SHA256    string
	Name      string   // the file's name, which tells shots of one second apart
	ClaimedAt string   // as in Media
	Numbers   []string // tool numbers that can be read in it, as printed: "00E-KM5"
	// Unreadable says that there is a code in it which cannot be read, or that it
	// cannot be looked at: it may be the label of the next tool.
	Unreadable bool
}

// Group is what belongs to one label, or, without Number, what belongs to none.
type Group struct {
	Number string
	Why    string // what made these shots unsorted; empty with a Number
	Shots  []Shot
	Kinds  []Kind // of each shot
}

// Reasons for unsorted shots.
const (
	BeforeLabel  = "before the first label that can be read"
	MaybeLabel   = "this may be a label that cannot be read, so what follows may be of another tool"
	ManyLabels   = "several labels are in it"
	NumberUnread = "its label holds a number that is not of this shop"
)

// Groups puts shots in the order in which they say they were taken, by name
// within a second, and splits them at the labels. A shot that does not say when
// comes first, unless none does. Known says whether a number was issued here;
// nothing is ever filed under one that was not, nor under the label before it.
//
// A label seen again in its own group is that tool again: most photos of a
// whole tool show it. An unreadable code in one of the two shots after a label is
// taken for the same; later, it ends the group.
func Groups(shots []Shot, known func(number string) bool) []Group {
	shots = slices.Clone(shots)
	slices.SortStableFunc(shots, func(a, b Shot) int {
		return cmp.Or(cmp.Compare(a.wall(), b.wall()), cmp.Compare(a.Name, b.Name))
	})
	groups := []Group{{Why: BeforeLabel}}
	for _, s := range shots {
		last := &groups[len(groups)-1]
		if next, starts := last.begin(s, known); starts {
			groups = append(groups, next)
			last = &groups[len(groups)-1]
		}
		last.add(s)
	}
	return slices.DeleteFunc(groups, func(g Group) bool { return len(g.Shots) == 0 })
}

// wall is the time on the camera's own clock: offsets of one walk do not differ,
// and a camera may give its offset in some photos only.
func (s Shot) wall() string { return s.ClaimedAt[:min(len(localLayout), len(s.ClaimedAt))] }

// afterLabel is how many shots belong to a label: the whole tool and its plate.
const afterLabel = 2

// begin says whether a shot begins another group than g, and which.
func (g *Group) begin(s Shot, known func(string) bool) (Group, bool) {
	mine := g.Number != ""
	expected := mine && len(g.Shots) <= afterLabel
	switch {
	case len(s.Numbers) > 1:
		return Group{Why: ManyLabels}, !(expected && slices.Contains(s.Numbers, g.Number))
	case len(s.Numbers) == 1 && s.Numbers[0] == g.Number:
		return Group{}, false
	case len(s.Numbers) == 1 && known(s.Numbers[0]):
		return Group{Number: s.Numbers[0]}, true
	case len(s.Numbers) == 1:
		return Group{Why: NumberUnread}, true
	case s.Unreadable && mine && !expected:
		return Group{Why: MaybeLabel}, true
	}
	return Group{}, false
}

// add files a shot under the kind that its turn gives it.
func (g *Group) add(s Shot) {
	order := []Kind{Label, Whole, Plate}
	kind := Other
	if at := len(g.Shots); g.Number != "" && at < len(order) {
		kind = order[at]
	}
	g.Shots, g.Kinds = append(g.Shots, s), append(g.Kinds, kind)
}
