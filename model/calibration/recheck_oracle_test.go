package calibration_test

import (
	"fmt"
	"maps"
	"math"
	"os"
	"slices"
	"strconv"
	"testing"
	"time"

	"pawl/model/calibration"
	"pawl/model/dates"
	"pawl/model/units"
)

// The bridge writes a plain case in the package's own types. It judges nothing.

var (
	doubtZone = time.FixedZone("shop", -5*3600)
	doubtYear = time.Date(2026, 1, 1, 0, 0, 0, 0, doubtZone)
)

func instantOf(minute int) dates.Instant {
	if minute == -1 {
		return 0
	}
	return dates.InstantOf(doubtYear.Add(time.Duration(minute) * time.Minute))
}

func dayOf(day int) dates.Date { return dates.Of(doubtYear.AddDate(0, 0, day), doubtZone) }

func (at doubtTime) moment() calibration.Moment {
	if at == noTime {
		return calibration.Moment{}
	}
	return calibration.Moment{On: dayOf(at.day), At: instantOf(at.minute)}
}

func plain(f float64) string { return strconv.FormatFloat(f, 'f', -1, 64) }

func amount(f float64, unit string) units.Quantity {
	if math.IsInf(f, 0) || math.IsNaN(f) {
		return units.Quantity{}
	}
	return units.Quantity{Value: plain(f), Unit: units.Unit(unit)}
}

func (t doubtTool) requirement() calibration.Requirement {
	limit, err := calibration.ParseLimit("4 % of reference")
	if t.sort == "gauge" {
		limit, err = calibration.ParseLimit("1.6 % of span")
	}
	if err != nil {
		panic(err)
	}
	q := calibration.Requirement{Instrument: calibration.TorqueWrench, Class: calibration.SettingWrench, Unit: units.NewtonMeter,
		Scale: calibration.Scale{Low: amount(40, "N·m"), High: amount(200, "N·m"), Graduation: amount(1, "N·m")},
		Limit: limit, LimitSource: calibration.Source{Standing: calibration.OwnPaper, Where: "its paper"}, Months: 12,
		IntervalSource: calibration.Source{Standing: calibration.ShopRule}, Rule: calibration.SimpleRule}
	for _, d := range t.directions {
		q.Directions = append(q.Directions, calibration.Direction(d))
	}
	switch t.sort {
	case "one value":
		q.Class, q.Scale = calibration.FixedWrench, calibration.Scale{Low: amount(108, "N·m"), High: amount(108, "N·m")}
	case "electronic":
		q.Class, q.Electronic = calibration.ElectronicWrench, true
	case "gauge":
		q.Instrument, q.Class, q.Unit, q.Directions = calibration.PressureGauge, calibration.NoClass, units.PSI, nil
		q.Scale = calibration.Scale{Low: amount(0, "psi"), High: amount(160, "psi"), Graduation: amount(2, "psi")}
	}
	if t.grip > 0 {
		q.GripToDrive = amount(t.grip, "mm")
	}
	return q
}

func written(points []doubtPoint) (out []calibration.Point) {
	for _, p := range points {
		point := calibration.Point{Direction: calibration.Direction(p.direction), Set: calibration.Decimal(plain(p.set))}
		for _, r := range p.read {
			point.Readings = append(point.Readings, calibration.Decimal(plain(r)))
		}
		out = append(out, point)
	}
	return out
}

func (c doubtCompared) comparison(t *testing.T, tool doubtTool, on *calibration.Judging, doubted string) calibration.Comparison {
	t.Helper()
	r := calibration.Result{On: dayOf(c.at.day), By: "a lab", Paper: calibration.Paper(c.paper), BenchCheck: c.bench, AsFound: written(c.found), AsLeft: written(c.left),
		Adjusted: c.adjusted, Claim: calibration.Claim(c.claim)}
	if c.w > 0 {
		r.Uncertainty = calibration.Decimal(plain(c.w))
	}
	if c.paper == "own" {
		r.Standard = calibration.Standard{Name: "the tester", Low: amount(1, "N·m"), High: amount(900, "N·m"), Uncertainty: "1.0", Bias: "0", Calibrated: "2025-01-01", Due: "2027-12-31"}
		if tool.sort == "gauge" {
			r.Standard.Low, r.Standard.High, r.Standard.Uncertainty, r.Standard.Absolute = amount(0, "psi"), amount(300, "psi"), "", amount(0.3, "psi")
		}
		if !c.unfit {
			r.Temperature = units.Quantity{Value: "21", Unit: units.Celsius}
		}
	}
	r.Standard.OutOfUse = c.standardOut
	if c.paper == "declaration" {
		r.Declared = &calibration.Declared{Class: "the class", Low: amount(40, "N·m"), High: amount(200, "N·m"), Points: c.points}
		switch tool.sort {
		case "one value":
			r.Declared.Low, r.Declared.High = amount(108, "N·m"), amount(108, "N·m")
		case "gauge":
			r.Declared.Low, r.Declared.High = amount(0, "psi"), amount(160, "psi")
		}
		for _, d := range tool.directions {
			if d != "" {
				r.Declared.Directions = append(r.Declared.Directions, calibration.Direction(d))
			}
		}
	}
	j, err := on.Judge(r, calibration.Around{})
	if err != nil {
		t.Fatalf("%s: %v", c.id, err)
	}
	return calibration.Comparison{Kept: calibration.Kept{ID: c.id, At: instantOf(c.at.minute), Judgement: j}, Entered: instantOf(c.entered), Doubted: doubted}
}

func (u doubtUse) done() calibration.Done {
	ask := calibration.Question{Target: amount(u.target, u.unit), Direction: calibration.Direction(u.direction)}
	if u.limited {
		ask.Limits = calibration.Limits{Low: amount(u.low, u.unit), High: amount(u.high, u.unit)}
	}
	if u.reach > 0 {
		ask.Adapter = calibration.Adapter{Kind: calibration.Crowfoot, Length: amount(u.reach, "mm"), Angle: calibration.Decimal(plain(u.angle))}
	}
	if u.bound {
		ask.Adapter.Kind = calibration.Extension
	}
	if u.lengthInWrench {
		ask.LengthInWrench = calibration.RepliedYes
	}
	d := calibration.Done{ID: u.id, Job: u.job, At: instantOf(u.minute), What: calibration.UsedToTighten, Said: calibration.Said{Asked: ask, Set: amount(u.set, "N·m")}}
	if u.measured {
		d.What, d.Said.Set = calibration.UsedToMeasure, units.Quantity{}
	}
	return d
}

// history is what the package is given of a tool; why says which of its comparisons
// were made with a standard that is in doubt.
func (t doubtTool) history(test *testing.T, now int, doubted map[string]bool) calibration.History {
	test.Helper()
	q := t.requirement()
	on, err := q.Judging()
	if err != nil {
		test.Fatal(err)
	}
	h := calibration.History{Requirement: &q, Zone: doubtZone, Now: instantOf(now), Gone: instantOf(t.gone), Lost: t.lost}
	if t.noDemand {
		h.Requirement = nil
	}
	for _, c := range t.compared {
		why := ""
		if doubted[c.id] {
			why = "its standard was found out"
		}
		h.Compared = append(h.Compared, c.comparison(test, t, on, why))
	}
	for _, m := range t.mishaps {
		h.Mishaps = append(h.Mishaps, calibration.Mishap{Kind: calibration.EventKind(m.kind), At: instantOf(m.at), Out: instantOf(m.out), Cleared: instantOf(m.cleared)})
	}
	for _, at := range t.changed {
		h.Changed = append(h.Changed, instantOf(at))
	}
	for _, u := range t.uses {
		h.Done = append(h.Done, u.done())
	}
	for _, s := range t.stretches {
		h.Stretches = append(h.Stretches, calibration.Stretch{ID: s.id, Job: s.job, From: instantOf(s.from), To: instantOf(s.to)})
	}
	return h
}

func doubtCases() int {
	switch os.Getenv("PAWL_SIZE") {
	case "ci":
		return 5_000
	case "full":
		return 20_000
	}
	return 500
}

// TestRecheckOracle holds the package against the second implementation over generated
// histories, and counts that every way of finding a tool out and every verdict comes up.
func TestRecheckOracle(t *testing.T) {
	n := doubtCases()
	seen := map[string]int{}
	for seed := range n {
		c := newDoubtCase(uint64(seed))
		doubted, got := answered(t, c, seen)
		o := newDoubtOracle(c.doubtTool, c.now, "")
		o.doubted = doubted
		if diff := o.list().differs(c, got); diff != "" {
			t.Fatalf("history %d: %s\n%+v", seed, diff, c)
		}
		c.neverEmpty(t, seed, got)
		for _, w := range got.Windows {
			seen["trigger "+string(w.Trigger)]++
		}
		for _, l := range got.Lines {
			seen["verdict "+string(l.Verdict)]++
			if l.Custody != "" {
				seen["custody without a record"]++
			}
			if l.Why == "a check after it found the tool good there" {
				seen["on record, and not in doubt"]++
			}
		}
	}
	for _, what := range slices.Sorted(maps.Keys(seen)) {
		t.Logf("%6d %s", seen[what], what)
	}
	for _, what := range []string{"trigger failed as found", "trigger left failing", "trigger failed bench check", "trigger paper says fail", "trigger adjusted without as found",
		"trigger mishap", "trigger used while out of use", "trigger lost", "trigger standard found out", "trigger standard out of use", "trigger passed, but not for these limits",
		"verdict within", "verdict outside", "verdict indeterminate", "verdict cannot be judged", "custody without a record", "standard in doubt", "standard not in doubt"} {
		if seen[what] < n/40 {
			t.Errorf("%d histories show only %d of %s", n, seen[what], what)
		}
	}
}

// answered asks the package of the standard and of the tool, and says which comparisons
// it takes for doubted, by the second implementation's word too.
func answered(t *testing.T, c doubtCase, seen map[string]int) (doubted map[string]bool, got calibration.Rechecked) {
	t.Helper()
	standard := calibration.Recheck(c.standard.history(t, c.now, nil))
	o := newDoubtOracle(c.standard, c.now, "")
	doubted = map[string]bool{}
	for _, k := range c.compared {
		if !k.withStandard {
			continue
		}
		_, in := standard.InDoubt(dayOf(k.at.day), instantOf(k.at.minute))
		if want := o.inDoubt(k.at); in != want {
			t.Fatalf("%s is in doubt by its standard: %v, want %v\n%+v", k.id, in, want, c.standard)
		}
		if doubted[k.id] = in; in {
			seen["standard in doubt"]++
		} else {
			seen["standard not in doubt"]++
		}
	}
	return doubted, calibration.Recheck(c.history(t, c.now, doubted))
}

// neverEmpty asks by itself: where somebody had the tool at a time that is in doubt,
// the list has a line.
func (c doubtCase) neverEmpty(t *testing.T, seed int, got calibration.Rechecked) {
	t.Helper()
	for _, w := range got.Windows {
		for _, s := range c.stretches {
			to := s.to
			if to == -1 {
				to = max(c.now, s.from)
			}
			late := w.To.On != "" && dayOf(atMinute(s.from).day) >= w.To.On
			early := w.From.On != "" && dayOf(atMinute(to).day) <= w.From.On
			usesOnly := w.Trigger == calibration.TooTight || w.Trigger == calibration.UsedOutOfUse
			if !usesOnly && !late && !early && len(got.Lines) == 0 {
				t.Fatalf("history %d: it was out in %+v, and the list is empty", seed, w)
			}
		}
	}
}

// differs says how what the package gives is not what is expected; "" it is.
func (want doubtList) differs(c doubtCase, got calibration.Rechecked) string {
	if a, b := windowsOf(got), want.spans(); !slices.Equal(a, b) {
		return fmt.Sprintf("windows\n%q, want\n%q", a, b)
	}
	if len(got.Lines) != len(want.lines) {
		return fmt.Sprintf("%d lines %v, want %v", len(got.Lines), keysOf(got), slices.Sorted(maps.Keys(want.lines)))
	}
	for i, l := range got.Lines {
		w, known := want.lines[keyOf(l)]
		if !known {
			return fmt.Sprintf("%s is on the list", keyOf(l))
		}
		if diff := w.differs(c, l); diff != "" {
			return keyOf(l) + ": " + diff
		}
		if i > 0 {
			if before := want.lines[keyOf(got.Lines[i-1])]; doubtRanks[before.verdict] > doubtRanks[w.verdict] || before.verdict == w.verdict && before.off < w.off-1e-9 {
				return fmt.Sprintf("%v stands before %v", before, w)
			}
		}
	}
	jobs, wanted := slices.Sorted(slices.Values(got.Jobs)), slices.Sorted(slices.Values(want.jobs))
	if !slices.Equal(jobs, wanted) || got.DaysNoJob != want.days {
		return fmt.Sprintf("jobs %v, %d days; want %v, %d", jobs, got.DaysNoJob, wanted, want.days)
	}
	return ""
}

// windowsOf and spans write windows alike; one standard makes one of all that it was
// used for.
func windowsOf(got calibration.Rechecked) (out []string) {
	for _, w := range got.Windows {
		text := fmt.Sprintf("%s %s%s %s", w.Trigger, w.Comparison, w.Mishap, w.FoundOn)
		if w.Trigger == calibration.StandardFound {
			text = string(w.Trigger)
		}
		out = append(out, fmt.Sprintf("%s: %v to %v", text, w.From, w.To))
	}
	slices.Sort(out)
	return out
}

func (want doubtList) spans() (out []string) {
	for _, w := range want.windows {
		text := fmt.Sprintf("%s %s %s", w.trigger, w.by, dayOf(w.foundOn))
		if w.trigger == "standard found out" {
			text = w.trigger
		}
		text = fmt.Sprintf("%s: %v to %v", text, w.from.moment(), w.to.moment())
		if w.trigger != "standard found out" || !slices.Contains(out, text) {
			out = append(out, text)
		}
	}
	slices.Sort(out)
	return out
}

func keyOf(l calibration.RecheckLine) string {
	switch {
	case l.Use != "":
		return "use " + l.Use
	case l.Job != "":
		return "job " + l.Job
	}
	return "stretch " + l.Custody
}

func keysOf(got calibration.Rechecked) (out []string) {
	for _, l := range got.Lines {
		out = append(out, keyOf(l))
	}
	slices.Sort(out)
	return out
}

func (w doubtLine) differs(c doubtCase, l calibration.RecheckLine) string {
	verdict := string(l.Verdict)
	if l.Custody != "" && l.Verdict == calibration.RecheckIndeterminate {
		verdict = "custody"
	}
	if verdict != w.verdict || l.Job != w.job || l.From != instantOf(w.from) || l.To != instantOf(w.to) {
		return fmt.Sprintf("%s of %s, %s to %s; want %s of %s, %s to %s", verdict, l.Job, l.From, l.To, w.verdict, w.job, instantOf(w.from), instantOf(w.to))
	}
	if w.verdict == "custody" {
		return ""
	}
	f := 1.0
	if l.Unit == units.FootPound {
		f = oracleFactors["ft-lb"]
	}
	for _, v := range []struct {
		what      string
		got, want float64
	}{{"applied", l.Applied * f, w.applied}, {"uncertainty", l.Uncertainty * f, w.u}, {"deviation", l.Deviation, w.deviation}, {"least", l.Low * f, w.low}, {"most", l.High * f, w.high}} {
		if math.IsNaN(v.got) != math.IsNaN(v.want) || math.Abs(v.got-v.want) > 1e-7*math.Max(1, math.Abs(v.want)) {
			return fmt.Sprintf("%s %.9g, want %.9g", v.what, v.got, v.want)
		}
	}
	return ""
}

// Each rule that is wrong on purpose makes a list that is not the package's.
func TestRecheckOracleFindsWrongRules(t *testing.T) {
	const n = 500
	type answer struct {
		doubtCase
		doubted map[string]bool
		got     calibration.Rechecked
	}
	cases := make([]answer, n)
	for seed := range cases {
		c := newDoubtCase(uint64(seed))
		doubted, got := answered(t, c, map[string]int{})
		cases[seed] = answer{c, doubted, got}
	}
	for _, c := range []struct{ wrong, text string }{
		{"direction ignored", "its own direction"},
		{"one end only", "both ends of the segment"},
		{"uncertainty forgotten", "inside the limits with its uncertainty"},
		{"sign turned", "a tool that shows more than there is applies too little"},
		{"adapter forgotten", "the factor of the offset adapter"},
		{"custody forgotten", "the list starts from custody"},
		{"as left before forgotten", "the previous as-left value"},
		{"adjusted without as found is any other", "the previous period cannot be judged"},
		{"any bench check is of the whole", "its own direction and span"},
		{"an unfit check clears", "it can take a tool out of use but never clear one"},
		{"it ends when it is found out", "until taken out of use or passing as left"},
		{"boundary days are outside", "uses on either boundary date are inside"},
		{"no limits are wide", "target ± what the tool must hold"},
		{"ordered by when it was entered", "ordered by when it happened"},
		{"nobody used it while it was out of use", "what was used after it was taken out of use is in doubt"},
		{"the standard forgotten", "a standard found out cascades"},
		{"a standard out of use is any other", "only with a standard that may be used that day"},
	} {
		found := 0
		for _, one := range cases {
			o := newDoubtOracle(one.doubtTool, one.now, c.wrong)
			if o.doubted = one.doubted; c.wrong == "the standard forgotten" {
				o.doubted = map[string]bool{}
			}
			if o.list().differs(one.doubtCase, one.got) != "" {
				found++
			}
		}
		t.Logf("%3d of %d histories tell %q", found, n, c.wrong)
		if found < 5 {
			t.Errorf("%s: only %d of %d histories tell the rule %q", c.wrong, found, n, c.text)
		}
	}
}
