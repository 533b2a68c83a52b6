package model

import (
	"context"
	"math"
	"strconv"

	"pawl/model/counts"
	"pawl/model/dates"
	"pawl/model/numbers"
)

// MissingTool is a tool that was searched for in a count and not found, and of which
// nothing was seen since.
type MissingTool struct {
	Tool         string
	Number       numbers.Number
	Kind         string
	Maker        string
	Model        string
	Serial       string
	Place        string        // path of where it belongs
	Count        string        // in which it was said to be missing
	Since        dates.Instant // when that was said
	By           string        // by whom
	Note         string        // what was searched
	NotSeenSince dates.Instant // the last time that the record shows it; 0: never
	How          string        // and by what
}

// MissingTools gives the tools that counts left missing, the newest first, with the
// cursor of the next page. Of a loss they are what it begins from.
func (s *Shop) MissingTools(ctx context.Context, by By, limit int, cur string) (out []MissingTool, next string, err error) {
	limit, err = pageLimit(limit)
	if err != nil {
		return nil, "", err
	}
	c, err := parseCursor("missing tools", cur)
	if err != nil {
		return nil, "", err
	}
	before := int64(math.MaxInt64)
	if c.Key != "" {
		if before, err = strconv.ParseInt(c.Key, 10, 64); err != nil {
			return nil, "", badCursor()
		}
	}
	err = s.read(ctx, func(d *directory) error {
		rows, err := d.StillMissing(dates.Instant(before), c.ID, limit+1)
		if err != nil {
			return err
		}
		if len(rows) > limit {
			rows = rows[:limit]
			next = cursor{List: c.List, Key: decimal(int64(rows[limit-1].SettledAt)), ID: rows[limit-1].ID}.String()
		}
		out, err = d.missing(rows)
		return err
	})
	return out, next, err
}

func (d *directory) missing(rows []counts.Difference) (out []MissingTool, err error) {
	var ids []string
	for _, r := range rows {
		ids = append(ids, r.Tool)
	}
	tools, err := d.ToolsByID(ids)
	if err != nil {
		return nil, err
	}
	last, err := d.LastSeenOf(ids)
	for _, r := range rows {
		t, seen := tools[r.Tool], last[r.Tool]
		out = append(out, MissingTool{Tool: t.ID, Number: t.Number, Kind: t.Kind, Maker: t.Maker, Model: t.Model, Serial: t.Serial, Place: d.places.Path(t.Place),
			Count: r.Count, Since: r.SettledAt, By: d.owner(r.Person), Note: r.Note, NotSeenSince: seen.At, How: seen.How})
	}
	return out, err
}
