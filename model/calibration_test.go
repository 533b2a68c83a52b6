package model

import (
	"slices"
	"strings"
	"testing"
	"time"

	"pawl/model/calibration"
	"pawl/model/fault"
	"pawl/model/register"
)

// labPaper is a laboratory's paper on a setting wrench from 40 to 200 N·m, clockwise.
func labPaper(on string) Calibrate {
	return Calibrate{By: "Own words", CertificateNumber: "C-118", On: on, Direction: "cw", Uncertainty: "0.6%",
		AsLeft: "40=40.0,40.1,40.0,39.9,40.0,120=120.1,120.0,119.9,120.0,120.1,200=200.1,199.9,200.0,200.1,200.0"}
}

// measuring registers a tool that must hold what is typed.
func (g *garage) measuring(t *testing.T, kind, serial string, q Requirement) string {
	t.Helper()
	done, err := g.Register(ctx, g.boss, register.New{Change: register.Change{Kind: &kind, Maker: ptr("Tarn"), Serial: &serial}, SerialAgain: serial})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := g.Calibrate(ctx, g.boss, done.Number.String(), Calibrate{Requirement: &q}); err != nil {
		t.Fatal(err)
	}
	return done.Number.String()
}

var wrenchScale = Requirement{Preset: "torque-wrench-setting", Unit: "N·m", Range: "40..200", Graduation: "1", Directions: "cw"}

// goodWrench is one that a laboratory found good on 2026-10-01.
func (g *garage) goodWrench(t *testing.T, serial string) string {
	t.Helper()
	number := g.measuring(t, "torque wrench", serial, wrenchScale)
	if v, err := g.Calibrate(ctx, g.boss, number, labPaper("2026-10-01")); err != nil || !v.Calibration.Supports {
		t.Fatalf("%+v, %v", v.Calibration, err)
	}
	return number
}

// What is often mistyped is asked about, and kept as it was entered.
func TestWhatIsOftenMistypedIsAskedAbout(t *testing.T) {
	g := openGarage(t, "sqlite")
	w := g.goodWrench(t, "TW-1")
	enter := func(number, asLeft string) string {
		in := labPaper("2026-10-20")
		in.CertificateNumber, in.AsLeft = number, asLeft
		v, err := g.Calibrate(ctx, g.boss, w, in)
		if err != nil {
			t.Fatal(err)
		}
		return strings.Join(v.Advice, " ")
	}
	for _, c := range []struct{ number, asLeft, asks string }{
		{"C-120", "40=40.1,40.2,120=120.5,120.4,200=200.1,199.9", ""},
		{"C-120", "40=40.1,40.2,120=120.5,120.4,200=200.1,199.9", "Paper C-120 of that day is on record already"},
		{"C-121", "40=40,1,120=120,5,200=200,1", "The readings at 40 N·m lie far apart. Commas separate readings"},
	} {
		said := enter(c.number, c.asLeft)
		if asked := strings.Contains(said, "take"); asked != (c.asks != "") || !strings.Contains(said, c.asks) {
			t.Errorf("%s %s: %s", c.number, c.asLeft, said)
		}
	}
}

var nuts = Ask{Target: "108 N·m", Limits: "100..116"}

// wantReady asks and compares the verdict and the reason that decided.
func (g *garage) wantReady(t *testing.T, number string, want calibration.Readiness, because calibration.ReasonCode) {
	t.Helper()
	v, err := g.ReadyFor(ctx, g.techA, number, nuts)
	if err != nil || v.Verdict != want {
		t.Fatalf("%s: %s, %v; want %s\n%+v", number, v.Verdict, err, want, v.Reasons)
	}
	if because != "" && !slices.ContainsFunc(v.Reasons, func(r calibration.Reason) bool { return r.Code == because }) {
		t.Errorf("%s: the reasons are %+v, without %q", number, v.Reasons, because)
	}
}

// What is on record decides, and each thing that ends trust is seen at once.
func TestReadyFollowsTheRecord(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		w := g.goodWrench(t, "TW-1")
		g.wantReady(t, w, calibration.Yes, "")
		for _, step := range []struct {
			name string
			do   func() error
			want calibration.Readiness
			code calibration.ReasonCode
		}{
			{"away to the laboratory", func() error {
				_, err := g.Away(ctx, g.boss, w, Away{To: "Own words", For: "calibration"})
				return err
			}, calibration.Yes, calibration.ReasonAway},
			{"back without paper", func() error { _, err := g.Back(ctx, g.boss, w, Back{Serial: "tw 1"}); return err }, calibration.CannotConfirm, calibration.ReasonTrustEnded},
			{"its paper comes, of a day while it was away", func() error { _, err := g.Calibrate(ctx, g.boss, w, labPaper("2026-10-30")); return err }, calibration.Yes, ""},
			{"another one comes back", func() error {
				if _, err := g.Away(ctx, g.boss, w, Away{To: "Own words", For: "lent"}); err != nil {
					return err
				}
				g.clock.advance(24 * time.Hour)
				done, err := g.Back(ctx, g.boss, w, Back{Serial: "TW-9"})
				if err == nil && len(done.Advice) == 0 {
					t.Error("nothing is said of another serial")
				}
				return err
			}, calibration.CannotConfirm, calibration.ReasonTrustEnded},
			{"its serial is edited to that", func() error {
				v, err := g.Tool(ctx, g.boss, w)
				if err == nil {
					_, err = g.ChangeTool(ctx, g.boss, w, v.Tool.Rev, register.Change{Serial: ptr("TW-9"), SerialAgain: ptr("TW-9")})
				}
				return err
			}, calibration.CannotConfirm, calibration.ReasonTrustEnded},
			{"it is calibrated as what it is", func() error {
				g.clock.advance(24 * time.Hour)
				_, err := g.Calibrate(ctx, g.boss, w, labPaper("2026-11-01"))
				return err
			}, calibration.Yes, ""},
			{"repaired", func() error {
				if _, err := g.Away(ctx, g.boss, w, Away{To: "Tidewater Repair", For: "repair"}); err != nil {
					return err
				}
				_, err := g.Back(ctx, g.boss, w, Back{})
				return err
			}, calibration.No, calibration.ReasonTrustEnded},
		} {
			if err := step.do(); err != nil {
				t.Fatalf("%s: %v", step.name, err)
			}
			g.clock.advance(time.Minute)
			t.Log(step.name)
			g.wantReady(t, w, step.want, step.code)
		}
	})
}

// A clock that stands before what the ledger holds confirms nothing.
func TestADoubtfulClockConfirmsNothing(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		w := g.goodWrench(t, "TW-1")
		g.clock.advance(-time.Hour)
		g.wantReady(t, w, calibration.CannotConfirm, calibration.ReasonClock)
		u, err := g.Tighten(ctx, g.techA, w, Use{Ask: nuts, Job: "1042", Name: "front wheel nuts", Count: 5})
		if err != nil || u.Verdict != calibration.CannotConfirm || !u.Holds {
			t.Errorf("%+v, %v", u, err)
		}
		if _, err := g.Sticker(ctx, g.boss, w); !fault.Is(err, fault.Conflict) || !strings.Contains(err.Error(), "clock") {
			t.Errorf("a sticker: %v", err)
		}
		g.clock.advance(time.Hour)
		if _, err := g.Sticker(ctx, g.boss, w); err != nil {
			t.Errorf("a sticker, by a clock that is right: %v", err)
		}
	})
}

// What is asked of a tool may change: comparisons that no longer fit are shown, and
// support nothing.
func TestAComparisonThatNoLongerFits(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		w := g.goodWrench(t, "TW-1")
		smaller := wrenchScale
		smaller.Range = "40..150"
		if _, err := g.Calibrate(ctx, g.boss, w, Calibrate{Requirement: &smaller}); err != nil {
			t.Fatal(err)
		}
		v, err := g.Calibrations(ctx, g.techA, w)
		if err != nil || len(v.Calibrations) != 1 || v.Calibrations[0].Verdict != calibration.CannotBeJudged || v.Calibrations[0].Supports {
			t.Errorf("%+v, %v", v.Calibrations, err)
		}
		g.wantReady(t, w, calibration.CannotConfirm, calibration.ReasonUnreadable)
	})
}

// A standard that is out of use, or was never calibrated, clears nothing.
func TestAStandardMustHoldItself(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		w := g.goodWrench(t, "TW-1")
		tester := g.measuring(t, "torque tester", "TT-1", Requirement{Preset: "torque-tester", Unit: "N·m", Range: "20..250", Graduation: "0.1",
			Limit: "1 % of reference", LimitFrom: "its certificate, page 1"})
		check := Bench{Standard: tester, Direction: "cw", Temperature: "21 °C", At: []string{"40=40.0,40.1,39.9", "120=120.1,119.9,120.0", "200=200.1,199.9,200.0"}}
		bench := func() *calibration.Shown {
			v, err := g.Bench(ctx, g.boss, w, check)
			if err != nil {
				t.Fatal(err)
			}
			return v.Calibration
		}
		if got := bench(); got.Supports {
			t.Errorf("with a standard that was never calibrated: %+v", got)
		}
		paper := Calibrate{By: "Own words", On: "2026-10-01", Uncertainty: "0.3%", AsLeft: "cw:20=20.01,cw:250=250.1,ccw:20=20.01,ccw:250=250.0"}
		if _, err := g.Calibrate(ctx, g.boss, tester, paper); err != nil {
			t.Fatal(err)
		}
		if got := bench(); !got.Supports || got.Standard != tester {
			t.Errorf("with a good standard: %+v", got.Doubts)
		}
		if _, err := g.Wrong(ctx, g.techA, tester, Wrong{What: "dropped"}); err != nil {
			t.Fatal(err)
		}
		if got := bench(); got.Supports {
			t.Errorf("with a standard that was dropped: %+v", got)
		}
		if _, err := g.Bench(ctx, g.boss, w, Bench{Standard: w, At: check.At, Direction: "cw"}); !fault.Is(err, fault.Invalid) {
			t.Errorf("with itself: %v", err)
		}
	})
}

// A drop between two questions is seen by the one inside the write; a repeat under
// the same key gives the first answer and writes nothing.
func TestATighteningIsJudgedWhenItIsWritten(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		w := g.goodWrench(t, "TW-1")
		use := Use{Ask: nuts, Job: "1042", Name: "front wheel nuts", Count: 5}
		keyed := g.techA
		keyed.Key = "k-1"
		first, err := g.Tighten(ctx, keyed, w, use)
		if err != nil || first.Verdict != calibration.Yes || first.Setting.String() != "108 N·m" || first.InsideProbability == nil {
			t.Fatalf("%+v, %v", first, err)
		}
		if _, err := g.Wrong(ctx, g.techB, w, Wrong{What: "dropped"}); err != nil {
			t.Fatal(err)
		}
		again, err := g.Tighten(ctx, keyed, w, use)
		if err != nil || again.ID != first.ID || again.Verdict != calibration.Yes || *again.InsideProbability != *first.InsideProbability {
			t.Errorf("a repeat: %+v, %v", again, err)
		}
		second, err := g.Tighten(ctx, g.techA, w, use)
		if err != nil || second.Verdict != calibration.No || !second.Holds {
			t.Errorf("after the drop: %+v, %v", second, err)
		}
		if _, err := g.SignUse(ctx, g.manager, second.ID, "it felt right"); !fault.Is(err, fault.Refused) {
			t.Errorf("signed for a no: %v", err)
		}
		all, err := g.UsesOn(ctx, g.techA, "1042")
		if err != nil || len(all) != 2 || all[0].Holds || !all[1].Holds {
			t.Errorf("%+v, %v", all, err)
		}
	})
}

// Entered late, only what was known at its time counts: neither a calibration of
// after, nor a drop of after.
func TestATighteningEnteredLate(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		w := g.goodWrench(t, "TW-1")
		if _, err := g.Wrong(ctx, g.techA, w, Wrong{What: "dropped", Happened: "2026-10-20T10:00"}); err != nil {
			t.Fatal(err)
		}
		for happened, want := range map[string]calibration.Readiness{"2026-10-02T10:00": calibration.Yes, "2026-09-30T10:00": calibration.CannotConfirm, "2026-10-01T10:00": calibration.CannotConfirm, "2026-10-21T10:00": calibration.No} {
			u, err := g.Tighten(ctx, g.techA, w, Use{Ask: nuts, Job: "1042", Name: "front wheel nuts", Count: 5, Happened: happened})
			if err != nil || u.Verdict != want || u.Entered == 0 {
				t.Errorf("at %s: %s, %v, want %s", happened, u.Verdict, err, want)
			}
		}
	})
}

// Entered late, the cycles count that were on the tool at its time: since the calibration
// that was in force then, not since one of after, and none of after.
func TestATighteningEnteredLateCountsTheCyclesOfItsTime(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		worn := wrenchScale
		worn.Cycles = ptr(int64(8))
		w := g.measuring(t, "torque wrench", "TW-1", worn)
		g.calibrated(t, w, labPaper("2026-09-01"))
		late := func(happened string, want calibration.Readiness) {
			t.Helper()
			g.clock.advance(time.Second)
			u, err := g.Tighten(ctx, g.techA, w, Use{Ask: nuts, Job: "1042", Name: "front wheel nuts", Count: 5, Happened: happened})
			if err != nil || u.Verdict != want {
				t.Errorf("at %s: %s (%v), %v, want %s", happened, u.Verdict, u.Reasons, err, want)
			}
		}
		late("2026-09-10T10:00", calibration.Yes)
		late("2026-09-11T10:00", calibration.Yes)
		late("2026-09-12T10:00", calibration.No) // 10 of 8
		g.calibrated(t, w, labPaper("2026-10-01"))
		late("2026-09-13T10:00", calibration.No)
		late("2026-10-02T10:00", calibration.Yes)
		late("2026-09-09T10:00", calibration.Yes) // before all of them
	})
}

// What belongs to a comparison is not dropped where nothing was compared; what the tool
// must hold may be said on any day.
func TestNothingOfAComparisonIsDropped(t *testing.T) {
	g := openGarage(t, "sqlite")
	w := g.goodWrench(t, "TW-1")
	yearly := &Requirement{Months: ptr(12)}
	for what, in := range map[string]Calibrate{
		"that it was adjusted":     {On: "2026-10-05", Adjusted: true},
		"a standard":               {Requirement: yearly, Standard: "bench tester of Own words"},
		"a paper":                  {Requirement: yearly, Evidence: []register.Attach{{SHA256: strings.Repeat("0", 64), Kind: "certificate"}}},
		"how many points it names": {DeclaredPoints: 3},
		"a day, and nothing else":  {On: "2026-10-05"},
	} {
		if _, err := g.Calibrate(ctx, g.boss, w, in); !fault.Is(err, fault.Invalid) || !strings.Contains(fault.Of(err).Error(), "readings") {
			t.Errorf("%s without a comparison: %v", what, err)
		}
	}
	for _, in := range []Calibrate{{}, {Requirement: yearly}, {Requirement: yearly, On: "2026-10-05", Direction: "cw"}} {
		if v, err := g.Calibrate(ctx, g.boss, w, in); err != nil || v.Calibration != nil {
			t.Errorf("%+v: %+v, %v", in, v.Calibration, err)
		}
	}
}

// Others' tools are compared by their owner or a manager only.
func TestWhoMayCalibrate(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		w := g.goodWrench(t, "TW-1")
		v, err := g.Tool(ctx, g.boss, w)
		if err == nil {
			_, err = g.ChangeTool(ctx, g.boss, w, v.Tool.Rev, register.Change{Owner: ptr("Tech B")})
		}
		if err != nil {
			t.Fatal(err)
		}
		if _, err := g.Calibrate(ctx, g.techA, w, labPaper("2026-10-05")); !fault.Is(err, fault.Forbidden) {
			t.Errorf("somebody else's: %v", err)
		}
		if _, err := g.Calibrate(ctx, g.techB, w, labPaper("2026-10-05")); err != nil {
			t.Errorf("one's own: %v", err)
		}
	})
}
