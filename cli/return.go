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
pawl return 00E-KM5 --broken "tip" --fragment-missing
pawl return - < scans.txt`,
		ArgsUsage: "NUMBER… | -",
		Flags: []cli.Flag{
			values("missing", "a loose `PIECE` that did not come back; give the flag once for each"),
			yes("all-there", "every piece of the set was looked at, and is there"),
			value("broken", "what broke off or broke on it, as `PART`; unless it is a piece of a set, nobody uses the tool until it is cleared"),
			yes("fragment-missing", "not every fragment of what broke came back: it holds the job open"),
			value("condition", "the state it is in, as `TEXT`"),
			happened(),
		},
		Action: action(p, parseReturn, runReturn),
	}
}

func parseReturn(c *cli.Context) (o returnOptions, err error) {
	o.Missing, o.Condition, o.Happened = c.StringSlice("missing"), c.String("condition"), c.String("happened")
	o.AllThere, o.Broken, o.FragmentMissing = c.Bool("all-there"), c.String("broken"), c.Bool("fragment-missing")
	o.numbers, err = operands(c, 1, -1, "a tool NUMBER")
	return o, err
}

func runReturn(ctx context.Context, s *session, o returnOptions) error {
	return s.each(ctx, o.numbers, func(ctx context.Context, number string) (wire.Done, error) {
		return s.client.Return(ctx, number, o.Return)
	})
}
