package store

import (
	"slices"

	"pawl/model/dates"
	"pawl/model/ledger"
)

// Planned is a tool as a rotating plan knows it.
type Planned struct {
	ID, Place string
	Owner     string // person id; empty = the shop
	Outsider  bool   // it is somebody's outside
	Price     *int64 // minor units of Currency; nil = not known
	Currency  string
	Created   dates.Instant
	Gone      bool
}

const plannedColumns = `SELECT id, coalesce(place, ''), coalesce(owner, ''), outsider IS NOT NULL, price, coalesce(currency, ''), coalesce(created, 0), gone IS NOT NULL FROM tools WHERE `

// PlannedAfter gives up to so many tools that are here, by their ids from after one on.
func (r *Rx) PlannedAfter(id string, limit int) ([]Planned, error) {
	return r.planned(plannedColumns+"id > ? AND gone IS NULL ORDER BY id LIMIT ?", id, limit)
}

// PlannedByID gives those of the tools that are on record.
func (r *Rx) PlannedByID(ids []string) (out []Planned, err error) {
	for some := range slices.Chunk(ids, lookRows) {
		part, err := r.planned(plannedColumns+"id IN ("+marks(len(some))+")", values(some)...)
		if err != nil {
			return nil, err
		}
		out = append(out, part...)
	}
	return out, nil
}

func (r *Rx) planned(query string, args ...any) (out []Planned, err error) {
	err = r.query(func(scan func(...any) error) error {
		var p Planned
		err := scan(&p.ID, &p.Place, &p.Owner, &p.Outsider, &p.Price, &p.Currency, (*int64)(&p.Created), &p.Gone)
		out = append(out, p)
		return err
	}, query, args...)
	return out, err
}

// EachLastSeen tells of every tool when it was seen last, once for each way in which it
// was; see LastSeenOf.
func (r *Rx) EachLastSeen(tell func(tool string, at dates.Instant) error) error {
	return r.seenLast(func(tool, _ string, at dates.Instant) error { return tell(tool, at) }, "")
}

// LinesFrom gives up to so many lines from one of that seq on, in their order.
func (r *Rx) LinesFrom(seq int64, limit int) (out []ledger.Line, err error) {
	err = r.query(func(scan func(...any) error) error {
		var raw []byte
		if err := scan(&raw); err != nil {
			return err
		}
		l, err := ledger.ParseLine(raw)
		out = append(out, l)
		return err
	}, "SELECT line FROM lines WHERE seq >= ? ORDER BY seq LIMIT ?", seq, limit)
	return out, err
}
