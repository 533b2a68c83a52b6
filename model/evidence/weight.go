package evidence

import "slices"

// weights ranks papers by how well they prove that, when and from whom a tool
// was bought, the best first (common practice, no source): a receipt names tool,
// seller, day and price; an account statement the same but often not the tool;
// a card record only day and sum; a registration the serial but no purchase.
var weights = []Kind{Receipt, Account, Card, Registration, Warranty, Slip, Certificate, Police, Statement, Other}

// Weight is the rank of a paper, 0 the best; photos come before all papers.
func (k Kind) Weight() int { return slices.Index(weights, k) }

// ByWeight orders records: photos as received, then papers, the one that proves
// most first.
func ByWeight(all []Record) {
	slices.SortStableFunc(all, func(a, b Record) int { return a.Kind.Weight() - b.Kind.Weight() })
}

// Shared says whether a paper speaks of everything that was bought together.
func (k Kind) Shared() bool {
	return slices.Contains([]Kind{Receipt, Account, Card, Warranty}, k)
}
