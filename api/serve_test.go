package api

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"pawl/api/client"
	"pawl/api/wire"
	"pawl/model/people"
)

// pipes is a listener whose connections stay in memory, so that a test can run
// on a clock of its own (testing/synctest) with the real times of a server.
type pipes struct {
	ready  chan net.Conn
	closed chan struct{}
}

func newPipes() *pipes { return &pipes{make(chan net.Conn), make(chan struct{})} }

func (p *pipes) Accept() (net.Conn, error) {
	select {
	case c := <-p.ready:
		return c, nil
	case <-p.closed:
		return nil, net.ErrClosed
	}
}

func (p *pipes) Close() error {
	select {
	case <-p.closed:
	default:
		close(p.closed)
	}
	return nil
}

func (p *pipes) Addr() net.Addr { return &net.UnixAddr{Name: "pipe", Net: "unix"} }

// dial gives a connection, or nil when the server listens no more.
func (p *pipes) dial() net.Conn {
	here, there := net.Pipe()
	select {
	case p.ready <- there:
		return here
	case <-p.closed:
		return nil
	}
}

// serving runs a server within a bubble of synctest; stop ends it and waits.
func serving(t *testing.T, h http.Handler) (p *pipes, stop func() error) {
	t.Helper()
	p = newPipes()
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- Serve(ctx, p, h, ServeOptions{}) }()
	return p, func() error { cancel(); return <-done }
}

// reads answers how many bytes it could read, or why it could read no more.
var reads = http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
	n, err := io.Copy(io.Discard, r.Body)
	if err != nil {
		http.Error(w, fmt.Sprintf("%d: %v", n, err), http.StatusRequestTimeout)
		return
	}
	fmt.Fprintf(w, "%d bytes", n)
})

// upload sends a body in pieces with a pause between them and gives the answer.
// It hangs up, and waits until the sender has noticed.
func upload(t *testing.T, conn net.Conn, size int, piece int, pause time.Duration) (status int, took time.Duration) {
	t.Helper()
	start := time.Now()
	sent := make(chan struct{})
	defer func() { conn.Close(); <-sent }()
	go func() {
		defer close(sent)
		fmt.Fprintf(conn, "PUT /x HTTP/1.1\r\nHost: shop\r\nContent-Length: %d\r\n\r\n", size)
		for sent := 0; sent < size; sent += piece {
			if _, err := conn.Write(make([]byte, min(piece, size-sent))); err != nil {
				return
			}
			time.Sleep(pause)
		}
	}()
	answer, err := http.ReadResponse(bufio.NewReader(conn), nil)
	if err != nil {
		return 0, time.Since(start)
	}
	_, _ = io.Copy(io.Discard, answer.Body)
	return answer.StatusCode, time.Since(start)
}

// At least 8 kB a second over 30 s (DESIGN 12), on the clock of the bubble.
func TestBodiesKeepThePace(t *testing.T) {
	for _, c := range []struct {
		name   string
		size   int
		piece  int
		pause  time.Duration
		status int
		took   [2]time.Duration // at least, at most
	}{
		{"at once", 1 << 20, 1 << 20, 0, 200, [2]time.Duration{0, time.Second}},
		{"slow and steady for five minutes", 3_000_000, 10_000, time.Second, 200, [2]time.Duration{290 * time.Second, 310 * time.Second}},
		{"small and slow", 29, 1, time.Second, 200, [2]time.Duration{27 * time.Second, 30 * time.Second}},
		{"a byte a second", 1 << 20, 1, time.Second, 408, [2]time.Duration{29 * time.Second, 31 * time.Second}},
		{"half the pace", 3_000_000, 4_000, time.Second, 408, [2]time.Duration{29 * time.Second, 31 * time.Second}},
		{"a burst, then nothing", 3_000_000, 1_000_000, time.Hour, 408, [2]time.Duration{29 * time.Second, 31 * time.Second}},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				p, stop := serving(t, reads)
				conn := p.dial()
				status, took := upload(t, conn, c.size, c.piece, c.pause)
				if status != c.status || took < c.took[0] || took > c.took[1] {
					t.Errorf("status %d after %s, want %d within %v", status, took, c.status, c.took)
				}
				if err := stop(); err != nil {
					t.Error(err)
				}
			})
		})
	}
}

// Time that the handler needs for itself does not count against the sender.
func TestHandlersTimeIsNotTheSenders(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p, stop := serving(t, http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			time.Sleep(time.Hour)
			reads(w, r)
		}))
		conn := p.dial()
		if status, took := upload(t, conn, 100_000, 1000, time.Millisecond); status != 200 || took < time.Hour {
			t.Errorf("status %d after %s", status, took)
		}
		if err := stop(); err != nil {
			t.Error(err)
		}
	})
}

// writes sends 1 MB and tells how that ended.
func writes(ended chan<- error) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		_, err := w.Write(bytes.Repeat([]byte("x"), 1_000_000))
		ended <- err
	})
}

func TestAnswersKeepThePace(t *testing.T) {
	for _, c := range []struct {
		name  string
		piece int64
		pause time.Duration
		whole bool
	}{
		{"at once", 1 << 20, 0, true},
		{"slow and steady", 10_000, time.Second, true},
		{"not at all", 100, time.Hour, false},
		{"half the pace", 4_000, time.Second, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				ended := make(chan error, 1)
				p, stop := serving(t, writes(ended))
				conn := p.dial()
				go func() {
					fmt.Fprint(conn, "GET /x HTTP/1.1\r\nHost: shop\r\nConnection: close\r\n\r\n")
					for {
						if _, err := io.CopyN(io.Discard, conn, c.piece); err != nil {
							return
						}
						time.Sleep(c.pause)
					}
				}()
				if err := <-ended; (err == nil) != c.whole {
					t.Errorf("the answer ended in %v", err)
				}
				conn.Close()
				if err := stop(); err != nil {
					t.Error(err)
				}
				time.Sleep(2 * time.Hour) // the reader ends
			})
		})
	}
}

// A request after a slow one on the same connection has its own time, and one
// that takes long is not taken for gone.
func TestConnectionIsUsedAgain(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p, stop := serving(t, http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			_, _ = io.Copy(io.Discard, r.Body)
			time.Sleep(45 * time.Second)
			if r.Context().Err() != nil {
				t.Error("taken for gone")
			}
			fmt.Fprint(w, "done")
		}))
		conn := p.dial()
		in := bufio.NewReader(conn)
		for range 3 {
			go fmt.Fprint(conn, "POST /x HTTP/1.1\r\nHost: shop\r\nContent-Length: 2\r\n\r\n{}")
			answer, err := http.ReadResponse(in, nil)
			if err != nil {
				t.Fatal(err)
			}
			if body, err := io.ReadAll(answer.Body); err != nil || string(body) != "done" {
				t.Errorf("%q, %v", body, err)
			}
			time.Sleep(60 * time.Second)
		}
		conn.Close()
		if err := stop(); err != nil {
			t.Error(err)
		}
	})
}

// An idle connection, and one that never ends its header, are closed.
func TestSilentConnectionsAreClosed(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p, stop := serving(t, reads)
		for text, limit := range map[string]time.Duration{
			"GET /x HTTP/1.1\r\nHost: shop\r\n":     10 * time.Second,
			"GET /x HTTP/1.1\r\nHost: shop\r\n\r\n": 120 * time.Second,
		} {
			conn, start := p.dial(), time.Now()
			go fmt.Fprint(conn, text)
			_, _ = io.Copy(io.Discard, conn)
			if took := time.Since(start); took < limit || took > limit+2*time.Second {
				t.Errorf("%q: closed after %s, want %s", text, took, limit)
			}
		}
		if err := stop(); err != nil {
			t.Error(err)
		}
	})
}

// When the server stops, readiness ends at once, running requests do not.
func TestGracefulStop(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		inner := New(nil, Options{})
		p, stop := serving(t, http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			if r.URL.Path == "/slow" {
				time.Sleep(5 * time.Second)
				fmt.Fprint(w, "done")
				return
			}
			inner.ServeHTTP(w, r)
		}))
		slow := p.dial()
		go fmt.Fprint(slow, "GET /slow HTTP/1.1\r\nHost: shop\r\n\r\n")
		synctest.Wait()
		stopped := make(chan error, 1)
		start := time.Now()
		go func() { stopped <- stop() }()
		synctest.Wait()
		for path, status := range map[string]int{"/readyz": 503, "/livez": 200, "/api/v1/tools": 503} {
			conn := p.dial()
			go fmt.Fprintf(conn, "GET %s HTTP/1.1\r\nHost: shop\r\n\r\n", path)
			answer, err := http.ReadResponse(bufio.NewReader(conn), nil)
			if err != nil || answer.StatusCode != status || !answer.Close {
				t.Errorf("%s: %+v, %v", path, answer, err)
			}
			conn.Close()
		}
		answer, err := http.ReadResponse(bufio.NewReader(slow), nil)
		if err != nil {
			t.Fatal(err)
		}
		if body, err := io.ReadAll(answer.Body); err != nil || string(body) != "done" {
			t.Errorf("the running request: %q, %v", body, err)
		}
		slow.Close()
		if err := <-stopped; err != nil || time.Since(start) > 8*time.Second {
			t.Errorf("stopped after %s: %v", time.Since(start), err)
		}
		if conn := p.dial(); conn != nil {
			t.Error("it still listens")
		}
	})
}

// A request that does not end is cut off after 10 s.
func TestStopHasALimit(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		let := make(chan struct{})
		p, stop := serving(t, http.HandlerFunc(func(http.ResponseWriter, *http.Request) { <-let }))
		conn := p.dial()
		go fmt.Fprint(conn, "GET /x HTTP/1.1\r\nHost: shop\r\n\r\n")
		synctest.Wait()
		start := time.Now()
		if err := stop(); err != nil || time.Since(start) != 10*time.Second {
			t.Errorf("stopped after %s: %v", time.Since(start), err)
		}
		if _, err := conn.Read(make([]byte, 1)); !errors.Is(err, io.EOF) {
			t.Errorf("the connection gives %v", err)
		}
		close(let)
	})
}

// Over a real connection: a body that stops is cut in the window, and the next
// request of another is answered. Nothing in the context of Serve is an actor.
func TestServeOverLoopback(t *testing.T) {
	s := openShop(t)
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(client.WithActor(context.Background(), atComputer))
	done := make(chan error, 1)
	go func() {
		done <- Serve(ctx, listener, New(s.Shop, Options{}), ServeOptions{Window: 50 * time.Millisecond})
	}()
	defer func() {
		cancel()
		if err := <-done; err != nil {
			t.Error(err)
		}
	}()
	m := s.manager()
	var token wire.Token
	m.post("/tokens", wire.NewToken{Name: "script", Role: string(people.Technician)}).want(http.StatusCreated).into(&token)

	conn, err := net.Dial("tcp", listener.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	fmt.Fprintf(conn, "POST /api/v1/tools HTTP/1.1\r\nHost: shop\r\nAuthorization: Bearer %s\r\nContent-Type: application/json\r\nContent-Length: 100\r\n\r\n{", token.Secret)
	answer, err := http.ReadResponse(bufio.NewReader(conn), nil)
	if err != nil || answer.StatusCode != http.StatusServiceUnavailable || !answer.Close {
		t.Fatalf("a body that stops: %+v, %v", answer, err)
	}
	if body, _ := io.ReadAll(answer.Body); !strings.Contains(string(body), "too slowly") {
		t.Errorf("a body that stops: %s", body)
	}
	c := client.New("http://"+listener.Addr().String(), nil, "")
	if _, err := c.Whoami(context.Background()); err == nil {
		t.Error("a request from the network has an actor without a token")
	}
	c = client.New("http://"+listener.Addr().String(), nil, token.Secret)
	if who, err := c.Whoami(context.Background()); err != nil || who.Role != "technician" {
		t.Errorf("with a token: %+v, %v", who, err)
	}
}

func TestServeTellsWhyItCannot(t *testing.T) {
	p := newPipes()
	p.Close()
	if err := Serve(context.Background(), p, reads, ServeOptions{}); err == nil || !strings.Contains(err.Error(), "pipe") {
		t.Errorf("a closed listener: %v", err)
	}
}
