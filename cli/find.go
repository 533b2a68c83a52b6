package cli

import (
	"context"
	"fmt"
	"strconv"

	"github.com/urfave/cli/v2"

	"pawl/api/client"
	"pawl/api/wire"
	"pawl/model/fault"
)

type findOptions struct {
	client.Query
	which string // lists of tools that somebody should look after, with commas between; empty: any
	most  int    // 0: all
}

func (p *program) findCommand() *cli.Command {
	return &cli.Command{
		Name: "find", Usage: "find tools by number, serial, words or where they are",
		Description: `pawl find KD408
pawl find --place "Bay 1" --state out
pawl find impact --owner "Tech A" --json
pawl find --unfinished
pawl find --overdue --place "Bay 1"
pawl find --overdue --out-to-left --owner "Tech A"
pawl find --do-not-use --json`,
		ArgsUsage: "[TEXT]",
		Flags: []cli.Flag{
			value("kind", "of that `KIND`"),
			value("place", "that belong in `PATH` or in something there"),
			value("owner", "of the person called `NAME`"),
			value("state", "in `STATE`: in place, out or away"),
			value("person", "that `NAME` has"),
			yes("gone", "those that are gone too"),
			yes("overdue", "only those not back when they were to be, the longest first; each of these four narrows, with --place, --person and --owner"),
			yes("long-out", "only those out for more days than the settings say"),
			yes("out-to-left", "only those out to somebody who left"),
			yes("do-not-use", "only those out of use, with the reason and since when"),
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
	if o.most, err = wholeOf(c, "limit"); err != nil {
		return o, err
	}
	o.Limit = pageOf(o.most)
	return o, o.listOf(c)
}

// findLists are the flags of lists, with the name of each on the wire.
var findLists = []struct{ flag, which string }{{"overdue", "overdue"}, {"long-out", "long out"}, {"out-to-left", "left"}, {"do-not-use", "do not use"}}

// listOf reads which list is asked for, and refuses what does not go with one.
func (o *findOptions) listOf(c *cli.Context) error {
	given := ""
	for _, l := range findLists {
		if c.Bool(l.flag) {
			given, o.which = l.flag, joined(",", o.which, l.which)
		}
	}
	rest := o.Query
	rest.Place, rest.Person, rest.Owner, rest.Limit = "", "", "", 0
	if given != "" && rest != (client.Query{}) {
		return fault.New(fault.Malformed, "--%s goes with the other lists, --place, --person, --owner and --limit only", given).WithHint("leave the rest out")
	}
	return nil
}

func runFind(ctx context.Context, s *session, o findOptions) error {
	if o.which != "" {
		return runFindList(ctx, s, o)
	}
	tools, err := gather(o.most, func(each func(wire.ToolRow) error) error { return s.client.FindAll(ctx, o.Query, each) })
	if err != nil {
		return err
	}
	gone := 0
	if len(tools) == 0 {
		first, err := s.client.Find(ctx, o.Query)
		if err != nil {
			return err
		}
		gone = first.Gone
	}
	if s.json {
		return s.object(wire.Tools{Tools: tools, Gone: gone})
	}
	if len(tools) == 0 {
		s.note(o.nothing(gone))
	}
	err = s.table([]string{"NUMBER", "KIND", "MAKER", "MODEL", "SERIAL", "OWNER", "PLACE", "STATE", "PERSON", "DO NOT USE", "NOT COMPLETE"}, cellsOf(tools, findRow))
	if err == nil && o.Unfinished && len(tools) > 0 {
		s.note("next: pawl show "+tools[0].Number+" names its photos; look at the plate: pawl evidence get SHA256 --view large -o plate.jpg",
			"then type it: pawl edit "+tools[0].Number+` --kind "impact wrench" --maker Brindle --serial READ --serial-again READ`)
	}
	return err
}

// runFindList lists tools that somebody should look after, the longest first.
func runFindList(ctx context.Context, s *session, o findOptions) error {
	q := client.OutQuery{Which: o.which, Place: o.Place, Person: o.Person, Owner: o.Owner, Limit: o.Limit}
	tools, err := gather(o.most, func(each func(wire.OutRow) error) error { return s.client.OutsAll(ctx, q, each) })
	if err != nil {
		return err
	}
	if len(tools) == 0 {
		s.note("no tool is on that list")
	}
	return list(ctx, s, wire.Outs{Tools: tools}, []string{"NUMBER", "KIND", "MAKER", "MODEL", "PLACE", "STATE", "PERSON", "JOB", "SINCE", "DUE", "DAYS", "DO NOT USE", "NOTE"}, tools,
		func(r wire.OutRow) []string {
			return []string{r.Number, kindOf(r.Kind), r.Maker, r.Model, text(r.Place), r.State, text(r.Person), text(r.Job), s.when(r.Since), s.when(r.Due),
				strconv.FormatInt(r.Days, 10), text(r.DoNotUse), r.Note}
		})
}

// goneFit says that nothing fits but tools that are gone; how to see them follows.
func goneFit(gone int) string {
	return fmt.Sprintf("no tool that is here fits; of those that are gone, %d: see them with ", gone)
}

// nothing says why no tool was found, and that some are gone which fit.
func (o findOptions) nothing(gone int) string {
	if gone > 0 {
		return goneFit(gone) + "--gone"
	}
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
