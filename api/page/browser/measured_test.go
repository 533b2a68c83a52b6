package browser

import (
	"slices"
	"strings"
	"testing"
	"time"

	"pawl/model"
	"pawl/model/calibration"
)

// measuring picks a tool of a kind that is here.
func measuring(kind string) func(model.ToolRow) bool {
	return func(r model.ToolRow) bool { return strings.Contains(r.Kind, kind) && r.GoneWhy == "" }
}

// newest gives the newest calibration or bench check of some torque wrench of the
// demo, and its number.
func (y *yard) newest(t *testing.T, bench bool) (number, id string) {
	t.Helper()
	rows, _, err := y.shop.Find(t.Context(), computer, model.FindQuery{Limit: 200})
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range rows {
		if row.Kind != "torque wrench" || row.DoNotUse != "" || row.GoneWhy != "" {
			continue
		}
		v, err := y.shop.Calibrations(t.Context(), computer, string(row.Number))
		if err != nil {
			t.Fatal(err)
		}
		i := slices.IndexFunc(v.Calibrations, func(c calibration.Shown) bool { return c.BenchCheck == bench && c.Verdict == calibration.Passed })
		if i >= 0 {
			return string(row.Number), v.Calibrations[i].ID
		}
	}
	t.Fatalf("the demo has no such calibration (bench check: %v)", bench)
	return "", ""
}

// wrench is a page of a torque wrench of the demo that passed.
func wrench(name, who, path string) sight {
	return sight{name: name, who: who, path: func(t *testing.T, y *yard) string {
		number, _ := y.newest(t, false)
		return strings.ReplaceAll(path, "NUMBER", number)
	}}
}

// calibrated is the page of a calibration, or of a bench check.
func calibrated(name string, bench bool) sight {
	return sight{name: name, who: "Tech A", path: func(t *testing.T, y *yard) string {
		number, id := y.newest(t, bench)
		return "/t/" + number + "/calibrations/" + id
	}}
}

// The errand, from the certificate on the desk to the tightened wheel: a wrench is
// calibrated from its paper, asked for a value, and what was done is recorded. From
// the tool's page to the answer it takes two taps and one number, and one tap more
// records it.
func TestFromCertificateToWheelNuts(t *testing.T) {
	onEvery(t, func(t *testing.T, y *yard, on screen) {
		p, tool := y.open(t, boss, on), "/t/"+y.wrench
		certificate := paper(t, "certificate")
		p.visit(tool)
		p.says("NOT CHECKED")
		p.leaves(func() { p.tap("Enter a tool calibration") })
		for field, text := range map[string]string{"range_low": "40", "range_high": "200", "graduation": "1", "by": "Tidewater Metrology", "certificate_number": "T-0400", "uncertainty": "0.6"} {
			p.write("#f-"+field, text)
		}
		p.set("#f-on", today(t, y))
		p.choose("[for=f-certificate-file]", certificate)
		for i, set := range []string{"40", "120", "200"} {
			row := []string{"1", "2", "3"}[i]
			p.write(`[name="set.cw.`+row+`"]`, set)
			p.write(`[name="left.cw.`+row+`"]`, set+".0 "+set+".1")
		}
		p.leaves(func() { p.tap("Save, and show what follows") })
		p.says("PASS")
		p.says("The figures of the chart")
		p.leaves(func() { p.tap("To the tool") })
		p.says("IN ORDER")
		p.leaves(func() { p.tap("Take it") })

		p.taps = 0
		p.leaves(func() { p.tap("Can I use it for …?") })
		p.write("#f-target", "108")
		p.leaves(func() { p.tap("Ask") })
		p.says("YES For this tool only.")
		p.says("Set it to 108 N·m")
		is(t, "taps from the tool's page to the answer", p.taps, 2)

		p.leaves(func() { p.tap("Change the question") })
		p.write("#f-low", "100")
		p.write("#f-high", "116")
		p.write("#f-fastener", "front wheel nuts")
		p.leaves(func() { p.tap("Ask with all of this") })
		p.says("a yes needs 97.5")
		p.write("#f-job", "1042")
		p.write("#f-count", "5")
		p.taps = 0
		p.leaves(func() { p.tap("Tightened: record it") })
		is(t, "taps that record it", p.taps, 1)
		p.says("Recorded on job 1042: 5 × front wheel nuts, 108 N·m")
		is(t, "tightenings in the history", y.acts(t, y.wrench, "tighten"), 1)
		is(t, "calibrations in the history", y.acts(t, y.wrench, "calibrate"), 1)

		// The next wheel: the job and the name are known, and one tap is enough.
		p.visit(tool + "/ready?target=108&unit=N%C2%B7m&low=100&high=116&fastener=rear+wheel+nuts")
		p.taps = 0
		p.leaves(func() { p.tap("Tightened: record it") })
		is(t, "taps that record the next", p.taps, 1)
		p.says("rear wheel nuts × 1")
	})
}

// today is the day in the shop's zone.
func today(t *testing.T, y *yard) string {
	t.Helper()
	set, err := y.shop.Settings(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	loc, err := set.Location()
	if err != nil {
		t.Fatal(err)
	}
	return y.shop.Now().In(loc).Format(time.DateOnly)
}

// An answer is not shown when there is no connection: neither one that was shown
// before, nor one that is asked for now.
func TestNoAnswerWithoutConnection(t *testing.T) {
	browser(t)
	y := openDemo(t)
	number, _ := y.newest(t, false)
	ask := "/t/" + number + "/ready?target=98&unit=N%C2%B7m&direction=cw"
	p := y.open(t, "Tech A", phone)
	p.visit(ask)
	p.says("YES For this tool only.")
	p.until("its worker waits for a lost connection", `async () => (await navigator.serviceWorker.ready).active !== null && (await caches.match("/offline")) !== undefined`)
	y.is(cut)
	p.offline(true)
	p.says("No connection: cannot check now. Treat it as not checked.")
	p.without("YES")
	p.without("Set it to")
	p.leaves(func() { p.tap("Ask again") })
	p.says("Cannot check now whether a tool may be used: treat it as not checked.")
	p.without("YES")
	y.is(works)
	p.offline(false)
	p.visit(ask)
	p.says("YES For this tool only.")
}

// without fails where the page says it.
func (p *tab) without(what string) {
	p.Helper()
	if got := p.text(); strings.Contains(got, what) {
		p.Fatalf("%s says %q: %s", p.where(), what, got)
	}
}
