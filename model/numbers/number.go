package numbers

import (
	"strings"

	"pawl/model/fault"
)

// Number is a tool number as kept: six characters such as `00EKM5`; "" is none.
type Number string

const (
	payloadLength = 5
	numberLength  = payloadLength + 1

	// MaxCounter is the last number that there is: 29⁵ - 1.
	MaxCounter = 29*29*29*29*29 - 1
)

// FromCounter returns the number that stands for n, from 0 to MaxCounter.
func FromCounter(n int64) (Number, error) {
	if n < 0 || n > MaxCounter {
		return "", fault.New(fault.Invalid, "there is no tool number for %d", n).WithHint("numbers run from 0 to %d", MaxCounter)
	}
	var payload [payloadLength]byte
	for i := payloadLength - 1; i >= 0; i-- {
		payload[i] = Alphabet[n%29]
		n /= 29
	}
	check, err := ours.Check(string(payload[:]))
	return Number(string(payload[:]) + string(check)), err
}

// Counter returns the n of FromCounter, or -1 if the number is not a valid one.
func (n Number) Counter() int64 {
	if !n.Valid() {
		return -1
	}
	var c int64
	for i := range payloadLength {
		c = c*29 + int64(strings.IndexByte(Alphabet, n[i]))
	}
	return c
}

// Valid says whether the number is six canonical characters with a fitting check.
func (n Number) Valid() bool { return len(n) == numberLength && ours.Valid(string(n)) }

// Skipped says whether a number is never issued: all letters, or all zeros before
// the check character. Such numbers are refused where an owner's number is
// registered with the police.
func (n Number) Skipped() bool {
	if !n.Valid() {
		return false
	}
	letters := strings.IndexFunc(string(n), func(r rune) bool { return r <= '9' }) < 0
	return letters || n[:payloadLength] == "00000"
}

// String writes the number as it is printed: `00E-KM5`; "" for none.
func (n Number) String() string {
	if len(n) != numberLength {
		return string(n)
	}
	return string(n[:3]) + "-" + string(n[3:])
}

// ParseNumber reads a number as a person types it: either case, with spaces,
// hyphens or dots anywhere, look-alikes folded. What comes out is valid, but may
// be another tool's: always show the tool before acting on it.
func ParseNumber(typed string) (Number, error) {
	n := Number(canonical(typed))
	if len(n) != numberLength {
		return "", notANumber(typed, "a tool number has six characters, such as 00E-KM5")
	}
	return checked(n, typed)
}

// ParseExact reads a number as a label carries it: either case, hyphens dropped,
// nothing folded, nothing else taken.
func ParseExact(scanned string) (Number, error) {
	b := []byte(strings.ReplaceAll(scanned, "-", ""))
	for i := range b {
		b[i] = upper(b[i])
	}
	if len(b) != numberLength {
		return "", notANumber(scanned, "scan the label again, or type the number")
	}
	return checked(Number(b), scanned)
}

func checked(n Number, from string) (Number, error) {
	if _, err := ours.Check(string(n)); err != nil {
		return "", notANumber(from, "only 0-9 and the letters "+Alphabet[10:]+" are used")
	}
	if !n.Valid() {
		return "", notANumber(from, "the check character does not fit: one character is wrong or two are swapped; compare with the label")
	}
	return n, nil
}

func notANumber(from, hint string) error {
	return fault.New(fault.Invalid, "%q is not a tool number", fault.Clip(from)).WithHint("%s", hint)
}

var separators = strings.NewReplacer(" ", "", "-", "", ".", "", "\t", "", "\u00a0", "", "\u2010", "", "\u2011", "")

// canonical drops what separates, folds and upper-cases; the rest it leaves for
// the check to refuse.
func canonical(typed string) string {
	b := []byte(separators.Replace(typed))
	for i := range b {
		b[i] = fold(b[i])
	}
	return string(b)
}
