package model

import (
	"errors"
	"fmt"
	"testing"

	"pawl/model/fault"
	"pawl/model/people"
)

// Of one person only the newest link opens anything, and once a device is in, none:
// else the person might take the one and somebody unseen the other.
func TestOneLinkAtATime(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		manager, _ := g.let(t, "Manager M")
		first, err1 := g.Enroll(ctx, g.boss, "Tech A")
		second, err2 := g.Enroll(ctx, manager, "Tech A")
		other, err3 := g.Enroll(ctx, manager, "Tech B")
		if err := errors.Join(err1, err2, err3); err != nil {
			t.Fatal(err)
		}
		_, err := g.LookEnrolment(ctx, first.Secret, fromHere)
		wantFault(t, err, fault.NotFound, "a newer one took its place")
		_, err = g.Enter(ctx, Entry{Secret: first.Secret, Device: "unseen"}, fromHere)
		wantFault(t, err, fault.NotFound, "opens nothing")
		phone := g.session(t, g.enter(t, second, nil).Secret)
		g.enter(t, other, nil)
		// With that phone they let in what they like, one at a time.
		tablet, err1 := g.Enroll(ctx, phone, "Tech A")
		watch, err2 := g.Enroll(ctx, phone, "Tech A")
		if err := errors.Join(err1, err2); err != nil {
			t.Fatal(err)
		}
		_, err = g.Enter(ctx, Entry{Secret: tablet.Secret, Device: "tablet"}, fromHere)
		wantFault(t, err, fault.NotFound, "opens nothing")
		g.enter(t, watch, nil)
	})
}

// Whoever enters is asked about once more: the one who made the link may lead no
// longer, have left, or the person may have a device by now.
func TestALinkIsNoBetterThanWhoMadeIt(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		script, err := g.AddToken(ctx, g.boss, NewToken{Name: "script", Role: "manager"})
		if err != nil {
			t.Fatal(err)
		}
		bare, err := g.Authenticate(ctx, script.Secret)
		if err != nil {
			t.Fatal(err)
		}
		made := func(name string) By { // a manager whom the next case demotes
			g.hire(t, name, "manager")
			by, _ := g.let(t, name)
			return by
		}
		demote := func(by By) error {
			_, err := g.ChangePerson(ctx, g.boss, by.Person, AnyRevision, PersonChange{Role: ptr("technician")})
			return err
		}
		leave := func(by By) error { _, err := g.Leave(ctx, g.boss, by.Person, Leave{}); return err }
		seated := g.hire(t, "Manager S", "manager")
		seated.Via = people.ViaLocal
		for _, c := range []struct {
			name  string
			by    By
			then  func(By) error // nil: nothing
			opens bool
		}{
			{"a manager", made("Manager 1"), nil, true},
			{"a manager who was demoted", made("Manager 2"), demote, false},
			{"a manager who left", made("Manager 3"), leave, false},
			{"a manager at the computer", seated, nil, true},
			{"a manager at the computer who was demoted", seated, demote, false},
			{"a manager's token", g.tokenOf(t, made("Manager 4")), nil, true},
			{"the token of a manager who was demoted", g.tokenOf(t, made("Manager 5")), demote, false},
			{"the shop's token", By{Actor: bare}, nil, true},
			{"the computer, though the person has a device", g.boss, func(By) error { g.let(t, "Tech B"); return nil }, true},
		} {
			t.Run(c.name, func(t *testing.T) {
				person, err1 := g.Enroll(ctx, c.by, g.hire(t, "New of "+c.name, "technician").Name)
				board, err2 := g.EnrollShopDevice(ctx, c.by, "Board of "+c.name)
				viewer, err3 := g.EnrollViewer(ctx, c.by, "Adjuster", "2026-12-01", "")
				if err := errors.Join(err1, err2, err3); err != nil {
					t.Fatal(err)
				}
				if c.then != nil {
					if err := c.then(c.by); err != nil {
						t.Fatal(err)
					}
				}
				for i, e := range []Enrolment{person, board, viewer} {
					address := fmt.Sprint(c.name, i) // of their own, so that nobody is throttled
					_, looked := g.LookEnrolment(ctx, e.Secret, address)
					_, entered := g.Enter(ctx, Entry{Secret: e.Secret, Device: "d"}, address)
					for _, err := range []error{looked, entered} {
						if (err == nil) != c.opens || err != nil && !fault.Is(err, fault.NotFound) {
							t.Errorf("%s link: %v", e.Kind, err)
						}
					}
				}
			})
		}
	})
}

// tokenOf acts as somebody by a token that they made.
func (g *garage) tokenOf(t *testing.T, by By) By {
	t.Helper()
	v, err := g.AddToken(ctx, by, NewToken{Name: "of " + by.Name, Role: "manager", For: by.Name})
	if err != nil {
		t.Fatal(err)
	}
	a, err := g.Authenticate(ctx, v.Secret)
	if err != nil {
		t.Fatal(err)
	}
	return By{Actor: a}
}

// A second device of somebody comes in by their own link or the computer's alone,
// also where the first came in while a manager's link waited.
func TestAManagersLinkLetsNoSecondDeviceIn(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		manager, _ := g.let(t, "Manager M")
		waiting, err := g.Enroll(ctx, manager, "Tech A")
		if err != nil {
			t.Fatal(err)
		}
		if _, err := g.raw(t).Exec("UPDATE enrolments SET person = $1", g.techB.Person); err != nil { // set aside
			t.Fatal(err)
		}
		_, phone := g.let(t, "Tech A")
		if _, err := g.raw(t).Exec("UPDATE enrolments SET person = $1", g.techA.Person); err != nil {
			t.Fatal(err)
		}
		_, err = g.Enter(ctx, Entry{Secret: waiting.Secret, Device: "unseen"}, fromHere)
		wantFault(t, err, fault.NotFound, "opens nothing")
		if _, err := g.RevokeDevice(ctx, g.boss, phone.ID); err != nil {
			t.Fatal(err)
		}
		g.enter(t, waiting, nil)
	})
}

// A browser is one device at a time: what it was let in as before ends in the act
// by which it becomes another's, and not where that fails.
func TestWhatADeviceWasEnds(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		board, err := g.EnrollShopDevice(ctx, g.boss, "Board 1")
		as := g.enter(t, board, err)
		for _, name := range []string{"Tech A", "Tech B", "Tech B"} { // also as the same once more
			e, err := g.Enroll(ctx, g.boss, name)
			if err != nil {
				t.Fatal(err)
			}
			_, err = g.Enter(ctx, Entry{Secret: e.Secret, Device: " ", Session: as.Secret}, fromHere)
			wantPointers(t, err, "#/device")
			g.session(t, as.Secret)
			next, err := g.Enter(ctx, Entry{Secret: e.Secret, Device: "browser", Session: as.Secret}, fromHere)
			if err != nil {
				t.Fatal(err)
			}
			g.wantOut(t, as.Secret)
			if got := g.session(t, next.Secret); got.Name != name {
				t.Errorf("it is %+v", got)
			}
			as = next
		}
		inForce := 0
		all, err := g.Devices(ctx, g.boss)
		for _, v := range all {
			if v.InForce != (v.Revoked == 0) {
				t.Errorf("%+v", v)
			}
			if v.InForce {
				inForce++
			}
		}
		if err != nil || len(all) != 4 || inForce != 1 {
			t.Errorf("%d devices, %d in force, %v", len(all), inForce, err)
		}
		for _, session := range []string{"", "unknown", as.Secret} { // the last ends what is over already
			e, err := g.Enroll(ctx, g.boss, "Tech A")
			if err != nil {
				t.Fatal(err)
			}
			if _, err := g.RevokeDevice(ctx, g.boss, as.ID); session == as.Secret && err != nil {
				t.Fatal(err)
			}
			as, err = g.Enter(ctx, Entry{Secret: e.Secret, Device: "browser", Session: session}, fromHere)
			if err != nil {
				t.Errorf("%q: %v", session, err)
			}
		}
	})
}
