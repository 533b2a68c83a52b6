package model

import (
	"context"
	"slices"

	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/markings"
	"pawl/model/names"
	"pawl/model/numbers"
	"pawl/model/people"
	"pawl/model/register"
)

// Register adds a tool with its number, marking, photos and papers as one act.
// A maker and serial that another tool has, even one that is gone, is a
// Conflict that names it. A tool without a serial is taken; the advice says
// what that costs.
func (s *Shop) Register(ctx context.Context, by By, in register.New) (Done, error) {
	done, err := act(ctx, s, by, "register", in, func(tx *store.Tx) (Done, error) {
		d, err := readNames(&tx.Rx)
		if err != nil {
			return Done{}, err
		}
		t := register.Tool{Created: tx.Now()}
		if t.ID, err = tx.NewID('T'); err != nil {
			return Done{}, err
		}
		if err := registerFields(tx, d, by, &t, in); err != nil {
			return Done{}, err
		}
		if in.GoneByLoss != "" && len(in.With) > 0 {
			return Done{}, fault.At("#/with", "what came with a tool that is gone already is registered by itself, gone or not")
		}
		parts, err := register.Parts(&t, in.With, d.settings.Currency)
		if err != nil {
			return Done{}, err
		}
		if t.Number, err = numberFor(tx, in.Number, t.ID); err != nil {
			return Done{}, err
		}
		if err := holdPlaces(tx, t.Place); err != nil {
			return Done{}, err
		}
		if err := store.Put(tx, &t); err != nil {
			return Done{}, err
		}
		mark, err := putMarking(tx, t, in.Marking)
		if err != nil {
			return Done{}, err
		}
		have, err := s.attach(tx, by, d, t, in.Evidence)
		if fault.Is(err, fault.NotFound) {
			err = fault.At("#/evidence", "%s", fault.Of(err).Error())
		}
		if err != nil {
			return Done{}, err
		}
		if err := s.registerParts(&hand{directory: d, tx: tx, by: by, tool: t}, parts); err != nil {
			return Done{}, err
		}
		done := d.named(t, "register")
		done.Custody = CustodyView{State: "in place", Since: t.Created}
		done.Advice = append(d.doubt, advice(t, mark, have)...)
		if in.GoneByLoss != "" {
			said, err := s.goneAtOnce(tx, d, by, t, in.GoneByLoss)
			if err != nil {
				return Done{}, err
			}
			done.Advice = append(said, done.Advice...)
		}
		return done, nil
	})
	if err == nil {
		done.Question = s.question(ctx, in.Evidence)
	}
	return done, err
}

// registerFields fills a new tool from what was entered and asks whether it may
// be added.
func registerFields(tx *store.Tx, d *directory, by By, t *register.Tool, in register.New) error {
	in.Change.SerialAgain = &in.SerialAgain
	if err := readTwice(*t, in.Change); err != nil {
		return err
	}
	if err := change(d, t, in.Change, tx.Now()); err != nil {
		return err
	}
	if err := allowed(by, people.EditTool, d.object(*t)); err != nil {
		return err
	}
	return serialIsFree(&tx.Rx, *t)
}

// readTwice asks for the second reading of a serial that is new to the tool.
func readTwice(t register.Tool, c register.Change) error {
	if c.Serial == nil || *c.Serial == t.Serial {
		return nil
	}
	again := ""
	if c.SerialAgain != nil {
		again = *c.SerialAgain
	}
	return register.CheckSerialTwice(*c.Serial, again)
}

// change applies a change, with owner and place resolved by name.
func change(d *directory, t *register.Tool, c register.Change, now dates.Instant) error {
	loc, err := d.settings.Location()
	if err != nil {
		return err
	}
	var bad fault.Problems
	next, err := c.Apply(*t, now.Day(loc), d.settings.Currency)
	if f := fault.Of(err); f != nil {
		bad = append(bad, f.Fields...)
	}
	if c.Owner != nil {
		next.Owner, err = d.ownerID(*c.Owner)
		bad.Keep("#/owner", err)
	}
	if next.FromOutside() {
		next.Owner = ""
	}
	if c.Place != nil {
		next.Place, err = d.place(*c.Place)
		bad.Keep("#/place", err)
	}
	if err := bad.Err(); err != nil {
		return err
	}
	*t = next
	return nil
}

// serialIsFree refuses the maker and serial of another tool, naming the first.
func serialIsFree(rx *store.Rx, t register.Tool) error {
	if t.SerialKey == "" {
		return nil
	}
	first, found, err := rx.ToolWithSerial(t.MakerKey, t.SerialKey)
	if err != nil || !found || first.ID == t.ID {
		return err
	}
	state := "registered"
	if first.Gone != 0 {
		state = "gone (" + first.GoneWhy + ")"
	}
	return fault.New(fault.Conflict, "serial %s of %s is that of tool %s already, which is %s", t.Serial, makerName(t), first.Number, state).
		WithHint("look at that tool: pawl show %s", first.Number).
		WithFact("number", first.Number.String()).WithFact("state", state)
}

func makerName(t register.Tool) string {
	if t.Maker == "" {
		return "an unnamed maker"
	}
	return t.Maker
}

// numberFor claims a number that was issued, or draws the next.
func numberFor(tx *store.Tx, claim, tool string) (numbers.Number, error) {
	if claim == "" {
		n, err := nextNumber(tx)
		if err != nil {
			return "", err
		}
		return n, store.Put(tx, &register.NumberRow{ID: string(n), State: register.Assigned, Tool: tool, Since: tx.Now()})
	}
	n, err := parseNumber(claim)
	if err != nil {
		return "", fault.At("#/number", "%s", fault.Of(err).Error())
	}
	row, found, err := store.Change[register.NumberRow](tx, string(n))
	switch {
	case err != nil:
		return "", err
	case !found:
		return "", fault.At("#/number", "number %s was never issued", n).WithHint("leave it out and the next is drawn, or print a sheet: pawl labels --blank 30 --sheet letter-3x10 -o blank.pdf")
	case row.State == register.Assigned:
		return "", fault.New(fault.Conflict, "number %s belongs to a tool already", n).WithHint("look at it: pawl show %s", n).WithFact("number", n.String())
	case row.State == register.Void:
		return "", fault.New(fault.Conflict, "number %s is void", n).WithHint("use another label")
	}
	row.State, row.Tool, row.Since = register.Assigned, tool, tx.Now()
	return n, store.Put(tx, &row)
}

// nextNumber draws the next number of the counter, which starts at 1.
func nextNumber(tx *store.Tx) (numbers.Number, error) {
	if err := tx.Lock("numbers"); err != nil {
		return "", err
	}
	last, err := tx.LastNumber()
	if err != nil {
		return "", err
	}
	at := int64(0)
	if last != "" {
		at = last.Counter()
	}
	for {
		at++
		n, err := numbers.FromCounter(at)
		if err != nil || !n.Skipped() {
			return n, err
		}
	}
}

// MaxIssue is the most numbers issued in one act.
const MaxIssue = 2000

// IssueNumbers reserves numbers for labels that are printed first and claimed
// by a tool later.
func (s *Shop) IssueNumbers(ctx context.Context, by By, count int) ([]numbers.Number, error) {
	return act(ctx, s, by, "issue numbers", count, func(tx *store.Tx) (out []numbers.Number, err error) {
		if count < 1 || count > MaxIssue {
			return nil, fault.At("#/count", "%d numbers; 1 to %d are issued at once", count, MaxIssue)
		}
		if err := allowed(by, people.EditTool, people.Object{}); err != nil {
			return nil, err
		}
		for range count {
			n, err := nextNumber(tx)
			if err != nil {
				return nil, err
			}
			if err := store.Put(tx, &register.NumberRow{ID: string(n), State: register.Issued, Since: tx.Now()}); err != nil {
				return nil, err
			}
			out = append(out, n)
		}
		return out, nil
	})
}

// putMarking records how a tool's serial is marked.
func putMarking(tx *store.Tx, t register.Tool, in *register.MarkingEntry) ([]markings.Marking, error) {
	if in == nil {
		return nil, nil
	}
	var bad fault.Problems
	m := markings.Marking{Tool: t.ID, Since: tx.Now()}
	var err error
	m.Method, err = markings.ParseMethod(in.Method)
	bad.Keep("#/marking/method", err)
	if in.Protection != "" {
		m.Protection, err = markings.ParseProtection(in.Protection)
		bad.Keep("#/marking/protection", err)
	}
	m.Spot, err = names.Line(in.Where)
	bad.Keep("#/marking/where", err)
	if err := bad.Err(); err != nil {
		return nil, err
	}
	if m.ID, err = tx.NewID('M'); err != nil {
		return nil, err
	}
	return []markings.Marking{m}, store.Put(tx, &m)
}

// changeMarking records that the maker's serial is protected otherwise, which begins a
// term, or that it is marked anew: another method ends the marking before and makes a
// new record. was is the tool as it was until now.
func changeMarking(tx *store.Tx, by By, was register.Tool, in *register.MarkingEntry) error {
	if in == nil || *in == (register.MarkingEntry{}) {
		return nil
	}
	today, err := todayOf(tx)
	if err != nil {
		return err
	}
	all, err := tx.Markings(was.ID)
	if err != nil {
		return err
	}
	now, is := markings.Current(all)
	if !is || now.Method != "" && in.Method != "" && in.Method != string(now.Method) {
		if is {
			if err := endMarking(tx, now.ID, today); err != nil {
				return err
			}
		}
		_, err := putMarking(tx, was, in)
		return err
	}
	m, err := load[markings.Marking](tx, now.ID, "marking")
	if err != nil {
		return err
	}
	var bad fault.Problems
	term := markings.Term{From: today}
	if in.Method != "" {
		m.Method, err = markings.ParseMethod(in.Method)
		bad.Keep("#/marking/method", err)
	}
	if in.Protection != "" {
		term.Protection, err = markings.ParseProtection(in.Protection)
		bad.Keep("#/marking/protection", err)
	}
	if in.Where != "" {
		m.Spot, err = names.Line(in.Where)
		bad.Keep("#/marking/where", err)
	}
	if err := bad.Err(); err != nil {
		return err
	}
	if err := store.Put(tx, &m); err != nil {
		return err
	}
	_, err = beginTerm(tx, by, was, m, term)
	return err
}

// todayOf is the day of an act, in the shop's zone.
func todayOf(tx *store.Tx) (dates.Date, error) {
	set, err := tx.Settings()
	if err != nil {
		return "", err
	}
	loc, err := set.Location()
	if err != nil {
		return "", err
	}
	return tx.Now().Day(loc), nil
}

// ChangeTool applies a change to the revision that was read: another one is
// Stale, none a Precondition.
func (s *Shop) ChangeTool(ctx context.Context, by By, number string, rev int64, c register.Change) (Done, error) {
	return act(ctx, s, by, "edit", []any{number, rev, c}, func(tx *store.Tx) (Done, error) {
		d, t, err := toolForChange(tx, number)
		if err != nil {
			return Done{}, err
		}
		if err := mayChange(by, d, t, c); err != nil {
			return Done{}, err
		}
		if err := checkRev("tool", rev, t.Rev); err != nil {
			return Done{}, err
		}
		if err := readTwice(t, c); err != nil {
			return Done{}, err
		}
		was := t
		if err := change(d, &t, c, tx.Now()); err != nil {
			return Done{}, err
		}
		if err := mayPass(by, d, was.Owner, t); err != nil {
			return Done{}, err
		}
		if err := serialIsFree(&tx.Rx, t); err != nil {
			return Done{}, err
		}
		if c.Place != nil {
			if err := holdPlaces(tx, t.Place); err != nil {
				return Done{}, err
			}
		}
		if err := store.Put(tx, &t); err != nil {
			return Done{}, err
		}
		if err := usageChanged(tx, by, was, t); err != nil {
			return Done{}, err
		}
		if err := changeMarking(tx, by, t, c.Marking); err != nil {
			return Done{}, err
		}
		return d.done(t, "edit")
	})
}

func mayChange(by By, d *directory, t register.Tool, c register.Change) error {
	if err := allowed(by, people.EditTool, d.object(t)); err != nil {
		return err
	}
	if c.Money() {
		return allowed(by, people.SeeMoney, d.object(t))
	}
	return nil
}

// mayPass asks whether a tool may go from one owner to another: its price and
// papers go with it, so a person's tool passes on only by their own act, or at
// the computer that holds the data folder.
func mayPass(by By, d *directory, before string, t register.Tool) error {
	if before != "" && before != t.Owner && by.Person != before && !by.AtComputer() {
		return fault.New(fault.Forbidden, "only %s can pass this tool on: its price and papers go with it", d.person(before)).
			WithHint("they do it themselves, or it is done at the shop's computer")
	}
	return allowed(by, people.EditTool, d.object(t))
}

// toolForChange finds a tool by number and holds its row, so that acts on one
// tool come one after another.
func toolForChange(tx *store.Tx, number string) (*directory, register.Tool, error) {
	t, err := resolve(&tx.Rx, number)
	if err != nil {
		return nil, t, err
	}
	if t, err = load[register.Tool](tx, t.ID, "tool "+t.Number.String()); err != nil {
		return nil, t, err
	}
	d, err := readNames(&tx.Rx)
	return d, t, err
}

// named begins what is said of an act: which tool it was, in words.
func (d *directory) named(t register.Tool, verb string) Done {
	return Done{Tool: t.ID, Number: t.Number, Kind: t.Kind, Maker: t.Maker, Model: t.Model, Owner: d.owner(t.Owner), Verb: verb}
}

// done is what an act on a tool left behind.
func (d *directory) done(t register.Tool, verb string) (Done, error) {
	out := d.named(t, verb)
	loan, err := d.lastLoan(t)
	if err != nil {
		return out, err
	}
	if out.Custody, err = d.custody(loan); err != nil {
		return out, err
	}
	if out.Custody.Since == 0 {
		out.Custody.Since = t.Created
	}
	if out.Missing, err = d.lacks(t.ID); err != nil {
		return out, err
	}
	out.Wrongs, err = d.OpenWrongs(t.ID)
	out.Advice = slices.Concat(d.doubt, incomplete(out.Missing), register.Cautions(t.Kind))
	return out, err
}
