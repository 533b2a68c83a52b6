package cli

import (
	"context"

	"github.com/urfave/cli/v2"

	"pawl/api/client"
	"pawl/api/wire"
)

type findOptions struct {
	client.Query
	most int // 0: all
}

func (p *program) findCommand() *cli.Command {
	return &cli.Command{
		Name: "find", Usage: "find tools by number, serial, words or where they are",
		Description: `pawl find KD408
pawl find --place "Bay 1" --state out
pawl find impact --owner "Tech A" --json
pawl find --unfinished`,
		ArgsUsage: "[TEXT]",
		Flags: []cli.Flag{
			value("kind", "of that `KIND`"),
			value("place", "that belong in `PATH` or in something there"),
			value("owner", "of the person called `NAME`"),
			value("state", "in `STATE`: in place, out or away"),
			value("person", "that `NAME` has"),
			yes("gone", "those that are gone too"),
			yes("unfinished", "only those that are photographed and not yet typed, dearest first"),
			limit(),
		},
		Action: action(p, parseFind, runFind),
	}
}

func parseFind(c *cli.Context) (o findOptions, err error) {
	texts, err := operands(c, 0, 1, "")
	if err != nil {
		return o, err
	}
	o.Query = client.Query{
		Kind: c.String("kind"), Place: c.String("place"), Owner: c.String("owner"),
		State: c.String("state"), Person: c.String("person"), Gone: c.Bool("gone"), Unfinished: c.Bool("unfinished"),
	}
	if len(texts) == 1 {
		o.Text = texts[0]
	}
	o.most, err = wholeOf(c, "limit")
	o.Limit = pageOf(o.most)
	return o, err
}

func runFind(ctx context.Context, s *session, o findOptions) error {
	tools, err := gather(o.most, func(each func(wire.ToolRow) error) error { return s.client.FindAll(ctx, o.Query, each) })
	if err != nil {
		return err
	}
	if s.json {
		return s.object(wire.Tools{Tools: tools})
	}
	if len(tools) == 0 {
		s.note(o.nothing())
	}
	err = s.table([]string{"NUMBER", "KIND", "MAKER", "MODEL", "SERIAL", "OWNER", "PLACE", "STATE", "PERSON", "DO NOT USE", "NOT COMPLETE"}, cellsOf(tools, findRow))
	if err == nil && o.Unfinished && len(tools) > 0 {
		s.note("next: pawl show "+tools[0].Number+" names its photos; look at the plate: pawl evidence get SHA256 --view large -o plate.jpg",
			"then type it: pawl edit "+tools[0].Number+` --kind "impact wrench" --maker Brindle --serial READ --serial-again READ`)
	}
	return err
}

// nothing says why no tool was found.
func (o findOptions) nothing() string {
	asked := o.Query
	if asked.Limit = 0; asked == (client.Query{Unfinished: true}) {
		return "nothing is waiting to be typed"
	}
	return "no tool fits; this searches numbers, 3 or more characters of a serial, and beginnings of words"
}

func findRow(r wire.ToolRow) []string {
	return []string{r.Number, kindOf(r.Kind), r.Maker, r.Model, r.Serial, r.Owner, text(r.Place), stateOf(r), text(r.Person), text(r.DoNotUse), pieceList(r.Missing)}
}

// kindOf says in words that a tool was photographed and has no kind yet.
func kindOf(kind string) string {
	if kind == "" {
		return "not yet typed"
	}
	return kind
}
