package intervals

import (
	"math"

	"pawl/model/calibration"
	"pawl/model/dates"
	"pawl/model/units"
)

// What is the word of the advice.
type What string

const (
	Keep         What = "keep"
	Shorten      What = "shorten"
	Lengthen     What = "may be lengthened"
	Insufficient What = "insufficient data"
)

// Advice is what is said of one tool's interval. Figures have six decimals; null is
// what cannot be computed. It changes nothing by itself.
type Advice struct {
	On                dates.Date `json:"on"` // the day it is of
	Interval          Interval   `json:"interval"`
	NextDue           DueShown   `json:"next_due"`
	TargetReliability float64    `json:"target_reliability"`
	TargetAssumed     bool       `json:"target_assumed"`
	What              What       `json:"advice"`
	Months            *int       `json:"months"` // advised; null where there is nothing to advise
	Words             string     `json:"words"`
	Accept            *string    `json:"accept"` // the command that would put it in force
	Because           []string   `json:"because"`
	Figures           []Figure   `json:"figures"`
	Staircase         *Staircase `json:"staircase"`
	Drift             []Drift    `json:"drift"`
	Like              Like       `json:"like_tools"`
	Rules             []string   `json:"rules"`
}

// Interval is what is in force.
type Interval struct {
	Months        *int   `json:"months"`
	Cycles        *int64 `json:"cycles"`
	Source        string `json:"source"`
	MaximumMonths *int   `json:"maximum_months"` // legal or contractual
	MaximumWhy    string `json:"maximum_why"`
}

// DueShown is when the tool is next due, the earlier of months and cycles.
type DueShown struct {
	Day             *string `json:"day"`
	Because         string  `json:"because"`
	ByMonths        *string `json:"by_months"`
	CyclesCounted   bool    `json:"cycles_counted"`
	AtLeastCycles   int64   `json:"at_least_cycles"` // recorded: a floor
	CyclesReached   *string `json:"cycles_reached"`
	CyclesExpected  *string `json:"cycles_expected"` // at the pace recorded; an estimate
	CyclesPermitted *int64  `json:"cycles_permitted"`
}

// Figure is one way to look at the interval: the nominal figure beside the
// conservative one, and what they rest on.
type Figure struct {
	Method       string   `json:"method"` // staircase, drift, like tools
	Nominal      *float64 `json:"nominal_months"`
	Conservative *float64 `json:"conservative_months"`
	RestsOn      string   `json:"rests_on"`
	Insufficient bool     `json:"insufficient_data"`
}

// Staircase is what the newest results make of the interval.
type Staircase struct {
	Months      float64       `json:"months"`
	InARow      int           `json:"results_in_a_row"` // newest, as found and in tolerance
	SettlesAt   float64       `json:"settles_at_reliability"`
	Results     []ResultShown `json:"results"`
	MayLengthen bool          `json:"may_lengthen"`
}

// ResultShown is one as-found result, oldest first.
type ResultShown struct {
	On      dates.Date `json:"on"`
	Months  float64    `json:"months_since_the_one_before"`
	Age     float64    `json:"age_months"`
	Share   *float64   `json:"share_of_limit"`
	Outcome Outcome    `json:"outcome"`
	Why     string     `json:"why"`
}

// Drift is what one point shows over time.
type Drift struct {
	Direction       calibration.Direction `json:"direction"`
	Set             units.Quantity        `json:"set"`
	From            dates.Date            `json:"from"` // month 0
	Marks           []MarkShown           `json:"marks"`
	LimitPercent    *float64              `json:"limit_percent"`
	GuardedPercent  *float64              `json:"guarded_limit_percent"`
	Slope           *float64              `json:"slope_percent_per_month"`
	SlopeError      *float64              `json:"slope_standard_error"`
	Intercept       *float64              `json:"intercept_percent"`
	ResidualPercent *float64              `json:"residual_percent"`
	N               int                   `json:"n"`
	Pieces          []PieceShown          `json:"line"`
	Band            []AheadShown          `json:"band"`
	Nominal         *float64              `json:"nominal_months"`       // after the newest result; null where it is not reached up to the horizon
	Conservative    *float64              `json:"conservative_months"`  // where the prediction bound reaches the guarded limit
	ConservativeMet bool                  `json:"conservative_reached"` // else it is at least that: nobody asks further
	Horizon         *float64              `json:"horizon_months"`
	Words           string                `json:"words"`
}

// MarkShown is one comparison at a point.
type MarkShown struct {
	On        dates.Date `json:"on"`
	Months    float64    `json:"months"`
	Found     *float64   `json:"as_found_percent"`
	Left      *float64   `json:"as_left_percent"`
	Adjusted  bool       `json:"adjusted"`
	Cumulated *float64   `json:"cumulated_percent"`
}

// PieceShown is a stretch of the line between two comparisons.
type PieceShown struct {
	FromMonths  float64  `json:"from_months"`
	ToMonths    float64  `json:"to_months"`
	FromPercent *float64 `json:"from_percent"`
	ToPercent   *float64 `json:"to_percent"`
}

// AheadShown is the line and its one-sided prediction bounds of 95 % at one time.
type AheadShown struct {
	Months float64  `json:"months"`
	Line   *float64 `json:"line_percent"`
	Low    *float64 `json:"low_percent"`
	High   *float64 `json:"high_percent"`
}

// Like is what tools that must hold the same show.
type Like struct {
	Preset             string      `json:"preset"`
	Tools              []LikeTool  `json:"tools"`
	Calibrations       int         `json:"calibrations"` // judged as found
	InTolerance        int         `json:"in_tolerance"`
	Observed           *float64    `json:"observed_reliability"`
	LowerBound         *float64    `json:"reliability_lower_bound"`  // one-sided 95 %
	FreeOfFailure      int         `json:"free_of_failure_required"` // to show the target with 95 %
	Lives              int         `json:"lives"`
	Failures           int         `json:"failures"`
	Insufficient       string      `json:"insufficient"` // why; empty: there is a fit
	Exponential        *ModelShown `json:"exponential"`
	Weibull            *ModelShown `json:"weibull"`
	Chosen             string      `json:"chosen"`
	LikelihoodRatio    *float64    `json:"likelihood_ratio"`
	PassesShowMonths   *float64    `json:"passes_alone_show_months"` // without any failure: what they prove with 95 %
	NominalMonths      *float64    `json:"nominal_months"`
	ConservativeMonths *float64    `json:"conservative_months"`

	Survival     []SurvivalShown `json:"not_yet_found_out"`
	MeanLife     *MeanLifeShown  `json:"mean_life"`            // null where no time in tolerance is known
	MeanInterval *float64        `json:"mean_interval_months"` // between the calibrations judged as found
	Rescaled     *float64        `json:"rescaled_months"`      // from that one point to the target
}

// SurvivalShown is one step of the share of tools not yet found out of tolerance: the
// product-limit estimate, Greenwood's standard error and a one-sided bound of 95 %.
type SurvivalShown struct {
	Months     float64  `json:"months"`
	Share      float64  `json:"share"`
	Error      *float64 `json:"standard_error"` // null once nobody is left
	LowerBound *float64 `json:"lower_bound"`
}

// MeanLifeShown bounds the mean time in tolerance, in months.
type MeanLifeShown struct {
	Seen       *float64 `json:"months_in_tolerance"` // seen, of all tools together
	Failures   int      `json:"failures"`
	Confidence float64  `json:"confidence"` // two-sided
	Low        *float64 `json:"low"`
	High       *float64 `json:"high"` // null without a failure
}

// LikeTool is one of the tools that a figure rests on.
type LikeTool struct {
	Number   string `json:"number"`
	Lives    int    `json:"lives"`
	Failures int    `json:"failures"`
}

// ModelShown is one fitted model. Rate per month; scale in months.
type ModelShown struct {
	Rate         *float64 `json:"rate_per_month"`
	Shape        *float64 `json:"shape"`
	Scale        *float64 `json:"scale_months"`
	Error        *float64 `json:"standard_error"` // of the rate; of ln scale for a Weibull model
	LnLikelihood *float64 `json:"ln_likelihood"`
	Nominal      *float64 `json:"nominal_months"`
	Conservative *float64 `json:"conservative_months"`
}

// figure rounds to six decimals; nil is what is not known.
func figure(f float64) *float64 {
	if math.IsNaN(f) || math.IsInf(f, 0) {
		return nil
	}
	f = rounded(f)
	return &f
}

func rounded(f float64) float64 { return math.Round(f*1e6) / 1e6 }

func orNull(d dates.Date) *string {
	if d == "" {
		return nil
	}
	s := string(d)
	return &s
}

func some[T int | int64](n T) *T {
	if n == 0 {
		return nil
	}
	return &n
}

func (n Next) show() DueShown {
	return DueShown{Day: orNull(n.Due), Because: n.Because, ByMonths: orNull(n.ByMonths), CyclesCounted: n.Counted, AtLeastCycles: n.AtLeast,
		CyclesReached: orNull(n.Reached), CyclesExpected: orNull(n.Expected), CyclesPermitted: some(n.Cycles)}
}

func (r Result) show() ResultShown {
	return ResultShown{On: r.On, Months: rounded(r.Months), Age: rounded(r.Age), Share: figure(r.Share), Outcome: r.Outcome, Why: r.Why}
}

func (t Trace) show(unit units.Unit) Drift {
	d := Drift{Direction: t.Direction, Set: units.Quantity{Value: string(t.Set), Unit: unit}, From: t.From, Marks: []MarkShown{},
		LimitPercent: figure(t.Limit), GuardedPercent: figure(t.Guarded), N: len(t.Marks), Pieces: []PieceShown{}, Band: []AheadShown{}, Words: t.words()}
	for _, m := range t.Marks {
		d.Marks = append(d.Marks, MarkShown{m.On, rounded(m.Months), figure(m.Found), figure(m.Left), m.Adjusted, figure(m.Cumulated)})
	}
	if t.Line == nil {
		return d
	}
	d.Slope, d.SlopeError, d.Intercept = figure(t.Line.Slope), figure(t.Line.SESlope), figure(t.Line.Intercept)
	d.ResidualPercent, d.Horizon = figure(t.Line.S), figure(t.Reach.Horizon)
	for _, p := range t.Pieces() {
		d.Pieces = append(d.Pieces, PieceShown{rounded(p.From), rounded(p.To), figure(p.AtFrom), figure(p.AtTo)})
	}
	for _, a := range t.Band() {
		d.Band = append(d.Band, AheadShown{rounded(a.Months), figure(a.Line), figure(a.Low), figure(a.High)})
	}
	if t.bounded() {
		d.Nominal, d.Conservative = figure(t.Reach.nominal()), figure(t.Reach.Conservative)
		d.ConservativeMet = t.Reach.ConservativeSoon
	}
	return d
}
