package model

import (
	"cmp"
	"context"
	"encoding/hex"
	"math"
	"strconv"
	"strings"

	"pawl/model/counts"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/names"
	"pawl/model/people"
	"pawl/model/units"
)

// StartCount starts a count: its list is made and kept at once, and does not change. A
// sample is drawn from a seed that was kept before, in an act of its own.
func (s *Shop) StartCount(ctx context.Context, by By, in StartCount) (v CountView, err error) {
	plan, err := s.planCount(ctx, by, in)
	if err != nil {
		return v, err
	}
	var draw *counts.DrawRow
	if plan.How != counts.InFull {
		first := by
		if first.Replayed = nil; by.Key != "" {
			first.Key += "/draw"
		}
		row, err := s.recordDraw(ctx, first, in)
		if err != nil {
			return v, err
		}
		draw = &row
	}
	return act(ctx, s, by, "count start", in, func(tx *store.Tx) (CountView, error) {
		if err := allowed(by, people.RunCount, people.Object{}); err != nil {
			return CountView{}, err
		}
		d, err := readNames(&tx.Rx)
		if err != nil {
			return CountView{}, err
		}
		c := starting{directory: d, tx: tx, by: by, in: in, draw: draw}
		if err := c.start(); err != nil {
			return CountView{}, err
		}
		st := newStanding(c.row, c.list)
		st.draw = draw
		return d.viewOf(c.by, st, c.advice...)
	})
}

// planCount refuses what cannot be started, before anything is kept.
func (s *Shop) planCount(ctx context.Context, by By, in StartCount) (c counts.Count, err error) {
	if err := allowed(by, people.RunCount, people.Object{}); err != nil {
		return c, err
	}
	err = s.read(ctx, func(d *directory) error {
		c, err = d.countAsked(in)
		return err
	})
	return c, err
}

// countAsked reads what a count is started with.
func (d *directory) countAsked(in StartCount) (c counts.Count, err error) {
	var bad fault.Problems
	c.How = counts.How(strings.ToLower(string(in.How)))
	if c.How == "" && len(in.Strata) > 0 {
		c.How = counts.ByStrata
	}
	switch c.How {
	case "":
		c.How = counts.InFull
	case counts.InFull, counts.BySample, counts.ByStrata, counts.ByUnits:
	default:
		bad.Add("#/how", "%q is no way to count; use full, sample, strata or units", in.How)
	}
	bad.Keep("#/scope", d.countOver(in.Scope, &c))
	confidence := countConfidence
	if c.How == counts.BySample {
		confidence = sampleConfidence
	}
	if in.Confidence != nil {
		confidence = *in.Confidence
	}
	bad.Keep("#/confidence", counts.CheckConfidence(confidence))
	c.Confidence = strconv.FormatFloat(confidence, 'f', -1, 64)
	if c.How == counts.InFull && (in.MissingAtLeast != 0 || in.Seed != nil) {
		bad.Add("#/how", "a full count draws nothing: missing_at_least and seed are for a sample")
	}
	if in.MissingAtLeast < 0 || in.MissingAtLeast > math.MaxInt32 {
		bad.Add("#/missing_at_least", "%d is not 1 or more", in.MissingAtLeast)
	}
	bad.Keep("#/tolerable", d.tolerable(in, &c))
	bad.Keep("#/strata", d.ownStrata(in, &c))
	return c, bad.Err()
}

// tolerable reads how much may be missing, which a count by money needs.
func (d *directory) tolerable(in StartCount, c *counts.Count) error {
	switch {
	case c.How != counts.ByUnits && in.Tolerable != "":
		return fault.New(fault.Invalid, "an amount is for a count by money: units")
	case c.How != counts.ByUnits:
		return nil
	case in.Tolerable == "":
		return fault.New(fault.Invalid, "a count by money needs the amount that may be missing").WithHint("such as 500.00")
	}
	m, err := units.ParseMoney(in.Tolerable, d.settings.Currency)
	if err == nil && m.Minor <= 0 {
		err = fault.New(fault.Invalid, "%q is not over nothing", in.Tolerable)
	}
	c.Tolerable, c.Currency = &m.Minor, m.Currency
	return err
}

// ownStrata reads how somebody wants the list of a count by strata parted.
func (d *directory) ownStrata(in StartCount, c *counts.Count) error {
	if c.How == counts.ByStrata {
		c.Currency = d.settings.Currency
	}
	if len(in.Strata) == 0 {
		return nil
	}
	if c.How != counts.ByStrata {
		return fault.New(fault.Invalid, "strata are for a count by strata")
	}
	own, err := counts.ParseStrata(in.Strata, c.Currency)
	if err != nil {
		return err
	}
	c.Strata = strings.Join(counts.StrataTexts(own, c.Currency), "\n")
	return nil
}

// countOver finds what a count is over.
func (d *directory) countOver(text string, c *counts.Count) error {
	scope, err := counts.ParseScope(text)
	if err != nil {
		return err
	}
	c.Sort = scope.Over
	switch scope.Over {
	case counts.OfPlace:
		p, err := d.placeAt(scope.Of)
		if err != nil {
			return err
		}
		c.Target, scope.Of = p, d.places.Path(p)
	case counts.OfPerson:
		p, err := people.Match(d.people, scope.Of)
		if err != nil {
			return err
		}
		c.Target, scope.Of = p.ID, p.Name
	case counts.OfKind:
		if c.Target, err = names.Line(names.Key(scope.Of)); err != nil {
			return err
		}
		scope.Of = c.Target
	}
	c.Scope = scope.String()
	return nil
}

// placeAt finds a place by its path, or by its symbol. One that was closed is refused.
func (d *directory) placeAt(text string) (id string, err error) {
	p, err := d.placeCalled(strings.TrimSpace(text))
	return p.ID, err
}

// recordDraw keeps what the sample of a count is drawn from: the newest checkpoint and
// a nonce, or the number that somebody chose. Its id is the count's.
func (s *Shop) recordDraw(ctx context.Context, by By, in StartCount) (counts.DrawRow, error) {
	return act(ctx, s, by, "count draw", in, func(tx *store.Tx) (row counts.DrawRow, err error) {
		if row.ID, err = tx.NewID('N'); err != nil {
			return row, err
		}
		row.Chosen, row.Drawn, row.Person = in.Seed, tx.Now(), by.Person
		seed := [32]byte{}
		if in.Seed != nil {
			seed = counts.ChosenSeed(*in.Seed)
		} else {
			if err := tx.Lock("ledger"); err != nil {
				return row, err
			}
			c, err := s.checkpoint(tx)
			if err != nil {
				return row, err
			}
			nonce := make([]byte, 32)
			if err := tx.Chance(nonce); err != nil {
				return row, err
			}
			row.Checkpoint, row.Nonce = c.Note, hex.EncodeToString(nonce)
			seed = counts.Seed([]byte(c.Note), nonce)
		}
		row.Seed = hex.EncodeToString(seed[:])
		return row, store.Put(tx, &row)
	})
}

// starting is a count that is being started.
type starting struct {
	*directory
	tx     *store.Tx
	by     By
	in     StartCount
	draw   *counts.DrawRow
	row    counts.Count
	list   listed
	advice []string
}

func (c *starting) start() (err error) {
	if c.row, err = c.countAsked(c.in); err != nil {
		return err
	}
	c.row.Started, c.row.StartedBy = c.tx.Now(), c.by.Person
	if c.draw != nil {
		c.row.ID = c.draw.ID
	} else if c.row.ID, err = c.tx.NewID('N'); err != nil {
		return err
	}
	list, err := c.ToList(c.row, c.placesUnder(c.row))
	if err != nil {
		return err
	}
	if len(list) == 0 {
		return fault.At("#/scope", "nothing is listed under %s", c.row.Scope).WithHint("see what there is: pawl find, pawl places")
	}
	frame, err := c.toLookFor(list)
	if err != nil {
		return err
	}
	return c.keep(frame)
}

func (d *directory) placesUnder(c counts.Count) []string {
	if c.Sort != counts.OfPlace {
		return nil
	}
	return d.places.Under(c.Target)
}

// toLookFor makes the list, and says which of it are to be looked for.
func (c *starting) toLookFor(list []store.Listed) (frame counts.Frame, err error) {
	for _, t := range list {
		frame = append(frame, t.Entry)
	}
	switch c.row.How {
	case counts.InFull:
		for i := range frame {
			frame[i].Look = true
		}
		return frame, nil
	case counts.BySample:
		n, err := c.sampleSize(len(frame))
		if err != nil {
			return nil, err
		}
		seed, err := c.seed()
		frame.Look(counts.Draw(seed, len(frame), n))
		return frame, err
	}
	return frame, c.byWorth(list, frame)
}

// byWorth marks what is to be looked for in a count by strata or by money.
func (c *starting) byWorth(list []store.Listed, frame counts.Frame) error {
	worths := c.worths(c.by, list)
	for i, w := range worths {
		if w.Known {
			frame[i].Worth = list[i].Price
		}
	}
	seed, err := c.seed()
	if err != nil {
		return err
	}
	if c.row.How == counts.ByUnits {
		interval, err := c.row.Interval()
		if err != nil {
			return err
		}
		u, err := counts.DrawUnits(seed, worths, interval)
		if err == nil && len(u.Looks()) == 0 {
			err = fault.At("#/tolerable", "all that is listed may be worth less than that: nothing was drawn").WithHint("give a smaller amount")
		}
		frame.Look(u.Looks())
		return err
	}
	own, err := c.row.OwnStrata()
	if err != nil {
		return err
	}
	strata, err := counts.Strata(worths, nil)
	if own != nil {
		strata, err = counts.StrataBy(worths, own)
	}
	if err != nil {
		return err
	}
	for _, s := range strata {
		for _, i := range s.Members {
			frame[i].Stratum = s.Class
		}
	}
	frame.Look(counts.DrawStrata(seed, strata))
	return nil
}

// sampleSize is how many are looked at so that one is found if so many are missing.
// Where fewer are listed all are looked at.
func (c *starting) sampleSize(listed int) (int, error) {
	missing := cmp.Or(int(c.in.MissingAtLeast), (listed+9)/10)
	c.row.MissingAtLeast = int64(missing)
	if missing > listed {
		c.advice = append(c.advice, "Only "+strconv.Itoa(listed)+" are listed: all of them are to be looked for.")
		return listed, nil
	}
	return counts.Smallest(listed, missing, c.row.Level())
}

func (c *starting) seed() (seed [32]byte, err error) {
	_, err = hex.Decode(seed[:], []byte(c.draw.Seed))
	return seed, err
}

// keep writes the count and its list.
func (c *starting) keep(frame counts.Frame) error {
	rows, digest, err := frame.Rows(c.row.ID)
	if err != nil {
		return err
	}
	c.row.Digest, c.row.Listed = digest, int64(len(frame))
	for _, e := range frame {
		if e.Look {
			c.row.Drawn++
		}
	}
	if err := c.redraw(); err != nil {
		return err
	}
	for i := range rows {
		if rows[i].ID, err = c.tx.NewID('Y'); err != nil {
			return err
		}
	}
	if err := store.Put(c.tx, &c.row); err != nil {
		return err
	}
	c.list = listOf(frame)
	return store.PutNew(c.tx, rows)
}

// redraw says that the same was drawn from already, on that day or in a count that is
// open: whoever draws until the sample suits them is seen.
func (c *starting) redraw() error {
	if c.row.How == counts.InFull {
		return nil
	}
	loc, err := c.settings.Location()
	if err != nil {
		return err
	}
	yesterday := c.row.Started.Day(loc).AddDays(-1)
	before, found, err := c.SampleOf(c.row, yesterday.EndIn(loc))
	if found {
		c.row.Redraw = before.ID
		c.advice = append(c.advice, "This is a REDRAW: a sample of the same was drawn already, in count "+before.ID+". The report says so.")
	}
	if c.in.Seed != nil {
		c.advice = append(c.advice, "The seed was CHOSEN, and not drawn. The report says so.")
	}
	return err
}
