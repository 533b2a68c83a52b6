// Package calibration judges what a comparison of a tool with a reference shows,
// and answers whether a tool can be used for a value. It is arithmetic only: no
// database, no clock, no chance. Values travel as decimal text with their unit;
// what is computed from them is a float64 that nobody stores.
//
// One sign convention for every instrument: the error of a point is what the tool
// shows or is set to, less what the reference shows. A positive error means that
// the tool shows more than there is; a setting wrench then applies too little.
package calibration

import (
	"pawl/model/dates"
	"pawl/model/units"
)

// Decimal is a plain decimal as typed, trailing zeros kept: "39.7", "-20"; "" is
// none. See ParseDecimal.
type Decimal string

// Direction is the sense of turning in which a torque tool was compared. Other
// instruments have none.
type Direction string

const (
	NoDirection      Direction = ""
	Clockwise        Direction = "cw"
	Counterclockwise Direction = "ccw"
)

// Instrument is the sort of measuring tool.
type Instrument string

const (
	TorqueWrench        Instrument = "torque wrench"
	TorqueScrewdriver   Instrument = "torque screwdriver"
	TorqueTester        Instrument = "torque tester"
	PressureGauge       Instrument = "pressure gauge"
	TireGauge           Instrument = "tire gauge"
	VacuumGauge         Instrument = "vacuum gauge"
	FuelPressureGauge   Instrument = "fuel-pressure gauge"
	Caliper             Instrument = "caliper"
	OutsideMicrometer   Instrument = "outside micrometer"
	DialIndicator       Instrument = "dial indicator"
	BrakeRotorGauge     Instrument = "brake-rotor gauge"
	TreadDepthGauge     Instrument = "tread-depth gauge"
	Multimeter          Instrument = "multimeter"
	ClampMeter          Instrument = "clamp meter"
	InfraredThermometer Instrument = "infrared thermometer"
	RefrigerantScale    Instrument = "refrigerant scale"
	BatteryTester       Instrument = "battery tester"
	OtherInstrument     Instrument = "other"
)

// Class is a type and class of hand torque tools, ISO 6789-1:2017 4: "I-A" to
// "I-E" indicate, "II-A" to "II-G" are set. Other instruments have none.
type Class string

const (
	BeamWrench              Class = "I-A"  // wrench, torsion or flexion bar
	DialWrench              Class = "I-B"  // wrench, rigid housing, scale, dial or display
	ElectronicWrench        Class = "I-C"  // wrench, rigid housing, electronic
	DialScrewdriver         Class = "I-D"  // screwdriver, scale, dial or display
	ElectronicScrewdriver   Class = "I-E"  // screwdriver, electronic
	SettingWrench           Class = "II-A" // wrench, adjustable, graduated or with display
	FixedWrench             Class = "II-B" // wrench, one value
	NonGraduatedWrench      Class = "II-C" // wrench, adjustable, without scale
	SettingScrewdriver      Class = "II-D" // screwdriver, adjustable, graduated
	FixedScrewdriver        Class = "II-E" // screwdriver, one value
	NonGraduatedScrewdriver Class = "II-F" // screwdriver, adjustable, without scale
	FlexionBarSettingWrench Class = "II-G" // wrench, flexion bar, adjustable, graduated
	NoClass                 Class = ""
)

// Standing says how well a figure is founded.
type Standing string

const (
	Seen           Standing = "seen"            // read in the standard or in the source named
	FromMemory     Standing = "from memory"     // not seen: never enough for a yes
	CommonPractice Standing = "common practice" // a habit of the trade, no source
	OwnPaper       Standing = "own paper"       // read in the tool's own paper; Where says in which
	ShopRule       Standing = "shop rule"       // the shop's own documented choice
)

// Source is where a figure comes from. Where names the document and clause or
// page; it is required for OwnPaper.
type Source struct {
	Standing Standing `json:"standing"`
	Where    string   `json:"where,omitempty"`
}

// Scale is one graduated scale of a tool. Graduation is the step between values
// that can be set or read; none where the tool has no scale (II-B, II-C, II-E,
// II-F).
type Scale struct {
	Low        units.Quantity `json:"low"`
	High       units.Quantity `json:"high"`
	Graduation units.Quantity `json:"graduation,omitzero"`
}

// Rule is how a mean deviation with its uncertainty becomes a decision.
type Rule string

const (
	SimpleRule   Rule = "simple"    // the limit itself (ILAC-G8:09/2019 4.2.1)
	GuardedRule  Rule = "guarded"   // the limit less the expanded uncertainty (ILAC-G8:09/2019 4.2.2)
	FourZoneRule Rule = "four-zone" // pass, conditional pass, conditional fail, fail (ILAC-G8:09/2019 4.2.3)
	DefaultRule  Rule = ""          // guarded for a tool used on safety jobs, four-zone elsewhere
)

// Requirement is what is asked of a tool that measures.
type Requirement struct {
	Preset      string         `json:"preset,omitempty"` // the preset it came from
	Instrument  Instrument     `json:"instrument"`
	Class       Class          `json:"class,omitempty"`
	Electronic  bool           `json:"electronic,omitempty"` // has power and a zero: ask for both before a yes
	Unit        units.Unit     `json:"unit"`
	Scale       Scale          `json:"scale"`                  // one value: Low = High
	Second      *Scale         `json:"second_scale,omitempty"` // in its own unit
	Resolution  units.Quantity `json:"resolution,omitzero"`    // smallest step that can be read; none: the graduation
	Directions  []Direction    `json:"directions,omitempty"`   // to be compared in; empty for instruments without
	Limit       Limit          `json:"limit"`
	LimitSource Source         `json:"limit_source"`
	Months      int            `json:"months,omitempty"` // interval, 0 = none stated
	Cycles      int64          `json:"cycles,omitempty"` // 0 = none stated

	MaximumMonths  int            `json:"maximum_months,omitempty"` // legal or contractual; 0 = none recorded
	MaximumWhy     string         `json:"maximum_why,omitempty"`    // what sets it
	IntervalSource Source         `json:"interval_source"`
	Rule           Rule           `json:"rule,omitempty"`
	Reliability    Decimal        `json:"reliability,omitempty"` // R*, the share in tolerance at the end of the interval; "" = 0.95, assumed
	GripToDrive    units.Quantity `json:"grip_to_drive,omitzero"`
	AmbientLow     units.Quantity `json:"ambient_low,omitzero"` // where the maker says it may be used
	AmbientHigh    units.Quantity `json:"ambient_high,omitzero"`
}

// Point is one value of the comparison in one direction: what the tool was set to
// or showed, and what the reference then showed, a reading each, all in the
// requirement's unit.
type Point struct {
	Direction   Direction `json:"direction,omitempty"`
	Set         Decimal   `json:"set"`
	Readings    []Decimal `json:"readings"`
	Uncertainty Decimal   `json:"uncertainty,omitempty"` // expanded (k = 2), % of reading, where the paper states one for this point
}

// Phase is when in a calibration a point was taken.
type Phase string

const (
	AsFound Phase = "as found"
	AsLeft  Phase = "as left"
)

// Paper is what sort of paper a calibration rests on.
type Paper string

const (
	Certificate Paper = "certificate" // results with uncertainty (ISO 6789-2, ISO/IEC 17025)
	Declaration Paper = "declaration" // conformity to a named class over a range, no readings (ISO 6789-1)
	PassOnly    Paper = "pass only"   // a word and a date
	Own         Paper = "own"         // compared here, against a standard of the shop
)

// Standard is the reference that a calibration was made with.
type Standard struct {
	Tool        string         `json:"tool,omitempty"` // id or number, where it is a tool here
	Name        string         `json:"name,omitempty"`
	Low         units.Quantity `json:"low,omitzero"` // its calibrated range
	High        units.Quantity `json:"high,omitzero"`
	Uncertainty Decimal        `json:"uncertainty,omitempty"` // expanded (k = 2), % of reading
	Absolute    units.Quantity `json:"absolute,omitzero"`     // or expanded (k = 2) in a unit
	Bias        Decimal        `json:"bias,omitempty"`        // b_ep, % of reading; "0" where corrected, "" where nobody said
	Calibrated  dates.Date     `json:"calibrated,omitempty"`
	Due         dates.Date     `json:"due,omitempty"` // last day on which it is in date
	OutOfUse    bool           `json:"out_of_use,omitempty"`
}

// Budget holds the spreads of ISO 6789-2:2017 6, each in the requirement's unit as
// largest less smallest of the means; "" where it was not determined.
type Budget struct {
	Reproducibility Decimal `json:"reproducibility,omitempty"` // b_rep
	OutputDrive     Decimal `json:"output_drive,omitempty"`    // b_od
	Interface       Decimal `json:"interface,omitempty"`       // b_int
	LoadingPoint    Decimal `json:"loading_point,omitempty"`   // b_l, wrenches only
}

// Declared is what a declaration of conformity says.
type Declared struct {
	Class      string         `json:"class"`           // the named class, as the paper has it
	Limit      *Limit         `json:"limit,omitempty"` // the class's limit where the paper prints it; nil: the requirement's
	Low        units.Quantity `json:"low"`             // the range that it speaks of
	High       units.Quantity `json:"high"`
	Points     int            `json:"points"` // how many it names
	Directions []Direction    `json:"directions,omitempty"`
}

// Claim is what the paper itself says of the outcome.
type Claim string

const (
	NoClaim    Claim = ""
	ClaimsPass Claim = "pass"
	ClaimsFail Claim = "fail"
)

// Result is one tool calibration or bench check as entered.
type Result struct {
	On              dates.Date     `json:"on"`
	By              string         `json:"by,omitempty"` // the lab, or who compared it here
	Number          string         `json:"number,omitempty"`
	Paper           Paper          `json:"paper"`
	BenchCheck      bool           `json:"bench_check,omitempty"`
	Standard        Standard       `json:"standard,omitzero"`
	Temperature     units.Quantity `json:"temperature,omitzero"`
	Humidity        Decimal        `json:"humidity,omitempty"` // %
	AsFound         []Point        `json:"as_found,omitempty"`
	AsLeft          []Point        `json:"as_left,omitempty"`
	Adjusted        bool           `json:"adjusted"`
	Uncertainty     Decimal        `json:"uncertainty,omitempty"`      // a lab's W: expanded (k = 2), % of reading, at every point
	OnlyUncertainty bool           `json:"only_uncertainty,omitempty"` // the readings given are means: their scatter says nothing
	Budget          Budget         `json:"budget,omitzero"`
	Declared        *Declared      `json:"declared,omitempty"`
	Claim           Claim          `json:"claim,omitempty"`
}

// Around is what the judge is told besides the comparison itself.
type Around struct {
	SafetyJobs bool       // the tool is used on safety jobs
	FirstUse   dates.Date // first use after this calibration; "" where not known
	Like       Like       // calibrations of tools like this one, as found
	Unfounded  string     // why nothing rests on its standard any more, in words; "" it does
}

// Like counts as-found results of tools like this one.
type Like struct {
	Calibrations int
	InTolerance  int
}

// Verdict is the outcome of a whole calibration.
type Verdict string

const (
	Passed         Verdict = "pass"
	Failed         Verdict = "fail"
	CannotBeJudged Verdict = "cannot be judged"
)

// Decision is the outcome at one point under the decision rule.
type Decision string

const (
	Pass            Decision = "pass"
	ConditionalPass Decision = "conditional pass"
	ConditionalFail Decision = "conditional fail"
	Fail            Decision = "fail"
)

// JudgedPoint is one point with what follows from its readings. Percents are of
// the reference's reading (its magnitude), (set − delivered)/delivered; they are
// NaN where the reference shows zero. Amounts are in the requirement's unit.
type JudgedPoint struct {
	Phase     Phase
	Direction Direction
	Set       Decimal
	Readings  []Decimal

	SetValue  float64
	Delivered float64   // mean of the readings
	Errors    []float64 // set − reading
	MeanError float64
	Limit     float64 // half-width at this point, as an amount; the smallest over the readings
	Expanded  float64 // W as an amount; NaN where nobody states it
	Scatter   float64 // of a single use, as an amount

	DeviationsPercent []float64
	MeanPercent       float64 // ā: mean of the single deviations
	WorstPercent      float64 // the one of largest magnitude, with its sign
	LimitPercent      float64 // p at this point
	ExpandedPercent   float64 // W, k = 2; NaN where nobody states it
	ScatterPercent    float64 // s: inflated where n < 10, MPD/4 where assumed
	ScatterAssumed    bool
	Interval          float64 // W' = |ā| + |b_ep| + W, %; NaN with W

	Within      bool    // every reading inside its limit
	Conformance float64 // probability that the mean is inside; NaN with W
	Decision    Decision
	TUR         float64 // limit over W; NaN with W
	Parts       []Contribution
}

// Contribution is one standard uncertainty of a budget. Relative ones are % of the
// mean reading, others amounts.
type Contribution struct {
	Name    string
	Symbol  string
	Percent float64 // NaN where the mean reading is zero
	Amount  float64
	Freedom float64 // degrees of freedom; +Inf where taken as known
	Assumed bool    // nobody determined it: the project's own allowance
}

// Span is a stretch of values in one direction.
type Span struct {
	Direction Direction
	Low, High float64
}

// Doubt is something that a calibration leaves open. Where it blocks, the
// calibration is kept but supports no yes.
type Doubt struct {
	Code   DoubtCode
	Text   string
	Blocks bool
}

// DoubtCode names a doubt for programs.
type DoubtCode string

const (
	DoubtNotAdjustedLeft  DoubtCode = "adjusted without as left"
	DoubtAdjustedUnfound  DoubtCode = "adjusted without as found" // earlier work cannot be judged; blocks nothing ahead
	DoubtNoReadings       DoubtCode = "no readings"
	DoubtPassOnly         DoubtCode = "pass-only paper"
	DoubtClassPaper       DoubtCode = "class paper incomplete"
	DoubtLimitFromMemory  DoubtCode = "limit from memory"
	DoubtLabDisagrees     DoubtCode = "paper says pass, readings say fail"
	DoubtNoUncertainty    DoubtCode = "no uncertainty"
	DoubtUncertaintyLarge DoubtCode = "uncertainty too large"
	DoubtNoStandard       DoubtCode = "no standard"
	DoubtStandardOut      DoubtCode = "standard out of use"
	DoubtStandardBack     DoubtCode = "standard's calibration withdrawn"
	DoubtStandardDate     DoubtCode = "standard not in date"
	DoubtStandardRange    DoubtCode = "standard's range"
	DoubtStandardWeak     DoubtCode = "standard's uncertainty"
	DoubtStandardBias     DoubtCode = "standard's bias not stated"
	DoubtStandardOff      DoubtCode = "standard's deviation not corrected"
	DoubtTemperature      DoubtCode = "temperature not recorded"
	DoubtTemperatureRange DoubtCode = "temperature outside 18 to 28 °C"
	DoubtBudgetAssumed    DoubtCode = "budget with assumed parts"          // blocks nothing
	DoubtScatterAssumed   DoubtCode = "scatter assumed"                    // blocks nothing
	DoubtFewReadings      DoubtCode = "fewer readings than the class asks" // blocks nothing
	DoubtPoints           DoubtCode = "points not at 20, 60 and 100 %"     // blocks nothing
	DoubtConditional      DoubtCode = "limit inside the uncertainty"       // conditional pass; blocks nothing
)

// ClassBound is what paper that only declares conformity to a class allows to be
// said: nothing better than the whole limit.
type ClassBound struct {
	Class      string
	Low, High  float64 // in the requirement's unit
	Directions []Direction
	Limit      Limit
}

// Judgement is everything that follows from a calibration.
type Judgement struct {
	On           dates.Date
	Paper        Paper
	BenchCheck   bool
	Adjusted     bool    // as stated, or because a point was left otherwise than it was found
	Verdict      Verdict // of the tool as it was left
	FoundVerdict Verdict // as it was found; what earlier work rests on
	Claim        Claim
	Disagrees    bool // the paper says pass and the readings fail
	Rule         Rule // the rule applied
	Points       []JudgedPoint
	Covered      []Span // as left, low to high by direction
	Limited      bool   // less than the whole scale in every direction asked
	ClassBound   *ClassBound
	TUR          float64    // lowest over the points as left; NaN where none has one
	NextDue      dates.Date // last day in date; none where it did not pass
	NextDueFrom  dates.Date // the day that the interval runs from
	IntervalEnds dates.Date // its last day, whatever the verdict; none without an interval and for a bench check
	Supports     bool       // may support a yes
	Doubts       []Doubt

	like Like
	left []JudgedPoint // nil: not yet drawn from Points
}

// Risk is the chance, in %, that a tool found good is not (PFA) or that one found
// bad is good (PFR; NaN in the worst case, where it says nothing). Variant says
// what is assumed of the tools that come to be compared. See Judgement.Risk.
type Risk struct {
	PFA, PFR float64
	Variant  string
}
