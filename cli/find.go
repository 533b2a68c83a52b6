package cli

import (
	"context"
	"errors"

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
pawl find impact --owner "Tech A" --json`,
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
	list := wire.Tools{Tools: []wire.ToolRow{}}
	err := s.client.FindAll(ctx, o.Query, func(r wire.ToolRow) error {
		list.Tools = append(list.Tools, r)
		return enough(len(list.Tools), o.most)
	})
	if err != nil && !errors.Is(err, errEnough) {
		return err
	}
	if s.json {
		return s.object(list)
	}
	if len(list.Tools) == 0 {
		s.note("no tool fits; this searches numbers, 3 or more characters of a serial, and beginnings of words")
	}
	var rows [][]string
	for _, r := range list.Tools {
		rows = append(rows, []string{r.Number, kindOf(r.Kind), r.Maker, r.Model, r.Serial, r.Owner, text(r.Place), stateOf(r), text(r.Person), text(r.DoNotUse)})
	}
	return s.table([]string{"NUMBER", "KIND", "MAKER", "MODEL", "SERIAL", "OWNER", "PLACE", "STATE", "PERSON", "DO NOT USE"}, rows)
}

// kindOf says in words that a tool was photographed and has no kind yet.
func kindOf(kind string) string {
	if kind == "" {
		return "not yet typed"
	}
	return kind
}

// errEnough ends a list that is as long as was asked for.
var errEnough = errors.New("enough")

func enough(have, most int) error {
	if most > 0 && have >= most {
		return errEnough
	}
	return nil
}

// limit is the flag of lists; without it all is listed.
func limit() cli.Flag { return value("limit", "no more than `N`; else all") }

// pageOf is how many rows to ask for at once; the server gives 200 at most.
func pageOf(most int) int { return min(most, 200) }
