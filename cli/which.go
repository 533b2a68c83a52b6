package cli

import (
	"context"
	"errors"
	"strings"

	"github.com/urfave/cli/v2"

	"pawl/api/client"
	"pawl/api/wire"
	"pawl/model/fault"
)

type whichOptions struct {
	client.Description
	most int // 0: all
}

func (p *program) whichCommand() *cli.Command {
	return &cli.Command{
		Name: "which", Usage: "tell which tool it is that has no label",
		Description: `pawl which --kind "impact wrench" --place "Bay 1"
pawl which --maker Brindle cordless --json
pawl evidence get SHA256 --view large -o photo.jpg`,
		ArgsUsage: "[WORD …]",
		Flags: []cli.Flag{
			value("kind", "of that `KIND`"),
			value("maker", "of that `MAKER`"),
			value("place", "that belongs in `PATH` or in something there"),
			limit(),
		},
		Action: action(p, parseWhich, runWhich),
	}
}

func parseWhich(c *cli.Context) (o whichOptions, err error) {
	o.Description = client.Description{Words: strings.Join(c.Args().Slice(), " "), Kind: c.String("kind"), Maker: c.String("maker"), Place: c.String("place")}
	if o.Description == (client.Description{}) {
		return o, fault.New(fault.Malformed, "nothing is said of the tool").WithHint("say what it is or where it lies, such as --kind \"impact wrench\" --place \"Bay 1\"")
	}
	o.most, err = wholeOf(c, "limit")
	return o, err
}

func runWhich(ctx context.Context, s *session, o whichOptions) error {
	list := wire.Which{Tools: []wire.WhichRow{}}
	err := s.client.WhichAll(ctx, o.Description, func(r wire.WhichRow) error {
		list.Tools = append(list.Tools, r)
		return enough(len(list.Tools), o.most)
	})
	if err != nil && !errors.Is(err, errEnough) {
		return err
	}
	if s.json {
		return s.object(list)
	}
	var rows [][]string
	for _, r := range list.Tools {
		var photos []string
		for _, p := range r.Photos {
			photos = append(photos, p.Kind+" "+p.SHA256)
		}
		rows = append(rows, []string{r.Number, kindOf(r.Kind), strings.TrimSpace(r.Maker + " " + r.Model), r.Serial, text(r.Place), text(r.Person), strings.Join(photos, " ")})
	}
	err = s.table([]string{"NUMBER", "KIND", "WHAT", "SERIAL", "PLACE", "PERSON", "PHOTOS"}, rows)
	switch {
	case len(rows) == 0:
		s.note("no tool fits; say less of it")
	case err == nil:
		s.note("look at the photos: pawl evidence get SHA256 --view large -o photo.jpg; a label that is gone: pawl wrong NUMBER --what \"label gone\"")
	}
	return err
}
