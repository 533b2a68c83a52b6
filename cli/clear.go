package cli

import (
	"context"

	"github.com/urfave/cli/v2"

	"pawl/api/wire"
)

type clearOptions struct {
	numbers []string
	wire.Clear
}

func (p *program) clearCommand() *cli.Command {
	return &cli.Command{
		Name: "clear", Usage: "end every open report on tools, saying why",
		Description: `pawl clear 00E-KM5 --why "looked at: only the case is scratched"`,
		ArgsUsage:   "NUMBER… | -",
		Flags:       []cli.Flag{value("why", "why it may be used again, as `TEXT`")},
		Action:      action(p, parseClear, runClear),
	}
}

func parseClear(c *cli.Context) (o clearOptions, err error) {
	if o.numbers, err = operands(c, 1, -1, "a tool NUMBER"); err != nil {
		return o, err
	}
	o.Why, err = need(c, "why", `"looked at: only the case is scratched"`)
	return o, err
}

func runClear(ctx context.Context, s *session, o clearOptions) error {
	return s.each(ctx, o.numbers, func(ctx context.Context, number string) (wire.Done, error) {
		return s.client.Clear(ctx, number, o.Clear)
	})
}
