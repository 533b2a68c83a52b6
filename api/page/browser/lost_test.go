package browser

import (
	"context"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/chromedp"

	"pawl/model"
)

// offline takes the connection from the browser itself, or gives it back; it
// tells its pages.
func (p *tab) offline(on bool) {
	p.Helper()
	_, err := chromedp.Call(p.ctx, emulateNetwork, conditions{Offline: on, Download: -1, Upload: -1})
	p.do(err)
}

// The command is of the stable protocol; the newest description of it, which
// names others in its place, is ahead of the browsers in use.
var emulateNetwork = cdp.Command[conditions, cdp.Empty]{Method: "Network.emulateNetworkConditions"}

type conditions struct {
	Offline  bool    `json:"offline"`
	Latency  float64 `json:"latency"` // ms
	Download float64 `json:"downloadThroughput"`
	Upload   float64 `json:"uploadThroughput"`
}

// online has the browser say to its page that the connection is back.
func (p *tab) online() {
	p.Helper()
	eval[chromedp.Void](p, `() => { dispatchEvent(new Event("online")) }`)
}

// sent waits until nothing waits on the phone any more.
func (p *tab) sent() {
	p.Helper()
	p.until("nothing waits", `async () => {
		if (!(await indexedDB.databases()).some((d) => d.name === "pawl")) return true;
		const left = await new Promise((told, failed) => {
			const r = indexedDB.open("pawl");
			r.onerror = failed;
			r.onsuccess = () => {
				const n = r.result.transaction("acts").objectStore("acts").count();
				n.onsuccess = () => { told(n.result); r.result.close(); };
			};
		});
		return left === 0 && document.getElementById("waiting").hidden;
	}`)
}

func (p *tab) reload() {
	p.Helper()
	p.do(chromedp.Do(p.ctx, chromedp.Reload()))
}

// What is typed stays through a reload, on every form that people fill while
// standing.
func TestReloadKeepsWhatWasTyped(t *testing.T) {
	browser(t)
	y := openYard(t)
	p := y.open(t, boss, phone)
	for _, c := range []struct{ path, field string }{
		{"/t/" + y.wrench + "/take", "#f-job"},
		{"/t/" + y.wrench + "/wrong", "#f-note"},
		{"/add/new", "#f-serial"},
		{"/add/" + y.wrench + "/rest", "#f-seller"},
		{"/people", "#f-name"},
	} {
		p.visit(c.path)
		p.write(c.field, "typed so far")
		p.reload()
		p.until(c.path+" still holds what was typed", `(field) => document.querySelector(field).value === "typed so far"`, c.field)
	}
}

// Two taps make one act.
func TestDoubleTap(t *testing.T) {
	for _, on := range []screen{phone, phone.plain()} {
		t.Run(on.name, func(t *testing.T) {
			browser(t)
			y := openYard(t)
			p := y.open(t, "Tech A", on)
			p.visit("/t/" + y.wrench)
			p.leaves(func() { p.twice("Take it") })
			p.says("You have it")
			is(t, "take in the history", y.acts(t, y.wrench, "take"), 1)
			p.leaves(func() { p.twice("Dropped") })
			p.says("DO NOT USE")
			is(t, "wrong in the history", y.acts(t, y.wrench, "wrong"), 1)
			p.visit("/add/new")
			p.write("#f-serial", "CA-1")
			p.write("#f-serial_again", "CA-1")
			p.write("#f-kind", "caliper")
			p.leaves(func() { p.twice("Save and go on") })
			p.until("the last step", `() => location.pathname.endsWith("/rest")`)
			is(t, "calipers", y.tools(t, "caliper"), 1)
		})
	}
}

// twice taps twice at once. The second may fall between two pages: the browser then never
// says that it arrived, and is not waited for once the next page is there.
func (p *tab) twice(what string) {
	p.Helper()
	x, y := p.point(what)
	p.do(p.touch(x, y))
	ctx, stop := context.WithTimeout(p.ctx, patience)
	defer stop()
	second := make(chan error, 1)
	go func() { second <- p.touchWithin(ctx, x, y) }()
	tick := time.NewTicker(20 * time.Millisecond)
	defer tick.Stop()
	var late <-chan time.Time
	for {
		select {
		case err := <-second:
			p.do(err)
			return
		case <-tick.C:
			if late == nil && p.left() {
				late = time.After(time.Second)
			}
		case <-late:
			return
		}
	}
}

// The back button shows how things are now, and does nothing again.
func TestBackButton(t *testing.T) {
	for _, on := range []screen{phone, phone.plain()} {
		t.Run(on.name, func(t *testing.T) {
			browser(t)
			y := openYard(t)
			p := y.open(t, "Tech A", on)
			p.visit("/t/" + y.wrench + "/take")
			p.write("#f-job", "1042")
			p.leaves(func() { p.tap("main form button[type=submit]") })
			p.at("/t/" + y.wrench)
			p.leaves(func() { p.do(chromedp.Do(p.ctx, chromedp.NavigateBack())) })
			p.at("/t/" + y.wrench + "/take")
			p.says("You have it")
			is(t, "take in the history", y.acts(t, y.wrench, "take"), 1)
		})
	}
}

// In a dead spot an act says that it was not sent, waits on the phone, and is
// sent once when the connection is back, whichever way it broke.
func TestDeadSpot(t *testing.T) {
	browser(t)
	report := func(p *tab) {
		p.tap("Dropped")
		p.write("#f-note", "off the cart")
		p.tap("main form button[type=submit]")
		p.says("Not sent: it waits on this phone")
		p.says("1 waiting on this phone")
	}
	back := map[string]func(*tab){
		"the phone notices": func(p *tab) { p.online() },
		"the page is left":  func(p *tab) { p.visit("/today") },
	}
	for how, again := range back {
		for name, broken := range map[string]line{"nothing arrives": cut, "the answer is lost": deaf} {
			t.Run(name+", "+how, func(t *testing.T) {
				y := openYard(t)
				p := y.open(t, "Tech A", phone)
				p.visit("/t/" + y.wrench + "/wrong")
				y.is(broken)
				report(p)
				y.is(works)
				again(p)
				p.sent()
				is(t, "wrong in the history", y.acts(t, y.wrench, "wrong"), 1)
			})
		}
	}
	t.Run("no connection", func(t *testing.T) {
		y := openYard(t)
		p := y.open(t, "Tech A", phone)
		p.visit("/t/" + y.wrench + "/wrong")
		p.offline(true)
		report(p)
		is(t, "wrong in the history", y.acts(t, y.wrench, "wrong"), 0)
		p.offline(false)
		p.sent()
		is(t, "wrong in the history", y.acts(t, y.wrench, "wrong"), 1)
	})
}

// A photo that could not be sent waits too, with its bytes.
func TestPhotoWaits(t *testing.T) {
	browser(t)
	y := openYard(t)
	p := y.open(t, boss, phone)
	p.visit("/add/" + y.wrench + "/photos")
	p.choose("Take a photo", paper(t, "in the dark"))
	y.is(cut)
	p.tap("File it")
	p.says("1 waiting on this phone")
	y.is(works)
	p.visit("/today")
	p.sent()
	v, err := y.shop.Tool(t.Context(), computer, y.wrench)
	if err != nil {
		t.Fatal(err)
	}
	is(t, "photos of the tool", len(v.Evidence), 1)
}

// A form that does not wait keeps what was typed; sent again by hand, also after
// a reload, it is done once.
func TestAnswerLostThenSentByHand(t *testing.T) {
	browser(t)
	for name, between := range map[string]func(*tab){"at once": func(*tab) {}, "after a reload": func(p *tab) { p.reload() }} {
		t.Run(name, func(t *testing.T) {
			y := openYard(t)
			p := y.open(t, boss, phone)
			p.visit("/labels/blank")
			before := y.free(t)
			y.is(deaf)
			p.tap("main form[method=post] button")
			p.says("Not sent")
			y.is(works)
			between(p)
			p.leaves(func() { p.tap("main form[method=post] button") })
			after := y.free(t)
			if after == before {
				t.Fatal("no number was issued at all")
			}
			p.visit("/labels/blank")
			p.leaves(func() { p.tap("main form[method=post] button") })
			is(t, "numbers of two acts", y.free(t)-before, 2*(after-before))
		})
	}
}

// free is how many numbers are issued and free.
func (y *yard) free(t *testing.T) int {
	t.Helper()
	all, _, err := y.shop.FreeNumbers(t.Context(), computer, 200, "")
	if err != nil {
		t.Fatal(err)
	}
	return len(all)
}

// An act that waited and is refused when it arrives says so, and stays until
// somebody looked.
func TestWaitedAndRefused(t *testing.T) {
	browser(t)
	y := openYard(t)
	p := y.open(t, "Tech A", phone)
	p.visit("/t/" + y.wrench)
	y.is(cut)
	p.tap("Take it")
	p.says("1 waiting on this phone")
	if _, err := y.shop.Take(t.Context(), computer, y.wrench, model.Take{To: "Tech B"}); err != nil {
		t.Fatal(err)
	}
	y.is(works)
	p.online()
	p.says("Tech B has it")
	p.says("Take " + y.wrench[:3])
	for _, bad := range eval[[]string](p, pageRules, rules{Targets: true}) {
		t.Error(bad)
	}
	p.tap("Drop it")
	p.sent()
	is(t, "take in the history", y.acts(t, y.wrench, "take"), 1)
}

// Without a connection a page says so, and no old verdict is shown.
func TestOfflinePage(t *testing.T) {
	browser(t)
	y := openYard(t)
	p := y.open(t, "Tech A", phone)
	p.visit("/t/" + y.wrench)
	eval[bool](p, `async () => { await navigator.serviceWorker.ready; return true; }`)
	p.until("the worker rules the page", `() => navigator.serviceWorker.controller !== null`)
	y.is(cut)
	p.visit("/t/" + y.wrench)
	p.says("No connection")
	if got := eval[string](p, `() => getComputedStyle(document.querySelector("main")).maxWidth`); got == "none" {
		t.Error("the page without a connection has no style")
	}
	y.is(works)
}

// The camera of the page reads a label and leads to its tool.
func TestCamera(t *testing.T) {
	browser(t)
	y := openYard(t)
	text, err := y.shop.LabelText(t.Context(), computer, y.wrench)
	if err != nil {
		t.Fatal(err)
	}
	film(t, drawn(t, text))
	for _, on := range []screen{phone, desktop} {
		t.Run(on.name, func(t *testing.T) {
			p := y.open(t, "Tech A", on)
			p.visit("/scan")
			p.leaves(func() { p.tap("#camera-start") })
			p.at("/t/" + y.wrench)
		})
	}
}
