package cli

import (
	"context"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"
)

// runAdvice says what the record makes of a tool's interval, the nominal figure beside
// the conservative one.
func runAdvice(ctx context.Context, s *session, number string) error {
	v, err := s.client.IntervalAdvice(ctx, number)
	if err != nil {
		return err
	}
	if s.json {
		return s.object(v)
	}
	months := ""
	if v.Months != nil {
		months = strconv.Itoa(*v.Months)
	}
	if err := s.changed(v.Number+" "+v.Kind+": "+v.Words, v.Number, string(v.What), months, text(v.NextDue.Day)); err != nil {
		return err
	}
	var rows [][]string
	for _, f := range v.Figures {
		note := f.RestsOn
		if f.Insufficient {
			note = "insufficient data: " + note
		}
		rows = append(rows, []string{f.Method, adviceMonths(f.Nominal), adviceMonths(f.Conservative), note})
	}
	if err := s.table([]string{"METHOD", "MONTHS", "CONSERVATIVE", "RESTS ON"}, rows); err != nil {
		return err
	}
	if len(v.Because) > 0 {
		s.note("because " + strings.Join(v.Because, "; "))
	}
	if v.Accept != nil {
		s.note("to put it in force: " + *v.Accept)
	}
	if l := v.Like.MeanLife; l != nil {
		bounds := "at least " + adviceMonths(l.Low)
		if l.High != nil && l.Failures >= 3 { // from fewer it is so far off that it says nothing
			bounds += ", at most " + adviceMonths(l.High)
		}
		s.note("like tools: the mean time in tolerance is " + bounds + " months, each with 95 % confidence")
	}
	s.note(v.Rules...)
	s.note(v.Cautions...)
	return nil
}

// adviceMonths writes a figure in months with one decimal.
func adviceMonths(f *float64) string {
	if f == nil {
		return "-"
	}
	return strconv.FormatFloat(*f, 'f', 1, 64)
}

// maximumOf reads the longest interval permitted; "0" takes it away, nil is not said.
func maximumOf(c *cli.Context) (*int, error) {
	if !c.IsSet("maximum") {
		return nil, nil
	}
	none := 0
	if c.String("maximum") == "0" {
		return &none, nil
	}
	n, err := wholeOf(c, "maximum")
	return &n, err
}
