package model

import (
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"pawl/model/calibration"
	"pawl/model/custody"
	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/jobs"
	"pawl/model/numbers"
	"pawl/model/register"
	"pawl/model/units"
)

// RecheckView is the work put in doubt by what was found of a tool, worst first, and
// before it what nobody knows.
type RecheckView struct {
	Tool     string
	Number   numbers.Number
	Kind     string
	Maker    string
	Model    string
	Serial   string
	Window   *RecheckWindow  // the newest; nil: nothing found it out
	Windows  []RecheckWindow // newest first
	Spans    []RecheckSpan   // the same by their time, for people
	Unknown  RecheckUnknown
	Lines    []RecheckRow
	Open     int // lines that are not within and not settled
	Cautions []string
	Shop     string
}

// RecheckWindow is a time in which work is in doubt; work on either day is inside. Where
// an end is known to the minute it is an instant, and work of that day beyond it is not.
type RecheckWindow struct {
	From, To     dates.Date // "": never shown good before; goes on
	FromAt, ToAt dates.Instant
	Why          string
}

// RecheckSpan is a time in doubt with all that puts it there.
type RecheckSpan struct {
	From, To     dates.Date // "": never shown good before; goes on
	FromAt, ToAt dates.Instant
	Whys         []string
}

// spansOf puts windows of one time together, in their order.
func spansOf(windows []RecheckWindow) (out []RecheckSpan) {
	for _, w := range windows {
		i := slices.IndexFunc(out, func(s RecheckSpan) bool {
			return s.From == w.From && s.To == w.To && sameMinute(s.FromAt, w.FromAt) && sameMinute(s.ToAt, w.ToAt)
		})
		if i < 0 {
			i, out = len(out), append(out, RecheckSpan{From: w.From, To: w.To, FromAt: w.FromAt, ToAt: w.ToAt})
		}
		if !slices.Contains(out[i].Whys, w.Why) {
			out[i].Whys = append(out[i].Whys, w.Why)
		}
	}
	return out
}

// sameMinute says whether people are told the same of two instants.
func sameMinute(a, b dates.Instant) bool {
	return (a == 0) == (b == 0) && a.Time().Truncate(time.Minute).Equal(b.Time().Truncate(time.Minute))
}

// RecheckUnknown is what the list does not know.
type RecheckUnknown struct {
	JobsWithoutRecord         int
	DaysOutWithoutJob         int
	Jobs                      []string
	Tightenings, Measurements int
	OnJobs                    int // those two
	Words                     string
	Unreadable                []string
	Circle                    string // the tools that were compared with each other in a circle, in words
}

// RecheckRow is one line.
type RecheckRow struct {
	ID, Use, Job, What, Fastener string
	Count                        int64
	Happened, Until              dates.Instant // of custody without a record: from and to
	Person                       string
	Safety                       bool
	Set                          units.Quantity
	Limits                       string
	LimitsAssumed                bool
	Direction                    calibration.Direction
	Adapter                      string
	DeviationPercent             *float64
	Applied, Uncertainty         units.Quantity
	Low, High                    units.Quantity // over all that is known of the tool
	Verdict                      calibration.RecheckVerdict
	Why                          string
	Settled                      *RecheckSettled
	Open                         bool

	jobID  string
	target units.Quantity // at the fastener, or the value read
}

// RecheckSettled is how a line was settled.
type RecheckSettled struct {
	How, Done, Person, With string
	At                      dates.Instant
	Photo                   string // SHA-256
}

// Recheck gives the work that is in doubt because of what was found of a tool.
func (s *Shop) Recheck(ctx context.Context, by By, number string) (v RecheckView, err error) {
	err = s.read(ctx, func(d *directory) error {
		t, err := resolve(d.Rx, number)
		if err != nil {
			return err
		}
		v, err = d.recheckView(t)
		return err
	})
	return v, err
}

// rechecking is what one or more rechecks rest on.
type rechecking struct {
	*measured
	zone     *time.Location
	uses     map[string][]calibration.UseRow
	hands    map[string][]custody.Loan
	reported map[string]dates.Instant
	known    map[string]calibration.Rechecked // by tool
	doubts   map[string]string                // by comparison: why its standard is in doubt
}

// readRechecks reads all that rechecks of these tools rest on, the tools that they were
// compared with included; of every tool that must hold something where none is named.
func (d *directory) readRechecks(tools ...string) (r *rechecking, err error) {
	all := slices.Clone(tools)
	for next := all; len(next) > 0; { // their standards, the standards of those …
		rows, err := d.Results(next...)
		if err != nil {
			return nil, err
		}
		next = nil
		for _, row := range rows {
			if row.Standard != "" && !slices.Contains(all, row.Standard) {
				all, next = append(all, row.Standard), append(next, row.Standard)
			}
		}
	}
	r = &rechecking{uses: map[string][]calibration.UseRow{}, hands: map[string][]custody.Loan{}, known: map[string]calibration.Rechecked{}, doubts: map[string]string{}}
	if r.measured, err = d.measuredTools(all...); err != nil {
		return r, err
	}
	maps.Copy(r.doubts, r.unfounded)
	if r.zone, err = d.settings.Location(); err != nil {
		return r, err
	}
	uses, err := d.Uses(tools...)
	if err != nil {
		return r, err
	}
	for _, u := range uses {
		r.uses[u.Tool] = append(r.uses[u.Tool], u)
	}
	loans, err := d.LoansInHands(tools...)
	if err != nil {
		return r, err
	}
	for _, l := range loans {
		r.hands[l.Tool] = append(r.hands[l.Tool], l)
	}
	r.reported, err = d.ReportedAt(all...)
	return r, err
}

func (r *rechecking) history(t register.Tool) (h calibration.History, err error) {
	h = calibration.History{Requirement: r.requirements[t.ID], Zone: r.zone, Now: r.Now(), Gone: t.Gone, Lost: t.GoneWhy == "lost" || t.GoneWhy == "stolen"}
	for _, k := range r.withdrawn[t.ID] {
		h.Withdrawn = append(h.Withdrawn, calibration.Withdrawn{ID: k.ID, On: k.row.OnDay, At: k.row.DoneAt, TookAt: k.row.Withdrawn})
	}
	for _, k := range r.results[t.ID] {
		h.Compared = append(h.Compared, calibration.Comparison{Kept: k.Kept, Entered: k.row.Entered, Doubted: r.doubts[k.ID]})
	}
	if h.Requirement != nil || register.Measures(t.Kind) {
		r.mishaps(t, &h)
	}
	for _, u := range r.uses[t.ID] {
		said, err := saidOf(u)
		if err != nil {
			return h, err
		}
		rested, err := r.rested(u, said)
		if err != nil {
			return h, err
		}
		h.Done = append(h.Done, calibration.Done{ID: u.ID, Job: u.Job, At: u.Happened, What: u.What, Said: said, Rested: rested})
	}
	for _, l := range r.hands[t.ID] {
		h.Stretches = append(h.Stretches, calibration.Stretch{ID: l.ID, Job: l.Job, From: l.Since, To: l.Ended})
	}
	return h, nil
}

// mishaps gathers what was reported, and when the tool came back changed.
func (r *rechecking) mishaps(t register.Tool, h *calibration.History) {
	for _, w := range r.wrongs[t.ID] {
		kind, ends := endings[w.What]
		if !ends || r.fell(w) {
			continue
		}
		h.Mishaps = append(h.Mishaps, calibration.Mishap{Kind: kind, At: w.At, Out: max(w.At, r.reported[w.ID]), Cleared: w.Cleared})
	}
	for _, e := range r.events(t) {
		switch e.Kind {
		case calibration.Repaired, calibration.BackWithoutPaper, calibration.BackOtherSerial:
			h.Changed = append(h.Changed, e.At)
		}
	}
}

// why tells how a tool was found out.
func (r *rechecking) why(t register.Tool, w calibration.Window) string {
	sort := "tool calibration"
	i := slices.IndexFunc(r.results[t.ID], func(k judged) bool { return k.ID == w.Comparison && w.Comparison != "" })
	if i >= 0 && r.results[t.ID][i].BenchCheck {
		sort = "bench check"
	}
	switch w.Trigger {
	case calibration.FailedAsFound, calibration.FailedBench:
		text := fmt.Sprintf("the %s of %s found it failing", sort, w.FoundOn)
		if i >= 0 {
			text += worstFound(r.requirements[t.ID], r.results[t.ID][i].Kept)
		}
		return text
	case calibration.LeftFailing:
		return fmt.Sprintf("the %s of %s left it failing", sort, w.FoundOn)
	case calibration.PaperFails:
		return fmt.Sprintf("the paper of %s says fail", w.FoundOn)
	case calibration.AdjustedUnfound:
		return fmt.Sprintf("it was adjusted on %s and nothing says how it was found: the previous period cannot be judged", w.FoundOn)
	case calibration.Mishandled:
		return fmt.Sprintf("it was reported %s on %s", w.Mishap, w.FoundOn)
	case calibration.UsedOutOfUse:
		return fmt.Sprintf("it was used after it was taken out of use (%s on %s), before anything showed it good", w.Mishap, w.FoundOn)
	case calibration.ToolLost:
		return fmt.Sprintf("it was lost by %s, and nothing can tell any more how it was", w.FoundOn)
	case calibration.StandardOut:
		return fmt.Sprintf("the %s of %s was made with %s, which was out of use then", sort, w.FoundOn, r.standardOf(t, i))
	case calibration.TakenBack:
		return r.whyTakenBack(t, w)
	case calibration.StandardFound:
		return fmt.Sprintf("the %s of %s was made against a standard that is in doubt: %s", sort, w.FoundOn, w.Against)
	}
	return fmt.Sprintf("the %s of %s found it good, but not surely for these limits", sort, w.FoundOn)
}

// standardOf names what a comparison of a tool was made with.
func (r *rechecking) standardOf(t register.Tool, i int) string {
	if i < 0 {
		return "a standard"
	}
	if s := r.results[t.ID][i].result.Standard; s.Tool != "" {
		return s.Tool
	}
	return "a standard"
}

// whyTakenBack tells which comparison was withdrawn, and when.
func (r *rechecking) whyTakenBack(t register.Tool, w calibration.Window) string {
	all := r.withdrawn[t.ID]
	i := slices.IndexFunc(all, func(k judged) bool { return k.ID == w.Comparison })
	return fmt.Sprintf("the %s of %s, by which it was trusted, was withdrawn on %s", sortOf(all[i].row), all[i].row.OnDay, w.FoundOn)
}

// findsOut says whether a comparison puts earlier work in doubt.
func findsOut(c calibration.Shown) bool {
	unfound := slices.ContainsFunc(c.Doubts, func(d calibration.ShownDoubt) bool { return d.Code == calibration.DoubtAdjustedUnfound })
	return unfound || c.Verdict == calibration.Failed || c.FoundVerdict == calibration.Failed || c.Claim == calibration.ClaimsFail
}

// worstFound says the worst point that was found outside.
func worstFound(q *calibration.Requirement, k calibration.Kept) string {
	worst, text := -1.0, ""
	for _, p := range k.Points {
		bad := !p.Within || p.Decision == calibration.Fail || p.Decision == calibration.ConditionalFail
		size := max(p.MeanPercent, -p.MeanPercent)
		if bad && p.Phase == calibration.AsFound && size > worst {
			worst, text = size, ": "+q.Words(p)
		}
	}
	return text
}

// recheckView puts a recheck of one tool into names.
func (d *directory) recheckView(t register.Tool) (v RecheckView, err error) {
	r, err := d.readRechecks(t.ID)
	if err != nil {
		return v, err
	}
	out, err := r.recheck(t)
	if err != nil {
		return v, err
	}
	v = RecheckView{Tool: t.ID, Number: t.Number, Kind: t.Kind, Maker: t.Maker, Model: t.Model, Serial: t.Serial, Shop: d.settings.Name,
		Cautions: recheckCautions(r.requirements[t.ID])}
	for _, w := range out.Windows {
		v.Windows = append(v.Windows, RecheckWindow{From: w.From.On, To: w.To.On, FromAt: w.From.At, ToAt: w.To.At, Why: r.why(t, w)})
	}
	if v.Spans = spansOf(v.Windows); len(v.Windows) > 0 {
		v.Window = &v.Windows[0]
	}
	settled, err := d.Settled(t.ID)
	if err != nil {
		return v, err
	}
	for _, l := range out.Lines {
		row, err := r.row(t, l, settled)
		if err != nil {
			return v, err
		}
		row.Why = usedAnyway(out, l) + row.Why
		if row.Open {
			v.Open++
		}
		v.Lines = append(v.Lines, row)
	}
	return v, r.tell(t, out, &v)
}

// usedAnyway says of work done while the tool was out of use that it was.
func usedAnyway(out calibration.Rechecked, l calibration.RecheckLine) string {
	for _, i := range l.Windows {
		if w := out.Windows[i]; w.Trigger == calibration.UsedOutOfUse {
			text := fmt.Sprintf("done after it was taken out of use (%s on %s)", w.Mishap, w.FoundOn)
			if l.Why != "" {
				text += "; "
			}
			return text
		}
	}
	return ""
}

// row puts one line into names.
func (r *rechecking) row(t register.Tool, l calibration.RecheckLine, settled []calibration.SettledRow) (row RecheckRow, err error) {
	source := l.Use + l.Custody
	row = RecheckRow{ID: calibration.RecheckID(source), jobID: l.Job, Use: l.Use, Happened: l.From, Verdict: l.Verdict, Why: l.Why}
	row.Safety = true // a job that nobody named counts as one
	if row.Job, err = r.job(l.Job); err != nil {
		return row, err
	}
	if l.Job != "" {
		j, _, err := r.Rx.Job(l.Job)
		if err != nil {
			return row, err
		}
		row.Safety = j.Safety != jobs.No
	}
	if l.Use == "" {
		err = r.custodyRow(t, l, settled, &row)
	} else {
		err = r.useRow(t, l, settled, &row)
	}
	row.Open = row.Settled == nil && l.Verdict != calibration.RecheckWithin
	return row, err
}

// custodyRow fills in what is known of custody without a record. Any stretch on the
// job stands for the job.
func (r *rechecking) custodyRow(t register.Tool, l calibration.RecheckLine, settled []calibration.SettledRow, row *RecheckRow) error {
	row.Until = l.To
	for _, loan := range r.hands[t.ID] {
		if loan.ID == l.Custody {
			row.Person = r.holder(loan).Name
		}
	}
	for _, s := range settled {
		if s.Source == l.Custody || l.Job != "" && s.Job == l.Job && strings.HasPrefix(s.Source, "O-") {
			return r.settledBy(s, row)
		}
	}
	return nil
}

func (r *rechecking) useRow(t register.Tool, l calibration.RecheckLine, settled []calibration.SettledRow, row *RecheckRow) error {
	i := slices.IndexFunc(r.uses[t.ID], func(u calibration.UseRow) bool { return u.ID == l.Use })
	use, asked := r.uses[t.ID][i], l.Done.Said.Asked
	row.What, row.Fastener, row.Count, row.Person = string(use.What), use.Name, use.Count, r.person(use.Person)
	row.Safety = row.Safety && (!asked.NotSafety || l.Done.Said.NotSafetyWhy == calibration.JobNotSafety)
	row.target = asked.Target
	row.Set, row.Direction, row.Adapter = l.Set, asked.Direction, asked.Adapter.Words()
	row.LimitsAssumed = l.Assumed
	if row.Limits = asked.Limits.String(); l.Assumed {
		row.Limits = calibration.Limits{Low: calibration.Rounded(l.LimitLow, l.Unit), High: calibration.Rounded(l.LimitHigh, l.Unit)}.String()
	}
	row.DeviationPercent = calibration.Percent(l.Deviation)
	row.Applied, row.Uncertainty = calibration.Rounded(l.Applied, l.Unit), calibration.Rounded(l.Uncertainty, l.Unit)
	row.Low, row.High = calibration.Rounded(l.Low, l.Unit), calibration.Rounded(l.High, l.Unit)
	for _, s := range settled {
		if s.Source == l.Use {
			return r.settledBy(s, row)
		}
	}
	return r.redone(use, row)
}

func (r *rechecking) settledBy(s calibration.SettledRow, row *RecheckRow) error {
	row.Settled = &RecheckSettled{How: string(s.How), Done: s.Done, Person: r.person(s.Person), At: s.SettledAt}
	if s.WithTool != "" {
		t, _, err := r.Tool(s.WithTool)
		if err != nil {
			return err
		}
		row.Settled.With = t.Number.String()
	}
	if s.Photo != "" {
		all, err := r.Evidence(s.Tool)
		if err != nil {
			return err
		}
		for _, e := range all {
			if e.ID == s.Photo {
				row.Settled.Photo = e.SHA256
			}
		}
	}
	return nil
}

// redone settles what was done again on record with another tool that was confirmed:
// it is that tool's now.
func (r *rechecking) redone(use calibration.UseRow, row *RecheckRow) error {
	if use.RedoneBy == "" {
		return nil
	}
	again, found, err := r.Use(use.RedoneBy)
	if err != nil || !found || again.Tool == use.Tool {
		return err
	}
	t, _, err := r.Tool(again.Tool)
	row.Settled = &RecheckSettled{How: "done again", Done: "done again on record: " + again.ID, Person: r.person(again.Person), With: t.Number.String(), At: again.Happened}
	return err
}

// tell counts what is not known, and says it first.
func (r *rechecking) tell(t register.Tool, out calibration.Rechecked, v *RecheckView) error {
	u := &v.Unknown
	u.DaysOutWithoutJob, u.JobsWithoutRecord, u.Unreadable = out.DaysNoJob, len(out.Jobs), r.unreadable[t.ID]
	for _, id := range out.Jobs {
		number, err := r.job(id)
		if err != nil {
			return err
		}
		u.Jobs = append(u.Jobs, number)
	}
	on := map[string]bool{}
	for _, l := range out.Lines {
		switch {
		case l.Use == "":
			continue
		case l.Done.What == calibration.UsedToMeasure:
			u.Measurements++
		default:
			u.Tightenings++
		}
		on[l.Job] = true
	}
	u.OnJobs, u.Circle = len(on), r.circle(t)
	u.Words = u.words(v.Window != nil)
	return nil
}

func (u RecheckUnknown) words(found bool) string {
	circle := ""
	if u.Circle != "" {
		circle = "It was compared in a circle: " + u.Circle + ". Such comparisons do not show each other good."
	}
	if !found {
		return strings.TrimSpace("Nothing on record puts work with it in doubt. That does not show that the work is good: only what was compared and reported is known here. " + circle)
	}
	var recorded []string
	if u.Tightenings > 0 || u.Measurements == 0 {
		recorded = append(recorded, units.Count(u.Tightenings, "tightening"))
	}
	if u.Measurements > 0 {
		recorded = append(recorded, units.Count(u.Measurements, "measurement"))
	}
	parts := []string{fmt.Sprintf("%s recorded on %s", strings.Join(recorded, " and "), units.Count(u.OnJobs, "job"))}
	if u.Tightenings+u.Measurements == 0 {
		parts[0] = "no tightening or measurement recorded"
	}
	if u.JobsWithoutRecord > 0 {
		parts = append(parts, fmt.Sprintf("taken to %s with none recorded in that time: what it did there is NOT KNOWN", units.Count(u.JobsWithoutRecord, "more job")))
	}
	if u.DaysOutWithoutJob > 0 {
		parts = append(parts, fmt.Sprintf("out on %s for no job that is named: what it did then is NOT KNOWN", units.Count(u.DaysOutWithoutJob, "day")))
	}
	parts = append(parts, "work that nobody recorded, with a tool that nobody scanned, is not on this list")
	for _, text := range u.Unreadable {
		parts = append(parts, text+" cannot be read, and counts for nothing here")
	}
	return strings.TrimSpace(strings.Join(parts, "; ") + ". " + circle)
}

// LoosenOrReplace stands beside every list of fasteners in doubt, after the click.
const LoosenOrReplace = "Whether a fastener in doubt is loosened and tightened again, or replaced, is the vehicle maker's to say."

// recheckCautions begins with what a click does not show (Navy 14113). Each caution is
// whole: a page finds it in its catalog, and in the reader's language, by its text.
func recheckCautions(q *calibration.Requirement) []string {
	var all []string
	if q != nil {
		all = calibration.Cautions(calibration.Hazards(q.Instrument, q.Class)...)
	}
	click := calibration.ClickShowsNothing
	if i := slices.Index(all, calibration.PullSteadily); i >= 0 { // it says the same, and more
		click = all[i]
		all = slices.Delete(all, i, i+1)
	}
	return append([]string{click, LoosenOrReplace}, all...)
}

// lineNamed finds the tool that a line is about, and checks that it is on its list.
func (d *directory) lineNamed(id string) (t register.Tool, row RecheckRow, source string, err error) {
	line, err := numbers.ParseID('U', id)
	if err != nil {
		return t, row, "", fault.New(fault.NotFound, "there is no line %s on any recheck", id).WithHint("its id stands on the list: pawl recheck NUMBER")
	}
	var tools, sources []string
	use, found, err := d.Use("V" + line[1:])
	if err != nil {
		return t, row, "", err
	}
	if found {
		tools, sources = append(tools, use.Tool), append(sources, use.ID)
	}
	loan, found, err := d.Loan("O" + line[1:])
	if err != nil {
		return t, row, "", err
	}
	if found {
		tools, sources = append(tools, loan.Tool), append(sources, loan.ID)
	}
	for i, tool := range tools {
		if t, _, err = d.Tool(tool); err != nil {
			return t, row, "", err
		}
		v, err := d.recheckView(t)
		if err != nil {
			return t, row, "", err
		}
		at := slices.IndexFunc(v.Lines, func(r RecheckRow) bool {
			if r.Use != "" || sources[i] == use.ID {
				return r.ID == line && r.Use == sources[i]
			}
			return r.ID == line || r.jobID != "" && r.jobID == loan.Job // by another stretch on the job, as an older list has it
		})
		if at >= 0 {
			return t, v.Lines[at], sources[i][:1] + v.Lines[at].ID[1:], nil
		}
	}
	return t, row, "", fault.New(fault.NotFound, "there is no line %s on any recheck", line).WithHint("its id stands on the list: pawl recheck NUMBER")
}

// saidOf reads what was said when a tool was used.
func saidOf(row calibration.UseRow) (said calibration.Said, err error) {
	if err := json.Unmarshal([]byte(row.Body), &said); err != nil {
		return said, fault.New(fault.Internal, "use %s cannot be read", row.ID).WithCause(err)
	}
	return said, nil
}
