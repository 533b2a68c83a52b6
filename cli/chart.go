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
		yes("drift", "draw how it drifted from calibration to calibration"),
		yes("advice", "what the record says of its interval; it changes nothing"),
	}
}

// checkChart refuses what does not go together.
func (o calibrateOptions) checkChart() error {
	if o.chart != "" && !o.nothing() {
		return fault.New(fault.Malformed, "--chart draws what is on record").WithHint("enter the calibration first, then draw it")
	}
	switch {
	case o.output != "" && (!o.nothing() || o.chart != "" || o.advice):
		return fault.New(fault.Malformed, "--output lists what is on record").WithHint("enter, draw or ask in another call")
	case o.chart == "" && o.of != "":
		return fault.New(fault.Malformed, "--of names the calibration to draw").WithHint("add --chart chart.svg")
	case o.chart == "" && o.drift:
		return fault.New(fault.Malformed, "--drift says what to draw").WithHint("add --chart drift.svg")
	case o.drift && o.of != "":
		return fault.New(fault.Malformed, "the drift is drawn of all calibrations").WithHint("give --of or --drift")
	case o.advice && (o.chart != "" || !o.nothing()):
		return fault.New(fault.Malformed, "--advice only asks").WithHint("enter or draw in another call")
	}
	return nil
}

func runChart(ctx context.Context, s *session, o calibrateOptions) error {
	return s.toFile(o.chart, 0o644, func(w io.Writer) ([]string, error) {
		if o.drift {
			return nil, s.client.Drift(ctx, o.number, w)
		}
		return nil, s.client.Chart(ctx, o.number, o.of, w)
	})
}
