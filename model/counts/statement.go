package counts

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"pawl/model/fault"
	"pawl/model/units"
)

// Tally is what a count comes to, before anything is said about it. Every tool that was
// to be looked at is seen, by word, or missing: a look that was not made is a missing one.
type Tally struct {
	Listed     int // on the list when the count began
	Looked     int // of these, those to look at: all, or the sample
	Seen       int // of these, those somebody saw
	ByWord     int // of these, those nobody saw, for which whoever has them gave their word
	Moved      int // of these, those nobody saw, which by the record moved while the count went on
	Right      int // of these, those whose record was right in everything, or is taken at its word
	Confidence float64
	Currency   string // of every amount; empty where nothing goes by worth

	// How the sample came about; nothing of it for a full count.
	Planned int       // so many missing ones, or more, were not to be overlooked; 0 where parted or by money
	Strata  []Outcome // where the list was parted by worth
	Rules   string    // how, in a sentence, where somebody chose it
	Money   *ByMoney  // where units of money were drawn
	Chosen  string    // the seed as somebody chose it; empty where it was drawn
	Redraws int       // samples drawn before of the same scope
}

// Outcome is what one stratum comes to.
type Outcome struct {
	Class                                      string
	Rule                                       Rule
	Listed, Looked, Seen, ByWord, Moved, Right int
	Worth                                      int64 // of all listed in it, in minor units; 0 where not known
}

// ByMoney is what a sample by monetary units comes to.
type ByMoney struct {
	Overstated
	Outside int // tools without a price, all of which were to be looked at
}

// Statement is what may be said once a count is closed.
type Statement struct {
	Listed, Looked, Seen, ByWord, Moved, Missing int
	AtMostMissing                                int // of all listed, with the confidence
	Confidence                                   float64
	Accuracy                                     Accuracy
	Words                                        []string // the same in sentences, what weakens it included
	amounts                                      []string // those of Words that have amounts
}

// amountsHidden stands in place of a sentence about amounts.
const amountsHidden = "What the count says of worth is shown to whoever may see what the shop's tools cost."

// WithoutMoney is the statement for somebody who may not know what the tools cost: in
// place of the amounts it says that there are some.
func (s Statement) WithoutMoney() Statement {
	s.Words = slices.Clone(s.Words)
	for i, line := range s.Words {
		if slices.Contains(s.amounts, line) {
			s.Words[i] = amountsHidden
		}
	}
	s.amounts = nil
	return s
}

// State says what a count shows. Nothing to look at, figures that contradict each other
// and a confidence not over 0 and under 1 are fault.Invalid.
func State(t Tally) (Statement, error) {
	if err := t.check(); err != nil {
		return Statement{}, err
	}
	s := Statement{Listed: t.Listed, Looked: t.Looked, Seen: t.Seen, ByWord: t.ByWord, Moved: t.Moved,
		Missing: t.Looked - t.Seen - t.ByWord - t.Moved, Confidence: t.Confidence}
	accuracy, err := AccuracyOf(t.Listed, t.Looked, t.Right, t.Confidence)
	if err != nil {
		return Statement{}, err
	}
	s.Accuracy = accuracy
	wrong := 0
	switch {
	case t.Money != nil: // dear tools were likelier drawn: of the others nothing is known
		unseen := t.Listed - t.Looked
		s.AtMostMissing, wrong = s.Missing+unseen, t.Looked-t.Right+unseen
	case len(t.Strata) > 0:
		s.AtMostMissing = MissingAtMostIn(t.parts(Outcome.missing), t.Confidence)
		wrong = MissingAtMostIn(t.parts(Outcome.wrong), t.Confidence)
	default:
		s.AtMostMissing = MissingAtMost(t.Listed, t.Looked, s.Missing, t.Confidence)
		wrong = accuracy.WrongAtMost
	}
	s.Accuracy.WrongAtMost, s.Accuracy.Low = wrong, float64(t.Listed-wrong)/float64(t.Listed)
	if t.Money != nil || len(t.Strata) > 0 { // not every tool was drawn alike
		s.Accuracy.LowOfMany = 0
	}
	if t.Money != nil {
		s.amounts = append(s.amounts, t.money())
	}
	if t.Rules != "" {
		s.amounts = append(s.amounts, t.Rules)
	}
	if loss := t.loss(); loss != "" {
		s.amounts = append(s.amounts, loss)
	}
	s.Words = t.words(s)
	return s, nil
}

func (t Tally) check() error {
	bad := t.Listed < 1 || t.Looked < 1 || t.Looked > t.Listed || t.Seen < 0 || t.ByWord < 0 || t.Moved < 0 || t.Right < 0 ||
		t.Seen+t.ByWord+t.Moved > t.Looked || t.Right > t.Seen+t.ByWord+t.Moved
	if len(t.Strata) > 0 {
		var sum Outcome
		for _, o := range t.Strata {
			bad = bad || o.Looked > o.Listed || o.missing() < 0 || o.wrong() < 0
			sum.Listed, sum.Looked, sum.Seen, sum.ByWord, sum.Moved, sum.Right =
				sum.Listed+o.Listed, sum.Looked+o.Looked, sum.Seen+o.Seen, sum.ByWord+o.ByWord, sum.Moved+o.Moved, sum.Right+o.Right
		}
		bad = bad || sum.Listed != t.Listed || sum.Looked != t.Looked || sum.Seen != t.Seen || sum.ByWord != t.ByWord || sum.Moved != t.Moved || sum.Right != t.Right
	}
	if bad {
		return fault.New(fault.Invalid, "a count of %d listed, %d to look at, %d seen, %d by word, %d moved, %d right does not add up",
			t.Listed, t.Looked, t.Seen, t.ByWord, t.Moved, t.Right)
	}
	return CheckConfidence(t.Confidence)
}

func (o Outcome) missing() int { return o.Looked - o.Seen - o.ByWord - o.Moved }
func (o Outcome) wrong() int   { return o.Looked - o.Right }

// planned is how many missing ones the stratum's plan must not overlook.
func (o Outcome) planned() int {
	if o.Rule.Full {
		return 1
	}
	return o.Rule.Missing
}

func (t Tally) parts(missing func(Outcome) int) (out []Part) {
	for _, o := range t.Strata {
		out = append(out, Part{o.Class, o.Listed, o.Looked, missing(o), o.Worth})
	}
	return out
}

func (t Tally) words(s Statement) []string {
	out := []string{
		fmt.Sprintf("Listed tools only: %s on the list when the count began. What is on no list was not counted.", were(t.Listed, "tool")),
		t.looked(s),
	}
	if t.Rules != "" {
		out = append(out, t.Rules)
	}
	out = append(out, t.chance()...)
	out = append(out, t.bound(s)...)
	out = append(out, t.accuracy(s))
	if t.Chosen != "" {
		out = append(out, fmt.Sprintf("THE SEED WAS CHOSEN, NOT DRAWN: %s. Whoever chooses a seed can choose which tools are looked at, so what is said of the others rests on trust.", t.Chosen))
	}
	if t.Redraws > 0 {
		out = append(out, fmt.Sprintf("DRAWN AGAIN: %s of the same scope had been drawn before this one. Who may draw until a sample suits can choose which tools are looked at.", units.Count(t.Redraws, "sample")))
	}
	return out
}

// looked says what was done and what came of it.
func (t Tally) looked(s Statement) string {
	head := fmt.Sprintf("%d of them were drawn to be looked for", t.Looked)
	if t.Looked == t.Listed {
		head = "All of them were to be looked for"
	}
	parts := []string{fmt.Sprintf("%d seen", s.Seen)}
	if s.ByWord > 0 {
		parts = append(parts, fmt.Sprintf("%d not seen but with somebody who says so", s.ByWord))
	}
	if s.Moved > 0 {
		parts = append(parts, fmt.Sprintf("%d not seen but by the record moved while the count went on", s.Moved))
	}
	parts = append(parts, fmt.Sprintf("%d missing", s.Missing))
	out := head + ": " + strings.Join(parts, ", ") + ". A look that was not made counts as missing."
	switch {
	case s.ByWord > 0 && s.Moved > 0:
		out += " What follows takes people and the record at their word."
	case s.ByWord > 0:
		out += " What follows takes people at their word."
	case s.Moved > 0:
		out += " What follows takes the record of these at its word."
	}
	return out
}

// chance says what the sample was able to find.
func (t Tally) chance() (out []string) {
	if t.Looked == t.Listed || t.Money != nil {
		return nil
	}
	if len(t.Strata) == 0 {
		if t.Planned < 1 {
			return nil
		}
		p := Detects(t.Listed, t.Looked, t.Planned)
		if exact := missed(t.Confidence); overlooks(t.Listed, t.Looked, t.Planned, exact) {
			p = t.Confidence // planned, and kept
		}
		return []string{fmt.Sprintf("If %d or more of the %d listed were missing, this count had at least %s chance of finding one.",
			t.Planned, t.Listed, atLeast(p))}
	}
	planned, sampled := t.parts(Outcome.planned), []Part(nil)
	for i, o := range t.Strata {
		name := className(o.Class)
		if o.Looked == o.Listed {
			all := "the one was"
			if o.Listed != 1 {
				all = fmt.Sprintf("all %d were", o.Listed)
			}
			out = append(out, fmt.Sprintf("%s: %s to be looked for.", name, all))
			continue
		}
		p := Detects(o.Listed, o.Looked, planned[i].Missing)
		out = append(out, fmt.Sprintf("%s: %d of %d were to be looked for. If %d or more of these were missing, this count had at least %s chance of finding one.",
			name, o.Looked, o.Listed, planned[i].Missing, atLeast(p)))
		sampled = append(sampled, planned[i])
	}
	if len(sampled) > 1 {
		out = append(out, fmt.Sprintf("If so many were missing in each of these at once: at least %s.", atLeast(DetectsIn(sampled))))
	}
	return out
}

// className names a stratum at the head of a sentence.
func className(class string) string {
	if class == Unpriced {
		return "Tools without a price"
	}
	return "Class " + class
}

// bound says how many may be missing, seen or not.
func (t Tally) bound(s Statement) (out []string) {
	switch {
	case t.Looked == t.Listed:
		return []string{fmt.Sprintf("%s missing. Every listed tool was to be looked for, so this is no estimate.", areOf(s.Missing, s.Listed))}
	case t.Money != nil:
		return []string{t.money(), fmt.Sprintf("A sample by money says nothing of the number of tools: at most %s missing, which is every one that was not seen.", areOf(s.AtMostMissing, s.Listed))}
	}
	line := fmt.Sprintf("With confidence %s at most %s missing.", Percent(s.Confidence), areOf(s.AtMostMissing, s.Listed))
	if s.Missing > 0 {
		parts := t.parts(Outcome.missing)
		if len(parts) == 0 {
			parts = []Part{{Listed: s.Listed, Looked: s.Looked, Missing: s.Missing}}
		}
		line += fmt.Sprintf(" The best estimate is %s.", short(MissingIn(parts)))
	}
	out = []string{line}
	if loss := t.loss(); loss != "" {
		out = append(out, loss)
	}
	return out
}

// loss says what the missing may be worth; nothing where none of a class with a price is.
func (t Tally) loss() string {
	parts, unpriced := t.parts(Outcome.missing), 0
	for _, p := range parts {
		if p.Class == Unpriced {
			unpriced += p.Missing
		}
	}
	minor := LossIn(parts)
	if minor == 0 {
		return ""
	}
	out := fmt.Sprintf("The best estimate of what the missing are worth is %s: of each class its worth times the share found missing in it. It is no bound.", t.amount(minor))
	if unpriced > 0 {
		out += fmt.Sprintf(" Without a price, and not in that figure: %s missing.", units.Count(unpriced, "tool"))
	}
	return out
}

func (t Tally) amount(minor int64) string {
	return units.Money{Minor: minor, Currency: t.Currency}.String()
}

func (t Tally) money() string {
	m := t.Money
	out := fmt.Sprintf("With confidence %s the record claims at most %s more than is there: %s projected, %s for what chance may hide, %s for the errors found.",
		Percent(t.Confidence), t.amount(m.Upper), t.amount(m.Projected), t.amount(m.Basic), t.amount(m.Incremental))
	if m.Outside > 0 {
		out += fmt.Sprintf(" %s without a price are not in that figure; every one of them was to be looked for.", units.Count(m.Outside, "tool"))
	}
	return out
}

func (t Tally) accuracy(s Statement) string {
	a := s.Accuracy
	line := fmt.Sprintf("%d of %d records were right in everything, %s.", a.Right, a.Checked, percentOf(a.Share))
	if t.Looked < t.Listed {
		line = strings.TrimSuffix(line, ".")
		how := fmt.Sprintf("with confidence %s", Percent(s.Confidence))
		if t.Money != nil {
			how = "whatever the others are like"
		}
		line += fmt.Sprintf("; %s at least %s of all %d are.", how, atLeast(a.Low), s.Listed)
	}
	return line
}

// Percent writes a confidence as it was typed: "95 %", "99.5 %".
func Percent(p float64) string {
	return strconv.FormatFloat(math.Round(p*1e8)/1e6, 'f', -1, 64) + " %"
}

// atLeast writes a share that may be more but not less: rounded down to a tenth of a
// percent, whole percents without the tenth.
func atLeast(p float64) string {
	return short(math.Floor(math.Round(p*1e11)/1e8)/10) + " %"
}

// percentOf writes a share to a tenth of a percent; only all is 100 %, only none 0 %.
func percentOf(p float64) string {
	tenths := math.Round(p * 1000)
	if p < 1 {
		tenths = min(tenths, 999)
	}
	if p > 0 {
		tenths = max(tenths, 1)
	}
	return strconv.FormatFloat(tenths/10, 'f', 1, 64) + " %"
}

func short(f float64) string {
	return strings.TrimSuffix(strconv.FormatFloat(f, 'f', 1, 64), ".0")
}

func areOf(n, of int) string {
	if n == 1 {
		return fmt.Sprintf("1 of %d is", of)
	}
	return fmt.Sprintf("%d of %d are", n, of)
}

func were(n int, what string) string {
	if n == 1 {
		return "1 " + what + " was"
	}
	return fmt.Sprintf("%d %ss were", n, what)
}
