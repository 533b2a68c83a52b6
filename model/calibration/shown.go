package calibration

import (
	"math"
	"slices"
	"strconv"

	"pawl/model/dates"
	"pawl/model/units"
)

// Shown is a calibration or bench check as it is shown: what was entered, with what
// follows from it. Percents are of the reference's reading and have six decimals;
// null is what cannot be computed.
type Shown struct {
	ID                string        `json:"id"`
	On                dates.Date    `json:"on"`
	By                string        `json:"by"`
	CertificateNumber string        `json:"certificate_number"`
	Paper             Paper         `json:"paper"`
	BenchCheck        bool          `json:"bench_check"`
	Standard          string        `json:"standard"` // a tool's number, or a name
	Adjusted          bool          `json:"adjusted"`
	Verdict           Verdict       `json:"verdict"`
	FoundVerdict      Verdict       `json:"found_verdict"`
	Claim             Claim         `json:"claim"`
	Disagrees         bool          `json:"disagrees"`
	Rule              Rule          `json:"rule"`
	TUR               *float64      `json:"tur"`
	PFA               *float64      `json:"pfa_percent"`
	PFR               *float64      `json:"pfr_percent"`
	Variant           string        `json:"variant"`
	NextDue           *string       `json:"next_due"`
	Supports          bool          `json:"supports"` // may support a yes
	Limited           bool          `json:"limited"`  // less than the whole scale in every direction asked
	Points            []ShownPoint  `json:"points"`
	Covered           []ShownSpan   `json:"covered"`
	Doubts            []ShownDoubt  `json:"doubts"`
	Entered           dates.Instant `json:"entered"`
	Withdrawn         dates.Instant `json:"withdrawn"`    // null: it stands
	WithdrawnBy       *string       `json:"withdrawn_by"` // null: it stands
	Why               string        `json:"why"`          // it was withdrawn
	TakesBack         bool          `json:"-"`            // whoever asks may; only in a list
}

// Withdrawer is who withdrew it; "" it stands.
func (s Shown) Withdrawer() string {
	if s.WithdrawnBy == nil {
		return ""
	}
	return *s.WithdrawnBy
}

// ShownPoint is one point of a calibration.
type ShownPoint struct {
	Phase               Phase            `json:"phase"`
	Direction           Direction        `json:"direction"`
	Set                 units.Quantity   `json:"set"`
	Readings            []units.Quantity `json:"readings"`
	DeviationsPercent   []*float64       `json:"deviations_percent"`
	MeanPercent         *float64         `json:"mean_percent"`
	WorstPercent        *float64         `json:"worst_percent"`
	LimitPercent        *float64         `json:"limit_percent"`
	GuardedLimitPercent *float64         `json:"guarded_limit_percent"` // the limit less the expanded uncertainty; 0 where that is larger
	Within              bool             `json:"within"`
	ExpandedPercent     *float64         `json:"expanded_uncertainty_percent"`
	ConformanceProbable *float64         `json:"conformance_probability"`
	Decision            Decision         `json:"decision"`
	Words               string           `json:"words"`
}

// farApart is how many times its smallest reading the largest of one point is, from where on
// it is asked whether a reading was split in two. The figure is our choice.
const farApart = 2

// FarApart says whether readings of one point, all above zero, lie so far apart that one may
// be half of another that was split. What cannot be compared does not.
func (p ShownPoint) FarApart() bool {
	var read []float64
	for _, r := range p.Readings {
		v, err := strconv.ParseFloat(r.Value, 64)
		if err != nil || !(v > 0) {
			return false
		}
		read = append(read, v)
	}
	return len(read) > 0 && slices.Max(read) >= farApart*slices.Min(read)
}

// ShownSpan is a stretch of values that a calibration covers.
type ShownSpan struct {
	Direction Direction      `json:"direction"`
	Low       units.Quantity `json:"low"`
	High      units.Quantity `json:"high"`
}

// ShownDoubt is what a calibration leaves open.
type ShownDoubt struct {
	Code   DoubtCode `json:"code"`
	Text   string    `json:"text"`
	Blocks bool      `json:"blocks"`
}

// ShownAnswer is an answer as it is shown.
type ShownAnswer struct {
	Verdict            Readiness      `json:"verdict"`
	Fit                bool           `json:"fit"`
	Available          bool           `json:"available"`
	Words              string         `json:"words"`
	Setting            units.Quantity `json:"setting"`
	Adapter            string         `json:"-"` // that the setting is for; words names it
	Applied            *ShownRange    `json:"applied"`
	InsideProbability  *float64       `json:"inside_probability"`
	Threshold          float64        `json:"threshold"`
	DeviationPercent   *float64       `json:"deviation_percent"`
	DeviationMeans     Meaning        `json:"deviation_means"`
	UncertaintyPercent *float64       `json:"uncertainty_percent"`
	Direction          Direction      `json:"direction"`
	Target             units.Quantity `json:"target"`
	Limits             string         `json:"limits"`
	DefaultLimits      bool           `json:"default_limits"`
	Calibrated         *string        `json:"calibrated"`
	Due                *string        `json:"due"`
	Calibration        *string        `json:"calibration"`
	CheckedBy          *string        `json:"checked_by"`
	Reasons            []Reason       `json:"reasons"`
	Cautions           []string       `json:"cautions"`
}

// ShownRange is what is applied, or measured, with 95 % probability.
type ShownRange struct {
	Low  units.Quantity `json:"low"`
	High units.Quantity `json:"high"`
}

// figure rounds to six decimals; nil is what is not known.
func figure(f float64) *float64 {
	if math.IsNaN(f) || math.IsInf(f, 0) {
		return nil
	}
	f = math.Round(f*1e6) / 1e6
	return &f
}

// chance cuts a probability at six decimals: it is never shown as more than it is.
func chance(p float64) *float64 {
	if math.IsNaN(p) {
		return nil
	}
	p = math.Floor(p*1e6) / 1e6
	return &p
}

func orNull(s string) *string {
	if s == "" {
		return nil
	}
	return &s
}

// Show puts a result and its judgement into what is shown. Texts that the result
// cannot know, its id and the standard's number, are left to the caller.
func Show(q Requirement, r Result, j Judgement) Shown {
	risk := j.Risk()
	out := Shown{
		On: r.On, By: r.By, CertificateNumber: r.Number, Paper: r.Paper, BenchCheck: r.BenchCheck, Standard: r.Standard.Name,
		Adjusted: j.Adjusted, Verdict: j.Verdict, FoundVerdict: j.FoundVerdict, Claim: j.Claim, Disagrees: j.Disagrees, Rule: j.Rule,
		TUR: figure(j.TUR), PFA: figure(risk.PFA), PFR: figure(risk.PFR), Variant: risk.Variant, NextDue: orNull(string(j.NextDue)),
		Supports: j.Supports, Limited: j.Limited, Points: []ShownPoint{}, Covered: []ShownSpan{}, Doubts: []ShownDoubt{},
	}
	for _, p := range j.Points {
		out.Points = append(out.Points, q.show(p))
	}
	for _, c := range j.Covered {
		out.Covered = append(out.Covered, ShownSpan{c.Direction, Rounded(c.Low, q.Unit), Rounded(c.High, q.Unit)})
	}
	for _, d := range j.Doubts {
		out.Doubts = append(out.Doubts, ShownDoubt(d))
	}
	return out
}

func (q Requirement) show(p JudgedPoint) ShownPoint {
	out := ShownPoint{
		Phase: p.Phase, Direction: p.Direction, Set: units.Quantity{Value: string(p.Set), Unit: q.Unit},
		Readings: []units.Quantity{}, DeviationsPercent: []*float64{},
		MeanPercent: figure(p.MeanPercent), WorstPercent: figure(p.WorstPercent), LimitPercent: figure(p.LimitPercent), Within: p.Within,
		ExpandedPercent: figure(p.ExpandedPercent), ConformanceProbable: chance(p.Conformance), Decision: p.Decision, Words: q.Words(p),
	}
	if out.LimitPercent != nil && out.ExpandedPercent != nil { // of the figures as they are shown (ILAC-G8:09/2019 4.2.2)
		out.GuardedLimitPercent = figure(max(0, *out.LimitPercent-*out.ExpandedPercent))
	}
	for _, r := range p.Readings {
		out.Readings = append(out.Readings, units.Quantity{Value: string(r), Unit: q.Unit})
	}
	for _, d := range p.DeviationsPercent {
		out.DeviationsPercent = append(out.DeviationsPercent, figure(d))
	}
	return out
}

// Show puts an answer into what is shown.
func (a Answer) Show() ShownAnswer {
	out := ShownAnswer{
		Verdict: a.Verdict, Fit: a.Fit, Available: a.Available, Words: a.Words(), Setting: a.Setting, Adapter: a.Adapter,
		InsideProbability: chance(a.Inside), Threshold: a.Threshold,
		DeviationPercent: figure(a.DeviationPercent), DeviationMeans: SetLessDeliveredOfDelivered, UncertaintyPercent: figure(a.UncertaintyPercent),
		Direction: a.Direction, Target: Rounded(a.Target, a.Unit), Limits: a.Limits.String(), DefaultLimits: a.ByDefault != "",
		Calibrated: orNull(string(a.Calibrated)), Due: orNull(string(a.Due)), Calibration: orNull(a.Calibration), CheckedBy: orNull(a.CheckedBy),
		Reasons: append([]Reason{}, a.Reasons...), Cautions: append([]string{}, a.Cautions...),
	}
	if low, high := Rounded(a.Low, a.Unit), Rounded(a.High, a.Unit); !low.IsZero() && !high.IsZero() {
		out.Applied = &ShownRange{low, high}
	}
	return out
}
