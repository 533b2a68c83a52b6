package model

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"pawl/model/backups"
	"pawl/model/fault"
	"pawl/model/internal/originals"
	"pawl/model/internal/store"
)

// Move says from where a shop goes, and where to.
type Move struct {
	From Options // as it is opened where it stands
	To   string  // a folder, or postgres://…

	// Originals is where photos and papers go: s3://BUCKET/PREFIX. Empty: into the folder of
	// a shop that goes into a folder; where they are, for one that goes to PostgreSQL.
	Originals string

	step func(name string) // told of each step that is done; nil: nobody
}

// Moved is a shop that was moved.
type Moved struct {
	Shop      string
	To        string // as it was named, without any secret
	Originals string // where they are now, in words
	Lines     int64  // in its ledger
	Root      string // of that ledger
	Rows      int64  // that came over, of all tables
	Photos    int64  // originals that it names
	Copied    int64  // of them, those that were not there before
	Verified  Verified
	lost      []string
}

// OK says that the shop stands where it was to go.
func (m Moved) OK() bool { return onlyLost(m.Verified.Problems, m.lost) }

// Steps of a move, in their order. Until "left", the shop stands where it was and the one
// that is being filled opens for nobody; from then on the old one opens for nobody, and the
// new one as soon as "settled" is done. At no moment do both stand.
const (
	stepArrived  = "arrived"  // the new store is named, and says that it is being filled
	stepCopied   = "copied"   // keys and originals are there
	stepCarried  = "carried"  // and every row
	stepVerified = "verified" // and all of it holds
	stepLeft     = "left"     // the old store says where the shop went
	stepSettled  = "settled"  // the new one stands
)

// MoveShop moves a shop to another engine or another folder: the same lines with the same
// hashes, the same checkpoints, the same key; sessions, tokens and replay keys hold on.
// Nobody else may have it open meanwhile. Where it goes must be empty, or hold what an
// earlier move of the same shop left when it was broken off, which is then begun again.
// What is moved is verified where it went before the shop leaves its old place. What is
// left behind stays as it was, and says where the shop is.
func MoveShop(ctx context.Context, in Move) (out Moved, err error) {
	if in.From.Clock == nil {
		in.From.Clock = systemClock
	}
	if in.step == nil {
		in.step = func(string) {}
	}
	m, err := in.open(ctx)
	if err != nil {
		return out, err
	}
	defer func() { err = errors.Join(err, m.close()) }()
	if m.me.MovedTo != "" {
		return m.again(ctx)
	}
	return m.all(ctx)
}

// moving is a move under way.
type moving struct {
	Move
	from, to *Shop
	me       store.Identity // of the shop where it stands
	target   Options
	where    originals.Location // of its originals where it goes
	out      Moved
}

// open opens both ends, each for itself alone.
func (in Move) open(ctx context.Context) (m *moving, err error) {
	m = &moving{Move: in}
	if err := m.aim(); err != nil {
		return nil, err
	}
	if m.from, err = in.end(ctx, in.From, store.Leaving); err != nil {
		return nil, err
	}
	if m.me, err = m.from.identity(ctx); err == nil && m.me.ID == "" {
		err = store.None()
	}
	if err == nil && m.me.MovedTo != "" && m.me.MovedTo != m.out.To {
		err = fault.New(fault.Refused, "this shop moved to %s", m.me.MovedTo).WithHint("move it from there")
	}
	if err == nil {
		err = m.openOriginals(ctx)
	}
	if err == nil {
		m.to, err = in.end(ctx, m.target, store.Arriving)
	}
	if err == nil {
		m.to.originals, err = openOriginals(m.where, m.to.dir, m.me.ID, m.target)
	}
	if err != nil {
		return nil, errors.Join(err, m.close())
	}
	return m, nil
}

// end opens the records of one end.
func (in Move) end(ctx context.Context, o Options, as store.Moving) (*Shop, error) {
	c := o.store()
	c.Alone, c.Moving, c.Existing = true, as, as != store.Arriving
	db, err := store.Open(ctx, c)
	if err != nil {
		return nil, err
	}
	return &Shop{db: db, dir: o.Dir, clock: o.Clock, keys: keyring{dir: filepath.Join(o.Dir, "keys")}}, nil
}

func (m *moving) close() (err error) {
	for _, s := range []*Shop{m.to, m.from} {
		if s != nil {
			err = errors.Join(err, s.db.Close())
		}
	}
	return err
}

// aim reads where the shop is to go.
func (m *moving) aim() error {
	m.target = m.From
	if isURL(m.To) {
		u, err := url.Parse(m.To)
		if err != nil {
			return fault.New(fault.Invalid, "--to is no URL of a database").WithHint("write postgres://USER@HOST/NAME; the password comes from PGPASSWORD or a password file")
		}
		m.target.Database, m.out.To = m.To, u.Redacted()
		if m.From.Database == m.To {
			return sameEnds()
		}
		return nil
	}
	dir, err := filepath.Abs(m.To)
	if err != nil || m.To == "" {
		return fault.New(fault.Invalid, "the place to move to is not named").WithHint("give --to FOLDER, or --to postgres://USER@HOST/NAME")
	}
	if m.From.Database == "" && (liesIn(m.From.Dir, dir) || liesIn(dir, m.From.Dir)) {
		return sameEnds()
	}
	m.target.Dir, m.target.Database, m.out.To = dir, "", dir
	return mayFill(dir)
}

func isURL(to string) bool {
	return strings.HasPrefix(to, "postgres://") || strings.HasPrefix(to, "postgresql://")
}

func sameEnds() error {
	return fault.New(fault.Invalid, "the shop stands there, or its folder would lie in the other").WithHint("name an empty folder, database or schema elsewhere")
}

// mayFill refuses a folder that holds anything but what a move leaves which is broken off
// early. A store that is there says for itself whether it may be filled.
func mayFill(dir string) error {
	there, err := os.ReadDir(dir)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return fault.New(fault.Unavailable, "the folder to move to cannot be read").WithHint("see its rights").WithCause(err)
	}
	if slices.ContainsFunc(there, func(e os.DirEntry) bool { return e.Name() == store.FileName }) {
		return nil
	}
	ours := []string{backups.Keys, backups.Originals, "incoming"}
	for _, e := range there {
		name := e.Name()
		if !slices.Contains(ours, name) && !strings.HasSuffix(name, ".lock") {
			return fault.New(fault.Conflict, "the folder to move to is not empty: it holds %.60q", name).WithHint("name a new folder")
		}
	}
	return nil
}

// openOriginals opens those of the shop where it stands, and says where they go.
func (m *moving) openOriginals(ctx context.Context) (err error) {
	is, err := originals.ParseLocation(m.me.Originals)
	if err != nil {
		return err
	}
	if m.where, err = originals.ParseLocation(m.Originals); err != nil {
		return err
	}
	if m.Originals == "" && m.target.Database != "" {
		m.where = is
	}
	m.out.Originals = m.where.Words()
	if m.from.originals, err = openOriginals(is, m.from.dir, m.me.ID, m.From); err != nil {
		return err
	}
	if b, err := openOriginals(m.where, m.target.Dir, m.me.ID, m.target); err != nil {
		return err
	} else if b, remote := b.(*originals.Bucket); remote && is != m.where {
		return createsOnly(ctx, b)
	}
	return nil
}

// createsOnly refuses a bucket in which an original could be put over unseen.
func createsOnly(ctx context.Context, b *originals.Bucket) error {
	look, err := b.Look(ctx)
	if err == nil && !look.CreateOnly {
		err = fault.New(fault.Refused, "%s takes a second put under one name, over the first", b.Location).
			WithHint("use a server that honours If-None-Match, or switch it on")
	}
	return err
}

// all does every step.
func (m *moving) all(ctx context.Context) (Moved, error) {
	if err := m.from.keys.signs(m.me); err != nil {
		return m.out, err
	}
	if err := m.measure(ctx); err != nil {
		return m.out, err
	}
	for _, s := range []struct {
		name string
		do   func(context.Context) error
	}{
		{stepArrived, m.arrive}, {stepCopied, m.copy}, {stepCarried, m.carry}, {stepVerified, m.verify}, {stepLeft, m.leave}, {stepSettled, m.settle},
	} {
		if err := ctx.Err(); err != nil && s.name != stepSettled {
			return m.out, fault.New(fault.Unavailable, "the move was broken off; the shop stands where it was").WithHint("run the same pawl move again").WithCause(err)
		}
		if err := s.do(ctx); err != nil || s.name == stepVerified && !m.out.OK() {
			return m.out, err
		}
		m.step(s.name)
	}
	return m.out, nil
}

// measure says how far the ledger goes that is moved.
func (m *moving) measure(ctx context.Context) error {
	return m.from.db.Read(ctx, func(rx *store.Rx) error {
		set, err := rx.Settings()
		if err != nil {
			return err
		}
		if m.out.Lines, err = rx.Size(); err != nil {
			return err
		}
		root, err := rx.Root(m.out.Lines)
		m.out.Shop, m.out.Root = set.Name, root.String()
		return err
	})
}

func writeMove(ctx context.Context, db *store.DB, do func(*store.Tx) error) error {
	_, err := store.Write(ctx, db, store.Act{Verb: "move"}, func(tx *store.Tx) (bool, error) { return true, do(tx) })
	return err
}

func (m *moving) arrive(ctx context.Context) error {
	who := m.me
	who.Originals, who.MovingFrom = m.where.String(), placeOf(m.From)
	return writeMove(ctx, m.to.db, func(tx *store.Tx) error { return tx.Arrive(who) })
}

// placeOf names the place where a shop is kept, without any secret.
func placeOf(o Options) string {
	if u, err := url.Parse(o.Database); err == nil && o.Database != "" {
		return u.Redacted()
	}
	if dir, err := filepath.Abs(o.Dir); err == nil {
		return dir
	}
	return o.Dir
}

// copy brings the keys, and each original that a record or an upload names.
func (m *moving) copy(ctx context.Context) error {
	if m.to.dir != m.from.dir {
		if err := m.copyKeys(); err != nil {
			return err
		}
	}
	each := func(sha string) error { return m.copyOriginal(ctx, sha) }
	if err := eachOriginal(ctx, m.from.db, each); err != nil {
		return err
	}
	return eachHash(ctx, m.from.db, (*store.Rx).Uploads, func(sha string) error {
		// What no record names is not read again when all of it is verified.
		if err := each(sha); err != nil || slices.Contains(m.out.lost, sha) {
			return err
		}
		return m.to.originals.Check(sha)
	})
}

// copyKeys copies the keys, unless others are there.
func (m *moving) copyKeys() error {
	other, err := os.ReadFile(filepath.Join(m.to.keys.dir, keyFile))
	if err == nil {
		mine, err := os.ReadFile(filepath.Join(m.from.keys.dir, keyFile))
		if err != nil || string(other) != string(mine) {
			return fault.New(fault.Conflict, "there is another shop's key where this one is to go").WithHint("name a new folder")
		}
	}
	_, err = m.from.copyKeys(m.to.dir, func(string) bool { return true })
	return err
}

// copyOriginal brings one original. One that the shop has no more, or not as it was, keeps
// nobody from moving: it is said, and named by verify there as here.
func (m *moving) copyOriginal(ctx context.Context, sha string) error {
	m.out.Photos++
	if m.me.Originals == m.where.String() && (m.where.Bucket != "" || m.to.dir == m.from.dir) {
		if err := m.from.originals.Check(sha); fault.Is(err, fault.NotFound) || fault.Is(err, fault.Conflict) {
			m.out.lost = append(m.out.lost, sha)
		} else if err != nil {
			return err
		}
		return nil
	}
	from, size, err := m.from.originals.Open(sha)
	if fault.Is(err, fault.NotFound) {
		m.out.lost = append(m.out.lost, sha)
		return nil
	}
	if err != nil {
		return err
	}
	defer from.Close()
	_, created, err := m.to.originals.Put(ctx, sha, from, size)
	if fault.Is(err, fault.Invalid) { // its bytes are not those of its name
		m.out.lost = append(m.out.lost, sha)
		return nil
	}
	if created {
		m.out.Copied++
	}
	return err
}

func (m *moving) carry(ctx context.Context) (err error) {
	m.out.Rows, err = m.to.db.Carry(ctx, m.from.db)
	return err
}

// verify checks all of it where it went, and that it is what was to go.
func (m *moving) verify(ctx context.Context) (err error) {
	v, err := m.to.verifyWithKey(ctx, VerifyQuery{}, 1, 1, store.WhichRolls{Newest: store.AllRolls})
	if err != nil {
		return err
	}
	if v.Size != m.out.Lines || v.Root != m.out.Root {
		v.Problems = append(v.Problems, fmt.Sprintf("the ledger there has %d lines with the root %s, and should have %d with %s", v.Size, v.Root, m.out.Lines, m.out.Root))
	}
	if len(m.out.lost) > 0 {
		v.Said = append(v.Said, fmt.Sprintf("Originals that were lost or damaged before: %d. All else has moved.", len(m.out.lost)))
	}
	m.out.Verified = v
	return nil
}

func (m *moving) leave(ctx context.Context) error {
	return writeMove(ctx, m.from.db, func(tx *store.Tx) error { return tx.Leave(m.out.To, m.out.Lines) })
}

// settle is done even if nobody waits for it any more: the shop has left its old place.
func (m *moving) settle(context.Context) error {
	return writeMove(context.Background(), m.to.db, (*store.Tx).Settle)
}

// again ends a move that was broken off after the shop had left, and says of one that was
// done that it is. What is there must be the ledger that left; it may have gone on since.
func (m *moving) again(ctx context.Context) (Moved, error) {
	if err := m.measure(ctx); err != nil {
		return m.out, err
	}
	err := m.to.db.Read(ctx, func(rx *store.Rx) error {
		there, _, err := rx.Identity()
		if err != nil {
			return err
		}
		size, err := rx.Size()
		if err != nil {
			return err
		}
		if there.ID != m.me.ID || size < m.out.Lines {
			return notThere(m.out.To)
		}
		root, err := rx.Root(m.out.Lines)
		if err == nil && root.String() != m.out.Root {
			return notThere(m.out.To)
		}
		m.out.Originals = originalsIn(there)
		return err
	})
	if err != nil {
		return m.out, err
	}
	return m.out, m.settle(ctx)
}

func notThere(to string) error {
	return fault.New(fault.Refused, "the shop left for %s, and what is there is not it", to).WithHint("see that --to names the same place; or restore a backup")
}

func originalsIn(me store.Identity) string {
	at, err := originals.ParseLocation(me.Originals)
	if err != nil {
		return me.Originals
	}
	return at.Words()
}
