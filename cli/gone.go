package cli

import (
	"context"

	"github.com/urfave/cli/v2"

	"pawl/api/wire"
)

type goneOptions struct {
	numbers []string
	force   bool
	wire.Gone
}

func (p *program) goneCommand() *cli.Command {
	return &cli.Command{
		Name: "gone", Usage: "say that tools left for good",
		Description: `pawl gone 00E-KM5 --why sold --note "to a neighbor"
pawl gone 00E-KM5 --why "handed to its owner" --on 2026-11-24 --force
pawl gone - --why scrapped --force < scans.txt`,
		ArgsUsage: "NUMBER… | -",
		Flags: []cli.Flag{
			value("why", "`HOW`: sold, exchanged, returned, \"traded in\", scrapped, lost or \"handed to its owner\""),
			value("note", "anything else, as `TEXT`"),
			value("on", "the `DAY` of it; else today"),
			force(),
		},
		Action: action(p, parseGone, runGone),
	}
}

func parseGone(c *cli.Context) (o goneOptions, err error) {
	if o.numbers, err = operands(c, 1, -1, "a tool NUMBER"); err != nil {
		return o, err
	}
	o.force, o.Note, o.On = c.Bool("force"), c.String("note"), c.String("on")
	o.Why, err = need(c, "why", "sold")
	return o, err
}

func runGone(ctx context.Context, s *session, o goneOptions) error {
	if !o.force {
		if err := s.confirm(ctx, "these tools leave for good ("+o.Why+")", o.numbers); err != nil {
			return err
		}
	}
	return s.each(ctx, o.numbers, func(ctx context.Context, number string) (wire.Done, error) {
		return s.client.Gone(ctx, number, o.Gone)
	})
}
