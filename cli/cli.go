// Package cli is the command line: `pawl VERB [WHAT] [--flags]`. It is a client
// of the API. Without --server it carries the API inside itself, over the shop
// in a folder of this computer; local.go alone knows that shop.
//
// Its words: a line is what was typed, taken apart; an operand is a word that
// is no flag; a session is one command's way to the API with its streams. Each
// command is parsed into options, and then run with a session.
package cli

import (
	"context"
	"fmt"
	"io"
	"os"
	"os/signal"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/urfave/cli/v2"

	_ "pawl/cli/start" // before what it starts
	"pawl/model/fault"
)

// Version is what `pawl --version` says.
const Version = "0.1.0"

// Run runs one command line, args[0] being the program's name, and returns what
// the process should exit with; see exit.go. Ctrl-C ends the command with 130;
// a second one ends the process.
func Run(args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	context.AfterFunc(ctx, stop)
	p := &program{in: stdin, out: stdout, err: stderr}
	if len(args) > 0 {
		args = args[1:]
	}
	err := p.run(ctx, args)
	if err != nil && ctx.Err() != nil {
		err = fault.New(interrupted, "interrupted").WithHint("what was under way is done wholly or not at all; look before doing it again")
	}
	return report(stderr, err, wantsJSON(args))
}

// program is one run: its streams, and nothing that outlives it.
type program struct {
	in       io.Reader
	out, err io.Writer
}

func (p *program) run(ctx context.Context, words []string) error {
	app := p.app()
	for _, w := range words {
		if !utf8.ValidString(w) {
			return fault.New(fault.Invalid, "%q is not valid UTF-8 text", w).WithHint("set the terminal to UTF-8 and type it again")
		}
	}
	l, err := readLine(app, words)
	switch {
	case err != nil:
		return err
	case l.version:
		_, err := fmt.Fprintln(p.out, "pawl", Version)
		return err
	case l.help:
		return help(p.out, app, l)
	case l.command == nil:
		_ = help(p.err, app, l)
		return fault.New(fault.Malformed, "no verb is given").WithHint("begin with: pawl register --kind \"impact wrench\"")
	case l.command.Action == nil:
		_ = help(p.err, app, l)
		return fault.New(fault.Malformed, "pawl %s needs a word after it", strings.Join(l.path, " ")).WithHint("see the list above")
	}
	return app.RunContext(ctx, l.arguments(app.Name))
}

// app is the tree of commands. Help and version are ours: the library keeps
// its own in variables of the whole process.
func (p *program) app() *cli.App {
	app := &cli.App{
		Name:                      "pawl",
		Usage:                     "what was recorded stays recorded: a register of a technician's tools",
		HideHelp:                  true,
		HideVersion:               true,
		DisableSliceFlagSeparator: true,
		Flags:                     globalFlags(),
		Commands:                  p.commands(),
		Reader:                    p.in,
		Writer:                    p.out,
		ErrWriter:                 p.err,
		ExitErrHandler:            func(*cli.Context, error) {},
		OnUsageError:              usageError,
	}
	for _, c := range app.Commands {
		for _, each := range append([]*cli.Command{c}, c.Subcommands...) {
			each.HideHelp, each.OnUsageError = true, usageError
		}
	}
	app.Setup()
	return app
}

// usageError is for what the library refuses although our reading let it pass,
// such as a number flag without a number.
func usageError(_ *cli.Context, err error, _ bool) error {
	return fault.New(fault.Malformed, "%s", err).WithHint("see --help")
}

func globalFlags() []cli.Flag {
	return []cli.Flag{
		&cli.StringFlag{Name: "data", Usage: "keep the shop in `DIR`; else $PAWL_DATA, else ~/.local/share/pawl"},
		&cli.StringFlag{Name: "db", Usage: "keep its records in the database at `URL` (postgres://…) instead of in DIR"},
		&cli.StringFlag{Name: "originals", Usage: "keep photos and papers in the bucket at `URL` (s3://BUCKET/PREFIX) instead of in DIR; the shop remembers it"},
		&cli.StringFlag{Name: "server", Usage: "ask the Pawl at `URL` instead of a folder here"},
		&cli.StringFlag{Name: "token-file", Usage: "show the server the token in `FILE`, which must be yours alone (mode 0600)"},
		&cli.StringFlag{Name: "as", Usage: "act as the person called `NAME`, at this computer"},
		&cli.DurationFlag{Name: "timeout", Usage: "wait no longer than `TIME` for an answer, such as 30s", DefaultText: "60s"},
		yes("json", "print JSON, one object a line; failures too, on stderr"),
		&cli.BoolFlag{Name: "quiet", Aliases: []string{"q"}, Usage: "leave out advice and next steps", DisableDefaultText: true},
		yes("no-input", "ask nothing: fail, and say which flag would answer"),
		yes("no-color", "no color; only QR codes have any"),
		&cli.BoolFlag{Name: "debug", Aliases: []string{"d"}, Usage: "print the inner log on stderr", DisableDefaultText: true},
		&cli.BoolFlag{Name: "help", Aliases: []string{"h"}, Usage: "show examples and flags", DisableDefaultText: true},
		yes("version", "show the version"),
	}
}

// wantsJSON says how to report a line that could not be taken apart.
func wantsJSON(words []string) bool {
	if end := slices.Index(words, "--"); end >= 0 {
		words = words[:end]
	}
	return slices.Contains(words, "--json") || slices.Contains(words, "--json=true")
}

// action joins the two halves of a command: parse reads its flags and operands
// into options without asking anybody; run does it.
func action[O any](p *program, parse func(*cli.Context) (O, error), run func(context.Context, *session, O) error) cli.ActionFunc {
	return func(c *cli.Context) error {
		o, err := parse(c)
		if err != nil {
			return err
		}
		s, err := p.session(c)
		if err != nil {
			return err
		}
		err = s.inShopTime(c.Context, run(c.Context, s, o))
		if closing := s.close(); err == nil {
			err = closing
		}
		if s.closer != nil && fault.Is(err, fault.Internal) {
			err = lookInside(err)
		}
		return err
	}
}

// lookInside says how to see what an internal fault at this computer was about.
func lookInside(err error) error {
	f := *fault.Of(err)
	f.Hint = joined("; ", f.Hint, "--debug prints the inner log")
	return &f
}
