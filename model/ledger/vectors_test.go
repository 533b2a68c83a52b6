package ledger

import (
	"crypto/sha256"
	"encoding/hex"
	"os"
	"strings"
	"testing"

	"github.com/transparency-dev/merkle/rfc6962"
	"golang.org/x/mod/sumdb/tlog"
)

// frozen is one record of testdata/ledger/lines.txt, whose header says how it
// was computed without this program.
type frozen struct {
	line, image        string
	salt               []byte
	digest, leaf, root string
}

func readFrozen(t testing.TB) []frozen {
	t.Helper()
	raw, err := os.ReadFile("../../testdata/ledger/lines.txt")
	if err != nil {
		t.Fatal(err)
	}
	var all []frozen
	for n, row := range strings.Split(string(raw), "\n") {
		if row == "" || row[0] == '#' {
			continue
		}
		key, value, _ := strings.Cut(row, " ")
		if key == "line" {
			all = append(all, frozen{line: value})
			continue
		}
		f := &all[len(all)-1]
		switch key {
		case "salt":
			f.salt = unhex(t, value)
		case "image":
			f.image = value
		case "digest":
			f.digest = value
		case "leaf":
			f.leaf = value
		case "root":
			f.root = value
		default:
			t.Fatalf("row %d: unknown key %q", n+1, key)
		}
	}
	if len(all) != 6 {
		t.Fatalf("read %d frozen lines, want 6", len(all))
	}
	return all
}

func unhex(t testing.TB, s string) []byte {
	t.Helper()
	b, err := hex.DecodeString(s)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func TestFrozenLines(t *testing.T) {
	var tree Tree
	for i, f := range readFrozen(t) {
		l, err := ParseLine([]byte(f.line))
		if err != nil {
			t.Fatalf("line %d: %v", i, err)
		}
		if got := string(l.Canonical()); got != f.line {
			t.Errorf("line %d: canonical\n%s\nwant\n%s", i, got, f.line)
		}
		m, err := ParseImage([]byte(f.image))
		if err != nil {
			t.Fatalf("image %d: %v", i, err)
		}
		if got := string(m.Canonical()); got != f.image {
			t.Errorf("image %d: canonical\n%s\nwant\n%s", i, got, f.image)
		}
		if got := Digest(f.salt, m.Canonical()); got != f.digest || l.Digest != f.digest {
			t.Errorf("line %d: digest computed %s, in the line %s, want %s", i, got, l.Digest, f.digest)
		}
		if err := l.CheckAfter(f.salt, []byte(f.image)); err != nil {
			t.Errorf("line %d: %v", i, err)
		}
		leaf := tree.Add([]byte(f.line))[0]
		if got := hex.EncodeToString(leaf[:]); got != f.leaf {
			t.Errorf("line %d: leaf %s, want %s", i, got, f.leaf)
		}
		root := tree.Root()
		if got := hex.EncodeToString(root[:]); got != f.root {
			t.Errorf("line %d: root %s, want %s", i, got, f.root)
		}
	}
}

// A line and an image made in Go, not read, have the frozen bytes: the last
// record, which holds every hard case (columns whose order differs between
// UTF-8 and UTF-16, both ends of int64, control characters, U+2028).
func TestFrozenFromFields(t *testing.T) {
	f := readFrozen(t)[5]
	m := Image{"\U0001f527": int64(-9223372036854775808), "ﬀ": "\u2028\u2029\x7f\x01\x1f\b\f\r", "a": int64(0)}
	if got := string(m.Canonical()); got != f.image {
		t.Errorf("image\n%q\nwant\n%q", got, f.image)
	}
	l := Line{V: 1, Seq: 5, Act: 5, At: 1767225600000000 + 7200000001, Actor: "clerk", Verb: "add", Noun: "paper",
		ID: "d-€-\U0001f527", Rev: 9223372036854775807, Tools: []string{"\U0001f527", "a", "ﬀ", "a"}, Digest: Digest(f.salt, m.Canonical())}
	if got := string(l.Canonical()); got != f.line {
		t.Errorf("line\n%s\nwant\n%s", got, f.line)
	}
}

// SHA-01 to SHA-04: FIPS 180-4 with the NIST example values. SHA-03 and SHA-04
// from memory, recomputed with independent programs.
func TestSHA256Vectors(t *testing.T) {
	tests := []struct{ id, message, want string }{
		{"SHA-01", "", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"},
		{"SHA-02", "abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"},
		{"SHA-03", "abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq", "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1"},
		{"SHA-04", strings.Repeat("a", 1000000), "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0"},
	}
	for _, tt := range tests {
		t.Run(tt.id, func(t *testing.T) {
			salt := min(SaltSize, len(tt.message))
			if got := Digest([]byte(tt.message[:salt]), []byte(tt.message[salt:])); got != tt.want {
				t.Errorf("Digest = %s, want %s", got, tt.want)
			}
			if got := Fingerprint(tt.message); got != tt.want {
				t.Errorf("Fingerprint = %s, want %s", got, tt.want)
			}
		})
	}
}

// rfcLeaves are the eight inputs of transparency-dev/merkle, testdata, which
// come from the reference program of Certificate Transparency.
var rfcLeaves = []string{"", "\x00", "\x10", "\x20\x21", "\x30\x31", "\x40\x41\x42\x43",
	"\x50\x51\x52\x53\x54\x55\x56\x57", "\x60\x61\x62\x63\x64\x65\x66\x67\x68\x69\x6a\x6b\x6c\x6d\x6e\x6f"}

// rfcRoots are the roots over the first 0 to 8 of them: MT-00 to MT-08
// (transparency-dev/merkle, testdata; RFC 6962 section 2.1).
var rfcRoots = []string{
	"e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
	"6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
	"fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
	"aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
	"d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
	"4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
	"76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
	"ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
	"5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
}

func TestMerkleRoots(t *testing.T) {
	var tree Tree
	var kept hashes
	for n, want := range rfcRoots {
		stored, err := Root(int64(n), &kept)
		if err != nil {
			t.Fatal(err)
		}
		streamed := tree.Root()
		if got := hex.EncodeToString(stored[:]); got != want {
			t.Errorf("MT-%02d: Root = %s, want %s", n, got, want)
		}
		if got := hex.EncodeToString(streamed[:]); got != want {
			t.Errorf("MT-%02d: Tree.Root = %s, want %s", n, got, want)
		}
		if n < len(rfcLeaves) {
			tree.Add([]byte(rfcLeaves[n]))
			kept.add(t, []byte(rfcLeaves[n]))
		}
	}
}

// MT-09 and MT-10: transparency-dev/merkle, rfc6962 tests. Our nodes have only
// 32-byte children, so MT-10 holds the checker that judges our proofs, and our
// node of two leaves is held to that checker.
func TestMerkleLeafAndNode(t *testing.T) {
	leaf := LeafHash([]byte("L123456"))
	if got, want := hex.EncodeToString(leaf[:]), "395aa064aa4c29f7010acfe3f25db9485bbd4b91897b6ad7ad547639252b4d56"; got != want {
		t.Errorf("MT-09: leaf %s, want %s", got, want)
	}
	if got, want := hex.EncodeToString(rfc6962.DefaultHasher.HashChildren([]byte("N123"), []byte("N456"))), "aa217fe888e47007fa15edab33c2b492a722cb106c64667fc2b044444de66bbb"; got != want {
		t.Errorf("MT-10: node %s, want %s", got, want)
	}
	var tree Tree
	a, b := tree.Add([]byte("N123"))[0], tree.Add([]byte("N456"))[0]
	if got, want := tree.Root(), tlog.Hash(rfc6962.DefaultHasher.HashChildren(a[:], b[:])); got != want {
		t.Errorf("node of two leaves %s, want %s", got, want)
	}
}

// MT-11 and MT-12: computed for these tests over the published leaves, checked
// with tlog and transparency-dev/merkle.
func TestMerkleProofVectors(t *testing.T) {
	kept := keep(t, rfcLeaves)
	inclusion, err := ProveInclusion(8, 2, kept)
	if err != nil {
		t.Fatal(err)
	}
	path := []string{
		"07506a85fd9dd2f120eb694f86011e5bb4662e5c415a62917033d4a9624487e7",
		rfcRoots[2],
		"6b47aaf29ee3c2af9af889bc1fb9254dabd31177f16232dd6aab035ca39bf6e4",
	}
	wantHashes(t, "MT-11", inclusion.Hashes, path)
	consistency, err := ProveConsistency(3, 8, kept)
	if err != nil {
		t.Fatal(err)
	}
	first := "0298d122906dcfc10892cb53a73992fc5b9f493ea4c9badb27b791b4127a7fe7"
	wantHashes(t, "MT-12", consistency.Hashes, append([]string{first}, path...))
}

func wantHashes(t *testing.T, id string, got []tlog.Hash, want []string) {
	t.Helper()
	var text []string
	for _, h := range got {
		text = append(text, hex.EncodeToString(h[:]))
	}
	if strings.Join(text, "\n") != strings.Join(want, "\n") {
		t.Errorf("%s: hashes\n%s\nwant\n%s", id, strings.Join(text, "\n"), strings.Join(want, "\n"))
	}
}

// hashes is a kept list of stored hashes.
type hashes []tlog.Hash

func (s *hashes) ReadHashes(indexes []int64) ([]tlog.Hash, error) {
	out := make([]tlog.Hash, len(indexes))
	for i, at := range indexes {
		out[i] = (*s)[at]
	}
	return out, nil
}

// add appends what Append gives for the next line and returns it.
func (s *hashes) add(t testing.TB, line []byte) []tlog.Hash {
	t.Helper()
	var seq int64
	for FirstStored(seq) < int64(len(*s)) {
		seq++
	}
	added, err := Append(seq, line, s)
	if err != nil {
		t.Fatal(err)
	}
	*s = append(*s, added...)
	return added
}

func keep[T ~string | ~[]byte](t testing.TB, lines []T) *hashes {
	t.Helper()
	kept := new(hashes)
	for _, line := range lines {
		kept.add(t, []byte(line))
	}
	return kept
}

func TestDigestIsSHA256OfSaltThenImage(t *testing.T) {
	salt, after := []byte(strings.Repeat("s", SaltSize)), []byte(`{"a":1}`)
	sum := sha256.Sum256([]byte(string(salt) + string(after)))
	if got, want := Digest(salt, after), hex.EncodeToString(sum[:]); got != want {
		t.Errorf("Digest = %s, want %s", got, want)
	}
}
