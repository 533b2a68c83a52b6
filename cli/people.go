package cli

import (
	"context"
	"strings"

	"github.com/urfave/cli/v2"

	"pawl/api/wire"
	"pawl/model/fault"
)

func (p *program) peopleCommand() *cli.Command {
	return &cli.Command{
		Name: "people", Usage: "list, add and edit the people in the shop, and let their devices in",
		Description: `pawl people
pawl people add "Tech A" --role technician
pawl people edit "Tech A" --shares
pawl people enroll "Tech A"
pawl people leave "Tech A" -o copy.zip`,
		Action: action(p, parseNothing, runPeople),
		Subcommands: []*cli.Command{
			{
				Name: "add", Usage: "add somebody",
				Description: `pawl people add "Tech A" --role technician`,
				ArgsUsage:   "NAME",
				Flags:       []cli.Flag{value("role", "`ROLE`: manager, technician or viewer")},
				Action:      action(p, parsePeopleAdd, runPeopleAdd),
			},
			{
				Name: "edit", Usage: "change somebody's name, role, or who sees their prices",
				Description: `pawl people edit "Tech A" --role manager
pawl people edit "Tech A" --rename "Tech Anna"
pawl people edit "Tech A" --shares=false`,
				ArgsUsage: "NAME",
				Flags: []cli.Flag{
					value("role", "`ROLE`: manager, technician or viewer"),
					value("rename", "the `NAME` from now on"),
					yes("shares", "managers see the prices and papers of their tools; --shares=false: they do not"),
				},
				Action: action(p, parsePeopleEdit, runPeopleEdit),
			},
			p.enrollCommand(), p.devicesCommand(), p.revokeCommand(), p.leaveCommand(),
		},
	}
}

// parseNothing is for commands without operands and flags.
func parseNothing(c *cli.Context) (struct{}, error) { return struct{}{}, noOperands(c) }

func runPeople(ctx context.Context, s *session, _ struct{}) error {
	all, err := s.client.People(ctx)
	if err != nil {
		return err
	}
	return list(ctx, s, all, []string{"NAME", "ROLE", "BADGE", "PRICES", "LEFT"}, all.People, func(p wire.Person) []string {
		return []string{p.Name, p.Role, p.Badge, sharing(p), s.when(p.Left)}
	})
}

func sharing(p wire.Person) string {
	if p.Shares {
		return "shared"
	}
	return "own"
}

func parsePeopleAdd(c *cli.Context) (in wire.NewPerson, err error) {
	names, err := operands(c, 1, 1, "a NAME")
	if err != nil {
		return in, err
	}
	in.Name = names[0]
	in.Role, err = need(c, "role", "technician")
	return in, err
}

func runPeopleAdd(ctx context.Context, s *session, in wire.NewPerson) error {
	person, err := s.client.AddPerson(ctx, in)
	if err != nil {
		return err
	}
	return s.personChanged(person, "added")
}

func (s *session) personChanged(p wire.Person, how string) error {
	if s.json {
		return s.object(p)
	}
	return s.changed(p.Name+" "+how+": "+p.Role+", prices "+sharing(p), p.Name, how, p.Role, p.Badge, sharing(p))
}

type peopleEditOptions struct {
	name   string
	change wire.PersonChange
}

func parsePeopleEdit(c *cli.Context) (o peopleEditOptions, err error) {
	names, err := operands(c, 1, 1, "a NAME")
	if err != nil {
		return o, err
	}
	o.name = names[0]
	o.change = wire.PersonChange{Name: given(c, "rename"), Role: given(c, "role")}
	if c.IsSet("shares") {
		shares := c.Bool("shares")
		o.change.Shares = &shares
	}
	if o.change == (wire.PersonChange{}) {
		return o, fault.New(fault.Malformed, "nothing to change is given").WithHint("give --role, --rename or --shares")
	}
	return o, nil
}

func runPeopleEdit(ctx context.Context, s *session, o peopleEditOptions) error {
	id, err := s.personNamed(ctx, o.name)
	if err != nil {
		return err
	}
	_, etag, err := s.client.Person(ctx, id)
	if err != nil {
		return err
	}
	person, err := s.client.ChangePerson(ctx, id, etag, o.change)
	if err != nil {
		return err
	}
	return s.personChanged(person, "changed")
}

// personNamed finds the id of the one person of that name, in any case and
// spacing. Nobody is guessed at: else the candidates are listed.
func (s *session) personNamed(ctx context.Context, name string) (string, error) {
	all, err := s.client.People(ctx)
	if err != nil {
		return "", err
	}
	fold := func(s string) string { return strings.ToLower(strings.Join(strings.Fields(s), " ")) }
	var near []string
	for _, p := range all.People {
		switch {
		case p.Left != 0:
		case fold(p.Name) == fold(name):
			return p.ID, nil
		case strings.Contains(fold(p.Name), fold(name)):
			near = append(near, p.Name)
		}
	}
	f := fault.New(fault.NotFound, "nobody here is called %q", name)
	if len(near) > 0 {
		return "", f.WithHint("did you mean: %s", strings.Join(near, ", "))
	}
	return "", f.WithHint("list them: pawl people")
}
