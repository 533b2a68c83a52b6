package model

import (
	"context"
	"math"

	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/people"
)

// clockSlack is how far before the latest time in the ledger the clock may
// stand, in microseconds.
const clockSlack = 120 * 1_000_000

// ClockView is the state of the shop's clock. Doubtful means that it stands
// more than 120 s before a time that the ledger holds already.
type ClockView struct {
	Now, Latest dates.Instant
	Doubtful    bool
}

// ClockState says whether the clock can be trusted.
func (s *Shop) ClockState(ctx context.Context) (v ClockView, err error) {
	err = s.db.Read(ctx, func(rx *store.Rx) error {
		v, err = clockOf(rx)
		return err
	})
	return v, err
}

func clockOf(rx *store.Rx) (ClockView, error) {
	v := ClockView{Now: rx.Now()}
	vouched, found, err := rx.Clock()
	if err != nil {
		return v, err
	}
	// Lines up to the one that vouches for the clock are no longer held against it.
	through := int64(-1)
	if found {
		through = vouched.Through
	}
	latest, err := rx.Latest(through)
	v.Latest = dates.Instant(latest)
	v.Doubtful = v.Now < v.Latest-clockSlack
	return v, err
}

// latestPossible is the latest time at which something can have been: a little after now,
// for the clocks of other servers; while the clock is in doubt, any.
func latestPossible(rx *store.Rx) (dates.Instant, error) {
	v, err := clockOf(rx)
	if v.Doubtful {
		return math.MaxInt64, err
	}
	return v.Now + clockSlack, err
}

// ConfirmClock records that a manager looked at the clock and found it right.
// Times in the ledger that lie ahead of it are not held against it any more.
func (s *Shop) ConfirmClock(ctx context.Context, by By) (ClockView, error) {
	return act(ctx, s, by, "clock confirm", "", func(tx *store.Tx) (v ClockView, err error) {
		if err := allowed(by, people.ShopActs, people.Object{}); err != nil {
			return v, err
		}
		if now, err := clockOf(&tx.Rx); err != nil || !now.Doubtful {
			return now, orElse(err, fault.New(fault.Conflict, "the clock is not in doubt").WithHint("nothing to confirm"))
		}
		row, found, err := store.Change[store.ClockRow](tx, store.ClockID)
		if err != nil {
			return v, err
		}
		if !found {
			row = store.ClockRow{ID: store.ClockID}
		}
		size, err := tx.Size()
		if err != nil {
			return v, err
		}
		row.Confirmed, row.Through = tx.Now(), size
		return ClockView{Now: tx.Now()}, store.Put(tx, &row)
	})
}
