// Package serials folds what a maker marked on a tool into what can be compared
// and searched. A serial is kept as read; its key is what makes it unique within
// a maker; its fold is what a search compares, look-alikes made equal. All of it
// is done here in Go, never by a database, so that every engine agrees.
package serials

import (
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"

	"pawl/model/fault"
)

const (
	maxSerial = 64 // characters of a serial
	maxWord   = 32 // characters of a word for search
)

// Key returns the letters and digits of a serial in NFKC and upper case.
// Look-alikes stay as they are: 0 and O may be two tools.
func Key(asRead string) string {
	return stable(asRead, func(s string) string {
		return strings.ToUpper(strings.Map(letterOrDigit, norm.NFKC.String(s)))
	})
}

// MakerKey is Key for the name of a maker: "Brindle & Co." is BRINDLECO.
func MakerKey(name string) string { return Key(name) }

func letterOrDigit(r rune) rune {
	if r != utf8.RuneError && (unicode.IsLetter(r) || unicode.IsDigit(r)) {
		return r
	}
	return -1
}

// stable applies step until nothing changes: what a step drops may leave two
// characters side by side that NFKC then joins.
func stable(s string, step func(string) string) string {
	for {
		next := step(s)
		if next == s {
			return s
		}
		s = next
	}
}

var lookAlikes = strings.NewReplacer("O", "0", "Q", "0", "I", "1", "L", "1", "S", "5", "U", "V", "Z", "2")

// Fold returns a key with look-alikes made equal, the same ones as in tool
// numbers: O and Q are 0, I and L are 1, S is 5, U is V, Z is 2. For search only.
func Fold(key string) string { return lookAlikes.Replace(key) }

// Check returns the serial as it is kept: in NFC, without the white space around
// it. It must be 1 to 64 characters of valid text without control characters,
// among them a letter or digit.
func Check(asRead string) (string, error) {
	if !utf8.ValidString(asRead) {
		return "", fault.New(fault.Invalid, "the serial number is not valid UTF-8 text").WithHint("type it again")
	}
	s := norm.NFC.String(strings.TrimSpace(asRead))
	if strings.ContainsFunc(s, unprintable) {
		return "", fault.New(fault.Invalid, "serial number %q holds a control character", fault.Clip(s)).WithHint("type it as it is marked, on one line")
	}
	if n := utf8.RuneCountInString(s); n > maxSerial {
		return "", fault.New(fault.Invalid, "serial number %q has %d characters", fault.Clip(s), n).WithHint("at most %d; keep longer text in the notes", maxSerial)
	}
	if Key(s) == "" {
		return "", fault.New(fault.Invalid, "serial number %q holds no letter or digit", s).WithHint("if nothing can be read, leave it out and record a reading")
	}
	return s, nil
}

// unprintable is true of control and format characters: the latter can turn the
// direction of text, or hide in it.
func unprintable(r rune) bool {
	return unicode.In(r, unicode.Cc, unicode.Cf, unicode.Zl, unicode.Zp)
}

// Words returns the words of a text for search by their beginnings: runs of
// letters and digits in NFKC and lower case, cut to 32 characters, each once, in
// order of bytes. Combining marks are dropped without ending a word.
func Words(text string) []string {
	words := strings.Fields(stable(text, spaced))
	for i, w := range words {
		if r := []rune(w); len(r) > maxWord {
			words[i] = string(r[:maxWord])
		}
	}
	slices.Sort(words)
	return slices.Compact(words)
}

// spaced is one step towards the words of a text with spaces between them.
func spaced(s string) string {
	return strings.ToLower(strings.Map(func(r rune) rune {
		switch {
		case letterOrDigit(r) >= 0:
			return r
		case unicode.IsMark(r):
			return -1
		}
		return ' '
	}, norm.NFKC.String(s)))
}
