package model

import (
	"context"
	"strings"

	"pawl/labels"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/register"
)

// LabelText gives what the label of a number says. A number that is issued but
// has no tool yet prints with the shop's name alone.
func (s *Shop) LabelText(ctx context.Context, by By, number string) (out labels.Text, err error) {
	n, err := parseNumber(number)
	if err != nil {
		return out, err
	}
	err = s.db.Read(ctx, func(rx *store.Rx) error {
		row, found, err := rx.Number(n)
		if err != nil {
			return err
		}
		if !found || row.State == register.Void {
			return fault.New(fault.NotFound, "number %s was never issued, or is void", n).WithHint("print only numbers that Pawl gave out")
		}
		d, err := readNames(rx)
		if err != nil {
			return err
		}
		out = labels.Text{Symbol: n.Symbol(d.settings.Address), Number: n.String()}
		if row.State == register.Assigned {
			t, _, err := rx.Tool(row.Tool)
			if err != nil {
				return err
			}
			what := strings.TrimSpace(t.Maker + " " + t.Model)
			if what == "" {
				what = t.Kind
			}
			out.Lines = append(out.Lines, what, d.ownerOf(t))
			return nil
		}
		out.Lines = append(out.Lines, d.settings.Name)
		return nil
	})
	return out, err
}
