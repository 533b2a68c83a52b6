package model

import (
	"cmp"
	"context"
	"slices"
	"strconv"
	"strings"

	"pawl/model/dates"
	"pawl/model/evidence"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/numbers"
	"pawl/model/people"
	"pawl/model/register"
)

// WhichQuery describes a tool that has no label to read; empty members do not
// narrow.
type WhichQuery struct {
	Words, Kind, Maker, Place string
	Gone                      bool // gone tools too
	Unfinished                bool // only those photographed and not yet typed, dearest first
	Limit                     int
	Cursor                    string
}

// list names the list of tools under the filters of q.
func (q WhichQuery) list() string {
	q.Limit, q.Cursor = 0, ""
	return under("which", q)
}

// Find is the same question to the list of tools.
func (q WhichQuery) Find() FindQuery {
	return FindQuery{Text: q.Words, Kind: q.Kind, Maker: q.Maker, Place: q.Place, Gone: q.Gone, Unfinished: q.Unfinished, Cursor: q.Cursor}
}

// WhichRow is a tool that it may be, with the photos to tell it by: the whole
// tool first, then its plate.
type WhichRow struct {
	ToolRow
	Photos []evidence.Record
}

// Which gives the tools that fit a description, in the order of their numbers
// unless unfinished ones are asked for, with the cursor of the next page.
func (s *Shop) Which(ctx context.Context, by By, q WhichQuery) (out []WhichRow, next string, err error) {
	limit, err := pageLimit(q.Limit)
	if err != nil {
		return nil, "", err
	}
	c, err := parseCursor(q.list(), q.Cursor)
	if err != nil {
		return nil, "", err
	}
	err = s.db.Read(ctx, func(rx *store.Rx) error {
		d, err := readNames(rx)
		if err != nil {
			return err
		}
		sq, err := d.toolQuery(q.Find())
		if err != nil {
			return err
		}
		if q.Unfinished {
			var rows []ToolRow
			if rows, next, err = d.unfinished(by, sq, limit, c); err == nil {
				out, err = d.withPhotos(rows)
			}
			return err
		}
		sq.After, sq.Limit = numbers.Number(c.Key), limit+1
		tools, err := rx.Tools(sq)
		if err != nil {
			return err
		}
		if len(tools) > limit {
			tools = tools[:limit]
			next = cursor{List: c.List, Key: string(tools[limit-1].Number)}.String()
		}
		out, err = d.whichRows(tools)
		return err
	})
	return out, next, err
}

func (d *directory) whichRows(tools []register.Tool) ([]WhichRow, error) {
	rows, err := d.rows(tools)
	if err != nil {
		return nil, err
	}
	return d.withPhotos(rows)
}

// withPhotos puts the photos to tell tools by beside their rows.
func (d *directory) withPhotos(rows []ToolRow) ([]WhichRow, error) {
	ids := make([]string, len(rows))
	for i, r := range rows {
		ids[i] = r.ID
	}
	photos := map[string][]evidence.Record{}
	for _, kind := range []evidence.Kind{evidence.Whole, evidence.Plate} {
		all, err := d.PhotosOf(ids, kind)
		if err != nil {
			return nil, err
		}
		for _, e := range all {
			photos[e.Tool] = append(photos[e.Tool], e)
		}
	}
	out := make([]WhichRow, len(rows))
	for i, r := range rows {
		out[i] = WhichRow{r, photos[r.ID]}
	}
	return out, nil
}

// standing is where a tool that is not yet typed stands in the list of them:
// those of known price first, dearest first, then by their oldest photo.
type standing struct {
	priced bool
	price  int64
	oldest dates.Instant
	number numbers.Number
}

func (a standing) compare(b standing) int {
	known := func(s standing) int {
		if s.priced {
			return 0
		}
		return 1
	}
	return cmp.Or(cmp.Compare(known(a), known(b)), cmp.Compare(b.price, a.price), cmp.Compare(a.oldest, b.oldest), cmp.Compare(a.number, b.number))
}

func (a standing) String() string {
	return strings.Join([]string{strconv.FormatBool(a.priced), strconv.FormatInt(a.price, 10), strconv.FormatInt(int64(a.oldest), 10), string(a.number)}, ",")
}

func parseStanding(key string) (s standing, err error) {
	parts := strings.Split(key, ",")
	if len(parts) != 4 {
		return s, badCursor()
	}
	var oldest int64
	s.priced = parts[0] == "true"
	s.price, err = strconv.ParseInt(parts[1], 10, 64)
	if err == nil {
		oldest, err = strconv.ParseInt(parts[2], 10, 64)
	}
	if s.oldest, s.number = dates.Instant(oldest), numbers.Number(parts[3]); err != nil {
		return s, badCursor()
	}
	return s, nil
}

// unfinished gives a page of tools that are photographed and not yet typed. A
// price that the asker may not see counts as unknown.
func (d *directory) unfinished(by By, sq store.ToolQuery, limit int, c cursor) (rows []ToolRow, next string, err error) {
	sq.Unfinished = true
	tools, err := d.Tools(sq)
	if err != nil {
		return nil, "", err
	}
	oldest, err := d.OldestPhotos()
	if err != nil {
		return nil, "", err
	}
	stands := func(t register.Tool) standing {
		s := standing{oldest: t.Created, number: t.Number}
		if at, photographed := oldest[t.ID]; photographed {
			s.oldest = at
		}
		if t.Price != nil && people.May(by.Actor, people.SeeMoney, d.object(t)) {
			s.priced, s.price = true, *t.Price
		}
		return s
	}
	slices.SortFunc(tools, func(a, b register.Tool) int { return stands(a).compare(stands(b)) })
	if c.Key != "" {
		after, err := parseStanding(c.Key)
		if err != nil {
			return nil, "", err
		}
		tools = slices.DeleteFunc(tools, func(t register.Tool) bool { return stands(t).compare(after) <= 0 })
	}
	if len(tools) > limit {
		tools = tools[:limit]
		next = cursor{List: c.List, Key: stands(tools[limit-1]).String()}.String()
	}
	rows, err = d.rows(tools)
	return rows, next, err
}

// notYetTyped is said of a tool that was photographed and has no kind.
func notYetTyped(n numbers.Number) string {
	return "Not yet typed: this tool is photographed only. Enter what it is: pawl edit " + n.String() + " --kind KIND …"
}

var errUnfinishedGone = fault.New(fault.Malformed, "a tool that is gone is not waiting to be typed").WithHint("leave gone or unfinished out")
