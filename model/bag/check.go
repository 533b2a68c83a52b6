package bag

import (
	"archive/zip"
	"bufio"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"

	"pawl/model/fault"
	"pawl/model/pattern"
)

// Bounds on a bag that comes from outside. None of ours is written beyond MaxFiles: the
// manifest of as many is within maxTag.
const (
	MaxFiles = 250_000
	MaxBytes = int64(8) << 30 // of all files together, unpacked, beyond the size of the ZIP
	maxTag   = int64(64) << 20
)

// Bag is one that was opened for reading. Nothing in it is trusted before Check
// has been through it.
type Bag struct {
	Name  string
	files map[string]*zip.File
}

// Open reads the listing of a bag in a ZIP of size bytes. What is no ZIP, or
// holds more or less than one folder of plain files, is Malformed.
func Open(r io.ReaderAt, size int64) (*Bag, error) {
	z, err := zip.NewReader(r, size)
	if err != nil {
		return nil, fault.New(fault.Malformed, "this is no ZIP file, or not the whole of one").WithHint("get the file again").WithCause(err)
	}
	if len(z.File) > MaxFiles {
		return nil, fault.New(fault.TooLarge, "the ZIP holds %d files; %d are read", len(z.File), MaxFiles)
	}
	b := &Bag{files: map[string]*zip.File{}}
	total := uint64(0)
	for _, f := range z.File {
		if err := b.list(f); err != nil {
			return nil, err
		}
		// Photos stand in it as they are, however many; what unpacks to a thousand times
		// its size, or stands there once for many files, is not ours.
		if most := uint64(size) + uint64(MaxBytes); f.UncompressedSize64 > most-total {
			return nil, fault.New(fault.TooLarge, "the ZIP of %d bytes unpacks to more than %d", size, most)
		}
		total += f.UncompressedSize64
	}
	if b.files[bagitFile] == nil || b.files[manifest] == nil {
		return nil, fault.New(fault.Malformed, "the ZIP holds no bag with %s and %s", bagitFile, manifest).
			WithHint("give the file as Pawl wrote it")
	}
	return b, nil
}

func (b *Bag) list(f *zip.File) error {
	if strings.HasSuffix(f.Name, "/") && f.UncompressedSize64 == 0 && checkPath(strings.TrimSuffix(f.Name, "/")) == nil {
		return nil // a folder, which says nothing
	}
	name, path, _ := strings.Cut(f.Name, "/")
	if b.Name == "" {
		b.Name = name
	}
	err := checkPath(path)
	switch {
	case err != nil || checkPath(name) != nil || !f.Mode().IsRegular() || f.Flags&1 != 0:
		return fault.New(fault.Malformed, "the ZIP holds %.80q, which no bag of ours has", f.Name).WithCause(err)
	case name != b.Name:
		return fault.New(fault.Malformed, "the ZIP holds %.80q beside the bag %q", f.Name, b.Name)
	case b.files[path] != nil:
		return fault.New(fault.Malformed, "the ZIP holds %s twice", f.Name)
	case path == "fetch.txt":
		return fault.New(fault.Malformed, "the bag wants files fetched from elsewhere").WithHint("Pawl reads only what is in it")
	}
	b.files[path] = f
	return nil
}

// Files lists the paths of the files under a folder such as "data/", in order.
func (b *Bag) Files(under string) []string {
	var out []string
	for _, path := range slices.Sorted(maps.Keys(b.files)) {
		if strings.HasPrefix(path, under) {
			out = append(out, path)
		}
	}
	return out
}

// Size gives the stated bytes of a file; -1 where there is none.
func (b *Bag) Size(path string) int64 {
	f := b.files[path]
	if f == nil {
		return -1
	}
	return int64(f.UncompressedSize64)
}

// Open gives a file's bytes. One that is not there is NotFound.
func (b *Bag) Open(path string) (io.ReadCloser, error) {
	f := b.files[path]
	if f == nil {
		return nil, fault.New(fault.NotFound, "the bag holds no %s", path)
	}
	r, err := f.Open()
	if err != nil {
		return nil, fault.New(fault.Malformed, "%s in the bag cannot be read", path).WithCause(err)
	}
	return r, nil
}

// Text reads a small file whole, up to most bytes.
func (b *Bag) Text(path string, most int64) (string, error) {
	r, err := b.Open(path)
	if err != nil {
		return "", err
	}
	defer r.Close()
	text, err := io.ReadAll(io.LimitReader(r, most+1))
	switch {
	case err != nil:
		return "", fault.New(fault.Malformed, "%s in the bag cannot be read", path).WithCause(err)
	case int64(len(text)) > most:
		return "", fault.New(fault.TooLarge, "%s in the bag is over %d bytes", path, most)
	}
	return string(text), nil
}

// Report is what a check of a bag found.
type Report struct {
	Files, Bytes int64
	Hashes       map[string]string // of each file, by path
	Fingerprint  string            // SHA-256 of the tag manifest; empty where there is none
	Problems     []string          // none: the bag is valid (RFC 8493 section 3)
}

func (r *Report) problem(format string, args ...any) {
	const most = 200
	if len(r.Problems) < most {
		r.Problems = append(r.Problems, fmt.Sprintf(format, args...))
	}
}

// Check reads every byte of the bag: each payload file stands in the manifest
// and the other way round, each tag file that is listed is there, and every
// hash is right. Its error means that it could not look.
func (b *Bag) Check() (Report, error) {
	r := Report{Hashes: map[string]string{}}
	for _, path := range b.Files("") {
		sum, size, err := b.hash(path)
		if err != nil {
			r.problem("%s", err)
			continue
		}
		r.Hashes[path] = sum
		if isPayload(path) {
			r.Files, r.Bytes = r.Files+1, r.Bytes+size
		}
	}
	payload, err := b.manifest(manifest)
	if err != nil {
		return r, err
	}
	r.compare(payload, manifest)
	for path := range b.files {
		if _, listed := payload[path]; isPayload(path) && !listed {
			r.problem("%s is in the bag but not in %s: it was added", path, manifest)
		}
	}
	err = b.checkTags(&r, payload)
	slices.Sort(r.Problems)
	return r, err
}

func (b *Bag) checkTags(r *Report, payload map[string]string) error {
	for path := range payload {
		if !isPayload(path) {
			r.problem("%s lists %s, which is no payload", manifest, path)
		}
	}
	if text, err := b.Text(bagitFile, maxTag); err != nil || text != declaration {
		r.problem("%s does not say that this is a bag of version 1.0 in UTF-8", bagitFile)
	}
	if b.files[tagFile] == nil {
		r.problem("there is no %s: nothing holds the tag files", tagFile)
		return nil
	}
	tags, err := b.manifest(tagFile)
	if err != nil {
		return err
	}
	r.Fingerprint = r.Hashes[tagFile]
	r.compare(tags, tagFile)
	for path := range b.files {
		if _, listed := tags[path]; !isPayload(path) && path != tagFile && !listed && !Unlisted(path) {
			r.problem("%s is in the bag but not in %s: it was added", path, tagFile)
		}
	}
	return b.checkOxum(r)
}

var oxum = pattern.Late(`(?m)^Payload-Oxum: ([0-9]{1,18}\.[0-9]{1,9})$`)

// checkOxum holds the count of payload against bag-info.txt, where it says one.
func (b *Bag) checkOxum(r *Report) error {
	if b.files[infoFile] == nil {
		return nil
	}
	text, err := b.Text(infoFile, maxTag)
	if err != nil {
		return err
	}
	for _, m := range oxum().FindAllStringSubmatch(text, -1) {
		if is := fmt.Sprintf("%d.%d", r.Bytes, r.Files); m[1] != is {
			r.problem("Payload-Oxum says %s, the payload has %s", m[1], is)
		}
	}
	return nil
}

// compare holds hashes that a manifest lists against those of the files.
func (r *Report) compare(listed map[string]string, by string) {
	for _, path := range slices.Sorted(maps.Keys(listed)) {
		switch got, there := r.Hashes[path]; {
		case !there:
			r.problem("%s lists %s, which is not in the bag", by, path)
		case got != listed[path]:
			r.problem("%s was changed: its SHA-256 is %s, and %s says %s", path, got, by, listed[path])
		}
	}
}

func (b *Bag) hash(path string) (sum string, size int64, err error) {
	f, err := b.Open(path)
	if err != nil {
		return "", 0, err
	}
	defer f.Close()
	h := sha256.New()
	if size, err = io.Copy(h, f); err != nil {
		return "", size, fault.New(fault.Malformed, "%s in the bag cannot be read", path).WithCause(err)
	}
	return hex.EncodeToString(h.Sum(nil)), size, nil
}

var manifestLine = pattern.Late(`^([0-9A-Fa-f]{64})[ \t]+(.+)$`)

// manifest reads a manifest (RFC 8493 section 2.1.3); a line that cannot be
// read, or a path that stands twice, is Malformed.
func (b *Bag) manifest(path string) (map[string]string, error) {
	text, err := b.Text(path, maxTag)
	if err != nil {
		return nil, err
	}
	out := map[string]string{}
	scan := bufio.NewScanner(strings.NewReader(text))
	for n := 1; scan.Scan(); n++ {
		m := manifestLine().FindStringSubmatch(scan.Text())
		if m == nil || checkPath(m[2]) != nil {
			return nil, fault.New(fault.Malformed, "line %d of %s is not a hash and a plain path", n, path)
		}
		if _, twice := out[m[2]]; twice {
			return nil, fault.New(fault.Malformed, "%s lists %s twice", path, m[2])
		}
		out[m[2]] = strings.ToLower(m[1])
	}
	if err := scan.Err(); err != nil {
		return nil, fault.New(fault.Malformed, "%s cannot be read", path).WithCause(err)
	}
	return out, nil
}
