package cli

import (
	"context"
	"errors"
	"io"
	"io/fs"
	"os"

	"github.com/urfave/cli/v2"

	"pawl/api/wire"
	"pawl/model/fault"
)

func (p *program) checkpointCommand() *cli.Command {
	return &cli.Command{
		Name: "checkpoint", Usage: "sign the ledger as it stands, to be kept elsewhere",
		Description: `pawl checkpoint -o 2026-11-25.checkpoint
pawl checkpoint --letter
pawl checkpoint --eml -o broker.eml
pawl verify --against 2026-11-25.checkpoint`,
		Flags: []cli.Flag{
			toFile("write the signed note to `FILE`; else to stdout. The answer of the time-stamp authority, where the shop has one, goes beside it as FILE.tsr"),
			&cli.BoolFlag{Name: "letter", Usage: "write a text instead that says why, to be pasted into a message to the insurance broker or the accountant"},
			&cli.BoolFlag{Name: "eml", Usage: "write such a message instead, unsent, with the signed note attached"},
		},
		Action: action(p, parseCheckpoint, runCheckpoint),
	}
}

type checkpointOptions struct {
	output string
	write  func(c wire.Checkpoint, shop string) string
	plain  bool // the note itself
}

func parseCheckpoint(c *cli.Context) (o checkpointOptions, err error) {
	o = checkpointOptions{output: c.String("output"), plain: true, write: func(c wire.Checkpoint, _ string) string { return c.Note }}
	switch {
	case c.Bool("letter") && c.Bool("eml"):
		return o, fault.New(fault.Malformed, "--letter and --eml are two forms of one thing").WithHint("give one of them")
	case c.Bool("letter"):
		o.write, o.plain = checkpointLetter, false
	case c.Bool("eml"):
		o.write, o.plain = checkpointMessage, false
	}
	if o.output == "" {
		o.output = "-"
	}
	return o, noOperands(c)
}

func runCheckpoint(ctx context.Context, s *session, o checkpointOptions) error {
	file, err := create(o.output, s.out, 0o644)
	if err != nil {
		return err
	}
	defer file.drop()
	point, err := s.client.DatedCheckpoint(ctx)
	if err != nil {
		return err
	}
	shop := ""
	if !o.plain {
		settings, _, err := s.client.Settings(ctx)
		if err != nil {
			return err
		}
		shop = settings.Name
	}
	if o.output != "-" || !s.json {
		if _, err := io.WriteString(file, o.write(point, shop)); err != nil {
			return cannotWrite(o.output, err)
		}
	}
	if err := file.keep(); err != nil {
		return err
	}
	if err := s.keepStamp(point, o); err != nil {
		return err
	}
	return s.checkpointDone(point, o.output)
}

// keepStamp writes the time stamp beside the note. One that is there is of what the
// file held before, and would make the new note look altered.
func (s *session) keepStamp(point wire.Checkpoint, o checkpointOptions) error {
	if o.output != "-" {
		switch err := os.Remove(o.output + ".tsr"); {
		case err == nil:
			s.note("the time stamp in " + o.output + ".tsr was of what " + o.output + " held before, and is removed")
		case !errors.Is(err, fs.ErrNotExist):
			return cannotWrite(o.output+".tsr", err)
		}
	}
	switch {
	case point.NoTimeStamp != "":
		s.note(point.NoTimeStamp)
	case point.TimeStamp != nil && o.plain && o.output != "-":
		beside, err := create(o.output+".tsr", s.out, 0o644)
		if err != nil {
			return err
		}
		defer beside.drop()
		if _, err := beside.Write(point.TimeStamp.Answer); err != nil {
			return cannotWrite(o.output+".tsr", err)
		}
		s.note("its time stamp says " + s.when(point.TimeStamp.At) + ", and is in " + o.output + ".tsr")
		return beside.keep()
	}
	return nil
}

func (s *session) checkpointDone(point wire.Checkpoint, output string) error {
	s.note("keep it where nobody who can change the shop can change it too", "the key's fingerprint, to be written down apart: "+point.Fingerprint)
	switch {
	case s.json:
		return s.object(point)
	case output == "-":
		return nil
	}
	return s.changed("wrote "+output+": the ledger of "+count(point.Size, "line"), output, count(point.Size, ""), point.Fingerprint)
}
