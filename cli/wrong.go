package cli

import (
	"context"

	"github.com/urfave/cli/v2"

	"pawl/api/wire"
)

type wrongOptions struct {
	numbers []string
	wire.Wrong
}

func (p *program) wrongCommand() *cli.Command {
	return &cli.Command{
		Name: "wrong", Usage: "say that something is wrong with tools: do not use",
		Description: `pawl wrong 00E-KM5 --what dropped
pawl wrong 00E-KM5 --what "label gone"
pawl wrong 00E-KM5 --what damaged --note "anvil chipped"`,
		ArgsUsage: "NUMBER… | -",
		Flags: []cli.Flag{
			value("what", "`WHAT` it is: dropped, overloaded, damaged, failed, doubtful, or \"label gone\""),
			value("note", "more about it, as `TEXT`"),
			happened(),
		},
		Action: action(p, parseWrong, runWrong),
	}
}

func parseWrong(c *cli.Context) (o wrongOptions, err error) {
	if o.numbers, err = operands(c, 1, -1, "a tool NUMBER"); err != nil {
		return o, err
	}
	o.Note, o.Happened = c.String("note"), c.String("happened")
	o.What, err = need(c, "what", "dropped")
	return o, err
}

func runWrong(ctx context.Context, s *session, o wrongOptions) error {
	return s.each(ctx, o.numbers, func(ctx context.Context, number string) (wire.Done, error) {
		return s.client.Wrong(ctx, number, o.Wrong)
	})
}
