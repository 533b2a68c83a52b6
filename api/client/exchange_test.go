package client_test

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"log"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"go.uber.org/goleak"

	"pawl/api/client"
	"pawl/api/wire"
	"pawl/model/fault"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// side is one of the two ways to reach a handler.
type side struct {
	name string
	open func(t testing.TB, h http.Handler) (*http.Client, string)
}

var sides = []side{{"in process", inProcess}, {"loopback", loopback}}

func inProcess(_ testing.TB, h http.Handler) (*http.Client, string) {
	return &http.Client{Transport: client.InProcess{Handler: h}}, "http://pawl.invalid"
}

// loopback is a real server on this machine's own address, with a recovery such
// as the API has: net/http answers nothing at all when a handler panics.
func loopback(t testing.TB, h http.Handler) (*http.Client, string) {
	server := httptest.NewUnstartedServer(recovering(h))
	server.Config.ErrorLog = log.New(io.Discard, "", 0)
	server.Start()
	rt := &http.Transport{DisableCompression: true}
	t.Cleanup(func() {
		rt.CloseIdleConnections()
		server.Close()
	})
	return &http.Client{Transport: rt}, server.URL
}

// marked remembers whether anything was written.
type marked struct {
	http.ResponseWriter
	wrote bool
}

func (m *marked) WriteHeader(code int) {
	m.wrote = true
	m.ResponseWriter.WriteHeader(code)
}

func (m *marked) Write(p []byte) (int, error) {
	m.wrote = true
	return m.ResponseWriter.Write(p)
}

func (m *marked) Unwrap() http.ResponseWriter { return m.ResponseWriter }

func recovering(h http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		m := &marked{ResponseWriter: w}
		defer func() {
			switch v := recover(); {
			case v == nil:
			case v == http.ErrAbortHandler || m.wrote:
				panic(http.ErrAbortHandler)
			default:
				clear(w.Header())
				wire.WriteProblem(w, errors.New("panic"), "")
			}
		}()
		h.ServeHTTP(m, r)
	})
}

// outcome is all that a client can tell of an exchange, less the date.
type outcome struct {
	status int
	length int64
	header string
	body   string // as text, or length and hash of a long one
	failed string // how: canceled, cut off, ...; empty for success
	more   string // what the case itself noted
}

var errMine = errors.New("the disk of the client failed")

// class sorts errors as far as the two ways can agree on them.
func class(err error) string {
	switch {
	case err == nil:
		return ""
	case errors.Is(err, errMine):
		return "client's own"
	case errors.Is(err, context.Canceled):
		return "canceled"
	case errors.Is(err, context.DeadlineExceeded):
		return "too slow"
	case errors.Is(err, io.EOF), errors.Is(err, io.ErrUnexpectedEOF):
		return "cut off"
	}
	return "other: " + err.Error()
}

func outcomeOf(answer *http.Response, err error) outcome {
	if err != nil {
		return outcome{failed: class(err)}
	}
	defer answer.Body.Close()
	o := outcome{status: answer.StatusCode, length: answer.ContentLength}
	body, err := io.ReadAll(answer.Body)
	o.failed, o.body = class(err), string(body)
	if len(body) > 100 {
		o.body = fmt.Sprintf("%d bytes %x", len(body), sha256.Sum256(body))
	}
	if answer.Header.Get("Date") == "" {
		o.failed += " no date"
	}
	answer.Header.Del("Date")
	var h strings.Builder
	_ = answer.Header.Write(&h) // sorts; a strings.Builder takes all
	o.header = h.String()
	return o
}

// bounded is a context that ends a test which hangs.
func bounded(t testing.TB) (context.Context, context.CancelFunc) {
	return context.WithTimeout(t.Context(), 20*time.Second)
}

// ask makes one request and reads the answer to its end.
func ask(t testing.TB, c *http.Client, method, url string, body io.Reader) outcome {
	ctx, cancel := bounded(t)
	defer cancel()
	req, err := http.NewRequestWithContext(ctx, method, url, body)
	if err != nil {
		t.Fatal(err)
	}
	return outcomeOf(c.Do(req))
}

// large is a body of n bytes made as it is read, which counts what was read.
type large struct {
	rest   int64
	read   atomic.Int64
	closed chan struct{}
}

func newLarge(n int64) *large { return &large{rest: n, closed: make(chan struct{})} }

func (l *large) Read(p []byte) (int, error) {
	if l.rest == 0 {
		return 0, io.EOF
	}
	n := min(int64(len(p)), l.rest)
	for i := range p[:n] {
		p[i] = byte(l.rest) + byte(i)
	}
	l.rest -= n
	l.read.Add(n)
	return int(n), nil
}

func (l *large) Close() error {
	close(l.closed) // twice would panic
	return nil
}

const mb = 1 << 20

// echo answers with what it was sent, after it has read all of it.
func echo(w http.ResponseWriter, r *http.Request) {
	body, err := io.ReadAll(r.Body)
	w.Header().Set("X-Length", fmt.Sprint(r.ContentLength))
	if err != nil {
		wire.WriteProblem(w, fault.New(fault.Malformed, "%s", class(err)), "")
		return
	}
	w.Write(body)
}

func flush(w http.ResponseWriter) {
	if err := http.NewResponseController(w).Flush(); err != nil {
		panic(err)
	}
}

func refuse(w http.ResponseWriter, r *http.Request) {
	wire.WriteProblem(w, fault.New(fault.TooLarge, "at most 25 MB"), "")
}

// upload sends 50 MB, and notes whether the client was spared most of it.
func upload(t testing.TB, c *http.Client, url string) outcome {
	ctx, cancel := bounded(t)
	defer cancel()
	body := newLarge(50 * mb)
	req, err := http.NewRequestWithContext(ctx, http.MethodPut, url, body)
	if err != nil {
		t.Fatal(err)
	}
	req.ContentLength = 50 * mb
	o := outcomeOf(c.Do(req))
	<-body.closed
	o.more = fmt.Sprint("all read: ", body.read.Load() == 50*mb)
	return o
}

// simple are exchanges of one request and one answer that nothing disturbs but
// the handler itself.
var simple = []struct {
	name    string
	method  string
	body    string
	handler http.HandlerFunc
	want    outcome // header is not compared with this, only between the two ways
}{
	{"short answer", "GET", "", func(w http.ResponseWriter, r *http.Request) { io.WriteString(w, "hello") },
		outcome{status: 200, length: 5, body: "hello"}},
	{"empty answer", "GET", "", func(w http.ResponseWriter, r *http.Request) {},
		outcome{status: 200, length: 0}},
	{"created", "POST", `{}`, func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Location", "/api/v1/tools/00E-KM5")
		w.WriteHeader(201)
		w.Header().Set("X-Late", "not seen")
		w.WriteHeader(500) // passed over
	}, outcome{status: 201}},
	{"echo", "POST", "what was sent", echo, outcome{status: 200, length: 13, body: "what was sent"}},
	{"what the handler sees", "POST", "12345", func(w http.ResponseWriter, r *http.Request) {
		fmt.Fprintf(w, "%s %s %s?%s %d %s", r.Method, r.URL.Path, r.URL.RawPath, r.URL.RawQuery, r.ContentLength, r.Proto)
	}, outcome{status: 200, length: 54, body: "POST /t/a/b c /t/a%2Fb%20c?q=1&q=%20 5 HTTP/1.1"}},
	{"HEAD, announced", "HEAD", "", func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Length", "12345")
		w.Header().Set("Content-Type", "image/jpeg")
	}, outcome{status: 200, length: 12345}},
	{"HEAD, written", "HEAD", "", func(w http.ResponseWriter, r *http.Request) { io.WriteString(w, "hello") },
		outcome{status: 200, length: 5}},
	{"HEAD, silent", "HEAD", "", func(w http.ResponseWriter, r *http.Request) {}, outcome{status: 200, length: -1}},
	{"304", "GET", "", func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("ETag", `"3.0011223344556677"`)
		w.Header().Set("Content-Type", "application/json")
		w.WriteHeader(304)
		if _, err := io.WriteString(w, "no"); err != http.ErrBodyNotAllowed {
			panic(err)
		}
	}, outcome{status: 304}},
	{"204", "POST", "", func(w http.ResponseWriter, r *http.Request) { w.WriteHeader(204) }, outcome{status: 204}},
	{"an early hint is passed over", "GET", "", func(w http.ResponseWriter, r *http.Request) {
		w.WriteHeader(103)
		io.WriteString(w, "hello")
	}, outcome{status: 200, length: 5, body: "hello"}},
	{"panic before the first byte", "GET", "", func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("X-Half", "done")
		panic("inside")
	}, outcome{status: 500, body: "*"}},
	{"panic after a byte that was not sent yet", "GET", "", func(w http.ResponseWriter, r *http.Request) {
		io.WriteString(w, "h")
		panic("inside")
	}, outcome{failed: "cut off"}},
	{"panic after the first byte", "GET", "", func(w http.ResponseWriter, r *http.Request) {
		io.WriteString(w, "h")
		flush(w)
		panic("inside")
	}, outcome{status: 200, length: -1, body: "h", failed: "cut off"}},
	{"panic after the last byte", "GET", "", func(w http.ResponseWriter, r *http.Request) {
		w.Write(make([]byte, 3000))
		panic("inside")
	}, outcome{status: 200, length: -1, body: "*", failed: "cut off"}},
	{"abort", "GET", "", func(w http.ResponseWriter, r *http.Request) { panic(http.ErrAbortHandler) },
		outcome{failed: "cut off"}},
	{"less than announced", "GET", "", func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Length", "10")
		io.WriteString(w, "hello")
	}, outcome{status: 200, length: 10, body: "hello", failed: "cut off"}},
	{"more than announced", "GET", "", func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Length", "5")
		io.WriteString(w, "hello")
		if _, err := io.WriteString(w, "!"); err != http.ErrContentLength {
			panic(err)
		}
	}, outcome{status: 200, length: 5, body: "hello"}},
	{"20 MB", "GET", "", func(w http.ResponseWriter, r *http.Request) { io.Copy(w, newLarge(20*mb)) },
		outcome{status: 200, length: -1, body: "*"}},
	{"too large", "POST", "0123456789", func(w http.ResponseWriter, r *http.Request) {
		_, err := io.ReadAll(http.MaxBytesReader(w, r.Body, 4))
		var tooLarge *http.MaxBytesError
		fmt.Fprint(w, errors.As(err, &tooLarge))
	}, outcome{status: 200, length: 4, body: "true"}},
	{"deadlines taken away", "POST", "0123456789", func(w http.ResponseWriter, r *http.Request) {
		c := http.NewResponseController(w)
		if err := errors.Join(c.SetReadDeadline(time.Time{}), c.SetWriteDeadline(time.Time{})); err != nil {
			panic(err)
		}
		echo(w, r)
	}, outcome{status: 200, length: 10, body: "0123456789"}},
}

func TestExchanges(t *testing.T) {
	for _, x := range simple {
		t.Run(x.name, func(t *testing.T) {
			var got [2]outcome
			for i, s := range sides {
				c, base := s.open(t, x.handler)
				var body io.Reader
				if x.body != "" {
					body = strings.NewReader(x.body)
				}
				got[i] = ask(t, c, x.method, base+"/t/a%2Fb%20c?q=1&q=%20", body)
			}
			compare(t, got)
			want := x.want
			want.header = got[0].header
			if want.body == "*" {
				want.body = got[0].body
			}
			if x.want.status == 500 || x.name == "what the handler sees" {
				want.length = got[0].length
			}
			if got[0] != want {
				t.Errorf("got  %+v\nwant %+v", got[0], want)
			}
		})
	}
}

// compare fails unless both ways came to the same.
func compare(t *testing.T, got [2]outcome) {
	t.Helper()
	if got[0] != got[1] {
		t.Errorf("in process %+v\nloopback   %+v", got[0], got[1])
	}
}
