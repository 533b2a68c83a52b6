package model

import (
	"context"

	"pawl/labels"
	"pawl/model/calibration"
	"pawl/model/custody"
	"pawl/model/dates"
)

// Slip gives what goes to the laboratory with a tool: which it is, what it must
// hold, and what is asked of its calibration. Where it is away already, the slip
// says to whom.
func (s *Shop) Slip(ctx context.Context, by By, number string) (out labels.Slip, err error) {
	err = s.read(ctx, func(d *directory) error {
		t, err := resolve(d.Rx, number)
		if err != nil {
			return err
		}
		out = labels.Slip{Symbol: t.Number.Symbol(d.settings.Address), Number: t.Number.String(), What: inWords(t), Serial: t.Serial,
			Shop: d.settings.Name, Paper: string(d.settings.Paper)}
		if out.As, err = d.clockTime(dates.InstantOf(s.clock())); err != nil {
			return err
		}
		loans, err := d.LoansThatCount(t.ID)
		if err != nil {
			return err
		}
		for _, l := range loans {
			if l.Open() && l.State == custody.Away {
				out.To = l.Whom
			}
		}
		q, err := requirementOf(d.Rx, t.ID)
		if err != nil || q == nil {
			return err
		}
		askFor(&out, *q)
		return nil
	})
	return out, err
}

// askFor fills in what a requirement asks of a calibration. What turns is asked for
// both ways whatever the shop needs today: a stretch that was not compared cannot
// be used later.
func askFor(out *labels.Slip, q calibration.Requirement) {
	out.Caution = calibration.ShortCaution(q.Instrument)
	out.Holds = q.Limit.Words() + ", " + q.Scale.String()
	out.Unit, out.Readings, out.BothWays = string(q.Unit), q.ReadingsPerPoint(), q.Instrument.Turns()
	for _, at := range q.Points() {
		out.Points = append(out.Points, calibration.Rounded(at, q.Unit).Value)
	}
}
