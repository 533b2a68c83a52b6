package jobs

import (
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func both(swapped, changed []string) []string { return slices.Concat(swapped, changed) }

// slip says by the table of edit distances whether one change, or one swap of
// neighbors, leads from a to b.
func slip(a, b string) bool {
	x, y := []rune(a), []rune(b)
	d := make([][]int, len(x)+1)
	for i := range d {
		d[i] = make([]int, len(y)+1)
		for j := range d[i] {
			switch {
			case i == 0 || j == 0:
				d[i][j] = i + j
				continue
			case x[i-1] == y[j-1]:
				d[i][j] = d[i-1][j-1]
			default:
				d[i][j] = 1 + d[i-1][j-1]
			}
			d[i][j] = min(d[i][j], d[i-1][j]+1, d[i][j-1]+1)
			if i > 1 && j > 1 && x[i-1] == y[j-2] && x[i-2] == y[j-1] {
				d[i][j] = min(d[i][j], d[i-2][j-2]+1)
			}
		}
	}
	return d[len(x)][len(y)] == 1
}

// What is named is one change or one swap away, and all that is so is named: of any two
// numbers, as a table of distances has it.
func TestSlips(t *testing.T) {
	if swapped, _ := Slips("1024"); !slices.Equal(swapped, []string{"0124", "1204", "1042"}) {
		t.Errorf("1024 is a swap of %q", swapped)
	}
	number := rapid.StringOfN(rapid.RuneFrom([]rune("014BR-É")), 1, 5, -1)
	rapid.Check(t, func(t *rapid.T) {
		a, b := number.Draw(t, "a"), number.Draw(t, "b")
		all := both(Slips(a))
		for _, r := range b {
			if r == 'É' && !strings.ContainsRune(a, r) {
				return // letters beyond those that numbers are written in are not guessed at
			}
		}
		if got, want := slices.Contains(all, b), slip(a, b); got != want {
			t.Fatalf("%s as a slip of %s: %v, want %v", a, b, got, want)
		}
		for _, one := range all {
			if !slip(a, one) {
				t.Fatalf("%s is no slip of %s", one, a)
			}
		}
		if n := len(slices.Compact(slices.Sorted(slices.Values(all)))); n != len(all) {
			t.Fatalf("%d of %d slips of %s stand there twice", len(all)-n, len(all), a)
		}
	})
	long := strings.Repeat("1", MaxNumber)
	for _, one := range both(Slips(long)) {
		if len(one) > MaxNumber {
			t.Fatalf("%s is too long for a number", one)
		}
	}
}
