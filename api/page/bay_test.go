package page_test

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/png"
	"io"
	"log/slog"
	"mime/multipart"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"golang.org/x/net/html"

	"pawl/api"
	"pawl/api/client"
	"pawl/model"
	"pawl/model/people"
	"pawl/model/register"
)

// bay is a shop of three people with some tools. Each asks by a phone of their
// own, as a browser without script does.
type bay struct {
	*testing.T
	shop  *model.Shop
	inner http.Handler
	boss  *walker
	techA *walker
	techB *walker
}

// walker keeps one person's cookies.
type walker struct {
	*bay
	actor people.Actor
	jar   http.CookieJar
	http.Client
	url    string
	lang   string // Accept-Language
	script bool   // forms are sent by the page's script, which is answered in JSON
}

func openBay(t *testing.T) *bay {
	t.Helper()
	return openBayAt(t, time.Second)
}

// openBayAt opens one whose clock goes on by that much whenever it is read.
func openBayAt(t *testing.T, pace time.Duration) *bay {
	t.Helper()
	now := time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)
	shop, err := model.Open(t.Context(), model.Options{Dir: t.TempDir(), Clock: func() time.Time { now = now.Add(pace); return now }})
	if err != nil {
		t.Fatal(err)
	}
	b := &bay{T: t, shop: shop, inner: api.New(shop, api.Options{Log: slog.New(slog.DiscardHandler), Version: "test"})}
	t.Cleanup(func() {
		v, err := shop.Verify(context.Background(), model.By{Actor: computer}, model.VerifyQuery{})
		if err != nil || len(v.Problems) > 0 {
			t.Errorf("the shop does not verify: %v %v", v.Problems, err)
		}
		if err := shop.Close(); err != nil {
			t.Error(err)
		}
	})
	b.boss, b.techA, b.techB = b.person("Maren Oake", people.Manager), b.person("Tech A", people.Technician), b.person("Tech B", people.Technician)
	return b
}

func (b *bay) person(name string, role people.Role) *walker {
	b.Helper()
	p, err := b.shop.AddPerson(b.Context(), model.By{Actor: computer}, model.NewPerson{Name: name, Role: string(role)})
	if err != nil {
		b.Fatal(err)
	}
	as := people.Actor{Person: p.ID, Name: p.Name, Role: role, Via: people.ViaDevice, Device: "D-TEST"}
	if role == people.Manager { // whose links open something only while their device is in force
		as.Device = b.device(name)
	}
	return b.walker(as)
}

// device lets a device in for somebody, and gives its id.
func (b *bay) device(name string) string {
	b.Helper()
	e, err := b.shop.Enroll(b.Context(), model.By{Actor: computer}, name)
	if err != nil {
		b.Fatal(err)
	}
	in, err := b.shop.Enter(b.Context(), model.Entry{Secret: e.Secret, Device: "desk of " + name}, "192.0.2.7") // RFC 5737 section 3
	if err != nil {
		b.Fatal(err)
	}
	return in.ID
}

func (b *bay) walker(as people.Actor) *walker {
	jar, _ := cookiejar.New(nil) // it fails never
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		b.inner.ServeHTTP(w, r.WithContext(client.WithActor(r.Context(), as)))
	}))
	b.Cleanup(server.Close)
	return &walker{bay: b, actor: as, jar: jar, Client: http.Client{Jar: jar}, url: server.URL}
}

// tool registers one and gives the path of its page.
func (b *bay) tool(kind string, pieces ...register.Piece) string {
	b.Helper()
	in := register.New{Change: register.Change{Kind: &kind}}
	if len(pieces) > 0 {
		all := register.Pieces(pieces)
		in.Pieces = &all
	}
	done, err := b.shop.Register(b.Context(), model.By{Actor: computer}, in)
	if err != nil {
		b.Fatal(err)
	}
	return "/t/" + string(done.Number)
}

// shown is a page that was loaded.
type shown struct {
	*walker
	*html.Node
	status int
	path   string
}

func (p *walker) open(path string) shown {
	p.Helper()
	r, err := http.NewRequestWithContext(p.Context(), http.MethodGet, p.url+path, nil)
	if err != nil {
		p.Fatal(err)
	}
	return p.send(r)
}

// send follows where it is sent.
func (p *walker) send(r *http.Request) shown {
	p.Helper()
	r.Header.Set("Accept-Language", p.lang)
	if p.script && r.Method == http.MethodPost {
		r.Header.Set("Pawl-Script", "1")
	}
	answer, err := p.Do(r)
	if err != nil {
		p.Fatal(err)
	}
	defer answer.Body.Close()
	raw, err := io.ReadAll(answer.Body)
	if err != nil {
		p.Fatal(err)
	}
	page, err := html.Parse(bytes.NewReader(raw))
	if err != nil {
		p.Fatal(err)
	}
	return shown{p, page, answer.StatusCode, answer.Request.URL.Path}
}

// says fails unless the page says all of it.
func (s shown) says(all ...string) shown {
	s.Helper()
	for _, want := range all {
		if got := text(s.Node); !strings.Contains(got, want) {
			s.Errorf("%s (%d) does not say %q: %s", s.path, s.status, want, got)
		}
	}
	return s
}

func (s shown) without(all ...string) shown {
	s.Helper()
	for _, not := range all {
		if got := text(s.Node); strings.Contains(got, not) {
			s.Errorf("%s says %q: %s", s.path, not, got)
		}
	}
	return s
}

func (s shown) with(status int) shown {
	s.Helper()
	if s.status != status {
		s.Errorf("%s: status %d, want %d: %s", s.path, s.status, status, text(s.Node))
	}
	return s
}

func (s shown) all(tag string, fits func(*html.Node) bool) (out []*html.Node) {
	for n := range s.Descendants() {
		if n.Type == html.ElementNode && n.Data == tag && fits(n) {
			out = append(out, n)
		}
	}
	return out
}

func nodeAttr(n *html.Node, name string) string {
	for _, a := range n.Attr {
		if a.Key == name {
			return a.Val
		}
	}
	return ""
}

func nodeHas(n *html.Node, name string) bool {
	return slices.ContainsFunc(n.Attr, func(a html.Attribute) bool { return a.Key == name })
}

// link is where the link of that text leads.
func (s shown) link(says string) string {
	s.Helper()
	for _, a := range s.all("a", func(a *html.Node) bool { return text(a) == says }) {
		return nodeAttr(a, "href")
	}
	s.Fatalf("%s has no link %q: %s", s.path, says, text(s.Node))
	return ""
}

// keeps fails unless the page's forms hold what was typed.
func (s shown) keeps(typed ...string) shown {
	s.Helper()
	for _, t := range typed {
		name, value, _ := strings.Cut(t, "=")
		kept := slices.ContainsFunc(s.all("form", anyNode), func(f *html.Node) bool { return slices.Contains(typedInto(f)[name], value) })
		if !kept {
			s.Errorf("%s lost %s: %s", s.path, t, text(s.Node))
		}
	}
	return s
}

func anyNode(*html.Node) bool { return true }

// anew is an old page whose forms have keys that were never used: the page as
// another window of the same person has it.
func (p *walker) anew(old shown) shown {
	for n := range old.Descendants() {
		if n.Data == "input" && nodeAttr(n, "name") == "key" {
			for i := range n.Attr {
				if n.Attr[i].Key == "value" {
					n.Attr[i].Val += "-anew"
				}
			}
		}
	}
	return old
}

// press presses the button of that text in its form, with what is typed into
// its other fields: "name=value", "name=@" for a picture.
func (s shown) press(button string, typed ...string) shown {
	s.Helper()
	for _, form := range s.all("form", anyNode) {
		f := shown{s.walker, form, 0, s.path}
		for _, b := range f.all("button", func(b *html.Node) bool { return text(b) == button }) {
			return s.walker.submit(form, b, typed)
		}
	}
	s.Fatalf("%s has no button %q in a form: %s", s.path, button, text(s.Node))
	return s
}

// typedInto is what a browser would send of a form.
func typedInto(form *html.Node) url.Values {
	values := url.Values{}
	for n := range form.Descendants() {
		name := nodeAttr(n, "name")
		if n.Type != html.ElementNode || name == "" && n.Data != "option" {
			continue
		}
		switch {
		case n.Data == "input" && (nodeAttr(n, "type") == "radio" || nodeAttr(n, "type") == "checkbox"):
			if nodeHas(n, "checked") {
				values.Add(name, nodeAttr(n, "value"))
			}
		case n.Data == "input" && nodeAttr(n, "type") != "file":
			values.Add(name, nodeAttr(n, "value"))
		case n.Data == "textarea":
			values.Add(name, text(n))
		case n.Data == "option" && nodeHas(n, "selected"):
			values.Add(nodeAttr(n.Parent, "name"), nodeAttr(n, "value"))
		}
	}
	return values
}

func (p *walker) submit(form, button *html.Node, typed []string) shown {
	p.Helper()
	values, set := typedInto(form), map[string]bool{}
	var photos []string
	for _, t := range typed {
		name, value, _ := strings.Cut(t, "=")
		if value == "@" {
			photos = append(photos, name)
			continue
		}
		if !set[name] {
			values.Del(name)
			set[name] = true
		}
		values.Add(name, value)
	}
	if name := nodeAttr(button, "name"); name != "" {
		values.Add(name, nodeAttr(button, "value"))
	}
	to := p.url + nodeAttr(form, "action")
	if strings.EqualFold(nodeAttr(form, "method"), "get") {
		return p.open(nodeAttr(form, "action") + "?" + values.Encode())
	}
	body, kind := io.Reader(strings.NewReader(values.Encode())), "application/x-www-form-urlencoded"
	if nodeAttr(form, "enctype") == "multipart/form-data" {
		body, kind = multipartOf(p.T, values, photos)
	}
	r, err := http.NewRequestWithContext(p.Context(), http.MethodPost, to, body)
	if err != nil {
		p.Fatal(err)
	}
	r.Header.Set("Content-Type", kind)
	return p.send(r)
}

// multipartOf is a form with pictures.
func multipartOf(t *testing.T, values url.Values, photos []string) (io.Reader, string) {
	t.Helper()
	var b bytes.Buffer
	w := multipart.NewWriter(&b)
	for name, all := range values {
		for _, v := range all {
			if err := w.WriteField(name, v); err != nil {
				t.Fatal(err)
			}
		}
	}
	for i, name := range photos {
		f, err := w.CreateFormFile(name, fmt.Sprintf("photo-%d.png", i))
		if err != nil {
			t.Fatal(err)
		}
		if _, err := f.Write(drawnPicture(uint8(i))); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return &b, w.FormDataContentType()
}

// drawnPicture is a small PNG; another shade is another picture.
func drawnPicture(shade uint8) []byte {
	img := image.NewGray(image.Rect(0, 0, 64, 48))
	img.Pix[0] = shade
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		panic(err) // to memory
	}
	return b.Bytes()
}

// named gives a tool its maker and model.
func (b *bay) named(v model.ToolView, maker, name string) {
	b.Helper()
	_, err := b.shop.ChangeTool(b.Context(), model.By{Actor: computer}, string(v.Tool.Number), v.Tool.Rev, register.Change{Maker: &maker, Model: &name})
	if err != nil {
		b.Fatal(err)
	}
}
