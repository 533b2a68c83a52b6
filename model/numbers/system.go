// Package numbers holds everything that Pawl prints and reads back: tool
// numbers, ids, and symbols.
//
// A tool number is six characters of a 29-letter alphabet without look-alikes;
// the last is a check character. A number is printed as `00E-KM5` and kept as
// `00EKM5`. An id is a letter, a hyphen and eight such characters. A symbol is
// what a code on a label, badge or card says to a scanner. Typed input folds
// look-alikes; scanned input never does.
package numbers

import (
	"strings"

	"pawl/model/fault"
)

// System is a pure system with one check character in the manner of ISO/IEC
// 7064:2003 clauses 6 and 7: the weighted sum of all values, the check character
// last with weight 1 and each place to its left Radix times more, is 1 modulo
// Modulus.
type System struct {
	Modulus, Radix int
	Alphabet       string // one byte for each value from 0 to Modulus-1
	CheckOnly      string // characters that may stand only as the check, such as the X of MOD 11-2
}

// Check returns the check character for a payload of at least one character.
// A character that the payload may not hold is fault.Invalid.
func (s System) Check(payload string) (byte, error) {
	if s.Modulus < 2 || s.Radix < 1 || len(s.Alphabet) != s.Modulus {
		return 0, fault.New(fault.Internal, "a check system needs one character for each value: modulus %d, radix %d, alphabet of %d", s.Modulus, s.Radix, len(s.Alphabet))
	}
	if payload == "" {
		return 0, fault.New(fault.Invalid, "nothing to take a check character of")
	}
	p := 0
	for i := range len(payload) {
		value := strings.IndexByte(s.Alphabet, payload[i])
		if value < 0 || strings.IndexByte(s.CheckOnly, payload[i]) >= 0 {
			return 0, fault.New(fault.Invalid, "character %d of %q is not one of %s", i+1, fault.Clip(payload), s.Alphabet)
		}
		p = (p + value) * s.Radix % s.Modulus
	}
	return s.Alphabet[(s.Modulus+1-p)%s.Modulus], nil
}

// Valid says whether full is a payload followed by its check character.
func (s System) Valid(full string) bool {
	if len(full) < 2 {
		return false
	}
	check, err := s.Check(full[:len(full)-1])
	return err == nil && check == full[len(full)-1]
}

// Alphabet is the 29 characters of tool numbers and ids in order of value. I, L,
// O, Q, S, U and Z are left out: they look like 1, 1, 0, 0, 5, V and 2.
const Alphabet = "0123456789ABCDEFGHJKMNPRTVWXY"

// ours is built like an ISO/IEC 7064 pure system, but is not one of the named
// ones. 2 is a primitive root modulo the prime 29, so every single substitution
// and every swap of two unequal characters is caught.
var ours = System{Modulus: 29, Radix: 2, Alphabet: Alphabet}

// fold turns a look-alike into the character of the alphabet that it looks like,
// and a lower-case letter into its upper case.
func fold(c byte) byte {
	switch c = upper(c); c {
	case 'O', 'Q':
		return '0'
	case 'I', 'L':
		return '1'
	case 'S':
		return '5'
	case 'U':
		return 'V'
	case 'Z':
		return '2'
	}
	return c
}

// upper works on ASCII alone: Unicode would turn a dotless i into I.
func upper(c byte) byte {
	if 'a' <= c && c <= 'z' {
		return c - 'a' + 'A'
	}
	return c
}
