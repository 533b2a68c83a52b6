package numbers

import (
	"io"

	"pawl/model/fault"
)

const idLength = 8 // after the letter and the hyphen, check character included

// NewID draws an id such as `L-7K3M9P4X`: the letter (A to Z) says what it names,
// seven characters are drawn evenly from chance, the last is their check
// character.
func NewID(letter byte, chance io.Reader) (string, error) {
	if letter < 'A' || letter > 'Z' {
		return "", fault.New(fault.Internal, "an id starts with a letter from A to Z, not %q", letter)
	}
	id := []byte{letter, '-'}
	for len(id) < 2+idLength-1 {
		var b [1]byte
		if _, err := io.ReadFull(chance, b[:]); err != nil {
			return "", fault.New(fault.Internal, "no chance to draw an id from").WithCause(err)
		}
		// 232 is the greatest multiple of 29 in a byte: the rest would favor some.
		if b[0] < 232 {
			id = append(id, Alphabet[b[0]%29])
		}
	}
	check, err := ours.Check(string(id[2:]))
	return string(append(id, check)), err
}

// ParseID reads an id of the given letter as typed: either case, spaces, hyphens
// and dots anywhere, look-alikes folded. It returns the form of NewID.
func ParseID(letter byte, s string) (string, error) {
	text := canonical(s)
	if len(text) != 1+idLength {
		return "", notAnID(letter, s, "it is a letter and eight characters")
	}
	if text[0] != fold(letter) {
		return "", notAnID(letter, s, "it names something else, by its first letter")
	}
	if !ours.Valid(text[1:]) {
		return "", notAnID(letter, s, "a character is wrong or two are swapped; compare with where you read it")
	}
	return string([]byte{upper(letter), '-'}) + text[1:], nil
}

func notAnID(letter byte, s, hint string) error {
	return fault.New(fault.Invalid, "%q is not an id that starts with %c-", fault.Clip(s), upper(letter)).WithHint("%s", hint)
}
