package model

import (
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"pawl/model/backups"
	"pawl/model/fault"
	"pawl/model/settings"
)

// stocked is a shop in a folder with a tool, a photo and a loan.
func stocked(t *testing.T) (g *garage, number string) {
	t.Helper()
	g = openGarage(t, "sqlite")
	number = g.tool(t)
	g.photograph(t, number, 1)
	if _, err := g.Take(ctx, g.boss, number, Take{To: "Tech A"}); err != nil {
		t.Fatal(err)
	}
	return g, number
}

func (g *garage) photograph(t *testing.T, number string, shade byte) {
	t.Helper()
	sha := g.upload(t, g.boss, picture(shade))
	if _, err := g.Attach(ctx, g.boss, number, attachOf("whole", sha)); err != nil {
		t.Fatal(err)
	}
}

func (g *garage) backupTo(t *testing.T, dir string) BackedUp {
	t.Helper()
	b, err := g.Backup(ctx, dir, "")
	if err != nil || !b.OK() {
		t.Fatalf("%q, %v", b.Verified.Problems, err)
	}
	return b
}

// restored opens what a backup gave back.
func restoredInto(t *testing.T, g *garage, from, dir string) *garage {
	t.Helper()
	r, err := RestoreShop(ctx, Restore{From: from, Dir: dir, Clock: g.clock.Now})
	if err != nil || !r.OK() {
		t.Fatalf("%q, %v", r.Verified.Problems, err)
	}
	back := &garage{engine: "sqlite", clock: g.clock, boss: g.boss, Options: g.Options}
	back.Dir = dir
	back.Shop = back.open(t)
	return back
}

// tables gives every row of every table, so that two shops can be compared record by
// record and hash by hash.
func (g *garage) tables(t *testing.T) map[string][]string {
	t.Helper()
	db := g.raw(t)
	defer db.Close()
	names, err := db.Query("SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%' AND name <> 'goose_db_version'")
	if err != nil {
		t.Fatal(err)
	}
	defer names.Close()
	out := map[string][]string{}
	for names.Next() {
		var name string
		if err := names.Scan(&name); err != nil {
			t.Fatal(err)
		}
		out[name] = rowsOf(t, db, name)
	}
	if len(out) < 20 {
		t.Fatalf("only %d tables", len(out))
	}
	return out
}

func rowsOf(t *testing.T, db *sql.DB, table string) (out []string) {
	t.Helper()
	rows, err := db.Query(`SELECT * FROM "` + table + `"`)
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	columns, err := rows.Columns()
	if err != nil {
		t.Fatal(err)
	}
	for rows.Next() {
		values, to := make([]any, len(columns)), make([]any, len(columns))
		for i := range values {
			to[i] = &values[i]
		}
		if err := rows.Scan(to...); err != nil {
			t.Fatal(err)
		}
		out = append(out, fmt.Sprintf("%q", values))
	}
	slices.Sort(out)
	return out
}

// differences names what one shop has otherwise than another: rows of its tables, and
// originals by the hash of the bytes that lie there.
func differences(t *testing.T, one, other *garage) (out []string) {
	t.Helper()
	was, is := one.tables(t), other.tables(t)
	for table, rows := range was {
		if !slices.Equal(rows, is[table]) {
			out = append(out, fmt.Sprintf("%s: %q and %q", table, rows, is[table]))
		}
	}
	if a, b := one.lying(t), other.lying(t); len(was) != len(is) || !maps.Equal(a, b) {
		out = append(out, fmt.Sprintf("%d tables, originals %v and %d, %v", len(was), a, len(is), b))
	}
	return out
}

// lying gives the originals in the folder, each with the hash of its bytes.
func (g *garage) lying(t *testing.T) map[string]string {
	t.Helper()
	out := map[string]string{}
	dir := filepath.Join(g.Dir, "originals")
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || !d.Type().IsRegular() {
			return err
		}
		data, err := os.ReadFile(path)
		out[strings.TrimPrefix(path, dir)] = hashOf(data)
		return err
	})
	must(t, err)
	return out
}

// However often a shop is backed up and restored, all of it comes back, record by record
// and hash by hash: 100 times at full size. The comparison can fail: it finds one row and
// one original that are changed afterwards.
func TestEveryRestoreIsEqual(t *testing.T) {
	g, number := stocked(t)
	to, restores := filepath.Join(t.TempDir(), "backup"), pawlSize(4, 10, 100)
	for i := range restores {
		t.Run(fmt.Sprint(i), func(t *testing.T) {
			_, err := g.Return(ctx, g.boss, number, Return{Condition: fmt.Sprint("used ", i, " times")})
			must(t, err)
			if i%2 == 0 {
				g.photograph(t, number, byte(10+i))
			}
			g.tool(t, owned(g.techA))
			_, err = g.Take(ctx, g.boss, number, Take{To: "Tech B", Job: fmt.Sprint("RO-", i)})
			must(t, err)
			g.clock.advance(time.Hour)
			g.backupTo(t, to)
			back := restoredInto(t, g, to, filepath.Join(t.TempDir(), "new"))
			for _, d := range differences(t, g, back) {
				t.Error(d)
			}
			if i > 0 {
				return
			}
			back.damaged = true
			if _, err := back.raw(t).Exec("UPDATE tools SET notes = 'x' WHERE number = ?", strings.ReplaceAll(number, "-", "")); err != nil {
				t.Fatal(err)
			}
			spoilOriginal(t, back, func(path string) error { return os.WriteFile(path, []byte("x"), 0o600) })
			if d := differences(t, g, back); len(d) != 2 {
				t.Errorf("a row and an original were changed, and the comparison finds %q", d)
			}
		})
	}
	t.Logf("%d restores of %d lines and %d originals at the end", restores, g.lines(t), len(g.lying(t)))
}

func TestABackupGivesAllBack(t *testing.T) {
	g, number := stocked(t)
	to := filepath.Join(t.TempDir(), "disk", "backup")
	b := g.backupTo(t, to)
	if b.Photos != 1 || b.Copied != 1 || b.Shop != "Demo garage" || b.Lines != g.lines(t) || g.LastBackup() != b.Taken {
		t.Errorf("%+v, last %s", b.List, g.LastBackup())
	}
	back := restoredInto(t, g, to, filepath.Join(t.TempDir(), "new"))
	for _, d := range differences(t, g, back) {
		t.Error(d)
	}
	// It goes on where it was: with the same key, and the loan still open.
	if _, err := back.Take(ctx, back.boss, number, Take{To: "Tech B"}); !fault.Is(err, fault.Conflict) {
		t.Errorf("a second take: %v", err)
	}
	if _, err := back.Return(ctx, back.boss, number, Return{}); err != nil {
		t.Error(err)
	}
	point, err := back.Checkpoint(ctx, back.boss)
	if err != nil || !strings.Contains(point.Key, "pawl/"+b.Store) {
		t.Errorf("%+v, %v", point, err)
	}
}

// The second backup into a folder copies only what is new, and replaces the first.
func TestABackupIsIncremental(t *testing.T) {
	g, number := stocked(t)
	to := filepath.Join(t.TempDir(), "backup")
	first := g.backupTo(t, to)
	g.photograph(t, number, 2)
	g.clock.advance(1e9)
	second := g.backupTo(t, to)
	if second.Photos != 2 || second.Copied != 1 || second.Lines <= first.Lines || second.Records().Path == first.Records().Path {
		t.Errorf("%+v after %+v", second, first)
	}
	left, err := filepath.Glob(filepath.Join(to, "records-*"))
	if err != nil || len(left) != 1 {
		t.Errorf("%q, %v", left, err)
	}
}

// Each of many bytes changed anywhere in a backup is found by whoever looks through
// it, and no restore comes of it.
func TestAFlippedByteIsFound(t *testing.T) {
	g, _ := stocked(t)
	to := filepath.Join(t.TempDir(), "backup")
	g.backupTo(t, to)
	var files []string
	if err := filepath.WalkDir(to, func(path string, d fs.DirEntry, err error) error {
		if err == nil && d.Type().IsRegular() {
			files = append(files, path)
		}
		return err
	}); err != nil || len(files) != 5 {
		t.Fatalf("%q, %v; want the list, the records, two keys and a photo", files, err)
	}
	flips := pawlSize(2, 4, 40) // of each of the five files
	for _, path := range files {
		whole, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		for i := range flips {
			at := (2*i + 1) * len(whole) / (2 * flips)
			bad := slices.Clone(whole)
			bad[at] ^= 1 << (i % 8)
			rewrite(t, path, bad)
			checked, err := CheckBackup(ctx, to, "")
			if !fault.Is(err, fault.Refused) && (err != nil || checked.OK()) {
				t.Errorf("%s, byte %d: %+v, %v", filepath.Base(path), at, checked.Verified, err)
			}
			dir := filepath.Join(t.TempDir(), "new")
			restored, err := RestoreShop(ctx, Restore{From: to, Dir: dir, Clock: g.clock.Now})
			if !fault.Is(err, fault.Refused) && (err != nil || restored.OK()) {
				t.Errorf("%s, byte %d: restored: %+v, %v", filepath.Base(path), at, restored.Verified, err)
			}
			if _, err := os.Stat(filepath.Join(dir, "pawl.db")); !errors.Is(err, fs.ErrNotExist) {
				t.Errorf("%s, byte %d: there is a shop now: %v", filepath.Base(path), at, err)
			}
		}
		rewrite(t, path, whole)
	}
	t.Logf("%d flipped bytes were found", flips*len(files))
	if checked, err := CheckBackup(ctx, to, ""); err != nil || !checked.OK() {
		t.Errorf("mended: %+v, %v", checked.Verified, err)
	}
}

func rewrite(t *testing.T, path string, data []byte) {
	t.Helper()
	if err := errors.Join(os.Chmod(path, 0o600), os.WriteFile(path, data, 0o600)); err != nil {
		t.Fatal(err)
	}
}

// A backup that is made while others write is of one moment, and holds up nobody.
func TestABackupWhileOthersWrite(t *testing.T) {
	g, number := stocked(t)
	if _, err := g.Return(ctx, g.boss, number, Return{}); err != nil {
		t.Fatal(err)
	}
	stop := g.takenAndReturned(t, number)
	root := t.TempDir()
	for i := range pawlSize(3, 5, 100) {
		to := filepath.Join(root, "backup")
		b := g.backupTo(t, to)
		if i%3 == 0 {
			back := restoredInto(t, g, to, filepath.Join(t.TempDir(), "new"))
			if n := back.lines(t); n != b.Lines {
				t.Errorf("%d lines came back of %d", n, b.Lines)
			}
		}
	}
	if acts := stop(); acts < 2 {
		t.Errorf("nobody wrote meanwhile: %d acts", acts)
	}
}

// takenAndReturned has a tool taken and returned over and over, until it is stopped, which
// gives how many acts that were.
func (g *garage) takenAndReturned(t *testing.T, number string) (stop func() (acts int)) {
	enough, done := make(chan struct{}), sync.WaitGroup{}
	acts := 0
	done.Go(func() {
		for {
			select {
			case <-enough:
				return
			default:
			}
			_, err := g.Take(ctx, g.boss, number, Take{To: "Tech A"})
			if err == nil {
				_, err = g.Return(ctx, g.boss, number, Return{})
			}
			if err != nil {
				t.Error(err)
				return
			}
			acts += 2
		}
	})
	return func() int {
		close(enough)
		done.Wait()
		return acts
	}
}

// A backup of a shop in PostgreSQL, with its originals in a bucket, is one in a folder that is
// restored as any other: the same rows, lines and bytes, of one moment, while others write.
func TestABackupOfADatabase(t *testing.T) {
	g, server, photographed := inBucket(t, "postgres")
	g.photograph(t, photographed, 70)
	for _, s := range g.script(t) {
		if _, err := s.do(g.boss); err != nil && !strings.HasSuffix(s.verb, "refused") {
			t.Fatalf("%s: %v", s.verb, err)
		}
		g.clock.advance(time.Minute)
	}
	to, was := filepath.Join(t.TempDir(), "backup"), g.everyRow(t)
	if len(filled(was)) < 20 {
		t.Fatalf("only %q hold anything", filled(was))
	}
	first := g.backupTo(t, to)
	if first.Photos < 2 || first.Copied != first.Photos || len(server.Keys(t)) < int(first.Photos) {
		t.Errorf("%d originals, %d of them copied, of %d objects", first.Photos, first.Copied, len(server.Keys(t)))
	}
	wantKept(t, was, restoredInto(t, g, to, filepath.Join(t.TempDir(), "back")).everyRow(t))
	number := g.tool(t)
	stop := g.takenAndReturned(t, number)
	second := g.backupTo(t, to)
	stop()
	if second.Copied != 0 || second.Lines <= first.Lines || second.Lines > g.lines(t) {
		t.Errorf("the second has %d lines and copied %d; the first had %d", second.Lines, second.Copied, first.Lines)
	}
	if there, err := filepath.Glob(filepath.Join(to, "records-*")); err != nil || len(there) != 1 {
		t.Errorf("in the folder: %q, %v", there, err)
	}
	restoredInto(t, g, to, filepath.Join(t.TempDir(), "again"))
}

func TestABackupIsRefused(t *testing.T) {
	g, _ := stocked(t)
	other := &garage{engine: "sqlite", clock: g.clock, boss: g.boss, Options: g.Options}
	other.Dir, other.Chance = t.TempDir(), rand.NewChaCha8([32]byte{8})
	other.Shop = other.open(t)
	taken, full := filepath.Join(t.TempDir(), "taken"), t.TempDir()
	other.backupTo(t, taken)
	rewriteNew(t, filepath.Join(full, "letter.txt"))
	for what, c := range map[string]struct {
		to, says string
		kind     fault.Kind
	}{
		"into the shop itself":        {filepath.Join(g.Dir, "backup"), "own folder", fault.Invalid},
		"the shop's own folder":       {g.Dir, "own folder", fault.Invalid},
		"over another shop's":         {taken, "another shop", fault.Conflict},
		"into a folder of other uses": {full, "not empty", fault.Conflict},
	} {
		t.Run(what, func(t *testing.T) {
			_, err := g.Backup(ctx, c.to, "")
			wantFault(t, err, c.kind, c.says)
		})
	}
	link := filepath.Join(t.TempDir(), "link")
	if err := os.Symlink(g.Dir, link); err != nil {
		t.Fatal(err)
	}
	_, err := g.Backup(ctx, filepath.Join(link, "deep", "backup"), "")
	wantFault(t, err, fault.Invalid, "own folder")
	_, err = g.Backup(ctx, filepath.Join(t.TempDir(), "x"), "4/3")
	wantFault(t, err, fault.Invalid, "4/3")
}

func rewriteNew(t *testing.T, path string) {
	t.Helper()
	if err := os.WriteFile(path, []byte("Dear all"), 0o600); err != nil {
		t.Fatal(err)
	}
}

// A shop in the way is put aside only by its name, and only when nobody has it open.
func TestARestoreOverAShop(t *testing.T) {
	g, _ := stocked(t)
	to := filepath.Join(t.TempDir(), "backup")
	b := g.backupTo(t, to)
	dir := filepath.Join(t.TempDir(), "new")
	back := restoredInto(t, g, to, dir)
	later := back.tool(t)

	_, err := RestoreShop(ctx, Restore{From: to, Dir: dir, Confirm: "Demo garage", Clock: g.clock.Now})
	wantFault(t, err, fault.Unavailable, "open")
	if err := back.Close(); err != nil {
		t.Fatal(err)
	}
	_, err = RestoreShop(ctx, Restore{From: to, Dir: dir, Clock: g.clock.Now})
	wantFault(t, err, fault.Conflict, "Demo garage")
	_, err = RestoreShop(ctx, Restore{From: to, Dir: dir, Confirm: "Other garage", Clock: g.clock.Now})
	wantFault(t, err, fault.Conflict, "Other garage")
	r, err := RestoreShop(ctx, Restore{From: to, Dir: dir, Confirm: "demo Garage", Clock: g.clock.Now})
	if err != nil || r.Before == "" {
		t.Fatalf("%+v, %v", r, err)
	}
	g2 := &garage{engine: "sqlite", clock: g.clock, boss: g.boss, Options: back.Options}
	g2.Shop = g2.open(t)
	if n := g2.lines(t); n != b.Lines {
		t.Errorf("%d lines, want %d", n, b.Lines)
	}
	aside := &garage{engine: "sqlite", clock: g.clock, boss: g.boss, Options: back.Options}
	aside.Dir = filepath.Join(dir, r.Before)
	aside.Shop = aside.open(t)
	if _, err := aside.Tool(ctx, g.boss, later); err != nil {
		t.Errorf("what made way lost a tool: %v", err)
	}
	g.damaged, back.damaged = false, true // back is closed and gone
}

func TestARestoreOfNoBackup(t *testing.T) {
	_, err := RestoreShop(ctx, Restore{From: t.TempDir(), Dir: filepath.Join(t.TempDir(), "x")})
	wantFault(t, err, fault.NotFound, "no backup")
	_, err = CheckBackup(ctx, t.TempDir(), "")
	wantFault(t, err, fault.NotFound, "no backup")
	dir := t.TempDir()
	rewriteNew(t, filepath.Join(dir, "letter.txt"))
	g, _ := stocked(t)
	to := filepath.Join(t.TempDir(), "backup")
	g.backupTo(t, to)
	_, err = RestoreShop(ctx, Restore{From: to, Dir: dir})
	wantFault(t, err, fault.Conflict, "not empty")
	if err := os.Remove(filepath.Join(to, backups.ListFile)); err != nil {
		t.Fatal(err)
	}
	_, err = CheckBackup(ctx, to, "")
	wantFault(t, err, fault.NotFound, "no backup")
}

// What is worse never takes the place of a backup that holds: a key that is gone, records
// that were changed. Lost originals are named, and all else is saved.
func TestABackupIsNeverMadeWorse(t *testing.T) {
	key := func(g *garage) string { return filepath.Join(g.Dir, "keys", keyFile) }
	t.Run("an empty key", func(t *testing.T) {
		g, _ := stocked(t)
		to := filepath.Join(t.TempDir(), "backup")
		g.backupTo(t, to)
		rewrite(t, key(g), nil)
		_, err := g.Backup(ctx, to, "")
		wantFault(t, err, fault.Refused, "does not sign")
		restoredInto(t, g, to, filepath.Join(t.TempDir(), "new"))
	})
	t.Run("a backup whose key is another's", func(t *testing.T) {
		g, _ := stocked(t)
		to := filepath.Join(t.TempDir(), "backup")
		b := g.backupTo(t, to)
		other := emptyGarage(t, "sqlite")
		theirs, err := os.ReadFile(key(other))
		must(t, err)
		rewrite(t, filepath.Join(to, "keys", keyFile), theirs)
		b.Files, err = listFiles(to, b.Records().Path)
		must(t, err)
		rewrite(t, filepath.Join(to, backups.ListFile), []byte(b.String()))
		if c, err := CheckBackup(ctx, to, ""); err != nil || c.OK() || !strings.Contains(c.Verified.Problems[0], "signing key") {
			t.Errorf("%q, %v", c.Verified.Problems, err)
		}
	})
	t.Run("records that were changed", func(t *testing.T) {
		g, _ := stocked(t)
		to := filepath.Join(t.TempDir(), "backup")
		first := g.backupTo(t, to)
		if _, err := g.raw(t).Exec("UPDATE tools SET kind = 'lift'"); err != nil {
			t.Fatal(err)
		}
		g.damaged = true
		g.clock.advance(1e9)
		b, err := g.Backup(ctx, to, "")
		if err != nil || b.OK() {
			t.Fatalf("%+v, %v", b.Verified, err)
		}
		if c, err := CheckBackup(ctx, to, ""); err != nil || !c.OK() || c.Taken != first.Taken {
			t.Errorf("%+v, %v", c, err)
		}
	})
	t.Run("an original that is lost, one that is damaged there", func(t *testing.T) {
		g, _, lost, whole := withALostPhoto(t)
		to := filepath.Join(t.TempDir(), "backup")
		for range 2 {
			b, err := g.Backup(ctx, to, "")
			if err != nil || b.OK() || len(b.Verified.Problems) != 1 || !strings.Contains(b.Verified.Problems[0], lost) || b.Photos != 1 {
				t.Fatalf("%+v, %v", b, err)
			}
			rewrite(t, filepath.Join(to, "originals", whole[:2], whole[2:]), []byte("bit rot")) // and is copied anew
		}
	})
	t.Run("a try that was broken off", func(t *testing.T) {
		g, _ := stocked(t)
		to := filepath.Join(t.TempDir(), "backup")
		g.backupTo(t, to)
		must(t, os.Remove(filepath.Join(to, backups.ListFile)))
		g.backupTo(t, to)
	})
}

// A restore that was broken off between its renames is done again.
func TestARestoreThatWasBrokenOff(t *testing.T) {
	g, _ := stocked(t)
	to, dir := filepath.Join(t.TempDir(), "backup"), filepath.Join(t.TempDir(), "new")
	g.backupTo(t, to)
	must(t, os.MkdirAll(filepath.Join(dir, "keys"), 0o700))
	must(t, os.MkdirAll(filepath.Join(dir, "originals", "aa"), 0o700))
	must(t, os.MkdirAll(filepath.Join(dir, restoring, "keys"), 0o700))
	restoredInto(t, g, to, dir)
}

// The shop in the way is known by the name that it has by now, also when that is still in
// the log of its records.
func TestARestoreReadsTheLog(t *testing.T) {
	g, _ := stocked(t)
	to := filepath.Join(t.TempDir(), "backup")
	g.backupTo(t, to)
	set, err := g.Settings(ctx)
	must(t, err)
	if _, err := g.ChangeSettings(ctx, g.boss, set.Rev, settings.Change{Name: ptr("Crash garage")}); err != nil {
		t.Fatal(err)
	}
	// What a server that was killed leaves: the file, and its log.
	dir := t.TempDir()
	for _, name := range []string{"pawl.db", "pawl.db-wal"} {
		text, err := os.ReadFile(filepath.Join(g.Dir, name))
		must(t, err)
		must(t, os.WriteFile(filepath.Join(dir, name), text, 0o600))
	}
	_, err = RestoreShop(ctx, Restore{From: to, Dir: dir, Clock: g.clock.Now})
	wantFault(t, err, fault.Conflict, "Crash garage")
	if r, err := RestoreShop(ctx, Restore{From: to, Dir: dir, Confirm: "Crash garage", Clock: g.clock.Now}); err != nil || !r.OK() {
		t.Errorf("%+v, %v", r, err)
	}
}
