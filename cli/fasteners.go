package cli

import (
	"context"

	"github.com/urfave/cli/v2"
)

// fastenersCommand lists names only: a value is read anew from each job's service
// information.
func fastenersCommand(p *program) *cli.Command {
	return &cli.Command{
		Name: "fasteners", Usage: "list the names that fasteners were given, for tighten --fastener; their values are not remembered",
		Description: `pawl job fasteners`,
		Action:      action(p, func(c *cli.Context) (none struct{}, err error) { return none, noOperands(c) }, runFasteners),
	}
}

func runFasteners(ctx context.Context, s *session, _ struct{}) error {
	all, err := s.client.Fasteners(ctx)
	if err != nil {
		return err
	}
	if s.json {
		return s.object(all)
	}
	var rows [][]string
	for _, name := range all.Fasteners {
		rows = append(rows, []string{name})
	}
	return s.table([]string{"FASTENER"}, rows)
}
