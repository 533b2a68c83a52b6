package main

import (
	"slices"
	"time"
)

// now is the wall's clock: what is measured here is how long things take.
var now = time.Now

// took is how long something takes.
func took(do func() error) (time.Duration, error) {
	from := now()
	err := do()
	return now().Sub(from), err
}

// times are how long many of the same took.
type times []time.Duration

// at is what so many of a hundred are within.
func (t times) at(share int) time.Duration {
	sorted := slices.Sorted(slices.Values(t))
	return sorted[len(sorted)*share/100]
}
