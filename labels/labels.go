// Package labels draws on paper.
//
// Its words: a symbol is one QR Code, square modules without a border. Its
// quiet zone is the white margin of four modules that a reader needs on every
// side. A label is one sticker: the symbol, beside it a number printed large,
// and small lines. A sheet is paper with labels at fixed places; its pitch is
// the distance from the corner of one label to that of the next. All lengths
// are millimeters, measured from the top left, unless a name says dots.
//
// A label's text is set in faces with a slashed zero, so that 0 is not read as
// O. The number is never cut. A line is shrunk, then cut with "…". A text with
// letters that the face lacks (anything but Latin, Greek and Cyrillic) is
// refused, unless it is marked: then each prints as "?".
package labels

import (
	"strings"

	"pawl/model/fault"
)

// Text is what a label says.
type Text struct {
	Symbol string   // what the QR symbol holds: printable ASCII, such as "T/00EKM5"
	Number string   // printed large, in full or not at all: "00E-KM5"
	Lines  []string // further lines; blank ones take no room
	Marked bool     // letters that the face lacks print as "?", else they are refused
}

// check refuses a text that cannot be drawn faithfully.
func (t Text) check() error {
	if err := checkPayload(t.Symbol); err != nil {
		return err
	}
	if strings.TrimSpace(t.Number) == "" {
		return fault.At("#/number", "a label for %q without a number", t.Symbol).
			WithHint("the number is what people read when the symbol is worn; give it")
	}
	if clean := numberFace.clean(t.Number); clean != t.Number {
		return fault.At("#/number", "the number %q cannot be printed as it is; it would read %q", t.Number, clean).
			WithHint("use letters and digits without spaces around them")
	}
	return printable(t.Marked, t.Lines...)
}

// printable refuses texts with letters that the faces lack; all faces have the
// same. Marked texts pass.
func printable(marked bool, texts ...string) error {
	if marked {
		return nil
	}
	for _, text := range texts {
		if missing := lineFace.lacks(text); missing != "" {
			return fault.New(fault.Invalid, "%q holds letters that cannot be printed: %s", shown(text), missing).
				WithHint("Latin, Greek and Cyrillic can; to have each of the others printed as ?, ask for unprintable mark")
		}
	}
	return nil
}

// shown is the beginning of a text, for a fault.
func shown(text string) string {
	if runes := []rune(text); len(runes) > 60 {
		return string(runes[:60]) + ellipsis
	}
	return text
}

// printed returns the lines as they print, without the blank ones.
func (t Text) printed() []string {
	var lines []string
	for _, line := range t.Lines {
		if line = lineFace.clean(line); line != "" {
			lines = append(lines, line)
		}
	}
	return lines
}
