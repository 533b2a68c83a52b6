package cli

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"

	"pawl/model/fault"
)

// What the program exits with. A code that is not here means that it failed. An
// answer of no has its own code, so that no script takes it for a failure.
const (
	exitDone        = 0
	exitFailed      = 1
	exitUsage       = 2
	exitNo          = 3 // the answer is no, or cannot be confirmed
	exitInterrupted = 130
)

// interrupted is the kind of a command that Ctrl-C ended.
const interrupted fault.Kind = "interrupted"

// exitCodes is the one table from a fault to an exit code.
var exitCodes = map[fault.Kind]int{
	fault.Internal:        exitFailed,
	fault.Malformed:       exitUsage,
	fault.NotAllowed:      exitUsage,
	fault.NotAcceptable:   exitUsage,
	fault.Precondition:    exitUsage,
	fault.NotFound:        4,
	fault.Unauthenticated: 5,
	fault.Forbidden:       5,
	fault.Conflict:        6,
	fault.Refused:         6,
	fault.Stale:           6,
	fault.Invalid:         7,
	fault.TooLarge:        7,
	fault.Media:           7,
	fault.Throttled:       8,
	fault.Unavailable:     8,
	interrupted:           exitInterrupted,
}

// told is what a command returns that has printed all there is to say, and
// still must not exit with 0.
type told struct{ code int }

func (told) Error() string { return "what was printed says no" }

// exitCode gives the code for what a command returned.
func exitCode(err error) int {
	if err == nil {
		return exitDone
	}
	if t := (told{}); errors.As(err, &t) {
		return t.code
	}
	if code, ok := exitCodes[fault.Of(err).Kind]; ok {
		return code
	}
	return exitFailed
}

// problem is a failure as --json shows it.
type problem struct {
	Kind    fault.Kind        `json:"kind"`
	Message string            `json:"message"`
	Hint    string            `json:"hint"`
	Facts   map[string]string `json:"facts"`
	Errors  []fault.Field     `json:"errors"`
}

func problemOf(err error) problem {
	f := fault.Of(err)
	p := problem{Kind: f.Kind, Message: f.Message, Hint: f.Hint, Facts: f.Facts, Errors: f.Fields}
	if p.Facts == nil {
		p.Facts = map[string]string{}
	}
	if p.Errors == nil {
		p.Errors = []fault.Field{}
	}
	return p
}

// failure is the one object on stderr with which a command fails under --json.
type failure struct {
	Error problem `json:"error"`
	Exit  int     `json:"exit"`
}

// report tells on stderr why a command failed and returns the exit code.
func report(w io.Writer, err error, asJSON bool) int {
	code := exitCode(err)
	if err == nil || errors.As(err, &told{}) {
		return code
	}
	if asJSON {
		_ = json.NewEncoder(w).Encode(failure{problemOf(err), code})
		return code
	}
	f := fault.Of(err)
	fmt.Fprintf(w, "pawl: %s\n", clean(f.Message))
	if len(f.Fields) > 1 {
		for _, field := range f.Fields {
			fmt.Fprintf(w, "  %s: %s\n", clean(fieldWords(field.Pointer)), clean(field.Detail))
		}
	}
	if f.Hint != "" {
		fmt.Fprintf(w, "  %s\n", clean(f.Hint))
	}
	return code
}

// fieldWords names a field to a person: "#/as_left" is "as left". What is no pointer,
// such as a cell of a spreadsheet, is in words already.
func fieldWords(pointer string) string {
	field, points := strings.CutPrefix(pointer, "#/")
	if !points {
		return pointer
	}
	return strings.NewReplacer("_", " ", "/", " ").Replace(field)
}
