package model

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"pawl/model/backups"
	"pawl/model/fault"
)

// A backup is of one folder: what lies in it or beside it under like names is somebody's
// own and stays, and a file that a system or a person left among the keys spoils no list.
func TestABackupTouchesOnlyItsOwn(t *testing.T) {
	t.Run("a folder whose name reads as a pattern of another's", func(t *testing.T) {
		g, _ := stocked(t)
		root := t.TempDir()
		g.backupTo(t, filepath.Join(root, "disk1"))
		g.clock.advance(time.Second)
		for range 2 {
			g.backupTo(t, filepath.Join(root, "disk[1]"))
			g.clock.advance(time.Second)
		}
		for dir, records := range map[string]int{"disk1": 1, "disk[1]": 1} {
			if c, err := CheckBackup(ctx, filepath.Join(root, dir), ""); err != nil || !c.OK() {
				t.Errorf("%s: %q, %v", dir, c.Verified.Problems, err)
			}
			there, err := os.ReadDir(filepath.Join(root, dir))
			must(t, err)
			if n := len(slices.DeleteFunc(there, func(e os.DirEntry) bool { return !backups.IsRecords(e.Name()) })); n != records {
				t.Errorf("%s: %d files of records", dir, n)
			}
		}
	})
	t.Run("records of another sort", func(t *testing.T) {
		g, _ := stocked(t)
		to := filepath.Join(t.TempDir(), "backup")
		mine := filepath.Join(to, "records-2025", "letter.txt")
		must(t, os.MkdirAll(filepath.Dir(mine), 0o700))
		rewriteNew(t, mine)
		_, err := g.Backup(ctx, to, "")
		wantFault(t, err, fault.Conflict, "not empty")
		must(t, os.Rename(filepath.Dir(mine), filepath.Join(t.TempDir(), "aside")))
		g.backupTo(t, to)
		must(t, os.MkdirAll(filepath.Dir(mine), 0o700))
		rewriteNew(t, mine)
		g.clock.advance(time.Second)
		g.backupTo(t, to)
		if _, err := os.Stat(mine); err != nil {
			t.Error(err)
		}
	})
	for _, name := range []string{".DS_Store", "Thumbs (1).db", "authority_root.pem", "Schlüssel.txt"} {
		t.Run("among the keys: "+name, func(t *testing.T) {
			g, _ := stocked(t)
			to := filepath.Join(t.TempDir(), "backup")
			g.backupTo(t, to)
			rewriteNew(t, filepath.Join(to, "keys", name))
			rewriteNew(t, filepath.Join(g.Dir, "keys", name))
			g.clock.advance(time.Second)
			for range 2 {
				b := g.backupTo(t, to)
				said := strings.Join(b.Verified.Said, "\n")
				if hidden := strings.HasPrefix(name, "."); hidden == strings.Contains(said, fmt.Sprintf("%q in the folder keys", name)) {
					t.Errorf("%q", said)
				}
			}
			restoredInto(t, g, to, filepath.Join(t.TempDir(), "new"))
		})
	}
}

// After a restore of an older backup the newer one is not written over: nothing else has what
// was recorded between the two.
func TestABackupThatGoesFurtherStays(t *testing.T) {
	g, number := stocked(t)
	older, newer := filepath.Join(t.TempDir(), "older"), filepath.Join(t.TempDir(), "newer")
	g.backupTo(t, older)
	later := g.tool(t)
	g.clock.advance(time.Second)
	b := g.backupTo(t, newer)
	back := restoredInto(t, g, older, filepath.Join(t.TempDir(), "new"))
	refused := func(what string) {
		t.Helper()
		back.clock.advance(time.Second)
		_, err := back.Backup(ctx, newer, "")
		wantFault(t, err, fault.Conflict, fmt.Sprintf("with %d lines, which this shop with %d does not go on from", b.Lines, back.lines(t)))
		if c, err := CheckBackup(ctx, newer, ""); err != nil || !c.OK() || c.Lines != b.Lines {
			t.Errorf("%s: %+v, %v", what, c, err)
		}
	}
	refused("shorter")
	for back.lines(t) <= b.Lines {
		back.tool(t)
	}
	refused("another, and longer")
	if _, err := back.Tool(ctx, back.boss, number); err != nil {
		t.Error(err)
	}
	back.backupTo(t, older) // which it goes on from
	again := restoredInto(t, g, newer, filepath.Join(t.TempDir(), "again"))
	if _, err := again.Tool(ctx, again.boss, later); err != nil {
		t.Error(err)
	}
}

// withALostPhoto is a shop with two photos of a tool, of which one is gone from its disk.
func withALostPhoto(t *testing.T) (g *garage, number, lost, whole string) {
	t.Helper()
	g, number = stocked(t)
	g.photograph(t, number, 2)
	lost, whole = hashOf(picture(1)), hashOf(picture(2))
	must(t, os.Remove(filepath.Join(g.Dir, "originals", lost[:2], lost[2:])))
	g.damaged = true
	return g, number, lost, whole
}

// A shop that had lost a photo before it was backed up comes back without that one, and says
// so; a backup that lost one itself does not come back.
func TestARestoreOfAShopThatHadLostAPhoto(t *testing.T) {
	g, number, lost, whole := withALostPhoto(t)
	to := filepath.Join(t.TempDir(), "backup")
	if b, err := g.Backup(ctx, to, ""); err != nil || b.Photos != 1 {
		t.Fatalf("%+v, %v", b, err)
	}
	dir := filepath.Join(t.TempDir(), "new")
	r, err := RestoreShop(ctx, Restore{From: to, Dir: dir, Clock: g.clock.Now})
	if said := strings.Join(r.Verified.Said, "\n"); err != nil || !r.OK() || !strings.Contains(said, "lost already when the backup was made: 1.") || !strings.Contains(said, lost) {
		t.Fatalf("%q, %s, %v", r.Verified.Problems, said, err)
	}
	back := &garage{engine: "sqlite", clock: g.clock, boss: g.boss, Options: g.Options, damaged: true}
	back.Dir = dir
	back.Shop = back.open(t)
	if v, err := back.Tool(ctx, back.boss, number); err != nil || len(v.Evidence) != 2 {
		t.Errorf("%+v, %v", v.Evidence, err)
	}
	must(t, back.originals.Check(whole))

	must(t, os.Remove(filepath.Join(to, "originals", whole[:2], whole[2:])))
	again := filepath.Join(t.TempDir(), "again")
	r, err = RestoreShop(ctx, Restore{From: to, Dir: again, Clock: g.clock.Now})
	if err != nil || r.OK() || len(r.Verified.Problems) != 2 {
		t.Errorf("%q, %v", r.Verified.Problems, err)
	}
	if _, err := os.Stat(filepath.Join(again, "pawl.db")); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("there is a shop now: %v", err)
	}
}

// Two restores within one second each put aside what was there, under a name of its own.
func TestTwoRestoresInOneSecond(t *testing.T) {
	g, _ := stocked(t)
	to, dir := filepath.Join(t.TempDir(), "backup"), filepath.Join(t.TempDir(), "new")
	g.backupTo(t, to)
	back := restoredInto(t, g, to, dir)
	must(t, back.Close())
	back.damaged = true // it is closed and put aside
	aside := map[string]bool{}
	for range 3 {
		r, err := RestoreShop(ctx, Restore{From: to, Dir: dir, Confirm: "Demo garage", Clock: g.clock.Now})
		if err != nil || !r.OK() {
			t.Fatalf("%q, %v", r.Verified.Problems, err)
		}
		aside[r.Before] = true
		if _, err := os.Stat(filepath.Join(dir, r.Before, "pawl.db")); err != nil {
			t.Error(err)
		}
	}
	if len(aside) != 3 {
		t.Errorf("put aside: %v", aside)
	}
}
