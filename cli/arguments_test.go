package cli

import (
	"bytes"
	"slices"
	"strings"
	"testing"

	"github.com/urfave/cli/v2"
	"pgregory.net/rapid"

	"pawl/model/fault"
)

// testApp is a small tree of commands: a leaf and a group.
func testApp() *cli.App {
	return &cli.App{
		Name: "pawl", HideHelp: true,
		Flags: []cli.Flag{
			value("data", ""), yes("json", ""),
			&cli.BoolFlag{Name: "quiet", Aliases: []string{"q"}},
			&cli.BoolFlag{Name: "help", Aliases: []string{"h"}}, yes("version", ""),
		},
		Commands: []*cli.Command{
			{Name: "take", Flags: []cli.Flag{value("to", ""), values("photo", ""), toFile(""), yes("gone", "")}},
			{Name: "job", Subcommands: []*cli.Command{{Name: "open", Flags: []cli.Flag{value("vehicle", "")}}, {Name: "list"}}},
		},
	}
}

func words(s string) []string { return strings.Fields(s) }

// TestReadLine states how a line is read: what goes before `--` comes out in
// one order and one form, whatever order it was typed in.
func TestReadLine(t *testing.T) {
	for _, c := range []struct {
		typed string
		want  string // as given to the library
	}{
		{"take 00E-KM5 --to A", "take --to=A -- 00E-KM5"},
		{"take --to A 00E-KM5", "take --to=A -- 00E-KM5"},
		{"take --to=A 00E-KM5 00F-LN6", "take --to=A -- 00E-KM5 00F-LN6"},
		{"take 00E-KM5 --json --to A", "--json=true take --to=A -- 00E-KM5"},
		{"--json --data D take 00E-KM5", "--json=true --data=D take -- 00E-KM5"},
		{"take 00E-KM5 -q", "--quiet=true take -- 00E-KM5"},
		{"take - --to A", "take --to=A -- -"},
		{"take --to A -o - -", "take --to=A --output=- -- -"},
		{"take --to A -- -K12 --json", "take --to=A -- -K12 --json"},
		{"take --to -K12 X", "take --to=-K12 -- X"},
		{"take --to=--json X", "take --to=--json -- X"},
		{"take --to= X", "take --to= -- X"},
		{"take --to a=b X", "take --to=a=b -- X"},
		{"take --photo a --photo b=c --photo a X", "take --photo=a --photo=b=c --photo=a -- X"},
		{"take --to A X --to A", "take --to=A -- X"},
		{"take X --gone=false", "take --gone=false -- X"},
		{"job open 1042 --vehicle wagon", "job open --vehicle=wagon -- 1042"},
		{"job --json open 1042", "--json=true job open -- 1042"},
		{"job list", "job list"},
		{"take help", "take -- help"},
		{"take take", "take -- take"},
		{"take --", "take"},
	} {
		l, err := readLine(testApp(), words(c.typed))
		if got := strings.Join(l.arguments("")[1:], " "); err != nil || got != c.want {
			t.Errorf("%s\n got %s (%v)\nwant %s", c.typed, got, err, c.want)
		}
	}
}

// TestReadLineRefuses states what is wrong usage, and that the message names it.
func TestReadLineRefuses(t *testing.T) {
	for _, c := range []struct{ typed, names string }{
		{"take X --too A", "--too"},
		{"take X -to A", "-to"},
		{"take X -x", "-x"},
		{"take X --o FILE", "--o"},
		{"take X --vehicle wagon", "--vehicle"},
		{"--to A take X", "--to"},
		{"take X --to", "--to"},
		{"take X --to --json", "--to"},
		{"take X --to -q", "--to"},
		{"take X --to -- Y", "--to"},
		{"take X --json=yes", "--json"},
		{"take X --json=", "--json"},
		{"take X --to A --to B", "--to"},
		{"tkae X", `"tkae"`},
		{"job close 1042", `"close"`},
		{"job -- open", "--"},
		{"-- take X", "--"},
		{"take ---to A", "---to"},
		{"take --=A", "--"},
	} {
		_, err := readLine(testApp(), words(c.typed))
		if !fault.Is(err, fault.Malformed) || !strings.Contains(err.Error(), c.names) {
			t.Errorf("%s: got %v; want a malformed fault that names %s", c.typed, err, c.names)
		}
	}
}

func TestReadLineHelpAndVersion(t *testing.T) {
	for _, c := range []struct {
		typed         string
		help, version bool
		path          string
	}{
		{"--help", true, false, ""}, {"help", true, false, ""}, {"-h", true, false, ""},
		{"help take", true, false, "take"}, {"take --help", true, false, "take"}, {"take X -h", true, false, "take"},
		{"help job open", true, false, "job open"}, {"--version", false, true, ""}, {"take --version", false, true, "take"},
		{"take --help=false X", false, false, "take"},
	} {
		l, err := readLine(testApp(), words(c.typed))
		if err != nil || l.help != c.help || l.version != c.version || strings.Join(l.path, " ") != c.path {
			t.Errorf("%s: help %v, version %v, path %q, error %v", c.typed, l.help, l.version, l.path, err)
		}
	}
}

// TestOrderNeverMatters mixes flags and operands in any order that keeps the
// order of the operands and of repeated flags, and wants the same parse, by our
// reading and by the library's after it.
func TestOrderNeverMatters(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringMatching(`[ -~]{0,6}`)
		operands := rapid.SliceOfN(rapid.OneOf(rapid.Just("-"), rapid.StringMatching(`[^-][ -~]{0,6}`)), 0, 4).Draw(t, "operands")
		photos := rapid.SliceOfN(text, 0, 3).Draw(t, "photos")
		to := text.Draw(t, "to")
		pieces := [][]string{{"--to=" + to}}
		if rapid.Bool().Draw(t, "json") {
			pieces = append(pieces, []string{"--json"})
		}
		if !strings.HasPrefix(to, "-") && rapid.Bool().Draw(t, "apart") {
			pieces[0] = []string{"--to", to}
		}
		line := []string{"take"}
		rest := [][]string{}
		for _, p := range photos {
			rest = append(rest, []string{"--photo=" + p})
		}
		for _, p := range rapid.Permutation(pieces).Draw(t, "order") {
			at := rapid.IntRange(0, len(rest)).Draw(t, "at")
			rest = slices.Insert(rest, at, p)
		}
		from := 0
		for _, o := range operands {
			at := rapid.IntRange(from, len(rest)).Draw(t, "at")
			rest = slices.Insert(rest, at, []string{o})
			from = at + 1
		}
		for _, r := range rest {
			line = append(line, r...)
		}
		gotTo, gotPhotos, gotOperands := parsed(t, line)
		if gotTo != to || !slices.Equal(gotPhotos, photos) || !slices.Equal(gotOperands, operands) {
			t.Fatalf("%q: got --to %q, --photo %q, operands %q; want %q, %q, %q", line, gotTo, gotPhotos, gotOperands, to, photos, operands)
		}
	})
}

// parsed runs a line through our reading and the library, and tells what
// reached the command.
func parsed(t *rapid.T, typed []string) (to string, photos, operands []string) {
	app := testApp()
	app.DisableSliceFlagSeparator = true
	app.Writer, app.ErrWriter = new(bytes.Buffer), new(bytes.Buffer)
	ran := false
	app.Commands[0].HideHelp = true
	app.Commands[0].Action = func(c *cli.Context) error {
		ran, to, photos, operands = true, c.String("to"), c.StringSlice("photo"), c.Args().Slice()
		return nil
	}
	l, err := readLine(app, typed)
	if err == nil {
		err = app.Run(l.arguments("pawl"))
	}
	if err != nil || !ran {
		t.Fatalf("%q: %v, ran %v", typed, err, ran)
	}
	return to, photos, operands
}

// FuzzReadLine holds the reading of any words against what it may not do: lose
// or invent an operand. What is not a flag or its value comes out as it went in.
func FuzzReadLine(f *testing.F) {
	f.Add("take\x00X\x00--to\x00A\x00--json")
	f.Add("take\x00--\x00-\x00--to")
	f.Add("job\x00open\x00-q\x001042\x00--vehicle=a b")
	f.Fuzz(func(t *testing.T, joined string) {
		typed := strings.Split(joined, "\x00")
		l, err := readLine(testApp(), typed)
		if err != nil {
			if !fault.Is(err, fault.Malformed) {
				t.Fatalf("%q: %v is not malformed", typed, err)
			}
			return
		}
		again, err := readLine(testApp(), l.arguments("pawl")[1:])
		if err != nil || !slices.Equal(again.arguments("pawl"), l.arguments("pawl")) {
			t.Fatalf("%q was put together as %q, which reads as %q (%v)", typed, l.arguments(""), again.arguments(""), err)
		}
		rest := typed
		for _, o := range l.operands {
			at := slices.Index(rest, o)
			if at < 0 {
				t.Fatalf("%q: operand %q was never typed, or not in that order", typed, o)
			}
			rest = rest[at+1:]
		}
	})
}

func TestNearest(t *testing.T) {
	names := []string{"take", "return", "handover", "to"}
	for word, want := range map[string]string{"tkae": "take", "retrun": "return", "ot": "to", "rte": "", "hand": "", "x": "", "": "", "handovr": "handover"} {
		if got := nearest(word, names); got != want {
			t.Errorf("nearest(%q) = %q, want %q", word, got, want)
		}
	}
}
