package matching

import (
	"math"
	"slices"
	"testing"
)

// Serials that share their first characters with a known one come to what they come to
// where every depth of each is worked out by itself.
func TestStems(t *testing.T) {
	w := newWorld(2000)
	for _, text := range []string{"KD4?8{B8}2*", "KD40782", "*4*7*", "K*{2,3}?2", "*{0,1}D4", "7@0.3 ??9", "KD40782KD40782", "A"} {
		table := newTable(Usual.ask(read(t, text)))
		beyond := table.average(rest)
		for _, maker := range w.makers[:8] {
			m := w.ix.maker(maker)
			want, used := 0.0, 0
			for _, s := range m.serials {
				if len(s) <= shortStem {
					continue
				}
				used++
				for depth := shortStem; depth < len(s); depth++ {
					for j, c := range s {
						at := table.of[c]
						if j >= depth {
							at = beyond
						}
						table.column(j+1, at)
					}
					want += table.ends(len(s)) / float64(len(s)-shortStem)
				}
			}
			want /= float64(used)
			if got, ok := newStems(table.asked).of(m); ok != (used > 0) || used > 0 && math.Abs(got-want) > 1e-9*want {
				t.Errorf("%s by %s: %g, want %g", text, maker, got, want)
			}
		}
	}
}

// The serials that are looked at of a maker with many are the same in whatever order
// they come, and as many as they should be.
func TestChosen(t *testing.T) {
	var all [][]byte
	for i := range 40 * sampled {
		all = append(all, []byte{byte(i % 36), byte(i / 36 % 36), byte(i / 36 / 36)})
	}
	for _, many := range []int{sampled, sampled + 1, 2*sampled - 1, 2 * sampled, 3 * sampled, len(all)} {
		some := slices.Clone(all[:many])
		a := chosen(some)
		slices.Reverse(some)
		b := chosen(some)
		if len(a) != sampled || !slices.EqualFunc(a, b, slices.Equal) && many > sampled {
			t.Errorf("of %d: %d and %d, not the same", many, len(a), len(b))
		}
	}
}
