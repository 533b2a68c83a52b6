package api

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"log/slog"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"time"

	"pawl/api/client"
	"pawl/api/wire"
	"pawl/model"
	"pawl/model/people"
)

// shop is a real one in a folder of its own, behind the service. When the test
// ends the whole of it must verify.
type shop struct {
	testing.TB
	*model.Shop
	dir     string
	handler http.Handler
	clock   *clock
}

// clock goes on by a second at each look, unless it is set.
type clock struct {
	mu  sync.Mutex
	now time.Time
}

func (c *clock) tick() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = c.now.Add(time.Second)
	return c.now
}

func (c *clock) set(t time.Time) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = t
}

// chance is the same in every run.
func chance(seed byte) io.Reader { return rand.NewChaCha8([32]byte{seed}) }

func openShop(t testing.TB) *shop {
	t.Helper()
	return openShopFrom(t, 1)
}

// openShopFrom opens one whose ids are drawn from that seed: another seed is
// another shop.
func openShopFrom(t testing.TB, seed byte) *shop {
	t.Helper()
	return openShopWith(t, model.Options{Chance: chance(seed)})
}

// openShopWith opens one with options of its own.
func openShopWith(t testing.TB, o model.Options) *shop {
	t.Helper()
	s := &shop{TB: t, dir: t.TempDir(), clock: &clock{now: time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)}}
	o.Dir, o.Program, o.Clock = s.dir, "test", s.clock.tick
	var err error
	s.Shop, err = model.Open(context.Background(), o)
	if err != nil {
		t.Fatal(err)
	}
	s.handler = agreed.hold(t, New(s.Shop, Options{Version: "test", Chance: chance(2)}))
	t.Cleanup(s.verifyAndClose)
	return s
}

func (s *shop) verifyAndClose() {
	defer s.Close()
	v, err := s.Verify(context.Background(), model.By{Actor: atComputer}, model.VerifyQuery{})
	if err != nil || len(v.Problems) > 0 {
		s.Errorf("the shop does not verify: %v %v", v.Problems, err)
	}
}

// atComputer is a manager who holds the data folder.
var atComputer = people.Actor{Role: people.Manager, Via: people.ViaLocal}

// asker sends requests as one actor.
type asker struct {
	*shop
	actor  *people.Actor // nil: nobody, as from the network
	secret string        // bearer token
}

func (s *shop) manager() asker { return asker{shop: s, actor: &atComputer} }

func (s *shop) as(role people.Role) asker {
	return asker{shop: s, actor: &people.Actor{Role: role, Via: people.ViaToken}}
}

func (s *shop) nobody() asker { return asker{shop: s} }

// person adds somebody and acts as them.
func (s *shop) person(name string, role people.Role) asker {
	s.Helper()
	var p wire.Person
	s.manager().post("/people", wire.NewPerson{Name: name, Role: string(role)}).want(http.StatusCreated).into(&p)
	return asker{shop: s, actor: &people.Actor{Person: p.ID, Name: p.Name, Role: role, Via: people.ViaToken}}
}

// reply is an answer with what tests ask of it.
type reply struct {
	*httptest.ResponseRecorder
	t    testing.TB
	what string
}

// send sends a request. Headers are "Name: value"; an empty value takes one away.
func (a asker) send(method, path string, body io.Reader, headers ...string) reply {
	a.Helper()
	r := httptest.NewRequest(method, path, body)
	if a.actor != nil {
		r = r.WithContext(client.WithActor(r.Context(), *a.actor))
	}
	if a.secret != "" {
		r.Header.Set("Authorization", "Bearer "+a.secret)
	}
	for _, h := range headers {
		name, value, _ := strings.Cut(h, ": ")
		r.Header.Add(name, value)
	}
	got := httptest.NewRecorder()
	a.handler.ServeHTTP(got, r)
	return reply{got, a.TB, method + " " + path}
}

func (a asker) get(path string, headers ...string) reply {
	a.Helper()
	return a.send(http.MethodGet, Prefix+path, nil, headers...)
}

func (a asker) post(path string, in any, headers ...string) reply {
	a.Helper()
	return a.send(http.MethodPost, Prefix+path, asJSON(a.TB, in), append(headers, "Content-Type: "+jsonType)...)
}

// patch sends a change founded on an entity tag.
func (a asker) patch(path, etag string, in any, headers ...string) reply {
	a.Helper()
	return a.send(http.MethodPatch, Prefix+path, asJSON(a.TB, in), append(headers, "Content-Type: "+patchType, "If-Match: "+etag)...)
}

// asJSON takes a text as it is.
func asJSON(t testing.TB, in any) io.Reader {
	t.Helper()
	if text, ok := in.(string); ok {
		return strings.NewReader(text)
	}
	b, err := json.Marshal(in)
	if err != nil {
		t.Fatal(err)
	}
	return bytes.NewReader(b)
}

func (r reply) want(status int) reply {
	r.t.Helper()
	if r.Code != status {
		r.t.Fatalf("%s: %d, want %d\n%s", r.what, r.Code, status, r.Body)
	}
	return r
}

func (r reply) into(v any) reply {
	r.t.Helper()
	if err := json.Unmarshal(r.Body.Bytes(), v); err != nil {
		r.t.Fatalf("%s: %v\n%s", r.what, err, r.Body)
	}
	return r
}

// refused is the problem of an answer of that status.
func (r reply) refused(status int) wire.Problem {
	r.t.Helper()
	var p wire.Problem
	r.want(status).into(&p)
	if p.Status != status || r.Header().Get("Content-Type") != wire.ProblemType {
		r.t.Errorf("%s: status %d in a %s of %d", r.what, r.Code, r.Header().Get("Content-Type"), p.Status)
	}
	return p
}

func (r reply) header(name string) string { return r.Header().Get(name) }

// sent sends a request that was made by hand.
func (a asker) sent(r *http.Request) reply {
	a.Helper()
	if a.actor != nil {
		r = r.WithContext(client.WithActor(r.Context(), *a.actor))
	}
	got := httptest.NewRecorder()
	a.handler.ServeHTTP(got, r)
	return reply{got, a.TB, r.Method + " " + r.URL.Path}
}

// counted counts the bytes that are read of it.
type counted struct {
	r io.Reader
	n int
}

func (c *counted) Read(p []byte) (int, error) {
	n, err := c.r.Read(p)
	c.n += n
	return n, err
}

// lines is a log that tests read.
type lines struct {
	mu   sync.Mutex
	text strings.Builder
}

func (l *lines) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.text.Write(p)
}

func (l *lines) logger() *slog.Logger { return slog.New(slog.NewTextHandler(l, nil)) }

// take gives what was logged since the last time.
func (l *lines) take() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	defer l.text.Reset()
	return l.text.String()
}
