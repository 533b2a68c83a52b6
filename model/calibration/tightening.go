package calibration

import (
	"math"
	"strconv"
	"strings"

	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/units"
)

// maxCount is the most fasteners in one record, and the most cycles that it counts.
const maxCount = 1000

// Use is what a tightening and a measurement have in common: what a tool was asked
// for and what the answer was when it was recorded.
type Use struct {
	ID   string
	Job  string
	Tool string
	At   dates.Instant // when it happened
	By   string

	NotSafety    bool   // marked as not safety-critical
	NotSafetyWhy string // always with a reason; JobNotSafety where the job was marked so

	Asked       Question
	Calibration string // id of the one in force; "" none
	Verdict     Readiness
	Probability Decimal  // of being inside the limits; "" where none was computed
	Reasons     []string // codes

	RedoneBy  string // id of the use that replaced it
	Signed    *Signature
	Withdrawn bool // it was entered by mistake, and counts nowhere
}

// Signature is a manager's word for a use that could not be confirmed.
type Signature struct {
	By  string
	Why string
	At  dates.Instant
}

// Tightening is a torque applied to fasteners on a job.
type Tightening struct {
	Use
	Fastener string
	Count    int64          // how many, a cycle of the tool each
	Set      units.Quantity // what the tool was set to; none where nothing was
}

// Measurement is a value measured on a job; its question's target is the value read.
type Measurement struct {
	Use
	What    string
	Outcome Outcome
}

// Outcome is how a measured value stands to the job's limits.
type Outcome string

const (
	InsideLimits  Outcome = "inside"
	OutsideLimits Outcome = "outside"
	NearLimit     Outcome = "too near a limit to tell"
	CannotBeTold  Outcome = "cannot be told"
	WithoutLimits Outcome = "no limits given"
)

// keep fills in what the answer said.
func (u *Use) keep(q Question, a Answer) {
	u.Asked, u.Verdict, u.Calibration = q, a.Verdict, a.Calibration
	u.NotSafety = q.NotSafety
	u.Probability = ""
	if !math.IsNaN(a.Inside) {
		// Cut, not rounded: a probability is never shown as more than it is.
		u.Probability = Decimal(strconv.FormatFloat(math.Floor(a.Inside*1e6)/1e6, 'f', 6, 64))
	}
	u.Reasons = nil
	for _, r := range a.Reasons {
		u.Reasons = append(u.Reasons, string(r.Code))
	}
}

// NewTightening is the record of a tightening as the answer stands when it is
// written. What is typed is checked by Check.
func NewTightening(q Question, a Answer, fastener string, count int64) Tightening {
	t := Tightening{Fastener: strings.TrimSpace(fastener), Count: count, Set: a.Setting}
	t.keep(q, a)
	return t
}

// NewMeasurement is the record of a measurement as the answer stands when it is
// written.
func NewMeasurement(q Question, a Answer, what string) Measurement {
	m := Measurement{What: strings.TrimSpace(what), Outcome: outcomeOf(q, a)}
	m.keep(q, a)
	return m
}

// outcomeOf says inside only where the whole interval of what the value may truly be
// is inside, and outside only where all of it is outside. Without an interval nothing is
// told: how far off the tool reads is not known.
func outcomeOf(q Question, a Answer) Outcome {
	if q.Limits.IsZero() {
		return WithoutLimits
	}
	ends := func(q units.Quantity, open float64) float64 {
		if v, err := amountIn(q, a.Unit); err == nil {
			return v
		}
		return open
	}
	lo, hi := ends(q.Limits.Low, math.Inf(-1)), ends(q.Limits.High, math.Inf(1))
	if math.IsNaN(a.Low) || math.IsNaN(a.High) {
		return CannotBeTold
	}
	switch {
	case atMost(lo, a.Low) && atMost(a.High, hi):
		return InsideLimits
	case a.High < lo || a.Low > hi:
		return OutsideLimits
	}
	return NearLimit
}

// check refuses what is typed and cannot be.
func (u Use) check(p *fault.Problems) {
	if u.Job == "" {
		p.Add("#/job", "say on which job")
	}
	if u.NotSafety && strings.TrimSpace(u.NotSafetyWhy) == "" {
		p.Add("#/not_safety_why", "it counts as safety-critical; to mark it as not, say why")
	}
	if bad := fault.Of(u.Asked.Check()); bad != nil {
		*p = append(*p, bad.Fields...) // by their own names: the question is no part of its own
	}
}

// Check refuses a tightening that cannot be; every value at fault is named.
func (t Tightening) Check() error {
	var p fault.Problems
	t.check(&p)
	if t.Fastener == "" {
		p.Add("#/fastener", "say which fastener, such as front wheel nuts")
	}
	if t.Count < 1 || t.Count > maxCount {
		p.Add("#/count", "%d fasteners is not 1 to %d", t.Count, maxCount)
	}
	if t.Asked.Target.Unit.Dimension() != units.Torque {
		p.Add("#/target", "%q is not a torque", t.Asked.Target)
	}
	return inWords(p)
}

// Check refuses a measurement that cannot be; every value at fault is named.
func (m Measurement) Check() error {
	var p fault.Problems
	m.check(&p)
	if m.What == "" {
		p.Add("#/what", "say what was measured, such as front left rotor thickness")
	}
	return inWords(p)
}

// inWords tells all that is wrong without the names of fields: each detail names its
// value itself, and the fields stand beside it.
func inWords(p fault.Problems) error {
	if len(p) == 0 {
		return nil
	}
	f := fault.Of(p.Err())
	all := make([]string, len(p))
	for i, field := range p {
		all[i] = field.Detail
	}
	f.Message = strings.Join(all, "; ")
	return f
}

// JobNotSafety is the reason of what counted as not safety-critical because its job was
// marked so, and not by a word of its own.
const JobNotSafety = "the job is marked as not safety-critical"

// On is the use as it counts on a job that is, or is not, a safety job by now. Where
// the mark of the job was all that made it count as not safety-critical, it does so no
// longer than the job does: a yes that was given for less than a safety job asks is none.
func (u Use) On(safetyJob bool) Use {
	if !safetyJob || !u.NotSafety || u.NotSafetyWhy != JobNotSafety {
		return u
	}
	u.NotSafety, u.NotSafetyWhy = false, ""
	if p := u.Probability; u.Verdict == Yes && p != "" && p.Float() < (Question{}).Threshold() {
		u.Verdict = CannotConfirm
	}
	return u
}

// Unconfirmed says whether it was done without a confirmed tool.
func (u Use) Unconfirmed() bool { return u.Verdict != Yes }

// Holds says whether it holds its job open, and what settles it. It does where it was
// done without a confirmed tool on a safety job (unknown counts as one), is not
// marked otherwise, and is neither withdrawn nor redone nor, where that is enough, signed.
func (u Use) Holds(safetyJob bool) (held bool, settle string) {
	switch {
	case u.Withdrawn || !safetyJob || u.NotSafety || !u.Unconfirmed() || u.RedoneBy != "":
		return false, ""
	case u.Verdict == CannotConfirm && u.Signed != nil:
		return false, ""
	case u.Verdict == CannotConfirm:
		return true, "done without a confirmed tool: do it again with one that is, or a manager signs for it with a reason"
	}
	return true, "done with a tool that must not be used for it: do it again with one that is confirmed"
}

// MaySign asks whether a manager can settle it by signing.
func (u Use) MaySign(manager bool, why string) error {
	switch {
	case !manager:
		return fault.New(fault.Forbidden, "only a manager signs for what was done without a confirmed tool").WithHint("do it again with a confirmed one, or ask a manager")
	case u.Withdrawn:
		return fault.New(fault.Conflict, "it was withdrawn").WithHint("nothing to sign for")
	case !u.Unconfirmed():
		return fault.New(fault.Conflict, "it was done with a confirmed tool").WithHint("nothing to sign for")
	case u.RedoneBy != "":
		return fault.New(fault.Conflict, "it was done again already").WithHint("nothing to sign for")
	case u.Verdict != CannotConfirm:
		return fault.New(fault.Refused, "the tool was known not to be good for it, and no signature settles that").WithHint("do it again with a confirmed tool")
	case u.Signed != nil:
		return fault.New(fault.Conflict, "it is signed for already").WithFact("signed_by", u.Signed.By)
	case strings.TrimSpace(why) == "":
		return fault.New(fault.Invalid, "a signature needs its reason").WithHint("say why this is good enough")
	}
	return nil
}

// redoes asks what holds for every use that is to settle another. Wider limits, or a
// word that it is not safety-critical, would make a yes of what was none.
func (u Use) redoes(old Use) error {
	switch {
	case old.Withdrawn:
		return fault.New(fault.Conflict, "it was withdrawn").WithHint("nothing to do again")
	case !old.Unconfirmed():
		return fault.New(fault.Conflict, "it was done with a confirmed tool").WithHint("nothing to do again")
	case old.RedoneBy != "":
		return fault.New(fault.Conflict, "it was done again already").WithFact("redone_by", old.RedoneBy)
	case u.Unconfirmed():
		return fault.New(fault.Refused, "this too was done without a confirmed tool").WithHint("do it again with one that answers yes")
	case u.Job != old.Job:
		return fault.New(fault.Refused, "it is on another job").WithHint("record it on the same job")
	case u.At <= old.At:
		return fault.New(fault.Refused, "it happened before what it is to replace").WithHint("check the time")
	case !old.Asked.Limits.IsZero() && u.Asked.Limits != old.Asked.Limits:
		return fault.New(fault.Refused, "it was judged by the limits %s the first time", old.Asked.Limits).WithHint("give the same limits")
	case u.NotSafety && !old.NotSafety:
		return fault.New(fault.Refused, "it was safety-critical the first time").WithHint("judge it again as safety-critical")
	}
	return nil
}

// Redoes asks whether this tightening settles an earlier one: confirmed, later, on
// the same job and fastener, for the same value and at least as many.
func (t Tightening) Redoes(old Tightening) error {
	if err := t.redoes(old.Use); err != nil {
		return err
	}
	switch {
	case !strings.EqualFold(t.Fastener, old.Fastener):
		return fault.New(fault.Refused, "%q is another fastener than %q", t.Fastener, old.Fastener).WithHint("use the same name")
	case !sameQuantity(t.Asked.Target, old.Asked.Target):
		return fault.New(fault.Refused, "%s is not the %s of the first time", t.Asked.Target, old.Asked.Target).WithHint("do it again for the same value")
	case t.Asked.Direction.turn() != old.Asked.Direction.turn():
		return fault.New(fault.Refused, "it was tightened in another direction").WithHint("tighten it in the same direction")
	case t.Count < old.Count:
		return fault.New(fault.Refused, "%d of %d fasteners were done again", t.Count, old.Count).WithHint("do all of them again")
	}
	return nil
}

func sameQuantity(a, b units.Quantity) bool {
	order, err := a.Compare(b)
	return err == nil && order == 0
}

// turn is the direction, clockwise where none was given.
func (d Direction) turn() Direction {
	if d == NoDirection {
		return Clockwise
	}
	return d
}

// Redoes asks whether this measurement settles an earlier one: confirmed, later, of the
// same on the same job, and held against the same limits. The value read may differ.
func (m Measurement) Redoes(old Measurement) error {
	if err := m.redoes(old.Use); err != nil {
		return err
	}
	if !strings.EqualFold(m.What, old.What) {
		return fault.New(fault.Refused, "%q is not %q", m.What, old.What).WithHint("use the same name")
	}
	return nil
}

// CyclesIn adds up the cycles that tightenings put on a tool: a floor, since what
// nobody recorded is not in it, nor what is beyond counting.
func CyclesIn(counts []int64) Cycles {
	c := Cycles{Counted: len(counts) > 0}
	for _, n := range counts {
		if n > 0 && c.AtLeast <= math.MaxInt64-n {
			c.AtLeast += n
		}
	}
	return c
}
