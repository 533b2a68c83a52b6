package model

import (
	"context"
	"path/filepath"

	"pawl/model/fault"
	"pawl/model/internal/originals"
	"pawl/model/internal/store"
	"pawl/model/people"
)

// findOriginals opens the originals where the store says that they are. A shop remembers
// where, so that no command can put some elsewhere by leaving out to say it; another place
// is taken only while there is no original yet.
func (s *Shop) findOriginals(ctx context.Context, me store.Identity, o Options) (err error) {
	is, err := originals.ParseLocation(me.Originals)
	if err != nil {
		return err
	}
	wanted, err := originals.ParseLocation(o.Originals)
	if err != nil {
		return err
	}
	if o.Originals == "" && !o.anew {
		wanted = is
	}
	if s.originals, err = openOriginals(wanted, s.dir, me.ID, o); err != nil || wanted == is {
		return err
	}
	_, err = store.Write(ctx, s.db, store.Act{Verb: "originals", Actor: Actor{Via: people.ViaLocal}.Recorded()}, func(tx *store.Tx) (bool, error) {
		if err := tx.Lock("originals"); err != nil {
			return false, err
		}
		any, err := tx.AnyOriginal()
		if err != nil {
			return false, err
		}
		if any && !o.anew {
			return false, fault.New(fault.Refused, "the originals of this shop are in %s, not in %s", is.Words(), wanted.Words()).
				WithHint("leave out --originals: the shop knows where they are; pawl move brings them elsewhere")
		}
		return true, tx.SetOriginals(wanted.String())
	})
	return err
}

// openOriginals opens the originals of the store of that id, in the folder dir or a bucket.
func openOriginals(at originals.Location, dir, id string, o Options) (originals.Keeper, error) {
	if at.Bucket == "" {
		return originals.Open(filepath.Join(dir, "originals"))
	}
	env := o.Env
	if env == nil {
		env = func(string) string { return "" }
	}
	return originals.OpenBucket(originals.BucketConfig{Location: at, Owner: "pawl/" + id, Incoming: filepath.Join(dir, "incoming"), Env: env, Clock: o.Clock})
}
