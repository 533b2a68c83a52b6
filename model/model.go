// Package model is the domain in one page: a Shop is one register with its
// people, places, jobs, tools, photos and papers, and one ledger in which every
// change stays. Use-cases are methods on Shop, one file per noun; the rules
// they ask live in the packages beside this one and need no database. What is
// stored is in internal/store, what was photographed in internal/originals.
package model

import (
	"context"
	"io"
	"log/slog"
	"net/http"
	"time"

	"pawl/model/fault"
	"pawl/model/internal/originals"
	"pawl/model/internal/store"
	"pawl/model/internal/views"
	"pawl/model/people"
)

// Actor is whoever does an act; see people.Actor.
type Actor = people.Actor

// By says who asks, and under which replay key. With a key, a repeat of the
// same act by the same actor gives the first answer and does nothing again;
// Replayed, where it points somewhere, is then set.
type By struct {
	Actor
	Key      string
	Replayed *bool
}

// Options says where a shop is kept and what the outside world gives it.
type Options struct {
	Dir      string           // data folder; made when missing
	Database string           // empty: SQLite in Dir; else postgres://…
	Existing bool             // refuse to make a shop where there is none
	Unsafe   bool             // take a PostgreSQL that may forget what it answered
	Program  string           // named to those who must wait for this process
	Clock    func() time.Time // nil: the system's
	Chance   io.Reader        // ids, salts, secrets and keys; nil: the system's
	Batch    int              // most acts in one commit; 0: 1

	// HEICConverter is a command that turns {in}, a HEIC, into {out}, a JPEG; it is
	// split at blanks and never goes through a shell. Empty: HEIC has no view.
	HEICConverter string
	Log           *slog.Logger // nil: nothing is logged

	// Asked is told every question that the store asks, with its values; nil: nobody is.
	Asked func(query string, args []any)

	// Outside is the way to those outside whom the settings name, which is the
	// time-stamp authority; nil: there is none.
	Outside http.RoundTripper
}

// Shop is one register. It is safe for use by many goroutines.
type Shop struct {
	db        *store.DB
	dir       string
	originals *originals.Folder
	views     *views.Maker
	keys      keyring
	clock     func() time.Time
	chance    io.Reader
	outside   http.RoundTripper
	log       *slog.Logger
	rechecks  recheckCache
	frames    recent[listed]     // by id and digest of their counts: a list never changes
	listedIn  recent[string]     // keys of those of open counts, by id
	counted   recent[*keptCount] // by id
	rotas     rotaCache
	serials   serialCache
	rounds    roundCache
}

// Open opens or makes the shop in a data folder and brings its schema up to
// date. It refuses, in one line and without touching anything, a store that a
// newer program wrote, and one that must be migrated while another process has
// it open. With Existing, a folder without a shop is NotFound and stays as it is.
func Open(ctx context.Context, o Options) (*Shop, error) {
	return open(ctx, o)
}

// Close waits for running acts and for the views that are queued, and closes
// the store.
func (s *Shop) Close() error {
	s.views.Close()
	s.rotas.close()
	s.rounds.close()
	return s.db.Close()
}

// Now is the shop's clock.
func (s *Shop) Now() time.Time { return s.clock() }

// Ready says whether the shop can serve: the store answers and a write would
// be taken. The fault is Unavailable.
func (s *Shop) Ready(ctx context.Context) error {
	if err := s.db.Probe(ctx); err != nil {
		return fault.New(fault.Unavailable, "the store does not answer").WithCause(err)
	}
	return nil
}
