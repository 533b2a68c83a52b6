package jobs

import (
	"slices"
	"strings"
)

// MaxLike is how many jobs are named that may have been meant: more are no help.
const MaxLike = 5

// written are the characters that numbers of repair orders are written in. Others are
// taken, but not guessed at.
const written = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ-/._#"

// Slips gives the keys of which a key may be a slip of the finger: with two neighbors
// swapped, the likeliest, or with one character another, left out, or too many.
func Slips(key string) (swapped, changed []string) {
	seen, runes := map[string]bool{key: true, "": true}, []rune(key)
	slip := func(parts ...[]rune) []string {
		other := string(slices.Concat(parts...))
		if seen[other] {
			return nil
		}
		seen[other] = true
		return []string{other}
	}
	for i := range len(runes) - 1 {
		swapped = append(swapped, slip(runes[:i], []rune{runes[i+1], runes[i]}, runes[i+2:])...)
	}
	add := func(parts ...[]rune) { changed = append(changed, slip(parts...)...) }
	others := []rune(written)
	for _, r := range runes {
		if !strings.ContainsRune(written, r) && !slices.Contains(others, r) {
			others = append(others, r)
		}
	}
	for i := range runes {
		for _, other := range others {
			add(runes[:i], []rune{other}, runes[i+1:])
		}
	}
	if len(runes) < MaxNumber {
		for i := range len(runes) + 1 {
			for _, other := range others {
				add(runes[:i], []rune{other}, runes[i:])
			}
		}
	}
	for i := range runes {
		add(runes[:i], runes[i+1:])
	}
	return swapped, changed
}
