package model

import (
	"context"
	"slices"
	"strings"

	"pawl/model/claims"
	"pawl/model/custody"
	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/matching"
	"pawl/model/names"
	"pawl/model/people"
	"pawl/model/register"
	"pawl/model/serials"
)

// Recovered is a tool that came back, as typed: by its number, by its serial, or by what
// can be read of a worn one. One of the three names it.
type Recovered struct{ Number, Serial, Reading, On, At, Condition string }

// Recover records that a tool of a loss came back: it is in the register again, and out of
// use, since nothing is known of what was done to it.
func (s *Shop) Recover(ctx context.Context, by By, in Recovered) (LossView, error) {
	return act(ctx, s, by, "loss recovered", in, func(tx *store.Tx) (v LossView, err error) {
		d, err := readNames(&tx.Rx)
		if err != nil {
			return v, err
		}
		how, loss, t, err := d.whichCameBack(ctx, s, by, in)
		if err != nil {
			return v, err
		}
		a, err := s.lossFor(tx, d, by, loss)
		if err != nil {
			return v, err
		}
		if err := allowed(by, people.RunLoss, a.lossObject(t)); err != nil {
			return v, err
		}
		if err := a.recover(t, how, in); err != nil {
			return v, err
		}
		return a.done()
	})
}

// whichCameBack finds the tool that is still gone by a loss and fits what is known of the
// one that came back.
func (d *directory) whichCameBack(ctx context.Context, s *Shop, by By, in Recovered) (how, loss string, t register.Tool, err error) {
	given := []string{}
	for name, text := range map[string]string{"number": in.Number, "serial": in.Serial, "reading": in.Reading} {
		if strings.TrimSpace(text) != "" {
			given = append(given, name)
		}
	}
	if len(given) != 1 {
		return "", "", t, fault.New(fault.Invalid, "say in one way which tool came back").WithHint("give its number, its serial, or a reading of what is left of it")
	}
	how = given[0]
	if how == "number" {
		if t, err = resolve(d.Rx, in.Number); err != nil {
			return "", "", t, fault.At("#/number", "%s", fault.Of(err).Error())
		}
		loss, err = d.openLossOf(t)
		return how, loss, t, err
	}
	if how == "reading" {
		loss, t, err = d.readBack(ctx, s, by, in.Reading)
		return how, loss, t, err
	}
	fits, err := serialFits(in.Serial)
	if err != nil {
		return "", "", t, err
	}
	loss, t, err = d.oneCameBack(by, fits)
	return how, loss, t, err
}

// openLossOf gives the loss by which a tool is still gone.
func (d *directory) openLossOf(t register.Tool) (string, error) {
	lines, err := d.LossLinesOf(t.ID)
	for _, l := range lines {
		if l.Open() {
			return l.Loss, err
		}
	}
	return "", orElse(err, fault.New(fault.Conflict, "tool %s is missing by no loss", t.Number).WithHint("nothing to do").WithFact("number", t.Number.String()))
}

// shortSerial is of how many letters and digits a serial is too short to tell one tool
// from all that other makers numbered; our choice, as for a reading.
const shortSerial = 5

// serialFits says which serials a whole one is.
func serialFits(typed string) (func(key string) bool, error) {
	clean, err := serials.Check(typed)
	want := serials.Fold(serials.Key(clean))
	if err == nil && want == "" {
		err = fault.New(fault.Invalid, "%.40q holds no letter or digit", typed)
	}
	if err == nil && len(want) < shortSerial {
		err = fault.New(fault.Invalid, "%.40q has %d letters and digits: too few to tell tools of all makers apart by", typed, len(want)).
			WithHint("compare the tool with its photos, and say which it is by its number: pawl loss recovered NUMBER")
	}
	if err != nil {
		return nil, fault.At("#/serial", "%s", fault.Of(err).Error())
	}
	return func(key string) bool { return serials.Fold(key) == want }, nil
}

// stillGone are the tools that are missing by a loss and that the asker may see, each with
// the line that says so.
func (d *directory) stillGone(by By) (lines []claims.LossLine, tools map[string]register.Tool, err error) {
	all, err := d.OpenLossLines()
	if err != nil {
		return nil, nil, err
	}
	if tools, err = d.ToolsByID(toolsOfLines(all)); err != nil {
		return nil, nil, err
	}
	for _, l := range all {
		if d.seesLine(by, tools[l.Tool]) {
			lines = append(lines, l)
		}
	}
	return lines, tools, nil
}

func stillGoneWords(t register.Tool, l claims.LossLine) string {
	return strings.Join(strings.Fields(t.Number.String()+" "+t.Kind+" "+t.Serial+" (loss "+l.Loss+")"), " ")
}

func noneCameBack() *fault.Error {
	return fault.New(fault.NotFound, "no tool that is missing by a loss has such a serial").WithHint("see what is missing: pawl loss list; or say which it is by its number")
}

// oneCameBack finds the one tool that is still gone and whose serial fits. A guess never
// becomes a tool: several are a Conflict that names them.
func (d *directory) oneCameBack(by By, fits func(key string) bool) (loss string, t register.Tool, err error) {
	lines, tools, err := d.stillGone(by)
	if err != nil {
		return "", t, err
	}
	var said []string
	for _, l := range lines {
		if fits(tools[l.Tool].SerialKey) {
			loss, t = l.Loss, tools[l.Tool]
			said = append(said, stillGoneWords(t, l))
		}
	}
	switch len(said) {
	case 0:
		return "", t, noneCameBack()
	case 1:
		return loss, t, nil
	}
	slices.Sort(said)
	return "", t, fault.New(fault.Conflict, "several missing tools fit: %s", strings.Join(said, ", ")).WithHint("compare each with its photos, and say which by its number")
}

// readBack finds the tool that is still gone and that a reading is probably of, held
// against all serials of the register. One that is only possible is named and not taken: it
// may be a stranger's.
func (d *directory) readBack(ctx context.Context, s *Shop, by By, reading string) (loss string, t register.Tool, err error) {
	q := MatchQuery{Reading: reading, Found: "list"}
	asked, err := q.read()
	if err != nil {
		return "", t, err
	}
	ix, err := s.serials.upTo(d)
	if err != nil {
		return "", t, err
	}
	lines, tools, err := d.stillGone(by)
	if err != nil {
		return "", t, err
	}
	a, err := ix.Match(ctx, asked, matching.Usual, q.Limit)
	if err != nil {
		return "", t, err
	}
	var said []string
	for _, c := range a.Candidates {
		at := slices.IndexFunc(lines, func(l claims.LossLine) bool { return l.Tool == toolOf(c.Handle) })
		switch {
		case at < 0 || len(c.Against) > len(c.Decided): // not gone, or more speaks against it than for it
		case c.Verdict == matching.Probable:
			return lines[at].Loss, tools[lines[at].Tool], nil
		default:
			said = append(said, stillGoneWords(tools[lines[at].Tool], lines[at]))
		}
	}
	if len(said) == 0 {
		return "", t, noneCameBack()
	}
	return "", t, fault.New(fault.Conflict, "%q is not enough to tell by: it may be %s, or none of the tools on record", q.Reading, strings.Join(said, ", ")).
		WithHint("compare each with its photos, and say which by its number: pawl loss recovered NUMBER")
}

// recover takes a tool back.
func (a *lossAct) recover(t register.Tool, how string, in Recovered) error {
	loc, err := a.settings.Location()
	if err != nil {
		return err
	}
	r := claims.Recovery{By: how, On: a.tx.Now().Day(loc)}
	var bad fault.Problems
	if strings.TrimSpace(in.On) != "" {
		r.On, err = dates.ParseDate(in.On)
		bad.Keep("#/on", err)
		if today := a.tx.Now().Day(loc); r.On.After(today) {
			bad.Add("#/on", "%s is in the future; today is %s", r.On, today)
		}
	}
	r.At, err = names.Note(in.At)
	bad.Keep("#/at", err)
	r.Condition, err = names.Note(in.Condition)
	bad.Keep("#/condition", err)
	if err := bad.Err(); err != nil {
		return err
	}
	i, line, err := a.lineOf(t)
	if err != nil {
		return err
	}
	if err := line.Recover(a.loss.Kind, r, a.loss.Found.Day(loc)); err != nil {
		return err
	}
	if err := store.Put(a.tx, &line); err != nil {
		return err
	}
	a.lines[i] = line
	if err := a.putBackOn(t); err != nil {
		return err
	}
	why := claims.AfterRecovery(a.loss.Kind)
	a.say("DO NOT USE " + t.Number.String() + ": " + why + ".")
	if register.Measures(t.Kind) {
		a.say("It measures: it needs a passing tool calibration, or a bench check of its whole range both ways, before it is used.")
	}
	if of, err := a.tx.ClaimsOfLoss(a.loss.ID); err != nil || len(of) > 0 {
		a.say("A claim was opened on this loss: tell the insurer before it is used or sold. What was paid for may be theirs.")
	}
	return putWrong(a.tx, a.by, t, custody.Doubtful, why+" (loss "+a.loss.ID+")")
}

// goneAtOnce puts a tool that was just registered from old photos and papers on the list of
// the loss by which it is gone.
func (s *Shop) goneAtOnce(tx *store.Tx, d *directory, by By, t register.Tool, loss string) (said []string, err error) {
	a, err := s.lossFor(tx, d, by, loss)
	if fault.Is(err, fault.NotFound) {
		err = fault.At("#/gone_by_loss", "%s", fault.Of(err).Error())
	}
	if err != nil {
		return nil, err
	}
	if err := allowed(by, people.RunLoss, a.lossObject(t)); err != nil {
		return nil, err
	}
	if a.loss.Kind.Gone() == "" {
		return nil, fault.At("#/gone_by_loss", "loss %s is one by %s: what is left of the tool is there, and it is registered as any other", a.loss.ID, a.loss.Kind)
	}
	next, err := a.supplement(false)
	if err != nil {
		return nil, err
	}
	line, err := a.add(t, next)
	if err != nil {
		return nil, err
	}
	line.Confirmed = tx.Now()
	if err := store.Put(tx, &line); err != nil {
		return nil, err
	}
	h, err := s.handFor(tx, by, t.Number.String())
	if err != nil {
		return nil, err
	}
	return append(h.said, "RECORDED AFTER THE LOSS: every paper says so."), a.takeOff(h)
}

// AttachToLoss joins uploaded photos and papers to a loss as a whole: of how they came in,
// the police report.
func (s *Shop) AttachToLoss(ctx context.Context, by By, loss string, in []register.Attach) (LossView, error) {
	return s.onLoss(ctx, by, "loss evidence", loss, in, func(a *lossAct) error {
		if err := a.settles(); err != nil {
			return err
		}
		if len(in) == 0 {
			return fault.At("#/evidence", "nothing is named")
		}
		if err := a.tx.Lock("originals"); err != nil { // until the record stands, nothing else keeps the bytes from being removed
			return err
		}
		have, err := a.tx.EvidenceOfLoss(a.loss.ID)
		if err != nil {
			return err
		}
		if len(have)+len(in) > MaxAttach {
			return fault.At("#/evidence", "%d photos and papers; a loss has at most %d", len(have)+len(in), MaxAttach)
		}
		for _, one := range in {
			if err := a.attach(one); fault.Is(err, fault.Invalid) || fault.Is(err, fault.NotFound) {
				return fault.At("#/evidence", "%s", fault.Of(err).Error())
			} else if err != nil {
				return err
			}
		}
		return nil
	})
}

func (a *lossAct) attach(in register.Attach) error {
	e, err := a.shop.newEvidence(a.tx, a.by, a.directory, register.Tool{}, in)
	if err != nil {
		return err
	}
	e.Loss = a.loss.ID
	return store.Put(a.tx, &e)
}

// seesPaperOfLoss says whether somebody may see what is about a loss as a whole.
func (d *directory) seesPaperOfLoss(by By, loss string) (bool, error) {
	l, found, err := d.Loss(loss)
	return found && settlesLoss(by, l), err
}
