package model

import (
	"database/sql"
	"encoding/json"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"pawl/model/fault"
	"pawl/model/register"
	"pawl/model/settings"
)

// step is one act of the script below; what it does it does under By's key.
type step struct {
	verb string
	do   func(by By) (any, error)
}

func answer[T any](v T, err error) (any, error) { return v, err }

// script is a short life of a shop in which every act occurs, some of them
// refused. Numbers and ids in it are those that earlier steps gave.
func (g *garage) script(t *testing.T) []step {
	var numbers []string
	var person, token, count string
	doubtful := false
	number := func(i int) string {
		if i >= len(numbers) {
			return ""
		}
		return numbers[i]
	}
	kept := func(d Done, err error) (any, error) {
		if n := d.Number.String(); err == nil && !slices.Contains(numbers, n) {
			numbers = append(numbers, n)
		}
		return d, err
	}
	photo := g.upload(t, g.boss, picture(1))
	return []step{
		{"settings", func(by By) (any, error) {
			return answer(g.ChangeSettings(ctx, by, 2, settings.Change{Address: ptr("https://shop.example"), Units: ptr("metric")}))
		}},
		{"people add", func(by By) (any, error) {
			p, err := g.AddPerson(ctx, by, NewPerson{Name: "Tech Ø", Role: "technician"})
			person = p.ID
			return p, err
		}},
		{"people edit", func(by By) (any, error) {
			return answer(g.ChangePerson(ctx, by, person, 1, PersonChange{Shares: ptr(true)}))
		}},
		{"places add", func(by By) (any, error) { return answer(g.AddPlace(ctx, by, "Bay 2/Box ½/Drawer ﬀ")) }},
		{"token add", func(by By) (any, error) {
			v, err := g.AddToken(ctx, by, NewToken{Name: "scale", Role: "technician", For: "Tech Ø"})
			token = v.ID
			v.Secret = "" // shown once
			return v, err
		}},
		{"token revoke", func(by By) (any, error) { return answer(g.RevokeToken(ctx, by, token)) }},
		{"issue numbers", func(by By) (any, error) { return answer(g.IssueNumbers(ctx, by, 3)) }},
		{"register", func(by By) (any, error) {
			return kept(g.Register(ctx, by, register.New{SerialAgain: "KD408-B217", Change: register.Change{Kind: ptr("torque wrench"), Maker: ptr("Brindle"), Serial: ptr("kd408b217"),
				Owner: ptr("tech ø"), Place: ptr("Drawer ﬀ"), Price: ptr("289.00"), Bought: ptr("2026-01-15"), Pieces: &register.Pieces{{Name: "case", Count: 1}}, Notes: ptr("a\nb <&> \u2028 é"),
				Marking: &register.MarkingEntry{Method: "engraved"}}, Evidence: attachOf("plate", photo)}))
		}},
		{"register", func(by By) (any, error) {
			return kept(g.Register(ctx, by, register.New{Change: register.Change{Kind: ptr("work light"), Lot: ptr("L7")}}))
		}},
		{"edit", func(by By) (any, error) {
			return answer(g.ChangeTool(ctx, by, number(1), 1, register.Change{Lot: ptr(""), Model: ptr("J-3"), Price: ptr("0.00")}))
		}},
		{"take", func(by By) (any, error) {
			return answer(g.Take(ctx, by, number(0), Take{To: "Tech A", Job: "RO-1042", Due: "2026-10-31"}))
		}},
		{"take, refused", func(by By) (any, error) { return answer(g.Take(ctx, by, number(0), Take{To: "Tech B"})) }},
		{"handover", func(by By) (any, error) { return answer(g.Handover(ctx, by, number(0), Handover{To: "Tech B"})) }},
		{"return", func(by By) (any, error) {
			return answer(g.Return(ctx, by, number(0), Return{Missing: []string{"case"}, Condition: "oily"}))
		}},
		{"job open", func(by By) (any, error) {
			return answer(g.OpenJob(ctx, by, NewJob{Number: "ro-1042", Vehicle: ptr("green van"), Safety: ptr("no")}))
		}},
		{"job open, refused", func(by By) (any, error) { return answer(g.OpenJob(ctx, by, NewJob{Number: "RO-1042"})) }},
		{"wrong", func(by By) (any, error) {
			return answer(g.Wrong(ctx, by, number(1), Wrong{What: "dropped", Note: "Kanal №2"}))
		}},
		{"away", func(by By) (any, error) {
			return answer(g.Away(ctx, by, number(1), Away{To: "Lab 1", For: "repair", Happened: "2026-10-30T12:00"}))
		}},
		{"back", func(by By) (any, error) { return answer(g.Back(ctx, by, number(1), Back{})) }},
		{"clear", func(by By) (any, error) { return answer(g.Clear(ctx, by, number(1), Clear{Why: "mended"})) }},
		{"evidence add", func(by By) (any, error) { return answer(g.Attach(ctx, by, number(1), attachOf("whole", photo))) }},
		{"count start", func(by By) (any, error) {
			v, err := g.StartCount(ctx, by, StartCount{})
			count = v.ID
			return v, err
		}},
		{"count scan", func(by By) (any, error) {
			return answer(g.ScanCount(ctx, by, count, ScanCount{Scanned: number(0), At: "Drawer ﬀ", Missing: []string{"case"}, Condition: "oily é"}))
		}},
		{"count pause", func(by By) (any, error) { return answer(g.PauseCount(ctx, by, count)) }},
		{"count scan, refused", func(by By) (any, error) {
			return answer(g.ScanCount(ctx, by, count, ScanCount{Scanned: number(1)}))
		}},
		{"count resume", func(by By) (any, error) { return answer(g.ResumeCount(ctx, by, count)) }},
		{"count settle", func(by By) (any, error) {
			return answer(g.SettleDifference(ctx, by, count, SettleDifference{Number: number(0), How: "record mended", Note: "no case any more"}))
		}},
		{"count close", func(by By) (any, error) { return answer(g.CloseCount(ctx, by, count)) }},
		{"count close, refused", func(by By) (any, error) { return answer(g.CloseCount(ctx, by, count)) }},
		{"count start", func(by By) (any, error) {
			return answer(g.StartCount(ctx, by, StartCount{How: "sample", MissingAtLeast: 1, Seed: ptr(int64(7))}))
		}},
		{"clock confirm", func(by By) (any, error) {
			if !doubtful {
				g.clock.advance(-2 * time.Hour)
				doubtful = true
			}
			return answer(g.ConfirmClock(ctx, by))
		}},
	}
}

// Every act under a key, sent twice: the second time nothing happens, and the
// answer is the first one, whole. A refusal is decided again, and is the same.
func TestEveryActAnswersARepeat(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		for i, s := range g.script(t) {
			replayed := false
			by := g.boss
			by.Key, by.Replayed = fmt.Sprint("key ", i), &replayed
			first, err := s.do(by)
			if err != nil && !strings.HasSuffix(s.verb, "refused") {
				t.Fatalf("%s: %v", s.verb, err)
			}
			if replayed {
				t.Errorf("%s: the first is said to be a repeat", s.verb)
			}
			g.clock.advance(time.Minute)
			lines := g.lines(t)
			again, errAgain := s.do(by)
			if !reflect.DeepEqual(first, again) || fmt.Sprint(err) != fmt.Sprint(errAgain) {
				t.Errorf("%s: first %+v, %v\nagain %+v, %v", s.verb, first, err, again, errAgain)
			}
			if n := g.lines(t); n != lines || replayed != (err == nil) {
				t.Errorf("%s: %d lines more, said to be a repeat %v", s.verb, n-lines, replayed)
			}
		}
	})
}

// A key belongs to one request of one actor.
func TestAKeyBelongsToOneRequest(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		by, other := g.boss, g.manager
		by.Key, other.Key = "key", "key"
		if _, err := g.AddPlace(ctx, by, "Van"); err != nil {
			t.Fatal(err)
		}
		_, err := g.AddPlace(ctx, by, "Van 2")
		wantFault(t, err, fault.Invalid, "used for another request")
		_, err = g.AddPerson(ctx, by, NewPerson{Name: "Van", Role: "viewer"})
		wantFault(t, err, fault.Invalid, "used for another request")
		if _, err := g.AddPlace(ctx, other, "Van 2"); err != nil {
			t.Errorf("another's same key: %v", err)
		}
	})
}

// The same script, clock and chance leave the same bytes on both engines, and
// every question has the same answer.
func TestBothEnginesKeepTheSameBytes(t *testing.T) {
	var ledgers, answers [2]string
	for i, engine := range []string{"sqlite", "postgres"} {
		g := openGarage(t, engine)
		var said strings.Builder
		for _, s := range g.script(t) {
			v, err := s.do(g.boss)
			fmt.Fprintf(&said, "%s: %s %v\n", s.verb, asJSON(t, v), err)
			g.clock.advance(1234567 * time.Microsecond)
		}
		g.ask(t, &said)
		ledgers[i], answers[i] = g.ledgerBytes(t), said.String()
	}
	wantSame(t, "the ledger", ledgers)
	wantSame(t, "an answer", answers)
	if n := strings.Count(ledgers[0], "\n"); n < 40 {
		t.Errorf("only %d lines were compared", n)
	}
}

func wantSame(t *testing.T, what string, got [2]string) {
	t.Helper()
	a, b := strings.Split(got[0], "\n"), strings.Split(got[1], "\n")
	for i := range min(len(a), len(b)) {
		if a[i] != b[i] {
			t.Errorf("%s differs\nsqlite   %.600s\npostgres %.600s", what, a[i], b[i])
		}
	}
	if len(a) != len(b) {
		t.Errorf("%s has %d lines on sqlite, %d on postgres", what, len(a), len(b))
	}
}

func asJSON(t *testing.T, v any) string {
	t.Helper()
	b, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// ledgerBytes gives every stored byte of lines, salts, images and hashes.
func (g *garage) ledgerBytes(t *testing.T) string {
	t.Helper()
	var out strings.Builder
	for _, query := range []string{"SELECT line, salt, after FROM lines ORDER BY seq", "SELECT hash, hash, hash FROM hashes ORDER BY idx"} {
		rows, err := g.raw(t).Query(query)
		if err != nil {
			t.Fatal(err)
		}
		for rows.Next() {
			var a, b, c sql.RawBytes
			if err := rows.Scan(&a, &b, &c); err != nil {
				t.Fatal(err)
			}
			fmt.Fprintf(&out, "%s %x %s\n", strings.ToValidUTF8(string(a), "?"), []byte(b), strings.ReplaceAll(fmt.Sprintf("%q", []byte(c)), "\n", " "))
		}
		if err := rows.Close(); err != nil {
			t.Fatal(err)
		}
	}
	return out.String()
}

// ask puts every question to the shop that there is.
func (g *garage) ask(t *testing.T, out *strings.Builder) {
	t.Helper()
	say := func(what string, v any, err error) { fmt.Fprintf(out, "%s: %s %v\n", what, asJSON(t, v), err) }
	set, err := g.Settings(ctx)
	say("settings", set, err)
	for _, by := range []By{g.boss, g.manager, g.techA} {
		everybody, err := g.People(ctx, by)
		say("people", everybody, err)
		places, err := g.Places(ctx, by)
		say("places", places, err)
		tokens, err := g.Tokens(ctx, by)
		say("tokens", tokens, err)
		jobs, next, err := g.Jobs(ctx, by, JobQuery{})
		say("jobs "+next, jobs, err)
		for _, q := range []FindQuery{{}, {Text: "kd408"}, {Text: "KANAL"}, {Text: "tor wre"}, {Text: "j-3"}, {Kind: "Jack"}, {Place: "Bay 2"}, {Owner: "Tech Ø"},
			{Owner: "shop"}, {State: "in place"}, {State: "out"}, {Person: "Tech B"}, {Limit: 1}, {Text: "%"}, {Text: "_"}, {Text: "'"}} {
			rows, next, err := g.Find(ctx, by, q)
			say(fmt.Sprintf("find %+v %s", q, next), rows, err)
			for _, r := range rows {
				v, err := g.Tool(ctx, by, r.Number.String())
				say("tool", v, err)
				history, next, err := g.History(ctx, by, r.Number.String(), 3, "")
				say("history "+next, history, err)
			}
		}
	}
	clock, err := g.ClockState(ctx)
	say("clock", clock, err)
}
