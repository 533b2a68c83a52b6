package store

import (
	"bytes"
	"database/sql"
	"strings"
	"sync"

	"pawl/model/ledger"
)

// storedRow is a row as the driver gives it, without any row type, so that what is
// compared is what is kept.
type storedRow struct {
	id     string
	rev    any
	values []any // by the fields of the table; nil is an empty column
}

// lastLine is the newest line about one record.
type lastLine struct {
	id    string
	rev   int64
	lines int64
	after []byte
}

// table merges the rows of a table with the last line about each of them.
func (v *verifier) table(t *table) error {
	var turn sync.Mutex
	allRows := readAhead(&turn, v.rows(t))
	defer allRows.end()
	allLasts := readAhead(&turn, v.lasts(t))
	defer allLasts.end()
	var rows []storedRow
	var lasts []lastLine
	var err error
	for {
		if err := v.ctx.Err(); err != nil {
			return canceled(err)
		}
		if len(rows) == 0 {
			if rows, err = allRows.take(); err != nil {
				return err
			}
		}
		if len(lasts) == 0 {
			if lasts, err = allLasts.take(); err != nil {
				return err
			}
		}
		switch {
		case len(rows) == 0 && len(lasts) == 0:
			return nil
		case len(lasts) == 0 || len(rows) > 0 && rows[0].id < lasts[0].id:
			v.report.problem("%s %s has no line in the ledger", t.noun, rows[0].id)
			rows = rows[1:]
		case len(rows) == 0 || lasts[0].id < rows[0].id:
			v.report.problem("%s %s is gone, but the ledger has a line about it", t.noun, lasts[0].id)
			lasts = lasts[1:]
		default:
			v.record(t, rows[0], lasts[0])
			rows, lasts = rows[1:], lasts[1:]
		}
	}
}

// rows gives the rows of a table by id, a batch at a time.
func (v *verifier) rows(t *table) func() ([]storedRow, bool, error) {
	var names []string
	id, rev := 0, 0
	for i, f := range t.schema.Fields {
		names = append(names, quote(f.DBName))
		switch f.DBName {
		case "id":
			id = i
		case "rev":
			rev = i
		}
	}
	query := "SELECT " + strings.Join(names, ", ") + " FROM " + quote(t.schema.Table) + " WHERE id > ? ORDER BY id LIMIT ?"
	after, into := "", make([]any, len(names))
	return func() (out []storedRow, more bool, err error) {
		err = v.query(func(scan func(...any) error) error {
			values := make([]any, len(names))
			for i := range values {
				into[i] = &values[i]
			}
			if err := scan(into...); err != nil {
				return err
			}
			for i, value := range values {
				if b, isBytes := value.([]byte); isBytes {
					values[i] = string(b)
				}
			}
			after = values[id].(string)
			out = append(out, storedRow{after, values[rev], values})
			return nil
		}, query, after, verifyBatch)
		return out, len(out) > 0, err
	}
}

// lasts gives the last line about each record of a table by id, a batch at a time.
func (v *verifier) lasts(t *table) func() ([]lastLine, bool, error) {
	after := ""
	return func() (out []lastLine, more bool, err error) {
		var images arena
		var image sql.RawBytes
		err = v.query(func(scan func(...any) error) error {
			var l lastLine
			err := scan(&l.id, &l.rev, &l.lines, &image)
			l.after = images.keep(image)
			out, after = append(out, l), l.id
			return err
		}, `SELECT m.id, m.rev, m.lines, l.after FROM
			(SELECT id, max(rev) AS rev, count(*) AS lines FROM lines WHERE noun = ? AND id > ? GROUP BY id ORDER BY id LIMIT ?) m
			JOIN lines l ON l.noun = ? AND l.id = m.id AND l.rev = m.rev ORDER BY m.id`, t.noun, after, verifyBatch, t.noun)
		return out, len(out) > 0, err
	}
}

// record compares one stored row with the image of its last line.
func (v *verifier) record(t *table, row storedRow, last lastLine) {
	v.report.Records++
	if row.rev != last.rev {
		v.report.problem("%s %s stands at revision %v, but its last line is of revision %d", t.noun, row.id, row.rev, last.rev)
		return
	}
	if last.lines != last.rev {
		v.report.problem("%s %s has %d lines for %d revisions", t.noun, row.id, last.lines, last.rev)
	}
	if last.after == nil {
		return // taken away, and named in the pass over the lines
	}
	// Values that differ never share a form, so a row of which the same bytes come holds
	// what the image does. Where they do not come, the values are looked at.
	shown := make([]any, len(t.shown))
	for i, field := range t.shown {
		shown[i] = row.values[field]
	}
	if same, err := ledger.Encode(t.names, shown); err == nil && bytes.Equal(same, last.after) {
		return
	}
	image, err := ledger.ParseImage(last.after)
	if err != nil {
		v.report.problem("%s %s: the image of its last line cannot be read: %s", t.noun, row.id, err)
		return
	}
	if stored := storedImage(t, shown); !stored.Equal(image) {
		v.report.problem("%s %s is not as its last line left it: %s", t.noun, row.id, strings.Join(stored.Diff(image), ", "))
	}
}

// storedImage is the image of a row as it stands.
func storedImage(t *table, shown []any) ledger.Image {
	image := ledger.Image{}
	for i, value := range shown {
		if value != nil {
			image[t.names[i]] = value
		}
	}
	return image
}
