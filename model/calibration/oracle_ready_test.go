package calibration_test

import (
	"fmt"
	"math"
	"os"
	"reflect"
	"runtime"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"

	"pawl/model/calibration"
)

// oracleReasons says which finding of the second implementation each code that
// forbids stands for. A code that is not here may not forbid anything.
var oracleReasons = map[calibration.ReasonCode]string{
	calibration.ReasonGone: "gone", calibration.ReasonDoNotUse: "do not use", calibration.ReasonTrustEnded: "trust ended",
	calibration.ReasonFailedCheck: "bench check failed", calibration.ReasonFailed: "failed", calibration.ReasonPastDue: "past due",
	calibration.ReasonCycles: "cycles", calibration.ReasonRange: "range", calibration.ReasonCalRange: "calibrated range",
	calibration.ReasonDirection: "direction", calibration.ReasonGraduation: "graduation", calibration.ReasonCoarse: "coarse",
	calibration.ReasonOneValue: "one value", calibration.ReasonSettingMoved: "setting changed", calibration.ReasonZeroBattery: "zero or battery",
	calibration.ReasonAmbient: "ambient", calibration.ReasonTooNarrow: "too narrow", calibration.ReasonAllOutside: "wholly outside",
}

// difference asks both and says how the package differs from the second
// implementation; "" where it does not.
func (c oracleCase) difference() string {
	facts, err := c.facts()
	if err != nil {
		return "refused: " + err.Error()
	}
	got, err := calibration.Ready(facts, c.asked())
	if err != nil {
		return "refused: " + err.Error()
	}
	return c.compare(got)
}

func (c oracleCase) compare(got calibration.Answer) string {
	want := c.answer()
	if c.Vacuum { // written below zero, so what is lowest is highest
		got.Target, got.Low, got.High, got.DeviationPercent = -got.Target, -got.High, -got.Low, -got.DeviationPercent
	}
	if string(got.Verdict) != want.verdict() {
		kind := "verdict"
		if got.Verdict == calibration.Yes {
			kind = "WRONG YES"
		}
		return fmt.Sprintf("%s: %s, want %s (no %v, open %v); reasons %s", kind, got.Verdict, want.verdict(), keys(want.no), keys(want.open), reasonText(got))
	}
	for _, r := range got.Reasons {
		name, mapped := oracleReasons[r.Code]
		if r.Weighs == calibration.No && (!mapped || !want.no[name]) {
			return fmt.Sprintf("wrong reason %q for a no, want of %v; reasons %s", r.Code, keys(want.no), reasonText(got))
		}
	}
	for _, unusable := range []string{"gone", "do not use", "trust ended", "bench check failed", "failed", "past due", "cycles"} {
		if want.no[unusable] && !math.IsNaN(got.Inside) {
			return fmt.Sprintf("probability %g of a tool that may not be used: %s", got.Inside, unusable)
		}
	}
	if want.verdict() == "no" {
		return ""
	}
	if difference := c.set(got, want); difference != "" && want.verdict() == "yes" {
		return difference
	}
	for _, f := range []struct {
		name      string
		got, want float64
	}{
		{"target", got.Target, want.target}, {"applied low", got.Low, want.low}, {"applied high", got.High, want.high},
		{"probability", got.Inside, want.inside}, {"deviation", got.DeviationPercent, want.mean}, {"uncertainty", got.UncertaintyPercent, want.spread},
	} {
		known := !math.IsNaN(f.got) && !math.IsNaN(f.want)
		if known && !oracleNear(f.got, f.want, 1e-7*math.Max(1, math.Abs(f.want))) {
			return fmt.Sprintf("%s %.12g, want %.12g; reasons %s", f.name, f.got, f.want, reasonText(got))
		}
		if want.verdict() == "yes" && math.IsNaN(f.got) != math.IsNaN(f.want) {
			return fmt.Sprintf("%s %g, want %g", f.name, f.got, f.want)
		}
	}
	return ""
}

// set compares what is to be set: a gauge is never set.
func (c oracleCase) set(got calibration.Answer, want oracleAnswer) string {
	if c.Gauge {
		if got.Setting.IsZero() && got.Measures {
			return ""
		}
		return "a gauge is to be set to " + got.Setting.String()
	}
	unit := c.Scale.Unit
	if c.Second != nil && c.TargetUnit == c.Second.Unit {
		unit = c.Second.Unit
	}
	x, err := strconv.ParseFloat(got.Setting.Value, 64)
	if err != nil || string(got.Setting.Unit) != unit || !same(x, want.setting) {
		return fmt.Sprintf("setting; %s, want %g %s", got.Setting, want.setting, unit)
	}
	return ""
}

func keys(set map[string]bool) (out []string) {
	for k := range set {
		out = append(out, k)
	}
	return out
}

func reasonText(a calibration.Answer) string {
	var b strings.Builder
	for _, r := range a.Reasons {
		fmt.Fprintf(&b, "[%s %s: %s] ", r.Weighs, r.Code, r.Text)
	}
	return b.String()
}

// oracleCases is how many questions are asked: PAWL_CASES, else by PAWL_SIZE.
func oracleCases(t *testing.T) int {
	if s := os.Getenv("PAWL_CASES"); s != "" {
		n, err := strconv.Atoi(s)
		if err != nil || n < 1 {
			t.Fatalf("PAWL_CASES=%q is not a number of cases", s)
		}
		return n
	}
	switch {
	case testing.Short():
		return 5_000
	case os.Getenv("PAWL_SIZE") == "full":
		return 1_000_000
	}
	return 100_000
}

// The package and the second implementation answer alike: the same verdict, no yes
// that is wrong, no wrong reason for a no, the same figures.
func TestOracleAgreesOnReadiness(t *testing.T) {
	n := oracleCases(t)
	verdicts, bad, alone := map[string]int{}, map[string]int{}, map[string]int{}
	var mutex sync.Mutex
	oracleShare(n, func(i int) {
		c := newOracleDraw(uint64(i)).question()
		difference, want := c.difference(), c.answer()
		mutex.Lock()
		defer mutex.Unlock()
		verdicts[want.verdict()]++
		alone[want.alone()]++
		if difference == "" {
			return
		}
		kind := oracleKind(difference)
		if bad[kind]++; bad[kind] == 1 {
			t.Errorf("case %d: %s", i, c.shrunk())
		}
	})
	for kind, count := range bad {
		t.Errorf("%d of %d: %s", count, n, kind)
	}
	for _, reason := range oracleDeciding {
		if n >= 40_000 && alone[reason]*8_000 < n {
			t.Errorf("%q decides alone in %d of %d only: the questions have lost their variety", reason, alone[reason], n)
		}
	}
	t.Logf("%d questions: %v", n, verdicts)
	for _, v := range []string{"yes", "no", "cannot confirm"} {
		if verdicts[v]*20 < n {
			t.Errorf("only %d of %d are %q: the questions have lost their variety", verdicts[v], n, v)
		}
	}
}

// oracleDeciding are all the reasons that may decide alone.
var oracleDeciding = []string{
	"gone", "do not use", "trust ended", "bench check failed", "failed", "past due", "cycles", "range", "calibrated range", "direction", "graduation",
	"coarse", "one value", "setting changed", "zero or battery", "ambient", "too narrow", "no requirement", "never calibrated", "supports nothing",
	"no due date", "future", "clock", "unreadable", "graduation?", "setting unchanged?", "where it stands", "zero and battery?", "ambient?",
	"length in the wrench?", "unit", "grip", "adapter", "method", "off the value", "add a point", "probability",
}

// The comparison itself finds an answer that is wrong in one thing.
func TestOracleComparisonFindsAWrongAnswer(t *testing.T) {
	found := map[string]int{}
	for i := range 2_000 {
		c := newOracleDraw(uint64(i)).question()
		facts, err := c.facts()
		if err != nil {
			t.Fatal(err)
		}
		right, err := calibration.Ready(facts, c.asked())
		if err != nil {
			t.Fatal(err)
		}
		for name, spoil := range map[string]func(*calibration.Answer){
			"yes": func(a *calibration.Answer) { a.Verdict = calibration.Yes },
			"no":  func(a *calibration.Answer) { a.Verdict = calibration.No },
			"why": func(a *calibration.Answer) {
				a.Reasons = append(a.Reasons[:len(a.Reasons):len(a.Reasons)], calibration.Reason{Code: calibration.ReasonProbability, Weighs: calibration.No})
			},
			"P":    func(a *calibration.Answer) { a.Inside -= 1e-5 },
			"high": func(a *calibration.Answer) { a.High *= 1 + 1e-5 },
		} {
			wrong := right
			spoil(&wrong)
			if difference := c.compare(wrong); difference != "" && (name != "yes" || strings.HasPrefix(difference, "WRONG YES")) {
				found[name]++
			}
		}
	}
	for _, name := range []string{"yes", "no", "why", "P", "high"} {
		if found[name] < 100 {
			t.Errorf("a wrong %s is found in %d of 2,000 only", name, found[name])
		}
	}
}

// alone is the one reason that decides; "" where there are several, or none.
func (a oracleAnswer) alone() string {
	decide := a.no
	if len(decide) == 0 {
		decide = a.open
	}
	if len(decide) != 1 {
		return ""
	}
	return keys(decide)[0]
}

// oracleShare gives the numbers below n to as many workers as there are processors.
func oracleShare(n int, do func(i int)) {
	var next atomic.Int64
	var group sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		group.Go(func() {
			for i := next.Add(1) - 1; i < int64(n); i = next.Add(1) - 1 {
				do(int(i))
			}
		})
	}
	group.Wait()
}

// shrunk takes away what the difference does not need, and prints what is left.
func (c oracleCase) shrunk() string {
	sort := oracleKind(c.difference())
	still := func(c oracleCase) bool {
		sound := (!c.HasLow || c.LimitLow > 0) && (!c.HasHigh || c.LimitHigh > 0 && c.LimitHigh >= c.LimitLow)
		return sound && oracleKind(c.difference()) == sort
	}
	for range 3 {
		plain := oracleCase{
			Class: c.Class, Gauge: c.Gauge, Vacuum: c.Vacuum, Scale: c.Scale, Directions: c.Directions, Limit: c.Limit, Months: 12, Grip: 400000, Today: c.Today, FirstUse: oracleNoDay,
			AmbientHigh: 40000, Ambient: 20000, Target: c.Target, TargetUnit: c.TargetUnit, LimitUnit: c.TargetUnit, Method: "torque", Unchanged: saidYes, Zero: saidYes, Entered: saidNo,
		}
		from, to := reflect.ValueOf(plain), reflect.ValueOf(&c).Elem()
		for i := range to.NumField() {
			kept := reflect.New(to.Field(i).Type()).Elem()
			kept.Set(to.Field(i))
			to.Field(i).Set(from.Field(i))
			if !still(c) {
				to.Field(i).Set(kept)
			}
		}
		c.Calibrations = shrinkList(c, c.Calibrations, still, func(c *oracleCase, l []oracleCalibration) { c.Calibrations = l })
		c.Checks = shrinkList(c, c.Checks, still, func(c *oracleCase, l []oracleCalibration) { c.Checks = l })
		c.Events = shrinkList(c, c.Events, still, func(c *oracleCase, l []oracleEvent) { c.Events = l })
	}
	return c.changed() + "\n  " + c.difference()
}

// oracleKind is the sort of difference, without its figures.
func oracleKind(difference string) string {
	kind, _, _ := strings.Cut(difference, ";")
	kind, _, _ = strings.Cut(kind, " (no")
	kind, _, _ = strings.Cut(kind, ", want of")
	return strings.TrimRight(kind, "0123456789.e-+, want")
}

func shrinkList[T any](c oracleCase, list []T, still func(oracleCase) bool, set func(*oracleCase, []T)) []T {
	for i := len(list) - 1; i >= 0; i-- {
		shorter := append(append([]T(nil), list[:i]...), list[i+1:]...)
		set(&c, shorter)
		if still(c) {
			list = shorter
		}
	}
	return list
}

// changed prints the fields that are not empty.
func (c oracleCase) changed() string {
	var b strings.Builder
	v := reflect.ValueOf(c)
	for i := range v.NumField() {
		if f := v.Field(i); !f.IsZero() {
			if f.Kind() == reflect.Pointer {
				f = f.Elem()
			}
			fmt.Fprintf(&b, " %s:%+v", v.Type().Field(i).Name, f.Interface())
		}
	}
	return b.String()
}
