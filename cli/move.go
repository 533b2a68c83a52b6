package cli

import (
	"github.com/urfave/cli/v2"

	"pawl/api/wire"
	"pawl/model/fault"
)

func (p *program) moveCommand() *cli.Command {
	return &cli.Command{
		Name: "move", Usage: "bring the whole shop to PostgreSQL, to another folder, or its photos into a bucket, and check it there",
		Description: `pawl move --to postgres://pawl@db.example/pawl
pawl move --to postgres://pawl@db.example/pawl --originals s3://gull-lane/shop
pawl move --db postgres://pawl@db.example/pawl --to FOLDER
pawl move --originals s3://gull-lane/shop
pawl move --originals folder`,
		Flags: []cli.Flag{value("to", "to `PLACE`, an empty folder or database (postgres://…); photos and papers go to --originals, else into the folder; without it they alone go to --originals: s3://BUCKET/PREFIX, or folder")},
		Action: func(c *cli.Context) error {
			if err := localOnly(c); err != nil {
				return err
			}
			if err := noOperands(c); err != nil {
				return err
			}
			alone := !c.IsSet("to") && c.String("originals") != ""
			if !c.IsSet("to") && !alone {
				return fault.New(fault.Malformed, "it is not said where the shop is to go").WithHint("give --to FOLDER, or --to postgres://USER@HOST/NAME")
			}
			f, err := p.folder(c)
			if err != nil {
				return err
			}
			w := p.watch(c)
			if alone {
				done, err := moveOriginals(c.Context, f)
				w.clear()
				if err != nil {
					return err
				}
				return p.sayMoved(c, done, "they are there now; those that are left behind are read no more: keep them until you have a backup")
			}
			done, err := moveTo(c.Context, f, c.String("to"))
			w.clear()
			if err != nil {
				return err
			}
			return p.sayMoved(c, done, "the shop stands there now; what is left here opens for pawl verify alone: keep it until you have a backup from there",
				"the signing key is in the folder keys: every computer that serves the shop needs it")
		},
	}
}

// sayMoved tells what was moved; what does not hold where it went stays where it was.
func (p *program) sayMoved(c *cli.Context, done wire.Moved, notes ...string) (err error) {
	s := printer{out: answers{p.out}, err: p.err, terminal: isTerminal(p.out), json: c.Bool("json"), quiet: c.Bool("quiet")}
	what := "moved"
	if done.OK {
		s.note(notes...)
	} else {
		what = "NOT MOVED: it does not hold there; all of it stands where it was"
	}
	if s.json {
		err = s.object(done)
	} else {
		err = s.record(movedFields(what, done))
	}
	if err == nil && !done.OK {
		return told{exitFailed}
	}
	return err
}

func movedFields(what string, done wire.Moved) []field {
	fields := []field{
		{"answer", what}, {"shop", done.Shop}, {"to", done.To}, {"lines", count(done.Lines, "")}, {"root", done.Root},
		{"rows", count(done.Rows, "")}, {"originals", count(done.Originals, "")}, {"originals in", done.OriginalsIn}, {"copied", count(done.Copied, "")},
	}
	for _, p := range done.Problems {
		fields = append(fields, field{"problem", p})
	}
	for _, said := range done.Said {
		fields = append(fields, field{"said", said})
	}
	return fields
}
