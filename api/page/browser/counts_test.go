package browser

import (
	"strings"
	"testing"
	"time"

	"pawl/model"
	"pawl/model/counts"
	"pawl/model/dates"
	"pawl/model/numbers"
)

// countOf is a page of the demo's count that is under way, or of the one that is
// closed. DIFFERS stands for a tool of which something is to be settled.
func countOf(name, who, path string, open bool) sight {
	return sight{name: name, who: who, path: func(t *testing.T, y *yard) string {
		t.Helper()
		all, _, err := y.shop.Counts(t.Context(), computer, model.CountQuery{})
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range all {
			if (c.Stage() != counts.Closed) != open {
				continue
			}
			rows, _, err := y.shop.CountTools(t.Context(), computer, c.ID, model.CountToolsQuery{Which: "seen elsewhere"})
			if err != nil {
				t.Fatal(err)
			}
			differs := ""
			if len(rows) > 0 {
				differs = string(rows[0].Number)
			}
			return strings.NewReplacer("ID", c.ID, "DIFFERS", differs).Replace(path)
		}
		t.Fatalf("the demo has no count for %q", name)
		return ""
	}}
}

// TestCountIsLive: on a phone a count goes on where it is, and shows within seconds
// what somebody else scanned.
func TestCountIsLive(t *testing.T) {
	browser(t)
	y := openYard(t)
	c, err := y.shop.StartCount(t.Context(), computer, model.StartCount{})
	if err != nil {
		t.Fatal(err)
	}
	p := y.open(t, "Tech A", phone)
	p.visit("/counts/" + c.ID)
	p.until("one is to look for", `() => document.querySelector("[data-n=unseen]").textContent === "1"`)
	if _, err := y.shop.ScanCount(t.Context(), computer, c.ID, model.ScanCount{Scanned: numbers.Number(y.wrench).String()}); err != nil {
		t.Fatal(err)
	}
	p.until("what another scanned is shown", `() => document.querySelector("[data-n=unseen]").textContent === "0" && document.querySelector("[data-n=seen]").textContent === "1"`)
	p.write("#f-code", numbers.Number(y.wrench).String())
	p.leaves(func() { p.tap("Seen") })
	p.until("it was seen already", `() => document.querySelector(".said").textContent.startsWith("SEEN ALREADY")`)
	if _, err := y.shop.CloseCount(t.Context(), computer, c.ID); err != nil {
		t.Fatal(err)
	}
	p.until("the page of a closed count", `() => document.getElementById("count-scan") === null`)
}

// TestScansOfACountWait: what is scanned in a dead spot waits on the phone, each scan
// under a key of its own, and is judged by when it was scanned.
func TestScansOfACountWait(t *testing.T) {
	browser(t)
	y := openYard(t)
	second := y.tool(t, "jack", "J-1")
	c, err := y.shop.StartCount(t.Context(), computer, model.StartCount{})
	if err != nil {
		t.Fatal(err)
	}
	p := y.open(t, "Tech A", phone)
	p.visit("/counts/" + c.ID)
	y.is(cut)
	for i, number := range []string{y.wrench, second} {
		p.write("#f-code", numbers.Number(number).String())
		p.tap("Seen")
		p.until("it waits", `() => document.getElementById("waiting").textContent.includes("`+string(rune('1'+i))+`") && document.getElementById("f-code").value === ""`)
	}
	waited := dates.InstantOf(y.shop.Now())
	if _, err := y.shop.Away(t.Context(), computer, second, model.Away{To: "Lab 1", For: "repair"}); err != nil {
		t.Fatal(err)
	}
	y.is(works)
	p.visit("/counts/" + c.ID)
	p.until("both were sent", `() => document.querySelector("[data-n=seen]").textContent === "2"`)
	rows, _, err := y.shop.CountTools(t.Context(), computer, c.ID, model.CountToolsQuery{Which: "seen"})
	if err != nil || len(rows) != 2 || rows[0].Seen.At > waited || rows[1].Seen.At > waited {
		t.Errorf("scanned before %s: %+v, %v", waited, rows, err)
	}
}

// TestAScanOfACountOnASlowPhone: what waited on a phone whose clock is hours behind is sent
// with that clock, and is in the count.
func TestAScanOfACountOnASlowPhone(t *testing.T) {
	browser(t)
	y := openYard(t)
	c, err := y.shop.StartCount(t.Context(), computer, model.StartCount{})
	if err != nil {
		t.Fatal(err)
	}
	p := y.open(t, "Tech A", phone)
	p.visit("/counts/" + c.ID)
	eval[bool](p, `() => { const now = Date.now, real = Date, slow = () => now() - 7 * 3600 * 1000;
		window.Date = class extends real { constructor(...of) { if (of.length) super(...of); else super(slow()); } static now() { return slow(); } }; return true; }`)
	y.is(cut)
	p.write("#f-code", numbers.Number(y.wrench).String())
	p.tap("Seen")
	p.until("it waits", `() => document.getElementById("waiting").textContent.includes("1") && document.getElementById("f-code").value === ""`)
	scanned := dates.InstantOf(y.shop.Now())
	y.is(works)
	eval[bool](p, `() => window.dispatchEvent(new Event("online"))`)
	p.until("it was sent", `() => document.getElementById("waiting").hidden`)
	rows, _, err := y.shop.CountTools(t.Context(), computer, c.ID, model.CountToolsQuery{Which: "seen"})
	if err != nil || len(rows) != 1 || rows[0].Seen.At < c.Started || rows[0].Seen.At.Time().After(scanned.Time().Add(time.Second)) {
		t.Errorf("scanned by %s: %+v, %v", scanned, rows, err)
	}
}
