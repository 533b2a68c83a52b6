package calibration

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"pawl/model/dates"
	"pawl/model/units"
)

// Readiness is one of the three answers.
type Readiness string

const (
	Yes           Readiness = "yes"
	No            Readiness = "no"
	CannotConfirm Readiness = "cannot confirm"
)

// Reason is one thing that was weighed. Weighs is the answer that it makes: no,
// cannot confirm, or "" for what is only said.
type Reason struct {
	Code   ReasonCode `json:"code"`
	Text   string     `json:"text"`
	Weighs Readiness  `json:"-"`
}

// Answer is what can be said of one tool for one question. Figures that cannot be
// computed are NaN.
type Answer struct {
	Verdict   Readiness
	Fit       bool // the verdict is yes
	Available bool // in place, or out to who asks

	Measures  bool           // the tool only measures: nothing is set
	Setting   units.Quantity // what to set; none where nothing is, or nothing can be
	Adapter   string         // that the setting is for, and without which it is wrong; "" = none that changes the torque
	Direction Direction      // asked for, or assumed
	Unit      units.Unit     // of Target, Low and High: the question's
	Target    float64        // at the fastener, with the tool on that graduation
	Low, High float64        // what is applied, or measured, with 95 % probability
	Inside    float64        // probability of being inside the limits, per fastener; NaN too where the tool itself may not be used
	Threshold float64        // what a yes needs
	Limits    Limits         // as judged
	ByDefault Decimal        // the limits are the shop's default of so many percent; "" = they are the job's

	DeviationPercent   float64 // ā = (set − delivered)/delivered
	UncertaintyPercent float64 // 1.96·v

	Calibrated  dates.Date
	Due         dates.Date
	Calibration string // id of the calibration in force
	CheckedBy   string // id of the bench check that the figures are from, where one restored trust

	Reasons  []Reason // what makes the answer first
	Cautions []string

	noun string
}

// settle orders the reasons and draws the verdict: no before cannot confirm before
// yes.
func (a *Answer) settle() {
	rank := func(r Reason) int { return slices.Index([]Readiness{No, CannotConfirm, ""}, r.Weighs) }
	slices.SortStableFunc(a.Reasons, func(x, y Reason) int { return rank(x) - rank(y) })
	a.Verdict = Yes
	if len(a.Reasons) > 0 && a.Reasons[0].Weighs != "" {
		a.Verdict = a.Reasons[0].Weighs
	}
	a.Fit = a.Verdict == Yes
}

// ended are the reasons after which the last calibration no longer speaks of the tool.
var ended = []ReasonCode{ReasonGone, ReasonDoNotUse, ReasonTrustEnded, ReasonFailedCheck, ReasonFailed, ReasonPastDue, ReasonCycles}

// unusable says whether something speaks against the tool itself, whatever is asked of
// it. A probability worked out from its last calibration would then be taken for one of
// today, so there is none.
func (a *Answer) unusable() bool {
	return slices.ContainsFunc(a.Reasons, func(r Reason) bool { return slices.Contains(ended, r.Code) })
}

// Rounded writes a computed value with five significant digits and its unit, for
// showing; NaN and infinities are none.
func Rounded(v float64, unit units.Unit) units.Quantity {
	if math.IsNaN(v) || math.IsInf(v, 0) || math.Abs(v) >= 1e12 {
		return units.Quantity{}
	}
	decimals := 4
	for limit := 10.0; math.Abs(v) >= limit && decimals > 0; limit *= 10 {
		decimals--
	}
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.Contains(s, ".") {
		s = strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
	}
	if s == "-0" {
		s = "0"
	}
	return units.Quantity{Value: s, Unit: unit}
}

// Words says the direction to a person.
func (d Direction) Words() string {
	switch d {
	case Clockwise:
		return "clockwise"
	case Counterclockwise:
		return "counterclockwise"
	}
	return ""
}

// Words says the answer to a person, the first reason with it, and that the limits
// are the shop's own where nobody gave the job's.
func (a Answer) Words() string {
	if a.ByDefault == "" {
		return a.verdictWords()
	}
	return fmt.Sprintf("%s You gave no limits: by the shop's default of ±%s %%, %s. The vehicle maker's service information governs.", a.verdictWords(), a.ByDefault, a.Limits)
}

func (a Answer) verdictWords() string {
	switch a.Verdict {
	case Yes:
		return a.yesWords()
	case No:
		return "NO: " + a.first() + "."
	}
	if strings.HasSuffix(a.first(), "?") {
		return fmt.Sprintf("We cannot show that this %s is good for this. Treat it as no. %s", a.noun, sentence(a.first()))
	}
	return fmt.Sprintf("We cannot show that this %s is good for this. Treat it as no. %s.", a.noun, sentence(a.first()))
}

// first is the reason that decided.
func (a Answer) first() string {
	if len(a.Reasons) == 0 {
		return "nothing was asked"
	}
	return a.Reasons[0].Text
}

func (a Answer) yesWords() string {
	var b strings.Builder
	fmt.Fprintf(&b, "YES, for the %s only: calibrated %s, next due %s; ", a.noun, a.Calibrated, a.Due)
	if a.Measures {
		b.WriteString("it can be used to measure. It does not confirm the part, its limits or the method. Ask again after a drop.")
	} else {
		fmt.Fprintf(&b, "it can be set to %s %s", a.Setting.Words(), a.Direction.Words())
		if a.Adapter != "" {
			fmt.Fprintf(&b, " with the %s, and not without it", a.Adapter)
		}
		b.WriteString(". ")
		b.WriteString("It does not confirm value, sequence, lubrication or fastener. Ask again after a drop.")
	}
	if !a.Available {
		for _, r := range a.Reasons {
			if r.Code == ReasonHeld || r.Code == ReasonAway {
				b.WriteString(" " + sentence(r.Text) + ".")
			}
		}
	}
	return b.String()
}

// sentence begins a text with a capital letter.
func sentence(s string) string {
	return strings.ToUpper(s[:min(1, len(s))]) + s[min(1, len(s)):]
}
