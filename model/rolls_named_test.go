package model

import (
	"maps"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pawl/model/claims"
	"pawl/model/dates"
	"pawl/model/internal/store"
	"pawl/model/ledger"
)

// What is looked up once for all copies and losses is what each packet by itself would name:
// of random checkpoints, some of them signed after longer ones, packets, copies and losses.
func TestNamedRollsAreThoseOfEachPacket(t *testing.T) {
	chance := rand.New(rand.NewPCG(8, 29))
	for round := range 2000 {
		n := naming{found: map[string]dates.Instant{}, lossOf: map[string]string{}, named: map[string]bool{}}
		var bySize []store.Signing
		for size, made := int64(1), dates.Instant(100); size < 60; size += 1 + chance.Int64N(6) {
			made += dates.Instant(chance.Int64N(5))
			bySize = append(bySize, store.Signing{Size: size, Made: made + dates.Instant(chance.IntN(4)/3*chance.IntN(9))})
		}
		n.signed = newSignings(bySize)
		for seq := int64(60); seq > 0; seq -= 1 + chance.Int64N(9) {
			n.rolls = append(n.rolls, placedRoll{Roll: ledger.Roll{ID: string(rune('a' + len(n.rolls)))}, seq: seq})
		}
		for _, id := range []string{"L-1", "L-2", "L-3"} {
			n.found[id] = 95 + dates.Instant(chance.IntN(60))
		}
		n.lossOf["C-1"], n.lossOf["C-2"] = "L-1", ""
		plain := func(by dates.Instant, size int64) (out int64) {
			for _, c := range bySize {
				if c.Made <= by && c.Size <= size {
					out = c.Size
				}
			}
			return out
		}
		want := map[string]bool{}
		under := func(size int64) {
			if at := slices.IndexFunc(n.rolls, func(r placedRoll) bool { return r.seq < size }); at >= 0 {
				want[n.rolls[at].ID] = true
			}
		}
		var copies []claims.Packet
		for range 1 + chance.IntN(5) {
			c := bySize[chance.IntN(len(bySize))]
			p := claims.Packet{Lines: c.Size, Created: c.Made, Claim: []string{"", "C-1", "C-2"}[chance.IntN(3)], Loss: []string{"", "L-2"}[chance.IntN(2)]}
			times := []dates.Instant{p.Created}
			if chance.IntN(2) == 0 {
				p.Claim, p.Loss = "", ""
				copies = append(copies, p)
				times = slices.AppendSeq(times, maps.Values(n.found))
			} else if p.Loss != "" {
				p.Claim = ""
				times = append(times, n.found[p.Loss])
			} else if p.Claim == "C-1" {
				times = append(times, n.found["L-1"])
			}
			n.packet(p)
			under(p.Lines)
			for _, by := range times {
				under(plain(by, p.Lines))
			}
		}
		n.copies(copies)
		if !maps.Equal(n.named, want) {
			t.Fatalf("round %d: %v, want %v", round, n.named, want)
		}
		for by := dates.Instant(95); by < 160; by++ {
			for _, size := range []int64{0, 7, 30, math.MaxInt64} {
				if got := n.signed.by(by, size); got != plain(by, size) {
					t.Fatalf("round %d: by %d of at most %d lines: %d, want %d", round, by, size, got, plain(by, size))
				}
			}
		}
	}
}
