package cli

import (
	"context"
	"strings"

	"github.com/urfave/cli/v2"

	"pawl/api/wire"
	"pawl/model/fault"
)

func (p *program) policyCommand() *cli.Command {
	return &cli.Command{
		Name: "policy", Usage: "list, add, edit and end insurance policies",
		Description: `pawl worth policy
pawl worth policy add "Shop contents" --limit 18000 --coinsurance 0.8 --deductible 250 --basis rcv
pawl worth policy edit "Shop contents" --limit 24000
pawl worth policy end "Shop contents"`,
		Action: action(p, parseNothing, runPolicies),
		Subcommands: []*cli.Command{{
			Name: "add", Usage: "record what a policy says, as read off it",
			Description: `pawl worth policy add "Shop contents" --limit 18000 --coinsurance 0.8 --deductible 250 --basis rcv --other-covered-value 12000 --order ratio,deductible,limit
pawl worth policy add "Own tools" --owner "Tech A" --limit 9000 --deductible 100 --basis acv --coinsurance 0`,
			ArgsUsage: "NAME",
			Flags:     append(policyFlags(), value("owner", "`NAME` of the person whose policy it is; else the shop's")),
			Action:    action(p, parsePolicy, runAddPolicy),
		}, {
			Name: "edit", Usage: "change what is recorded of a policy: what was read wrong, or a renewal",
			Description: `pawl worth policy edit "Shop contents" --limit 24000
pawl worth policy edit "Shop contents" --other-covered-value "" --holdback-days 180

An empty value takes what was recorded away.`,
			ArgsUsage: "NAME",
			Flags:     append(policyFlags(), value("name", "`NAME` from now on"), yes("no-employees", "it does not cover employees' own tools"), yes("no-sublimits", "it has no sublimits")),
			Action:    action(p, parsePolicyChange, runEditPolicy),
		}, {
			Name: "end", Usage: "say that a policy is no longer in force",
			Description: `pawl worth policy end "Shop contents"`,
			ArgsUsage:   "NAME",
			Action:      action(p, oneOperand("a NAME"), runEndPolicy),
		}},
	}
}

// policyFlags are what a policy says.
func policyFlags() []cli.Flag {
	return []cli.Flag{
		value("limit", "the most that is paid, as `AMOUNT`"),
		value("deductible", "taken off once an occurrence, as `AMOUNT`; 0 for none"),
		value("basis", "`BASIS` of a tool's value: rcv (replacement cost) or acv (actual cash value)"),
		value("coinsurance", "`SHARE` of the value that the limit must reach, such as 0.8; 0 for none asked"),
		value("other-covered-value", "`AMOUNT` that the limit covers besides tools: lifts, stock, furniture"),
		value("order", "`STEPS` from a loss to what is paid, in the policy's order: item,sublimit,ratio,deductible,limit; those left out are reckoned in every place"),
		values("sublimit", "cap of a group, as `NAME=AMOUNT`: item=1000, employees=2500, theft=10000; once for each"),
		yes("employees", "the shop's policy covers employees' own tools too"),
		value("holdback-days", "`DAYS` after a loss within which what was held back is to be claimed; there is no default"),
	}
}

func runPolicies(ctx context.Context, s *session, _ struct{}) error {
	all, err := s.client.Policies(ctx)
	if err != nil {
		return err
	}
	return list(ctx, s, all, []string{"POLICY", "WHOSE", "LIMIT", "DEDUCTIBLE", "COINSURANCE", "BASIS", "ORDER"}, all.Policies, func(p wire.Policy) []string {
		return []string{p.Name, p.Owner, p.Limit, p.Deductible, text(p.Coinsurance), p.Basis, strings.Join(p.Order, ",")}
	})
}

func parsePolicy(c *cli.Context) (in wire.NewPolicy, err error) {
	names, err := operands(c, 1, 1, "a NAME")
	if err != nil {
		return in, err
	}
	return wire.NewPolicy{Name: names[0], Limit: c.String("limit"), Deductible: c.String("deductible"), Basis: c.String("basis"), Coinsurance: c.String("coinsurance"),
		OtherCovered: c.String("other-covered-value"), Order: c.String("order"), Sublimits: c.StringSlice("sublimit"), Owner: c.String("owner"), Employees: c.Bool("employees"),
		HoldbackDays: c.String("holdback-days")}, nil
}

func runAddPolicy(ctx context.Context, s *session, in wire.NewPolicy) error {
	p, err := s.client.AddPolicy(ctx, in)
	if err != nil {
		return err
	}
	if s.json {
		return s.object(p)
	}
	return s.changed(p.Name+" recorded: limit "+p.Limit+", of "+p.Owner, p.Name, "added", p.ID)
}

type policyEdit struct {
	name   string
	change wire.PolicyChange
}

func parsePolicyChange(c *cli.Context) (e policyEdit, err error) {
	given, err := operands(c, 1, 1, "a NAME")
	if err != nil {
		return e, err
	}
	e.name = given[0]
	for flag, to := range map[string]**string{"name": &e.change.Name, "limit": &e.change.Limit, "deductible": &e.change.Deductible, "basis": &e.change.Basis, "coinsurance": &e.change.Coinsurance,
		"other-covered-value": &e.change.OtherCovered, "order": &e.change.Order, "holdback-days": &e.change.HoldbackDays} {
		if c.IsSet(flag) {
			v := c.String(flag)
			*to = &v
		}
	}
	if c.IsSet("sublimit") || c.Bool("no-sublimits") {
		all := c.StringSlice("sublimit")
		if len(all) > 0 && c.Bool("no-sublimits") {
			return e, fault.New(fault.Malformed, "--sublimit and --no-sublimits contradict each other").WithHint("give one of them")
		}
		e.change.Sublimits = &all
	}
	if c.Bool("employees") || c.Bool("no-employees") {
		if c.Bool("employees") && c.Bool("no-employees") {
			return e, fault.New(fault.Malformed, "--employees and --no-employees contradict each other").WithHint("give one of them")
		}
		covers := c.Bool("employees")
		e.change.Employees = &covers
	}
	if e.change == (wire.PolicyChange{}) {
		return e, fault.New(fault.Malformed, "nothing is to be changed").WithHint("give what is to be recorded, such as --limit 24000")
	}
	return e, nil
}

func runEditPolicy(ctx context.Context, s *session, e policyEdit) error {
	p, err := policyNamed(ctx, s, e.name)
	if err != nil {
		return err
	}
	_, etag, err := s.client.Policy(ctx, p.ID)
	if err != nil {
		return err
	}
	if p, err = s.client.EditPolicy(ctx, p.ID, etag, e.change); err != nil {
		return err
	}
	if s.json {
		return s.object(p)
	}
	return s.changed(p.Name+" changed: limit "+p.Limit+", of "+p.Owner, p.Name, "changed", p.ID)
}

// policyNamed finds a policy in force by its name or id.
func policyNamed(ctx context.Context, s *session, name string) (wire.Policy, error) {
	all, err := s.client.Policies(ctx)
	if err != nil {
		return wire.Policy{}, err
	}
	for _, p := range all.Policies {
		if strings.EqualFold(p.Name, strings.TrimSpace(name)) || p.ID == name {
			return p, nil
		}
	}
	return wire.Policy{}, fault.New(fault.NotFound, "no policy in force is called %q", name).WithHint("list them: pawl worth policy")
}

func runEndPolicy(ctx context.Context, s *session, name string) error {
	p, err := policyNamed(ctx, s, name)
	if err != nil {
		return err
	}
	if p, err = s.client.EndPolicy(ctx, p.ID); err != nil {
		return err
	}
	if s.json {
		return s.object(p)
	}
	return s.changed(p.Name+" ended", p.Name, "ended", p.ID)
}
