package evidence

import (
	"bytes"
	"encoding/binary"
	"errors"
	"strings"
	"testing"
	"time"
	"unicode"
	"unicode/utf8"

	"pawl/model/fault"
)

// FuzzInspect holds every answer against what can be told without the package:
// signatures by their bytes, limits by plain arithmetic, a PNG's size by position.
func FuzzInspect(f *testing.F) {
	words := tiff(binary.BigEndian, exifWords{"Brindle", "Pocket 3", "2026:01:15 14:03:22", "-06:00"})
	for _, file := range [][]byte{
		nil, sniff01, pdf, pngHeader(100000, 100000), jpegHeader(64250, 64250), jpegHeader(8001, 8000),
		realJPEG(f, 9, 5), jpegWith(realJPEG(f, 9, 5), words), jpegWith(realJPEG(f, 9, 5), tiff(binary.LittleEndian, exifWords{taken: "0000:00:00 00:00:00"})),
		realPNG(f, 9, 5), pngWith(realPNG(f, 9, 5), words),
		riff(vp8(9, 5)), riff(vp8l(9, 5)), riff(vp8x(9, 5), vp8(9, 5), riffChunk("EXIF", words)), riff(vp8x(9, 5), riffChunk("ANMF", make([]byte, 24))),
		heicWith(words, ispe(9, 5), ispe(90, 50)), box("ftyp", []byte("avif\x00\x00\x00\x00mif1")),
		[]byte(`<svg xmlns="http://www.w3.org/2000/svg"/>`), []byte("<!DOCTYPE html>"), []byte("PK\x03\x04"),
	} {
		f.Add(file, "", "")
	}
	f.Add(realJPEG(f, 9, 5), "IMG_1.HEIC", "image/heic")
	f.Add(pdf, "receipt.jpg", "application/octet-stream")
	f.Fuzz(func(t *testing.T, file []byte, name, declared string) {
		got, err := inspectBytes(file, name, declared)
		if again, err2 := inspectBytes(file, name, declared); again != got || (err == nil) != (err2 == nil) {
			t.Fatalf("two answers: %+v, %v and %+v, %v", got, err, again, err2)
		}
		if err != nil {
			checkRefusal(t, got, err)
			return
		}
		if signature(file) != got.Type {
			t.Fatalf("taken as %q, but the signature is %q", got.Type, signature(file))
		}
		checkSize(t, file, got)
		checkClaims(t, got)
		// Without a name there is less to object to, never more.
		bare, err := inspectBytes(file, "", "")
		if bare.Note, got.Note = "", ""; err != nil || bare != got {
			t.Fatalf("without a name: %+v, %v; with one: %+v", bare, err, got)
		}
	})
}

func checkRefusal(t *testing.T, got Media, err error) {
	t.Helper()
	var known *fault.Error
	if !errors.As(err, &known) || known.Hint == "" || (known.Kind != fault.Media && known.Kind != fault.Invalid) || got != (Media{}) {
		t.Fatalf("%+v, %#v: want an empty answer and a fault with a hint", got, err)
	}
}

// signature tells the types apart by fixed positions, the brands by searching.
func signature(b []byte) string {
	at := func(i int, s string) bool { return len(b) >= i+len(s) && string(b[i:i+len(s)]) == s }
	switch {
	case at(0, "\xff\xd8\xff"):
		return "image/jpeg"
	case at(0, "\x89PNG\x0d\x0a\x1a\x0a"):
		return "image/png"
	case at(0, "RIFF") && at(8, "WEBP"):
		return "image/webp"
	case at(0, "%PDF-"):
		return "application/pdf"
	case at(4, "ftyp") && len(b) >= 16:
		size := min(len(b), int(b[2])<<8|int(b[3]))
		brands := string(b[8:12])
		for i := 16; i+4 <= size; i += 4 {
			brands += "," + string(b[i:i+4])
		}
		if strings.Contains(brands, "heic") || strings.Contains(brands, "heix") {
			return "image/heic"
		}
		return "image/heif"
	}
	return ""
}

func checkSize(t *testing.T, file []byte, got Media) {
	t.Helper()
	pixels := got.Width * got.Height
	if got.Width < 0 || got.Height < 0 || got.Width > 65535 || got.Height > 65535 || pixels > 400e6 {
		t.Fatalf("kept at %d x %d", got.Width, got.Height)
	}
	drawable := got.Type == "image/jpeg" || got.Type == "image/png" || got.Type == "image/webp"
	if drawable && pixels < 1 {
		t.Fatalf("a %s of no pixels", got.Type)
	}
	if got.Views && (!drawable || pixels > 64e6) {
		t.Fatalf("a view of %+v", got)
	}
	if drawable && !got.Views && got.Note == "" {
		t.Fatalf("no view, and no reason: %+v", got)
	}
	if got.Type == "image/png" {
		width, height := binary.BigEndian.Uint32(file[16:]), binary.BigEndian.Uint32(file[20:])
		if got.Width != int64(width) || got.Height != int64(height) {
			t.Fatalf("%d x %d, but its header says %d x %d", got.Width, got.Height, width, height)
		}
	}
	if pdf := got.Type == "application/pdf"; pdf != (got.Family == "PDF") || pdf && (pixels != 0 || !bytes.Contains(file, []byte("%%EOF"))) {
		t.Fatalf("a PDF as %+v", got)
	}
}

func checkClaims(t *testing.T, got Media) {
	t.Helper()
	if got.ClaimedAt != "" {
		_, zoned := time.Parse(time.RFC3339, got.ClaimedAt)
		_, local := time.Parse("2006-01-02T15:04:05", got.ClaimedAt)
		if (zoned == nil) == (local == nil) {
			t.Fatalf("claimed at %q", got.ClaimedAt)
		}
	}
	if !utf8.ValidString(got.Device) || utf8.RuneCountInString(got.Device) > 64 || strings.TrimSpace(got.Device) != got.Device ||
		strings.ContainsFunc(got.Device, unicode.IsControl) {
		t.Fatalf("device %q", got.Device)
	}
}

// FuzzClaimedTime checks that a claim holds the digits that were there, in their
// order, and that its moment is the local time less the offset.
func FuzzClaimedTime(f *testing.F) {
	f.Add("2026:01:15 14:03:22", "-06:00")
	f.Add("2026:01:15 14:03:22", "+14:00")
	f.Add("2024:02:29 23:59:59", "-00:00")
	f.Add("0000:00:00 00:00:00", "")
	f.Add("    :  :     :  :  ", "   :  ")
	f.Fuzz(func(t *testing.T, taken, offset string) {
		got := claimedTime(taken, offset)
		if got == "" {
			return
		}
		if got != localDigits(taken) && got != localDigits(taken)+offset {
			t.Fatalf("%q and %q became %q", taken, offset, got)
		}
		local, err := time.Parse("2006-01-02T15:04:05", got[:19])
		if err != nil {
			t.Fatalf("%q: %v", got, err)
		}
		if len(got) == 19 {
			return
		}
		at, err := time.Parse(time.RFC3339, got)
		minutes := int(offset[1]-'0')*600 + int(offset[2]-'0')*60 + int(offset[4]-'0')*10 + int(offset[5]-'0')
		if offset[0] == '-' {
			minutes = -minutes
		}
		if err != nil || !at.Equal(local.Add(-time.Duration(minutes)*time.Minute)) {
			t.Fatalf("%q: %v, %v", got, at, err)
		}
	})
}

// localDigits rewrites the separators by position.
func localDigits(taken string) string {
	b := []byte(taken)
	b[4], b[7], b[10] = '-', '-', 'T'
	return string(b)
}
