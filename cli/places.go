package cli

import (
	"context"

	"github.com/urfave/cli/v2"

	"pawl/api/wire"
)

func (p *program) placesCommand() *cli.Command {
	return &cli.Command{
		Name: "places", Usage: "list and add places",
		Description: `pawl places
pawl places add "Bay 1/Cart"`,
		Action: action(p, parseNothing, runPlaces),
		Subcommands: []*cli.Command{{
			Name: "add", Usage: "add a place, with what it is in",
			Description: `pawl places add "Bay 1/Cart/Drawer 2"`,
			ArgsUsage:   "PATH",
			Action:      action(p, parsePlacesAdd, runPlacesAdd),
		}},
	}
}

func runPlaces(ctx context.Context, s *session, _ struct{}) error {
	all, err := s.client.Places(ctx)
	if err != nil {
		return err
	}
	return list(ctx, s, all, []string{"PLACE", "CODE"}, all.Places, func(p wire.Place) []string { return []string{p.Path, p.Code} })
}

func parsePlacesAdd(c *cli.Context) (in wire.NewPlace, err error) {
	paths, err := operands(c, 1, 1, "a PATH")
	if err != nil {
		return in, err
	}
	return wire.NewPlace{Path: paths[0]}, nil
}

func runPlacesAdd(ctx context.Context, s *session, in wire.NewPlace) error {
	place, err := s.client.AddPlace(ctx, in)
	if err != nil {
		return err
	}
	if s.json {
		return s.object(place)
	}
	return s.changed(place.Path+" added", place.Path, "added", place.Code)
}
