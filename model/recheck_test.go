package model

import (
	"cmp"
	"slices"
	"strings"
	"testing"
	"time"

	"pawl/model/calibration"
	"pawl/model/custody"
	"pawl/model/fault"
	"pawl/model/register"
)

var testerScale = Requirement{Preset: "torque-tester", Unit: "N·m", Range: "20..250", Graduation: "0.1", Limit: "1 % of reference", LimitFrom: "its certificate, page 1"}

// Readings as a laboratory writes them: a tester that is right, and one that is 5 % off.
const (
	testerGood = "cw:20=20.01,cw:250=250.1,ccw:20=20.01,ccw:250=250.0"
	testerBad  = "cw:20=19,cw:250=238,ccw:20=19,ccw:250=238"
)

// tester is a torque tester that a laboratory found good on 2026-09-01.
func (g *garage) tester(t *testing.T, serial string) string {
	t.Helper()
	number := g.measuring(t, "torque tester", serial, testerScale)
	g.compareWith(t, number, "", "2026-09-01", testerGood)
	return number
}

// compareWith calibrates a tool, at the laboratory where no standard is named. Readings
// "found>left" were adjusted between.
func (g *garage) compareWith(t *testing.T, number, standard, on, readings string) CalibrationView {
	t.Helper()
	in := Calibrate{By: "Own words", On: on, Uncertainty: "0.2%"}
	if standard != "" {
		in = Calibrate{Standard: standard, On: on, Temperature: "21 °C", By: "Tech A"}
	}
	found, left, adjusted := strings.Cut(readings, ">")
	if in.AsLeft = found; adjusted {
		in.AsFound, in.AsLeft, in.Adjusted = found, left, true
	}
	v, err := g.Calibrate(ctx, g.boss, number, in)
	if err != nil {
		t.Fatalf("%s with %q on %s: %v", number, standard, on, err)
	}
	return v
}

// workOn takes the tool to a job, tightens with it, and brings it back.
func (g *garage) workOn(t *testing.T, number, job string, ask Ask) {
	t.Helper()
	for _, err := range []error{
		second(g.Take(ctx, g.techA, number, Take{Job: job})),
		second(g.Tighten(ctx, g.techA, number, Use{Ask: ask, Job: job, Name: "front wheel nuts", Count: 5})),
		second(g.Return(ctx, g.techA, number, Return{})),
	} {
		if err != nil {
			t.Fatal(err)
		}
	}
	g.clock.advance(time.Hour)
}

func second[T any](_ T, err error) error { return err }

func (g *garage) recheckOf(t *testing.T, number string) RecheckView {
	t.Helper()
	v, err := g.Recheck(ctx, g.techA, number)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// unsettledOf counts what Today has of a tool.
func (g *garage) unsettledOf(t *testing.T, number string) int {
	t.Helper()
	all, err := g.UnsettledRechecks(ctx, g.techA)
	if err != nil {
		t.Fatal(err)
	}
	for _, one := range all {
		if one.Row.Number.String() == number {
			return one.Lines
		}
	}
	return 0
}

const wrenchGood = "40=40.0,40.1,40.0,39.9,40.0,120=120.1,120.0,119.9,120.0,120.1,200=200.1,199.9,200.0,200.1,200.0"

func cw(readings string) string {
	return "cw:" + strings.NewReplacer(",120=", ",cw:120=", ",200=", ",cw:200=").Replace(readings)
}

// A wrench of which nobody recorded what it must hold was never shown good: where it was
// taken before it fell stands among what is open, at once and after a start.
func TestWorkWithAnUnrecordedWrenchIsOpen(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		wrench := g.plain(t, "torque wrench", "TW-1")
		hammer := g.plain(t, "hammer", "HM-1")
		if _, err := g.OpenJob(ctx, g.boss, NewJob{Number: "1042"}); err != nil {
			t.Fatal(err)
		}
		if n := g.unsettledOf(t, wrench); n != 0 {
			t.Errorf("%d lines are open before anything is known", n)
		}
		for _, number := range []string{wrench, hammer} {
			g.took(t, number, "1042")
			g.clock.advance(time.Hour)
			if _, err := g.Wrong(ctx, g.techA, number, Wrong{What: "dropped"}); err != nil {
				t.Fatal(err)
			}
		}
		for _, when := range []string{"at once", "after a start"} {
			if v := g.recheckOf(t, wrench); v.Open != 1 || g.unsettledOf(t, wrench) != 1 || g.unsettledOf(t, hammer) != 0 {
				t.Errorf("%s: its list has %d open, Today %d, and %d of the hammer", when, v.Open, g.unsettledOf(t, wrench), g.unsettledOf(t, hammer))
			}
			g.rechecks = recheckCache{}
		}
	})
}

// Of one that was lost nothing tells any more how it was: what it was taken to stands among
// what is open too, at once and after a start, until it is found not to have been lost.
func TestWorkWithAnUnrecordedWrenchThatWasLostIsOpen(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		lost, stolen, hammer := g.plain(t, "torque wrench", "TW-1"), g.plain(t, "torque wrench", "TW-2"), g.plain(t, "hammer", "HM-1")
		if _, err := g.OpenJob(ctx, g.boss, NewJob{Number: "1042"}); err != nil {
			t.Fatal(err)
		}
		for _, number := range []string{lost, stolen, hammer} {
			g.took(t, number, "1042")
		}
		if n := g.unsettledOf(t, lost); n != 0 {
			t.Errorf("%d lines are open before it is lost", n)
		}
		g.clock.advance(time.Hour)
		for _, number := range []string{lost, hammer} {
			if _, err := g.Shop.Gone(ctx, g.boss, number, Gone{Why: "lost"}); err != nil {
				t.Fatal(err)
			}
		}
		theft := g.lossOf(t, g.boss, StartLoss{Found: "2026-10-30T13:00", Tools: []string{stolen}})
		if v, err := g.ConfirmLoss(ctx, g.boss, theft.ID, LossTools{}); err != nil || stands(v) != "1/1 stolen" {
			t.Fatalf("%s, %v", stands(v), err)
		}
		for _, when := range []string{"at once", "after a start"} {
			for number, want := range map[string]int{lost: 1, stolen: 1, hammer: 0} {
				if got := g.unsettledOf(t, number); got != want {
					t.Errorf("%s: Today has %d of %s, want %d", when, got, number, want)
				}
			}
			g.rechecks = recheckCache{}
		}
		g.unsettledOf(t, stolen)
		if _, err := g.WithdrawFromLoss(ctx, g.boss, theft.ID, WithdrawFromLoss{Number: stolen, Why: "in the other van"}); err != nil {
			t.Fatal(err)
		}
		if got := g.unsettledOf(t, stolen); got != 0 || g.recheckOf(t, stolen).Open != 0 {
			t.Errorf("not lost after all: Today has %d, its list %d", got, g.recheckOf(t, stolen).Open)
		}
	})
}

// plain registers a tool of which nothing else is recorded.
func (g *garage) plain(t *testing.T, kind, serial string) string {
	t.Helper()
	done, err := g.Register(ctx, g.boss, register.New{Change: register.Change{Kind: &kind, Maker: ptr("Tarn"), Serial: &serial}, SerialAgain: serial})
	if err != nil {
		t.Fatal(err)
	}
	return done.Number.String()
}

// One standard stands behind the next: what the laboratory finds of the first puts the
// work of the last in doubt, and says by which way.
func TestRecheckWalksThroughThreeStandards(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		first, then, last := g.tester(t, "TT-1"), g.measuring(t, "torque tester", "TT-2", testerScale), g.measuring(t, "torque tester", "TT-3", testerScale)
		w := g.measuring(t, "torque wrench", "TW-1", wrenchScale)
		g.compareWith(t, then, first, "2026-10-01", testerGood)
		g.compareWith(t, last, then, "2026-10-02", testerGood)
		g.compareWith(t, w, last, "2026-10-03", cw(wrenchGood))
		g.workOn(t, w, "1042", nuts)
		if v := g.recheckOf(t, w); v.Window != nil || g.unsettledOf(t, w) != 0 {
			t.Fatalf("nothing is found out yet: %+v", v.Windows)
		}
		g.compareWith(t, first, "", "2026-10-29", testerBad+">"+testerGood)
		v := g.recheckOf(t, w)
		if len(v.Lines) != 1 || v.Lines[0].Job != "1042" || v.Lines[0].Verdict != calibration.RecheckIndeterminate || v.Open != 1 || g.unsettledOf(t, w) != 1 {
			t.Fatalf("%+v", v)
		}
		for _, number := range []string{last, then, first} {
			if !strings.Contains(v.Window.Why, number) {
				t.Errorf("%q does not name %s", v.Window.Why, number)
			}
		}
	})
}

// A circle of standards is refused where it is seen. Entered late it can still come
// about: the list ends, says so, and a doubt in it reaches everybody.
func TestRecheckOfACircle(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		a, b, c := g.tester(t, "TT-1"), g.tester(t, "TT-2"), g.tester(t, "TT-3")
		w := g.measuring(t, "torque wrench", "TW-1", wrenchScale)
		g.compareWith(t, a, b, "2026-10-10", testerGood)
		_, err := g.Calibrate(ctx, g.boss, b, Calibrate{Standard: a, On: "2026-10-12", By: "Tech A", Temperature: "21 °C", AsLeft: testerGood})
		wantFault(t, err, fault.Invalid, "a circle of standards")
		g.compareWith(t, b, c, "2026-10-12", testerGood)
		_, err = g.Calibrate(ctx, g.boss, c, Calibrate{Standard: a, On: "2026-10-12", By: "Tech A", Temperature: "21 °C", AsLeft: testerGood})
		wantFault(t, err, fault.Invalid, "a circle of standards: the tool calibration of "+b+" on 2026-10-12 was made with "+c)
		g.compareWith(t, c, a, "2026-10-08", testerGood) // late: a rested on its laboratory then
		g.compareWith(t, w, a, "2026-10-14", cw(wrenchGood))
		g.workOn(t, w, "1042", nuts)
		if v := g.recheckOf(t, a); v.Window != nil || !strings.Contains(v.Unknown.Words, "in a circle: ") || !strings.Contains(v.Unknown.Words, a+" with "+b) {
			t.Errorf("%+v, %s", v.Windows, v.Unknown.Words)
		}
		g.compareWith(t, b, "", "2026-10-29", testerBad+">"+testerGood)
		for _, number := range []string{a, b, c} {
			v := g.recheckOf(t, number)
			if v.Window == nil || !strings.Contains(v.Unknown.Words, "in a circle: "+number+" with ") {
				t.Errorf("%s: %+v, %s", number, v.Windows, v.Unknown.Words)
			}
		}
		if v := g.recheckOf(t, w); len(v.Lines) != 1 || v.Open != 1 {
			t.Errorf("%+v", v)
		}
	})
}

// Every way of finding a tool out reaches the list, Today, and what is due.
func TestRecheckOfEveryTrigger(t *testing.T) {
	const bad = "40=40.4,120=110.0,200=185.2"
	onBoth(t, func(t *testing.T, g *garage) {
		tester := g.tester(t, "TT-1")
		for i, c := range []struct {
			name string
			do   func(w string) error
			says string
			want calibration.RecheckVerdict
			ask  Ask
		}{
			{"failed as found", func(w string) error {
				return second(g.Calibrate(ctx, g.boss, w, Calibrate{By: "Own words", On: "2026-10-30", Direction: "cw", Uncertainty: "1%", AsFound: bad, AsLeft: wrenchGood, Adjusted: true}))
			}, "found it failing", calibration.RecheckIndeterminate, nuts},
			{"far off at every end", func(w string) error {
				return second(g.Calibrate(ctx, g.boss, w, Calibrate{By: "Own words", On: "2026-10-30", Direction: "cw", Uncertainty: "1%", AsFound: bad}))
			}, "found it failing", calibration.RecheckOutside, Ask{Target: "120 N·m", Limits: "118..122"}},
			{"left failing", func(w string) error {
				return second(g.Calibrate(ctx, g.boss, w, Calibrate{By: "Own words", On: "2026-10-30", Direction: "cw", Uncertainty: "1%", AsFound: wrenchGood, AsLeft: bad, Adjusted: true}))
			}, "left it failing", calibration.RecheckWithin, nuts},
			{"failed bench check", func(w string) error {
				return second(g.Bench(ctx, g.boss, w, Bench{Standard: tester, Direction: "cw", Temperature: "21 °C", At: []string{"40=40.4", "120=110.0", "200=185.2"}}))
			}, "bench check of 2026-10-30 found it failing", calibration.RecheckIndeterminate, nuts},
			{"paper says fail", func(w string) error {
				return second(g.Calibrate(ctx, g.boss, w, Calibrate{By: "Own words", On: "2026-10-30", Claim: "fail"}))
			}, "the paper of 2026-10-30 says fail", calibration.RecheckIndeterminate, nuts},
			{"adjusted without as found", func(w string) error {
				return second(g.Calibrate(ctx, g.boss, w, Calibrate{By: "Own words", On: "2026-10-30", Direction: "cw", Uncertainty: "1%", AsLeft: wrenchGood, Adjusted: true}))
			}, "cannot be judged", calibration.RecheckUnjudged, nuts},
			{"dropped", func(w string) error { return second(g.Wrong(ctx, g.techA, w, Wrong{What: "dropped"})) }, "reported dropped", calibration.RecheckIndeterminate, nuts},
			{"overloaded", func(w string) error { return second(g.Wrong(ctx, g.techA, w, Wrong{What: "overloaded"})) }, "reported overloaded", calibration.RecheckIndeterminate, nuts},
			{"lost", func(w string) error { return second(g.Shop.Gone(ctx, g.boss, w, Gone{Why: "lost"})) }, "it was lost", calibration.RecheckIndeterminate, nuts},
			{"too far off for these limits", func(w string) error {
				return second(g.Calibrate(ctx, g.boss, w, Calibrate{By: "Own words", On: "2026-10-30", Direction: "cw", Uncertainty: "0.5%", AsFound: "40=39,120=117,200=195"}))
			}, "not surely for these limits", calibration.RecheckOutside, Ask{Target: "120 N·m", Limits: "118..122"}},
		} {
			w := g.goodWrench(t, "TW-"+string(rune('A'+i)))
			g.workOn(t, w, "1042", c.ask)
			if err := c.do(w); err != nil {
				t.Fatalf("%s: %v", c.name, err)
			}
			v := g.recheckOf(t, w)
			if v.Window == nil || !strings.Contains(v.Window.Why, c.says) || len(v.Lines) != 1 || v.Lines[0].Verdict != c.want {
				t.Errorf("%s: want %q and %s; %+v, %+v", c.name, c.says, c.want, v.Windows, v.Lines)
				continue
			}
			if open := g.unsettledOf(t, w); open != v.Open || (open == 0) != (c.want == calibration.RecheckWithin) {
				t.Errorf("%s: %d open, %d on Today", c.name, v.Open, open)
			}
		}
	})
}

// What was done with a tool after it was dropped, or after it failed, is on the list as
// well, with its reason: it is the worst use of all. The window that ended by the minute
// is told by the minute.
func TestRecheckListsWhatWasDoneOutOfUse(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		for i, c := range []struct {
			name string
			do   func(w string) error
			says string
		}{
			{"dropped", func(w string) error { return second(g.Wrong(ctx, g.techA, w, Wrong{What: "dropped"})) }, "done after it was taken out of use (dropped on 2026-10-30)"},
			{"failed", func(w string) error {
				return second(g.Calibrate(ctx, g.boss, w, Calibrate{By: "Own words", On: "2026-10-30", Direction: "cw", Uncertainty: "1%", AsFound: "40=36,120=108,200=180"}))
			}, "done after it was taken out of use (failed on 2026-10-30)"},
		} {
			w := g.goodWrench(t, "TW-"+string(rune('A'+i)))
			use := func(job, name string) {
				t.Helper()
				g.clock.advance(time.Minute)
				if _, err := g.Tighten(ctx, g.techA, w, Use{Ask: nuts, Job: job, Name: name, Count: 5}); err != nil {
					t.Fatal(err)
				}
			}
			use("6", "before")
			g.clock.advance(time.Minute)
			if err := c.do(w); err != nil {
				t.Fatal(err)
			}
			use("7", "rear caliper")
			v := g.recheckOf(t, w)
			if len(v.Lines) != 2 || v.Open != 2 || !strings.Contains(v.Unknown.Words, "2 tightenings recorded on 2 jobs") {
				t.Fatalf("%s: %+v", c.name, v)
			}
			for _, row := range v.Lines {
				if after := strings.Contains(row.Why, c.says); after != (row.Job == "7") {
					t.Errorf("%s: job %s: %q", c.name, row.Job, row.Why)
				}
			}
			var told []string
			for _, span := range v.Spans {
				words := ""
				if err := g.read(ctx, func(d *directory) (err error) { words, err = d.spanWords(span); return err }); err != nil {
					t.Fatal(err)
				}
				told = append(told, words)
			}
			all := strings.Join(told, "\n")
			for _, want := range []string{"it was used after it was taken out of use (" + c.name + " on 2026-10-30), before anything showed it good. In doubt: from 2026-10-30 ", " and it goes on.", "from 2026-10-01 to 2026-10-30 "} {
				if !strings.Contains(all, want) {
					t.Errorf("%s: %q is not in\n%s", c.name, want, all)
				}
			}
			if strings.Contains(all, "both days included") {
				t.Errorf("%s: a window that ended by the minute is told by the day:\n%s", c.name, all)
			}
		}
	})
}

// A line is settled once. What stands against the tool that it was done with, and a
// value that is another than the line's, is said; it stays settled.
func TestRecheckIsSettled(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		good, overdue, other := g.goodWrench(t, "TW-G"), g.goodWrench(t, "TW-O"), g.tool(t, kind("impact wrench"))
		small := g.measuring(t, "torque wrench", "TW-S", Requirement{Preset: "torque-wrench-setting", Unit: "N·m", Range: "5..25", Graduation: "0.5", Directions: "cw"})
		g.compareWith(t, small, "", "2026-10-01", "cw:5=5,cw:15=15,cw:25=25")
		doubted := g.goodWrench(t, "TW-D")
		tester := g.tester(t, "TT-1")
		g.compareWith(t, doubted, tester, "2026-10-20", cw(wrenchGood))
		g.compareWith(t, tester, "", "2026-10-29", testerBad+">"+testerGood)
		dropped := g.goodWrench(t, "TW-X")
		if _, err := g.Wrong(ctx, g.techA, dropped, Wrong{What: "dropped"}); err != nil {
			t.Fatal(err)
		}
		line := func() RecheckRow {
			w := g.goodWrench(t, "TW-"+g.clock.now.Format("150405"))
			g.workOn(t, w, "1042", nuts)
			if _, err := g.Wrong(ctx, g.techA, w, Wrong{What: "dropped"}); err != nil {
				t.Fatal(err)
			}
			return g.recheckOf(t, w).Lines[0]
		}
		for _, c := range []struct {
			name, done, how, tool string
			says                  []string // each in some advice; none: there is none of it
			not                   []string
		}{
			{"with a good wrench", "loosened and tightened again, 108 N·m, with " + good, "", "", []string{"Record the tightening too"}, []string{"confirmed", "You wrote", "scale"}},
			{"another value", "loosened and tightened again, 98 N·m", "", good, []string{"You wrote 98 N·m; the line is for 108 N·m"}, []string{"confirmed"}},
			{"the value in another unit", "loosened and tightened again, 80 ft-lb", "", good, nil, []string{"You wrote"}},
			{"two values, one of them it", "loosened, 50 N·m and then 108 N·m", "", good, nil, []string{"You wrote"}},
			{"beyond its scale", "loosened and tightened again, 108 N·m", "", small, []string{small + " goes from 5 N·m to 25 N·m: 108 N·m is not on its scale"}, nil},
			{"beyond its scale, no value said", "loosened and tightened again", "", small, []string{"108 N·m is not on its scale"}, []string{"You wrote"}},
			{"in doubt itself", "loosened and tightened again, 108 N·m", "", doubted, []string{doubted + " is in doubt itself"}, nil},
			{"checked with one in doubt", "the method that the maker names", "checked", doubted, []string{"what was checked with it is not confirmed either"}, nil},
			{"with what measures nothing", "loosened and tightened again", "", other, []string{"Nothing shows that " + other + " is good"}, nil},
			{"checked with what measures nothing", "marks looked at as the maker says", "checked", other, nil, []string{"confirmed"}},
			{"customer told", "by phone, 98 N·m were mentioned", "customer told", "", nil, []string{"You wrote", "confirmed"}},
		} {
			l := line()
			done, err := g.SettleRecheck(ctx, g.techA, l.ID, SettleRecheck{Done: c.done, How: c.how, Tool: c.tool})
			if err != nil || done.Settled == nil || done.Left != 0 {
				t.Fatalf("%s: %+v, %v", c.name, done, err)
			}
			all := strings.Join(done.Advice, "\n")
			for _, text := range c.says {
				if !strings.Contains(all, text) {
					t.Errorf("%s: %q is not said in %q", c.name, text, all)
				}
			}
			for _, text := range c.not {
				if strings.Contains(all, text) {
					t.Errorf("%s: %q is said in %q", c.name, text, all)
				}
			}
		}
		l := line()
		_, err := g.SettleRecheck(ctx, g.techA, l.ID, SettleRecheck{Done: "loosened and tightened again", Tool: dropped})
		wantFault(t, err, fault.Invalid, "marked DO NOT USE")
		g.clock.advance(400 * 24 * time.Hour)
		done, err := g.SettleRecheck(ctx, g.techA, l.ID, SettleRecheck{Done: "loosened and tightened again, 108 N·m", Tool: overdue})
		if err != nil || !strings.Contains(strings.Join(done.Advice, "\n"), "does not hold today") {
			t.Errorf("past its day: %q, %v", done.Advice, err)
		}
		_, err = g.SettleRecheck(ctx, g.techB, l.ID, SettleRecheck{Done: "bolts replaced"})
		wantFault(t, err, fault.Conflict, "is settled already: loosened and tightened again, by Tech A on 2027-12-0", "since", "*", "settled_by", "Tech A")
	})
}

// The photo that shows it is kept with the line.
func TestRecheckIsSettledWithAPhoto(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		w := g.goodWrench(t, "TW-1")
		g.workOn(t, w, "1042", nuts)
		if _, err := g.Wrong(ctx, g.techA, w, Wrong{What: "dropped"}); err != nil {
			t.Fatal(err)
		}
		sha := g.upload(t, g.techA, picture(3))
		done, err := g.SettleRecheck(ctx, g.techA, g.recheckOf(t, w).Lines[0].ID, SettleRecheck{Done: "bolts replaced", Evidence: []register.Attach{{SHA256: sha, Kind: "other"}}})
		if err != nil || done.Settled.Photo != sha || done.Settled.How != string(calibration.FastenerReplaced) {
			t.Fatalf("%+v, %v", done.Settled, err)
		}
		if v := g.recheckOf(t, w); v.Open != 0 || v.Lines[0].Settled.Photo != sha || g.unsettledOf(t, w) != 0 {
			t.Errorf("%+v", v)
		}
	})
}

// Custody without a record is one line for its job; any stretch on the job names it.
func TestRecheckSettlesAJobByAnyOfItsStretches(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		w := g.goodWrench(t, "TW-1")
		var stretches []string
		for range 2 {
			done, err := g.Take(ctx, g.techA, w, Take{Job: "1043"})
			if err != nil {
				t.Fatal(err)
			}
			g.clock.advance(time.Hour)
			if _, err := g.Return(ctx, g.techA, w, Return{}); err != nil {
				t.Fatal(err)
			}
			stretches = append(stretches, g.loanOf(t, done.Tool))
		}
		if _, err := g.Wrong(ctx, g.techA, w, Wrong{What: "dropped"}); err != nil {
			t.Fatal(err)
		}
		v := g.recheckOf(t, w)
		if len(v.Lines) != 1 || v.Unknown.JobsWithoutRecord != 1 || !strings.HasPrefix(v.Unknown.Words, "no tightening or measurement recorded; taken to 1 more job") {
			t.Fatalf("%+v", v)
		}
		later := calibration.RecheckID(stretches[1])
		if later == v.Lines[0].ID {
			t.Fatal("the line has the id of the later stretch")
		}
		done, err := g.SettleRecheck(ctx, g.techA, later, SettleRecheck{Done: "told the customer by phone"})
		if err != nil || done.ID != v.Lines[0].ID || done.Left != 0 {
			t.Errorf("%+v, %v", done, err)
		}
		_, err = g.SettleRecheck(ctx, g.techA, v.Lines[0].ID, SettleRecheck{Done: "told them again"})
		wantFault(t, err, fault.Conflict, "is settled already")
	})
}

// loanOf is the id of the newest stretch of custody of a tool.
func (g *garage) loanOf(t *testing.T, tool string) (id string) {
	t.Helper()
	err := g.read(ctx, func(d *directory) error {
		loans, err := d.LoansInHands(tool)
		slices.SortFunc(loans, func(a, b custody.Loan) int { return cmp.Compare(a.Since, b.Since) })
		id = loans[len(loans)-1].ID
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return id
}
