package cli

import (
	"bytes"
	"context"
	"encoding/csv"
	"io"
	"os"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"

	"pawl/api/wire"
	"pawl/model/fault"
)

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
	size, open, err := fileToSend(o.file)
	if err != nil {
		return err
	}
	report, err := s.client.Quotes(ctx, o.dryRun, size, open)
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

// fileToSend gives the size of a file, and opens it for each try.
func fileToSend(name string) (size int64, open func() (io.ReadCloser, error), err error) {
	info, err := os.Stat(name)
	if err != nil {
		return 0, nil, cannotRead(name, err)
	}
	return info.Size(), func() (io.ReadCloser, error) {
		f, err := os.Open(name)
		if err != nil {
			return nil, cannotRead(name, err)
		}
		return f, nil
	}, nil
}

func (p *program) worthOfCommand() *cli.Command {
	return &cli.Command{
		Name: "of", Usage: "say what one tool is worth, with its quotes and the arithmetic",
		Description: `pawl worth of 00E-KM5`,
		ArgsUsage:   "NUMBER",
		Action:      action(p, oneNumber, runWorthOf),
	}
}

func oneNumber(c *cli.Context) (string, error) {
	numbers, err := operands(c, 1, 1, "a NUMBER")
	if err != nil {
		return "", err
	}
	return numbers[0], nil
}

func runWorthOf(ctx context.Context, s *session, number string) error {
	v, err := s.client.ToolWorth(ctx, number)
	if err != nil {
		return err
	}
	if s.json {
		return s.object(v)
	}
	s.note(v.Cautions...)
	fields := []field{{"number", v.Number}, {"kind", v.Kind}, {"replacement cost", orUnknown(v.Cost)}, {"of", text(v.Of)}, {"source", text(v.Source)}, {"dated", text(v.Dated)},
		{"actual cash value", orUnknown(v.ActualCash)}, {"working", text(v.Working)}}
	if i := v.Indexed; i != nil {
		fields = append(fields, field{i.Label, i.Amount + ": " + i.Series + ", " + i.Area + ", base " + i.Base + ", " + i.FromMonth + " " + i.FromValue + " to " + i.ToMonth + " " + i.ToValue + ", " + strconv.FormatFloat(i.Change, 'f', 1, 64) + " %"})
	}
	for _, q := range v.Quotes {
		name := "quote"
		if q.Basis != "replacement" {
			name = q.Basis + " value"
		}
		fields = append(fields, field{name, q.Amount + ", " + q.Source + ", " + string(q.Dated)})
	}
	return s.record(fields)
}

func orUnknown(amount *string) string {
	if amount == nil {
		return "unknown"
	}
	return *amount
}

type quoteOptions struct {
	number string
	quote  wire.NewQuote
}

func (p *program) quoteCommand() *cli.Command {
	return &cli.Command{
		Name: "quote", Usage: "record what a new tool of the sort costs, or what a used one sells for, by whom and of which day",
		Description: `pawl worth quote 00E-KM5 --amount 649.00 --source "Brindle dealer" --date 2026-11-01
pawl worth quote 00E-KM5 --amount 380.00 --source "Gannet used tools" --date 2026-11-01 --basis market`,
		ArgsUsage: "NUMBER",
		Flags: []cli.Flag{
			value("amount", "`AMOUNT` before tax"), value("source", "`WHO` quotes it"), value("date", "`DATE` of the quote"),
			value("basis", "`replacement` for what a new one costs, market for what a used one sells for: in no sum of worth, and in a packet only with --add market"),
		},
		Action: action(p, func(c *cli.Context) (o quoteOptions, err error) {
			o.quote = wire.NewQuote{Amount: c.String("amount"), Source: c.String("source"), Date: c.String("date"), Basis: c.String("basis")}
			o.number, err = oneNumber(c)
			return o, err
		}, func(ctx context.Context, s *session, o quoteOptions) error {
			w, err := s.client.AddQuote(ctx, o.number, o.quote)
			return s.valued(w, err, "quoted")
		}),
	}
}

// valued tells what a tool is worth after something was entered.
func (s *session) valued(w wire.WorthTool, err error, did string) error {
	if err != nil {
		return err
	}
	if s.json {
		return s.object(w)
	}
	return s.changed(w.Number+" "+did+": replacement cost "+orUnknown(w.Cost)+", actual cash value "+orUnknown(w.ActualCash), w.Number, did, text(w.Cost), text(w.ActualCash))
}

type conditionOptions struct {
	number    string
	condition wire.NewCondition
}

func (p *program) conditionCommand() *cli.Command {
	return &cli.Command{
		Name: "condition", Usage: "record what its condition takes off the value of a tool, with the reason",
		Description: `pawl worth condition 00E-KM5 --share 0.8 --reason "handle bent, still in use"
pawl worth condition 00E-KM5 --none`,
		ArgsUsage: "NUMBER",
		Flags: []cli.Flag{value("share", "`SHARE` of what age leaves: above 0 to 1"), value("reason", "`WHY`, by what can be seen"),
			yes("none", "nothing is taken off any more")},
		Action: action(p, parseCondition, func(ctx context.Context, s *session, o conditionOptions) error {
			w, err := s.client.Judge(ctx, o.number, o.condition)
			return s.valued(w, err, "judged")
		}),
	}
}

func parseCondition(c *cli.Context) (o conditionOptions, err error) {
	o.condition = wire.NewCondition{Share: c.String("share"), Reason: c.String("reason")}
	if c.Bool("none") != (o.condition == wire.NewCondition{}) {
		return o, fault.New(fault.Malformed, "say what the condition takes off, or --none").WithHint("give --share and --reason, such as --share 0.8 --reason \"handle bent\"")
	}
	o.number, err = oneNumber(c)
	return o, err
}

func (p *program) lifeCommand() *cli.Command {
	return &cli.Command{
		Name: "life", Usage: "list, set and end how long tools are taken to be of use, and the floor of their value",
		Description: `pawl worth life
pawl worth life set --class "hand tools" --months 300 --floor 0.25
pawl worth life end "hand tools"`,
		Action: action(p, parseNothing, func(ctx context.Context, s *session, _ struct{}) error {
			all, err := s.client.Lives(ctx)
			if err != nil {
				return err
			}
			return list(ctx, s, all, []string{"OF", "NAME", "MONTHS", "FLOOR", "FROM", "BY"}, all.Lives, func(l wire.LifeOf) []string {
				return []string{l.Of, l.Class, strconv.FormatInt(l.Months, 10), l.Floor, l.From, text(l.By)}
			})
		}),
		Subcommands: []*cli.Command{{
			Name: "set", Usage: "set a life of the shop's own for a class or a kind of tool",
			Description: `pawl worth life set --class "hand tools" --months 300 --floor 0.25
pawl worth life set --kind "impact wrench" --months 60 --floor 0.1`,
			Flags: []cli.Flag{value("class", "`CLASS` of tools; see pawl worth life"), value("kind", "`KIND` of tool, before its class"), value("months", "`MONTHS` of use"), value("floor", "`SHARE` below which the value does not sink, such as 0.2")},
			Action: action(p, func(c *cli.Context) (wire.NewLife, error) {
				return wire.NewLife{Class: c.String("class"), Kind: c.String("kind"), Months: c.String("months"), Floor: c.String("floor")}, noOperands(c)
			}, func(ctx context.Context, s *session, in wire.NewLife) error {
				l, err := s.client.SetLife(ctx, in)
				return s.lived(l, err, "set")
			}),
		}, {
			Name: "end", Usage: "go back to what is assumed of a class or a kind",
			Description: `pawl worth life end "hand tools"`,
			ArgsUsage:   "NAME",
			Action:      action(p, oneOperand("a NAME"), runEndLife),
		}},
	}
}

func (s *session) lived(l wire.LifeOf, err error, did string) error {
	if err != nil {
		return err
	}
	if s.json {
		return s.object(l)
	}
	months := strconv.FormatInt(l.Months, 10)
	return s.changed(l.Class+": "+months+" months, floor "+l.Floor+" "+did, l.Class, did, months, l.Floor)
}

func runEndLife(ctx context.Context, s *session, name string) error {
	all, err := s.client.Lives(ctx)
	if err != nil {
		return err
	}
	for _, l := range all.Lives {
		if l.ID != nil && (strings.EqualFold(l.Class, strings.TrimSpace(name)) || *l.ID == name) {
			ended, err := s.client.EndLife(ctx, *l.ID)
			return s.lived(ended, err, "ended")
		}
	}
	return fault.New(fault.NotFound, "the shop set no life for %q", name).WithHint("list them: pawl worth life")
}

type indexOptions struct {
	file   string // empty: one value, by flags
	row    []string
	dryRun bool
}

// indexFlags are the columns of the CSV, in its order.
var indexFlags = []string{"series", "area", "base", "month", "value"}

func (p *program) indexCommand() *cli.Command {
	return &cli.Command{
		Name: "index", Usage: "list, add and end the values of a price index; what it moves is labelled: indexed, not quoted",
		Description: `pawl worth index
pawl worth index add index.csv
pawl worth index end`,
		Action: action(p, parseNothing, func(ctx context.Context, s *session, _ struct{}) error {
			all, err := s.client.PriceIndex(ctx)
			if err != nil {
				return err
			}
			return list(ctx, s, all, []string{"SERIES", "AREA", "BASE", "MONTH", "VALUE"}, all.Values, func(v wire.IndexPoint) []string {
				return []string{v.Series, v.Area, v.Base, v.Month, v.Value}
			})
		}),
		Subcommands: []*cli.Command{{
			Name: "add", Usage: "record values of the index, as published, from a CSV or one by flags",
			Description: `pawl worth index add index.csv
pawl worth index add --series "Consumer Price Index, all items" --area "U.S. city average" --base "1982-84=100" --month 2014-12 --value 234.812

The columns are series, area, base, month and value.`,
			ArgsUsage: "[FILE]",
			Flags: []cli.Flag{value("series", "`NAME` of the series"), value("area", "`AREA` that it is of"), value("base", "`PERIOD` of its base"), value("month", "`MONTH` of the value, such as 2026-10"),
				value("value", "the `VALUE`, as published"), yes("dry-run", "change nothing and say what would be done")},
			Action: action(p, parseIndex, runIndex),
		}, {
			Name: "end", Usage: "say that the shop no longer goes by its index",
			Description: `pawl worth index end`,
			Action: action(p, parseNothing, func(ctx context.Context, s *session, _ struct{}) error {
				r, err := s.client.EndIndex(ctx)
				if err != nil {
					return err
				}
				if s.json {
					return s.object(r)
				}
				return s.changed(strconv.Itoa(r.Changed)+" values ended", "ended", strconv.Itoa(r.Changed))
			}),
		}},
	}
}

func parseIndex(c *cli.Context) (o indexOptions, err error) {
	files, err := operands(c, 0, 1, "a FILE")
	if err != nil {
		return o, err
	}
	o.dryRun = c.Bool("dry-run")
	flags := 0
	for _, name := range indexFlags {
		o.row = append(o.row, c.String(name))
		if c.IsSet(name) {
			flags++
		}
	}
	if (len(files) == 1) == (flags > 0) {
		return o, fault.New(fault.Malformed, "say where the values come from").WithHint("give a FILE, or --series, --area, --base, --month and --value")
	}
	if len(files) == 1 {
		o.file = files[0]
	}
	return o, nil
}

func runIndex(ctx context.Context, s *session, o indexOptions) error {
	size, open, err := indexToSend(o)
	if err != nil {
		return err
	}
	r, err := s.client.ImportIndex(ctx, o.dryRun, size, open)
	if err != nil {
		return err
	}
	if s.json {
		return s.object(r)
	}
	did := "added"
	if o.dryRun {
		did = "would be added"
	}
	return s.changed(strconv.Itoa(r.Added)+" values "+did+", "+strconv.Itoa(r.Changed)+" changed, "+strconv.Itoa(r.Unchanged)+" were here already", did, strconv.Itoa(r.Added), strconv.Itoa(r.Changed), strconv.Itoa(r.Unchanged))
}

// indexToSend is the file, or one row made of the flags.
func indexToSend(o indexOptions) (int64, func() (io.ReadCloser, error), error) {
	if o.file != "" {
		return fileToSend(o.file)
	}
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	if err := w.WriteAll([][]string{indexFlags, o.row}); err != nil {
		return 0, nil, err
	}
	return int64(b.Len()), func() (io.ReadCloser, error) { return io.NopCloser(bytes.NewReader(b.Bytes())), nil }, nil
}
