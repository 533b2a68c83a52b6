package page_test

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"golang.org/x/net/html"

	"pawl/model"
	"pawl/model/people"
	"pawl/model/register"
)

// board is a shop device on the wall.
func (b *bay) board() *walker {
	return b.walker(people.Actor{Name: "Wall board", Role: people.ShopDevice, Via: people.ViaDevice, Device: "D-BOARD"})
}

// An act that was asked of an earlier state of things does not undo what others
// did since: whoever has the tool now is named. A repeat of one that was done
// still gets its answer.
func TestStaleActsOverwriteNothing(t *testing.T) {
	b := openBay(t)
	tool := b.tool("breaker bar")
	b.techA.open(tool).press("Take it")
	late, form, mine := b.techA.open(tool), b.techA.open(tool+"/return"), b.boss.open(tool)
	b.techB.open(tool).press("I have it now").says("You have it, since")
	late.press("Put it back").with(409).says("Tech B has it, since")
	form.press("Put it back", "condition=greasy").with(409).says("Tech B has it, since").keeps("condition=greasy")
	mine.press("I have it now").with(409).says("Tech B has it, since")
	b.techB.open(tool).says("You have it, since")

	back := b.techB.open(tool)
	back.press("Put it back").says("It is in its place.")
	b.techA.open(tool).press("Take it").says("You have it, since")
	back.press("Put it back").with(200).says("This was done already. Now: Tech A has it, since") // under its own key
	b.techA.open(tool).says("You have it, since")
}

// A board that is told no badge, or one that is misread, keeps all else that was
// typed, and says so beside the badge.
func TestBoardKeepsWhatWasTyped(t *testing.T) {
	b := openBay(t)
	bar, set := b.tool("breaker bar"), b.tool("socket set", register.Piece{Name: "10 mm socket", Count: 1})
	b.techA.open(set).press("Take it")
	board := b.board()
	for _, c := range []struct {
		path, button string
		typed        []string
		badge        string
		status       int
		says         string
	}{
		{bar + "/take", "Take it", []string{"job=1042", "due=2026-12-24"}, "", 403, "Say who you are: this device is the shop's"},
		{bar + "/take", "Take it", []string{"job=1042", "due=2026-12-24"}, "hello", 400, "That is no badge that can be read"},
		{bar + "/take", "Take it", []string{"job=1042"}, "B/00000000", 403, "nobody here has the badge"},
		{bar + "/wrong", "Something wrong", []string{"what=dropped", "note=fell off the cart"}, "", 403, "Say who you are"},
		{set + "/return", "Put it back without what I tapped", []string{"missing[]=10 mm socket", "condition=greasy"}, "hello", 400, "no badge"},
		{set + "/handover", "I have it now", []string{"job=1043"}, "", 403, "Say who you are"},
	} {
		page := board.open(c.path).press(c.button, append([]string{"badge=" + c.badge}, c.typed...)...)
		page.with(c.status).says(c.says).keeps(c.typed...).keeps("badge=")
		if page.path != c.path || len(page.all("input", func(n *html.Node) bool {
			return nodeAttr(n, "name") == "badge" && nodeAttr(n, "aria-invalid") == "true"
		})) != 1 {
			t.Errorf("%s with badge %q: %s does not mark the badge", c.path, c.badge, page.path)
		}
	}
	spanish := b.board()
	spanish.lang = "es"
	spanish.open(bar + "/take").press("Tomarla").with(403).says("Diga quién es: este aparato es del taller")
	b.techA.open(bar).says("It is in its place.", "IN ORDER")
}

// After ten misread badges a board waits, and still keeps what was typed.
func TestBoardWaitsAfterWrongBadges(t *testing.T) {
	b := openBayAt(t, time.Millisecond)
	bar, board := b.tool("breaker bar"), b.board()
	page := board.open(bar + "/take")
	for range 10 {
		page = page.press("Take it", "badge=B/00000000", "job=1042").keeps("job=1042")
	}
	page.press("Take it", "badge=B/00000000", "job=1042").with(429).keeps("job=1042", "badge=")
}

// Things are as an act wants them, and more was told with it: that is not lost
// without a word.
func TestWhatWasToldIsNotSwallowed(t *testing.T) {
	b := openBay(t)
	set := b.tool("socket set", register.Piece{Name: "10 mm socket", Count: 1})
	b.techA.open(set).press("Take it")
	late, lost, plain := b.techA.open(set+"/return"), b.techA.open(set+"/return"), b.techA.open(set+"/return")
	b.techB.open(set + "/return").press("All there: put it back")
	late.press("Put it back without what I tapped", "condition=greasy").with(409).says("It is in its place. What is typed here was not recorded").keeps("condition=greasy")
	lost.press("Put it back without what I tapped", "missing[]=10 mm socket").with(409).says("was not recorded").keeps("missing[]=10 mm socket")
	plain.press("All there: put it back").with(200).says("Already done. It is in its place.")

	b.techA.open(set+"/take").press("Take it", "job=1042").says("for job 1042")
	again := b.boss.open(b.tool("breaker bar") + "/take") // somebody may take for Tech A too
	again.press("Take it", "to=Tech A", "job=1042").says("Tech A has it, since", "for job 1042")
	b.boss.anew(again).press("Take it", "to=Tech A", "job=1043").with(409).says("for job 1042", "was not recorded").keeps("job=1043")
	b.boss.anew(again).press("Take it", "to=Tech A", "job=1042").with(200).says("Already done.")

	away := b.tool("breaker bar")
	b.boss.open(away+"/away").press("It goes away", "for=repair", "to=Dockside Motors")
	form := b.techB.open(away + "/back")
	b.techA.open(away).press("It is back")
	form.press("It is back", "condition=bent").with(409).says("was not recorded").keeps("condition=bent")
}

// Of a tool that left, every page of an act says how, and takes nothing.
func TestGoneToolTakesNothing(t *testing.T) {
	b := openBay(t)
	tool := b.tool("breaker bar")
	b.techA.open(tool).press("Take it")
	back, form := b.techA.open(tool), b.techA.open(tool+"/return")
	if _, err := b.shop.Gone(t.Context(), model.By{Actor: computer}, tool[3:], model.Gone{Why: "sold"}); err != nil {
		t.Fatal(err)
	}
	for _, page := range []shown{back.press("Put it back"), form.press("Put it back", "condition=greasy")} {
		page.with(409).says("It left: sold, 25 Nov 2026").without("Already done")
	}
	for _, below := range []string{"take", "return", "handover", "away", "wrong", "clear"} {
		page := b.boss.open(tool + "/" + below).with(200).says("It left: sold, 25 Nov 2026")
		if n := len(page.all("form", anyNode)); n != 0 {
			t.Errorf("%s of a tool that left has %d forms", below, n)
		}
	}
}

// A repeat tells what is so now, not what was so after the first.
func TestRepeatTellsWhatIsSoNow(t *testing.T) {
	b := openBay(t)
	tool := b.tool("breaker bar")
	first := b.techA.open(tool)
	first.press("Take it").says("You have it, since").without("done already")
	first.press("Take it").says("This was done already. Now: You have it, since")
	b.techA.open(tool).press("Put it back")
	first.press("Take it").with(200).says("This was done already. Now: It is in its place.").without("You have it")
}

// Pages speak to people: no commands, no names that fields have for programs.
func TestRefusalsSpeakToPeople(t *testing.T) {
	b := openBay(t)
	tool := b.tool("breaker bar")
	b.techA.open(tool+"/handover").press("Hand it over", "to=Tech B").with(409).says("it is in place already. only a tool that is out is handed over.").without("take it with", "pawl")
	b.boss.open(tool+"/take").press("Take it", "to=Tech Z").with(422).without("pawl", "--role")
	b.techA.open(tool+"/wrong").press("Something wrong", "what=zzz").with(422).says(`"zzz" is not`).without("what: ")
	page := b.techA.open(tool + "/take")
	page.press("Take it", "job=1042")
	page.press("Take it", "job=1043").with(422).says("This form was sent before with something else in it").without("Idempotency-Key")
	b.techA.open(tool).press("Dropped")
	b.boss.lang = "es"
	b.boss.open("/today").says("se cayó").without("dropped")
	b.boss.open(tool + "/return").says("(puede quedar vacío)").without("may stay empty")
}

// A long text is folded: what is done with the tool stays in reach.
func TestLongNotesAreFolded(t *testing.T) {
	b := openBay(t)
	tool, long := b.tool("breaker bar"), strings.Repeat("fell off the cart again ", 60)
	b.techA.open(tool+"/wrong").press("Something wrong", "what=dropped", "note="+long)
	b.techA.open(tool+"/wrong").press("Something wrong", "what=damaged", "note=bent")
	page := b.techA.open(tool)
	folded := page.all("details", func(n *html.Node) bool { return strings.Contains(text(n), strings.TrimSpace(long)) })
	if len(folded) != 2 { // among what is wrong, and in its history
		t.Errorf("%d long texts are folded, of 2", len(folded))
	}
	for _, n := range page.all("details", anyNode) {
		if strings.Contains(text(n), "bent") {
			t.Error("a short text is folded")
		}
	}
}

// A board is nobody's: shutting it out leads to the devices, wherever it was
// tapped.
func TestRevokingABoardLeadsOn(t *testing.T) {
	b := openBay(t)
	in, err := b.shop.EnrollShopDevice(t.Context(), model.By{Actor: computer}, "Wall board")
	if err != nil {
		t.Fatal(err)
	}
	let, err := b.shop.Enter(t.Context(), model.Entry{Secret: in.Secret, Device: "Wall board"}, "192.0.2.1")
	if err != nil {
		t.Fatal(err)
	}
	r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, b.boss.url+"/devices/"+let.ID+"/revoke", strings.NewReader("at=person"))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	if page := b.boss.send(r).with(200).says("Wall board"); page.path != "/devices" {
		t.Errorf("it leads to %s", page.path)
	}
}

// An act that opens a job by its number says so, since a mistyped number does it too, and
// names the open jobs that may have been meant.
func TestANewJobIsSaid(t *testing.T) {
	b := openBay(t)
	if _, err := b.shop.OpenJob(t.Context(), b.boss.by(), model.NewJob{Number: "1042"}); err != nil {
		t.Fatal(err)
	}
	tool, wrench := b.tool("ratchet"), b.tool("torque wrench")
	b.techA.open(tool+"/take").press("Take it", "job=1042").says("for job 1042").without("is new")
	b.techA.open(tool).press("Put it back").without("is new")
	b.techA.open(tool+"/take").press("Take it", "job=1024").says("for job 1024", "Job 1024 is new: it was opened just now. Did you mean 1042?")
	b.techA.open(tool).without("is new")
	b.techA.open(tool+"/handover").press("Hand it over", "to=Tech B", "job=77").says("Job 77 is new: it was opened just now.").without("Did you mean")
	b.techA.open(wrench+"/ready").press("Ask", "target=108", "fastener=wheel nuts").press("Done without a confirmed wrench: record it", "job=1402", "count=5").
		says("Recorded on job 1402", "Job 1402 is new: it was opened just now. Did you mean 1042?")
	b.techB.lang = "es"
	b.techB.open(wrench+"/take").press("Tomarla", "job=1O42").says("para el trabajo 1O42", "El trabajo 1O42 es nuevo: se abrió ahora mismo. ¿Quiso decir 1042?")
	b.techB.open(tool + "/take").without("es nuevo")
}
