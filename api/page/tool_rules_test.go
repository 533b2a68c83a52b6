package page

import (
	"context"
	"os"
	"slices"
	"strings"
	"testing"

	"pawl/api/page/words"
	"pawl/model"
	"pawl/model/custody"
	"pawl/model/demo"
	"pawl/model/ledger"
	"pawl/model/people"
	"pawl/model/register"
)

// Commands are for a terminal: a page leaves them out, and the clause that would
// lead to nothing without them.
func TestForScreen(t *testing.T) {
	for text, want := range map[string]string{
		"scan your badge": "scan your badge",
		"only a tool that is out is handed over; take it with: pawl take NUMBER --to NAME": "only a tool that is out is handed over",
		"take another; a manager clears it with: pawl clear NUMBER --why …":                "take another",
		"they let others in; or at the shop's computer: pawl people enroll NAME":           "they let others in",
		"say that it came back first: pawl back NUMBER":                                    "say that it came back first",
		"see it with: pawl job show 1042":                                                  "",
		"use: pawl evidence add NUMBER --paper receipt=FILE":                               "",
		"run pawl verify": "",
		"there is no Tech Z (add them: pawl people add \"Tech Z\" --role technician)": "there is no Tech Z (add them)",
		"there is no job 9 (see it with: pawl job show 9)":                            "there is no job 9",
	} {
		if got := forScreen(text); got != want {
			t.Errorf("%q is shown as %q, want %q", text, got, want)
		}
	}
}

// The one main button, by where the tool is, what is wrong with it and who asks.
func TestMainOf(t *testing.T) {
	boss := people.Actor{Person: "H-BOSS", Name: "Maren Oake", Role: people.Manager}
	a := people.Actor{Person: "H-A", Name: "Tech A", Role: people.Technician}
	board := people.Actor{Name: "Wall board", Role: people.ShopDevice}
	out := func(to string) model.CustodyView { return model.CustodyView{State: custody.Out, Person: to} }
	place, away := model.CustodyView{State: custody.InPlace}, model.CustodyView{State: custody.Away, To: "Lab"}
	dropped, noLabel := []custody.Wrong{{What: "dropped"}}, []custody.Wrong{{What: custody.LabelGone}}
	bar, wrench := register.Tool{Kind: "breaker bar"}, register.Tool{Kind: "torque wrench"}
	for _, c := range []struct {
		what string
		tool register.Tool
		at   model.CustodyView
		bad  []custody.Wrong
		me   people.Actor
		want Main
	}{
		{"in its place", bar, place, nil, a, MainTake},
		{"in its place, at the board", bar, place, nil, board, MainTake},
		{"only its label is gone", bar, place, noLabel, a, MainTake},
		{"theirs", bar, out("Tech A"), nil, a, MainReturn},
		{"another has it", bar, out("Tech B"), nil, a, MainMine},
		{"out, at the board", bar, out("Tech B"), nil, board, MainReturn},
		{"away", bar, away, nil, a, MainBack},
		{"away and dropped", bar, away, dropped, a, MainBack},
		{"dropped, for a technician", bar, place, dropped, a, MainNone},
		{"dropped, for a manager", bar, place, dropped, boss, MainClear},
		{"dropped, and it measures", wrench, place, dropped, boss, MainNone},
		{"dropped while they have it", bar, out("Tech A"), dropped, a, MainReturn},
		{"dropped while another has it", bar, out("Tech B"), dropped, a, MainReturn},
		{"not yet typed", register.Tool{}, place, nil, a, MainFinish},
		{"not yet typed, and another's own", register.Tool{Owner: "H-B"}, place, nil, a, MainTake},
		{"not yet typed, and out to them", register.Tool{}, out("Tech A"), nil, a, MainReturn},
		{"gone", register.Tool{Kind: "breaker bar", Gone: 1}, place, nil, boss, MainNone},
		{"gone, and dropped before", register.Tool{Kind: "breaker bar", Gone: 1}, place, dropped, boss, MainNone},
	} {
		if got := mainOf(model.ToolView{Tool: c.tool, Custody: c.at, Wrongs: c.bad}, c.me); got != c.want {
			t.Errorf("%s: %q, want %q", c.what, got, c.want)
		}
	}
}

// The mark speaks of the tool alone: a label that is gone, a missing piece and
// who has it are words.
func TestMarkOf(t *testing.T) {
	for _, c := range []struct {
		what string
		view model.ToolView
		want Mark
	}{
		{"nothing reported", model.ToolView{Tool: register.Tool{Kind: "breaker bar"}}, InOrder},
		{"a label gone", model.ToolView{Tool: register.Tool{Kind: "breaker bar"}, Wrongs: []custody.Wrong{{What: custody.LabelGone}}}, InOrder},
		{"a piece missing", model.ToolView{Tool: register.Tool{Kind: "socket set"}, Missing: register.Pieces{{Name: "10 mm socket", Count: 1}}}, InOrder},
		{"it measures, and no check is on record", model.ToolView{Tool: register.Tool{Kind: "torque wrench"}}, NotChecked},
		{"it measures by a part of its name", model.ToolView{Tool: register.Tool{Kind: "bore-gauge set"}}, NotChecked},
		{"it insulates", model.ToolView{Tool: register.Tool{Kind: "insulating gloves"}}, NotChecked},
		{"dropped", model.ToolView{Tool: register.Tool{Kind: "torque wrench"}, Wrongs: []custody.Wrong{{What: "dropped"}}}, DoNotUse},
		{"gone", model.ToolView{Tool: register.Tool{Kind: "breaker bar", Gone: 1}}, NoMark},
	} {
		if got := markOf(c.view); got != c.want {
			t.Errorf("%s: %q, want %q", c.what, got, c.want)
		}
	}
}

// Lines of history as somebody would tell them.
func TestSentence(t *testing.T) {
	for _, c := range []struct {
		noun, verb string
		rev        int64
		after      map[string]any
		want       string
	}{
		{"tool", "register", 1, map[string]any{"kind": "impact wrench", "maker": "Brindle"}, "Registered: impact wrench Brindle."},
		{"tool", "file photos", 1, map[string]any{}, "Photographed, not yet typed."},
		{"tool", "edit", 2, map[string]any{"kind": "jack"}, "What is recorded was changed."},
		{"tool", "join", 3, map[string]any{"number": "00E-KM5"}, "Got the label 00E-KM5."},
		{"tool", "gone", 3, map[string]any{"gone": "2026-11-25T09:00:00Z", "gone_why": "scrapped", "gone_note": "split"}, "It left for good: scrapped. Note: split."},
		{"number", "register", 1, map[string]any{}, "Got the number 00E-KM5."},
		{"loan", "take", 1, map[string]any{"state": "out", "person": "Tech A", "job": "1042"}, "Took it, for job 1042"},
		{"loan", "take", 1, map[string]any{"state": "out", "person": "Tech B"}, "Tech B has it"},
		{"loan", "away", 1, map[string]any{"state": "away", "whom": "Lab", "purpose": "calibration"}, "Sent away to Lab: tool calibration"},
		{"loan", "return", 2, map[string]any{"ended": "x", "ended_how": "returned", "condition": "greasy", "missing": []register.Piece{{Name: "hex key", Count: 2}}},
			"Put back. As it came: greasy. NOT COMPLETE: hex key (2)"},
		{"loan", "handover", 2, map[string]any{"ended": "x", "ended_how": "handed over", "person": "Tech A"}, "Tech A handed it on"},
		{"loan", "back", 2, map[string]any{"ended": "x", "ended_how": "back", "whom": "Lab"}, "Back from Lab"},
		{"loan", "gone", 2, map[string]any{"ended": "x", "ended_how": "gone", "person": "Tech A"}, "Tech A has it no longer"},
		{"wrong", "wrong", 1, map[string]any{"what": "dropped", "note": "off the cart"}, "DO NOT USE: Dropped. Note: off the cart."},
		{"wrong", "wrong", 1, map[string]any{"what": "label gone"}, "Label gone."},
		{"wrong", "clear", 2, map[string]any{"what": "dropped", "cleared": "x", "why": "looked at"}, "May be used again: Dropped was cleared. Note: looked at."},
		{"marking", "register", 1, map[string]any{"method": "printed", "protection": "clear tape"}, "Its marking was noted: printed; protection: clear tape"},
		{"evidence", "register", 1, map[string]any{"kind": "plate"}, "A photo was added: serial plate."},
		{"evidence", "register", 1, map[string]any{"kind": "receipt"}, "A paper was added: receipt."},
		{"evidence", "register", 1, nil, "A paper that is not shown to you."},
		{"label", "label again", 1, map[string]any{"number": "00E-KM5", "why": "worn"}, "Its label 00E-KM5 was printed again: worn."},
		{"tool", "edit", 4, nil, "Something that is not shown to you: edit."},
		{"calibration", "calibrate", 1, map[string]any{"on_day": "2026-05-04"}, "Tool calibration of 2026-05-04."},
		{"calibration", "bench", 1, map[string]any{"on_day": "2026-05-04", "bench": true}, "Bench check of 2026-05-04."},
		{"use", "tighten", 1, map[string]any{"what": "tightening", "name": "wheel nuts", "verdict": "yes", "job": "1042"}, "Tightened: wheel nuts; ready was “yes”, for job 1042"},
		{"rumor", "hear", 1, map[string]any{"of": "something"}, "A record changed: hear, rumor."},
	} {
		l := model.LineView{Line: ledger.Line{Noun: c.noun, Verb: c.verb, Rev: c.rev, ID: "00E-KM5"}, ActorName: "Tech A via device", After: c.after}
		if got := sentence(words.English, l); got != c.want {
			t.Errorf("%s %s: %q, want %q", c.verb, c.noun, got, c.want)
		}
	}
}

// Everything that happened in the demo shop is told in a sentence of its own.
func TestEveryLineOfTheDemoIsTold(t *testing.T) {
	if os.Getenv("PAWL_SIZE") == "" {
		t.Skip("building the demo shop takes a while: set PAWL_SIZE=ci")
	}
	clock := demo.NewClock()
	shop, err := model.Open(t.Context(), model.Options{Dir: t.TempDir(), Clock: clock.Now, Chance: demo.NewChance("1")})
	if err != nil {
		t.Fatal(err)
	}
	defer shop.Close()
	if _, err := demo.Build(t.Context(), shop, clock); err != nil {
		t.Fatal(err)
	}
	by := model.By{Actor: people.Actor{Role: people.Manager, Via: people.ViaLocal}}
	unknown := strings.Split(words.Say(words.English, "history.unknown"), "{")[0]
	nouns, told := map[string]bool{}, 0
	for cursor, more := "", true; more; more = cursor != "" {
		var rows []model.ToolRow
		if rows, cursor, err = shop.Find(t.Context(), by, model.FindQuery{Gone: true, Limit: 200, Cursor: cursor}); err != nil {
			t.Fatal(err)
		}
		for _, r := range rows {
			lines, err := shop.Recent(context.Background(), by, string(r.Number), 0)
			if err != nil {
				t.Fatal(err)
			}
			for _, l := range lines {
				nouns[l.Noun], told = true, told+1
				if s := sentence(words.English, l); strings.HasPrefix(s, unknown) || strings.Contains(s, "{") {
					t.Errorf("%s: %s %s is told as %q", r.Number, l.Verb, l.Noun, s)
				}
			}
		}
	}
	for _, noun := range []string{"tool", "number", "loan", "wrong", "marking", "evidence"} {
		if !nouns[noun] {
			t.Errorf("no %s was told among %d lines", noun, told)
		}
	}
}

// Lines of one act are told together, in the order in which they are given.
func TestEntries(t *testing.T) {
	line := func(act int64, noun string) model.LineView {
		return model.LineView{Line: ledger.Line{Act: act, Noun: noun, ID: "00E-KM5"}, ActorName: "Tech A via local", After: map[string]any{"kind": "plate"}}
	}
	got := entries(words.English, []model.LineView{line(1, "number"), line(1, "evidence"), line(3, "evidence")})
	if len(got) != 2 || !slices.Equal(got[0].Says, []string{"Got the number 00E-KM5.", "A photo was added: serial plate."}) || got[0].Who != "Tech A (at the shop's computer)" {
		t.Errorf("%+v", got)
	}
}
