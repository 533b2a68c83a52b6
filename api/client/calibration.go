package client

import (
	"context"
	"io"
	"net/http"
	"net/url"

	"pawl/api/wire"
)

// Presets lists what is usually asked of each sort of tool that measures.
func (c *Client) Presets(ctx context.Context) (wire.Presets, error) {
	all, _, err := get[wire.Presets](ctx, c, nil, "presets")
	return all, err
}

// Calibrate records what a tool must hold, a tool calibration, or both.
func (c *Client) Calibrate(ctx context.Context, number string, in wire.Calibrate, opts ...Option) (wire.Calibrated, error) {
	return post[wire.Calibrated](ctx, c, in, opts, "tools", number, "calibrate")
}

// Bench records a bench check.
func (c *Client) Bench(ctx context.Context, number string, in wire.Bench, opts ...Option) (wire.Calibrated, error) {
	return post[wire.Calibrated](ctx, c, in, opts, "tools", number, "bench")
}

// Calibrations returns what a tool must hold and how it was compared.
func (c *Client) Calibrations(ctx context.Context, number string) (wire.Calibrations, error) {
	all, _, err := get[wire.Calibrations](ctx, c, nil, "tools", number, "calibrations")
	return all, err
}

// IntervalAdvice returns what the record makes of a tool's interval.
func (c *Client) IntervalAdvice(ctx context.Context, number string) (wire.IntervalAdvice, error) {
	advice, _, err := get[wire.IntervalAdvice](ctx, c, nil, "tools", number, "advice")
	return advice, err
}

// ReadyFor asks whether a tool can be used for something.
func (c *Client) ReadyFor(ctx context.Context, number string, in wire.Ask) (wire.Ready, error) {
	answer, _, err := get[wire.Ready](ctx, c, query(in), "tools", number, "ready")
	return answer, err
}

// ReadyTools asks which tools can be used for something, best first.
func (c *Client) ReadyTools(ctx context.Context, in wire.Ask) (wire.Ranked, error) {
	answer, _, err := get[wire.Ranked](ctx, c, query(in), "ready")
	return answer, err
}

// query writes a question as parameters; what is empty is left out.
func query(in wire.Ask) url.Values {
	out := url.Values{}
	for name, value := range map[string]string{
		"target": in.Target, "limits": in.Limits, "direction": in.Direction, "method": in.Method, "crowfoot": in.Crowfoot, "angle": in.Angle,
		"adapter": in.Adapter, "adapter_factor": in.AdapterFactor, "adapter_uncertainty": in.AdapterUncertainty, "adapter_due": in.AdapterDue,
		"adapter_number": in.AdapterNumber, "angle_device": in.AngleDevice, "setting_unchanged": in.SettingUnchanged,
		"zero_and_battery": in.ZeroAndBattery, "length_in_wrench": in.LengthInWrench, "unit_confirmed": in.UnitConfirmed, "ambient": in.Ambient,
	} {
		if value != "" {
			out.Set(name, value)
		}
	}
	if in.NotSafety {
		out.Set("not_safety", "true")
	}
	return out
}

// Tighten records a torque applied on a job.
func (c *Client) Tighten(ctx context.Context, number string, in wire.Tighten, opts ...Option) (wire.Use, error) {
	return post[wire.Use](ctx, c, in, opts, "tools", number, "tighten")
}

// Measure records a value measured on a job.
func (c *Client) Measure(ctx context.Context, number string, in wire.Measure, opts ...Option) (wire.Use, error) {
	return post[wire.Use](ctx, c, in, opts, "tools", number, "measure")
}

// SignUse gives a manager's reason for what could not be confirmed.
func (c *Client) SignUse(ctx context.Context, id string, in wire.Sign, opts ...Option) (wire.Use, error) {
	return post[wire.Use](ctx, c, in, opts, "uses", id, "sign")
}

// UsesOn returns the tightenings and measurements on a job, oldest first.
func (c *Client) UsesOn(ctx context.Context, job string) (wire.Uses, error) {
	all, _, err := get[wire.Uses](ctx, c, nil, "jobs", job, "uses")
	return all, err
}

// CalibrationsCSV writes every comparison of a tool to w, as a CSV.
func (c *Client) CalibrationsCSV(ctx context.Context, number string, w io.Writer) error {
	return c.do(ctx, request{method: http.MethodGet, path: []string{"tools", number, "calibrations"}, query: url.Values{"format": {"csv"}}}, copied(w))
}

// UsesCSV writes the tightenings and measurements on a job to w, as a CSV.
func (c *Client) UsesCSV(ctx context.Context, job string, w io.Writer) error {
	return c.do(ctx, request{method: http.MethodGet, path: []string{"jobs", job, "uses"}, query: url.Values{"format": {"csv"}}}, copied(w))
}

// Fasteners returns the names that fasteners were given.
func (c *Client) Fasteners(ctx context.Context) (wire.Fasteners, error) {
	all, _, err := get[wire.Fasteners](ctx, c, nil, "fasteners")
	return all, err
}

// WithdrawCalibration takes back a tool calibration that was entered by mistake.
func (c *Client) WithdrawCalibration(ctx context.Context, number string, in wire.Withdraw, opts ...Option) (wire.Calibrated, error) {
	return post[wire.Calibrated](ctx, c, in, opts, "tools", number, "calibrate", "withdraw")
}

// WithdrawBench takes back a bench check that was entered by mistake.
func (c *Client) WithdrawBench(ctx context.Context, number string, in wire.Withdraw, opts ...Option) (wire.Calibrated, error) {
	return post[wire.Calibrated](ctx, c, in, opts, "tools", number, "bench", "withdraw")
}

// WithdrawTightening takes back a tightening that was entered by mistake.
func (c *Client) WithdrawTightening(ctx context.Context, number string, in wire.Withdraw, opts ...Option) (wire.Use, error) {
	return post[wire.Use](ctx, c, in, opts, "tools", number, "tighten", "withdraw")
}

// WithdrawMeasurement takes back a measurement that was entered by mistake.
func (c *Client) WithdrawMeasurement(ctx context.Context, number string, in wire.Withdraw, opts ...Option) (wire.Use, error) {
	return post[wire.Use](ctx, c, in, opts, "tools", number, "measure", "withdraw")
}
