package cli

import (
	"context"

	"github.com/urfave/cli/v2"

	"pawl/api/wire"
)

func (p *program) clockCommand() *cli.Command {
	return &cli.Command{
		Name: "clock", Usage: "show the shop's clock, and whether it is in doubt",
		Description: `pawl clock
pawl clock confirm`,
		Action: action(p, parseNothing, runClock),
		Subcommands: []*cli.Command{{
			Name: "confirm", Usage: "say that the clock is right although it was in doubt; recorded",
			Description: `pawl clock confirm`,
			Action:      action(p, parseNothing, runClockConfirm),
		}},
	}
}

func runClock(ctx context.Context, s *session, _ struct{}) error {
	clock, err := s.client.Clock(ctx)
	if err != nil {
		return err
	}
	return s.clock(ctx, clock)
}

func runClockConfirm(ctx context.Context, s *session, _ struct{}) error {
	clock, err := s.client.ConfirmClock(ctx)
	if err != nil {
		return err
	}
	s.note("the clock is confirmed")
	return s.clock(ctx, clock)
}

func (s *session) clock(ctx context.Context, clock wire.Clock) error {
	if s.json {
		return s.object(clock)
	}
	doubt := "no"
	if clock.Doubtful {
		doubt = "yes"
		s.note("the clock is behind what is recorded already: set it, or have a manager confirm it: pawl clock confirm")
	}
	return s.record([]field{{"now", s.when(clock.Now)}, {"latest recorded", s.when(clock.Latest)}, {"in doubt", doubt}})
}
