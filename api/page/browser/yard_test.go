package browser

import (
	"bufio"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/jpeg"
	"image/png"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"pawl/api"
	"pawl/labels"
	"pawl/model"
	"pawl/model/demo"
	"pawl/model/people"
	"pawl/model/register"
	"pawl/model/settings"
)

// yard is a shop that is served, with what may go wrong on the way to it.
type yard struct {
	shop   *model.Shop
	url    string
	wrench string // number of a tool, as in an address
	second string // of another, where there is one

	mu        sync.Mutex
	line      line
	unguarded map[string]string // answers without what guards them, by path and header
}

// line is what the connection between a phone and the shop does.
type line int

const (
	works line = iota
	cut        // nothing arrives
	deaf       // what is asked is done, and the answer is lost
)

// guarded is what every answer must say to a browser: nothing from elsewhere,
// nothing inline (W3C CSP Level 3; OWASP ASVS 5.0, 3.4.3, 3.4.4 and 3.4.6).
var guarded = map[string]string{
	"Content-Security-Policy": "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; connect-src 'self'; manifest-src 'self'; " +
		"worker-src 'self'; form-action 'self'; base-uri 'none'; object-src 'none'; frame-ancestors 'none'",
	"X-Content-Type-Options":       "nosniff",
	"Permissions-Policy":           "camera=(self), microphone=(), geolocation=()",
	"Cross-Origin-Opener-Policy":   "same-origin",
	"Cross-Origin-Resource-Policy": "same-origin",
}

var computer = model.By{Actor: people.Actor{Role: people.Manager, Via: people.ViaLocal}}

// openYard serves a shop of three people and one tool.
func openYard(t *testing.T) *yard {
	t.Helper()
	y := &yard{}
	y.serve(t, model.Options{Dir: t.TempDir()})
	ctx := t.Context()
	set, err := y.shop.Settings(ctx)
	if err != nil {
		t.Fatal(err)
	}
	name, zone := "Gull Lane Garage", "America/Chicago"
	if _, err := y.shop.ChangeSettings(ctx, computer, set.Rev, settings.Change{Name: &name, Zone: &zone}); err != nil {
		t.Fatal(err)
	}
	for _, p := range []model.NewPerson{{Name: "Maren Oake", Role: "manager"}, {Name: "Tech A", Role: "technician"}, {Name: "Tech B", Role: "technician"}} {
		if _, err := y.shop.AddPerson(ctx, computer, p); err != nil {
			t.Fatal(err)
		}
	}
	y.wrench = y.tool(t, "torque wrench", "TW-40017")
	return y
}

// built is the demo's shop, which takes long to build: every test has a copy.
var built struct {
	sync.Once
	demo.Built
	dir   string
	clock *demo.Clock
	err   error
}

func buildDemo() (err error) {
	if built.dir, err = os.MkdirTemp("", "pawl-demo-"); err != nil {
		return err
	}
	built.clock = demo.NewClock()
	shop, err := model.Open(context.Background(), model.Options{Dir: built.dir, Clock: built.clock.Now, Chance: demo.NewChance("browser"), Batch: 100})
	if err != nil {
		return err
	}
	built.Built, err = demo.Build(context.Background(), shop, built.clock)
	return errors.Join(err, shop.Close())
}

// openDemo serves the demo's shop.
func openDemo(t *testing.T) *yard {
	t.Helper()
	built.Do(func() { built.err = buildDemo() })
	if built.err != nil {
		t.Fatal(built.err)
	}
	dir := filepath.Join(t.TempDir(), "shop")
	if err := os.CopyFS(dir, os.DirFS(built.dir)); err != nil {
		t.Fatal(err)
	}
	y := &yard{wrench: inAddress(built.Wrench)}
	y.serve(t, model.Options{Dir: dir, Clock: built.clock.Now, Chance: demo.NewChance(t.Name()), Batch: 100})
	return y
}

// inAddress is a tool's number as it stands in the address of its page.
func inAddress(number string) string { return strings.ReplaceAll(number, "-", "") }

func (y *yard) serve(t *testing.T, o model.Options) {
	t.Helper()
	shop, err := model.Open(t.Context(), o)
	if err != nil {
		t.Fatal(err)
	}
	y.shop, y.unguarded = shop, map[string]string{}
	served := api.New(shop, api.Options{Log: slog.New(slog.DiscardHandler), Version: "test"})
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { y.answer(served, w, r) }))
	y.url = server.URL
	t.Cleanup(func() {
		server.Close()
		y.mu.Lock()
		defer y.mu.Unlock()
		for what, got := range y.unguarded {
			t.Errorf("%s is %q", what, got)
		}
		v, err := shop.Verify(context.Background(), computer, model.VerifyQuery{})
		if err != nil || len(v.Problems) > 0 {
			t.Errorf("the shop does not verify: %v %v", v.Problems, err)
		}
		if err := shop.Close(); err != nil {
			t.Error(err)
		}
	})
}

// answer is what a request gets at the end of the line. A connection that is
// closed without a word is what a browser sees of a dead spot.
func (y *yard) answer(served http.Handler, w http.ResponseWriter, r *http.Request) {
	y.mu.Lock()
	line := y.line
	y.mu.Unlock()
	if line == cut {
		panic(http.ErrAbortHandler)
	}
	if line == deaf && r.Method != http.MethodGet && r.Method != http.MethodHead {
		served.ServeHTTP(httptest.NewRecorder(), r)
		panic(http.ErrAbortHandler)
	}
	served.ServeHTTP(w, r)
	for name, want := range guarded {
		got := w.Header().Get(name)
		if program := strings.HasPrefix(r.URL.Path, api.Prefix); program && (strings.HasPrefix(strings.TrimPrefix(got, "sandbox; "), "default-src 'none'; ") || strings.HasPrefix(got, "camera=(), ")) {
			continue // of what no page is: narrower still
		}
		if got != want {
			y.mu.Lock()
			y.unguarded[r.URL.Path+": "+name] = got
			y.mu.Unlock()
		}
	}
}

// is sets what the connection does from now on.
func (y *yard) is(l line) {
	y.mu.Lock()
	defer y.mu.Unlock()
	y.line = l
}

// tool registers one.
func (y *yard) tool(t *testing.T, kind, serial string) (number string) {
	t.Helper()
	done, err := y.shop.Register(t.Context(), computer, register.New{Change: register.Change{Kind: &kind, Serial: &serial}, SerialAgain: serial})
	if err != nil {
		t.Fatal(err)
	}
	return string(done.Number)
}

// link makes a way in for a person.
func (y *yard) link(t *testing.T, who string) (secret string) {
	t.Helper()
	e, err := y.shop.Enroll(t.Context(), computer, who)
	if err != nil {
		t.Fatal(err)
	}
	return e.Secret
}

// enter lets a device of a person in and gives what its cookie holds. The board
// is the shop's own, the visitor a viewer.
func (y *yard) enter(t *testing.T, who string) (cookie string) {
	t.Helper()
	var e model.Enrolment
	var err error
	switch who {
	case "the board":
		e, err = y.shop.EnrollShopDevice(t.Context(), computer, fmt.Sprintf("board %d", len(t.Name())))
	case "a visitor":
		e, err = y.shop.EnrollViewer(t.Context(), computer, "Visitor", "2099-12-31", "")
	default:
		e, err = y.shop.Enroll(t.Context(), computer, who)
	}
	if err != nil {
		t.Fatal(err)
	}
	in, err := y.shop.Enter(t.Context(), model.Entry{Secret: e.Secret, Device: "test browser"}, "127.0.0.1")
	if err != nil {
		t.Fatal(err)
	}
	return in.Secret
}

// get asks for a page as somebody, as a browser without script would.
func (y *yard) get(t *testing.T, who, path string) (body []byte, status int) {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, y.url+path, nil)
	if err != nil {
		t.Fatal(err)
	}
	if who != "" {
		r.AddCookie(&http.Cookie{Name: "pawl", Value: y.enter(t, who)})
	}
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	if body, err = io.ReadAll(answer.Body); err != nil {
		t.Fatal(err)
	}
	return body, answer.StatusCode
}

// upload keeps a photo of a person, of no tool yet.
func (y *yard) upload(t *testing.T, who, path string) (sha string) {
	t.Helper()
	raw, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	actor, err := y.shop.ActorNamed(t.Context(), who)
	if err != nil {
		t.Fatal(err)
	}
	sum := sha256.Sum256(raw)
	sha = hex.EncodeToString(sum[:])
	up := model.Upload{SHA256: sha, Name: filepath.Base(path), MediaType: "image/jpeg", Size: int64(len(raw))}
	if _, _, err := y.shop.StoreOriginal(t.Context(), model.By{Actor: actor}, up, bytes.NewReader(raw)); err != nil {
		t.Fatal(err)
	}
	return sha
}

// acts is how many acts of that verb are in the history of a tool; one act may
// leave several lines.
func (y *yard) acts(t *testing.T, number, verb string) int {
	t.Helper()
	lines, _, err := y.shop.History(t.Context(), computer, number, 200, "")
	if err != nil {
		t.Fatal(err)
	}
	acts := map[int64]bool{}
	for _, l := range lines {
		if l.Verb == verb {
			acts[l.Act] = true
		}
	}
	return len(acts)
}

// paper is a drawn picture as a phone would take it, each its own.
func paper(t *testing.T, name string) (path string) {
	t.Helper()
	img := image.NewRGBA(image.Rect(0, 0, 1200, 900))
	draw.Draw(img, img.Bounds(), image.NewUniform(color.RGBA{R: uint8(len(name) * 11), G: name[0], B: 190, A: 255}), image.Point{}, draw.Src)
	for i := range 600 {
		img.Set(100+i, 200+i%len(name), color.Black)
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, nil); err != nil {
		t.Fatal(err)
	}
	path = filepath.Join(t.TempDir(), name+".jpg")
	if err := os.WriteFile(path, b.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// film makes the camera of the browser see a picture: the YUV4MPEG2 format,
// gray, a few frames that repeat (format: mjpegtools, yuv4mpeg(5)).
func film(t *testing.T, seen image.Image) {
	t.Helper()
	const w, h, frames = 640, 480, 3
	frame := image.NewGray(image.Rect(0, 0, w, h))
	draw.Draw(frame, frame.Bounds(), image.White, image.Point{}, draw.Src)
	at := image.Pt((w-seen.Bounds().Dx())/2, (h-seen.Bounds().Dy())/2)
	draw.Draw(frame, seen.Bounds().Sub(seen.Bounds().Min).Add(at), seen, seen.Bounds().Min, draw.Src)
	f, err := os.Create(cameraFile())
	if err != nil {
		t.Fatal(err)
	}
	out := bufio.NewWriter(f)
	fmt.Fprintf(out, "YUV4MPEG2 W%d H%d F10:1 Ip A1:1 C420mpeg2\n", w, h)
	for range frames {
		out.WriteString("FRAME\n")
		out.Write(frame.Pix)
		out.Write(bytes.Repeat([]byte{128}, w*h/2))
	}
	if err := out.Flush(); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
}

// drawn is a label as it comes out of the printer.
func drawn(t *testing.T, text labels.Text) image.Image {
	t.Helper()
	var b bytes.Buffer
	if err := labels.PNG(&b, text, labels.PNGOptions{DPI: 300}); err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(&b)
	if err != nil {
		t.Fatal(err)
	}
	return img
}
