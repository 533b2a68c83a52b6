package cli

import (
	"context"
	"io"

	"github.com/urfave/cli/v2"

	"pawl/model/fault"
)

// chartFlags are those of calibrate that draw instead of recording.
func chartFlags() []cli.Flag {
	return []cli.Flag{
		value("chart", "draw a calibration to `FILE`, an SVG picture; - is stdout"),
		value("of", "the calibration to draw, by its `ID`; else the newest with readings"),
	}
}

// checkChart refuses what does not go together.
func (o calibrateOptions) checkChart() error {
	if o.chart != "" && !o.nothing() {
		return fault.New(fault.Malformed, "--chart draws what is on record").WithHint("enter the calibration first, then draw it")
	}
	if o.chart == "" && o.of != "" {
		return fault.New(fault.Malformed, "--of names the calibration to draw").WithHint("add --chart chart.svg")
	}
	return nil
}

func runChart(ctx context.Context, s *session, o calibrateOptions) error {
	return s.toFile(o.chart, 0o644, func(w io.Writer) ([]string, error) {
		return nil, s.client.Chart(ctx, o.number, o.of, w)
	})
}
