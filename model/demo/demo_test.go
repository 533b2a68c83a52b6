package demo

import (
	"sync"
	"testing"

	"pawl/model"
	"pawl/model/calibration"
	"pawl/model/people"
)

// told is what a test asks of one shop that was built.
type told struct {
	root   string
	wrench model.ToolView
	ranked model.RankedView // 98 N·m with 88..108, at the end of the story
	held   int              // what holds job 1042 open
	failed int              // torque wrenches that were once found out
	tools  int
	err    error
}

func build(t *testing.T, dir string) (out told) {
	clock := NewClock()
	s, err := model.Open(t.Context(), model.Options{Dir: dir, Clock: clock.Now, Chance: NewChance("demo")})
	if err != nil {
		return told{err: err}
	}
	defer s.Close()
	built, err := Build(t.Context(), s, clock)
	if err != nil {
		return told{err: err}
	}
	by := model.By{Actor: model.Actor{Role: people.Manager, Via: people.ViaLocal}}
	v, err := s.Verify(t.Context(), by, model.VerifyQuery{})
	if err != nil || len(v.Problems) > 0 {
		t.Errorf("verify: %v %v", v.Problems, err)
	}
	out.root, out.tools = v.Root, built.Tools
	if out.wrench, out.err = s.Tool(t.Context(), by, built.Wrench); out.err == nil {
		out.err = out.measuring(t, s, by)
	}
	return out
}

// measuring asks about the tools of the story that measure.
func (out *told) measuring(t *testing.T, s *model.Shop, by model.By) (err error) {
	if out.ranked, err = s.ReadyTools(t.Context(), by, model.Ask{Target: "98 N·m", Limits: "88..108"}); err != nil {
		return err
	}
	uses, err := s.UsesOn(t.Context(), by, "1042")
	for _, u := range uses {
		if u.Holds {
			out.held++
		}
	}
	for _, tool := range out.ranked.Tools {
		v, err := s.Calibrations(t.Context(), by, tool.Number)
		if err != nil {
			return err
		}
		for _, c := range v.Calibrations {
			if c.FoundVerdict == calibration.Failed {
				out.failed++
			}
		}
	}
	return err
}

// The same seed gives the same shop: equal ledgers, byte for byte, under
// different signing keys. Everything in it can be verified.
func TestSameSeedSameShop(t *testing.T) {
	var shops [2]told
	dirs := [2]string{t.TempDir(), t.TempDir()}
	var both sync.WaitGroup
	for i := range shops {
		both.Go(func() { shops[i] = build(t, dirs[i]) })
	}
	both.Wait()
	for _, s := range shops {
		if s.err != nil {
			t.Fatal(s.err)
		}
	}
	w := shops[0].wrench
	if w.Tool.Serial != "KD408B217" || w.Custody.State != "in place" || len(w.Evidence) != 3 {
		t.Errorf("the wrench of the errand is %s, %s, with %d photos and papers; want KD408B217, in place, 3",
			w.Tool.Serial, w.Custody.State, len(w.Evidence))
	}
	if s := shops[0]; s.held != 1 || s.failed != 1 || s.ranked.Verdict != calibration.Yes || len(s.ranked.Tools) < wrenches {
		t.Errorf("%d hold the job, %d were found out, %d answer, best %s; want 1, 1, %d at least, yes", s.held, s.failed, len(s.ranked.Tools), s.ranked.Verdict, wrenches)
	}
	if n := shops[0].tools; n < 130 || n > 150 {
		t.Errorf("%d tools; the demo shop has about 140", n)
	}
	if shops[0].root != shops[1].root {
		t.Errorf("the same seed gave two ledgers: %s and %s", shops[0].root, shops[1].root)
	}
}
