package bag

import (
	"archive/zip"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"hash"
	"io"
	"slices"
	"strings"
	"time"

	"pawl/model/fault"
)

// Writer writes a bag as it comes. A method that fails spoils the bag: what was
// written must be thrown away.
type Writer struct {
	zip   *zip.Writer
	info  Info
	at    time.Time
	lines map[bool][]string // manifest lines, of payload (true) and tag files
	last  string
	bytes int64
	files int // begun, of MaxFiles
	open  *file
}

// file is the one that is being written.
type file struct {
	path string
	to   io.Writer
	hash hash.Hash
	size int64
}

// NewWriter begins a bag on w. The caller closes w.
func NewWriter(w io.Writer, info Info) (*Writer, error) {
	if err := checkPath(info.Name); err != nil || strings.Contains(info.Name, "/") {
		return nil, fault.New(fault.Invalid, "%.80q cannot name the folder of a bag", info.Name).WithCause(err)
	}
	at, err := time.Parse(time.DateOnly, string(info.Date))
	if err != nil {
		return nil, fault.New(fault.Invalid, "%q is not a day for a bag", info.Date).WithCause(err)
	}
	return &Writer{zip: zip.NewWriter(w), info: info, at: at, lines: map[bool][]string{}}, nil
}

// Add writes one file of the bag with all that r gives. Payload comes first,
// then tag files, each in the bytewise order of their paths. Packed says that
// the bytes are compressed already, such as those of a photo.
func (b *Writer) Add(path string, packed bool, r io.Reader) error {
	w, err := b.Create(path, packed)
	if err != nil {
		return err
	}
	_, err = io.Copy(w, r)
	return err
}

// Create begins the next file of the bag; see Add. What is written goes into it
// until the next is begun.
func (b *Writer) Create(path string, packed bool) (io.Writer, error) {
	switch path {
	case bagitFile, infoFile, manifest, tagFile, StampFile:
		return nil, fault.New(fault.Internal, "%s of a bag is not the caller's to write", path)
	}
	if path <= b.last && isPayload(path) == isPayload(b.last) || isPayload(path) && b.last != "" && !isPayload(b.last) {
		return nil, fault.New(fault.Internal, "file %s of a bag comes after %s", path, b.last)
	}
	if !isPayload(path) && strings.Count(path, "/") == 0 {
		return nil, fault.New(fault.Internal, "tag file %s of a bag lies in no folder", path)
	}
	b.last = path
	return b.create(path, packed)
}

func (b *Writer) create(path string, packed bool) (io.Writer, error) {
	b.ended()
	if err := checkPath(path); err != nil {
		return nil, err
	}
	if b.files++; b.files > MaxFiles {
		return nil, fault.New(fault.TooLarge, "a bag holds %d files at most, and this would be more", MaxFiles).
			WithHint("pawl backup keeps a shop of any size")
	}
	h := &zip.FileHeader{Name: b.info.Name + "/" + path, Method: zip.Deflate, Modified: b.at}
	if packed {
		h.Method = zip.Store
	}
	h.SetMode(0o644)
	w, err := b.zip.CreateHeader(h)
	if err != nil {
		return nil, err
	}
	b.open = &file{path: path, to: w, hash: sha256.New()}
	return b.open, nil
}

func (f *file) Write(p []byte) (int, error) {
	n, err := f.to.Write(p)
	f.hash.Write(p[:n])
	f.size += int64(n)
	return n, err
}

// ended notes the file that was written last.
func (b *Writer) ended() {
	if b.open == nil {
		return
	}
	if Unlisted(b.open.path) {
		b.open = nil
		return
	}
	payload := isPayload(b.open.path)
	if payload {
		b.bytes += b.open.size
	}
	b.lines[payload] = append(b.lines[payload], hex.EncodeToString(b.open.hash.Sum(nil))+"  "+b.open.path+"\n")
	b.open = nil
}

// Close writes the tag files of the bag itself and the end of the ZIP. It gives
// the bag's fingerprint.
func (b *Writer) Close() (fingerprint string, err error) { return b.CloseStamped(nil) }

// Dater dates a SHA-256: it gives an answer of a time-stamp authority; nil where there is
// none.
type Dater func(digest [sha256.Size]byte) []byte

// CloseStamped is Close with a time stamp over the tag manifest, as a file that this does
// not list; see Unlisted.
func (b *Writer) CloseStamped(date Dater) (fingerprint string, err error) {
	sum, err := b.finish()
	if err != nil {
		return "", err
	}
	if date != nil {
		if err := b.stamp(date(sum)); err != nil {
			return "", err
		}
	}
	return hex.EncodeToString(sum[:]), b.zip.Close()
}

func (b *Writer) stamp(answer []byte) error {
	if len(answer) == 0 {
		return nil
	}
	w, err := b.create(StampFile, true)
	if err == nil {
		_, err = w.Write(answer)
	}
	return err
}

// finish writes the tag files of the bag itself, and gives the SHA-256 of the
// last of them, the tag manifest.
func (b *Writer) finish() (sum [sha256.Size]byte, err error) {
	b.ended()
	for _, f := range []struct{ path, text string }{
		{infoFile, b.infoText()}, {bagitFile, declaration}, {manifest, strings.Join(b.lines[true], "")},
	} {
		w, err := b.create(f.path, false)
		if err == nil {
			_, err = io.WriteString(w, f.text)
		}
		if err != nil {
			return sum, err
		}
	}
	b.ended()
	tags := b.lines[false]
	slices.SortFunc(tags, func(x, y string) int { return strings.Compare(x[64:], y[64:]) })
	w, err := b.create(tagFile, false)
	if err == nil {
		_, err = io.WriteString(w, strings.Join(tags, ""))
	}
	if err != nil {
		return sum, err
	}
	return [sha256.Size]byte(b.open.hash.Sum(nil)), nil
}

// infoText is bag-info.txt (RFC 8493 section 2.2.2).
func (b *Writer) infoText() string {
	var out strings.Builder
	for _, l := range append(slices.Clone(b.info.Labels), Label{"Payload-Oxum", fmt.Sprintf("%d.%d", b.bytes, len(b.lines[true]))}) {
		out.WriteString(l.Name + ": " + strings.Join(strings.Fields(l.Value), " ") + "\n")
	}
	return out.String()
}
