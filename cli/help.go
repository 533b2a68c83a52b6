package cli

import (
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"github.com/urfave/cli/v2"
)

// help writes what is known of the program or of one command, examples first.
func help(w io.Writer, app *cli.App, l line) error {
	if l.command == nil {
		return helpProgram(w, app)
	}
	c := l.command
	name := "pawl " + strings.Join(l.path, " ")
	fmt.Fprintf(w, "%s: %s\n", name, c.Usage)
	if c.Description != "" {
		fmt.Fprintf(w, "\nExamples:\n%s", indent(c.Description))
	}
	usage := strings.TrimSpace(name + " " + c.ArgsUsage)
	if len(c.Flags) > 0 {
		usage += " [flags]"
	}
	fmt.Fprintf(w, "\nUsage:\n  %s\n", usage)
	if err := helpCommands(w, c.Subcommands); err != nil {
		return err
	}
	if err := helpFlags(w, "Flags", c.Flags); err != nil {
		return err
	}
	_, err := fmt.Fprintln(w, "\nFlags of every command: pawl --help")
	return err
}

const programExamples = `pawl labels --blank 200 --sheet letter-3x10 -o blank.pdf
pawl import photos DCIM --owner "Tech A" --place "Bay 1/Cart"
pawl find --unfinished
pawl register --kind "impact wrench" --maker Brindle --serial KD408B217 --serial-again KD408B217 --photo plate=plate.jpg
pawl labels 00E-KM5 --format png --dpi 300 -o label.png
pawl take 00E-KM5 --to "Tech A" --job 1042
pawl return 00E-KM5
pawl find KD408
pawl serve --listen 127.0.0.1:8080`

const programExits = `0 done, or yes            5 not allowed
1 failed                  6 conflict: taken, changed meanwhile, twice
2 wrong usage             7 input rejected
3 no, or not confirmed    8 not reached or too busy: safe to try again
4 not found               130 interrupted`

func helpProgram(w io.Writer, app *cli.App) error {
	fmt.Fprintf(w, "pawl: %s\n\nExamples:\n%s\nUsage:\n  pawl VERB [WHAT] [flags]\n", app.Usage, indent(programExamples))
	if err := helpCommands(w, app.Commands); err != nil {
		return err
	}
	if err := helpFlags(w, "Flags of every command", app.Flags); err != nil {
		return err
	}
	_, err := fmt.Fprintf(w, "\nExit codes:\n%s\nMore: pawl VERB --help\n", indent(programExits))
	return err
}

func helpCommands(w io.Writer, commands []*cli.Command) error {
	if len(commands) == 0 {
		return nil
	}
	fmt.Fprintln(w, "\nVerbs:")
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	for _, c := range commands {
		fmt.Fprintf(t, "  %s\t%s\n", c.Name, c.Usage)
	}
	return t.Flush()
}

func helpFlags(w io.Writer, heading string, flags []cli.Flag) error {
	if len(flags) == 0 {
		return nil
	}
	fmt.Fprintf(w, "\n%s:\n", heading)
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	for _, f := range flags {
		names, usage, _ := strings.Cut(f.String(), "\t")
		if once, _, many := strings.Cut(names, " [ "); many { // --photo FILE [ --photo FILE ]
			names = once + " …"
		}
		fmt.Fprintf(t, "  %s\t%s\n", names, usage)
	}
	return t.Flush()
}

func indent(text string) string {
	var b strings.Builder
	for line := range strings.Lines(strings.TrimSpace(text) + "\n") {
		b.WriteString("  " + line)
	}
	return b.String()
}
