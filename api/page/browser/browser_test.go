// Package browser opens the pages in a real browser, as a phone and as a
// desktop, with script and without, and does there what people do. It has no
// code of its own: all of it is a test.
package browser

import (
	"context"
	"encoding/json"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/dom"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/cdproto/storage"
	"github.com/chromedp/chromedp"

	"pawl/model/needs"
)

// patience is how long one thing may take to show in the browser. Nothing waits
// this long unless it is broken.
const patience = 20 * time.Second

// One browser serves all tests; each has a tab with cookies and storage of its
// own.
var chromium struct {
	sync.Once
	ctx  context.Context
	stop []context.CancelFunc
	dir  string // holds what its camera sees
	err  error
}

var errNoBrowser = errors.New("chromium is not installed: the pages are not opened in a browser")

func TestMain(m *testing.M) {
	code := m.Run()
	for i := len(chromium.stop) - 1; i >= 0; i-- {
		chromium.stop[i]()
	}
	for _, dir := range []string{chromium.dir, built.dir} {
		if dir != "" {
			os.RemoveAll(dir)
		}
	}
	os.Exit(code)
}

// cameraFile is what the camera of the browser sees. It is read when a page
// opens the camera.
func cameraFile() string { return filepath.Join(chromium.dir, "camera.y4m") }

// whichChromium: at the quick size the one that is built without windows, where it is
// installed beside the other. It draws and runs pages by the same code, and does not draw
// tabs and an address bar around each of them, which is half of the time of a test. From the
// size of CI on it is the one that people have.
func whichChromium() (path string, err error) {
	if os.Getenv("PAWL_SIZE") == "" {
		if path, err = exec.LookPath("chromium-headless-shell"); err == nil {
			return path, nil
		}
	}
	if path, err = exec.LookPath("chromium"); err != nil {
		return "", errNoBrowser
	}
	return path, nil
}

func startChromium() error {
	path, err := whichChromium()
	if err != nil {
		return err
	}
	if chromium.dir, err = os.MkdirTemp("", "pawl-browser-"); err != nil {
		return err
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.ExecPath(path),
		chromedp.UserDataDir(filepath.Join(chromium.dir, "profile")),
		chromedp.Flag("use-fake-device-for-media-stream", true),
		chromedp.Flag("use-fake-ui-for-media-stream", true), // the camera is allowed
		chromedp.Flag("use-file-for-fake-video-capture", cameraFile()),
		chromedp.Flag("host-resolver-rules", "MAP * ~NOTFOUND, EXCLUDE 127.0.0.1"),
	)
	if os.Geteuid() == 0 { // its sandbox does not work for root
		options = append(options, chromedp.NoSandbox)
	}
	ctx, stop := chromedp.NewExecAllocator(context.Background(), options...)
	chromium.stop = append(chromium.stop, stop)
	chromium.ctx, stop = chromedp.NewContext(ctx)
	chromium.stop = append(chromium.stop, stop)
	return chromedp.Do(chromium.ctx)
}

// browser gives the browser, or says that there is none: a word here, a failure
// where CI is set.
func browser(t testing.TB) context.Context {
	t.Helper()
	if testing.Short() {
		t.Skip("a browser takes its time")
	}
	chromium.Do(func() { chromium.err = startChromium() })
	switch {
	case errors.Is(chromium.err, errNoBrowser):
		needs.Missing(t, "%v", chromium.err)
	case chromium.err != nil:
		t.Fatal(chromium.err)
	}
	return chromium.ctx
}

// screen is what somebody looks at and types on.
type screen struct {
	name          string
	width, height int64
	touch         bool
	noScript      bool
}

var (
	small   = screen{name: "320 px", width: 320, height: 568, touch: true}
	phone   = screen{name: "360 px", width: 360, height: 800, touch: true}
	desktop = screen{name: "1280 px", width: 1280, height: 800}
)

func (s screen) plain() screen {
	s.noScript, s.name = true, s.name+" without script"
	return s
}

// tab is one person at one screen.
type tab struct {
	*testing.T
	*yard
	ctx  context.Context
	on   screen
	taps int // on anything but a field to type in

	shown  screen // as the browser was told last
	paints string

	mu       sync.Mutex
	asked    map[network.RequestID]ask
	document network.RequestID // of the page that was asked for last
	trouble  []string          // what the browser complained of
}

// ask is one request of a page.
type ask struct {
	url   string
	kind  network.ResourceType
	bytes float64 // that came over the line
}

// open opens a tab for a person; the tab closes when the test ends, and fails it
// if any request left the host or the browser complained.
func (y *yard) open(t *testing.T, who string, on screen) *tab {
	t.Helper()
	p := y.empty(t)
	p.sits(t, who, on)
	return p
}

// empty opens a tab that nobody sits at.
func (y *yard) empty(t *testing.T) *tab {
	t.Helper()
	ctx, stop := chromedp.NewContext(browser(t), chromedp.WithNewBrowserContext())
	p := &tab{T: t, yard: y, ctx: ctx, asked: map[network.RequestID]ask{}}
	t.Cleanup(stop)
	p.do(chromedp.Do(ctx))
	p.do(chromedp.Listen(ctx, p.heard))
	_, err := chromedp.Call(ctx, log.Enable, cdp.Empty{})
	p.do(err)
	return p
}

// sits has a person sit down at a tab, for the length of a test.
func (p *tab) sits(t *testing.T, who string, on screen) {
	t.Helper()
	p.T, p.on, p.taps = t, on, 0
	p.mu.Lock()
	p.asked, p.trouble = map[network.RequestID]ask{}, nil
	p.mu.Unlock()
	t.Cleanup(p.complain)
	p.see(on)
	_, err := chromedp.Call(p.ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: on.noScript})
	p.do(err)
	if who != "" {
		_, err := chromedp.Call(p.ctx, network.SetCookie, network.SetCookieParams{Name: "pawl", Value: p.enter(t, who), URL: p.url, HTTPOnly: new(true)})
		p.do(err)
	}
}

// complain fails the test of who sits there for what the browser saw.
func (p *tab) complain() {
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, a := range p.asked {
		if !strings.HasPrefix(a.url, p.url+"/") && !strings.HasPrefix(a.url, "data:") && !strings.HasPrefix(a.url, "blob:"+p.url+"/") {
			p.Errorf("a request left the host: %s", a.url)
		}
	}
	for _, what := range p.trouble {
		p.Errorf("the browser complains: %s", what)
	}
}

// cleared leaves the page for one that keeps nothing, and leaves nothing in the tab of who
// was there: no cookie and nothing that a page keeps. The service worker stays, and is passed
// by: a page that is seen for the first time has none.
func (p *tab) cleared() {
	p.Helper()
	p.visit("/offline")
	_, err := chromedp.Call(p.ctx, network.ClearBrowserCookies, cdp.Empty{})
	p.do(err)
	_, err = chromedp.Call(p.ctx, storage.ClearDataForOrigin, storage.ClearDataForOriginParams{Origin: p.url, StorageTypes: "local_storage,indexeddb"})
	p.do(err)
	_, err = chromedp.Call(p.ctx, network.SetBypassServiceWorker, network.SetBypassServiceWorkerParams{Bypass: true})
	p.do(err)
	_, err = chromedp.Call(p.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{})
	p.do(err)
	p.paints = ""
	eval[chromedp.Void](p, `() => sessionStorage.clear()`)
}

func (p *tab) heard(ev any) {
	p.mu.Lock()
	defer p.mu.Unlock()
	switch ev := ev.(type) {
	case *network.EventRequestWillBeSent:
		p.asked[ev.RequestID] = ask{url: ev.Request.URL, kind: ev.Type}
		if ev.Type == network.ResourceTypeDocument {
			p.document = ev.RequestID
		}
	case *network.EventLoadingFinished:
		if a, known := p.asked[ev.RequestID]; known {
			a.bytes = ev.EncodedDataLength
			p.asked[ev.RequestID] = a
		}
	case *runtime.EventExceptionThrown:
		what := ev.ExceptionDetails.Text
		if e := ev.ExceptionDetails.Exception; e != nil {
			what += " " + e.Description
		}
		p.trouble = append(p.trouble, what)
	case *log.EventEntryAdded:
		if ev.Entry.Source == log.EntrySourceSecurity || ev.Entry.Source == log.EntrySourceJavascript {
			p.trouble = append(p.trouble, ev.Entry.URL+": "+ev.Entry.Text)
		}
	}
}

func (p *tab) do(err error) {
	p.Helper()
	if err != nil {
		p.Fatal(err)
	}
}

// see changes the screen, unless it is that one already.
func (p *tab) see(on screen) {
	p.Helper()
	if on.name, on.noScript = "", false; on == p.shown {
		return
	}
	var options []chromedp.EmulateViewportOption
	if on.touch {
		options = append(options, chromedp.EmulateTouch, chromedp.EmulateMobile)
	}
	p.do(chromedp.Do(p.ctx, chromedp.EmulateViewport(on.width, on.height, options...)))
	p.shown = on
}

// paint switches between the light and the dark colors.
func (p *tab) paint(scheme string) {
	p.Helper()
	if scheme == p.paints {
		return
	}
	_, err := chromedp.Call(p.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
		Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}, {Name: "prefers-reduced-motion", Value: "reduce"}}})
	p.do(err)
	p.paints = scheme
}

// visit loads a page.
func (p *tab) visit(path string) {
	p.Helper()
	ctx, stop := context.WithTimeout(p.ctx, patience)
	defer stop()
	if err := chromedp.Do(ctx, chromedp.Navigate(p.url+path)); err != nil {
		p.Fatalf("%s: %v", path, err)
	}
}

// eval runs a script of the test in the page, which no policy of the page stops.
func eval[T any](p *tab, script string, in ...any) T {
	p.Helper()
	out, err := try[T](p, script, in...)
	if err != nil {
		p.Fatalf("%s: %v", p.where(), err)
	}
	return out
}

// try is eval where a page that is just leaving is no failure. The script is a
// function of the values.
func try[T any](p *tab, script string, in ...any) (T, error) {
	values := make([]string, len(in))
	for i, v := range in {
		raw, err := json.Marshal(v)
		p.do(err)
		values[i] = string(raw)
	}
	ctx, stop := context.WithTimeout(p.ctx, patience)
	defer stop()
	return chromedp.Run(ctx, chromedp.Evaluate[T]("("+script+")("+strings.Join(values, ",")+")", chromedp.EvalAwaitPromise))
}

// where is the path of the page.
func (p *tab) where() string {
	at, err := try[string](p, `() => location.pathname`)
	if err != nil {
		return "a page that is leaving"
	}
	return at
}

// until waits for the script to be true of the page.
func (p *tab) until(what, script string, in ...any) {
	p.Helper()
	tick := time.NewTicker(20 * time.Millisecond)
	defer tick.Stop()
	for limit := time.After(patience); ; {
		ok, err := try[bool](p, script, in...)
		if ok && err == nil {
			return
		}
		select {
		case <-tick.C:
		case <-limit:
			p.Fatalf("%s: still not so: %s (%v)\n%s", p.where(), what, err, p.text())
		}
	}
}

// leaves waits until what is done has loaded the next page.
func (p *tab) leaves(act func()) {
	p.Helper()
	eval[chromedp.Void](p, `() => { window.pawlBefore = true }`)
	act()
	p.until("the next page", nextPage)
}

const nextPage = `() => !window.pawlBefore && document.readyState === "complete"`

// left says whether the page that leaves began with has made room for the next.
func (p *tab) left() bool {
	left, err := try[bool](p, nextPage)
	return left && err == nil
}

// at fails unless the page has that path.
func (p *tab) at(path string) {
	p.Helper()
	if got := p.where(); got != path {
		p.Fatalf("at %s, want %s:\n%s", got, path, p.text())
	}
}

// text is what a person reads on the page.
func (p *tab) text() string {
	got, err := try[string](p, `() => document.body.innerText`)
	if err != nil {
		return err.Error()
	}
	return strings.Join(strings.Fields(got), " ")
}

// says waits until the page says it.
func (p *tab) says(what string) {
	p.Helper()
	p.until("it says "+what, `(what) => document.body.innerText.replace(/\s+/g, " ").includes(what)`, what)
}

// finder is a script that finds what a person points at: #…, .… and […] are CSS,
// anything else is the words on a link, button or label.
const finder = `(what) => {
	const seen = (e) => e.checkVisibility({ visibilityProperty: true }) && e.getClientRects().length > 0;
	const words = (e) => e.innerText.replace(/\s+/g, " ").trim();
	if (/^[#.\[]|^main /.test(what)) return [...document.querySelectorAll(what)].find(seen);
	const all = [...document.querySelectorAll("a, button, summary, label, [role=button]")].filter(seen);
	return all.find((e) => words(e) === what) || all.find((e) => words(e).startsWith(what));
}`

// point brings what a person points at onto the screen and gives its middle.
// What is covered by something else cannot be tapped.
func (p *tab) point(what string) (x, y float64) {
	p.Helper()
	type place struct {
		X, Y float64
		Why  string
	}
	look := `(what) => {
		const e = (` + finder + `)(what);
		if (!e) return { Why: "is not there" };
		if (e.disabled) return { Why: "is disabled" };
		e.scrollIntoView({ block: "center", behavior: "instant" });
		const r = e.getClientRects()[0], x = r.left + r.width / 2, y = r.top + r.height / 2;
		const top = document.elementFromPoint(x, y);
		if (!top || !(e.contains(top) || top.contains(e) && top.tagName === "LABEL")) return { Why: "is covered by " + (top && top.outerHTML.slice(0, 200)) };
		return { X: x, Y: y, Why: "" };
	}`
	p.until(what+" can be tapped", `(what) => (`+look+`)(what).Why === ""`, what)
	at := eval[place](p, look, what)
	if at.Why != "" {
		p.Fatalf("%s: %q %s:\n%s", p.where(), what, at.Why, p.text())
	}
	return at.X, at.Y
}

// tap touches, or clicks at a desktop, once.
func (p *tab) tap(what string) {
	p.Helper()
	x, y := p.point(what)
	p.taps++
	p.do(p.touch(x, y))
}

func (p *tab) touch(x, y float64) error {
	ctx, stop := context.WithTimeout(p.ctx, patience)
	defer stop()
	return p.touchWithin(ctx, x, y)
}

func (p *tab) touchWithin(ctx context.Context, x, y float64) error {
	if p.on.touch {
		return chromedp.Do(ctx, chromedp.TapXY(x, y))
	}
	return chromedp.Do(ctx, chromedp.MouseClickXY(x, y))
}

// write types into a field in place of what it holds.
func (p *tab) write(field, text string) {
	p.Helper()
	x, y := p.point(field)
	p.do(p.touch(x, y))
	p.until(field+" has the focus", `(what) => { const e = (`+finder+`)(what); if (document.activeElement !== e) { e.focus(); return false; } e.select?.(); return true; }`, field)
	_, err := chromedp.Call(p.ctx, input.InsertText, input.InsertTextParams{Text: text})
	p.do(err)
	p.until(field+" holds "+text, `(what, text) => (`+finder+`)(what).value === text`, field, text)
}

// set gives a field that is not typed into, as a date or a list, its value.
func (p *tab) set(field, value string) {
	p.Helper()
	p.taps += 2 // one opens it, one picks
	p.point(field)
	ok := eval[bool](p, `(what, value) => { const e = (`+finder+`)(what); e.value = value;
		for (const n of ["input", "change"]) e.dispatchEvent(new Event(n, { bubbles: true })); return e.value === value; }`, field, value)
	if !ok {
		p.Fatalf("%s: %s does not take %q", p.where(), field, value)
	}
}

// value is what a field holds.
func (p *tab) value(field string) string {
	p.Helper()
	return eval[string](p, `(what) => (`+finder+`)(what).value`, field)
}

// enterKey ends a field, as a scanner at the desk does.
func (p *tab) enterKey() {
	p.Helper()
	p.do(chromedp.Do(p.ctx, chromedp.KeyEvent("\r")))
}

// choose taps what opens the camera or the files of the phone, and takes those.
func (p *tab) choose(what string, files ...string) {
	p.Helper()
	ctx, stop := context.WithTimeout(p.ctx, patience)
	defer stop()
	_, err := chromedp.Call(ctx, page.SetInterceptFileChooserDialog, page.SetInterceptFileChooserDialogParams{Enabled: true})
	p.do(err)
	x, y := p.point(what)
	p.taps++
	opened, err := chromedp.Run(ctx, chromedp.WaitEvent(page.FileChooserOpened, nil, func(context.Context, *chromedp.Target) (chromedp.Void, error) {
		return chromedp.Void{}, p.touch(x, y)
	}))
	if err != nil {
		p.Fatalf("%s: %q opens no picker: %v", p.where(), what, err)
	}
	_, err = chromedp.Call(ctx, dom.SetFileInputFiles, dom.SetFileInputFilesParams{Files: files, BackendNodeID: opened.BackendNodeID})
	p.do(err)
}
