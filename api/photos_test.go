package api

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"net/http"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"golang.org/x/image/draw"

	"pawl/api/wire"
	"pawl/labels"
	"pawl/model/people"
)

// labelPhoto is the label of a number on a gray bench, as a JPEG.
func labelPhoto(t testing.TB, symbol string) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := labels.PNG(&b, labels.Text{Symbol: symbol, Number: "000"}, labels.PNGOptions{DPI: 300}); err != nil {
		t.Fatal(err)
	}
	label, err := png.Decode(&b)
	if err != nil {
		t.Fatal(err)
	}
	photo := image.NewGray(image.Rect(0, 0, 800, 600))
	draw.Draw(photo, photo.Rect, image.NewUniform(color.Gray{120}), image.Point{}, draw.Src)
	draw.CatmullRom.Scale(photo, image.Rect(60, 60, 60+2*label.Bounds().Dx(), 60+2*label.Bounds().Dy()), label, label.Bounds(), draw.Over, nil)
	b.Reset()
	if err := jpeg.Encode(&b, photo, nil); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// issued reserves numbers.
func (a asker) issued(n int) []string {
	a.Helper()
	var out wire.Issued
	a.post("/numbers", wire.Issue{Count: n}).want(http.StatusCreated).into(&out)
	return out.Numbers
}

// sentPhotos uploads photos of n sizes and names them.
func (a asker) sentPhotos(sides ...int) (all []wire.Attach) {
	a.Helper()
	for _, side := range sides {
		photo := aPhoto(a.TB, side, asJPEG)
		a.upload(photo)
		all = append(all, wire.Attach{SHA256: shaOf(photo), Name: "IMG_" + strconv.Itoa(side) + ".jpg", Kind: "other"})
	}
	return all
}

func TestViewsAreServed(t *testing.T) {
	s := openShop(t)
	m := s.manager()
	photo := aPhoto(t, 2000, asPNG)
	m.upload(photo).want(http.StatusCreated)
	at := "/evidence/" + shaOf(photo)
	for size, side := range map[string]int{"small": 320, "large": 1600} {
		r := m.get(at + "?view=" + size).want(http.StatusOK)
		img, err := jpeg.Decode(bytes.NewReader(r.Body.Bytes()))
		if err != nil || img.Bounds().Dx() != side || r.header("Content-Type") != "image/jpeg" {
			t.Errorf("%s: %v of %s, %v", size, img.Bounds(), r.header("Content-Type"), err)
		}
		m.get(at+"?view="+size, "If-None-Match: "+r.header("ETag")).want(http.StatusNotModified)
	}
	if err := os.RemoveAll(filepath.Join(s.dir, "views")); err != nil {
		t.Fatal(err)
	}
	m.get(at + "?view=small").want(http.StatusOK)
	m.get(at + "?view=huge").refused(http.StatusUnprocessableEntity)
	m.get(at+"?view=small", "Accept: image/png").refused(http.StatusNotAcceptable)
	s.person("Tech A", people.Technician).get(at + "?view=small").refused(http.StatusNotFound)
	for what, file := range map[string][]byte{"PDF": []byte(aPDF), "HEIC": heic("heic")} {
		m.upload(file).want(http.StatusCreated)
		if p := m.get("/evidence/" + shaOf(file) + "?view=large").refused(http.StatusNotFound); !strings.Contains(p.Detail, what) {
			t.Errorf("%s: %+v", what, p)
		}
	}
}

func TestAPlateIsJudgedAtOnce(t *testing.T) {
	s := openShop(t)
	m := s.manager()
	flat := aPhoto(t, 300, asJPEG)
	var o wire.Original
	m.upload(flat).want(http.StatusCreated).into(&o)
	if o.Sharpness == nil || *o.Sharpness != 0 || !strings.Contains(o.Question, "sharpness 0; a plate that can be read has 100 or more") ||
		!strings.Contains(o.Question, "300 pixels") {
		t.Errorf("judged %+v", o)
	}
	in := aTool("KD408B217")
	in.Evidence = []wire.Attach{{Kind: "plate", SHA256: o.SHA256, Name: "plate.jpg"}}
	var r wire.Registered
	m.post("/tools", in).want(http.StatusCreated).into(&r)
	if !strings.HasPrefix(r.Question, "plate.jpg: sharpness 0;") {
		t.Errorf("registered and asked %q", r.Question)
	}
	var done wire.Done
	m.post("/tools/"+r.Number+"/evidence", attachment{Evidence: []wire.Attach{{Kind: "whole", SHA256: o.SHA256}}}).want(http.StatusOK).into(&done)
	if done.Question != "" {
		t.Errorf("of the whole tool it is asked %q", done.Question)
	}
	m.post("/tools/"+r.Number+"/evidence", attachment{Evidence: []wire.Attach{{Kind: "plate", SHA256: o.SHA256}}}).want(http.StatusOK).into(&done)
	if !strings.HasPrefix(done.Question, "sharpness 0;") {
		t.Errorf("of the plate it is asked %q", done.Question)
	}
	m.upload([]byte(aPDF)).want(http.StatusCreated).into(&o)
	if o.Sharpness != nil || o.Question != "" {
		t.Errorf("a PDF is judged: %+v", o)
	}
}

func TestCodesAreRead(t *testing.T) {
	s := openShop(t)
	m := s.manager()
	number := m.issued(1)[0]
	code := strings.ReplaceAll(number, "-", "")
	for what, c := range map[string]struct {
		symbol string
		want   wire.Codes
	}{
		"a label":             {"T/" + code, wire.Codes{Numbers: []string{number}, Strange: []string{}}},
		"a link":              {"HTTPS://SHOP.EXAMPLE/T/" + code, wire.Codes{Numbers: []string{number}, Strange: []string{}}},
		"another shop's":      {"T/00EKM5", wire.Codes{Numbers: []string{}, Strange: []string{"00E-KM5"}}},
		"something different": {"HTTPS://MAKER.EXAMPLE/BX-900", wire.Codes{Numbers: []string{}, Strange: []string{}}},
	} {
		photo := labelPhoto(t, c.symbol)
		m.upload(photo).want(http.StatusCreated)
		var got wire.Codes
		m.get("/evidence/" + shaOf(photo) + "/codes").want(http.StatusOK).into(&got)
		if strings.Join(got.Numbers, " ") != strings.Join(c.want.Numbers, " ") || strings.Join(got.Strange, " ") != strings.Join(c.want.Strange, " ") || got.Unreadable {
			t.Errorf("%s: %+v", what, got)
		}
		s.person("Tech "+what, people.Technician).get("/evidence/" + shaOf(photo) + "/codes").refused(http.StatusNotFound)
	}
}

func TestPhotosStartATool(t *testing.T) {
	s := openShop(t)
	m := s.manager()
	s.person("Tech A", people.Technician)
	number := m.issued(1)[0]
	photos := m.sentPhotos(20, 21, 22)
	for i, kind := range []string{"label", "whole", "plate"} {
		photos[i].Kind = kind
	}
	in := wire.Photos{Number: number, Owner: "Tech A", Photos: photos}
	var filed wire.PhotosFiled
	m.post("/photos", in).want(http.StatusOK).into(&filed)
	if filed.Number == nil || *filed.Number != number || !filed.Started || len(filed.Photos) != 3 || filed.Photos[0].Already ||
		!strings.Contains(filed.Question, "IMG_22.jpg: sharpness 0") {
		t.Errorf("filed %+v", filed)
	}
	var tool wire.Tool
	r := m.get("/tools/" + number).want(http.StatusOK).into(&tool)
	if tool.Kind != "" || tool.Owner != "Tech A" || len(tool.Evidence) != 3 || len(tool.Advice) == 0 || !strings.HasPrefix(tool.Advice[0], "Not yet typed") {
		t.Errorf("started %+v", tool)
	}
	var history wire.History
	m.get("/tools/" + number + "/history").want(http.StatusOK).into(&history)

	// Twice changes nothing: no line, no revision.
	m.post("/photos", in).want(http.StatusOK).into(&filed)
	for _, p := range filed.Photos {
		if !p.Already || filed.Started {
			t.Errorf("filed again: %+v", filed)
		}
	}
	var again wire.History
	m.get("/tools/" + number + "/history").want(http.StatusOK).into(&again)
	if len(again.History) != len(history.History) {
		t.Errorf("%d lines, then %d", len(history.History), len(again.History))
	}

	// A price may be known before it is typed; the kind is not taken away again.
	m.patch("/tools/"+number, r.header("ETag"), `{"price":"289.00"}`).want(http.StatusOK)
	r = m.get("/tools/" + number)
	r = m.patch("/tools/"+number, r.header("ETag"), `{"kind":"impact wrench"}`).want(http.StatusOK).into(&tool)
	if tool.Kind != "impact wrench" || strings.HasPrefix(tool.Advice[0], "Not yet typed") {
		t.Errorf("typed %+v", tool)
	}
	m.patch("/tools/"+number, r.header("ETag"), `{"kind":""}`).refused(http.StatusUnprocessableEntity)
	m.post("/tools", `{"kind":""}`).refused(http.StatusUnprocessableEntity)
}

func TestPhotosRefused(t *testing.T) {
	s := openShop(t)
	m := s.manager()
	a := s.person("Tech A", people.Technician)
	free := m.issued(2)
	photos := m.sentPhotos(20)
	m.upload([]byte(aPDF))
	in := aTool("KD408B217")
	in.Owner = given("Tech A")
	theirs := a.registered(in)
	b := s.person("Tech B", people.Technician)
	mine := b.sentPhotos(25)
	for what, c := range map[string]struct {
		by     asker
		in     wire.Photos
		status int
	}{
		"none":                 {m, wire.Photos{Number: free[0]}, 422},
		"never issued":         {m, wire.Photos{Number: "00E-KM5", Photos: photos}, 404},
		"no number":            {m, wire.Photos{Number: "xyz", Photos: photos}, 422},
		"a kind of no kind":    {m, wire.Photos{Number: free[0], Photos: []wire.Attach{{Kind: "selfie", SHA256: photos[0].SHA256}}}, 422},
		"not uploaded":         {m, wire.Photos{Photos: []wire.Attach{{Kind: "other", SHA256: shaOf([]byte("x"))}}}, 422},
		"a PDF":                {m, wire.Photos{Number: free[0], Photos: []wire.Attach{{Kind: "other", SHA256: shaOf([]byte(aPDF))}}}, 422},
		"one twice":            {m, wire.Photos{Number: free[0], Photos: append(photos, photos...)}, 422},
		"no such owner":        {m, wire.Photos{Number: free[0], Owner: "Nobody", Photos: photos}, 422},
		"no such place":        {m, wire.Photos{Number: free[0], Place: "Nowhere", Photos: photos}, 422},
		"for another's tool":   {b, wire.Photos{Number: theirs.Number, Photos: mine}, 403},
		"a tool for another":   {b, wire.Photos{Number: free[0], Owner: "Tech A", Photos: mine}, 403},
		"of another's uploads": {b, wire.Photos{Number: free[0], Photos: photos}, 422},
	} {
		if r := c.by.post("/photos", c.in); r.Code != c.status {
			t.Errorf("%s: %d, want %d\n%s", what, r.Code, c.status, r.Body)
		}
	}
	m.get("/tools/" + free[0]).refused(http.StatusNotFound) // nothing was started by halves
}

func TestUnsortedPhotosAreFiledOneByOne(t *testing.T) {
	s := openShop(t)
	a, b, m := s.person("Tech A", people.Technician), s.person("Tech B", people.Technician), s.manager()
	a.post("/photos", wire.Photos{Photos: a.sentPhotos(20, 21, 22)}).want(http.StatusOK)
	var filed wire.PhotosFiled
	a.post("/photos", wire.Photos{Photos: a.sentPhotos(22, 23)}).want(http.StatusOK).into(&filed)
	if filed.Number != nil || filed.ID != nil || !filed.Photos[0].Already || filed.Photos[1].Already {
		t.Errorf("filed %+v", filed)
	}
	var list wire.Unsorted
	r := a.get("/unsorted?limit=3").want(http.StatusOK).into(&list)
	if len(list.Unsorted) != 3 || list.Next == nil || r.header("Link") == "" {
		t.Fatalf("listed %+v", list)
	}
	one := list.Unsorted[0]
	a.get("/unsorted?limit=3&cursor=" + *list.Next).want(http.StatusOK).into(&list)
	if len(list.Unsorted) != 1 || list.Next != nil || list.Unsorted[0].Name != "IMG_23.jpg" {
		t.Errorf("the second page: %+v", list)
	}
	a.get("/unsorted?cursor=x").refused(http.StatusBadRequest)
	a.get("/unsorted?limit=0").refused(http.StatusUnprocessableEntity)

	// A technician does not see another's; a manager sees all.
	b.get("/unsorted").want(http.StatusOK).into(&list)
	if len(list.Unsorted) != 0 {
		t.Errorf("another sees %+v", list)
	}
	b.get("/evidence/" + one.SHA256).refused(http.StatusNotFound)
	number := a.issued(1)[0]
	at := "/unsorted/" + one.ID + "/file"
	b.post(at, wire.FileUnder{Number: number, Kind: "plate"}).refused(http.StatusNotFound)
	m.get("/evidence/" + one.SHA256).want(http.StatusOK)

	a.post(at, wire.FileUnder{Number: number, Kind: "selfie"}).refused(http.StatusUnprocessableEntity)
	a.post(at, wire.FileUnder{Number: "00E-KM5", Kind: "plate"}).refused(http.StatusNotFound)
	a.post("/unsorted/E-00000000/file", wire.FileUnder{Number: number, Kind: "plate"}).refused(http.StatusNotFound)
	var done wire.Done
	a.post(at, wire.FileUnder{Number: number, Kind: "plate"}).want(http.StatusOK).into(&done)
	if done.Number != number || !strings.Contains(done.Question, "sharpness 0") {
		t.Errorf("filed %+v", done)
	}
	if p := a.post(at, wire.FileUnder{Number: number, Kind: "plate"}).refused(http.StatusConflict); p.Facts["number"] != number {
		t.Errorf("filed twice: %+v", p)
	}
	var tool wire.Tool
	a.get("/tools/" + number).want(http.StatusOK).into(&tool)
	if len(tool.Evidence) != 1 || tool.Evidence[0].Kind != "plate" || tool.Evidence[0].ID != one.ID {
		t.Errorf("the tool has %+v", tool.Evidence)
	}
	m.get("/unsorted").want(http.StatusOK).into(&list)
	if len(list.Unsorted) != 3 {
		t.Errorf("left: %+v", list)
	}
}

// "Dearest first": known price first, then the unpriced by oldest photo
// (DETAILS, "Forecast").
func TestUnfinishedToolsAreListedDearestFirst(t *testing.T) {
	s := openShop(t)
	m := s.manager()
	b := s.person("Tech B", people.Technician)
	n := m.issued(5)
	photos := m.sentPhotos(20, 21, 22, 23, 24)
	for i, number := range []string{n[3], n[0], n[1], n[2], n[4]} { // in the order of their photos
		m.post("/photos", wire.Photos{Number: number, Photos: photos[i : i+1]}).want(http.StatusOK)
	}
	for number, change := range map[string]string{n[1]: `{"price":"10.00"}`, n[2]: `{"price":"900.00","owner":"shop"}`, n[4]: `{"kind":"jack"}`} {
		etag := m.get("/tools/" + number).header("ETag")
		m.patch("/tools/"+number, etag, change).want(http.StatusOK)
	}
	m.registered(aTool("KD408B217"))
	pages := func(a asker) (all []string) {
		t.Helper()
		for next := ""; ; {
			var page wire.Tools
			a.get("/tools?unfinished=true&limit=3" + next).want(http.StatusOK).into(&page)
			for _, r := range page.Tools {
				all = append(all, r.Number)
				if r.Kind != "" {
					t.Errorf("%s is typed: %s", r.Number, r.Kind)
				}
			}
			if page.Next == nil {
				return all
			}
			next = "&cursor=" + *page.Next
		}
	}
	want := strings.Join([]string{n[2], n[1], n[3], n[0]}, " ")
	if got := strings.Join(pages(m), " "); got != want {
		t.Errorf("listed %s, want %s", got, want)
	}
	// To one who may not see prices they tell nothing, by order either.
	want = strings.Join([]string{n[3], n[0], n[1], n[2]}, " ")
	if got := strings.Join(pages(b), " "); got != want {
		t.Errorf("to a technician: %s, want %s", got, want)
	}
	m.get("/tools?unfinished=true&gone=true").refused(http.StatusBadRequest)
	m.get("/tools?unfinished=perhaps").refused(http.StatusUnprocessableEntity)
	m.get("/tools?unfinished=true&cursor=x").refused(http.StatusBadRequest)
}

func TestWhichToolIsIt(t *testing.T) {
	s := openShop(t)
	m := s.manager()
	m.post("/places", wire.NewPlace{Path: "Bay 1/Cart"}).want(http.StatusCreated)
	photos := m.sentPhotos(20, 21, 22)
	photos[0].Kind, photos[1].Kind, photos[2].Kind = "plate", "whole", "receipt"
	one := aTool("KD408B217")
	one.Place, one.Evidence = given("Bay 1/Cart"), photos
	first := m.registered(one)
	two := aTool("KD408B218")
	two.Maker = given("Corvane")
	second := m.registered(two)
	for query, want := range map[string]string{
		"?place=Bay+1&kind=impact+wrench": first.Number, "?maker=corvane": second.Number, "?words=corv": second.Number,
		"?kind=jack": "", "": first.Number + " " + second.Number,
	} {
		var got wire.Which
		m.get("/which" + query).want(http.StatusOK).into(&got)
		var numbers []string
		for _, r := range got.Tools {
			numbers = append(numbers, r.Number)
			if r.Number == first.Number && (len(r.Photos) != 2 || r.Photos[0].Kind != "whole" || r.Photos[1].SHA256 != photos[0].SHA256) {
				t.Errorf("photos %+v", r.Photos)
			}
		}
		if strings.Join(numbers, " ") != want {
			t.Errorf("%q: %q, want %q", query, numbers, want)
		}
	}
	var page wire.Which
	m.get("/which?limit=1").want(http.StatusOK).into(&page)
	m.get("/which?maker=Corvane&cursor=" + *page.Next).refused(http.StatusBadRequest) // not the list that it was given out for
	m.get("/which?cursor=" + *page.Next).want(http.StatusOK).into(&page)
	if len(page.Tools) != 1 || page.Tools[0].Number != second.Number {
		t.Errorf("the second page: %+v", page)
	}
	m.get("/which?place=Nowhere").refused(http.StatusNotFound)
	m.get("/which?limit=1000").refused(http.StatusUnprocessableEntity)
	m.get("/which?color=red").refused(http.StatusBadRequest)
}
