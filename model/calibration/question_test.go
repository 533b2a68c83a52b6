package calibration

import (
	"math"
	"strings"
	"testing"

	"pawl/model/fault"
	"pawl/model/units"
)

func TestLimitsRead(t *testing.T) {
	for _, c := range []struct{ typed, want string }{
		{"100..116", "100..116 N·m"}, {" 100 .. 116 ", "100..116 N·m"}, {"25.4..", "25.4.. N·m"}, {"..116", "..116 N·m"},
		{"74..86 ft-lb", "74..86 ft-lb"}, {"74..86ft-lb", "74..86 ft-lb"}, {"..86 ft-lb", "..86 ft-lb"}, {"74 ft-lb..120 N·m", "74 ft-lb..120 N·m"},
		{"74 ft-lb..", "74.. ft-lb"}, {"100..100", "100..100 N·m"}, {"", ""},
	} {
		l, err := ParseLimits(c.typed, units.NewtonMeter)
		if err != nil || l.String() != c.want {
			t.Errorf("%q reads as %q, %v; want %q", c.typed, l, err, c.want)
		}
		if again, err := ParseLimits(l.String(), units.Bar); c.typed != "" && c.typed != "25.4.." && (err != nil || again != l) && !strings.Contains(c.want, ".. ") {
			t.Errorf("%q reads again as %v, %v", l, again, err)
		}
	}
	for _, bad := range []string{"..", "100", "116..100", "100..116..120", "a..b", "100..116 furlong", "100..116 lb", "1e2..2e2", "100 psi..116 N·m", "100...116", "NaN..1", "100,5..116"} {
		if l, err := ParseLimits(bad, units.NewtonMeter); !fault.Is(err, fault.Invalid) || fault.Of(err).Hint == "" {
			t.Errorf("%q reads as %v, %v", bad, l, err)
		}
	}
}

func TestQuestionsThatCannotBe(t *testing.T) {
	for pointer, change := range map[string]func(*Question){
		"#/target":            func(q *Question) { q.Target = units.Quantity{} },
		"#/limits":            func(q *Question) { q.Limits = Limits{Low: qty(t, "5 bar")} },
		"#/direction":         func(q *Question) { q.Direction = "left" },
		"#/method":            func(q *Question) { q.Method = "feel" },
		"#/adapter":           func(q *Question) { q.Adapter = Adapter{Kind: Crowfoot} },
		"#/default_percent":   func(q *Question) { q.DefaultPercent = "0" },
		"#/setting_unchanged": func(q *Question) { q.SettingUnchanged = "perhaps" },
		"#/zero_and_battery":  func(q *Question) { q.ZeroAndBattery = "perhaps" },
		"#/length_in_wrench":  func(q *Question) { q.LengthInWrench = "perhaps" },
		"#/unit_confirmed":    func(q *Question) { q.UnitConfirmed = "perhaps" },
		"#/ambient":           func(q *Question) { q.Ambient = qty(t, "20 mm") },
	} {
		q := asks(t, "108 N·m", "100..116")
		change(&q)
		_, err := Ready(good(t), q)
		if !fault.Is(err, fault.Invalid) || len(fault.Of(err).Fields) != 1 || fault.Of(err).Fields[0].Pointer != pointer {
			t.Errorf("%s: %v", pointer, err)
		}
	}
	q := asks(t, "108 N·m", "")
	q.Target.Value = "-108"
	if err := q.Check(); !fault.Is(err, fault.Invalid) {
		t.Errorf("a negative torque is taken: %v", err)
	}
}

func TestThreshold(t *testing.T) {
	if (Question{}).Threshold() != 0.975 || (Question{NotSafety: true}).Threshold() != 0.95 {
		t.Error("0.975 on a safety job or an unknown one, 0.95 else")
	}
}

func TestCautionsStandBesideEveryAnswer(t *testing.T) {
	service := "The vehicle maker's service information governs value, sequence, angle, lubrication and one-time fasteners."
	f := good(t)
	for _, change := range []func(*Facts){func(*Facts) {}, func(f *Facts) { f.DoNotUse = "dropped" }, func(f *Facts) { f.Requirement = nil }} {
		f := f
		change(&f)
		a := answered(t, f, asks(t, "108 N·m", "100..116"))
		if len(a.Cautions) == 0 || a.Cautions[0] != service {
			t.Errorf("%s: %q", a.Verdict, a.Cautions)
		}
	}
	q := asks(t, "108 N·m", "100..116")
	q.Method, q.AngleDevice = ByTorqueAngle, true
	q.Adapter, _ = ParseCrowfoot("50mm", "90")
	a := answered(t, f, q)
	for _, want := range []string{"says nothing about the angle", "Pull where the grip-to-drive length", "lowest mark", "speaks of its day"} {
		if !strings.Contains(strings.Join(a.Cautions, " "), want) {
			t.Errorf("%q is missing in %q", want, a.Cautions)
		}
	}
	if a.Verdict != Yes || !has(a, ReasonAngle, "") {
		t.Errorf("torque+angle with a device: %s (%s)", a.Verdict, codes(a))
	}
	for h, texts := range cautions {
		if len(texts) == 0 || len(Cautions(h, h)) != len(texts) {
			t.Errorf("%s: %q", h, Cautions(h, h))
		}
	}
	volts := Cautions(Hazards(Multimeter, NoClass)...)
	if !strings.Contains(strings.Join(volts, " "), "does not clear the work") {
		t.Errorf("multimeter: %q", volts)
	}
}

// Whatever is typed: a fault with a hint, or an answer without panic; and limits that
// were read keep the value of their text.
func FuzzQuestion(f *testing.F) {
	f.Add("108 N·m", "100..116", "50mm", "45deg")
	f.Add("80 ft-lb", "74..86 ft-lb", "", "")
	f.Add("25.4 mm", "25.4..", "2 in", "180")
	f.Add("35 psi", "..40", "0.001 mm", "90°")
	f.Add("0 N·m", "−5..5", "400mm", "180")
	f.Fuzz(func(t *testing.T, target, limits, length, angle string) {
		value, err := units.ParseQuantity(target)
		if err != nil {
			return
		}
		q := Question{Target: value}
		if q.Limits, err = ParseLimits(limits, value.Unit); err != nil {
			if !fault.Is(err, fault.Invalid) || q.Limits.Check() != nil {
				t.Fatalf("ParseLimits(%q) = %v, %v", limits, q.Limits, err)
			}
			return
		}
		if lo, hi := q.Limits.Low, q.Limits.High; !lo.IsZero() && !hi.IsZero() {
			if order, err := lo.Compare(hi); err != nil || order > 0 {
				t.Fatalf("ParseLimits(%q) = %v", limits, q.Limits)
			}
		}
		if q.Adapter, err = ParseCrowfoot(length, angle); err != nil {
			if !fault.Is(err, fault.Invalid) {
				t.Fatalf("ParseCrowfoot(%q, %q): %v", length, angle, err)
			}
			q.Adapter = Adapter{}
		}
		a, err := Ready(good(t), q)
		if err != nil {
			if !fault.Is(err, fault.Invalid) {
				t.Fatalf("%+v: %v", q, err)
			}
			return
		}
		if a.Words() == "" || a.Verdict == Yes && (math.IsNaN(a.DeviationPercent) || a.Setting.IsZero()) || a.Inside < 0 || a.Inside > 1 {
			t.Fatalf("%+v: %+v", q, a)
		}
	})
}
