package model

import (
	"context"
	"io"
	"strconv"
	"strings"

	"pawl/model/calibration"
	"pawl/model/dates"
	"pawl/model/sheets"
)

var comparisonColumns = []string{"id", "number", "sort", "on", "by", "certificate_number", "standard", "adjusted", "verdict", "found_verdict", "supports", "next_due",
	"phase", "direction", "set", "readings", "mean_percent", "worst_percent", "decision", "says", "doubts", "entered", "withdrawn", "withdrawn_by", "why"}

// CalibrationsCSV writes every comparison of a tool as a CSV, newest first: a row for each
// point, and one for a paper without any. What was withdrawn is among them, with when, by
// whom and why. What people typed is guarded against being taken for a formula.
func (s *Shop) CalibrationsCSV(ctx context.Context, by By, number string, w io.Writer) error {
	v, err := s.Calibrations(ctx, by, number)
	if err != nil {
		return err
	}
	rows := [][]string{comparisonColumns}
	for _, c := range v.Calibrations {
		points := c.Points
		if len(points) == 0 {
			points = []calibration.ShownPoint{{}}
		}
		for _, p := range points {
			rows = append(rows, comparisonCells(v, c, p))
		}
	}
	return writeCSV(w, rows)
}

func comparisonCells(v CalibrationsView, c calibration.Shown, p calibration.ShownPoint) []string {
	sort, due := string(c.Paper), ""
	if c.BenchCheck {
		sort = "bench check"
	}
	if c.NextDue != nil {
		due = *c.NextDue
	}
	var doubts, readings []string
	for _, d := range c.Doubts {
		doubts = append(doubts, d.Text)
	}
	for _, r := range p.Readings {
		readings = append(readings, r.String())
	}
	return []string{c.ID, v.Number.String(), sort, string(c.On), sheets.Guard(c.By), sheets.Guard(c.CertificateNumber), sheets.Guard(c.Standard), strconv.FormatBool(c.Adjusted),
		string(c.Verdict), string(c.FoundVerdict), strconv.FormatBool(c.Supports && c.Withdrawn == 0), due,
		string(p.Phase), string(p.Direction), p.Set.String(), strings.Join(readings, "; "), figureCell(p.MeanPercent), figureCell(p.WorstPercent), string(p.Decision), p.Words,
		sheets.Guard(strings.Join(doubts, "; ")), instantCell(c.Entered), instantCell(c.Withdrawn), sheets.Guard(c.Withdrawer()), sheets.Guard(c.Why)}
}

var useColumns = []string{"id", "job", "what", "name", "count", "number", "kind", "happened", "entered", "person", "target", "limits", "default_limits", "direction", "setting", "adapter",
	"verdict", "inside_probability", "calibration", "outcome", "not_safety", "not_safety_why", "unconfirmed", "holds", "redone_by", "signed_by", "signed_why", "signed_at",
	"withdrawn", "withdrawn_by", "why"}

// UsesCSV writes the tightenings and measurements on a job as a CSV, oldest first, those that
// were withdrawn too, with when, by whom and why. What people typed is guarded against being
// taken for a formula.
func (s *Shop) UsesCSV(ctx context.Context, by By, job string, w io.Writer) error {
	all, err := s.UsesOn(ctx, by, job)
	if err != nil {
		return err
	}
	rows := [][]string{useColumns}
	for _, u := range all {
		rows = append(rows, u.cells())
	}
	return writeCSV(w, rows)
}

func (v UseView) cells() []string {
	return []string{v.ID, sheets.Guard(v.Job), v.What, sheets.Guard(v.Name), countCell(v.Count), v.Number, sheets.Guard(v.Kind), instantCell(v.Happened), instantCell(v.Entered), sheets.Guard(v.Person),
		v.Target.String(), v.Limits, strconv.FormatBool(v.DefaultLimits), string(v.Direction), v.Setting.String(), v.Adapter,
		string(v.Verdict), figureCell(v.InsideProbability), v.Calibration, string(v.Outcome), strconv.FormatBool(v.NotSafety), sheets.Guard(v.NotSafetyWhy),
		strconv.FormatBool(v.Unconfirmed && v.Withdrawn == 0), strconv.FormatBool(v.Holds), v.RedoneBy, sheets.Guard(v.SignedBy), sheets.Guard(v.SignedWhy), instantCell(v.SignedAt),
		instantCell(v.Withdrawn), sheets.Guard(v.WithdrawnBy), sheets.Guard(v.Why)}
}

func writeCSV(w io.Writer, rows [][]string) error {
	out := sheets.NewCSV(w, sheets.CSVOptions{})
	for _, row := range rows {
		if err := out.Write(row); err != nil {
			return err
		}
	}
	return out.Close()
}

// instantCell, countCell and figureCell are empty for what is not known.
func instantCell(at dates.Instant) string {
	if at == 0 {
		return ""
	}
	return at.String()
}

func countCell(n int64) string {
	if n <= 0 {
		return ""
	}
	return strconv.FormatInt(n, 10)
}

func figureCell(f *float64) string {
	if f == nil {
		return ""
	}
	return strconv.FormatFloat(*f, 'f', -1, 64)
}
