package counts

import (
	"cmp"
	"math"
	"math/big"
	"slices"

	"pawl/model/fault"
)

// Worth is what one listed tool is worth, in minor units of the shop's currency. A tool
// without a price, or with one in another currency, has none known.
type Worth struct {
	Minor int64
	Known bool
}

// The strata of a list by worth.
const (
	ClassA   = "A"        // the dear ones, counted in full
	ClassB   = "B"        // the middle
	ClassC   = "C"        // the many cheap ones
	Unpriced = "unpriced" // worth not known: never left out, and not taken for cheap
)

// Classes gives the class of each listed tool: A are the dearest up to 80 % of the
// whole known worth, B the next up to 95 %, C the rest; the tool that crosses a line is
// in the dearer class, and alike in worth go by their place on the list. A rule of thumb
// of stock keeping, common practice, no source. Tools without a price are a class of
// their own.
func Classes(worths []Worth) []string {
	class, total := make([]string, len(worths)), new(big.Int)
	var priced []int
	for i, w := range worths {
		class[i] = Unpriced
		if w.Known && w.Minor >= 0 {
			priced, total = append(priced, i), total.Add(total, big.NewInt(w.Minor))
		}
	}
	slices.SortStableFunc(priced, func(a, b int) int { return cmp.Compare(worths[b].Minor, worths[a].Minor) })
	before := new(big.Int)
	for _, i := range priced {
		switch { // what is dearer, in hundredths of the whole
		case under(before, total, 80):
			class[i] = ClassA
		case under(before, total, 95):
			class[i] = ClassB
		default:
			class[i] = ClassC
		}
		before.Add(before, big.NewInt(worths[i].Minor))
	}
	return class
}

func under(part, whole *big.Int, percent int64) bool {
	a := new(big.Int).Mul(part, big.NewInt(100))
	return a.Cmp(new(big.Int).Mul(whole, big.NewInt(percent))) < 0
}

// Rule is how a stratum is looked at: in full, or so that Missing or more missing ones
// are found with the confidence.
type Rule struct {
	Full       bool
	Missing    int
	Confidence float64
}

// UsualRules are those a count starts with, for strata of these sizes: A in full; B and
// the unpriced so that 5 % missing are found with 95 %; C so that 10 % are found with
// 90 %, the plan of property counts after US DoD 4161.2-M (as its briefings give it).
// The 5 % is our own choice.
func UsualRules(sizes map[string]int) map[string]Rule {
	part := func(class string, of int) int { return max(1, (sizes[class]+of-1)/of) }
	return map[string]Rule{
		ClassA:   {Full: true},
		ClassB:   {Missing: part(ClassB, 20), Confidence: 0.95},
		ClassC:   {Missing: part(ClassC, 10), Confidence: 0.90},
		Unpriced: {Missing: part(Unpriced, 20), Confidence: 0.95},
	}
}

// Stratum is one part of a list and how many of it are looked at.
type Stratum struct {
	Class   string
	Members []int // positions on the list, ascending
	Rule    Rule
	Looks   int
}

// Strata parts a list by worth and sizes the sample of each part; parts without tools
// are not there. Every position is in exactly one part. rules may be nil, for the usual
// ones; a class without a rule there is fault.Invalid, as is a rule that Smallest refuses.
func Strata(worths []Worth, rules map[string]Rule) ([]Stratum, error) {
	members, sizes := map[string][]int{}, map[string]int{}
	for i, class := range Classes(worths) {
		members[class] = append(members[class], i)
		sizes[class]++
	}
	if rules == nil {
		rules = UsualRules(sizes)
	}
	var out []Stratum
	for _, class := range []string{ClassA, ClassB, ClassC, Unpriced} {
		if sizes[class] == 0 {
			continue
		}
		rule, ok := rules[class]
		if !ok {
			return nil, fault.New(fault.Invalid, "no rule for class %s, which has %d of the listed tools", class, sizes[class]).
				WithHint("no class is left out: count it in full or say how many missing ones it must not overlook")
		}
		looks := sizes[class]
		if !rule.Full {
			var err error
			if looks, err = Smallest(sizes[class], rule.Missing, rule.Confidence); err != nil {
				return nil, err
			}
		}
		out = append(out, Stratum{class, members[class], rule, looks})
	}
	return out, nil
}

// DrawStrata draws each stratum on its own, from the part seed of its class, and gives
// the positions of all of them in ascending order.
func DrawStrata(seed [32]byte, strata []Stratum) []int {
	var out []int
	for _, s := range strata {
		out = append(out, DrawFrom(PartSeed(seed, s.Class), s.Members, s.Looks)...)
	}
	slices.Sort(out)
	return out
}

// Part is the outcome of one stratum, or what it is asked about: how many are listed,
// looked at and missing. Looks that were not made are missing ones.
type Part struct {
	Class                   string
	Listed, Looked, Missing int
	Worth                   int64 // of all listed in it, in minor units; 0 where not known
}

// DetectsIn is the probability that at least one is found when in each part its Missing
// are missing: 1 − Π P0, since the parts are drawn independently.
func DetectsIn(parts []Part) float64 {
	sum := 0.0
	for _, p := range parts {
		sum += logOverlooked(p.Listed, p.Looked, p.Missing)
	}
	return -math.Expm1(sum)
}

// MissingAtMostIn bounds what is missing in all parts together: the bounds of each, at
// confidence 1 − (1 − C)/H for H parts, added. They hold together with confidence C
// (C. E. Bonferroni's inequality).
func MissingAtMostIn(parts []Part, confidence float64) (most int) {
	valid := CheckConfidence(confidence) == nil
	alpha := missed(confidence)
	alpha.Quo(alpha, big.NewRat(int64(max(1, len(parts))), 1))
	for _, p := range parts {
		if valid {
			most += missingAtMost(p.Listed, p.Looked, p.Missing, alpha)
		} else {
			most += p.Listed
		}
	}
	return most
}

// MissingIn estimates how many are missing in all parts together, seen or not: Σ N·(k/n).
// Parts at which nobody was to look are left out.
func MissingIn(parts []Part) (tools float64) {
	for _, p := range parts {
		if p.Looked > 0 {
			tools += float64(p.Listed) * float64(p.Missing) / float64(p.Looked)
		}
	}
	return tools
}

// LossIn estimates what the missing tools are worth, in minor units: Σ N·(k/n)·v̄, which
// is each part's worth times the share found missing in it, rounded once per part, half
// up. It is an estimate, not a bound, and leaves out parts without a price.
func LossIn(parts []Part) (minor int64) {
	for _, p := range parts {
		if p.Looked > 0 {
			minor += rounded(new(big.Rat).Mul(big.NewRat(p.Worth, 1), big.NewRat(int64(p.Missing), int64(p.Looked))))
		}
	}
	return minor
}

// rounded is a fraction in minor units as a whole number of them, half away from zero.
func rounded(r *big.Rat) int64 {
	twice := new(big.Int).Mul(r.Num(), big.NewInt(2))
	twice.Add(twice, new(big.Int).Mul(r.Denom(), big.NewInt(int64(r.Sign()))))
	return twice.Quo(twice, new(big.Int).Mul(r.Denom(), big.NewInt(2))).Int64()
}
