package cli

import (
	"context"

	"github.com/urfave/cli/v2"

	"pawl/api/wire"
	"pawl/model/fault"
)

// lossEditOptions are what is told of a loss, or of one tool of it.
type lossEditOptions struct {
	id   string
	loss wire.LossChange
	line wire.LossLineChange
}

func (p *program) lossEdit() *cli.Command {
	return &cli.Command{
		Name: "edit", Usage: "tell more of a loss, or with --tool of one tool of it", ArgsUsage: "LOSS",
		Description: `pawl loss edit L-2H4K9Q7M --entered "side door forced" --locks "padlock cut" --keys "manager, Tech A"
pawl loss edit L-2H4K9Q7M --tool 00E-KM5 --left-behind "case and charger" --condition good`,
		Flags: []cli.Flag{
			value("where", "`WHERE` it happened, in words"), value("secure", "`TIME` at which all was last known to be in order"),
			value("entered", "`HOW` they came in"), value("locks", "what is known of the `LOCKS`"), value("alarm", "of the `ALARM`"), value("cameras", "of the `CAMERAS`"),
			value("keys", "`WHO` has keys"), value("closed", "`WHO` closed up, and when"), value("opened", "`WHO` opened, and when"),
			value("tool", "of the tool of `NUMBER`: --left-behind, --condition, --last-seen, --seen-how"),
			value("left-behind", "`WHAT` of the tool was left: case, charger, box"), value("condition", "its `CONDITION` before the loss"),
			value("last-seen", "`TIME` at which it was last seen; empty where nobody knows"), value("seen-how", "by `WHOM` and how"),
		},
		Action: action(p, parseLossEdit, runLossEdit),
	}
}

func parseLossEdit(c *cli.Context) (o lossEditOptions, err error) {
	if o.id, err = parseLossID(c); err != nil {
		return o, err
	}
	o.loss = wire.LossChange{Secure: given(c, "secure"), Where: given(c, "where"), Entered: given(c, "entered"), Locks: given(c, "locks"), Alarm: given(c, "alarm"),
		Cameras: given(c, "cameras"), Keys: given(c, "keys"), Closed: given(c, "closed"), Opened: given(c, "opened")}
	o.line = wire.LossLineChange{LeftBehind: given(c, "left-behind"), Condition: given(c, "condition"), LastSeen: given(c, "last-seen"), SeenHow: given(c, "seen-how")}
	ofLine, ofLoss := o.line != (wire.LossLineChange{}), o.loss != (wire.LossChange{})
	o.line.Number = c.String("tool")
	switch {
	case ofLine && o.line.Number == "":
		return o, fault.New(fault.Malformed, "that is said of one tool").WithHint("name it: --tool NUMBER")
	case o.line.Number != "" && (ofLoss || !ofLine):
		return o, fault.New(fault.Malformed, "--tool goes with --left-behind, --condition, --last-seen and --seen-how, and with nothing else").WithHint("say what is told of the loss by itself")
	case !ofLoss && !ofLine:
		return o, fault.New(fault.Malformed, "nothing is told").WithHint("see %s --help", c.Command.HelpName)
	}
	return o, nil
}

func runLossEdit(ctx context.Context, s *session, o lossEditOptions) error {
	if o.line.Number != "" {
		v, err := s.client.ChangeLossLine(ctx, o.id, o.line)
		if err != nil {
			return err
		}
		return s.lossDone(v, "kept of "+o.line.Number+" in loss "+v.ID, "edited")
	}
	_, etag, err := s.client.Loss(ctx, o.id)
	if err != nil {
		return err
	}
	v, err := s.client.ChangeLoss(ctx, o.id, etag, o.loss)
	if err != nil {
		return err
	}
	return s.lossDone(v, "kept of loss "+v.ID, "edited")
}

func (p *program) lossPolice() *cli.Command {
	type options struct {
		id string
		wire.PoliceReport
	}
	return &cli.Command{
		Name: "police", Usage: "record the report to the police; its number may come later", ArgsUsage: "LOSS",
		Description: `pawl loss police L-2H4K9Q7M --agency "County sheriff" --report 26-11873
pawl loss police L-2H4K9Q7M --officer "Dep. Wren"`,
		Flags: []cli.Flag{
			value("agency", "`WHO` took the report"), value("report", "its `NUMBER`"), value("officer", "`NAME` of the officer"),
			value("reported", "the `DAY` on which it was reported; else today"),
		},
		Action: action(p, func(c *cli.Context) (o options, err error) {
			o.id, err = parseLossID(c)
			o.PoliceReport = wire.PoliceReport{Agency: given(c, "agency"), Report: given(c, "report"), Officer: given(c, "officer"), Reported: given(c, "reported")}
			if err == nil && o.PoliceReport == (wire.PoliceReport{}) {
				err = fault.New(fault.Malformed, "nothing is told of the report").WithHint(`such as --agency "County sheriff" --report 26-11873`)
			}
			return o, err
		}, func(ctx context.Context, s *session, o options) error {
			v, err := s.client.ReportLoss(ctx, o.id, o.PoliceReport)
			if err != nil {
				return err
			}
			return s.lossDone(v, "loss "+v.ID+" is reported to the police: "+policeWords(v.Police), "police")
		}),
	}
}

func (p *program) lossEvidence() *cli.Command {
	type options struct {
		id     string
		papers []paper
	}
	return &cli.Command{
		Name: "evidence", Usage: "add photos and papers of the loss as a whole: forced entry, police report", ArgsUsage: "LOSS",
		Description: `pawl loss evidence L-2H4K9Q7M --photo damage=door.jpg --paper police=report.pdf`,
		Flags: []cli.Flag{
			values("photo", "photo, as `[KIND=]FILE`: damage=door.jpg"),
			values("paper", "paper, as `[KIND=]FILE`: police=report.pdf"),
		},
		Action: action(p, func(c *cli.Context) (o options, err error) {
			if o.id, err = parseLossID(c); err != nil {
				return o, err
			}
			if o.papers, err = papersOf(c); err == nil && len(o.papers) == 0 {
				err = fault.New(fault.Malformed, "no photo or paper is given").WithHint("such as --photo damage=door.jpg")
			}
			return o, err
		}, func(ctx context.Context, s *session, o options) error {
			named, err := s.upload(ctx, o.papers)
			if err != nil {
				return err
			}
			v, err := s.client.AttachToLoss(ctx, o.id, named)
			if err != nil {
				return err
			}
			return s.lossDone(v, count(int64(len(named)), "photo or paper")+" kept with loss "+v.ID, "evidence")
		}),
	}
}

func (p *program) lossRecovered() *cli.Command {
	return &cli.Command{
		Name: "recovered", Usage: "record that a tool of a loss came back: by its number, its serial or a reading of it", ArgsUsage: "[NUMBER]",
		Description: `pawl loss recovered 00E-KM5 --on 2026-11-25 --at "pawn shop, by the police" --condition "label gone"
pawl loss recovered --serial KD408B217
pawl loss recovered --reading "KD4?8B217"`,
		Flags: []cli.Flag{
			value("serial", "the serial number as `READ` from the tool"),
			value("reading", "what can be read of a worn one, as `CELLS`: ? for one that cannot, * for some that are gone; what is only possible is named and not taken"),
			value("on", "the `DAY`; else today"), value("at", "`WHERE`, and by whom"), value("condition", "the `CONDITION` in which it came back"),
		},
		Action: action(p, func(c *cli.Context) (in wire.Recovered, err error) {
			all, err := operands(c, 0, 1, "")
			if err != nil {
				return in, err
			}
			in = wire.Recovered{Number: firstOf(all), Serial: c.String("serial"), Reading: c.String("reading"), On: c.String("on"), At: c.String("at"), Condition: c.String("condition")}
			named := 0
			for _, by := range []string{in.Number, in.Serial, in.Reading} {
				if by != "" {
					named++
				}
			}
			if named != 1 {
				return in, fault.New(fault.Malformed, "say in one way which tool came back").WithHint("give its NUMBER, --serial or --reading")
			}
			return in, nil
		}, func(ctx context.Context, s *session, in wire.Recovered) error {
			v, err := s.client.Recovered(ctx, in)
			if err != nil {
				return err
			}
			return s.lossDone(v, "a tool of loss "+v.ID+" is back, and out of use until it is looked over", "recovered")
		}),
	}
}
