package cli

import (
	"context"

	"github.com/urfave/cli/v2"

	"pawl/api/wire"
)

type swapOptions struct {
	number string
	papers []paper
	wire.Swap
}

func (p *program) swapCommand() *cli.Command {
	return &cli.Command{
		Name: "swap", Usage: "exchange a tool for another of its kind, as under warranty",
		Description: `pawl swap 00E-KM5 --serial KD511A090 --serial-again KD511A090 --slip slip.jpg
pawl swap 00E-KM5 --serial KD511A090 --serial-again KD511A090 --model BX-901 --number 000-02W`,
		ArgsUsage: "NUMBER",
		Flags: []cli.Flag{
			value("serial", "the serial number of the new tool as `READ` from it"),
			value("serial-again", "the serial number `READ` a second time"),
			values("slip", "the exchange slip, in `FILE`; it is joined to both tools"),
			values("photo", "photo of the new tool, as `[KIND=]FILE`: plate=plate.jpg"),
			values("paper", "paper of the new tool, as `[KIND=]FILE`"),
			value("model", "the new tool's `MODEL`, where it is another"),
			value("number", "a printed, free `NUMBER` for the new tool; else the next free one is drawn"),
			value("note", "anything else, as `TEXT`"),
			value("on", "the `DAY` of the exchange; else today"),
		},
		Action: action(p, parseSwap, runSwap),
	}
}

func parseSwap(c *cli.Context) (o swapOptions, err error) {
	numbers, err := operands(c, 1, 1, "a tool NUMBER")
	if err != nil {
		return o, err
	}
	o.number = numbers[0]
	if o.Serial, err = need(c, "serial", "KD511A090"); err != nil {
		return o, err
	}
	o.SerialAgain, o.Model, o.Number = c.String("serial-again"), c.String("model"), c.String("number")
	o.Note, o.On = c.String("note"), c.String("on")
	if o.papers, err = papersOf(c); err != nil {
		return o, err
	}
	for _, file := range c.StringSlice("slip") {
		o.papers = append(o.papers, paper{"slip", file})
	}
	return o, nil
}

func runSwap(ctx context.Context, s *session, o swapOptions) (err error) {
	if o.Evidence, err = s.upload(ctx, o.papers); err != nil {
		return err
	}
	r, err := s.client.Swap(ctx, o.number, o.Swap)
	if err != nil {
		return err
	}
	if s.json {
		return s.object(r)
	}
	err = s.changed(r.Old.Number+" is gone, exchanged for "+r.Number, r.Number, "swapped", r.Old.Number, r.Tool.Kind, r.Tool.Maker, r.Tool.Model, r.Tool.Serial.AsRead)
	s.note(r.Tool.Advice...)
	s.note("take the label " + r.Old.Number + " off the old tool; next: pawl labels " + r.Number + " --format png --dpi 300 -o label.png")
	return err
}
