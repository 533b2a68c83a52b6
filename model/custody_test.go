package model

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"time"

	"pawl/model/fault"
	"pawl/model/jobs"
	"pawl/model/people"
	"pawl/model/register"
)

// A day of one tool: each act, what is said of it, and who has it then.
func TestADayOfOneTool(t *testing.T) {
	steps := []struct {
		act   string
		do    func(g *garage, n string) (Done, error)
		state string // afterwards
		kind  fault.Kind
		facts []string
	}{
		{act: "return in place", do: func(g *garage, n string) (Done, error) { return g.Return(ctx, g.boss, n, Return{}) },
			state: "in place", kind: fault.Conflict},
		{act: "hand over what nobody has", do: func(g *garage, n string) (Done, error) { return g.Handover(ctx, g.boss, n, Handover{To: "Tech B"}) },
			state: "in place", kind: fault.Conflict},
		{act: "back from nowhere", do: func(g *garage, n string) (Done, error) { return g.Back(ctx, g.boss, n, Back{}) },
			state: "in place", kind: fault.Conflict},
		{act: "take", do: func(g *garage, n string) (Done, error) {
			return g.Take(ctx, g.techA, n, Take{Job: "1042", Due: "2026-10-30T17:00"})
		}, state: "out Tech A 1042 due 2026-10-30T22:00:00Z"},
		{act: "take again by the same", do: func(g *garage, n string) (Done, error) { return g.Take(ctx, g.techA, n, Take{}) },
			state: "out Tech A 1042 due 2026-10-30T22:00:00Z", kind: fault.Conflict, facts: []string{"holder", "Tech A", "since", "2026-10-30T17:03:00Z", "job", "1042"}},
		{act: "take by another", do: func(g *garage, n string) (Done, error) { return g.Take(ctx, g.techB, n, Take{}) },
			state: "out Tech A 1042 due 2026-10-30T22:00:00Z", kind: fault.Conflict, facts: []string{"holder", "Tech A", "since", "2026-10-30T17:03:00Z"}},
		{act: "back of what is out", do: func(g *garage, n string) (Done, error) { return g.Back(ctx, g.boss, n, Back{}) },
			state: "out Tech A 1042 due 2026-10-30T22:00:00Z", kind: fault.Conflict, facts: []string{"holder", "Tech A"}},
		{act: "hand over to oneself", do: func(g *garage, n string) (Done, error) { return g.Handover(ctx, g.techA, n, Handover{}) },
			state: "out Tech A 1042 due 2026-10-30T22:00:00Z", kind: fault.Conflict, facts: []string{"holder", "Tech A"}},
		{act: "hand over, with its job", do: func(g *garage, n string) (Done, error) { return g.Handover(ctx, g.techA, n, Handover{To: "tech b"}) },
			state: "out Tech B 1042 due 2026-10-30T22:00:00Z"},
		{act: "hand over to another job", do: func(g *garage, n string) (Done, error) {
			return g.Handover(ctx, g.techB, n, Handover{To: "Tech A", Job: "1043", Due: "2026-10-30"})
		}, state: "out Tech A 1043 due 2026-10-31T04:59:59.999999Z"},
		{act: "send away what is out", do: func(g *garage, n string) (Done, error) {
			return g.Away(ctx, g.boss, n, Away{To: "Lab", For: "calibration", Due: "2026-11-06"})
		}, state: "away Lab calibration due 2026-11-07T05:59:59.999999Z"},
		{act: "take what is away", do: func(g *garage, n string) (Done, error) { return g.Take(ctx, g.techA, n, Take{}) },
			state: "away Lab calibration due 2026-11-07T05:59:59.999999Z", kind: fault.Conflict, facts: []string{"holder", "Lab"}},
		{act: "return what is away", do: func(g *garage, n string) (Done, error) { return g.Return(ctx, g.boss, n, Return{}) },
			state: "away Lab calibration due 2026-11-07T05:59:59.999999Z", kind: fault.Conflict, facts: []string{"holder", "Lab"}},
		{act: "send away again", do: func(g *garage, n string) (Done, error) {
			return g.Away(ctx, g.boss, n, Away{To: "Lab 2", For: "repair"})
		}, state: "away Lab calibration due 2026-11-07T05:59:59.999999Z", kind: fault.Conflict, facts: []string{"holder", "Lab"}},
		{act: "back", do: func(g *garage, n string) (Done, error) { return g.Back(ctx, g.boss, n, Back{Condition: "as new"}) }, state: "in place"},
		{act: "take for another, by the manager", do: func(g *garage, n string) (Done, error) { return g.Take(ctx, g.boss, n, Take{To: "Tech B"}) }, state: "out Tech B"},
		{act: "return", do: func(g *garage, n string) (Done, error) { return g.Return(ctx, g.techA, n, Return{Condition: "oily"}) }, state: "in place"},
	}
	onBoth(t, func(t *testing.T, g *garage) {
		n := g.tool(t)
		for _, s := range steps {
			before := g.lines(t)
			done, err := s.do(g, n)
			if s.kind != "" {
				wantFault(t, err, s.kind, "", s.facts...)
			} else if err != nil {
				t.Fatalf("%s: %v", s.act, err)
			} else if got := custodyWords(done.Custody); got != s.state || done.Number.String() != n {
				t.Errorf("%s: the answer says %q, want %q", s.act, got, s.state)
			}
			if s.kind != "" && g.lines(t) != before {
				t.Errorf("%s was refused, and left a line", s.act)
			}
			v, err := g.Tool(ctx, g.boss, n)
			if err != nil || custodyWords(v.Custody) != s.state {
				t.Errorf("%s: afterwards %q, %v; want %q", s.act, custodyWords(v.Custody), err, s.state)
			}
			if v.Tool.Rev != 1 {
				t.Errorf("%s wrote the tool (revision %d); it writes the loan alone", s.act, v.Tool.Rev)
			}
			g.clock.advance(time.Minute)
		}
	})
}

// custodyWords is a custody without its time.
func custodyWords(c CustodyView) string {
	words := []string{string(c.State), c.Person, c.To, string(c.Purpose), c.Job}
	if c.Due != 0 {
		words = append(words, "due "+c.Due.String())
	}
	return strings.Join(strings.Fields(strings.Join(words, " ")), " ")
}

// Who may hand a tool to whom.
func TestWhoMayTakeForWhom(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		script := By{Actor: Actor{Role: people.Technician, Via: people.ViaToken}}
		viewer := By{Actor: Actor{Role: people.Viewer, Via: people.ViaToken}}
		cases := []struct {
			name string
			by   By
			to   string
			kind fault.Kind
		}{
			{"for oneself, unnamed", g.techA, "", ""},
			{"for oneself, by name", g.techA, "TECH A", ""},
			{"a technician for another", g.techA, "Tech B", fault.Forbidden},
			{"a manager for another", g.manager, "Tech B", ""},
			{"a script of the shop for anybody", script, "Tech B", ""},
			{"a script of the shop for nobody", script, "", fault.Invalid},
			{"a viewer", viewer, "Tech A", fault.Forbidden},
			{"somebody who is not here", g.boss, "Tech C", fault.Invalid},
			{"part of a name", g.boss, "Tech", fault.Invalid},
		}
		for _, c := range cases {
			t.Run(c.name, func(t *testing.T) {
				_, err := g.Take(ctx, c.by, g.tool(t), Take{To: c.to})
				if c.kind != "" {
					wantFault(t, err, c.kind, "")
				} else if err != nil {
					t.Error(err)
				}
			})
		}
	})
}

// Times are the shop's: Chicago goes back from -05:00 to -06:00 in the night to
// 2026-11-01 at 02:00, and forward on 2027-03-14 (IANA tz database).
func TestTimesAreInTheShopsZone(t *testing.T) {
	cases := []struct {
		due  string
		want string // the instant, or what the refusal says
		bad  bool
	}{
		{"2026-10-31T17:00", "2026-10-31T22:00:00Z", false},
		{"2026-11-02T17:00", "2026-11-02T23:00:00Z", false},
		{"2026-11-01", "2026-11-02T05:59:59.999999Z", false}, // a day of 25 hours
		{"2027-03-14", "2027-03-15T04:59:59.999999Z", false}, // a day of 23
		{"2026-11-01T01:30:00-06:00", "2026-11-01T07:30:00Z", false},
		{"2026-11-01T01:30", "-05:00", true}, // occurs twice: both offsets are named
		{"2026-11-01T01:30", "-06:00", true},
		{"2027-03-14T02:30", "-06:00", true}, // does not exist
		{"2027-03-14T02:30", "-05:00", true},
		{"2026-10-30T12:00", "not after", true}, // the moment of the taking itself
		{"2026-10-29", "not after", true},
		{"tomorrow", "tomorrow", true},
		{"2026-13-01", "2026-13-01", true},
	}
	onBoth(t, func(t *testing.T, g *garage) {
		n := g.tool(t)
		for _, c := range cases {
			done, err := g.Take(ctx, g.techA, n, Take{Due: c.due})
			if c.bad {
				wantFault(t, err, fault.Invalid, c.want)
				wantPointers(t, err, "#/due")
				continue
			}
			if err != nil || done.Custody.Due.String() != c.want {
				t.Errorf("due %s: %s, %v; want %s", c.due, done.Custody.Due, err, c.want)
			}
			if _, err := g.Return(ctx, g.techA, n, Return{}); err != nil {
				t.Fatal(err)
			}
		}
	})
}

// An act entered late carries both times; it may be neither in the future nor
// before the tool's last change of custody.
func TestEnteredLate(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		n := g.tool(t)
		g.clock.advance(3 * time.Hour) // 15:00 in Chicago
		_, err := g.Take(ctx, g.techA, n, Take{Happened: "2026-10-30T15:01"})
		wantFault(t, err, fault.Invalid, "in the future")
		wantPointers(t, err, "#/happened")
		if _, err := g.Take(ctx, g.techA, n, Take{Happened: "2026-10-30T13:00"}); err != nil {
			t.Fatal(err)
		}
		v, err := g.Tool(ctx, g.boss, n)
		if err != nil || v.Custody.Since.String() != "2026-10-30T18:00:00Z" {
			t.Errorf("since %s, %v; want when it happened", v.Custody.Since, err)
		}
		history, _, err := g.History(ctx, g.boss, n, 0, "")
		if err != nil {
			t.Fatal(err)
		}
		last := history[len(history)-1]
		if last.At != g.clock.Now().UnixMicro() || last.After["since"] != "2026-10-30T18:00:00Z" || last.After["entered"] != "2026-10-30T20:00:00Z" {
			t.Errorf("the line says at %d, after %v", last.At, last.After)
		}
		_, err = g.Return(ctx, g.techA, n, Return{Happened: "2026-10-30T12:59"})
		wantFault(t, err, fault.Invalid, "before the last change of custody")
		done, err := g.Handover(ctx, g.techA, n, Handover{To: "Tech B", Happened: "2026-10-30T14:00"})
		if err != nil || done.Custody.Since.String() != "2026-10-30T19:00:00Z" {
			t.Errorf("%+v, %v", done.Custody, err)
		}
		if _, err := g.Return(ctx, g.techB, n, Return{Happened: "2026-10-30T14:30"}); err != nil {
			t.Fatal(err)
		}
		_, err = g.Away(ctx, g.boss, n, Away{To: "Lab", For: "repair", Happened: "2026-10-30T14:29"})
		wantFault(t, err, fault.Invalid, "before the last change of custody")
	})
}

// An act that says of which custody it was asked does nothing to another; one of
// the first custody is refused though the tool is in place again. Under one replay
// key the first answer stays.
func TestAskedOfAnEarlierCustody(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		n := g.tool(t)
		since := func() string {
			v, err := g.Tool(ctx, g.boss, n)
			if err != nil {
				t.Fatal(err)
			}
			return v.Custody.Since.String()
		}
		first := since()
		g.clock.advance(time.Minute)
		if _, err := g.Take(ctx, g.techA, n, Take{Since: first}); err != nil {
			t.Fatal(err)
		}
		second := since()
		g.clock.advance(time.Minute)
		keyed := g.techB
		keyed.Key = "handed over once"
		if _, err := g.Handover(ctx, keyed, n, Handover{Since: second}); err != nil {
			t.Fatal(err)
		}
		for verb, act := range map[string]func() (Done, error){
			"return":   func() (Done, error) { return g.Return(ctx, g.techA, n, Return{Since: second}) },
			"handover": func() (Done, error) { return g.Handover(ctx, g.boss, n, Handover{Since: second}) },
			"away":     func() (Done, error) { return g.Away(ctx, g.boss, n, Away{To: "Lab", For: "repair", Since: second}) },
			"back":     func() (Done, error) { return g.Back(ctx, g.boss, n, Back{Since: second}) },
			"take":     func() (Done, error) { return g.Take(ctx, g.techA, n, Take{Since: first}) },
		} {
			_, err := act()
			wantFault(t, err, fault.Conflict, "out to Tech B")
			if f := fault.Of(err); f.Facts["holder"] != "Tech B" || f.Facts["since"] != since() {
				t.Errorf("%s: facts %v", verb, f.Facts)
			}
		}
		if _, err := g.Return(ctx, g.techB, n, Return{Since: since()}); err != nil {
			t.Fatal(err)
		}
		_, err := g.Take(ctx, g.techA, n, Take{Since: first})
		wantFault(t, err, fault.Conflict, "in place again")
		_, err = g.Take(ctx, g.techA, n, Take{Since: "yesterday"})
		wantFault(t, err, fault.Invalid, "yesterday")
		wantPointers(t, err, "#/since")
		if done, err := g.Handover(ctx, keyed, n, Handover{Since: since()}); err != nil || done.Custody.Person != "Tech B" {
			t.Errorf("the repeat: %+v, %v; want the first answer", done.Custody, err)
		}
	})
}

// What is missing of a set on return must belong to it.
func TestMissingPieces(t *testing.T) {
	set := func(in *register.New) {
		in.Kind = ptr("socket set")
		in.Pieces = &register.Pieces{{Name: "10 mm socket", Count: 1}, {Name: "extension", Count: 2}}
	}
	cases := []struct {
		missing []string
		want    string // as recorded; empty: refused
	}{
		{[]string{"10 MM socket"}, `[{"name":"10 mm socket","count":1}]`},
		{[]string{"extension*2", "10 mm socket"}, `[{"name":"extension","count":2},{"name":"10 mm socket","count":1}]`},
		{[]string{"extension*3"}, ""},
		{[]string{"12 mm socket"}, ""},
		{[]string{"extension*x"}, ""},
	}
	onBoth(t, func(t *testing.T, g *garage) {
		for _, c := range cases {
			n := g.tool(t, set)
			if _, err := g.Take(ctx, g.techA, n, Take{}); err != nil {
				t.Fatal(err)
			}
			_, err := g.Return(ctx, g.techA, n, Return{Missing: c.missing})
			if c.want == "" {
				wantPointers(t, err, "#/missing")
				continue
			}
			history, _, hErr := g.History(ctx, g.boss, n, 0, "")
			if err != nil || hErr != nil {
				t.Fatal(err, hErr)
			}
			got, jErr := json.Marshal(history[len(history)-1].After["missing"])
			if jErr != nil || string(got) != c.want {
				t.Errorf("%q: recorded %s, want %s", c.missing, got, c.want)
			}
		}
	})
}

// Something wrong puts a tool out of use at once, whoever has it; only a label
// gone does not. What measures is not cleared by a word.
func TestSomethingWrong(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		jack, wrench := g.tool(t, kind("jack")), g.tool(t, kind("torque wrench"))
		since := []string{"do_not_use", "dropped", "since", "2026-10-30T17:00:00Z"}
		t.Run("a label gone asks for a label", func(t *testing.T) {
			done, err := g.Wrong(ctx, g.techA, jack, Wrong{What: "Label gone"})
			if err != nil || len(done.Wrongs) != 1 {
				t.Fatal(done, err)
			}
			if _, err := g.Take(ctx, g.techA, jack, Take{}); err != nil {
				t.Error(err)
			}
		})
		t.Run("dropped while out", func(t *testing.T) {
			if _, err := g.Wrong(ctx, g.techB, jack, Wrong{What: "dropped", Note: "off the bench", Happened: "2026-10-30T12:00"}); err != nil {
				t.Fatal(err)
			}
			_, err := g.Handover(ctx, g.techA, jack, Handover{To: "Tech B"})
			wantFault(t, err, fault.Refused, "DO NOT USE: dropped", append(since, "holder", "Tech A")...)
			if _, err := g.Return(ctx, g.techA, jack, Return{}); err != nil {
				t.Errorf("it can come back: %v", err)
			}
		})
		t.Run("no take, no lending; away to be repaired", func(t *testing.T) {
			_, err := g.Take(ctx, g.techA, jack, Take{})
			wantFault(t, err, fault.Refused, "DO NOT USE", since...)
			_, err = g.Away(ctx, g.boss, jack, Away{To: "Neighbor", For: "lent"})
			wantFault(t, err, fault.Refused, "DO NOT USE", since...)
			if _, err := g.Away(ctx, g.boss, jack, Away{To: "Repairs", For: "repair"}); err != nil {
				t.Error(err)
			}
			if _, err := g.Back(ctx, g.boss, jack, Back{}); err != nil {
				t.Error(err)
			}
		})
		t.Run("a list says so", func(t *testing.T) {
			rows, _, err := g.Find(ctx, g.boss, FindQuery{Kind: "jack"})
			if err != nil || len(rows) != 1 || rows[0].DoNotUse != "dropped" {
				t.Errorf("%+v, %v", rows, err)
			}
		})
		t.Run("clear closes every report and lists them", func(t *testing.T) {
			_, err := g.Clear(ctx, g.techA, jack, Clear{Why: "looked"})
			wantFault(t, err, fault.Forbidden, "may not")
			_, err = g.Clear(ctx, g.manager, jack, Clear{Why: " "})
			wantPointers(t, err, "#/why")
			_, err = g.Clear(ctx, g.manager, jack, Clear{Why: "looked at it"}) // 29 CFR 1910.244(a)(2)(vi)(c): inspected after a shock
			wantFault(t, err, fault.Refused, "it needs an inspection that passes")
			g.clock.advance(time.Second)
			if _, err := g.Inspect(ctx, g.manager, jack, Inspect{Check: "jack six-month", Result: "pass", By: "Own words"}); err != nil {
				t.Fatal(err)
			}
			done, err := g.Clear(ctx, g.manager, jack, Clear{Why: "looked at it"})
			if err != nil || fmt.Sprint(done.Cleared) != "[label gone dropped]" && fmt.Sprint(done.Cleared) != "[dropped label gone]" || len(done.Wrongs) != 0 {
				t.Errorf("%+v, %v", done, err)
			}
			_, err = g.Clear(ctx, g.manager, jack, Clear{Why: "again"})
			wantFault(t, err, fault.Conflict, "nothing is reported wrong")
			if _, err := g.Take(ctx, g.techA, jack, Take{}); err != nil {
				t.Error(err)
			}
		})
		t.Run("what measures is not cleared by a look", func(t *testing.T) {
			if _, err := g.Wrong(ctx, g.techA, wrench, Wrong{What: "overloaded"}); err != nil {
				t.Fatal(err)
			}
			_, err := g.Clear(ctx, g.boss, wrench, Clear{Why: "looks fine"})
			wantFault(t, err, fault.Refused, "cannot be cleared by a look")
		})
		t.Run("words that are not taken", func(t *testing.T) {
			_, err := g.Wrong(ctx, g.techA, wrench, Wrong{What: "sad", Note: "a\x00"})
			wantPointers(t, err, "#/what #/note")
			_, err = g.Wrong(ctx, g.techA, wrench, Wrong{What: "failed", Happened: "2026-10-30T12:01"})
			wantPointers(t, err, "#/happened")
		})
	})
}

func TestAwayRefuses(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		n := g.tool(t, owned(g.techA))
		_, err := g.Away(ctx, g.boss, n, Away{To: " ", For: "fun"})
		wantPointers(t, err, "#/to #/for")
		_, err = g.Away(ctx, g.techB, n, Away{To: "Lab", For: "repair"})
		wantFault(t, err, fault.Forbidden, "may not")
		if _, err := g.Away(ctx, g.techA, n, Away{To: "Lab", For: "repair"}); err != nil {
			t.Errorf("its owner: %v", err)
		}
	})
}

// A job is opened by its first mention, its safety unknown, which counts as yes.
func TestAFirstMentionOpensAJob(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		if _, err := g.Job(ctx, g.boss, "ro-7"); !fault.Is(err, fault.NotFound) {
			t.Fatal(err)
		}
		before := g.lines(t)
		if _, err := g.Take(ctx, g.techA, g.tool(t), Take{Job: "RO-7"}); err != nil {
			t.Fatal(err)
		}
		j, err := g.Job(ctx, g.boss, "ro-7")
		if err != nil || j.Number != "RO-7" || j.Safety != jobs.Unknown || !j.Safety.Critical() || j.Opened != 1793379600000000 {
			t.Errorf("%+v, %v", j, err)
		}
		if n := g.lines(t) - before; n != 4 { // tool and number, then job and loan
			t.Errorf("%d lines, want 4", n)
		}
		_, err = g.Take(ctx, g.techA, g.tool(t), Take{Job: "a b"})
		wantPointers(t, err, "#/job")
	})
}
