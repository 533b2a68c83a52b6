package page_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"slices"
	"strconv"
	"strings"
	"testing"

	"pawl/model"
	"pawl/model/evidence"
	"pawl/model/people"
	"pawl/model/register"
)

// view is a tool as the shop's computer sees it.
func (b *bay) view(number string) model.ToolView {
	b.Helper()
	v, err := b.shop.Tool(b.Context(), model.By{Actor: computer}, number)
	if err != nil {
		b.Fatal(err)
	}
	return v
}

func (b *bay) kinds(number string) (out []evidence.Kind) {
	b.Helper()
	for _, e := range b.view(number).Evidence {
		out = append(out, e.Kind)
	}
	slices.Sort(out)
	return out
}

// blank gives a number that is printed and free.
func (b *bay) blank() string {
	b.Helper()
	all, err := b.shop.IssueNumbers(b.Context(), model.By{Actor: computer}, 1)
	if err != nil {
		b.Fatal(err)
	}
	return string(all[0])
}

func numberIn(path string) string { return strings.Split(path, "/")[2] }

// started is step two of a tool that somebody photographed.
func (p *walker) started() shown {
	p.Helper()
	return p.open("/add").press("Save and go on", "plate=@").with(200).says("Step 2 of 3")
}

// The whole errand of a technician: photo of the plate, serial twice, receipt
// and price. Each step is saved, and the tool's page tells what to do next.
func TestRegisterInThreeSteps(t *testing.T) {
	b := openBay(t)
	today := b.techA.open("/today")
	second := b.techA.open(today.link("Add a tool")).with(200).press("Save and go on", "plate=@").with(200).says("Step 2 of 3")
	number := numberIn(second.path)
	b.techA.open("/today").says("Photographed, not yet typed")
	b.techA.open("/add/unfinished").says("Type what it is " + b.view(number).Tool.Number.String())

	typed := []string{"kind=Impact Wrench", "maker=Northcape", "model=NC-12", "serial=7K2-0091"}
	second.press("Save and go on", append(typed, "serial_again=7K2-0097")...).with(422).
		says(`the two readings differ: "7K2-0091" and "7K2-0097"`, "neither is kept").
		keeps("serial=7K2-0091", "serial_again=7K2-0097", "kind=Impact Wrench", "maker=Northcape")
	if got := b.view(number).Tool; got.Serial != "" || got.Kind != "" {
		t.Errorf("a refused step left %q %q", got.Kind, got.Serial)
	}
	third := second.press("Save and go on", append(typed, "serial_again=7k2 0091")...).with(200).says("Step 3 of 3", "Amounts in USD")
	third.press("Save", "receipt=@", "price=249.00", "tax=19.92", "bought=2026-11-20", "seller=Harbor Supply", "usage=daily", "marking=printed").with(200).
		says("Saved as "+b.view(number).Tool.Number.String(), "put clear tape over", "No photo of the whole tool", "249.00 USD")
	v := b.view(number)
	if v.Tool.Serial != "7K2-0091" || v.Owner != "Tech A" || v.Tool.Kind != "impact wrench" || v.Tool.Seller != "Harbor Supply" {
		t.Errorf("recorded: %+v", v.Tool)
	}
	if got := b.kinds(number); !slices.Equal(got, []evidence.Kind{evidence.Plate, evidence.Receipt}) {
		t.Errorf("filed: %v", got)
	}
}

// A serial that another tool has is refused with the way to that tool, and a
// number that another tool has starts nothing and files nothing.
func TestWhatAnotherToolHas(t *testing.T) {
	b := openBay(t)
	kind, maker, serial := "grinder", "Northcape", "A-1"
	first, err := b.shop.Register(t.Context(), model.By{Actor: computer}, register.New{SerialAgain: serial, Change: register.Change{Kind: &kind, Maker: &maker, Serial: &serial}})
	if err != nil {
		t.Fatal(err)
	}
	page := b.techA.started().press("Save and go on", "kind=grinder", "maker=northcape", "serial=a1", "serial_again=A-1").with(409).keeps("serial=a1", "maker=northcape")
	b.techA.open(page.link("Look at tool "+first.Number.String())).says("grinder", "A-1")

	b.techA.open("/add").press("Save and go on", "number="+first.Number.String(), "plate=@").with(409).
		says("belongs to a tool already").keeps("number=" + first.Number.String()).link("Look at tool " + first.Number.String())
	if got := b.kinds(string(first.Number)); len(got) != 0 {
		t.Errorf("a photo was filed under another tool: %v", got)
	}
	b.techA.open("/add").press("Save and go on", "number=999-ZZZ", "plate=@").with(422).keeps("number=999-ZZZ")
}

// A blank label that is scanned leads to adding a tool under its number, with a
// photo or without one.
func TestNumberOfABlankLabel(t *testing.T) {
	b := openBay(t)
	for _, photo := range []bool{true, false} {
		number := b.blank()
		start := b.techA.open(b.techA.open("/t/" + number).link("Register a tool under this label")).keeps("number=" + number)
		if photo {
			if got := numberIn(start.press("Save and go on", "plate=@").with(200).path); got != number {
				t.Errorf("started as %s, want %s", got, number)
			}
			continue
		}
		start.press("Save and go on").with(200).keeps("number="+number).press("Save and go on", "kind=jack stand", "has=none").with(200).says("Step 3 of 3")
		if got := b.view(number); got.Tool.Kind != "jack stand" || got.Owner != "Tech A" {
			t.Errorf("%s is %q of %s", number, got.Tool.Kind, got.Owner)
		}
	}
}

// What cannot be read is said; what was typed beside it is not passed over.
func TestWithoutASerial(t *testing.T) {
	b := openBay(t)
	for _, c := range []struct {
		what   string
		typed  []string
		status int
		says   string
	}{
		{"nothing", []string{"kind=jack", "serial="}, 422, "no serial number was entered"},
		{"once", []string{"kind=jack", "serial=X9"}, 422, "was entered once"},
		{"a serial and none", []string{"kind=jack", "serial=X9", "serial_again=X9", "has=none"}, 422, "a serial number was typed as well"},
		{"a lot that is empty", []string{"kind=jack", "has=lot"}, 422, "no lot code was entered"},
		{"no kind", []string{"maker=Northcape", "has=none"}, 422, "a tool needs a kind"},
		{"a choice of nobody's", []string{"kind=jack", "has=perhaps"}, 422, "is not one of the choices"},
		{"a lot", []string{"kind=jack", "has=lot", "lot=L-77"}, 200, "Step 3 of 3"},
		{"none", []string{"kind=jack", "has=none"}, 200, "Step 3 of 3"},
		{"one that nobody can read", []string{"kind=jack", "has=unreadable"}, 200, "Step 3 of 3"},
	} {
		page := b.techA.started().press("Save and go on", c.typed...).with(c.status).says(c.says)
		if c.status != 200 {
			page.keeps(c.typed[:len(c.typed)-1]...)
		}
	}
}

// That there is no serial and that it cannot be read any more are two answers, kept
// apart and shown so; a serial that is found later ends either.
func TestWhyThereIsNoSerial(t *testing.T) {
	b := openBay(t)
	for has, says := range map[string]string{"none": "none on it", "unreadable": "cannot be read any more"} {
		page := b.techA.started().press("Save and go on", "kind=jack", "has="+has)
		number := numberIn(page.path)
		if got := string(b.view(number).Tool.NoSerial); got != has {
			t.Errorf("%s is recorded as %q", has, got)
		}
		b.techA.open("/t/" + number).says(says)
		again := b.techA.open("/add/" + number + "/serial").keeps("has=" + has)
		again.press("Save and go on", "has=serial", "serial=KD-77"+has, "serial_again=KD-77"+has).with(200)
		if got := b.view(number).Tool; got.NoSerial != "" || got.Serial == "" {
			t.Errorf("after it was found: %q, serial %q", got.NoSerial, got.Serial)
		}
	}
	// Of what was registered elsewhere nobody said it.
	old := b.tool("vise")
	b.techA.open(old).says("none recorded").without("none on it", "cannot be read any more")
}

// Two windows change one tool: the second is told by whom and what differs now,
// keeps what it typed, and may save it over that.
func TestChangedMeanwhile(t *testing.T) {
	b := openBay(t)
	path := strings.Replace(b.tool("floor jack"), "/t/", "/add/", 1) + "/rest"
	old := b.boss.open(path).says("Change what is recorded").without("Step 3")
	b.techB.open(path).press("Save", "notes=seal replaced", "usage=weekly").with(200).says("Saved")
	again := old.press("Save", "notes=paint chipped", "price=80.00").with(412).
		says("Tech B changed this tool while you were typing", "Notes: on record now: seal replaced", "Price before tax: on record now: nothing").
		keeps("notes=paint chipped", "price=80.00")
	again.press("Save").with(200)
	if got := b.view(numberIn(path)).Tool; got.Notes != "paint chipped" || *got.Price != 8000 {
		t.Errorf("recorded %q, %v", got.Notes, got.Price)
	}

	// The page's own script learns the revision that the form is of now.
	old = b.boss.open(path)
	b.techB.open(path).press("Save", "notes=oiled").with(200)
	b.boss.script = true
	old.press("Save", "notes=filled").with(412).says(`"Rev":"` + strconv.FormatInt(b.view(numberIn(path)).Tool.Rev, 10) + `"`)
	b.boss.script = false

	serial := strings.Replace(path, "/rest", "/serial", 1)
	old = b.boss.open(serial)
	b.techB.open(serial).press("Save and go on", "has=none", "model=T-2").with(200)
	old.press("Save and go on", "has=none", "model=T-3").with(412).says("Model: on record now: T-2").keeps("model=T-3").press("Save and go on").with(200)
}

// Prices are asked of those who may see them; a form without them leaves them
// as they are. A tool of another person is not changed.
func TestPricesInTheForm(t *testing.T) {
	b := openBay(t)
	second := b.techA.started()
	number := numberIn(second.path)
	second.press("Save and go on", "kind=multimeter", "has=none").press("Save", "price=120.00", "owed=20.00", "terms=on account").with(200)
	path := "/add/" + number + "/rest"
	b.boss.open(path).without("Price before tax").press("Save", "notes=seen").with(200)
	if got := b.view(number).Tool; got.Notes != "seen" || got.Price == nil || *got.Price != 12000 || *got.Owed != 2000 {
		t.Errorf("recorded %q, %v, %v", got.Notes, got.Price, got.Owed)
	}
	for _, below := range []string{"rest", "serial", "photos"} {
		b.techB.open("/add/" + number + "/" + below).with(403).says("belongs to Tech A")
	}
	b.techA.open(path).press("Save", "owner=shop").with(200)
	b.techA.open(path).with(200).without("Price before tax")
	if got := b.view(number); got.Tool.Owner != "" || *got.Tool.Price != 12000 {
		t.Errorf("passed on: owner %q, price %v", got.Tool.Owner, got.Tool.Price)
	}
}

// A form that is sent twice acts once. A photo that was filed with a form that
// is refused is not asked for again, nor filed twice.
func TestSentTwice(t *testing.T) {
	b := openBay(t)
	start := b.techA.open("/add")
	first, again := start.press("Save and go on", "plate=@"), start.press("Save and go on", "plate=@")
	if first.path != again.path {
		t.Errorf("one form started %s and %s", first.path, again.path)
	}
	fresh := b.techA.open("/add/new")
	if one, two := fresh.press("Save and go on", "kind=vise", "has=none"), fresh.press("Save and go on", "kind=vise", "has=none"); one.path != two.path {
		t.Errorf("one form registered %s and %s", one.path, two.path)
	}
	number := numberIn(first.path)
	third := first.press("Save and go on", "kind=drill", "has=none")
	refused := third.press("Save", "receipt=@", "price=12,3,4").with(422).says("were filed already: 1", "A receipt is filed").keeps("price=12,3,4")
	refused.press("Save", "price=12.30").with(200)
	if got := b.kinds(number); !slices.Equal(got, []evidence.Kind{evidence.Plate, evidence.Receipt}) {
		t.Errorf("filed: %v", got)
	}
	if rows, _, err := b.shop.Find(t.Context(), model.By{Actor: computer}, model.FindQuery{}); err != nil || len(rows) != 2 {
		t.Errorf("%d tools, %v; want 2", len(rows), err)
	}
}

// The marking, pieces and warranty can be said later, and are kept when nothing
// is said of them.
func TestTheRest(t *testing.T) {
	b := openBay(t)
	path := strings.Replace(b.tool("socket set"), "/t/", "/add/", 1) + "/rest"
	number := numberIn(path)
	b.boss.open(path).press("Save", "where=under the grip").with(422).says("say how the serial is marked").keeps("where=under the grip").
		press("Save", "marking=engraved", "warranty_months=x").with(422).says("not a number of months").
		press("Save", "warranty_months=24", "pieces=10 mm socket\r\nextension*2").with(200)
	b.boss.open(path).press("Save", "pieces=10 mm socket\nextension*2", "notes=whole").with(200)
	v := b.view(number)
	if len(v.Markings) != 1 || v.Markings[0].Method != "engraved" || v.Markings[0].Spot != "under the grip" || v.Tool.WarrantyMonths != 24 {
		t.Errorf("recorded %+v, warranty %d", v.Markings, v.Tool.WarrantyMonths)
	}
	if len(v.Tool.Pieces) != 2 || v.Tool.Pieces[1] != (register.Piece{Name: "extension", Count: 2}) {
		t.Errorf("pieces %v", v.Tool.Pieces)
	}
}

func TestMorePhotosAndPapers(t *testing.T) {
	b := openBay(t)
	path := strings.Replace(b.tool("scan tool"), "/t/", "/add/", 1) + "/photos"
	b.boss.open(path).press("File it", "kind=damage").with(422).says("no photo or paper was chosen").keeps("kind=damage").
		press("File it", "kind=damage", "shot=@").with(200).says("Filed: damage")
	b.boss.open(path).press("File it", "kind=gossip", "shot=@").with(422).says("is not a kind of photo or paper")
	if got := b.kinds(numberIn(path)); !slices.Equal(got, []evidence.Kind{evidence.Damage}) {
		t.Errorf("filed: %v", got)
	}
}

// loosePhoto is an unsorted photo of somebody.
func (b *bay) loosePhoto(by people.Actor, shade uint8) string {
	b.Helper()
	sum := sha256.Sum256(drawnPicture(shade))
	sha := hex.EncodeToString(sum[:])
	if _, _, err := b.shop.StoreOriginal(b.Context(), model.By{Actor: by}, model.Upload{SHA256: sha, Size: -1}, bytes.NewReader(drawnPicture(shade))); err != nil {
		b.Fatal(err)
	}
	filed, err := b.shop.FilePhotos(b.Context(), model.By{Actor: by}, register.Photos{Photos: []register.Attach{{SHA256: sha, Kind: "other"}}})
	if err != nil {
		b.Fatal(err)
	}
	return filed.Photos[0].ID
}

// Photos that belong to no tool are filed one by one: under a tool, under a free
// label, as the start of a new tool, or left for now.
func TestUnsortedPhotos(t *testing.T) {
	b := openBay(t)
	b.techA.open("/add/unsorted").says("No photo waits")
	tool := numberIn(b.tool("caliper"))
	label := b.blank()
	for shade := range 4 {
		b.loosePhoto(b.techA.actor, uint8(20+shade))
	}
	b.techB.open("/add/unsorted").says("No photo waits")
	first := b.techA.open("/add/unsorted")
	first.press("File it under that tool", "kind=plate", "number=nonsense").with(422).keeps("kind=plate", "number=nonsense")
	next := first.press("File it under that tool", "kind=plate", "number="+tool).with(200).says("Filed: serial plate, under").keeps("number=" + tool)
	b.techA.anew(first).press("File it under that tool", "kind=whole", "number="+tool).with(200).says("is filed already")
	next = next.press("File it under that tool", "kind=whole", "number="+label).with(200)
	last := b.techA.open(next.link("Leave this one for now")).press("Start a new tool with it", "kind=plate", "number=").with(200).says("That was the last one")
	b.techA.open(last.link("From the first again")).link("Find the tool")
	rows, _, err := b.shop.Which(t.Context(), model.By{Actor: computer}, model.WhichQuery{Unfinished: true})
	if err != nil || len(rows) != 2 || rows[0].Owner != "Tech A" || len(rows[1].Photos) != 1 {
		t.Errorf("%v, %+v", err, rows)
	}
	if got := b.kinds(tool); !slices.Equal(got, []evidence.Kind{evidence.Plate}) {
		t.Errorf("filed: %v", got)
	}
}
