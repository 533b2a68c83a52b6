package model

import (
	"encoding/hex"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/people"
	"pawl/model/register"
)

const fromHere = "192.0.2.7" // RFC 5737 section 3

// enter takes a way in with a phone.
func (g *garage) enter(t *testing.T, e Enrolment, err error) Entered {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
	in, err := g.Enter(ctx, Entry{Secret: e.Secret, Device: "a phone", Name: "Boss"}, fromHere)
	if err != nil {
		t.Fatal(err)
	}
	return in
}

// let lets a phone of a person in and gives who asks with it.
func (g *garage) let(t *testing.T, name string) (By, Entered) {
	t.Helper()
	e, err := g.Enroll(ctx, g.boss, name)
	in := g.enter(t, e, err)
	return g.session(t, in.Secret), in
}

func (g *garage) session(t *testing.T, secret string) By {
	t.Helper()
	a, err := g.Session(ctx, secret)
	if err != nil {
		t.Fatal(err)
	}
	return By{Actor: a}
}

// wantOut holds a session to open nothing.
func (g *garage) wantOut(t *testing.T, secret string) {
	t.Helper()
	if a, err := g.Session(ctx, secret); !fault.Is(err, fault.Unauthenticated) || a != (Actor{}) {
		t.Errorf("the session opens %+v, %v", a, err)
	}
}

func TestAPersonIsLetInOnce(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		e, err := g.Enroll(ctx, g.boss, "tech a")
		if err != nil || e.Kind != people.PersonDevice || e.Name != "Tech A" || e.First || len(e.Secret) != 22 || e.Expires.Time().Sub(g.clock.Now()) != 15*time.Minute {
			t.Fatalf("%+v, %v", e, err)
		}
		before := g.lines(t)
		for range 3 { // looking uses nothing up and leaves no line
			seen, err := g.LookEnrolment(ctx, e.Secret, fromHere)
			if want := (Enrolment{Kind: e.Kind, Name: "Tech A", Expires: e.Expires}); err != nil || seen != want {
				t.Errorf("%+v, %v; want %+v", seen, err, want)
			}
		}
		_, err = g.Enter(ctx, Entry{Secret: e.Secret, Device: " "}, fromHere)
		wantPointers(t, err, "#/device")
		if g.lines(t) != before {
			t.Errorf("%d lines too many", g.lines(t)-before)
		}
		in, err := g.Enter(ctx, Entry{Secret: e.Secret, Device: "A's  phone"}, fromHere)
		if err != nil || in.Name != "A's phone" || in.Device.Person != g.techA.Person || in.PersonName != "Tech A" || len(in.Secret) != 43 || in.ID[0] != 'D' || g.lines(t) != before+1 {
			t.Fatalf("%+v, %v, %d lines", in, err, g.lines(t)-before)
		}
		by := g.session(t, in.Secret)
		if want := (Actor{Person: g.techA.Person, Name: "Tech A", Role: people.Technician, Via: people.ViaDevice, Device: in.ID}); by.Actor != want {
			t.Errorf("acts as %+v, want %+v", by.Actor, want)
		}
		_, err = g.Enter(ctx, Entry{Secret: e.Secret, Device: "another"}, fromHere)
		wantFault(t, err, fault.NotFound, "was used")
		_, err = g.LookEnrolment(ctx, e.Secret, fromHere)
		wantFault(t, err, fault.NotFound, "was used")
	})
}

func TestALinkLastsFifteenMinutes(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		e, err := g.Enroll(ctx, g.boss, "Tech A")
		if err != nil {
			t.Fatal(err)
		}
		g.clock.advance(15*time.Minute - time.Microsecond)
		if _, err := g.LookEnrolment(ctx, e.Secret, fromHere); err != nil {
			t.Errorf("a moment before its end: %v", err)
		}
		g.clock.advance(time.Microsecond)
		_, err = g.Enter(ctx, Entry{Secret: e.Secret, Device: "late"}, fromHere)
		wantFault(t, err, fault.NotFound, "15 minutes")
	})
}

func TestOfManyWithOneLinkOneIsLetIn(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		e, err := g.Enroll(ctx, g.boss, "Tech A")
		if err != nil {
			t.Fatal(err)
		}
		other := g.open(t) // as another process would
		errs := make([]error, 8)
		together(len(errs), func(i int) {
			shop := []*Shop{g.Shop, other}[i%2]
			_, errs[i] = shop.Enter(ctx, Entry{Secret: e.Secret, Device: fmt.Sprint("phone ", i)}, fmt.Sprint("address ", i))
		})
		let := 0
		for _, err := range errs {
			if err == nil {
				let++
			} else if !fault.Is(err, fault.NotFound) {
				t.Error(err)
			}
		}
		if all, err := g.Devices(ctx, g.boss); let != 1 || len(all) != 1 || err != nil {
			t.Errorf("%d were let in, %d devices, %v", let, len(all), err)
		}
	})
}

// Who may make a way in for whom; see Enroll for why.
func TestWhoLetsWhomIn(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		manager, _ := g.let(t, "Manager M")
		techA, phone := g.let(t, "Tech A")
		board := g.board(t)
		badged, err := g.ShowBadge(ctx, board.Actor, "B/"+g.badgeOf(t, g.techA.Person))
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range []struct {
			who  string
			by   By
			whom string
			kind fault.Kind // empty: may
		}{
			{"a manager lets somebody in", manager, "Tech B", ""},
			{"but not beside a device in force", manager, "Tech A", fault.Conflict},
			{"who sits at the computer may", g.boss, "Tech A", ""},
			{"a person lets their own next device in", techA, "Tech A", ""},
			{"a person at the computer too", By{Actor: Actor{Person: g.techA.Person, Role: people.Technician, Via: people.ViaLocal}}, "Tech A", ""},
			{"and nobody else's", techA, "Tech B", fault.Forbidden},
			{"a script lets nobody in as its person", g.techA, "Tech A", fault.Forbidden},
			{"a manager's script lets somebody in", g.manager, "Tech B", ""},
			{"a board lets nobody in", board, "Tech B", fault.Forbidden},
			{"nor does a badge", By{Actor: badged}, "Tech A", fault.Forbidden},
			{"nobody of that name", g.boss, "Tech Z", fault.NotFound},
		} {
			e, err := g.Enroll(ctx, c.by, c.whom)
			switch {
			case c.kind == "" && (err != nil || e.Secret == ""):
				t.Errorf("%s: %v", c.who, err)
			case c.kind != "" && (!fault.Is(err, c.kind) || e.Secret != ""):
				t.Errorf("%s: %v, want %s", c.who, err, c.kind)
			}
		}
		if _, err := g.RevokeDevice(ctx, manager, phone.ID); err != nil {
			t.Fatal(err)
		}
		if _, err := g.Enroll(ctx, manager, "Tech A"); err != nil {
			t.Errorf("once the lost one is revoked: %v", err)
		}
		for _, by := range []By{techA, board, {Actor: badged}} {
			_, err := g.EnrollShopDevice(ctx, by, "Board")
			wantFault(t, err, fault.Forbidden, "may not")
			_, err = g.EnrollViewer(ctx, by, "Adjuster", "2026-12-01", "")
			wantFault(t, err, fault.Forbidden, "may not")
		}
	})
}

// board lets a board in and gives who asks with it.
func (g *garage) board(t *testing.T) By {
	t.Helper()
	e, err := g.EnrollShopDevice(ctx, g.boss, "Board 1")
	return g.session(t, g.enter(t, e, err).Secret)
}

func (g *garage) badgeOf(t *testing.T, id string) string {
	t.Helper()
	p, err := g.Person(ctx, g.boss, id)
	if err != nil {
		t.Fatal(err)
	}
	return p.Badge
}

func TestTheFirstManager(t *testing.T) {
	for _, engine := range []string{"sqlite", "postgres"} {
		t.Run(engine, func(t *testing.T) {
			g := emptyGarage(t, engine)
			e, err := g.FirstManager(ctx)
			second, err2 := g.FirstManager(ctx)
			if err != nil || err2 != nil || !e.First || e.Name != "" {
				t.Fatalf("%+v, %v, %v", e, err, err2)
			}
			_, err = g.Enter(ctx, Entry{Secret: e.Secret, Device: "phone", Name: " "}, fromHere)
			wantPointers(t, err, "#/name")
			g.hire(t, "Tech A", "technician")
			_, err = g.Enter(ctx, Entry{Secret: e.Secret, Device: "phone", Name: "tech a"}, fromHere)
			wantFault(t, err, fault.Conflict, "as a technician")
			in, err := g.Enter(ctx, Entry{Secret: e.Secret, Device: "phone", Name: "Boss"}, fromHere)
			if err != nil || in.PersonName != "Boss" || g.session(t, in.Secret).Role != people.Manager {
				t.Fatalf("%+v, %v", in, err)
			}
			_, err = g.Enter(ctx, Entry{Secret: second.Secret, Device: "phone", Name: "Intruder"}, fromHere)
			wantFault(t, err, fault.Conflict, "let in already")
			_, err = g.FirstManager(ctx)
			wantFault(t, err, fault.Conflict, "let in already")
			// When no manager's device is in force any more, there is a first one again.
			if _, err := g.RevokeDevice(ctx, g.boss, in.ID); err != nil {
				t.Fatal(err)
			}
			e, err = g.FirstManager(ctx)
			if again := g.enter(t, e, err); again.Device.Person != in.Device.Person {
				t.Errorf("Boss is %s now, and was %s", again.Device.Person, in.Device.Person)
			}
			g.clock.advance(91 * 24 * time.Hour)
			if _, err := g.FirstManager(ctx); err != nil {
				t.Errorf("after 91 days without use: %v", err)
			}
		})
	}
}

func TestAViewerUntilADay(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) { // it is Friday 2026-10-30, noon in Chicago
		for name, c := range map[string]struct{ name, until, at string }{
			"over":    {"Adjuster", "2026-10-29", "#/until"},
			"no day":  {"Adjuster", "soon", "#/until"},
			"nothing": {"", "", "#/viewer #/until"},
		} {
			_, err := g.EnrollViewer(ctx, g.boss, c.name, c.until, "")
			t.Log(name)
			wantPointers(t, err, c.at)
		}
		e, err := g.EnrollViewer(ctx, g.boss, "Adjuster", "2026-10-31", "")
		in := g.enter(t, e, err)
		if a := g.session(t, in.Secret); a.Role != people.Viewer || a.Person != "" || in.Until != "2026-10-31" || in.Name != "Adjuster" {
			t.Errorf("%+v, %+v", a, in)
		}
		// The day ends at midnight in Chicago, which is five hours behind UTC then.
		g.clock.advance(time.Date(2026, 11, 1, 4, 59, 59, 0, time.UTC).Sub(g.clock.Now()))
		g.session(t, in.Secret)
		g.clock.advance(time.Second)
		g.wantOut(t, in.Secret)
	})
}

// A shop device names whoever shows a badge there, and its rights stay its own.
func TestABadgeAtABoard(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		board, code := g.board(t), g.badgeOf(t, g.techA.Person)
		if board.Role != people.ShopDevice || board.Person != "" || board.Name != "Board 1" {
			t.Fatalf("%+v", board.Actor)
		}
		for _, scanned := range []string{"B/" + code, strings.ToLower("b/" + code), " B/" + code + "\n"} {
			a, err := g.ShowBadge(ctx, board.Actor, scanned)
			if err != nil || !a.Badged() || a.Person != g.techA.Person || a.Name != "Tech A" || a.Role != people.ShopDevice || a.Device != board.Device {
				t.Errorf("%q: %+v, %v", scanned, a, err)
			}
		}
		a, _ := g.ShowBadge(ctx, board.Actor, "B/"+code)
		badged := By{Actor: a}
		n := g.tool(t, owned(g.techA))
		receipt := g.upload(t, g.techA, picture(1))
		if _, err := g.Attach(ctx, g.techA, n, []register.Attach{{Kind: "receipt", SHA256: receipt}}); err != nil {
			t.Fatal(err)
		}
		v, err := g.Tool(ctx, badged, n)
		if err != nil || v.MoneyShown || v.Tool.Price != nil || len(v.Evidence) != 0 {
			t.Errorf("the board shows what is Tech A's alone: %v %v %v", v.Tool.Purchase, v.Evidence, err)
		}
		_, err = g.ChangePerson(ctx, badged, g.techA.Person, 1, PersonChange{Shares: ptr(true)})
		wantFault(t, err, fault.Forbidden, "may not")
		if _, err := g.Take(ctx, badged, n, Take{To: "Tech B"}); !fault.Is(err, fault.Forbidden) {
			t.Errorf("a badge takes for another: %v", err)
		}
		done, err := g.Take(ctx, badged, n, Take{})
		if err != nil || done.Custody.Person != "Tech A" {
			t.Fatalf("%+v, %v", done, err)
		}
		if _, err := g.Return(ctx, board, n, Return{}); err != nil {
			t.Error(err)
		}
		lines, _, err := g.History(ctx, g.boss, n, 0, "")
		var said []string
		for _, l := range lines[len(lines)-2:] {
			said = append(said, l.Actor+", "+l.ActorName)
		}
		want := []string{g.techA.Person + " via device " + board.Device + ", Tech A via device", "shop via device " + board.Device + ", Demo garage via device"}
		if err != nil || !slices.Equal(said, want) {
			t.Errorf("recorded as %q, %v; want %q", said, err, want)
		}
		viewer := g.hire(t, "Viewer V", "viewer")
		for scanned, kind := range map[string]fault.Kind{
			"B/7K3M9P4X": fault.Forbidden, "B/" + g.badgeOf(t, viewer.Person): fault.Forbidden,
			"T/00EKM5": fault.Malformed, code: fault.Malformed, "": fault.Malformed,
		} {
			if _, err := g.ShowBadge(ctx, board.Actor, scanned); !fault.Is(err, kind) {
				t.Errorf("%q: %v, want %s", scanned, err, kind)
			}
		}
		_, err = g.ShowBadge(ctx, g.manager.Actor, "B/"+code)
		wantFault(t, err, fault.Malformed, "for a shop device")
		if _, err := g.Leave(ctx, g.boss, g.techA.Person, Leave{Settled: true}); err != nil {
			t.Fatal(err)
		}
		_, err = g.ShowBadge(ctx, board.Actor, "B/"+code)
		wantFault(t, err, fault.Forbidden, "nobody here has the badge")
	})
}

// Ten wrong tries a minute, then nothing is heard, not even a badge that is right;
// a link or token that is right is never kept waiting. It counts for one device or
// address, over a restart and in every process.
func TestGuessesAreThrottled(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		board, code := g.board(t), "B/"+g.badgeOf(t, g.techA.Person)
		e, err := g.Enroll(ctx, g.boss, "Tech A")
		if err != nil {
			t.Fatal(err)
		}
		token, err := g.AddToken(ctx, g.boss, NewToken{Name: "script", Role: "technician"})
		if err != nil {
			t.Fatal(err)
		}
		wrong := fault.New(fault.Unauthenticated, "unknown")
		for _, c := range []struct {
			name   string
			guess  func(*Shop) error
			right  func(*Shop) error // what is right, and kept waiting
			beside func(*Shop) error // what is not: somebody else, or what cannot be guessed
			kind   fault.Kind
			next   string // what to do once it was waited
		}{
			{"badges at a device", func(s *Shop) error { _, err := s.ShowBadge(ctx, board.Actor, "B/7K3M9P4X"); return err },
				func(s *Shop) error { _, err := s.ShowBadge(ctx, board.Actor, code); return err },
				func(s *Shop) error {
					_, err := s.ShowBadge(ctx, Actor{Role: people.ShopDevice, Device: "D-OTHER"}, code)
					return err
				}, fault.Forbidden, "then scan your badge once more"},
			{"links from an address", func(s *Shop) error { _, err := s.Enter(ctx, Entry{Secret: "x", Device: "d"}, fromHere); return err },
				nil, func(s *Shop) error { _, err := s.LookEnrolment(ctx, e.Secret, fromHere); return err }, fault.NotFound, "then open the newest link"},
			{"tokens from an address", func(s *Shop) error { return s.WrongToken(ctx, fromHere, wrong) },
				nil, func(s *Shop) error { _, err := s.Authenticate(ctx, token.Secret); return err }, fault.Unauthenticated, "then send a token"},
		} {
			t.Run(c.name, func(t *testing.T) {
				other := g.open(t)
				for i := range 10 {
					if err := c.guess([]*Shop{g.Shop, other}[i%2]); !fault.Is(err, c.kind) {
						t.Fatalf("guess %d: %v, want %s", i+1, err, c.kind)
					}
					g.clock.advance(time.Second)
				}
				after := g.open(t) // after a restart
				for _, ask := range []func(*Shop) error{c.guess, c.right} {
					if ask != nil {
						err := ask(after)
						wantFault(t, err, fault.Throttled, "10 within a minute", "retry_after", "50", "quota", "10", "window", "60")
						if hint := fault.Of(err).Hint; !strings.Contains(hint, "wait 50 s, "+c.next) {
							t.Errorf("what to do: %q", hint)
						}
					}
				}
				if err := c.beside(after); err != nil {
					t.Errorf("what is not to wait waits: %v", err)
				}
				g.clock.advance(50*time.Second - time.Microsecond)
				wantFault(t, c.guess(g.Shop), fault.Throttled, "", "retry_after", "1")
				g.clock.advance(time.Microsecond) // the first is a minute old: one more is heard
				if err := c.guess(g.Shop); !fault.Is(err, c.kind) {
					t.Errorf("%v, want %s", err, c.kind)
				}
				wantFault(t, c.guess(g.Shop), fault.Throttled, "", "retry_after", "1")
				g.clock.advance(time.Minute)
				if c.right != nil && c.right(g.Shop) != nil {
					t.Errorf("a minute later: %v", c.right(g.Shop))
				}
			})
		}
	})
}

func TestOfManyGuessesAtOnceTenAreHeard(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		board, other := g.board(t), g.open(t)
		errs := make([]error, 24)
		together(len(errs), func(i int) {
			_, errs[i] = []*Shop{g.Shop, other}[i%2].ShowBadge(ctx, board.Actor, fmt.Sprintf("B/7K3M9P%02d", i))
		})
		heard := 0
		for _, err := range errs {
			switch {
			case fault.Is(err, fault.Forbidden):
				heard++
			case !fault.Is(err, fault.Throttled):
				t.Error(err)
			}
		}
		if heard != 10 {
			t.Errorf("%d were heard", heard)
		}
	})
}

// A session ends 90 days after its last use, which is kept to 5 minutes.
func TestSessionsEnd(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		_, in := g.let(t, "Tech A")
		lastUsed := func() dates.Instant {
			all, err := g.Devices(ctx, g.boss)
			if err != nil || len(all) != 1 {
				t.Fatal(all, err)
			}
			return all[0].LastUsed
		}
		for _, c := range []struct{ after, kept time.Duration }{{4 * time.Minute, 0}, {5 * time.Minute, 5 * time.Minute}, {9 * time.Minute, 5 * time.Minute}, {11 * time.Minute, 11 * time.Minute}} {
			start := in.Since.Time()
			g.clock.advance(start.Add(c.after).Sub(g.clock.Now()))
			g.session(t, in.Secret)
			if got := lastUsed().Time().Sub(start); got != c.kept {
				t.Errorf("used after %s, kept %s, want %s", c.after, got, c.kept)
			}
		}
		g.clock.advance(90*24*time.Hour - time.Microsecond)
		g.session(t, in.Secret)
		before := g.lines(t)
		g.clock.advance(90 * 24 * time.Hour)
		g.wantOut(t, in.Secret)
		if all, err := g.Devices(ctx, g.boss); err != nil || all[0].InForce || all[0].LastUsed != 0 || g.lines(t) != before {
			t.Errorf("%+v, %v", all, err)
		}
		if done, err := g.Chores(ctx, g.boss); err != nil || !strings.Contains(fmt.Sprint(done), "1 links, sessions and wrong tries") {
			t.Errorf("%q, %v", done, err)
		}
		g.wantOut(t, in.Secret)
		g.wantOut(t, "")
		g.wantOut(t, "unknown")
	})
}

// A role is that of now, and leaving ends every way in at once.
func TestLeavingEndsDevices(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		_, phone := g.let(t, "Tech A")
		_, pad := g.let(t, "Tech A")
		_, other := g.let(t, "Tech B")
		waiting, err := g.Enroll(ctx, g.boss, "Tech A")
		if err != nil {
			t.Fatal(err)
		}
		if _, err := g.ChangePerson(ctx, g.boss, g.techA.Person, 1, PersonChange{Role: ptr("viewer")}); err != nil {
			t.Fatal(err)
		}
		if got := g.session(t, phone.Secret).Role; got != people.Viewer {
			t.Errorf("the session is still a %s's", got)
		}
		left, err := g.Leave(ctx, g.boss, g.techA.Person, Leave{})
		if err != nil || !slices.Equal(left.Devices, []string{"a phone", "a phone"}) {
			t.Errorf("%+v, %v", left, err)
		}
		g.wantOut(t, phone.Secret)
		g.wantOut(t, pad.Secret)
		g.session(t, other.Secret)
		_, err = g.Enter(ctx, Entry{Secret: waiting.Secret, Device: "d"}, fromHere)
		wantFault(t, err, fault.NotFound, "opens nothing")
		all, err := g.Devices(ctx, g.boss)
		for _, v := range all {
			if ended := v.Device.Person == g.techA.Person; ended == v.InForce || ended != (v.Revoked != 0) {
				t.Errorf("%+v", v)
			}
		}
		if err != nil || len(all) != 3 {
			t.Errorf("%d devices, %v", len(all), err)
		}
	})
}

// A manager revokes any device, a person their own.
func TestRevokeDevice(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		techA, phoneA := g.let(t, "Tech A")
		techB, phoneB := g.let(t, "Tech B")
		board := g.board(t)
		for _, c := range []struct {
			by   By
			sees int
		}{{g.boss, 3}, {g.manager, 3}, {techA, 1}, {techB, 1}, {board, 0}} {
			if all, err := g.Devices(ctx, c.by); err != nil || len(all) != c.sees {
				t.Errorf("%s sees %d devices, want %d; %v", c.by.Name, len(all), c.sees, err)
			}
		}
		_, err := g.RevokeDevice(ctx, techB, phoneA.ID)
		wantFault(t, err, fault.Forbidden, "may not")
		_, err = g.RevokeDevice(ctx, techB, board.Device)
		wantFault(t, err, fault.Forbidden, "may not")
		_, err = g.RevokeDevice(ctx, board, board.Device)
		wantFault(t, err, fault.Forbidden, "may not")
		_, err = g.RevokeDevice(ctx, g.boss, "D-00000000")
		wantFault(t, err, fault.NotFound, "no device")
		v, err := g.RevokeDevice(ctx, techA, phoneA.ID)
		if err != nil || v.Revoked == 0 || v.PersonName != "Tech A" {
			t.Errorf("%+v, %v", v, err)
		}
		g.wantOut(t, phoneA.Secret)
		_, err = g.RevokeDevice(ctx, g.manager, phoneA.ID)
		wantFault(t, err, fault.Conflict, "already", "since", "*")
		if err := g.EndSession(ctx, techB); err != nil {
			t.Error(err)
		}
		g.wantOut(t, phoneB.Secret)
		wantFault(t, g.EndSession(ctx, g.techA), fault.Conflict, "no device")
	})
}

// A link that a lost phone or a revoked script made opens nothing any more.
func TestALinkEndsWithWhatMadeIt(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		manager, phone := g.let(t, "Manager M")
		token, err := g.AddToken(ctx, g.boss, NewToken{Name: "script", Role: "manager"})
		if err != nil {
			t.Fatal(err)
		}
		script, err := g.Authenticate(ctx, token.Secret)
		if err != nil {
			t.Fatal(err)
		}
		byPhone, err1 := g.Enroll(ctx, manager, "Tech A")
		byScript, err2 := g.Enroll(ctx, By{Actor: script}, "Tech B")
		g.hire(t, "Tech C", "technician")
		kept, err3 := g.Enroll(ctx, g.boss, "Tech C")
		_, err4 := g.RevokeDevice(ctx, g.boss, phone.ID)
		_, err5 := g.RevokeToken(ctx, g.boss, token.ID)
		if err := errors.Join(err1, err2, err3, err4, err5); err != nil {
			t.Fatal(err)
		}
		for _, e := range []Enrolment{byPhone, byScript} {
			_, err := g.LookEnrolment(ctx, e.Secret, fromHere)
			wantFault(t, err, fault.NotFound, "opens nothing")
		}
		if _, err := g.LookEnrolment(ctx, kept.Secret, fromHere); err != nil {
			t.Error(err)
		}
	})
}

// What opens a door is in no line, not even hashed, and in no table as it is.
func TestNoSecretIsRecorded(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		e, err := g.Enroll(ctx, g.boss, "Tech A")
		in := g.enter(t, e, err)
		waiting, err := g.EnrollShopDevice(ctx, g.boss, "Board")
		if err != nil {
			t.Fatal(err)
		}
		db := g.raw(t)
		rows, err := db.Query("SELECT line, after FROM lines")
		if err != nil {
			t.Fatal(err)
		}
		defer rows.Close()
		var recorded strings.Builder
		for rows.Next() {
			var line, after []byte
			if err := rows.Scan(&line, &after); err != nil {
				t.Fatal(err)
			}
			recorded.Write(append(line, after...))
		}
		if !strings.Contains(recorded.String(), in.ID) {
			t.Fatal("the device is not in the ledger")
		}
		for _, secret := range []string{e.Secret, in.Secret, waiting.Secret} {
			hash := hashSecret(secret)
			for _, told := range []string{secret, string(hash), hex.EncodeToString(hash)} {
				if strings.Contains(recorded.String(), told) {
					t.Errorf("the ledger tells %q", told)
				}
			}
			var plain int
			if err := db.QueryRow("SELECT (SELECT count(*) FROM enrolments WHERE name = $1 OR made_by = $1) + (SELECT count(*) FROM sessions WHERE device = $1)", secret).Scan(&plain); err != nil || plain != 0 {
				t.Errorf("%d rows hold a secret, %v", plain, err)
			}
		}
	})
}
