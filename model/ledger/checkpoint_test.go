package ledger

import (
	"bytes"
	"encoding/hex"
	"errors"
	"fmt"
	"strings"
	"testing"

	formats "github.com/transparency-dev/formats/log"
	"golang.org/x/mod/sumdb/note"
	"golang.org/x/mod/sumdb/tlog"
	"pgregory.net/rapid"

	"pawl/model/fault"
)

// The key pair and the note of the examples of golang.org/x/mod/sumdb/note.
const (
	exampleSigner   = "PRIVATE+KEY+PeterNeumann+c74f20a3+AYEKFALVFGyNhPJEMzD1QIDr+Y7hfZx09iUvxdXHKDFz"
	exampleVerifier = "PeterNeumann+c74f20a3+ARpc2QcUPDhMQegwxbzhKqiBfsVkmqq/LDE4izWy10TW"
	exampleNote     = "If you think cryptography is the answer to your problem,\n" +
		"then you don't know what your problem is.\n\n" +
		"— PeterNeumann x08go/ZJkuBS9UG/SffcvIAQxVBtiFupLLr8pAcElZInNIuGUgYN1FFYC2pZSNXgKvqfqdngotpRZb6KE6RyyBwJnAM=\n"
)

// exampleCheckpoint is NT-03: the root is MT-08, signed with the example key;
// computed for these tests with note.Sign, read with formats/log.
const exampleCheckpoint = "PeterNeumann\n8\nXcnaeacGWamtVZy3Ad7ZoqudgjqtL0lgz+Nw7/RgQyg=\n\n" +
	"— PeterNeumann x08gozdSgLMzAnw63LH1RGViJhUfW60EUGKY7Kmr004fQNOSqfrcd1hIk3BCtdcLWIqvGtX67sL24VN+44uTlxMnbAA=\n"

// NT-01: GenerateKey with the seed of the example key gives the example's keys
// (golang.org/x/mod/sumdb/note, example_test.go; key id as in C2SP signed-note).
func TestGenerateKeyVector(t *testing.T) {
	// Seed of exampleSigner: its base64 without the leading type byte.
	seed := unhex(t, "810a1402d5146c8d84f2443330f54080ebf98ee17d9c74f6252fc5d5c7283173")
	skey, vkey, err := GenerateKey(bytes.NewReader(seed), "PeterNeumann")
	if err != nil {
		t.Fatal(err)
	}
	if skey != exampleSigner || vkey != exampleVerifier {
		t.Errorf("NT-01: keys\n%s\n%s\nwant\n%s\n%s", skey, vkey, exampleSigner, exampleVerifier)
	}
}

// NT-02: the example note opens as a note, and is refused as a checkpoint.
func TestOpenExampleNote(t *testing.T) {
	verifier, err := note.NewVerifier(exampleVerifier)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := note.Open([]byte(exampleNote), note.VerifierList(verifier)); err != nil {
		t.Errorf("NT-02: %v", err)
	}
	if c, err := Open(exampleNote, exampleVerifier); !fault.Is(err, fault.Malformed) || !strings.Contains(err.Error(), "not a checkpoint") {
		t.Errorf("NT-02: Open = %v, %v; want malformed: signed, but not a checkpoint", c, err)
	}
}

func TestSignedCheckpointVector(t *testing.T) {
	want := Checkpoint{Origin: "PeterNeumann", Size: 8, Root: tlog.Hash(unhex(t, rfcRoots[8]))}
	signed, err := Sign(want, exampleSigner)
	if err != nil {
		t.Fatal(err)
	}
	if signed != exampleCheckpoint {
		t.Errorf("NT-03: Sign gives\n%s\nwant\n%s", signed, exampleCheckpoint)
	}
	if got, err := Open(exampleCheckpoint, exampleVerifier); err != nil || got != want {
		t.Errorf("NT-03: Open = %v, %v; want %v", got, err, want)
	}
	verifier, err := note.NewVerifier(exampleVerifier)
	if err != nil {
		t.Fatal(err)
	}
	outside, _, _, err := formats.ParseCheckpoint([]byte(signed), "PeterNeumann", verifier)
	if err != nil || outside.Origin != want.Origin || outside.Size != 8 || tlog.Hash(outside.Hash) != want.Root {
		t.Errorf("NT-03: transparency-dev/formats reads %v, %v; want %v", outside, err, want)
	}
	_, err = Open(strings.Replace(exampleCheckpoint, "\n8\n", "\n9\n", 1), exampleVerifier)
	wantInvalid(t, err, "the checkpoint was changed")
}

// The sample of C2SP tlog-checkpoint: text only, for its key is not published.
func TestParseCheckpointSample(t *testing.T) {
	c, err := ParseCheckpoint("example.com/behind-the-sofa\n20852163\nCsUYapGGPo4dkMgIAUqom/Xajj7h2fB2MPA3j2jxq2I=\n")
	if err != nil {
		t.Fatal(err)
	}
	if root := hex.EncodeToString(c.Root[:]); c.Origin != "example.com/behind-the-sofa" || c.Size != 20852163 ||
		root != "0ac5186a91863e8e1d90c808014aa89bf5da8e3ee1d9f07630f0378f68f1ab62" { // decoded with base64(1)
		t.Errorf("read %+v, root %s", c, root)
	}
}

func TestParseCheckpoint(t *testing.T) {
	const root = "XcnaeacGWamtVZy3Ad7ZoqudgjqtL0lgz+Nw7/RgQyg="
	good := []string{
		"o\n0\n" + root + "\n",
		"o\n8\n" + root + "\nan extension line\nand another\n",
		"o\n9007199254740992\n" + root + "\n",
	}
	for _, text := range good {
		if c, err := ParseCheckpoint(text); err != nil || !strings.HasPrefix(text, c.Text()) {
			t.Errorf("ParseCheckpoint(%q) = %v, %v", text, c, err)
		}
	}
	bad := map[string]string{
		"nothing":            "",
		"two lines":          "o\n8\n",
		"no last newline":    "o\n8\n" + root,
		"empty origin":       "\n8\n" + root + "\n",
		"empty extension":    "o\n8\n" + root + "\n\n",
		"control character":  "o\t\n8\n" + root + "\n",
		"bad UTF-8":          "\xff\n8\n" + root + "\n",
		"carriage return":    "o\n8\n" + root + "\r\n",
		"leading zero":       "o\n08\n" + root + "\n",
		"negative size":      "o\n-8\n" + root + "\n",
		"plus sign":          "o\n+8\n" + root + "\n",
		"space":              "o\n8 \n" + root + "\n",
		"hexadecimal":        "o\n0x8\n" + root + "\n",
		"size over 2^53":     "o\n9007199254740993\n" + root + "\n",
		"size over 64 bits":  "o\n18446744073709551616\n" + root + "\n",
		"unused bits":        "o\n8\nXcnaeacGWamtVZy3Ad7ZoqudgjqtL0lgz+Nw7/RgQyh=\n",
		"31 bytes":           "o\n8\nXcnaeacGWamtVZy3Ad7ZoqudgjqtL0lgz+Nw7/RgQw==\n",
		"no padding":         "o\n8\n" + strings.TrimSuffix(root, "=") + "\n",
		"base64 of URLs":     "o\n8\n" + strings.NewReplacer("+", "-", "/", "_").Replace(root) + "\n",
		"hexadecimal root":   "o\n8\n" + rfcRoots[8] + "\n",
		"lines interchanged": "8\no\n" + root + "\n",
	}
	for name, text := range bad {
		if c, err := ParseCheckpoint(text); !fault.Is(err, fault.Malformed) || c != (Checkpoint{}) {
			t.Errorf("%s: ParseCheckpoint(%q) = %v, %v; want malformed", name, text, c, err)
		}
	}
}

func TestOneFlippedBitInASignedCheckpointIsRefused(t *testing.T) {
	eachFlip([]byte(exampleCheckpoint), func(changed []byte) {
		if c, err := Open(string(changed), exampleVerifier); err == nil || c != (Checkpoint{}) {
			t.Errorf("Open(%q) = %v, %v; want a refusal", changed, c, err)
		} else if !fault.Is(err, fault.Invalid) && !fault.Is(err, fault.Malformed) {
			t.Errorf("Open(%q): %v, want invalid or malformed", changed, err)
		}
	})
}

func testKey(t testing.TB, seed byte, name string) (skey, vkey string) {
	t.Helper()
	skey, vkey, err := GenerateKey(bytes.NewReader(bytes.Repeat([]byte{seed}, 32)), name)
	if err != nil {
		t.Fatal(err)
	}
	return skey, vkey
}

func TestOpenWantsTheRightKey(t *testing.T) {
	const origin = "pawl/0123456789abcdef"
	skey, vkey := testKey(t, 1, origin)
	_, foreign := testKey(t, 2, origin)
	c := Checkpoint{Origin: origin, Size: 3, Root: tlog.Hash(unhex(t, rfcRoots[3]))}
	signed, err := Sign(c, skey)
	if err != nil {
		t.Fatal(err)
	}
	if got, err := Open(signed, vkey); err != nil || got != c {
		t.Errorf("Open = %v, %v; want %v", got, err, c)
	}
	_, err = Open(signed, foreign)
	wantInvalid(t, err, "not signed by "+origin)
	_, err = Open(signed, exampleVerifier)
	wantInvalid(t, err, "not signed by PeterNeumann")
	_, err = Open(signed, "nonsense")
	wantInvalid(t, err, `"nonsense"`)
	if _, err := Open(c.Text(), vkey); !fault.Is(err, fault.Malformed) {
		t.Errorf("Open of bare text: %v, want malformed", err)
	}
}

// A note may say that it is of another ledger than the key that signs it; it is
// not then a checkpoint of ours.
func TestOriginMustBeTheNameOfTheKey(t *testing.T) {
	text := "pawl/0123456789abcdef\n8\nXcnaeacGWamtVZy3Ad7ZoqudgjqtL0lgz+Nw7/RgQyg=\n"
	signer, err := note.NewSigner(exampleSigner)
	if err != nil {
		t.Fatal(err)
	}
	msg, err := note.Sign(&note.Note{Text: text}, signer)
	if err != nil {
		t.Fatal(err)
	}
	_, err = Open(string(msg), exampleVerifier)
	wantInvalid(t, err, `the checkpoint of size 8 is of "pawl/0123456789abcdef"`)
	c, err := ParseCheckpoint(text)
	if err != nil {
		t.Fatal(err)
	}
	_, err = Sign(c, exampleSigner)
	wantInvalid(t, err, "of size 8")
}

// C2SP signed-note: signatures by unknown keys are ignored, extension lines of
// the checkpoint are covered by the signature.
func TestOpenIgnoresOtherSignatures(t *testing.T) {
	const text = "PeterNeumann\n8\nXcnaeacGWamtVZy3Ad7ZoqudgjqtL0lgz+Nw7/RgQyg=\nextension\n"
	witness, _ := testKey(t, 3, "witness.example/w1")
	var signers []note.Signer
	for _, key := range []string{witness, exampleSigner} {
		s, err := note.NewSigner(key)
		if err != nil {
			t.Fatal(err)
		}
		signers = append(signers, s)
	}
	msg, err := note.Sign(&note.Note{Text: text}, signers...)
	if err != nil {
		t.Fatal(err)
	}
	if c, err := Open(string(msg), exampleVerifier); err != nil || c.Size != 8 {
		t.Errorf("Open = %v, %v; want size 8", c, err)
	}
	_, err = Open(strings.Replace(string(msg), "extension", "Extension", 1), exampleVerifier)
	wantInvalid(t, err, "the checkpoint was changed")
}

func TestSignRefuses(t *testing.T) {
	good := Checkpoint{Origin: "PeterNeumann", Size: 8}
	if _, err := Sign(good, exampleSigner); err != nil {
		t.Fatal(err)
	}
	for name, change := range map[string]func(*Checkpoint){
		"negative size":    func(c *Checkpoint) { c.Size = -1 },
		"size over 2^53":   func(c *Checkpoint) { c.Size = MaxSize + 1 },
		"no origin":        func(c *Checkpoint) { c.Origin = "" },
		"line in origin":   func(c *Checkpoint) { c.Origin = "PeterNeumann\n9" },
		"another's ledger": func(c *Checkpoint) { c.Origin = "pawl/0123456789abcdef" },
	} {
		t.Run(name, func(t *testing.T) {
			c := good
			change(&c)
			_, err := Sign(c, exampleSigner)
			wantInvalid(t, err, fmt.Sprintf("size %d", c.Size))
		})
	}
	secret := strings.TrimPrefix(exampleSigner, "PRIVATE+KEY+PeterNeumann+c74f20a3+")
	_, err := Sign(good, "PRIVATE+KEY+PeterNeumann+c74f20a4+"+secret)
	wantInvalid(t, err, "signing key")
	for e := err; e != nil; e = errors.Unwrap(e) {
		if strings.Contains(e.Error(), secret) {
			t.Errorf("the refusal tells the secret: %v", e)
		}
	}
}

func TestGenerateKeyRefuses(t *testing.T) {
	for _, name := range []string{"", "two words", "a+b", "line\nbreak", "nbsp\u00a0", "\xff", "bell\a"} {
		_, _, err := GenerateKey(bytes.NewReader(make([]byte, 32)), name)
		wantInvalid(t, err, fmt.Sprintf("%q", name))
	}
	if skey, vkey, err := GenerateKey(bytes.NewReader(make([]byte, 31)), "o"); !fault.Is(err, fault.Internal) || skey+vkey != "" {
		t.Errorf("keys %q %q, %v from too little chance; want an internal error", skey, vkey, err)
	}
}

func TestOrigin(t *testing.T) {
	if got, err := Origin("0123456789abcdef"); err != nil || got != "pawl/0123456789abcdef" {
		t.Errorf("Origin = %q, %v", got, err)
	}
	for _, id := range []string{"", "0123456789abcde", "0123456789abcdef0", "0123456789ABCDEF", "0123456789abcdeg", "0123456789abcde\n", "pawl/0123456789a"} {
		got, err := Origin(id)
		wantInvalid(t, err, fmt.Sprintf("%q", id))
		if got != "" {
			t.Errorf("Origin(%q) = %q beside its error", id, got)
		}
	}
}

func TestSignOpenRoundTrip(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		id := rapid.StringMatching(`[0-9a-f]{16}`).Draw(rt, "store id")
		origin, err := Origin(id)
		if err != nil {
			rt.Fatal(err)
		}
		seed := rapid.SliceOfN(rapid.Byte(), 32, 32).Draw(rt, "seed")
		skey, vkey, err := GenerateKey(bytes.NewReader(seed), origin)
		if err != nil {
			rt.Fatal(err)
		}
		c := Checkpoint{Origin: origin, Size: rapid.Int64Range(0, MaxSize).Draw(rt, "size"), Root: tlog.Hash(rapid.SliceOfN(rapid.Byte(), 32, 32).Draw(rt, "root"))}
		signed, err := Sign(c, skey)
		if err != nil {
			rt.Fatal(err)
		}
		if got, err := Open(signed, vkey); err != nil || got != c {
			rt.Fatalf("opened %v, %v; want %v", got, err, c)
		}
		verifier, err := note.NewVerifier(vkey)
		if err != nil {
			rt.Fatal(err)
		}
		outside, _, _, err := formats.ParseCheckpoint([]byte(signed), origin, verifier)
		if err != nil || outside.Size != uint64(c.Size) || tlog.Hash(outside.Hash) != c.Root {
			rt.Fatalf("transparency-dev/formats reads %v, %v; want %v", outside, err, c)
		}
	})
}

// FuzzParseCheckpoint: what is accepted is read alike by transparency-dev/formats
// and begins with the text that the checkpoint writes.
func FuzzParseCheckpoint(f *testing.F) {
	text, _, _ := strings.Cut(exampleCheckpoint, "\n\n")
	f.Add(text + "\n")
	f.Add(text + "\nextension\n")
	f.Add("o\n0\n" + tlog.Hash{}.String() + "\n")
	f.Add("o\n018446744073709551616\n\n")
	f.Fuzz(func(t *testing.T, text string) {
		c, err := ParseCheckpoint(text)
		if err != nil {
			if !fault.Is(err, fault.Malformed) {
				t.Fatalf("error of another kind: %v", err)
			}
			return
		}
		if !strings.HasPrefix(text, c.Text()) {
			t.Fatalf("read %q but writes %q", text, c.Text())
		}
		var outside formats.Checkpoint
		rest, err := outside.Unmarshal([]byte(text))
		if err != nil || outside.Origin != c.Origin || outside.Size != uint64(c.Size) || !bytes.Equal(outside.Hash, c.Root[:]) {
			t.Fatalf("%q: transparency-dev/formats reads %v, %v; we read %v", text, outside, err, c)
		}
		if c.Text()+string(rest) != text {
			t.Fatalf("%q: the text %q and what formats leaves, %q, are not the whole", text, c.Text(), rest)
		}
	})
}

// FuzzOpen: what opens is opened alike by transparency-dev/formats, and holds
// the one signature that our key makes over that text.
func FuzzOpen(f *testing.F) {
	f.Add(exampleCheckpoint)
	f.Add(exampleNote)
	f.Add(exampleCheckpoint + "— witness AAAAAAAA\n")
	f.Add(strings.Replace(exampleCheckpoint, "nbAA=", "nbAB=", 1))
	verifier, err := note.NewVerifier(exampleVerifier)
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, msg string) {
		c, err := Open(msg, exampleVerifier)
		if err != nil {
			if !fault.Is(err, fault.Malformed) && !fault.Is(err, fault.Invalid) {
				t.Fatalf("error of another kind: %v", err)
			}
			return
		}
		outside, _, _, err := formats.ParseCheckpoint([]byte(msg), c.Origin, verifier)
		if err != nil || outside.Size != uint64(c.Size) || !bytes.Equal(outside.Hash, c.Root[:]) {
			t.Fatalf("%q: transparency-dev/formats reads %v, %v; we read %v", msg, outside, err, c)
		}
		signed, err := Sign(c, exampleSigner)
		if err != nil {
			t.Fatal(err)
		}
		if !strings.HasPrefix(msg, c.Text()) || !strings.Contains(msg, signed[strings.Index(signed, "— "):]) {
			t.Fatalf("%q opens but does not hold what the key signs: %q", msg, signed)
		}
	})
}
