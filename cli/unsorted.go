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
		Action: action(p, parseNothing,
			func(ctx context.Context, s *session, _ struct{}) error {
				photos, err := gather(0, func(each func(wire.UnsortedPhoto) error) error { return s.client.UnsortedAll(ctx, each) })
				if err != nil {
					return err
				}
				return list(ctx, s, wire.Unsorted{Unsorted: photos}, []string{"ID", "NAME", "RECEIVED", "SAYS OF ITSELF", "SHA256"}, photos, func(u wire.UnsortedPhoto) []string {
					return []string{u.ID, u.Name, s.when(u.ReceivedAt), text(u.ClaimedAt), u.SHA256}
				})
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
