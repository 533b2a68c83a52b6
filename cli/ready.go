package cli

import (
	"context"
	"fmt"
	"strconv"

	"github.com/urfave/cli/v2"

	"pawl/api/wire"
	"pawl/model/fault"
)

type readyOptions struct {
	number  string // empty: which tools
	drawing string // file to draw the offset adapter into
	wire.Ask
}

func (p *program) readyCommand() *cli.Command {
	return &cli.Command{
		Name: "ready", Usage: "ask: can I use it for …?",
		Description: `pawl ready 00E-KM5 --target "108 N·m" --limits 100..116
pawl ready 00E-KM5 --target "80 N·m" --crowfoot 50mm --angle 45deg --drawing adapter.svg
pawl ready --target "80 ft-lb"`,
		ArgsUsage: "[NUMBER]",
		Flags: append([]cli.Flag{value("target", "for `VALUE`, with its unit: \"108 N·m\""),
			value("drawing", "draw the offset adapter to `FILE`, an SVG picture, beside the answer")}, askFlags()...),
		Action: action(p, parseReady, runReady),
	}
}

// askFlags are those of the question besides its value.
func askFlags() []cli.Flag {
	return []cli.Flag{
		value("limits", "the job permits `LOW..HIGH`; an end may be open: 25.4.."),
		value("direction", "cw or ccw, as `DIRECTION`; clockwise where it is not said"),
		value("method", "by `METHOD`: torque, torque+angle or yield"),
		value("crowfoot", "with an offset adapter of this `LENGTH`, middle of drive to middle of fastener: 50mm"),
		value("angle", "which points `ANGLE` from straight ahead: 45deg"),
		value("adapter", "with another adapter, by its `KIND`: extension, torque-limiting, universal joint or multiplier"),
		value("adapter-factor", "its `FACTOR` by its own certificate: torque at the fastener over torque at the drive"),
		value("adapter-uncertainty", "expanded (k = 2) uncertainty of that in `PERCENT`"),
		value("adapter-due", "its certificate is in date through `DATE`"),
		value("adapter-number", "`NUMBER` of its certificate"),
		value("angle-device", "the angle is measured with the tool of `NUMBER`"),
		yes("not-safety", "it is not safety-critical"),
		value("setting-unchanged", "a tool without a scale: is its setting unchanged? `ANSWER` yes or no"),
		value("zero-and-battery", "electronic: are zero and battery good? `ANSWER` yes or no"),
		value("length-in-wrench", "electronic: is the adapter's length in the wrench already? `ANSWER` yes or no"),
		value("unit-confirmed", "is the unit as it was read? `ANSWER` yes or no"),
		value("ambient", "it is used at `TEMPERATURE`: \"20 °C\""),
	}
}

func askOf(c *cli.Context) wire.Ask {
	text := c.String
	return wire.Ask{
		Target: text("target"), Limits: text("limits"), Direction: text("direction"), Method: text("method"), Crowfoot: text("crowfoot"),
		Angle: text("angle"), Adapter: text("adapter"), AdapterFactor: text("adapter-factor"), AdapterUncertainty: text("adapter-uncertainty"),
		AdapterDue: text("adapter-due"), AdapterNumber: text("adapter-number"), AngleDevice: text("angle-device"), NotSafety: c.Bool("not-safety"),
		SettingUnchanged: text("setting-unchanged"), ZeroAndBattery: text("zero-and-battery"), LengthInWrench: text("length-in-wrench"),
		UnitConfirmed: text("unit-confirmed"), Ambient: text("ambient"),
	}
}

func parseReady(c *cli.Context) (o readyOptions, err error) {
	numbers, err := operands(c, 0, 1, "a tool NUMBER")
	if err != nil {
		return o, err
	}
	if len(numbers) == 1 {
		o.number = numbers[0]
	}
	if o.Ask, o.drawing = askOf(c), c.String("drawing"); o.drawing != "" && (o.number == "" || o.Crowfoot == "" || o.drawing == "-") {
		return o, fault.New(fault.Malformed, "--drawing draws the offset adapter on one tool into a file").WithHint("name the tool, --crowfoot and --angle, and a file such as adapter.svg")
	}
	_, err = need(c, "target", `"108 N·m"`)
	return o, err
}

func verdict(v string) error {
	if v == "yes" {
		return nil
	}
	return told{exitNo}
}

func runReady(ctx context.Context, s *session, o readyOptions) error {
	if o.number == "" {
		return runRanked(ctx, s, o.Ask)
	}
	v, err := s.client.ReadyFor(ctx, o.number, o.Ask)
	if err != nil {
		return err
	}
	if s.json {
		err = s.object(v)
	} else {
		err = s.answered(ctx, v)
	}
	if err == nil && o.drawing != "" {
		err = s.drawAdapter(ctx, o)
	}
	if err != nil {
		return err
	}
	return verdict(string(v.Verdict))
}

// drawAdapter writes the drawing beside the answer, which says nothing of it.
func (s *session) drawAdapter(ctx context.Context, o readyOptions) error {
	file, err := create(o.drawing, s.out, 0o644)
	if err != nil {
		return err
	}
	defer file.drop()
	if err := s.client.Adapter(ctx, o.number, o.Target, o.Crowfoot, o.Angle, file); err != nil {
		return err
	}
	return file.keep()
}

// answered says an answer in words: what it is first, then why, then what else.
func (s *session) answered(ctx context.Context, v wire.Ready) error {
	err := s.changed(v.Number+" "+v.Kind+": "+v.Words, v.Number, string(v.Verdict), v.Setting.String(), number(v.InsideProbability), v.Words, s.when(v.ComputedAt))
	if err != nil {
		return err
	}
	if v.Applied != nil {
		s.note(fmt.Sprintf("95 %% of the time it is between %s and %s", v.Applied.Low.Words(), v.Applied.High.Words()))
	}
	for _, r := range v.Reasons {
		s.note(r.Text)
	}
	for _, a := range v.Alternatives {
		s.note(joined(", ", "instead: "+a.Number+" "+a.Kind+" ("+a.Verdict+")", text(a.Place), text(a.Holder)))
	}
	s.note(v.Cautions...)
	s.note("computed " + s.when(v.ComputedAt) + "; it holds for this moment only")
	return nil
}

func number(f *float64) string {
	if f == nil {
		return ""
	}
	return strconv.FormatFloat(*f, 'f', -1, 64)
}

func runRanked(ctx context.Context, s *session, in wire.Ask) error {
	v, err := s.client.ReadyTools(ctx, in)
	if err != nil {
		return err
	}
	if s.json {
		err = s.object(v)
	} else {
		var rows [][]string
		bare := ""
		for _, a := range v.Tools {
			rows = append(rows, []string{a.Number, a.Kind, a.Verdict, a.Setting.String(), number(a.InsideProbability), text(a.Place), text(a.Holder), a.Reason})
			if a.Code == wire.NoRequirement && bare == "" {
				bare = a.Number
			}
		}
		if len(rows) == 0 {
			s.note("no tool that measures this is on record")
		}
		if by := text(v.DefaultLimitsPercent); by != "" {
			s.note("you gave no limits: by the shop's default of ±" + by + " %; the vehicle maker's service information governs")
		} else if in.Limits == "" {
			s.note("you gave no limits: a yes says only that the tool holds its own; give the job's with --limits LOW..HIGH")
		}
		if bare != "" {
			s.note("what " + bare + " must hold is not recorded, so nothing can be confirmed: pawl calibrate " + bare + " --preset …")
		}
		if v.LeftOut > 0 {
			s.note(count(int64(v.LeftOut), "more tool") + " left out: the list has the best " + strconv.Itoa(len(rows)) + "; ask one by its number: pawl ready NUMBER --target '" + in.Target + "'")
		}
		err = s.table([]string{"NUMBER", "KIND", "ANSWER", "SET", "INSIDE", "PLACE", "HELD", "WHY"}, rows)
		s.note(v.Cautions...)
	}
	if err != nil {
		return err
	}
	return verdict(v.Verdict)
}
