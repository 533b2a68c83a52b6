// Package store keeps a shop's records: all SQL is here, for SQLite and for
// PostgreSQL, one file per noun. Write is the only door by which a record
// changes, and no change passes it without its line in the ledger.
//
// Tables are of three sorts, listed in tables.go: recorded (each change leaves a
// line), derived (rebuilt from the others) and operational (neither).
package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"sync"
	"time"
	"unicode/utf8"

	"gorm.io/gorm"
	"gorm.io/gorm/logger"

	"pawl/model/dates"
	"pawl/model/fault"
)

// Config says where the store is and what the outside world gives it.
type Config struct {
	Dir      string           // data folder, made when missing
	URL      string           // empty: SQLite in Dir; else a PostgreSQL URL
	Existing bool             // refuse to make a store where there is none
	Alone    bool             // let nobody else open it meanwhile
	Moving   Moving           // what is to be done with a store that moved, or is being moved
	Unsafe   bool             // take a PostgreSQL that may forget what it answered
	Program  string           // named to whoever must wait for this process
	Clock    func() time.Time // read once an act, after its transaction began
	Chance   io.Reader        // ids and salts
	Batch    int              // most acts in one commit; 0: as the engine bears it
}

// engine is what differs between SQLite and PostgreSQL beneath gorm.
type engine interface {
	open() (write, read *gorm.DB, err error)
	writers() int
	// batch is how many acts may share one commit, where nobody says otherwise.
	batch() int
	// hold claims the store for this process and migrates it when nobody else has it.
	hold(ctx context.Context) (release func() error, err error)
	// turn waits until this process may begin a write.
	turn() (release func(), err error)
	// sameMoment makes a view that has not begun one of the moment of another. No write of
	// this process or, where turns are taken, of any begins meanwhile.
	sameMoment(view, other *gorm.DB) error
	// lock makes transactions that name the same thing wait for one another.
	lock(tx *gorm.DB, name string) error
	// only claims a name for this process; ok is false when another has it.
	only(ctx context.Context, name string) (release func() error, ok bool, err error)
	// again says whether an act that failed so may run again: two acts met.
	again(err error) bool
	// unsure says whether a commit that failed so may have been kept after all.
	unsure(err error) bool
	// full says whether there was no room on the disk.
	full(err error) bool
}

// DB is an open store.
type DB struct {
	engine  engine
	write   *gorm.DB
	read    *gorm.DB
	release func() error
	clock   func() time.Time
	chance  io.Reader
	batch   int
	queue   chan *request
	done    sync.WaitGroup
	closing sync.Once
	twice   sync.Mutex
	closed  chan struct{}
	left    string                         // where the shop moved to: nothing is written here; empty: it stands here
	tell    func(query string, args []any) // every statement of a view; nil: nobody
}

// Open opens or makes a store. Its faults are Refused (a newer or foreign
// store, or one to be migrated that somebody has open) and Unavailable.
func Open(ctx context.Context, c Config) (*DB, error) {
	d := &DB{clock: c.Clock, chance: &lockedReader{r: c.Chance},
		queue: make(chan *request, 1024), closed: make(chan struct{})}
	if c.URL == "" {
		d.engine = &sqliteEngine{dir: c.Dir, program: c.Program, existing: c.Existing, exclusive: c.Alone}
	} else {
		d.engine = &postgresEngine{url: c.URL, program: c.Program, existing: c.Existing, exclusive: c.Alone, unsafe: c.Unsafe}
	}
	if d.batch = c.Batch; d.batch <= 0 {
		d.batch = d.engine.batch()
	}
	release, err := d.engine.hold(ctx)
	if err != nil {
		return nil, err
	}
	d.release = release
	if d.write, d.read, err = d.engine.open(); err != nil {
		return nil, errors.Join(err, release())
	}
	for range d.engine.writers() {
		d.done.Add(1)
		go d.commitLoop()
	}
	stands, err := d.stands(ctx, c.Moving)
	if err == nil && stands {
		err = d.makeOlderDue(ctx)
	}
	if err != nil {
		return nil, errors.Join(err, d.Close())
	}
	return d, nil
}

// Close finishes the acts that began and lets go of the store.
func (d *DB) Close() error {
	var err error
	d.closing.Do(func() {
		close(d.closed)
		d.done.Wait()
		err = errors.Join(closePool(d.write), closePool(d.read), d.release())
	})
	return err
}

func closePool(g *gorm.DB) error {
	pool, err := g.DB()
	if err != nil {
		return err
	}
	return pool.Close()
}

// Probe asks the store whether it answers and would take a write.
func (d *DB) Probe(ctx context.Context) error {
	_, err := Write(ctx, d, Act{Verb: "probe"}, func(tx *Tx) (int64, error) { return tx.Size() })
	return err
}

// Read runs fn on one consistent view of the store.
func (d *DB) Read(ctx context.Context, fn func(*Rx) error) error {
	if err := ctx.Err(); err != nil {
		return canceled(err)
	}
	select {
	case <-d.closed:
		return fault.New(fault.Unavailable, "the store is closed")
	default:
	}
	opts := &sql.TxOptions{Isolation: sql.LevelRepeatableRead, ReadOnly: true}
	if _, lite := d.engine.(*sqliteEngine); lite {
		opts = nil // a deferred transaction on a query-only connection is just that
	}
	return d.read.Transaction(func(g *gorm.DB) error {
		return fn(&Rx{g: d.watch(g), now: dates.InstantOf(d.clock())})
	}, opts)
}

// ReadTwice runs fn on two views of the same moment, each of which can be read while the
// other is; or on one view twice, where somebody writes for so long that no second one can
// be had.
func (d *DB) ReadTwice(ctx context.Context, fn func(one, other *Rx) error) error {
	d.twice.Lock() // two that had one view each could wait for ever for their second
	have := sync.OnceFunc(d.twice.Unlock)
	defer have()
	return d.Read(ctx, func(one *Rx) error {
		return d.Read(ctx, func(other *Rx) error {
			have()
			write, err := d.engine.turn() // for two questions: whoever writes waits for no more
			if err != nil {
				return fn(one, one)
			}
			err = d.engine.sameMoment(one.g, other.g)
			write()
			if err != nil {
				return unavailable("the store gives no second view", err)
			}
			return fn(one, other)
		})
	})
}

func canceled(err error) error {
	return fault.New(fault.Unavailable, "the caller went away before it began").WithCause(err)
}

// Rx reads: the queries of every noun are its methods.
type Rx struct {
	g   *gorm.DB
	now dates.Instant
}

// Now is the time at which this view or act began, UTC, in microseconds.
func (r *Rx) Now() dates.Instant { return r.now }

// one loads a single row; found is false when there is none.
func one[T any](r *Rx, query string, args ...any) (row T, found bool, err error) {
	if nowhere(args) {
		return row, false, nil
	}
	err = r.g.Where(query, args...).Take(&row).Error
	if errors.Is(err, gorm.ErrRecordNotFound) {
		return row, false, nil
	}
	return row, err == nil, err
}

// many loads rows in the given order.
func many[T any](r *Rx, order string, limit int, query string, args ...any) (rows []T, err error) {
	if nowhere(args) {
		return nil, nil
	}
	q := r.g.Where(query, args...).Order(order)
	if limit > 0 {
		q = q.Limit(limit)
	}
	return rows, q.Find(&rows).Error
}

// nowhere says that one of the values asked for can stand in no row: text that
// is not UTF-8, or holds NUL. PostgreSQL would refuse the question.
func nowhere(args []any) bool {
	return slices.ContainsFunc(args, func(v any) bool {
		s, text := v.(string)
		return text && (!utf8.ValidString(s) || strings.ContainsRune(s, 0))
	})
}

// lockedReader makes one source of chance safe for many goroutines.
type lockedReader struct {
	mu sync.Mutex
	r  io.Reader
}

func (l *lockedReader) Read(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.r.Read(p)
}

// gormConfig is the same for both engines: our own transactions, no log of values.
// Statements are kept prepared by the drivers, for each connection; what gorm would
// keep is prepared anew in every transaction (database/sql, Tx.StmtContext).
func gormConfig() *gorm.Config {
	return &gorm.Config{SkipDefaultTransaction: true, TranslateError: false,
		Logger: logger.Discard, DisableAutomaticPing: true}
}

// None says that there is no shop yet and none is to be made.
func None() error {
	return fault.New(fault.NotFound, "there is no shop here").
		WithHint("see that the folder is spelled right; a new shop begins with: pawl --data DIR settings --name NAME")
}

func unavailable(what string, err error) error {
	return fault.New(fault.Unavailable, "%s", what).WithHint("try again; see that the store can be reached").WithCause(err)
}

func wrapf(err error, format string, args ...any) error {
	if err == nil {
		return nil
	}
	return fmt.Errorf(format+": %w", append(args, err)...)
}

// Alone runs fn unless another process does so under the same name; ran says
// whether it did.
func (d *DB) Alone(ctx context.Context, name string, fn func() error) (ran bool, err error) {
	release, ok, err := d.engine.only(ctx, name)
	if err != nil || !ok {
		return false, err
	}
	return true, errors.Join(fn(), release())
}
