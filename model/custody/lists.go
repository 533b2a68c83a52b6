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
