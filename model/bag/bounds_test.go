package bag

import (
	"archive/zip"
	"bytes"
	"errors"
	"io"
	"testing"

	"pawl/model/fault"
)

// claiming is a bag with one photo more, which stands there as it is and is said to have
// size bytes.
func claiming(t *testing.T, size uint64) []byte {
	t.Helper()
	var out bytes.Buffer
	z := zip.NewWriter(&out)
	for _, name := range []string{bagitFile, manifest} {
		if _, err := z.Create("b/" + name); err != nil {
			t.Fatal(err)
		}
	}
	h := &zip.FileHeader{Name: "b/data/photo.jpg", Method: zip.Store, CompressedSize64: size, UncompressedSize64: size}
	if _, err := z.CreateRaw(h); err != nil {
		t.Fatal(err)
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// behind is what was written after before bytes of something else.
type behind struct {
	*bytes.Reader
	before int64
}

func (b behind) ReadAt(p []byte, off int64) (int, error) {
	if off < b.before {
		n := int(min(int64(len(p)), b.before-off))
		clear(p[:n])
		if n == len(p) {
			return n, nil
		}
		more, err := b.Reader.ReadAt(p[n:], 0)
		return n + more, err
	}
	return b.Reader.ReadAt(p, off-b.before)
}

// A bag may hold as many bytes of photos as its ZIP has; one that unpacks to far more than
// that is refused before anything is unpacked.
func TestBytesOfABagAreBoundedByItsZIP(t *testing.T) {
	for name, c := range map[string]struct {
		size, before int64
		taken        bool
	}{
		"many photos":                {MaxBytes + 1<<30, MaxBytes + 1<<30, true},
		"more than the ZIP and room": {MaxBytes + 1<<30, 0, false},
		"beyond any sum":             {-1, 1 << 30, false}, // all bits set
	} {
		z := claiming(t, uint64(c.size))
		_, err := Open(behind{bytes.NewReader(z), c.before}, c.before+int64(len(z)))
		if taken := err == nil; taken != c.taken || !taken && !isTooLarge(err) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// A bag that could not be read again is not written.
func TestFilesOfABagAreCountedWhenWritten(t *testing.T) {
	w, err := NewWriter(io.Discard, sample)
	if err != nil {
		t.Fatal(err)
	}
	w.files = MaxFiles - 1
	if err := w.Add("data/1", true, bytes.NewReader(nil)); err != nil {
		t.Error(err)
	}
	if err := w.Add("data/2", true, bytes.NewReader(nil)); !isTooLarge(err) {
		t.Errorf("a file more than are read: %v", err)
	}
}

func isTooLarge(err error) bool {
	var f *fault.Error
	return errors.As(err, &f) && f.Kind == fault.TooLarge
}
