package cli

import (
	"context"

	"github.com/urfave/cli/v2"

	"pawl/api/wire"
)

type awayOptions struct {
	numbers []string
	wire.Away
}

func (p *program) awayCommand() *cli.Command {
	return &cli.Command{
		Name: "away", Usage: "send tools out of the shop",
		Description: `pawl away 00E-KM5 --to "Lab" --for calibration --due 2026-12-20
pawl away 00E-KM5 --to "Next-door garage" --for lent --due 2026-12-01`,
		ArgsUsage: "NUMBER… | -",
		Flags: []cli.Flag{
			value("to", "to `WHOM` it goes"),
			value("for", "`WHY` it goes: calibration, repair or lent"),
			value("due", "back by `TIME`; a day means its end"),
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
	o.For, err = need(c, "for", "calibration, repair or lent")
	return o, err
}

func runAway(ctx context.Context, s *session, o awayOptions) error {
	return s.each(ctx, o.numbers, func(ctx context.Context, number string) (wire.Done, error) {
		return s.client.Away(ctx, number, o.Away)
	})
}
