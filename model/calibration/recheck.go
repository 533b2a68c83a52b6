package calibration

import (
	"cmp"
	"slices"
	"time"

	"pawl/model/dates"
)

// A recheck is the list of work put in doubt when a tool is found out. Which work
// that is, and what can still be said of it, follows from the record alone: the rules
// are in recheck_window.go and recheck_judge.go.

// Comparison is a calibration or bench check as a recheck looks at it.
type Comparison struct {
	Kept
	Entered dates.Instant
	Doubted string // why nothing rests on it, in words: its standard was found out; "" = it counts
}

// Mishap is a report that ended the trust in a tool. Out is when it was taken out of
// use, which is later than At where it was reported late; Cleared is 0 while it is.
type Mishap struct {
	Kind             EventKind
	At, Out, Cleared dates.Instant
}

// Done is one tightening or measurement with the tool.
type Done struct {
	ID, Job string
	At      dates.Instant
	What    Sort
	Said    Said
	Rested  string // id of the comparison that it rested on and that was withdrawn since; "" it stands, or it is not in doubt by that
}

// Stretch is one stretch in which the tool was in somebody's hands and could be used.
type Stretch struct {
	ID, Job  string // no job: out for none that is named
	From, To dates.Instant
}

// Withdrawn is a comparison that was withdrawn: it counts for nothing, and what rested on
// it is in doubt.
type Withdrawn struct {
	ID     string
	On     dates.Date
	At     dates.Instant // when it was made; 0 where only the day is known
	TookAt dates.Instant // when it was withdrawn
}

// History is all that a recheck of one tool rests on.
type History struct {
	Requirement *Requirement // nil: nothing is recorded of what it must hold
	Zone        *time.Location
	Now         dates.Instant // ends what is still open

	Compared  []Comparison // in any order
	Withdrawn []Withdrawn
	Mishaps   []Mishap
	Changed   []dates.Instant // when it came back changed in a way that nobody measured: repairs, and from a laboratory without paper
	Gone      dates.Instant   // 0: it is still here
	Lost      bool            // it is gone because it was lost
	Done      []Done
	Stretches []Stretch
}

// Trigger is how a tool was found out.
type Trigger string

const (
	FailedAsFound   Trigger = "failed as found"
	LeftFailing     Trigger = "left failing"
	FailedBench     Trigger = "failed bench check"
	PaperFails      Trigger = "paper says fail"
	AdjustedUnfound Trigger = "adjusted without as found"
	Mishandled      Trigger = "mishap" // dropped, overloaded and the like
	ToolLost        Trigger = "lost"
	StandardFound   Trigger = "standard found out"
	StandardOut     Trigger = "standard out of use" // on the day of the comparison: it shows nothing
	TooTight        Trigger = "passed, but not for these limits"
	UsedOutOfUse    Trigger = "used while out of use" // after a mishap or a failure, before anything showed it good
	TakenBack       Trigger = "comparison withdrawn"  // by which the tool was trusted
)

// Moment is an end of a window: a day, with the instant where it is known. The zero
// value is open.
type Moment struct {
	On dates.Date
	At dates.Instant
}

// IsZero says whether the end is open.
func (m Moment) IsZero() bool { return m.On == "" }

func (m Moment) moment() moment { return moment{m.On, m.At} }

// Window is the time in which work is in doubt. Work on either boundary date is inside.
type Window struct {
	Trigger    Trigger
	Mishap     EventKind  // of a mishap
	Comparison string     // id of the comparison that found it out; "" none did
	Against    string     // of a standard found out: why, in words
	FoundOn    dates.Date // when it was found out
	From, To   Moment     // open From: never shown good before; open To: goes on
	Cleared    bool       // a mishap after which the tool was found good

	index int // of the trigger among the comparisons: from it on they count as later
	whole int // of the last comparison before it that showed the tool good throughout; -1 none
	check bool
}

// usesOnly says whether a window is there for the uses in it alone, and says nothing of
// custody: what passed was good, what was out of use was not to be used, and what was
// withdrawn is asked of each use that it answered for.
func (w Window) usesOnly() bool {
	return w.Trigger == TooTight || w.Trigger == UsedOutOfUse || w.Trigger == TakenBack
}

// RecheckVerdict is what can be said of one piece of work.
type RecheckVerdict string

const (
	RecheckWithin        RecheckVerdict = "within"
	RecheckOutside       RecheckVerdict = "outside"
	RecheckIndeterminate RecheckVerdict = "indeterminate"
	RecheckUnjudged      RecheckVerdict = "cannot be judged" // adjusted before anybody read it
)

// RecheckLine is one line of the list: a use, or custody without a record. Amounts are
// in the unit of the use's target; NaN is not known.
type RecheckLine struct {
	Use, Custody string // id of the one or of the other
	Job          string
	From, To     dates.Instant // when
	Verdict      RecheckVerdict
	Why          string // what keeps it from being more, in words; "" nothing does
	Assumed      bool   // no limits were recorded: the tool's own about the target stand in
	Done         Done
	Impact
	Windows []int // of those that it is in
}

// Rechecked is the list for one tool.
type Rechecked struct {
	Windows    []Window      // newest first
	Lines      []RecheckLine // worst first
	Jobs       []string      // ids of jobs that it was taken to with none of the lines' work on record
	DaysNoJob  int           // days on which it was out for no job that is named
	DaysNoJobs []dates.Date
}

// Recheck lists the work that is in doubt.
func Recheck(h History) Rechecked {
	r := newRechecking(h)
	windows := r.windows()
	list := listing{lines: map[string]*RecheckLine{}}
	for i, w := range windows {
		for _, d := range h.Done {
			if l, in := r.line(w, d); in {
				list.put("use "+d.ID, l, i)
			}
		}
	}
	r.custody(windows, &list)
	out := Rechecked{Windows: windows}
	for _, key := range list.order {
		out.Lines = append(out.Lines, *list.lines[key])
	}
	slices.SortStableFunc(out.Lines, worse)
	r.unknown(&out)
	out.onceEach()
	return out
}

// listing is a list while it grows.
type listing struct {
	lines map[string]*RecheckLine
	order []string
}

// put adds a line, or what another window makes of it: of work the worst counts, and
// custody reaches from the first of its stretches to the last.
func (s *listing) put(key string, l RecheckLine, window int) {
	have, known := s.lines[key]
	if !known {
		l.Windows = []int{window}
		s.lines[key], s.order = &l, append(s.order, key)
		return
	}
	windows := have.Windows
	if !slices.Contains(windows, window) {
		windows = append(windows, window)
	}
	switch {
	case l.Use == "":
		if l.From < have.From || l.From == have.From && l.Custody < have.Custody {
			have.Custody, have.From = l.Custody, l.From
		}
		have.To = max(have.To, l.To)
	case rankOf(l) < rankOf(*have):
		*have = l
	}
	have.Windows = windows
}

// onceEach leaves one window of several that say the same: one standard makes one of
// all that it was used for.
func (out *Rechecked) onceEach() {
	var windows []Window
	at := make([]int, len(out.Windows))
	for i, w := range out.Windows {
		at[i] = slices.IndexFunc(windows, func(have Window) bool {
			return w.Trigger == StandardFound && have.Trigger == StandardFound && w.From == have.From && w.To == have.To && w.Against == have.Against
		})
		if at[i] < 0 {
			at[i], windows = len(windows), append(windows, w)
		}
	}
	out.Windows = windows
	for i := range out.Lines {
		of := &out.Lines[i].Windows
		for k, w := range *of {
			(*of)[k] = at[w]
		}
		slices.Sort(*of)
		*of = slices.Compact(*of)
	}
}

// rankOf orders lines by what is known of them.
func rankOf(l RecheckLine) int {
	switch {
	case l.Verdict == RecheckOutside:
		return 0
	case l.Verdict == RecheckWithin:
		return 4
	case l.Use == "":
		return 3
	case l.Verdict == RecheckUnjudged:
		return 2
	}
	return 1
}

// worse puts first what is outside, then what nobody can tell, each by how far it may
// be off; then custody without a record; then what is within.
func worse(a, b RecheckLine) int {
	return cmp.Or(cmp.Compare(rankOf(a), rankOf(b)), cmp.Compare(known(b.Off, -1), known(a.Off, -1)),
		cmp.Compare(a.From, b.From), cmp.Compare(a.Use+a.Custody, b.Use+b.Custody))
}

func (r *rechecking) ended(s Stretch) dates.Instant {
	if s.To == 0 {
		return max(r.h.Now, s.From)
	}
	return s.To
}

// unknown counts what the list does not know.
func (r *rechecking) unknown(out *Rechecked) {
	for _, l := range out.Lines {
		if l.Use == "" && l.Job != "" {
			out.Jobs = append(out.Jobs, l.Job)
		}
	}
	for _, w := range out.Windows {
		for _, s := range r.h.Stretches {
			if s.Job == "" && r.reaches(w, s) {
				out.DaysNoJobs = append(out.DaysNoJobs, r.daysIn(w, s)...)
			}
		}
	}
	slices.Sort(out.DaysNoJobs)
	out.DaysNoJobs = slices.Compact(out.DaysNoJobs)
	out.DaysNoJob = len(out.DaysNoJobs)
}

// daysIn gives the days of a stretch of custody that are in a window.
func (r *rechecking) daysIn(w Window, s Stretch) (days []dates.Date) {
	last := r.ended(s).Day(r.h.Zone)
	for day := s.From.Day(r.h.Zone); !day.After(last); day = day.AddDays(1) {
		if m := (moment{on: day}); !w.outside(m, m) {
			days = append(days, day)
		}
	}
	return days
}

// Percent rounds to six decimals for showing; nil is what is not known.
func Percent(f float64) *float64 { return figure(f) }
