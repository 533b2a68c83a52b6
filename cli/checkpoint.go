package cli

import (
	"context"
	"io"

	"github.com/urfave/cli/v2"

	"pawl/api/wire"
)

func (p *program) checkpointCommand() *cli.Command {
	return &cli.Command{
		Name: "checkpoint", Usage: "sign the ledger as it stands, to be kept elsewhere",
		Description: `pawl checkpoint -o 2026-11-25.checkpoint
pawl verify --against 2026-11-25.checkpoint`,
		Flags:  []cli.Flag{toFile("write the signed note to `FILE`; else to stdout")},
		Action: action(p, parseCheckpoint, runCheckpoint),
	}
}

func parseCheckpoint(c *cli.Context) (output string, err error) {
	return c.String("output"), noOperands(c)
}

func runCheckpoint(ctx context.Context, s *session, output string) error {
	if output == "" {
		output = "-"
	}
	file, err := create(output, s.out, 0o644)
	if err != nil {
		return err
	}
	defer file.drop()
	point, err := s.client.Checkpoint(ctx)
	if err != nil {
		return err
	}
	if output != "-" || !s.json {
		if _, err := io.WriteString(file, point.Note); err != nil {
			return cannotWrite(output, err)
		}
	}
	if err := file.keep(); err != nil {
		return err
	}
	return s.checkpointDone(point, output)
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
