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

type recheckOptions struct{ number, output, format string }

func (p *program) recheckCommand() *cli.Command {
	return &cli.Command{
		Name: "recheck", Usage: "list the work that is in doubt because of what was found of a tool; without a NUMBER the tools that have such work",
		Description: `pawl recheck
pawl recheck 00E-KM5
pawl recheck 00E-KM5 -o list.pdf
pawl recheck 00E-KM5 -o list.csv
pawl recheck settle U-2H4K9Q7M --done "loosened and tightened again, 108 N·m, with 00F-LN6"`,
		ArgsUsage: "[NUMBER]",
		Flags: []cli.Flag{
			toFile("write it to `FILE`, as it is named: list.pdf or list.csv; - is stdout, a CSV"),
			value("format", "`FORMAT` of the file: pdf or csv; else as FILE is named"),
		},
		Action: action(p, parseRecheck, runRecheck),
		Subcommands: []*cli.Command{{
			Name: "settle", Usage: "say how a line of the list was settled",
			Description: `pawl recheck settle U-2H4K9Q7M --done "loosened and tightened again, 108 N·m, with 00F-LN6"
pawl recheck settle U-2H4K9Q7M --how "customer told" --done "by phone, comes in on Monday" --photo other=note.jpg`,
			ArgsUsage: "LINE",
			Flags: []cli.Flag{
				value("done", "what was done, in `WORDS`"),
				value("how", "`HOW`: loosened and tightened again, fastener replaced, checked, or customer told; else by the words"),
				value("tool", "with the tool of `NUMBER3`; else one that the words name"),
				values("photo", "`FILE` that shows it; optional"),
			},
			Action: action(p, parseSettle, runSettle),
		}},
	}
}

func parseRecheck(c *cli.Context) (o recheckOptions, err error) {
	numbers, err := operands(c, 0, 1, "a tool NUMBER")
	if err != nil {
		return o, err
	}
	o = recheckOptions{number: strings.Join(numbers, ""), output: c.String("output"), format: strings.ToLower(c.String("format"))}
	if o.number == "" && o.output != "" {
		return o, fault.New(fault.Malformed, "a file is of one tool's list, and no NUMBER is given").WithHint("pawl recheck names the tools that have one")
	}
	if o.output == "" {
		if o.format != "" {
			return o, fault.New(fault.Malformed, "--format is for a file").WithHint("add -o list.%s", o.format)
		}
		return o, nil
	}
	if o.format == "" {
		if o.format = endOf(o.output); o.output == "-" {
			o.format = "csv"
		}
	}
	if o.format != "pdf" && o.format != "csv" {
		return o, fault.New(fault.Malformed, "%q is not a format of the list", o.format).WithHint("name the file list.pdf or list.csv, or give --format")
	}
	return o, nil
}

func runRecheck(ctx context.Context, s *session, o recheckOptions) error {
	if o.number == "" {
		return s.rechecksOpen(ctx)
	}
	if o.output != "" {
		return s.toFile(o.output, 0o644, func(w io.Writer) ([]string, error) {
			return nil, s.client.RecheckFile(ctx, o.number, o.format, w)
		})
	}
	v, err := s.client.Recheck(ctx, o.number)
	if err != nil {
		return err
	}
	if s.json {
		return s.object(v)
	}
	return s.rechecked(ctx, v)
}

// rechecksOpen names the tools whose work nobody has settled, worst first.
func (s *session) rechecksOpen(ctx context.Context) error {
	v, err := s.client.UnsettledRechecks(ctx)
	if err != nil {
		return err
	}
	if s.json {
		return s.object(v)
	}
	rows := make([][]string, len(v.Tools))
	for i, t := range v.Tools {
		rows[i] = []string{t.Number, t.Kind, t.Worst, t.Since, strconv.Itoa(t.Lines)}
	}
	if err := s.table([]string{"NUMBER", "KIND", "WORST", "FOUND OUT", "TO SETTLE"}, rows); err != nil {
		return err
	}
	if len(rows) == 0 {
		s.note("no recorded work is in doubt and not settled; what was never recorded is not known")
		return nil
	}
	s.note("the list of one: pawl recheck NUMBER")
	return nil
}

// rechecked tells first what is not known.
func (s *session) rechecked(ctx context.Context, v wire.Recheck) error {
	if err := s.changed("NOT KNOWN: "+v.Unknown.Words, "not known", v.Unknown.Words); err != nil {
		return err
	}
	for _, w := range v.Windows {
		from, to := orWord(w.From, "the beginning"), orWord(w.To, "now")
		if w.FromAt != 0 {
			from = s.when(w.FromAt)
		}
		if w.ToAt != 0 {
			to = s.when(w.ToAt)
		}
		if err := s.changed(fmt.Sprintf("in doubt from %s to %s: %s", from, to, w.Why), "window", text(w.From), text(w.To), w.Why); err != nil {
			return err
		}
	}
	var rows [][]string
	for _, l := range v.Lines {
		applied := ""
		if !l.Applied.IsZero() {
			applied = l.Applied.String() + " ± " + l.Uncertainty.Value
		}
		settled := ""
		if l.How != nil {
			settled = *l.How
		}
		rows = append(rows, []string{l.ID, l.Verdict, text(l.Job), text(l.Fastener), l.Set.String(), text(l.Limits), applied, s.when(l.Happened), settled})
	}
	if err := s.table([]string{"LINE", "VERDICT", "JOB", "FASTENER", "SET", "LIMITS", "LIKELIEST", "AT", "SETTLED"}, rows); err != nil {
		return err
	}
	if v.Open > 0 {
		s.note(count(int64(v.Open), "line") + " to settle: pawl recheck settle LINE --done …")
	}
	s.note(v.Cautions...)
	return nil
}

func orWord(s *string, other string) string {
	if s == nil {
		return other
	}
	return *s
}

type settleOptions struct {
	line   string
	photos []string
	wire.SettleRecheck
}

func parseSettle(c *cli.Context) (o settleOptions, err error) {
	lines, err := operands(c, 1, 1, "a LINE")
	if err != nil {
		return o, err
	}
	o.line, o.photos = lines[0], c.StringSlice("photo")
	o.How, o.Tool = c.String("how"), c.String("tool")
	o.Done, err = need(c, "done", `"loosened and tightened again, 108 N·m, with 00F-LN6"`)
	return o, err
}

func runSettle(ctx context.Context, s *session, o settleOptions) error {
	var papers []paper
	for _, file := range o.photos {
		papers = append(papers, paper{"other", strings.TrimPrefix(file, "other=")})
	}
	if len(papers) > 0 {
		var err error
		if o.Evidence, err = s.upload(ctx, papers); err != nil {
			return err
		}
	}
	v, err := s.client.SettleRecheck(ctx, o.line, o.SettleRecheck)
	if err != nil {
		return err
	}
	if s.json {
		return s.object(v)
	}
	err = s.changed(fmt.Sprintf("%s of %s is settled: %s; %s left", v.ID, v.Number, text(v.How), count(int64(v.Left), "line")),
		v.ID, v.Number, text(v.How), text(v.Done), text(v.With), count(int64(v.Left), ""))
	s.note(v.Advice...)
	return err
}
