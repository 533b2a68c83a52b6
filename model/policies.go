package model

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"slices"

	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/numbers"
	"pawl/model/people"
	"pawl/model/sheets"
	"pawl/model/worth"
)

// NewPolicy is a policy as typed, with whose it is: empty, or "shop", is the shop's.
type NewPolicy struct {
	worth.NewPolicy
	Owner string
}

// AddPolicy records what a policy says. The shop's is a manager's to record, a
// person's own theirs. One of that name in force is a Conflict.
func (s *Shop) AddPolicy(ctx context.Context, by By, in NewPolicy) (PolicyView, error) {
	return act(ctx, s, by, "worth policy add", in, func(tx *store.Tx) (v PolicyView, err error) {
		d, err := readNames(&tx.Rx)
		if err != nil {
			return v, err
		}
		p, err := in.Read(d.settings.Currency)
		if err != nil {
			return v, err
		}
		if p.Owner, err = d.ownerID(in.Owner); err != nil {
			return v, fault.At("#/owner", "%s", fault.Of(err).Error())
		}
		if err := d.mayInsure(by, p); err != nil {
			return v, err
		}
		if p.Owner != "" && p.Employees {
			return v, fault.At("#/employees", "a person's own policy covers no employees' tools; it is theirs alone")
		}
		if err := tx.Lock("policies"); err != nil {
			return v, err
		}
		all, err := tx.Policies()
		if err != nil {
			return v, err
		}
		if at := slices.IndexFunc(all, func(o worth.Policy) bool { return o.NameKey == p.NameKey }); at >= 0 {
			return v, fault.New(fault.Conflict, "there is a policy %q already, since %s", all[at].Name, all[at].Since).WithFact("id", all[at].ID).
				WithHint("end it first: pawl worth policy end %q", all[at].Name)
		}
		if p.ID, err = tx.NewID('P'); err != nil {
			return v, err
		}
		p.Since, p.Person = tx.Now(), by.Person
		if err := store.Put(tx, &p); err != nil {
			return v, err
		}
		return d.asRecorded(p)
	})
}

// Policies gives the policies in force that the asker may see, by name.
func (s *Shop) Policies(ctx context.Context, by By) (out []PolicyView, err error) {
	err = s.db.Read(ctx, func(rx *store.Rx) error {
		d, err := readNames(rx)
		if err != nil {
			return err
		}
		out, err = d.policies(by)
		return err
	})
	return out, err
}

// Warning says that the limit is too low for what it covers, or that it cannot be
// said; empty is neither.
func (p PolicyView) Warning() string {
	switch {
	case p.Terms.Coinsurance == nil:
		return "Whether it asks coinsurance is not recorded."
	case p.Adequacy != nil && *p.Adequacy < 1:
		return "The limit is below what coinsurance asks: a part of every loss is not paid."
	case p.Terms.Coinsurance.Sign() > 0 && p.OtherCovered == nil:
		return "What else the limit covers is not recorded: the ratio is at best what is shown; unknown."
	}
	return ""
}

// mayInsure says whether somebody may record or end a policy.
func (d *directory) mayInsure(by By, p worth.Policy) error {
	if p.Owner == "" {
		return allowed(by, people.ShopActs, people.Object{})
	}
	return allowed(by, people.SeeMoney, people.Object{Owner: p.Owner, OwnerShares: d.byID[p.Owner].Shares})
}

// asRecorded gives a policy as it was entered.
func (d *directory) asRecorded(p worth.Policy) (v PolicyView, err error) {
	v = PolicyView{Policy: p, OwnerName: d.owner(p.Owner)}
	v.Terms, err = p.Terms()
	return v, err
}

// EndPolicy says that a policy is no longer in force; it stays on record.
func (s *Shop) EndPolicy(ctx context.Context, by By, id string) (PolicyView, error) {
	return act(ctx, s, by, "worth policy end", id, func(tx *store.Tx) (v PolicyView, err error) {
		d, err := readNames(&tx.Rx)
		if err != nil {
			return v, err
		}
		p, err := load[worth.Policy](tx, id, "policy "+clipCell(id))
		if err != nil {
			return v, err
		}
		if !p.May(by.Actor, d.byID[p.Owner].Shares) {
			return v, fault.New(fault.NotFound, "there is no policy %s", clipCell(id))
		}
		if err := d.mayInsure(by, p); err != nil {
			return v, err
		}
		if p.Ended != 0 {
			return v, fault.New(fault.Conflict, "the policy %q ended %s", p.Name, p.Ended).WithFact("since", p.Ended.String())
		}
		p.Ended = tx.Now()
		if err := store.Put(tx, &p); err != nil {
			return v, err
		}
		return d.asRecorded(p)
	})
}

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
	sum := sha256.New()
	r, err := sheets.ReadCSV(io.TeeReader(file, sum), sheets.Options{})
	if err != nil {
		return QuotesReport{}, err
	}
	defer r.Close()
	var rows []sheets.Row
	for {
		row, err := r.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			return QuotesReport{}, err
		}
		rows = append(rows, row)
	}
	in := quoting{by: by, rows: rows}
	if dryRun {
		err := s.db.Read(ctx, func(rx *store.Rx) error { return in.plan(rx) })
		in.report.DryRun, in.report.Tools = true, nil
		return in.report, err
	}
	return act(ctx, s, by, "worth quotes", hex.EncodeToString(sum.Sum(nil)), func(tx *store.Tx) (QuotesReport, error) {
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
		detail := ""
		switch {
		case !there:
			detail = "there is no tool of this number here"
		case tool.Gone != 0:
			detail = "the tool is gone: " + tool.GoneWhy
		case !people.May(in.by.Actor, people.SeeMoney, d.object(tool)) || !people.May(in.by.Actor, people.EditTool, d.object(tool)):
			detail = "its price is not yours to enter; its owner does, or shares it"
		}
		if detail != "" {
			bad = append(bad, fault.Field{Pointer: fmt.Sprintf("#/rows/%d/number", t.Row), Row: t.Row, Column: "number", Value: t.Number.String(), Code: "number", Detail: detail})
			continue
		}
		in.one(t, tool.ID, d.settings.Currency, known)
	}
	return quotesFault(bad, in.report.Rows)
}

// one adds a quote unless the very same is on record or in the file before.
func (in *quoting) one(t worth.Typed, tool, currency string, known map[string][]worth.Quote) {
	amount := t.Amount
	q := worth.Quote{Tool: tool, Amount: &amount, Currency: currency, Source: t.Source, Dated: t.Dated}
	if slices.ContainsFunc(known[tool], func(k worth.Quote) bool {
		return k.Amount != nil && *k.Amount == amount && k.Currency == currency && k.Source == q.Source && k.Dated == q.Dated
	}) {
		in.report.Unchanged++
		return
	}
	known[tool] = append(known[tool], q)
	in.quotes = append(in.quotes, q)
	in.report.Added++
	in.report.Tools = append(in.report.Tools, t.Number)
}

// quotesFault refuses the whole where any cell is at fault.
func quotesFault(bad []fault.Field, rows int) error {
	if len(bad) == 0 {
		return nil
	}
	slices.SortStableFunc(bad, func(a, b fault.Field) int { return a.Row - b.Row })
	first := bad[0]
	said := fmt.Sprintf("row %d, %s: %s", first.Row, first.Column, first.Detail)
	if n := len(bad) - 1; n > 0 {
		said += fmt.Sprintf("; and %s more at fault", times(n, "value"))
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
