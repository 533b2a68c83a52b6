package model

import (
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"strings"
	"testing"

	"github.com/transparency-dev/formats/log"
	"github.com/transparency-dev/merkle/proof"
	"github.com/transparency-dev/merkle/rfc6962"
	"golang.org/x/mod/sumdb/note"

	"pawl/model/bag"
)

// independently checks a packet's proofs with transparency-dev's formats and
// merkle, and with nothing of ours: the checkpoint, each line's path and digest,
// each older checkpoint that was given out, each roll and the tools under it. It
// gives how many of each there were.
func independently(t *testing.T, b *bag.Bag, given ...string) (lines, olders, leaves int) {
	t.Helper()
	hash := rfc6962.DefaultHasher
	text := func(path string) string {
		s, err := b.Text(path, 16<<20)
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	key, err := note.NewVerifier(strings.TrimSpace(text("proof/key.txt")))
	if err != nil {
		t.Fatal(err)
	}
	parsed := func(signed string) *log.Checkpoint {
		c, rest, _, err := log.ParseCheckpoint([]byte(signed), key.Name(), key)
		if err != nil || len(rest) > 0 {
			t.Fatal(err, rest)
		}
		return c
	}
	top := parsed(text("proof/checkpoint.txt"))
	type entry struct {
		Line, Salt, After string
		Path              [][]byte // base64, as encoding/json reads it
	}
	under := func(e entry) int64 {
		t.Helper()
		var line struct {
			Seq    int64
			Digest string
		}
		if err := json.Unmarshal([]byte(e.Line), &line); err != nil {
			t.Fatal(err)
		}
		if err := proof.VerifyInclusion(hash, uint64(line.Seq), top.Size, hash.HashLeaf([]byte(e.Line)), e.Path, top.Hash); err != nil {
			t.Errorf("line %d: %v", line.Seq, err)
		}
		if e.After != "" {
			salt, err := hex.DecodeString(e.Salt)
			if sum := sha256.Sum256(append(salt, e.After...)); err != nil || hex.EncodeToString(sum[:]) != line.Digest {
				t.Errorf("line %d: its image is another's, %v", line.Seq, err)
			}
		}
		return line.Seq
	}
	for row := range strings.Lines(text("proof/lines.jsonl")) {
		var e entry
		if err := json.Unmarshal([]byte(row), &e); err != nil {
			t.Fatal(err)
		}
		under(e)
		lines++
	}
	older := map[uint64][][]byte{}
	for row := range strings.Lines(text("proof/consistency.jsonl")) {
		var o struct {
			Size   uint64
			Hashes [][]byte
		}
		if err := json.Unmarshal([]byte(row), &o); err != nil {
			t.Fatal(err)
		}
		older[o.Size] = o.Hashes
	}
	for _, signed := range given {
		c := parsed(signed)
		if err := proof.VerifyConsistency(hash, c.Size, top.Size, older[c.Size], c.Hash, top.Hash); err != nil {
			t.Errorf("the checkpoint of %d lines: %v", c.Size, err)
		}
		olders++
	}
	var roll struct {
		Root  string
		Tools uint64
	}
	for row := range strings.Lines(text("proof/rolls.jsonl")) {
		var r struct {
			Roll  *entry
			Leaf  string
			Index uint64
			Path  [][]byte
		}
		if err := json.Unmarshal([]byte(row), &r); err != nil {
			t.Fatal(err)
		}
		if r.Roll != nil {
			under(*r.Roll)
			if err := json.Unmarshal([]byte(r.Roll.After), &roll); err != nil {
				t.Fatal(err)
			}
			continue
		}
		root, err := base64.StdEncoding.DecodeString(roll.Root)
		if err != nil {
			t.Fatal(err)
		}
		if err := proof.VerifyInclusion(hash, r.Index, roll.Tools, hash.HashLeaf([]byte(r.Leaf)), r.Path, root); err != nil {
			t.Errorf("leaf %s: %v", r.Leaf, err)
		}
		leaves++
	}
	return lines, olders, leaves
}
