package counts

import (
	"crypto/sha256"
	"encoding/binary"
	"math/bits"
	"slices"
	"strconv"
)

// Seed is what a draw starts from: SHA-256 of the bytes of the newest checkpoint
// followed by those of the nonce. Both are on record before the list is drawn from, and
// nobody who could choose the one knows the other, so nobody chooses the sample.
func Seed(checkpoint, nonce []byte) [32]byte {
	h := sha256.New()
	h.Write(checkpoint)
	h.Write(nonce)
	return [32]byte(h.Sum(nil))
}

// ChosenSeed is the start of a draw that somebody chose by a number: SHA-256 of the
// text "pawl chosen seed " and the number in decimal. A count with it says so, since
// whoever chooses the number can choose the sample.
func ChosenSeed(number int64) [32]byte {
	return sha256.Sum256([]byte("pawl chosen seed " + strconv.FormatInt(number, 10)))
}

// PartSeed is the start of the draw from one part of a list, such as stratum B:
// SHA-256 of the seed followed by the part's name. The parts' draws are independent.
func PartSeed(seed [32]byte, part string) [32]byte {
	return sha256.Sum256(append(seed[:], part...))
}

// Draw picks n of the positions 0 to listed−1, every choice of n alike in
// probability, and gives them in ascending order. n below 0 picks none, above listed
// all. The same seed draws the same for ever:
//
//  1. Block i = SHA-256(seed ‖ i), i = 0, 1, 2 …, as eight bytes big-endian. Each
//     block gives four words of 64 bits, big-endian, first to last.
//  2. A number below m: take the next word; while it is not below the greatest
//     multiple of m up to 2^64, take the next; the number is the word modulo m.
//  3. The positions stand in a row in order. For i = 0 to n−1: r is a number below
//     listed−i; change over what stands at i and at i+r. The first n are drawn
//     (R. A. Fisher and F. Yates; D. E. Knuth, The Art of Computer Programming 2,
//     3.4.2, algorithm P).
func Draw(seed [32]byte, listed, n int) []int {
	n = max(0, min(n, listed))
	row := make([]int, max(0, listed))
	for i := range row {
		row[i] = i
	}
	s := stream{seed: seed}
	for i := range n {
		j := i + int(s.below(uint64(listed-i)))
		row[i], row[j] = row[j], row[i]
	}
	drawn := slices.Clone(row[:n])
	slices.Sort(drawn)
	return drawn
}

// DrawFrom picks n of the members, as Draw picks positions; they keep their order.
func DrawFrom(seed [32]byte, members []int, n int) []int {
	drawn := Draw(seed, len(members), n)
	for i, at := range drawn {
		drawn[i] = members[at]
	}
	return drawn
}

// Below is one number from 0 to m−1, every one alike in probability, by steps 1 and 2
// of Draw. m is over 0.
func Below(seed [32]byte, m int64) int64 {
	if m < 1 {
		return 0
	}
	s := stream{seed: seed}
	return int64(s.below(uint64(m)))
}

// stream gives words of 64 bits without end.
type stream struct {
	seed  [32]byte
	block uint64
	words [32]byte
	left  int // bytes of words not yet given
}

func (s *stream) next() uint64 {
	if s.left == 0 {
		s.words = sha256.Sum256(binary.BigEndian.AppendUint64(s.seed[:], s.block))
		s.block, s.left = s.block+1, len(s.words)
	}
	w := binary.BigEndian.Uint64(s.words[len(s.words)-s.left:])
	s.left -= 8
	return w
}

// below refuses the words at the top that would make small numbers likelier.
func (s *stream) below(m uint64) uint64 {
	_, rest := bits.Div64(1, 0, max(m, 2)) // 2^64 modulo m
	for {
		if w := s.next(); rest == 0 || w < -rest {
			return w % m
		}
	}
}
