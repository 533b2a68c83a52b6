package calibration

import (
	"slices"
	"testing"

	"pawl/model/units"
)

func psi(v string) units.Quantity { return units.Quantity{Value: v, Unit: units.PSI} }

// The error of a gauge is an amount: one that is within ±6 psi shows 10 psi where there are
// 4, and one that is within 4 % of what it shows, 104 psi where there are less than 100. Nobody
// may be told that there is more.
func TestAnErrorThatIsAnAmount(t *testing.T) {
	gauge := func(limitText string) Facts {
		q := Requirement{Instrument: PressureGauge, Unit: units.PSI, Scale: Scale{Low: psi("0"), High: psi("200"), Graduation: psi("2")},
			Limit: limit(limitText), LimitSource: Source{Standing: OwnPaper, Where: "its certificate"}, Months: 12, IntervalSource: Source{Standing: ShopRule}}
		r := Result{On: "2026-05-04", Paper: Certificate, By: "Harbor lab", AsLeft: []Point{{Set: "4", Readings: []Decimal{"4.1", "4", "4.1"}},
			{Set: "100", Readings: []Decimal{"100.1", "100", "100.1"}}, {Set: "200", Readings: []Decimal{"200.1", "200", "200.1"}, Uncertainty: "1"}}, Uncertainty: "2"}
		j, err := Judge(q, r, Around{SafetyJobs: true})
		if err != nil || !j.Supports {
			t.Fatalf("%+v, %v", j.Doubts, err)
		}
		return Facts{Kind: "pressure gauge", Requirement: &q, Today: "2027-05-01", Calibrations: []Kept{{ID: "A-1", Judgement: j}}}
	}
	for _, c := range []struct {
		limit, target, limits string
		want                  Readiness
		code                  ReasonCode
	}{
		{"3 % of span", "10", "5..", No, ReasonTooNarrow}, // 4 psi may be there
		{"3 % of span", "10", "4..", CannotConfirm, ReasonProbability},
		{"3 % of span", "10", "0.5..", Yes, ReasonInside},
		{"3 % of span", "100", "94..", CannotConfirm, ReasonProbability},
		{"3 % of span", "100", "90..", Yes, ReasonInside},
		{"4 % of indicated", "104", "100..", No, ReasonTooNarrow}, // 99.84
		{"4 % of indicated", "104", "98..", Yes, ReasonInside},
	} {
		limits, err := ParseLimits(c.limits, units.PSI)
		if err != nil {
			t.Fatal(err)
		}
		a, err := Ready(gauge(c.limit), Question{Target: psi(c.target), Limits: limits})
		if err != nil || a.Verdict != c.want || !slices.ContainsFunc(a.Reasons, func(r Reason) bool { return r.Code == c.code }) {
			t.Errorf("±%s at %s psi, %s: %s (P %.4f), want %s for %q; %v, %+v", c.limit, c.target, c.limits, a.Verdict, a.Inside, c.want, c.code, err, a.Reasons)
		}
	}
	a, err := Ready(gauge("3 % of span"), Question{Target: psi("10")})
	if err != nil || !(a.Low < 4.2) || !(a.High > 15.8) { // ±6 psi at the end of its interval
		t.Errorf("10 psi shown: %.2f to %.2f psi may be there, %v", a.Low, a.High, err)
	}
}
