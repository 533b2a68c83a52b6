package model

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"

	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/ledger"
	"pawl/model/people"
	"pawl/model/settings"
)

// keyring keeps the store's one signing key in the folder keys.
type keyring struct{ dir string }

const keyFile = "pawl.key"

// identify names a new store, makes its key and records the settings that a
// shop starts with. The first process to come does it for all.
func (s *Shop) identify(ctx context.Context, existing bool) (store.Identity, error) {
	me, err := s.identity(ctx)
	if err != nil || me.ID != "" {
		return me, err
	}
	if existing {
		return me, store.None() // what a first start or a move left that was broken off early
	}
	return store.Write(ctx, s.db, store.Act{Verb: "start", Actor: Actor{Via: people.ViaChores}.Recorded()}, func(tx *store.Tx) (store.Identity, error) {
		if err := tx.Lock("identity"); err != nil {
			return me, err
		}
		if me, found, err := tx.Identity(); err != nil || found {
			return me, err
		}
		id := make([]byte, 8)
		if err := tx.Chance(id); err != nil {
			return me, err
		}
		name := hex.EncodeToString(id)
		vkey, err := s.keys.create(name)
		if err != nil {
			return me, err
		}
		me := store.Identity{ID: name, VKey: vkey, Created: tx.Now()}
		if err := tx.SetIdentity(me); err != nil {
			return me, err
		}
		first := settings.Default()
		return me, store.Put(tx, &first)
	})
}

// create makes a key for the store of that id and writes it durably before the
// store is told of it. The key comes from the system's own chance, whatever
// chance the ids come from: a key that can be drawn again is no key.
func (k keyring) create(storeID string) (vkey string, err error) {
	origin, err := ledger.Origin(storeID)
	if err != nil {
		return "", err
	}
	skey, vkey, err := ledger.GenerateKey(rand.Reader, origin)
	if err != nil {
		return "", err
	}
	if err := os.MkdirAll(k.dir, 0o700); err != nil {
		return "", err
	}
	// A key that is here already may be that of another store, kept elsewhere.
	old := filepath.Join(k.dir, keyFile)
	if err := os.Rename(old, old+".before-"+storeID); err != nil && !errors.Is(err, os.ErrNotExist) {
		return "", err
	}
	if err := writeDurably(k.dir, "pawl.pub", vkey+"\n", 0o644); err != nil {
		return "", err
	}
	return vkey, writeDurably(k.dir, keyFile, skey+"\n", 0o600)
}

// sign signs a checkpoint with the store's key.
func (k keyring) sign(c ledger.Checkpoint) (string, error) {
	skey, err := os.ReadFile(filepath.Join(k.dir, keyFile))
	if err != nil {
		return "", fault.New(fault.Unavailable, "the signing key is not in the folder keys").
			WithHint("copy keys/%s from the computer that made this store, or from a backup", keyFile).WithCause(err)
	}
	return ledger.Sign(c, strings.TrimSpace(string(skey)))
}

// signs says whether the key here signs in the name of a store: its faults are
// Unavailable, when there is none, and Refused, when it is another's.
func (k keyring) signs(me store.Identity) error {
	origin, err := ledger.Origin(me.ID)
	if err != nil {
		return err
	}
	note, err := k.sign(ledger.Checkpoint{Origin: origin})
	if fault.Is(err, fault.Unavailable) {
		return err
	}
	if err == nil {
		_, err = ledger.Open(note, me.VKey)
	}
	if err != nil {
		return fault.New(fault.Refused, "the key in the folder keys does not sign in the name of %s", origin).WithHint("restore the folder keys from a backup").WithCause(err)
	}
	return nil
}

// writeDurably writes a small file so that it is whole or not there.
func writeDurably(dir, name, content string, mode os.FileMode) (err error) {
	f, err := os.CreateTemp(dir, "."+name+"-")
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			os.Remove(f.Name())
		}
	}()
	_, err = io.WriteString(f, content)
	if err = errors.Join(err, f.Chmod(mode), f.Sync(), f.Close()); err != nil {
		return err
	}
	if err = os.Rename(f.Name(), filepath.Join(dir, name)); err != nil {
		return err
	}
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	defer d.Close()
	return d.Sync()
}
