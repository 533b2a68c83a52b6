package cli

import (
	"context"
	"strconv"

	"github.com/urfave/cli/v2"

	"pawl/api/wire"
	"pawl/model/fault"
)

func (p *program) verifyCommand() *cli.Command {
	return &cli.Command{
		Name: "verify", Usage: "check the whole store against its ledger",
		Description: `pawl verify
pawl verify --against 2026-11-25.checkpoint
pawl verify --part 3/10
pawl verify --rolls all
pawl verify packet.zip --key pawl.pub --against 2026-11-25.checkpoint`,
		ArgsUsage: "[FILE]",
		Flags: []cli.Flag{
			value("authority-roots", "with FILE: certificates, in PEM, of those who vouch for its time-stamp authority, in `ROOTS`"),
			value("key", "with FILE, a packet or a copy of tools: the verifying `KEY` of the shop that it comes from, or the file that holds it"),
			values("against", "a checkpoint kept elsewhere, in `FILE`; once for each"),
			value("rolls", "make `WHICH` daily rolls again from the lines: newest or all; else the newest and those that packets name"),
			value("part", "of the originals only one part, as `N/OF`; the rest is checked whole"),
		},
		Action: func(c *cli.Context) error {
			if c.Args().Len() > 0 {
				return p.verifyFile(c)
			}
			return action(p, parseVerify, runVerify)(c)
		},
	}
}

// maxCheckpoint is far beyond any signed note of ours, in bytes.
const maxCheckpoint = 64 << 10

func parseVerify(c *cli.Context) (in wire.Verify, err error) {
	if err := noOperands(c); err != nil {
		return in, err
	}
	if c.IsSet("key") || c.IsSet("authority-roots") {
		return in, fault.New(fault.Malformed, "--key and --authority-roots are for a packet in a FILE; a shop knows its own key").WithHint("name the file: pawl verify packet.zip --key KEY")
	}
	in.Part, in.Rolls = c.String("part"), c.String("rolls")
	for _, name := range c.StringSlice("against") {
		note, err := readText(name, maxCheckpoint)
		if err != nil {
			return in, err
		}
		in.Against = append(in.Against, note)
	}
	return in, nil
}

func runVerify(ctx context.Context, s *session, in wire.Verify) error {
	v, err := s.client.Verify(ctx, in)
	if err != nil {
		return err
	}
	return s.sayVerified(v)
}

func (s *session) sayVerified(v wire.Verified) (err error) {
	if s.json {
		err = s.object(v)
	} else {
		err = s.verified(v)
	}
	if err == nil && !v.OK {
		return told{exitFailed}
	}
	return err
}

func (s *session) verified(v wire.Verified) error {
	answer := "everything holds"
	switch {
	case !v.OK:
		answer = "DOES NOT HOLD"
	case v.Root == "": // a bag of others, without proofs
		answer = "the files are those of its lists; nothing is proven"
	}
	fields := []field{
		{"answer", answer}, {"lines", count(v.Lines, "")}, {"records", count(v.Records, "")},
		{"originals", count(v.Originals, "")}, {"checkpoints", count(v.Checkpoints, "")},
		{"withheld", count(v.Withheld, "")}, {"rolls", count(v.Rolls, "")}, {"size", count(v.Size, "")}, {"root", v.Root},
	}
	for _, p := range v.Problems {
		fields = append(fields, field{"problem", p})
	}
	for _, said := range v.Said {
		fields = append(fields, field{"said", said})
	}
	return s.record(fields)
}

// count writes a number, with what it counts.
func count(n int64, what string) string {
	text := strconv.FormatInt(n, 10)
	switch {
	case what == "":
		return text
	case n == 1:
		return text + " " + what
	}
	return text + " " + what + "s"
}
