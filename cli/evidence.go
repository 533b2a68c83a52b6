package cli

import (
	"context"
	"io"

	"github.com/urfave/cli/v2"

	"pawl/model/fault"
)

func (p *program) evidenceCommand() *cli.Command {
	return &cli.Command{
		Name: "evidence", Usage: "add photos and papers to a tool, or get them back",
		Description: `pawl evidence add 00E-KM5 --photo plate=plate.jpg
pawl evidence get 5f70bf18a086007016e948b04aed3b82103a36bea41755b6cddfaf10ace3c6ef -o same.jpg`,
		Subcommands: []*cli.Command{
			{
				Name: "add", Usage: "add photos and papers to a tool",
				Description: `pawl evidence add 00E-KM5 --photo plate=plate.jpg --paper receipt=receipt.pdf`,
				ArgsUsage:   "NUMBER",
				Flags: []cli.Flag{
					values("photo", "photo of it, as `[KIND=]FILE`; without a kind, of the whole tool"),
					values("paper", "paper of it, as `[KIND=]FILE`; without a kind, a receipt"),
				},
				Action: action(p, parseEvidenceAdd, runEvidenceAdd),
			},
			{
				Name: "get", Usage: "write an original as it was received",
				Description: `pawl evidence get 5f70bf18a086007016e948b04aed3b82103a36bea41755b6cddfaf10ace3c6ef -o same.jpg`,
				ArgsUsage:   "SHA256",
				Flags: []cli.Flag{
					toFile("write to `FILE`; - is stdout"),
					value("view", "instead, an upright JPEG of that `SIZE`: small or large"),
				},
				Action: action(p, parseEvidenceGet, runEvidenceGet),
			},
			p.unsortedCommand(), p.fileCommand(),
		},
	}
}

type evidenceAddOptions struct {
	number string
	papers []paper
}

func parseEvidenceAdd(c *cli.Context) (o evidenceAddOptions, err error) {
	numbers, err := operands(c, 1, 1, "a tool NUMBER")
	if err != nil {
		return o, err
	}
	o.number = numbers[0]
	if o.papers, err = papersOf(c); err == nil && len(o.papers) == 0 {
		err = fault.New(fault.Malformed, "no photo or paper is given").WithHint("such as --photo plate=plate.jpg")
	}
	return o, err
}

func runEvidenceAdd(ctx context.Context, s *session, o evidenceAddOptions) error {
	named, err := s.upload(ctx, o.papers)
	if err != nil {
		return err
	}
	done, err := s.client.Attach(ctx, o.number, named)
	if err != nil {
		return err
	}
	return s.done(done)
}

type evidenceGetOptions struct{ sha, output, view string }

func parseEvidenceGet(c *cli.Context) (o evidenceGetOptions, err error) {
	shas, err := operands(c, 1, 1, "a SHA256")
	if err != nil {
		return o, err
	}
	o.sha, o.view = shas[0], c.String("view")
	o.output, err = need(c, "output", "FILE, or -o - for stdout")
	return o, err
}

func runEvidenceGet(ctx context.Context, s *session, o evidenceGetOptions) error {
	return s.toFile(o.output, 0o644, func(w io.Writer) ([]string, error) {
		if o.view != "" {
			return nil, s.client.View(ctx, o.sha, o.view, w)
		}
		return nil, s.client.Original(ctx, o.sha, w)
	})
}
