package store

import (
	"bytes"
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
