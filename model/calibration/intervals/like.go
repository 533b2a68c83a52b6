package intervals

import (
	"fmt"
	"math"

	"pawl/model/calibration"
)

// Study is what the lives of like tools say of a target reliability.
type Study struct {
	Lives, Failures int
	Insufficient    string // why there is no fit; "" = there is
	Exponential     Exponential
	Weibull         *Weibull
	Ratio           float64 // twice the gain in ln L of the second model; NaN without it
	Nominal         float64 // months until the share in tolerance falls to the target
	Conservative    float64
	FailedBy        float64 // every one failed the first time: the shortest age at that; NaN else
	PassesShow      float64 // without a failure: what the passes alone prove, 95 %; NaN else
}

// StudyOf fits both models and takes the simpler one unless the other is better by a
// likelihood-ratio test at 95 %.
func StudyOf(lives []Observation, target float64) (s Study) {
	s = Study{Lives: len(lives), Failures: failures(lives), Ratio: math.NaN(), Nominal: math.NaN(), Conservative: math.NaN(), FailedBy: math.NaN(), PassesShow: math.NaN()}
	exposure := 0.0
	for _, o := range lives {
		exposure += o.After
	}
	switch {
	case s.Lives == 0:
		s.Insufficient = "no as-found result tells how long a tool stayed in tolerance"
		return s
	case s.Failures < enoughFailures:
		s.Insufficient = fmt.Sprintf("%d of %d found out of tolerance: fewer than %d say nothing on when they fail", s.Failures, s.Lives, enoughFailures)
		if s.Failures == 0 && exposure > 0 {
			s.PassesShow = -math.Log(target) * NoFailureMean(exposure, boundProbability)
		}
		return s
	}
	var ok bool
	if s.Exponential, ok = FitExponential(lives); !ok {
		s.FailedBy = math.Inf(1)
		for _, o := range lives {
			s.FailedBy = math.Min(s.FailedBy, o.By)
		}
		s.Insufficient = "every one was found out of tolerance the first time: there is no finite estimate"
		return s
	}
	s.Nominal, s.Conservative = s.Exponential.Until(target)
	if w, ok := FitWeibull(lives); ok {
		s.Weibull, s.Ratio = &w, 2*(w.LnL-s.Exponential.LnL)
		if s.Ratio > likelihoodRatio95 {
			s.Nominal, s.Conservative = w.Until(target)
		}
	}
	return s
}

// chosen names the model that the figures are from.
func (s Study) chosen() string {
	switch {
	case s.Insufficient != "":
		return ""
	case s.Ratio > likelihoodRatio95:
		return "weibull"
	}
	return "exponential"
}

// likeOf studies tools that must hold the same.
func likeOf(preset string, tools []History, target float64) (Like, Study) {
	out := Like{Preset: preset, Tools: []LikeTool{}, FreeOfFailure: int(math.Ceil(ZeroFailures(target, boundProbability)))}
	var lives []Observation
	var kept [][]calibration.Kept
	var results []Result
	for _, h := range tools {
		judged, own := h.Results()
		kept, results = append(kept, h.Calibrations), append(results, judged...)
		if len(own) > 0 {
			out.Tools = append(out.Tools, LikeTool{h.Number, len(own), failures(own)})
			lives = append(lives, own...)
		}
	}
	n := calibration.Observed(kept...)
	out.Calibrations, out.InTolerance, out.LowerBound = n.Calibrations, n.InTolerance, figure(n.LowerReliability(boundProbability))
	if n.Calibrations > 0 {
		out.Observed = figure(float64(n.InTolerance) / float64(n.Calibrations))
	}
	s := StudyOf(lives, target)
	out.Lives, out.Failures, out.Insufficient, out.Chosen = s.Lives, s.Failures, s.Insufficient, s.chosen()
	out.NominalMonths, out.ConservativeMonths, out.PassesShowMonths = figure(s.Nominal), figure(s.Conservative), figure(s.PassesShow)
	out.models(s, target)
	out.Survival, out.MeanLife = survivalOf(lives), meanLifeOf(lives)
	if s.Failures >= enoughFailures {
		out.rescale(results, target)
	}
	return out, s
}

// survivalOf is the share that was not yet found out of tolerance, by age. A tool went
// out of tolerance before that was found, so the truth is lower between two looks.
func survivalOf(lives []Observation) []SurvivalShown {
	units := make([]Ended, len(lives))
	for i, o := range lives {
		if units[i] = (Ended{o.After, false}); o.Failed() {
			units[i] = Ended{o.By, true}
		}
	}
	out := []SurvivalShown{}
	for _, step := range KaplanMeier(units) {
		out = append(out, SurvivalShown{Months: rounded(step.Time), Share: rounded(step.Share), Error: figure(step.Error),
			LowerBound: figure(math.Max(0, step.Share-oneSided95*step.Error))})
	}
	return out
}

// meanLifeOf bounds the mean time in tolerance. When a tool that was found out went out
// is known only to lie between two looks: the lower bound counts its time up to when it
// was last found good, the upper up to when it was found out. Nil without any time.
func meanLifeOf(lives []Observation) *MeanLifeShown {
	good, known := 0.0, 0.0
	for _, o := range lives {
		good, known = good+o.After, known+o.After
		if o.Failed() {
			known += o.By - o.After
		}
	}
	if !(known > 0) {
		return nil
	}
	r := failures(lives)
	low, _ := MeanLife(good, r, meanLifeConfidence)
	_, high := MeanLife(known, r, meanLifeConfidence)
	if r == 0 {
		low = NoFailureMean(good, (1+meanLifeConfidence)/2) // the same: each end is one-sided
	}
	return &MeanLifeShown{Seen: figure(good), Failures: r, Confidence: meanLifeConfidence, Low: figure(low), High: figure(high)}
}

// meanLifeConfidence is two-sided, so that the lower bound alone is one of 95 %.
const meanLifeConfidence = 0.90

// rescale carries the share that was found in tolerance, at the mean time between two
// calibrations, over to the target, as if it fell exponentially: a cross-check of the
// fit, from one point alone.
func (l *Like) rescale(results []Result, target float64) {
	n, months := 0.0, 0.0
	for _, r := range results {
		if r.Outcome != Unknown {
			n, months = n+1, months+r.Months
		}
	}
	if l.Observed == nil || n == 0 || *l.Observed <= 0 || *l.Observed >= 1 {
		return
	}
	l.MeanInterval = figure(months / n)
	l.Rescaled = figure(Rescale(months/n, *l.Observed, target))
}

func (l *Like) models(s Study, target float64) {
	if s.Insufficient != "" {
		return
	}
	e := s.Exponential
	nominal, conservative := e.Until(target)
	l.Exponential = &ModelShown{Rate: figure(e.Rate), Error: figure(e.Error), LnLikelihood: figure(e.LnL), Nominal: figure(nominal), Conservative: figure(conservative)}
	if w := s.Weibull; w != nil {
		nominal, conservative = w.Until(target)
		l.Weibull = &ModelShown{Shape: figure(w.Shape), Scale: figure(w.Scale), Error: figure(w.SELnScale), LnLikelihood: figure(w.LnL), Nominal: figure(nominal), Conservative: figure(conservative)}
		l.LikelihoodRatio = figure(s.Ratio)
	}
}
