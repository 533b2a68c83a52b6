package store

import (
	"pawl/model/dates"
	"pawl/model/evidence"
)

// UnsortedQuery picks photos that belong to no tool.
type UnsortedQuery struct {
	All     bool   // else those of Person and of the shop
	Person  string // id
	After   dates.Instant
	AfterID string
	Limit   int
}

// Unsorted gives photos that belong to no tool, no place and no loss, as received.
func (r *Rx) Unsorted(q UnsortedQuery) ([]evidence.Record, error) {
	where := "tool IS NULL AND place IS NULL AND loss IS NULL AND withdrawn IS NULL AND (received_at > ? OR received_at = ? AND id > ?)"
	args := []any{int64(q.After), int64(q.After), q.AfterID}
	if !q.All {
		where, args = where+" AND coalesce(uploaded_by, '') IN ('', ?)", append(args, q.Person)
	}
	return many[evidence.Record](r, "received_at, id", q.Limit, where, args...)
}

// PhotosOf gives what shows any of the tools, oldest first.
func (r *Rx) PhotosOf(tools []string, kind evidence.Kind) ([]evidence.Record, error) {
	return many[evidence.Record](r, "received_at, id", 0, "tool IN ? AND kind = ? AND withdrawn IS NULL", tools, string(kind))
}

// OldestPhotos gives when the oldest photo of each tool that is not yet typed was
// received.
func (r *Rx) OldestPhotos() (map[string]dates.Instant, error) {
	oldest := map[string]dates.Instant{}
	err := r.query(func(scan func(...any) error) error {
		var tool string
		var at int64
		err := scan(&tool, &at)
		oldest[tool] = dates.Instant(at)
		return err
	}, `SELECT e.tool, min(e.received_at) FROM evidence e JOIN tools t ON t.id = e.tool
		WHERE t.kind IS NULL AND e.withdrawn IS NULL GROUP BY e.tool`)
	return oldest, err
}
