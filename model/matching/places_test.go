package matching

import (
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// Places are what a list of them is, at whichever ends a span begins and ends; a copy
// that grows leaves the first as it was.
func TestPlacesAreAList(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		size := rapid.IntRange(1, 300).Draw(t, "size")
		place := rapid.IntRange(0, size-1)
		var none places
		p, all := none.copy(size), []int{}
		for _, k := range rapid.SliceOf(place).Draw(t, "added") {
			p.add(k)
			all = append(all, k)
		}
		slices.Sort(all)
		all = slices.Compact(all)
		more := p.copy(size)
		more.add(place.Draw(t, "one more"))
		from, to := place.Draw(t, "from"), rapid.IntRange(0, size).Draw(t, "to")
		want := slices.DeleteFunc(slices.Clone(all), func(k int) bool { return k < from || k >= to })
		if got := slices.Collect(p.within(from, to)); !slices.Equal(got, want) || p.many != len(all) {
			t.Fatalf("within %d and %d of %v: %v, %d of them", from, to, all, got, p.many)
		}
		for k := range size {
			if p.has(k) != slices.Contains(all, k) {
				t.Fatalf("has %d: %v, of %v", k, p.has(k), all)
			}
		}
		if none.has(0) {
			t.Fatal("none has one")
		}
	})
}
