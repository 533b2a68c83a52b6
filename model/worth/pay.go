package worth

import (
	"fmt"
	"math/big"
	"slices"
	"strings"

	"pawl/model/fault"
)

// Step is one step from a loss to what is paid. Their order differs from policy to
// policy.
type Step string

const (
	PerTool    Step = "item"       // each lost tool capped; the word of policies
	Sublimited Step = "sublimit"   // each group capped
	Ratio      Step = "ratio"      // coinsurance
	Deduct     Step = "deductible" // once an occurrence
	Capped     Step = "limit"      // of the policy
)

// Steps are all of them, in one common order (money-and-statistics 2.1).
var Steps = []Step{PerTool, Sublimited, Ratio, Deduct, Capped}

// ParseOrder reads "ratio,deductible,limit". Steps that are not in it are not
// placed: every place for them is reckoned.
func ParseOrder(text string) (out []Step, err error) {
	if strings.TrimSpace(text) == "" {
		return nil, nil
	}
	for word := range strings.SplitSeq(text, ",") {
		s := Step(strings.ToLower(strings.TrimSpace(word)))
		if !slices.Contains(Steps, s) {
			return nil, fault.New(fault.Invalid, "%q is no step of an order", fault.Clip(word)).WithHint("use item, sublimit, ratio, deductible and limit, separated by commas")
		}
		if slices.Contains(out, s) {
			return nil, fault.New(fault.Invalid, "%s stands twice in the order", s).WithHint("name each step once")
		}
		out = append(out, s)
	}
	return out, nil
}

// Sublimit caps a group of what is lost.
type Sublimit struct {
	Name   string
	Amount int64
}

// Names of sublimits that say by themselves what they cap. Any other may apply to
// a loss or not: only the policy says.
const (
	EachTool  = "item"
	Employees = "employees"
)

// Terms are what a policy says, as far as somebody entered it.
type Terms struct {
	Limit, Deductible int64
	Coinsurance       *big.Rat // nil: nobody said; 0: none is asked
	OtherCovered      *int64   // value that the limit covers besides tools; nil: nobody said
	Order             []Step
	Sublimits         []Sublimit
}

// LostTool is one tool lost, valued on the policy's basis.
type LostTool struct {
	Value    int64
	Employee bool // it is an employee's own
}

// Line is one printed step.
type Line struct {
	Step   Step
	Words  string
	Amount int64 // what is left after it
}

// Estimate is what a policy would bring by the figures entered.
type Estimate struct {
	Loss   int64
	High   int64
	Low    *int64 // nil: it cannot be said
	Lines  []Line // of the highest
	Orders int    // how many orders were reckoned
	Said   []string
}

// ratio is limit ÷ (coinsurance × value), never above 1: "C/R" of the published
// formula A = (C/R × L) − D (money-and-statistics 2.1). Known is false where
// somebody left out what it needs; it is then at best what is given.
func (t Terms) ratio(tools int64) (r *big.Rat, known bool) {
	one := big.NewRat(1, 1)
	if t.Coinsurance == nil {
		return one, false
	}
	value := tools
	if t.OtherCovered != nil {
		value += *t.OtherCovered
	}
	need := new(big.Rat).Mul(t.Coinsurance, new(big.Rat).SetInt64(value))
	if need.Sign() <= 0 {
		return one, t.OtherCovered != nil || t.Coinsurance.Sign() == 0
	}
	if r = new(big.Rat).Quo(new(big.Rat).SetInt64(t.Limit), need); r.Cmp(one) > 0 {
		r = one
	}
	return r, t.OtherCovered != nil
}

// Adequacy is limit ÷ (coinsurance × value of all that is covered), to two
// decimals, cut and not rounded: below 1 the limit is too low. Nil where
// coinsurance is not known or none, or nothing is covered.
func (t Terms) Adequacy(tools int64) *float64 {
	if t.Coinsurance == nil || t.Coinsurance.Sign() == 0 {
		return nil
	}
	value := tools
	if t.OtherCovered != nil {
		value += *t.OtherCovered
	}
	need := new(big.Rat).Mul(t.Coinsurance, new(big.Rat).SetInt64(value))
	if need.Sign() <= 0 {
		return nil
	}
	q := new(big.Rat).Mul(new(big.Rat).Quo(new(big.Rat).SetInt64(t.Limit), need), big.NewRat(100, 1))
	hundredths := new(big.Int).Quo(q.Num(), q.Denom())
	f, _ := new(big.Rat).SetFrac(hundredths, big.NewInt(100)).Float64()
	return &f
}

// Gap is how far the replacement cost of what a limit covers is above it.
func (t Terms) Gap(tools int64) int64 {
	value := tools
	if t.OtherCovered != nil {
		value += *t.OtherCovered
	}
	return max(0, value-t.Limit)
}

// Pay reckons what the terms bring for what is lost, out of tools worth all of
// value on the same basis: every order that the placed steps leave, with and
// without the sublimits that may apply.
func Pay(t Terms, lost []LostTool, value int64) (e Estimate) {
	r, known := t.ratio(value)
	for _, i := range lost {
		e.Loss += i.Value
	}
	doubtful := slices.ContainsFunc(t.Sublimits, func(s Sublimit) bool { return s.Name != EachTool && s.Name != Employees })
	low := int64(-1)
	for _, order := range orders(t.Order, t.live()) {
		e.Orders++
		for _, all := range []bool{false, true} {
			if all && !doubtful {
				continue
			}
			lines := t.walk(order, lost, r, all)
			paid := lines[len(lines)-1].Amount
			if e.Lines == nil || paid > e.High {
				e.High, e.Lines = paid, lines
			}
			if low < 0 || paid < low {
				low = paid
			}
		}
	}
	if known || e.High == 0 {
		e.Low = &low
	}
	e.Said = t.said(doubtful, e.Orders)
	return e
}

// said tells what makes the figures wide.
func (t Terms) said(doubtful bool, orders int) (out []string) {
	if t.Coinsurance == nil {
		out = append(out, "whether the policy asks coinsurance is not recorded: the ratio is at best 1; unknown")
	} else if t.OtherCovered == nil && t.Coinsurance.Sign() > 0 {
		out = append(out, "what else the limit covers is not recorded: the ratio is at best what the tools alone give; unknown")
	}
	if doubtful {
		out = append(out, "a sublimit may apply or not: the lower figure has it, the higher has not")
	}
	if orders > 1 {
		out = append(out, fmt.Sprintf("the order of the steps is not all recorded: %d orders are reckoned", orders))
	}
	return out
}

// live are the steps that can change anything: one that has no figure has no place.
func (t Terms) live() (out []Step) {
	for _, s := range Steps {
		switch {
		case s == Ratio && t.Coinsurance != nil && t.Coinsurance.Sign() == 0:
		case s == Deduct && t.Deductible == 0:
		case s == PerTool && !slices.ContainsFunc(t.Sublimits, func(s Sublimit) bool { return s.Name == EachTool }):
		case s == Sublimited && !slices.ContainsFunc(t.Sublimits, func(s Sublimit) bool { return s.Name != EachTool }):
		default:
			out = append(out, s)
		}
	}
	return out
}

// orders are all orders of the live steps that keep the placed ones in theirs.
func orders(placed, live []Step) (out [][]Step) {
	kept := slices.DeleteFunc(slices.Clone(placed), func(s Step) bool { return !slices.Contains(live, s) })
	out = [][]Step{kept}
	for _, s := range live {
		if slices.Contains(kept, s) {
			continue
		}
		var next [][]Step
		for _, o := range out {
			for at := range len(o) + 1 {
				next = append(next, slices.Insert(slices.Clone(o), at, s))
			}
		}
		out = next
	}
	return out
}

// walk takes the steps in an order and prints a line for each.
func (t Terms) walk(order []Step, lost []LostTool, ratio *big.Rat, all bool) []Line {
	w := walking{Terms: t, lost: lost, ratio: ratio, all: all, left: make([]int64, len(lost))}
	for i, l := range lost {
		w.left[i] = l.Value
	}
	w.total = Sum(w.left)
	lines := []Line{{Words: "the loss", Amount: w.total}}
	for _, s := range order {
		words := w.step(s)
		lines = append(lines, Line{s, words, w.total})
	}
	return lines
}

type walking struct {
	Terms
	lost  []LostTool
	left  []int64 // what is left of each
	total int64
	ratio *big.Rat
	all   bool // sublimits that may apply do
}

func (w *walking) step(s Step) string {
	switch s {
	case PerTool:
		for _, l := range w.Sublimits {
			if l.Name == EachTool {
				w.cut(l.Amount, func(LostTool) bool { return true })
			}
		}
		return "each tool at most its limit"
	case Sublimited:
		w.sublimit()
		return "each group at most its sublimit"
	case Ratio:
		for i := range w.left {
			w.left[i] = Times(w.left[i], w.ratio)
		}
		w.total = Times(w.total, w.ratio)
		return "times limit ÷ what coinsurance asks, " + w.ratio.FloatString(4)
	case Deduct:
		w.total = max(0, w.total-w.Deductible)
		return "less the deductible"
	}
	w.total = min(w.total, w.Limit)
	return "at most the limit"
}

// cut caps single tools; the total cannot be over their sum then.
func (w *walking) cut(most int64, of func(LostTool) bool) {
	some := false
	for i, l := range w.lost {
		if of(l) && w.left[i] > most {
			w.left[i], some = most, true
		}
	}
	if some {
		w.total = min(w.total, Sum(w.left))
	}
}

func (w *walking) sublimit() {
	for _, l := range w.Sublimits {
		switch {
		case l.Name == EachTool:
		case l.Name == Employees:
			theirs := int64(0)
			for i, one := range w.lost {
				if one.Employee {
					theirs += w.left[i]
				}
			}
			if over := theirs - l.Amount; over > 0 {
				w.total = min(w.total, Sum(w.left)-over)
			}
		case w.all:
			w.total = min(w.total, l.Amount)
		}
	}
}
