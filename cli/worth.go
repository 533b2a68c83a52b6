package cli

import (
	"context"
	"io"
	"net/url"
	"os"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"

	"pawl/api/wire"
	"pawl/model/fault"
)

// mostListed is how many tools one answer about money lists.
const mostListed = 1000

func (p *program) worthCommand() *cli.Command {
	return &cli.Command{
		Name: "worth", Usage: "say what the tools are worth, and what would be paid if they were lost",
		Description: `pawl worth
pawl worth -o worth.csv
pawl worth quotes quotes.csv
pawl worth if-lost --place "Bay 1"
pawl worth policy add "Shop contents" --limit 18000 --coinsurance 0.8 --deductible 250 --basis rcv`,
		Flags:       []cli.Flag{toFile("write every tool with its figures to `FILE`, a CSV; - is stdout")},
		Action:      action(p, parseWorth, runWorth),
		Subcommands: []*cli.Command{p.quotesCommand(), p.ifLostCommand(), p.policyCommand()},
	}
}

func parseWorth(c *cli.Context) (string, error) { return c.String("output"), noOperands(c) }

func runWorth(ctx context.Context, s *session, output string) error {
	if output != "" {
		return s.toFile(output, 0o600, func(w io.Writer) ([]string, error) { return nil, s.client.WorthCSV(ctx, w) })
	}
	v, err := s.client.Worth(ctx, mostListed)
	if err != nil {
		return err
	}
	return list(ctx, s, v, []string{"", "NAME", "TOOLS", "REPLACEMENT COST", "ACTUAL CASH VALUE", "IN NO FIGURE"}, worthRows(v), func(r []string) []string { return r })
}

// worthRows are the sums, the policies and what is not in them.
func worthRows(v wire.Worth) (rows [][]string) {
	sum := func(what string, w wire.WorthSum) {
		rows = append(rows, []string{what, w.Name, strconv.Itoa(w.Tools), w.Cost, w.ActualCash, leftOut(w)})
	}
	sum("all", v.Total)
	for _, w := range v.Owners {
		sum("owner", w)
	}
	for _, w := range v.Places {
		sum("place", w)
	}
	for _, p := range v.Policies {
		adequacy := "adequacy cannot be said"
		if p.Adequacy != nil {
			adequacy = "adequacy " + strconv.FormatFloat(*p.Adequacy, 'f', 2, 64)
		}
		rows = append(rows, []string{"policy", p.Name, strconv.Itoa(p.Covered.Tools), p.Covered.Cost, "limit " + p.Limit, strings.TrimSpace("gap " + p.Gap + ", " + adequacy + ". " + text(p.Warning))})
	}
	for _, l := range v.Lives {
		rows = append(rows, []string{"assumed", l.Class, "", strconv.FormatInt(l.Months, 10) + " months", "floor " + l.Floor, "planning only"})
	}
	if v.Outside > 0 {
		rows = append(rows, []string{"outside", "of owners outside", strconv.Itoa(v.Outside), "", "", "in no figure here"})
	}
	return append(rows, []string{"", strings.Join(v.Cautions, " "), "", "", "", ""})
}

// leftOut says what of a sum is in no amount.
func leftOut(w wire.WorthSum) string {
	var out []string
	for _, n := range []struct {
		n    int
		what string
	}{{w.Unpriced, "without a price"}, {w.Foreign, "in another currency"}, {w.Hidden, "of others whose prices are theirs to show"}} {
		if n.n > 0 {
			out = append(out, strconv.Itoa(n.n)+" "+n.what)
		}
	}
	return strings.Join(out, ", ")
}

type quotesOptions struct {
	file   string
	dryRun bool
}

func (p *program) quotesCommand() *cli.Command {
	return &cli.Command{
		Name: "quotes", Usage: "record what new tools cost, from a CSV",
		Description: `pawl worth quotes quotes.csv
pawl worth quotes quotes.csv --dry-run

The columns are number, amount, source and date.`,
		ArgsUsage: "FILE",
		Flags:     []cli.Flag{yes("dry-run", "change nothing and say what would be done")},
		Action: action(p, func(c *cli.Context) (o quotesOptions, err error) {
			files, err := operands(c, 1, 1, "a FILE")
			if err != nil {
				return o, err
			}
			return quotesOptions{files[0], c.Bool("dry-run")}, nil
		}, runQuotes),
	}
}

func runQuotes(ctx context.Context, s *session, o quotesOptions) error {
	info, err := os.Stat(o.file)
	if err != nil {
		return cannotRead(o.file, err)
	}
	report, err := s.client.Quotes(ctx, o.dryRun, info.Size(), func() (io.ReadCloser, error) {
		f, err := os.Open(o.file)
		if err != nil {
			return nil, cannotRead(o.file, err)
		}
		return f, nil
	})
	if err != nil {
		return err
	}
	if s.json {
		return s.object(report)
	}
	did := "added"
	if o.dryRun {
		did = "would be added"
	}
	return s.changed(strconv.Itoa(report.Added)+" quotes "+did+", "+strconv.Itoa(report.Unchanged)+" were here already", did, strconv.Itoa(report.Added), strconv.Itoa(report.Unchanged))
}

func (p *program) ifLostCommand() *cli.Command {
	return &cli.Command{
		Name: "if-lost", Usage: "estimate what would be paid, and what not, if tools were lost",
		Description: `pawl worth if-lost --place "Bay 1"
pawl worth if-lost --person "Tech A"
pawl worth if-lost --everything`,
		Flags: []cli.Flag{
			value("place", "what belongs in the place of `PATH`, and in those within it"),
			value("person", "the tools that the person of `NAME` owns"),
			yes("everything", "all tools"),
		},
		Action: action(p, parseIfLost, runIfLost),
	}
}

func parseIfLost(c *cli.Context) (url.Values, error) {
	what := url.Values{}
	for _, name := range []string{"place", "person"} {
		if c.IsSet(name) {
			what.Set(name, c.String(name))
		}
	}
	if c.Bool("everything") {
		what.Set("everything", "true")
	}
	if len(what) != 1 {
		return nil, fault.New(fault.Malformed, "say what is supposed to be lost").WithHint("give one of --place, --person and --everything")
	}
	return what, noOperands(c)
}

func runIfLost(ctx context.Context, s *session, what url.Values) error {
	v, err := s.client.IfLost(ctx, what)
	if err != nil {
		return err
	}
	if s.json {
		return s.object(v)
	}
	rows := [][]string{{"estimate", v.Words}, {"lost", v.Lost.Cost}, {"paid", between(v.Paid)}, {"not covered", between(v.Unpaid)}}
	for _, p := range v.Policies {
		rows = append(rows, []string{p.Policy, between(p.Paid)})
		for _, l := range p.Lines {
			rows = append(rows, []string{"  " + l.Words, l.Amount})
		}
		if p.First != nil {
			rows = append(rows, []string{"  before anything is replaced", between(*p.First)})
		}
		for _, said := range p.Said {
			rows = append(rows, []string{"  mind", said})
		}
	}
	for _, said := range append(v.Said, v.Cautions...) {
		rows = append(rows, []string{"mind", said})
	}
	return s.table([]string{"", ""}, rows)
}

// between writes a range; what cannot be said is unknown.
func between(r wire.Range) string {
	or := func(s *string) string {
		if s == nil {
			return "unknown"
		}
		return *s
	}
	if or(r.Low) == or(r.High) {
		return or(r.Low)
	}
	return or(r.Low) + " to " + or(r.High)
}

func (p *program) policyCommand() *cli.Command {
	return &cli.Command{
		Name: "policy", Usage: "list, add and end insurance policies",
		Description: `pawl worth policy
pawl worth policy add "Shop contents" --limit 18000 --coinsurance 0.8 --deductible 250 --basis rcv
pawl worth policy end "Shop contents"`,
		Action: action(p, parseNothing, runPolicies),
		Subcommands: []*cli.Command{{
			Name: "add", Usage: "record what a policy says, as read off it",
			Description: `pawl worth policy add "Shop contents" --limit 18000 --coinsurance 0.8 --deductible 250 --basis rcv --other-covered-value 12000 --order ratio,deductible,limit
pawl worth policy add "Own tools" --owner "Tech A" --limit 9000 --deductible 100 --basis acv --coinsurance 0`,
			ArgsUsage: "NAME",
			Flags: []cli.Flag{
				value("limit", "the most that is paid, as `AMOUNT`"),
				value("deductible", "taken off once an occurrence, as `AMOUNT`; 0 for none"),
				value("basis", "`BASIS` of a tool's value: rcv (replacement cost) or acv (actual cash value)"),
				value("coinsurance", "`SHARE` of the value that the limit must reach, such as 0.8; 0 for none asked"),
				value("other-covered-value", "`AMOUNT` that the limit covers besides tools: lifts, stock, furniture"),
				value("order", "`STEPS` from a loss to what is paid, in the policy's order: item,sublimit,ratio,deductible,limit; those left out are reckoned in every place"),
				values("sublimit", "cap of a group, as `NAME=AMOUNT`: item=1000, employees=2500, theft=10000; once for each"),
				value("owner", "`NAME` of the person whose policy it is; else the shop's"),
				yes("employees", "the shop's policy covers employees' own tools too"),
			},
			Action: action(p, parsePolicy, runAddPolicy),
		}, {
			Name: "end", Usage: "say that a policy is no longer in force",
			Description: `pawl worth policy end "Shop contents"`,
			ArgsUsage:   "NAME",
			Action: action(p, func(c *cli.Context) (string, error) {
				names, err := operands(c, 1, 1, "a NAME")
				if err != nil {
					return "", err
				}
				return names[0], nil
			}, runEndPolicy),
		}},
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
		OtherCovered: c.String("other-covered-value"), Order: c.String("order"), Sublimits: c.StringSlice("sublimit"), Owner: c.String("owner"), Employees: c.Bool("employees")}, nil
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

func runEndPolicy(ctx context.Context, s *session, name string) error {
	all, err := s.client.Policies(ctx)
	if err != nil {
		return err
	}
	for _, p := range all.Policies {
		if strings.EqualFold(p.Name, strings.TrimSpace(name)) || p.ID == name {
			ended, err := s.client.EndPolicy(ctx, p.ID)
			if err != nil {
				return err
			}
			if s.json {
				return s.object(ended)
			}
			return s.changed(ended.Name+" ended", ended.Name, "ended", ended.ID)
		}
	}
	return fault.New(fault.NotFound, "no policy in force is called %q", name).WithHint("list them: pawl worth policy")
}
