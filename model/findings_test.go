package model

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"pawl/model/fault"
	"pawl/model/jobs"
	"pawl/model/register"
)

// A piece that was found makes its set complete when somebody says that they saw it in
// there, in the answer or after it, and not before: a set with a piece missing is a
// missing tool (essay on COMNAVAIRFORINST 4790.2B, second hand).
func TestAPieceIsSeenInItsSet(t *testing.T) {
	set := pieces(register.Piece{Name: "10 mm socket", Count: 1}, register.Piece{Name: "extension", Count: 2})
	for name, c := range map[string]struct {
		answers []AnswerFinding // of the extensions that are missing
		missing string          // of the set after that
		looks   int
		fails   fault.Kind // the last of the answers
	}{
		"found, and seen in it":         {answers: []AnswerFinding{{Answer: "found", Where: "under the hood", InSet: true}}, missing: "10 mm socket 1", looks: 2},
		"found, and no more said":       {answers: []AnswerFinding{{Answer: "found", Where: "under the hood"}}, missing: "10 mm socket 1, extension 2", looks: 1},
		"seen in it after it was found": {answers: []AnswerFinding{{Answer: "found", Where: "under the hood"}, {InSet: true}}, missing: "10 mm socket 1", looks: 2},
		"twice":                         {answers: []AnswerFinding{{Answer: "found", Where: "under the hood", InSet: true}, {InSet: true}}, missing: "10 mm socket 1", looks: 2, fails: fault.Conflict},
		"known elsewhere":               {answers: []AnswerFinding{{Answer: "known elsewhere", Who: "Tech B", InSet: true}}, missing: "10 mm socket 1, extension 2", looks: 1, fails: fault.Invalid},
		"not found":                     {answers: []AnswerFinding{{Answer: "searched and not found", Who: "Tech B", Where: "bay", InSet: true}}, missing: "10 mm socket 1, extension 2", looks: 1, fails: fault.Invalid},
		"seen, and not said where":      {answers: []AnswerFinding{{InSet: true}}, missing: "10 mm socket 1, extension 2", looks: 1, fails: fault.Invalid},
	} {
		t.Run(strings.ReplaceAll(name, " ", "-"), func(t *testing.T) {
			g := openGarage(t, "sqlite")
			number := g.tool(t, set)
			g.took(t, number, "1042")
			g.gaveBack(t, number, Return{Missing: []string{"10 mm socket", "extension*2"}})
			id := findingOf(t, g, "extension").ID
			for i, in := range c.answers {
				g.clock.advance(time.Minute)
				f, err := g.AnswerFinding(ctx, g.techB, id, in)
				if i == len(c.answers)-1 && c.fails != "" {
					if fault.Of(err) == nil || fault.Of(err).Kind != c.fails {
						t.Errorf("%+v: %v", in, err)
					}
					continue
				}
				if err != nil || f.NotInSet == in.InSet {
					t.Errorf("%+v: %+v, %v", in, f, err)
				}
			}
			v, err := g.Tool(ctx, g.boss, number)
			var missing []string
			for _, p := range v.Missing {
				missing = append(missing, fmt.Sprint(p.Name, " ", p.Count))
			}
			if got := strings.Join(missing, ", "); err != nil || got != c.missing {
				t.Errorf("the set lacks %q, %v; want %q", got, err, c.missing)
			}
			looks := slices.DeleteFunc(g.job(t, "1042").Looks, func(l LookView) bool { return l.Sort != jobs.LookSet })
			if len(looks) != c.looks || c.looks == 2 && (looks[1].By != "Tech B" || looks[1].At == 0 || len(looks[1].MissingPieces()) != 1) {
				t.Errorf("it was looked at: %+v", looks)
			}
			if f := findingOf(t, g, "10 mm socket"); !f.Open() {
				t.Errorf("the other piece is answered for: %+v", f)
			}
		})
	}
}

func findingOf(t *testing.T, g *garage, what string) FindingView {
	t.Helper()
	for _, f := range g.job(t, "1042").Findings {
		if f.What == what {
			return f
		}
	}
	t.Fatalf("there is no finding of %s", what)
	return FindingView{}
}

// What is not settled comes in pages, each once, in order; a cursor of another list is
// refused.
func TestUnsettledFindingsInPages(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		for range 5 {
			number := g.tool(t, pieces(register.Piece{Name: "bit", Count: 1}))
			g.took(t, number, "1042")
			g.gaveBack(t, number, Return{Missing: []string{"bit"}})
		}
		all, next, err := g.UnsettledFindings(ctx, g.techA, FindingQuery{})
		if err != nil || len(all) != 5 || next != "" {
			t.Fatalf("%d, %q, %v", len(all), next, err)
		}
		var paged []string
		q := FindingQuery{Limit: 2}
		for {
			page, next, err := g.UnsettledFindings(ctx, g.techA, q)
			if err != nil {
				t.Fatal(err)
			}
			for _, f := range page {
				paged = append(paged, f.ID)
			}
			if q.Cursor = next; next == "" {
				break
			}
		}
		for i, f := range all {
			if len(paged) != 5 || paged[i] != f.ID {
				t.Fatalf("%v, want it as in %+v", paged, all)
			}
		}
		_, jobsNext, err := g.Jobs(ctx, g.techA, JobQuery{Limit: 1})
		if err != nil {
			t.Fatal(err)
		}
		_, _, err = g.UnsettledFindings(ctx, g.techA, FindingQuery{Cursor: "x" + jobsNext})
		wantFault(t, err, fault.Malformed, "cursor")
		_, _, err = g.UnsettledFindings(ctx, g.techA, FindingQuery{Limit: 1000})
		if fault.Of(err).Kind != fault.Invalid {
			t.Errorf("%v", err)
		}
	})
}

// A van is a person's from the start; who is not here has none.
func TestAPlaceOfAPerson(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		van, err := g.AddPlaceOf(ctx, g.boss, "Van 2/Drawer 1", "Tech A")
		if err != nil || van.Whose != "Tech A" {
			t.Fatalf("%+v, %v", van, err)
		}
		if outer, err := g.Place(ctx, g.boss, "Van 2"); err != nil || outer.Whose != "" {
			t.Errorf("what it is in: %+v, %v", outer.PlaceView, err)
		}
		if again, err := g.Place(ctx, g.boss, "Van 2/Drawer 1"); err != nil || again.Whose != "Tech A" {
			t.Errorf("%+v, %v", again.PlaceView, err)
		}
		_, err = g.AddPlaceOf(ctx, g.boss, "Van 3", "Nobody Here")
		wantPointers(t, err, "#/person")
	})
}
