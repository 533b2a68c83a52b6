package calibration_test

import (
	"fmt"
	"time"
)

// A case of the second implementation is plain numbers: whole thousandths of a
// unit and whole days, so that an edge is exactly an edge. Nothing here is of the
// package's own types.

// milli is a thousandth of a unit, of a percent or of a degree.
type milli int64

func (m milli) float() float64 { return float64(m) / 1000 }

// decimal writes it as a person would: 40, 40.5, -0.125.
func (m milli) decimal() string {
	sign, n := "", int64(m)
	if n < 0 {
		sign, n = "-", -n
	}
	s := fmt.Sprintf("%s%d.%03d", sign, n/1000, n%1000)
	for s[len(s)-1] == '0' {
		s = s[:len(s)-1]
	}
	if s[len(s)-1] == '.' {
		s = s[:len(s)-1]
	}
	return s
}

// oracleDay counts days from 2025-01-01; oracleNoDay is none.
type oracleDay int

const oracleNoDay = oracleDay(-1 << 30)

func (d oracleDay) civil() time.Time {
	return time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC).AddDate(0, 0, int(d))
}

func (d oracleDay) text() string {
	if d == oracleNoDay {
		return ""
	}
	return d.civil().Format("2006-01-02")
}

// months adds calendar months; a day that the month lacks becomes its last.
func (d oracleDay) months(n int) oracleDay {
	y, m, day := d.civil().Date()
	last := time.Date(y, m+time.Month(n)+1, 0, 0, 0, 0, 0, time.UTC)
	if day > last.Day() {
		day = last.Day()
	}
	then := time.Date(last.Year(), last.Month(), day, 0, 0, 0, 0, time.UTC)
	return oracleDay(then.Sub(oracleDay(0).civil()).Hours() / 24)
}

// known is a question's answer: not given, yes or no.
type known int

const (
	unsaid known = iota
	saidYes
	saidNo
)

// oracleScale is one scale; a step of 0 is no graduation.
type oracleScale struct {
	Unit            string
	Low, High, Step milli
}

// oracleLimit is the half-width of the permitted error.
type oracleLimit struct {
	Kind   string // "of reference", "of indicated", "of span", "absolute", "quarters", "sum", "larger", "steps"
	Amount milli  // percent, or the tool's unit
	Other  milli  // quarters: percent in the middle half; sum, larger: in the tool's unit; steps: in the tool's unit, above To
	To     milli  // steps: the last value of the first
}

// at is the half-width where the tool shows or is set to shown and the reference
// shows true.
func (l oracleLimit) at(shown, reference float64, s oracleScale) float64 {
	switch l.Kind {
	case "of reference":
		return l.Amount.float() / 100 * abs(reference)
	case "of indicated":
		return l.Amount.float() / 100 * abs(shown)
	case "of span":
		return l.Amount.float() / 100 * (s.High - s.Low).float()
	case "quarters": // the ends of the middle half belong to it
		percent, part := l.Amount, (abs(shown)-s.Low.float())/(s.High-s.Low).float()
		if atMost(0.25, part) && atMost(part, 0.75) {
			percent = l.Other
		}
		return percent.float() / 100 * (s.High - s.Low).float()
	case "sum":
		return l.Amount.float()/100*abs(shown) + l.Other.float()
	case "larger":
		return max(l.Amount.float()/100*abs(shown), l.Other.float())
	case "steps":
		if !atMost(abs(shown), l.To.float()) {
			return l.Other.float()
		}
	}
	return l.Amount.float()
}

func abs(x float64) float64 {
	if x < 0 {
		return -x
	}
	return x
}

// oraclePoint is one value compared in one direction.
type oraclePoint struct {
	Direction string
	Set       milli
	Readings  []milli
	W         milli // expanded uncertainty stated at this point, %; 0 = none
}

// oracleStandard is the reference of a comparison made here.
type oracleStandard struct {
	Missing     bool
	Uncertainty milli // expanded, %; 0 = not known
	Absolute    milli // or expanded, in the tool's unit
	Low, High   milli
	Bias        milli // %, where said
	BiasSaid    bool
	On, Due     oracleDay
	OutOfUse    bool
}

// oracleSpreads are the four spreads of the budget, in the tool's unit.
type oracleSpreads struct{ Reproducibility, Drive, Interface, Loading milli }

// oracleCalibration is one calibration or bench check.
type oracleCalibration struct {
	On          oracleDay
	Hour        int    // 0 = only the day is known
	Paper       string // certificate, declaration, pass only, own
	Bench       bool
	Claim       string // "", pass, fail
	Adjusted    bool
	Found, Left []oraclePoint
	W           milli // a lab's, %; 0 = not stated
	OnlyW       bool
	Standard    oracleStandard
	Temperature milli // °C
	NoTemp      bool
	Spreads     oracleSpreads
	Declared    oracleDeclared
}

// oracleDeclared is what a declaration of conformity speaks of.
type oracleDeclared struct {
	Low, High  milli
	Points     int
	Limit      milli // % of reference that the paper prints; 0 = none
	Directions []string
}

// oracleEvent is something that ends trust.
type oracleEvent struct {
	Kind string
	On   oracleDay
	Hour int // 0 = only the day is known
}

// oraclePair is one like tool's change between two calibrations.
type oraclePair struct {
	Change milli // %
	Share  milli // of the limit
	Days   int
}

// oracleAdapter is what stands between drive and fastener.
type oracleAdapter struct {
	Kind        string   // "", extension, offset adapter, torque-limiting, universal joint, multiplier
	Length      milli    // mm
	Angle       milli    // degrees
	Halves      [3]milli // mm, mm, degrees
	OwnHalves   bool
	Certificate bool
	Factor      milli
	Uncertainty milli // expanded, %
	Due         oracleDay
}

// oracleCase is one question about one tool, with all that is on record of it.
type oracleCase struct {
	Class         string // "" for a gauge
	Gauge         bool
	Vacuum        bool // every value is written with a minus sign
	Electronic    bool
	NoRequirement bool
	Scale         oracleScale
	Resolution    milli // 0 = that of the scale
	Second        *oracleScale
	Directions    []string
	Limit         oracleLimit
	FromMemory    bool
	Rule          string // "", simple, guarded, four-zone
	SafetyJobs    bool   // the tool is used on them
	Months        int
	Cycles        int64
	Reliability   milli // 0 = 0.95
	Grip          milli // mm, 0 = not known
	AmbientLow    milli // °C, both 0 = not known
	AmbientHigh   milli

	Calibrations []oracleCalibration // newest first
	Checks       []oracleCalibration // newest first
	Events       []oracleEvent
	FirstUse     oracleDay
	Counted      bool
	Count        int64
	Pairs        []oraclePair
	Today        oracleDay
	Doubtful     bool
	Gone         bool
	DoNotUse     bool
	Held         bool
	Unreadable   bool

	Target     milli
	TargetUnit string
	HasLow     bool
	HasHigh    bool
	LimitUnit  string
	LimitLow   milli
	LimitHigh  milli
	Default    milli // the shop's own ±%, 0 = none
	Direction  string
	Method     string
	AngleKnown bool
	Adapter    oracleAdapter
	NotSafety  bool
	Unchanged  known
	Zero       known
	Entered    known
	UnitRight  known
	Ambient    milli // °C
	NoAmbient  bool
}
