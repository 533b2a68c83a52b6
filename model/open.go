package model

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"log/slog"
	"path/filepath"
	"slices"
	"time"

	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/internal/views"
)

// systemClock is asked where no clock is handed in.
var systemClock = time.Now

func open(ctx context.Context, o Options) (*Shop, error) {
	if o.Clock == nil {
		o.Clock = systemClock
	}
	if o.Chance == nil {
		o.Chance = rand.Reader
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	config := o.store()
	if o.Left {
		config.Moving = store.Leaving
	}
	db, err := store.Open(ctx, config)
	if err != nil {
		return nil, err
	}
	if o.Asked != nil {
		db.Watch(o.Asked)
	}
	s := &Shop{db: db, dir: o.Dir, clock: o.Clock, chance: o.Chance, outside: o.Outside, log: o.Log, keys: keyring{dir: filepath.Join(o.Dir, "keys")}}
	s.keepCounts()
	me, err := s.identify(ctx, o.Existing)
	if err == nil {
		err = s.findOriginals(ctx, me, o)
	}
	if err != nil {
		return nil, errors.Join(err, db.Close())
	}
	s.views, err = views.New(views.Config{Dir: filepath.Join(o.Dir, "views"), Originals: s.originals.Open, Converter: o.HEICConverter, Log: o.Log})
	if err != nil {
		return nil, errors.Join(err, db.Close())
	}
	return s, nil
}

// long are the acts that may take a second or more in a large shop.
var long = []string{"import", "file photos", "count start", "count draw", "count close", "worth quotes", "worth index", "packet", "people leave"}

// store is how the records of a shop are opened.
func (o Options) store() store.Config {
	return store.Config{Dir: o.Dir, URL: o.Database, Existing: o.Existing, Unsafe: o.Unsafe, Program: o.Program, Clock: o.Clock, Chance: o.Chance, Batch: o.Batch}
}

// act runs one use-case as one act. What was asked is its fingerprint under the
// replay key.
func act[T any](ctx context.Context, s *Shop, by By, verb string, asked any, fn func(*store.Tx) (T, error)) (T, error) {
	print, err := json.Marshal([]any{verb, asked})
	if err != nil {
		var none T
		return none, err
	}
	sum := sha256.Sum256(print)
	a := store.Act{Verb: verb, Actor: by.Recorded(), Key: by.Key, Print: sum[:], Long: slices.Contains(long, verb), Replayed: by.Replayed}
	return store.Write(ctx, s.db, a, fn)
}

// load finds a row to be changed; its absence is NotFound, named by what.
func load[T any](tx *store.Tx, id, what string) (T, error) {
	row, found, err := store.Change[T](tx, id)
	if err == nil && !found {
		err = fault.New(fault.NotFound, "there is no %s", what)
	}
	return row, err
}

// AnyRevision stands for whatever revision there is: a change that is to be made
// without regard to what others changed meanwhile.
const AnyRevision = -1

// checkRev compares the revision that the caller read with the one there is.
func checkRev(what string, read, is int64) error {
	switch read {
	case is, AnyRevision:
		return nil
	case 0:
		return fault.New(fault.Precondition, "say which revision of the %s was read", what).WithHint("send its ETag in If-Match")
	}
	return fault.New(fault.Stale, "the %s changed since it was read (revision %d, now %d)", what, read, is).
		WithHint("read it again and repeat the change")
}
