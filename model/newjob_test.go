package model

import (
	"slices"
	"testing"
	"time"

	"pawl/model/jobs"
)

// Whatever mentions a job first says that it is new, and which open ones may have been
// meant; a job that is there already, or closed, is neither.
func TestANewJobIsSaid(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		n := g.tool(t)
		no := string(jobs.No)
		for _, number := range []string{"1042", "1402", "RO-7", "1029"} {
			if _, err := g.OpenJob(ctx, g.boss, NewJob{Number: number, Safety: &no}); err != nil {
				t.Fatal(err)
			}
			g.clock.advance(time.Minute)
		}
		if _, err := g.CloseJob(ctx, g.boss, "1029", CloseJob{}); err != nil {
			t.Fatal(err)
		}
		said := func(did string, got *OpenedJob, err error, number string, like ...string) {
			t.Helper()
			switch {
			case err != nil:
				t.Fatalf("%s: %v", did, err)
			case number == "" && got != nil:
				t.Errorf("%s: %+v, want no new job", did, got)
			case number != "" && (got == nil || got.Number != number || !slices.Equal(got.Like, like)):
				t.Errorf("%s: %+v, want %s new, like %q", did, got, number, like)
			}
		}
		done, err := g.Take(ctx, g.techA, n, Take{Job: "1042"})
		said("taken for a job that is open", done.NewJob, err, "")
		done, err = g.Handover(ctx, g.techA, n, Handover{To: "Tech B", Job: "1024"})
		said("handed over", done.NewJob, err, "1024", "1042") // a swap; 1029 is closed, 1402 two changes away
		done, err = g.Return(ctx, g.techB, n, Return{})
		said("returned", done.NewJob, err, "")
		keyed := g.techA
		keyed.Key = "take-for-a-new-job"
		for range 2 { // a repeat says it again
			done, err = g.Take(ctx, keyed, n, Take{Job: " ro-71 "})
			said("taken", done.NewJob, err, "ro-71", "RO-7")
		}
		use := Use{Ask: Ask{Target: "108 N·m", NotSafety: true}, NotSafetyWhy: "a plastic cover", Job: "1O42", Name: "air box", Count: 1}
		u, err := g.Tighten(ctx, g.techA, n, use)
		said("tightened", u.NewJob, err, "1O42", "1042")
		u, err = g.Tighten(ctx, g.techA, n, use)
		said("tightened again", u.NewJob, err, "")
		use.Job, use.Count = "77", 0
		u, err = g.Measure(ctx, g.techA, n, use)
		said("measured", u.NewJob, err, "77")
		on, err := g.UsesOn(ctx, g.boss, "77")
		if err != nil || len(on) != 1 || on[0].NewJob != nil {
			t.Errorf("what was measured on a job says later that it is new: %+v, %v", on, err)
		}
		_, err = g.Job(ctx, g.boss, "142")
		wantFault(t, err, "not found", "", "like", "1O42, 1402, 1042")
	})
}
