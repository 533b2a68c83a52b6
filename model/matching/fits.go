package matching

import (
	"bytes"
	"slices"
)

// Fits says whether a reading is of a serial to the letter, given as its key: what was
// seen stands there in its order, with as many characters between as the reading says; a * alone
// is any number of them.
// It is a yes or no for one serial, which forgives no misreading; how likely one is
// among many is for Match.
func (r Reading) Fits(key string) bool {
	serial := codesOf(key)
	at := make([]bool, len(serial)+1) // how much of the serial the cells so far can stand for
	at[0] = true
	for _, c := range r.Cells {
		next := make([]bool, len(serial)+1)
		for i, can := range at {
			if !can {
				continue
			}
			if c.sort == gap {
				most := c.hi
				if c.lo == 0 && c.hi == openGap { // nobody counted them: a * says only that some are gone
					most = len(serial)
				}
				for n := c.lo; n <= most && i+n <= len(serial); n++ {
					next[i+n] = true
				}
			} else if i < len(serial) && c.takes(serial[i]) {
				next[i+1] = true
			}
		}
		at = next
	}
	return at[len(serial)]
}

// takes says whether one place of a reading may be a character.
func (c Cell) takes(is byte) bool {
	if c.sort == unknown {
		return true
	}
	return bytes.IndexByte(c.chars, is) >= 0
}

// fairlySure is the least confidence of what was not guessed (identity-labels-evidence 3.2).
const fairlySure = 0.8

// Lacks says whether a character is lost by a reading: one cannot be read, or some are
// gone.
func (r Reading) Lacks() bool {
	return slices.ContainsFunc(r.Cells, func(c Cell) bool { return c.sort != seen })
}

// Sure says whether a reading leaves nothing open and nothing was guessed.
func (r Reading) Sure() bool {
	return !r.Partial() && !slices.ContainsFunc(r.Cells, func(c Cell) bool { return c.q != 0 && c.q < fairlySure })
}

// Partial says whether a reading leaves a character open: one that cannot be read, one
// of several, or some that are gone.
func (r Reading) Partial() bool {
	for _, c := range r.Cells {
		if c.sort != seen || len(c.chars) > 1 {
			return true
		}
	}
	return false
}
