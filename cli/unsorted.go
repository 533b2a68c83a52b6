package cli

import (
	"context"

	"github.com/urfave/cli/v2"

	"pawl/api/wire"
)

func (p *program) unsortedCommand() *cli.Command {
	return &cli.Command{
		Name: "unsorted", Usage: "list photos that belong to no tool yet",
		Description: "pawl evidence unsorted --json",
		Action: action(p, func(c *cli.Context) (struct{}, error) { return struct{}{}, noOperands(c) },
			func(ctx context.Context, s *session, _ struct{}) error {
				list := wire.Unsorted{Unsorted: []wire.UnsortedPhoto{}}
				err := s.client.UnsortedAll(ctx, func(u wire.UnsortedPhoto) error {
					list.Unsorted = append(list.Unsorted, u)
					return nil
				})
				if err != nil {
					return err
				}
				if s.json {
					return s.object(list)
				}
				s.inZone(ctx)
				var rows [][]string
				for _, u := range list.Unsorted {
					rows = append(rows, []string{u.ID, u.Name, s.when(u.ReceivedAt), text(u.ClaimedAt), u.SHA256})
				}
				return s.table([]string{"ID", "NAME", "RECEIVED", "SAYS OF ITSELF", "SHA256"}, rows)
			}),
	}
}

type fileOptions struct{ id, number, kind string }

func (p *program) fileCommand() *cli.Command {
	return &cli.Command{
		Name: "file", Usage: "file an unsorted photo under a tool",
		Description: "pawl evidence file E-27M4Q9KD 00E-KM5 --kind plate",
		ArgsUsage:   "ID NUMBER",
		Flags:       []cli.Flag{value("kind", "what it `SHOWS`: plate, whole, label …")},
		Action: action(p, func(c *cli.Context) (o fileOptions, err error) {
			both, err := operands(c, 2, 2, "the ID of a photo and a tool NUMBER")
			if err != nil {
				return o, err
			}
			o.id, o.number = both[0], both[1]
			o.kind, err = need(c, "kind", "plate")
			return o, err
		}, func(ctx context.Context, s *session, o fileOptions) error {
			done, err := s.client.FileUnsorted(ctx, o.id, wire.FileUnder{Number: o.number, Kind: o.kind})
			if err != nil {
				return err
			}
			return s.done(done)
		}),
	}
}
