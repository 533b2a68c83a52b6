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
	what     string     // another print than labels; empty: labels
	name     string     // of whom or what that print is
	join     string     // the fresh label to join; nothing is drawn
	blank    int        // numbers to reserve and print; 0: none
	issued   bool       // print all numbers that are issued and free again
	again    bool       // the label takes the place of a worn or lost one
	sheet    bool       // a sheet, else one label
	settings url.Values // as the routes take them
	output   string
}

func (p *program) labelsCommand() *cli.Command {
	return &cli.Command{
		Name: "labels", Usage: "draw labels and all else on paper",
		Description: `pawl labels 00E-KM5 --format png --dpi 300 -o label.png
pawl labels 00E-KM5 00F-LN6 --sheet letter-3x10 --start 4 -o sheet.pdf
pawl labels --blank 30 --sheet letter-3x10 -o blank.pdf
pawl labels --issued --sheet letter-3x10 -o blank.pdf
pawl labels 00E-KM5 --again -o label.png
pawl labels 00E-KM5 --join 00F-LN6
pawl labels --test-page letter-3x10 -o test.pdf
pawl labels --tag 00E-KM5 -o tag.pdf
pawl labels 00E-KM5 --sticker -o sticker.pdf
pawl labels --slip 00E-KM5 -o slip.pdf
pawl labels --badge "Tech A" -o badge.pdf
pawl labels --job-tag 1042 -o key.svg
pawl labels --place "Bay 1/Cart" -o place.pdf
pawl labels --job-tag 1042 -o key.pdf
pawl labels --cards -o cards.pdf
pawl labels --signout "Bay 1" -o board.pdf
pawl labels --drawer "Bay 1/Cart" -o drawer.pdf
pawl labels --sheet "paper=letter cols=3 rows=10 w=66.675 h=25.4 left=4.7625 top=12.7 px=69.85 py=25.4" 00E-KM5 -o s.pdf`,
		ArgsUsage: "NUMBER… | -",
		Flags: append([]cli.Flag{
			value("format", "`FORMAT` of one label or other print: png, svg or pdf; else as FILE is named"),
			value("dpi", "`DPI` of the printer: 203, 300 or 600"),
			value("level", "the smallest symbol of error correction `LEVEL` Q or M, for a tiny label; else one that reads longer when it wears"),
			&cli.StringFlag{Name: "sheet", Aliases: []string{"geometry"},
				Usage: "a PDF for label sheets of this `GEOMETRY`: letter-3x10, or your own measures in mm as in the example"},
			value("start", "begin at label `N` of a part-used sheet"),
			value("dx", "move everything right by `MM`, in steps of 0.1"),
			value("dy", "move everything down by `MM`, in steps of 0.1"),
			value("unprintable", "`WHAT` becomes of letters that are not Latin, Greek or Cyrillic: refuse, or mark, each as ?"),
			value("blank", "reserve `N` new numbers and print them, for tools to come"),
			yes("issued", "print all numbers again that are reserved and free"),
			yes("again", "print the same label again: the old one is worn or gone"),
			value("join", "join the fresh label `NUMBER2`, printed before, to the tool"),
			toFile("write to `FILE`; - is stdout"),
		}, printFlags()...),
		Action: action(p, parseLabels, runLabels),
	}
}

func parseLabels(c *cli.Context) (o labelsOptions, err error) {
	o = labelsOptions{sheet: c.IsSet("sheet"), settings: url.Values{}, output: c.String("output"),
		join: c.String("join"), issued: c.Bool("issued"), again: c.Bool("again")}
	for _, name := range []string{"format", "dpi", "level", "sheet", "start", "dx", "dy", "unprintable"} {
		if c.IsSet(name) {
			o.settings.Set(name, c.String(name))
		}
	}
	if o.what, o.name, err = printOf(c); err != nil {
		return o, err
	} else if o.what != "" {
		return o, o.parsePrint(c)
	}
	if o.blank, err = wholeOf(c, "blank"); err != nil {
		return o, err
	}
	least, most := 1, -1
	if o.blank > 0 || o.issued {
		least = 0
	}
	if c.IsSet("join") {
		most = 1
	}
	if o.numbers, err = operands(c, least, most, "a tool NUMBER, --blank, or what else to draw"); err != nil {
		return o, err
	}
	if c.IsSet("join") {
		return o, o.checkJoin(c)
	}
	return o, o.check(c)
}

// checkJoin refuses what does not go with joining a label.
func (o *labelsOptions) checkJoin(c *cli.Context) error {
	if o.again || o.issued || o.blank > 0 || o.output != "" || len(o.settings) > 0 {
		return fault.New(fault.Malformed, "--join draws nothing: its label is printed already").
			WithHint("leave the other flags out; to draw that label too: pawl labels %s --again -o label.png", o.numbers[0])
	}
	_, err := need(c, "join", "00F-LN6")
	return err
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
	case (o.blank > 0 || o.issued) && len(o.numbers) > 0, o.blank > 0 && o.issued:
		return refuse("print them one after the other", "--blank, --issued and numbers do not go together")
	case o.again && len(o.numbers) == 0:
		return refuse("name the tool; a sheet of free numbers is printed again with --issued", "--again is for the label of a tool")
	case (o.blank > 0 || o.issued) && !o.sheet:
		return refuse("add --sheet letter-3x10", "free numbers are printed with --sheet")
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
	if end := endOf(file); end == "svg" || end == "pdf" {
		return end
	}
	return "png"
}

// endOf is the end of a file's name, without the dot: "svg".
func endOf(file string) string {
	return strings.ToLower(strings.TrimPrefix(filepath.Ext(file), "."))
}

func runLabels(ctx context.Context, s *session, o labelsOptions) error {
	switch {
	case o.what != "":
		return runPrint(ctx, s, o)
	case o.join != "":
		return runJoin(ctx, s, o)
	}
	numbers, err := s.allNumbers(ctx, o.numbers)
	if err != nil {
		return err
	}
	if o.issued {
		if numbers, err = s.client.FreeNumbers(ctx); err != nil {
			return err
		}
	}
	switch {
	case len(numbers) == 0 && o.issued:
		return fault.New(fault.NotFound, "no number is reserved and free").WithHint("reserve some: pawl labels --blank 30 --sheet letter-3x10 -o blank.pdf")
	case len(numbers) == 0 && o.blank == 0:
		return fault.New(fault.Malformed, "no number came on stdin").WithHint("send one number a line")
	}
	err = s.toFile(o.output, 0o644, func(w io.Writer) ([]string, error) { return s.drawLabels(ctx, o, numbers, w) })
	if err == nil {
		s.note(neverStick)
	}
	return err
}

// drawLabels draws first and records afterwards: what cannot be drawn was not
// printed again.
func (s *session) drawLabels(ctx context.Context, o labelsOptions, numbers []string, w io.Writer) ([]string, error) {
	if o.blank > 0 {
		// A number that was reserved never comes back: how they are to be drawn is tried first.
		if err := s.client.Print(ctx, "test-page", o.settings, io.Discard); err != nil {
			return nil, err
		}
		issued, err := s.client.Issue(ctx, o.blank)
		if err != nil {
			return nil, err
		}
		numbers = issued.Numbers
	}
	var err error
	if o.sheet {
		err = s.client.LabelSheet(ctx, numbers, o.settings, w)
	} else {
		err = s.client.Label(ctx, numbers[0], o.settings, w)
	}
	switch {
	case err != nil && o.blank > 0:
		return nil, reserved(numbers, err)
	case err == nil && o.again:
		err = s.again(ctx, numbers)
	}
	return numbers, err
}

// reserved says which numbers are reserved although they were not drawn.
func reserved(numbers []string, err error) error {
	f := *fault.Of(err)
	f.Hint = joined("; ", f.Hint, "these numbers are reserved, draw them with: pawl labels "+strings.Join(numbers, " ")+" --sheet … (or all that are free with --issued)")
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
