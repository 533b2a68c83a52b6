package model

import (
	"fmt"
	"strings"
	"testing"

	"pawl/model/fault"
	"pawl/model/people"
	"pawl/model/register"
)

// The table of object and field rules (DETAILS, Access), right by right. A tool
// is the shop's, one's own, another's, or another's who shares.
func TestWhoMayWhat(t *testing.T) {
	actor := func(role people.Role, via people.Via, person string) Actor {
		return Actor{Role: role, Via: via, Person: person}
	}
	actors := []struct {
		name string
		Actor
	}{
		{"at the computer", actor(people.Manager, people.ViaLocal, "")},
		{"manager", actor(people.Manager, people.ViaDevice, "H-1")},
		{"manager's script", actor(people.Manager, people.ViaToken, "")},
		{"at the computer as Tech A", actor(people.Technician, people.ViaLocal, "H-1")},
		{"technician", actor(people.Technician, people.ViaDevice, "H-1")},
		{"technician's script", actor(people.Technician, people.ViaToken, "")},
		{"viewer", actor(people.Viewer, people.ViaDevice, "H-1")},
		{"board", actor(people.ShopDevice, people.ViaDevice, "")},
		{"nobody", Actor{}},
	}
	tools := []people.Object{{}, {Owner: "H-1"}, {Owner: "H-2"}, {Owner: "H-2", OwnerShares: true}} // shop's, own, another's, shared
	rights := []struct {
		right people.Right
		want  map[string]string // by actor: + or - for each of the tools above
	}{
		{people.SeeMoney, map[string]string{"at the computer": "++++", "manager": "++-+", "manager's script": "+--+",
			"at the computer as Tech A": "-+--", "technician": "-+--", "technician's script": "----", "viewer": "-+--", "board": "----", "nobody": "----"}},
		{people.EditTool, map[string]string{"at the computer": "++++", "manager": "++++", "manager's script": "++++",
			"at the computer as Tech A": "++--", "technician": "++--", "technician's script": "+---", "viewer": "----", "board": "----", "nobody": "----"}},
		{people.ClearTool, map[string]string{"at the computer": "++++", "manager": "++++", "manager's script": "++++",
			"at the computer as Tech A": "----", "technician": "----", "technician's script": "----", "viewer": "----", "board": "----", "nobody": "----"}},
		{people.ShopActs, map[string]string{"at the computer": "++++", "manager": "++++", "manager's script": "++++",
			"at the computer as Tech A": "----", "technician": "----", "technician's script": "----", "viewer": "----", "board": "----", "nobody": "----"}},
	}
	for _, r := range rights {
		for _, a := range actors {
			got := ""
			for _, o := range tools {
				got += map[bool]string{true: "+", false: "-"}[people.May(a.Actor, r.right, o)]
			}
			if got != r.want[a.name] {
				t.Errorf("%s may %q: %s for shop's, own, another's, shared; want %s", a.name, r.right, got, r.want[a.name])
			}
		}
	}
}

// What each sees of a tool that Tech A owns, in every way out of the shop: the
// tool, its history, a list, the bytes.
func TestHiddenFieldsLeaveEmpty(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		receipt, plate := g.upload(t, g.techA, picture(1)), g.upload(t, g.techA, picture(2))
		done, err := g.Register(ctx, g.techA, register.New{Change: register.Change{Kind: ptr("impact wrench"), Owner: ptr("Tech A"), Price: ptr("289.00"), Tax: ptr("1"),
			Seller: ptr("Corner tools"), Bought: ptr("2026-01-15"), Terms: ptr("on account"), Owed: ptr("5"), OwedTo: ptr("Corner tools"), OwedOn: ptr("2026-02-01"), WarrantyMonths: ptr(int64(12))},
			Evidence: []register.Attach{{Kind: "receipt", SHA256: receipt}, {Kind: "plate", SHA256: plate}}})
		if err != nil {
			t.Fatal(err)
		}
		viewer := By{Actor: Actor{Role: people.Viewer, Via: people.ViaToken}}
		before := []struct {
			who  string
			by   By
			sees bool
		}{{"its owner", g.techA, true}, {"at the computer", g.boss, true}, {"a manager", g.manager, false}, {"another technician", g.techB, false}, {"a viewer", viewer, false}}
		n := done.Number.String()
		for _, c := range before {
			g.wantSees(t, c.who, c.by, n, receipt, plate, c.sees)
		}
		if _, err := g.ChangePerson(ctx, g.techA, g.techA.Person, 1, PersonChange{Shares: ptr(true)}); err != nil {
			t.Fatal(err)
		}
		g.wantSees(t, "a manager, once it is shared", g.manager, n, receipt, plate, true)
		g.wantSees(t, "another technician, though it is shared", g.techB, n, receipt, plate, false)
	})
}

// money are the words by which the price and the papers could be told.
var money = []string{"2026-01-15", "28900", "289.00", "Corner", "2026-02-01", "on account", "receipt"}

func (g *garage) wantSees(t *testing.T, who string, by By, n, receipt, plate string, sees bool) {
	t.Helper()
	v, err := g.Tool(ctx, by, n)
	if err != nil {
		t.Fatal(who, err)
	}
	photos := by.Role != people.Viewer // who is not of the shop sees a packet and no more
	papers := 0
	if sees {
		papers++
	}
	if photos {
		papers++
	}
	if v.MoneyShown != sees || (v.Tool.Price != nil) != sees || (v.Tool.Seller != "") != sees || len(v.Evidence) != papers {
		t.Errorf("%s: money shown %v, price %v, %d papers", who, v.MoneyShown, v.Tool.Price, len(v.Evidence))
	}
	if v.Tool.WarrantyMonths != 12 || (v.Tool.WarrantyStart() == "2026-01-15") != sees {
		t.Errorf("%s sees the warranty as %+v; its months are anybody's, but its start is the day of purchase here", who, v.Tool.Purchase)
	}
	history, _, err := g.History(ctx, by, n, 0, "")
	if err != nil || len(history) != 4 {
		t.Fatal(who, len(history), err)
	}
	rows, _, err := g.Find(ctx, by, FindQuery{})
	if err != nil || len(rows) != 1 {
		t.Fatal(who, len(rows), err)
	}
	if found, _, err := g.Find(ctx, by, FindQuery{Text: "Corner"}); err != nil || len(found) != 0 {
		t.Errorf("%s finds it by its seller: %v, %v", who, found, err)
	}
	for _, word := range money {
		var after []string
		for _, l := range history {
			after = append(after, fmt.Sprint(l.After))
		}
		if told := strings.Contains(strings.Join(after, " "), word); told && !sees {
			t.Errorf("the history tells %s %q", who, word)
		}
		if strings.Contains(fmt.Sprintf("%+v", rows), word) {
			t.Errorf("the list tells %s %q", who, word)
		}
	}
	if _, _, err := g.OpenOriginal(ctx, by, receipt); (err == nil) != sees {
		t.Errorf("%s opens the receipt: %v", who, err)
	} else if !sees {
		wantFault(t, err, fault.NotFound, "no original")
	}
	f, o, err := g.OpenOriginal(ctx, by, plate)
	if !photos {
		wantFault(t, err, fault.NotFound, "no original")
		return
	}
	if err != nil || o.Type != "image/png" {
		t.Fatalf("%s opens the plate: %+v, %v", who, o, err)
	}
	f.Close()
}
