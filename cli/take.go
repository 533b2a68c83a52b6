package cli

import (
	"context"

	"github.com/urfave/cli/v2"

	"pawl/api/wire"
)

type takeOptions struct {
	numbers []string
	wire.Take
}

func (p *program) takeCommand() *cli.Command {
	return &cli.Command{
		Name: "take", Usage: "take tools out, to a person and perhaps a job",
		Description: `pawl take 00E-KM5 --to "Tech A" --job 1042
pawl take 00E-KM5 --to "Tech A" --due 2026-11-27
pawl take - --to "Tech A" --json < scans.txt`,
		ArgsUsage: "NUMBER… | -",
		Flags: []cli.Flag{
			value("to", "`NAME` of the person who takes them; else the one who asks, as with --as or a token of their own"),
			value("job", "`NUMBER` of the repair order; one that is not known yet is opened"),
			value("due", "back by `TIME`; a day means its end"),
			happened(),
		},
		Action: action(p, parseTake, runTake),
	}
}

func parseTake(c *cli.Context) (o takeOptions, err error) {
	if o.numbers, err = operands(c, 1, -1, "a tool NUMBER"); err != nil {
		return o, err
	}
	o.Job, o.Due, o.Happened = c.String("job"), c.String("due"), c.String("happened")
	o.To = c.String("to")
	return o, nil
}

func runTake(ctx context.Context, s *session, o takeOptions) error {
	return s.each(ctx, o.numbers, func(ctx context.Context, number string) (wire.Done, error) {
		return s.client.Take(ctx, number, o.Take)
	})
}
