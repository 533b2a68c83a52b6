package client_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"strings"
	"testing"
	"time"
)

// involved are exchanges in which the client does something unusual.
var involved = []struct {
	name string
	run  func(t *testing.T, s side) outcome
	want outcome // header and body: as above
}{
	{"early refusal of 50 MB", func(t *testing.T, s side) outcome {
		c, base := s.open(t, http.HandlerFunc(refuse))
		return upload(t, c, base)
	}, outcome{status: 413, body: "*", more: "all read: false"}},
	{"refusal after the first of 50 MB", func(t *testing.T, s side) outcome {
		c, base := s.open(t, http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			if _, err := io.Copy(io.Discard, http.MaxBytesReader(w, r.Body, mb)); err != nil {
				refuse(w, r)
			}
		}))
		return upload(t, c, base)
	}, outcome{status: 413, body: "*", more: "all read: false"}},
	{"50 MB taken", func(t *testing.T, s side) outcome {
		c, base := s.open(t, http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			n, err := io.Copy(io.Discard, r.Body)
			fmt.Fprint(w, n, err)
		}))
		return upload(t, c, base)
	}, outcome{status: 200, body: "52428800 <nil>", more: "all read: true"}},
	{"echo of an upload of unknown length", func(t *testing.T, s side) outcome {
		c, base := s.open(t, http.HandlerFunc(echo))
		pr, pw := io.Pipe()
		go func() {
			for range 16 {
				pw.Write(bytes.Repeat([]byte("01234567"), 8192))
			}
			pw.Close()
		}()
		return ask(t, c, "POST", base, pr)
	}, outcome{status: 200, body: "*"}},
	{"the first bytes come before the last", firstBytes, outcome{status: 200, body: "second"}},
	{"both directions at once", bothWays, outcome{status: 200, body: "echo a, echo b, "}},
	{"the client goes before the answer", func(t *testing.T, s side) outcome {
		return goAway(t, s, false)
	}, outcome{failed: "canceled", more: "handler: context canceled"}},
	{"the client goes during the answer", func(t *testing.T, s side) outcome {
		return goAway(t, s, true)
	}, outcome{status: 200, body: "begun", failed: "canceled", more: "handler: context canceled"}},
	{"the client goes while it sends", goWhileSending, outcome{failed: "canceled", more: "handler: read fails"}},
	{"the client closes the answer early", closeEarly, outcome{status: 200, more: "handler: write fails, context canceled"}},
	{"the body of the request fails", func(t *testing.T, s side) outcome {
		saw := make(chan string, 1)
		c, base := s.open(t, http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			_, err := io.Copy(io.Discard, r.Body)
			saw <- class(err)
		}))
		o := ask(t, c, "POST", base, io.MultiReader(strings.NewReader("half"), failing{}))
		o.more = "handler: " + <-saw
		return o
	}, outcome{failed: "client's own", more: "handler: cut off"}},
	{"the time to read is over", readDeadline, outcome{status: 200, body: "deadline true"}},
	{"the time to write is over", writeDeadline, outcome{status: 200, body: "*", failed: "cut off", more: "deadline true"}},
}

func TestInvolvedExchanges(t *testing.T) {
	for _, x := range involved {
		t.Run(x.name, func(t *testing.T) {
			var got [2]outcome
			for i, s := range sides {
				got[i] = x.run(t, s)
			}
			if x.want.body == "*" && x.want.more == "deadline true" { // how much fits into a socket is its own affair
				got[0].body, got[1].body = "*", "*"
			}
			compare(t, got)
			want := x.want
			want.header, want.length = got[0].header, got[0].length
			if want.body == "*" {
				want.body = got[0].body
			}
			if got[0] != want {
				t.Errorf("got  %+v\nwant %+v", got[0], want)
			}
		})
	}
}

type failing struct{}

func (failing) Read([]byte) (int, error) { return 0, errMine }

func firstBytes(t *testing.T, s side) outcome {
	release := make(chan struct{})
	c, base := s.open(t, http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		io.WriteString(w, "first ")
		flush(w)
		select {
		case <-release:
		case <-r.Context().Done():
			return
		}
		io.WriteString(w, "second")
	}))
	ctx, cancel := bounded(t)
	defer cancel()
	req, _ := http.NewRequestWithContext(ctx, "GET", base, nil)
	answer, err := c.Do(req)
	if err != nil {
		return outcomeOf(nil, err)
	}
	first := make([]byte, 6)
	if _, err := io.ReadFull(answer.Body, first); err != nil || string(first) != "first " {
		t.Errorf("%q, %v", first, err)
	}
	close(release)
	return outcomeOf(answer, nil)
}

// bothWays has the handler answer each word before it is sent the next.
func bothWays(t *testing.T, s side) outcome {
	c, base := s.open(t, http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if err := http.NewResponseController(w).EnableFullDuplex(); err != nil {
			panic(err)
		}
		word := make([]byte, 1)
		for {
			if _, err := io.ReadFull(r.Body, word); err != nil {
				return
			}
			fmt.Fprintf(w, "echo %s, ", word)
			flush(w)
		}
	}))
	ctx, cancel := bounded(t)
	defer cancel()
	pr, pw := io.Pipe()
	go io.WriteString(pw, "a")
	req, _ := http.NewRequestWithContext(ctx, "POST", base, pr)
	answer, err := c.Do(req)
	if err != nil {
		return outcomeOf(nil, err)
	}
	first := make([]byte, 8)
	if _, err := io.ReadFull(answer.Body, first); err != nil {
		return outcomeOf(nil, err)
	}
	go func() {
		io.WriteString(pw, "b")
		pw.Close()
	}()
	o := outcomeOf(answer, nil)
	o.body = string(first) + o.body
	return o
}

// goAway cancels while the handler waits, before or after it has begun to answer.
func goAway(t *testing.T, s side, begun bool) outcome {
	saw, there := make(chan string, 1), make(chan struct{})
	c, base := s.open(t, http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if begun {
			io.WriteString(w, "begun")
			flush(w)
		}
		close(there)
		<-r.Context().Done()
		saw <- r.Context().Err().Error()
	}))
	ctx, cancel := bounded(t)
	defer cancel()
	req, _ := http.NewRequestWithContext(ctx, "POST", base, nil)
	var o outcome
	if begun {
		answer, err := c.Do(req)
		if err != nil {
			return outcomeOf(nil, err)
		}
		first := make([]byte, 5)
		if _, err := io.ReadFull(answer.Body, first); err != nil {
			t.Error(err)
		}
		cancel()
		o = outcomeOf(answer, nil)
		o.body = string(first) + o.body
	} else {
		go func() {
			<-there
			cancel()
		}()
		o = outcomeOf(c.Do(req))
	}
	o.more = "handler: " + <-saw
	return o
}

func goWhileSending(t *testing.T, s side) outcome {
	saw, there := make(chan string, 1), make(chan struct{})
	c, base := s.open(t, http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		io.ReadFull(r.Body, make([]byte, 4))
		close(there)
		if _, err := io.Copy(io.Discard, r.Body); err != nil {
			saw <- "read fails"
			return
		}
		saw <- "read to the end"
	}))
	ctx, cancel := bounded(t)
	defer cancel()
	pr, pw := io.Pipe()
	go io.WriteString(pw, "half")
	req, _ := http.NewRequestWithContext(ctx, "POST", base, pr)
	go func() {
		<-there
		cancel()
		pw.CloseWithError(context.Canceled) // net/http waits for a read that is under way
	}()
	o := outcomeOf(c.Do(req))
	o.more = "handler: " + <-saw
	return o
}

func closeEarly(t *testing.T, s side) outcome {
	saw := make(chan string, 1)
	c, base := s.open(t, http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		said := "write succeeds"
		if _, err := io.Copy(w, newLarge(100*mb)); err != nil {
			said = "write fails"
		}
		<-r.Context().Done()
		saw <- said + ", " + r.Context().Err().Error()
	}))
	ctx, cancel := bounded(t)
	defer cancel()
	req, _ := http.NewRequestWithContext(ctx, "GET", base, nil)
	answer, err := c.Do(req)
	if err != nil {
		return outcomeOf(nil, err)
	}
	if _, err := io.ReadFull(answer.Body, make([]byte, 4096)); err != nil {
		t.Error(err)
	}
	answer.Body.Close()
	return outcome{status: answer.StatusCode, more: "handler: " + <-saw}
}

func readDeadline(t *testing.T, s side) outcome {
	c, base := s.open(t, http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if err := http.NewResponseController(w).SetReadDeadline(time.Now().Add(-time.Second)); err != nil {
			panic(err)
		}
		_, err := io.Copy(io.Discard, r.Body)
		w.Header().Set("Connection", "close")
		fmt.Fprint(w, "deadline ", isTimeout(err))
	}))
	pr, pw := io.Pipe()
	defer pw.Close()
	return ask(t, c, "POST", base, pr)
}

func isTimeout(err error) bool {
	var timeout interface{ Timeout() bool }
	return errors.As(err, &timeout) && timeout.Timeout()
}

func writeDeadline(t *testing.T, s side) outcome {
	saw := make(chan string, 1)
	c, base := s.open(t, http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.WriteHeader(200)
		flush(w)
		if err := http.NewResponseController(w).SetWriteDeadline(time.Now().Add(20 * time.Millisecond)); err != nil {
			panic(err)
		}
		_, err := io.Copy(w, newLarge(1000*mb))
		saw <- fmt.Sprint("deadline ", isTimeout(err))
	}))
	ctx, cancel := bounded(t)
	defer cancel()
	req, _ := http.NewRequestWithContext(ctx, "GET", base, nil)
	answer, err := c.Do(req)
	if err != nil {
		return outcomeOf(nil, err)
	}
	more := <-saw // nothing is read until the time is over
	o := outcomeOf(answer, nil)
	o.more = more
	return o
}
