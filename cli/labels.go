package cli

import (
	"context"
	"io"
	"net/url"
	"path/filepath"
	"strings"

	"github.com/urfave/cli/v2"

	"pawl/model/fault"
)

type labelsOptions struct {
	numbers  []string
	blank    int        // numbers to reserve and print; 0: none
	sheet    bool       // a sheet, else one label
	settings url.Values // as the routes take them
	output   string
}

func (p *program) labelsCommand() *cli.Command {
	return &cli.Command{
		Name: "labels", Usage: "draw labels, one or a sheet",
		Description: `pawl labels 00E-KM5 --format png --dpi 300 -o label.png
pawl labels 00E-KM5 00F-LN6 --sheet letter-3x10 --start 4 -o sheet.pdf
pawl labels --blank 30 --sheet letter-3x10 -o blank.pdf`,
		ArgsUsage: "NUMBER… | -",
		Flags: []cli.Flag{
			value("format", "`FORMAT` of one label: png, svg or pdf; else as FILE is named"),
			value("dpi", "`DPI` of the printer: 203, 300 or 600"),
			value("level", "error correction `LEVEL` of the symbol: Q or M"),
			value("sheet", "a PDF for label sheets of this `GEOMETRY`, such as letter-3x10"),
			value("start", "begin at label `N` of a part-used sheet"),
			value("dx", "move everything right by `MM`, in steps of 0.1"),
			value("dy", "move everything down by `MM`, in steps of 0.1"),
			value("blank", "reserve `N` new numbers and print them, for tools to come"),
			toFile("write to `FILE`; - is stdout"),
		},
		Action: action(p, parseLabels, runLabels),
	}
}

func parseLabels(c *cli.Context) (o labelsOptions, err error) {
	o = labelsOptions{sheet: c.IsSet("sheet"), settings: url.Values{}, output: c.String("output")}
	if o.blank, err = wholeOf(c, "blank"); err != nil {
		return o, err
	}
	least := 1
	if o.blank > 0 {
		least = 0
	}
	if o.numbers, err = operands(c, least, -1, "a tool NUMBER, or --blank"); err != nil {
		return o, err
	}
	for _, name := range []string{"format", "dpi", "level", "sheet", "start", "dx", "dy"} {
		if c.IsSet(name) {
			o.settings.Set(name, c.String(name))
		}
	}
	return o, o.check(c)
}

// check refuses what does not go together.
func (o *labelsOptions) check(c *cli.Context) error {
	refuse := func(hint, format string, args ...any) error {
		return fault.New(fault.Malformed, format, args...).WithHint("%s", hint)
	}
	switch {
	case o.output == "":
		_, err := need(c, "output", "label.png, or -o - for stdout")
		return err
	case o.blank > 0 && len(o.numbers) > 0:
		return refuse("print them one after the other", "--blank and numbers do not go together")
	case o.blank > 0 && !o.sheet:
		return refuse("add --sheet letter-3x10", "--blank needs --sheet")
	case o.sheet && o.settings.Get("format") != "" && o.settings.Get("format") != "pdf":
		return refuse("leave --format out", "a sheet is a PDF, not %s", o.settings.Get("format"))
	case o.sheet && o.settings.Has("dpi"):
		return refuse("leave --dpi out", "a sheet is drawn in lines, not in dots")
	case !o.sheet && (o.settings.Has("start") || o.settings.Has("dx") || o.settings.Has("dy")):
		return refuse("add --sheet letter-3x10", "--start, --dx and --dy are for a sheet")
	case !o.sheet && (len(o.numbers) > 1 || o.numbers[0] == "-"):
		return refuse("add --sheet letter-3x10", "several labels go on a sheet")
	}
	if o.sheet {
		o.settings.Del("format")
	} else if !o.settings.Has("format") {
		o.settings.Set("format", formatOf(o.output))
	}
	return nil
}

// formatOf goes by the end of the file's name; png where that says nothing.
func formatOf(file string) string {
	switch end := strings.ToLower(strings.TrimPrefix(filepath.Ext(file), ".")); end {
	case "svg", "pdf":
		return end
	}
	return "png"
}

func runLabels(ctx context.Context, s *session, o labelsOptions) error {
	numbers, err := s.allNumbers(ctx, o.numbers)
	if err != nil {
		return err
	}
	if len(numbers) == 0 && o.blank == 0 {
		return fault.New(fault.Malformed, "no number came on stdin").WithHint("send one number a line")
	}
	return s.toFile(o.output, 0o644, func(w io.Writer) ([]string, error) {
		if o.blank > 0 {
			issued, err := s.client.Issue(ctx, o.blank)
			if err != nil {
				return nil, err
			}
			numbers = issued.Numbers
		}
		if !o.sheet {
			return numbers, s.client.Label(ctx, numbers[0], o.settings, w)
		}
		err := s.client.LabelSheet(ctx, numbers, o.settings, w)
		if err != nil && o.blank > 0 {
			return nil, reserved(numbers, err)
		}
		return numbers, err
	})
}

// reserved says which numbers are reserved although they were not drawn.
func reserved(numbers []string, err error) error {
	f := *fault.Of(err)
	f.Hint = joined("; ", f.Hint, "these numbers are reserved, draw them with: pawl labels "+strings.Join(numbers, " ")+" --sheet …")
	return &f
}

// allNumbers puts the numbers on stdin in the place of "-".
func (s *session) allNumbers(ctx context.Context, given []string) ([]string, error) {
	var all []string
	for _, number := range given {
		if number != "-" {
			all = append(all, number)
			continue
		}
		err := readLines(ctx, s.in, func(line string) error {
			all = append(all, line)
			return nil
		})
		if err != nil {
			return nil, err
		}
	}
	return all, nil
}
