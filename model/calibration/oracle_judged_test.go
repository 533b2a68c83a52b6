package calibration_test

import (
	"math"
	"testing"

	"pawl/model/calibration"
)

// What follows from the readings is the same by both ways: at each point the mean
// deviation, the scatter of a single use, the uncertainty and whether every reading
// is inside; for the whole the verdict and whether it may support a yes.
func TestOracleAgreesOnJudgements(t *testing.T) {
	bad, verdicts := 0, map[calibration.Verdict]int{}
	for i := range min(oracleCases(t), 20_000) {
		c := newOracleDraw(uint64(i) + 1<<40).question()
		for _, k := range append(c.Calibrations[:len(c.Calibrations):len(c.Calibrations)], c.Checks...) {
			j, err := calibration.Judge(c.requirement(), c.result(k), calibration.Around{SafetyJobs: c.SafetyJobs})
			if err != nil {
				t.Fatalf("case %d: %v", i, err)
			}
			verdicts[j.Verdict]++
			if difference := c.judgedOtherwise(k, j); difference != "" {
				if bad++; bad <= 3 {
					t.Errorf("case %d: %s\n%s %v %v %s safety %v: %+v", i, difference, c.Class, c.Scale, c.Limit, c.Rule, c.SafetyJobs, k)
				}
			}
		}
	}
	if bad > 3 {
		t.Errorf("%d differ", bad)
	}
	for _, v := range []calibration.Verdict{calibration.Passed, calibration.Failed, calibration.CannotBeJudged} {
		if verdicts[v] < 20 {
			t.Errorf("only %d are %q", verdicts[v], v)
		}
	}
}

func (c oracleCase) judgedOtherwise(k oracleCalibration, j calibration.Judgement) string {
	outcome, supports := c.judge(k)
	verdict := map[string]calibration.Verdict{"pass": calibration.Passed, "fail": calibration.Failed, "disagree": calibration.Failed, "cannot be judged": calibration.CannotBeJudged}[outcome]
	switch {
	case j.Verdict != verdict:
		return "verdict " + string(j.Verdict) + ", want " + outcome
	case j.Disagrees != (outcome == "disagree"):
		return "whether the paper disagrees; want " + outcome
	case outcome == "pass" && !c.FromMemory && j.Supports != supports:
		return "whether it supports a yes"
	}
	for _, p := range c.left(k) {
		if difference := c.pointOtherwise(p, k, j); difference != "" {
			return difference
		}
	}
	return ""
}

func (c oracleCase) pointOtherwise(p oraclePoint, k oracleCalibration, j calibration.Judgement) string {
	want := c.point(p, k)
	for _, got := range j.Left(calibration.Direction(p.Direction)) {
		if got.SetValue != c.signed(p.Set).float() {
			continue
		}
		for _, f := range []struct {
			name      string
			got, want float64
		}{{"mean", got.MeanPercent * c.sign(), want.mean}, {"scatter", got.ScatterPercent, want.scatter}, {"limit", got.LimitPercent, want.limit}, {"uncertainty", got.ExpandedPercent, 2 * want.w}} {
			if f.name == "uncertainty" && !want.known {
				f.want = math.NaN()
			}
			if math.IsNaN(f.got) != math.IsNaN(f.want) || !math.IsNaN(f.got) && !oracleNear(f.got, f.want, 1e-9*math.Max(1, math.Abs(f.want))) {
				return f.name + " at " + p.Set.decimal() + ": " + oracleFigure(f.got) + ", want " + oracleFigure(f.want)
			}
		}
		if got.Within != want.within {
			return "whether every reading is inside at " + p.Set.decimal()
		}
		return ""
	}
	return "no point at " + p.Set.decimal()
}
