package model

import (
	"testing"
	"time"

	"pawl/model/evidence"
	"pawl/model/fault"
	"pawl/model/register"
)

// Without the only device by which a manager comes in nobody could let anybody in,
// but at the computer: there it can be ended, elsewhere it stays.
func TestAManagersOnlyDeviceStays(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		const first = "let in another device of a manager first"
		only, in := g.let(t, "Manager M")
		_, err := g.RevokeDevice(ctx, only, in.ID)
		wantFault(t, err, fault.Refused, first)
		wantFault(t, g.EndSession(ctx, only), fault.Refused, first)
		// Nor does its browser become a board's.
		board, err := g.EnrollShopDevice(ctx, only, "Board")
		if err != nil {
			t.Fatal(err)
		}
		_, err = g.Enter(ctx, Entry{Secret: board.Secret, Session: in.Secret}, fromHere)
		wantFault(t, err, fault.Refused, first)
		// A technician's device is in nobody's way.
		tech, _ := g.let(t, "Tech A")
		if err := g.EndSession(ctx, tech); err != nil {
			t.Error(err)
		}
		// Beside a second one of a manager it goes, and then that one stays.
		e, err := g.Enroll(ctx, only, "Manager M")
		second := g.enter(t, e, err)
		if err := g.EndSession(ctx, only); err != nil {
			t.Errorf("with a second device: %v", err)
		}
		g.wantOut(t, in.Secret)
		wantFault(t, g.EndSession(ctx, g.session(t, second.Secret)), fault.Refused, first)
		if _, err := g.RevokeDevice(ctx, g.boss, second.ID); err != nil {
			t.Errorf("at the computer: %v", err)
		}
		g.wantOut(t, second.Secret)
	})
}

// Of two managers who leave their devices at once, one stays.
func TestTwoManagersLeaveAtOnce(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		g.hire(t, "Manager N", "manager")
		a, _ := g.let(t, "Manager M")
		b, _ := g.let(t, "Manager N")
		errs := make([]error, 2)
		together(2, func(i int) { errs[i] = g.EndSession(ctx, []By{a, b}[i]) })
		left := 0
		for _, err := range errs {
			if err == nil {
				left++
			} else if !fault.Is(err, fault.Refused) {
				t.Error(err)
			}
		}
		if left != 1 {
			t.Errorf("%d left, want 1: %v", left, errs)
		}
	})
}

// Whoever was let in ends that themselves: a viewer, and a board for somebody who
// shows their badge there.
func TestViewersAndBoardsLeave(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		e, err := g.EnrollViewer(ctx, g.boss, "Adjuster", "2027-01-01", "")
		viewer := g.enter(t, e, err)
		e, err = g.EnrollShopDevice(ctx, g.boss, "Board")
		board := g.enter(t, e, err)
		own, err := g.OwnDevice(ctx, g.session(t, viewer.Secret))
		if err != nil || own.ID != viewer.ID || own.Until != "2027-01-01" {
			t.Errorf("%+v, %v", own, err)
		}
		_, err = g.OwnDevice(ctx, g.boss)
		wantFault(t, err, fault.NotFound, "no device is signed in here")
		badged := g.session(t, board.Secret)
		badged.Person, badged.Name = g.techA.Person, "Tech A"
		for _, by := range []By{g.session(t, viewer.Secret), badged} {
			if err := g.EndSession(ctx, by); err != nil {
				t.Error(err)
			}
		}
		g.wantOut(t, viewer.Secret)
		g.wantOut(t, board.Secret)
	})
}

// The first visit of a day says so, once; a phone in daily use is asked about for
// ever, one that lies in a drawer for 90 days is not known any more.
func TestTheFirstVisitOfADay(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		_, in := g.let(t, "Tech A")
		visit := func(want bool) {
			t.Helper()
			if a, first, err := g.Visit(ctx, in.Secret); err != nil || first != want || a.Name != "Tech A" {
				t.Errorf("first %v, want %v: %+v, %v", first, want, a, err)
			}
		}
		visit(false) // it was let in today
		g.clock.advance(g.clock.Now().Truncate(24 * time.Hour).Add(24*time.Hour - time.Minute).Sub(g.clock.Now()))
		visit(false)
		g.clock.advance(2 * time.Minute) // past midnight, minutes after its last use
		visit(true)
		visit(false)
		for range 5 {
			g.clock.advance(89 * 24 * time.Hour)
			visit(true)
		}
		if _, err := g.RevokeDevice(ctx, g.boss, in.ID); err != nil {
			t.Fatal(err)
		}
		g.wantOut(t, in.Secret)
	})
}

// A board shows the whole tool and its drawer, smaller; no serial close up, no
// paper, and no original.
func TestWhatABoardShows(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		n := g.tool(t)
		e, err := g.EnrollShopDevice(ctx, g.boss, "Board")
		board := g.session(t, g.enter(t, e, err).Secret)
		for i, c := range []struct {
			kind evidence.Kind
			want bool
		}{{evidence.Whole, true}, {evidence.Drawer, true}, {evidence.Plate, false}, {evidence.Label, false}, {evidence.Damage, false}, {evidence.Receipt, false}} {
			sha := g.upload(t, g.boss, picture(byte(30+i)))
			if _, err := g.Attach(ctx, g.boss, n, []register.Attach{{SHA256: sha, Kind: string(c.kind), Name: "photo.png"}}); err != nil {
				t.Fatal(err)
			}
			_, err := g.View(ctx, board, sha, "small")
			if (err == nil) != c.want || err != nil && !fault.Is(err, fault.NotFound) {
				t.Errorf("%s: %v, want shown %v", c.kind, err, c.want)
			}
			f, _, err := g.OpenOriginal(ctx, board, sha)
			wantFault(t, err, fault.NotFound, "no original")
			if err == nil {
				f.Close()
			}
		}
		v, err := g.Tool(ctx, board, n)
		if err != nil || len(v.Evidence) != 2 {
			t.Errorf("a board is told of %+v, %v", v.Evidence, err)
		}
		board.Person = g.techA.Person // a badge opens nothing more
		if v, err = g.Tool(ctx, board, n); err != nil || len(v.Evidence) != 2 {
			t.Errorf("with a badge it is told of %+v, %v", v.Evidence, err)
		}
	})
}
