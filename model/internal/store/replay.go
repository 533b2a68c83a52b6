package store

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"

	"pawl/model/fault"
)

// ReplayDays is how long an answer is kept under its replay key.
const ReplayDays = 30

const microsPerDay = 24 * 60 * 60 * 1_000_000

// newRequest wraps a use-case so that the queue need not know its answer's type.
func newRequest[T any](ctx context.Context, act Act, answer *T, fn func(*Tx) (T, error)) *request {
	return &request{ctx: ctx, act: act, done: make(chan struct{}),
		run: func(tx *Tx) (err error) {
			*answer, err = fn(tx)
			return err
		},
		enc: func() ([]byte, error) { return json.Marshal(*answer) },
		dec: func(kept []byte) error {
			var again T
			err := json.Unmarshal(kept, &again)
			*answer = again
			return err
		},
	}
}

// keyHash is what is kept of a replay key: it is the actor's own.
func (a Act) keyHash() []byte {
	h := sha256.New()
	h.Write([]byte(a.Actor))
	h.Write([]byte{0})
	h.Write([]byte(a.Key))
	return h.Sum(nil)
}

// replayed gives the answer kept under the act's key, or nil when the act is
// new. The key with another request is Invalid.
func (tx *Tx) replayed(a Act) (kept []byte, err error) {
	if a.Key == "" {
		return nil, nil
	}
	var print []byte
	err = tx.query(func(scan func(...any) error) error { return scan(&print, &kept) },
		"SELECT print, answer FROM replays WHERE key_hash = ? AND made > ?", a.keyHash(), int64(tx.now)-ReplayDays*microsPerDay)
	if err != nil || kept == nil {
		return nil, err
	}
	if !bytes.Equal(print, a.Print) {
		return nil, fault.New(fault.Invalid, "this Idempotency-Key was used for another request").
			WithHint("use a new key for a new act").WithFact("key", "used")
	}
	return kept, nil
}

// errMeanwhile says that the same act, under the same key, was done while this one waited
// for its rows.
var errMeanwhile = errors.New("the same act was done meanwhile")

// unlessMeanwhile is a refusal, unless what it rests on is the very act that is asked for:
// a caller that asks a second server while the first is still at it is no second caller.
// That act runs again, and finds the answer.
func (tx *Tx) unlessMeanwhile(a Act, refusal error) error {
	if a.Key == "" || !isFault(refusal) {
		return refusal
	}
	kept, err := tx.replayed(a)
	if err != nil || kept == nil {
		return refusal
	}
	return errMeanwhile
}

// keepAnswer keeps the answer under the key, in the act's own transaction. When
// the same act was done meanwhile, its answer is there already: the unique key
// makes this one run again, and it finds that answer.
func (tx *Tx) keepAnswer(r *request, first int64) error {
	if r.act.Key == "" {
		return nil
	}
	answer, err := r.enc()
	if err != nil {
		return err
	}
	hash := r.act.keyHash()
	if _, err := tx.exec("DELETE FROM replays WHERE key_hash = ? AND made <= ?", hash, int64(tx.now)-ReplayDays*microsPerDay); err != nil {
		return err
	}
	_, err = tx.exec("INSERT INTO replays (key_hash, print, seq, answer, made) VALUES (?, ?, ?, ?, ?)",
		hash, r.act.Print, first, answer, int64(tx.now))
	return err
}

// DropReplays forgets answers older than ReplayDays.
func (tx *Tx) DropReplays() (int64, error) {
	n, err := tx.exec("DELETE FROM replays WHERE made <= ?", int64(tx.now)-ReplayDays*microsPerDay)
	tx.touched = tx.touched || n > 0
	return n, err
}
