package browser

import (
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"pawl/model"
	"pawl/model/register"
)

// screens are what every flow is done on: the narrowest, one without script, and a
// desktop; at full size each with script and without.
func screens() []screen {
	if full() {
		return []screen{small, small.plain(), phone, phone.plain(), desktop, desktop.plain()}
	}
	return []screen{small, phone.plain(), desktop}
}

// onEvery runs a flow on every screen, each with a shop of its own.
func onEvery(t *testing.T, flow func(t *testing.T, y *yard, on screen)) {
	browser(t)
	for _, on := range screens() {
		t.Run(strings.ReplaceAll(on.name, " ", "-"), func(t *testing.T) { flow(t, openYard(t), on) })
	}
}

// is fails unless a count is what it should be.
func is(t *testing.T, what string, got, want int) {
	t.Helper()
	if got != want {
		t.Errorf("%s: %d, want %d", what, got, want)
	}
}

// Looking at a link does not use it up; taking it lets the device in; a second
// device finds it spent.
func TestGettingIn(t *testing.T) {
	onEvery(t, func(t *testing.T, y *yard, on screen) {
		link := "/enter/" + y.link(t, "Tech A")
		p := y.open(t, "", on)
		p.visit("/today")
		p.says("This phone is not known here")
		p.visit(link)
		p.visit(link)
		p.says("as Tech A")
		p.leaves(func() { p.tap("Let this device in") })
		p.at("/today")
		p.says("Tech A")
		other := y.open(t, "", on)
		other.visit(link)
		other.says("it was used")
	})
}

// A tool is scanned by typing its number, taken with two taps at most after
// that, put back, handed over, and reported.
func TestTakeAndReturn(t *testing.T) {
	onEvery(t, func(t *testing.T, y *yard, on screen) {
		p := y.open(t, "Tech A", on)
		tool := "/t/" + y.wrench
		p.visit("/scan")
		p.write("#f-code", strings.ToLower(y.wrench))
		p.leaves(p.enterKey)
		p.at(tool)

		p.taps = 0
		p.leaves(func() { p.tap("Take it") })
		p.at(tool)
		p.says("You have it")
		if p.taps > 2 {
			t.Errorf("taking takes %d taps after the scan, want 2 at most", p.taps)
		}
		p.leaves(func() { p.tap("Put it back") })
		p.says("It is in its place")

		p.leaves(func() { p.tap("Take it") })
		p.leaves(func() { p.tap("Hand it over") })
		p.tap("Tech B")
		p.write("#f-job", "1042")
		p.leaves(func() { p.tap("Hand it over") })
		p.says("Tech B has it")
		p.leaves(func() { p.tap("I have it now") })
		p.says("You have it")

		p.leaves(func() { p.tap("Dropped") })
		p.at(tool)
		p.says("DO NOT USE")
		for verb, want := range map[string]int{"take": 2, "return": 1, "handover": 2, "wrong": 1} {
			is(t, verb+" in the history", y.acts(t, y.wrench, verb), want)
		}
	})
}

// What the technician types once is kept and the refusal says which field.
func TestRefusalKeepsWhatWasTyped(t *testing.T) {
	onEvery(t, func(t *testing.T, y *yard, on screen) {
		p := y.open(t, "Tech A", on)
		p.visit("/t/" + y.wrench + "/take")
		p.write("#f-job", "1042")
		p.set("#f-due", "2001-01-01")
		p.tap("main form button[type=submit]")
		p.until("it says why not", `() => document.querySelector("#problem[role=alert]") !== null`)
		if got := p.value("#f-job"); got != "1042" {
			t.Errorf("the job typed is %q after the refusal, want 1042", got)
		}
		is(t, "take in the history", y.acts(t, y.wrench, "take"), 0)
	})
}

// A tool is registered in three steps, with a photo of its plate, its receipt
// and one of the whole, in at most 12 taps besides typing.
func TestRegister(t *testing.T) {
	onEvery(t, func(t *testing.T, y *yard, on screen) {
		p := y.open(t, "Tech A", on)
		plate, receipt, whole := paper(t, "plate"), paper(t, "receipt"), paper(t, "whole tool")
		p.visit("/today")
		p.taps = 0
		p.visit("/add")
		p.choose("Take a photo", plate)
		p.leaves(func() { p.tap("Save and go on") })
		p.write("#f-serial", "KD408B217")
		p.write("#f-serial_again", "KD408B217")
		p.write("#f-kind", "impact wrench")
		p.write("#f-maker", "Brindle")
		p.write("#f-model", "BX-900")
		p.leaves(func() { p.tap("Save and go on") })
		p.choose("[for=f-receipt]", receipt)
		p.write("#f-price", "289.00")
		p.set("#f-bought", "2026-10-01")
		p.choose("[for=f-whole]", whole)
		p.leaves(func() { p.tap("Save") })
		p.says("KD408B217")
		if p.taps > 12 {
			t.Errorf("registering takes %d taps besides typing, want 12 at most", p.taps)
		}
		t.Logf("registered with %d taps besides typing", p.taps)
		number := strings.TrimPrefix(p.where(), "/t/")
		v, err := y.shop.Tool(t.Context(), computer, number)
		if err != nil {
			t.Fatal(err)
		}
		if v.Tool.Serial != "KD408B217" || v.Tool.Kind != "impact wrench" || v.Tool.Price == nil || *v.Tool.Price != 28900 {
			t.Errorf("registered as %+v", v.Tool)
		}
		var kinds []string
		for _, e := range v.Evidence {
			kinds = append(kinds, string(e.Kind))
		}
		slices.Sort(kinds)
		if got := strings.Join(kinds, " "); got != "plate receipt whole" {
			t.Errorf("photos and papers are %q", got)
		}
	})
}

// Two readings of a serial that differ are settled on the page.
func TestSerialReadTwice(t *testing.T) {
	onEvery(t, func(t *testing.T, y *yard, on screen) {
		p := y.open(t, "Tech A", on)
		p.visit("/add/new")
		p.write("#f-serial", "AB0O1")
		p.write("#f-serial_again", "AB001")
		p.write("#f-kind", "caliper")
		p.tap("Save and go on")
		p.until("it says why not", `() => document.querySelector("#problem[role=alert]") !== null`)
		if a, b := p.value("#f-serial"), p.value("#f-serial_again"); a != "AB0O1" || b != "AB001" {
			t.Errorf("after the refusal the readings are %q and %q", a, b)
		}
		p.write("#f-serial", "AB001")
		p.leaves(func() { p.tap("Save and go on") })
		is(t, "calipers", y.tools(t, "caliper"), 1)
	})
}

// tools is how many tools of that kind there are.
func (y *yard) tools(t *testing.T, kind string) int {
	t.Helper()
	rows, _, err := y.shop.Find(t.Context(), computer, model.FindQuery{Kind: kind, Limit: 200})
	if err != nil {
		t.Fatal(err)
	}
	return len(rows)
}

func TestFind(t *testing.T) {
	onEvery(t, func(t *testing.T, y *yard, on screen) {
		p := y.open(t, "Tech A", on)
		p.visit("/find")
		p.write("#f-text", "40017")
		p.leaves(func() { p.tap("main form button:not([type=button])") })
		p.leaves(func() { p.tap("main .found a") })
		p.at("/t/" + y.wrench)
	})
}

// A label is printed again from the tool's page, and the file comes.
func TestLabels(t *testing.T) {
	onEvery(t, func(t *testing.T, y *yard, on screen) {
		p := y.open(t, boss, on)
		p.visit("/t/" + y.wrench)
		p.leaves(func() { p.tap("Print its label again") })
		p.at("/labels")
		p.says("Its label")
		p.until("the label is shown", `() => [...document.images].some((i) => i.complete && i.naturalWidth > 100)`)
		p.tap("It is worn")
		p.leaves(func() { p.tap("Print it again") })
		p.at("/labels/print/labels")
		p.leaves(func() { p.tap("main form button[type=submit]") })
		file := eval[string](p, `() => document.querySelector("main a[download]").getAttribute("href")`)
		if body, status := y.get(t, boss, file); status != http.StatusOK || !strings.HasPrefix(string(body), "%PDF-") {
			t.Errorf("%s: status %d: %.200s", file, status, body)
		}
	})
}

// A spreadsheet is looked at first, changes nothing then, and is imported after.
func TestImport(t *testing.T) {
	onEvery(t, func(t *testing.T, y *yard, on screen) {
		sheet := filepath.Join(t.TempDir(), "tools.csv")
		if err := os.WriteFile(sheet, []byte("kind,serial,owner\nheat gun,HG-1,shop\nheat gun,HG-2,Tech A\n"), 0o600); err != nil {
			t.Fatal(err)
		}
		p := y.open(t, boss, on)
		p.visit("/import")
		p.choose("[for=f-spreadsheet]", sheet)
		p.leaves(func() { p.tap("Look at it") })
		p.says("Nothing is changed yet")
		is(t, "heat guns after looking", y.tools(t, "heat gun"), 0)
		p.leaves(func() { p.tap("Import 2 rows") })
		p.says("Tools added: 2")
		is(t, "heat guns", y.tools(t, "heat gun"), 2)
	})
}

var wayIn = regexp.MustCompile(`/enter/[A-Za-z0-9_-]{22}`)

// A manager adds somebody, lets their phone in, and shuts it out again.
func TestPeopleAndDevices(t *testing.T) {
	onEvery(t, func(t *testing.T, y *yard, on screen) {
		p := y.open(t, boss, on)
		p.visit("/people")
		p.write("#f-name", "Tech C")
		p.tap("technician")
		p.leaves(func() { p.tap("Add") })
		p.says("Tech C is here now")
		p.leaves(func() { p.tap("Let a phone in") })
		link := wayIn.FindString(p.text())
		if link == "" {
			t.Fatalf("no link is shown: %s", p.text())
		}
		theirs := y.open(t, "", on)
		theirs.visit(link)
		theirs.leaves(func() { theirs.tap("Let this device in") })
		theirs.at("/today")

		p.visit("/people")
		p.leaves(func() { p.tap("Tech C") })
		p.leaves(func() { p.tap("Shut it out") })
		p.says("is shut out")
		theirs.visit("/today")
		theirs.says("This phone is not known here")
	})
}

func TestSettings(t *testing.T) {
	onEvery(t, func(t *testing.T, y *yard, on screen) {
		p := y.open(t, boss, on)
		p.visit("/settings")
		p.write("#f-name", "Gull Lane Tools")
		p.leaves(func() { p.tap("Save") })
		p.says("Saved")
		p.says("Gull Lane Tools")
		set, err := y.shop.Settings(t.Context())
		if err != nil || set.Name != "Gull Lane Tools" {
			t.Errorf("the shop is called %q (%v)", set.Name, err)
		}
	})
}

// At the shop's own device whoever acts shows their badge, each time.
func TestBoard(t *testing.T) {
	onEvery(t, func(t *testing.T, y *yard, on screen) {
		badge, err := y.shop.Badge(t.Context(), computer, "Tech B")
		if err != nil {
			t.Fatal(err)
		}
		p := y.open(t, "the board", on)
		p.visit("/t/" + y.wrench)
		p.leaves(func() { p.tap("Take it") })
		p.write("#f-badge", badge.Symbol)
		p.leaves(p.enterKey)
		p.at("/t/" + y.wrench)
		p.says("Tech B has it")
		p.leaves(func() { p.tap("Put it back") })
		p.says("It is in its place")
		is(t, "take in the history", y.acts(t, y.wrench, "take"), 1)
		is(t, "return in the history", y.acts(t, y.wrench, "return"), 1)
	})
}

// A set comes back with a piece missing, which its page then says.
func TestSetComesBackIncomplete(t *testing.T) {
	onEvery(t, func(t *testing.T, y *yard, on screen) {
		kind, pieces := "socket set", register.Pieces{{Name: "10 mm socket", Count: 1}, {Name: "ratchet", Count: 1}}
		done, err := y.shop.Register(t.Context(), computer, register.New{Change: register.Change{Kind: &kind, Pieces: &pieces}})
		if err != nil {
			t.Fatal(err)
		}
		p := y.open(t, "Tech A", on)
		p.visit("/t/" + string(done.Number))
		p.leaves(func() { p.tap("Take it") })
		p.leaves(func() { p.tap("Put it back") })
		p.tap("10 mm socket")
		p.leaves(func() { p.tap("Put it back without what I tapped") })
		p.says("NOT COMPLETE")
	})
}
