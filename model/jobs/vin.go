package jobs

import (
	"fmt"
	"strings"
)

// vinLength is the length of a VIN: 49 CFR 565.13(b).
const vinLength = 17

// vinCheckAt is where its check digit stands, counted from 0: 49 CFR 565.15(c).
const vinCheckAt = 8

// vinWeights are those of the positions, first to last; the check digit itself weighs
// nothing: 49 CFR 565.15(c), table IV.
var vinWeights = [vinLength]int{8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2}

// vinValue is what a character counts for: a digit itself, a letter by 49 CFR
// 565.15(c), table III. I, O and Q stand for nothing there.
func vinValue(r rune) (value int, known bool) {
	if r >= '0' && r <= '9' {
		return int(r - '0'), true
	}
	for first, letters := range map[int]string{1: "ABCDEFGH", 2: "STUVWXYZ"} {
		if i := strings.IndexRune(letters, r); i >= 0 {
			return first + i, true
		}
	}
	if i := strings.IndexRune("JKLMN.P.R", r); i >= 0 && r != '.' {
		return 1 + i, true
	}
	return 0, false
}

// vinSum is the weighted sum of 17 characters, whatever stands for the check digit.
func vinSum(vin []rune) (sum int, known bool) {
	for i, r := range vin {
		if i == vinCheckAt {
			continue
		}
		v, known := vinValue(r)
		if !known {
			return 0, false
		}
		sum += v * vinWeights[i]
	}
	return sum, true
}

// VINCheck gives the check digit that belongs to a VIN, 0 to 9 or X, by 49 CFR
// 565.15(c): the weighted sum modulo 11, where 10 is written X. What stands in the
// ninth place counts for nothing. ok is false where the text has not 17 characters
// or one that counts for nothing.
func VINCheck(vin string) (check rune, ok bool) {
	all := bareVIN(vin)
	if len(all) != vinLength {
		return 0, false
	}
	sum, known := vinSum(all)
	if !known {
		return 0, false
	}
	return rune("0123456789X"[sum%11]), true
}

// bareVIN is a VIN without the spaces and hyphens by which people group it.
func bareVIN(vin string) []rune {
	return []rune(strings.NewReplacer(" ", "", "-", "").Replace(strings.ToUpper(vin)))
}

// VINWarnings says what is odd about a VIN; nothing about an empty one. Nothing here
// is a reason to refuse: the check digit binds vehicles built to the rule of the
// United States, and older and foreign ones may carry anything. Of two characters
// that count the same, such as J and 1 or S and B, the digit
// notices no mistake.
func VINWarnings(vin string) []string {
	all := bareVIN(vin)
	if len(all) == 0 {
		return nil
	}
	var out []string
	if len(all) != vinLength {
		out = append(out, fmt.Sprintf("the VIN has %d characters; 17 since 1981, and an older or foreign vehicle may have another number", len(all)))
	}
	folded := strings.NewReplacer("I", "1", "O", "0", "Q", "0").Replace(string(all))
	if folded != string(all) {
		out = append(out, "the VIN holds I, O or Q, which no VIN has: 1 or 0 may be meant; compare with the plate")
	}
	want, ok := VINCheck(folded)
	switch is := []rune(folded); {
	case len(is) != vinLength:
	case !ok:
		out = append(out, "the VIN holds a character that is neither a letter nor a digit; compare with the plate")
	case is[vinCheckAt] != want:
		out = append(out, fmt.Sprintf("the ninth character of the VIN is %c, and by the others it would be %c: compare with the plate; a vehicle not built for the United States may have any", is[vinCheckAt], want))
	}
	return out
}
