package model

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"strings"
	"testing"
)

// stripped takes files out of a bag and writes both lists of it anew, as anybody can.
func stripped(t *testing.T, zipped []byte, out func(path string) bool) []byte {
	t.Helper()
	var kept []entry
	list := map[string]*strings.Builder{"manifest-sha256.txt": {}, "tagmanifest-sha256.txt": {}}
	folder := ""
	for _, e := range entries(t, zipped) {
		dir, path, _ := strings.Cut(e.name, "/")
		if folder = dir; out(path) {
			continue
		}
		if list[path] != nil { // the manifest stands after all payload, the tag manifest after all else
			e.raw = []byte(list[path].String())
		}
		sum := sha256.Sum256(e.raw)
		line := hex.EncodeToString(sum[:]) + "  " + path + "\n"
		if strings.HasPrefix(path, "data/") {
			list["manifest-sha256.txt"].WriteString(line)
		} else if path != "tagmanifest-sha256.txt" {
			list["tagmanifest-sha256.txt"].WriteString(line)
		}
		kept = append(kept, e)
	}
	if folder == "" || len(kept) == 0 {
		t.Fatal("nothing is left")
	}
	return rezipped(t, kept)
}

// A bag that is never made without proofs does not hold without them, though all its
// files are those of its lists. What somebody else put into a bag claims no proof.
func TestAPacketWithoutItsProofsDoesNotHold(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		r := rob(t, g, true)
		kept := g.keptElsewhere(t, g.manager)
		own, _ := packet(t, g, g.Shop)
		for what, zipped := range map[string][]byte{"the annex": g.annexOf(t, g.packetOf(t, g.manager, NewPacket{Claim: r.claim})), "the copy kept elsewhere": kept, "a copy of own tools": own} {
			if v, err := verifyBytes(zipped, PacketQuery{}); err != nil || len(v.Problems) > 0 || v.Root == "" {
				t.Errorf("%s, with nothing taken out: %q, %v", what, v.Problems, err)
			}
			v, err := verifyBytes(stripped(t, zipped, func(path string) bool { return strings.HasPrefix(path, "proof/") }), PacketQuery{})
			if err != nil || len(v.Problems) != 1 || !strings.Contains(v.Problems[0], "its proofs are gone") {
				t.Errorf("%s, without its proofs: %q, %v", what, v.Problems, err)
			}
		}
		plain := rezipped(t, []entry{{"b/data/a.txt", []byte("a")}, {"b/bagit.txt", []byte("BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n")}, {"b/manifest-sha256.txt", nil}, {"b/tagmanifest-sha256.txt", nil}})
		v, err := verifyBytes(stripped(t, plain, func(string) bool { return false }), PacketQuery{})
		if err != nil || v.Root != "" || len(v.Problems) > 0 {
			t.Errorf("a bag of others: %+v, %v", v, err)
		}
		// The copy kept elsewhere answers what a worn serial is of.
		m, err := MatchCopy(ctx, bytes.NewReader(kept), int64(len(kept)), MatchQuery{Reading: "NW4?71B"})
		if err != nil || len(m.Candidates) != 1 || m.Candidates[0].Row.Number.String() != r.shops {
			t.Errorf("matched on the copy: %+v, %v", m, err)
		}
	})
}
