package claims

import (
	"slices"
	"strings"

	"pawl/model/fault"
)

// words are other ways to name an addition.
var additionWords = map[string]Addition{
	"acv": AddActualCash, "actual cash": AddActualCash, "actual-cash": AddActualCash, "actual-cash-value": AddActualCash,
	"market": AddMarket, "market-value": AddMarket,
}

func addition(typed string) (Addition, bool) {
	key := strings.ToLower(strings.TrimSpace(typed))
	if a, known := additionWords[key]; known {
		return a, true
	}
	return Addition(key), slices.Contains(Additions, Addition(key))
}

// inOrder gives each addition once, in the order in which they are offered.
func inOrder(all []Addition) []Addition {
	out := []Addition{}
	for _, a := range Additions {
		if slices.Contains(all, a) {
			out = append(out, a)
		}
	}
	return out
}

// holding leaves out of what was asked for what nothing in a statement can tell: whoever
// reads "market value" among what was added takes it that there is one.
func holding(st Statement) []Addition {
	return slices.DeleteFunc(inOrder(st.Added), func(a Addition) bool {
		return a == AddMarket && !slices.ContainsFunc(st.Lines, func(l Line) bool { return l.Market != nil }) || a == AddCustomers && !st.Has(AddJobs)
	})
}

// InCopies refuses what a copy that is kept elsewhere does not hold: read from one, it would
// say that there was none.
func InCopies(asked []Addition) error {
	if !slices.Contains(asked, AddCustomers) {
		return nil
	}
	return fault.At("#/add", "a copy that is kept elsewhere holds no customers").
		WithHint("leave it out; a packet that is built in the shop can hold it")
}

// ParseForCopy reads what is to go into a copy that is kept elsewhere on purpose; it is
// Invalid where it is none of those that one takes. What values rest on is always in it.
func ParseForCopy(typed []string) ([]Addition, error) {
	all, err := ParseAdditions(typed)
	if err != nil {
		return nil, err
	}
	for _, a := range all {
		if !slices.Contains([]Addition{AddTightenings, AddRechecks, AddOverrides, AddJobs}, a) {
			return nil, fault.At("#/add", "a copy that is kept elsewhere does not take %s", a).WithHint("tightenings, rechecks, overrides and jobs may be added to it")
		}
	}
	return all, nil
}

// AdditionList prints additions as a packet's row keeps them.
func AdditionList(all []Addition) string {
	words := make([]string, len(all))
	for i, a := range all {
		words[i] = string(a)
	}
	return strings.Join(words, ", ")
}

// problems gathers additions that there are not.
type problems []string

func (p *problems) add(typed string) { *p = append(*p, typed) }

func (p problems) err() error {
	if len(p) == 0 {
		return nil
	}
	return fault.At("#/add", "%q is nothing that a packet can hold on purpose", p[0]).
		WithHint("use %s", AdditionList(Additions))
}
