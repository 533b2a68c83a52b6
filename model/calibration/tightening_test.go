package calibration

import (
	"math"
	"strings"
	"testing"

	"pawl/model/fault"
	"pawl/model/units"
)

func tightened(t testing.TB, verdict Readiness) Tightening {
	q := asks(t, "108 N·m", "100..116")
	a := answered(t, good(t), q)
	a.Verdict = verdict
	out := NewTightening(q, a, " front wheel nuts ", 5)
	out.Job, out.At = "1042", 1000
	return out
}

func TestATighteningKeepsTheAnswer(t *testing.T) {
	got := tightened(t, Yes)
	if err := got.Check(); err != nil {
		t.Fatal(err)
	}
	a := answered(t, good(t), asks(t, "108 N·m", "100..116"))
	if got.Fastener != "front wheel nuts" || got.Set != nm("108") || got.Calibration != "K-1" || got.Asked.Target.String() != "108 N·m" || got.Verdict != Yes ||
		len(got.Reasons) != len(a.Reasons) {
		t.Errorf("%+v", got)
	}
	if p := got.Probability.Float(); p > a.Inside || a.Inside-p > 1e-6 {
		t.Errorf("probability %s for %v", got.Probability, a.Inside)
	}
	a.Inside = math.NaN()
	if none := NewTightening(got.Asked, a, "x", 1); none.Probability != "" {
		t.Errorf("no probability is kept as %q", none.Probability)
	}
}

func TestTighteningsThatCannotBe(t *testing.T) {
	for name, change := range map[string]func(*Tightening){
		"no fastener":            func(x *Tightening) { x.Fastener = "" },
		"none":                   func(x *Tightening) { x.Count = 0 },
		"too many":               func(x *Tightening) { x.Count = 1001 },
		"no job":                 func(x *Tightening) { x.Job = "" },
		"not safety, no reason":  func(x *Tightening) { x.NotSafety, x.NotSafetyWhy = true, "  " },
		"a pressure":             func(x *Tightening) { x.Asked = asks(t, "35 psi", "") },
		"an impossible question": func(x *Tightening) { x.Asked = Question{} },
	} {
		x := tightened(t, Yes)
		change(&x)
		if err := x.Check(); !fault.Is(err, fault.Invalid) || len(fault.Of(err).Fields) == 0 {
			t.Errorf("%s is taken: %v", name, err)
		}
	}
	x := tightened(t, Yes)
	x.NotSafety, x.NotSafetyWhy = true, "a bracket of the cup holder"
	if err := x.Check(); err != nil {
		t.Error(err)
	}
}

func TestWhatHoldsAJob(t *testing.T) {
	signed := &Signature{By: "P-1", Why: "checked with the other wrench", At: 2000}
	for _, c := range []struct {
		name      string
		verdict   Readiness
		safetyJob bool
		notSafety bool
		redone    string
		signed    *Signature
		want      bool
		settle    string
	}{
		{"confirmed", Yes, true, false, "", nil, false, ""},
		{"cannot confirm", CannotConfirm, true, false, "", nil, true, "or a manager signs"},
		{"no", No, true, false, "", nil, true, "do it again"},
		{"cannot confirm, signed", CannotConfirm, true, false, "", signed, false, ""},
		{"no, signed", No, true, false, "", signed, true, "do it again"},
		{"no, redone", No, true, false, "N-2", nil, false, ""},
		{"cannot confirm, redone", CannotConfirm, true, false, "N-2", nil, false, ""},
		{"marked as not safety-critical", No, true, true, "", nil, false, ""},
		{"no safety job", No, false, false, "", nil, false, ""},
		{"an unknown answer", "", true, false, "", nil, true, "do it again"},
	} {
		u := Use{Verdict: c.verdict, NotSafety: c.notSafety, RedoneBy: c.redone, Signed: c.signed}
		held, settle := u.Holds(c.safetyJob)
		if held != c.want || !strings.Contains(settle, c.settle) || held == (settle == "") {
			t.Errorf("%s: held %v, %q", c.name, held, settle)
		}
	}
}

func TestWhoMaySign(t *testing.T) {
	for _, c := range []struct {
		name    string
		use     Use
		manager bool
		why     string
		want    fault.Kind
	}{
		{"a manager with a reason", Use{Verdict: CannotConfirm}, true, "seen", ""},
		{"a technician", Use{Verdict: CannotConfirm}, false, "seen", fault.Forbidden},
		{"without a reason", Use{Verdict: CannotConfirm}, true, " ", fault.Invalid},
		{"for a no", Use{Verdict: No}, true, "seen", fault.Refused},
		{"for a yes", Use{Verdict: Yes}, true, "seen", fault.Conflict},
		{"twice", Use{Verdict: CannotConfirm, Signed: &Signature{By: "P-1"}}, true, "seen", fault.Conflict},
		{"after it was redone", Use{Verdict: CannotConfirm, RedoneBy: "N-2"}, true, "seen", fault.Conflict},
	} {
		err := c.use.MaySign(c.manager, c.why)
		if c.want == "" && err != nil || c.want != "" && !fault.Is(err, c.want) {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
	}
}

func TestWhatSettlesByRedoing(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(again, old *Tightening)
		want   fault.Kind
	}{
		{"confirmed, all of them", func(*Tightening, *Tightening) {}, ""},
		{"in other words of the same value", func(a, _ *Tightening) { a.Asked.Target = nm("108.0") }, ""},
		{"unconfirmed again", func(a, _ *Tightening) { a.Verdict = CannotConfirm }, fault.Refused},
		{"another job", func(a, _ *Tightening) { a.Job = "1043" }, fault.Refused},
		{"before it", func(a, _ *Tightening) { a.At = 999 }, fault.Refused},
		{"another fastener", func(a, _ *Tightening) { a.Fastener = "rear wheel nuts" }, fault.Refused},
		{"another value", func(a, _ *Tightening) { a.Asked.Target = nm("60") }, fault.Refused},
		{"the other way round", func(a, _ *Tightening) { a.Asked.Direction = Counterclockwise }, fault.Refused},
		{"some of them", func(a, _ *Tightening) { a.Count = 4 }, fault.Refused},
		{"as not safety-critical", func(a, _ *Tightening) { a.NotSafety = true }, fault.Refused},
		{"one that was confirmed", func(_, o *Tightening) { o.Verdict = Yes }, fault.Conflict},
		{"one that was redone", func(_, o *Tightening) { o.RedoneBy = "N-2" }, fault.Conflict},
	} {
		old, again := tightened(t, No), tightened(t, Yes)
		again.At = 2000
		c.change(&again, &old)
		err := again.Redoes(old)
		if c.want == "" && err != nil || c.want != "" && !fault.Is(err, c.want) {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
	}
}

func TestCyclesAreCountedFromTightenings(t *testing.T) {
	if c := CyclesIn(nil); c.Counted || c.AtLeast != 0 {
		t.Errorf("none: %+v", c)
	}
	if c := CyclesIn([]int64{5, 20}); !c.Counted || c.AtLeast != 25 {
		t.Errorf("5 and 20: %+v", c)
	}
	if c := CyclesIn([]int64{20, math.MaxInt64, -1}); c.AtLeast != 20 {
		t.Errorf("beyond counting it is no floor any more: %+v", c)
	}
}

func TestAMeasurementAgainstItsLimits(t *testing.T) {
	q := Requirement{Instrument: BrakeRotorGauge, Unit: units.Millimeter, Scale: Scale{Low: qty(t, "0 mm"), High: qty(t, "50 mm")}, Resolution: qty(t, "0.01 mm"),
		Limit: limit("0.05 mm"), LimitSource: Source{OwnPaper, "its card"}, Months: 12, IntervalSource: Source{ShopRule, ""}}
	read, err := ParseReadings("20=20.00,20.01,19.99,20.00,20.00,30=30.00,30.01,29.99,30.00,30.00", units.Millimeter, NoDirection)
	if err != nil {
		t.Fatal(err)
	}
	f := Facts{Kind: "brake-rotor gauge", Requirement: &q, Today: "2026-06-04",
		Calibrations: []Kept{kept(t, "K", q, Result{On: "2026-05-04", Paper: Certificate, Uncertainty: "0.02", AsLeft: read})}}
	for _, c := range []struct {
		value, limits string
		want          Outcome
	}{
		{"26.1 mm", "25.4..", InsideLimits}, {"25.0 mm", "25.4..", OutsideLimits}, {"25.41 mm", "25.4..", NearLimit}, {"25.39 mm", "25.4..", NearLimit},
		{"26.1 mm", "", WithoutLimits}, {"26.1 mm", "..27", InsideLimits}, {"60 mm", "25.4..", CannotBeTold},
	} {
		ask := asks(t, c.value, c.limits)
		ask.Direction = NoDirection
		m := NewMeasurement(ask, answered(t, f, ask), "front left rotor thickness")
		m.Job, m.At = "1042", 1000
		if m.Outcome != c.want || m.Check() != nil {
			t.Errorf("%s in %q: %s, %v", c.value, c.limits, m.Outcome, m.Check())
		}
	}
	m := Measurement{Use: Use{Asked: asks(t, "26.1 mm", "")}}
	if err := m.Check(); !fault.Is(err, fault.Invalid) || len(fault.Of(err).Fields) != 2 {
		t.Errorf("without job and name: %v", err)
	}
	old, again := Measurement{What: "a", Use: Use{Verdict: No, Job: "1", At: 1}}, Measurement{What: "b", Use: Use{Verdict: Yes, Job: "1", At: 2}}
	if err := again.Redoes(old); !fault.Is(err, fault.Refused) {
		t.Errorf("another value: %v", err)
	}
	again.What = "A"
	if err := again.Redoes(old); err != nil {
		t.Error(err)
	}
	again.NotSafety = true
	if err := again.Redoes(old); !fault.Is(err, fault.Refused) {
		t.Errorf("as not safety-critical: %v", err)
	}
	again.NotSafety, old.Asked = false, asks(t, "25.3 mm", "25.4..")
	for value, limits := range map[string]string{"25.5 mm": "", "25.6 mm": "24..", "25.7 mm": "25.4.."} {
		again.Asked = asks(t, value, limits)
		if err := again.Redoes(old); fault.Is(err, fault.Refused) == (limits == "25.4..") {
			t.Errorf("held against %q the second time: %v", limits, err)
		}
	}
}
