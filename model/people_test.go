package model

import (
	"fmt"
	"testing"

	"pawl/model/fault"
	"pawl/model/people"
	"pawl/model/settings"
)

func TestPeople(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		p, err := g.AddPerson(ctx, g.boss, NewPerson{Name: "  Zoe   Ångström ", Role: "Technician"})
		if err != nil || p.Name != "Zoe Ångström" || p.Role != people.Technician || len(p.Badge) != 8 || p.ID[0] != 'H' {
			t.Fatalf("%+v, %v", p, err)
		}
		t.Run("refused", func(t *testing.T) {
			_, err := g.AddPerson(ctx, g.boss, NewPerson{Name: "ZOE ångström", Role: "viewer"})
			wantFault(t, err, fault.Conflict, "Zoe Ångström", "id", p.ID)
			_, err = g.AddPerson(ctx, g.boss, NewPerson{Name: " ", Role: "owner"})
			wantPointers(t, err, "#/name #/role")
			_, err = g.AddPerson(ctx, g.techA, NewPerson{Name: "Tech C", Role: "technician"})
			wantFault(t, err, fault.Forbidden, "Tech A may not")
			_, err = g.Person(ctx, g.boss, "H-00000000")
			wantFault(t, err, fault.NotFound, "no person")
			_, err = g.ChangePerson(ctx, g.boss, "H-00000000", 1, PersonChange{Name: ptr("X")})
			wantFault(t, err, fault.NotFound, "no person")
			_, err = g.ChangePerson(ctx, g.boss, p.ID, 1, PersonChange{Name: ptr("tech a")})
			wantFault(t, err, fault.Conflict, "Tech A")
			_, err = g.ChangePerson(ctx, g.boss, p.ID, 0, PersonChange{Name: ptr("Zoe")})
			wantFault(t, err, fault.Precondition, "If-Match")
			_, err = g.ChangePerson(ctx, g.boss, p.ID, 4, PersonChange{Name: ptr("Zoe")})
			wantFault(t, err, fault.Stale, "revision 4, now 1")
			_, err = g.ChangePerson(ctx, g.techA, g.techA.Person, 1, PersonChange{Role: ptr("manager")})
			wantFault(t, err, fault.Forbidden, "may not")
			_, err = g.ChangePerson(ctx, g.techA, g.techA.Person, 1, PersonChange{})
			wantFault(t, err, fault.Forbidden, "may not")
		})
		t.Run("sharing is one's own to decide", func(t *testing.T) {
			_, err := g.ChangePerson(ctx, g.manager, g.techA.Person, 1, PersonChange{Shares: ptr(true)})
			wantFault(t, err, fault.Forbidden, "only Tech A decides")
			_, err = g.ChangePerson(ctx, g.techB, g.techA.Person, 1, PersonChange{Shares: ptr(true)})
			wantFault(t, err, fault.Forbidden, "")
			p, err := g.ChangePerson(ctx, g.techA, g.techA.Person, 1, PersonChange{Shares: ptr(true)})
			if err != nil || !p.Shares || p.Rev != 2 {
				t.Errorf("%+v, %v", p, err)
			}
		})
		t.Run("changed and listed by name", func(t *testing.T) {
			if _, err := g.ChangePerson(ctx, g.manager, p.ID, 1, PersonChange{Name: ptr("Abe"), Role: ptr("viewer")}); err != nil {
				t.Fatal(err)
			}
			all, err := g.People(ctx, g.techA)
			var names []string
			for _, p := range all {
				names = append(names, p.Name)
			}
			if err != nil || fmt.Sprint(names) != "[Abe Manager M Tech A Tech B]" {
				t.Errorf("%v, %v", names, err)
			}
		})
	})
}

// A shop is not left without a manager by mistake; who sits at its computer can
// make another, and may.
func TestTheLastManagerStays(t *testing.T) {
	demote := func(g *garage, by By, id string) error {
		_, err := g.ChangePerson(ctx, by, id, AnyRevision, PersonChange{Role: ptr("technician")})
		return err
	}
	leave := func(g *garage, by By, id string) error {
		_, err := g.Leave(ctx, by, id, Leave{Settled: true})
		return err
	}
	for name, stop := range map[string]func(*garage, By, string) error{"demoted": demote, "left": leave} {
		t.Run(name, func(t *testing.T) {
			onBoth(t, func(t *testing.T, g *garage) {
				m, _ := g.let(t, "Manager M")
				script := By{Actor: Actor{Role: people.Manager, Via: people.ViaToken}}
				for _, by := range []By{m, script} {
					wantFault(t, stop(g, by, m.Person), fault.Refused, "Manager M is the only manager")
				}
				if _, err := g.ChangePerson(ctx, m, m.Person, AnyRevision, PersonChange{Name: ptr("Manager M"), Role: ptr("manager")}); err != nil {
					t.Errorf("what changes nothing: %v", err)
				}
				// A manager whose phone was never let in, or no longer is, leads nobody.
				second := g.hire(t, "Manager N", "manager")
				wantFault(t, stop(g, m, m.Person), fault.Refused, "only manager")
				_, phone := g.let(t, "Manager N")
				if _, err := g.RevokeDevice(ctx, g.boss, phone.ID); err != nil {
					t.Fatal(err)
				}
				wantFault(t, stop(g, m, m.Person), fault.Refused, "only manager")
				g.let(t, "Manager N")
				if err := stop(g, m, m.Person); err != nil {
					t.Errorf("while another is in force: %v", err)
				}
				second.Via = people.ViaDevice
				wantFault(t, stop(g, second, second.Person), fault.Refused, "Manager N is the only manager")
				if err := stop(g, g.boss, second.Person); err != nil {
					t.Errorf("at the computer: %v", err)
				}
			})
		})
	}
}

// Of two managers who stop at once, one stays.
func TestTwoManagersDoNotStopAtOnce(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		g.hire(t, "Manager N", "manager")
		m, _ := g.let(t, "Manager M")
		n, _ := g.let(t, "Manager N")
		both, shops, errs := []By{m, n}, []*Shop{g.Shop, g.open(t)}, make([]error, 2) // as another process would
		together(2, func(i int) {
			_, errs[i] = shops[i].ChangePerson(ctx, both[i], both[i].Person, AnyRevision, PersonChange{Role: ptr("technician")})
		})
		if (errs[0] == nil) == (errs[1] == nil) {
			t.Errorf("%v, %v; want one refused", errs[0], errs[1])
		}
		for _, err := range errs {
			if err != nil && !fault.Is(err, fault.Refused) {
				t.Error(err)
			}
		}
	})
}

// A badge is all the proof there is at a board: others' are a manager's to see
// and to print.
func TestBadgesAreOnesOwn(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		board := g.board(t)
		badged, err := g.ShowBadge(ctx, board.Actor, "B/"+g.badgeOf(t, g.techA.Person))
		if err != nil {
			t.Fatal(err)
		}
		viewer := g.hire(t, "Viewer V", "viewer")
		for _, c := range []struct {
			name string
			by   By
			sees string // initials of those whose badge they see
		}{
			{"at the computer", g.boss, "MABV"},
			{"a manager", g.manager, "MABV"},
			{"a manager's script", By{Actor: Actor{Role: people.Manager, Via: people.ViaToken}}, "MABV"},
			{"a technician", g.techA, "A"},
			{"a technician's script", By{Actor: Actor{Role: people.Technician, Via: people.ViaToken}}, ""},
			{"a viewer", viewer, "V"},
			{"a board", board, ""},
			{"a badge at a board", By{Actor: badged}, ""},
		} {
			all, err := g.People(ctx, c.by)
			if err != nil || len(all) != 4 {
				t.Fatal(all, err)
			}
			listed, one, printed := "", "", ""
			for _, p := range all {
				initial := p.Name[len(p.Name)-1:]
				if p.Badge != "" {
					listed += initial
				}
				if p, err := g.Person(ctx, c.by, p.ID); err == nil && p.Badge != "" {
					one += initial
				}
				if b, err := g.Badge(ctx, c.by, p.Name); err == nil && len(b.Symbol) == 2+8 {
					printed += initial
				} else if !fault.Is(err, fault.Forbidden) || b.Symbol != "" {
					t.Errorf("%s prints %s: %+v, %v", c.name, p.Name, b, err)
				}
			}
			if listed != c.sees || one != c.sees || printed != c.sees {
				t.Errorf("%s sees %q listed, %q alone, %q printed; want %q", c.name, listed, one, printed, c.sees)
			}
		}
	})
}

func TestActorNamed(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		a, err := g.ActorNamed(ctx, "tech A")
		if err != nil || a.Person != g.techA.Person || a.Role != people.Technician || a.Via != people.ViaLocal || a.AtComputer() {
			t.Errorf("%+v, %v", a, err)
		}
		_, err = g.ActorNamed(ctx, "Tech")
		wantFault(t, err, fault.NotFound, "did you mean: Tech A, Tech B")
		_, err = g.ActorNamed(ctx, "")
		wantFault(t, err, fault.NotFound, "nobody here")
	})
}

func TestPlaces(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) { // Bay 1/Cart is there
		before := g.lines(t)
		v, err := g.AddPlace(ctx, g.boss, "bay 1/ Box  2 /Drawer 3")
		if err != nil || v.Path != "Bay 1/Box 2/Drawer 3" || len(v.Code) != 8 || g.lines(t) != before+2 {
			t.Errorf("%+v, %v, %d lines; want the two that were missing", v, err, g.lines(t)-before)
		}
		_, err = g.AddPlace(ctx, g.boss, "BAY 1/box 2")
		wantFault(t, err, fault.Conflict, `"Bay 1/Box 2"`, "id", v.Parent)
		for _, path := range []string{"", "Bay 1//Cart", "/", "a/b/c/d/e/f/g/h/i/j/k/l/m", "x\x00"} {
			_, err := g.AddPlace(ctx, g.boss, path)
			wantPointers(t, err, "#/path")
		}
		_, err = g.AddPlace(ctx, g.techA, "Van")
		wantFault(t, err, fault.Forbidden, "may not")
		all, err := g.Places(ctx, g.techA)
		var paths []string
		for _, p := range all {
			paths = append(paths, p.Path)
		}
		if err != nil || fmt.Sprintf("%q", paths) != `["Bay 1" "Bay 1/Box 2" "Bay 1/Box 2/Drawer 3" "Bay 1/Cart"]` {
			t.Errorf("%q, %v", paths, err)
		}
	})
}

func TestTwoWhoAddOnePlaceAtOnce(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		errs := make([]error, 8)
		together(len(errs), func(i int) { _, errs[i] = g.AddPlace(ctx, g.boss, "Van 1/Box") })
		added := 0
		for _, err := range errs {
			if err == nil {
				added++
			} else if !fault.Is(err, fault.Conflict) {
				t.Error(err)
			}
		}
		all, err := g.Places(ctx, g.boss)
		if added != 1 || len(all) != 4 || err != nil {
			t.Errorf("added %d times, %d places, %v", added, len(all), err)
		}
	})
}

func TestSettings(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		set, err := g.Settings(ctx)
		if err != nil || set.Name != "Demo garage" || set.Zone != "America/Chicago" || set.Currency != "USD" || set.Rev != 2 {
			t.Errorf("%+v, %v", set, err)
		}
		_, err = g.ChangeSettings(ctx, g.boss, 2, settings.Change{Name: ptr(""), Zone: ptr("Mars"), Currency: ptr("XXQ"), Address: ptr("ftp://x"), Paper: ptr("foil"), Units: ptr("cubits")})
		wantPointers(t, err, "#/name #/zone #/currency #/address #/paper #/units")
		_, err = g.ChangeSettings(ctx, g.boss, 1, settings.Change{Paper: ptr("a4")})
		wantFault(t, err, fault.Stale, "revision 1, now 2")
		_, err = g.ChangeSettings(ctx, g.boss, 0, settings.Change{Paper: ptr("a4")})
		wantFault(t, err, fault.Precondition, "If-Match")
		_, err = g.ChangeSettings(ctx, g.techA, 2, settings.Change{Paper: ptr("a4")})
		wantFault(t, err, fault.Forbidden, "may not")
		set, err = g.ChangeSettings(ctx, g.manager, 2, settings.Change{Address: ptr("https://Shop.Example/"), Paper: ptr("A4"), Units: ptr("metric")})
		if err != nil || set.Address != "https://shop.example" || set.Paper != settings.A4 || set.Rev != 3 {
			t.Errorf("%+v, %v", set, err)
		}
		text, err := g.LabelText(ctx, g.boss, g.tool(t))
		if err != nil || text.Symbol != "HTTPS://SHOP.EXAMPLE/T/"+string(text.Number[0:3])+text.Number[4:] {
			t.Errorf("%+v, %v", text, err)
		}
	})
}

// What a label says: of a tool, and of a number that no tool has yet.
func TestLabelText(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		n := g.tool(t, owned(g.techA))
		text, err := g.LabelText(ctx, g.techB, n)
		if err != nil || fmt.Sprintf("%q", text.Lines) != `["impact wrench" "Tech A"]` || text.Number != n {
			t.Errorf("%+v, %v", text, err)
		}
		issued, err := g.IssueNumbers(ctx, g.boss, 1)
		if err != nil {
			t.Fatal(err)
		}
		text, err = g.LabelText(ctx, g.boss, issued[0].String())
		if err != nil || fmt.Sprint(text.Lines) != "[Demo garage]" {
			t.Errorf("%+v, %v", text, err)
		}
		_, err = g.LabelText(ctx, g.boss, "00E-KM5")
		wantFault(t, err, fault.NotFound, "never issued")
	})
}

func TestTokens(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		v, err := g.AddToken(ctx, g.boss, NewToken{Name: "board", Role: "technician", For: "tech a"})
		if err != nil || v.ForName != "Tech A" || len(v.Secret) != 5+43 {
			t.Fatalf("%+v, %v", v, err)
		}
		a, err := g.Authenticate(ctx, v.Secret)
		if err != nil || a.Person != g.techA.Person || a.Name != "Tech A" || a.Role != people.Technician || a.Via != people.ViaToken || a.Token != v.ID {
			t.Errorf("%+v, %v", a, err)
		}
		t.Run("the secret is kept nowhere", func(t *testing.T) {
			for _, query := range []string{"SELECT count(*) FROM secrets WHERE hash = $1", "SELECT count(*) FROM lines WHERE after = $1"} {
				var n int
				if err := g.raw(t).QueryRow(query, []byte(v.Secret)).Scan(&n); err != nil || n != 0 {
					t.Errorf("%s: %d, %v", query, n, err)
				}
			}
		})
		t.Run("refused", func(t *testing.T) {
			_, err := g.AddToken(ctx, g.techA, NewToken{Name: "x", Role: "viewer"})
			wantFault(t, err, fault.Forbidden, "may not")
			_, err = g.AddToken(ctx, g.boss, NewToken{Name: "board", Role: "viewer"})
			wantFault(t, err, fault.Conflict, "in force")
			_, err = g.AddToken(ctx, g.boss, NewToken{Name: "", Role: "boss"})
			wantPointers(t, err, "#/name #/role")
			_, err = g.AddToken(ctx, g.boss, NewToken{Name: "y", Role: "viewer", For: "Nobody"})
			wantFault(t, err, fault.NotFound, "nobody here")
			_, err = g.AddToken(ctx, g.boss, NewToken{Name: "y", Role: "manager", For: "Tech A"})
			wantPointers(t, err, "#/role")
			_, err = g.AddToken(ctx, g.manager, NewToken{Name: "y", Role: "viewer", For: "Tech A"})
			wantFault(t, err, fault.Forbidden, "what is theirs alone")
			_, err = g.Tokens(ctx, g.techA)
			wantFault(t, err, fault.Forbidden, "may not")
			_, err = g.RevokeToken(ctx, g.techA, v.ID)
			wantFault(t, err, fault.Forbidden, "may not")
			_, err = g.RevokeToken(ctx, g.boss, "K-00000000")
			wantFault(t, err, fault.NotFound, "no token")
			for _, secret := range []string{"", "pawl_", v.Secret + "x", v.Secret[1:]} {
				_, err := g.Authenticate(ctx, secret)
				wantFault(t, err, fault.Unauthenticated, "opens nothing")
			}
		})
		t.Run("a role does no more than its person's, by now", func(t *testing.T) {
			viewer := g.hire(t, "Viewer V", "viewer")
			_, err := g.AddToken(ctx, g.boss, NewToken{Name: "z", Role: "technician", For: "Viewer V"})
			wantPointers(t, err, "#/role")
			m, err := g.AddToken(ctx, g.manager, NewToken{Name: "m", Role: "manager", For: "Manager M"})
			if err != nil {
				t.Fatal(viewer, err)
			}
			if _, err := g.ChangePerson(ctx, g.boss, g.manager.Person, 1, PersonChange{Role: ptr("technician")}); err != nil {
				t.Fatal(err)
			}
			if a, err := g.Authenticate(ctx, m.Secret); err != nil || a.Role != people.Technician {
				t.Errorf("%+v, %v; want no more than a technician", a, err)
			}
		})
		t.Run("revoked at once, and the name is free", func(t *testing.T) {
			if _, err := g.RevokeToken(ctx, g.boss, v.ID); err != nil {
				t.Fatal(err)
			}
			_, err := g.Authenticate(ctx, v.Secret)
			wantFault(t, err, fault.Unauthenticated, "opens nothing")
			_, err = g.RevokeToken(ctx, g.boss, v.ID)
			wantFault(t, err, fault.Conflict, "revoked already", "since", "*")
			if _, err := g.AddToken(ctx, g.boss, NewToken{Name: "board", Role: "viewer"}); err != nil {
				t.Error(err)
			}
			all, err := g.Tokens(ctx, g.boss)
			if err != nil || len(all) != 3 || all[0].Name != "board" || all[0].Secret != "" {
				t.Errorf("%+v, %v", all, err)
			}
		})
	})
}
