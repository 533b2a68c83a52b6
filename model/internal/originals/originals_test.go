package originals

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"pawl/model/fault"
)

const noLimit = 1 << 40

func newFolder(t *testing.T) *Folder {
	t.Helper()
	f, err := Open(filepath.Join(t.TempDir(), "originals"))
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func hashOf(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

func put(t *testing.T, f *Folder, data string) (sha string) {
	t.Helper()
	sha = hashOf([]byte(data))
	if _, _, err := f.Put(t.Context(), sha, strings.NewReader(data), noLimit); err != nil {
		t.Fatal(err)
	}
	return sha
}

// files lists every file in the folder, by path from its top.
func files(t *testing.T, f *Folder) (paths []string) {
	t.Helper()
	err := filepath.WalkDir(f.dir, func(path string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			rel, _ := filepath.Rel(f.dir, path)
			paths = append(paths, filepath.ToSlash(rel))
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return paths
}

func TestAnOriginalIsKeptUnderItsHash(t *testing.T) {
	for _, c := range []struct{ what, data, sha string }{
		{"SHA-01, NIST sample", "", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"},
		{"SHA-02, FIPS 180-2 sample", "abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"},
		{"SHA-03, FIPS sample, from memory", "abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
			"248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1"},
		{"SHA-04, FIPS sample, from memory", strings.Repeat("a", 1000000),
			"cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0"},
	} {
		f := newFolder(t)
		size, created, err := f.Put(t.Context(), c.sha, strings.NewReader(c.data), int64(len(c.data)))
		if err != nil || !created || size != int64(len(c.data)) {
			t.Errorf("%s: put gave %d, %v, %v", c.what, size, created, err)
			continue
		}
		if got, want := files(t, f), []string{c.sha[:2] + "/" + c.sha[2:]}; !slices.Equal(got, want) {
			t.Errorf("%s: the folder holds %q, want %q", c.what, got, want)
		}
		file, size, err := f.Open(c.sha)
		if err != nil {
			t.Errorf("%s: %v", c.what, err)
			continue
		}
		data, err := io.ReadAll(file)
		if err != nil || string(data) != c.data || size != int64(len(c.data)) {
			t.Errorf("%s: %d bytes came back of %d, %v", c.what, len(data), size, err)
		}
		if err := file.Close(); err != nil {
			t.Error(err)
		}
		if err := f.Check(c.sha); err != nil {
			t.Errorf("%s: %v", c.what, err)
		}
	}
}

func TestAnOriginalIsPrivateAndReadOnly(t *testing.T) {
	f := newFolder(t)
	sha := put(t, f, "plate")
	for path, want := range map[string]fs.FileMode{
		f.dir:                               fs.ModeDir | 0o700,
		filepath.Join(f.dir, incoming):      fs.ModeDir | 0o700,
		filepath.Join(f.dir, sha[:2]):       fs.ModeDir | 0o700,
		filepath.Join(f.dir, f.rel(t, sha)): 0o400,
	} {
		info, err := os.Stat(path)
		if err != nil || info.Mode() != want {
			t.Errorf("%s has mode %v, %v; want %v", filepath.Base(path), info.Mode(), err, want)
		}
	}
}

func (f *Folder) rel(t *testing.T, sha string) string {
	t.Helper()
	rel, err := filepath.Rel(f.dir, f.path(sha))
	if err != nil {
		t.Fatal(err)
	}
	return rel
}

func TestNothingButAHashIsAName(t *testing.T) {
	f := newFolder(t)
	good := hashOf(nil)
	for _, name := range []string{
		"", good[:63], good + "0", strings.ToUpper(good), good[:63] + "g", " " + good[:63], good[:63] + "\n",
		"../../../../../../../../../../../../../../../../../../etc/passwd", strings.Repeat("../", 21) + "a",
		strings.Repeat("/", 64), strings.Repeat("\x00", 64), strings.Repeat("é", 32), strings.Repeat("0", 100000),
	} {
		_, _, putErr := f.Put(t.Context(), name, strings.NewReader("x"), noLimit)
		_, _, openErr := f.Open(name)
		for door, err := range map[string]error{"put": putErr, "open": openErr, "check": f.Check(name), "remove": f.Remove(name)} {
			if !fault.Is(err, fault.Invalid) || len(err.Error()) > 600 {
				t.Errorf("%s of %.70q: %.100v; want Invalid, in short", door, name, err)
			}
		}
	}
	if got := files(t, f); len(got) != 0 {
		t.Errorf("the folder holds %q", got)
	}
}

func TestWhatIsNotKeptIsNotFound(t *testing.T) {
	f := newFolder(t)
	sha := hashOf([]byte("never sent"))
	_, _, err := f.Open(sha)
	for door, err := range map[string]error{"open": err, "check": f.Check(sha), "remove": f.Remove(sha)} {
		if !fault.Is(err, fault.NotFound) || !strings.Contains(err.Error(), sha) {
			t.Errorf("%s: %v, want NotFound with the hash", door, err)
		}
	}
}

func TestRemovedIsGone(t *testing.T) {
	f := newFolder(t)
	sha, other := put(t, f, "one"), put(t, f, "two")
	if err := f.Remove(sha); err != nil {
		t.Fatal(err)
	}
	if err := f.Check(sha); !fault.Is(err, fault.NotFound) {
		t.Errorf("after removal: %v", err)
	}
	if err := f.Check(other); err != nil {
		t.Errorf("the other one: %v", err)
	}
	if _, created, err := f.Put(t.Context(), sha, strings.NewReader("one"), noLimit); err != nil || !created {
		t.Errorf("put again: %v, %v", created, err)
	}
}

// damage changes an original behind the folder's back.
func damage(t *testing.T, f *Folder, sha string, data []byte) {
	t.Helper()
	path := f.path(sha)
	if err := errors.Join(os.Chmod(path, 0o600), os.WriteFile(path, data, 0o600)); err != nil {
		t.Fatal(err)
	}
}

func TestCheckFindsOneChangedBit(t *testing.T) {
	f := newFolder(t)
	data := bytes.Repeat([]byte("serial plate "), 20000)
	sha := put(t, f, string(data))
	for _, at := range []int{0, len(data) / 2, len(data) - 1} {
		bad := bytes.Clone(data)
		bad[at] ^= 1
		damage(t, f, sha, bad)
		err := f.Check(sha)
		if !fault.Is(err, fault.Conflict) || !strings.Contains(err.Error(), sha) || !strings.Contains(err.Error(), hashOf(bad)) {
			t.Errorf("a bit changed at %d: %v; want both hashes", at, err)
		}
	}
	damage(t, f, sha, data)
	if err := f.Check(sha); err != nil {
		t.Errorf("mended: %v", err)
	}
}

func TestWalkVisitsOriginalsAloneAndInOrder(t *testing.T) {
	f := newFolder(t)
	want := map[string]int64{}
	for i := range 40 {
		data := strings.Repeat("x", i)
		want[put(t, f, data)] = int64(i)
	}
	shard := filepath.Join(f.dir, hashOf(nil)[:2])
	for _, stray := range []string{
		filepath.Join(f.dir, "notes.txt"), filepath.Join(shard, "thumb"), filepath.Join(shard, strings.Repeat("G", 62)),
		filepath.Join(f.dir, incoming, "put-1"),
	} {
		if err := os.WriteFile(stray, []byte("stray"), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Symlink("notes.txt", filepath.Join(shard, strings.Repeat("0", 62))); err != nil {
		t.Fatal(err)
	}
	received := time.Date(2026, 1, 15, 20, 3, 22, 0, time.UTC)
	if err := os.Chtimes(f.path(hashOf(nil)), received, received); err != nil {
		t.Fatal(err)
	}

	var order []string
	err := f.Walk(func(sha string, size int64, modified time.Time) error {
		if known, ok := want[sha]; !ok || size != known {
			t.Errorf("visited %s of %d bytes, want %d", sha, size, known)
		}
		if sha == hashOf(nil) && !modified.Equal(received) {
			t.Errorf("received at %v, want %v", modified, received)
		}
		order = append(order, sha)
		return nil
	})
	if err != nil || len(order) != len(want) || !slices.IsSorted(order) {
		t.Errorf("%d visited of %d, sorted %v, %v", len(order), len(want), slices.IsSorted(order), err)
	}
}

func TestWalkStopsAtTheVisitorsError(t *testing.T) {
	f := newFolder(t)
	put(t, f, "one")
	put(t, f, "two")
	enough, visits := errors.New("enough"), 0
	err := f.Walk(func(string, int64, time.Time) error { visits++; return enough })
	if err != enough || visits != 1 {
		t.Errorf("%d visits, %v", visits, err)
	}
}

func TestTheVisitorMayRemove(t *testing.T) {
	f := newFolder(t)
	for _, data := range []string{"one", "two", "three"} {
		put(t, f, data)
	}
	if err := f.Walk(func(sha string, _ int64, _ time.Time) error { return f.Remove(sha) }); err != nil {
		t.Fatal(err)
	}
	if got := files(t, f); len(got) != 0 {
		t.Errorf("left: %q", got)
	}
}

func TestLeftoversAreRemovedByAge(t *testing.T) {
	f := newFolder(t)
	sha := put(t, f, "kept")
	limit := time.Date(2026, 1, 15, 0, 0, 0, 0, time.UTC)
	for name, age := range map[string]time.Duration{"put-old": time.Second, "put-now": 0, "put-new": -time.Hour} {
		path := filepath.Join(f.dir, incoming, name)
		if err := errors.Join(os.WriteFile(path, nil, 0o600), os.Chtimes(path, limit, limit.Add(-age))); err != nil {
			t.Fatal(err)
		}
	}
	removed, err := f.RemoveLeftovers(limit)
	if err != nil || removed != 1 {
		t.Errorf("%d removed, %v; want 1", removed, err)
	}
	want := []string{sha[:2] + "/" + sha[2:], incoming + "/put-new", incoming + "/put-now"}
	if got := files(t, f); !slices.Equal(got, want) {
		t.Errorf("the folder holds %q, want %q", got, want)
	}
}

func TestAFolderThatCannotBeIsUnavailableWithoutItsPath(t *testing.T) {
	file := filepath.Join(t.TempDir(), "private-name")
	if err := os.WriteFile(file, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	_, err := Open(filepath.Join(file, "originals"))
	if !fault.Is(err, fault.Unavailable) || strings.Contains(err.Error(), "private-name") {
		t.Errorf("got %v; want Unavailable, the path for the log alone", err)
	}
}

// Against a map as the model: whatever is put, put again and removed, the folder
// holds what the map holds.
func TestAFolderIsAMapFromHashToBytes(t *testing.T) {
	top := t.TempDir()
	rapid.Check(t, func(rt *rapid.T) {
		dir, err := os.MkdirTemp(top, "")
		if err != nil {
			rt.Fatal(err)
		}
		f, err := Open(dir)
		if err != nil {
			rt.Fatal(err)
		}
		model := map[string][]byte{}
		for range rapid.IntRange(1, 12).Draw(rt, "steps") {
			// Few values, so that the same ones come up again.
			data := rapid.SliceOfN(rapid.ByteMax(1), 0, 2).Draw(rt, "data")
			sha := hashOf(data)
			_, known := model[sha]
			if rapid.Bool().Draw(rt, "remove") {
				if err := f.Remove(sha); known != (err == nil) {
					rt.Fatalf("remove of %x: %v; known %v", data, err, known)
				}
				delete(model, sha)
				continue
			}
			size, created, err := f.Put(t.Context(), sha, bytes.NewReader(data), 2)
			if err != nil || created == known || size != int64(len(data)) {
				rt.Fatalf("put of %x: %d, %v, %v; known %v", data, size, created, err, known)
			}
			model[sha] = data
		}
		count := 0
		err = f.Walk(func(sha string, size int64, _ time.Time) error {
			count++
			if data, known := model[sha]; !known || size != int64(len(data)) {
				rt.Fatalf("walk found %s of %d bytes; known %v", sha, size, known)
			}
			return f.Check(sha)
		})
		if err != nil || count != len(model) {
			rt.Fatalf("walk found %d of %d, %v", count, len(model), err)
		}
	})
}
