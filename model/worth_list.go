package model

import (
	"bytes"
	"cmp"
	"context"
	"io"
	"slices"
	"strconv"

	"pawl/model/numbers"
	"pawl/model/sheets"
	"pawl/model/units"
	"pawl/model/worth"
)

// MaxWorthTools is how many tools a page about money lists.
const MaxWorthTools = 1000

// WorthQuery says what is asked of the worth of tools.
type WorthQuery struct {
	Limit      int // of tools on a page
	Cursor     string
	Tax        bool  // with the tax book
	MidQuarter []int // years to which the mid-quarter convention applies
}

// ranked is a tool in a list by money, small enough to hold a million of them.
type ranked struct {
	cost   int64 // -1: no figure
	number [6]byte
}

// ranking is a list of tools, dearest first, then those without a figure, by number.
type ranking struct{ all []ranked }

func (l *ranking) add(w WorthTool) {
	r := ranked{cost: -1}
	if w.Cost != nil {
		r.cost = w.Cost.Amount
	}
	copy(r.number[:], w.Tool.Number)
	l.all = append(l.all, r)
}

func (r ranked) compare(o ranked) int {
	if c := cmp.Compare(o.cost, r.cost); c != 0 {
		return c
	}
	return bytes.Compare(r.number[:], o.number[:])
}

func (l *ranking) sort() { slices.SortFunc(l.all, ranked.compare) }

// page gives the numbers after a cursor of the list of a name, and where the page
// after them begins. Limit 0 is all.
func (l *ranking) page(name, after string, limit int) (some []ranked, more int, next string, err error) {
	c, err := parseCursor(name, after)
	if err != nil {
		return nil, 0, "", err
	}
	some = l.all
	if c.Key != "" {
		last := ranked{}
		if last.cost, err = strconv.ParseInt(c.Key, 10, 64); err != nil || len(c.ID) != len(last.number) {
			return nil, 0, "", badCursor()
		}
		copy(last.number[:], c.ID)
		at, found := slices.BinarySearchFunc(some, last, ranked.compare)
		if found {
			at++
		}
		some = some[at:]
	}
	if limit == 0 || len(some) <= limit {
		return some, 0, "", nil
	}
	last := some[limit-1]
	return some[:limit], len(some) - limit, cursor{List: name, Key: strconv.FormatInt(last.cost, 10), ID: string(last.number[:])}.String(), nil
}

// listed hands over ranked tools in their order, a page at a time.
func (v *valuer) listed(ctx context.Context, list []ranked, each func([]WorthTool) error) error {
	for some := range slices.Chunk(list, exportPage) {
		if err := ctx.Err(); err != nil {
			return err
		}
		wanted := make([]string, len(some))
		for i, r := range some {
			wanted[i] = string(r.number[:])
		}
		tools, err := v.ToolsNumbered(wanted)
		if err != nil {
			return err
		}
		out, err := v.value(inOrder(wanted, tools))
		if err != nil {
			return err
		}
		if err := each(out); err != nil {
			return err
		}
	}
	return nil
}

func inOrder[T any](wanted []string, of map[numbers.Number]T) (out []T) {
	for _, n := range wanted {
		if t, there := of[numbers.Number(n)]; there {
			out = append(out, t)
		}
	}
	return out
}

// Worth gives what the tools are worth that the asker may know of, by place and by
// owner, and how the policies stand against it, with one page of tools.
func (s *Shop) Worth(ctx context.Context, by By, q WorthQuery) (v WorthView, err error) {
	err = s.worth(ctx, by, q, func(head WorthView) error { v = head; return nil }, func(some []WorthTool) error {
		v.Tools = append(v.Tools, some...)
		return nil
	})
	return v, err
}

// WorthStream hands over the sums, then every tool, dearest first, so that no more
// than a few are held at once.
func (s *Shop) WorthStream(ctx context.Context, by By, q WorthQuery, head func(WorthView) error, each func([]WorthTool) error) error {
	q.Limit, q.Cursor = 0, ""
	return s.worth(ctx, by, q, head, each)
}

func (s *Shop) worth(ctx context.Context, by By, q WorthQuery, head func(WorthView) error, each func([]WorthTool) error) error {
	return s.read(ctx, func(d *directory) error {
		v, err := d.valuer(by, q)
		if err != nil {
			return err
		}
		sums, list, err := v.sums(ctx)
		if err != nil {
			return err
		}
		some, more, next, err := list.page("worth", q.Cursor, q.Limit)
		if err != nil {
			return err
		}
		sums.More, sums.Next = more, next
		if err := head(sums); err != nil {
			return err
		}
		return v.listed(ctx, some, each)
	})
}

// worthColumns are those of the spreadsheet.
var worthColumns = []string{"number", "kind", "maker", "model", "owner", "place", "amount", "currency", "of", "source", "date", "actual cash value", "working",
	worth.Indexed, "index", "index from", "index to", "index change percent"}

// WorthCSV writes the tools with their figures; cells are guarded against being
// taken for formulas.
func (s *Shop) WorthCSV(ctx context.Context, by By, w io.Writer) error {
	to, currency := sheets.NewCSV(w, sheets.CSVOptions{Guard: true}), ""
	err := s.WorthStream(ctx, by, WorthQuery{}, func(v WorthView) error {
		currency = v.Currency
		return to.Write(worthColumns)
	}, func(some []WorthTool) error {
		for _, t := range some {
			if err := to.Write(t.cells(currency)); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	return to.Close()
}

func (w WorthTool) cells(currency string) []string {
	money := func(minor int64) string { return units.Money{Minor: minor, Currency: currency}.Decimal() }
	cells := make([]string, len(worthColumns))
	copy(cells, []string{w.Tool.Number.String(), w.Tool.Kind, w.Tool.Maker, w.Tool.Model, w.Owner, w.Place})
	if w.Cost != nil {
		copy(cells[6:], []string{money(w.Cost.Amount), currency, w.Cost.Of, w.Cost.Source, string(w.Cost.Dated), money(w.Value.ActualCash), w.Working()})
	}
	if m := w.Moved; m != nil {
		copy(cells[13:], []string{money(m.Amount), m.Series + ", " + m.Area + ", base " + m.Base, m.FromMonth + " " + m.FromValue, m.ToMonth + " " + m.ToValue, strconv.FormatFloat(m.Percent(), 'f', 1, 64)})
	}
	return cells
}
