// Package markings holds serial numbers as they physically exist on a tool:
// where, how made, how protected.
package markings

import (
	"slices"
	"strings"

	"pawl/model/dates"
	"pawl/model/fault"
)

// Method is how a marking was made.
type Method string

// Protection is what keeps a marking from wear.
type Protection string

// Methods and Protections are the words taken, in the order that forms show.
var (
	Methods     = []Method{"printed", "sticker", "engraved", "etched", "stamped", "cast"}
	Protections = []Protection{"none", "clear tape", "lacquer"}
)

// ParseMethod takes one of Methods.
func ParseMethod(s string) (Method, error) {
	m := Method(strings.ToLower(strings.TrimSpace(s)))
	if !slices.Contains(Methods, m) {
		return "", fault.New(fault.Invalid, "%q is not a way of marking", s).WithHint("use %s", list(Methods))
	}
	return m, nil
}

// ParseProtection takes one of Protections.
func ParseProtection(s string) (Protection, error) {
	p := Protection(strings.ToLower(strings.TrimSpace(s)))
	if !slices.Contains(Protections, p) {
		return "", fault.New(fault.Invalid, "%q is not a protection", s).WithHint("use %s", list(Protections))
	}
	return p, nil
}

// MethodsInWords lists the ways of marking.
func MethodsInWords() string { return list(Methods) }

func list[T ~string](all []T) string {
	words := make([]string, len(all))
	for i, w := range all {
		words[i] = string(w)
	}
	return strings.Join(words, ", ")
}

// Marking is the recorded row of one marking on a tool.
type Marking struct {
	ID         string `gorm:"primaryKey"`
	Rev        int64
	Tool       string
	Method     Method
	Protection Protection
	Spot       string // where on the tool
	Since      dates.Instant
	Shows      string     // OwnersNumber; empty = the maker's serial
	Code       string     // the owner's number itself
	Marked     dates.Date // the day it was made; empty = not known
	Ended      dates.Date // the day another one took its place, or it was made away with; empty = still on the tool
}

// OwnersNumber is what a marking shows that somebody put on a tool of their own, for
// good: engraved, etched, stamped. A label that peels off is none.
const OwnersNumber = "owner's number"

// TableName names the table of markings.
func (Marking) TableName() string { return "markings" }
