package page_test

import (
	"strings"
	"testing"

	"golang.org/x/net/html"

	"pawl/model"
)

// Every print is drawn by the service for programs, at an address that the page
// leads to; what cannot be drawn is refused on the page, with what was typed.
func TestPrints(t *testing.T) {
	b := openBay(t)
	good, bad := numberIn(b.tool("hoist")), numberIn(b.tool("creeper"))
	if _, err := b.shop.Wrong(t.Context(), model.By{Actor: b.techA.actor}, bad, model.Wrong{What: "damaged"}); err != nil {
		t.Fatal(err)
	}
	if _, err := b.shop.AddPlace(t.Context(), b.boss.by(), "Bay 1"); err != nil {
		t.Fatal(err)
	}
	if _, err := b.shop.OpenJob(t.Context(), b.boss.by(), model.NewJob{Number: "1042"}); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		what  string
		typed string
		to    string // or what is refused
	}{
		{"labels", "number=" + good + "\n" + bad, "/api/v1/labels"},
		{"labels", "number=" + good + "|as=203", "/api/v1/labels/"},
		{"labels", "number=" + good + " " + bad + "|as=300", "a picture holds one label"},
		{"labels", "number=", "0 numbers; give 1 to"},
		{"labels", "number=" + good + "|start=99", "no label 99 on a sheet of 30"},
		{"labels", "number=" + good + "|start=x", "is not the number of a label"},
		{"labels", "number=" + good + "|dx=0.55", "is not a length in mm"},
		{"labels", "number=" + good + "|dx=0.5|dy=-0.5|start=4", "/api/v1/labels"},
		{"labels", "number=" + good + "|own=paper=letter cols=3", "the geometry lacks"},
		{"labels", "number=" + good + "|own=paper=letter cols=3 rows=10 w=66.675 h=25.4 left=4.7625 top=12.7 px=69.85 py=25.4", "/api/v1/labels"},
		{"labels", "number=999ZZZ", "is not"},
		{"test-page", "sheet=a4-3x7", "/api/v1/prints/test-page"},
		{"badge", "name=Tech A|sheet=", "/api/v1/prints/badge"},
		{"badge", "name=Tech A|sheet=letter-2x5|start=3", "/api/v1/prints/badge"},
		{"badge", "name=Nobody|sheet=", "Nobody"},
		{"place", "name=Bay 1|sheet=", "/api/v1/prints/place"},
		{"job", "name=1042|sheet=|as=600", "/api/v1/prints/job"},
		{"job", "name=9|sheet=", "there is no job 9"},
		{"do-not-use", "name=" + bad + "|sheet=", "/api/v1/prints/do-not-use"},
		{"do-not-use", "name=" + good + "|sheet=", "nothing is wrong with tool"},
		{"do-not-use", "name=|sheet=", "say which tool it is"},
		{"cards", "sheet=", "/api/v1/prints/cards"},
		{"sign-out", "name=Bay 1", "/api/v1/prints/sign-out"},
	} {
		typed := strings.Split(c.typed, "|")
		page := b.techA.open("/labels/print/"+c.what).with(200).press("Draw it", typed...)
		if page.status == 200 {
			page = page.file()
		}
		switch refused := !strings.HasPrefix(c.to, "/"); {
		case refused && page.status < 400:
			t.Errorf("%s %q: %d at %s, want a refusal", c.what, c.typed, page.status, page.path)
		case refused:
			page.says(c.to)
			if c.to != "Nobody" { // nobody's name cannot be picked
				page.keeps(typed[0])
			}
		case page.status != 200 || !strings.HasPrefix(page.path, c.to):
			t.Errorf("%s %q: %d at %s, want %s: %s", c.what, c.typed, page.status, page.path, c.to, text(page.Node))
		}
	}
	b.techA.open("/labels/print/gossip").with(404)

	far := numberIn(b.tool("扳手"))
	refused := b.techA.open("/labels/print/labels?number="+far).press("Draw it").with(422).says("扳手", "Print a ? for each letter")
	refused.press("Draw it", "unprintable=mark").with(200).file().with(200)
	b.techA.open("/labels/print/badge").without("Print a ?")
}

// file is what was drawn.
func (s shown) file() shown {
	s.Helper()
	for _, a := range s.all("a", func(a *html.Node) bool { return nodeHas(a, "download") }) {
		return s.walker.open(nodeAttr(a, "href"))
	}
	s.Fatalf("%s links to no file: %s", s.path, text(s.Node))
	return s
}

func (p *walker) by() model.By { return model.By{Actor: p.actor} }

// A sheet of blank labels is reserved once, drawn, and can be drawn again while
// its labels are free.
func TestBlankLabels(t *testing.T) {
	b := openBay(t)
	form := b.techA.open("/labels/blank").keeps("count=30", "sheet=letter-3x10")
	form.press("Reserve the numbers", "count=0").with(422).keeps("count=0")
	form.press("Reserve the numbers", "count=2", "start=31").with(422).says("no label 31")
	if free, _, err := b.shop.FreeNumbers(t.Context(), b.boss.by(), 0, ""); err != nil || len(free) != 0 {
		t.Errorf("a refused form reserved %v, %v", free, err)
	}
	for range 2 { // the same form twice
		form.press("Reserve the numbers", "count=2", "start=5").with(200).says("2 numbers are reserved").keeps("start=5").
			press("Draw it").with(200).file().with(200)
	}
	free, _, err := b.shop.FreeNumbers(t.Context(), b.boss.by(), 0, "")
	if err != nil || len(free) != 2 {
		t.Fatalf("reserved %v, %v", free, err)
	}
	if got := b.techA.open("/labels/free").press("Draw the chosen ones", "number="+string(free[0]), "number="+string(free[1])).press("Draw it").file(); got.path != "/api/v1/labels" {
		t.Errorf("drawn again at %s: %s", got.path, text(got.Node))
	}
}

// The label of a tool is printed again, or another label is joined to it; both
// end the report that it is gone.
func TestLabelOfATool(t *testing.T) {
	b := openBay(t)
	path := b.tool("puller")
	number := numberIn(path)
	gone := func() {
		t.Helper()
		if _, err := b.shop.Wrong(t.Context(), b.techA.by(), number, model.Wrong{What: "label gone"}); err != nil {
			t.Fatal(err)
		}
	}
	gone()
	page := b.techA.open(b.techA.open(path).link("Print its label again"))
	page.press("Print it again").with(422).says("say why")
	page.press("Print it again", "why=worn").with(200).says("Noted").press("Draw it").with(200).file().with(200)
	if open := b.view(number).Wrongs; len(open) != 0 {
		t.Errorf("still reported: %v", open)
	}

	gone()
	fresh := b.blank()
	strange := b.techA.open(b.techA.open("/t/" + fresh).link("Give it to a tool that is here already")).keeps("number=" + fresh)
	strange.press("Show the tool", "tool=nonsense").says("That cannot be shown").keeps("number=" + fresh)
	sure := strange.press("Show the tool", "tool="+number).with(200).says("puller", "Is this the tool")
	sure.press("Yes, join them").with(200).says("Its number is "+b.view(fresh).Tool.Number.String()+" now", "puller")
	if v := b.view(number); string(v.Tool.Number) != fresh || len(v.Wrongs) != 0 {
		t.Errorf("number %s, wrongs %v", v.Tool.Number, v.Wrongs)
	}
	b.techA.open("/labels/join?number=" + fresh + "&tool=" + number).press("Yes, join them").with(409).says("belongs to a tool already")
	b.techA.open("/labels?number=999ZZZ").says("That cannot be shown")
	free := b.blank()
	b.techA.open("/labels?number=" + free).with(200).press("Draw it").with(200).file().with(200)
}
