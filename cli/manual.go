package cli

import (
	"fmt"
	"io"
	"strings"

	"github.com/urfave/cli/v2"

	"pawl/model/fault"
)

func (p *program) manualCommand() *cli.Command {
	return &cli.Command{
		Name: "manual", Usage: "write the manual page, or what completes a line in a shell", ArgsUsage: "[bash|zsh|fish]",
		Description: `pawl manual > pawl.1
pawl manual bash > /etc/bash_completion.d/pawl
pawl manual fish > ~/.config/fish/completions/pawl.fish`,
		Action: func(c *cli.Context) error {
			text, err := p.manual(c)
			if err != nil {
				return err
			}
			s := printer{out: answers{p.out}, err: p.err, json: c.Bool("json")}
			if s.json {
				return s.object(map[string]string{"text": text})
			}
			_, err = io.WriteString(s.out, text)
			return err
		},
	}
}

// manual is made of the tree of commands, so that it names what there is.
func (p *program) manual(c *cli.Context) (string, error) {
	app := p.app()
	if c.NArg() > 1 {
		return "", fault.New(fault.Malformed, "manual takes one word, not %d", c.NArg()).WithHint("one of bash, zsh, fish; or none for the manual page")
	}
	switch shell := c.Args().First(); shell {
	case "":
		return app.ToManWithSection(1)
	case "fish":
		return app.ToFishCompletion()
	case "bash":
		return bashCompletion(app), nil
	case "zsh":
		return "#compdef pawl\nautoload -U +X bashcompinit && bashcompinit\n" + bashCompletion(app), nil
	default:
		return "", fault.New(fault.Malformed, "there is nothing for the shell %q", shell).WithHint("one of bash, zsh, fish; or none for the manual page")
	}
}

// bashCompletion proposes verbs, then what stands below a verb, then flags.
func bashCompletion(app *cli.App) string {
	var cases strings.Builder
	branch := func(path string, words []string) {
		fmt.Fprintf(&cases, "    '%s') words='%s' ;;\n", path, strings.Join(words, " "))
	}
	everywhere := flagWords(app.Flags)
	branch("", append(names(app.Commands), everywhere...))
	for _, c := range app.Commands {
		branch(c.Name, append(append(names(c.Subcommands), flagWords(c.Flags)...), everywhere...))
		for _, sub := range c.Subcommands {
			branch(c.Name+" "+sub.Name, append(flagWords(sub.Flags), everywhere...))
		}
	}
	return `_pawl() {
  local current="${COMP_WORDS[COMP_CWORD]}" path='' word words=''
  for word in "${COMP_WORDS[@]:1:COMP_CWORD-1}"; do
    case "$path $word" in
` + steps(app) + `    esac
  done
  case "$path" in
` + cases.String() + `  esac
  COMPREPLY=($(compgen -W "$words" -- "$current"))
  [ "${#COMPREPLY[@]}" -gt 0 ] || COMPREPLY=($(compgen -f -- "$current"))
}
complete -F _pawl pawl
`
}

// steps are the words that lead from one command to one below it.
func steps(app *cli.App) string {
	var out strings.Builder
	for _, c := range app.Commands {
		fmt.Fprintf(&out, "    ' %s') path='%s' ;;\n", c.Name, c.Name)
		for _, sub := range c.Subcommands {
			fmt.Fprintf(&out, "    '%s %s') path='%s %s' ;;\n", c.Name, sub.Name, c.Name, sub.Name)
		}
	}
	return out.String()
}

func names(commands []*cli.Command) (out []string) {
	for _, c := range commands {
		out = append(out, c.Name)
	}
	return out
}

func flagWords(flags []cli.Flag) (out []string) {
	for _, f := range flags {
		for _, name := range f.Names() {
			if len(name) > 1 {
				out = append(out, "--"+name)
			}
		}
	}
	return out
}
