package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"path/filepath"
	"time"

	qrcode "github.com/skip2/go-qrcode"

	"pawl/api"
	"pawl/api/client"
	"pawl/labels"
	"pawl/model"
	"pawl/model/numbers"
)

// acts is how many of the same are timed.
const acts = 200

// eachTook times the same on every tool.
func eachTook(tools []numbers.Number, do func(number string) error) (out times, err error) {
	for _, n := range tools {
		d, err := took(func() error { return do(string(n)) })
		if err != nil {
			return nil, err
		}
		out = append(out, d)
	}
	return out, nil
}

// takeAndReturn times both on some tools, which end as they were.
func takeAndReturn(ctx context.Context, shop *model.Shop, looked []numbers.Number, r *recorder) (takes, returns times, err error) {
	person, err := shop.AddPerson(ctx, atComputer, model.NewPerson{Name: "Tech " + now().Format("150405.000000"), Role: "technician"})
	if err != nil {
		return nil, nil, err
	}
	by := atComputer
	by.Person, by.Name = person.ID, person.Name
	takes, err = eachTook(looked, func(number string) error {
		r.next()
		_, err := shop.Take(ctx, by, number, model.Take{})
		return err
	})
	if err != nil {
		return nil, nil, err
	}
	returns, err = eachTook(looked, func(number string) error {
		r.next()
		_, err := shop.Return(ctx, by, number, model.Return{})
		return err
	})
	return takes, returns, err
}

// takeRow is a take beside its own rows, written by prepared statements into a copy of
// the same shop, once with nothing asked before and once with all that a take asks.
func takeRow(ctx context.Context, work string, p *place) ([]measured, error) {
	looked := p.some(acts)
	asked, err := recorded(ctx, p, func(shop *model.Shop, r *recorder) error {
		_, _, err := takeAndReturn(ctx, shop, looked, r)
		return err
	})
	if err != nil {
		return nil, err
	}
	copies := []string{filepath.Join(work, "rows.db"), filepath.Join(work, "asked.db")}
	var seq, hash int64
	err = p.reopen(ctx, func() error {
		for _, copied := range copies {
			if err := copyFile(shopFile(p.dir), copied); err != nil {
				return err
			}
		}
		db, err := bare(copies[0])
		if err != nil {
			return err
		}
		defer db.Close()
		return db.QueryRow("SELECT (SELECT max(seq) FROM lines), (SELECT max(idx) FROM hashes)").Scan(&seq, &hash)
	})
	if err != nil {
		return nil, err
	}
	takes, returns, err := takeAndReturn(ctx, p.shop, looked, nil)
	if err != nil {
		return nil, err
	}
	var limits [2]times
	err = p.reopen(ctx, func() error {
		for i, questions := range [][][]question{nil, asked[:acts]} {
			if limits[i], err = bareTakes(shopFile(p.dir), copies[i], seq, hash, questions); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	const rows, both = "the rows of a take, by prepared statements", "the same, and what a take asks before"
	return []measured{
		{what: "take, the middle one", limit: rows, ours: takes.at(50), least: limits[0].at(50), goal: 1.67},
		{what: "take, the middle one", limit: both, ours: takes.at(50), least: limits[1].at(50), goal: 1.67},
		{what: "return, the middle one", limit: rows, ours: returns.at(50), least: limits[0].at(50), goal: 1.67},
	}, nil
}

// bareTakes writes into a copy what the takes left in a shop.
func bareTakes(file, copied string, seq, hash int64, asked [][]question) (times, error) {
	from, err := bare(file)
	if err != nil {
		return nil, err
	}
	defer from.Close()
	// The line before the takes is that of the person; the takes are the first loans.
	var first, last int64
	if err := from.QueryRow("SELECT min(seq), min(seq) + ? FROM lines WHERE noun = 'loan' AND seq > ?", acts-1, seq).Scan(&first, &last); err != nil {
		return nil, err
	}
	left, err := since(from, first-1, hash)
	if err != nil {
		return nil, err
	}
	for i := range left {
		w := &left[i]
		if most := map[bool]int{true: 2 * acts, false: acts}[w.table == "hashes"]; len(w.rows) > most {
			w.rows = w.rows[:most] // the returns come after
		}
	}
	to, err := bare(copied)
	if err != nil {
		return nil, err
	}
	defer to.Close()
	return again(to, left, acts, asked)
}

// tagRow is a tool by its number, through the handler, beside one statement that finds
// it, and beside all that its page asks.
func tagRow(ctx context.Context, _ string, p *place) ([]measured, error) {
	db, err := bare(shopFile(p.dir))
	if err != nil {
		return nil, err
	}
	defer db.Close()
	f, err := newFound(db)
	if err != nil {
		return nil, err
	}
	looked := p.some(acts)
	asked, err := recorded(ctx, p, func(shop *model.Shop, r *recorder) error {
		for _, n := range looked {
			r.next()
			if _, err := shop.Tool(ctx, atComputer, n.String()); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	asks, err := prepare(db, asked)
	if err != nil {
		return nil, err
	}
	way := client.InProcess{Handler: api.New(p.shop, api.Options{}), Actor: atComputer.Actor}
	var one, all, ours times
	for range 5 {
		for i, n := range looked {
			d, err := f.tool(string(n))
			if err != nil {
				return nil, err
			}
			one = append(one, d)
			if d, err = took(func() error { return asks.alone(asked[i]) }); err != nil {
				return nil, err
			}
			all = append(all, d)
			if d, err = took(func() error { return answered(ctx, way, "/tools/"+n.String()) }); err != nil {
				return nil, err
			}
			ours = append(ours, d)
		}
	}
	const statement, same = "the prepared statement", "all that it asks, by prepared statements"
	return []measured{
		{what: "a tool by its number through the handler, the middle one", limit: statement, ours: ours.at(50), least: one.at(50), goal: 3},
		{what: "the same", limit: same, ours: ours.at(50), least: all.at(50), goal: 3},
		{what: "a tool by its number, 99 of 100", limit: statement, ours: ours.at(99), least: one.at(99), goal: 5},
		{what: "the same", limit: same, ours: ours.at(99), least: all.at(99), goal: 5},
	}, nil
}

// answered reads all of what a route answers.
func answered(ctx context.Context, way http.RoundTripper, path string) error {
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, "http://pawl.invalid"+api.Prefix+path, nil)
	if err != nil {
		return err
	}
	res, err := way.RoundTrip(req)
	if err != nil {
		return err
	}
	defer res.Body.Close()
	if _, err := io.Copy(io.Discard, res.Body); err != nil {
		return err
	}
	if res.StatusCode != http.StatusOK {
		return fmt.Errorf("%s answered %s", path, res.Status)
	}
	return nil
}

// scans is how many scans of the serials a worn one may take.
const scans = 12

// matchRow is a worn serial beside scans of the packed ones.
func matchRow(ctx context.Context, _ string, p *place) ([]measured, error) {
	var packed []byte
	for i := range p.tools {
		_, serial := marked(i)
		packed = append(packed, serial...)
	}
	var limit, ours times
	for i := range 301 {
		_, serial := marked(i * 7919 % len(p.tools))
		reading := []byte(serial)
		for k := range i % 4 { // up to three characters are gone, and one may be another
			reading[(i*5+k*3)%len(reading)] = '?'
		}
		if i%3 == 0 {
			reading[i%len(reading)] = '7'
		}
		d, err := took(func() error {
			sum := 0
			for range scans {
				for _, c := range packed {
					sum += int(c)
				}
			}
			if sum == 0 {
				return errors.New("nothing was scanned")
			}
			return nil
		})
		if err != nil {
			return nil, err
		}
		answer, err := took(func() error {
			_, err := p.shop.Match(ctx, atComputer, model.MatchQuery{Reading: string(reading)})
			return err
		})
		if err != nil {
			return nil, err
		}
		if i > 0 { // the first one reads all serials
			limit, ours = append(limit, d/scans), append(ours, answer)
		}
	}
	const scan = "a scan of the packed serials"
	return []measured{
		{what: "a worn serial, the middle one", limit: scan, ours: ours.at(50), least: limit.at(50), goal: scans},
		{what: "the same, 90 of 100", limit: scan, ours: ours.at(90), least: limit.at(50), goal: scans},
		{what: "the same, 99 of 100", limit: scan, ours: ours.at(99), least: limit.at(50), goal: scans},
	}, nil
}

// labelsRow is a PDF of labels beside their symbols alone: as small as each can be at level
// Q, and as they are printed, which is larger so that a rubbed one still reads.
func labelsRow(_ context.Context, _ string, p *place) ([]measured, error) {
	texts := make([]labels.Text, 1_000)
	for i := range texts {
		n := p.tools[i].String()
		texts[i] = labels.Text{Symbol: "HTTPS://SHOP.EXAMPLE/T/" + string(p.tools[i]), Number: n, Lines: []string{"Torque wrench, Brindle TW-340", "Demo garage"}, Marked: true}
	}
	sheet, err := labels.SheetByName("letter-3x10")
	if err != nil {
		return nil, err
	}
	var limit, printed, ours times
	for range 3 {
		d, err := symbols(texts, func(text string) (*qrcode.QRCode, error) { return qrcode.New(text, qrcode.High) })
		if err != nil {
			return nil, err
		}
		limit = append(limit, d)
		if d, err = symbols(texts, func(text string) (*qrcode.QRCode, error) {
			return qrcode.NewWithForcedVersion(text, 4, qrcode.Highest)
		}); err != nil {
			return nil, err
		}
		printed = append(printed, d)
		if d, err = took(func() error { return labels.PDF(&bytes.Buffer{}, texts, labels.SheetOptions{Sheet: sheet}) }); err != nil {
			return nil, err
		}
		ours = append(ours, d)
	}
	return []measured{
		{what: "1,000 labels as a PDF", limit: "encoding the 1,000 symbols alone", ours: ours.at(50), least: limit.at(50), goal: 2},
		{what: "the same", limit: "encoding them as large as they are printed", ours: ours.at(50), least: printed.at(50), goal: 2},
	}, nil
}

// symbols is how long the symbols of labels take, without a quiet zone.
func symbols(texts []labels.Text, encode func(text string) (*qrcode.QRCode, error)) (time.Duration, error) {
	return took(func() error {
		for _, t := range texts {
			code, err := encode(t.Symbol)
			if err != nil {
				return err
			}
			code.DisableBorder = true
			code.Bitmap()
		}
		return nil
	})
}

// sizeRow is what is done all day in this shop beside the same in a small one.
func sizeRow(ctx context.Context, work string, p *place) (out []measured, err error) {
	other, err := newPlace(ctx, filepath.Join(work, "small"), small)
	if err != nil {
		return nil, err
	}
	defer other.shop.Close()
	got, err := daily(ctx, other, p)
	if err != nil {
		return nil, err
	}
	for _, what := range daylong {
		out = append(out, measured{what: what, limit: fmt.Sprintf("the same with %d tools", small), ours: got[1][what].at(50), least: got[0][what].at(50), goal: 1.5})
	}
	return out, nil
}

// daylong are what is done all day.
var daylong = []string{"take", "return", "look up", "today", "label"}

// daily is how long what is done all day takes in each of some shops. They have turns, so
// that what else the machine does meets all of them.
func daily(ctx context.Context, places ...*place) ([]map[string]times, error) {
	const turns = 10
	out := make([]map[string]times, len(places))
	for i, p := range places {
		out[i] = map[string]times{}
		if _, err := p.shop.Today(ctx, atComputer); err != nil { // what it makes once is made
			return nil, err
		}
	}
	for turn := range turns {
		for i, p := range places {
			all := p.some(acts)
			got, err := p.partOfADay(ctx, all[turn*len(all)/turns:(turn+1)*len(all)/turns])
			if err != nil {
				return nil, err
			}
			for what, took := range got {
				out[i][what] = append(out[i][what], took...)
			}
		}
	}
	return out, nil
}

// partOfADay is how long what is done all day takes with some tools.
func (p *place) partOfADay(ctx context.Context, tools []numbers.Number) (map[string]times, error) {
	takes, returns, err := takeAndReturn(ctx, p.shop, tools, nil)
	if err != nil {
		return nil, err
	}
	looks, err := eachTook(tools, func(number string) error {
		_, err := p.shop.Tool(ctx, atComputer, number)
		return err
	})
	if err != nil {
		return nil, err
	}
	today, err := eachTook(tools[:min(20, len(tools))], func(string) error {
		_, err := p.shop.Today(ctx, atComputer)
		return err
	})
	if err != nil {
		return nil, err
	}
	prints, err := eachTook(tools[:min(20, len(tools))], func(number string) error {
		text, err := p.shop.LabelText(ctx, atComputer, number)
		if err != nil {
			return err
		}
		return labels.PNG(io.Discard, text, labels.PNGOptions{DPI: 300})
	})
	return map[string]times{"take": takes, "return": returns, "look up": looks, "today": today, "label": prints}, err
}
