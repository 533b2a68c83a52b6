package cli_test

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"pawl/api/client"
	"pawl/api/wire"
	"pawl/model/fault"
	"pawl/model/register"
)

// trio is three servers of one shop with a manager's client of each.
type trio struct {
	*replicas
	db      *sql.DB
	manager [3]*client.Client
	fresh   int // tools that were used up
}

// TestReplicasAgree has three servers of one shop, each of which knows at once what was
// done at another.
func TestReplicasAgree(t *testing.T) {
	s := &trio{}
	s.replicas, s.db = replicated(t, itself, 3, 40)
	for i := range s.manager {
		s.manager[i] = s.client(i, s.token)
	}
	t.Run("one of many takers wins", s.oneTaker)
	t.Run("a repeat gives the first answer", s.repeats)
	t.Run("a token that is revoked", s.revokedToken)
	t.Run("somebody who left", s.left)
	t.Run("wrong tries", s.wrongTries)
	t.Run("a device that is shut out", s.revokedDevice)
	t.Run("settings that two change", s.settings)
	t.Run("a count", s.count)
	t.Run("serials", s.serials)
	t.Run("a photo", s.photo)
	t.Run("chores", s.chores)
	t.Run("what is kept in memory", s.kept)
}

// tool is one that nobody had yet.
func (s *trio) tool() string {
	s.fresh++
	return s.numbers[s.fresh-1]
}

// each asks all three at once.
func each[T any](s *trio, ask func(i int) (T, error)) (got [3]T, errs [3]error) {
	var all sync.WaitGroup
	begin := make(chan struct{})
	for i := range got {
		all.Go(func() {
			<-begin
			got[i], errs[i] = ask(i)
		})
	}
	close(begin)
	all.Wait()
	return got, errs
}

func (s *trio) oneTaker(t *testing.T) {
	for range size(5, 20, 100) {
		n := s.tool()
		s.fresh--
		_, errs := each(s, func(i int) (wire.Done, error) {
			return s.manager[i].Take(t.Context(), n, wire.Take{To: hands[i]})
		})
		shown, _, err := s.manager[0].Tool(t.Context(), n)
		if err != nil || shown.Custody.Person == nil {
			t.Fatalf("%+v, %v", shown.Custody, err)
		}
		won := 0
		for i, err := range errs {
			switch {
			case err == nil && *shown.Custody.Person == hands[i]:
				won++
			case !fault.Is(err, fault.Conflict) || fault.Of(err).Facts["holder"] != *shown.Custody.Person:
				t.Errorf("%s was told %v, and %s has it", hands[i], err, *shown.Custody.Person)
			}
		}
		if won != 1 {
			t.Errorf("%d won", won)
		}
		if _, err := s.manager[1].Return(t.Context(), n, wire.Return{}); err != nil {
			t.Fatal(err)
		}
	}
	s.fresh++
}

// Who asks again elsewhere, while the first is still under way or later, is told the
// same; nothing is done twice.
func (s *trio) repeats(t *testing.T) {
	n := s.tool()
	for round := range size(10, 50, 300) {
		for _, act := range []string{"take", "return"} {
			key := client.Key(fmt.Sprintf("repeat-%s-%d", act, round))
			before := s.acts(t)
			got, errs := each(s, func(i int) (wire.Done, error) {
				if act == "take" {
					return s.manager[i].Take(t.Context(), n, wire.Take{To: hands[0]}, key)
				}
				return s.manager[i].Return(t.Context(), n, wire.Return{}, key)
			})
			for i := range got {
				if errs[i] != nil || asText(got[i]) != asText(got[0]) {
					t.Fatalf("%s %d at server %d: %s, %v; the first told %s", act, round, i, asText(got[i]), errs[i], asText(got[0]))
				}
			}
			if acts := s.acts(t) - before; acts != 1 {
				t.Fatalf("%s %d was done %d times", act, round, acts)
			}
		}
		_, err := s.manager[round%3].Take(t.Context(), n, wire.Take{To: hands[1]}, client.Key(fmt.Sprintf("repeat-take-%d", round)))
		if !fault.Is(err, fault.Invalid) {
			t.Fatalf("the key for another request: %v", err)
		}
	}
}

func asText(v any) string {
	text, _ := json.Marshal(v)
	return string(text)
}

// acts is the number of acts in the ledger.
func (s *trio) acts(t *testing.T) (n int) {
	t.Helper()
	if err := s.db.QueryRow("SELECT count(DISTINCT act) FROM lines").Scan(&n); err != nil {
		t.Fatal(err)
	}
	return n
}

func (s *trio) revokedToken(t *testing.T) {
	for i := range s.manager {
		id, secret := s.tokenFor(t, hands[i])
		s.refusedOnceRevoked(t, secret, func(c *client.Client) error {
			_, err := c.RevokeToken(t.Context(), id)
			return err
		}, i)
	}
}

// tokenFor makes a token for somebody, which is done at the shop's computer.
func (s *trio) tokenFor(t *testing.T, name string) (id, secret string) {
	t.Helper()
	file := filepath.Join(t.TempDir(), "token")
	run(t, nil, s.argv[0], slices.Concat(s.argv[1:], []string{"--data", s.folders[0], "token", "add", "scale of " + name, "--role", "technician", "--for", name, "-o", file})...)
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	all, err := s.manager[0].Tokens(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, made := range all.Tokens {
		if made.Name == "scale of "+name {
			return made.ID, strings.TrimSpace(string(text))
		}
	}
	t.Fatalf("no token of %s among %+v", name, all.Tokens)
	return "", ""
}

// refusedOnceRevoked requires that a way in opens all three servers, and none as soon as
// it was revoked at one of them.
func (s *trio) refusedOnceRevoked(t *testing.T, secret string, revoke func(*client.Client) error, at int) {
	t.Helper()
	s.forgive(t)
	for i := range s.manager {
		if _, err := s.client(i, secret).Whoami(t.Context()); err != nil {
			t.Fatalf("server %d does not let it in: %v", i, err)
		}
	}
	if err := revoke(s.manager[at]); err != nil {
		t.Fatal(err)
	}
	for i := range s.manager {
		if _, err := s.client(i, secret).Whoami(t.Context()); !fault.Is(err, fault.Unauthenticated) {
			t.Errorf("revoked at server %d, server %d says %v", at, i, err)
		}
	}
}

func (s *trio) left(t *testing.T) {
	for i := range s.manager {
		p, err := s.manager[i].AddPerson(t.Context(), wire.NewPerson{Name: fmt.Sprint("Summer help ", i), Role: "technician"})
		if err != nil {
			t.Fatal(err)
		}
		_, secret := s.tokenFor(t, p.Name)
		s.refusedOnceRevoked(t, secret, func(c *client.Client) error {
			_, err := c.Leave(t.Context(), p.ID, wire.Leave{})
			return err
		}, (i+1)%3)
	}
}

// A shop device is let in at one server, works at all with a badge, and at none once a
// manager shut it out.
func (s *trio) revokedDevice(t *testing.T) {
	everybody, err := s.manager[0].People(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	badge := everybody.People[0].Badge
	for i := range s.manager {
		e, err := s.manager[i].Enroll(t.Context(), wire.NewEnrolment{ShopDevice: fmt.Sprint("board ", i)})
		if err != nil {
			t.Fatal(err)
		}
		cookie := s.enter(t, (i+1)%3, e.Link)
		n := s.tool()
		if got := s.boardAct(t, (i+2)%3, cookie, badge, n, "take"); got != http.StatusOK {
			t.Fatalf("a take at the board: %d", got)
		}
		if got := s.boardAct(t, i, cookie, badge, n, "return"); got != http.StatusOK {
			t.Fatalf("a return at the board of another server: %d", got)
		}
		devices, err := s.manager[i].Devices(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range devices.Devices {
			if d.Name == fmt.Sprint("board ", i) {
				if _, err := s.manager[i].RevokeDevice(t.Context(), d.ID); err != nil {
					t.Fatal(err)
				}
			}
		}
		for at := range s.manager {
			if got := s.boardAct(t, at, cookie, badge, n, "take"); got != http.StatusUnauthorized {
				t.Errorf("shut out at server %d, server %d answers %d", i, at, got)
			}
		}
	}
}

// enter takes a way in at one server, and gives the cookie.
func (s *trio) enter(t *testing.T, at int, link string) *http.Cookie {
	t.Helper()
	_, secret, _ := strings.Cut(link, "/enter/")
	answer, err := http.Post(s.up[at].url+"/api/v1/enrolments/"+secret+"/enter", "application/json", strings.NewReader(`{}`))
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	if answer.StatusCode != http.StatusCreated || len(answer.Cookies()) != 1 {
		t.Fatalf("%s, %v", answer.Status, answer.Cookies())
	}
	return answer.Cookies()[0]
}

// boardAct gives the status of one act at a board.
func (s *trio) boardAct(t *testing.T, at int, cookie *http.Cookie, badge, number, verb string) int {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, s.up[at].url+"/api/v1/tools/"+number+"/"+verb, strings.NewReader(`{}`))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", "application/json")
	r.Header.Set("Pawl-Badge", "B/"+strings.TrimPrefix(badge, "B/"))
	r.AddCookie(cookie)
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	answer.Body.Close()
	return answer.StatusCode
}

// Of those who change the same settings, as they read them, one may; and all see it.
func (s *trio) settings(t *testing.T) {
	for range size(3, 10, 50) {
		_, tag, err := s.manager[0].Settings(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		_, errs := each(s, func(i int) (wire.Settings, error) {
			return s.manager[i].ChangeSettings(t.Context(), tag, map[string]any{"name": "Garage of " + fmt.Sprint(i, " ", tag)})
		})
		won := -1
		for i, err := range errs {
			switch {
			case err == nil && won < 0:
				won = i
			case !fault.Is(err, fault.Stale):
				t.Errorf("server %d: %v, after %d was the first", i, err, won)
			}
		}
		for i := range s.manager {
			if now, _, err := s.manager[i].Settings(t.Context()); err != nil || won >= 0 && now.Name != "Garage of "+fmt.Sprint(won, " ", tag) {
				t.Errorf("server %d: %q, %v; server %d changed it", i, now.Name, err, won)
			}
		}
	}
}

// Three people scan one count at three servers; a scan of the same tool counts once, and
// none counts after it was closed elsewhere.
func (s *trio) count(t *testing.T) {
	c, err := s.manager[0].StartCount(t.Context(), wire.StartCount{})
	if err != nil {
		t.Fatal(err)
	}
	scan := func(ctx context.Context, i int, number string) error {
		_, err := s.manager[i].ScanCount(ctx, c.ID, wire.ScanCount{Scanned: number})
		return err
	}
	left := s.numbers[len(s.numbers)-1]
	_, errs := each(s, func(i int) (bool, error) {
		for k := range s.numbers[:len(s.numbers)-1] {
			n := s.numbers[(k+13*i)%(len(s.numbers)-1)]
			if err := scan(t.Context(), i, n); err != nil && !fault.Is(err, fault.Conflict) {
				return false, fmt.Errorf("%s: %w", n, err)
			}
			if _, err := s.manager[(i+1)%3].Count(t.Context(), c.ID); err != nil {
				return false, err
			}
		}
		return true, nil
	})
	for i, err := range errs {
		if err != nil {
			t.Errorf("server %d: %v", i, err)
		}
	}
	for i := range s.manager {
		v, err := s.manager[i].Count(t.Context(), c.ID)
		if err != nil || v.Numbers.Seen != len(s.numbers)-1 || v.Numbers.NotSeen != 1 {
			t.Errorf("server %d: %+v, %v; want %d seen and one not", i, v.Numbers, err, len(s.numbers)-1)
		}
	}
	if _, err := s.manager[1].CloseCount(t.Context(), c.ID); err != nil {
		t.Fatal(err)
	}
	for i := range s.manager {
		if err := scan(t.Context(), i, left); !fault.Is(err, fault.Conflict) {
			t.Errorf("a scan at server %d after it was closed: %v", i, err)
		}
	}
}

// A serial that is registered or mended at one server is matched by all.
func (s *trio) serials(t *testing.T) {
	find := func(i int, serial string) (numbers []string) {
		m, err := s.manager[i].Match(t.Context(), client.MatchQuery{Reading: serial})
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range m.Candidates {
			if c.Serial == serial {
				numbers = append(numbers, c.Number)
			}
		}
		return numbers
	}
	for i := range s.manager {
		find(i, "QX7750142") // so that each has them in memory
	}
	for i := range s.manager {
		first, mended := fmt.Sprint("QX77501", 40+i), fmt.Sprint("QZ88612", 60+i)
		kind := "ratchet"
		made, err := s.manager[i].Register(t.Context(), register.New{SerialAgain: first, Change: register.Change{Kind: &kind, Serial: &first}})
		if err != nil {
			t.Fatal(err)
		}
		for at := range s.manager {
			if got := find(at, first); len(got) != 1 || got[0] != made.Number {
				t.Errorf("registered at server %d, server %d finds %v, want %s", i, at, got, made.Number)
			}
		}
		if _, _, err := s.manager[(i+1)%3].Tool(t.Context(), made.Number); err != nil {
			t.Fatal(err)
		}
		_, tag, err := s.manager[(i+1)%3].Tool(t.Context(), made.Number)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := s.manager[(i+1)%3].ChangeTool(t.Context(), made.Number, tag, map[string]any{"serial": mended, "serial_again": mended}); err != nil {
			t.Fatal(err)
		}
		for at := range s.manager {
			if was, is := find(at, first), find(at, mended); len(was) != 0 || len(is) != 1 {
				t.Errorf("mended at server %d, server %d finds %v and %v", (i+1)%3, at, was, is)
			}
		}
	}
}

// A photo that came in at one server is named at another and shown by the third.
func (s *trio) photo(t *testing.T) {
	for i := range s.manager {
		photo := noise(t, int64(400+i))
		sum := sha256.Sum256(photo)
		sha := hex.EncodeToString(sum[:])
		if got := put(t, s.up[i].url, s.token, photo); got != http.StatusCreated {
			t.Fatalf("the upload: %d", got)
		}
		n := s.tool()
		if _, err := s.manager[(i+1)%3].Attach(t.Context(), n, []wire.Attach{{Kind: "whole", SHA256: sha}}); err != nil {
			t.Fatal(err)
		}
		var shown strings.Builder
		if err := s.manager[(i+2)%3].Original(t.Context(), sha, &shown); err != nil || shown.String() != string(photo) {
			t.Errorf("server %d shows %d bytes of %d, %v", (i+2)%3, shown.Len(), len(photo), err)
		}
	}
}

// The checkpoint and the roll of a day are made once, whoever is asked for them, and
// whoever of three has just been started.
func (s *trio) chores(t *testing.T) {
	rows := func(query string) (n int) {
		if err := s.db.QueryRow(query).Scan(&n); err != nil {
			t.Fatal(err)
		}
		return n
	}
	const day = 24 * 60 * 60 * 1_000_000
	if _, err := s.db.Exec("UPDATE checkpoints SET made = made - $1", 2*day); err != nil { // the next is due
		t.Fatal(err)
	}
	before, rolls := rows("SELECT count(*) FROM checkpoints"), rows("SELECT count(*) FROM rolls")
	for range size(3, 10, 30) {
		_, errs := each(s, func(i int) (wire.Chores, error) { return s.manager[i].Chores(t.Context()) })
		if err := errors.Join(errs[:]...); err != nil {
			t.Error(err)
		}
	}
	if made := rows("SELECT count(*) FROM checkpoints") - before; made != 1 {
		t.Errorf("%d checkpoints were made", made)
	}
	if made := rows("SELECT count(*) FROM rolls"); made > rolls+1 || rows("SELECT count(DISTINCT id) FROM rolls") != made {
		t.Errorf("%d rolls after %d", made, rolls)
	}
}

// What a server keeps in memory is as of now when it is asked: it answers as one does
// that has just been started.
func (s *trio) kept(t *testing.T) {
	questions := map[string]func(*client.Client) (any, error){
		"the round of markings": func(c *client.Client) (any, error) { return c.MarkingRoundAll(t.Context()) },
		"the plan of a count":   func(c *client.Client) (any, error) { return c.CountPlan(t.Context(), 1) },
		"rechecks":              func(c *client.Client) (any, error) { return c.UnsettledRechecks(t.Context()) },
		"gaps":                  func(c *client.Client) (any, error) { return c.GapsAll(t.Context()) },
		"what is due":           func(c *client.Client) (any, error) { return c.Due(t.Context(), client.DueQuery{}) },
		"people":                func(c *client.Client) (any, error) { return c.People(t.Context()) },
		"all tools": func(c *client.Client) (any, error) {
			var out strings.Builder
			return &out, c.Export(t.Context(), "csv", nil, &out)
		},
	}
	said := func(c *client.Client) map[string]string {
		out := map[string]string{}
		for what, ask := range questions {
			v, err := ask(c)
			if err != nil {
				t.Fatalf("%s: %v", what, err)
			}
			if text, is := v.(fmt.Stringer); is {
				v = text.String()
			}
			out[what] = asText(v)
		}
		return out
	}
	before := said(s.manager[0])
	for i := range s.manager {
		said(s.manager[i]) // it is in memory now
	}
	for i := range s.manager {
		kind, serial, bought, warranty := "torque wrench", fmt.Sprint("WR4410", i), "2026-01-15", int64(240)
		made, err := s.manager[i].Register(t.Context(), register.New{SerialAgain: serial, Change: register.Change{Kind: &kind, Serial: &serial, WarrantyMonths: &warranty, Bought: &bought,
			Marking: &register.MarkingEntry{Method: "printed"}}})
		if err != nil {
			t.Fatal(err)
		}
		if i == 0 {
			s.foundOut(t, made.Number)
		}
	}
	new := serve(t, s.folders[0], s.argv...)
	defer new.stop(t)
	want := said(connect(new.url, s.token))
	for i := range s.manager {
		got := said(s.manager[i])
		for what := range questions {
			if got[what] != want[what] {
				t.Errorf("%s: server %d says\n%.600s\none just started\n%.600s", what, i, got[what], want[what])
			}
		}
	}
	for what := range questions {
		if want[what] == before[what] {
			t.Errorf("%s: nothing that was done changes it", what)
		}
	}
}

// foundOut has a wrench used on a job and then found out, by commands of a fourth process.
func (s *trio) foundOut(t *testing.T, number string) {
	t.Helper()
	pawl := func(words ...string) {
		t.Helper()
		run(t, nil, s.argv[0], slices.Concat(s.argv[1:], []string{"--data", s.folders[0]}, words)...)
	}
	today := time.Now().UTC().Format(time.DateOnly)
	pawl("people", "add", "Tech B", "--role", "technician")
	pawl("calibrate", number, "--preset", "torque-wrench-setting", "--range", "40..200", "--unit", "N·m", "--graduation", "1", "--directions", "cw")
	pawl("calibrate", number, "--lab", "Own words", "--certificate-number", "C-1", "--on", "2026-01-05", "--direction", "cw", "--as-left", "40=40.0,120=119.5,200=200.5", "--uncertainty", "2.0%")
	pawl("tighten", number, "--job", "1042", "--fastener", "rear wheel nuts", "--target", "120 N·m", "--limits", "118..122")
	pawl("calibrate", number, "--lab", "Own words", "--certificate-number", "C-2", "--on", today, "--direction", "cw", "--adjusted",
		"--as-found", "40=40.4,120=110.0,200=185.2", "--as-left", "40=40,120=120,200=200", "--uncertainty", "2.0%")
}

// Wrong tries count together, whichever server hears them.
func (s *trio) wrongTries(t *testing.T) {
	s.forgive(t)
	heard := 0
	for i := range 20 {
		_, err := s.client(i%3, "nobody's").Whoami(t.Context())
		switch {
		case fault.Is(err, fault.Unauthenticated):
			heard++
		case !fault.Is(err, fault.Throttled):
			t.Fatal(err)
		}
	}
	if heard != 10 {
		t.Errorf("%d wrong tries were heard, want 10", heard)
	}
	s.forgive(t)
}

// forgive forgets wrong tries.
func (s *trio) forgive(t *testing.T) {
	t.Helper()
	if _, err := s.db.Exec("DELETE FROM throttles"); err != nil {
		t.Fatal(err)
	}
}
