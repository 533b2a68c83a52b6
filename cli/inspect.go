package cli

import (
	"context"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"

	"pawl/api/wire"
	"pawl/model/fault"
)

type inspectOptions struct {
	number string
	papers []paper
	wire.Inspect
}

func (p *program) inspectCommand() *cli.Command {
	return &cli.Command{
		Name: "inspect", Usage: "enter a named check without readings, or show those that a tool is under",
		Description: `pawl inspect 00E-KM5
pawl inspect 00E-KM5 --check "lift annual" --result pass --by "Inspector, number" --paper report.pdf --on 2026-11-01
pawl inspect 00E-KM5 --check "glove electrical test" --first-issued 2026-10-01
pawl inspect 00E-KM5 --check "filter change" --every 6 --result pass
pawl inspect 00E-KM5 --check "lift annual" --again "moved to bay 2"`,
		ArgsUsage: "NUMBER",
		Flags: []cli.Flag{
			value("check", "the `NAME` of the check: \"lift annual\", \"jack six-month\", \"glove electrical test\" … or one of the shop's own"),
			value("result", "it ended with `RESULT`: pass or fail; a failure marks the tool do not use"),
			value("by", "done by `WHOM`, with their number"),
			value("on", "done on `DATE`; else now"),
			happened(),
			values("paper", "its report or certificate, `[KIND=]FILE`"),
			value("note", "anything else, as `TEXT`"),
			value("next", "the next `DATE`, as the tag or the paper says"),
			value("every", "from now on every `N` months, or 7d for days: a check of the shop's own, or more often than the rule"),
			value("whose", "whose rule that is: `WHOSE`: federal, \"consensus standard\", state, insurer or shop"),
			value("source", "what the rule rests on, as `TEXT`"),
			yes("needs-paper", "its paper is always to be given"),
			value("first-issued", "gloves: first given out on `DATE`"),
			yes("not-issued", "gloves: tested and still in store"),
			value("strict", "gloves: `yes` for six months from the last test always; no for the rule on first issue"),
			yes("twelve-year", "extinguisher: stored-pressure dry chemical with a 12-year test, for \"extinguisher six-year\""),
			yes("drop", "the check is not held on this tool; say --why"),
			yes("hold", "it is held again"),
			value("why", "`TEXT` of why it is not held"),
			value("again", "ask for it now, since this `HAPPENED`: \"moved to bay 2\", \"used without protectors\"; \"\" takes that back"),
		},
		Action: action(p, parseInspect, runInspect),
	}
}

func parseInspect(c *cli.Context) (o inspectOptions, err error) {
	numbers, err := operands(c, 1, 1, "a tool NUMBER")
	if err != nil {
		return o, err
	}
	o.number = numbers[0]
	o.Inspect = wire.Inspect{Check: c.String("check"), Result: c.String("result"), By: c.String("by"), On: c.String("on"), Happened: c.String("happened"),
		Note: c.String("note"), Next: c.String("next")}
	if o.papers, err = papersOf(c); err != nil {
		return o, err
	}
	for i, p := range o.papers {
		if !strings.Contains(c.StringSlice("paper")[i], "=") {
			o.papers[i] = paper{kind: "certificate", file: p.file}
		}
	}
	if o.Plan, err = parseInspectionPlan(c); err != nil {
		return o, err
	}
	if o.Check == "" && (o.Plan != nil || len(o.papers) > 0 || o.Result != "" || o.By != "" || o.On != "" || o.Happened != "") {
		return o, fault.New(fault.Malformed, "pawl inspect needs --check").WithHint("such as --check \"lift annual\"")
	}
	return o, nil
}

// parseInspectionPlan is nil where nothing is said of how the check is held.
func parseInspectionPlan(c *cli.Context) (*wire.InspectionPlan, error) {
	said := false
	for _, name := range []string{"every", "whose", "source", "needs-paper", "first-issued", "not-issued", "strict", "twelve-year", "drop", "hold", "why", "again"} {
		said = said || c.IsSet(name)
	}
	if !said {
		return nil, nil
	}
	p := &wire.InspectionPlan{Whose: given(c, "whose"), Source: given(c, "source"), FirstIssued: given(c, "first-issued"), Why: given(c, "why"), Again: given(c, "again")}
	marked := func(name string, out **bool, v bool) {
		if c.Bool(name) {
			*out = &v
		}
	}
	marked("needs-paper", &p.NeedsPaper, true)
	marked("not-issued", &p.NotIssued, true)
	marked("twelve-year", &p.TwelveYear, true)
	marked("drop", &p.Dropped, true)
	marked("hold", &p.Dropped, false)
	if c.Bool("drop") && c.Bool("hold") {
		return nil, fault.New(fault.Malformed, "--drop and --hold contradict each other").WithHint("give one")
	}
	if c.IsSet("strict") {
		strict := c.String("strict") == "yes"
		if !strict && c.String("strict") != "no" {
			return nil, fault.New(fault.Malformed, "--strict is %q", c.String("strict")).WithHint("say yes or no")
		}
		p.Strict = &strict
	}
	if !c.IsSet("every") {
		return p, nil
	}
	text, inDays := strings.CutSuffix(c.String("every"), "d")
	n, err := strconv.Atoi(text)
	if err != nil || n < 1 {
		return nil, fault.New(fault.Malformed, "--every is %q", c.String("every")).WithHint("give months, such as 6, or days, such as 7d")
	}
	if p.Months = &n; inDays {
		p.Months, p.Days = nil, &n
	}
	return p, nil
}

func runInspect(ctx context.Context, s *session, o inspectOptions) error {
	if o.Check == "" {
		v, err := s.client.Inspections(ctx, o.number)
		if err != nil {
			return err
		}
		return s.checks(v)
	}
	named, err := s.upload(ctx, o.papers)
	if err != nil {
		return err
	}
	o.Evidence = named
	v, err := s.client.Inspect(ctx, o.number, o.Inspect)
	switch {
	case err != nil:
		return err
	case s.json:
		return s.object(v)
	case v.Inspection == nil:
		return s.checks(v.Inspections)
	}
	next := ""
	for _, c := range v.Checks {
		if c.Check == v.Inspection.Check && c.Next != nil {
			next = string(*c.Next)
		}
	}
	sentence := v.Number + " " + v.Kind + ": " + v.Inspection.Check + " " + strings.ToUpper(v.Inspection.Result) + joined("", "", prefixed("; next due ", next))
	err = s.changed(sentence, v.Number, v.Inspection.Check, v.Inspection.Result, next, *v.ID)
	s.note(v.Advice...)
	s.note(v.Cautions...)
	return err
}

func (s *session) checks(v wire.Inspections) error {
	if s.json {
		return s.object(v)
	}
	var rows [][]string
	for _, c := range v.Checks {
		last, by := "none on record", ""
		if c.Last != nil {
			last, by = string(c.Last.On)+" "+c.Last.Result, c.Last.By
		}
		next := ""
		if c.Next != nil {
			next = string(*c.Next)
		}
		rows = append(rows, []string{c.Check, last, by, next, c.Every, c.Whose, c.Source + " (" + c.Provenance + ")", c.Why})
	}
	err := s.table([]string{"CHECK", "LAST", "BY", "DUE", "EVERY", "WHOSE", "RULE", "WHY THEN"}, rows)
	if len(v.Checks) == 0 {
		s.note("a " + v.Kind + " is under no check that is known here; the shop may name its own: pawl inspect " + v.Number + " --check NAME --every 6")
	}
	s.note(v.Cautions...)
	return err
}
