package cli

import (
	"context"

	"github.com/urfave/cli/v2"
)

func (p *program) choresCommand() *cli.Command {
	return &cli.Command{
		Name: "chores", Usage: "do what falls due by itself; for a timer, where no server runs",
		Description: `pawl chores`,
		Action:      action(p, parseNothing, runChores),
	}
}

func runChores(ctx context.Context, s *session, _ struct{}) error {
	chores, err := s.client.Chores(ctx)
	if err != nil {
		return err
	}
	if s.json {
		return s.object(chores)
	}
	if len(chores.Done) == 0 {
		s.note("nothing fell due")
	}
	var rows [][]string
	for _, done := range chores.Done {
		rows = append(rows, []string{done})
	}
	return s.table([]string{"DONE"}, rows)
}
