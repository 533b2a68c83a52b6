package register

import (
	"slices"
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
func Measures(kind string) bool { return saysOne(kind, measuring) }

// Bears says whether a kind of tool carries a load or insulates, so that no record
// can say that it will hold. A gauge or a wrench for a jack is none.
func Bears(kind string) bool {
	return saysOne(kind, bearing) && !Measures(kind) && !Says(kind, "wrench")
}

// NeedsCheck says whether a kind of tool counts as not checked until a check is
// on record: whether it is in order cannot be seen by looking.
func NeedsCheck(kind string) bool {
	return Measures(kind) || saysOne(kind, bearing) || saysOne(kind, inspected)
}

func saysOne(kind string, words []string) bool {
	kind = inEnglish(kind)
	return slices.ContainsFunc(words, func(w string) bool { return said(kind, w) })
}

// Says looks for whole words in the name of a kind, in singular or plural: a
// standard socket set is no stand, a bore-gauge set is a gauge, and so are a
// voltmeter and any other meter one. A kind that is named in Spanish says what it is in
// English too.
func Says(kind, words string) bool { return said(inEnglish(kind), words) }

// said looks for words in a kind as inEnglish gives it.
func said(kind, words string) bool {
	words = strings.TrimSpace(spaced(words))
	for _, end := range []string{" ", "s ", "es "} {
		if strings.Contains(kind, " "+words+end) || words == "meter" && strings.Contains(kind, words+end) {
			return true
		}
	}
	return false
}

// spaced is a name in lower case, with one space before and after each word.
func spaced(name string) string {
	return " " + strings.Join(strings.FieldsFunc(strings.ToLower(name), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) }), " ") + " "
}
