package model

import (
	"fmt"
	"testing"
	"time"

	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/register"
)

// The clock is doubtful when it stands more than 120 s before the latest time
// in the ledger, until a manager vouches for it.
func TestTheClockIsDoubtful(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		state := func() ClockView {
			v, err := g.ClockState(ctx)
			if err != nil {
				t.Fatal(err)
			}
			return v
		}
		n := g.tool(t)
		right := g.clock.Now()
		if v := state(); v.Doubtful || v.Latest.Time() != right || v.Now.Time() != right {
			t.Fatalf("%+v at %s", v, right)
		}
		g.clock.advance(-120 * time.Second)
		if state().Doubtful {
			t.Error("doubtful at 120 s")
		}
		g.clock.advance(-time.Microsecond)
		if !state().Doubtful {
			t.Error("not doubtful beyond 120 s")
		}
		g.clock.advance(400*24*time.Hour + 120*time.Second) // somebody set it a year ahead
		if _, err := g.Take(ctx, g.techA, n, Take{}); err != nil {
			t.Fatal(err)
		}
		g.clock.advance(-400 * 24 * time.Hour) // and it was put right
		if v := state(); !v.Doubtful {
			t.Errorf("%+v", v)
		}
		_, err := g.ConfirmClock(ctx, g.techA)
		wantFault(t, err, fault.Forbidden, "may not")
		before := g.lines(t)
		if v, err := g.ConfirmClock(ctx, g.manager); err != nil || v.Doubtful || g.lines(t) != before+1 {
			t.Errorf("%+v, %v; want it recorded", v, err)
		}
		if v := state(); v.Doubtful {
			t.Errorf("after it was confirmed: %+v", v)
		}
		g.clock.advance(time.Hour)
		if _, err := g.AddPlace(ctx, g.boss, "Van"); err != nil {
			t.Fatal(err)
		}
		g.clock.advance(-time.Hour - 121*time.Second)
		if v := state(); !v.Doubtful {
			t.Errorf("what came after the word is held against the clock again: %+v", v)
		}
	})
}

// A clock that was ahead at the very first start is doubtful once it is put
// right, though the ledger has one line only.
func TestTheFirstLineCountsForTheClock(t *testing.T) {
	for _, engine := range []string{"sqlite", "postgres"} {
		g := emptyGarage(t, engine)
		g.clock.advance(-time.Hour)
		if v, err := g.ClockState(ctx); err != nil || !v.Doubtful || g.lines(t) != 1 {
			t.Errorf("%s: %+v, %v", engine, v, err)
		}
		if _, err := g.ConfirmClock(ctx, g.boss); err != nil {
			t.Fatal(err)
		}
		if v, err := g.ClockState(ctx); err != nil || v.Doubtful {
			t.Errorf("%s, confirmed: %+v, %v", engine, v, err)
		}
	}
}

// What was recorded while the clock stood a year ahead holds up nothing once it is right
// again: acts go on, a tool that is out comes back, the checkpoint of the day is made,
// a link of then opens nothing, and whoever got a secret wrong then waits no year.
func TestALineDatedFarAhead(t *testing.T) {
	const year = 365 * 24 * time.Hour
	onBoth(t, func(t *testing.T, g *garage) {
		n := g.tool(t)
		g.clock.advance(year)
		if _, err := g.Take(ctx, g.techA, n, Take{}); err != nil {
			t.Fatal(err)
		}
		if _, err := g.Chores(ctx, g.boss); err != nil {
			t.Fatal(err)
		}
		link, err := g.Enroll(ctx, g.boss, "Tech A")
		if err != nil {
			t.Fatal(err)
		}
		for range 2 * maxGuesses {
			if _, err := g.Enter(ctx, Entry{Secret: "nobody's", Device: "x"}, fromHere); err == nil {
				t.Fatal("a wrong secret opens")
			}
		}
		g.clock.advance(-year)
		if _, err := g.Enter(ctx, Entry{Secret: link.Secret, Device: "a phone"}, fromHere); !fault.Is(err, fault.NotFound) {
			t.Errorf("a link of next year: %v", err)
		}
		d, err := g.Return(ctx, g.techA, n, Return{})
		if err != nil || d.Custody.State != "in place" {
			t.Errorf("%+v, %v", d.Custody, err)
		}
		if _, err := g.Take(ctx, g.techB, n, Take{Due: "2026-12-01"}); err != nil {
			t.Error(err)
		}
		point := func() (at int64) {
			must(t, g.raw(t).QueryRow("SELECT max(size) FROM checkpoints").Scan(&at))
			return at
		}
		before := point()
		if _, err := g.Chores(ctx, g.boss); err != nil {
			t.Fatal(err)
		}
		if v, err := g.ClockState(ctx); err != nil || !v.Doubtful || point() <= before {
			t.Errorf("checkpoint over %d lines after one over %d; %+v, %v", point(), before, v, err)
		}
	})
}

// A set that came back with a piece missing while the clock stood ahead, and whole after it
// was put right, is whole: what happened last is what was recorded last, whatever the times.
func TestWhatTheClockAheadDoesNotHide(t *testing.T) {
	const year = 365 * 24 * time.Hour
	onBoth(t, func(t *testing.T, g *garage) {
		n := g.tool(t, func(in *register.New) {
			in.Kind = ptr("socket set")
			in.Pieces = &register.Pieces{{Name: "10 mm socket", Count: 1}}
		})
		outing := func(between time.Duration, in Return) {
			t.Helper()
			_, err := g.Take(ctx, g.techA, n, Take{Job: "1042"})
			must(t, err)
			g.clock.advance(between)
			_, err = g.Return(ctx, g.techA, n, in)
			must(t, err)
			g.clock.advance(time.Hour)
		}
		missing := func() string {
			t.Helper()
			v, err := g.Tool(ctx, g.boss, n)
			must(t, err)
			rows, _, err := g.Find(ctx, g.boss, FindQuery{Limit: 10})
			must(t, err)
			if len(rows) != 1 || fmt.Sprint(rows[0].Missing) != fmt.Sprint(v.Missing) {
				t.Errorf("the tool lacks %v, in the list %+v", v.Missing, rows)
			}
			return fmt.Sprint(v.Missing)
		}
		whole, lacks := fmt.Sprint(register.Pieces(nil)), fmt.Sprint(register.Pieces{{Name: "10 mm socket", Count: 1}})
		for i, c := range []struct {
			before, between time.Duration // by how much the clock is moved
			missing         []string
			want            string
		}{
			{0, time.Hour, nil, whole},
			{year, time.Hour, []string{"10 mm socket"}, lacks},
			{-year, time.Hour, nil, whole},
			{year, time.Hour, nil, whole},
			{0, -year, []string{"10 mm socket"}, lacks}, // put right while it was out
			{0, time.Hour, nil, whole},
			{-48 * time.Hour, time.Hour, []string{"10 mm socket"}, lacks},
		} {
			g.clock.advance(c.before)
			outing(c.between, Return{Missing: c.missing, AllThere: c.missing == nil})
			if got := missing(); got != c.want {
				t.Errorf("after stretch %d the set lacks %s, want %s", i+1, got, c.want)
			}
		}
	})
}

// A session that was used while the clock stood a year ahead ends 90 days after it is known
// what time it is, used again or not; until then its last use stays.
func TestASessionUsedWhileTheClockWasAhead(t *testing.T) {
	const year = 365 * 24 * time.Hour
	onBoth(t, func(t *testing.T, g *garage) {
		_, used := g.let(t, "Tech A")
		_, left := g.let(t, "Tech B")
		g.clock.advance(year)
		_, err := g.raw(t).Exec(fmt.Sprintf("UPDATE sessions SET used = %d", dates.InstantOf(g.clock.Now()))) // as those used each day until then
		must(t, err)
		g.tool(t) // a line of next year
		g.clock.advance(-year)
		chores := func() {
			t.Helper()
			_, err := g.Chores(ctx, g.boss)
			must(t, err)
		}
		uses := func() (now int) {
			must(t, g.raw(t).QueryRow("SELECT count(*) FROM sessions WHERE used <= "+fmt.Sprint(int64(dates.InstantOf(g.clock.Now())))).Scan(&now))
			return now
		}
		chores()
		g.session(t, used.Secret)
		if uses() != 0 {
			t.Errorf("%d sessions were brought back by a clock in doubt", uses())
		}
		_, err = g.ConfirmClock(ctx, g.boss)
		must(t, err)
		g.session(t, used.Secret)
		if uses() != 1 {
			t.Errorf("%d sessions are as of now, want the one in use", uses())
		}
		chores()
		if uses() != 2 {
			t.Errorf("%d sessions are as of now, want both", uses())
		}
		g.clock.advance(90 * 24 * time.Hour)
		g.wantOut(t, used.Secret)
		g.wantOut(t, left.Secret)
	})
}
