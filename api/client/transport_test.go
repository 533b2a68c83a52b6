package client_test

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"strings"
	"sync"
	"testing"

	"pgregory.net/rapid"

	"pawl/api/client"
	"pawl/model/people"
)

var manager = people.Actor{Person: "p1", Name: "Tech A", Role: people.Manager, Via: people.ViaLocal}

// script is a handler drawn by chance: what it reads, then what it writes.
type script struct {
	header map[string]string
	status int // 0: none is written
	writes []int
	flush  int // after this write; past the end: never
}

func (s script) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	body, err := io.ReadAll(r.Body)
	w.Header().Set("X-Read", fmt.Sprint(len(body), err, r.ContentLength))
	for name, value := range s.header {
		w.Header().Set(name, value)
	}
	if s.status != 0 {
		w.WriteHeader(s.status)
	}
	for i, n := range s.writes {
		_, _ = w.Write([]byte(strings.Repeat("<", n))) // fails where no body may be
		if i == s.flush {
			flush(w)
		}
	}
}

func drawScript(t *rapid.T) script {
	s := script{
		status: rapid.SampledFrom([]int{0, 0, 200, 201, 204, 304, 404, 503}).Draw(t, "status"),
		writes: rapid.SliceOfN(rapid.SampledFrom([]int{0, 1, 7, 2047, 2048, 2049, 70000}), 0, 4).Draw(t, "writes"),
		flush:  rapid.IntRange(0, 5).Draw(t, "flush"),
		header: rapid.MapOf(
			rapid.SampledFrom([]string{"ETag", "Cache-Control", "Link"}),
			rapid.SampledFrom([]string{`"1.ab"`, "no-store", ""}),
		).Draw(t, "header"),
	}
	if rapid.Bool().Draw(t, "typed") {
		s.header["Content-Type"] = "application/json"
	}
	if rapid.Bool().Draw(t, "announced") {
		s.header["Content-Length"] = fmt.Sprint(rapid.SampledFrom([]int{0, 7, 4096}).Draw(t, "length"))
	}
	return s
}

// Whatever a handler does, both ways tell the client the same of it. The judge
// is net/http itself.
func TestBothWaysAgree(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		s := drawScript(rt)
		method := rapid.SampledFrom([]string{"GET", "HEAD", "POST", "PUT", "PATCH"}).Draw(rt, "method")
		size := rapid.SampledFrom([]int{0, 1, 70000}).Draw(rt, "body")
		known := rapid.Bool().Draw(rt, "known length")
		var got [2]outcome
		for i, side := range sides {
			c, base := side.open(t, s)
			var body io.Reader
			if size > 0 {
				body = strings.NewReader(strings.Repeat("x", size))
				if !known {
					body = io.MultiReader(body) // hides its length
				}
			}
			got[i] = ask(t, c, method, base, body)
		}
		if got[0] != got[1] {
			rt.Fatalf("%s, %+v\nin process %+v\nloopback   %+v", method, s, got[0], got[1])
		}
	})
}

// who answers with the actor in the context, if any.
func who(w http.ResponseWriter, r *http.Request) {
	actor, ok := client.ActorFrom(r.Context())
	fmt.Fprint(w, actor.Name, ok)
}

func TestTheActorComesFromTheTransportAlone(t *testing.T) {
	for name, c := range map[string]struct {
		rt   client.InProcess
		want string
	}{
		"the transport's":                {client.InProcess{Actor: manager}, "Tech Atrue"},
		"none, and none of the client's": {client.InProcess{}, "false"},
	} {
		t.Run(name, func(t *testing.T) {
			c.rt.Handler = http.HandlerFunc(who)
			asked := client.WithActor(t.Context(), people.Actor{Name: "Mallory", Role: people.Manager})
			req, _ := http.NewRequestWithContext(asked, "GET", "http://pawl.invalid/", nil)
			if got := outcomeOf(c.rt.RoundTrip(req)); got.body != c.want {
				t.Errorf("%q, want %q", got.body, c.want)
			}
		})
	}
	t.Run("none over the network", func(t *testing.T) {
		c, base := loopback(t, http.HandlerFunc(who))
		req, _ := http.NewRequestWithContext(client.WithActor(t.Context(), manager), "GET", base, nil)
		if got := outcomeOf(c.Do(req)); got.body != "false" {
			t.Errorf("%q", got.body)
		}
	})
}

// A refusal costs at most what one copy holds: io.Copy, 32 KiB.
func TestARefusedBodyIsHardlyRead(t *testing.T) {
	body := newLarge(50 * mb)
	req, _ := http.NewRequestWithContext(t.Context(), "PUT", "http://pawl.invalid/", body)
	req.ContentLength = 50 * mb
	got := outcomeOf(client.InProcess{Handler: http.HandlerFunc(refuse)}.RoundTrip(req))
	<-body.closed
	if n := body.read.Load(); got.status != 413 || n > 32<<10 {
		t.Errorf("status %d after %d bytes", got.status, n)
	}
}

// stuck is a body whose read never returns until it is closed.
type stuck struct {
	once   sync.Once
	closed chan struct{}
}

func (s *stuck) Read([]byte) (int, error) {
	<-s.closed
	return 0, errors.New("closed under the read")
}

func (s *stuck) Close() error {
	s.once.Do(func() { close(s.closed) })
	return nil
}

func TestABodyThatNeverComesHoldsNobodyUp(t *testing.T) {
	t.Run("the handler answers without it", func(t *testing.T) {
		req, _ := http.NewRequestWithContext(t.Context(), "PUT", "http://pawl.invalid/", &stuck{closed: make(chan struct{})})
		if got := outcomeOf(client.InProcess{Handler: http.HandlerFunc(refuse)}.RoundTrip(req)); got.status != 413 || got.failed != "" {
			t.Errorf("%+v", got)
		}
	})
	t.Run("the client goes", func(t *testing.T) {
		ctx, cancel := context.WithCancel(t.Context())
		read := make(chan error, 1)
		h := http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			cancel()
			_, err := io.ReadAll(r.Body)
			read <- err
		})
		req, _ := http.NewRequestWithContext(ctx, "PUT", "http://pawl.invalid/", &stuck{closed: make(chan struct{})})
		got := outcomeOf(client.InProcess{Handler: h}.RoundTrip(req))
		if err := <-read; got.failed != "canceled" || !errors.Is(err, context.Canceled) {
			t.Errorf("%+v; handler: %v", got, err)
		}
	})
}

func TestARequestThatIsCanceledAlreadyIsNotServed(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	body := newLarge(10)
	req, _ := http.NewRequestWithContext(ctx, "PUT", "http://pawl.invalid/", body)
	h := http.HandlerFunc(func(http.ResponseWriter, *http.Request) { t.Error("served") })
	if got := outcomeOf(client.InProcess{Handler: h}.RoundTrip(req)); got.failed != "canceled" {
		t.Errorf("%+v", got)
	}
	<-body.closed
}

// The client has its answer, and may read all of it, while the handler that
// announced its length is still at work; leaving then disturbs nobody.
func TestAnAnnouncedAnswerEndsWithItsLastByte(t *testing.T) {
	release, saw := make(chan struct{}), make(chan error, 1)
	h := http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Length", "5")
		io.WriteString(w, "hello")
		flush(w)
		<-release
		saw <- r.Context().Err()
	})
	req, _ := http.NewRequestWithContext(t.Context(), "GET", "http://pawl.invalid/", nil)
	if got := outcomeOf(client.InProcess{Handler: h}.RoundTrip(req)); got.body != "hello" || got.failed != "" {
		t.Errorf("%+v", got)
	}
	close(release)
	if err := <-saw; err != nil {
		t.Errorf("the handler was disturbed: %v", err)
	}
}

func TestManyExchangesAtOnce(t *testing.T) {
	rt := client.InProcess{Handler: http.HandlerFunc(echo), Actor: manager}
	var wg sync.WaitGroup
	for i := range 100 {
		wg.Go(func() {
			sent := strings.Repeat(fmt.Sprint(i), 1000)
			req, _ := http.NewRequestWithContext(t.Context(), "POST", "http://pawl.invalid/", strings.NewReader(sent))
			answer, err := rt.RoundTrip(req)
			if err != nil {
				t.Error(err)
				return
			}
			defer answer.Body.Close()
			if got, err := io.ReadAll(answer.Body); err != nil || string(got) != sent {
				t.Errorf("exchange %d came back as %d bytes, %v", i, len(got), err)
			}
		})
	}
	wg.Wait()
}
