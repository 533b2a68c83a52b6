package cli

import (
	"context"
	"io"
	"strings"

	"github.com/urfave/cli/v2"

	"pawl/api/wire"
	"pawl/model/fault"
)

// prints are the flags of labels that draw something else than tool labels,
// each with the print's name on the wire.
var prints = []struct{ flag, what, usage string }{
	{"badge", "badge", "draw the badge of the person called `NAME`"},
	{"place", "place", "draw the label of a `PLACE`: \"Bay 1/Cart\""},
	{"tag", "do-not-use", "draw the do-not-use tag of tool `NUMBER`"},
	{"job-tag", "job", "draw the key tag of `JOB`"},
	{"slip", "slip", "draw the slip that goes to the laboratory with tool `NUMBER`"},
	{"drawer", "drawer", "draw the sheet that lies in `PLACE`, to be ticked by hand"},
	{"signout", "sign-out", "draw a sheet to write on by hand, with the tools of `PLACE`"},
}

// printFlags are those of the prints, with the cards and the test page.
func printFlags() (flags []cli.Flag) {
	for _, p := range prints {
		flags = append(flags, value(p.flag, p.usage))
	}
	return append(flags,
		yes("sticker", "draw the calibration sticker of the tool"),
		yes("cards", "draw the TAKE, RETURN and UNDO cards of the board"),
		value("test-page", "draw a ruled page to hold against sheets of this `GEOMETRY`"))
}

// printOf reads which print is asked for; none where it is labels.
func printOf(c *cli.Context) (what, name string, err error) {
	var given []string
	for _, p := range prints {
		if c.IsSet(p.flag) {
			what, name, given = p.what, c.String(p.flag), append(given, "--"+p.flag)
		}
	}
	sticker := c.Bool("sticker")
	if sticker {
		what, given = "sticker", append(given, "--sticker")
	}
	if c.Bool("cards") {
		what, name, given = "cards", "", append(given, "--cards")
	}
	if c.IsSet("test-page") {
		what, name, given = "test-page", "", append(given, "--test-page")
	}
	if len(given) > 1 {
		return "", "", fault.New(fault.Malformed, "%s do not go together", strings.Join(given, " and ")).WithHint("print them one after the other")
	}
	if sticker {
		numbers, err := operands(c, 1, 1, "a tool NUMBER")
		if err != nil {
			return "", "", err
		}
		return what, numbers[0], nil
	}
	if len(given) == 1 && c.Args().Present() {
		return "", "", fault.New(fault.Malformed, "%s takes no further %q", given[0], c.Args().First()).WithHint("quote names that hold spaces")
	}
	return what, name, nil
}

// parsePrint reads the rest of the flags for a print.
func (o *labelsOptions) parsePrint(c *cli.Context) error {
	for _, name := range []string{"blank", "again", "join", "issued"} {
		if c.IsSet(name) {
			return fault.New(fault.Malformed, "--%s is for the labels of tools", name).WithHint("leave it out")
		}
	}
	if o.what == "test-page" {
		if c.IsSet("sheet") {
			return fault.New(fault.Malformed, "--test-page names the sheet already").WithHint("leave --sheet out")
		}
		o.settings.Set("sheet", c.String("test-page"))
	} else if o.what != "cards" {
		o.settings.Set("name", o.name)
	}
	if o.output == "" {
		_, err := need(c, "output", "print.pdf, or -o - for stdout")
		return err
	}
	if !o.settings.Has("format") {
		o.settings.Set("format", "pdf")
		if end := endOf(o.output); !o.sheet && (end == "png" || end == "svg") {
			o.settings.Set("format", end)
		}
	}
	return o.checkPrint()
}

// checkPrint refuses what does not go together in a print.
func (o *labelsOptions) checkPrint() error {
	placed := o.settings.Has("start") || o.settings.Has("dx") || o.settings.Has("dy")
	switch {
	case o.sheet && o.settings.Get("format") != "pdf":
		return fault.New(fault.Malformed, "a sheet is a PDF, not %s", o.settings.Get("format")).WithHint("leave --format out")
	case placed && !o.settings.Has("sheet"):
		return fault.New(fault.Malformed, "--start, --dx and --dy are for a sheet").WithHint("add --sheet letter-3x10")
	case o.sheet && (o.what == "sign-out" || o.what == "slip" || o.what == "drawer"):
		return fault.New(fault.Malformed, "a %s is a page of the shop's paper", map[string]string{"sign-out": "sign-out sheet", "slip": "slip", "drawer": "drawer sheet"}[o.what]).WithHint("leave --sheet out")
	case o.settings.Has("dpi") && o.settings.Get("format") != "png":
		return fault.New(fault.Malformed, "a %s is drawn in lines, not in dots", strings.ToUpper(o.settings.Get("format"))).WithHint("leave --dpi out, or ask for --format png")
	}
	return nil
}

// neverStick is said with everything that is stuck onto a tool.
const neverStick = "never stick a label on gloves, insulation, vents or rating plates"

func runPrint(ctx context.Context, s *session, o labelsOptions) error {
	err := s.toFile(o.output, 0o644, func(w io.Writer) ([]string, error) {
		return nil, s.client.Print(ctx, o.what, o.settings, w)
	})
	if err == nil && o.what == "sticker" {
		s.note(neverStick)
	}
	return err
}

// runJoin joins a fresh label to a tool; nothing is drawn.
func runJoin(ctx context.Context, s *session, o labelsOptions) error {
	return s.each(ctx, o.numbers, func(ctx context.Context, number string) (wire.Done, error) {
		return s.client.Join(ctx, number, wire.Join{Number: o.join})
	})
}

// again records that labels were printed once more, and says what that ended.
func (s *session) again(ctx context.Context, numbers []string) error {
	for _, number := range numbers {
		done, err := s.client.LabelAgain(ctx, number, wire.LabelAgain{})
		if err != nil {
			return err
		}
		for _, cleared := range done.Cleared {
			s.note(done.Number + ": " + cleared + " is no longer reported")
		}
	}
	return nil
}
