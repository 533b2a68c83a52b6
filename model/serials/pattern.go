package serials

import (
	"fmt"
	"unicode"
)

// Pattern is how a maker marks, learned from serials of theirs: how many
// characters they have, and where letters and digits stand.
type Pattern struct {
	all     int
	lengths map[int]*places
}

// places are the serials of one length: how many have a digit at each place.
type places struct {
	all    int
	digits []int
}

const (
	// enoughSerials is how many serials it takes to call anything a pattern, and
	// hardlyEver the share of them that is too few to be one; our choice.
	enoughSerials = 8
	hardlyEver    = 0.02
)

// Learn makes the pattern of the keys of a maker's serials.
func Learn(keys []string) Pattern {
	p := Pattern{lengths: map[int]*places{}}
	for _, key := range keys {
		r := []rune(key)
		if len(r) == 0 {
			continue
		}
		p.all++
		of := p.lengths[len(r)]
		if of == nil {
			of = &places{digits: make([]int, len(r))}
			p.lengths[len(r)] = of
		}
		of.all++
		for j, c := range r {
			if unicode.IsDigit(c) {
				of.digits[j]++
			}
		}
	}
	return p
}

// Oddities says in words where a serial, by its key, is unlike the maker's others,
// which do not hold it. That may be right; it is to be looked at, and nothing is put
// right by itself.
func (p Pattern) Oddities(key string) []string { return p.oddities([]rune(key), 0) }

// Among says the same of a serial that is one of those that were learned from.
func (p Pattern) Among(key string) []string { return p.oddities([]rune(key), 1) }

func (p Pattern) oddities(key []rune, itself int) (out []string) {
	all := p.all - itself
	if len(key) == 0 || all < enoughSerials {
		return nil
	}
	of := p.lengths[len(key)]
	if of == nil {
		of = &places{}
	}
	alike := of.all - itself
	if few(alike, all) {
		return append(out, fmt.Sprintf("it has %d characters; %s", len(key), p.usualLength(all)))
	}
	if alike < enoughSerials {
		return nil
	}
	for j, c := range key {
		digits, is := of.digits[j], unicode.IsDigit(c)
		if is {
			digits -= itself
		}
		switch {
		case is && few(digits, alike):
			out = append(out, fmt.Sprintf("character %d is the digit %c; there stands a letter in %d of %d others", j+1, c, alike-digits, alike))
		case !is && few(alike-digits, alike):
			out = append(out, fmt.Sprintf("character %d is the letter %c; there stands a digit in %d of %d others", j+1, c, digits, alike))
		}
	}
	return out
}

// usualLength says how many characters most of so many others have.
func (p Pattern) usualLength(all int) string {
	best, n := 0, 0
	for length, of := range p.lengths {
		if of.all > n || of.all == n && length < best {
			best, n = length, of.all
		}
	}
	return fmt.Sprintf("%d of %d others have %d", n, all, best)
}

func few(n, all int) bool { return float64(n) <= hardlyEver*float64(all) }
