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
