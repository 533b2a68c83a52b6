package cli

import (
	"context"
	"encoding/json"
	"strings"

	"github.com/urfave/cli/v2"

	"pawl/api/wire"
	"pawl/model/fault"
)

type registerOptions struct {
	tool   wire.NewTool
	papers []paper
}

func (p *program) registerCommand() *cli.Command {
	return &cli.Command{
		Name: "register", Usage: "register a tool",
		Description: `pawl register --kind "impact wrench" --maker Brindle --model BX-900 \
  --serial KD408B217 --serial-again KD408B217 --marking printed --protection none \
  --owner "Tech A" --place "Bay 1/Cart" --bought 2026-10-02 --price 289.00 \
  --photo plate=plate.jpg --photo whole=tool.jpg --paper receipt=receipt.pdf
pawl register --kind drill --serial KD1 --serial-again KD1 --price 289.00 --with battery:KD2:49.00 --with charger:KD3
pawl register --kind "ball joint press" --owner-outside "Neighbor Bay" --deposit 50.00 --due-back 2026-12-01
pawl register --number 00E-KM5 --kind "socket set" --piece "10 mm socket" --piece "extension*2"
pawl register --already-gone --loss L-2H4K9Q7M --kind drill --photo whole=old.jpg --paper receipt=receipt.pdf`,
		Flags: append([]cli.Flag{
			yes("already-gone", "it is gone by the loss of --loss, and is built from old photos and papers: every paper says that it was recorded after the loss"),
			value("loss", "with --already-gone: `LOSS` by which it is gone"),
			value("number", "a printed, free `NUMBER`; else the next free one is drawn"),
			values("with", "a tool that came with it, as `KIND:SERIAL[:PRICE]`; once for each; its price is taken off this one's"),
		}, toolFlags()...),
		Action: action(p, parseRegister, runRegister),
	}
}

func parseRegister(c *cli.Context) (o registerOptions, err error) {
	if err := noOperands(c); err != nil {
		return o, err
	}
	change, err := toolChange(c)
	if err != nil {
		return o, err
	}
	change["number"] = c.String("number")
	if c.Bool("already-gone") != (c.String("loss") != "") {
		return o, fault.New(fault.Malformed, "--already-gone and --loss go together").WithHint("name the loss by which the tool is gone: --already-gone --loss L-2H4K9Q7M")
	}
	change["gone_by_loss"] = c.String("loss")
	if change["with"], err = partsOf(c.StringSlice("with")); err != nil {
		return o, err
	}
	if o.papers, err = papersOf(c); err != nil {
		return o, err
	}
	text, err := json.Marshal(change)
	if err == nil {
		err = json.Unmarshal(text, &o.tool)
	}
	if err != nil {
		return o, fault.New(fault.Malformed, "cannot read the values: %s", err)
	}
	return o, nil
}

func runRegister(ctx context.Context, s *session, o registerOptions) error {
	named, err := s.upload(ctx, o.papers)
	if err != nil {
		return err
	}
	o.tool.Evidence = named
	r, err := s.client.Register(ctx, o.tool)
	if err != nil {
		return err
	}
	if s.json {
		return s.object(r)
	}
	t := r.Tool
	name := strings.Join(strings.Fields(t.Kind+" "+t.Maker+" "+t.Model), " ")
	err = s.changed(r.Number+" registered: "+name+", owner "+t.Owner, r.Number, "registered", t.Kind, t.Maker, t.Model, t.Serial.AsRead, t.Owner)
	if r.Question != "" {
		s.note(r.Question)
	}
	s.note(t.Advice...)
	for _, part := range t.With {
		s.note("with it: " + joined(" ", part.Number, part.Kind, part.Serial))
	}
	if t.Gone == 0 {
		s.note("next: print its label and stick it on: pawl labels " + r.Number + " --format png --dpi 300 -o label.png")
	}
	return err
}
