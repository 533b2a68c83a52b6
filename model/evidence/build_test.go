package evidence

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/jpeg"
	"image/png"
	"testing"
)

// Files built for the tests. Pictures come from the standard encoders where one
// exists; headers alone are written out by hand.

func realJPEG(t testing.TB, width, height int) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, image.NewGray(image.Rect(0, 0, width, height)), nil); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func realPNG(t testing.TB, width, height int) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := png.Encode(&b, image.NewGray(image.Rect(0, 0, width, height))); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// exifWords is what the Exif of a built photo says; an empty one is left out.
type exifWords struct{ maker, model, taken, offset string }

// tiff writes the words as a TIFF structure (CIPA DC-008, 4.5): Make and Model in
// the first directory, the time fields in the Exif directory.
func tiff(order binary.AppendByteOrder, words exifWords) []byte {
	type field struct {
		tag  uint16
		text string
	}
	fields := func(all ...field) (kept []field) {
		for _, f := range all {
			if f.text != "" {
				kept = append(kept, f)
			}
		}
		return kept
	}
	first := fields(field{0x010F, words.maker}, field{0x0110, words.model})
	exif := fields(field{0x9003, words.taken}, field{0x9011, words.offset})
	b := []byte("MM")
	if order.String() == binary.LittleEndian.String() {
		b = []byte("II")
	}
	b = order.AppendUint32(order.AppendUint16(b, 42), 8)
	exifAt := 8 + 2 + 12*(len(first)+1) + 4
	textAt := exifAt + 2 + 12*len(exif) + 4
	var texts []byte
	directory := func(entries []field, pointer bool) {
		count := len(entries)
		if pointer {
			count++
		}
		b = order.AppendUint16(b, uint16(count))
		for _, f := range entries {
			text := append([]byte(f.text), 0)
			b = order.AppendUint16(order.AppendUint16(b, f.tag), 2) // ASCII
			b = order.AppendUint32(b, uint32(len(text)))
			if len(text) <= 4 {
				b = append(b, append(text, 0, 0, 0, 0)[:4]...)
				continue
			}
			b = order.AppendUint32(b, uint32(textAt+len(texts)))
			texts = append(texts, text...)
		}
		if pointer {
			b = order.AppendUint16(order.AppendUint16(b, 0x8769), 4) // LONG
			b = order.AppendUint32(order.AppendUint32(b, 1), uint32(exifAt))
		}
		b = order.AppendUint32(b, 0) // no next directory
	}
	directory(first, true)
	directory(exif, false)
	return append(b, texts...)
}

// jpegWith puts Exif into a JPEG, right after its start marker.
func jpegWith(photo, tiff []byte) []byte {
	body := append([]byte("Exif\x00\x00"), tiff...)
	b := binary.BigEndian.AppendUint16([]byte{0xFF, 0xD8, 0xFF, 0xE1}, uint16(len(body)+2))
	return append(append(b, body...), photo[2:]...)
}

// jpegHeader is a JPEG that stops where its pixels would begin.
func jpegHeader(width, height int) []byte {
	b := []byte{0xFF, 0xD8, 0xFF, 0xC0, 0, 11, 8}
	b = binary.BigEndian.AppendUint16(b, uint16(height))
	b = binary.BigEndian.AppendUint16(b, uint16(width))
	b = append(b, 1, 1, 0x11, 0)
	return append(b, 0xFF, 0xDA, 0, 8, 1, 1, 0, 0, 63, 0)
}

func pngChunk(kind string, body []byte) []byte {
	b := binary.BigEndian.AppendUint32(nil, uint32(len(body)))
	b = append(append(b, kind...), body...)
	return binary.BigEndian.AppendUint32(b, crc32.ChecksumIEEE(b[4:]))
}

// pngHeader is the signature and the first chunk of a PNG: 33 bytes.
func pngHeader(width, height uint32) []byte {
	body := binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(nil, width), height)
	return append([]byte("\x89PNG\r\n\x1a\n"), pngChunk("IHDR", append(body, 8, 6, 0, 0, 0))...)
}

// pngWith puts Exif into a PNG, right after its header.
func pngWith(photo, tiff []byte) []byte {
	b := append(bytes.Clone(photo[:33]), pngChunk("eXIf", tiff)...)
	return append(b, photo[33:]...)
}

func riff(chunks ...[]byte) []byte {
	body := append([]byte("WEBP"), bytes.Join(chunks, nil)...)
	return append(binary.LittleEndian.AppendUint32([]byte("RIFF"), uint32(len(body))), body...)
}

func riffChunk(kind string, body []byte) []byte {
	b := append(binary.LittleEndian.AppendUint32([]byte(kind), uint32(len(body))), body...)
	if len(body)%2 == 1 {
		b = append(b, 0)
	}
	return b
}

// vp8 is a lossy frame header (RFC 6386, 9.1), padded as a frame would go on.
func vp8(width, height uint16) []byte {
	b := []byte{0x10, 0, 0, 0x9D, 0x01, 0x2A}
	b = binary.LittleEndian.AppendUint16(binary.LittleEndian.AppendUint16(b, width), height)
	return riffChunk("VP8 ", append(b, make([]byte, 16)...))
}

// vp8l is a lossless frame header (RFC 9649, 3.4).
func vp8l(width, height uint32) []byte {
	b := binary.LittleEndian.AppendUint32([]byte{0x2F}, (width-1)|(height-1)<<14)
	return riffChunk("VP8L", append(b, make([]byte, 16)...))
}

// vp8x is the extended header with its canvas (RFC 9649, 2.7.1).
func vp8x(width, height uint32) []byte {
	w, h := width-1, height-1
	return riffChunk("VP8X", []byte{0x08, 0, 0, 0, byte(w), byte(w >> 8), byte(w >> 16), byte(h), byte(h >> 8), byte(h >> 16)})
}

func box(kind string, parts ...[]byte) []byte {
	body := bytes.Join(parts, nil)
	return append(append(binary.BigEndian.AppendUint32(nil, uint32(len(body)+8)), kind...), body...)
}

func ispe(width, height uint32) []byte {
	b := binary.BigEndian.AppendUint32(make([]byte, 4), width)
	return box("ispe", binary.BigEndian.AppendUint32(b, height))
}

// heicWith is an HEIC with picture sizes and Exif, and no picture (ISO/IEC
// 23008-12; item location version 0, ISO/IEC 14496-12, 8.11.3).
func heicWith(tiff []byte, sizes ...[]byte) []byte {
	ftyp := box("ftyp", []byte("heic\x00\x00\x00\x00mif1heic"))
	item := append([]byte{0, 0, 0, 6}, append([]byte("Exif\x00\x00"), tiff...)...)
	infe := box("infe", []byte{2, 0, 0, 0, 0, 1, 0, 0}, []byte("Exif\x00"))
	iinf := box("iinf", []byte{0, 0, 0, 0, 0, 1}, infe)
	iprp := box("iprp", box("ipco", sizes...))
	meta := func(offset uint32) []byte {
		place := []byte{0, 0, 0, 0, 0x44, 0, 0, 1, 0, 1, 0, 0, 0, 1}
		place = binary.BigEndian.AppendUint32(place, offset)
		place = binary.BigEndian.AppendUint32(place, uint32(len(item)))
		return box("meta", []byte{0, 0, 0, 0}, iinf, box("iloc", place), iprp)
	}
	offset := len(ftyp) + len(meta(0)) + 8
	return bytes.Join([][]byte{ftyp, meta(uint32(offset)), box("mdat", item)}, nil)
}

// sniff01 is check value SNIFF-01: the file type box that phones write.
var sniff01 = []byte("\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic")

var pdf = []byte("%PDF-1.4\n1 0 obj\n<< /Type /Catalog >>\nendobj\ntrailer\n<< /Root 1 0 R >>\n%%EOF\n")
