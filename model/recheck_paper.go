package model

import (
	"context"
	"fmt"
	"io"
	"strconv"
	"strings"

	"pawl/labels"
	"pawl/model/calibration"
	"pawl/model/dates"
	"pawl/model/sheets"
)

// RecheckPDF draws the list of work in doubt, worst first, what is not known before it.
func (s *Shop) RecheckPDF(ctx context.Context, by By, number string, w io.Writer) error {
	var sheet labels.RecheckSheet
	err := s.read(ctx, func(d *directory) error {
		t, err := resolve(d.Rx, number)
		if err != nil {
			return err
		}
		v, err := d.recheckView(t)
		if err != nil {
			return err
		}
		sheet = labels.RecheckSheet{Symbol: t.Number.Symbol(d.settings.Address), Number: t.Number.String(), What: inWords(t), Serial: t.Serial, Shop: d.settings.Name,
			Paper: string(d.settings.Paper), Unknown: v.Unknown.Words, Cautions: v.Cautions}
		for _, span := range v.Spans {
			words, err := d.spanWords(span)
			if err != nil {
				return err
			}
			sheet.Why = append(sheet.Why, words)
		}
		if sheet.As, err = d.clockTime(dates.InstantOf(s.clock())); err != nil {
			return err
		}
		for _, row := range v.Lines {
			line, err := d.sheetLine(row)
			if err != nil {
				return err
			}
			sheet.Lines = append(sheet.Lines, line)
		}
		return nil
	})
	if err != nil {
		return err
	}
	return sheet.PDF(w)
}

// spanWords says a time in doubt, and why, as one text; an end that is known to the
// minute by its minute.
func (d *directory) spanWords(s RecheckSpan) (string, error) {
	end := func(word string, on dates.Date, at dates.Instant) (string, error) {
		if at == 0 {
			return word + string(on), nil
		}
		clock, err := d.clockTime(at)
		return word + clock, err
	}
	from, to, both := "from the beginning", "and it goes on", ""
	var err error
	if s.From != "" {
		if from, err = end("from ", s.From, s.FromAt); err != nil {
			return "", err
		}
	}
	if s.To != "" {
		if to, err = end("to ", s.To, s.ToAt); err != nil {
			return "", err
		}
		if both = ", both included"; s.FromAt == 0 && s.ToAt == 0 {
			both = ", both days included"
		}
	}
	return strings.Join(s.Whys, "; and ") + ". In doubt: " + from + " " + to + both + ".", nil
}

// sheetLine puts a line into the words that are printed.
func (d *directory) sheetLine(r RecheckRow) (out labels.RecheckSheetLine, err error) {
	out = labels.RecheckSheetLine{ID: r.ID, Verdict: strings.ToUpper(string(r.Verdict)), Why: r.Why, Figures: r.Figures(), Open: r.Open}
	at, err := d.clockTime(r.Happened)
	if err != nil {
		return out, err
	}
	if r.Until != 0 {
		until, err := d.clockTime(r.Until)
		if err != nil {
			return out, err
		}
		at += " to " + until
	}
	out.Work = r.Work() + ", " + at
	if r.Person != "" {
		out.Work += ", " + r.Person
	}
	if s := r.Settled; s != nil {
		when, err := d.clockTime(s.At)
		if err != nil {
			return out, err
		}
		out.Settled = s.Words(d.settings.Name) + ", " + when
	}
	return out, nil
}

// Work says what a line is about, without when and by whom.
func (r RecheckRow) Work() string {
	job := "no job named"
	if r.Job != "" {
		job = "job " + r.Job
	}
	switch {
	case r.Use == "":
		return job + ": nothing recorded"
	case r.Count > 1:
		return fmt.Sprintf("%s: %s (%d)", job, r.Fastener, r.Count)
	}
	return job + ": " + r.Fastener
}

// Figures says what was set, what was permitted, and what may have been applied.
func (r RecheckRow) Figures() string {
	if r.Use == "" {
		return ""
	}
	parts := []string{"set " + r.Set.Words()}
	if r.What == string(calibration.UsedToMeasure) {
		parts[0] = "showed " + r.Set.Words()
	}
	if r.Direction != calibration.NoDirection {
		parts[0] += " " + r.Direction.Words()
	}
	if r.Adapter != "" {
		parts[0] += ", " + r.Adapter
	}
	switch {
	case r.Limits == "":
		parts = append(parts, "no limits")
	case r.LimitsAssumed:
		parts = append(parts, "no limits recorded, the tool's own: "+r.Limits)
	default:
		parts = append(parts, "limits "+r.Limits)
	}
	if !r.Applied.IsZero() {
		likeliest := "likeliest " + r.Applied.Words()
		if !r.Uncertainty.IsZero() {
			likeliest += " ± " + r.Uncertainty.Value
		}
		parts = append(parts, likeliest)
	}
	if !r.Low.IsZero() && !r.High.IsZero() {
		parts = append(parts, "may be "+r.Low.Value+" to "+r.High.Words())
	}
	return strings.Join(parts, "; ")
}

// Words says how a line was settled; shop is whom it was by where nobody is named.
func (s RecheckSettled) Words(shop string) string {
	text := s.How
	if !strings.Contains(strings.ToLower(s.Done), strings.ToLower(s.How)) {
		text += ": " + s.Done
	} else {
		text = s.Done
	}
	if s.With != "" && !strings.Contains(s.Done, s.With) {
		text += ", with " + s.With
	}
	if s.Person != "" {
		shop = s.Person
	}
	return text + ", " + shop
}

var recheckColumns = []string{"line", "verdict", "job", "fastener", "count", "happened", "until", "person", "safety", "set", "limits", "limits_assumed", "direction",
	"adapter", "deviation_percent", "applied", "uncertainty", "low", "high", "why", "settled", "how", "done", "with", "settled_by"}

// RecheckCSV writes the list as a CSV; its first row after the head says what is not
// known. What people typed is guarded against being taken for a formula.
func (s *Shop) RecheckCSV(ctx context.Context, by By, number string, w io.Writer) error {
	v, err := s.Recheck(ctx, by, number)
	if err != nil {
		return err
	}
	first := make([]string, len(recheckColumns))
	first[1], first[19] = "not known", v.Unknown.Words
	rows := [][]string{recheckColumns, first}
	for _, r := range v.Lines {
		rows = append(rows, r.cells())
	}
	return writeCSV(w, rows)
}

func (r RecheckRow) cells() []string {
	cells := []string{r.ID, string(r.Verdict), sheets.Guard(r.Job), sheets.Guard(r.Fastener), countCell(r.Count), instantCell(r.Happened), instantCell(r.Until), sheets.Guard(r.Person),
		strconv.FormatBool(r.Safety), r.Set.String(), r.Limits, strconv.FormatBool(r.LimitsAssumed), string(r.Direction), r.Adapter, figureCell(r.DeviationPercent),
		r.Applied.String(), r.Uncertainty.String(), r.Low.String(), r.High.String(), r.Why}
	if s := r.Settled; s != nil {
		return append(cells, instantCell(s.At), s.How, sheets.Guard(s.Done), s.With, sheets.Guard(s.Person))
	}
	return append(cells, "", "", "", "", "")
}
