package model

import (
	"context"
	"strings"

	"pawl/model/claims"
	"pawl/model/counts"
	"pawl/model/custody"
	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/names"
	"pawl/model/people"
	"pawl/model/register"
)

// LossTools names tools for an act on the list of a loss; none is all that it can be
// about. Supplement begins the next list although the one before was not given out.
type LossTools struct {
	Numbers    []string
	Supplement bool
}

// AddToLoss puts tools on the list of a loss: they are missing from then on.
func (s *Shop) AddToLoss(ctx context.Context, by By, loss string, in LossTools) (LossView, error) {
	return s.onLoss(ctx, by, "loss add", loss, in, func(a *lossAct) error {
		if len(in.Numbers) == 0 {
			return fault.At("#/numbers", "name the tools that are missing")
		}
		return a.addNumbers(in.Numbers, in.Supplement, "#/numbers")
	})
}

// addNumbers puts the tools of numbers on the list, as one supplement.
func (a *lossAct) addNumbers(all []string, supplement bool, pointer string) error {
	var tools []register.Tool
	for _, text := range all {
		t, err := resolve(&a.tx.Rx, text)
		if err != nil {
			return fault.At(pointer, "%s", fault.Of(err).Error())
		}
		tools = append(tools, t)
	}
	next, err := a.supplement(supplement)
	if err != nil {
		return err
	}
	for _, t := range tools {
		if err := allowed(a.by, people.RunLoss, a.lossObject(t)); err != nil {
			return err
		}
		if t.Gone != 0 {
			return fault.New(fault.Conflict, "tool %s is gone: %s", t.Number, t.GoneWhy).WithFact("since", t.Gone.String()).WithFact("number", t.Number.String())
		}
		if _, err := a.add(t, next); err != nil {
			return err
		}
	}
	return nil
}

// supplement is the one in which what is found now goes.
func (a *lossAct) supplement(asked bool) (int64, error) {
	packets, err := a.tx.PacketsOfLoss(a.loss.ID)
	if err != nil {
		return 0, err
	}
	var given []int64
	for _, p := range packets {
		given = append(given, p.Supplement)
	}
	return claims.NextSupplement(a.loss, a.lines, given, asked), nil
}

// add puts one tool on the list, with when the record shows it last before the loss was
// found out. Acts on one tool come one after another, so that it is on one open list.
func (a *lossAct) add(t register.Tool, supplement int64) (line claims.LossLine, err error) {
	if t, err = load[register.Tool](a.tx, t.ID, "tool "+t.Number.String()); err != nil {
		return line, err
	}
	of, err := a.tx.LossLinesOf(t.ID)
	if err != nil {
		return line, err
	}
	if err := claims.MayAdd(of); err != nil {
		f := fault.Of(err)
		return line, fault.New(f.Kind, "tool %s: %s", t.Number, f.Message).WithHint("%s", f.Hint).WithFact("number", t.Number.String()).WithFact("loss", f.Facts["loss"])
	}
	line = claims.LossLine{Loss: a.loss.ID, Tool: t.ID, Line: claims.NextLine(a.lines), Supplement: supplement}
	seen, err := a.tx.LastSeenOf([]string{t.ID})
	if last := seen[t.ID]; last.At <= a.loss.Found {
		line.LastSeen, line.SeenHow = last.At, last.How
	}
	if err == nil {
		line.ID, err = a.tx.NewID('L')
	}
	if err == nil {
		err = store.Put(a.tx, &line)
	}
	a.lines = append(a.lines, line)
	return line, err
}

// MissingFromCount puts on the list what the count of what is left did not see: neither
// seen, nor with somebody by the record, nor settled as found or known elsewhere. What was
// put on it before and was seen since is withdrawn.
func (s *Shop) MissingFromCount(ctx context.Context, by By, loss string) (LossView, error) {
	return s.onLoss(ctx, by, "loss missing", loss, nil, func(a *lossAct) error {
		if err := allowed(by, people.RunLoss, people.Object{Owner: a.loss.Person}); err != nil {
			return err
		}
		if a.loss.Count == "" {
			return fault.New(fault.Conflict, "loss %s has no count of what is left: its tools are named", a.loss.ID).
				WithHint("add those that are missing: pawl loss add %s NUMBER", a.loss.ID)
		}
		c, found, err := a.Rx.Count(a.loss.Count)
		if err != nil || !found {
			return orElse(err, noCountOf(a.loss))
		}
		st, err := s.stand(a.directory.Rx, c)
		if err != nil {
			return err
		}
		return a.missing(st)
	})
}

// missing compares the list with a count.
func (a *lossAct) missing(st *countStanding) error {
	var unseen []string
	is := map[string]bool{}
	for _, e := range st.list.frame {
		done := st.settled[e.Tool]
		elsewhere := done != nil && done.How != counts.Missing
		if st.bucket(e) == counts.NotSeen && !elsewhere {
			unseen, is[e.Tool] = append(unseen, e.Tool), true
		}
	}
	listed, err := a.seenAgain(st, is)
	if err != nil {
		return err
	}
	tools, err := a.ToolsByID(unseen)
	if err != nil {
		return err
	}
	next, err := a.supplement(false)
	if err != nil {
		return err
	}
	for _, id := range unseen { // by number, as the count lists them
		t := tools[id]
		if listed[id] || t.Gone != 0 {
			continue
		}
		if _, err := a.add(t, next); fault.Is(err, fault.Conflict) {
			a.say(fault.Of(err).Message) // on the list of another loss
		} else if err != nil {
			return err
		}
	}
	return nil
}

// seenAgain withdraws those that are missing by the list, and that the count saw since. It
// gives the tools that are on the list already, whatever became of them.
func (a *lossAct) seenAgain(st *countStanding, unseen map[string]bool) (listed map[string]bool, err error) {
	listed = map[string]bool{}
	for i, l := range a.lines {
		s := st.seen[l.Tool]
		if l.Withdrawn == 0 {
			listed[l.Tool] = true
		}
		if !l.Open() || l.Confirmed != 0 || unseen[l.Tool] || s == nil || s.Found == counts.ByWord {
			continue
		}
		if l, err = load[claims.LossLine](a.tx, l.ID, "line"); err != nil {
			return nil, err
		}
		l.Withdrawn, l.WithdrawnWhy = a.tx.Now(), "seen in count "+st.count.ID
		if err := store.Put(a.tx, &l); err != nil {
			return nil, err
		}
		a.lines[i] = l
	}
	return listed, nil
}

// missingOnClosing compares the list of the loss that a count belongs to, if any, with the
// count that is being closed.
func (s *Shop) missingOnClosing(tx *store.Tx, d *directory, by By, st *countStanding) error {
	l, found, err := tx.LossOfCount(st.count.ID)
	if err != nil || !found {
		return err
	}
	a, err := s.lossFor(tx, d, by, l.ID)
	if err != nil {
		return err
	}
	return a.missing(st)
}

// lineOf finds the open line of a tool on this loss, for change.
func (a *lossAct) lineOf(t register.Tool) (at int, line claims.LossLine, err error) {
	for i := len(a.lines) - 1; i >= 0; i-- { // one that was withdrawn and added again is its newest
		if a.lines[i].Tool == t.ID {
			line, err = load[claims.LossLine](a.tx, a.lines[i].ID, "line")
			return i, line, err
		}
	}
	return 0, line, fault.New(fault.NotFound, "tool %s is not on the list of loss %s", t.Number, a.loss.ID).
		WithHint("put it there: pawl loss add %s %s", a.loss.ID, t.Number).WithFact("number", t.Number.String())
}

// ConfirmLoss says that tools which were missing are stolen, or lost: they are gone, and
// whoever had them by the record has them no longer. After a fire, water or damage they are
// there and out of use. Without numbers it is all that is missing, but what was seen since.
func (s *Shop) ConfirmLoss(ctx context.Context, by By, loss string, in LossTools) (LossView, error) {
	return s.onLoss(ctx, by, "loss confirm", loss, in, func(a *lossAct) error {
		if len(in.Numbers) > 0 {
			for _, text := range in.Numbers {
				if err := a.confirm(text); err != nil {
					return err
				}
			}
			return nil
		}
		return a.confirmAll()
	})
}

func (a *lossAct) confirmAll() error {
	tools, err := a.ToolsByID(toolsOfLines(a.lines))
	if err != nil {
		return err
	}
	tried := 0
	for _, l := range a.lines {
		t := tools[l.Tool]
		if !l.Open() || l.Confirmed != 0 || !people.May(a.by.Actor, people.RunLoss, a.lossObject(t)) {
			continue
		}
		tried++
		if err := a.confirm(t.Number.String()); fault.Is(err, fault.Conflict) {
			a.say("NOT CONFIRMED: " + strings.TrimPrefix(fault.Of(err).Message, "tool "))
		} else if err != nil {
			return err
		}
	}
	if tried == 0 {
		return fault.New(fault.Conflict, "nothing on the list of loss %s is missing and not confirmed", a.loss.ID).WithHint("nothing to confirm")
	}
	return nil
}

// confirm says it of one tool.
func (a *lossAct) confirm(number string) error {
	h, err := a.shop.handFor(a.tx, a.by, number)
	if err != nil {
		return err
	}
	if err := allowed(a.by, people.RunLoss, a.lossObject(h.tool)); err != nil {
		return err
	}
	i, line, err := a.lineOf(h.tool)
	if err != nil {
		return err
	}
	seen, err := a.tx.LastSeenOf([]string{h.tool.ID})
	if err != nil {
		return err
	}
	last := seen[h.tool.ID]
	if err := line.MayConfirm(a.loss.Kind, a.loss.Found, last.At, last.How); err != nil {
		f := fault.Of(err)
		f.Message = "tool " + h.tool.Number.String() + ": " + f.Message
		return f.WithFact("number", h.tool.Number.String())
	}
	line.Confirmed = a.tx.Now()
	if err := store.Put(a.tx, &line); err != nil {
		return err
	}
	a.lines[i] = line
	if err := a.takeOff(h); err != nil {
		return err
	}
	a.said = append(a.said, h.said...)
	return nil
}

// byLoss begins the note of a tool that is gone, or out of use, by a loss.
const byLoss = "loss "

// takeOff ends a tool of which the loss is confirmed, or puts what is left of it out of
// use.
func (a *lossAct) takeOff(h *hand) error {
	loc, err := a.settings.Location()
	if err != nil {
		return err
	}
	note := byLoss + a.loss.ID
	if why := a.loss.Kind.Gone(); why != "" {
		return h.gone(why, note, a.loss.Found.Day(loc))
	}
	return putWrong(a.tx, a.by, h.tool, custody.Damaged, string(a.loss.Kind)+", "+note)
}

// putWrong puts a tool out of use.
func putWrong(tx *store.Tx, by By, t register.Tool, what custody.What, note string) (err error) {
	w := custody.Wrong{Tool: t.ID, What: what, Note: note, At: tx.Now(), By: by.Person}
	if w.ID, err = tx.NewID('W'); err != nil {
		return err
	}
	return store.Put(tx, &w)
}

// WithdrawFromLoss is why a tool was not of a loss, as typed.
type WithdrawFromLoss struct{ Number, Why string }

// WithdrawFromLoss takes a tool off the list: it was not of this loss. Its line stays, with
// its number, which no other gets. A tool that was confirmed is in the register again.
func (s *Shop) WithdrawFromLoss(ctx context.Context, by By, loss string, in WithdrawFromLoss) (LossView, error) {
	return s.onLoss(ctx, by, "loss withdraw", loss, in, func(a *lossAct) error {
		t, err := resolve(&a.tx.Rx, in.Number)
		if err != nil {
			return fault.At("#/number", "%s", fault.Of(err).Error())
		}
		if err := allowed(by, people.RunLoss, a.lossObject(t)); err != nil {
			return err
		}
		why, err := names.Note(in.Why)
		if err == nil && why == "" {
			err = fault.New(fault.Invalid, "say why it was not of this loss")
		}
		if err != nil {
			return fault.At("#/why", "%s", fault.Of(err).Error())
		}
		i, line, err := a.lineOf(t)
		if err != nil {
			return err
		}
		if err := line.MayWithdraw(a.loss.Kind); err != nil {
			return err
		}
		line.Withdrawn, line.WithdrawnWhy = a.tx.Now(), why
		if err := store.Put(a.tx, &line); err != nil {
			return err
		}
		a.lines[i] = line
		if line.Confirmed == 0 {
			return nil
		}
		a.say("It is in the register again. If it was out of hand meanwhile, have it looked over: pawl wrong " + t.Number.String() + " doubtful")
		return a.putBackOn(t)
	})
}

// putBackOn takes back that a tool is gone, where this loss said so.
func (a *lossAct) putBackOn(t register.Tool) error {
	t, err := load[register.Tool](a.tx, t.ID, "tool "+t.Number.String())
	if err != nil || t.Gone == 0 || t.GoneWhy != a.loss.Kind.Gone() {
		return err
	}
	t.Gone, t.GoneWhy, t.GoneOn, t.GoneNote, t.BackSince = 0, "", "", "", a.tx.Now()
	return store.Put(a.tx, &t)
}

// LossLineChange is what is said of one tool of a loss, as typed; nil leaves it as it is.
type LossLineChange struct {
	Number                                   string
	LeftBehind, Condition, LastSeen, SeenHow *string
}

// ChangeLossLine says more of one tool of a loss: what of it was left behind, its condition
// before, when it was last seen.
func (s *Shop) ChangeLossLine(ctx context.Context, by By, loss string, in LossLineChange) (LossView, error) {
	return s.onLoss(ctx, by, "loss edit", loss, in, func(a *lossAct) error {
		t, err := resolve(&a.tx.Rx, in.Number)
		if err != nil {
			return fault.At("#/number", "%s", fault.Of(err).Error())
		}
		if err := allowed(by, people.RunLoss, a.lossObject(t)); err != nil {
			return err
		}
		i, line, err := a.lineOf(t)
		if err != nil {
			return err
		}
		if err := a.changeLine(&line, in); err != nil {
			return err
		}
		a.lines[i] = line
		return store.Put(a.tx, &line)
	})
}

func (a *lossAct) changeLine(line *claims.LossLine, in LossLineChange) error {
	var bad fault.Problems
	for _, f := range []struct {
		name string
		in   *string
		to   *string
	}{{"left_behind", in.LeftBehind, &line.LeftBehind}, {"condition", in.Condition, &line.Condition}, {"seen_how", in.SeenHow, &line.SeenHow}} {
		if f.in == nil {
			continue
		}
		clean, err := names.Note(*f.in)
		bad.Keep("#/"+f.name, err)
		*f.to = clean
	}
	if in.LastSeen != nil {
		at, err := a.past(*in.LastSeen)
		if err == nil && at > a.loss.Found {
			err = fault.New(fault.Invalid, "%s is after %s, when the loss was found out", at, a.loss.Found)
		}
		bad.Keep("#/last_seen", err)
		line.LastSeen = at
	}
	return bad.Err()
}

// ChangeLoss applies a change to the revision that was read. Secure is a time as typed; nil
// leaves one as it is.
func (s *Shop) ChangeLoss(ctx context.Context, by By, loss string, rev int64, in LossChange) (LossView, error) {
	return s.onLoss(ctx, by, "loss edit", loss, []any{rev, in}, func(a *lossAct) error {
		if err := a.settles(); err != nil {
			return err
		}
		if err := checkRev("loss", rev, a.loss.Rev); err != nil {
			return err
		}
		var bad fault.Problems
		if in.Secure != nil {
			at, err := a.past(*in.Secure)
			if err == nil && at > a.loss.Found {
				err = fault.New(fault.Invalid, "%s is after %s, when it was found out", at, a.loss.Found)
			}
			bad.Keep("#/secure", err)
			a.loss.Secure = at
		}
		if f := fault.Of(in.LossChange.Apply(&a.loss)); f != nil {
			bad = append(bad, f.Fields...)
		}
		return bad.Err()
	})
}

// LossChange is a change of what is told of a loss.
type LossChange struct {
	claims.LossChange
	Secure *string
}

// settles refuses whoever sees only their own tools of the loss.
func (a *lossAct) settles() error {
	return allowed(a.by, people.RunLoss, people.Object{Owner: a.loss.Person})
}

// PoliceReport is what is known of the report to the police, as typed; nil leaves one as it
// is.
type PoliceReport struct{ Agency, Report, Officer, Reported *string }

// ReportLoss records that a loss was reported to the police; the number may come later.
func (s *Shop) ReportLoss(ctx context.Context, by By, loss string, in PoliceReport) (LossView, error) {
	return s.onLoss(ctx, by, "loss police", loss, in, func(a *lossAct) error {
		if err := a.settles(); err != nil {
			return err
		}
		loc, err := a.settings.Location()
		if err != nil {
			return err
		}
		l, today := &a.loss, a.tx.Now().Day(loc)
		var bad fault.Problems
		for _, f := range []struct {
			name string
			in   *string
			to   *string
		}{{"agency", in.Agency, &l.Agency}, {"report", in.Report, &l.Report}, {"officer", in.Officer, &l.Officer}} {
			if f.in != nil {
				*f.to, err = names.Line(*f.in)
				bad.Keep("#/"+f.name, err)
			}
		}
		if in.Reported != nil && *in.Reported != "" {
			l.Reported, err = dates.ParseDate(*in.Reported)
			bad.Keep("#/reported", err)
		} else if l.Reported == "" {
			l.Reported = today
		}
		if l.Agency == "" {
			bad.Add("#/agency", "say to whom it was reported")
		}
		if l.Reported.After(today) || l.Reported.Before(l.Found.Day(loc)) {
			bad.Add("#/reported", "%s is not between %s, when it was found out, and today, %s", l.Reported, l.Found.Day(loc), today)
		}
		return bad.Err()
	})
}
