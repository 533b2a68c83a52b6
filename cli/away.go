package cli

import (
	"context"
	"net/url"

	"github.com/urfave/cli/v2"

	"pawl/api/wire"
	"pawl/model/fault"
)

type awayOptions struct {
	numbers []string
	slip    string // file for the slip that goes with it
	wire.Away
}

func (p *program) awayCommand() *cli.Command {
	return &cli.Command{
		Name: "away", Usage: "send tools out of the shop",
		Description: `pawl away 00E-KM5 --to "Lab" --for calibration --due 2026-12-20
pawl away 00E-KM5 --to "Lab" --for calibration --slip slip.pdf
pawl away 00E-KM5 --to "Next-door garage" --for lent --due 2026-12-01`,
		ArgsUsage: "NUMBER… | -",
		Flags: []cli.Flag{
			value("to", "to `WHOM` it goes"),
			value("for", "`WHY` it goes: calibration, repair or lent"),
			value("due", "back by `TIME`; a day means its end"),
			value("slip", "draw the slip for the laboratory to `FILE`, a PDF"),
			happened(),
		},
		Action: action(p, parseAway, runAway),
	}
}

func parseAway(c *cli.Context) (o awayOptions, err error) {
	if o.numbers, err = operands(c, 1, -1, "a tool NUMBER"); err != nil {
		return o, err
	}
	o.Due, o.Happened = c.String("due"), c.String("happened")
	if o.To, err = need(c, "to", `"Lab"`); err != nil {
		return o, err
	}
	if o.For, err = need(c, "for", "calibration, repair or lent"); err != nil {
		return o, err
	}
	o.slip = c.String("slip")
	return o, o.checkSlip()
}

// checkSlip refuses what a slip does not go with.
func (o awayOptions) checkSlip() error {
	switch {
	case o.slip == "":
		return nil
	case o.For != "calibration":
		return fault.New(fault.Malformed, "a slip asks for a calibration, not for %q", o.For).WithHint("leave --slip out")
	case o.slip == "-":
		return fault.New(fault.Malformed, "--slip needs a file: stdout says what was done").WithHint("name one: --slip slip.pdf")
	case len(o.numbers) > 1 || o.numbers[0] == "-":
		return fault.New(fault.Malformed, "a slip is of one tool").WithHint("send them one after the other, or draw theirs later: pawl labels --slip NUMBER -o slip.pdf")
	}
	return nil
}

// awayWithSlip makes sure of the file first, sends the tool away, and draws.
func awayWithSlip(ctx context.Context, s *session, o awayOptions) error {
	file, err := create(o.slip, s.out, 0o644)
	if err != nil {
		return err
	}
	defer file.drop()
	done, err := s.client.Away(ctx, o.numbers[0], o.Away)
	if err != nil {
		return err
	}
	err = s.client.Print(ctx, "slip", url.Values{"name": {done.Number}}, file)
	if err == nil {
		err = file.keep()
	}
	if err != nil {
		f := *fault.Of(err)
		f.Hint = joined("; ", f.Hint, "it is sent away, only the slip is missing: pawl labels --slip "+done.Number+" -o slip.pdf")
		return &f
	}
	s.note("wrote " + o.slip)
	return s.done(done)
}

func runAway(ctx context.Context, s *session, o awayOptions) error {
	if o.slip != "" {
		return awayWithSlip(ctx, s, o)
	}
	return s.each(ctx, o.numbers, func(ctx context.Context, number string) (wire.Done, error) {
		return s.client.Away(ctx, number, o.Away)
	})
}
