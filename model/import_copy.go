package model

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"io"
	"strings"
	"time"

	"pawl/model/bag"
	"pawl/model/copies"
	"pawl/model/dates"
	"pawl/model/evidence"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/ledger"
	"pawl/model/names"
	"pawl/model/numbers"
	"pawl/model/people"
	"pawl/model/proofs"
	"pawl/model/register"
)

// ImportCopy says whose the tools of a copy are here, and what to hold it
// against. Without an owner they are those of the person of the same name, or
// else the shop's.
type ImportCopy struct {
	Owner   *string
	Key     string
	Against []string
}

// ImportedTool is one tool of a copy, with its number here and there.
type ImportedTool struct {
	Number, Was  numbers.Number
	Kind, Serial string
}

// ImportedCopy is what an import left behind.
type ImportedCopy struct {
	Owner, Ledger string
	Tools         []ImportedTool
	Said          []string
}

// maxCopyTools is the most tools of one copy.
const maxCopyTools = 5000

// ImportCopy registers the tools of a copy that somebody took along elsewhere,
// as one act, once the bag, every hash, the signature and every proof hold. Each
// tool gets a number of this shop and keeps its proofs as a paper.
func (s *Shop) ImportCopy(ctx context.Context, by By, in ImportCopy, r io.ReaderAt, size int64) (out ImportedCopy, err error) {
	if err := allowed(by, people.ShopActs, people.Object{}); err != nil {
		return out, err
	}
	c, err := checkCopy(r, size, proofs.Outside{Key: in.Key, Checkpoints: in.Against})
	if err != nil {
		return out, err
	}
	if len(c.Problems) > 0 {
		return out, fault.New(fault.Invalid, "the copy does not hold: %s", strings.Join(c.Problems[:min(3, len(c.Problems))], "; ")).
			WithHint("get it again from where it was made; pawl verify FILE tells all of it")
	}
	if len(c.Tools) > maxCopyTools {
		return out, fault.New(fault.TooLarge, "the copy holds %d tools; %d are taken at once", len(c.Tools), maxCopyTools)
	}
	papers, err := s.keepOriginals(ctx, by, c)
	if err != nil {
		return out, err
	}
	return act(ctx, s, by, "import", []any{c.Fingerprint, in}, func(tx *store.Tx) (ImportedCopy, error) {
		i := importing{s: s, tx: tx, by: by, c: c, papers: papers, ids: map[string]string{}}
		return i.run(in)
	})
}

func checkCopy(r io.ReaderAt, size int64, o proofs.Outside) (c copies.Checked, err error) {
	b, err := bag.Open(r, size)
	if err != nil {
		return c, err
	}
	return copies.Check(b, o)
}

// keepOriginals stores the photos and papers of a copy, and the proofs of each
// tool as a paper of their own. It gives what each tool is to name.
func (s *Shop) keepOriginals(ctx context.Context, by By, c copies.Checked) ([][]register.Attach, error) {
	out := make([][]register.Attach, len(c.Tools))
	for i, t := range c.Tools {
		for _, e := range t.Evidence {
			if e.File == "" {
				continue
			}
			a, err := s.keepOriginal(ctx, by, c, e)
			if err != nil {
				return nil, err
			}
			out[i] = append(out[i], a)
		}
		proof, err := s.keepProof(ctx, by, c, t)
		if err != nil {
			return nil, err
		}
		out[i] = append(out[i], proof)
	}
	return out, nil
}

func (s *Shop) keepOriginal(ctx context.Context, by By, c copies.Checked, e copies.Evidence) (a register.Attach, err error) {
	image, err := e.Image()
	if err != nil {
		return a, err
	}
	text := func(column string) string { v, _ := image[column].(string); return v }
	a = register.Attach{Kind: text("kind"), SHA256: text("sha256"), Name: text("name")}
	f, err := c.Bag.Open(e.File)
	if err != nil {
		return a, err
	}
	defer f.Close()
	if text("media_type") == evidence.TypeZIP {
		raw, err := io.ReadAll(io.LimitReader(f, evidence.MaxBytes))
		if err != nil {
			return a, err
		}
		if _, err := checkCopy(bytes.NewReader(raw), int64(len(raw)), proofs.Outside{}); err != nil {
			return a, err
		}
		return a, s.keepBag(ctx, by, a.SHA256, raw)
	}
	_, _, err = s.StoreOriginal(ctx, by, Upload{SHA256: a.SHA256, Name: a.Name, Size: c.Bag.Size(e.File)}, f)
	return a, err
}

// keepProof keeps the records and proofs of one tool of a copy.
func (s *Shop) keepProof(ctx context.Context, by By, c copies.Checked, t copies.Tool) (a register.Attach, err error) {
	var b bytes.Buffer
	if _, err := copies.Write(&b, dates.Date(c.Made.Time().UTC().Format(time.DateOnly)), c.Part(t)); err != nil {
		return a, err
	}
	sum := sha256.Sum256(b.Bytes())
	a = register.Attach{Kind: string(evidence.Other), SHA256: hex.EncodeToString(sum[:]), Name: "proof-" + t.Number + ".zip"}
	return a, s.keepBag(ctx, by, a.SHA256, b.Bytes())
}

// keepBag keeps a bag of proofs as an original that the actor uploaded.
func (s *Shop) keepBag(ctx context.Context, by By, sha string, raw []byte) error {
	before, err := s.removalOf(ctx, sha)
	if err != nil {
		return err
	}
	size, _, err := s.originals.Put(ctx, sha, bytes.NewReader(raw), evidence.MaxBytes)
	if err != nil {
		return err
	}
	return s.noteUpload(ctx, by, Original{SHA256: sha, Bytes: size, Media: evidence.Media{Type: evidence.TypeZIP}}, before)
}

// importing is one import in progress.
type importing struct {
	s      *Shop
	tx     *store.Tx
	by     By
	d      *directory
	c      copies.Checked
	papers [][]register.Attach
	owner  string
	ids    map[string]string // ids there and here
}

func (i *importing) run(in ImportCopy) (out ImportedCopy, err error) {
	if i.d, err = readNames(&i.tx.Rx); err != nil {
		return out, err
	}
	if err := i.notOurs(); err != nil {
		return out, err
	}
	if i.owner, err = i.whose(in.Owner); err != nil {
		return out, err
	}
	if err := i.tx.Lock("originals"); err != nil {
		return out, err
	}
	for _, t := range i.c.Tools {
		if i.ids[t.Record.ID], err = i.tx.NewID('T'); err != nil {
			return out, err
		}
	}
	for n, t := range i.c.Tools {
		done, err := i.tool(t, i.papers[n])
		if err != nil {
			f := *fault.Of(err)
			f.Message = "tool " + t.Number + " of the copy: " + f.Message
			return out, &f
		}
		out.Tools = append(out.Tools, done)
	}
	out.Owner, out.Ledger = i.d.owner(i.owner), i.c.Ledger
	out.Said = i.c.Proven.Said(len(in.Against))
	return out, nil
}

func (i *importing) notOurs() error {
	me, _, err := i.tx.Identity()
	if err != nil {
		return err
	}
	if origin, err := ledger.Origin(me.ID); err != nil || origin == i.c.Ledger {
		return orElse(err, fault.New(fault.Conflict, "this copy is of this very shop: its tools are in the register already"))
	}
	return nil
}

// whose finds the owner: who is named, else the person of the name in the copy,
// else the shop.
func (i *importing) whose(named *string) (string, error) {
	if named != nil {
		id, err := i.d.ownerID(*named)
		if err != nil {
			err = fault.At("#/owner", "%s", fault.Of(err).Error())
		}
		return id, err
	}
	for _, p := range i.d.people {
		if p.Left == 0 && p.NameKey == names.Key(i.c.Owner) {
			return p.ID, nil
		}
	}
	return "", nil
}

// tool registers one tool. What the copy says is held to the same rules as what
// a person enters.
func (i *importing) tool(from copies.Tool, papers []register.Attach) (out ImportedTool, err error) {
	image, err := from.Record.Image()
	if err != nil {
		return out, err
	}
	origin := i.c.Ledger + " " + from.Record.ID
	if first, found, err := i.tx.ToolFrom(origin); err != nil || found {
		return out, orElse(err, fault.New(fault.Conflict, "it was imported already, as tool %s", first.Number).WithFact("number", first.Number.String()))
	}
	t := register.Tool{ID: i.ids[from.Record.ID], Owner: i.owner, Created: i.tx.Now()}
	t.Origin, t.EarlierNumbers = origin, append(register.EarlierNumbers(image), from.Numbers...)
	with, _ := image["came_with"].(string)
	t.CameWith = i.ids[with]
	c, err := register.FromImage(image)
	if err != nil {
		return out, err
	}
	t.Currency, _ = image["currency"].(string)
	if err := change(i.d, &t, c, i.tx.Now()); err != nil {
		return out, err
	}
	if err := serialIsFree(&i.tx.Rx, t); err != nil {
		return out, err
	}
	if t.Number, err = numberFor(i.tx, "", t.ID); err != nil {
		return out, err
	}
	if err := store.Put(i.tx, &t); err != nil {
		return out, err
	}
	was, _ := numbers.ParseNumber(from.Number)
	return ImportedTool{Number: t.Number, Was: was, Kind: t.Kind, Serial: t.Serial}, i.hang(t, from, papers)
}
