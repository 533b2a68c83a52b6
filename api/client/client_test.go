package client_test

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"reflect"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"pawl/api/client"
	"pawl/api/wire"
	"pawl/model/fault"
)

// local is a client of a handler in this process.
func local(h http.HandlerFunc) *client.Client {
	c := client.New("", client.InProcess{Handler: h}, "")
	c.Pause = 0
	return c
}

// remote is a client of a handler behind a connection.
func remote(t *testing.T, h http.Handler) *client.Client {
	rt := &http.Transport{}
	server := httptest.NewServer(h)
	t.Cleanup(func() {
		rt.CloseIdleConnections()
		server.Close()
	})
	c := client.New(server.URL, rt, "")
	c.Pause = 0
	return c
}

func TestFaultsCrossTheWire(t *testing.T) {
	sent := fault.New(fault.Refused, "00E-KM5 is not to be used").WithHint("have it calibrated").
		WithFact("holder", "Tech A").WithFact("since", "2026-11-25T16:30:00Z")
	sent.Fields = []fault.Field{{Pointer: "#/to", Detail: "nobody"}}
	c := local(func(w http.ResponseWriter, r *http.Request) { wire.WriteProblem(w, sent, "r1") })
	_, err := c.Take(t.Context(), "00E-KM5", wire.Take{To: "Tech B"})
	if got := fault.Of(err); !reflect.DeepEqual(got, sent) {
		t.Errorf("sent %#v\ngot  %#v", sent, got)
	}
}

// Answers that are not the API's: from a proxy, another program, an old server.
func TestStrangeAnswers(t *testing.T) {
	for name, x := range map[string]struct {
		status int
		typed  string
		body   string
		want   fault.Kind
	}{
		"gateway's page":       {502, "text/html", "<h1>Bad Gateway</h1>", fault.Unavailable},
		"mere 404":             {404, "text/plain", "404 page not found", fault.NotFound},
		"JSON of its own":      {403, "application/json", `{"detail":"<script>"}`, fault.Forbidden},
		"broken problem":       {409, "application/problem+json", `{"detail":`, fault.Conflict},
		"problem, wrong type":  {422, "application/problem+json", `{"status":"x"}`, fault.Invalid},
		"problem of no kind":   {428, "application/problem+json; charset=utf-8", `{"detail":"say which","title":"T"}`, fault.Precondition},
		"redirect":             {307, "text/html", "moved", fault.Internal},
		"a page, and all well": {200, "text/html", "<h1>Welcome</h1>", fault.Unavailable},
		"nothing":              {200, "application/json", "", fault.Unavailable},
		"not an object":        {200, "application/json", "[1]", fault.Unavailable},
	} {
		t.Run(name, func(t *testing.T) {
			calls := 0
			c := local(func(w http.ResponseWriter, r *http.Request) {
				calls++
				w.Header().Set("Content-Type", x.typed)
				w.Header().Set("Location", "http://elsewhere.example/")
				w.WriteHeader(x.status)
				io.WriteString(w, x.body)
			})
			_, err := c.Chores(t.Context())
			if !fault.Is(err, x.want) || calls != 1 {
				t.Fatalf("%v after %d calls, want %s", err, calls, x.want)
			}
			if got := err.Error(); strings.Contains(got, "<") || x.want != fault.Precondition && !strings.Contains(got, "http://pawl.invalid") {
				t.Errorf("says %q", got)
			}
		})
	}
}

// dropping is a server that hangs up on the first requests, either at once or
// in the middle of its answer, having noted their replay keys.
type dropping struct {
	times int
	late  bool

	mu     sync.Mutex
	keys   []string
	bodies []string
}

// noted is what the server has seen so far: keys and bodies.
func (d *dropping) noted() (keys, bodies []string) {
	d.mu.Lock()
	defer d.mu.Unlock()
	return slices.Clone(d.keys), slices.Clone(d.bodies)
}

func (d *dropping) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	body, _ := io.ReadAll(r.Body)
	d.mu.Lock()
	d.keys = append(d.keys, r.Header.Get("Idempotency-Key"))
	d.bodies = append(d.bodies, string(body))
	drop := len(d.keys) <= d.times
	d.mu.Unlock()
	if drop && d.late {
		w.Header().Set("Content-Length", "1000")
		io.WriteString(w, `{"done":`)
	}
	if drop {
		panic(http.ErrAbortHandler)
	}
	io.WriteString(w, `{"done":"take","sha256":"ab"}`)
}

func TestALostAnswerIsAskedForAgainUnderTheSameKey(t *testing.T) {
	for name, x := range map[string]struct {
		times int
		late  bool
		tries int
		lost  bool
	}{
		"never":              {0, false, 1, false},
		"once":               {1, false, 2, false},
		"twice":              {2, false, 3, false},
		"amid the answer":    {2, true, 3, false},
		"as often as we ask": {9, false, 3, true},
	} {
		for _, way := range []string{"in process", "loopback"} {
			t.Run(name+", "+way, func(t *testing.T) {
				server := &dropping{times: x.times, late: x.late}
				c := local(server.ServeHTTP)
				if way == "loopback" {
					c = remote(t, server)
				}
				got, err := c.Take(t.Context(), "00E-KM5", wire.Take{To: "Tech A"}, client.Key("key-1"))
				if x.lost != fault.Is(err, fault.Unavailable) || !x.lost && (err != nil || got.Done != "take") {
					t.Fatalf("%+v, %v", got, err)
				}
				keys, bodies := server.noted()
				if len(keys) != x.tries {
					t.Fatalf("asked %d times, want %d", len(keys), x.tries)
				}
				for i := range keys {
					if keys[i] != `"key-1"` || bodies[i] != `{"to":"Tech A"}` {
						t.Errorf("try %d: key %s, body %s", i+1, keys[i], bodies[i])
					}
				}
			})
		}
	}
}

func TestKeys(t *testing.T) {
	server := &dropping{times: 1}
	c := local(server.ServeHTTP)
	for range 2 {
		if _, err := c.Back(t.Context(), "00E-KM5", wire.Back{}); err != nil {
			t.Fatal(err)
		}
	}
	if k, _ := server.noted(); len(k) != 3 || k[0] != k[1] || k[1] == k[2] {
		t.Errorf("keys of two acts, the first tried twice: %q", k)
	}
	for _, key := range []string{"", " ", "a b", "a\nb", `a"b`, `a\b`, "é", strings.Repeat("k", 256)} {
		if _, err := c.Back(t.Context(), "00E-KM5", wire.Back{}, client.Key(key)); !fault.Is(err, fault.Invalid) {
			t.Errorf("key %q: %v", key, err)
		}
	}
	if _, err := c.Back(t.Context(), "00E-KM5", wire.Back{}, client.Key(strings.Repeat("~", 255))); err != nil {
		t.Errorf("longest key: %v", err)
	}
}

func TestAChangeIsNotTriedAgainByItself(t *testing.T) {
	server := &dropping{times: 1}
	_, err := local(server.ServeHTTP).ChangeTool(t.Context(), "00E-KM5", etag, map[string]any{"notes": "n"})
	if keys, _ := server.noted(); !fault.Is(err, fault.Unavailable) || len(keys) != 1 {
		t.Errorf("%v after %d tries", err, len(keys))
	}
}

func TestUploadsAreOpenedForEachTry(t *testing.T) {
	server := &dropping{times: 2}
	got, err := local(server.ServeHTTP).Upload(t.Context(), "ab", "a.jpg", "image/jpeg", 5, open("bytes"))
	_, bodies := server.noted()
	if err != nil || got.SHA256 != "ab" || !slices.Equal(bodies, []string{"bytes", "bytes", "bytes"}) {
		t.Errorf("%+v, %v, %q", got, err, bodies)
	}
}

func TestUploadsThatCannotBeRead(t *testing.T) {
	broken := errors.New("medium error")
	once := func() func() (io.ReadCloser, error) {
		opened := false
		return func() (io.ReadCloser, error) {
			if opened {
				return nil, errors.New("standard input is used up")
			}
			opened = true
			return open("bytes")()
		}
	}
	for name, x := range map[string]struct {
		open func() (io.ReadCloser, error)
		size int64
		says string
		kind fault.Kind
		most int // requests that the server may see
	}{
		"cannot be opened":      {func() (io.ReadCloser, error) { return nil, broken }, 5, "medium error", fault.Internal, 0},
		"cannot be read":        {func() (io.ReadCloser, error) { return io.NopCloser(failing{}), nil }, 5, "the disk of the client failed", fault.Invalid, 1},
		"shorter than it was":   {open("byte"), 5, "its size", fault.Invalid, 1},
		"can be read only once": {once(), 5, "cannot reach", fault.Unavailable, 1},
	} {
		for _, way := range []string{"in process", "loopback"} {
			t.Run(name+", "+way, func(t *testing.T) {
				if x.kind == fault.Unavailable {
					x.open = once()
				}
				server := &dropping{times: 9}
				c := local(server.ServeHTTP)
				if way == "loopback" {
					c = remote(t, server)
				}
				_, err := c.Upload(t.Context(), "ab", "", "", x.size, x.open)
				if got := fault.Of(err); got == nil || got.Kind != x.kind || !strings.Contains(err.Error(), x.says) {
					t.Errorf("%v, want %s: … %s", err, x.kind, x.says)
				}
				if keys, _ := server.noted(); len(keys) > x.most {
					t.Errorf("sent %d times", len(keys))
				}
			})
		}
	}
}

func TestNobodyAtTheAddress(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	base := "http://" + l.Addr().String()
	l.Close()
	rt := &http.Transport{}
	defer rt.CloseIdleConnections()
	c := client.New(base, rt, "")
	c.Pause = time.Millisecond
	_, err = c.Whoami(t.Context())
	if !fault.Is(err, fault.Unavailable) || !strings.Contains(err.Error(), "cannot reach the server at "+base) || fault.Of(err).Hint == "" {
		t.Errorf("%v", err)
	}
}

func TestWhatIsWrongBeforeAnythingIsSent(t *testing.T) {
	for name, x := range map[string]struct {
		base, token, number string
	}{
		"no scheme":            {"tools.example:8080", "", "1"},
		"another scheme":       {"ftp://tools.example", "", "1"},
		"no host":              {"http:///x", "", "1"},
		"no number":            {"", "", ""},
		"a number that climbs": {"", "", ".."},
		"a token of two lines": {"", "secret\nX: y", "1"},
	} {
		t.Run(name, func(t *testing.T) {
			h := http.HandlerFunc(func(http.ResponseWriter, *http.Request) { t.Error("sent") })
			_, _, err := client.New(x.base, client.InProcess{Handler: h}, x.token).Tool(t.Context(), x.number)
			if !fault.Is(err, fault.Malformed) || strings.Contains(err.Error(), "secret") {
				t.Errorf("%v", err)
			}
		})
	}
}

func TestTimeAndCancel(t *testing.T) {
	wait := func(w http.ResponseWriter, r *http.Request) { <-r.Context().Done() }
	half := func(w http.ResponseWriter, r *http.Request) {
		io.WriteString(w, "half")
		flush(w)
		<-r.Context().Done()
	}
	var sink bytes.Buffer
	for name, x := range map[string]struct {
		h    http.HandlerFunc
		call func(context.Context, *client.Client) error
	}{
		"no answer":      {wait, func(ctx context.Context, c *client.Client) error { _, err := c.Whoami(ctx); return err }},
		"half an answer": {half, func(ctx context.Context, c *client.Client) error { _, err := c.Whoami(ctx); return err }},
		"half a download": {half, func(ctx context.Context, c *client.Client) error {
			return c.Label(ctx, "00E-KM5", nil, &sink)
		}},
		"no answer to an upload": {wait, func(ctx context.Context, c *client.Client) error {
			_, err := c.Upload(ctx, "ab", "", "", 5, open("bytes"))
			return err
		}},
	} {
		t.Run(name+", in time", func(t *testing.T) {
			c := local(x.h)
			c.Timeout = 20 * time.Millisecond
			err := x.call(t.Context(), c)
			if !fault.Is(err, fault.Unavailable) || !strings.Contains(err.Error(), "within 20ms") {
				t.Errorf("%v", err)
			}
		})
		t.Run(name+", until the caller goes", func(t *testing.T) {
			ctx, cancel := context.WithCancel(t.Context())
			c := local(func(w http.ResponseWriter, r *http.Request) {
				go cancel()
				x.h(w, r)
			})
			err := x.call(ctx, c)
			if !fault.Is(err, fault.Unavailable) || !errors.Is(err, context.Canceled) {
				t.Errorf("%v", err)
			}
		})
	}
}

// A download is bounded by each wait, not in all; Verify by the caller alone.
func TestLongAnswersTakeTheirTime(t *testing.T) {
	tick := time.NewTicker(25 * time.Millisecond)
	defer tick.Stop()
	c := local(func(w http.ResponseWriter, r *http.Request) {
		for range 20 {
			select {
			case <-tick.C:
			case <-r.Context().Done():
				return
			}
			io.WriteString(w, " ")
			flush(w)
		}
		io.WriteString(w, `{"ok":true}`)
	})
	c.Timeout = 400 * time.Millisecond
	var sink bytes.Buffer
	if err := c.Label(t.Context(), "00E-KM5", nil, &sink); err != nil || sink.Len() != 31 {
		t.Errorf("%d bytes, %v", sink.Len(), err)
	}
	if got, err := c.Verify(t.Context(), wire.Verify{}); err != nil || !got.OK {
		t.Errorf("%+v, %v", got, err)
	}
	if _, err := c.Whoami(t.Context()); !fault.Is(err, fault.Unavailable) {
		t.Errorf("a short call took 500 ms: %v", err)
	}
}

// pages serves the rows 0 to n-1, few at a time.
func pages(noun string, n int, page int) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		var from int
		fmt.Sscan(r.URL.Query().Get("cursor"), &from)
		var rows []string
		for i := from; i < min(from+page, n); i++ {
			rows = append(rows, fmt.Sprintf(`{"number":"%d","seq":%d,"id":"%d"}`, i, i, i))
		}
		next := "null"
		if from+page < n {
			next = fmt.Sprintf(`"%d"`, from+page)
		}
		fmt.Fprintf(w, `{%q:[%s],"next":%s}`, noun, strings.Join(rows, ","), next)
	}
}

func TestListsAreFollowedToTheirEnd(t *testing.T) {
	ctx := t.Context()
	for noun, all := range map[string]func(c *client.Client, row func(string)) error{
		"tools": func(c *client.Client, row func(string)) error {
			return c.FindAll(ctx, client.Query{}, func(r wire.ToolRow) error { row(r.Number); return nil })
		},
		"history": func(c *client.Client, row func(string)) error {
			return c.HistoryAll(ctx, "00E-KM5", func(l wire.Line) error { row(fmt.Sprint(l.Seq)); return nil })
		},
		"jobs": func(c *client.Client, row func(string)) error {
			return c.JobsAll(ctx, client.JobQuery{}, func(j wire.Job) error { row(j.Number); return nil })
		},
		"people": func(c *client.Client, row func(string)) error {
			list, err := c.People(ctx)
			for _, p := range list.People {
				row(p.ID)
			}
			return err
		},
	} {
		for _, n := range []int{0, 1, 3, 4, 7} {
			t.Run(fmt.Sprint(noun, n), func(t *testing.T) {
				var got, want []string
				for i := range n {
					want = append(want, fmt.Sprint(i))
				}
				err := all(local(pages(noun, n, 3)), func(s string) { got = append(got, s) })
				if err != nil || !slices.Equal(got, want) {
					t.Errorf("%v, %v", got, err)
				}
			})
		}
	}
}

func TestAListStopsWhereItsReaderDoes(t *testing.T) {
	enough := errors.New("enough")
	calls, rows := 0, 0
	serve := pages("tools", 9, 3)
	c := local(func(w http.ResponseWriter, r *http.Request) { calls++; serve(w, r) })
	err := c.FindAll(t.Context(), client.Query{}, func(wire.ToolRow) error {
		if rows++; rows == 2 {
			return enough
		}
		return nil
	})
	if err != enough || calls != 1 || rows != 2 {
		t.Errorf("%v after %d rows in %d calls", err, rows, calls)
	}
}

func TestAListThatTurnsInACircleEnds(t *testing.T) {
	c := local(func(w http.ResponseWriter, r *http.Request) { io.WriteString(w, `{"tools":[],"next":"x"}`) })
	if err := c.FindAll(t.Context(), client.Query{}, nil); !fault.Is(err, fault.Internal) {
		t.Errorf("%v", err)
	}
}

func TestDownloadsAreHeldAgainstTheirHash(t *testing.T) {
	content := strings.Repeat("the bytes of a photo ", 10000)
	sum := sha256.Sum256([]byte(content))
	name := hex.EncodeToString(sum[:])
	for what, x := range map[string]struct {
		serve http.HandlerFunc
		ask   string
		want  fault.Kind // empty: all is well
	}{
		"right":          {func(w http.ResponseWriter, r *http.Request) { io.WriteString(w, content) }, name, ""},
		"in capitals":    {func(w http.ResponseWriter, r *http.Request) { io.WriteString(w, content) }, strings.ToUpper(name), ""},
		"one byte wrong": {func(w http.ResponseWriter, r *http.Request) { io.WriteString(w, content[1:]+"x") }, name, fault.Internal},
		"one byte short": {func(w http.ResponseWriter, r *http.Request) { io.WriteString(w, content[1:]) }, name, fault.Internal},
		"cut off": {func(w http.ResponseWriter, r *http.Request) {
			io.WriteString(w, content)
			panic(http.ErrAbortHandler)
		}, name, fault.Unavailable},
		"not there": {func(w http.ResponseWriter, r *http.Request) {
			wire.WriteProblem(w, fault.New(fault.NotFound, "no such photo"), "")
		}, name, fault.NotFound},
	} {
		t.Run(what, func(t *testing.T) {
			calls := 0
			c := local(func(w http.ResponseWriter, r *http.Request) { calls++; x.serve(w, r) })
			var got bytes.Buffer
			err := c.Original(t.Context(), x.ask, &got)
			if x.want == "" && (err != nil || got.String() != content) || x.want != "" && !fault.Is(err, x.want) {
				t.Errorf("%d bytes, %v", got.Len(), err)
			}
			if calls != 1 {
				t.Errorf("asked %d times for what was half written", calls)
			}
		})
	}
}

type full struct{}

func (full) Write([]byte) (int, error) { return 0, errMine }

func TestADownloadThatCannotBeWritten(t *testing.T) {
	c := local(func(w http.ResponseWriter, r *http.Request) { io.Copy(w, newLarge(mb)) })
	if err := c.Label(t.Context(), "00E-KM5", nil, full{}); !errors.Is(err, errMine) || !strings.Contains(err.Error(), "cannot write") {
		t.Errorf("%v", err)
	}
}

// FuzzAnswer: whatever a server answers, the client gives back either what the
// JSON says or a fault that says something.
func FuzzAnswer(f *testing.F) {
	f.Add(200, "application/json", []byte(`{"person":"Tech A","role":"manager"}`))
	f.Add(404, "application/problem+json", []byte(`{"status":404,"kind":"not found","detail":"d"}`))
	f.Add(502, "text/html", []byte("<h1>"))
	f.Fuzz(func(t *testing.T, status int, typed string, body []byte) {
		if status < 200 || status > 999 {
			return
		}
		c := local(func(w http.ResponseWriter, r *http.Request) {
			w.Header().Set("Content-Type", typed)
			w.WriteHeader(status)
			w.Write(body)
		})
		who, err := c.Whoami(t.Context())
		if err == nil {
			if status/100 != 2 {
				t.Fatalf("%d was taken for %+v", status, who)
			}
			return
		}
		var e *fault.Error
		if !errors.As(err, &e) || e.Message == "" || wire.ProblemOf(e, "").Status == 500 && e.Kind != fault.Internal {
			t.Fatalf("%d became %#v", status, err)
		}
	})
}
