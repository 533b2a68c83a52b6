package model

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"pawl/model/backups"
	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/internal/originals"
	"pawl/model/internal/store"
	"pawl/model/names"
)

// Restore says which backup goes where.
type Restore struct {
	From    string // folder of the backup
	Dir     string // data folder
	Confirm string // name of the shop that is there and makes way; empty = the folder is empty
	Clock   func() time.Time

	// Where photos and papers go; see Options.
	Originals string
	Env       func(string) string
}

// Restored is a shop that was restored.
type Restored struct {
	BackedUp
	Before string // folder within the data folder where what made way lies; empty = nothing did
}

// restoring is where a restore builds, within the data folder, so that what lies there
// comes into its place by renames on one disk. The file of records comes last: until
// then there is no shop.
const restoring = "restoring"

// RestoreShop brings a backup back into a data folder that is empty, or whose shop is
// confirmed by name; that one is put aside and kept. All of the backup is checked
// before anything comes into its place. The ledger goes on from where the backup was
// taken: what was recorded later is not in it, and checkpoints given out later no
// longer hold.
func RestoreShop(ctx context.Context, in Restore) (out Restored, err error) {
	if in.Clock == nil {
		in.Clock = systemClock
	}
	if out.List, err = readList(in.From); err != nil {
		return out, err
	}
	if err := os.MkdirAll(in.Dir, 0o700); err != nil {
		return out, cannotRestore(err)
	}
	release, err := store.Claim(in.Dir)
	if err != nil {
		return out, err
	}
	defer release()
	there, err := mayRestore(ctx, in)
	if err != nil {
		return out, err
	}
	stage := filepath.Join(in.Dir, restoring)
	if err := os.RemoveAll(stage); err != nil {
		return out, cannotRestore(err)
	}
	defer os.RemoveAll(stage)
	if out.Verified, err = build(ctx, in, stage, out.List); err != nil || !out.OK() {
		return out, err
	}
	if len(there) > 0 {
		out.Before = beforeName(in.Dir, in.Clock().UTC())
		if err := moveAll(in.Dir, filepath.Join(in.Dir, out.Before), there); err != nil {
			return out, err
		}
	}
	parts := []string{backups.Keys, backups.Originals, store.FileName}
	if in.Originals != "" {
		parts = slices.Delete(parts, 1, 2) // they are in their bucket already
	}
	return out, moveAll(stage, in.Dir, parts)
}

func cannotRestore(err error) error {
	return fault.New(fault.Unavailable, "the data folder cannot be written").WithHint("look at its disk: space, rights, health").WithCause(err)
}

// beforeName names the folder for what makes way. What a restore of the same second put
// aside stays as it is.
func beforeName(dir string, now time.Time) string {
	for ; ; now = now.Add(time.Second) {
		name := "before-" + now.Format("20060102T150405Z")
		if _, err := os.Lstat(filepath.Join(dir, name)); errors.Is(err, fs.ErrNotExist) {
			return name
		}
	}
}

// mayRestore lists what is in the data folder and would make way, or refuses.
func mayRestore(ctx context.Context, in Restore) (there []string, err error) {
	all, err := os.ReadDir(in.Dir)
	if err != nil {
		return nil, cannotRestore(err)
	}
	for _, e := range all {
		if name := e.Name(); name != restoring && !strings.HasSuffix(name, ".lock") && !strings.HasPrefix(name, "before-") {
			there = append(there, name)
		}
	}
	if len(there) == 0 {
		return nil, nil
	}
	if half(there) {
		return there, nil
	}
	name, err := shopIn(ctx, in)
	switch {
	case err != nil && in.Confirm == "":
		return nil, fault.New(fault.Conflict, "the data folder is not empty").WithHint("name a new folder with --data").WithCause(err)
	case err != nil:
		return nil, fault.New(fault.Conflict, "the data folder is not empty, and the shop in it cannot be read to confirm its name").
			WithHint("restore into a new folder with --data").WithCause(err)
	case in.Confirm == "":
		return nil, fault.New(fault.Conflict, "there is a shop in the data folder: %s", name).
			WithHint("restore into a new folder with --data; or, to put that shop aside: --confirm %q", name)
	case names.Key(in.Confirm) != names.Key(name):
		return nil, fault.New(fault.Conflict, "the shop in the data folder is %q, not %q", name, in.Confirm).WithHint("restore into a new folder with --data")
	}
	return there, nil
}

// half says that a folder holds only what a restore puts there before the records: one that
// was broken off, and is no shop.
func half(there []string) bool {
	return !slices.ContainsFunc(there, func(name string) bool { return name != backups.Keys && name != backups.Originals })
}

// shopIn is the name of the shop that is in the way.
func shopIn(ctx context.Context, in Restore) (name string, err error) {
	if _, err := os.Stat(filepath.Join(in.Dir, store.FileName)); err != nil {
		return "", err
	}
	db, err := store.OpenClaimed(in.Dir, store.Config{Clock: in.Clock})
	if err != nil {
		return "", err
	}
	return name, errors.Join(db.Read(ctx, func(rx *store.Rx) (err error) {
		name, err = rx.ShopName()
		return err
	}), db.Close())
}

// build puts a shop together in a folder of its own and checks it, brought up to date.
func build(ctx context.Context, in Restore, stage string, l backups.List) (v Verified, err error) {
	if err := os.MkdirAll(filepath.Join(stage, backups.Keys), 0o700); err != nil {
		return v, cannotRestore(err)
	}
	for i, f := range l.Files {
		to := filepath.Join(stage, filepath.FromSlash(f.Path))
		if i == 0 {
			to = filepath.Join(stage, store.FileName)
		}
		if err := copyFile(filepath.Join(in.From, filepath.FromSlash(f.Path)), to); err != nil {
			return v, err
		}
		if err := sameCopy(to, f); err != nil {
			v.Problems = append(v.Problems, fault.Of(err).Message)
		}
	}
	if len(v.Problems) > 0 {
		return v, nil
	}
	s, err := open(ctx, Options{Dir: stage, Existing: true, Program: "pawl restore", Clock: in.Clock, Originals: in.Originals, Env: in.Env, anew: true})
	if err != nil {
		return v, err
	}
	lost, err := s.takeOriginals(ctx, in.From, l, &v)
	if err != nil || len(v.Problems) > 0 {
		return v, errors.Join(err, s.Close())
	}
	v, err = s.verifyWithKey(ctx, VerifyQuery{}, 1, 1, store.WhichRolls{Newest: store.AllRolls})
	if err == nil {
		err = s.sameLedger(ctx, l, &v)
	}
	if len(v.Problems) > 0 && onlyLost(v.Problems, lost) {
		v.Said, v.Problems = append(v.Said, saidLost(lost)...), nil
	}
	return v, errors.Join(err, s.Close())
}

// saidLost tells of originals that were lost before the backup was made.
func saidLost(lost []string) (said []string) {
	if len(lost) == 0 {
		return nil
	}
	said = []string{fmt.Sprintf("Originals that the shop had lost already when the backup was made: %d. All else came back; pawl verify and pawl doctor name these until they are found.", len(lost))}
	const named = 20
	for _, sha := range lost[:min(named, len(lost))] {
		said = append(said, "lost before the backup: original "+sha)
	}
	return said
}

// sameLedger holds the ledger against what the list says of it. What brought the store
// up to date may have added lines.
func (s *Shop) sameLedger(ctx context.Context, l backups.List, v *Verified) error {
	return s.db.Read(ctx, func(rx *store.Rx) error {
		if v.Size < l.Lines {
			v.Problems = append(v.Problems, "its ledger is shorter than the list says")
			return nil
		}
		root, err := rx.Root(l.Lines)
		if err == nil && root.String() != l.Root {
			v.Problems = append(v.Problems, "its ledger is not the one that the list names")
		}
		return err
	})
}

func copyFile(from, to string) (err error) {
	r, err := os.Open(from)
	if errors.Is(err, fs.ErrNotExist) {
		return nil // said when it is held against the list
	}
	if err != nil {
		return cannotReadBackup(err)
	}
	defer r.Close()
	w, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return cannotRestore(err)
	}
	if _, err := io.Copy(w, r); err != nil {
		return errors.Join(cannotRestore(err), w.Close())
	}
	if err := errors.Join(w.Sync(), w.Close()); err != nil {
		return cannotRestore(err)
	}
	return nil
}

// sameCopy holds a copied file against its line in the list.
func sameCopy(path string, want backups.File) error {
	got, err := measure(filepath.Dir(path), filepath.Base(path))
	got.Path = want.Path
	if errors.Is(err, fs.ErrNotExist) {
		return fault.New(fault.Refused, "%s is not in the backup", want.Path)
	}
	if err == nil && got != want {
		err = fault.New(fault.Refused, "%s was changed since the backup was made, or is damaged", want.Path)
	}
	return err
}

// takeOriginals copies every original that the records name out of a backup. One that is
// missing or damaged there is a problem, unless the backup has all that it had when it was
// made: then the shop had lost it before, and all else is to come back none the less.
func (s *Shop) takeOriginals(ctx context.Context, from string, l backups.List, v *Verified) (lost []string, err error) {
	kept, err := originals.Open(filepath.Join(from, backups.Originals))
	if err != nil {
		return nil, err
	}
	photos, bytes := int64(0), int64(0)
	err = eachOriginal(ctx, s.db, func(sha string) error {
		f, size, err := kept.Open(sha)
		if err == nil {
			_, _, err = s.originals.Put(ctx, sha, f, size)
			f.Close()
		}
		if fault.Is(err, fault.NotFound) || fault.Is(err, fault.Invalid) || fault.Is(err, fault.TooLarge) {
			lost = append(lost, sha)
			return nil
		}
		photos, bytes = photos+1, bytes+size
		return err
	})
	if err == nil && (photos != l.Photos || bytes != l.Bytes) {
		for _, sha := range lost {
			v.Problems = append(v.Problems, "original "+sha+": it is missing from the backup, or damaged in it")
		}
	}
	return lost, err
}

// moveAll renames entries of one folder into another, in their order.
func moveAll(from, to string, entries []string) error {
	if err := os.MkdirAll(to, 0o700); err != nil {
		return cannotRestore(err)
	}
	for _, name := range entries {
		if err := os.Rename(filepath.Join(from, name), filepath.Join(to, name)); err != nil {
			return cannotRestore(err)
		}
		if err := errors.Join(syncDir(to), syncDir(from)); err != nil {
			return cannotRestore(err)
		}
	}
	return nil
}

func syncDir(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}

// LastBackup is when the shop was backed up last, by the note that Backup leaves in the
// data folder; 0 = never, as far as is known.
func (s *Shop) LastBackup() dates.Instant {
	text, err := os.ReadFile(filepath.Join(s.dir, lastBackup))
	if err != nil {
		return 0
	}
	t, err := time.Parse(time.RFC3339Nano, strings.TrimSpace(string(text)))
	if err != nil {
		return 0
	}
	return dates.InstantOf(t)
}
