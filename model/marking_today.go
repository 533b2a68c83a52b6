package model

import (
	"context"
	"slices"
	"sync"
	"time"

	"pawl/model/counts"
	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/numbers"
	"pawl/model/register"
)

// How many markings of the round the page of today shows, and how long it waits for
// them where the round is yet to be reckoned, which takes longer the more tools there are.
const (
	roundToday     = 3
	roundTodayWait = time.Second
)

// RoundToday is what the page of today tells of this month's round.
type RoundToday struct {
	All  int
	Rows []RoundRow // the first in walking order
}

// RoundStep is where in the walk of this month's round a tool is.
type RoundStep struct {
	Left int            // tools to look at from this one on, it among them; 0: it is not to be looked at today
	Next numbers.Number // empty: nothing comes after it
}

// RoundToday gives how many markings are to be looked at this month, and the first of
// them. found is false while the round is being reckoned.
func (s *Shop) RoundToday(ctx context.Context, by By) (v RoundToday, found bool, err error) {
	m, err := s.roundMade(ctx, by)
	if err != nil {
		return v, false, err
	}
	select {
	case <-m.done:
		return m.view, m.err == nil, m.err
	case <-time.After(roundTodayWait):
		return v, false, nil
	case <-ctx.Done():
		return v, false, wentAway(ctx)
	}
}

// RoundStep gives how much of this month's round is left from a tool on, and which tool
// comes after it; of one that is not on the round, the first at its place or behind. Nobody is sent to a
// tool that was looked at today, though it stays on the round where it is to be seen to.
// It waits until the round is reckoned, which is once for every look that is recorded.
func (s *Shop) RoundStep(ctx context.Context, by By, n numbers.Number) (v RoundStep, err error) {
	m, err := s.roundMade(ctx, by)
	if err != nil {
		return v, err
	}
	select {
	case <-m.done:
	case <-ctx.Done():
		return v, wentAway(ctx)
	}
	if m.err != nil {
		return v, m.err
	}
	at := slices.IndexFunc(m.walk, func(w walked) bool { return w.number == n })
	rest := m.walk[max(at, 0):]
	if at < 0 {
		if rest, err = s.walkFrom(ctx, n, m.walk); err != nil {
			return v, err
		}
	}
	for i, w := range rest {
		if w.looked {
			continue
		}
		v.Left++
		if v.Next == "" && (i > 0 || at < 0) {
			v.Next = w.number
		}
	}
	if at < 0 || m.walk[at].looked {
		v.Left = 0
	}
	return v, nil
}

// walkFrom is what is left of a walk at the place of a tool that is not on it, or not any
// more: whoever looked at it goes on from there, not from the beginning.
func (s *Shop) walkFrom(ctx context.Context, n numbers.Number, walk []walked) (rest []walked, err error) {
	err = s.about(ctx, string(n), func(d *directory, t register.Tool) error {
		place := d.places.Path(t.Place)
		at := slices.IndexFunc(walk, func(w walked) bool { return counts.WalkingOrder(w.place, place) >= 0 })
		if at >= 0 {
			rest = walk[at:]
		}
		return nil
	})
	return rest, err
}

func wentAway(ctx context.Context) error {
	return fault.New(fault.Unavailable, "the caller went away before it began").WithCause(ctx.Err())
}

// roundMade gives the round of whoever asks as it is kept, or what reckons it.
func (s *Shop) roundMade(ctx context.Context, by By) (*roundMaking, error) {
	err := s.read(ctx, func(d *directory) error {
		loc, err := d.settings.Location()
		if err != nil {
			return err
		}
		size, err := d.Size()
		if err != nil {
			return err
		}
		return s.rounds.catchUp(d, size, d.Now().Day(loc))
	})
	if err != nil {
		return nil, err
	}
	return s.rounds.ask(s, by)
}

// walked is a tool of the round.
type walked struct {
	number numbers.Number
	place  string // its path
	looked bool   // today
}

// walk reckons the round and gives its beginning, and the way through all of it.
func (s *Shop) walk(ctx context.Context, by By) (v RoundToday, walk []walked, err error) {
	err = s.read(ctx, func(d *directory) error {
		r, err := d.round(ctx, by)
		if err != nil {
			return err
		}
		walk = make([]walked, len(r.rows))
		for i, row := range r.rows {
			one := r.kept[row.Marking]
			walk[i] = walked{one.tool.Number, row.Place, one.last.On == r.view.Today}
		}
		v.All = len(r.rows)
		v.Rows, err = r.named(r.rows[:min(roundToday, len(r.rows))])
		return err
	})
	return v, walk, err
}

// roundCache keeps the round for whoever asked, of one day, until a
// line of the ledger is about something that the round rests on.
type roundCache struct {
	mu     sync.Mutex
	made   map[By]*roundMaking
	walked int   // numbers that are kept, of all that were made
	size   int64 // lines that were looked through
	day    dates.Date
	wg     sync.WaitGroup
	closed bool
}

// roundMaking is a round that is being reckoned, or was.
type roundMaking struct {
	done chan struct{} // closed at its end; before that
	view RoundToday
	walk []walked // in walking order
	err  error
}

// For how many different askers the round is kept, and how many numbers of tools in all,
// which are some 48 MB, most places being shared.
const (
	roundAskers = 64
	roundWalked = 1_000_000
)

// catchUp forgets what was reckoned before something changed that it rests on.
func (c *roundCache) catchUp(d *directory, size int64, today dates.Date) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.made == nil || c.day != today || size < c.size || size > c.size+caughtUp {
		c.forgetAll()
		c.size, c.day = size, today
		return nil
	}
	lines, err := d.LinesFrom(c.size, int(size-c.size))
	if err != nil {
		return err
	}
	for _, l := range lines {
		switch l.Noun { // a day in use more or less, as loans tell it, is no reason to reckon anew
		case "settings", "place", "tool", "marking", "term", "check", "evidence", "quote", "index":
			c.forgetAll()
		}
	}
	c.size = size
	return nil
}

// ask gives the round of whoever asks, or what reckons it.
func (c *roundCache) ask(s *Shop, by By) (*roundMaking, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.closed {
		return nil, fault.New(fault.Unavailable, "the shop is closed")
	}
	by.Key, by.Replayed = "", nil
	if m := c.made[by]; m != nil {
		return m, nil
	}
	if len(c.made) >= roundAskers || c.walked > roundWalked {
		c.forgetAll()
	}
	m := &roundMaking{done: make(chan struct{})}
	c.made[by] = m
	c.wg.Add(1)
	go func() {
		defer c.wg.Done()
		defer close(m.done)
		m.view, m.walk, m.err = s.walk(context.Background(), by)
		c.keep(by, m)
	}()
	return m, nil
}

// keep counts what was reckoned; where it failed, the next one who asks tries anew.
func (c *roundCache) keep(by By, m *roundMaking) {
	c.mu.Lock()
	defer c.mu.Unlock()
	switch {
	case c.made[by] != m: // forgotten meanwhile
	case m.err != nil:
		delete(c.made, by)
	default:
		c.walked += len(m.walk)
	}
}

// forgetAll is called with mu.
func (c *roundCache) forgetAll() { c.made, c.walked = map[By]*roundMaking{}, 0 }

// close waits until nothing is reckoned any more.
func (c *roundCache) close() {
	c.mu.Lock()
	c.closed = true
	c.mu.Unlock()
	c.wg.Wait()
}
