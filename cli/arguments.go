package cli

import (
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"pawl/model/fault"
)

// line is a command line taken apart. Flags are in one form, --name=value under
// the flag's first name; everything else is an operand.
type line struct {
	path     []string     // verb and what: "job", "open"
	command  *cli.Command // nil where no verb was given
	globals  []string
	flags    []string
	operands []string
	help     bool
	version  bool
}

// arguments puts the line back together in the one order that the flag parser
// reads completely: it stops at the first operand and drops what follows.
func (l line) arguments(program string) []string {
	args := append([]string{program}, l.globals...)
	args = append(args, l.path...)
	args = append(args, l.flags...)
	if len(l.operands) > 0 {
		args = append(args, "--")
		args = append(args, l.operands...)
	}
	return args
}

// reader takes a command line apart, word by word.
type reader struct {
	app   *cli.App
	line  line
	known map[string]known
	given map[string]string
	rest  []string
}

// known is what has to be known of a flag to read it.
type known struct {
	name           string // the first of its names
	boolean, often bool
	global         bool
}

// readLine reads the words after the program's name. A flag may stand anywhere
// after the verb, a global one anywhere. `--` ends the flags; `-` is an operand.
func readLine(app *cli.App, words []string) (line, error) {
	r := reader{app: app, known: map[string]known{}, given: map[string]string{}, rest: words}
	r.learn(app.Flags, true)
	for len(r.rest) > 0 {
		word := r.next()
		if word == "--" {
			return r.ended()
		}
		take := r.operand
		if strings.HasPrefix(word, "-") && word != "-" {
			take = r.flag
		}
		if err := take(word); err != nil {
			return r.line, err
		}
	}
	return r.line, nil
}

func (r *reader) next() string {
	word := r.rest[0]
	r.rest = r.rest[1:]
	return word
}

func (r *reader) learn(flags []cli.Flag, global bool) {
	for _, f := range flags {
		k := known{name: f.Names()[0], global: global}
		switch f.(type) {
		case *cli.BoolFlag:
			k.boolean = true
		case *cli.StringSliceFlag:
			k.often = true
		}
		for _, name := range f.Names() {
			r.known[name] = k
		}
	}
}

// ended takes all words after `--` as operands.
func (r *reader) ended() (line, error) {
	if len(r.rest) > 0 && (r.line.command == nil || len(r.line.command.Subcommands) > 0) {
		return r.line, fault.New(fault.Malformed, "no verb stands before --").WithHint("see pawl --help")
	}
	r.line.operands = append(r.line.operands, r.rest...)
	return r.line, nil
}

func (r *reader) operand(word string) error {
	choices := r.app.Commands
	if r.line.command != nil {
		choices = r.line.command.Subcommands
	}
	switch {
	case r.line.command == nil && word == "help":
		r.line.help = true
		return nil
	case len(choices) == 0:
		r.line.operands = append(r.line.operands, word)
		return nil
	}
	for _, c := range choices {
		if c.HasName(word) && len(r.line.operands) == 0 {
			r.line.command = c
			r.line.path = append(r.line.path, c.Name)
			r.learn(c.Flags, false)
			return nil
		}
	}
	if r.line.command != nil && r.line.command.ArgsUsage != "" { // a verb that takes operands too
		r.line.operands = append(r.line.operands, word)
		return nil
	}
	return r.unknownVerb(word, choices)
}

func (r *reader) unknownVerb(word string, choices []*cli.Command) error {
	var names []string
	for _, c := range choices {
		names = append(names, c.Name)
	}
	f := fault.New(fault.Malformed, "%s has no %q", strings.Join(append([]string{"pawl"}, r.line.path...), " "), word)
	if near := nearest(word, names); near != "" {
		return f.WithHint("did you mean %q?", near)
	}
	return f.WithHint("use one of: %s", strings.Join(names, ", "))
}

func (r *reader) flag(word string) error {
	name, value, inline := strings.Cut(strings.TrimLeft(word, "-"), "=")
	k, ok := r.known[name]
	dashes := len(word) - len(strings.TrimLeft(word, "-"))
	if !ok || dashes != min(len(name), 2) {
		return r.unknownFlag(word, name)
	}
	if !k.boolean && !inline {
		if len(r.rest) == 0 || r.looksLikeFlag(r.rest[0]) {
			return fault.New(fault.Malformed, "flag --%s needs a value", k.name).
				WithHint("write --%s=VALUE where the value begins with a dash", k.name)
		}
		value = r.next()
	}
	if k.boolean {
		if !inline {
			value = "true"
		}
		if value != "true" && value != "false" {
			return fault.New(fault.Malformed, "flag --%s is %q", k.name, value).WithHint("write --%s, or --%s=false", k.name, k.name)
		}
	}
	return r.keep(k, value)
}

// looksLikeFlag says whether a word after a flag that needs a value was meant as
// the next flag. A value such as -K12 or -0.3 is taken as it is.
func (r *reader) looksLikeFlag(word string) bool {
	_, short := r.known[strings.TrimPrefix(word, "-")]
	return strings.HasPrefix(word, "--") || len(word) == 2 && word[0] == '-' && short
}

func (r *reader) keep(k known, value string) error {
	before, twice := r.given[k.name]
	if twice && !k.often && before != value {
		return fault.New(fault.Malformed, "flag --%s is given twice, as %q and %q", k.name, before, value).WithHint("give it once")
	}
	if twice && !k.often {
		return nil
	}
	r.given[k.name] = value
	switch {
	case k.name == "help":
		r.line.help = value == "true"
	case k.name == "version":
		r.line.version = value == "true"
	case k.global:
		r.line.globals = append(r.line.globals, "--"+k.name+"="+value)
	default:
		r.line.flags = append(r.line.flags, "--"+k.name+"="+value)
	}
	return nil
}

func (r *reader) unknownFlag(word, name string) error {
	shown, _, _ := strings.Cut(word, "=")
	where := strings.Join(append([]string{"pawl"}, r.line.path...), " ")
	f := fault.New(fault.Malformed, "unknown flag %s for %s", shown, where)
	var names []string
	for n := range r.known {
		names = append(names, n)
	}
	slices.Sort(names)
	switch near := nearest(name, names); {
	case near != "":
		dashes := "--"[:min(len(near), 2)]
		return f.WithHint("did you mean %s%s?", dashes, near)
	case r.line.command == nil:
		return f.WithHint("flags of a verb come after it")
	}
	return f.WithHint("see %s --help", where)
}

// nearest gives the name that a word was probably meant to be: one or two
// letters off, and no more than half of the word.
func nearest(word string, names []string) string {
	if len(word) > 32 {
		return ""
	}
	best, at := "", 3
	for _, name := range names {
		if d := editDistance(word, name); d < at && d*2 <= len(name) {
			best, at = name, d
		}
	}
	return best
}

// editDistance counts the letters to put in, take out or change, and the
// neighbors to swap, each letter moved once at most.
func editDistance(a, b string) int {
	rows := make([][]int, len(a)+1)
	for i := range rows {
		rows[i] = make([]int, len(b)+1)
		rows[i][0] = i
	}
	for j := range rows[0] {
		rows[0][j] = j
	}
	for i := 1; i <= len(a); i++ {
		for j := 1; j <= len(b); j++ {
			cost := 1
			if a[i-1] == b[j-1] {
				cost = 0
			}
			d := min(rows[i-1][j]+1, rows[i][j-1]+1, rows[i-1][j-1]+cost)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				d = min(d, rows[i-2][j-2]+1)
			}
			rows[i][j] = d
		}
	}
	return rows[len(a)][len(b)]
}
