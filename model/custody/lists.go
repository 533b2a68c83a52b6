package custody

import (
	"strings"

	"pawl/model/fault"
)

// Which names a list of tools that somebody should look after.
type Which string

const (
	Overdue  Which = "overdue"    // not back when they were to be
	LongOut  Which = "long out"   // out for more days than the shop decided
	LeftWith Which = "left"       // out to somebody who left
	Unfit    Which = "do not use" // out of use
)

// Lists gives every list, in the order in which they are shown.
func Lists() []Which { return []Which{Overdue, LongOut, LeftWith, Unfit} }

// ParseLists takes the names of lists, with commas between, and gives each once, in the
// order of Lists. What is on all of them is what is asked for, as with every other
// question that narrows.
func ParseLists(s string) (out []Which, err error) {
	asked := map[Which]bool{}
	for _, name := range strings.Split(s, ",") {
		w, err := ParseWhich(name)
		if err != nil {
			return nil, err
		}
		asked[w] = true
	}
	for _, w := range Lists() {
		if asked[w] {
			out = append(out, w)
		}
	}
	return out, nil
}

// ParseWhich takes the name of a list.
func ParseWhich(s string) (Which, error) {
	var all []string
	for _, w := range Lists() {
		if w == Which(strings.ToLower(strings.TrimSpace(s))) {
			return w, nil
		}
		all = append(all, string(w))
	}
	return "", fault.New(fault.Invalid, "%q is not a list of tools", s).WithHint("use one of: %s", strings.Join(all, ", "))
}
