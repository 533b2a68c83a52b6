package cli

import (
	"context"
	"fmt"

	"github.com/urfave/cli/v2"

	"pawl/api/wire"
	"pawl/model/fault"
)

type editOptions struct {
	number string
	change map[string]any
	papers []paper
}

func (p *program) editCommand() *cli.Command {
	return &cli.Command{
		Name: "edit", Usage: "change what is recorded of a tool",
		Description: `pawl edit 00E-KM5 --kind "impact wrench" --maker Brindle --serial KD408B217 --serial-again KD408B217
pawl edit 00E-KM5 --place "Bay 2/Wall" --usage weekly
pawl edit 00E-KM5 --place ""
pawl edit 00E-KM5 --paper warranty=card.pdf`,
		ArgsUsage: "NUMBER",
		Flags:     toolFlags(),
		Action:    action(p, parseEdit, runEdit),
	}
}

func parseEdit(c *cli.Context) (o editOptions, err error) {
	numbers, err := operands(c, 1, 1, "a tool NUMBER")
	if err != nil {
		return o, err
	}
	o.number = numbers[0]
	if o.change, err = toolChange(c); err != nil {
		return o, err
	}
	if o.papers, err = papersOf(c); err != nil {
		return o, err
	}
	if len(o.change) == 0 && len(o.papers) == 0 {
		return o, fault.New(fault.Malformed, "nothing to change is given").WithHint("such as --place \"Bay 1/Cart\"; an empty value takes one away")
	}
	return o, nil
}

func runEdit(ctx context.Context, s *session, o editOptions) error {
	named, err := s.upload(ctx, o.papers)
	if err != nil {
		return err
	}
	t, etag, err := s.client.Tool(ctx, o.number)
	if err != nil {
		return err
	}
	before := t.Rev
	if len(o.change) > 0 {
		if t, err = s.client.ChangeTool(ctx, t.Number, etag, o.change); err != nil {
			return err
		}
	}
	if len(named) > 0 {
		if t, err = s.attach(ctx, t, named, len(o.change) > 0); err != nil {
			return err
		}
	}
	if s.json {
		return s.object(t)
	}
	if t.Rev == before && len(named) == 0 {
		return s.changed(t.Number+" is so already: nothing changed", t.Number, "unchanged", fmt.Sprint(t.Rev))
	}
	err = s.changed(t.Number+" changed", t.Number, "changed", fmt.Sprint(t.Rev))
	s.note(t.Advice...)
	return err
}

// attach ties uploaded papers to a tool and reads it again. Changed says that
// the values were changed before, which a failure here does not undo.
func (s *session) attach(ctx context.Context, t wire.Tool, named []wire.Attach, changed bool) (wire.Tool, error) {
	done, err := s.client.Attach(ctx, t.Number, named)
	if err != nil {
		f := *fault.Of(err)
		if changed {
			f.Message = "the values are changed, but the photos and papers are not added: " + f.Message
		}
		return t, &f
	}
	if done.Question != "" {
		s.note(done.Question)
	}
	t, _, err = s.client.Tool(ctx, t.Number)
	return t, err
}
