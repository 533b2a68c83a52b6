package cli

import (
	"context"

	"github.com/urfave/cli/v2"

	"pawl/api/client"
	"pawl/api/wire"
	"pawl/model/fault"
)

type benchOptions struct {
	number string
	wire.Bench
}

func (p *program) benchCommand() *cli.Command {
	return &cli.Command{
		Name: "bench", Usage: "enter a bench check of a tool against a standard",
		Description: `pawl bench 00E-KM5 --standard 00F-LN6 --direction cw --at 40=39.8,40.1,39.9 --at 120=119.1,119.6,119.4 --temperature "21 °C"`,
		ArgsUsage:   "NUMBER",
		Flags: []cli.Flag{
			value("standard", "compared with the tool of `NUMBER2`"),
			value("direction", "`DIRECTION` of points that name none: cw or ccw"),
			values("at", "`READINGS` at one point or more, set=delivered: 40=39.8,40.1,39.9"),
			value("temperature", "compared at `TEMPERATURE`; without it the check clears nothing"),
			value("humidity", "at `PERCENT` of relative humidity"),
			value("standard-uncertainty", "expanded (k = 2) uncertainty `W` of the standard, where its record does not have it"),
			value("standard-bias", "its own deviation in `PERCENT`; 0 where its readings were corrected"),
			value("on", "compared on `DATE`; else now"),
			happened(),
		},
		Action: action(p, parseBench, runBench),
		Subcommands: []*cli.Command{takesBack(p, "bench", "bench check", "A-2H4K9Q7M", "it was another wrench",
			(*client.Client).WithdrawBench, comparisonTakenBack)},
	}
}

func parseBench(c *cli.Context) (o benchOptions, err error) {
	numbers, err := operands(c, 1, 1, "a tool NUMBER")
	if err != nil {
		return o, err
	}
	o.number = numbers[0]
	o.Bench = wire.Bench{On: c.String("on"), Happened: c.String("happened"), Direction: c.String("direction"), At: c.StringSlice("at"),
		Temperature: c.String("temperature"), Humidity: c.String("humidity"), StandardUncertainty: c.String("standard-uncertainty"),
		StandardBias: c.String("standard-bias")}
	if o.Standard, err = need(c, "standard", "00F-LN6"); err == nil && len(o.At) == 0 {
		err = fault.New(fault.Malformed, "pawl bench needs --at").WithHint("such as --at 40=39.8,40.1,39.9")
	}
	return o, err
}

func runBench(ctx context.Context, s *session, o benchOptions) error {
	v, err := s.client.Bench(ctx, o.number, o.Bench)
	if err != nil {
		return err
	}
	return s.calibrated(v)
}
