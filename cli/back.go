package cli

import (
	"context"

	"github.com/urfave/cli/v2"

	"pawl/api/wire"
)

type backOptions struct {
	numbers []string
	wire.Back
}

func (p *program) backCommand() *cli.Command {
	return &cli.Command{
		Name: "back", Usage: "receive tools that were away, or that are here after all",
		Description: `pawl back 00E-KM5
pawl back 00E-KM5 --condition "new head fitted"`,
		ArgsUsage: "NUMBER… | -",
		Flags: []cli.Flag{
			value("condition", "the state it is in, as `TEXT`"),
			value("serial", "the `SERIAL` read on what came back"), happened(),
		},
		Action: action(p, parseBack, runBack),
	}
}

func parseBack(c *cli.Context) (o backOptions, err error) {
	o.Condition, o.Happened, o.Serial = c.String("condition"), c.String("happened"), c.String("serial")
	o.numbers, err = operands(c, 1, -1, "a tool NUMBER")
	return o, err
}

func runBack(ctx context.Context, s *session, o backOptions) error {
	return s.each(ctx, o.numbers, func(ctx context.Context, number string) (wire.Done, error) {
		return s.client.Back(ctx, number, o.Back)
	})
}
