package evidence

import (
	"bytes"
	"encoding/binary"
	"errors"
	"image"
	"image/color"
	"image/jpeg"
	"io"
	"testing"

	"pawl/model/fault"
)

// noisy is a JPEG in which every sort of byte occurs.
func noisy(t testing.TB, side int) []byte {
	t.Helper()
	img := image.NewRGBA(image.Rect(0, 0, side, side))
	seed := uint32(7)
	for y := range side {
		for x := range side {
			seed = seed*1664525 + 1013904223
			img.SetRGBA(x, y, color.RGBA{byte(seed >> 8), byte(seed >> 16), byte(seed >> 24), 255})
		}
	}
	var out bytes.Buffer
	if err := jpeg.Encode(&out, img, &jpeg.Options{Quality: 95}); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

func segment(mark byte, body string) []byte {
	return append([]byte{0xff, mark, byte((len(body) + 2) >> 8), byte(len(body) + 2)}, body...)
}

// exifBlock says how the picture is turned, and a place in words.
func exifBlock(order binary.AppendByteOrder, turn uint16) string {
	head := "II*\x00"
	if order == binary.BigEndian {
		head = "MM\x00*"
	}
	b := order.AppendUint32([]byte("Exif\x00\x00"+head), 8)
	b = order.AppendUint16(b, 1)
	b = order.AppendUint16(b, 0x0112)
	b = order.AppendUint16(b, 3)
	b = order.AppendUint32(b, 1)
	b = order.AppendUint16(b, turn)
	b = order.AppendUint16(b, 0)
	return string(order.AppendUint32(b, 0)) + "GPS-OF-A-HOME"
}

// Every marker that says something beside the picture is left out, and the picture is the
// same to the byte, with how it is turned (ITU-T T.81 annex B; Exif tag 0x0112).
func TestWithoutMetadata(t *testing.T) {
	plain := noisy(t, 60)
	for turn := range uint16(9) {
		for _, order := range []binary.AppendByteOrder{binary.BigEndian, binary.LittleEndian} {
			dressed := append([]byte{0xff, 0xd8}, segment(0xe1, exifBlock(order, turn))...)
			for _, s := range [][]byte{segment(0xe1, "http://ns.adobe.com/xap/1.0/\x00SECRET"), segment(0xed, "Photoshop SECRET"), segment(0xfe, "SECRET"), segment(0xe2, "MPF\x00SECRET"), segment(0xe0, "JFXX\x00SECRET"), segment(0xe2, "ICC_PROFILE\x00COLORS")} {
				dressed = append(dressed, s...)
			}
			dressed = append(append(dressed, plain[2:]...), append([]byte("SECRET"), noisy(t, 10)...)...)
			var out bytes.Buffer
			if err := WithoutMetadata(&out, bytes.NewReader(dressed)); err != nil {
				t.Fatal(err)
			}
			got := out.Bytes()
			if bytes.Contains(got, []byte("SECRET")) || bytes.Contains(got, []byte("GPS")) || !bytes.Contains(got, []byte("COLORS")) || !bytes.HasSuffix(got, plain[2:]) {
				t.Fatalf("turned %d: %d bytes of %d", turn, len(got), len(dressed))
			}
			media, err := Inspect(bytes.NewReader(got), int64(len(got)), "", "")
			if err != nil || media.Place != "" || media.Width != 60 {
				t.Fatal(media, err)
			}
			if want := max(turn, 1); media.Orientation != int(want) && !(want == 1 && media.Orientation == 0) {
				t.Errorf("turned %d, and the copy says %d", turn, media.Orientation)
			}
			if _, err := jpeg.Decode(bytes.NewReader(got)); err != nil {
				t.Error(err)
			}
		}
	}
	for name, raw := range map[string][]byte{"nothing": nil, "no JPEG": []byte("%PDF-1.4"), "cut short": plain[:len(plain)/2], "no end": plain[:len(plain)-2], "damaged": {0xff, 0xd8, 0, 0}, "a short segment": {0xff, 0xd8, 0xff, 0xe1, 0, 1}} {
		if err := WithoutMetadata(io.Discard, bytes.NewReader(raw)); !fault.Is(err, fault.Invalid) {
			t.Errorf("%s: %v", name, err)
		}
	}
	gone := errors.New("the disk went away")
	if err := WithoutMetadata(io.Discard, io.MultiReader(bytes.NewReader(plain[:20]), brokenReader{gone})); !errors.Is(err, gone) {
		t.Errorf("%v", err)
	}
}

type brokenReader struct{ err error }

func (b brokenReader) Read([]byte) (int, error) { return 0, b.err }

// FuzzWithoutMetadata: whatever comes in, what goes out holds no place and no more than
// came in beside how it is turned, and leaving out again changes nothing.
func FuzzWithoutMetadata(f *testing.F) {
	plain := noisy(f, 8)
	f.Add(plain)
	f.Add(append(append([]byte{0xff, 0xd8}, segment(0xe1, exifBlock(binary.BigEndian, 6))...), plain[2:]...))
	f.Add([]byte{0xff, 0xd8, 0xff, 0xd9})
	f.Fuzz(func(t *testing.T, raw []byte) {
		var once, twice bytes.Buffer
		if err := WithoutMetadata(&once, bytes.NewReader(raw)); err != nil {
			return
		}
		if err := WithoutMetadata(&twice, bytes.NewReader(once.Bytes())); err != nil || !bytes.Equal(once.Bytes(), twice.Bytes()) {
			t.Errorf("left out twice: %v, %d and %d bytes of %d", err, once.Len(), twice.Len(), len(raw))
		}
		if media, err := Inspect(bytes.NewReader(once.Bytes()), int64(once.Len()), "", ""); err == nil && media.Place != "" {
			t.Errorf("it still says %q", media.Place)
		}
	})
}
