package model

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"pawl/model/calibration"
	"pawl/model/custody"
	"pawl/model/fault"
	"pawl/model/register"
)

// typo is labPaper with an "=" forgotten: 120.1 is taken for one more reading at 40.
func typo(on string) Calibrate {
	in := labPaper(on)
	in.AsLeft = strings.Replace(in.AsLeft, "120=120.1", "120.1", 1)
	return in
}

// takeBack withdraws a tool calibration, or a bench check.
func (g *garage) takeBack(t *testing.T, by By, number string, c *calibration.Shown) CalibrationView {
	t.Helper()
	g.clock.advance(time.Second)
	do := g.WithdrawCalibration
	if c.BenchCheck {
		do = g.WithdrawBench
	}
	v, err := do(ctx, by, number, c.ID, "an = was forgotten")
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// give makes a tool somebody's own.
func (g *garage) give(t *testing.T, number, owner string) {
	t.Helper()
	v, err := g.Tool(ctx, g.boss, number)
	if err == nil {
		_, err = g.ChangeTool(ctx, g.boss, number, v.Tool.Rev, register.Change{Owner: &owner})
	}
	if err != nil {
		t.Fatal(err)
	}
}

// calibrated enters a tool calibration.
func (g *garage) calibrated(t *testing.T, number string, in Calibrate) *calibration.Shown {
	t.Helper()
	g.clock.advance(time.Second)
	v, err := g.Calibrate(ctx, g.boss, number, in)
	if err != nil {
		t.Fatal(err)
	}
	return v.Calibration
}

// benched enters a bench check of the whole range, or one that fails.
func (g *garage) benched(t *testing.T, number, standard string, good bool) *calibration.Shown {
	t.Helper()
	g.clock.advance(time.Minute)
	at := []string{"120=110.0,110.1"}
	if good {
		at = []string{"40=40.0,40.1,39.9", "120=120.1,119.9,120.0", "200=200.1,199.9,200.0"}
	}
	v, err := g.Bench(ctx, g.boss, number, Bench{Standard: standard, Direction: "cw", Temperature: "21 °C", At: at})
	if err != nil {
		t.Fatal(err)
	}
	return v.Calibration
}

// standing is how it stands with a tool: what is answered and why, whether it may be used,
// what is due of it and what work with it is in doubt. Names of entries are left out: they
// are drawn by chance.
func (g *garage) standing(t *testing.T, number string, work bool) string {
	t.Helper()
	ready, err := g.ReadyFor(ctx, g.boss, number, nuts)
	if err != nil {
		t.Fatal(err)
	}
	ready.ComputedAt, ready.Calibration, ready.CheckedBy, ready.Number = 0, nil, nil, ""
	v, err := g.Tool(ctx, g.boss, number)
	if err != nil {
		t.Fatal(err)
	}
	due, err := g.Due(ctx, g.boss, DueQuery{Sort: "tool calibration", Within: ptr(maxWithin), Limit: 50})
	if err != nil {
		t.Fatal(err)
	}
	out := []any{ready, v.Compared, custody.Reasons(v.Wrongs)}
	for _, row := range due.Rows {
		if row.Number.String() == number {
			out = append(out, row.What, row.Day, row.Why)
		}
	}
	advice, err := g.IntervalAdvice(ctx, g.boss, number)
	if err != nil {
		t.Fatal(err)
	}
	out = append(out, advice.Advice.Months, advice.Advice.On)
	recheck := RecheckView{}
	if work {
		recheck = g.recheckOf(t, number)
	}
	for _, w := range recheck.Windows {
		out = append(out, w.From, w.To, w.Why)
	}
	for _, l := range recheck.Lines {
		out = append(out, l.Job, l.Verdict, l.Open)
	}
	text, err := json.Marshal(out)
	if err != nil {
		t.Fatal(err)
	}
	return strings.ReplaceAll(string(text), number, "NUMBER")
}

// The mistakes that happen, and what is left when they are taken back: each time as if the
// entry had never been made.
func TestWhatIsLeftWithoutAnEntry(t *testing.T) {
	cases := map[string]struct {
		before, after func(t *testing.T, g *garage, w, tester string)
		mistake       func(t *testing.T, g *garage, w, tester string) *calibration.Shown
		ready         calibration.Readiness // while it counts
		left          calibration.Readiness // without it
	}{
		"a forgotten = fails a good wrench": {
			mistake: func(t *testing.T, g *garage, w, _ string) *calibration.Shown {
				return g.calibrated(t, w, typo("2026-10-20"))
			},
			ready: calibration.No, left: calibration.Yes,
		},
		"and it is entered again, rightly": {
			mistake: func(t *testing.T, g *garage, w, _ string) *calibration.Shown {
				return g.calibrated(t, w, typo("2026-10-20"))
			},
			after: func(t *testing.T, g *garage, w, _ string) { g.calibrated(t, w, labPaper("2026-10-20")) },
			ready: calibration.No, left: calibration.Yes,
		},
		"a bench check of another wrench": {
			mistake: func(t *testing.T, g *garage, w, tester string) *calibration.Shown {
				return g.benched(t, w, tester, false)
			},
			ready: calibration.No, left: calibration.Yes,
		},
		"the good comparison that made a failure good": {
			before: func(t *testing.T, g *garage, w, _ string) { g.calibrated(t, w, badPaper("2026-10-10")) },
			mistake: func(t *testing.T, g *garage, w, _ string) *calibration.Shown {
				return g.calibrated(t, w, labPaper("2026-10-12"))
			},
			ready: calibration.No, left: calibration.No,
		},
		"the good bench check after a drop": {
			before: func(t *testing.T, g *garage, w, _ string) {
				if _, err := g.Wrong(ctx, g.techA, w, Wrong{What: "dropped"}); err != nil {
					t.Fatal(err)
				}
			},
			mistake: func(t *testing.T, g *garage, w, tester string) *calibration.Shown {
				return g.benched(t, w, tester, true)
			},
			ready: calibration.No, left: calibration.No,
		},
	}
	for _, engine := range []string{"sqlite", "postgres"} {
		for name, c := range cases {
			t.Run(engine+"/"+name, func(t *testing.T) {
				with, without := openGarage(t, engine), openGarage(t, engine)
				var stood []string
				for _, g := range []*garage{with, without} {
					w, tester := g.goodWrench(t, "TW-1"), g.tester(t, "TT-1")
					if c.before != nil {
						c.before(t, g, w, tester)
					}
					if g == with {
						m := c.mistake(t, g, w, tester)
						g.wantReady(t, w, c.ready, "")
						if v := g.takeBack(t, g.boss, w, m); v.Calibration.Withdrawn == 0 || v.Calibration.Why != "an = was forgotten" || v.Calibration.Supports || v.Calibration.NextDue != nil {
							t.Errorf("it answers %+v", v.Calibration)
						}
					}
					g.clock.at(with.clock.Now())
					if c.after != nil {
						c.after(t, g, w, tester)
					}
					g.wantReady(t, w, c.left, "")
					stood = append(stood, g.standing(t, w, true))
				}
				if stood[0] != stood[1] {
					t.Errorf("it stands\n%s\nand had it never been entered\n%s", stood[0], stood[1])
				}
			})
		}
	}
}

// What was cleared by what is withdrawn stands again, and what failed and was made good by
// it is marked now. What it had marked itself is not marked any more.
func TestWhatStandsAgainstATool(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		w, tester := g.goodWrench(t, "TW-1"), g.tester(t, "TT-1")
		g.calibrated(t, w, badPaper("2026-10-10"))
		good := g.calibrated(t, w, labPaper("2026-10-12"))
		if _, err := g.Clear(ctx, g.boss, w, Clear{Why: "compared, and passed"}); err != nil {
			t.Fatal(err)
		}
		g.wantReady(t, w, calibration.Yes, "")
		v := g.takeBack(t, g.boss, w, good)
		if _, out := g.marked(t, w); !out || v.DoNotUse != "failed" || !slices.ContainsFunc(v.Advice, func(s string) bool { return strings.Contains(s, "stands again") }) {
			t.Errorf("what cleared it is gone: marked %v, %+v", out, v)
		}
		g.wantReady(t, w, calibration.No, "")
		if _, err := g.Clear(ctx, g.boss, w, Clear{Why: "again"}); !fault.Is(err, fault.Refused) {
			t.Errorf("nothing shows it good, and it is cleared: %v", err)
		}

		// Entered late, a failure is no mark where a later one passed: until that is taken back.
		x := g.goodWrench(t, "TW-2")
		good = g.calibrated(t, x, labPaper("2026-10-20"))
		g.calibrated(t, x, badPaper("2026-10-10"))
		if _, out := g.marked(t, x); out {
			t.Fatal("it was made good, and is marked")
		}
		g.takeBack(t, g.boss, x, good)
		if wrong, out := g.marked(t, x); !out || wrong.What != "failed" {
			t.Errorf("what made it good is gone, and it is not marked")
		}

		// Two that failed mark it twice: one taken back leaves the other.
		y := g.goodWrench(t, "TW-3")
		first, second := g.benched(t, y, tester, false), g.benched(t, y, tester, false)
		if v := g.takeBack(t, g.boss, y, first); v.DoNotUse != "failed" {
			t.Errorf("the other failed too: %+v", v)
		}
		if v := g.takeBack(t, g.boss, y, second); v.DoNotUse != "" {
			t.Errorf("both are gone: %+v", v)
		}
		if _, out := g.marked(t, y); out {
			t.Error("both are gone, and it is marked")
		}
		g.wantReady(t, y, calibration.Yes, "")
	})
}

// Who may take back what. A tool that was out of use is put to use again by a manager
// alone: where a technician takes back what failed, the mark stays until one clears it.
func TestWhoTakesBackAComparison(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		w, tester := g.goodWrench(t, "TW-1"), g.tester(t, "TT-1")
		bad := g.benched(t, w, tester, false)
		other := g.goodWrench(t, "TW-2")
		refused := func(name string, kind fault.Kind, does func() (CalibrationView, error)) {
			t.Helper()
			if v, err := does(); !fault.Is(err, kind) {
				t.Errorf("%s: %+v, %v", name, v, err)
			}
		}
		refused("no reason", fault.Invalid, func() (CalibrationView, error) { return g.WithdrawBench(ctx, g.boss, w, bad.ID, " ") })
		refused("unknown", fault.NotFound, func() (CalibrationView, error) { return g.WithdrawBench(ctx, g.boss, w, "A-2H4K9Q7M", "x") })
		refused("another tool's", fault.NotFound, func() (CalibrationView, error) { return g.WithdrawBench(ctx, g.boss, other, bad.ID, "x") })
		refused("no tool calibration", fault.NotFound, func() (CalibrationView, error) { return g.WithdrawCalibration(ctx, g.boss, w, bad.ID, "x") })

		v := g.takeBack(t, g.techA, w, bad)
		if _, out := g.marked(t, w); !out || v.DoNotUse != "failed" || !slices.ContainsFunc(v.Advice, func(s string) bool { return strings.Contains(s, "A manager clears it") }) {
			t.Errorf("a technician put it to use: %+v", v)
		}
		refused("twice", fault.Conflict, func() (CalibrationView, error) { return g.WithdrawBench(ctx, g.boss, w, bad.ID, "x") })
		if tool, err := g.Tool(ctx, g.boss, w); err != nil || !tool.Compared.Clears {
			t.Errorf("nothing that stands is against it: %+v, %v", tool.Compared, err)
		}
		if _, err := g.Clear(ctx, g.boss, w, Clear{Why: "it was another wrench"}); err != nil {
			t.Error(err)
		}
		g.wantReady(t, w, calibration.Yes, "")

		// Of another's own tool: what failed is not theirs to take back, even if they entered it.
		own := g.goodWrench(t, "TW-3")
		in, err := g.Bench(ctx, g.techA, own, Bench{Standard: tester, Direction: "cw", Temperature: "21 °C", At: []string{"120=110.0,110.1"}})
		if err != nil {
			t.Fatal(err)
		}
		fine, err := g.Bench(ctx, g.techA, own, Bench{Standard: tester, Direction: "cw", Temperature: "21 °C", At: []string{"120=120.0,120.1"}})
		if err != nil {
			t.Fatal(err)
		}
		g.give(t, own, "Tech B")
		refused("another's that failed", fault.Forbidden, func() (CalibrationView, error) {
			return g.WithdrawBench(ctx, g.techA, own, in.Calibration.ID, "x")
		})
		if _, err := g.WithdrawBench(ctx, g.techA, own, fine.Calibration.ID, "of another"); err != nil {
			t.Errorf("their own good entry: %v", err)
		}
		if _, err := g.WithdrawBench(ctx, g.techB, own, in.Calibration.ID, "of another"); err != nil {
			t.Errorf("the owner takes it back: %v", err)
		}
	})
}

// What rested on a good comparison is in doubt without it: the jobs that a yes was said
// for, and what was compared with it as the standard. What an earlier one would have said
// yes to is not.
func TestWhatRestedOnAnEntry(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		w := g.measuring(t, "torque wrench", "TW-1", wrenchScale)
		good := g.calibrated(t, w, labPaper("2026-10-20"))
		g.workOn(t, w, "1042", nuts)
		if v := g.recheckOf(t, w); len(v.Lines) != 0 {
			t.Fatalf("in doubt before: %+v", v.Lines)
		}
		v := g.takeBack(t, g.boss, w, good)
		r := g.recheckOf(t, w)
		if r.Open != 1 || r.Lines[0].Job != "1042" || r.Window == nil || !strings.Contains(r.Window.Why, "was withdrawn on") || g.unsettledOf(t, w) != 1 {
			t.Errorf("the job that rested on it: %+v", r)
		}
		if !slices.ContainsFunc(v.Advice, func(s string) bool { return strings.Contains(s, "pawl recheck "+w) }) {
			t.Errorf("it says %q", v.Advice)
		}
		g.wantReady(t, w, calibration.CannotConfirm, "")
		g.calibrated(t, w, labPaper("2026-10-20")) // entered once more, as it was
		if r := g.recheckOf(t, w); r.Open != 0 {
			t.Errorf("shown good for that time: %+v", r)
		}

		earlier := g.goodWrench(t, "TW-2") // of 2026-10-01
		again := g.calibrated(t, earlier, labPaper("2026-10-20"))
		g.workOn(t, earlier, "1043", nuts)
		g.takeBack(t, g.boss, earlier, again)
		if r := g.recheckOf(t, earlier); len(r.Lines) != 0 {
			t.Errorf("the one before says yes too: %+v", r)
		}

		standard := g.measuring(t, "torque tester", "TT-1", testerScale)
		paper := g.calibrated(t, standard, Calibrate{By: "Own words", On: "2026-09-01", Uncertainty: "0.2%", AsLeft: testerGood})
		compared := g.measuring(t, "torque wrench", "TW-3", wrenchScale)
		own := g.calibrated(t, compared, Calibrate{Standard: standard, On: "2026-10-20", Temperature: "21 °C", Direction: "cw", AsLeft: labPaper("").AsLeft})
		if !own.Supports {
			t.Fatalf("%+v", own.Doubts)
		}
		g.workOn(t, compared, "1044", nuts)
		v = g.takeBack(t, g.boss, standard, paper)
		if !slices.ContainsFunc(v.Advice, func(s string) bool { return strings.Contains(s, "pawl recheck "+compared) }) {
			t.Errorf("it says %q", v.Advice)
		}
		g.wantReady(t, compared, calibration.CannotConfirm, "")
		if r := g.recheckOf(t, compared); r.Open != 1 || r.Lines[0].Job != "1044" || g.unsettledOf(t, compared) != 1 {
			t.Errorf("what was compared with it: %+v", r)
		}
		g.calibrated(t, standard, Calibrate{By: "Own words", On: "2026-09-01", Uncertainty: "0.2%", AsLeft: testerGood}) // the same figures
		g.wantReady(t, compared, calibration.Yes, "")
	})
}

// Whatever was recorded before and after: an entry that is taken back leaves the tool as it
// stands without it, as long as a manager cleared the same. Work is in doubt at least where
// it would be; of work that a yes was said for by what is taken back, more.
func TestAnyEntryTakenBack(t *testing.T) {
	chance, same := rand.New(rand.NewPCG(20261030, 9)), 0
	for range pawlSize(16, 80, 800) {
		var plan []int
		for range 2 + chance.IntN(6) {
			plan = append(plan, chance.IntN(len(steps)))
		}
		wrong := chance.IntN(len(plan))
		plan[wrong] = chance.IntN(undone)
		t.Run(fmt.Sprint(plan, " without ", wrong), func(t *testing.T) {
			with, without := openGarage(t, "sqlite"), openGarage(t, "sqlite")
			w, cleared := with.walk(t, plan, wrong, true)
			x, otherwise := without.walk(t, plan, wrong, false)
			if !slices.Equal(cleared, otherwise) {
				return // what somebody decided then was decided by what was known then
			}
			same++
			worked := slices.Contains(plan, tightening) && plan[wrong] != tightening
			if a, b := with.standing(t, w, !worked), without.standing(t, x, !worked); a != b {
				t.Errorf("it stands\n%s\nand without it\n%s", a, b)
			}
			doubted := func(g *garage, tool string) (out []string) {
				for _, l := range g.recheckOf(t, tool).Lines {
					out = append(out, l.Job)
				}
				return out
			}
			more := doubted(with, w)
			for _, job := range doubted(without, x) {
				if !slices.Contains(more, job) {
					t.Errorf("job %s is in doubt without it, and not when it is taken back: %q", job, more)
				}
			}
		})
	}
	if same < pawlSize(12, 60, 600) {
		t.Errorf("only %d of the walks compare", same)
	}
}

// steps are what may be recorded; the first of them can be taken back.
var steps = []func(t *testing.T, g *garage, w, tester, on string) func(why string) error{
	func(t *testing.T, g *garage, w, _, on string) func(string) error {
		return g.back(t, w, g.calibrated(t, w, labPaper(on)))
	},
	func(t *testing.T, g *garage, w, _, on string) func(string) error {
		return g.back(t, w, g.calibrated(t, w, badPaper(on)))
	},
	func(t *testing.T, g *garage, w, tester, _ string) func(string) error {
		return g.back(t, w, g.benched(t, w, tester, true))
	},
	func(t *testing.T, g *garage, w, tester, _ string) func(string) error {
		return g.back(t, w, g.benched(t, w, tester, false))
	},
	tightening: func(t *testing.T, g *garage, w, _, on string) func(string) error {
		g.clock.advance(time.Hour)
		v, err := g.Tighten(ctx, g.techA, w, Use{Ask: nuts, Job: on, Name: "front wheel nuts", Count: 5})
		if err != nil {
			t.Fatal(err)
		}
		return func(why string) error { return second(g.WithdrawTightening(ctx, g.boss, w, v.ID, why)) }
	},
	undone: func(t *testing.T, g *garage, w, _, _ string) func(string) error {
		if _, err := g.Wrong(ctx, g.techA, w, Wrong{What: "dropped"}); err != nil {
			t.Fatal(err)
		}
		return nil
	},
	func(t *testing.T, g *garage, w, _, _ string) func(string) error { // refused where nothing shows it good
		_, err := g.Clear(ctx, g.boss, w, Clear{Why: "compared"})
		if err != nil && !fault.Is(err, fault.Refused) && !fault.Is(err, fault.Conflict) {
			t.Fatal(err)
		}
		return func(string) error { return err }
	},
}

const (
	tightening = 4
	undone     = 5 // from here on
	clearing   = 6
)

func (g *garage) back(t *testing.T, number string, c *calibration.Shown) func(string) error {
	return func(string) error { g.takeBack(t, g.boss, number, c); return nil }
}

// walk records a plan on a wrench, a day apart. One step is left out, or taken back at the
// end. It says what a manager's word cleared.
func (g *garage) walk(t *testing.T, plan []int, wrong int, enter bool) (tool string, cleared []bool) {
	t.Helper()
	w, tester := g.goodWrench(t, "TW-1"), g.tester(t, "TT-1")
	var mistake func(string) error
	for i, step := range plan {
		g.clock.at(time.Date(2026, 10, 31+i, 17, 0, 0, 0, time.UTC))
		if i == wrong && !enter {
			continue
		}
		does := steps[step](t, g, w, tester, g.clock.Now().Format(time.DateOnly))
		if i == wrong {
			mistake = does
		}
		if step == clearing {
			cleared = append(cleared, does("") == nil)
		}
	}
	if enter {
		g.clock.advance(time.Minute)
		if err := mistake("it was another wrench"); err != nil {
			t.Fatal(err)
		}
	}
	g.clock.at(time.Date(2026, 11, 20, 17, 0, 0, 0, time.UTC))
	return w, cleared
}
