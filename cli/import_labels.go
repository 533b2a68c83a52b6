package cli

import (
	"context"
	"io"
	"os"
	"strings"

	"github.com/urfave/cli/v2"

	"pawl/api/wire"
	"pawl/model/fault"
)

// importLabelsOptions are those of joining printed labels to tools.
type importLabelsOptions struct{ file string }

func (p *program) importLabels(c *cli.Context, words []string) error {
	return action(p, func(c *cli.Context) (o importLabelsOptions, err error) {
		if len(words) != 1 {
			return o, fault.New(fault.Malformed, "%s labels takes one FILE, or - for stdin", c.Command.HelpName).
				WithHint("a line each: the number of a printed label, a space, and the serial number of the tool that it is stuck on")
		}
		return importLabelsOptions{file: words[0]}, nil
	}, runImportLabels)(c)
}

// runImportLabels joins one label after the other, each an act of its own.
func runImportLabels(ctx context.Context, s *session, o importLabelsOptions) error {
	in := io.Reader(s.in)
	if o.file != "-" {
		f, err := os.Open(o.file)
		if err != nil {
			return cannotRead(o.file, err)
		}
		defer f.Close()
		in = f
	} else if s.inTerminal {
		s.note("ready: scan a label, then the serial number of the tool that it is stuck on; end with Ctrl-D")
	}
	j := labelJoiner{batch: batch{s: s}}
	j.act = func(ctx context.Context, label string) (wire.Done, error) {
		if j.serial == "" {
			return wire.Done{}, fault.New(fault.Malformed, "no serial number came after it").WithHint("scan the label again, then the serial number of its tool")
		}
		return s.client.JoinSerial(ctx, label, wire.JoinSerial{Serial: j.serial})
	}
	err := readLines(ctx, in, func(line string) error { return j.line(ctx, line) })
	if err == nil && j.label != "" {
		err = j.pair(ctx, j.label, "")
	}
	if err != nil {
		return err
	}
	return j.end()
}

// labelJoiner puts labels and serial numbers together, as they come: both on one
// line, or a scan of each.
type labelJoiner struct {
	batch
	label  string // was scanned; its serial number comes next
	serial string
}

func (j *labelJoiner) line(ctx context.Context, line string) error {
	if j.label != "" && !isSymbol(line) {
		return j.pair(ctx, j.label, line)
	}
	if j.label != "" {
		if err := j.pair(ctx, j.label, ""); err != nil {
			return err
		}
	}
	at := strings.IndexAny(line, " \t,;")
	if at < 0 {
		j.label = line
		return nil
	}
	return j.pair(ctx, line[:at], strings.Trim(line[at:], " \t,;"))
}

func (j *labelJoiner) pair(ctx context.Context, label, serial string) error {
	j.label, j.serial = "", serial
	return j.one(ctx, label)
}

// isSymbol says whether a line is what the symbol of a label holds, which no
// serial number is: T/NUMBER, or a link that ends so.
func isSymbol(line string) bool {
	upper := strings.ToUpper(line)
	return strings.HasPrefix(upper, "T/") || strings.HasPrefix(upper, "HTTP") && strings.Contains(upper, "/T/")
}
