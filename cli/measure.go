package cli

import (
	"context"

	"github.com/urfave/cli/v2"

	"pawl/api/client"
	"pawl/api/wire"
)

type measureOptions struct {
	number string
	wire.Measure
}

func (p *program) measureCommand() *cli.Command {
	return &cli.Command{
		Name: "measure", Usage: "record a value measured on a job",
		Description: `pawl measure 00E-KM5 --job 1042 --what "front left rotor thickness" --value "26.1 mm" --limits 25.4..`,
		ArgsUsage:   "NUMBER",
		Flags: append([]cli.Flag{
			value("job", "on the repair order of `NUMBER`"),
			value("what", "what was measured, in `WORDS`"),
			value("value", "the `VALUE` read, with its unit: \"26.1 mm\""),
		}, append(useFlags(), askFlags()...)...),
		Action: action(p, parseMeasure, runMeasure),
		Subcommands: []*cli.Command{takesBack(p, "measure", "measurement", "V-2H4K9Q7M", "it was the right-hand rotor",
			(*client.Client).WithdrawMeasurement, useTakenBack)},
	}
}

func parseMeasure(c *cli.Context) (o measureOptions, err error) {
	use, number, err := useOf(c)
	if err != nil {
		return o, err
	}
	o.number = number
	o.Measure = wire.Measure{Ask: use.Ask, Job: use.Job, Happened: use.Happened, NotSafetyWhy: use.NotSafetyWhy, Redoes: use.Redoes}
	if o.What, err = need(c, "what", `"front left rotor thickness"`); err != nil {
		return o, err
	}
	o.Target, err = need(c, "value", `"26.1 mm"`)
	return o, err
}

func runMeasure(ctx context.Context, s *session, o measureOptions) error {
	v, err := s.client.Measure(ctx, o.number, o.Measure)
	if err != nil {
		return err
	}
	return s.used(v)
}
