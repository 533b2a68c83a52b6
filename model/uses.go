package model

import (
	"context"
	"encoding/json"
	"slices"
	"strings"

	"pawl/model/calibration"
	"pawl/model/custody"
	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/jobs"
	"pawl/model/names"
	"pawl/model/people"
	"pawl/model/units"
)

// Use is a tightening or a measurement as typed. It counts as safety-critical
// unless it is marked as not, with a reason.
type Use struct {
	Ask
	Job, Happened, NotSafetyWhy string
	Redoes                      string // id of what it does again
	Name                        string // the fastener, or what was measured
	Count                       int64  // fasteners
}

// UseView is a tightening or measurement on record.
type UseView struct {
	ID, Number, Kind, Job, What, Name string
	Count                             int64
	Happened, Entered                 dates.Instant
	Person                            string
	Target                            units.Quantity
	Limits                            string // the job's, or by the shop's default
	DefaultLimits                     bool
	Direction                         calibration.Direction
	Setting                           units.Quantity
	Adapter                           string
	Verdict                           calibration.Readiness
	InsideProbability                 *float64
	Reasons                           []string
	Calibration                       string
	Outcome                           calibration.Outcome
	NotSafety                         bool
	NotSafetyWhy                      string
	Unconfirmed                       bool
	Holds                             bool
	Settle                            string // what would settle it
	RedoneBy, SignedBy, SignedWhy     string
	SignedAt                          dates.Instant
	Withdrawn                         dates.Instant // 0 = it stands
	WithdrawnBy, Why                  string        // who took it back, and why
	TakesBack                         bool          // whoever asks may; only in a list
	Words                             string        // the answer, as it was said, or what is open again; only in the act
	Cautions                          []string
	NewJob                            *OpenedJob `json:",omitempty"` // that it opened, only when it is recorded
}

// Tighten records a torque applied on a job. The question is asked again inside the
// write, and what was answered is kept with it.
func (s *Shop) Tighten(ctx context.Context, by By, number string, in Use) (UseView, error) {
	return s.use(ctx, by, "tighten", calibration.UsedToTighten, number, in)
}

// Measure records a value measured on a job; the target is the value read.
func (s *Shop) Measure(ctx context.Context, by By, number string, in Use) (UseView, error) {
	return s.use(ctx, by, "measure", calibration.UsedToMeasure, number, in)
}

func (s *Shop) use(ctx context.Context, by By, verb string, what calibration.Sort, number string, in Use) (UseView, error) {
	return act(ctx, s, by, verb, []any{number, in}, func(tx *store.Tx) (UseView, error) {
		h, err := s.handFor(tx, by, number)
		if err != nil {
			return UseView{}, err
		}
		u := using{hand: h, in: in}
		u.row = calibration.UseRow{Tool: h.tool.ID, What: what, Person: by.Person, Count: in.Count}
		if err := u.begin(); err != nil {
			return UseView{}, err
		}
		answer, err := u.ask()
		if err != nil {
			return UseView{}, err
		}
		if err := u.record(answer); err != nil {
			return UseView{}, err
		}
		v, err := h.useView(u.row, u.job.Safety != jobs.No)
		v.Words, v.Cautions, v.NewJob = answer.Words(), answer.Cautions, h.newJob
		return v, err
	})
}

// using is one use on its way into the record.
type using struct {
	*hand
	in   Use
	job  jobs.Job
	row  calibration.UseRow
	said calibration.Said
	late bool
}

// begin settles the job and the time.
func (u *using) begin() (err error) {
	if strings.TrimSpace(u.in.Job) == "" {
		return fault.At("#/job", "say on which job")
	}
	if u.row.Job, err = u.jobID(u.in.Job); err != nil {
		return err
	}
	if u.job, _, err = u.Job(u.row.Job); err != nil {
		return err
	}
	u.row.Happened = u.tx.Now()
	if u.in.Happened == "" {
		return nil
	}
	if u.row.Happened, err = u.time("#/happened", u.in.Happened, dates.ParseTime); err != nil {
		return err
	}
	if u.row.Happened > u.tx.Now() {
		return u.inFuture()
	}
	u.late, u.row.Entered = true, u.tx.Now()
	return nil
}

// inFuture refuses the time, on the shop's clock.
func (u *using) inFuture() error {
	happened, err := u.clockTime(u.row.Happened)
	if err != nil {
		return err
	}
	now, err := u.clockTime(u.tx.Now())
	if err != nil {
		return err
	}
	return fault.At("#/happened", "%s is in the future; it is %s now", happened, now)
}

// ask puts the question again, now that nothing can change beside it. Of what was
// entered late, only what was known of the tool at its time counts.
func (u *using) ask() (calibration.Answer, error) {
	q, err := u.question(u.in.Ask)
	if err != nil {
		return calibration.Answer{}, err
	}
	if u.row.What == calibration.UsedToMeasure {
		q.DefaultPercent = "" // about the value that was read, it would always be inside
	}
	why, err := names.Line(u.in.NotSafetyWhy)
	if err != nil {
		return calibration.Answer{}, fault.At("#/not_safety_why", "%s", fault.Of(err).Error())
	}
	if !q.NotSafety && u.job.Safety == jobs.No {
		q.NotSafety, why = true, calibration.JobNotSafety
	}
	u.said.Asked, u.said.NotSafetyWhy = q, why
	m, err := u.measuredTools()
	if err != nil {
		return calibration.Answer{}, err
	}
	m.tools[u.tool.ID] = u.tool
	if _, have := m.requirements[u.tool.ID]; !have {
		if err := m.readHistory([]string{u.tool.ID}); err != nil {
			return calibration.Answer{}, err
		}
	}
	f := m.facts(u.tool.ID, u.by.Person)
	if u.late {
		loc, err := u.settings.Location()
		if err != nil {
			return calibration.Answer{}, err
		}
		f = asOf(f, u.row.Happened, u.row.Happened.Day(loc))
		f.Cycles = m.cycles(u.tool.ID, f.Calibrations, u.row.Happened)
		f.DoNotUse = reasonsAt(m.wrongs[u.tool.ID], u.row.Happened)
	}
	return calibration.Ready(f, q)
}

// asOf leaves out what came after a time. A comparison of that very day counts only
// where its hour is known to be before, or where it failed and may have been.
func asOf(f calibration.Facts, at dates.Instant, day dates.Date) calibration.Facts {
	before := func(all []calibration.Kept) (out []calibration.Kept) {
		for _, k := range all {
			mayBeBefore := k.On == day && k.At == 0 && k.Verdict == calibration.Failed
			if k.On.Before(day) || k.At != 0 && k.At <= at || mayBeBefore {
				out = append(out, k)
			}
		}
		return out
	}
	f.Today, f.Calibrations, f.Checks = day, before(f.Calibrations), before(f.Checks)
	f.Events = slices.DeleteFunc(slices.Clone(f.Events), func(e calibration.Event) bool { return e.At > at || e.On.After(day) })
	return f
}

// reasonsAt is why a tool was out of use at a time.
func reasonsAt(all []custody.Wrong, at dates.Instant) string {
	var open []custody.Wrong
	for _, w := range all {
		if w.At <= at && (w.Cleared == 0 || w.Cleared > at) {
			w.Cleared = 0
			open = append(open, w)
		}
	}
	return custody.Reasons(open)
}

// record writes it down, and settles what it does again.
func (u *using) record(a calibration.Answer) (err error) {
	name, err := names.Line(u.in.Name)
	if err != nil {
		return fault.At("#/name", "%s", fault.Of(err).Error())
	}
	if u.row.ID, err = u.tx.NewID('V'); err != nil {
		return err
	}
	var kept calibration.Use
	if u.row.What == calibration.UsedToTighten {
		t := calibration.NewTightening(u.said.Asked, a, name, u.row.Count)
		t.Job, t.NotSafetyWhy = u.row.Job, u.said.NotSafetyWhy
		if err := t.Check(); err != nil {
			return err
		}
		u.said.Set, kept = t.Set, t.Use
	} else {
		m := calibration.NewMeasurement(u.said.Asked, a, name)
		m.Job, m.NotSafetyWhy = u.row.Job, u.said.NotSafetyWhy
		if err := m.Check(); err != nil {
			return err
		}
		u.row.Count = 0
		u.said.Outcome, kept = m.Outcome, m.Use
	}
	u.row.Name, u.row.Verdict = name, string(kept.Verdict)
	u.said.Calibration, u.said.Probability, u.said.Reasons = kept.Calibration, kept.Probability, kept.Reasons
	body, err := json.Marshal(u.said)
	if err != nil {
		return err
	}
	u.row.Body = string(body)
	if err := store.Put(u.tx, &u.row); err != nil || u.in.Redoes == "" {
		return err
	}
	return u.redo()
}

// redo settles an earlier use by this one.
func (u *using) redo() error {
	old, err := load[calibration.UseRow](u.tx, u.in.Redoes, "tightening or measurement "+u.in.Redoes)
	if err != nil {
		return err
	}
	if old.What != u.row.What {
		return fault.New(fault.Refused, "a %s does not do a %s again", u.row.What, old.What).WithHint("name what it does again by its own id")
	}
	was, err := useOf(old)
	if err != nil {
		return err
	}
	is, err := useOf(u.row)
	if err != nil {
		return err
	}
	was, is = was.On(u.job.Safety.Critical()), is.On(u.job.Safety.Critical())
	if u.row.What == calibration.UsedToTighten {
		err = calibration.Tightening{Use: is, Fastener: u.row.Name, Count: u.row.Count}.Redoes(calibration.Tightening{Use: was, Fastener: old.Name, Count: old.Count})
	} else {
		err = calibration.Measurement{Use: is, What: u.row.Name}.Redoes(calibration.Measurement{Use: was, What: old.Name})
	}
	if err != nil {
		return err
	}
	old.RedoneBy = u.row.ID
	return store.Put(u.tx, &old)
}

// useOf reads a use on record.
func useOf(row calibration.UseRow) (calibration.Use, error) {
	var said calibration.Said
	if err := json.Unmarshal([]byte(row.Body), &said); err != nil {
		return calibration.Use{}, fault.New(fault.Internal, "use %s cannot be read", row.ID).WithCause(err)
	}
	u := calibration.Use{ID: row.ID, Job: row.Job, Tool: row.Tool, At: row.Happened, By: row.Person, NotSafety: said.Asked.NotSafety,
		NotSafetyWhy: said.NotSafetyWhy, Asked: said.Asked, Calibration: said.Calibration, Verdict: calibration.Readiness(row.Verdict),
		Probability: said.Probability, Reasons: said.Reasons, RedoneBy: row.RedoneBy, Withdrawn: row.Withdrawn != 0}
	if row.SignedAt != 0 {
		u.Signed = &calibration.Signature{By: row.SignedBy, Why: row.SignedWhy, At: row.SignedAt}
	}
	return u, nil
}

// useView puts a use into names. Whether it holds its job depends on what the job is.
func (d *directory) useView(row calibration.UseRow, safetyJob bool) (v UseView, err error) {
	u, err := useOf(row)
	if err != nil {
		return v, err
	}
	u = u.On(safetyJob)
	var said calibration.Said
	if err := json.Unmarshal([]byte(row.Body), &said); err != nil {
		return v, err
	}
	t, _, err := d.Tool(row.Tool)
	if err != nil {
		return v, err
	}
	job, err := d.job(row.Job)
	limits, byDefault := said.Asked.JobLimits()
	v = UseView{ID: row.ID, Number: t.Number.String(), Kind: t.Kind, Job: job, What: string(row.What), Name: row.Name, Count: row.Count,
		Happened: row.Happened, Entered: row.Entered, Person: d.person(row.Person), Target: said.Asked.Target, Limits: limits.String(), DefaultLimits: byDefault,
		Direction: said.Asked.Direction, Setting: said.Set, Adapter: said.Asked.Adapter.Words(), Verdict: calibration.Readiness(row.Verdict),
		Reasons: append([]string{}, said.Reasons...), Calibration: said.Calibration, Outcome: said.Outcome, NotSafety: u.NotSafety,
		NotSafetyWhy: u.NotSafetyWhy, Unconfirmed: u.Unconfirmed(), RedoneBy: row.RedoneBy, SignedBy: d.person(row.SignedBy),
		SignedWhy: row.SignedWhy, SignedAt: row.SignedAt, Cautions: []string{}}
	if said.Probability != "" {
		p := said.Probability.Float()
		v.InsideProbability = &p
	}
	if row.SignedAt != 0 && row.SignedBy == "" {
		v.SignedBy = d.settings.Name
	}
	if row.Withdrawn != 0 {
		v.Withdrawn, v.WithdrawnBy, v.Why = row.Withdrawn, d.personOr(row.WithdrawnBy), row.Why
	}
	v.Holds, v.Settle = u.Holds(safetyJob)
	return v, err
}

// SignUse is a manager's word, with a reason, for what was done with a tool that
// could not be confirmed.
func (s *Shop) SignUse(ctx context.Context, by By, id, why string) (UseView, error) {
	return act(ctx, s, by, "sign", []any{id, why}, func(tx *store.Tx) (UseView, error) {
		row, err := load[calibration.UseRow](tx, id, "tightening or measurement "+id)
		if err != nil {
			return UseView{}, err
		}
		job, _, err := tx.Rx.Job(row.Job)
		if err != nil {
			return UseView{}, err
		}
		u, err := useOf(row)
		if err != nil {
			return UseView{}, err
		}
		u = u.On(job.Safety.Critical())
		clean, err := names.Note(why)
		if err != nil {
			return UseView{}, fault.At("#/why", "%s", fault.Of(err).Error())
		}
		if err := u.MaySign(people.May(by.Actor, people.ShopActs, people.Object{}), clean); err != nil {
			return UseView{}, err
		}
		row.SignedBy, row.SignedWhy, row.SignedAt = by.Person, clean, tx.Now()
		if err := store.Put(tx, &row); err != nil {
			return UseView{}, err
		}
		d, err := readNames(&tx.Rx)
		if err != nil {
			return UseView{}, err
		}
		return d.useView(row, job.Safety.Critical())
	})
}

// UsesOn gives the tightenings and measurements on a job, oldest first, those that were
// withdrawn among them; those that hold it open say so.
func (s *Shop) UsesOn(ctx context.Context, by By, number string) (out []UseView, err error) {
	j, err := s.Job(ctx, by, number)
	if err != nil {
		return nil, err
	}
	err = s.db.Read(ctx, func(rx *store.Rx) error {
		d, err := readNames(rx)
		if err != nil {
			return err
		}
		rows, err := rx.UsesOn(j.ID)
		if err != nil {
			return err
		}
		for _, row := range rows {
			v, err := d.useView(row, j.Safety != jobs.No)
			if err != nil {
				return err
			}
			if v.TakesBack, err = d.takesBackUse(by, row, v.Holds); err != nil {
				return err
			}
			out = append(out, v)
		}
		return nil
	})
	return out, err
}

// Fasteners gives the names that fasteners were given, in order. Their values are
// not remembered: each job's service information has them.
func (s *Shop) Fasteners(ctx context.Context, by By) (out []string, err error) {
	err = s.db.Read(ctx, func(rx *store.Rx) error {
		out, err = rx.UseNames(calibration.UsedToTighten)
		return err
	})
	return out, err
}
