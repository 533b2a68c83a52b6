package page_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"image"
	"image/draw"
	"image/png"
	"io"
	"log/slog"
	"mime/multipart"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"pawl/api"
	"pawl/model"
	"pawl/model/needs"
	"pawl/model/people"
	"pawl/model/register"
)

// phone is a browser that nobody put in anybody's name: it is known by its
// cookie, or not at all.
func (b *bay) phone() *walker {
	b.Helper()
	jar, _ := cookiejar.New(nil) // it fails never
	server := httptest.NewServer(b.inner)
	b.Cleanup(server.Close)
	return &walker{bay: b, jar: jar, Client: http.Client{Jar: jar}, url: server.URL}
}

// wayIn is the path of the link that a page shows.
func (s shown) wayIn() string {
	s.Helper()
	_, secret, found := strings.Cut(text(s.Node), "/enter/")
	if !found {
		s.Fatalf("%s (%d) shows no link: %s", s.path, s.status, text(s.Node))
	}
	return "/enter/" + strings.Fields(secret)[0]
}

// letIn has a manager let a phone in for somebody, and takes the link there.
func (b *bay) letIn(name string) *walker {
	b.Helper()
	phone := b.phone()
	phone.open(b.linkFor(name)).press("Let this device in").with(200).says("This device is let in: " + name)
	return phone
}

func (b *bay) linkFor(name string) string {
	b.Helper()
	return b.boss.open(b.boss.open("/people").linkOf(name + " ")).press("Let a phone in").with(200).wayIn()
}

// linkOf is where the row leads that begins with that text.
func (s shown) linkOf(begins string) string {
	s.Helper()
	for _, a := range s.all("a", func(a *html.Node) bool { return strings.HasPrefix(text(a), begins) }) {
		return nodeAttr(a, "href")
	}
	s.Fatalf("%s has no row %q: %s", s.path, begins, text(s.Node))
	return ""
}

// A manager shows a code, a phone takes it with one button, and is known from
// there on. Looking does not use the link up; taking it does.
func TestAPhoneIsLetInByItsPages(t *testing.T) {
	b := openBay(t)
	link := b.linkFor("Tech A")
	phone, late := b.phone(), b.phone()
	phone.open("/today").with(401).says("This phone is not known here", "ask a manager for a link, or scan their screen", "Open the link")
	for range 3 {
		phone.open(link).with(200).says("This lets this device in as Tech A", "The link works once")
	}
	page := phone.open(link)
	page.press("Let this device in", "device= ").with(422).says("That was not done").keeps("device= ")
	page.press("Let this device in", "device=A's phone").with(200).says("This device is let in: Tech A", "Today")
	if at := phone.open("/me").with(200).says("You are a technician here", "A's phone (this one)"); at.path != "/me" {
		t.Errorf("led to %s", at.path)
	}
	late.open(link).with(404).says("it was used, or is over 15 minutes old", "Ask a manager", "Go on")
	late.open("/today").with(401)
	page.press("Let this device in").with(404).says("That was not done", "Go on")
	phone.open("/me").press("Sign out").with(200).says("Signed out", "How to come in")
	phone.open("/me").with(401)
}

// Whoever starts the first server comes in as the first manager, and says who
// they are.
func TestTheFirstManagerComesIn(t *testing.T) {
	b := openBay(t)
	if _, err := b.shop.RevokeDevice(t.Context(), model.By{Actor: computer}, b.boss.actor.Device); err != nil {
		t.Fatal(err)
	}
	e, err := b.shop.FirstManager(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	phone := b.phone()
	page := phone.open("/enter/"+e.Secret).with(200).says("Nobody leads this shop yet", "Your name")
	page.press("Let this device in", "device=my phone").with(422).says("That was not done").keeps("device=my phone")
	page.press("Let this device in", "name=Tech A", "device=my phone").with(409).says("Tech A is here already, as a technician").keeps("name=Tech A", "device=my phone")
	page.press("Let this device in", "name=Ann Holt", "device=my phone").with(200).says("This device is let in: Ann Holt")
	phone.open("/people").with(200).says("Ann Holt", "Add somebody")
}

// A link may be pasted too, and guesses are slowed down on a page of their own.
func TestLinksThatOpenNothing(t *testing.T) {
	b := openBay(t)
	phone := b.phone()
	phone.open("/enter").with(200).says("How to come in").press("Open the link", "link=https://tools.example/enter/AAAAAAAAAAAAAAAAAAAAAA").with(404).says("this link opens nothing")
	phone.open("/enter").press("Open the link", "link=hello there").with(422).says("that is not a link of this shop").keeps("link=hello there")
	for range 9 {
		phone.open("/enter/AAAAAAAAAAAAAAAAAAAAAB").with(404)
	}
	phone.open("/enter/AAAAAAAAAAAAAAAAAAAAAC").with(429).says("too many wrong tries", "wait", "open the newest link", "Ask a manager")
	phone.open(b.linkFor("Tech A")).with(200).press("Let this device in").with(200)
}

// Whoever makes a second link takes the first back.
func TestTwoLinksForOnePerson(t *testing.T) {
	b := openBay(t)
	first, second := b.linkFor("Tech A"), b.linkFor("Tech A")
	b.phone().open(first).with(404).says("a newer one took its place")
	b.phone().open(second).press("Let this device in").with(200)
	b.phone().open(first).with(404)
}

// A browser that is somebody's already says so before it becomes another's, and
// is not both after it.
func TestALinkOnAKnownPhone(t *testing.T) {
	b := openBay(t)
	phone := b.letIn("Tech A")
	other := phone.open(b.linkFor("Tech B")).with(200).says("This lets this device in as Tech B", "This device is let in as Tech A now. It stops being that.")
	b.boss.open("/devices").says("Tech A")
	other.press("Let this device in").with(200).says("This device is let in: Tech B")
	b.boss.open(b.boss.open("/people").linkOf("Tech A")).with(200).says("None.")
	phone.open(b.linkFor("Maren Oake")).says("This device is let in as Tech B now")
	b.phone().open(b.linkFor("Maren Oake")).with(200).without("It stops being that")
}

// The last manager stays one; with another, a manager steps back and is led to
// what they may still see.
func TestTheLastManager(t *testing.T) {
	b := openBay(t)
	ann := b.phone()
	ann.open(b.linkFor("Maren Oake")).press("Let this device in").with(200)
	page := ann.open(ann.open("/people").linkOf("Maren Oake "))
	page.press("Save", "role=technician").with(409).says("Maren Oake is the only manager who is let in here", "make somebody else a manager").keeps("role=technician")
	ann.open(page.path + "/leave").press("Maren Oake leaves now").with(409).says("Maren Oake is the only manager")
	b.person("Ann Holt", people.Manager) // with a device
	if at := ann.open(page.path).press("Save", "role=technician").with(200).says("Saved: Maren Oake"); at.path != "/today" {
		t.Errorf("led to %s", at.path)
	}
	ann.open(page.path).with(403)
	bo, phone := b.person("Bo Reyes", people.Manager), b.phone()
	phone.open(bo.open("/me").press("Let in another device of yours").wayIn()).press("Let this device in").with(200)
	phone.open("/people/" + bo.actor.Person + "/leave").press("Bo Reyes leaves now").with(200).says("Signed out")
	phone.open("/today").with(401)
}

var runOfCode = regexp.MustCompile(`M(\d+) (\d+)h(\d+)v1h-(\d+)z`)

// The code on the screen is square, dark on light, and has a quiet zone of four
// modules around it (ISO/IEC 18004).
func TestTheCodeOnTheScreen(t *testing.T) {
	b := openBay(t)
	page := b.boss.open(b.boss.open("/people").linkOf("Tech A")).press("Let a phone in")
	svg := page.all("svg", func(n *html.Node) bool { return nodeAttr(n, "class") == "qr" })
	if len(svg) != 1 {
		t.Fatalf("%d codes", len(svg))
	}
	var side, x, y, run int
	if _, err := fmt.Sscanf(nodeAttr(svg[0], "viewbox")+nodeAttr(svg[0], "viewBox"), "0 0 %d", &side); err != nil || (side-8-17)%4 != 0 {
		t.Fatalf("its side is %d modules: %v", side, err)
	}
	const dot = 4 // pixels of a module
	picture := image.NewGray(image.Rect(0, 0, dot*side, dot*side))
	draw.Draw(picture, picture.Rect, image.White, image.Point{}, draw.Src)
	dark, least, most := 0, side, 0
	for _, path := range (shown{page.walker, svg[0], 0, ""}).all("path", anyNode) {
		for _, m := range runOfCode.FindAllStringSubmatch(nodeAttr(path, "d"), -1) {
			if _, err := fmt.Sscan(m[1], &x); err != nil {
				t.Fatal(err)
			}
			if _, err := fmt.Sscan(m[2]+" "+m[3], &y, &run); err != nil || m[3] != m[4] {
				t.Fatal(m, err)
			}
			dark, least, most = dark+run, min(least, x, y), max(most, x+run, y+1)
			draw.Draw(picture, image.Rect(dot*x, dot*y, dot*(x+run), dot*(y+1)), image.Black, image.Point{}, draw.Src)
		}
	}
	if least != 4 || most != side-4 || dark < side*side/5 || dark > side*side/2 {
		t.Errorf("%d of %d dark modules from %d to %d", dark, side*side, least, most)
	}
	if got := readByOther(t, picture); got != page.wayIn() {
		t.Errorf("another reader reads %q, not %q", got, page.wayIn())
	}
}

// readByOther reads the QR code in a picture with zbarimg, a program of others.
func readByOther(t *testing.T, picture image.Image) string {
	t.Helper()
	zbarimg := needs.Program(t, "zbarimg")
	file := filepath.Join(t.TempDir(), "code.png")
	var b bytes.Buffer
	if err := png.Encode(&b, picture); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(file, b.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(zbarimg, "-q", "--raw", file).Output()
	if err != nil {
		t.Fatal(err)
	}
	return strings.TrimSpace(string(out))
}

// Devices stand in a list with their last use, and one tap shuts one out, at
// once; only a new link lets it in again.
func TestDevicesAreShutOut(t *testing.T) {
	b := openBay(t)
	early := b.boss.open(b.boss.open("/people").linkOf("Tech A"))
	phone := b.letIn("Tech A")
	b.boss.open(early.path).says("A phone of Tech A is let in already").without("Let a phone in")
	early.press("Let a phone in").with(409).says("Tech A has a device in force: computer", "if it is lost, revoke it first")
	second := b.phone()
	second.open(phone.open("/me").press("Let in another device of yours").with(200).wayIn()).press("Let this device in", "device=tablet").with(200)
	phone.open("/devices").with(200).says("tablet", "Tech A", "(this one)")
	b.boss.open("/devices").with(200).says("tablet", "Tech A", "last used")
	b.techB.open("/devices").without("tablet").without("Shut it out")
	phone.open("/me").press("Shut it out").with(200).says("tablet is shut out, from now on", "a new link")
	second.open("/today").with(401)
	page := b.boss.open(b.boss.open("/people").linkOf("Tech A"))
	page.press("Shut it out").with(200).says("is shut out", "None.")
	page.press("Shut it out").with(200) // the same form, sent twice
	b.boss.anew(page).press("Shut it out").says("It was shut out already.")
	phone.open("/today").with(401)
	b.letIn("Tech A").open("/today").with(200)
}

// A board and a viewer are let in by a manager alone; each begins where it has
// something to do.
func TestShopDevicesAndViewers(t *testing.T) {
	b := openBay(t)
	b.techA.open("/devices/add").with(403)
	page := b.boss.open("/devices/add")
	page.press("Make the link").with(422).keeps("kind=shop")
	page.press("Make the link", "kind=shop", "name=Board 1", "until=2027-01-01").with(422).says("only somebody outside has a last day").keeps("name=Board 1", "until=2027-01-01")
	page.press("Make the link", "kind=viewer", "name=Adjuster", "until=2020-01-01").with(422).says("2020-01-01 is over").keeps("name=Adjuster", "kind=viewer")
	board, viewer := b.phone(), b.phone()
	at := board.open(page.press("Make the link", "kind=shop", "name=Board 1").with(200).wayIn()).says("makes this device the shop's own: Board 1").press("Let this device in").with(200)
	at.says("This device is let in: Board 1", "Scan your badge, then the tools that you take")
	board.open("/").with(200)
	board.open("/me").with(200).says("This device is the shop's own", "Sign out").without("Prices and papers")
	board.open("/today").with(403).link("Go on")
	viewer.open(page.press("Make the link", "kind=viewer", "name=Adjuster", "until=2027-01-01").wayIn()).says("Adjuster, through 1 Jan 2027").press("Let this device in").with(200).says("let in to look", "Nothing has been shared with you yet", "until the end of 1 Jan 2027").without("Your devices", "Prices and papers")
	viewer.open("/people").with(403).says("Nothing has been shared with you yet")
	b.boss.open("/devices").says("Board 1", "the shop's", "Adjuster", "through 1 Jan 2027")
}

// A manager adds people and changes them; a technician sees who is there and who
// leads. What somebody else saved meanwhile is told, and what was typed stays.
func TestPeople(t *testing.T) {
	b := openBay(t)
	b.techA.open("/people").with(200).says("Maren Oake leads the shop", "Tech B").without("Add somebody")
	page := b.boss.open("/people")
	page.press("Add", "name=tech a", "role=viewer").with(409).says("there is a Tech A here already").keeps("name=tech a", "role=viewer")
	page.press("Add", "name=", "role=manager").with(422).keeps("role=manager")
	at := page.press("Add", "name=Tech C", "role=technician").with(200).says("Tech C is here now", "technician", "Let a phone in")
	old := b.boss.open(at.path)
	b.boss.open(at.path).press("Save", "name=Tech C", "role=manager").says("Saved: Tech C", "manager")
	again := old.press("Save", "name=Tech Cee", "role=technician").with(412).says("somebody saved other values", "on record now: manager", "on record now: Tech C").keeps("name=Tech Cee", "role=technician")
	again.press("Save").with(200).says("Saved: Tech Cee", "technician")
	b.techA.open(at.path).with(403)
}

// Somebody decides for themselves who sees what their tools cost.
func TestSharingAndLanguage(t *testing.T) {
	b := openBay(t)
	page := b.techA.open("/me").with(200).says("You are a technician here", "Your badge to print").keeps("shares=no")
	b.techA.open(page.link("Your badge to print (PDF)")).with(200)
	page.press("Take the copy (ZIP)").with(200)
	page.press("Save", "shares=yes").says("managers see the prices").keeps("shares=yes")
	b.techA.anew(page).press("Save", "shares=no").with(412).says("somebody saved other values")
	page = b.techA.open("/me").press("Use this language", "lang=es").says("este aparato habla español", "Usted es técnico aquí", "Idioma")
	if nodeAttr(page.all("html", anyNode)[0], "lang") != "es" {
		t.Error("the page is not said to be Spanish")
	}
	b.techA.open("/me").press("Usar este idioma", "lang=en").says("this device speaks English")
	b.techA.open("/me").press("Use this language", "lang=xx").with(422)
}

// A leave lists what is open with somebody, and goes on only when that is
// settled; their own tools go with them.
func TestLeaving(t *testing.T) {
	b := openBay(t)
	phone := b.letIn("Tech A")
	shops, own, lent := b.tool("impact wrench"), b.owned("caliper", "Tech A"), b.owned("multimeter", "Tech A")
	b.techA.open(shops).press("Take it")
	b.techB.open(lent).press("Take it")
	at := b.boss.open("/people").linkOf("Tech A") + "/leave"
	page := b.boss.open(at).with(200).says("impact wrench", "Tech A has it, and it belongs to", "multimeter", "Tech B has it: to be given back", "caliper", "they do not share")
	page.press("Tech A leaves now").with(409).says("there is still something to settle with Tech A", "impact wrench")
	page.press("Tech A leaves now", "settled=yes").with(200).says("Tech A has left. Own tools that went with them: 1", "shut out: 1").without("Tech A technician")
	b.boss.open(own).says("caliper")
	phone.open("/today").with(401)
	b.boss.open(at).with(409).says("Tech A left already")
}

// owned registers a tool of somebody's own.
func (b *bay) owned(kind, owner string) string {
	b.Helper()
	in := register.New{Change: register.Change{Kind: &kind, Owner: &owner}}
	done, err := b.shop.Register(b.Context(), model.By{Actor: computer}, in)
	if err != nil {
		b.Fatal(err)
	}
	return "/t/" + string(done.Number)
}

// Settings are a manager's to change and everybody's to read; a stale form tells
// what was saved meanwhile.
func TestSettings(t *testing.T) {
	b := openBay(t)
	b.techA.open("/settings").with(200).says("A manager changes these", "Our shop", "UTC", "US Letter").without("Save")
	old := b.boss.open("/settings").with(200).says("Anyone in that network can then read").keeps("zone=UTC", "plain_http=no")
	old.press("Save", "zone=Atlantis/Deep", "currency=XXQ", "name=Two Bays").with(422).says("Time zone", "Atlantis/Deep").keeps("zone=Atlantis/Deep", "currency=XXQ", "name=Two Bays")
	old.press("Save", "zone=America/Chicago", "name=Two Bays", "units=metric", "plain_http=yes").with(200).
		says("Saved", "looked at when the server is started the next time").keeps("zone=America/Chicago", "units=metric", "plain_http=yes")
	again := b.boss.anew(old).press("Save", "zone=America/Denver").with(412).says("somebody saved other values", "on record now: America/Chicago", "on record now: Two Bays").keeps("zone=America/Denver")
	again.press("Save").with(200).keeps("zone=America/Denver", "name=Our shop")
}

// Where the settings let plain HTTP be used, every page says what it means.
func TestPlainHTTPHasItsBanner(t *testing.T) {
	b := openBay(t)
	b.boss.open("/today").without("This connection is not safe")
	b.inner = api.New(b.shop, api.Options{Log: slog.New(slog.DiscardHandler), Version: "test", Plain: true})
	plain := b.phone()
	plain.open("/today").with(401).says("This connection is not safe")
	plain.open(b.linkFor("Tech A")).says("This connection is not safe").press("Let this device in").with(200).says("This connection is not safe")
}

// A form whose person is not known any more is told so by its script too, and
// nothing that was typed goes.
func TestTheScriptIsToldOfAStranger(t *testing.T) {
	b := openBay(t)
	r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, b.phone().url+"/me/share", strings.NewReader("shares=yes"))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Pawl-Script", "1")
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	var told struct{ Detail, Hint string }
	if err := json.NewDecoder(answer.Body).Decode(&told); err != nil || answer.StatusCode != 401 || told.Detail != "this phone is not known here" || !strings.Contains(told.Hint, "scan their screen") {
		t.Errorf("%d %+v %v", answer.StatusCode, told, err)
	}
	if got := answer.Header.Get("WWW-Authenticate"); got != "Bearer" {
		t.Errorf("WWW-Authenticate: %q", got) // RFC 9110 section 15.5.2
	}
}

// choose sends a form with a file in its picker.
func (s shown) choose(button, field, name string, file []byte) shown {
	s.Helper()
	for _, form := range s.all("form", anyNode) {
		named := func(n *html.Node) bool { return text(n) == button }
		if len((shown{s.walker, form, 0, ""}).all("button", named)) > 0 {
			return s.walker.sendFile(form, field, name, file)
		}
	}
	s.Fatalf("%s has no button %q", s.path, button)
	return s
}

func (p *walker) sendFile(form *html.Node, field, name string, file []byte) shown {
	p.Helper()
	var b bytes.Buffer
	w := multipart.NewWriter(&b)
	for key, all := range typedInto(form) {
		for _, v := range all {
			_ = w.WriteField(key, v) // to memory
		}
	}
	part, err := w.CreateFormFile(field, name)
	if err != nil {
		p.Fatal(err)
	}
	_, _ = part.Write(file) // to memory
	_ = w.Close()
	r, err := http.NewRequestWithContext(context.Background(), http.MethodPost, p.url+nodeAttr(form, "action"), &b)
	if err != nil {
		p.Fatal(err)
	}
	r.Header.Set("Content-Type", w.FormDataContentType())
	return p.send(r)
}

// At the shop's own computer, before anybody is there, every page has something
// to say.
func TestAnEmptyShop(t *testing.T) {
	h := open(t, computer)
	for path, says := range map[string]string{
		"/me": "You are a manager here", "/people": "Nobody is here yet", "/devices": "None.", "/devices/add": "For whom", "/settings": "Time zone",
		"/import": "Nothing is changed before you say so", "/enter": "How to come in", "/signed-out": "Signed out",
	} {
		if got := text(h.get(path, 200)); !strings.Contains(got, says) {
			t.Errorf("%s does not say %q: %s", path, says, got)
		}
	}
}

const aSheet = "Kind,Maker,Model,Serial #,Paint,Cost\n" +
	"impact wrench,Corvane,IW-12,KD408B217,red,277.31\n" +
	"caliper,Corvane,C-150,KD408B218,none,12O\n" +
	"torque wrench,Corvane,TW-2,KD408B219,red,199.00\n"

// A spreadsheet is looked at first; nothing changes before it is said so, and
// what is imported is what was looked at.
func TestImport(t *testing.T) {
	b := openBay(t)
	look := func() shown {
		return b.boss.open("/import").with(200).choose("Look at it", "spreadsheet", "tools.csv", []byte(aSheet))
	}
	b.boss.open("/import").press("Look at it").with(422).says("choose a file first")
	page := look().with(200).says("tools.csv", "Nothing is changed yet", "Paint", "it is not known what this column holds", "Say below what it is, or leave it out").without("--map", "Import")
	if got := b.tools(); got != 0 {
		t.Fatalf("looking made %d tools", got)
	}
	page = page.press("Look again", "k4=-").with(200).says("Tools to be added 2", "Rows at fault 1", "12O", "Import the 2 good rows, leave 1 out").without("Import 2 rows", "Import 3 rows")
	page.press("Import the 2 good rows, leave 1 out", "k5=-").with(409).says("you changed how the file is read", "Tools to be added 3", "Import 3 rows")
	if got := b.tools(); got != 0 {
		t.Fatalf("what was not looked at made %d tools", got)
	}
	done := page.press("Import the 2 good rows, leave 1 out").with(200).says("Tools added: 2", "Rows left out: 1. They are: 3.")
	if got := b.tools(); got != 2 || done.path != "/import" {
		t.Fatalf("%d tools, at %s", got, done.path)
	}
	page.press("Import the 2 good rows, leave 1 out").with(200).says("Tools added: 2") // the same form, sent twice
	if got := b.tools(); got != 2 {
		t.Fatalf("%d tools", got)
	}
	again := look().press("Look again", "k4=-", "k5=-").with(200).says("Rows that say nothing new 2", "Tools to be added 1")
	again.press("Import 1 row").says("Tools added: 1", "Left as they were: 2")
	look().press("Look again", "k4=-", "k5=-").says("nothing changes: all 3 rows are here already").without("Import 1 row")
}

// Where a title stands above the header, the page asks in which row the header is.
func TestImportUnderATitle(t *testing.T) {
	b := openBay(t)
	page := b.boss.open("/import").choose("Look at it", "spreadsheet", "tools.csv", []byte("Tools of bay 1\n\nKind,Maker,Serial #\ncaliper,Corvane,C-9\n")).with(200).
		says("this row does not read like the header, and row 3 does", "Say below in which row the header stands").without("--header-row", "What each column is taken for")
	page.press("Look again", "header_row=none").with(422).says("is not the number of a row")
	page.press("Look again", "header_row=3").with(200).says("Tools to be added 1").press("Import 1 row").says("Tools added: 1")
}

// A sheet of thousands of rows, all of them at fault, comes to a page of at most
// 60 kB: some of each sort, how many more, and the whole as a file. It is found
// again from there by whoever sent it, and by nobody else.
func TestImportOfThousands(t *testing.T) {
	b := openBay(t)
	const rows = 4000
	var sheet strings.Builder
	sheet.WriteString("Kind,Serial number,Owner,Place,Purchase date")
	for i := range 60 {
		fmt.Fprintf(&sheet, ",Column %d of a program of long ago", i)
	}
	sheet.WriteString("\n")
	for i := range rows {
		owner, month := fmt.Sprint("Nobody ", i), 1
		if i%2 == 0 { // of a row that cannot be read no more is asked
			owner, month = "", 13
		}
		fmt.Fprintf(&sheet, "caliper,CA-%d,%s,,2026-%02d-%02d%s\n", i, owner, month, i%28+1, strings.Repeat(",x", 60))
	}
	page := b.boss.open("/import").choose("Look at it", "spreadsheet", "tools.csv", []byte(sheet.String())).with(200).says("it is not known what this column holds")
	small := func(page shown) {
		t.Helper()
		var raw bytes.Buffer
		if err := html.Render(&raw, page.Node); err != nil {
			t.Fatal(err)
		}
		if raw.Len() > 60_000 {
			t.Errorf("the page has %d bytes, more than 60000", raw.Len())
		}
		t.Logf("%d bytes", raw.Len())
	}
	small(page)
	var left []string
	for i := range 60 {
		left = append(left, fmt.Sprintf("k%d=-", i+5))
	}
	page = page.press("Look again", left...).with(200).says("Rows below the header 4000", "Rows at fault 4000", "more like: Owner", "more like: Purchase date")
	small(page)
	report := page.pressForFile("The whole report (CSV)")
	if got := strings.Count(report, "Nobody "); got < rows/2 {
		t.Errorf("the report names %d owners, want %d", got, rows/2)
	}
	if got := strings.Count(report, "2026-13-"); got < rows/2 {
		t.Errorf("the report names %d days, want %d", got, rows/2)
	}
	kept := page.all("input", func(n *html.Node) bool { return nodeAttr(n, "name") == "kept" })
	if len(kept) != 1 || !strings.HasPrefix(nodeAttr(kept[0], "value"), "here:") {
		t.Fatal("the file travels with the page")
	}
	b.techA.open("/import").choose("Look at it", "spreadsheet", "tools.csv", []byte("Kind\ncaliper\n")).
		press("Look again", "kept="+nodeAttr(kept[0], "value")).with(422).says("choose it again")
}

// pressForFile sends the form of a button and gives the file that comes.
func (s shown) pressForFile(button string) string {
	s.Helper()
	for _, form := range s.all("form", anyNode) {
		at := shown{s.walker, form, 0, ""}
		for _, b := range at.all("button", func(n *html.Node) bool { return text(n) == button }) {
			in := typedInto(form)
			in.Set(nodeAttr(b, "name"), nodeAttr(b, "value"))
			r, err := http.NewRequestWithContext(s.Context(), http.MethodPost, s.url+nodeAttr(form, "action"), strings.NewReader(in.Encode()))
			if err != nil {
				s.Fatal(err)
			}
			r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
			answer, err := s.Do(r)
			if err != nil {
				s.Fatal(err)
			}
			defer answer.Body.Close()
			raw, err := io.ReadAll(answer.Body)
			if err != nil || answer.StatusCode != http.StatusOK || !strings.HasPrefix(answer.Header.Get("Content-Disposition"), "attachment") {
				s.Fatalf("%s: %d %q, %v", button, answer.StatusCode, answer.Header.Get("Content-Disposition"), err)
			}
			return string(raw)
		}
	}
	s.Fatalf("%s has no button %q", s.path, button)
	return ""
}

// A file that is no spreadsheet, and one that got lost on the way.
func TestImportRefuses(t *testing.T) {
	b := openBay(t)
	b.boss.open("/import").choose("Look at it", "spreadsheet", "photo.png", drawnPicture(1)).says("That was not done")
	page := b.techA.open("/import").choose("Look at it", "spreadsheet", "tools.csv", []byte("Kind,Place\ncaliper,Bay 9\n"))
	page.with(200).says("Make the place first").without("Make places that are missing")
	page.press("Look again", "kept=garbage").with(422).says("choose it again")
	page.press("Look again", "mapping=nothing").with(422).says("no mapping is kept under").keeps("mapping=nothing", "k0=kind")
	b.boss.open("/import").choose("Look at it", "spreadsheet", "tools.csv", []byte("Kind,Place\ncaliper,Bay 9\n")).
		press("Look again", "create_places=yes").says("Places to be made Bay 9").press("Import 1 row").says("Places made: 1")
}

// tools is how many tools there are.
func (b *bay) tools() int {
	b.Helper()
	rows, _, err := b.shop.Find(b.Context(), model.By{Actor: computer}, model.FindQuery{Limit: 200})
	if err != nil {
		b.Fatal(err)
	}
	return len(rows)
}
