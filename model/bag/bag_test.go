package bag

import (
	"archive/zip"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"pawl/model/needs"
)

// sample is the worked bag of the reference (identity-labels-evidence 4.5).
var sample = Info{Name: "claim-2026-0042", Date: "2026-01-15", Labels: []Label{
	{"Source-Organization", "Example Repair Shop"}, {"Contact-Name", "A. Owner"},
	{"External-Description", "Evidence packet, theft claim 2026-0042"}, {"Bagging-Date", "2026-01-15"},
	{"External-Identifier", "claim-2026-0042"},
}}

var samplePayload = []struct{ path, text string }{
	{"data/documents/receipt.txt", "receipt line 1\nreceipt line 2\n"},
	{"data/index.html", "<!doctype html><title>Packet</title><p>One tool.</p>\n"},
	{"data/photos/T-0001-serial.jpg", "abc"},
}

func sampleBag(t testing.TB) (zipped []byte, fingerprint string) {
	t.Helper()
	var out bytes.Buffer
	w, err := NewWriter(&out, sample)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range samplePayload {
		if err := w.Add(f.path, false, strings.NewReader(f.text)); err != nil {
			t.Fatal(err)
		}
	}
	if fingerprint, err = w.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes(), fingerprint
}

func opened(t testing.TB, zipped []byte) *Bag {
	t.Helper()
	b, err := Open(bytes.NewReader(zipped), int64(len(zipped)))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// BAG-01 and BAG-03 of the reference: computed with GNU coreutils there.
func TestWorkedBag(t *testing.T) {
	zipped, fingerprint := sampleBag(t)
	if want := "4c99b78ad4b2da50dec8b0fc304bceafc917e4fa53b46c753102e791a520726b"; fingerprint != want {
		t.Errorf("fingerprint %s, want %s", fingerprint, want)
	}
	r, err := opened(t, zipped).Check()
	if err != nil || len(r.Problems) > 0 {
		t.Fatal(err, r.Problems)
	}
	if r.Files != 3 || r.Bytes != 86 || r.Fingerprint != fingerprint {
		t.Errorf("%d files of %d bytes, fingerprint %s", r.Files, r.Bytes, r.Fingerprint)
	}
	for path, want := range map[string]string{
		"data/documents/receipt.txt":    "6c5950d7a4d618cf1df4b9878261ddebfee8edbf40355cc773b8a712fbcc35b4",
		"data/index.html":               "4f81fa604f3f9cd2d6e72fa2b4d0cf63a3b7dadcfe3876d35e84dd88603d16f1",
		"data/photos/T-0001-serial.jpg": "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad",
		"bag-info.txt":                  "b44a4d8b36cb7bf8f5c47f444057c7829684b41ae4b34a6286709d671aa6e09c",
		"bagit.txt":                     "1712ecfb074bf29c4188ad3421032509159a09739fd604f8fe57038b4ddefcc9",
		"manifest-sha256.txt":           "e7c4c5621096db0f504254ca3bd10286bee9b8c079dce91fff5e2cf0ff6dba4c",
	} {
		if r.Hashes[path] != want {
			t.Errorf("%s: %s, want %s", path, r.Hashes[path], want)
		}
	}
	again, _ := sampleBag(t)
	if !bytes.Equal(zipped, again) {
		t.Error("built twice, the ZIP is not the same")
	}
}

// unpack writes the files of a ZIP into a folder.
func unpack(t testing.TB, zipped []byte) (dir string) {
	t.Helper()
	dir = t.TempDir()
	z, err := zip.NewReader(bytes.NewReader(zipped), int64(len(zipped)))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.CopyFS(dir, z); err != nil {
		t.Fatal(err)
	}
	return filepath.Join(dir, sample.Name)
}

// coreutils checks a manifest with the program that everybody has.
func coreutils(t testing.TB, dir, manifest string) error {
	t.Helper()
	check := exec.Command(needs.Program(t, "sha256sum"), "-c", manifest)
	check.Dir = dir
	return check.Run()
}

// BAG-02: a changed byte fails both there and here, an extra file only here.
func TestCoreutilsAgree(t *testing.T) {
	zipped, _ := sampleBag(t)
	dir := unpack(t, zipped)
	for _, m := range []string{manifest, tagFile} {
		if err := coreutils(t, dir, m); err != nil {
			t.Errorf("sha256sum -c %s: %v", m, err)
		}
	}
	changed := remade(t, zipped, func(name, text string) string {
		if strings.HasSuffix(name, "serial.jpg") {
			return "abd"
		}
		return text
	}, "")
	if err := coreutils(t, unpack(t, changed), manifest); err == nil {
		t.Error("sha256sum takes a changed byte")
	}
	if r, err := opened(t, changed).Check(); err != nil || len(r.Problems) != 1 || !strings.Contains(r.Problems[0], "was changed") {
		t.Errorf("a changed byte: %v %v", r.Problems, err)
	}
	extra := remade(t, zipped, func(_, text string) string { return text }, "data/more.txt")
	if err := coreutils(t, unpack(t, extra), manifest); err != nil {
		t.Errorf("sha256sum minds an extra file: %v", err)
	}
	if r, err := opened(t, extra).Check(); err != nil || len(r.Problems) != 2 || !strings.Contains(strings.Join(r.Problems, "\n"), "data/more.txt is in the bag but not in") {
		t.Errorf("an extra file: %v %v", r.Problems, err)
	}
}

// remade copies a ZIP with its texts changed and perhaps a file added.
func remade(t testing.TB, zipped []byte, edit func(name, text string) string, added string) []byte {
	t.Helper()
	from, err := zip.NewReader(bytes.NewReader(zipped), int64(len(zipped)))
	if err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	to := zip.NewWriter(&out)
	write := func(name, text string) {
		w, err := to.Create(name)
		if err == nil {
			_, err = io.WriteString(w, text)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	for _, f := range from.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		text, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		write(f.Name, edit(f.Name, string(text)))
	}
	if added != "" {
		write(sample.Name+"/"+added, "more")
	}
	if err := to.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// What is no bag of ours is refused before a byte of it is used.
func TestRefusedBags(t *testing.T) {
	zipped, _ := sampleBag(t)
	for _, path := range []string{"../../etc/passwd", "data/../up", "data//x", "~/x", "C:/x", "data/a b", `data\x`, "data/%2e", "fetch.txt", "data/.hidden"} {
		bad := remade(t, zipped, func(_, text string) string { return text }, path)
		if _, err := Open(bytes.NewReader(bad), int64(len(bad))); err == nil {
			t.Errorf("%q is taken", path)
		}
	}
	for _, raw := range []string{"", "PK", string(zipped[:len(zipped)/2])} {
		if _, err := Open(strings.NewReader(raw), int64(len(raw))); err == nil {
			t.Errorf("%d bytes are taken for a bag", len(raw))
		}
	}
	w, err := NewWriter(io.Discard, sample)
	if err != nil {
		t.Fatal(err)
	}
	if err := w.Add("data/b", false, strings.NewReader("")); err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{"data/a", "data/b", "data/../x", "bagit.txt", "loose.txt"} {
		if err := w.Add(path, false, strings.NewReader("")); err == nil {
			t.Errorf("%s is written after data/b", path)
		}
	}
}

// Whatever is put in comes out again and checks; one flipped bit of any file
// does not.
func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		names := rapid.SliceOfNDistinct(rapid.StringMatching(`[a-z0-9]{1,8}`), 1, 6, rapid.ID[string]).Draw(rt, "names")
		slices.Sort(names)
		texts := map[string][]byte{}
		var out bytes.Buffer
		w, err := NewWriter(&out, sample)
		if err != nil {
			rt.Fatal(err)
		}
		for _, name := range names {
			texts["data/"+name] = rapid.SliceOfN(rapid.Byte(), 0, 300).Draw(rt, name)
			if err := w.Add("data/"+name, rapid.Bool().Draw(rt, "packed"), bytes.NewReader(texts["data/"+name])); err != nil {
				rt.Fatal(err)
			}
		}
		if _, err := w.Close(); err != nil {
			rt.Fatal(err)
		}
		b, err := Open(bytes.NewReader(out.Bytes()), int64(out.Len()))
		if err != nil {
			rt.Fatal(err)
		}
		r, err := b.Check()
		if err != nil || len(r.Problems) > 0 || r.Files != int64(len(names)) {
			rt.Fatal(err, r)
		}
		for path, want := range texts {
			if got, err := b.Text(path, 1000); err != nil || got != string(want) {
				rt.Fatalf("%s: %q, %v", path, got, err)
			}
		}
	})
}

// FuzzBag: any bytes are refused or give a bag whose problems do not depend on
// when it is asked, and whose paths lead nowhere outside.
func FuzzBag(f *testing.F) {
	zipped, _ := sampleBag(f)
	f.Add(zipped)
	f.Add(zipped[:40])
	f.Fuzz(func(t *testing.T, raw []byte) {
		b, err := Open(bytes.NewReader(raw), int64(len(raw)))
		if err != nil {
			return
		}
		for _, path := range b.Files("") {
			if !filepath.IsLocal(path) {
				t.Errorf("%q leads out of the bag", path)
			}
		}
		one, err1 := b.Check()
		two, err2 := b.Check()
		if (err1 == nil) != (err2 == nil) || !slices.Equal(one.Problems, two.Problems) {
			t.Errorf("two checks differ: %v %v, %v %v", one.Problems, err1, two.Problems, err2)
		}
	})
}

// A time stamp is over the tag manifest and not in it; only there may a file be
// that no list names.
func TestCloseStamped(t *testing.T) {
	made := func(date Dater) (*Bag, string) {
		var out bytes.Buffer
		w, err := NewWriter(&out, sample)
		if err == nil {
			err = w.Add("data/a", false, strings.NewReader("a"))
		}
		if err != nil {
			t.Fatal(err)
		}
		fingerprint, err := w.CloseStamped(date)
		if err != nil {
			t.Fatal(err)
		}
		return opened(t, out.Bytes()), fingerprint
	}
	_, plain := made(nil)
	var over string
	b, fingerprint := made(func(digest [sha256.Size]byte) []byte {
		over = hex.EncodeToString(digest[:])
		return []byte("dated")
	})
	report, err := b.Check()
	if err != nil || len(report.Problems) > 0 || fingerprint != plain || report.Fingerprint != plain || over != plain {
		t.Errorf("%+v, %v: fingerprint %s over %s, without a stamp %s", report, err, fingerprint, over, plain)
	}
	if text, err := b.Text(StampFile, 10); err != nil || text != "dated" {
		t.Errorf("%q, %v", text, err)
	}
	b, fingerprint = made(func([sha256.Size]byte) []byte { return nil })
	if report, err := b.Check(); fingerprint != plain || err != nil || len(report.Problems) > 0 || b.Size(StampFile) >= 0 {
		t.Errorf("without an answer: %s %+v %v", fingerprint, report, err)
	}
	w, err := NewWriter(&bytes.Buffer{}, sample)
	if err == nil {
		err = w.Add(StampFile, false, strings.NewReader("x"))
	}
	if err == nil {
		t.Error("the caller may write the time stamp itself")
	}
}
