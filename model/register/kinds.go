package register

import (
	"strings"
	"unicode"
)

// What a kind of tool does, by the words in its name: one list each, which every
// rule asks.
var (
	// measuring measures, or is set to a value that matters.
	measuring = []string{"torque wrench", "torque screwdriver", "torque tester", "gauge", "caliper", "micrometer", "indicator",
		"meter", "thermometer", "scale", "battery tester"}
	// bearing carries a load, or stands between a person and a voltage.
	bearing = []string{"lift", "jack", "stand", "sling", "hoist", "crane", "glove"}
	// inspected is in order by an inspection alone.
	inspected = []string{"blanket", "extinguisher", "eyewash"}
)

// Measures says whether a kind of tool measures or applies a value, so that a
// look alone never makes it fit for use.
func Measures(kind string) bool { return Says(kind, measuring...) }

// Bears says whether a kind of tool carries a load or insulates, so that no record
// can say that it will hold. A gauge or a wrench for a jack is none.
func Bears(kind string) bool {
	return Says(kind, bearing...) && !Measures(kind) && !Says(kind, "wrench")
}

// NeedsCheck says whether a kind of tool counts as not checked until a check is
// on record: whether it is in order cannot be seen by looking.
func NeedsCheck(kind string) bool {
	return Measures(kind) || Says(kind, bearing...) || Says(kind, inspected...)
}

// Says looks for any of some whole words in the name of a kind, in singular or plural:
// a standard socket set is no stand, a bore-gauge set is a gauge, and so are a
// voltmeter and any other meter one. A kind that is named in Spanish says what it is in
// English too. The words are in lower case, with one space between: every list of them is
// asked about each tool of a shop.
func Says(kind string, words ...string) bool {
	name := inEnglish(kind)
	for _, w := range words {
		for from := 0; ; {
			at := strings.Index(name[from:], w)
			if at < 0 {
				break
			}
			at += from
			end := name[at+len(w):]
			if (name[at-1] == ' ' || w == "meter") && (end[0] == ' ' || strings.HasPrefix(end, "s ") || strings.HasPrefix(end, "es ")) {
				return true
			}
			from = at + 1
		}
	}
	return false
}

// spaced is a name in lower case, with one space before and after each word.
func spaced(name string) string {
	var out strings.Builder
	out.Grow(len(name) + 2)
	out.WriteByte(' ')
	open := false
	for _, r := range name {
		r = unicode.ToLower(r)
		in := unicode.IsLetter(r) || unicode.IsDigit(r)
		if in {
			out.WriteRune(r)
		} else if open {
			out.WriteByte(' ')
		}
		open = in
	}
	if open {
		out.WriteByte(' ')
	}
	return out.String()
}
