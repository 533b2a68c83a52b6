package api

import (
	"bytes"
	"image/png"
	"net/http"
	"net/url"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/qrcode"
	"github.com/makiuchi-d/gozxing/qrcode/decoder"

	"pawl/api/wire"
	"pawl/model/people"
)

// readCode reads the symbol of a picture; the reader is gozxing.
func readCode(t testing.TB, picture []byte) string {
	t.Helper()
	img, err := png.Decode(bytes.NewReader(picture))
	if err != nil {
		t.Fatal(err)
	}
	bits, err := gozxing.NewBinaryBitmapFromImage(img)
	if err != nil {
		t.Fatal(err)
	}
	hints := map[gozxing.DecodeHintType]any{gozxing.DecodeHintType_TRY_HARDER: true}
	read, err := qrcode.NewQRCodeReader().Decode(bits, hints)
	if err != nil {
		return err.Error()
	}
	return read.GetText()
}

// readDrawing reads the symbol of an SVG from its bars, in modules; the reader
// is gozxing.
func readDrawing(t testing.TB, svg string) string {
	t.Helper()
	modules := make([][]bool, 33) // version 4: ISO/IEC 18004, 17 + 4 x 4
	for y := range modules {
		modules[y] = make([]bool, len(modules))
	}
	for _, m := range regexp.MustCompile(`M(\d+) (\d+)h(\d+)v1h-\d+z`).FindAllStringSubmatch(svg, -1) {
		var at [3]int
		for i := range at {
			at[i], _ = strconv.Atoi(m[i+1])
		}
		for x := range at[2] {
			modules[at[1]][at[0]+x] = true
		}
	}
	read, err := decoder.NewDecoder().DecodeBoolMapWithoutHint(modules)
	if err != nil {
		return err.Error()
	}
	return read.GetText()
}

// A name that cannot be printed is refused with its letters, unless it is to be
// marked; a do-not-use tag is never held up.
func TestUnprintable(t *testing.T) {
	m, number, _, _ := printShop(t)
	m.post("/people", wire.NewPerson{Name: "Tech 李", Role: "technician"}).want(http.StatusCreated)
	in := aTool("KD408B777")
	in.Model = given("扳手")
	in.Place = given("Bay 1/Cart")
	odd := m.registered(in).Number
	for _, path := range []string{"/prints/badge?name=" + url.QueryEscape("Tech 李"), "/labels/" + odd + "?format=svg", "/labels/" + odd + "?format=png",
		"/labels?number=" + number + "&number=" + odd, "/prints/sign-out?name=Bay+1"} {
		p := m.get(path).refused(http.StatusUnprocessableEntity)
		if !strings.Contains(p.Detail+p.Hint, "cannot be printed: ") || !strings.Contains(p.Detail+p.Hint, "unprintable mark") {
			t.Errorf("%s: %+v", path, p)
		}
		and := "&"
		if !strings.Contains(path, "?") {
			and = "?"
		}
		m.get(path + and + "unprintable=mark").want(http.StatusOK)
		m.get(path + and + "unprintable=refuse").refused(http.StatusUnprocessableEntity)
	}
	m.post("/tools/"+odd+"/wrong", wire.Wrong{What: "dropped", Note: "掉在地上"}).want(http.StatusOK)
	m.get("/prints/do-not-use?name=" + odd).want(http.StatusOK)
}

// printShop has one of everything that is printed.
func printShop(t *testing.T) (m asker, number, badge, place string) {
	s := openShop(t)
	m = s.manager()
	var p wire.Person
	m.post("/people", wire.NewPerson{Name: "Tech A", Role: "technician"}).want(http.StatusCreated).into(&p)
	var at wire.Place
	m.post("/places", wire.NewPlace{Path: "Bay 1/Cart"}).want(http.StatusCreated).into(&at)
	m.post("/jobs", wire.NewJob{Number: "ro-1042"}).want(http.StatusCreated)
	in := aTool("KD408B217")
	in.Place = &at.Path
	number = m.registered(in).Number
	m.post("/tools/"+number+"/wrong", wire.Wrong{What: "dropped", Note: "off the cart"}).want(http.StatusOK)
	return m, number, p.Badge, at.Code
}

func TestPrintsRead(t *testing.T) {
	m, number, badge, place := printShop(t)
	for path, want := range map[string]string{
		"badge?name=" + url.QueryEscape("tech a"):     badge,
		"place?name=" + url.QueryEscape("bay 1/cart"): place,
		"job?name=ro-1042":                            "JOB:RO-1042",
		"do-not-use?name=" + number:                   "T/" + strings.ReplaceAll(number, "-", ""),
	} {
		for _, dpi := range []string{"203", "300"} {
			at := "/prints/" + path + "&format=png&dpi=" + dpi
			r := m.get(at).want(http.StatusOK)
			if got := readCode(t, r.Body.Bytes()); got != want || r.header("Content-Type") != pngType {
				t.Errorf("%s reads %q, want %q", at, got, want)
			}
			m.get(at, "If-None-Match: "+r.header("ETag")).want(http.StatusNotModified)
		}
		for _, more := range []string{"", "&sheet=letter-2x5&start=3&dx=0.3"} {
			if r := m.get("/prints/" + path + more).want(http.StatusOK); !strings.HasPrefix(r.Body.String(), "%PDF-") {
				t.Errorf("%s%s: %v", path, more, r.Header())
			}
		}
		for _, svg := range []string{"&format=svg", ""} {
			r := m.get("/prints/"+path+svg, "Accept: image/svg+xml").want(http.StatusOK)
			if got := readDrawing(t, r.Body.String()); got != want || r.header("Content-Type") != svgType {
				t.Errorf("%s%s as SVG reads %q, want %q", path, svg, got, want)
			}
		}
	}
}

func TestPrintsWithoutSymbolOfOne(t *testing.T) {
	m, _, _, _ := printShop(t)
	own := url.QueryEscape("paper=letter cols=3 rows=10 w=66.675 h=25.4 left=4.7625 top=12.7 px=69.85 py=25.4")
	for path, file := range map[string]string{
		"cards": "cards.pdf", "cards?sheet=letter-2x5": "cards.pdf", "sign-out?name=" + url.QueryEscape("Bay 1"): "sign-out.pdf",
		"test-page": "test-page.pdf", "test-page?sheet=a4-3x7&dx=0.3&dy=-1": "test-page.pdf", "test-page?sheet=" + own: "test-page.pdf",
	} {
		r := m.get("/prints/" + path).want(http.StatusOK)
		if r.header("Content-Disposition") != `inline; filename="`+file+`"` || !strings.HasPrefix(r.Body.String(), "%PDF-") {
			t.Errorf("%s: %v", path, r.Header())
		}
	}
}

func TestPrintsRefuse(t *testing.T) {
	m, number, _, _ := printShop(t)
	sound := m.registered(aTool("KD408B999")).Number
	m.post("/jobs", wire.NewJob{Number: "Ä#1"}).want(http.StatusCreated)
	for path, status := range map[string]int{
		"poster": 404, "badge": 422, "badge?name=Nobody": 404, "place?name=Roof": 404, "place?name=%20": 422,
		"job?name=77": 404, "job?name=" + url.QueryEscape("Ä#1"): 422, "job?name=" + url.QueryEscape("a b"): 422,
		"do-not-use?name=" + sound: 409, "do-not-use?name=00E-KM5": 404, "do-not-use?name=x": 422,
		"cards?name=x": 422, "cards?format=png": 422, "badge?name=Tech+A&format=gif": 422, "cards?format=svg": 422, "badge?name=Tech+A&unprintable=x": 422, "sign-out?name=Bay+1&format=svg": 422, "badge?name=Tech+A&format=png&dpi=72": 422,
		"do-not-use?sheet=letter-4x20&name=" + number: 422, "sign-out": 422, "sign-out?name=Roof": 404, "sign-out?name=Bay+1&format=png": 422,
		"test-page?sheet=foolscap": 422, "test-page?sheet=paper%3Da4+cols%3D3": 422, "test-page?name=x": 422, "test-page?dx=9": 422,
		"test-page?sheet=a4-3x7&start=22": 422,
	} {
		if r := m.get("/prints/" + path); r.refused(r.Code).Status != status {
			t.Errorf("%s: %d, want %d\n%s", path, r.Code, status, r.Body)
		}
	}
	m.get("/prints/sign-out?name=Bay+1", "Accept: image/png").refused(http.StatusUnprocessableEntity)
	m.get("/prints/sign-out?name=Bay+1", "Accept: image/svg+xml").refused(http.StatusUnprocessableEntity)
}

func TestFreeNumbers(t *testing.T) {
	s := openShop(t)
	m := s.manager()
	var issued wire.Issued
	m.post("/numbers", wire.Issue{Count: 5}).want(http.StatusCreated).into(&issued)
	in := aTool("KD408B217")
	in.Number = issued.Numbers[2]
	m.registered(in)
	var first, second wire.Numbers
	m.get("/numbers?limit=3").want(http.StatusOK).into(&first)
	if first.Next == nil {
		t.Fatalf("the first page is the last: %+v", first)
	}
	m.get("/numbers?limit=3&cursor=" + *first.Next).want(http.StatusOK).into(&second)
	got := strings.Join(append(first.Numbers, second.Numbers...), " ")
	want := strings.Join(append(issued.Numbers[:2:2], issued.Numbers[3:]...), " ")
	if got != want || second.Next != nil {
		t.Errorf("free are %s, want %s", got, want)
	}
	m.get("/numbers?cursor=x").refused(http.StatusBadRequest)
	m.get("/numbers?limit=0").refused(http.StatusUnprocessableEntity)
}

// A worn label is printed again with its number; only the report that it is
// gone ends.
func TestLabelAgain(t *testing.T) {
	s := openShop(t)
	m := s.manager()
	number := m.registered(aTool("KD408B217")).Number
	at := "/tools/" + number
	m.post(at+"/wrong", wire.Wrong{What: "label gone"}).want(http.StatusOK)
	m.post(at+"/wrong", wire.Wrong{What: "dropped"}).want(http.StatusOK)
	var done wire.Done
	m.post(at+"/label", wire.LabelAgain{Why: "rubbed off"}).want(http.StatusOK).into(&done)
	if done.Number != number || strings.Join(done.Cleared, ",") != "label gone" || done.DoNotUse == nil {
		t.Errorf("again: %+v", done)
	}
	if r := m.send(http.MethodPost, Prefix+at+"/label", nil).want(http.StatusOK); strings.Contains(r.Body.String(), "cleared") {
		t.Errorf("a second time: %s", r.Body)
	}
	history := m.get(at + "/history").want(http.StatusOK).Body.String()
	if strings.Count(history, `"noun":"label"`) != 2 || !strings.Contains(history, "rubbed off") {
		t.Errorf("history: %s", history)
	}
	m.post("/tools/00E-KM5/label", "{}").refused(http.StatusNotFound)
	lost := m.registered(aTool("KD408B230")).Number
	m.post("/tools/"+lost+"/gone", `{"why":"lost"}`).want(http.StatusOK)
	m.post("/tools/"+lost+"/label", "{}").refused(http.StatusConflict)
	s.as(people.Viewer).post(at+"/label", "{}").refused(http.StatusForbidden)
}

// A fresh label is joined to a tool: it goes by that number, and answers to the
// old one for ever.
func TestJoin(t *testing.T) {
	s := openShop(t)
	m := s.manager()
	old := m.registered(aTool("KD408B217")).Number
	other := m.registered(aTool("KD408B218")).Number
	var issued wire.Issued
	m.post("/numbers", wire.Issue{Count: 2}).want(http.StatusCreated).into(&issued)
	m.post("/tools/"+old+"/wrong", wire.Wrong{What: "label gone"}).want(http.StatusOK)
	fresh := issued.Numbers[0]
	var done wire.Done
	m.post("/tools/"+old+"/join", wire.Join{Number: fresh}, "Idempotency-Key: join-1").want(http.StatusOK).into(&done)
	if done.Number != fresh || len(done.Cleared) != 1 {
		t.Errorf("joined: %+v", done)
	}
	m.post("/tools/"+old+"/join", wire.Join{Number: fresh}, "Idempotency-Key: join-1").want(http.StatusOK)
	for _, number := range []string{old, fresh} {
		var tool wire.Tool
		m.get("/tools/" + number).want(http.StatusOK).into(&tool)
		if tool.Number != fresh || strings.Join(tool.Numbers, " ") != old+" "+fresh {
			t.Errorf("by %s: %s of %v", number, tool.Number, tool.Numbers)
		}
	}
	for number, status := range map[string]int{fresh: 409, other: 409, "00E-KM5": 422, "": 422, "x": 422} {
		m.post("/tools/"+old+"/join", wire.Join{Number: number}).refused(status)
	}
	m.post("/tools/00E-KM5/join", wire.Join{Number: issued.Numbers[1]}).refused(http.StatusNotFound)
	own := s.person("Tech A", people.Technician)
	stranger := s.person("Tech B", people.Technician)
	in := aTool("KD408B219")
	owner := "Tech A"
	in.Owner = &owner
	theirs := m.registered(in).Number
	stranger.post("/tools/"+theirs+"/join", wire.Join{Number: issued.Numbers[1]}).refused(http.StatusForbidden)
	own.post("/tools/"+theirs+"/join", wire.Join{Number: issued.Numbers[1]}).want(http.StatusOK)
}
