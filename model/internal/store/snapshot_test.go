package store

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"testing"
)

// What was written while somebody read the whole store is in the file when a copy has
// been made: no act that follows has to bring it over.
func TestACopyLeavesNothingToTheNextAct(t *testing.T) {
	at := newSite(t, "sqlite")
	d := at.open(t)
	kept := filepath.Join(at.Dir, FileName)
	before, err := os.ReadFile(kept)
	if err != nil {
		t.Fatal(err)
	}
	err = d.Read(ctx, func(*Rx) error {
		do(t, d, put(person("1", "Ada")))
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if now, err := os.ReadFile(kept); err != nil || !bytes.Equal(now, before) {
		t.Fatalf("what is asked for is done already, %v", err)
	}
	copied := filepath.Join(t.TempDir(), "copy.db")
	if err := d.Snapshot(ctx, copied); err != nil {
		t.Fatal(err)
	}
	now, err := os.ReadFile(kept)
	if err != nil {
		t.Fatal(err)
	}
	as, err := os.ReadFile(copied)
	if err != nil {
		t.Fatal(err)
	}
	const first = 4096 // the page that counts changes, which a copy does anew
	if bytes.Equal(now, before) || !bytes.Equal(now[first:], as[first:]) {
		t.Errorf("the file has %d bytes, the copy %d; they differ", len(now), len(as))
	}
}

// A copy is synced while it is written and once more at its end; a failure of either is one
// of the copy, as is its own.
func TestSyncing(t *testing.T) {
	failed := errors.New("no space")
	for _, c := range []struct {
		name       string
		fails      int // the sync that fails; 0: none
		copying    error
		wantSynced int
	}{
		{"all of it", 0, nil, 3},
		{"while it is written", 1, nil, 1},
		{"at its end", 3, nil, 3},
		{"the copy itself", 0, failed, 3},
	} {
		t.Run(c.name, func(t *testing.T) {
			synced, meanwhile := 0, make(chan int, 10)
			err := syncing(func() error {
				synced++
				meanwhile <- synced
				if synced == c.fails {
					return failed
				}
				return nil
			}, func() error {
				for range min(2, c.wantSynced) {
					<-meanwhile
				}
				return c.copying
			})
			if wantErr := c.fails != 0 || c.copying != nil; (err != nil) != wantErr || err != nil && !errors.Is(err, failed) {
				t.Errorf("it ended with %v", err)
			}
			if synced < c.wantSynced {
				t.Errorf("synced %d times, want %d at least", synced, c.wantSynced)
			}
		})
	}
}
