// Package names holds what people may type as text: the name of a person or
// place, one line, or a longer note. Text at the door is valid UTF-8, is kept
// in NFC, and holds no control characters.
package names

import (
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"

	"pawl/model/fault"
)

// Longest texts, in characters.
const (
	MaxLine = 80
	MaxNote = 4000
)

// Check returns the name of a person or place with single spaces. An empty
// name is Invalid, as is all that Line refuses.
func Check(name string) (string, error) {
	clean, err := Line(strings.Join(strings.Fields(name), " "))
	if err == nil && clean == "" {
		return "", fault.New(fault.Invalid, "the name is empty")
	}
	return clean, err
}

// Key folds a name for comparison: NFKC, lower case, single spaces.
func Key(name string) string {
	return strings.Join(strings.Fields(strings.ToLower(norm.NFKC.String(name))), " ")
}

// Line returns one line of at most MaxLine characters without outer spaces;
// it may be empty.
func Line(s string) (string, error) { return text(s, MaxLine, "") }

// Note returns text of at most MaxNote characters, with its line breaks.
func Note(s string) (string, error) { return text(s, MaxNote, "\n\t") }

// unseen says whether a character changes how text reads without being seen:
// turns of direction, spaces of no width. The joiners that some scripts write
// with are taken.
func unseen(r rune) bool { return unicode.Is(unicode.Cf, r) && r != '\u200c' && r != '\u200d' }

func text(s string, most int, allowed string) (string, error) {
	if !utf8.ValidString(s) {
		return "", fault.New(fault.Invalid, "it is not valid UTF-8 text")
	}
	clean := strings.TrimSpace(norm.NFC.String(strings.ReplaceAll(s, "\r\n", "\n")))
	if n := utf8.RuneCountInString(clean); n > most {
		return "", fault.New(fault.Invalid, "%.20q… has %d characters; %d are taken", clean, n, most)
	}
	bad := func(r rune) bool { return (unicode.IsControl(r) || unseen(r)) && !strings.ContainsRune(allowed, r) }
	if i := strings.IndexFunc(clean, bad); i >= 0 {
		r, _ := utf8.DecodeRuneInString(clean[i:])
		return "", fault.New(fault.Invalid, "%.20q holds the control character %q", clean, r)
	}
	return clean, nil
}
