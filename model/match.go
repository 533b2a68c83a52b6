package model

import (
	"context"
	"encoding/binary"
	"strconv"
	"strings"
	"sync"

	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/matching"
	"pawl/model/names"
	"pawl/model/serials"
)

// MatchQuery asks which tool a worn serial is of. Maker and Kind narrow, empty is
// any; Found says where the tool was found: on one's own bench, which is meant
// where nothing is said, in a list of one's own losses, or by others.
type MatchQuery struct {
	Reading, Maker, Kind, Found string
	Limit                       int // 0: 10; at most 50
}

// MatchView is what a reading comes to; see matching.Answer.
type MatchView struct {
	Reading    string // as it was understood
	Candidates []MatchedTool
	None       float64
	Others     float64
	Error      float64
	Registered int
	Found      string
	NoneBefore float64 // the chance that it is none of them, before anything was read
}

// MatchedTool is a candidate.
type MatchedTool struct {
	matching.Candidate
	Row WhichRow // with the photos to tell it by
}

// Where a tool may have been found, with the chance that it is none of the
// registered ones; our choice.
var foundWhere = []struct {
	name string
	none float64
}{{"bench", 0.2}, {"list", 0.5}, {"others", 0.9}}

const (
	usualMatches = 10
	mostMatches  = 50
)

// Match tells which registered tool a reading of a worn serial may be of. Tools
// that are gone count: a stolen one may be found. It writes nothing, and what it
// answers is a guess that never becomes a serial.
func (s *Shop) Match(ctx context.Context, by By, q MatchQuery) (v MatchView, err error) {
	asked, err := q.read()
	if err != nil {
		return v, err
	}
	err = s.read(ctx, func(d *directory) error {
		ix, err := s.serials.upTo(d)
		if err != nil {
			return err
		}
		if err := q.narrows(ix, asked, "the register"); err != nil {
			return err
		}
		v, err = d.matched(ctx, ix, asked, q)
		return err
	})
	return v, err
}

// ReadSerials reads the serials of all tools, so that whoever asks first for a worn one
// does not wait for that.
func (s *Shop) ReadSerials(ctx context.Context) error {
	return s.read(ctx, func(d *directory) error {
		_, err := s.serials.upTo(d)
		return err
	})
}

// narrows refuses a maker or a kind that leaves nothing to hold the reading against:
// others may call both otherwise, and "none of these" would be said of a tool that
// is there.
func (q MatchQuery) narrows(ix *matching.Index, asked matching.Query, where string) error {
	if asked.Maker != "" && !ix.Knows(asked.Maker) {
		return fault.At("#/maker", "%s holds no serial of %q", where, q.Maker).WithHint("leave the maker out, or spell it as %s does", where)
	}
	if asked.Kind == "" || ix.Has(asked.Maker, asked.Kind) {
		return nil
	}
	of := ""
	if asked.Maker != "" {
		of = " of " + strconv.Quote(q.Maker)
	}
	return fault.At("#/kind", "%s holds no serial%s on a tool of kind %q", where, of, q.Kind).WithHint("leave the kind out, or spell it as %s does", where)
}

// read checks a query.
func (q *MatchQuery) read() (m matching.Query, err error) {
	var bad fault.Problems
	m.Reading, err = matching.Parse(q.Reading)
	bad.Keep("#/reading", err)
	q.Maker, err = names.Line(q.Maker)
	bad.Keep("#/maker", err)
	m.Maker, m.Kind = serials.MakerKey(q.Maker), names.Key(q.Kind)
	if q.Limit == 0 {
		q.Limit = usualMatches
	}
	if q.Limit < 1 || q.Limit > mostMatches {
		bad.Add("#/limit", "%d candidates; 1 to %d are listed", q.Limit, mostMatches)
	}
	q.Found, m.None, err = whereFound(q.Found)
	bad.Keep("#/found", err)
	return m, bad.Err()
}

func whereFound(found string) (name string, none float64, err error) {
	if found == "" {
		found = foundWhere[0].name
	}
	for _, w := range foundWhere {
		if w.name == found {
			return w.name, w.none, nil
		}
	}
	return "", 0, fault.At("#/found", "%q is not where a tool may be found; use bench, list or others", found)
}

func viewOf(a matching.Answer, asked matching.Query, found string) MatchView {
	return MatchView{Reading: asked.Reading.String(), None: a.None, Others: a.Others, Error: a.Error, Registered: a.Registered, Found: found, NoneBefore: asked.None}
}

// matched asks the index and puts tools to the candidates. One that this view does
// not know yet is left to the others.
func (d *directory) matched(ctx context.Context, ix *matching.Index, asked matching.Query, q MatchQuery) (MatchView, error) {
	a, err := ix.Match(ctx, asked, matching.Usual, q.Limit)
	v := viewOf(a, asked, q.Found)
	if err != nil {
		return v, err
	}
	var ids []string
	for _, c := range a.Candidates {
		ids = append(ids, toolOf(c.Handle))
	}
	rows, err := d.rowsByID(ids)
	if err != nil {
		return v, err
	}
	var there []ToolRow
	for i, c := range a.Candidates {
		if row, known := rows[ids[i]]; known {
			v.Candidates, there = append(v.Candidates, MatchedTool{Candidate: c}), append(there, row)
		} else {
			v.Others += c.Posterior
		}
	}
	shown, err := d.withPhotos(there)
	for i, row := range shown {
		v.Candidates[i].Row = row
	}
	return v, err
}

// An id of a tool is T- and eight characters of one byte: as a handle, a number.
const handled = len("T-") + 8

func handleOf(tool string) (uint64, error) {
	if len(tool) != handled {
		return 0, fault.New(fault.Internal, "%q is not the id of a tool", tool)
	}
	return binary.BigEndian.Uint64([]byte(tool[handled-8:])), nil
}

func toolOf(handle uint64) string {
	return "T-" + string(binary.BigEndian.AppendUint64(nil, handle))
}

// serialCache keeps the serials of all tools for matching, as of a place in the
// ledger. It catches up by what newer lines are about, whichever process wrote them.
type serialCache struct {
	mu   sync.Mutex
	size int64
	ix   *matching.Index

	sorting   *matching.Index   // what is sorted at the moment, beside all questions; nil: nothing
	meanwhile []matching.Change // what came since
}

// manyMarked is from how many changed tools on all are read again.
const manyMarked = 20000

// upTo brings the serials up to what is read now. It may give newer ones, where
// somebody who reads later came first.
func (c *serialCache) upTo(d *directory) (*matching.Index, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	size, err := d.Size()
	if err != nil {
		return nil, err
	}
	if c.ix == nil {
		return c.renew(d, size)
	}
	if size <= c.size {
		return c.ix, nil
	}
	var changes []matching.Change
	var bad error
	err = d.MarkedSince(c.size, func(m store.Marked, fresh bool) {
		e, err := entryOf(m)
		if err != nil {
			bad = err
			return
		}
		changes = append(changes, matching.Change{Entry: e, New: fresh})
	})
	if err == nil {
		err = bad
	}
	if err != nil {
		return nil, err
	}
	if len(changes) > manyMarked {
		return c.renew(d, size)
	}
	c.ix, c.size = c.ix.Update(changes), size
	c.sort(changes)
	return c.ix, nil
}

// sort has a crowded index sorted, so that no question waits for it.
func (c *serialCache) sort(changes []matching.Change) {
	if c.sorting != nil {
		c.meanwhile = append(c.meanwhile, changes...)
		return
	}
	if !c.ix.Crowded() {
		return
	}
	from := c.ix
	c.sorting, c.meanwhile = from, nil
	go func() {
		sorted := from.Sorted()
		c.mu.Lock()
		defer c.mu.Unlock()
		if c.sorting == from { // all were not read again meanwhile
			c.ix, c.sorting = sorted.Update(c.meanwhile), nil
		}
	}()
}

func (c *serialCache) renew(d *directory, size int64) (*matching.Index, error) {
	b := matching.NewBuilder()
	var bad error
	err := d.EachMarked(func(m store.Marked) {
		e, err := entryOf(m)
		if err != nil {
			bad = err
			return
		}
		b.Add(e)
	})
	if err == nil {
		err = bad
	}
	if err != nil {
		return nil, err
	}
	c.ix, c.size, c.sorting = b.Index(), size, nil
	return c.ix, nil
}

func entryOf(m store.Marked) (matching.Entry, error) {
	handle, err := handleOf(m.Tool)
	return matching.Entry{Handle: handle, Maker: m.Maker, Kind: m.Kind, Serial: m.Serial}, err
}

// toldInWords writes cells of a candidate in words: "8 at place 5".
func toldInWords(all []matching.Told, differs bool) string {
	var parts []string
	for _, t := range all {
		parts = append(parts, t.Words(differs))
	}
	return strings.Join(parts, ", ")
}

// Deciding says which cells speak for a candidate, in words.
func (m MatchedTool) Deciding() string { return toldInWords(m.Decided, false) }

// Differing says which cells were read as something else, in words.
func (m MatchedTool) Differing() string { return toldInWords(m.Against, true) }

// State is where the tool is, or that it is gone and why.
func (m MatchedTool) State() string {
	if m.Row.GoneWhy != "" {
		return "gone (" + m.Row.GoneWhy + ")"
	}
	return string(m.Row.State)
}
