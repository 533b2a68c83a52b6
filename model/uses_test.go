package model

import (
	"testing"
	"time"

	"pawl/model/calibration"
	"pawl/model/fault"
	"pawl/model/jobs"
)

// safetyOf says of a job whether it is a safety job.
func (g *garage) safetyOf(t *testing.T, number string, safety jobs.Safety) {
	t.Helper()
	j, err := g.Job(ctx, g.boss, number)
	if err == nil {
		_, err = g.ChangeJob(ctx, g.boss, number, j.Rev, JobChange{Safety: ptr(string(safety))})
	}
	if err != nil {
		t.Fatal(err)
	}
}

// What counted as not safety-critical because its job was marked so does so no longer than
// the job does: a tightening without a confirmed wrench holds the job open from then on, and
// so does one that was confirmed with less than a safety job asks. What somebody marked
// itself, with a reason, stays as it is.
func TestWhatWasDoneOnAJobThatIsASafetyJobAfterAll(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		good, unknown := g.goodWrench(t, "TW-1"), g.measuring(t, "torque wrench", "TW-2", wrenchScale)
		g.clock.advance(270 * 24 * time.Hour) // so much drift may have come
		if _, err := g.OpenJob(ctx, g.boss, NewJob{Number: "1042", Safety: ptr(string(jobs.No))}); err != nil {
			t.Fatal(err)
		}
		near := Ask{Target: "108 N·m", Limits: "103.6..112.6"} // between what the two sorts of job ask
		done := map[string]UseView{}
		for name, one := range map[string]struct {
			number string
			use    Use
		}{
			"no calibration":      {unknown, Use{Ask: nuts, Job: "1042", Name: "front wheel nuts", Count: 5}},
			"confirmed, narrowly": {good, Use{Ask: near, Job: "1042", Name: "rear wheel nuts", Count: 5}},
			"confirmed":           {good, Use{Ask: nuts, Job: "1042", Name: "caliper bolts", Count: 2}},
			"marked itself":       {unknown, Use{Ask: Ask{Target: "108 N·m", NotSafety: true}, NotSafetyWhy: "a plastic cover", Job: "1042", Name: "air box", Count: 1}},
		} {
			v, err := g.Tighten(ctx, g.techA, one.number, one.use)
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			done[name] = v
		}
		if p := done["confirmed, narrowly"].InsideProbability; done["confirmed, narrowly"].Verdict != calibration.Yes || p == nil || *p >= 0.975 {
			t.Fatalf("the narrow one is %s with %g", done["confirmed, narrowly"].Verdict, *p)
		}
		holding := func(safety jobs.Safety, want map[string]bool) {
			t.Helper()
			g.safetyOf(t, "1042", safety)
			all, err := g.UsesOn(ctx, g.boss, "1042")
			if err != nil {
				t.Fatal(err)
			}
			for _, u := range all {
				if u.Holds != want[u.ID] || u.Holds && u.NotSafety {
					t.Errorf("safety %s: %s, answered %s: holds %t, not safety %t", safety, u.Name, u.Verdict, u.Holds, u.NotSafety)
				}
			}
			if _, err := g.CloseJob(ctx, g.boss, "1042", CloseJob{}); fault.Is(err, fault.Refused) != (len(want) > 0) {
				t.Errorf("safety %s: closing: %v", safety, err)
			} else if err == nil {
				if _, err := g.ReopenJob(ctx, g.boss, "1042", "to go on"); err != nil {
					t.Fatal(err)
				}
			}
		}
		holding(jobs.No, nil)
		if _, err := g.CloseJob(ctx, g.boss, "1042", CloseJob{}); err != nil {
			t.Fatal(err)
		}
		_, err := g.ChangeJob(ctx, g.boss, "1042", AnyRevision, JobChange{Safety: ptr(string(jobs.Yes))})
		wantFault(t, err, fault.Invalid, "job 1042 is closed, and 2 of what was done on it would hold it open")
		if _, err := g.ReopenJob(ctx, g.boss, "1042", "it is a safety job"); err != nil {
			t.Fatal(err)
		}
		open := map[string]bool{done["no calibration"].ID: true, done["confirmed, narrowly"].ID: true}
		holding(jobs.Unknown, open)
		holding(jobs.Yes, open)
		if v, err := g.SignUse(ctx, g.boss, done["confirmed, narrowly"].ID, "measured by the angle too"); err != nil || v.Holds {
			t.Errorf("signed: %v, holds %t", err, v.Holds)
		}
		g.clock.advance(time.Minute)
		again, err := g.Tighten(ctx, g.techA, good, Use{Ask: nuts, Job: "1042", Name: "front wheel nuts", Count: 5, Redoes: done["no calibration"].ID})
		if err != nil || again.Holds {
			t.Errorf("done again: %v, %+v", err, again)
		}
		holding(jobs.Yes, nil)
	})
}
