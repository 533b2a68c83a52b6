package model

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"pawl/model/backups"
	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/internal/originals"
	"pawl/model/internal/store"
)

// BackedUp is a backup that was made, or looked through.
type BackedUp struct {
	backups.List
	Copied   int64 // originals that were not there before
	Verified Verified
	lost     []string // originals that the shop itself has no more, by SHA-256
	strange  []string // files among the shop's keys that are left out, by name
}

// OK says that all of it holds.
func (b BackedUp) OK() bool { return len(b.Verified.Problems) == 0 }

// Backup writes all of the shop into a folder: records, photos and papers, keys. Into
// a folder that holds a backup of the same shop it writes what is new, and the one
// before stands until the new one is whole and on the disk. Others may write
// meanwhile. Then it checks the copy, as Verify does, and of the originals the part
// asked for. Whoever has a backup can sign in the shop's name: it holds the key.
func (s *Shop) Backup(ctx context.Context, to, part string) (b BackedUp, err error) {
	ran, err := s.db.Alone(ctx, "backup", func() error {
		b, err = s.backup(ctx, to, part)
		return err
	})
	if err == nil && !ran {
		err = fault.New(fault.Conflict, "another process is at a backup of this shop").WithHint("wait for it to end")
	}
	return b, err
}

func (s *Shop) backup(ctx context.Context, to, part string) (b BackedUp, err error) {
	if _, _, err := parsePart(part); err != nil {
		return b, err
	}
	me, err := s.identity(ctx)
	if err != nil {
		return b, err
	}
	if err := s.backupInto(ctx, to, me.ID); err != nil {
		return b, err
	}
	taken := s.clock().UTC()
	if err := s.keys.signs(me); err != nil {
		return b, err
	}
	path := recordsPath(to, taken)
	if err := s.db.Snapshot(ctx, path); err != nil {
		return b, err
	}
	if err := s.fillBackup(ctx, to, path, taken, &b); err != nil {
		return b, errors.Join(err, os.Remove(path))
	}
	if b.Verified, err = verifyBackup(ctx, to, b.List, part); err != nil {
		return b, errors.Join(err, os.Remove(path))
	}
	if len(b.strange) > 0 {
		b.Verified.Said = append(b.Verified.Said, fmt.Sprintf("Not in the backup, since no key of a shop is named so: %s in the folder keys. Keep it elsewhere, or rename it with letters, digits, dots and hyphens.", strings.Join(b.strange, ", ")))
	}
	if len(b.lost) > 0 {
		b.Verified.Said = append(b.Verified.Said, fmt.Sprintf("Originals that are lost or damaged in the shop itself: %d. All else is in the backup.", len(b.lost)))
	}
	if old, err := readList(to); err == nil && !b.OK() && !b.onlyLost() {
		// What is worse than the one before never takes its place.
		b.Verified.Said = append(b.Verified.Said, "The backup of "+old.Taken.String()+" stands as it was.")
		return b, os.Remove(path)
	}
	if err := writeDurably(to, backups.ListFile, b.String(), 0o600); err != nil {
		return b, cannotBackUp(err)
	}
	if err := dropOlder(to, b.List); err != nil || !b.OK() {
		return b, err
	}
	return b, writeDurably(s.dir, lastBackup, b.Taken.String()+"\n", 0o600)
}

// onlyLost says that nothing is wrong but originals that the shop itself has no more.
func (b BackedUp) onlyLost() bool { return onlyLost(b.Verified.Problems, b.lost) }

func onlyLost(problems, lost []string) bool {
	for _, p := range problems {
		if !slices.ContainsFunc(lost, func(sha string) bool { return strings.Contains(p, sha) }) {
			return false
		}
	}
	return true
}

// recordsPath names the file of records by the time. One of that name is that of the
// backup before, which stands until the new one is whole.
func recordsPath(to string, taken time.Time) string {
	for ; ; taken = taken.Add(time.Microsecond) {
		path := filepath.Join(to, "records-"+taken.Format("20060102T150405")+fmt.Sprintf("%06dZ.db", taken.Nanosecond()/1000))
		if _, err := os.Lstat(path); errors.Is(err, fs.ErrNotExist) {
			return path
		}
	}
}

// lastBackup is the file in the data folder that says when it was backed up last.
const lastBackup = "last-backup"

// identity is the store's own name and key.
func (s *Shop) identity(ctx context.Context) (me store.Identity, err error) {
	err = s.db.Read(ctx, func(rx *store.Rx) (err error) {
		me, _, err = rx.Identity()
		return err
	})
	return me, err
}

// backupInto makes the folder, or sees that what lies in it is a backup of this shop.
func (s *Shop) backupInto(ctx context.Context, to, id string) error {
	if liesIn(s.dir, to) {
		return fault.New(fault.Invalid, "the backup would lie in the shop's own folder, and be lost with it").WithHint("name a folder on another disk")
	}
	if err := os.MkdirAll(to, 0o700); err != nil {
		return cannotBackUp(err)
	}
	there, err := os.ReadDir(to)
	if err != nil {
		return cannotBackUp(err)
	}
	if len(there) == 0 || unfinished(there) {
		return nil
	}
	old, err := readList(to)
	if err != nil {
		return fault.New(fault.Conflict, "the folder is not empty, and holds no backup that is whole").WithHint("name a new folder, or the one of an earlier backup").WithCause(err)
	}
	if old.Store != id {
		return fault.New(fault.Conflict, "the folder holds a backup of another shop, %s", old.Shop).WithHint("name a folder of its own for each shop")
	}
	return s.goesOnFrom(ctx, old)
}

// goesOnFrom says whether the ledger here begins with all of that of a backup. One that does
// not is of before this shop was restored from an older one: to write over it would lose what
// only it has.
func (s *Shop) goesOnFrom(ctx context.Context, old backups.List) error {
	return s.db.Read(ctx, func(rx *store.Rx) error {
		size, err := rx.Size()
		if err != nil {
			return err
		}
		if size >= old.Lines {
			// What cannot be read is damaged here, and named when the copy is checked.
			if root, err := rx.Root(old.Lines); err != nil || root.String() == old.Root {
				return nil
			}
		}
		return fault.New(fault.Conflict, "the folder holds a backup of %s with %d lines, which this shop with %d does not go on from: what only that backup has would be lost", old.Taken, old.Lines, size).
			WithHint("name a new folder; this shop was restored from another backup, and that one can be restored into a folder of its own")
	})
}

// unfinished says that a folder holds only what a backup writes before its list.
func unfinished(there []os.DirEntry) bool {
	return !slices.ContainsFunc(there, func(e os.DirEntry) bool {
		name := e.Name()
		return name != backups.Originals && name != backups.Keys && !backups.IsRecords(name)
	})
}

// liesIn says whether a path leads into a folder, by whatever name.
func liesIn(dir, path string) bool {
	real := func(p string) string {
		if abs, err := filepath.Abs(p); err == nil {
			p = abs
		}
		// Of what is not there yet, the nearest folder that is.
		for rest := ""; ; p, rest = filepath.Dir(p), filepath.Join(filepath.Base(p), rest) {
			if found, err := filepath.EvalSymlinks(p); err == nil || p == filepath.Dir(p) {
				return filepath.Join(found, rest)
			}
		}
	}
	inside, err := filepath.Rel(real(dir), real(path))
	return err == nil && inside != ".." && !strings.HasPrefix(inside, "../")
}

func cannotBackUp(err error) error {
	return fault.New(fault.Unavailable, "the backup cannot be written").WithHint("look at its disk: space, rights, health").WithCause(err)
}

// readList reads the list of a backup.
func readList(dir string) (backups.List, error) {
	f, err := os.Open(filepath.Join(dir, backups.ListFile))
	if err != nil {
		return backups.List{}, fault.New(fault.NotFound, "there is no backup in that folder").WithHint("name the folder that pawl backup wrote").WithCause(err)
	}
	defer f.Close()
	text, err := io.ReadAll(io.LimitReader(f, 1<<20))
	if err != nil {
		return backups.List{}, cannotReadBackup(err)
	}
	return backups.Parse(string(text))
}

func cannotReadBackup(err error) error {
	return fault.New(fault.Unavailable, "the backup cannot be read").WithHint("look at its disk: rights, health").WithCause(err)
}

// fillBackup writes what goes with the records in the file at path, and lists it. By the
// list, which is written last and by one rename, the backup comes to be.
func (s *Shop) fillBackup(ctx context.Context, to, path string, taken time.Time, b *BackedUp) error {
	copied, err := store.OpenFile(path, store.Config{Clock: s.clock})
	if err != nil {
		return err
	}
	defer copied.Close()
	b.Taken, b.Schema = dates.InstantOf(taken), int64(store.SchemaVersion())
	err = copied.Read(ctx, func(rx *store.Rx) error {
		me, _, err := rx.Identity()
		if err != nil {
			return err
		}
		set, err := rx.Settings()
		if err != nil {
			return err
		}
		if b.Lines, err = rx.Size(); err != nil {
			return err
		}
		root, err := rx.Root(b.Lines)
		b.Store, b.Shop, b.Root = me.ID, set.Name, root.String()
		return err
	})
	if err != nil {
		return err
	}
	if err := s.copyOriginals(ctx, to, copied, b); err != nil {
		return err
	}
	if b.strange, err = s.copyKeys(to, backups.IsKey); err != nil {
		return err
	}
	b.Files, err = listFiles(to, filepath.Base(path))
	return err
}

// copyOriginals copies each original that the copied records name and that is not there
// yet, or not whole. Its bytes are held against its name on the way. One that is lost or
// damaged in the shop ends nothing: a shop that begins to lose files is to be saved.
func (s *Shop) copyOriginals(ctx context.Context, to string, copied *store.DB, b *BackedUp) error {
	kept, err := originals.Open(filepath.Join(to, backups.Originals))
	if err != nil {
		return err
	}
	return eachOriginal(ctx, copied, func(sha string) error {
		if err := kept.Check(sha); err == nil {
			f, size, err := kept.Open(sha)
			if err != nil {
				return err
			}
			b.Photos, b.Bytes = b.Photos+1, b.Bytes+size
			return f.Close()
		} else if fault.Is(err, fault.Conflict) { // it is damaged there
			if err := s.originals.Check(sha); fault.Is(err, fault.Unavailable) {
				return err // whoever does not answer has lost nothing
			} else if err != nil {
				b.lost = append(b.lost, sha)
				return nil
			}
			if err := kept.Remove(sha); err != nil {
				return err
			}
		}
		from, size, err := s.originals.Open(sha)
		if fault.Is(err, fault.NotFound) {
			b.lost = append(b.lost, sha)
			return nil
		}
		if err != nil {
			return err
		}
		defer from.Close()
		_, _, err = kept.Put(ctx, sha, from, size)
		if fault.Is(err, fault.Invalid) {
			b.lost = append(b.lost, sha)
			return nil
		}
		b.Photos, b.Bytes, b.Copied = b.Photos+1, b.Bytes+size, b.Copied+1
		return err
	})
}

// eachOriginal goes through the hashes that records name.
func eachOriginal(ctx context.Context, db *store.DB, each func(sha string) error) error {
	return eachHash(ctx, db, (*store.Rx).Originals, each)
}

func eachHash(ctx context.Context, db *store.DB, list func(rx *store.Rx, after string, limit int) ([]string, error), each func(sha string) error) error {
	for after := ""; ; {
		var batch []string
		err := db.Read(ctx, func(rx *store.Rx) (err error) {
			batch, err = list(rx, after, 500)
			return err
		})
		if err != nil || len(batch) == 0 {
			return err
		}
		for _, sha := range batch {
			if err := each(sha); err != nil {
				return err
			}
		}
		after = batch[len(batch)-1]
	}
}

// copyKeys copies the keys that are taken by their names, and says which it left out.
func (s *Shop) copyKeys(to string, takes func(name string) bool) (strange []string, err error) {
	files, err := os.ReadDir(s.keys.dir)
	if err != nil {
		return nil, fault.New(fault.Unavailable, "the signing key is not in the folder keys").WithHint("restore it before you make a backup without it").WithCause(err)
	}
	dir := filepath.Join(to, backups.Keys)
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return nil, cannotBackUp(err)
	}
	for _, f := range files {
		if !f.Type().IsRegular() || strings.HasPrefix(f.Name(), ".") {
			continue
		}
		if !takes(f.Name()) {
			strange = append(strange, strconv.Quote(f.Name()))
			continue
		}
		if err := copyKey(s.keys.dir, dir, f.Name()); err != nil {
			return nil, err
		}
	}
	return strange, nil
}

func copyKey(from, to, name string) error {
	text, err := os.ReadFile(filepath.Join(from, name))
	if there, e := os.ReadFile(filepath.Join(to, name)); e == nil && err == nil && string(there) == string(text) {
		return nil
	}
	if err == nil {
		err = writeDurably(to, name, string(text), 0o600)
	}
	if err != nil {
		return cannotBackUp(err)
	}
	return nil
}

// listFiles measures the file of records and the keys of a backup.
func listFiles(dir, records string) (all []backups.File, err error) {
	paths := []string{records}
	keys, err := os.ReadDir(filepath.Join(dir, backups.Keys))
	if err != nil {
		return nil, cannotBackUp(err)
	}
	for _, k := range keys {
		if k.Type().IsRegular() && backups.IsKey(k.Name()) { // systems leave files of their own in any folder
			paths = append(paths, backups.Keys+"/"+k.Name())
		}
	}
	for _, p := range paths {
		f, err := measure(dir, p)
		if err != nil {
			return nil, cannotBackUp(err)
		}
		all = append(all, f)
	}
	backups.Sort(all)
	return all, nil
}

func measure(dir, path string) (out backups.File, err error) {
	f, err := os.Open(filepath.Join(dir, filepath.FromSlash(path)))
	if err != nil {
		return out, err
	}
	defer f.Close()
	hash := sha256.New()
	n, err := io.Copy(hash, f)
	return backups.File{Path: path, Bytes: n, SHA256: hex.EncodeToString(hash.Sum(nil))}, err
}

// dropOlder removes the files of records that the list no longer names.
func dropOlder(dir string, l backups.List) error {
	there, err := os.ReadDir(dir)
	if err != nil {
		return cannotBackUp(err)
	}
	for _, e := range there {
		if name := e.Name(); backups.IsRecords(name) && name != l.Records().Path {
			if err := os.RemoveAll(filepath.Join(dir, name)); err != nil {
				return cannotBackUp(err)
			}
		}
	}
	return nil
}

// CheckBackup looks through a backup as Verify looks through a shop. It needs no shop.
// Its error means that it could not look.
func CheckBackup(ctx context.Context, dir, part string) (b BackedUp, err error) {
	if b.List, err = readList(dir); err != nil {
		return b, err
	}
	b.Verified, err = verifyBackup(ctx, dir, b.List, part)
	return b, err
}

// verifyBackup checks every file that a list names, and then the records in it.
func verifyBackup(ctx context.Context, dir string, l backups.List, part string) (v Verified, err error) {
	n, of, err := parsePart(part)
	if err != nil {
		return v, err
	}
	for _, want := range l.Files {
		if err := sameFile(dir, want); err != nil {
			v.Problems = append(v.Problems, fault.Of(err).Message)
		}
	}
	if len(v.Problems) > 0 {
		return v, nil
	}
	db, err := store.OpenFile(filepath.Join(dir, l.Records().Path), store.Config{Clock: systemClock})
	if err != nil {
		return v, err
	}
	defer db.Close()
	kept, err := originals.Open(filepath.Join(dir, backups.Originals))
	if err != nil {
		return v, err
	}
	copied := &Shop{db: db, originals: kept, clock: systemClock, keys: keyring{dir: filepath.Join(dir, backups.Keys)}}
	return copied.verifyWithKey(ctx, VerifyQuery{Part: part}, n, of, store.WhichRolls{Newest: store.AllRolls})
}

// sameFile holds a file of a backup against its line in the list.
func sameFile(dir string, want backups.File) error {
	got, err := measure(dir, want.Path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return fault.New(fault.Refused, "%s is not in the backup", want.Path)
	case err != nil:
		return cannotReadBackup(err)
	case got != want:
		return fault.New(fault.Refused, "%s was changed since the backup was made, or is damaged", want.Path)
	}
	return nil
}

// verifyWithKey checks a copied shop, and that the key beside it signs in its name.
func (s *Shop) verifyWithKey(ctx context.Context, q VerifyQuery, part, of uint64, rolls store.WhichRolls) (v Verified, err error) {
	if v, err = s.verify(ctx, q, part, of, rolls); err != nil {
		return v, err
	}
	me, err := s.identity(ctx)
	if err != nil {
		return v, err
	}
	if err := s.keys.signs(me); err != nil {
		v.Problems = append(v.Problems, "the signing key: "+fault.Of(err).Message)
	}
	return v, nil
}
