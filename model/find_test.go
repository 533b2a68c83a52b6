package model

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"pawl/model/custody"
	"pawl/model/fault"
	"pawl/model/register"
)

// find TEXT: an exact number, a part of a serial of three characters or more,
// or the beginnings of words (DETAILS, Serials).
func TestFind(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		add := func(kind, maker, serial, notes, place, owner string) string {
			return g.tool(t, func(in *register.New) {
				in.Kind, in.Maker, in.Serial, in.SerialAgain, in.Notes, in.Place, in.Owner = &kind, &maker, &serial, serial, &notes, &place, &owner
			})
		}
		numbers := []string{
			add("impact wrench", "Brindle", "KD408B217", "red grip", "Bay 1/Cart", "Tech A"),
			add("torque wrench", "Kestrel", "TW-1O0Z", "Größe M", "Bay 1", "shop"),
			add("jack", "Brindle", "", "kd408 spare", "", "Demo garage"),
		}
		for n, act := range map[string]func(string) error{
			numbers[0]: func(n string) error { _, err := g.Take(ctx, g.techA, n, Take{}); return err },
			numbers[1]: func(n string) error {
				_, err := g.Away(ctx, g.boss, n, Away{To: "Lab", For: "calibration"})
				return err
			},
		} {
			if err := act(n); err != nil {
				t.Fatal(err)
			}
		}
		cases := []struct {
			q    FindQuery
			want string // which of the three
		}{
			{FindQuery{}, "1 2 3"},
			{FindQuery{Text: numbers[1]}, "2"},
			{FindQuery{Text: strings.ToLower(strings.ReplaceAll(numbers[1], "-", ""))}, "2"},
			{FindQuery{Text: "408b"}, "1"},
			{FindQuery{Text: "kd-408"}, "1"}, // the serial; the words are kd and 408
			{FindQuery{Text: "KD408"}, "1 3"},
			{FindQuery{Text: "1002"}, "2"}, // look-alikes folded on both sides: 1O0Z
			{FindQuery{Text: "08"}, ""},    // too short for a part, and no beginning
			{FindQuery{Text: "wre"}, "1 2"},
			{FindQuery{Text: "brin wre"}, "1"},
			{FindQuery{Text: "rench"}, ""},
			{FindQuery{Text: "GRÖ"}, "2"},
			{FindQuery{Text: "%"}, ""},
			{FindQuery{Text: "x' OR '1'='1"}, ""},
			{FindQuery{Text: "  "}, "1 2 3"},
			{FindQuery{Kind: " JACK "}, "3"},
			{FindQuery{Place: "Bay 1"}, "1 2"}, // and what is in it
			{FindQuery{Place: "cart"}, "1"},
			{FindQuery{Owner: "tech a"}, "1"},
			{FindQuery{Owner: "shop"}, "2 3"},
			{FindQuery{Owner: "Demo Garage"}, "2 3"},
			{FindQuery{State: "In place"}, "3"},
			{FindQuery{State: "out"}, "1"},
			{FindQuery{State: "away"}, "2"},
			{FindQuery{Person: "Tech A"}, "1"},
			{FindQuery{Person: "Tech B"}, ""},
			{FindQuery{Kind: "jack", Text: "wre"}, ""},
		}
		for _, c := range cases {
			rows, next, err := g.Find(ctx, g.techB, c.q)
			var got []string
			for _, r := range rows {
				got = append(got, fmt.Sprint(1+index(numbers, r.Number.String())))
			}
			if err != nil || next != "" || strings.Join(got, " ") != c.want {
				t.Errorf("%+v: %v, %q, %v; want %s", c.q, got, next, err, c.want)
			}
		}
		rows, _, err := g.Find(ctx, g.techB, FindQuery{Text: numbers[0]})
		if err != nil || fmt.Sprint(rows[0].State, rows[0].Person, rows[0].Owner, rows[0].Place) != fmt.Sprint(custody.Out, "Tech A", "Tech A", "Bay 1/Cart") {
			t.Errorf("%+v, %v", rows, err)
		}
		for q, kind := range map[FindQuery]fault.Kind{{State: "lost"}: fault.Invalid, {Place: "Moon"}: fault.NotFound, {Owner: "Nobody"}: fault.NotFound,
			{Person: "Nobody"}: fault.NotFound, {Limit: 201}: fault.Invalid, {Limit: -1}: fault.Invalid, {Cursor: "x"}: fault.Malformed} {
			if _, _, err := g.Find(ctx, g.boss, q); !fault.Is(err, kind) {
				t.Errorf("%+v: %v, want %s", q, err, kind)
			}
		}
	})
}

// A tool that was said to have left for good, and is here after all, is in the register
// again and out of use. Who may not end it may not say so, one that is gone by a loss or for
// which another came has its own ways, and what a person who left owned is not the shop's.
func TestHereAfterAll(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		gone := func(why string, set ...func(*register.New)) string {
			n := g.tool(t, set...)
			if _, err := g.Gone(ctx, g.boss, n, Gone{Why: why}); err != nil {
				t.Fatal(err)
			}
			return n
		}
		scrapped := gone("scrapped")
		_, err := g.Back(ctx, g.techA, scrapped, Back{})
		wantFault(t, err, fault.Forbidden, "")
		done, err := g.Back(ctx, g.manager, scrapped, Back{Condition: "in a drawer"})
		if err != nil || !strings.Contains(strings.Join(done.Advice, " "), "DO NOT USE "+scrapped) {
			t.Errorf("%+v, %v", done, err)
		}
		if v, err := g.Tool(ctx, g.techA, scrapped); err != nil || v.Tool.Gone != 0 || len(v.Wrongs) != 1 || v.Wrongs[0].What != custody.Doubtful {
			t.Errorf("%+v, %v", v.Tool, err)
		}
		_, err = g.Take(ctx, g.techA, scrapped, Take{})
		wantFault(t, err, fault.Refused, "DO NOT USE")

		swapped := g.tool(t)
		if _, err := g.Swap(ctx, g.manager, swapped, Swap{Serial: "XC-1", SerialAgain: "XC-1"}); err != nil {
			t.Fatal(err)
		}
		_, err = g.Back(ctx, g.manager, swapped, Back{})
		wantFault(t, err, fault.Conflict, "gone: exchanged")

		own := gone("sold", owned(g.techB))
		if _, err := g.Leave(ctx, g.manager, g.techB.Person, Leave{}); err != nil {
			t.Fatal(err)
		}
		_, err = g.Back(ctx, g.manager, own, Back{})
		wantFault(t, err, fault.Conflict, "who has left")
	})
}

// That a tool is gone by a loss is told by the line of that loss, and not by words that
// somebody wrote when it left, be they those that a loss leaves.
func TestANoteIsNoLoss(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		lost, burnt := g.tool(t), g.tool(t)
		g.clock.advance(time.Hour)
		loss := g.lossOf(t, g.manager, StartLoss{Kind: "lost", Found: "2026-10-30T12:30", Tools: []string{lost}})
		fire := g.lossOf(t, g.manager, StartLoss{Kind: "fire", Found: "2026-10-30T12:40", Tools: []string{burnt}})
		for _, id := range []string{loss.ID, fire.ID} {
			if _, err := g.ConfirmLoss(ctx, g.manager, id, LossTools{}); err != nil {
				t.Fatal(err)
			}
		}
		for note, number := range map[string]string{"loss L-00000000": g.tool(t), "loss " + loss.ID: g.tool(t), "loss " + fire.ID: burnt, "loss L-": g.tool(t)} {
			if _, err := g.Gone(ctx, g.boss, number, Gone{Why: "scrapped", Note: note}); err != nil {
				t.Fatal(err)
			}
			if v, err := g.Tool(ctx, g.manager, number); err != nil || !v.ComesBack {
				t.Errorf("%q: comes back: %t, %v", note, v.ComesBack, err)
			}
			_, err := g.Take(ctx, g.techA, number, Take{})
			if f := fault.Of(err); f == nil || !strings.Contains(f.Hint, "pawl back "+number) {
				t.Errorf("%q: %v", note, err)
			}
			if _, err := g.Back(ctx, g.manager, number, Back{}); err != nil {
				t.Errorf("%q: %v", note, err)
			}
		}
		if v, err := g.Tool(ctx, g.manager, lost); err != nil || v.ComesBack {
			t.Errorf("by the loss: comes back: %t, %v", v.ComesBack, err)
		}
		_, err := g.Back(ctx, g.manager, lost, Back{})
		if f := fault.Of(err); f == nil || !strings.Contains(f.Hint, "pawl loss recovered "+lost) {
			t.Errorf("by the loss: %v", err)
		}
	})
}

// An exact number finds a tool that is gone, with how it left; by all else gone tools are
// found when they are asked for, and counted where nothing else fits.
func TestFindGone(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		named := func(kind string) string { return g.tool(t, func(n *register.New) { n.Kind = &kind }) }
		sold, here := named("heat gun"), named("jack")
		if _, err := g.Gone(ctx, g.boss, sold, Gone{Why: "sold"}); err != nil {
			t.Fatal(err)
		}
		for _, c := range []struct {
			q    FindQuery
			want string
			gone int
		}{
			{FindQuery{Text: sold}, sold, 0},
			{FindQuery{Text: strings.ToLower(strings.ReplaceAll(sold, "-", ""))}, sold, 0},
			{FindQuery{Text: sold, Kind: "jack"}, "", 0}, // the rest narrows all the same
			{FindQuery{Text: "heat"}, "", 1},
			{FindQuery{Text: "heat", Gone: true}, sold, 0},
			{FindQuery{}, here, 0},
			{WhichQuery{Kind: "heat gun"}.Find(), "", 1},
			{WhichQuery{Kind: "heat gun", Maker: "Brindle"}.Find(), "", 0},
			{WhichQuery{Kind: "heat gun", Gone: true}.Find(), sold, 0},
			{FindQuery{Text: "nothing"}, "", 0},
			{FindQuery{Kind: "a\x00b"}, "", 0},
		} {
			rows, _, err := g.Find(ctx, g.techB, c.q)
			got := ""
			for _, r := range rows {
				got = strings.TrimSpace(got + " " + r.Number.String())
				if (r.Number.String() == sold) != (r.GoneWhy == "sold") {
					t.Errorf("%+v: %s is gone: %q", c.q, r.Number, r.GoneWhy)
				}
			}
			n, also := g.GoneBeside(ctx, g.techB, c.q, len(rows))
			if err != nil || also != nil || got != c.want || n != c.gone {
				t.Errorf("%+v: %q and %d gone, %v, %v; want %q and %d", c.q, got, n, err, also, c.want, c.gone)
			}
		}
		rows, _, err := g.Find(ctx, g.boss, FindQuery{Text: sold, Unfinished: true})
		if err != nil || len(rows) > 0 {
			t.Errorf("gone, and to be typed: %v, %v", rows, err)
		}
	})
}

// Page after page, every row comes once, in order, also while rows are added
// behind the cursor.
func TestPages(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		var want []string
		for range 7 {
			want = append(want, g.tool(t))
		}
		for _, n := range want {
			if _, err := g.Take(ctx, g.boss, n, Take{To: "Tech A", Job: "RO-" + n}); err != nil {
				t.Fatal(err)
			}
		}
		var got []string
		for cursor, page := "", 0; page == 0 || cursor != ""; page++ {
			rows, next, err := g.Find(ctx, g.boss, FindQuery{Limit: 3, Cursor: cursor})
			if err != nil || len(rows) > 3 || len(rows) == 0 {
				t.Fatal(len(rows), err)
			}
			for _, r := range rows {
				got = append(got, r.Number.String())
			}
			cursor = next
		}
		if strings.Join(got, " ") != strings.Join(want, " ") {
			t.Errorf("tools %v, want %v", got, want)
		}
		var jobs []string
		for cursor, page := "", 0; page == 0 || cursor != ""; page++ {
			list, next, err := g.Jobs(ctx, g.boss, JobQuery{Limit: 2, Cursor: cursor, Open: ptr(true)})
			if err != nil || len(list) > 2 {
				t.Fatal(len(list), err)
			}
			for _, j := range list { // all opened at one moment of this clock
				jobs = append(jobs, j.Number)
			}
			cursor = next
		}
		if seen := map[string]bool{}; len(jobs) != 7 {
			t.Errorf("jobs %v, want 7", jobs)
		} else {
			for _, j := range jobs {
				if seen[j] {
					t.Errorf("job %s came twice", j)
				}
				seen[j] = true
			}
		}
		closed, _, err := g.Jobs(ctx, g.boss, JobQuery{Open: ptr(false)})
		if err != nil || len(closed) != 0 {
			t.Errorf("closed jobs %v, %v", closed, err)
		}
	})
}

// History is oldest first and page by page, with the names of today.
func TestHistory(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		n := g.tool(t)
		if _, err := g.Take(ctx, g.techA, n, Take{}); err != nil {
			t.Fatal(err)
		}
		if _, err := g.Return(ctx, g.boss, n, Return{}); err != nil {
			t.Fatal(err)
		}
		if _, err := g.ChangePerson(ctx, g.boss, g.techA.Person, 1, PersonChange{Name: ptr("Tech Z")}); err != nil {
			t.Fatal(err)
		}
		var got []string
		for cursor, page := "", 0; page == 0 || cursor != ""; page++ {
			lines, next, err := g.History(ctx, g.techB, n, 1, cursor)
			if err != nil || len(lines) != 1 {
				t.Fatal(len(lines), err)
			}
			l := lines[0]
			got = append(got, fmt.Sprintf("%s %s %d by %s", l.Verb, l.Noun, l.Rev, l.ActorName))
			cursor = next
		}
		want := "register number 1 by Demo garage via local, register tool 1 by Demo garage via local, take loan 1 by Tech Z via token, return loan 2 by Demo garage via local"
		if strings.Join(got, ", ") != want {
			t.Errorf("%s\nwant %s", strings.Join(got, ", "), want)
		}
		_, _, err := g.History(ctx, g.boss, "00E-KM5", 0, "")
		wantFault(t, err, fault.NotFound, "no tool")
		_, _, err = g.History(ctx, g.boss, n, 500, "")
		wantPointers(t, err, "#/limit")
		v, err := g.Tool(ctx, g.boss, n)
		if err != nil {
			t.Fatal(err)
		}
		_, _, err = g.History(ctx, g.boss, n, 0, cursor{List: under("history", v.Tool.ID), Key: "x"}.String())
		wantFault(t, err, fault.Malformed, "cursor")
		for _, other := range []string{"tools", "history", under("history", "T-00000000")} {
			_, _, err = g.History(ctx, g.boss, n, 0, cursor{List: other, Key: "1"}.String())
			wantFault(t, err, fault.Malformed, "cursor")
		}
	})
}

func TestJobs(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		j, err := g.OpenJob(ctx, g.techA, NewJob{Number: " RO-7 ", Vehicle: ptr("green van"), VIN: ptr("wp0zz"), Safety: ptr("No")})
		if err != nil || j.Number != "RO-7" || j.VIN != "WP0ZZ" || j.Safety != "no" || j.Rev != 1 {
			t.Fatalf("%+v, %v", j, err)
		}
		_, err = g.OpenJob(ctx, g.techA, NewJob{Number: "ro-7"})
		wantFault(t, err, fault.Conflict, "RO-7", "since", "2026-10-30T17:00:00Z")
		_, err = g.OpenJob(ctx, g.techA, NewJob{Number: "RO-8", Safety: ptr("perhaps"), Vehicle: ptr("a\x00")})
		wantPointers(t, err, "#/vehicle #/safety")
		for _, number := range []string{"", " ", "a b", strings.Repeat("7", 33), "7\x00", "7;DROP"} {
			_, err := g.OpenJob(ctx, g.techA, NewJob{Number: number})
			wantPointers(t, err, "#/job")
			_, err = g.Job(ctx, g.techA, number)
			wantFault(t, err, fault.NotFound, "no job")
		}
		if _, err := g.Take(ctx, g.techA, g.tool(t), Take{Job: "RO-8"}); err != nil {
			t.Fatal(err)
		}
		j, err = g.OpenJob(ctx, g.techA, NewJob{Number: "RO-8", Safety: ptr("yes")})
		if err != nil || j.Safety != "yes" || j.Rev != 2 {
			t.Errorf("a first mention is filled in: %+v, %v", j, err)
		}
	})
}

// Text that a database refuses is answered like any other that finds nothing.
func TestTextThatNoDatabaseHolds(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		n := g.tool(t)
		for _, text := range []string{"a\x00b", "\xff\xfe", "a\xc3"} {
			asks := map[string]func() error{
				"person":        func() error { _, err := g.Person(ctx, g.boss, text); return err },
				"change person": func() error { _, err := g.ChangePerson(ctx, g.boss, text, 1, PersonChange{}); return err },
				"revoke":        func() error { _, err := g.RevokeToken(ctx, g.boss, text); return err },
				"original":      func() error { _, _, err := g.OpenOriginal(ctx, g.boss, text); return err },
				"attach":        func() error { _, err := g.Attach(ctx, g.boss, n, attachOf("other", text)); return err },
				"authenticate":  func() error { _, err := g.Authenticate(ctx, text); return err },
				"find":          func() error { return refusal(g.Find(ctx, g.boss, FindQuery{Text: text})) },
				"find kind":     func() error { return refusal(g.Find(ctx, g.boss, FindQuery{Kind: text})) },
				"find owner":    func() error { return refusal(g.Find(ctx, g.boss, FindQuery{Owner: text})) },
				"find person":   func() error { return refusal(g.Find(ctx, g.boss, FindQuery{Person: text})) },
				"find place":    func() error { return refusal(g.Find(ctx, g.boss, FindQuery{Place: text})) },
				"cursor": func() error {
					return refusal(g.Find(ctx, g.boss, FindQuery{Cursor: cursor{List: "tools", Key: text}.String()}))
				},
				"job cursor": func() error {
					return asked(g.Jobs(ctx, g.boss, JobQuery{Cursor: cursor{List: "jobs", Key: "1", ID: text}.String()}))
				},
				"actor":         func() error { _, err := g.ActorNamed(ctx, text); return err },
				"person's name": func() error { _, err := g.AddPerson(ctx, g.boss, NewPerson{Name: text, Role: "viewer"}); return err },
				"away":          func() error { _, err := g.Away(ctx, g.boss, n, Away{To: text, For: "lent"}); return err },
				"take on a job": func() error { _, err := g.Take(ctx, g.boss, n, Take{To: "Tech A", Job: text}); return err },
				"register kind": func() error {
					_, err := g.Register(ctx, g.boss, register.New{Change: register.Change{Kind: &text}})
					return err
				},
				"claimed number": func() error {
					_, err := g.Register(ctx, g.boss, register.New{Number: text, Change: register.Change{Kind: ptr("x")}})
					return err
				},
			}
			for name, ask := range asks {
				err := ask()
				if f := fault.Of(err); f != nil && (f.Kind == fault.Internal || f.Kind == fault.Unavailable) {
					t.Errorf("%s of %q: %s (%v)", name, text, f, f.Cause)
				}
			}
		}
	})
}

func refusal(_ []ToolRow, _ string, err error) error { return err }

func asked[T any](_ []T, _ string, err error) error { return err }

// A row says what did not come back with the last return, on either engine, as
// the tool itself does.
func TestRowsSayWhatIsMissing(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		set := g.tool(t, func(n *register.New) {
			n.Pieces = &register.Pieces{{Name: "10 mm socket", Count: 1}, {Name: "extension", Count: 2}}
		})
		whole := g.tool(t)
		for _, step := range []struct {
			take bool
			lost []string // at a return
			want string
		}{
			{true, nil, ""},
			{false, []string{"10 mm socket", "extension*2"}, "10 mm socket 1, extension 2"},
			{true, nil, "10 mm socket 1, extension 2"}, // nobody looked at it since
			{false, []string{"extension"}, "extension 1"},
			{true, nil, "extension 1"},
			{false, nil, "extension 1"},
			{true, nil, "extension 1"},
			{false, []string{}, ""}, // looked at, and all are there
		} {
			g.clock.advance(time.Minute)
			var err error
			if step.take {
				_, err = g.Take(ctx, g.techA, set, Take{})
			} else {
				_, err = g.Return(ctx, g.techA, set, Return{Missing: step.lost, AllThere: step.lost != nil && len(step.lost) == 0})
			}
			if err != nil {
				t.Fatal(err)
			}
			rows, _, err := g.Find(ctx, g.boss, FindQuery{})
			if err != nil || len(rows) != 2 {
				t.Fatal(rows, err)
			}
			v, err := g.Tool(ctx, g.boss, set)
			if err != nil {
				t.Fatal(err)
			}
			var got []string
			for _, r := range rows {
				for _, p := range r.Missing {
					got = append(got, fmt.Sprintf("%s %d", p.Name, p.Count))
				}
				if r.Number.String() == whole && len(r.Missing) > 0 {
					t.Errorf("a tool without pieces lacks %v", r.Missing)
				}
			}
			if strings.Join(got, ", ") != step.want || len(v.Missing) != len(got) {
				t.Errorf("after %+v: the row lacks %q, the tool %v", step, got, v.Missing)
			}
		}
	})
}
