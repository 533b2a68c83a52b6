package store

import (
	"errors"
	"slices"
	"sync"
	"testing"
)

// TestReadAhead reads two sorts of batches over one connection, of which one has more: each
// comes whole and in order, and never two are read at once.
func TestReadAhead(t *testing.T) {
	var turn sync.Mutex
	var busy int // guarded by turn alone; the race detector tells where it is not
	count := func(last int) func() (int, bool, error) {
		n := 0
		return func() (int, bool, error) {
			busy++
			defer func() { busy-- }()
			if n++; busy != 1 {
				t.Errorf("%d reads at once", busy)
			}
			return n, n < last, nil
		}
	}
	few, many := readAhead(&turn, count(2)), readAhead(&turn, count(5))
	defer few.end()
	defer many.end()
	var got [2][]int
	for range 6 {
		for i, a := range []*ahead[int]{few, many} {
			n, err := a.take()
			if err != nil {
				t.Fatal(err)
			}
			got[i] = append(got[i], n)
		}
	}
	if want := []int{1, 2, 0, 0, 0, 0}; !slices.Equal(got[0], want) {
		t.Errorf("of two batches came %v, want %v", got[0], want)
	}
	if want := []int{1, 2, 3, 4, 5, 0}; !slices.Equal(got[1], want) {
		t.Errorf("of five batches came %v, want %v", got[1], want)
	}
}

// TestReadAheadFails: what goes wrong in a read goes wrong for whoever takes its batch, and
// nothing is read after it.
func TestReadAheadFails(t *testing.T) {
	broken, reads := errors.New("the disk is gone"), 0
	a := readAhead(&sync.Mutex{}, func() (int, bool, error) { reads++; return 0, true, broken })
	defer a.end()
	if _, err := a.take(); !errors.Is(err, broken) {
		t.Errorf("a failed read gives %v", err)
	}
	if n, err := a.take(); n != 0 || err != nil || reads != 1 {
		t.Errorf("after it come %d and %v, of %d reads", n, err, reads)
	}
	p := readAhead(&sync.Mutex{}, func() (int, bool, error) { panic("a mistake") })
	defer p.end()
	defer func() {
		if said := recover(); said != "a mistake" {
			t.Errorf("a read that panicked gives %v", said)
		}
	}()
	p.take()
	t.Error("a read that panicked gave a batch")
}
