package page_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"io"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"

	"pawl/api/page/words"
	"pawl/model"
	"pawl/model/people"
	"pawl/model/register"
)

// Take, hand over and return with one tap each, on the page that a scan opens.
// The job stays on the phone, and the other is told who has it.
func TestTakeHandOverReturn(t *testing.T) {
	b := openBay(t)
	tool := b.tool("impact wrench")
	page := b.techA.open(strings.ToUpper(tool)).with(200).says("impact wrench", "IN ORDER", "It is in its place.")
	page = b.techA.open(page.link("For another job, another person, or until a day")).press("Take it", "job=1042")
	page.with(200).says("You have it, since", "for job 1042")
	if page.path != tool {
		t.Errorf("taking leads to %s, want %s", page.path, tool)
	}
	other := b.tool("breaker bar")
	b.techA.open(other).press("Take for job 1042").says("You have it, since", "for job 1042").press("Put it back").says("It is in its place.")
	b.techB.open(tool).says("Tech A has it, since").press("I have it now").says("You have it, since", "for job 1042")
	b.techA.open(tool).says("Tech B has it, since", "for job 1042", "Tech B has it", "Tech A handed it on")
	b.techB.open(tool).press("Put it back").says("It is in its place.", "Put back")
	b.techA.open(b.techA.open(tool).link("For another job, another person, or until a day")).press("Take it", "job=").says("You have it, since")
	b.techA.open(other).without("Take for job")
}

// A tap on a page that is old: what is so already is said as done, what another
// did meanwhile as who has it.
func TestTappedOnAnOldPage(t *testing.T) {
	b := openBay(t)
	tool := b.tool("impact wrench")
	mine, others := b.techA.open(tool), b.techB.open(tool)
	mine.press("Take it").says("You have it, since")
	mine.press("Take it").with(200).says("You have it, since").without("Already done") // the same form, sent twice
	b.techA.anew(mine).press("Take it").with(200).says("Already done. You have it, since")
	others.press("Take it").with(409).says("That was not done", "Tech A has it, since", "I have it now")
	back := b.techA.open(tool)
	back.press("Put it back")
	b.techA.anew(back).press("Put it back").with(200).says("Already done. It is in its place.")
	b.techB.anew(others).press("Take it").with(409).says("It changed hands since this was asked for").press("Take it").says("You have it, since")
}

// A form that is refused keeps all that was typed into it.
func TestRefusedFormsKeepWhatWasTyped(t *testing.T) {
	b := openBay(t)
	tool, set := b.tool("impact wrench"), b.tool("socket set", register.Piece{Name: "10 mm socket", Count: 1}, register.Piece{Name: "hex key", Count: 12})
	b.boss.open(tool+"/take").press("Take it", "to=Tech A", "job=10 42!", "due=2026-12-01", "happened=2026-11-25T03:00").
		with(422).says("holds").keeps("job=10 42!", "due=2026-12-01", "happened=2026-11-25T03:00", "to=Tech A")
	b.boss.open(tool+"/take").press("Take it", "to=Tech A", "due=2026-11-01").with(422).keeps("due=2026-11-01", "to=Tech A").says("is not after")
	b.boss.open(tool+"/away").press("It goes away", "for=lent", "to=Dockside Motors", "due=2020-01-01").with(422).keeps("for=lent", "to=Dockside Motors", "due=2020-01-01")
	b.techA.open(set).press("Take it")
	b.techA.open(set+"/handover").press("Hand it over", "to=Tech B", "job=a b").with(422).keeps("to=Tech B", "job=a b")
	b.techA.open(set+"/handover").press("Hand it over", "job=1043").with(422).says("say who has it now").keeps("job=1043")
	b.techA.open(set+"/return").press("All there: put it back", "missing[]=10 mm socket").with(422).says("10 mm socket is tapped as missing").keeps("missing[]=10 mm socket")
	b.techA.open(set+"/return").press("Put it back without what I tapped", "missing[]=10 mm socket", "missing:hex key=13", "condition=greasy").
		with(422).says("does not belong").keeps("missing[]=10 mm socket", "missing:hex key=13", "condition=greasy")
	b.techA.open(set+"/return").press("Put it back without what I tapped", "missing:hex key=some").with(422).keeps("missing:hex key=some")
	b.techA.open(set+"/wrong").press("Something wrong", "note=fell off the cart").with(422).keeps("note=fell off the cart")
	b.boss.open(tool+"/gone").press("Go on", "why=sold", "on=2031-01-01", "note=to a neighbor").press("Yes, it is gone for good").
		with(422).says("in the future").keeps("why=sold", "on=2031-01-01", "note=to a neighbor")
	b.boss.open(tool+"/swap").press("Exchange it", "serial=AB-1", "serial_again=AB-2", "note=under warranty").
		with(422).says("the two readings differ").keeps("serial=AB-1", "serial_again=AB-2", "note=under warranty")
}

// A set that comes back is looked at piece by piece; what is missing is said
// loudly, and is a word, not the mark.
func TestReturnOfASet(t *testing.T) {
	b := openBay(t)
	set := b.tool("socket set", register.Piece{Name: "10 mm socket", Count: 1}, register.Piece{Name: "extension", Count: 2}, register.Piece{Name: "hex key", Count: 12})
	b.techA.open(set).press("Take it")
	page := b.techA.open(b.techA.open(set).link("Put it back: look at its pieces")).says("extension 2 of 2", "12 belong to it")
	page = page.press("Put it back without what I tapped", "missing[]=extension", "missing[]=extension", "missing:hex key=3", "condition=rusty")
	page.says("It is in its place.", "NOT COMPLETE. Did not come back: extension (2), hex key (3)", "As it came back last: rusty", "IN ORDER")
	page.says("NOT COMPLETE: extension (2), hex key (3)") // in its history
	b.techA.open(set).press("Take it")
	b.techA.open(set + "/return").press("All there: put it back").says("It is in its place.").without("Did not come back")
}

// One tap puts a tool out of use for everybody; only a manager ends that, with a
// reason, and never by a look for a tool that measures.
func TestSomethingWrong(t *testing.T) {
	b := openBay(t)
	tool := b.tool("breaker bar")
	page := b.techA.open(tool)
	page.press("Dropped").says("DO NOT USE, from now on: Dropped", "Nobody takes it until that is settled").without("IN ORDER", "Take it")
	page.press("Damaged").with(200).says("DO NOT USE, from now on: Damaged") // of the same page, and another act
	b.techB.open(tool+"/take").press("Take it").with(409).says("DO NOT USE: dropped, damaged", "Take another")
	b.techA.open(tool + "/clear").with(403)
	b.boss.open(b.boss.open(tool).link("It may be used again …")).press("It may be used again").with(422).says("say why")
	b.boss.open(tool+"/clear").press("It may be used again", "why=bent handle, straightened and looked at").says("It may be used again.", "IN ORDER").without("DO NOT USE, from")
	b.techA.open(tool).press("Label gone").says("A new label is asked for", "IN ORDER", "Take it")

	wrench := b.tool("torque wrench")
	b.techA.open(wrench).says("NOT CHECKED", "wind a setting wrench down to its lowest mark").press("Dropped").says("DO NOT USE")
	b.boss.open(wrench).without("It may be used again …")
	b.boss.open(wrench+"/clear").press("It may be used again", "why=looks fine").with(409).says("cannot be cleared by a look").keeps("why=looks fine")
}

// Sent away and received again.
func TestAwayAndBack(t *testing.T) {
	b := openBay(t)
	tool := b.tool("breaker bar")
	b.techA.open(tool+"/away").press("It goes away", "for=repair", "to=Dockside Motors", "due=2026-12-24").
		says("It is away at Dockside Motors: repair, since", "due back 24 Dec 2026")
	b.techB.open(tool).press("It is back").says("It is in its place.", "Back from Dockside Motors")
}

// A number that no tool has helps on.
func TestStrangeNumbers(t *testing.T) {
	b := openBay(t)
	tool := b.tool("breaker bar")
	free, err := b.shop.IssueNumbers(t.Context(), model.By{Actor: computer}, 1)
	if err != nil {
		t.Fatal(err)
	}
	b.techA.open("/T/"+strings.ToLower(string(free[0]))).with(200).says("This label has no tool yet", free[0].String()).link("Register a tool under this label")
	if got, want := b.techA.open("/t/"+string(free[0])).link("Register a tool under this label"), "/add?number="+string(free[0]); got != want {
		t.Errorf("registering leads to %s, want %s", got, want)
	}
	b.techA.open("/t/00E-KM5").with(404).says("No tool of this shop has the number 00E-KM5").link("Find the tool")
	b.techA.open("/t/hello").with(404).says("is not a tool number").link("Find the tool")
	for _, below := range []string{"history", "take", "return", "handover", "away", "back", "wrong", "gone", "swap"} {
		b.boss.open("/t/00EKM5/" + below).with(404).link("Find the tool")
	}
	if _, err := b.shop.JoinNumber(t.Context(), model.By{Actor: computer}, tool[len("/t/"):], model.Join{Number: string(free[0])}); err != nil {
		t.Fatal(err)
	}
	b.techA.open(tool).with(200).says("is an earlier number of this tool. Its label now says " + free[0].String())
	b.techA.open("/t/" + string(free[0])).with(200).without("is an earlier number")
}

// A tool that leaves for good is asked about once more; its page stays, and
// offers nothing to do.
func TestGone(t *testing.T) {
	b := openBay(t)
	tool := b.tool("breaker bar")
	b.techA.open(tool+"/gone").says("Only its owner or a manager may do that.", "Take it")
	b.techA.open(tool).without("It left for good")
	ask := b.boss.open(b.boss.open(tool).link("It left for good")).press("Go on", "why=scrapped", "note=handle split").says("scrapped. Is it gone for good?", "Note: handle split")
	take := b.boss.open(tool).says("IN ORDER")
	b.boss.open(ask.link("Change what I said")).keeps("why=scrapped", "note=handle split")
	for range 2 { // the same form, sent twice
		ask.press("Yes, it is gone for good").with(200).says("left for good: scrapped.", "It left: scrapped, 25 Nov 2026. handle split").without("IN ORDER", "Take it", "Something wrong?")
	}
	b.boss.anew(ask).press("Yes, it is gone for good").with(409).says("is gone already: scrapped")
	take.press("Take it").with(409).says("It left: scrapped, 25 Nov 2026")
	b.boss.open(tool + "/take").with(200).says("It left: scrapped, 25 Nov 2026").without("Take it")
	b.boss.open(tool + "/gone").with(409)

	// It is here after all: whoever may end it may say so, and it is out of use.
	b.techA.open(tool).without("It is here after all")
	b.techA.open(tool + "/back").without("It is back").says("Only its owner or a manager")
	here := b.boss.open(b.boss.open(tool).link("It is here after all")).says("It left: scrapped, 25 Nov 2026", "out of use until it was looked over")
	here.press("It is back", "condition=handle glued").says("DO NOT USE", "here after all: handle glued", "It is here after all, and in the register again.")
}

// An exchange: the new serial twice, and the slip; the old tool leads to the new.
func TestSwap(t *testing.T) {
	b := openBay(t)
	old := b.tool("breaker bar")
	form := b.boss.open(b.boss.open(old).link("The maker gave another for it"))
	exchange := func() shown {
		return form.press("Exchange it", "serial=XC-77120", "serial_again=xc 77120", "slip=@", "plate=@")
	}
	page := exchange()
	if again := exchange().with(200).says("It took the place of"); again.path != page.path {
		t.Errorf("the same form, sent twice, made %s and %s", page.path, again.path)
	}
	page.with(200).says("It took the place of", "XC-77120", "breaker bar", "serial plate", "slip").link(numberOf(old))
	b.boss.open(old).says("It left: exchanged").link("Exchanged for " + numberOf(page.path))
	b.techA.open(b.tool("breaker bar")+"/swap").says("Only its owner or a manager may do that.", "Take it")
}

func numberOf(path string) string { return path[3:6] + "-" + path[6:] }

// The price is there for those who may see it, and nothing stands in its place
// for others.
func TestPriceIsShownToSome(t *testing.T) {
	b := openBay(t)
	tool := b.tool("impact wrench")
	price, seller := "289.00", "Harbor Tool Counter"
	if _, err := b.shop.ChangeTool(t.Context(), model.By{Actor: computer}, tool[3:], 1, register.Change{Price: &price, Seller: &seller}); err != nil {
		t.Fatal(err)
	}
	b.boss.open(tool).says("Price before tax", "289.00 USD", seller)
	b.techA.open(tool).without("Price", "289", "0.00", seller)
	b.techA.open(tool+"/history").without("289", seller)
}

// All pages of taking and giving back, the mark, what is wrong and the cautions
// are there in Spanish.
func TestSpanish(t *testing.T) {
	b := openBay(t)
	b.techA.lang = "es-MX,es;q=0.9"
	tool := b.tool("torque wrench")
	page := b.techA.open(tool).says("SIN REVISAR", "Está en su lugar", "Par de apriete: la información de servicio", "¿Algo está mal?", "Sobrecargada")
	page.without("The vehicle maker", "Take it")
	b.techA.open(page.link("Para otro trabajo, otra persona o hasta un día")).press("Tomarla", "job=1042").says("Usted la tiene, desde", "para el trabajo 1042")
	b.techA.anew(page).press("Tomarla").says("Ya estaba hecho. Usted la tiene")
	b.boss.lang = "es"
	b.boss.anew(b.boss.open(tool+"/take")).press("Tomarla", "to=Maren Oake").with(409).says("No se hizo", "Tech A la tiene, desde")
	b.techA.open(tool + "/return").says("Cómo se ve").press("Devolverla a su lugar").says("Está en su lugar")
	b.techA.open(tool).press("Se cayó").says("NO USAR desde ahora: Se cayó")
	b.boss.open(tool+"/take").press("Tomarla", "to=Tech A").with(409).says("NO USAR: se cayó", "Tome otra")
	for _, path := range []string{"/handover", "/away", "/back", "/wrong", "/clear"} {
		b.boss.open(tool+path).with(200).without("Hand", "Send", "back", "Something", "may be used")
	}
}

// Every caution of the trade is in the catalog word for word, and in Spanish.
func TestCautionsAreInTheCatalog(t *testing.T) {
	seen := map[string]bool{}
	for _, kind := range []string{"torque wrench", "jack", "air compressor", "multimeter", "battery", "glove"} {
		for _, c := range register.Cautions(kind) {
			seen[c] = true
		}
	}
	if len(seen) != 6 {
		t.Errorf("%d cautions are seen, of 6", len(seen))
	}
	for c := range seen {
		key := slices.IndexFunc(words.Keys(words.English), func(k string) bool {
			return strings.HasPrefix(k, "caution.") && words.Say(words.English, k) == c
		})
		if key < 0 {
			t.Errorf("not in the catalog: %s", c)
			continue
		}
		if k := words.Keys(words.English)[key]; words.Say(words.Spanish, k) == c {
			t.Errorf("%s is not in Spanish", k)
		}
	}
}

// A shop device asks for a badge and does what it names its owner for; a return
// needs none. Prices, papers, photos and history stay off it.
func TestShopDevice(t *testing.T) {
	b := openBay(t)
	tool := b.tool("breaker bar")
	board := b.walker(people.Actor{Name: "Wall board", Role: people.ShopDevice, Via: people.ViaDevice, Device: "D-BOARD"})
	all, err := b.shop.People(t.Context(), model.By{Actor: computer})
	if err != nil {
		t.Fatal(err)
	}
	badge := map[string]string{}
	for _, p := range all {
		badge[p.Name] = "badge=b/" + strings.ToLower(p.Badge)
	}
	page := board.open(tool).says("It is in its place.", "IN ORDER").without("Price", "What happened last", "Less often")
	page = board.open(page.link("Take it"))
	page.press("Take it").with(403).says("Scan your badge")
	page.press("Take it", badge["Tech A"]).with(200).says("Tech A has it, since").without("You have")
	b.techA.open(tool).says("You have it, since", "Took it")
	page = board.open(board.open(tool).link("Hand it over")).press("I have it now", badge["Tech B"]).says("Tech B has it, since")
	page.press("Put it back").says("It is in its place.")
	page = board.open(board.open(tool).link("Something wrong"))
	page.press("Something wrong", "what=dropped").with(403)
	page.press("Something wrong", "what=dropped", badge["Tech B"]).says("DO NOT USE, from now on: Dropped")
	board.open(tool + "/away").with(403)
	board.open(tool + "/history").with(403)
}

// The page's own script is told where to go, or why not; an old page that took
// one tap is shown anew with the reason on it.
func TestTapsByScript(t *testing.T) {
	b := openBay(t)
	tool := b.tool("breaker bar")
	post := func(p *walker, path string, typed url.Values) (int, string) {
		r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, p.url+path, strings.NewReader(typed.Encode()))
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.Header.Set("Pawl-Script", "1")
		answer, err := p.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		defer answer.Body.Close()
		raw, err := io.ReadAll(answer.Body)
		if err != nil {
			t.Fatal(err)
		}
		return answer.StatusCode, string(raw)
	}
	to := `{"to":"` + tool + `"}`
	for _, c := range []struct {
		what   string
		by     *walker
		act    string
		typed  url.Values
		status int
		body   string
		then   string // what the tool's page says after it
	}{
		{"a tap", b.techA, "take", url.Values{"key": {"1"}}, 200, to, "You have it, since"},
		{"the same again, its answer was lost", b.techA, "take", url.Values{"key": {"1"}}, 200, to, "You have it, since"},
		{"an old page", b.techB, "take", url.Values{"key": {"2"}}, 200, to, "Not done: Tech A has it, since"},
		{"a form", b.techB, "take", url.Values{"key": {"3"}, "form": {"yes"}, "due": {"2026-12-01"}}, 409, `"Detail":"Tech A has it, since`, ""},
		{"a wrong value", b.techB, "wrong", url.Values{"key": {"4"}, "what": {"sad"}}, 422, `"Fields":[{"Name":"what"`, ""},
	} {
		status, body := post(c.by, tool+"/"+c.act, c.typed)
		if status != c.status || !strings.Contains(body, c.body) {
			t.Errorf("%s: %d %s, want %d with %s", c.what, status, body, c.status, c.body)
		}
		if c.then != "" {
			c.by.open(tool).says(c.then)
		}
	}
	lines, err := b.shop.Recent(t.Context(), model.By{Actor: computer}, tool[3:], 0)
	if err != nil {
		t.Fatal(err)
	}
	loans := slices.DeleteFunc(lines, func(l model.LineView) bool { return l.Noun != "loan" })
	if len(loans) != 1 {
		t.Errorf("%d loans were recorded, want 1", len(loans))
	}
}

// A tool that was photographed and not yet typed: its one thing to do is to
// finish it.
func TestUnfinishedTool(t *testing.T) {
	b := openBay(t)
	sum := sha256.Sum256(drawnPicture(9))
	sha, by := hex.EncodeToString(sum[:]), model.By{Actor: b.techA.actor}
	if _, _, err := b.shop.StoreOriginal(t.Context(), by, model.Upload{SHA256: sha, Size: -1}, bytes.NewReader(drawnPicture(9))); err != nil {
		t.Fatal(err)
	}
	free, err := b.shop.IssueNumbers(t.Context(), by, 1)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := b.shop.FilePhotos(t.Context(), by, register.Photos{Number: string(free[0]), Photos: []register.Attach{{SHA256: sha, Kind: "plate"}}}); err != nil {
		t.Fatal(err)
	}
	page := b.techB.open("/t/"+string(free[0])).with(200).says("Photographed, not yet typed", "serial plate", "A photo was added: serial plate.")
	if got, want := page.link("Finish it: type what it is"), "/add/"+string(free[0])+"/serial"; got != want {
		t.Errorf("finishing leads to %s, want %s", got, want)
	}
	b.techB.open(page.link("For another job, another person, or until a day")).press("Take it").says("You have it, since").link("Finish it: type what it is")
}

// A torque wrench that is named in Spanish is not in order before somebody compared it.
func TestAToolNamedInSpanishIsNotChecked(t *testing.T) {
	b := openBay(t)
	b.techA.open(b.tool("llave dinamométrica")).says("NOT CHECKED", "Torque: the vehicle maker's service information governs value").without("IN ORDER")
	b.techA.open(b.tool("llave de vasos")).says("IN ORDER")
}
