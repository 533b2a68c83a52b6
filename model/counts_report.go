package model

import (
	"context"
	"fmt"
	"io"
	"strings"

	"pawl/labels"
	"pawl/model/counts"
	"pawl/model/dates"
	"pawl/model/register"
	"pawl/model/sheets"
)

// CountReport gives a count as it is handed over on paper.
func (s *Shop) CountReport(ctx context.Context, by By, id string) (r counts.Report, err error) {
	err = s.standing(ctx, id, func(d *directory, st *countStanding) error {
		c := st.count
		v, err := d.viewOf(by, st)
		if err != nil {
			return err
		}
		loc, err := d.settings.Location()
		if err != nil {
			return err
		}
		r = counts.Report{Shop: d.settings.Name, Paper: string(d.settings.Paper), Zone: loc, Made: d.Now(), ID: c.ID, Scope: c.Scope, How: c.How, OwnStrata: c.Strata != "",
			Started: c.Started, StartedBy: v.StartedBy, Paused: c.Paused, Closed: c.Closed, ClosedBy: v.ClosedBy, Counted: v.Counted, Digest: c.Digest,
			Draw: v.Draw, Redraw: c.Redraw, Numbers: v.Numbers, Statement: v.Statement}
		ids, err := d.pickedTools(st, ListAll)
		if err != nil {
			return err
		}
		rows, err := d.countRows(st, ids)
		for _, row := range rows {
			r.Lines = append(r.Lines, row.line())
		}
		return err
	})
	return r, err
}

// CountPDF draws the report of a count.
func (s *Shop) CountPDF(ctx context.Context, by By, id string, w io.Writer) error {
	r, err := s.CountReport(ctx, by, id)
	if err != nil {
		return err
	}
	return labels.CountPDF(w, r)
}

// line puts a row into the words of a report.
func (r CountRow) line() counts.ReportLine {
	out := counts.ReportLine{Number: r.Number, Kind: r.Kind, Maker: r.Maker, Model: r.Model, Serial: r.Serial, Bucket: r.Bucket, Look: r.Look,
		Place: r.Place, Expected: r.Expected, Holder: r.Holder, LastSeen: r.LastSeen.At, LastSeenHow: r.LastSeen.How}
	if s := r.Seen; s != nil {
		out.SeenAt, out.SeenBy, out.SeenIn, out.ByWord, out.Label = s.At, s.By, s.Place, s.ByWord, s.Label
		out.Missing, out.Condition, out.Why = piecesInWords(s.Missing), s.Condition, s.Why
	}
	if m := r.Moved; m != nil {
		out.Moved, out.MovedBy = m.Words, m.Loan
	}
	if d := r.Settled; d != nil {
		out.Settled, out.SettledIn, out.SettledWith, out.SettledNote, out.SettledBy, out.SettledAt = d.How, d.Place, d.Whom, d.Note, d.By, d.At
	}
	return out
}

func piecesInWords(all register.Pieces) (out []string) {
	for _, p := range all {
		out = append(out, fmt.Sprintf("%s (%d)", p.Name, p.Count))
	}
	return out
}

var countColumns = []string{"number", "kind", "maker", "model", "serial", "bucket", "to_look_for", "place", "expected", "holder", "seen_at", "seen_by", "seen_in",
	"by_word", "label", "missing_pieces", "condition", "why", "moved", "moved_by", "settled", "settled_in", "settled_with", "settled_note", "settled_by", "settled_at",
	"last_seen", "last_seen_how"}

// CountCSV writes the report as a CSV: a tool a row, and after the head a row for each
// sentence of the statement, where the count is closed. What people typed is guarded
// against being taken for a formula.
func (s *Shop) CountCSV(ctx context.Context, by By, id string, w io.Writer) error {
	r, err := s.CountReport(ctx, by, id)
	if err != nil {
		return err
	}
	out := sheets.NewCSV(w, sheets.CSVOptions{})
	if err := out.Write(countColumns); err != nil {
		return err
	}
	for _, said := range saidFirst(r) {
		row := make([]string, len(countColumns))
		row[5], row[17] = "count", said
		if err := out.Write(row); err != nil {
			return err
		}
	}
	for _, l := range r.Lines {
		if err := out.Write(countCells(l)); err != nil {
			return err
		}
	}
	return out.Close()
}

// saidFirst is what must not be overlooked beside the rows.
func saidFirst(r counts.Report) []string {
	if r.Statement == nil {
		return []string{"This count is not closed: everything here may change."}
	}
	return r.Statement.Words
}

func countCells(l counts.ReportLine) []string {
	when := func(at dates.Instant) string { return at.String() }
	yes := func(b bool) string {
		if b {
			return "yes"
		}
		return "no"
	}
	bucket := string(l.Bucket)
	if bucket == "" {
		bucket = ListExtra
	}
	return []string{l.Number.String(), l.Kind, l.Maker, l.Model, l.Serial, bucket, yes(l.Look), l.Place, l.Expected, l.Holder, when(l.SeenAt), l.SeenBy, l.SeenIn,
		yes(l.ByWord), l.Label, strings.Join(l.Missing, ", "), l.Condition, l.Why, l.Moved, l.MovedBy, string(l.Settled), l.SettledIn, l.SettledWith, l.SettledNote,
		l.SettledBy, when(l.SettledAt), when(l.LastSeen), l.LastSeenHow}
}
