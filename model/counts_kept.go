package model

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"math"
	"slices"
	"strings"
	"sync"
	"sync/atomic"

	"pawl/model/counts"
	"pawl/model/dates"
	"pawl/model/internal/store"
	"pawl/model/register"
)

// Counts are kept in memory, so that whoever looks every other second how far one is
// asks the store for no more than what was done since.
const (
	countsKept = 4         // at most, the last ones asked for
	listedKept = 1_500_000 // listed tools of all that are kept; one count may have more
)

// recent keeps the last few of something, by weight.
type recent[T any] struct {
	mu     sync.Mutex // never while something is loaded
	keys   []string   // oldest first
	have   map[string]T
	weight func(T) int
}

func (r *recent[T]) get(key string) (T, bool) {
	r.mu.Lock()
	defer r.mu.Unlock()
	out, is := r.have[key]
	if at := slices.Index(r.keys, key); at >= 0 {
		r.keys = append(slices.Delete(r.keys, at, at+1), key)
	}
	return out, is
}

// put keeps something, unless something is kept under that key; what is kept then is
// given.
func (r *recent[T]) put(key string, v T) T {
	r.mu.Lock()
	defer r.mu.Unlock()
	if was, is := r.have[key]; is {
		return was
	}
	if r.have == nil {
		r.have = map[string]T{}
	}
	r.keys, r.have[key] = append(r.keys, key), v
	for len(r.keys) > 1 && (len(r.keys) > countsKept || r.heavy()) {
		delete(r.have, r.keys[0])
		r.keys = r.keys[1:]
	}
	return v
}

func (r *recent[T]) heavy() bool {
	sum := 0
	for _, v := range r.have {
		sum += r.weight(v)
	}
	return sum > listedKept
}

func (r *recent[T]) drop(key string) {
	r.mu.Lock()
	defer r.mu.Unlock()
	delete(r.have, key)
	r.keys = slices.DeleteFunc(r.keys, func(k string) bool { return k == key })
}

// keepCounts says how much each count that is kept weighs.
func (s *Shop) keepCounts() {
	s.frames.weight = func(l listed) int { return len(l.frame) }
	s.listedIn.weight = func(string) int { return 0 }
	s.counted.weight = func(k *keptCount) int { return int(k.listed.Load()) }
}

// listed is the list of one count, with where each tool stands in it.
type listed struct {
	frame counts.Frame
	at    map[string]int
	walk  *walk
}

// walk is the order in which one walks past the tools of a list.
type walk struct {
	mu    sync.Mutex
	paths map[string]string // of the places of the list, by id
	order []int
}

func listOf(frame counts.Frame) listed {
	l := listed{frame: frame, at: make(map[string]int, len(frame)), walk: &walk{paths: map[string]string{}}}
	same := map[string]string{} // one text for all tools of a place
	for i := range frame {
		e := &frame[i]
		if kept, is := same[e.Place]; is {
			e.Place = kept
		} else {
			same[e.Place], l.walk.paths[e.Place] = e.Place, ""
		}
		l.at[e.Tool] = i
	}
	return l
}

func (l listed) entry(tool string) (counts.Entry, bool) {
	i, there := l.at[tool]
	if !there {
		return counts.Entry{}, false
	}
	return l.frame[i], true
}

// walked gives the places in the list of its tools in the order in which one walks
// through the shop. It is worked out once, and again when a place is called otherwise.
func (l listed) walked(places register.Places) []int {
	w := l.walk
	w.mu.Lock()
	defer w.mu.Unlock()
	stale := w.order == nil
	for id, path := range w.paths {
		if now := places.Path(id); now != path {
			w.paths[id], stale = now, true
		}
	}
	if !stale {
		return w.order
	}
	order := make([]int, len(l.frame))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		x, y := l.frame[a], l.frame[b]
		return cmp.Or(counts.WalkingOrder(w.paths[x.Place], w.paths[y.Place]), strings.Compare(string(x.Number), string(y.Number)))
	})
	w.order = order
	return order
}

// frameOf gives the list of a count.
func (s *Shop) frameOf(rx *store.Rx, c counts.Count) (listed, error) {
	key := c.ID + c.Digest
	if l, have := s.frames.get(key); have {
		return l, nil
	}
	rows, err := rx.FrameRows(c.ID)
	if err != nil {
		return listed{}, err
	}
	frame, err := counts.ReadFrame(rows, c.Digest)
	if err != nil {
		return listed{}, err
	}
	return s.frames.put(key, listOf(frame)), nil
}

// readFrame reads the list of a count before an act that needs it, so that nobody who
// writes waits for that. What is wrong with the id the act says.
func (s *Shop) readFrame(ctx context.Context, id string) error {
	id, err := parseCountID(id)
	if err != nil {
		return nil
	}
	if key, have := s.listedIn.get(id); have {
		if _, have = s.frames.get(key); have {
			return nil
		}
	}
	return s.db.Read(ctx, func(rx *store.Rx) error {
		c, found, err := rx.Count(id)
		if err != nil || !found || c.Closed != 0 {
			return err
		}
		if _, err = s.frameOf(rx, c); err == nil {
			s.listedIn.put(id, c.ID+c.Digest)
		}
		return err
	})
}

// keptCount is a count as of a place in the ledger.
type keptCount struct {
	turn   sync.Mutex // of whoever looks at it or brings it up to date; scanning needs none
	st     *countStanding
	size   int64        // lines that it knows
	said   []said       // answers that still hold
	listed atomic.Int64 // how many tools it lists
}

// said is an answer that was given, and holds until something that concerns the count is
// done, or until a time.
type said struct {
	tag         string
	money       bool // for somebody who may know amounts
	from, until dates.Instant
}

// kept runs fn on a count that is brought up to date.
func (s *Shop) kept(ctx context.Context, id string, fn func(*keptCount, *store.Rx) error) error {
	read := s.db.Read
	id, err := parseCountID(id)
	if err != nil {
		return err
	}
	k, have := s.counted.get(id)
	if !have {
		k = s.counted.put(id, &keptCount{})
	}
	k.turn.Lock()
	defer k.turn.Unlock()
	err = read(ctx, func(rx *store.Rx) error {
		if err := s.catchUp(rx, k, id); err != nil {
			k.st = nil
			return err
		}
		return fn(k, rx)
	})
	if k.st == nil {
		s.counted.drop(id)
	}
	return err
}

// standing runs fn on where the tools of a count are now.
func (s *Shop) standing(ctx context.Context, id string, fn func(*directory, *countStanding) error) error {
	return s.kept(ctx, id, func(k *keptCount, rx *store.Rx) error {
		d, err := readNames(rx)
		if err != nil {
			return err
		}
		return fn(d, k.st)
	})
}

// catchUp brings a kept count up to what is read now.
func (s *Shop) catchUp(rx *store.Rx, k *keptCount, id string) error {
	size, err := rx.Size()
	if err != nil {
		return err
	}
	if k.st != nil && size >= k.size && size-k.size <= caughtUp {
		news, err := k.st.news(rx, k.size, size)
		if err != nil {
			return err
		}
		if news.concerns {
			k.said = nil
		}
		if news.row {
			if k.st.count, err = countByID(rx, id); err != nil {
				return err
			}
		}
		if !news.row || k.st.count.Closed == 0 {
			k.size = size
			return k.st.renew(rx, news.tools)
		}
	}
	c, err := countByID(rx, id)
	if err != nil {
		return err
	}
	k.said = nil
	k.st, err = s.stand(rx, c)
	k.size = size
	k.listed.Store(c.Listed)
	return err
}

// news is what lines of the ledger say that concerns a count.
type news struct {
	tools    []string
	row      bool // the count itself was paused, resumed or closed
	concerns bool // any of these, or who and what is called how
}

// news reads the lines from one place in the ledger to another.
func (st *countStanding) news(rx *store.Rx, from, to int64) (n news, err error) {
	if from == to {
		return n, nil
	}
	lines, err := rx.LinesFrom(from, int(to-from))
	if err != nil {
		return n, err
	}
	touched := map[string]bool{}
	for _, l := range lines {
		switch l.Noun {
		case "count":
			n.row = n.row || l.ID == st.count.ID
		case "person", "place", "settings", "clock":
			n.concerns = true
		case "sighting", "difference", "loan", "tool":
			for _, tool := range l.Tools {
				if _, on := st.list.at[tool]; (on || l.Noun != "loan" && l.Noun != "tool") && st.count.Closed == 0 {
					touched[tool] = true
				}
			}
		}
	}
	for tool := range touched {
		n.tools = append(n.tools, tool)
	}
	slices.Sort(n.tools)
	n.concerns = n.concerns || n.row || len(n.tools) > 0
	return n, nil
}

// readCount brings a count up to date before an act that needs all of it, so that nobody
// who writes waits for that. What is wrong the act says.
func (s *Shop) readCount(ctx context.Context, id string) {
	_ = s.kept(ctx, id, func(*keptCount, *store.Rx) error { return nil })
}

// standNow works out where the tools of a count are, within an act: what the act sees may
// yet be undone, and is not kept.
func (s *Shop) standNow(tx *store.Tx, c counts.Count) (*countStanding, error) {
	k, have := s.counted.get(c.ID)
	if !have {
		return s.stand(&tx.Rx, c)
	}
	k.turn.Lock()
	st, from := k.st, k.size
	if st != nil {
		st = st.fork()
	}
	k.turn.Unlock()
	size, err := tx.Size()
	if err != nil {
		return nil, err
	}
	if st == nil || st.count.Closed != c.Closed || size < from || size-from > caughtUp {
		return s.stand(&tx.Rx, c)
	}
	st.count = c
	news, err := st.news(&tx.Rx, from, size)
	if err != nil {
		return nil, err
	}
	return st, st.renew(&tx.Rx, news.tools)
}

// Count gives one count with its numbers as they are now, or were when it was closed.
func (s *Shop) Count(ctx context.Context, by By, id string) (CountView, error) {
	v, _, err := s.CountUnless(ctx, by, id)
	return v, err
}

// CountUnless gives one count as Count does, unless it still is as one of the tags tells,
// which earlier answers had.
func (s *Shop) CountUnless(ctx context.Context, by By, id string, tags ...string) (v CountView, same bool, err error) {
	err = s.kept(ctx, id, func(k *keptCount, rx *store.Rx) error {
		money, now := seesCountMoney(by), rx.Now()
		for _, a := range k.said {
			if a.money == money && a.from <= now && now < a.until && slices.Contains(tags, a.tag) {
				v.Tag, same = a.tag, true
				return nil
			}
		}
		d, err := readNames(rx)
		if err != nil {
			return err
		}
		if v, err = d.viewOf(by, k.st); err != nil {
			return err
		}
		if v.Tag, err = tagOf(v); err != nil {
			return err
		}
		same = slices.Contains(tags, v.Tag)
		if len(d.doubt) == 0 { // a doubt passes without any act
			k.say(said{tag: v.Tag, money: money, from: now, until: k.st.holdsUntil(now)})
		}
		return nil
	})
	return v, same, err
}

func (k *keptCount) say(a said) {
	k.said = append(slices.DeleteFunc(k.said, func(b said) bool { return b.money == a.money }), a)
}

// holdsUntil is when the page begins to ask to look again at the last place.
func (st *countStanding) holdsUntil(now dates.Instant) dates.Instant {
	if st.last.ID == "" || st.count.Closed != 0 || counts.Interrupted(st.last.At, now) {
		return math.MaxInt64
	}
	return st.last.At + counts.LongBreak
}

// tagOf is a digest of all that a view tells.
func tagOf(v CountView) (string, error) {
	text, err := json.Marshal(v)
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:8]), err
}
