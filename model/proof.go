package model

import (
	"context"
	"fmt"
	"strconv"
	"strings"

	"pawl/model/fault"
	"pawl/model/internal/originals"
	"pawl/model/internal/store"
	"pawl/model/ledger"
)

// CheckpointView is a signed summary of the ledger, with the key to check it.
type CheckpointView struct {
	Size        int64
	Note        string
	Key         string
	Fingerprint string
}

// Checkpoint signs the ledger as it stands and keeps the checkpoint. At an
// unchanged ledger it gives the one that was made before.
func (s *Shop) Checkpoint(ctx context.Context, by By) (CheckpointView, error) {
	return store.Write(ctx, s.db, store.Act{Verb: "checkpoint", Actor: by.Recorded()}, func(tx *store.Tx) (CheckpointView, error) {
		if err := tx.Lock("ledger"); err != nil {
			return CheckpointView{}, err
		}
		return s.checkpoint(tx)
	})
}

func (s *Shop) checkpoint(tx *store.Tx) (v CheckpointView, err error) {
	me, _, err := tx.Identity()
	if err != nil {
		return v, err
	}
	v.Key, v.Fingerprint = me.VKey, ledger.Fingerprint(me.VKey)
	if v.Size, err = tx.Size(); err != nil {
		return v, err
	}
	if kept, found, err := tx.CheckpointAt(v.Size); err != nil || found {
		v.Note = kept.Note
		return v, err
	}
	origin, err := ledger.Origin(me.ID)
	if err != nil {
		return v, err
	}
	root, err := tx.Root(v.Size)
	if err != nil {
		return v, err
	}
	if v.Note, err = s.keys.sign(ledger.Checkpoint{Origin: origin, Size: v.Size, Root: root}); err != nil {
		return v, err
	}
	return v, tx.KeepCheckpoint(store.Checkpoint{Size: v.Size, Note: v.Note, Made: tx.Now()})
}

// VerifyQuery says what to hold the store against: signed checkpoints that were
// kept elsewhere, which part of the originals to read ("3/10"; empty = all), and
// which rolls to make again ("all"; empty or "newest" = the newest).
type VerifyQuery struct {
	Against []string
	Part    string
	Rolls   string
}

// Verified says what was looked at. No problems means that everything holds.
type Verified struct {
	Lines, Records, Originals, Checkpoints, Withheld, Rolls, Size int64
	Root                                                          string
	Problems                                                      []string
	Said                                                          []string
}

// Verify checks the whole store and trusts nothing of it: lines, hashes,
// digests, checkpoints, every recorded row, the search tables, and the bytes of
// the originals. Its error means that it could not look.
func (s *Shop) Verify(ctx context.Context, by By, q VerifyQuery) (out Verified, err error) {
	part, of, err := parsePart(q.Part)
	if err != nil {
		return out, err
	}
	rolls, err := parseRolls(q.Rolls)
	if err == nil && q.Rolls == "" {
		rolls.Named, err = s.namedRolls(ctx)
	}
	if err != nil {
		return out, err
	}
	return s.verify(ctx, q, part, of, rolls)
}

func (s *Shop) verify(ctx context.Context, q VerifyQuery, part, of uint64, rolls store.WhichRolls) (out Verified, err error) {
	var me store.Identity
	err = s.db.ReadTwice(ctx, func(rx, beside *store.Rx) error {
		if me, _, err = rx.Identity(); err != nil {
			return err
		}
		outside, refused := openOutside(q.Against, me.VKey)
		report, err := rx.Verify(ctx, beside, me.VKey, outside, rolls)
		out = Verified{Lines: report.Lines, Records: report.Records, Checkpoints: report.Checkpoints, Withheld: report.Withheld, Rolls: report.Rolls,
			Size: report.Lines, Root: report.Root.String(), Problems: append(refused, report.Problems...)}
		return err
	})
	if err != nil {
		return out, err
	}
	if err := s.verifyOriginals(ctx, part, of, &out); err != nil {
		return out, err
	}
	out.say(len(q.Against), ledger.Fingerprint(me.VKey), q.Part)
	if me.MovedTo != "" {
		out.Said = append(out.Said, "This shop moved to "+me.MovedTo+". What was looked at is what was left behind.")
	}
	return out, nil
}

// openOutside opens checkpoints that were kept elsewhere. One that this store
// did not sign is a problem of its own.
func openOutside(notes []string, vkey string) (out []store.Outside, problems []string) {
	for i, note := range notes {
		name := fmt.Sprintf("number %d of those given", i+1)
		c, err := ledger.Open(note, vkey)
		if err != nil {
			problems = append(problems, fmt.Sprintf("checkpoint %s: %s", name, err))
			continue
		}
		out = append(out, store.Outside{Name: name, Checkpoint: c})
	}
	return out, problems
}

// verifyOriginals reads the bytes of every original that a record names.
func (s *Shop) verifyOriginals(ctx context.Context, part, of uint64, out *Verified) error {
	return eachOriginal(ctx, s.db, func(sha string) error {
		if n, err := strconv.ParseUint(sha[:min(8, len(sha))], 16, 64); err == nil && n%of != part-1 {
			return nil
		}
		out.Originals++
		err := s.originals.Check(sha)
		if _, remote := s.originals.(*originals.Bucket); remote && fault.Is(err, fault.Unavailable) {
			return err // it is not the original that is wrong
		}
		if err != nil {
			out.Problems = append(out.Problems, fmt.Sprintf("original %s: %s", sha, fault.Of(err).Message))
		}
		return nil
	})
}

func parseRolls(text string) (store.WhichRolls, error) {
	switch text {
	case "", "newest":
		return store.WhichRolls{Newest: 1}, nil
	case "all":
		return store.WhichRolls{Newest: store.AllRolls}, nil
	}
	return store.WhichRolls{}, fault.At("#/rolls", "rolls %.40q; use all or newest", text)
}

func parsePart(text string) (part, of uint64, err error) {
	if text == "" {
		return 1, 1, nil
	}
	a, b, _ := strings.Cut(text, "/")
	part, err1 := strconv.ParseUint(a, 10, 16)
	of, err2 := strconv.ParseUint(b, 10, 16)
	if err1 != nil || err2 != nil || part < 1 || part > of {
		return 0, 0, fault.At("#/part", "part %q is not like 3/10", text)
	}
	return part, of, nil
}

// say puts into words what the check shows, and what it does not.
func (v *Verified) say(against int, fingerprint, part string) {
	v.Said = append(v.Said, fmt.Sprintf("Looked at: lines %d, records %d, originals %d, checkpoints %d, rolls %d.", v.Lines, v.Records, v.Originals, v.Checkpoints, v.Rolls))
	if part != "" {
		v.Said = append(v.Said, "Only part "+part+" of the originals was read.")
	}
	if v.Withheld > 0 {
		v.Said = append(v.Said, fmt.Sprintf("Withheld: %d. Their lines are there, what they said is not.", v.Withheld))
	}
	if against == 0 {
		v.Said = append(v.Said, "Consistent with itself means only that: it was not compared with anything kept outside. Key fingerprint "+fingerprint+
			": compare it with the one that was given out, and give --against a checkpoint kept elsewhere.")
	}
	if len(v.Problems) > 0 {
		v.Said = append(v.Said, fmt.Sprintf("Does NOT hold: %d.", len(v.Problems)))
	}
}
