package cli

import (
	"bufio"
	"context"
	"fmt"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"pawl/model/fault"
)

// force is the flag of acts that ask first.
func force() cli.Flag {
	return &cli.BoolFlag{Name: "force", Aliases: []string{"f"}, Usage: "do not ask first; needed where nobody can answer", DisableDefaultText: true}
}

// confirm asks a person whether an act on those tools is meant, naming each. In
// a pipe nobody can answer, and --force must say so.
func (s *session) confirm(ctx context.Context, what string, numbers []string) error {
	if !s.inTerminal || s.json || slices.Contains(numbers, "-") {
		return fault.New(fault.Malformed, "%s; nobody is here to be asked", what).WithHint("say that it is meant with --force")
	}
	for _, number := range numbers {
		t, _, err := s.client.Tool(ctx, number)
		if err != nil {
			return err
		}
		fmt.Fprintln(s.err, clean(strings.Join(strings.Fields(t.Number+" "+t.Kind+" "+t.Maker+" "+t.Model+" "+t.Serial.AsRead), " ")))
	}
	fmt.Fprintf(s.err, "%s. Go on? [y/N] ", clean(what))
	answer, err := s.answer(ctx)
	if err != nil {
		return err
	}
	if slices.Contains([]string{"y", "yes"}, strings.ToLower(answer)) {
		return nil
	}
	return fault.New(fault.Malformed, "nothing was done").WithHint("answer y, or give --force")
}

// answer reads the one line that a person types; an end of the input is an empty
// one. Ctrl-C ends the waiting at once: the read cannot be called off, and is left
// behind.
func (s *session) answer(ctx context.Context) (string, error) {
	typed := make(chan string, 1)
	go func() {
		line, err := bufio.NewReader(s.in).ReadString('\n')
		if err != nil { // no line, so nothing ended it
			line = ""
			fmt.Fprintln(s.err)
		}
		typed <- strings.TrimSpace(line)
	}()
	select {
	case line := <-typed:
		return line, nil
	case <-ctx.Done():
		fmt.Fprintln(s.err)
		return "", ctx.Err()
	}
}
