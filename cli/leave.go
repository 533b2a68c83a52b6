package cli

import (
	"context"

	"github.com/urfave/cli/v2"

	"pawl/api/wire"
)

type leaveOptions struct {
	name, output string
	wire.Leave
}

func (p *program) leaveCommand() *cli.Command {
	return &cli.Command{
		Name: "leave", Usage: "say that somebody leaves, and write the copy of their own tools that they take along",
		Description: `pawl people leave "Tech A" -o copy.zip
pawl people leave "Tech A" -o copy.zip --settled`,
		ArgsUsage: "NAME",
		Flags: []cli.Flag{
			toFile("write the copy to `FILE`; - is stdout"),
			yes("settled", "they have what is not theirs, or others have what is, and that is settled otherwise"),
		},
		Action: action(p, parseLeave, runLeave),
	}
}

func parseLeave(c *cli.Context) (o leaveOptions, err error) {
	names, err := operands(c, 1, 1, "a NAME")
	if err != nil {
		return o, err
	}
	o.name, o.Settled = names[0], c.Bool("settled")
	o.output, err = need(c, "output", "copy.zip")
	return o, err
}

// runLeave makes the copy first: somebody who has left must not be without it.
func runLeave(ctx context.Context, s *session, o leaveOptions) error {
	id, err := s.personNamed(ctx, o.name)
	if err != nil {
		return err
	}
	file, err := create(o.output, s.out, 0o600)
	if err != nil {
		return err
	}
	defer file.drop()
	if err := s.client.CopyOwn(ctx, id, file); err != nil {
		return err
	}
	left, err := s.client.Leave(ctx, id, o.Leave)
	if err != nil {
		return err
	}
	if err := file.keep(); err != nil {
		return err
	}
	return s.leftDone(left, o.output)
}

func (s *session) leftDone(l wire.Left, output string) (err error) {
	switch {
	case output == "-":
	case s.json:
		err = s.object(l)
	default:
		err = s.changed(l.Person.Name+" has left; wrote "+output+" with "+count(int64(len(l.Takes)), "tool"), l.Person.Name, "left", count(int64(len(l.Takes)), ""), output)
	}
	for _, open := range l.Open {
		s.note("still open: " + open.Number + " " + open.Kind + ": " + open.What)
	}
	for _, part := range l.Takes {
		s.note("went along: " + joined(" ", part.Number, part.Kind, part.Serial))
	}
	for _, token := range l.Tokens {
		s.note("token ended: " + token)
	}
	for _, device := range l.Devices {
		s.note("device shut out: " + device)
	}
	if output != "-" {
		s.note("give them " + output + "; in another shop: pawl import " + output)
	}
	return err
}
