package model

import (
	"cmp"
	"context"
	"maps"
	"math"
	"slices"

	"pawl/model/claims"
	"pawl/model/dates"
	"pawl/model/internal/store"
	"pawl/model/ledger"
)

// namedRolls gives the ids of the rolls that packets and the copies kept elsewhere hold:
// whoever was handed one can show what it counted. No statement is opened for it: the day on
// which a loss was found out is never changed.
func (s *Shop) namedRolls(ctx context.Context) (ids []string, err error) {
	err = s.db.Read(ctx, func(rx *store.Rx) error {
		ids = nil
		all, err := rx.AllPackets()
		if err != nil || len(all) == 0 {
			return err
		}
		n, err := newNaming(rx)
		if err != nil {
			return err
		}
		var copies []claims.Packet
		for _, p := range all {
			if p.Added == claims.Everything && p.Statement == "" {
				copies = append(copies, p)
			}
			n.packet(p)
		}
		n.copies(copies)
		ids = slices.Sorted(maps.Keys(n.named))
		return nil
	})
	return ids, err
}

// naming gathers the rolls that packets name.
type naming struct {
	rolls  []placedRoll // the newest first
	signed signings
	found  map[string]dates.Instant // when each loss was found out, by its id
	lossOf map[string]string        // of each claim
	named  map[string]bool
}

func newNaming(rx *store.Rx) (n naming, err error) {
	n = naming{found: map[string]dates.Instant{}, lossOf: map[string]string{}, named: map[string]bool{}}
	if n.rolls, err = rollsUnder(rx, ledger.MaxSize); err != nil {
		return n, err
	}
	points, err := rx.Signings()
	if err != nil {
		return n, err
	}
	n.signed = newSignings(points)
	losses, err := rx.LossesBefore(math.MaxInt64, "", nil, 0)
	if err != nil {
		return n, err
	}
	for _, l := range losses {
		n.found[l.ID] = l.Found
	}
	opened, err := rx.ClaimsBefore(math.MaxInt64, "", 0)
	for _, c := range opened {
		n.lossOf[c.ID] = c.Loss
	}
	return n, err
}

// packet takes in those of one packet, sheet or copy but for the losses that a copy is of.
func (n naming) packet(p claims.Packet) {
	n.under(p.Lines)
	n.under(n.signed.by(p.Created, p.Lines))
	if found := n.found[cmp.Or(p.Loss, n.lossOf[p.Claim])]; found != 0 {
		n.under(n.signed.by(found, p.Lines))
	}
}

// copies takes in the rolls from before each loss, which every copy that was made after it
// holds: the same of all of them, so that it is looked for once.
func (n naming) copies(all []claims.Packet) {
	slices.SortFunc(all, func(a, b claims.Packet) int { return cmp.Compare(a.Lines, b.Lines) })
	latest := make([]dates.Instant, len(all)) // when the last of these and all shorter ones was made
	for i, p := range all {
		latest[i] = max(p.Created, latest[max(i-1, 0)])
	}
	for _, found := range n.found {
		before := n.signed.by(found, math.MaxInt64)
		shorter, _ := slices.BinarySearchFunc(all, before, func(p claims.Packet, size int64) int { return cmp.Compare(p.Lines, size) })
		if shorter < len(all) {
			n.under(before)
		}
		for i := shorter - 1; i >= 0 && latest[i] >= found; i-- { // made after the loss, of a ledger that was shorter when it was looked at
			n.under(n.signed.by(found, all[i].Lines))
		}
	}
}

// under names the newest roll whose line is among the first size.
func (n naming) under(size int64) {
	if r, found := lastUnder(n.rolls, size); found {
		n.named[r.ID] = true
	}
}

// signings are the checkpoints, by size, without their notes. Mostly the longer was signed
// later; one over an earlier size may be signed after it.
type signings struct {
	all  []store.Signing
	soon []dates.Instant // when the first of these and all longer ones was signed
}

func newSignings(bySize []store.Signing) signings {
	s := signings{bySize, make([]dates.Instant, len(bySize))}
	for i, c := range slices.Backward(bySize) {
		s.soon[i] = c.Made
		if i+1 < len(bySize) {
			s.soon[i] = min(c.Made, s.soon[i+1])
		}
	}
	return s
}

// by is the size of the longest, of at most size lines, that was signed by then; 0 is none.
func (s signings) by(then dates.Instant, size int64) int64 {
	within, found := slices.BinarySearchFunc(s.all, size, func(c store.Signing, size int64) int { return cmp.Compare(c.Size, size) })
	if found {
		within++
	}
	soonest, _ := slices.BinarySearch(s.soon, then+1)
	for _, c := range slices.Backward(s.all[:min(within, soonest)]) {
		if c.Made <= then {
			return c.Size
		}
	}
	return 0
}
