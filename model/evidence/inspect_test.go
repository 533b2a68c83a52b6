package evidence

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"errors"
	"io"
	"runtime"
	"strings"
	"testing"

	"pawl/model/fault"
)

func inspectBytes(file []byte, name, declared string) (Media, error) {
	return Inspect(bytes.NewReader(file), int64(len(file)), name, declared)
}

func TestContentDecidesWhatAFileIs(t *testing.T) {
	for _, c := range []struct {
		what string
		file []byte
		want Media
	}{
		{"JPEG", realJPEG(t, 40, 30), Media{Type: "image/jpeg", Family: "picture", Width: 40, Height: 30, Views: true}},
		{"PNG", realPNG(t, 7, 9), Media{Type: "image/png", Family: "picture", Width: 7, Height: 9, Views: true}},
		{"PNG that moves", movingPNG(t), Media{Type: "image/png", Family: "picture", Width: 7, Height: 9, Views: true}},
		{"lossy WebP", riff(vp8(320, 200)), Media{Type: "image/webp", Family: "picture", Width: 320, Height: 200, Views: true}},
		{"lossless WebP", riff(vp8l(16384, 1)), Media{Type: "image/webp", Family: "picture", Width: 16384, Height: 1, Views: true}},
		{"extended WebP", riff(vp8x(320, 200), riffChunk("ICCP", []byte{1, 2, 3}), vp8(320, 200)),
			Media{Type: "image/webp", Family: "picture", Width: 320, Height: 200, Views: true}},
		{"moving WebP", riff(vp8x(320, 200), riffChunk("ANIM", make([]byte, 6)), riffChunk("ANMF", make([]byte, 24))),
			Media{Type: "image/webp", Family: "picture", Width: 320, Height: 200, Note: "kept without a view: moving pictures cannot be drawn here"}},
		{"SNIFF-01, HEIC", sniff01, Media{Type: "image/heic", Family: "picture", Note: "kept without a view: HEIC cannot be drawn here"}},
		{"HEIC with tiles", heicWith(nil, ispe(512, 512), ispe(4032, 3024), ispe(320, 240)),
			Media{Type: "image/heic", Family: "picture", Width: 4032, Height: 3024, Note: "kept without a view: HEIC cannot be drawn here"}},
		{"HEIF", box("ftyp", []byte("mif1\x00\x00\x00\x00mif1miaf")),
			Media{Type: "image/heif", Family: "picture", Note: "kept without a view: HEIC cannot be drawn here"}},
		{"HEIC by a compatible brand", box("ftyp", []byte("mif1\x00\x00\x00\x00mif1heix")),
			Media{Type: "image/heic", Family: "picture", Note: "kept without a view: HEIC cannot be drawn here"}},
		{"PDF", pdf, Media{Type: "application/pdf", Family: "PDF"}},
		{"PDF with 1,900 bytes after its end", append(bytes.Clone(pdf), make([]byte, 1900)...), Media{Type: "application/pdf", Family: "PDF"}},
		{"JPEG with a PDF's signature in a comment", jpegWith(realJPEG(t, 4, 4), []byte("%PDF-1.4")),
			Media{Type: "image/jpeg", Family: "picture", Width: 4, Height: 4, Views: true}},
	} {
		if c.want.Family == FamilyPicture {
			c.want.Orientation = 1 // where the file says nothing
		}
		for _, declared := range []string{"", "application/octet-stream", "binary/octet-stream"} {
			if got, err := inspectBytes(c.file, "", declared); err != nil || got != c.want {
				t.Errorf("%s sent as %q:\n got %+v, %v\nwant %+v", c.what, declared, got, err, c.want)
			}
		}
	}
}

// movingPNG has an animation chunk, which makes detectors call it another type.
func movingPNG(t *testing.T) []byte {
	still := realPNG(t, 7, 9)
	moving := append(bytes.Clone(still[:33]), pngChunk("acTL", []byte{0, 0, 0, 1, 0, 0, 0, 0})...)
	return append(moving, still[33:]...)
}

func TestOtherContentIsRefusedAndNamed(t *testing.T) {
	var zipped bytes.Buffer
	w := zip.NewWriter(&zipped)
	if _, err := w.Create("photo.jpg"); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		what, looks string
		file        []byte
	}{
		{"empty", "empty", nil},
		{"SVG", "image/svg+xml", []byte(`<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>`)},
		{"SVG with prolog", "image/svg+xml", []byte(`<?xml version="1.0"?><svg xmlns="http://www.w3.org/2000/svg"/>`)},
		{"HTML", "text/html", []byte("<!DOCTYPE html><title>photo</title>")},
		{"plain text", "text/plain", []byte("serial number AB1234, bought in May")},
		{"ZIP", "application/zip", zipped.Bytes()},
		{"GIF", "image/gif", []byte("GIF89a\x01\x00\x01\x00\x00\x00\x00;")},
		{"TIFF", "image/tiff", tiff(binary.LittleEndian, exifWords{maker: "Brindle"})},
		{"AVIF, which also says mif1", "image/avif", box("ftyp", []byte("avif\x00\x00\x00\x00mif1miaf"))},
		{"AVIF by a compatible brand only", "image/heif", box("ftyp", []byte("mif1\x00\x00\x00\x00mif1avif"))},
		{"MP4", "video/mp4", box("ftyp", []byte("isom\x00\x00\x00\x00isommp42"))},
		{"HEIC whose box is longer than the file", "image/heic", []byte("\x00\x00\x0f\xfcftypheic\x00\x00\x00\x00mif1")},
		{"PDF after a line of something", "application/pdf", append([]byte("\n"), pdf...)},
		{"a program", "application/x-elf", append([]byte("\x7fELF\x02\x01\x01"), make([]byte, 60)...)},
		{"noise", "no known type", []byte{0x00, 0x01, 0x02, 0x80, 0x90}},
	} {
		got, err := inspectBytes(c.file, "photo.jpg", "image/jpeg")
		if got != (Media{}) || !fault.Is(err, fault.Media) || !strings.Contains(err.Error(), c.looks) {
			t.Errorf("%s: %+v, %v; want refused as %q", c.what, got, err, c.looks)
		}
	}
}

func TestAnotherFamilyIsRefusedAndAnotherTypeNoted(t *testing.T) {
	photo, heic := realJPEG(t, 8, 8), heicWith(nil, ispe(8, 8))
	const noView = "kept without a view: HEIC cannot be drawn here"
	for _, c := range []struct {
		what           string
		file           []byte
		name, declared string
		note           string // of what is taken
		refused        bool
	}{
		{"all agree", photo, "plate.jpg", "image/jpeg", "", false},
		{"upper case, another spelling", photo, "PLATE.JPEG", "IMAGE/JPEG; q=1", "", false},
		{"old name of JPEG", photo, "plate.jpe", "image/pjpeg", "", false},
		{"no extension", photo, "plate", "", "", false},
		{"an extension that promises nothing", photo, "IMG.0042", "", "", false},
		{"a folder in the name", photo, "a.pdf/plate", "", "", false},
		{"JPEG named HEIC", photo, "IMG_1.HEIC", "", "named .heic, but is JPEG", false},
		{"JPEG sent as HEIC", photo, "IMG_1", "image/heic", "sent as image/heic, but is JPEG", false},
		{"JPEG named and sent as PNG", photo, "a.png", "image/png", "named .png, but is JPEG; sent as image/png, but is JPEG", false},
		{"HEIC named JPEG", heic, "IMG_1.jpg", "image/jpeg", "named .jpg, but is HEIC; sent as image/jpeg, but is HEIC; " + noView, false},
		{"HEIC as HEIF", heic, "IMG_1.heif", "image/heif", noView, false},
		{"PDF all agree", pdf, "receipt.pdf", "application/pdf", "", false},
		{"PDF by its old name", pdf, "receipt.PDF", "application/x-pdf", "", false},

		{"JPEG named PDF", photo, "plate.pdf", "", "", true},
		{"JPEG sent as PDF", photo, "plate.jpg", "application/pdf", "", true},
		{"PDF named JPEG", pdf, "receipt.jpg", "", "", true},
		{"PDF sent as JPEG", pdf, "receipt", "image/jpeg", "", true},
		{"JPEG named as a program", photo, "plate.jpg.exe", "", "", true},
		{"JPEG named HTML", photo, "plate.html", "", "", true},
		{"JPEG named SVG", photo, "plate.svg", "", "", true},
		{"JPEG sent as SVG", photo, "", "image/svg+xml", "", true},
		{"JPEG sent as HTML", photo, "plate.jpg", "text/html; charset=utf-8", "", true},
		{"JPEG sent as a form", photo, "plate.jpg", "application/x-www-form-urlencoded", "", true},
		{"PDF named text", pdf, "receipt.txt", "", "", true},
		{"a type that is none", photo, "plate.jpg", "jpeg", "", true},
		{"a type that cannot be read", photo, "plate.jpg", "image/jpeg; =", "", true},
	} {
		got, err := inspectBytes(c.file, c.name, c.declared)
		if c.refused {
			if got != (Media{}) || !fault.Is(err, fault.Media) {
				t.Errorf("%s: %+v, %v; want refused", c.what, got, err)
			}
			continue
		}
		if err != nil || got.Note != c.note {
			t.Errorf("%s: note %q, %v; want %q", c.what, got.Note, err, c.note)
		}
	}
}

func TestPixelsAreLimitedBeforeAnythingIsDecoded(t *testing.T) {
	const view, kept, refused, damaged = "view", "kept", " x ", "damaged"
	for _, c := range []struct {
		what string
		file []byte
		want string
	}{
		{"64 megapixels", jpegHeader(8000, 8000), view},
		{"64 megapixels and a column", jpegHeader(8001, 8000), kept},
		{"400 megapixels", jpegHeader(20000, 20000), kept},
		{"400 megapixels and a row", jpegHeader(20000, 20001), refused},
		{"the longest side", jpegHeader(65535, 1), view},
		{"the longest side, high", jpegHeader(1, 65535), view},
		{"a side too long", pngHeader(65536, 1), refused},
		{"a side too long, high", pngHeader(1, 65536), refused},
		// The size of a real attack, a JPEG of 4,856 bytes: libvips/bimg issue 394.
		{"64,250 x 64,250", jpegHeader(64250, 64250), refused},
		{"a product beyond 32 bits", pngHeader(65535, 65537), refused},
		{"sides beyond 31 bits", pngHeader(1<<31, 1<<31), damaged},
		{"the most a PNG can say", pngHeader(1<<31-1, 1<<31-1), damaged},
		{"the most a lossless WebP can say", riff(vp8l(16384, 16384)), kept},
		{"the most a WebP canvas can say", riff(vp8x(1<<24, 255), vp8(16383, 255)), damaged},
		{"a small canvas over a huge frame", riff(vp8x(10, 10), vp8(16383, 16383)), refused},
		{"an HEIC too large", heicWith(nil, ispe(20000, 20001)), refused},
		{"an HEIC with a side too long behind a tile", heicWith(nil, ispe(512, 512), ispe(65536, 1)), refused},
		{"an HEIC with sides whose product overflows", heicWith(nil, ispe(1<<32-1, 1<<32-1), ispe(512, 512)), refused},
		{"no pixels", jpegHeader(0, 0), damaged},
	} {
		got, err := inspectBytes(c.file, "", "")
		switch c.want {
		case refused, damaged:
			if !fault.Is(err, fault.Invalid) || !strings.Contains(err.Error(), c.want) {
				t.Errorf("%s: %+v, %v; want Invalid with %q", c.what, got, err, c.want)
			}
		default:
			if err != nil || got.Views != (c.want == view) || (got.Note == "") != (c.want == view) {
				t.Errorf("%s: %+v, %v; want %s", c.what, got, err, c.want)
			}
		}
	}
}

// Check value BOMB-01: 33 bytes that declare 10^10 pixels, 40 GB as RGBA.
func TestABombIsRefusedWithoutAllocating(t *testing.T) {
	bomb := pngHeader(100000, 100000)
	if len(bomb) != 33 {
		t.Fatalf("the bomb has %d bytes, want 33", len(bomb))
	}
	var err error
	used := allocated(func() { _, err = inspectBytes(bomb, "plate.png", "image/png") })
	if !fault.Is(err, fault.Invalid) || !strings.Contains(err.Error(), "100000 x 100000") {
		t.Errorf("got %v, want Invalid with the size", err)
	}
	if used > 1<<20 {
		t.Errorf("%d bytes allocated, want under 1 MiB", used)
	}
}

// allocated counts all bytes allocated while f runs, whether freed or not.
func allocated(f func()) uint64 {
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	f()
	runtime.ReadMemStats(&after)
	return after.TotalAlloc - before.TotalAlloc
}

func TestACutPictureOrPDFIsRefused(t *testing.T) {
	photo, drawing := realJPEG(t, 40, 30), realPNG(t, 40, 30)
	for what, file := range map[string][]byte{
		"JPEG of three bytes":       photo[:3],
		"JPEG before its frame":     photo[:40],
		"PNG of a signature":        drawing[:8],
		"PNG in its header":         drawing[:20],
		"PNG with a wrong checksum": append(append(bytes.Clone(drawing[:29]), 0, 0, 0, 0), drawing[33:]...),
		"WebP of a signature":       riff(),
		"WebP in its frame header":  riff(vp8(320, 200))[:24],
		"WebP of a canvas alone":    riff(vp8x(320, 200)),
		"PDF without end":           pdf[:len(pdf)-6],
		"PDF with its end far off":  append(bytes.Clone(pdf), make([]byte, 2100)...),
	} {
		if got, err := inspectBytes(file, "", ""); !fault.Is(err, fault.Invalid) || got != (Media{}) {
			t.Errorf("%s: %+v, %v; want Invalid", what, got, err)
		}
	}
}

// endless is a file of any size that takes no memory: a head, then zeros. It
// counts what is read of it.
type endless struct {
	head         []byte
	size, at     int64
	read         int64
	fail         error // returned by reads behind the head
	refuseToSeek bool
}

func (e *endless) Read(p []byte) (int, error) {
	if e.at >= e.size {
		return 0, io.EOF
	}
	if e.fail != nil && e.at >= int64(len(e.head)) {
		return 0, e.fail
	}
	n := int(min(int64(len(p)), e.size-e.at))
	clear(p[:n])
	if e.at < int64(len(e.head)) {
		n = copy(p[:n], e.head[e.at:])
	}
	e.at += int64(n)
	e.read += int64(n)
	return n, nil
}

func (e *endless) Seek(offset int64, whence int) (int64, error) {
	if e.refuseToSeek {
		return 0, errors.New("a pipe cannot seek")
	}
	switch whence {
	case io.SeekCurrent:
		offset += e.at
	case io.SeekEnd:
		offset += e.size
	}
	if offset < 0 {
		return 0, errors.New("before the start")
	}
	e.at = offset
	return offset, nil
}

func TestAFileOverTheLimitIsRefusedUnread(t *testing.T) {
	file := &endless{head: realJPEG(t, 8, 8), size: MaxBytes + 1}
	if _, err := Inspect(file, file.size, "", ""); !fault.Is(err, fault.TooLarge) {
		t.Errorf("got %v, want TooLarge", err)
	}
	if file.read != 0 {
		t.Errorf("%d bytes were read", file.read)
	}
}

func TestMemoryStaysFlatForTheLargestFile(t *testing.T) {
	for what, head := range map[string][]byte{
		"JPEG": realJPEG(t, 8, 8),
		"PNG":  realPNG(t, 8, 8),
		"WebP": riff(vp8(8, 8)),
		"HEIC": heicWith(nil, ispe(8, 8)),
	} {
		file := &endless{head: head, size: MaxBytes}
		var err error
		used := allocated(func() { _, err = Inspect(file, file.size, "", "") })
		if err != nil || used > 8<<20 {
			t.Errorf("%s of 25 MiB: %d bytes allocated, %v; want under 8 MiB", what, used, err)
		}
	}
}

// A box whose 64-bit size leads back to the start sends a reader of boxes round
// for ever; the photo is kept, and claims nothing.
func TestAnHEICThatLeadsInACircleEnds(t *testing.T) {
	back := append([]byte("\x00\x00\x00\x01free"), binary.BigEndian.AppendUint64(nil, -uint64(len(sniff01)))...)
	file := append(bytes.Clone(sniff01), back...)
	counted := &endless{head: file, size: int64(len(file))}
	got, err := Inspect(counted, counted.size, "", "")
	if err != nil || got.Type != TypeHEIC || got.ClaimedAt != "" {
		t.Errorf("got %+v, %v", got, err)
	}
	if most := int64(budgetBytes + headBytes + 64<<10); counted.read > most {
		t.Errorf("%d bytes read, want at most %d", counted.read, most)
	}
}

func TestAReaderThatFailsIsNotADamagedFile(t *testing.T) {
	broken := errors.New("disk on fire")
	photo := realJPEG(t, 8, 8)
	for what, file := range map[string]*endless{
		"in the first bytes": {size: 1000, fail: broken},
		"in the header":      {head: photo[:30], size: 1000, fail: broken},
		"in the seek":        {head: photo, size: 1000, refuseToSeek: true},
	} {
		if _, err := Inspect(file, 1000, "", ""); !fault.Is(err, fault.Unavailable) {
			t.Errorf("%s: %v, want Unavailable", what, err)
		}
	}
}

func TestASizeThatIsNotTheFilesIsRefused(t *testing.T) {
	photo := realJPEG(t, 8, 8)
	for _, size := range []int64{-1, 0, int64(len(photo)) - 1, int64(len(photo)) + 1} {
		if _, err := Inspect(bytes.NewReader(photo), size, "", ""); !fault.Is(err, fault.Invalid) {
			t.Errorf("said to have %d bytes: %v, want Invalid", size, err)
		}
	}
}
