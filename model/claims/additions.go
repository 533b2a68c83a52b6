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
