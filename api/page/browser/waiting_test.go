package browser

import (
	"net/http"
	"strings"
	"testing"

	"pawl/model"
	"pawl/model/numbers"
	"pawl/model/register"
)

// What is done with labels and unsorted photos waits in a dead spot like the acts
// on a tool, and is done once.
func TestLabelsAndPhotosWait(t *testing.T) {
	browser(t)
	again := func(p *tab, y *yard) {
		y.is(works)
		p.visit("/today")
		p.sent()
	}
	t.Run("print again", func(t *testing.T) {
		y := openYard(t)
		p := y.open(t, boss, phone)
		p.visit("/labels?number=" + y.wrench)
		p.tap("It is worn")
		y.is(deaf)
		p.tap("Print it again")
		p.says("1 waiting on this phone")
		again(p, y)
		is(t, "labels printed again", y.acts(t, y.wrench, "label again"), 1)
	})
	t.Run("join", func(t *testing.T) {
		y := openYard(t)
		fresh, err := y.shop.IssueNumbers(t.Context(), computer, 1)
		if err != nil {
			t.Fatal(err)
		}
		p := y.open(t, boss, phone)
		p.visit("/labels/join?tool=" + y.wrench + "&number=" + string(fresh[0]))
		y.is(cut)
		p.tap("main form[method=post] button")
		p.says("1 waiting on this phone")
		again(p, y)
		v, err := y.shop.Tool(t.Context(), computer, y.wrench)
		if err != nil || v.Tool.Number != fresh[0] {
			t.Errorf("its number is %s, want %s (%v)", v.Tool.Number, fresh[0], err)
		}
	})
	t.Run("an unsorted photo", func(t *testing.T) {
		y := openYard(t)
		by := y.actor(t, "Tech A")
		sha := y.upload(t, "Tech A", paper(t, "drawer five"))
		if _, err := y.shop.FilePhotos(t.Context(), by, register.Photos{Photos: []register.Attach{{SHA256: sha, Kind: "other", Name: "five.jpg"}}}); err != nil {
			t.Fatal(err)
		}
		p := y.open(t, "Tech A", phone)
		p.visit("/add/unsorted")
		p.write("#f-number", y.wrench)
		y.is(deaf)
		p.tap("main form[method=post] button[type=submit]")
		p.says("1 waiting on this phone")
		again(p, y)
		v, err := y.shop.Tool(t.Context(), computer, y.wrench)
		if err != nil {
			t.Fatal(err)
		}
		is(t, "photos of the tool", len(v.Evidence), 1)
	})
}

// actor is somebody who acts by no device.
func (y *yard) actor(t *testing.T, name string) model.By {
	t.Helper()
	a, err := y.shop.ActorNamed(t.Context(), name)
	if err != nil {
		t.Fatal(err)
	}
	return model.By{Actor: a}
}

// keptOnPhone is all that a page keeps there, as text.
const keptOnPhone = `async () => {
	const acts = await new Promise((told, failed) => {
		const r = indexedDB.open("pawl", 1);
		r.onerror = failed;
		r.onupgradeneeded = () => r.result.createObjectStore("acts", { keyPath: "id", autoIncrement: true });
		r.onsuccess = () => { const all = r.result.transaction("acts").objectStore("acts").getAll(); all.onsuccess = () => { told(all.result); r.result.close(); }; };
	});
	return JSON.stringify([acts, { ...sessionStorage }, { ...localStorage }]);
}`

// tooMany has the board that a page belongs to guess badges until it is not heard
// any more.
func (p *tab) tooMany() {
	p.Helper()
	for range 11 {
		status := eval[int](p, `async (to) => (await fetch(to, { method: "POST", body: new URLSearchParams({ badge: "B/XXXXXXXX", key: "guess" + Math.random() }) })).status`, "/t/"+p.wrench+"/take")
		if status == http.StatusTooManyRequests {
			return
		}
	}
	p.Fatal("the board may guess for ever")
}

// A badge that is not heard for now is asked for again: it waits nowhere on the
// shop's device, where anybody could read it.
func TestABadgeDoesNotWait(t *testing.T) {
	browser(t)
	badge := func(t *testing.T, y *yard) string {
		t.Helper()
		b, err := y.shop.Badge(t.Context(), computer, "Tech B")
		if err != nil {
			t.Fatal(err)
		}
		if s, err := numbers.ParseSymbol(b.Symbol); err != nil || s.Kind != numbers.Badge {
			t.Fatalf("%q is no badge (%v)", b.Symbol, err)
		}
		return b.Symbol
	}
	unkept := func(t *testing.T, p *tab, badge string) {
		t.Helper()
		if kept := eval[string](p, keptOnPhone); strings.Contains(kept, strings.TrimPrefix(badge, "B/")) {
			t.Errorf("the device keeps the badge: %s", kept)
		}
	}
	t.Run("at once", func(t *testing.T) {
		y := openYard(t)
		theirs := badge(t, y)
		p := y.open(t, "the board", phone)
		p.visit("/t/" + y.wrench + "/take")
		p.tooMany()
		p.write("#f-job", "1042")
		p.write("#f-badge", theirs)
		p.tap("main form button[type=submit]")
		p.says("too many wrong tries")
		if got := p.value("#f-badge") + "|" + p.value("#f-job"); got != "|1042" {
			t.Errorf("badge and job are %q", got)
		}
		unkept(t, p, theirs)
		is(t, "take in the history", y.acts(t, y.wrench, "take"), 0)
	})
	t.Run("out of a dead spot", func(t *testing.T) {
		y := openYard(t)
		theirs := badge(t, y)
		p := y.open(t, "the board", phone)
		p.visit("/t/" + y.wrench + "/take")
		y.is(cut)
		p.write("#f-badge", theirs)
		p.tap("main form button[type=submit]")
		p.says("1 waiting on this phone")
		y.is(works)
		p.tooMany()
		p.online()
		p.says("Do it again with your badge")
		unkept(t, p, theirs)
		p.leaves(func() { p.tap("Do it again with your badge") })
		p.at("/t/" + y.wrench + "/take")
		p.tap("Drop it")
		p.sent()
		is(t, "take in the history", y.acts(t, y.wrench, "take"), 0)
	})
}
