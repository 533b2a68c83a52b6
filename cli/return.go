package cli

import (
	"context"

	"github.com/urfave/cli/v2"

	"pawl/api/wire"
)

type returnOptions struct {
	numbers []string
	wire.Return
}

func (p *program) returnCommand() *cli.Command {
	return &cli.Command{
		Name: "return", Usage: "put tools back in their place",
		Description: `pawl return 00E-KM5
pawl return 00E-KM5 --missing "10 mm socket" --missing "extension*2" --condition "case cracked"
pawl return - < scans.txt`,
		ArgsUsage: "NUMBER… | -",
		Flags: []cli.Flag{
			values("missing", "a loose `PIECE` that did not come back; give the flag once for each"),
			value("condition", "the state it is in, as `TEXT`"),
			happened(),
		},
		Action: action(p, parseReturn, runReturn),
	}
}

func parseReturn(c *cli.Context) (o returnOptions, err error) {
	o.Missing, o.Condition, o.Happened = c.StringSlice("missing"), c.String("condition"), c.String("happened")
	o.numbers, err = operands(c, 1, -1, "a tool NUMBER")
	return o, err
}

func runReturn(ctx context.Context, s *session, o returnOptions) error {
	return s.each(ctx, o.numbers, func(ctx context.Context, number string) (wire.Done, error) {
		return s.client.Return(ctx, number, o.Return)
	})
}
