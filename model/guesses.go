package model

import (
	"context"
	"strconv"

	"pawl/model/fault"
	"pawl/model/internal/store"
)

const (
	// maxGuesses is how often a secret may be got wrong in guessWindow.
	maxGuesses  = 10
	guessWindow = 60 * microsPerSecond

	microsPerSecond = 1_000_000
)

// guesser is who tries: what is counted together, and what they do once they
// have waited.
type guesser struct{ who, next string }

// tried looks for what a badge names. What is not found counts against who asks;
// after ten of those within a minute nothing is looked for any more, not even what
// is right, until the first of them is a minute old. Looking and counting are one
// act: of many guesses at once no more than ten are heard, whichever process they
// come to.
func tried[T any](ctx context.Context, s *Shop, g guesser, look func(*store.Tx) (T, bool, error)) (found T, ok bool, err error) {
	type outcome struct {
		found T
		ok    bool
	}
	out, err := store.Write(ctx, s.db, store.Act{Verb: "try"}, func(tx *store.Tx) (o outcome, err error) {
		if err := tx.Lock("try " + g.who); err != nil {
			return o, err
		}
		if err := throttled(tx, g); err != nil {
			return o, err
		}
		if o.found, o.ok, err = look(tx); err != nil || o.ok {
			return o, err
		}
		return o, tx.CountTry(g.who)
	})
	return out.found, out.ok, err
}

// throttled is the fault of somebody who guessed too often.
func throttled(tx *store.Tx, g guesser) error {
	n, first, err := tx.Tries(g.who, tx.Now()-guessWindow)
	if err != nil || n < maxGuesses {
		return err
	}
	wait := (int64(first) + guessWindow - int64(tx.Now()) + microsPerSecond - 1) / microsPerSecond
	return fault.New(fault.Throttled, "too many wrong tries: %d within a minute", n).
		WithHint("wait %d s, then %s", wait, g.next).
		WithFact("retry_after", strconv.FormatInt(wait, 10)).
		WithFact("quota", strconv.Itoa(maxGuesses)).WithFact("window", strconv.Itoa(guessWindow/microsPerSecond))
}

// WrongToken counts a bearer secret that opened nothing against the address it
// came from, and gives the fault to answer with: wrong, or Throttled once there
// were ten within a minute.
func (s *Shop) WrongToken(ctx context.Context, address string, wrong error) error {
	return s.wrongSecret(ctx, guesser{"token from " + address, "send a token that is in force"}, wrong)
}

// wrongSecret counts a secret that opened nothing. Unlike a badge, one of 128
// bits or more cannot be guessed: it is looked for first, and what is right is
// never kept waiting by a neighbor's wrong ones.
func (s *Shop) wrongSecret(ctx context.Context, g guesser, wrong error) error {
	_, _, err := tried(ctx, s, g, func(*store.Tx) (bool, bool, error) { return false, false, nil })
	return orElse(err, wrong)
}
