package model

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"slices"

	"pawl/model/claims"
	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/numbers"
	"pawl/model/people"
	"pawl/model/register"
	"pawl/model/sheets"
	"pawl/model/units"
	"pawl/model/worth"
)

// QuotesReport is what an import of quotes did, or would do.
type QuotesReport struct {
	DryRun                 bool
	Rows, Added, Unchanged int
	Tools                  []numbers.Number // in the order of the rows, added ones
}

// ImportQuotes records what new tools cost, from a CSV with the columns number,
// amount, source and date: all rows or none. A quote that is on record already is
// counted and left alone.
func (s *Shop) ImportQuotes(ctx context.Context, by By, file io.Reader, dryRun bool) (QuotesReport, error) {
	rows, print, err := readRows(file)
	if err != nil {
		return QuotesReport{}, err
	}
	in := quoting{by: by, rows: rows}
	if dryRun {
		err := s.db.Read(ctx, func(rx *store.Rx) error { return in.plan(rx) })
		in.report.DryRun, in.report.Tools = true, nil
		return in.report, err
	}
	return act(ctx, s, by, "worth quotes", print, func(tx *store.Tx) (QuotesReport, error) {
		in := quoting{by: by, rows: rows}
		if err := in.plan(&tx.Rx); err != nil {
			return QuotesReport{}, err
		}
		for i := range in.quotes {
			q := &in.quotes[i]
			q.Entered, q.Person = tx.Now(), by.Person
			var err error
			if q.ID, err = tx.NewID('X'); err != nil {
				return QuotesReport{}, err
			}
		}
		return in.report, store.PutNew(tx, in.quotes)
	})
}

// readRows reads a CSV whole, with the hash of its bytes.
func readRows(file io.Reader) (rows []sheets.Row, print string, err error) {
	sum := sha256.New()
	r, err := sheets.ReadCSV(io.TeeReader(file, sum), sheets.Options{})
	if err != nil {
		return nil, "", err
	}
	defer r.Close()
	for {
		row, err := r.Next()
		if err == io.EOF {
			return rows, hex.EncodeToString(sum.Sum(nil)), nil
		}
		if err != nil {
			return nil, "", err
		}
		rows = append(rows, row)
	}
}

// AddQuote records what a new tool of the sort costs. The very same quote again is a
// Conflict.
func (s *Shop) AddQuote(ctx context.Context, by By, number string, in worth.NewQuote) (WorthTool, error) {
	return act(ctx, s, by, "worth quote", []any{number, in}, func(tx *store.Tx) (w WorthTool, err error) {
		h, err := s.handToPrice(tx, by, number)
		if err != nil {
			return w, err
		}
		if err := h.mayPrice(); err != nil {
			return w, err
		}
		loc, err := h.settings.Location()
		if err != nil {
			return w, err
		}
		q, err := in.Read(h.settings.Currency, tx.Now().Day(loc))
		if err != nil {
			return w, err
		}
		known, err := tx.Quotes([]string{h.tool.ID})
		if err != nil {
			return w, err
		}
		if at := slices.IndexFunc(known[h.tool.ID], q.Same); at >= 0 {
			return w, fault.New(fault.Conflict, "this quote of %s is on record already", q.Dated).WithFact("since", known[h.tool.ID][at].Entered.String())
		}
		q.Tool, q.Entered, q.Person = h.tool.ID, tx.Now(), by.Person
		if q.ID, err = tx.NewID('X'); err != nil {
			return w, err
		}
		if err := store.Put(tx, &q); err != nil {
			return w, err
		}
		return h.worthNow()
	})
}

// handToPrice is handFor for what a tool is worth. What a new one costs is asked after a
// theft too: a tool that is gone by a loss is priced like one that is here.
func (s *Shop) handToPrice(tx *store.Tx, by By, number string) (*hand, error) {
	d, t, err := toolForChange(tx, number)
	if err != nil {
		return nil, err
	}
	if gone, err := goneAndNotOfLoss(&tx.Rx, t); err != nil || gone {
		if err == nil {
			err = isGone(&tx.Rx, t)
		}
		return nil, err
	}
	return handOf(tx, d, by, t)
}

// goneAndNotOfLoss says of a tool that is gone that no loss is why.
func goneAndNotOfLoss(rx *store.Rx, t register.Tool) (bool, error) {
	if t.Gone == 0 {
		return false, nil
	}
	lines, err := rx.LossLinesOf(t.ID)
	return !slices.ContainsFunc(lines, claims.LossLine.Open), err
}

// mayPrice says whether the asker may enter what the tool is worth: who sees its
// money and may edit it.
func (h *hand) mayPrice() error {
	if err := allowed(h.by, people.EditTool, h.object(h.tool)); err != nil {
		return err
	}
	if !people.May(h.by.Actor, people.SeeMoney, h.object(h.tool)) {
		return fault.New(fault.Forbidden, "what %s is worth is not yours to enter", h.tool.Number).WithHint("its owner does, or shares it")
	}
	return nil
}

// worthNow is what the tool is worth after the act.
func (h *hand) worthNow() (WorthTool, error) {
	v, err := h.valuer(h.by, WorthQuery{})
	if err != nil {
		return WorthTool{}, err
	}
	all, err := v.value([]register.Tool{h.tool})
	if err != nil {
		return WorthTool{}, err
	}
	return all[0], nil
}

// WorthOfTool is what one tool is worth, with every quote on record.
type WorthOfTool struct {
	WorthTool
	Today  dates.Date
	Quotes []worth.Quote // newest entered first
	Judges bool          // the asker may enter quotes and condition
}

// ToolWorth gives what one tool is worth to whoever may see its money.
func (s *Shop) ToolWorth(ctx context.Context, by By, number string) (w WorthOfTool, err error) {
	err = s.about(ctx, number, func(d *directory, t register.Tool) error {
		v, err := d.valuer(by, WorthQuery{})
		if err != nil {
			return err
		}
		all, err := v.value([]register.Tool{t})
		if err != nil {
			return err
		}
		w = WorthOfTool{WorthTool: all[0], Today: v.today}
		if !w.Shown {
			return fault.New(fault.NotFound, "what %s is worth is its owner's to show", t.Number)
		}
		w.Judges = t.Gone == 0 && people.May(by.Actor, people.EditTool, d.object(t))
		quotes, err := d.Quotes([]string{t.ID})
		w.Quotes = quotes[t.ID]
		slices.Reverse(w.Quotes)
		return err
	})
	return w, err
}

// quoting is a spreadsheet of quotes on its way in.
type quoting struct {
	by     By
	rows   []sheets.Row
	quotes []worth.Quote
	report QuotesReport
}

// plan reads the rows and says what they would add.
func (in *quoting) plan(rx *store.Rx) error {
	d, err := readNames(rx)
	if err != nil {
		return err
	}
	loc, err := d.settings.Location()
	if err != nil {
		return err
	}
	typed, bad := worth.ReadQuotes(in.rows, d.settings.Currency, d.Now().Day(loc))
	ids := make([]string, 0, len(typed))
	for _, t := range typed {
		ids = append(ids, string(t.Number))
	}
	given, err := rx.NumberRows(ids)
	if err != nil {
		return err
	}
	var tools []string
	for _, n := range given {
		if n.Tool != "" {
			tools = append(tools, n.Tool)
		}
	}
	slices.Sort(tools)
	tools = slices.Compact(tools)
	here, err := rx.ToolsByID(tools)
	if err != nil {
		return err
	}
	known, err := rx.Quotes(tools)
	if err != nil {
		return err
	}
	in.report = QuotesReport{Rows: len(typed), Tools: []numbers.Number{}}
	for _, t := range typed {
		if t.Number == "" {
			continue // said already
		}
		tool, there := here[given[string(t.Number)].Tool]
		detail, err := in.refused(rx, d, tool, there)
		if err != nil {
			return err
		}
		if detail != "" {
			bad = append(bad, fault.Field{Pointer: fmt.Sprintf("#/rows/%d/number", t.Row), Row: t.Row, Column: "number", Value: t.Number.String(), Code: "number", Detail: detail})
			continue
		}
		in.one(t, tool.ID, known)
	}
	return rowsFault(bad, in.report.Rows)
}

// refused says why no quote of a tool is taken; empty: it is.
func (in *quoting) refused(rx *store.Rx, d *directory, tool register.Tool, there bool) (string, error) {
	if !there {
		return "there is no tool of this number here", nil
	}
	gone, err := goneAndNotOfLoss(rx, tool)
	if err != nil {
		return "", err
	}
	o := d.object(tool)
	switch {
	case gone:
		return "the tool is gone: " + tool.GoneWhy, nil
	case !people.May(in.by.Actor, people.SeeMoney, o) || !people.May(in.by.Actor, people.EditTool, o):
		return "its price is not yours to enter; its owner does, or shares it", nil
	}
	return "", nil
}

// one adds a quote unless the very same is on record or in the file before.
func (in *quoting) one(t worth.Typed, tool string, known map[string][]worth.Quote) {
	q := t.Quote
	q.Tool = tool
	if slices.ContainsFunc(known[tool], q.Same) {
		in.report.Unchanged++
		return
	}
	known[tool] = append(known[tool], q)
	in.quotes = append(in.quotes, q)
	in.report.Added++
	in.report.Tools = append(in.report.Tools, t.Number)
}

// rowsFault refuses the whole where any cell is at fault.
func rowsFault(bad []fault.Field, rows int) error {
	if len(bad) == 0 {
		return nil
	}
	slices.SortStableFunc(bad, func(a, b fault.Field) int { return a.Row - b.Row })
	first := bad[0]
	said := fmt.Sprintf("row %d, %s: %s", first.Row, first.Column, first.Detail)
	if n := len(bad) - 1; n > 0 {
		said += fmt.Sprintf("; and %s more at fault", units.Count(n, "value"))
	}
	f := fault.New(fault.Invalid, "%s; nothing was changed", said).WithHint("mend the rows named, of %d, and send all of them again", rows)
	f.Fields = bad[:min(len(bad), MaxTroubles)]
	return f
}

// agedDays says how old a figure is that is worth asking for anew: a year (an
// assumption).
const agedDays = 365

// Aged says that a replacement cost should be asked for anew.
func (w WorthTool) Aged() bool {
	return w.Cost != nil && (w.Cost.Dated == dates.Date("") || w.Days > agedDays)
}
