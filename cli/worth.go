package cli

import (
	"context"
	"io"
	"net/url"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"

	"pawl/api/client"
	"pawl/api/wire"
	"pawl/model/fault"
)

// mostListed is how many tools one page about money lists.
const mostListed = 1000

func (p *program) worthCommand() *cli.Command {
	return &cli.Command{
		Name: "worth", Usage: "say what the tools are worth, and what would be paid if they were lost",
		Description: `pawl worth
pawl worth -o worth.csv
pawl worth --tax
pawl worth of 00E-KM5
pawl worth quotes quotes.csv
pawl worth if-lost --place "Bay 1"
pawl worth policy add "Shop contents" --limit 18000 --coinsurance 0.8 --deductible 250 --basis rcv`,
		Flags: []cli.Flag{
			toFile("write every tool with its figures to `FILE`, a CSV; - is stdout"),
			yes("tax", "list the tax book too, for planning: no tax advice, and no first-year write-offs assumed"),
			value("mid-quarter", "`YEARS` to which the mid-quarter convention applies in the tax book, with commas between; half-year for all others"),
		},
		Action: action(p, parseWorth, runWorth),
		Subcommands: []*cli.Command{p.worthOfCommand(), p.quoteCommand(), p.quotesCommand(), p.conditionCommand(), p.lifeCommand(), p.indexCommand(),
			p.ifLostCommand(), p.policyCommand()},
	}
}

type worthOptions struct {
	output string
	client.WorthQuery
}

func parseWorth(c *cli.Context) (o worthOptions, err error) {
	o = worthOptions{c.String("output"), client.WorthQuery{Tax: c.Bool("tax"), MidQuarter: c.String("mid-quarter")}}
	switch {
	case o.output != "" && o.Tax:
		return o, fault.New(fault.Malformed, "the file has no tax book").WithHint("leave out -o, or --tax; with --json it can be kept: pawl worth --tax --json")
	case o.MidQuarter != "" && !o.Tax:
		return o, fault.New(fault.Malformed, "--mid-quarter is of the tax book").WithHint("give --tax too")
	}
	return o, noOperands(c)
}

func runWorth(ctx context.Context, s *session, o worthOptions) error {
	switch {
	case o.output != "":
		return s.toFile(o.output, 0o600, func(w io.Writer) ([]string, error) { return nil, s.client.WorthCSV(ctx, w) })
	case s.json:
		return s.client.WorthWhole(ctx, o.WorthQuery, s.out)
	case o.Tax:
		v, err := s.client.WorthAll(ctx, o.WorthQuery)
		if err != nil {
			return err
		}
		return taxTable(ctx, s, v)
	}
	o.Limit = 1
	v, err := s.client.Worth(ctx, o.WorthQuery)
	if err != nil {
		return err
	}
	return list(ctx, s, v, []string{"", "NAME", "TOOLS", "REPLACEMENT COST", "ACTUAL CASH VALUE", "IN NO FIGURE"}, worthRows(v), func(r []string) []string { return r })
}

// taxTable prints the tax book.
func taxTable(ctx context.Context, s *session, v wire.Worth) error {
	if v.Tax != nil {
		s.note(v.Tax.Caution)
		for _, p := range v.Tax.Placed {
			if p.MidQuarter {
				s.note(p.Owner + ", " + strconv.Itoa(p.Year) + ": " + p.LastQuarter + " of " + p.Basis + " was placed in service in the last three months, by what is on record here; mid-quarter may apply: --mid-quarter " + strconv.Itoa(p.Year))
			}
		}
	}
	return list(ctx, s, v, []string{"NUMBER", "KIND", "OWNER", "BASIS", "IN SERVICE", "CONVENTION", "BY YEAR", "THROUGH THIS YEAR", "LEFT"}, v.Tools, func(t wire.WorthTool) []string {
		l := t.Tax
		if l == nil {
			return []string{t.Number, t.Kind, t.Owner, "", "", "", "", "", ""}
		}
		if l.WhyNone != nil {
			return []string{t.Number, t.Kind, t.Owner, *l.WhyNone, "", "", "", "", ""}
		}
		var years []string
		for _, y := range l.Years {
			years = append(years, strconv.Itoa(y.Year)+" "+y.Amount)
		}
		return []string{t.Number, t.Kind, t.Owner, text(l.Basis), string(*l.In), text(l.Convention), strings.Join(years, ", "), text(l.SoFar), text(l.Left)}
	})
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
		gap := p.Gap
		if gap == "" {
			gap = "cannot be said"
		}
		rows = append(rows, []string{"policy", p.Name, strconv.Itoa(p.Covered.Tools), p.Covered.Cost, "limit " + p.Limit, strings.TrimSpace("gap " + gap + ", " + adequacy + ". " + text(p.Warning))})
	}
	for _, l := range v.Lives {
		rows = append(rows, []string{l.From, l.Class, "", strconv.FormatInt(l.Months, 10) + " months", "floor " + l.Floor, "planning only"})
	}
	if i := v.Index; i != nil {
		missing := "a quote is never moved"
		if v.Unmoved > 0 {
			missing += "; of the months of " + strconv.Itoa(v.Unmoved) + " it has no value"
		}
		rows = append(rows, []string{"index", i.Series + ", " + i.Area, "", "base " + i.Base, "reference month " + i.Month, missing})
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
			rows = append(rows, []string{"  before anything is replaced", between(*p.First)}, []string{"  after, at best, " + within(p.Days), text(p.Held)})
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

// within says by when what is held back is to be claimed.
func within(days *int64) string {
	if days == nil {
		return "if claimed in time; the days are not recorded"
	}
	return "if claimed within " + strconv.FormatInt(*days, 10) + " days of the loss"
}
