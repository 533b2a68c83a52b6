package calibration

import (
	"slices"
	"testing"
	"time"

	"pawl/model/dates"
	"pawl/model/units"
)

// shopCheck is a bench check of the wrench with a standard that is fit for it.
func shopCheck(t *testing.T, id string, on dates.Date, readings string) Comparison {
	t.Helper()
	return compared(t, id, on, func(r *Result) {
		*r = Result{On: on, Paper: Own, BenchCheck: true, Standard: fitStandard(), AsFound: read(t, readings), Uncertainty: "0.8",
			Temperature: units.Quantity{Value: "21", Unit: units.Celsius}}
	})
}

func out(t *testing.T, id, job, from, to string) Stretch {
	t.Helper()
	return Stretch{ID: id, Job: job, From: when(t, from), To: when(t, to)}
}

// Windows that overlap: failed as found in November, and dropped in June.
func overlapping(t *testing.T) History {
	t.Helper()
	h := worked(t)
	h.Mishaps = []Mishap{{Kind: Dropped, At: when(t, "2026-06-10T08:00"), Out: when(t, "2026-06-20T08:00"), Cleared: when(t, "2026-06-25T08:00")}}
	return h
}

// A job with work on record is not one without a record, whichever of the windows that
// touch its work is in.
func TestRecheckListsAJobOnce(t *testing.T) {
	for _, c := range []struct {
		name  string
		edit  func(h *History)
		lines []string // in order
		jobs  []string
	}{
		{"in both windows", func(h *History) {
			h.Done = []Done{use(t, "1", "2026-06-12T09:00", "120 N·m", "118..122")}
			h.Stretches = []Stretch{out(t, "O-1", "J-1", "2026-06-12T08:00", "2026-06-12T10:00")}
		}, []string{"V-1"}, nil},
		{"its work is in one of them", func(h *History) { // the check of July clears it for November's, not for June's
			h.Compared = append(h.Compared, shopCheck(t, "A-B", "2026-07-01", "120=120,200=200"))
			h.Done = []Done{use(t, "1", "2026-06-12T09:00", "120 N·m", "100..140")}
			h.Stretches = []Stretch{out(t, "O-1", "J-1", "2026-06-12T08:00", "2026-06-12T10:00")}
		}, []string{"V-1"}, nil},
		{"all its work is cleared", func(h *History) { // it is listed as it is, and settles nothing
			h.Mishaps = nil
			h.Compared = append(h.Compared, shopCheck(t, "A-B", "2026-07-01", "120=120,200=200"))
			h.Done = []Done{use(t, "1", "2026-06-12T09:00", "120 N·m", "100..140")}
			h.Stretches = []Stretch{out(t, "O-1", "J-1", "2026-06-12T08:00", "2026-06-12T10:00")}
		}, []string{"V-1"}, nil},
		{"taken twice, no record", func(h *History) {
			h.Stretches = []Stretch{out(t, "O-2", "J-2", "2026-06-14T08:00", "2026-06-14T10:00"), out(t, "O-1", "J-2", "2026-09-01T08:00", "2026-09-01T10:00")}
		}, []string{"O-2"}, []string{"J-2"}},
		{"its only work was before", func(h *History) {
			h.Done = []Done{use(t, "1", "2026-01-04T09:00", "120 N·m", "100..140")}
			h.Stretches = []Stretch{out(t, "O-1", "J-1", "2026-01-04T08:00", "2026-01-06T10:00")}
		}, []string{"O-1"}, []string{"J-1"}},
	} {
		h := overlapping(t)
		c.edit(&h)
		got := Recheck(h)
		var lines []string
		for _, l := range got.Lines {
			lines = append(lines, l.Use+l.Custody)
		}
		if !slices.Equal(lines, c.lines) || !slices.Equal(got.Jobs, c.jobs) {
			t.Errorf("%s: lines %v, jobs without a record %v; want %v, %v", c.name, lines, got.Jobs, c.lines, c.jobs)
		}
	}
}

// Custody of one job reaches from its first stretch to its last, over all windows.
func TestRecheckCustodyReachesOverItsStretches(t *testing.T) {
	h := overlapping(t)
	h.Stretches = []Stretch{out(t, "O-2", "J-2", "2026-09-01T08:00", "2026-09-01T10:00"), out(t, "O-1", "J-2", "2026-06-14T08:00", "2026-06-14T10:00")}
	l := Recheck(h).Lines[0]
	if l.Custody != "O-1" || l.From != h.Stretches[1].From || l.To != h.Stretches[0].To || !slices.Equal(l.Windows, []int{0, 1}) {
		t.Errorf("%+v", l)
	}
}

// One standard makes one window of all that it was used for, another between them or not.
func TestRecheckOneWindowOfOneStandard(t *testing.T) {
	h := worked(t)
	h.Compared = h.Compared[:1]
	for i, on := range []dates.Date{"2026-03-01", "2026-05-01", "2026-07-01"} {
		c := shopCheck(t, []string{"A-B", "A-C", "A-D"}[i], on, "40=40,120=120,200=200")
		if c.Doubted = "00F-LN6 was found out"; i == 1 {
			c.Doubted = "00G-MP7 was found out"
		}
		h.Compared = append(h.Compared, c)
	}
	h.Done = []Done{use(t, "1", "2026-02-01T09:00", "180 N·m", "160..200")}
	got := Recheck(h)
	if len(got.Windows) != 2 || got.Windows[0].Against != "00F-LN6 was found out" || !slices.Equal(got.Lines[0].Windows, []int{0, 1}) {
		t.Errorf("%+v, %v", got.Windows, got.Lines[0].Windows)
	}
}

// A day counts as out for no job only while the tool was out in the window itself.
func TestRecheckDaysOut(t *testing.T) {
	h := worked(t)
	h.Compared[1].At = when(t, "2026-11-02T12:00")
	h.Stretches = []Stretch{out(t, "O-1", "", "2026-11-02T14:00", "2026-11-02T15:00")} // after it was left good
	if got := Recheck(h); got.DaysNoJob != 0 || len(got.Lines) != 0 {
		t.Errorf("%d days, %+v", got.DaysNoJob, got.Lines)
	}
}

// What is not fit to show a tool good takes it out of use and clears nothing (reference
// 14, "Bench check"); what is marked out of use before a window begins does not end it.
func TestRecheckClearsByNothingUnfit(t *testing.T) {
	unfit := func(id string, on dates.Date, readings string) Comparison {
		return compared(t, id, on, func(r *Result) { // the temperature was not recorded
			*r = Result{On: on, Paper: Own, BenchCheck: true, Standard: fitStandard(), AsFound: read(t, readings), Uncertainty: "0.8"}
		})
	}
	at180 := use(t, "x", "2026-06-01T09:00", "180 N·m", "160..200")
	for _, c := range []struct {
		name string
		edit func(*History)
		use  Done
		want RecheckVerdict
	}{
		{"dropped, then an unfit check", func(h *History) {
			h.Compared = []Comparison{h.Compared[0], unfit("A-U", "2026-07-02", "40=40,120=120,200=200")}
			h.Mishaps = []Mishap{{Kind: Dropped, At: when(t, "2026-07-01T08:00"), Out: when(t, "2026-07-01T08:00")}}
		}, at180, RecheckIndeterminate},
		{"an unfit check that fails elsewhere", func(h *History) {
			h.Compared = []Comparison{h.Compared[0], unfit("A-U", "2026-07-02", "40=50,120=120,200=200")}
		}, at180, RecheckIndeterminate},
		{"left only by an unfit check", func(h *History) {
			h.Compared[0] = unfit("A-U", "2026-01-05", "40=40,120=120,200=200")
		}, at180, RecheckIndeterminate},
		{"a declaration that says fail leaves nothing", func(h *History) {
			h.Compared[0] = compared(t, "A-1", "2026-01-05", func(r *Result) {
				r.Paper, r.Claim, r.Uncertainty = Declaration, ClaimsFail, ""
				r.Declared = &Declared{Class: "II-A", Low: nm("40"), High: nm("200"), Points: 3, Directions: []Direction{Clockwise}}
			})
		}, use(t, "x", "2026-06-01T09:00", "180 N·m", "140..220"), RecheckIndeterminate},
		{"a mark older than the window", func(h *History) {
			h.Mishaps = []Mishap{{Kind: Dropped, At: when(t, "2025-12-01T08:00"), Out: when(t, "2025-12-01T08:00")}}
		}, at180, RecheckWithin},
		// Checked at ten, and again that day at no hour that is known: the later one decides.
		{"two checks of one day", func(h *History) {
			early, late := shopCheck(t, "A-B", "2026-06-01", "120=120,200=200"), shopCheck(t, "A-C", "2026-06-01", "120=120,200=200")
			early.At, late.Entered = when(t, "2026-06-01T10:00"), when(t, "2026-06-01T18:00")
			h.Compared = append(h.Compared, early, late)
		}, at180, RecheckWithin},
	} {
		h := worked(t)
		c.edit(&h)
		h.Done, h.Zone = []Done{c.use}, time.UTC
		l, listed := lineOf(Recheck(h), "x")
		if !listed || l.Verdict != c.want {
			t.Errorf("%s: listed %v, %q, want %q; %+v", c.name, listed, l.Verdict, c.want, l.Impact)
		}
	}
}
