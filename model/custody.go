package model

import (
	"context"
	"strings"
	"time"

	"pawl/model/custody"
	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/names"
	"pawl/model/people"
	"pawl/model/register"
	"pawl/model/serials"
)

// What people enter for each act of custody; texts are as typed. Since, where it
// is not empty, is the Since of the tool's custody as the asker saw it: a Conflict if
// it changed hands after that. A repeat under one replay key gives the first answer
// whatever its Since; and that of a take, return or undo whatever its Happened: who
// does not know whether the first got through says, in the second, when it was.
type (
	// Take hands a tool to somebody, perhaps on a job.
	Take struct{ To, Job, Due, Happened, Since string }
	// Return puts a tool back in its place.
	Return struct {
		Missing                    []string
		Condition, Happened, Since string
		AllThere                   bool   // of a set: each piece was looked at
		Broken                     string // what broke off or broke on it
		FragmentMissing            bool   // and not every fragment of it came back
	}
	// Handover passes a tool to somebody else; an empty job keeps the one it was on.
	Handover struct{ To, Job, Due, Happened, Since string }
	// Away sends a tool out of the shop.
	Away struct{ To, For, Due, Happened, Since string }
	// Back receives a tool that was away, or one that was said to have left for good and is
	// here after all.
	Back struct {
		Condition, Happened, Since string
		Serial                     string // as read on the tool that came back
	}
	// Wrong reports that something is wrong with a tool.
	Wrong struct{ What, Note, Happened string }
	// Clear ends every open report.
	Clear struct{ Why string }
)

// hand is one act of custody in progress: the tool, its latest loan, the times.
type hand struct {
	*directory
	tx      *store.Tx
	by      By
	tool    register.Tool
	last    custody.Loan
	at      dates.Instant // when it happened
	entered dates.Instant // when it was entered, where that was later
	cleared []string      // reports that this act ended
	said    []string      // what to tell whoever did it
	newJob  *OpenedJob    // that this act opened
	serial  string        // of what came back, where it is another

	broken   string // what broke on it, as it came back
	fragment bool   // and not all of that came back
	looked   bool   // every piece of the set was looked at, as it came back
}

// moment is when an act happened, and when custody had last changed as the asker
// saw it; each as typed.
type moment struct{ happened, since string }

// custodyAct runs one act of custody: it finds and holds the tool, settles the
// time, and lets fn decide and write.
func (s *Shop) custodyAct(ctx context.Context, by By, verb, number string, m moment, asked any, fn func(*hand) error) (Done, error) {
	return s.custodyActWith(ctx, by, verb, number, m, asked, s.handFor, fn)
}

// custodyActWith is custodyAct with a way of its own to find the tool.
func (s *Shop) custodyActWith(ctx context.Context, by By, verb, number string, m moment, asked any, find func(*store.Tx, By, string) (*hand, error), fn func(*hand) error) (Done, error) {
	return act(ctx, s, by, verb, []any{number, asked}, func(tx *store.Tx) (Done, error) {
		h, err := find(tx, by, number)
		if err != nil {
			return Done{}, err
		}
		if err := h.unchanged(m.since); err != nil {
			return Done{}, err
		}
		if err := h.when(m.happened); err != nil {
			return Done{}, err
		}
		if err := fn(h); err != nil {
			return Done{}, err
		}
		done, err := h.done(h.tool, verb)
		done.Cleared, done.GoneWhy, done.Advice = h.cleared, h.tool.GoneWhy, append(h.said, done.Advice...)
		done.NewJob = h.newJob
		return done, err
	})
}

// handFor finds and holds a tool for an act that happens now. One that is gone
// is a Conflict.
func (s *Shop) handFor(tx *store.Tx, by By, number string) (*hand, error) {
	h, err := s.handForAny(tx, by, number)
	if err == nil && h.tool.Gone != 0 {
		return nil, isGone(h.Rx, h.tool)
	}
	return h, err
}

// handForAny is handFor of tools that are gone, too.
func (s *Shop) handForAny(tx *store.Tx, by By, number string) (*hand, error) {
	d, t, err := toolForChange(tx, number)
	if err != nil {
		return nil, err
	}
	d.broken = s.views.Broken
	return handOf(tx, d, by, t)
}

// isGone refuses what is asked of a tool that left for good; one that is gone by a loss may
// have come back, which is entered in another way.
func isGone(rx *store.Rx, t register.Tool) error {
	lost, err := goneByLoss(rx, t)
	if err != nil {
		return err
	}
	f := fault.New(fault.Conflict, "tool %s is gone: %s", t.Number, t.GoneWhy).WithFact("since", t.Gone.String())
	switch {
	case lost:
		f = f.WithHint("if it came back: pawl loss recovered %s", t.Number)
	case t.ExchangedFor == "":
		f = f.WithHint("if it is here after all: pawl back %s", t.Number)
	}
	return f
}

func handOf(tx *store.Tx, d *directory, by By, t register.Tool) (h *hand, err error) {
	h = &hand{directory: d, tx: tx, by: by, tool: t, at: tx.Now()}
	h.last, err = d.lastLoan(t)
	return h, err
}

// say tells whoever did the act something.
func (h *hand) say(text string) { h.said = append(h.said, text) }

// lent tells that somebody else's own tool changed hands.
func (h *hand) lent(to string) {
	if owner, found := h.byID[h.tool.Owner]; found && h.tool.Owner != to {
		h.say("It belongs to " + owner.Name + ": they are told.")
	}
}

// unchanged refuses an act that was asked of an earlier state of things.
func (h *hand) unchanged(since string) error {
	if since == "" {
		return nil
	}
	seen, err := h.time("#/since", since, dates.ParseTime)
	if err != nil || h.last.Changed() == 0 && seen == h.tool.Created {
		return err
	}
	return custody.Unchanged(h.last, h.holder(h.last), seen)
}

func (h *hand) when(happened string) (err error) {
	var then dates.Instant
	if happened != "" {
		if then, err = h.time("#/happened", happened, dates.ParseTime); err != nil {
			return err
		}
	}
	h.at, h.entered, err = custody.When(then, h.tx.Now(), h.last)
	return err
}

// time reads a time in the shop's zone.
func (h *hand) time(pointer, text string, parse parseTime) (dates.Instant, error) {
	loc, err := h.settings.Location()
	if err != nil {
		return 0, err
	}
	at, err := parse(text, loc)
	if err != nil {
		return 0, fault.At(pointer, "%s", fault.Of(err).Error())
	}
	return at, nil
}

// due reads a due time; a day means its end.
func (h *hand) due(text string) (dates.Instant, error) {
	if text == "" {
		return 0, nil
	}
	due, err := h.time("#/due", text, dates.ParseDue)
	if err != nil {
		return 0, err
	}
	return due, custody.CheckDue(due, h.at)
}

// to resolves who gets the tool; somebody who takes for themselves need not say.
func (h *hand) to(name string) (people.Person, error) {
	if strings.TrimSpace(name) == "" {
		if p, found := h.byID[h.by.Person]; found {
			return p, nil
		}
		return people.Person{}, fault.At("#/to", "say who gets the tool").WithHint("name them with --to, or act as them with --as")
	}
	p, err := people.Match(h.people, name)
	if err != nil {
		return p, fault.At("#/to", "%s", fault.Of(err).Error())
	}
	return p, nil
}

// jobID finds or opens the job that is named; none stays none.
func (h *hand) jobID(number string) (string, error) {
	if strings.TrimSpace(number) == "" {
		return "", nil
	}
	j, opened, err := mentionJob(h.tx, number)
	if err == nil && j.Closed != 0 {
		err = fault.New(fault.Conflict, "job %s is closed, by %s", j.Number, h.personOr(j.ClosedBy)).WithHint("reopen it, or leave the job out").
			WithFact("since", j.Closed.String()).WithFact("by", h.personOr(j.ClosedBy))
	}
	h.jobs[j.ID], h.newJob = j.Number, opened
	return j.ID, err
}

// end closes the open loan. Where nobody looked at the pieces, those that were missing
// before are missing still.
func (h *hand) end(how custody.End, missing, condition string) (err error) {
	if !h.looked {
		if missing, err = h.carried(); err != nil {
			return err
		}
	}
	l, found, err := store.Change[custody.Loan](h.tx, h.last.ID)
	if err != nil || !found {
		return orElse(err, fault.New(fault.Internal, "loan %s is not there", h.last.ID))
	}
	l.Ended, l.EndedHow, l.Missing, l.Condition, l.Serial = h.at, how, missing, condition, h.serial
	l.Broken, l.FragmentMissing, l.Setbacks = h.broken, h.fragment, h.last.SetbacksAt(h.at)
	if h.entered != 0 {
		l.Entered = h.entered
	}
	return store.Put(h.tx, &l)
}

// begin opens a loan.
func (h *hand) begin(l custody.Loan) (err error) {
	l.Tool, l.Since, l.Entered, l.Setbacks = h.tool.ID, h.at, h.entered, h.last.SetbacksAt(h.at)
	if l.ID, err = h.tx.NewID('O'); err != nil {
		return err
	}
	return store.Put(h.tx, &l)
}

type parseTime = func(string, *time.Location) (dates.Instant, error)

// Take hands a tool to somebody in the shop. Whoever has it already is named in
// the Conflict; a tool that is out of use is Refused.
func (s *Shop) Take(ctx context.Context, by By, number string, in Take) (Done, error) {
	m := moment{in.Happened, in.Since}
	in.Since, in.Happened = "", ""
	return s.custodyAct(ctx, by, "take", number, m, in, func(h *hand) error {
		p, err := h.to(in.To)
		if err != nil {
			return err
		}
		if err := allowed(by, people.TakeTool, people.Object{Holder: p.ID}); err != nil {
			return err
		}
		now := h.holder(h.last)
		if now.Job, err = h.directory.job(h.last.Job); err != nil {
			return err
		}
		if err := custody.MayTake(h.last, now, p.ID); err != nil {
			return err
		}
		if err := h.mayUse(); err != nil {
			return err
		}
		job, err := h.jobID(in.Job)
		if err != nil {
			return err
		}
		due, err := h.due(in.Due)
		if err != nil {
			return err
		}
		h.lent(p.ID)
		return h.begin(custody.Loan{State: custody.Out, Person: p.ID, Job: job, Due: due})
	})
}

func (h *hand) mayUse() error {
	open, err := h.tx.OpenWrongs(h.tool.ID)
	if err != nil {
		return err
	}
	err = custody.MayUse(open)
	if f := fault.Of(err); f != nil && h.last.Open() {
		return f.WithFact("holder", h.holder(h.last).Name)
	}
	return err
}

// Return puts a tool that is out back in its place, with what is missing of it.
func (s *Shop) Return(ctx context.Context, by By, number string, in Return) (Done, error) {
	m := moment{in.Happened, in.Since}
	in.Since, in.Happened = "", ""
	return s.custodyAct(ctx, by, "return", number, m, in, func(h *hand) error {
		if err := custody.MustBe(h.last, h.holder(h.last), custody.Out, "only a tool that is out is returned; one that is away comes back with: pawl back NUMBER"); err != nil {
			return err
		}
		b, err := h.cameBack(in)
		if err != nil {
			return err
		}
		return h.putBack(b)
	})
}

// onlyBack says of a tool that is out and may not be used where it may still go.
func onlyBack(err error) error {
	if f := fault.Of(err); f != nil && f.Kind == fault.Refused {
		return f.WithHint("it goes back to its place: pawl return NUMBER; or away to be repaired or calibrated")
	}
	return err
}

// Handover passes a tool from its holder to somebody else, with its job.
func (s *Shop) Handover(ctx context.Context, by By, number string, in Handover) (Done, error) {
	m := moment{in.Happened, in.Since}
	in.Since = ""
	return s.custodyAct(ctx, by, "handover", number, m, in, func(h *hand) error {
		if err := custody.MustBe(h.last, h.holder(h.last), custody.Out, "only a tool that is out is handed over; take it with: pawl take NUMBER --to NAME"); err != nil {
			return err
		}
		p, err := h.to(in.To)
		if err != nil {
			return err
		}
		if err := custody.MayTake(h.last, h.holder(h.last), p.ID); p.ID == h.last.Person {
			return err
		}
		if err := h.mayUse(); err != nil {
			return onlyBack(err)
		}
		next := custody.Loan{State: custody.Out, Person: p.ID, Job: h.last.Job, Due: h.last.Due}
		if in.Job != "" {
			if next.Job, err = h.jobID(in.Job); err != nil {
				return err
			}
		}
		if in.Due != "" {
			if next.Due, err = h.due(in.Due); err != nil {
				return err
			}
		}
		if err := h.end(custody.HandedOver, "", ""); err != nil {
			return err
		}
		h.lent(p.ID)
		return h.begin(next)
	})
}

// Away sends a tool to a lab, a repairer or somebody outside. One that is out of
// use goes only to be calibrated or repaired.
func (s *Shop) Away(ctx context.Context, by By, number string, in Away) (Done, error) {
	m := moment{in.Happened, in.Since}
	in.Since = ""
	return s.custodyAct(ctx, by, "away", number, m, in, func(h *hand) error {
		var bad fault.Problems
		whom, err := names.Check(in.To)
		bad.Keep("#/to", err)
		why, err := custody.ParsePurpose(in.For)
		bad.Keep("#/for", err)
		if err := bad.Err(); err != nil {
			return err
		}
		if h.last.Open() && h.last.State == custody.Away {
			return custody.MayTake(h.last, h.holder(h.last), "")
		}
		if err := allowed(by, people.EditTool, h.object(h.tool)); err != nil {
			return err
		}
		if why == custody.ForLent {
			if err := h.mayUse(); err != nil {
				return err
			}
		}
		due, err := h.due(in.Due)
		if err != nil {
			return err
		}
		if h.last.Open() {
			if err := h.end(custody.WentAway, "", ""); err != nil {
				return err
			}
		}
		return h.begin(custody.Loan{State: custody.Away, Whom: whom, Purpose: why, Due: due})
	})
}

// Back receives a tool that was away.
func (s *Shop) Back(ctx context.Context, by By, number string, in Back) (Done, error) {
	m := moment{in.Happened, in.Since}
	in.Since = ""
	return s.custodyActWith(ctx, by, "back", number, m, in, s.handForAny, func(h *hand) error {
		if h.tool.Gone != 0 {
			return h.hereAfterAll(in)
		}
		if err := custody.MustBe(h.last, h.holder(h.last), custody.Away, "only a tool that is away comes back; one that is out is returned with: pawl return NUMBER"); err != nil {
			return err
		}
		condition, err := names.Note(in.Condition)
		if err != nil {
			return fault.At("#/condition", "%s", fault.Of(err).Error())
		}
		if in.Serial != "" {
			read, err := serials.Check(in.Serial)
			if err != nil {
				return fault.At("#/serial", "%s", fault.Of(err).Error())
			}
			if h.tool.SerialKey != "" && serials.Key(read) != h.tool.SerialKey {
				h.serial = read
				h.say("ANOTHER SERIAL came back: " + read + ", not " + h.tool.Serial + ". Nothing shows that its calibration is this tool's.")
			}
		}
		return h.end(custody.CameBack, "", condition)
	})
}

// Wrong reports that something is wrong with a tool: anyone, any time. All but
// a missing label puts it out of use at once.
func (s *Shop) Wrong(ctx context.Context, by By, number string, in Wrong) (Done, error) {
	return s.wrongAct(ctx, by, "wrong", number, in, func(h *hand) error {
		var bad fault.Problems
		what, err := custody.ParseWhat(in.What)
		bad.Keep("#/what", err)
		note, err := names.Note(in.Note)
		bad.Keep("#/note", err)
		if err := bad.Err(); err != nil {
			return err
		}
		w := custody.Wrong{Tool: h.tool.ID, What: what, Note: note, At: h.tx.Now(), By: by.Person}
		if in.Happened != "" {
			if w.At, err = h.time("#/happened", in.Happened, dates.ParseTime); err != nil {
				return err
			}
			if w.At > h.tx.Now() {
				return fault.At("#/happened", "%s is in the future; it is %s now", w.At, h.tx.Now()).WithHint("correct the time; without an offset it is the shop's own")
			}
		}
		if w.ID, err = h.tx.NewID('W'); err != nil {
			return err
		}
		return store.Put(h.tx, &w)
	})
}

// wrongAct is custodyAct for what moves no tool: its time is not bound to the
// last change of custody.
func (s *Shop) wrongAct(ctx context.Context, by By, verb, number string, asked any, fn func(*hand) error) (Done, error) {
	return s.custodyAct(ctx, by, verb, number, moment{}, asked, fn)
}

// Clear ends every open report on a tool, with a manager's reason.
func (s *Shop) Clear(ctx context.Context, by By, number string, in Clear) (Done, error) {
	return s.wrongAct(ctx, by, "clear", number, in, func(h *hand) error {
		if err := allowed(by, people.ClearTool, h.object(h.tool)); err != nil {
			return err
		}
		why, err := names.Note(in.Why)
		if err != nil || why == "" {
			return fault.At("#/why", "say why it may be used again")
		}
		open, err := h.tx.OpenWrongs(h.tool.ID)
		if err != nil {
			return err
		}
		shown, err := h.mayClear()
		if err != nil {
			return err
		}
		zone, err := h.settings.Location()
		if err != nil {
			return err
		}
		if err := custody.MayClear(open, h.tool.Kind, shown, zone); err != nil {
			return err
		}
		if err := h.passedSince(open); err != nil {
			return err
		}
		for _, o := range open {
			if err := h.clear(o.ID, why); err != nil {
				return err
			}
		}
		return nil
	})
}

// clear ends one open report.
func (h *hand) clear(id, why string) error {
	w, err := load[custody.Wrong](h.tx, id, "report "+id)
	if err != nil {
		return err
	}
	w.Cleared, w.Why = h.tx.Now(), why
	h.cleared = append(h.cleared, string(w.What))
	return store.Put(h.tx, &w)
}
