package cli

import (
	"bytes"
	"encoding/json"
	"path/filepath"
	"strings"
	"testing"

	"github.com/urfave/cli/v2"
)

// everyCommand gives each command that can be run, with its path.
func everyCommand() map[string]*cli.Command {
	all := map[string]*cli.Command{}
	for _, c := range (&program{}).commands() {
		if c.Action != nil {
			all[c.Name] = c
		}
		for _, sub := range c.Subcommands {
			all[c.Name+" "+sub.Name] = sub
		}
	}
	return all
}

// run gives a line to the program with a shop of its own.
func run(t *testing.T, typed ...string) (code int, stdout, stderr string) {
	t.Helper()
	var out, err bytes.Buffer
	code = Run(append([]string{"pawl"}, typed...), strings.NewReader(""), &out, &err)
	return code, out.String(), err.String()
}

// TestUnknownFlagAfterOperand tries every command: the library drops what
// follows an operand without a word.
func TestUnknownFlagAfterOperand(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "shop")
	for name := range everyCommand() {
		typed := append(strings.Fields(name), "--data", dir)
		if len(everyCommand()[name].Subcommands) == 0 {
			typed = append(typed, "00E-KM5")
		}
		code, stdout, stderr := run(t, append(typed, "--no-such-flag=1", "--json")...)
		var f failure
		if err := json.Unmarshal([]byte(stderr), &f); err != nil || code != exitUsage || f.Exit != exitUsage || stdout != "" {
			t.Errorf("%s: exit %d, stdout %q, stderr %q", name, code, stdout, stderr)
		}
		if !strings.Contains(f.Error.Message, "--no-such-flag") {
			t.Errorf("%s: %q does not name the flag", name, f.Error.Message)
		}
	}
}

// TestJSONAfterOperand tries every command with --json last, each in a folder of
// its own: whatever comes of it, what is printed is JSON, an object a line.
func TestJSONAfterOperand(t *testing.T) {
	for name, c := range everyCommand() {
		if name == "serve" {
			continue // serves until it is ended
		}
		dir := filepath.Join(t.TempDir(), "shop")
		typed := append(strings.Fields(name), "--data", dir)
		if len(c.Subcommands) == 0 && c.ArgsUsage != "" {
			typed = append(typed, "00E-KM5")
		}
		code, stdout, stderr := run(t, append(typed, "--json")...)
		for line := range strings.Lines(stdout + stderr) {
			if !json.Valid([]byte(line)) {
				t.Errorf("%s: exit %d: %q is not JSON", name, code, line)
			}
		}
		if stdout+stderr == "" {
			t.Errorf("%s: exit %d, and nothing is said", name, code)
		}
		if (code == exitDone) == (stdout == "") {
			t.Errorf("%s: exit %d with stdout %q", name, code, stdout)
		}
	}
}

// TestEveryCommandHelps wants an example for each, which reads without fault.
func TestEveryCommandHelps(t *testing.T) {
	for name, c := range everyCommand() {
		code, stdout, stderr := run(t, append(strings.Fields(name), "X", "--help")...)
		if len(c.Subcommands) > 0 {
			code, stdout, stderr = run(t, append(strings.Fields(name), "--help")...)
		}
		if code != 0 || stderr != "" || !strings.Contains(stdout, "Examples:\n  pawl "+strings.Fields(name)[0]) {
			t.Errorf("%s: exit %d, stderr %q, help %q", name, code, stderr, stdout)
		}
		for example := range strings.Lines(c.Description) {
			words := exampleWords(example)
			if len(words) == 0 || words[0] != "pawl" {
				continue // the rest of a long line
			}
			if _, err := readLine((&program{}).app(), words[1:]); err != nil {
				t.Errorf("%s: example %q: %v", name, example, err)
			}
		}
	}
}

// exampleWords splits a line as a shell does, as far as our examples go.
func exampleWords(line string) []string {
	var words []string
	for i, part := range strings.Split(strings.TrimSpace(line), `"`) {
		if i%2 == 1 {
			words = append(words, part)
			continue
		}
		for _, w := range strings.Fields(part) {
			if w == "<" || w == `\` {
				return words
			}
			words = append(words, w)
		}
	}
	return words
}
