package cli

import (
	"context"

	"github.com/urfave/cli/v2"

	"pawl/api/wire"
)

type handoverOptions struct {
	numbers []string
	wire.Handover
}

func (p *program) handoverCommand() *cli.Command {
	return &cli.Command{
		Name: "handover", Usage: "pass tools from their holder to somebody else",
		Description: `pawl handover 00E-KM5 --to "Tech B"
pawl handover 00E-KM5 --to "Tech B" --job 1043`,
		ArgsUsage: "NUMBER… | -",
		Flags: []cli.Flag{
			value("to", "`NAME` of the person who gets them"),
			value("job", "`NUMBER` of the repair order; without it the job stays"),
			value("due", "back by `TIME`; a day means its end"),
			happened(),
		},
		Action: action(p, parseHandover, runHandover),
	}
}

func parseHandover(c *cli.Context) (o handoverOptions, err error) {
	if o.numbers, err = operands(c, 1, -1, "a tool NUMBER"); err != nil {
		return o, err
	}
	o.Job, o.Due, o.Happened = c.String("job"), c.String("due"), c.String("happened")
	o.To, err = need(c, "to", `"Tech B"`)
	return o, err
}

func runHandover(ctx context.Context, s *session, o handoverOptions) error {
	return s.each(ctx, o.numbers, func(ctx context.Context, number string) (wire.Done, error) {
		return s.client.Handover(ctx, number, o.Handover)
	})
}
