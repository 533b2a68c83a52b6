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

func pieces(p ...register.Piece) func(*register.New) {
	return func(in *register.New) {
		all := register.Pieces(p)
		in.Kind, in.Pieces = ptr("socket set"), &all
	}
}

func (g *garage) job(t *testing.T, number string) AllBackView {
	t.Helper()
	v, err := g.AllBack(ctx, g.boss, number)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func (g *garage) took(t *testing.T, number, job string) {
	t.Helper()
	if _, err := g.Take(ctx, g.techA, number, Take{Job: job}); err != nil {
		t.Fatal(err)
	}
	g.clock.advance(time.Minute)
}

func (g *garage) gaveBack(t *testing.T, number string, in Return) {
	t.Helper()
	if _, err := g.Return(ctx, g.techA, number, in); err != nil {
		t.Fatal(err)
	}
	g.clock.advance(time.Minute)
}

// A job from its first take to its close: what is said at each step. Nothing that is
// only read leaves a line.
func TestAllBack(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		wrench, set, other := g.tool(t), g.tool(t, pieces(register.Piece{Name: "10 mm socket", Count: 1}, register.Piece{Name: "extension", Count: 2})), g.tool(t)
		if _, err := g.OpenJob(ctx, g.boss, NewJob{Number: "1042", Vehicle: ptr("gray wagon"), Safety: ptr("yes")}); err != nil {
			t.Fatal(err)
		}
		steps := []struct {
			what string
			do   func() error
			says string
			back bool
		}{
			{"nothing was taken", func() error {
				v, err := g.LookAtJob(ctx, g.techA, "1042", LookedAtJob{Before: "engine"})
				if err == nil && (len(v.Looks) != 1 || v.Looks[0].Result != "nothing recorded") {
					t.Errorf("asked with nothing taken: %+v", v.Looks)
				}
				return err
			}, "nothing is recorded as taken to this job; tools nobody scanned are not covered", false},
			{"two are out", func() error { g.took(t, wrench, "1042"); g.took(t, set, "1042"); return nil },
				"NOT BACK: " + wrench + " impact wrench (Tech A), " + set + " socket set (Tech A); 0 of 2 recorded takes are back; 0 of 1 set looked at; tools nobody scanned are not covered", false},
			{"the set came back, and nobody looked at it", func() error { g.gaveBack(t, set, Return{}); return nil },
				"NOT BACK: " + wrench + " impact wrench (Tech A); 1 of 2 recorded takes are back; 0 of 1 set looked at; tools nobody scanned are not covered", false},
			{"it was looked at", func() error {
				_, err := g.LookAtJob(ctx, g.techA, "1042", LookedAtJob{Sets: []LookedAtSet{{Number: set}}})
				return err
			}, "NOT BACK: " + wrench + " impact wrench (Tech A); 1 of 2 recorded takes are back; 1 set looked at; tools nobody scanned are not covered", false},
			{"the wrench was passed on within the job", func() error {
				_, err := g.Handover(ctx, g.techA, wrench, Handover{To: "Tech B"})
				return err
			}, "NOT BACK: " + wrench + " impact wrench (Tech B); 1 of 2 recorded takes are back; 1 set looked at; tools nobody scanned are not covered", false},
			{"it is scanned, and another that was never taken", func() error {
				v, err := g.LookAtJob(ctx, g.techA, "1042", LookedAtJob{Scanned: []string{wrench, other, "rubbish", wrench}})
				if err == nil && (len(v.Scanned) != 3 || v.Scanned[0].Done != "returned" || v.Scanned[1].Done != "extra" || v.Scanned[2].Problem == nil) {
					t.Errorf("scanned: %+v", v.Scanned)
				}
				return err
			}, "2 recorded takes are back; 1 set looked at; 1 finding not answered for; tools nobody scanned are not covered", false},
			{"the extra is answered for", func() error {
				_, err := g.AnswerFinding(ctx, g.techA, g.job(t, "1042").Unanswered()[0].ID, AnswerFinding{Answer: "known elsewhere", Who: "Tech B, who used it without a scan"})
				return err
			}, "2 recorded takes are back; 1 set looked at; tools nobody scanned are not covered", true},
		}
		for _, s := range steps {
			if s.do != nil {
				if err := s.do(); err != nil {
					t.Fatalf("%s: %v", s.what, err)
				}
			}
			g.clock.advance(time.Minute)
			before := g.lines(t)
			if v := g.job(t, "1042"); v.Words != s.says || v.Tally.AllBack() != s.back {
				t.Errorf("%s: %q, back %v; want %q, %v", s.what, v.Words, v.Tally.AllBack(), s.says, s.back)
			}
			if g.lines(t) != before {
				t.Errorf("%s: reading left a line", s.what)
			}
		}
		v, err := g.LookAtJob(ctx, g.techA, "1042", LookedAtJob{Before: "engine"})
		if err != nil || len(v.Looks) == 0 || v.Looks[len(v.Looks)-1].Result != "back" || v.Looks[len(v.Looks)-1].By != "Tech A" {
			t.Errorf("asked before the engine is started: %+v, %v", v.Looks, err)
		}
		if v, err := g.CloseJob(ctx, g.techA, "1042", CloseJob{}); err != nil || v.Job.Closed == 0 || v.ClosedBy != "Tech A" {
			t.Errorf("closed: %+v, %v", v.Job, err)
		}
		_, err = g.CloseJob(ctx, g.techA, "1042", CloseJob{})
		wantFault(t, err, fault.Conflict, "closed already, by Tech A", "since", "*", "by", "Tech A")
		_, err = g.Take(ctx, g.techA, wrench, Take{Job: "1042"})
		wantFault(t, err, fault.Conflict, "is closed")
	})
}

// inTurn does one after another with a tool, a minute apart.
func (g *garage) inTurn(n string, acts ...string) (err error) {
	for _, verb := range acts {
		g.clock.advance(time.Minute)
		switch verb {
		case "handover":
			_, err = g.Handover(ctx, g.techA, n, Handover{To: "Tech B", Job: "1043"})
		case "take":
			_, err = g.Take(ctx, g.techB, n, Take{Job: "1044"})
		case "return":
			_, err = g.Return(ctx, g.techB, n, Return{})
		case "away":
			_, err = g.Away(ctx, g.boss, n, Away{To: "Lab", For: "repair"})
		case "back":
			_, err = g.Back(ctx, g.boss, n, Back{})
		default:
			_, err = g.Gone(ctx, g.boss, n, Gone{Why: verb})
		}
		if err != nil {
			return fmt.Errorf("%s: %w", verb, err)
		}
	}
	return nil
}

// Where a tool is that was taken to a job, by the record.
func TestWhereTakenToolsAre(t *testing.T) {
	for _, c := range []struct {
		name, where, holder, job string
		back                     bool
		do                       func(g *garage, n string) error
	}{
		{"still out", TakenOut, "Tech A", "", false, func(g *garage, n string) error { return nil }},
		{"put back", TakenBack, "", "", true, func(g *garage, n string) error { _, err := g.Return(ctx, g.techA, n, Return{}); return err }},
		{"put back, and taken to another job", TakenBack, "", "", true, func(g *garage, n string) error {
			if _, err := g.Return(ctx, g.techA, n, Return{}); err != nil {
				return err
			}
			_, err := g.Take(ctx, g.techB, n, Take{Job: "1043"})
			return err
		}},
		{"handed on to another job", TakenHandedOn, "Tech B", "1043", true, func(g *garage, n string) error {
			_, err := g.Handover(ctx, g.techA, n, Handover{To: "Tech B", Job: "1043"})
			return err
		}},
		{"handed on, and put back from there", TakenBack, "", "", true, func(g *garage, n string) error {
			if _, err := g.Handover(ctx, g.techA, n, Handover{To: "Tech B", Job: "1043"}); err != nil {
				return err
			}
			_, err := g.Return(ctx, g.techB, n, Return{})
			return err
		}},
		{"sent away", TakenAway, "Lab", "", true, func(g *garage, n string) error {
			_, err := g.Away(ctx, g.boss, n, Away{To: "Lab", For: "repair"})
			return err
		}},
		{"sold", TakenGone, "", "", true, func(g *garage, n string) error { _, err := g.Gone(ctx, g.boss, n, Gone{Why: "sold"}); return err }},
		{"lost", TakenLost, "", "", false, func(g *garage, n string) error { _, err := g.Gone(ctx, g.boss, n, Gone{Why: "lost"}); return err }},
		{"handed on, and lost there", TakenLost, "", "", false, func(g *garage, n string) error {
			return g.inTurn(n, "handover", "lost")
		}},
		{"handed on, and sold", TakenGone, "", "", true, func(g *garage, n string) error { return g.inTurn(n, "handover", "sold") }},
		{"sent away, and lost there", TakenLost, "", "", false, func(g *garage, n string) error { return g.inTurn(n, "away", "lost") }},
		{"sent away, came back, and lost from the shop", TakenBack, "", "", true, func(g *garage, n string) error {
			return g.inTurn(n, "away", "back", "lost")
		}},
		{"put back, and lost on another job", TakenBack, "", "", true, func(g *garage, n string) error { return g.inTurn(n, "return", "take", "lost") }},
		{"handed on, put back, and lost on a third job", TakenBack, "", "", true, func(g *garage, n string) error {
			return g.inTurn(n, "handover", "return", "take", "lost")
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			g := openGarage(t, "sqlite")
			n := g.tool(t)
			g.took(t, n, "1042")
			if err := c.do(g, n); err != nil {
				t.Fatal(err)
			}
			v := g.job(t, "1042")
			if one := v.Tools[0]; one.Where != c.where || one.Holder != c.holder || one.OnJob != c.job || v.Tally.AllBack() != c.back {
				t.Errorf("%q, %q, job %q, back %v; want %q, %q, job %q, %v", one.Where, one.Holder, one.OnJob, v.Tally.AllBack(), c.where, c.holder, c.job, c.back)
			}
			if open := len(v.Unanswered()); (open == 0) != c.back {
				t.Errorf("%d findings are open", open)
			}
		})
	}
}

// A job with something open is not closed: each thing is answered for, and what was
// searched for and not found flags the job for ever.
func TestClosingWithSomethingOut(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		wrench, set := g.tool(t), g.tool(t, pieces(register.Piece{Name: "10 mm socket", Count: 1}, register.Piece{Name: "bit", Count: 5}))
		g.took(t, wrench, "1042")
		g.took(t, set, "1042")
		g.gaveBack(t, set, Return{Missing: []string{"bit*2"}, Broken: "10 mm socket", FragmentMissing: true})
		if _, err := g.Hold(ctx, g.techA, "1042", "wheel-lock key"); err != nil {
			t.Fatal(err)
		}
		_, err := g.CloseJob(ctx, g.boss, "1042", CloseJob{})
		wantFault(t, err, fault.Refused, "4 things are open", "open", "4")
		for _, says := range []string{wrench + " impact wrench is still out to Tech A", "bit (2) did not come back with " + set, "a fragment of 10 mm socket"} {
			if f := fault.Of(err); !slices.ContainsFunc(f.Fields, func(f fault.Field) bool { return strings.Contains(f.Detail, says) }) {
				t.Errorf("%v does not say %q", err, says)
			}
		}
		answers := map[jobs.Sort]AnswerFinding{
			jobs.ToolMissing:     {Answer: "known elsewhere", Who: "Tech A, at the other bay"},
			jobs.PieceMissing:    {Answer: "found", Where: "on the cart"},
			jobs.FragmentMissing: {Answer: "searched and not found", Who: "Tech A and Tech B", Where: "engine bay, under-tray, floor"},
			jobs.StillHeld:       {Answer: "known elsewhere", Who: "the office, in the key box"},
		}
		var missed string
		for _, f := range g.job(t, "1042").Unanswered() {
			done, err := g.AnswerFinding(ctx, g.techA, f.ID, answers[f.Sort])
			if err != nil || done.Open() || done.AnsweredByPerson != "Tech A" {
				t.Errorf("%s: %+v, %v", f.Sort, done, err)
			}
			if f.Sort == jobs.FragmentMissing {
				missed = f.ID
			}
		}
		v, err := g.CloseJob(ctx, g.techA, "1042", CloseJob{})
		if err != nil || v.Job.Closed == 0 {
			t.Fatal(err)
		}
		if tell := v.Tell(); len(tell) != 1 || !strings.Contains(tell[0], "SEARCHED AND NOT FOUND") || !strings.Contains(tell[0], "Tell the vehicle's owner") {
			t.Errorf("told: %q", tell)
		}
		if today, err := g.Today(ctx, g.boss); err != nil || len(today.Findings) != 1 || today.Findings[0].ID != missed {
			t.Errorf("today: %+v, %v", today.Findings, err)
		}
		if _, err := g.AnswerFinding(ctx, g.techA, missed, AnswerFinding{Told: "by phone, on the day"}); err != nil {
			t.Error(err)
		}
		// Found at last: the flag stays.
		if _, err := g.AnswerFinding(ctx, g.techA, missed, AnswerFinding{Answer: "found", Where: "in the under-tray"}); err != nil {
			t.Error(err)
		}
		_, err = g.AnswerFinding(ctx, g.techA, missed, AnswerFinding{Answer: "found", Where: "elsewhere"})
		wantFault(t, err, fault.Conflict, "found, in the under-tray", "since", "*")
		if tell := g.job(t, "1042").Tell(); len(tell) != 1 || !strings.Contains(tell[0], "was told: by phone") || !strings.Contains(tell[0], "found: in the under-tray") {
			t.Errorf("for ever: %q", tell)
		}
		if today, err := g.Today(ctx, g.boss); err != nil || len(today.Findings) != 0 {
			t.Errorf("today: %+v, %v", today.Findings, err)
		}
	})
}

// Over what is open only a manager closes a job, with a reason, and it stays on record;
// what was done without a confirmed wrench no override lets pass.
func TestOverride(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		n := g.tool(t)
		g.took(t, n, "1042")
		_, err := g.CloseJob(ctx, g.techA, "1042", CloseJob{Override: "the customer waits"})
		wantFault(t, err, fault.Forbidden, "close a job over what is open")
		v, err := g.CloseJob(ctx, g.manager, "1042", CloseJob{Override: "the customer waits"})
		if err != nil || v.Job.OverrideWhy != "the customer waits" || !v.ClosedOver() || v.OverrideBy != "Manager M" {
			t.Fatalf("%+v, %v", v.Job, err)
		}
		if today, err := g.Today(ctx, g.boss); err != nil || len(today.Findings) != 1 {
			t.Errorf("what was open is not to be settled: %+v, %v", today.Findings, err)
		}
		g.gaveBack(t, n, Return{})
		if v := g.job(t, "1042"); len(v.Unanswered()) > 0 || v.Findings[0].Answer != jobs.Found {
			t.Errorf("it was put back: %+v", v.Findings)
		}
		_, err = g.ReopenJob(ctx, g.techA, "1042", " ")
		wantPointers(t, err, "#/why")
		if v, err := g.ReopenJob(ctx, g.techA, "1042", "it rattles"); err != nil || v.Job.Closed != 0 || v.Job.OverrideWhy == "" || v.ReopenedBy != "Tech A" {
			t.Errorf("%+v, %v", v.Job, err)
		}
		_, err = g.ReopenJob(ctx, g.techA, "1042", "again")
		wantFault(t, err, fault.Conflict, "is open again already, by Tech A: it rattles", "since", "*", "by", "Tech A")
		_, err = g.CloseJob(ctx, g.manager, "1042", CloseJob{Override: "out of habit"})
		wantPointers(t, err, "#/override")

		w := g.tool(t, kind("torque wrench"))
		if _, err := g.Tighten(ctx, g.techA, w, Use{Ask: Ask{Target: "108 N·m"}, Job: "1042", Name: "wheel nuts", Count: 5}); err != nil {
			t.Fatal(err)
		}
		_, err = g.CloseJob(ctx, g.manager, "1042", CloseJob{Override: "it will hold"})
		wantFault(t, err, fault.Refused, "wheel nuts")
		_, err = g.ChangeJob(ctx, g.techA, "1042", AnyRevision, JobChange{Safety: ptr("no")})
		wantFault(t, err, fault.Forbidden, "only a manager says that it is no safety job")
		if _, err := g.ChangeJob(ctx, g.manager, "1042", AnyRevision, JobChange{Safety: ptr("no")}); err != nil {
			t.Error(err)
		}
		g.clock.advance(time.Minute)
		if v, err = g.CloseJob(ctx, g.techA, "1042", CloseJob{}); err != nil || v.ClosedOver() || v.Job.OverrideWhy == "" {
			t.Errorf("a clean closing is told as one over what is open, or the earlier one is forgotten: %+v, %v", v.Job, err)
		}
	})
}

// What an answer must say.
func TestAnswers(t *testing.T) {
	g := openGarage(t, "sqlite")
	n := g.tool(t)
	g.took(t, n, "1042")
	id := g.job(t, "1042").Unanswered()[0].ID
	for _, c := range []struct {
		in       AnswerFinding
		pointers string
	}{
		{AnswerFinding{}, "#/answer"},
		{AnswerFinding{Answer: "gone"}, "#/answer"},
		{AnswerFinding{Answer: "found"}, "#/where"},
		{AnswerFinding{Answer: "known elsewhere"}, "#/who"},
		{AnswerFinding{Answer: "searched and not found"}, "#/where #/who"},
		{AnswerFinding{Answer: "searched and not found", Who: "Tech A"}, "#/where"},
		{AnswerFinding{Answer: "found", Where: "bench", Told: "by phone"}, "#/told"},
		{AnswerFinding{Told: "by phone"}, "#/told"},
	} {
		before := g.lines(t)
		_, err := g.AnswerFinding(ctx, g.techA, id, c.in)
		wantPointers(t, err, c.pointers)
		if g.lines(t) != before {
			t.Errorf("%+v left a line", c.in)
		}
	}
	for _, no := range []string{"Z-00000000", "", "O-1", n} {
		_, err := g.AnswerFinding(ctx, g.techA, no, AnswerFinding{Answer: "found", Where: "bench"})
		wantFault(t, err, fault.NotFound, "no finding")
	}
}

// Things held for the customer.
func TestHeldThings(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		if _, err := g.OpenJob(ctx, g.boss, NewJob{Number: "1042"}); err != nil {
			t.Fatal(err)
		}
		_, err := g.Hold(ctx, g.techA, "1042", " ")
		wantPointers(t, err, "#/what")
		_, err = g.Hold(ctx, g.techA, "9999", "fob")
		wantFault(t, err, fault.NotFound, "no job")
		h, err := g.Hold(ctx, g.techA, "1042", "wheel-lock key")
		if err != nil || h.By != "Tech A" {
			t.Fatal(h, err)
		}
		_, err = g.CloseJob(ctx, g.boss, "1042", CloseJob{})
		wantFault(t, err, fault.Refused, "wheel-lock key is still held for the customer")
		_, err = g.GiveHeld(ctx, g.techA, "1042", "fob", "customer")
		wantFault(t, err, fault.NotFound, "held are: wheel-lock key")
		_, err = g.GiveHeld(ctx, g.techA, "1042", h.ID, "")
		wantPointers(t, err, "#/to")
		if g2, err := g.GiveHeld(ctx, g.techB, "1042", "Wheel-Lock  KEY", "customer"); err != nil || g2.GivenTo != "customer" || g2.GivenByPerson != "Tech B" {
			t.Error(g2, err)
		}
		_, err = g.GiveHeld(ctx, g.techA, "1042", h.ID, "customer")
		wantFault(t, err, fault.Conflict, "given back already, to customer", "since", "*")
		if _, err := g.CloseJob(ctx, g.boss, "1042", CloseJob{}); err != nil {
			t.Error(err)
		}
	})
}

// A broken tool is out of use at once; a set whose piece broke goes on without it.
func TestBroken(t *testing.T) {
	g := openGarage(t, "sqlite")
	n, set := g.tool(t), g.tool(t, pieces(register.Piece{Name: "bit", Count: 5}))
	g.took(t, n, "1042")
	g.took(t, set, "1042")
	_, err := g.Return(ctx, g.techA, n, Return{FragmentMissing: true})
	wantPointers(t, err, "#/broken")
	_, err = g.Return(ctx, g.techA, n, Return{AllThere: true})
	wantPointers(t, err, "#/all_there")
	_, err = g.Return(ctx, g.techA, set, Return{AllThere: true, Missing: []string{"bit"}})
	wantPointers(t, err, "#/all_there")
	done, err := g.Return(ctx, g.techA, n, Return{Broken: "tip", FragmentMissing: true})
	if err != nil || len(done.Wrongs) != 1 || done.Wrongs[0].What != "damaged" || !strings.Contains(strings.Join(done.Advice, " "), "FRAGMENT") {
		t.Errorf("%+v, %v", done, err)
	}
	done, err = g.Return(ctx, g.techA, set, Return{Broken: "bit", AllThere: true})
	if err != nil || len(done.Wrongs) != 0 {
		t.Errorf("%+v, %v", done, err)
	}
	v := g.job(t, "1042")
	if len(v.Unanswered()) != 1 || v.Unanswered()[0].Sort != jobs.FragmentMissing || v.Tally.Looked != 1 {
		t.Errorf("%+v", v)
	}
}

// A set that lacks a piece lacks it until somebody looks at the set again, through
// whatever hands it goes; and the piece is missing on the job it was lost on alone.
func TestIncompleteUntilLookedAt(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		set := g.tool(t, pieces(register.Piece{Name: "10 mm socket", Count: 1}, register.Piece{Name: "bit", Count: 5}))
		lacks := func(when, want string) {
			t.Helper()
			v, err := g.Tool(ctx, g.boss, set)
			if err != nil || pieceWords(v.Missing) != want {
				t.Errorf("%s: %q is missing, %v; want %q", when, pieceWords(v.Missing), err, want)
			}
			found, _, err := g.Find(ctx, g.boss, FindQuery{Text: "socket set"})
			if err != nil || len(found) != 1 || pieceWords(found[0].Missing) != want {
				t.Errorf("%s: found %+v, %v; want %q", when, found, err, want)
			}
		}
		g.took(t, set, "1042")
		g.gaveBack(t, set, Return{Missing: []string{"bit*2"}})
		lacks("put back without two bits", "bit (2)")
		g.took(t, set, "1043")
		lacks("out again", "bit (2)")
		if err := g.inTurn(set, "handover", "return"); err != nil {
			t.Fatal(err)
		}
		lacks("handed on and put back unlooked", "bit (2)")
		if err := g.inTurn(set, "away", "back"); err != nil {
			t.Fatal(err)
		}
		lacks("sent away and back", "bit (2)")
		if v := g.job(t, "1043"); len(v.Findings) != 0 || v.Tally.Looked != 0 || len(v.Unlooked()) != 1 {
			t.Errorf("it is missing on a job that it was not lost on, or was looked at: %+v", v)
		}
		g.took(t, set, "")
		g.gaveBack(t, set, Return{Broken: "10 mm socket"})
		lacks("a piece broke, and nobody looked", "bit (2), 10 mm socket")
		g.took(t, set, "")
		g.gaveBack(t, set, Return{AllThere: true})
		lacks("looked at", "")
	})
}

// A piece that broke is one less in the set. A fragment that is missing is said with
// and without a job; where no job is held open, nobody uses the set until it is cleared.
func TestBrokenPiece(t *testing.T) {
	for _, c := range []struct {
		job      string
		fragment bool
		wrongs   int
		open     int
	}{{"", false, 0, 0}, {"", true, 1, 0}, {"1042", false, 0, 0}, {"1042", true, 0, 1}} {
		t.Run(fmt.Sprintf("%+v", c), func(t *testing.T) {
			g := openGarage(t, "sqlite")
			set := g.tool(t, pieces(register.Piece{Name: "10 mm socket", Count: 1}))
			g.took(t, set, c.job)
			done, err := g.Return(ctx, g.techA, set, Return{Broken: "10 MM socket", FragmentMissing: c.fragment})
			if err != nil || pieceWords(done.Missing) != "10 mm socket" || len(done.Wrongs) != c.wrongs {
				t.Errorf("missing %v, wrongs %+v, %v", done.Missing, done.Wrongs, err)
			}
			if said := strings.Contains(strings.Join(done.Advice, " "), "A FRAGMENT IS MISSING"); said != c.fragment {
				t.Errorf("told: %q", done.Advice)
			}
			if c.job == "" {
				return
			}
			v := g.job(t, c.job)
			if open := v.Unanswered(); len(open) != c.open || pieceWords(v.Tools[0].Missing) != "10 mm socket" || v.Tally.Looked != 0 {
				t.Errorf("open %+v, tools %+v", open, v.Tools)
			}
		})
	}
}

// An answer covers as many pieces as it was given for: one more that is missing later
// is open by itself, and one that is there again is found.
func TestAnotherPieceMissing(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		set := g.tool(t, pieces(register.Piece{Name: "bit", Count: 5}))
		g.took(t, set, "1042")
		g.gaveBack(t, set, Return{Missing: []string{"bit*2"}})
		if _, err := g.AnswerFinding(ctx, g.techA, g.job(t, "1042").Unanswered()[0].ID, AnswerFinding{Answer: "searched and not found", Who: "Tech A", Where: "bay"}); err != nil {
			t.Fatal(err)
		}
		for _, c := range []struct {
			missing        []string
			open, answered string // how many of each
		}{
			{[]string{"bit*2"}, "", "2"}, {[]string{"bit*3"}, "1", "2"}, {[]string{"bit*5"}, "3", "2"}, {[]string{"bit*4"}, "2", "2"},
			{[]string{"bit*2"}, "", "2"}, {[]string{"bit*3"}, "1", "2"}, {[]string{"bit*1"}, "", "1"}, {nil, "", ""},
		} {
			g.clock.advance(time.Minute)
			v, err := g.LookAtJob(ctx, g.techA, "1042", LookedAtJob{Sets: []LookedAtSet{{Number: set, Missing: c.missing}}})
			if err != nil {
				t.Fatal(err)
			}
			var open, answered []string
			for _, f := range v.Findings {
				switch {
				case f.Open():
					open = append(open, fmt.Sprint(f.Count))
				case f.Answer != jobs.Found:
					answered = append(answered, fmt.Sprint(f.Count))
				}
			}
			if strings.Join(open, " ") != c.open || strings.Join(answered, " ") != c.answered {
				t.Errorf("%q missing: open %q, answered %q; want %q, %q", c.missing, open, answered, c.open, c.answered)
			}
		}
	})
}

// Somebody takes a tool to a job while another closes it: one of them is refused, and no
// closed job has a tool out that nobody answered for.
func TestTakeWhileClosing(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		n := g.tool(t)
		for i := range pawlSize(6, 12, 200) {
			job := fmt.Sprint(2000 + i)
			if _, err := g.OpenJob(ctx, g.boss, NewJob{Number: job}); err != nil {
				t.Fatal(err)
			}
			var errs [3]error
			together(len(errs), func(i int) {
				switch i {
				case 0:
					_, errs[i] = g.Take(ctx, g.techA, n, Take{Job: job})
				case 1:
					_, errs[i] = g.CloseJob(ctx, g.techB, job, CloseJob{})
				case 2:
					_, errs[i] = g.LookAtJob(ctx, g.techB, job, LookedAtJob{Before: "engine"})
				}
			})
			v := g.job(t, job)
			if (errs[0] == nil) == (errs[1] == nil) || v.Job.Closed != 0 && len(v.Unanswered()) > 0 || errs[2] != nil {
				t.Errorf("taken: %v; closed: %v; looked: %v; %+v", errs[0], errs[1], errs[2], v.Tally)
			}
			if errs[0] == nil {
				g.gaveBack(t, n, Return{})
			}
		}
	})
}
