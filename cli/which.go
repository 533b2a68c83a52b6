package cli

import (
	"context"
	"fmt"
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
	tools, err := gather(o.most, func(each func(wire.WhichRow) error) error { return s.client.WhichAll(ctx, o.Description, each) })
	if err != nil {
		return err
	}
	gone := 0
	if len(tools) == 0 {
		first, err := s.client.Which(ctx, o.Description)
		if err != nil {
			return err
		}
		gone = first.Gone
	}
	if s.json {
		return s.object(wire.Which{Tools: tools, Gone: gone})
	}
	err = s.table([]string{"NUMBER", "KIND", "WHAT", "SERIAL", "PLACE", "PERSON", "PHOTOS"}, cellsOf(tools, whichRow))
	switch {
	case gone > 0:
		s.note(goneFit(gone) + o.goneToo())
	case len(tools) == 0:
		s.note("no tool fits; say less of it")
	case err == nil:
		s.note("look at the photos: pawl evidence get SHA256 --view large -o photo.jpg; a label that is gone: pawl wrong NUMBER --what \"label gone\"")
	}
	return err
}

// goneToo is the command that lists what fits of those that are gone. There a maker is one
// of the words.
func (o whichOptions) goneToo() string {
	out := "pawl find"
	if text := joined(" ", o.Maker, o.Words); text != "" {
		out += fmt.Sprintf(" %q", text)
	}
	for _, f := range [][2]string{{"kind", o.Kind}, {"place", o.Place}} {
		if f[1] != "" {
			out += fmt.Sprintf(" --%s %q", f[0], f[1])
		}
	}
	return out + " --gone"
}

func whichRow(r wire.WhichRow) []string {
	var photos []string
	for _, p := range r.Photos {
		photos = append(photos, p.Kind+" "+p.SHA256)
	}
	return []string{r.Number, kindOf(r.Kind), strings.TrimSpace(r.Maker + " " + r.Model), r.Serial, text(r.Place), text(r.Person), strings.Join(photos, " ")}
}
