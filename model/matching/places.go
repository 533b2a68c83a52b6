package matching

import (
	"iter"
	"math/bits"
)

// places are some of a base, a bit each: a search asks it of every serial that it
// comes to, and most are not among them.
type places struct {
	bits []uint64
	many int
}

func (p places) has(k int) bool { return p.many > 0 && p.bits[k/64]>>(k%64)&1 == 1 }

func (p *places) add(k int) {
	if !p.has(k) {
		p.bits[k/64] |= 1 << (k % 64)
		p.many++
	}
}

// copy gives the same ones, of so many.
func (p places) copy(size int) places {
	c := places{make([]uint64, (size+63)/64), p.many}
	copy(c.bits, p.bits)
	return c
}

// within gives those of a span, in order.
func (p places) within(from, to int) iter.Seq[int] {
	return func(yield func(int) bool) {
		for w := from / 64; p.many > 0 && w*64 < to; w++ {
			for left := p.bits[w]; left != 0; left &= left - 1 {
				if k := w*64 + bits.TrailingZeros64(left); k >= from && k < to && !yield(k) {
					return
				}
			}
		}
	}
}
