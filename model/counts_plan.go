package model

import (
	"cmp"
	"context"
	"math"
	"slices"
	"strings"
	"sync"
	"time"

	"pawl/model/counts"
	"pawl/model/custody"
	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/numbers"
	"pawl/model/people"
)

// PlanWithin is in how many days a rotating plan has every tool seen, where nobody says
// otherwise. It is our choice.
const PlanWithin = 90

// CountPlanView is the share of today in a rotating plan.
type CountPlanView struct {
	Within                    int // days
	Usual, Late, Behind, Look int // see counts.DayShare
	Tools                     []PlannedTool
}

// PlannedTool is a tool that is to be looked at today.
type PlannedTool struct {
	Number numbers.Number
	Kind   string
	Place  string     // path of where it belongs
	Holder string     // who has it now
	Seen   dates.Date // empty: never
}

// CountPlan gives the tools to look at today so that every one is seen within so many
// days, dear ones more often. What the asker may not know the price of is not taken for
// cheap.
func (s *Shop) CountPlan(ctx context.Context, by By, within int) (v CountPlanView, err error) {
	v.Within = within
	_, err = s.rotas.ask(ctx, s, 0, func(d *directory, r *counts.Rota) error { return s.rotas.share(d, by, r, -1, &v) })
	return v, err
}

// rotaCache keeps the rota of all tools as of a place in the ledger, and catches up by
// the tools that newer lines are about. It is made once, beside whoever asks.
type rotaCache struct {
	mu     sync.Mutex // by whoever asks or changes what is below; never while it is made
	rota   *counts.Rota
	size   int64          // lines that it knows
	zone   string         // by which an instant is a day
	money  string         // of prices that count
	rank   map[string]int // of places, as one walks; nil: to be made
	making *making        // nil: nobody makes it
	closed bool
}

// making is a rota that is being made.
type making struct {
	done chan struct{} // closed at its end
	err  error         // before that
}

// caughtUp is how many lines are caught up with; after more the rota is made anew.
const caughtUp = 20_000

// ask runs fn on the rota as it is now. Where it is yet to be made it waits so long, to
// the end where wait is 0; ready is false where that was not enough.
func (c *rotaCache) ask(ctx context.Context, s *Shop, wait time.Duration, fn func(*directory, *counts.Rota) error) (ready bool, err error) {
	var limit <-chan time.Time
	if wait > 0 {
		limit = time.After(wait)
	}
	for {
		m, err := c.use(ctx, s, fn)
		if m == nil || err != nil {
			return err == nil, err
		}
		select {
		case <-m.done:
			if m.err != nil {
				return false, m.err
			}
		case <-limit:
			return false, nil
		case <-ctx.Done():
			return false, fault.New(fault.Unavailable, "the caller went away before it began").WithCause(ctx.Err())
		}
	}
}

// use runs fn on the rota; or it gives whoever makes that, and did not run fn.
func (c *rotaCache) use(ctx context.Context, s *Shop, fn func(*directory, *counts.Rota) error) (*making, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.closed {
		return nil, fault.New(fault.Unavailable, "the shop is closed")
	}
	if c.rota != nil {
		err := s.read(ctx, func(d *directory) error {
			if err := c.catchUp(d); err != nil || c.rota == nil {
				return err
			}
			return fn(d, c.rota)
		})
		if c.rota != nil || err != nil {
			return nil, err
		}
	}
	if c.making == nil {
		c.making = &making{done: make(chan struct{})}
		go c.make(s, c.making)
	}
	return c.making, nil
}

// make makes the rota, and tells those who wait for it.
func (c *rotaCache) make(s *Shop, m *making) {
	rota, next := counts.NewRota(), rotaCache{}
	m.err = s.read(context.Background(), func(d *directory) (err error) {
		if next.size, err = d.Size(); err != nil {
			return err
		}
		next.zone, next.money = d.settings.Zone, d.settings.Currency
		return c.fill(d, rota)
	})
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.making = nil; m.err == nil {
		c.rota, c.size, c.zone, c.money, c.rank = rota, next.size, next.zone, next.money, nil
	}
	close(m.done)
}

// fill puts every tool on a rota.
func (c *rotaCache) fill(d *directory, rota *counts.Rota) error {
	loc, err := d.settings.Location()
	if err != nil {
		return err
	}
	for after := ""; ; {
		tools, err := d.PlannedAfter(after, 10_000)
		if err != nil {
			return err
		}
		if c.ending() {
			return fault.New(fault.Unavailable, "the shop is closed")
		}
		if len(tools) == 0 {
			break
		}
		for _, t := range tools {
			rota.Put(d.turn(t, 0, loc))
		}
		after = tools[len(tools)-1].ID
	}
	return d.EachLastSeen(func(tool string, at dates.Instant) error {
		if c.ending() {
			return fault.New(fault.Unavailable, "the shop is closed")
		}
		rota.Saw(tool, at.Day(loc))
		return nil
	})
}

func (c *rotaCache) ending() bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.closed
}

// close ends the making of a rota, and waits for its end.
func (c *rotaCache) close() {
	c.mu.Lock()
	c.closed = true
	m := c.making
	c.mu.Unlock()
	if m != nil {
		<-m.done
	}
}

// catchUp brings the rota up to what is read now, or drops it where that is quicker made
// anew.
func (c *rotaCache) catchUp(d *directory) error {
	size, err := d.Size()
	if err != nil {
		return err
	}
	if size < c.size || size > c.size+caughtUp || c.zone != d.settings.Zone || c.money != d.settings.Currency {
		c.rota = nil
		return nil
	}
	lines, err := d.LinesFrom(c.size, int(size-c.size))
	if err != nil {
		return err
	}
	changed := map[string]bool{}
	for _, l := range lines {
		switch l.Noun {
		case "place":
			c.rank = nil
		case "tool", "loan", "sighting", "use", "calibration":
			for _, tool := range l.Tools {
				changed[tool] = true
			}
		}
	}
	if err := c.renew(d, changed); err != nil {
		return err
	}
	c.size = size
	return nil
}

// renew puts tools on the rota as they are now.
func (c *rotaCache) renew(d *directory, changed map[string]bool) error {
	var ids []string
	for id := range changed {
		ids = append(ids, id)
	}
	slices.Sort(ids)
	loc, err := d.settings.Location()
	if err != nil || len(ids) == 0 {
		return err
	}
	tools, err := d.PlannedByID(ids)
	if err != nil {
		return err
	}
	last, err := d.LastSeenOf(ids)
	if err != nil {
		return err
	}
	for _, t := range tools {
		if t.Gone {
			c.rota.Drop(t.ID)
			continue
		}
		c.rota.Put(d.turn(t, last[t.ID].At, loc))
	}
	return nil
}

// turn is a tool as the rota has it. A tool of somebody outside is worth nothing to the
// shop.
func (d *directory) turn(t store.Planned, seen dates.Instant, loc *time.Location) counts.Turn {
	out := counts.Turn{Tool: t.ID, Place: t.Place, Whose: t.Owner, Since: t.Created.Day(loc)}
	if t.Price != nil && !t.Outsider && t.Currency == d.settings.Currency {
		out.Worth = counts.Worth{Minor: *t.Price, Known: true}
	}
	if seen != 0 {
		out.Seen = seen.Day(loc)
	}
	return out
}

// share tells an asker the share of today: the numbers, and at most so many tools.
func (c *rotaCache) share(d *directory, by By, r *counts.Rota, most int, v *CountPlanView) error {
	loc, err := d.settings.Location()
	if err != nil {
		return err
	}
	key, sees := d.pricesSeen(by)
	share, err := r.Plan(key, sees).Share(d.Now().Day(loc), v.Within, most, c.walk(d))
	if err != nil {
		return err
	}
	v.Usual, v.Late, v.Behind, v.Look = share.Usual, share.Late, share.Behind, share.Look
	v.Tools, err = d.plannedTools(share.Tools)
	return err
}

// walk orders places as one walks through the shop; what is in none comes last.
func (c *rotaCache) walk(d *directory) func(place string) int {
	if c.rank == nil {
		var ids []string
		paths := map[string]string{}
		for id := range d.places {
			ids, paths[id] = append(ids, id), d.places.Path(id)
		}
		slices.SortFunc(ids, func(a, b string) int { return cmp.Or(counts.WalkingOrder(paths[a], paths[b]), strings.Compare(a, b)) })
		c.rank = map[string]int{}
		for i, id := range ids {
			c.rank[id] = i
		}
	}
	return func(place string) int {
		if i, known := c.rank[place]; known {
			return i
		}
		return math.MaxInt
	}
}

// pricesSeen says over whose money the asker may see, and a key that all have who may see
// the same.
func (d *directory) pricesSeen(by By) (key string, sees func(whose string) bool) {
	seen := map[string]bool{"": people.May(by.Actor, people.SeeMoney, people.Object{})}
	for _, p := range d.people {
		seen[p.ID] = people.May(by.Actor, people.SeeMoney, people.Object{Owner: p.ID, OwnerShares: p.Shares})
	}
	var all []string
	for id, may := range seen {
		if may {
			all = append(all, id)
		}
	}
	slices.Sort(all)
	return strings.Join(all, "\n") + map[bool]string{true: "\nshop"}[seen[""]], func(whose string) bool { return seen[whose] }
}

// worths gives what listed tools are worth, as far as the asker may know it.
func (d *directory) worths(by By, list []store.Listed) []counts.Worth {
	out := make([]counts.Worth, len(list))
	for i, t := range list {
		seen := people.May(by.Actor, people.SeeMoney, people.Object{Owner: t.Owner, OwnerShares: d.byID[t.Owner].Shares})
		if seen && !t.Outsider && t.Price != nil && t.Currency == d.settings.Currency {
			out[i] = counts.Worth{Minor: *t.Price, Known: true}
		}
	}
	return out
}

// plannedTools puts tools of a share into names.
func (d *directory) plannedTools(share []counts.Standing) (out []PlannedTool, err error) {
	ids := make([]string, len(share))
	for i, s := range share {
		ids[i] = s.Tool
	}
	tools, err := d.ToolsByID(ids)
	if err != nil {
		return nil, err
	}
	holders := map[string]string{}
	for some := range slices.Chunk(ids, 500) {
		loans, err := d.OpenLoans(some)
		if err != nil {
			return nil, err
		}
		for _, l := range loans {
			if l.Now() != custody.InPlace {
				holders[l.Tool] = d.holder(l).Name
			}
		}
	}
	for _, s := range share {
		t := tools[s.Tool]
		out = append(out, PlannedTool{Number: t.Number, Kind: t.Kind, Place: d.places.Path(s.Place), Holder: holders[s.Tool], Seen: s.Seen})
	}
	return out, nil
}
