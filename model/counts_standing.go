package model

import (
	"cmp"
	"maps"
	"slices"
	"strings"

	"pawl/model/counts"
	"pawl/model/custody"
	"pawl/model/dates"
	"pawl/model/internal/store"
)

// countStanding is where every tool of a count is.
type countStanding struct {
	count   counts.Count
	list    listed
	draw    *counts.DrawRow
	seen    map[string]*counts.Sighting // of listed tools
	extras  map[string]*counts.Sighting // of others
	settled map[string]*counts.Difference
	buckets []counts.Bucket         // where each listed tool is, in the order of the list
	changes map[string]counts.Ended // of those that moved, or left for good, meanwhile
	numbers counts.Numbers
	strata  map[string]*counts.Numbers
	who     []string        // person ids of those who looked, in the order in which they began
	last    counts.Sighting // the last that somebody saw; without id: none
}

// newStanding is where the tools of a list are before anything was seen.
func newStanding(c counts.Count, list listed) *countStanding {
	st := &countStanding{count: c, list: list, seen: map[string]*counts.Sighting{}, extras: map[string]*counts.Sighting{}, settled: map[string]*counts.Difference{},
		buckets: make([]counts.Bucket, len(list.frame)), changes: map[string]counts.Ended{}, strata: map[string]*counts.Numbers{}}
	for i, e := range list.frame {
		st.tell(i, counts.BucketOf(e, nil, nil))
	}
	return st
}

// stand works out where every tool of a count is now, or was when it was closed.
func (s *Shop) stand(rx *store.Rx, c counts.Count) (*countStanding, error) {
	list, err := s.frameOf(rx, c)
	if err != nil {
		return nil, err
	}
	st := newStanding(c, list)
	if draw, found, err := rx.DrawOf(c.ID); err != nil {
		return nil, err
	} else if found {
		st.draw = &draw
	}
	sightings, err := rx.Sightings(c.ID)
	if err != nil {
		return nil, err
	}
	differences, err := rx.Differences(c.ID)
	if err != nil {
		return nil, err
	}
	if c.Closed == 0 {
		return st, st.fill(rx, sightings, differences)
	}
	rows, err := rx.Outcomes(c.ID)
	if err != nil {
		return nil, err
	}
	ended, err := endedOf(rows)
	if err != nil {
		return nil, err
	}
	st.asItEnded(sightings, differences, ended)
	return st, nil
}

// fill puts in what was seen, settled and moved.
func (st *countStanding) fill(rx *store.Rx, sightings []counts.Sighting, differences []counts.Difference) error {
	seen, settled, sure := map[string]counts.Sighting{}, map[string]counts.Difference{}, map[string]bool{}
	for _, s := range sightings {
		seen[s.Tool], sure[s.Tool] = s, s.Found != counts.ByWord
	}
	for _, d := range differences {
		settled[d.Tool] = d
	}
	var unseen []string
	for _, e := range st.list.frame {
		if e.Look && !sure[e.Tool] {
			unseen = append(unseen, e.Tool)
		}
	}
	moved, err := movedSince(rx, unseen, st.count.Started)
	if err != nil {
		return err
	}
	tools := slices.Concat(slices.Collect(maps.Keys(seen)), slices.Collect(maps.Keys(settled)), slices.Collect(maps.Keys(moved)))
	slices.Sort(tools)
	for _, tool := range slices.Compact(tools) {
		st.put(tool, seen, settled, moved)
	}
	st.lookers()
	return nil
}

// asItEnded puts in how a closed count ended.
func (st *countStanding) asItEnded(sightings []counts.Sighting, differences []counts.Difference, ended map[string]counts.Ended) {
	for i := range sightings {
		s := &sightings[i]
		if _, on := st.list.at[s.Tool]; on {
			st.seen[s.Tool] = s
		} else {
			st.extras[s.Tool] = s
		}
	}
	for i := range differences {
		st.settled[differences[i].Tool] = &differences[i]
	}
	st.numbers, st.strata = counts.Numbers{}, map[string]*counts.Numbers{}
	for i, e := range st.list.frame {
		end, differs := ended[e.Tool]
		switch {
		case !e.Look:
			end.Bucket = counts.NotDrawn
		case !differs:
			end.Bucket = counts.Seen
		}
		if st.tell(i, end.Bucket); end.Loan != "" || end.Gone != "" {
			st.changes[e.Tool] = end
		}
	}
	for tool := range st.extras {
		st.numbers.AddExtra(st.settled[tool])
	}
	st.lookers()
}

// byLines is from how many tools on it is quicker to look which of them moved in the lines
// of the ledger.
const byLines = 20_000

// movedSince gives what changed of the custody of tools since then, or that they left for
// good.
func movedSince(rx *store.Rx, tools []string, since dates.Instant) (map[string]counts.Change, error) {
	if len(tools) > byLines {
		touched, err := rx.MovedAfter(since)
		if err != nil {
			return nil, err
		}
		tools = slices.DeleteFunc(slices.Clone(tools), func(t string) bool { return !touched[t] })
	}
	loans, err := rx.LoansChangedSince(tools, since)
	if err != nil {
		return nil, err
	}
	left, err := rx.LeftSince(tools, since)
	if err != nil {
		return nil, err
	}
	out := map[string]counts.Change{}
	for tool, all := range loans {
		if c, is := counts.Changed(since, 0, all); is {
			out[tool] = c
		}
	}
	for tool, gone := range left {
		out[tool] = counts.Change{Gone: gone.Why, At: gone.At}
	}
	return out, nil
}

// tell says that a listed tool is in a bucket, and counts it.
func (st *countStanding) tell(i int, b counts.Bucket) {
	e := st.list.frame[i]
	st.buckets[i] = b
	st.numbers.Add(b, st.settled[e.Tool])
	if e.Stratum == "" {
		return
	}
	if st.strata[e.Stratum] == nil {
		st.strata[e.Stratum] = &counts.Numbers{}
	}
	st.strata[e.Stratum].Add(b, st.settled[e.Tool])
}

// untell takes back that a listed tool is in its bucket.
func (st *countStanding) untell(i int) {
	e := st.list.frame[i]
	st.numbers.Take(st.buckets[i], st.settled[e.Tool])
	if e.Stratum != "" {
		st.strata[e.Stratum].Take(st.buckets[i], st.settled[e.Tool])
	}
}

// put says anew where one tool is, by what was seen, settled and moved of it.
func (st *countStanding) put(tool string, seen map[string]counts.Sighting, settled map[string]counts.Difference, moved map[string]counts.Change) {
	i, on := st.list.at[tool]
	switch {
	case on:
		st.untell(i)
	case st.extras[tool] != nil:
		st.numbers.TakeExtra(st.settled[tool])
	}
	if d, is := settled[tool]; is {
		st.settled[tool] = &d
	}
	if !on {
		if s, was := seen[tool]; was {
			st.extras[tool] = &s
			st.numbers.AddExtra(st.settled[tool])
		}
		return
	}
	var look *counts.Sighting
	if s, was := seen[tool]; was {
		look = &s
		st.seen[tool] = look
	}
	var change *counts.Change
	if m, is := moved[tool]; is && (look == nil || look.Found == counts.ByWord) { // who was seen is not followed
		change = &m
	}
	bucket := counts.BucketOf(st.list.frame[i], look, change)
	delete(st.changes, tool)
	if bucket == counts.Moved || change != nil && change.Lost() && bucket != counts.NotDrawn {
		st.changes[tool] = counts.Ended{Loan: change.Loan.ID, Gone: change.Gone, At: change.At}
	}
	st.tell(i, bucket)
}

// renew says anew where some tools are.
func (st *countStanding) renew(rx *store.Rx, tools []string) error {
	seen, err := rx.SightingsOf(st.count.ID, tools)
	if err != nil {
		return err
	}
	settled, err := rx.DifferencesOf(st.count.ID, tools)
	if err != nil {
		return err
	}
	var listed []string
	for _, tool := range tools {
		if _, on := st.list.at[tool]; on {
			listed = append(listed, tool)
		}
	}
	moved, err := movedSince(rx, listed, st.count.Started)
	if err != nil {
		return err
	}
	anew := false
	for _, tool := range tools {
		was := cmp.Or(st.seen[tool], st.extras[tool])
		st.put(tool, seen, settled, moved)
		if s, is := seen[tool]; is {
			anew = anew || was != nil && was.Rev != s.Rev
			if was == nil {
				st.looker(s)
			}
		}
	}
	if anew {
		st.lookers()
	}
	return nil
}

// looker adds who looked last.
func (st *countStanding) looker(s counts.Sighting) {
	switch {
	case s.Found == counts.ByWord:
	case st.last.ID == "" || bySighting(st.last, s) < 0:
		if st.last = s; !slices.Contains(st.who, s.Person) {
			st.who = append(slices.Clone(st.who), s.Person)
		}
	default: // entered later than it was seen
		st.lookers()
	}
}

// lookers says anew who looked.
func (st *countStanding) lookers() {
	first := map[string]counts.Sighting{}
	st.last = counts.Sighting{}
	for _, all := range []map[string]*counts.Sighting{st.seen, st.extras} {
		for _, s := range all {
			if s.Found == counts.ByWord {
				continue
			}
			if was, is := first[s.Person]; !is || bySighting(*s, was) < 0 {
				first[s.Person] = *s
			}
			if st.last.ID == "" || bySighting(st.last, *s) < 0 {
				st.last = *s
			}
		}
	}
	st.who = slices.SortedFunc(maps.Keys(first), func(a, b string) int { return bySighting(first[a], first[b]) })
}

// bySighting orders looks by when they were.
func bySighting(a, b counts.Sighting) int {
	return cmp.Or(cmp.Compare(a.At, b.At), strings.Compare(a.ID, b.ID))
}

// bucket is where a listed tool is.
func (st *countStanding) bucket(e counts.Entry) counts.Bucket { return st.buckets[st.list.at[e.Tool]] }

// unlisted gives what was seen and is not listed, oldest first.
func (st *countStanding) unlisted() (out []counts.Sighting) {
	for _, s := range st.extras {
		out = append(out, *s)
	}
	slices.SortFunc(out, bySighting)
	return out
}

// fork gives a standing that can change without this one.
func (st *countStanding) fork() *countStanding {
	out := *st
	out.seen, out.extras, out.settled = maps.Clone(st.seen), maps.Clone(st.extras), maps.Clone(st.settled)
	out.buckets, out.changes, out.numbers = slices.Clone(st.buckets), maps.Clone(st.changes), st.numbers.Clone()
	out.strata = map[string]*counts.Numbers{}
	for class, n := range st.strata {
		part := n.Clone()
		out.strata[class] = &part
	}
	return &out
}

// standOf works out where one tool of an open count is: of the others nothing is known.
func (s *Shop) standOf(rx *store.Rx, c counts.Count, tool string) (*countStanding, error) {
	list, err := s.frameOf(rx, c)
	if err != nil {
		return nil, err
	}
	st := newStanding(c, list)
	return st, st.renew(rx, []string{tool})
}

// holderAt is the loan by which a tool was out or away at a time; without id it was not.
func holderAt(loans []custody.Loan, at dates.Instant) custody.Loan {
	for _, l := range loans {
		if l.ID != "" && l.Since <= at && (l.Ended == 0 || l.Ended > at) {
			l.Ended = 0 // it was open then
			return l
		}
	}
	return custody.Loan{}
}
