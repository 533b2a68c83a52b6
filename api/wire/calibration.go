package wire

import (
	"pawl/model/calibration"
	"pawl/model/dates"
	"pawl/model/units"
)

// What is said of a calibration and of an answer is put into words and figures
// where it is computed.
type (
	Requirement = calibration.Requirement // what a tool must hold
	Shown       = calibration.Shown       // a calibration or bench check, judged
	ShownPoint  = calibration.ShownPoint
	ShownAnswer = calibration.ShownAnswer
	Direction   = calibration.Direction
	Quantity    = units.Quantity
)

// NewRequirement is what a tool must hold, as typed.
type NewRequirement struct {
	Preset       string `json:"preset,omitempty"`
	Unit         string `json:"unit,omitempty"`
	Range        string `json:"range,omitempty"`
	Graduation   string `json:"graduation,omitempty"`
	SecondScale  string `json:"second_scale,omitempty"`
	Resolution   string `json:"resolution,omitempty"`
	GripToDrive  string `json:"grip_to_drive,omitempty"`
	Directions   string `json:"directions,omitempty"`
	Limit        string `json:"limit,omitempty"`
	LimitFrom    string `json:"limit_from,omitempty"` // where it was read
	Reliability  string `json:"reliability,omitempty"`
	Rule         string `json:"rule,omitempty"`
	AmbientLow   string `json:"ambient_low,omitempty"`
	AmbientHigh  string `json:"ambient_high,omitempty"`
	IntervalFrom string `json:"interval_from,omitempty"`
	Months       *int   `json:"months,omitempty"`
	Cycles       *int64 `json:"cycles,omitempty"`
	Maximum      *int   `json:"maximum,omitempty"` // months
	MaximumWhy   string `json:"maximum_why,omitempty"`
}

// Calibrate is a tool calibration as typed, a requirement, or both.
type Calibrate struct {
	Requirement         *NewRequirement `json:"requirement,omitempty"`
	On                  string          `json:"on,omitempty"`
	Happened            string          `json:"happened,omitempty"`
	By                  string          `json:"by,omitempty"` // the laboratory
	CertificateNumber   string          `json:"certificate_number,omitempty"`
	Standard            string          `json:"standard,omitempty"`
	StandardUncertainty string          `json:"standard_uncertainty,omitempty"`
	StandardRange       string          `json:"standard_range,omitempty"`
	StandardBias        string          `json:"standard_bias,omitempty"`
	StandardCalibrated  string          `json:"standard_calibrated,omitempty"`
	StandardDue         string          `json:"standard_due,omitempty"`
	Direction           string          `json:"direction,omitempty"`
	AsFound             string          `json:"as_found,omitempty"`
	AsLeft              string          `json:"as_left,omitempty"`
	File                string          `json:"file,omitempty"`     // the text of a file of readings
	Percents            string          `json:"percents,omitempty"` // what the right-hand values are percents of
	Adjusted            bool            `json:"adjusted,omitempty"`
	OnlyUncertainty     bool            `json:"only_uncertainty,omitempty"` // the readings are means
	Uncertainty         string          `json:"uncertainty,omitempty"`
	Temperature         string          `json:"temperature,omitempty"`
	Humidity            string          `json:"humidity,omitempty"`
	Claim               string          `json:"claim,omitempty"` // what the paper itself says
	DeclaredClass       string          `json:"declared_class,omitempty"`
	DeclaredRange       string          `json:"declared_range,omitempty"`
	DeclaredLimits      string          `json:"declared_limits,omitempty"`
	DeclaredDirections  string          `json:"declared_directions,omitempty"`
	DeclaredPoints      int             `json:"declared_points,omitempty"`
	Evidence            []Attach        `json:"evidence,omitempty"` // its certificate
}

// Bench is a bench check as typed.
type Bench struct {
	On                  string   `json:"on,omitempty"`
	Happened            string   `json:"happened,omitempty"`
	Standard            string   `json:"standard"`
	Direction           string   `json:"direction,omitempty"`
	At                  []string `json:"at"`
	Temperature         string   `json:"temperature,omitempty"`
	Humidity            string   `json:"humidity,omitempty"`
	StandardUncertainty string   `json:"standard_uncertainty,omitempty"`
	StandardBias        string   `json:"standard_bias,omitempty"`
}

// Calibrated is what a calibration left behind. The members of Shown are absent
// where only the requirement was recorded.
type Calibrated struct {
	Number      string      `json:"number"`
	Kind        string      `json:"kind"`
	Requirement Requirement `json:"requirement"`
	*Shown
	DoNotUse *string  `json:"do_not_use"`
	Advice   []string `json:"advice"`
	Cautions []string `json:"cautions"`
}

// Calibrations is the record of a tool that measures, newest first.
type Calibrations struct {
	Number       string       `json:"number"`
	Kind         string       `json:"kind"`
	Requirement  *Requirement `json:"requirement"` // null: nothing is recorded of what it must hold
	Calibrations []Shown      `json:"calibrations"`
	Cautions     []string     `json:"cautions"`
}

// Ask is the question "Can I use it for …?" as typed.
type Ask struct {
	Target             string `json:"target"`
	Limits             string `json:"limits,omitempty"`
	Direction          string `json:"direction,omitempty"`
	Method             string `json:"method,omitempty"`
	Crowfoot           string `json:"crowfoot,omitempty"`
	Angle              string `json:"angle,omitempty"`
	Adapter            string `json:"adapter,omitempty"`
	AdapterFactor      string `json:"adapter_factor,omitempty"`
	AdapterUncertainty string `json:"adapter_uncertainty,omitempty"`
	AdapterDue         string `json:"adapter_due,omitempty"`
	AdapterNumber      string `json:"adapter_number,omitempty"`
	AngleDevice        string `json:"angle_device,omitempty"`
	NotSafety          bool   `json:"not_safety,omitempty"`
	SettingUnchanged   string `json:"setting_unchanged,omitempty"`
	ZeroAndBattery     string `json:"zero_and_battery,omitempty"`
	LengthInWrench     string `json:"length_in_wrench,omitempty"`
	UnitConfirmed      string `json:"unit_confirmed,omitempty"`
	Ambient            string `json:"ambient,omitempty"`
}

// Ready is the answer for one tool.
type Ready struct {
	Number string  `json:"number"`
	Kind   string  `json:"kind"`
	Holder *string `json:"holder"` // who has it, or where it is away
	ShownAnswer
	Alternatives []Alternative `json:"alternatives"`
	ComputedAt   dates.Instant `json:"computed_at"`
}

// NoRequirement is the code where nothing is recorded of what a tool must hold.
const NoRequirement = string(calibration.ReasonNoRequirement)

// Alternative is another tool's answer to the same question.
type Alternative struct {
	Number            string   `json:"number"`
	Kind              string   `json:"kind"`
	Place             *string  `json:"place"`
	Verdict           string   `json:"verdict"`
	Available         bool     `json:"available"`
	Holder            *string  `json:"holder"`
	Setting           Quantity `json:"setting"`
	InsideProbability *float64 `json:"inside_probability"`
	Reason            string   `json:"reason"`
	Code              string   `json:"code"` // of that reason; "" nothing speaks against it
}

// Ranked are the answers of all tools, best first.
type Ranked struct {
	Verdict    string        `json:"verdict"`
	Tools      []Alternative `json:"tools"`
	Cautions   []string      `json:"cautions"`
	ComputedAt dates.Instant `json:"computed_at"`

	DefaultLimitsPercent *string `json:"default_limits_percent"` // null: the limits are the job's, or there are none
	LeftOut              int     `json:"left_out"`               // tools that are asked too, and that the list has no room for
}

// Tighten is a tightening as typed.
type Tighten struct {
	Ask
	Job          string `json:"job"`
	Fastener     string `json:"fastener"`
	Count        int64  `json:"count"`
	Happened     string `json:"happened,omitempty"`
	NotSafetyWhy string `json:"not_safety_why,omitempty"`
	Redoes       string `json:"redoes,omitempty"`
}

// Measure is a measurement as typed; its target is the value read.
type Measure struct {
	Ask
	Job          string `json:"job"`
	What         string `json:"what"`
	Happened     string `json:"happened,omitempty"`
	NotSafetyWhy string `json:"not_safety_why,omitempty"`
	Redoes       string `json:"redoes,omitempty"`
}

// Use is a tightening or measurement on record.
type Use struct {
	ID                string        `json:"id"`
	Number            string        `json:"number"`
	Kind              string        `json:"kind"`
	Job               string        `json:"job"`
	What              string        `json:"what"` // tightening, measurement
	Name              string        `json:"name"` // the fastener, or what was measured
	Count             int64         `json:"count"`
	Happened          dates.Instant `json:"happened"`
	Entered           dates.Instant `json:"entered"`
	Person            *string       `json:"person"`
	Target            Quantity      `json:"target"`
	Limits            string        `json:"limits"`
	DefaultLimits     bool          `json:"default_limits"` // they are the shop's default: nobody gave the job's
	Direction         Direction     `json:"direction"`
	Setting           Quantity      `json:"setting"`
	Adapter           string        `json:"adapter"`
	Verdict           string        `json:"verdict"`
	InsideProbability *float64      `json:"inside_probability"`
	Reasons           []string      `json:"reasons"`
	Calibration       *string       `json:"calibration"`
	Outcome           string        `json:"outcome"`
	NotSafety         bool          `json:"not_safety"`
	NotSafetyWhy      string        `json:"not_safety_why"`
	Unconfirmed       bool          `json:"unconfirmed"` // done without a confirmed tool
	Holds             bool          `json:"holds"`       // it holds its job open
	Settle            string        `json:"settle"`      // what would settle it
	RedoneBy          *string       `json:"redone_by"`
	SignedBy          *string       `json:"signed_by"`
	SignedWhy         string        `json:"signed_why"`
	SignedAt          dates.Instant `json:"signed_at"`
	Withdrawn         dates.Instant `json:"withdrawn"`    // null: it stands
	WithdrawnBy       *string       `json:"withdrawn_by"` // null: it stands
	Why               string        `json:"why"`          // it was withdrawn
	Words             string        `json:"words"`        // the answer as it was said, when it is recorded; what is open again, when it is withdrawn
	Cautions          []string      `json:"cautions"`

	NewJob *OpenedJob `json:"new_job,omitempty"` // that it opened, when it is recorded; absent: none
}

// Uses are those on one job, oldest first.
type Uses struct {
	Uses []Use   `json:"uses"`
	Next *string `json:"next"`
}

// Sign is a manager's reason for what could not be confirmed.
type Sign struct {
	Why string `json:"why"`
}

// Withdraw takes back an entry that was made by mistake.
type Withdraw struct {
	ID  string `json:"id"`
	Why string `json:"why"`
}

// Fasteners are the names that fasteners were given.
type Fasteners struct {
	Fasteners []string `json:"fasteners"`
	Next      *string  `json:"next"`
}

// Preset is what is usually asked of one sort of tool.
type Preset struct {
	Name       string        `json:"name"`
	Title      string        `json:"title"`
	Instrument string        `json:"instrument"`
	Units      []string      `json:"units"`
	Limits     []PresetLimit `json:"limits"`
	Graded     bool          `json:"graded"` // takes the grade on the dial: NAME:GRADE
	Ask        string        `json:"ask"`
	Months     int           `json:"months"`
	Cycles     int64         `json:"cycles"`
	Interval   string        `json:"interval"` // where it comes from
}

// PresetLimit is a limit with its source.
type PresetLimit struct {
	UpTo   Quantity `json:"up_to"` // for scales up to this; null: any
	Limit  string   `json:"limit"`
	Source string   `json:"source"`
}

// Presets lists them.
type Presets struct {
	Presets []Preset `json:"presets"`
	Next    *string  `json:"next"`
}
