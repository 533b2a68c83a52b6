package cli

import (
	"context"
	"fmt"
	"io"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"

	"pawl/api/wire"
	"pawl/model/fault"
)

func (p *program) countCommand() *cli.Command {
	return &cli.Command{
		Name: "count", Usage: "count what is there: all, a place, a person's, a kind, or a sample",
		Description: `pawl count start --scope "place:Bay 1"
pawl count scan N-2H4K9Q7M - < scans.txt
pawl count show N-2H4K9Q7M --not-seen
pawl count close N-2H4K9Q7M`,
		Subcommands: []*cli.Command{
			p.countStart(), p.countList(), p.countShow(), p.countScan(), p.countConfirm(), p.countSettle(),
			p.countStep("pause", "stop the scanning for a while, which may be days"),
			p.countStep("resume", "go on with a count that was paused"),
			p.countStep("close", "end a count, and say what it shows"),
			p.countReport(), p.countMissing(), p.countPlan(),
		},
	}
}

func (p *program) countStart() *cli.Command {
	return &cli.Command{
		Name: "start", Usage: "start a count: its list is made now, and stays",
		Description: `pawl count start
pawl count start --scope "place:Bay 1"
pawl count start --scope "person:Tech A"
pawl count start --sample --missing-at-least 5 --confidence 0.95
pawl count start --strata
pawl count start --stratum "from=1000,all" --stratum "from=0,missing-at-least=3,confidence=0.99" --stratum "unpriced,all"
pawl count start --units --tolerable 500.00`,
		Flags: []cli.Flag{
			value("scope", "what to count: everything, `place:PATH`, person:NAME or kind:KIND; else everything"),
			yes("sample", "look for a sample only, so large that some of so many missing ones are found"),
			yes("strata", "look for all of the dearest, and for a sample of the others"),
			values("stratum", "a stratum of your own, as `STRATUM`: from=AMOUNT or unpriced; then all, or missing-at-least=N with confidence=C, else 0.95; once for each, one of them from=0"),
			yes("units", "draw by money: the dearer a tool, the likelier it is looked for"),
			value("missing-at-least", "with --sample: `N` missing tools, or more, are not to be overlooked; else a tenth of what is listed"),
			value("confidence", "of the statement, over 0 and under 1, as `C`; else 0.90 with --sample, 0.95 without"),
			value("tolerable", "with --units: the `AMOUNT` that may be missing"),
			value("seed", "draw from the number `N`, and say everywhere that it was chosen; else drawn"),
		},
		Action: action(p, parseCountStart, runCountStart),
	}
}

func parseCountStart(c *cli.Context) (in wire.StartCount, err error) {
	if err := noOperands(c); err != nil {
		return in, err
	}
	in.Scope, in.Tolerable, in.Strata = c.String("scope"), c.String("tolerable"), c.StringSlice("stratum")
	for _, how := range []string{"sample", "strata", "units"} {
		if !c.Bool(how) {
			continue
		}
		if in.How != "" {
			return in, fault.New(fault.Malformed, "--%s and --%s are two ways to count", in.How, how).WithHint("give one of them")
		}
		in.How = how
	}
	if len(in.Strata) > 0 && in.How != "" && in.How != "strata" {
		return in, fault.New(fault.Malformed, "--stratum and --%s are two ways to count", in.How).WithHint("give one of them")
	}
	missing, err := wholeOf(c, "missing-at-least")
	if err != nil {
		return in, err
	}
	in.MissingAtLeast = int64(missing)
	if c.IsSet("confidence") {
		f, err := strconv.ParseFloat(c.String("confidence"), 64)
		if err != nil {
			return in, fault.New(fault.Malformed, "--confidence is %q", c.String("confidence")).WithHint("write it as 0.95")
		}
		in.Confidence = &f
	}
	if c.IsSet("seed") {
		n, err := strconv.ParseInt(c.String("seed"), 10, 64)
		if err != nil {
			return in, fault.New(fault.Malformed, "--seed is %q", c.String("seed")).WithHint("give a whole number")
		}
		in.Seed = &n
	}
	return in, nil
}

func runCountStart(ctx context.Context, s *session, in wire.StartCount) error {
	v, err := s.client.StartCount(ctx, in)
	if err != nil {
		return err
	}
	return s.countDone(v, fmt.Sprintf("count %s of %s started: %s listed, %d to look for", v.ID, v.Scope, count(v.Listed, "tool"), v.Drawn), "started")
}

// countDone says what was done to a count, with what came with it.
func (s *session) countDone(v wire.Count, sentence, did string) error {
	if s.json {
		return s.object(v)
	}
	n := v.Numbers
	err := s.changed(sentence, v.ID, did, v.Scope, v.How, v.State, fmt.Sprint(v.Listed), fmt.Sprint(v.Drawn), fmt.Sprint(n.Missing), fmt.Sprint(n.Unsettled))
	s.note(v.Advice...)
	return err
}

func (p *program) countList() *cli.Command {
	return &cli.Command{
		Name: "list", Usage: "list counts, newest first", Description: `pawl count list
pawl count list --open`,
		Flags:  []cli.Flag{yes("open", "only those that are not closed"), limit()},
		Action: action(p, parseCountList, runCountList),
	}
}

type countListOptions struct {
	open bool
	most int
}

func parseCountList(c *cli.Context) (o countListOptions, err error) {
	if err := noOperands(c); err != nil {
		return o, err
	}
	o.open = c.Bool("open")
	o.most, err = wholeOf(c, "limit")
	return o, err
}

func runCountList(ctx context.Context, s *session, o countListOptions) error {
	rows, err := gather(o.most, func(each func(wire.CountLine) error) error {
		return s.client.CountsAll(ctx, o.open, pageOf(o.most), each)
	})
	if err != nil {
		return err
	}
	return list(ctx, s, wire.Counts{Counts: rows}, []string{"COUNT", "OF", "HOW", "STATE", "LISTED", "TO LOOK FOR", "STARTED", "BY", "CLOSED"}, rows, func(c wire.CountLine) []string {
		return []string{c.ID, c.Scope, c.How, c.State, fmt.Sprint(c.Listed), fmt.Sprint(c.Drawn), s.when(c.Started), c.StartedBy, s.when(c.Closed)}
	})
}

type countShowOptions struct{ id, which string }

func (p *program) countShow() *cli.Command {
	return &cli.Command{
		Name: "show", Usage: "show the numbers of a count, or a list of its tools", ArgsUsage: "COUNT",
		Description: `pawl count show N-2H4K9Q7M
pawl count show N-2H4K9Q7M --not-seen
pawl count show N-2H4K9Q7M --differences
pawl count show N-2H4K9Q7M --list "moved meanwhile"`,
		Flags: []cli.Flag{
			yes("not-seen", "list what nobody accounted for yet: not seen, out and away"),
			yes("differences", "list what is to be settled, or was"),
			value("list", "list the tools of one `SORT`: all, extra, to look for, seen, seen elsewhere, not complete, confirmed, moved meanwhile, out, away, not seen or not in the sample"),
		},
		Action: action(p, parseCountShow, runCountShow),
	}
}

func parseCountShow(c *cli.Context) (o countShowOptions, err error) {
	ids, err := operands(c, 1, 1, "the id of a COUNT")
	if err != nil {
		return o, err
	}
	o.id, o.which = ids[0], c.String("list")
	for flag, which := range map[string]string{"not-seen": "to look for", "differences": "differences"} {
		if !c.Bool(flag) {
			continue
		}
		if o.which != "" {
			return o, fault.New(fault.Malformed, "%s lists one sort of tools", c.Command.HelpName).WithHint("give one of --not-seen, --differences and --list")
		}
		o.which = which
	}
	return o, nil
}

func runCountShow(ctx context.Context, s *session, o countShowOptions) error {
	if o.which != "" {
		return s.countTools(ctx, o.id, o.which)
	}
	v, err := s.client.Count(ctx, o.id)
	if err != nil {
		return err
	}
	if s.json {
		return s.object(v)
	}
	return s.counted(v)
}

// counted writes a count as a record.
func (s *session) counted(v wire.Count) error {
	n := v.Numbers
	number := func(i int) string { return strconv.Itoa(i) }
	fields := []field{{"count", v.ID}, {"of", v.Scope}, {"how", v.How}, {"state", v.State}, {"started", s.when(v.Started) + " by " + v.StartedBy},
		{"counted by", strings.Join(v.Counted, ", ")}, {"listed", fmt.Sprint(v.Listed)}, {"to look for", fmt.Sprint(v.Drawn)},
		{"seen", number(n.Seen)}, {"seen elsewhere", number(n.SeenElsewhere)}, {"not complete", number(n.NotComplete)}, {"confirmed", number(n.Confirmed)},
		{"moved meanwhile", number(n.Moved)}, {"out, not confirmed", number(n.Out)}, {"away, not confirmed", number(n.Away)}, {"NOT SEEN", number(n.NotSeen)},
		{"not in the sample", number(n.NotInSample)}, {"extra", number(n.Extra)}, {"to settle", number(n.Unsettled)}}
	if d := v.Draw; d != nil {
		fields = append(fields, field{"seed", d.Seed})
		if d.Chosen != nil {
			fields = append(fields, field{"SEED CHOSEN", fmt.Sprint(*d.Chosen)})
		}
		fields = append(fields, field{"REDRAW of", text(v.RedrawOf)})
	}
	if err := s.record(fields); err != nil {
		return err
	}
	if v.Statement != nil {
		for _, line := range v.Statement.Words {
			if err := s.changed(line, "statement", line); err != nil {
				return err
			}
		}
	}
	s.note(v.Advice...)
	return nil
}

func (s *session) countTools(ctx context.Context, id, which string) error {
	rows, err := gather(0, func(each func(wire.CountTool) error) error { return s.client.CountTools(ctx, id, which, each) })
	if err != nil {
		return err
	}
	return list(ctx, s, wire.CountTools{Tools: rows}, []string{"NUMBER", "KIND", "PLACE", "IS", "EXPECTED", "SEEN", "LAST SEEN", "SETTLED"}, rows, s.countRow)
}

func (s *session) countRow(t wire.CountTool) []string {
	is, seen, last, settled := "extra", "", "", ""
	if t.Bucket != nil {
		is = *t.Bucket
	}
	if t.Moved != nil {
		is += ": " + t.Moved.Words
	}
	if t.Seen != nil {
		seen = joined(" ", text(t.Seen.Place), s.when(t.Seen.At), "by", t.Seen.By)
	}
	if t.LastSeen != nil {
		last = s.when(t.LastSeen.At) + " (" + t.LastSeen.How + ")"
	}
	if t.Settled != nil {
		settled = joined(" ", t.Settled.How, text(t.Settled.Place), text(t.Settled.With), text(t.Settled.Note))
	}
	return []string{t.Number, t.Kind, text(t.Place), is, t.Expected, seen, last, settled}
}

type countReportOptions struct{ id, output, format string }

func (p *program) countReport() *cli.Command {
	return &cli.Command{
		Name: "report", Usage: "write the report of a count", ArgsUsage: "COUNT",
		Description: `pawl count report N-2H4K9Q7M -o report.pdf
pawl count report N-2H4K9Q7M -o report.csv`,
		Flags: []cli.Flag{
			toFile("write it to `FILE`, as it is named: report.pdf or report.csv; - is stdout, a CSV"),
			value("format", "`FORMAT` of the file: pdf or csv; else as FILE is named"),
		},
		Action: action(p, parseCountReport, runCountReport),
	}
}

func parseCountReport(c *cli.Context) (o countReportOptions, err error) {
	ids, err := operands(c, 1, 1, "the id of a COUNT")
	if err != nil {
		return o, err
	}
	o.id, o.format = ids[0], strings.ToLower(c.String("format"))
	if o.output, err = need(c, "output", "report.pdf"); err != nil {
		return o, err
	}
	if o.format == "" {
		if o.format = endOf(o.output); o.output == "-" {
			o.format = "csv"
		}
	}
	if o.format != "pdf" && o.format != "csv" {
		return o, fault.New(fault.Malformed, "%q is not a format of the report", o.format).WithHint("name the file report.pdf or report.csv, or give --format")
	}
	return o, nil
}

func runCountReport(ctx context.Context, s *session, o countReportOptions) error {
	return s.toFile(o.output, 0o644, func(w io.Writer) ([]string, error) {
		return nil, s.client.CountReport(ctx, o.id, o.format, w)
	})
}

func (p *program) countMissing() *cli.Command {
	return &cli.Command{
		Name: "missing", Usage: "list the tools that counts left missing, and that nobody saw since",
		Description: "pawl count missing",
		Action:      action(p, parseNothing, runCountMissing),
	}
}

func runCountMissing(ctx context.Context, s *session, _ struct{}) error {
	rows, err := gather(0, func(each func(wire.MissingTool) error) error { return s.client.MissingTools(ctx, each) })
	if err != nil {
		return err
	}
	return list(ctx, s, wire.MissingTools{Tools: rows}, []string{"NUMBER", "KIND", "PLACE", "COUNT", "MISSING SINCE", "LAST SEEN", "SEARCHED"}, rows, func(t wire.MissingTool) []string {
		last := ""
		if t.LastSeen != nil {
			last = s.when(t.LastSeen.At) + " (" + t.LastSeen.How + ")"
		}
		return []string{t.Number, t.Kind, text(t.Place), t.Count, s.when(t.Since), last, text(t.Note)}
	})
}

func (p *program) countPlan() *cli.Command {
	return &cli.Command{
		Name: "plan", Usage: "list what to look at today, so that every tool is seen in turn, dear ones more often",
		Description: `pawl count plan
pawl count plan --within 60`,
		Flags:  []cli.Flag{value("within", "every tool is seen within `DAYS`; else 90")},
		Action: action(p, wholeFlag("within"), runCountPlan),
	}
}

func runCountPlan(ctx context.Context, s *session, within int) error {
	v, err := s.client.CountPlan(ctx, within)
	if err != nil {
		return err
	}
	err = list(ctx, s, v, []string{"NUMBER", "KIND", "PLACE", "OUT OR AWAY", "LAST SEEN"}, v.Tools, func(t wire.PlannedOne) []string {
		return []string{t.Number, t.Kind, text(t.Place), text(t.Holder), text(t.Seen)}
	})
	if v.Late > 0 {
		s.note(fmt.Sprintf("late: %d; behind today's share: %d", v.Late, v.Behind))
	}
	return err
}
