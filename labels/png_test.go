package labels

import (
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"image"
	"math"
	"strings"
	"testing"

	"pawl/model/fault"
)

var wrench = Text{Symbol: link, Number: "00E-KM5", Lines: []string{"Torque wrench, Brindle TW-340", "Demo garage"}}

// TestPNGReads: both judges read the label at every printer's resolution,
// upright and turned by 7 degrees.
func TestPNGReads(t *testing.T) {
	for _, dpi := range []int{203, 300, 600} {
		for _, payload := range []string{"T/00EKM5", link, strings.ToLower(link)} {
			text := wrench
			text.Symbol = payload
			_, img := drawPNG(t, text, PNGOptions{DPI: dpi})
			for _, degrees := range []float64{0, 7} {
				name := fmt.Sprintf("%q at %d dpi, turned %g degrees", payload, dpi, degrees)
				seen := turned(img, degrees)
				if got, err := zxing(seen); got != payload {
					t.Errorf("%s: gozxing reads %q, %v", name, got, err)
				}
				if got := zbar(t, seen); len(got) != 1 || got[0] != payload {
					t.Errorf("%s: zbarimg reads %q", name, got)
				}
			}
		}
	}
}

// TestPNGDots: a module is a whole number of dots, the picture is one bit
// deep, and its resolution is written. QR-04 and QR-06 of
// identity-labels-evidence 8; smallest modules by its table 2.3.
func TestPNGDots(t *testing.T) {
	for _, c := range []struct {
		dpi, dots, least int
		height           int // in dots, of a version 2 symbol with quiet zone
		mm               float64
	}{
		{300, 4, 4, 132, 11.2}, // QR-04: 33 modules of 4 dots; 2.3: 11.2 mm
		{300, 5, 4, 165, 14.0}, // QR-06
		{300, 0, 4, 132, 11.2},
		{203, 0, 4, 132, 16.5},
		{203, 3, 3, 99, 12.4},
		{600, 0, 8, 264, 11.2},
		{600, 12, 8, 396, 16.8},
	} {
		b, img := drawPNG(t, wrench, PNGOptions{DPI: c.dpi, DotsPerModule: c.dots, Level: Q})
		dots := c.dots
		if dots == 0 {
			dots = c.height / 33
		}
		if h := img.Bounds().Dy(); h != c.height || math.Abs(25.4*float64(h)/float64(c.dpi)-c.mm) > 0.05 {
			t.Errorf("%d dpi, %d dots: %d dots high, want %d (%.1f mm)", c.dpi, c.dots, h, c.height, c.mm)
		}
		checkHeader(t, b, c.dpi)
		checkModules(t, img, mustEncode(t, link, Q), dots)
	}
}

// checkHeader reads the chunks by their layout in PNG 3rd ed., 5.3.
func checkHeader(t *testing.T, b []byte, dpi int) {
	t.Helper()
	if depth := b[24]; depth != 1 {
		t.Errorf("%d bits deep, want 1", depth)
	}
	chunk := b[33:]
	length := binary.BigEndian.Uint32(chunk)
	if length != 9 || string(chunk[4:8]) != "pHYs" {
		t.Fatalf("after the header comes %q of %d bytes", chunk[4:8], length)
	}
	if got, want := binary.BigEndian.Uint32(chunk[17:]), crc32.ChecksumIEEE(chunk[4:17]); got != want {
		t.Errorf("pHYs check is %08x, want %08x", got, want)
	}
	x, y, unit := binary.BigEndian.Uint32(chunk[8:]), binary.BigEndian.Uint32(chunk[12:]), chunk[16]
	// 203, 300, 600 dots per inch by 39.3701 inches to the meter.
	want := map[int]uint32{203: 7992, 300: 11811, 600: 23622}[dpi]
	if x != want || y != want || unit != 1 {
		t.Errorf("pHYs says %d x %d, unit %d; want %d, unit 1", x, y, unit, want)
	}
}

// checkModules compares every dot of the symbol and its quiet zone.
func checkModules(t *testing.T, img *image.Paletted, s *Symbol, dots int) {
	t.Helper()
	wrong := 0
	for y := range (s.Side() + 2*quiet) * dots {
		for x := range (s.Side() + 2*quiet) * dots {
			mx, my := x/dots-quiet, y/dots-quiet
			inside := mx >= 0 && my >= 0 && mx < s.Side() && my < s.Side()
			if black := img.ColorIndexAt(x, y) == 1; black != (inside && s.Modules[my][mx]) {
				wrong++
			}
		}
	}
	if wrong > 0 {
		t.Errorf("%d dots of symbol and quiet zone are wrong", wrong)
	}
}

// TestModuleSize is QR-05 of identity-labels-evidence 8 (the worked check of
// qrcode.com): version 3 at 400 dpi and 4 dots.
func TestModuleSize(t *testing.T) {
	s := mustEncode(t, strings.Repeat("A", 47), Q)
	module := 25.4 * 4 / 400
	for _, c := range []struct {
		what      string
		got, want float64
	}{
		{"version", float64(s.Version), 3},
		{"symbol", float64(s.Side()) * module, 7.366},
		{"with quiet zone", float64(s.Side()+2*quiet) * module, 9.398},
	} {
		if math.Abs(c.got-c.want) > 1e-9 {
			t.Errorf("%s: %g, want %g", c.what, c.got, c.want)
		}
	}
}

func TestPNGRefuses(t *testing.T) {
	for _, c := range []struct {
		name string
		text Text
		opt  PNGOptions
		says string
	}{
		{"no resolution", wrench, PNGOptions{}, "203, 300 or 600"},
		{"a resolution of no label printer", wrench, PNGOptions{DPI: 72}, "72"},
		{"modules under 0.33 mm", wrench, PNGOptions{DPI: 600, DotsPerModule: 4}, "use 8 dots"},
		{"negative dots", wrench, PNGOptions{DPI: 300, DotsPerModule: -4}, "use 4 dots"},
		{"a poster", wrench, PNGOptions{DPI: 600, DotsPerModule: 1 << 20}, "use fewer"},
		{"no number", Text{Symbol: link}, PNGOptions{DPI: 300}, "without a number"},
		{"a number that the face lacks", Text{Symbol: link, Number: "扳-1"}, PNGOptions{DPI: 300}, "would read"},
		{"no symbol", Text{Number: "00E-KM5"}, PNGOptions{DPI: 300}, "nothing to put"},
	} {
		err := PNG(failing{}, c.text, c.opt)
		if !fault.Is(err, fault.Invalid) || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v; want invalid, saying %q", c.name, err, c.says)
		}
	}
	if err := PNG(failing{}, wrench, PNGOptions{DPI: 300}); !fault.Is(err, fault.Internal) {
		t.Errorf("a failing writer: %v, want internal", err)
	}
}

// failing is a full disk.
type failing struct{}

func (failing) Write([]byte) (int, error) { return 0, fmt.Errorf("no space left") }
