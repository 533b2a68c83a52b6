package model

import (
	"context"
	"sync"
	"time"

	"pawl/model/dates"
	"pawl/model/fault"
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

// RoundToday gives how many markings are to be looked at this month, and the first of
// them. found is false while the round is being reckoned.
func (s *Shop) RoundToday(ctx context.Context, by By) (v RoundToday, found bool, err error) {
	var size int64
	var today dates.Date
	if err := s.read(ctx, func(d *directory) error {
		loc, err := d.settings.Location()
		if err != nil {
			return err
		}
		today = d.Now().Day(loc)
		size, err = d.Size()
		if err != nil {
			return err
		}
		return s.rounds.catchUp(d, size, today)
	}); err != nil {
		return v, false, err
	}
	m, err := s.rounds.ask(s, by)
	if err != nil {
		return v, false, err
	}
	select {
	case <-m.done:
		return m.view, m.err == nil, m.err
	case <-time.After(roundTodayWait):
		return v, false, nil
	case <-ctx.Done():
		return v, false, fault.New(fault.Unavailable, "the caller went away before it began").WithCause(ctx.Err())
	}
}

// roundCache keeps the beginning of the round for whoever asked, of one day, until a
// line of the ledger is about something that the round rests on.
type roundCache struct {
	mu     sync.Mutex
	made   map[By]*roundMaking
	size   int64 // lines that were looked through
	day    dates.Date
	wg     sync.WaitGroup
	closed bool
}

// roundMaking is the beginning of a round that is being reckoned, or was.
type roundMaking struct {
	done chan struct{} // closed at its end; before that
	view RoundToday
	err  error
}

// roundAskers is for how many different askers the round is kept.
const roundAskers = 64

// catchUp forgets what was reckoned before something changed that it rests on.
func (c *roundCache) catchUp(d *directory, size int64, today dates.Date) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.made == nil || c.day != today || size < c.size || size > c.size+caughtUp {
		c.made, c.size, c.day = map[By]*roundMaking{}, size, today
		return nil
	}
	lines, err := d.LinesFrom(c.size, int(size-c.size))
	if err != nil {
		return err
	}
	for _, l := range lines {
		switch l.Noun { // a day in use more or less, as loans tell it, is no reason to reckon anew
		case "settings", "place", "tool", "marking", "term", "check", "evidence", "quote", "index":
			clear(c.made)
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
	if len(c.made) >= roundAskers {
		c.made = map[By]*roundMaking{}
	}
	m := &roundMaking{done: make(chan struct{})}
	c.made[by] = m
	c.wg.Add(1)
	go func() {
		defer c.wg.Done()
		defer close(m.done)
		v, err := s.MarkingRound(context.Background(), by, RoundQuery{Limit: roundToday})
		if m.view, m.err = (RoundToday{All: v.All, Rows: v.Rows}), err; err != nil {
			c.forget(by, m)
		}
	}()
	return m, nil
}

// forget lets the next one who asks try anew.
func (c *roundCache) forget(by By, m *roundMaking) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.made[by] == m {
		delete(c.made, by)
	}
}

// close waits until nothing is reckoned any more.
func (c *roundCache) close() {
	c.mu.Lock()
	c.closed = true
	c.mu.Unlock()
	c.wg.Wait()
}
