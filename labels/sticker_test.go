package labels

import (
	"bytes"
	"image"
	"image/png"
	"strings"
	"testing"

	"pawl/model/fault"
)

// stickers is one that covers all, and one that covers less, with two stretches.
func stickers() map[string]Sticker {
	return map[string]Sticker{
		"whole": {Symbol: "T/00EKM5", Number: "00E-KM5", Calibrated: "2026-05-04", Due: "2027-05-04", Spans: []string{"40 to 200 N·m, both directions"}},
		"limited": {Symbol: link, Number: "00E-KM5", Calibrated: "2026-05-04", Limited: true,
			Spans: []string{"40 to 120 N·m clockwise", "40 to 100.25 N·m counterclockwise"}},
	}
}

// TestStickersRead: both judges read a sticker at 203 dpi, upright and turned by 7
// degrees, as a PDF page, and on a sheet.
func TestStickersRead(t *testing.T) {
	for name, sticker := range stickers() {
		c := sticker.Card()
		var page, sheet, raster bytes.Buffer
		if err := CardPDF(&page, []Card{c}, 0); err != nil {
			t.Fatal(err)
		}
		if err := CardSheet(&sheet, []Card{c}, SheetOptions{Sheet: sheetOf(t, "letter-3x10")}); err != nil {
			t.Fatal(err)
		}
		if err := CardPNG(&raster, c, PNGOptions{DPI: 203}); err != nil {
			t.Fatal(err)
		}
		img, err := png.Decode(&raster)
		if err != nil {
			t.Fatal(err)
		}
		for how, img := range map[string]image.Image{"203 dpi": img, "turned": turned(img, 7),
			"PDF": render(t, keep(t, page.Bytes()), 1), "sheet": render(t, keep(t, sheet.Bytes()), 1)} {
			if got, err := zxing(img); got != c.Symbol {
				t.Errorf("%s, %s: gozxing reads %q, %v; want %q", name, how, got, err, c.Symbol)
			}
			if got := zbar(t, img); len(got) != 1 || got[0] != c.Symbol {
				t.Errorf("%s, %s: zbarimg reads %q, want %q", name, how, got, c.Symbol)
			}
		}
	}
}

// TestStickersSay: what a sticker says is there in full; a calibration that covers
// less says so, and that no interval is stated.
func TestStickersSay(t *testing.T) {
	for name, says := range map[string][]string{
		"whole":   {"CALIBRATED", "00E-KM5", "Calibrated 2026-05-04", "Due 2027-05-04", "40 to 200 N·m, both directions", NotAfterDrop},
		"limited": {"LIMITED", "00E-KM5", "Due: not stated", "only 40 to 120 N·m clockwise", "only 40 to 100.25 N·m counterclockwise", NotAfterDrop},
	} {
		var b bytes.Buffer
		if err := CardPDF(&b, []Card{stickers()[name].Card()}, 0); err != nil {
			t.Fatal(err)
		}
		path := keep(t, b.Bytes())
		outputOf(t, "qpdf", "--check", path)
		text := strings.Join(strings.Fields(outputOf(t, "pdftotext", path, "-")), " ")
		for _, want := range says {
			if !strings.Contains(text, want) {
				t.Errorf("%s: %q is not in %q", name, want, text)
			}
		}
	}
}

// TestStickersAreWhole: dates and ranges are never cut; a label too small for them
// is refused.
func TestStickersAreWhole(t *testing.T) {
	sticker := stickers()["limited"]
	sticker.Due = strings.Repeat("W", 60)
	var b bytes.Buffer
	for name, c := range map[string]Card{"lead": sticker.Card(), "lines": func() Card {
		s := stickers()["limited"]
		s.Spans = append(s.Spans, s.Spans...)
		s.Spans = append(s.Spans, s.Spans...)
		return s.Card()
	}()} {
		if err := CardPDF(&b, []Card{c}, 0); !fault.Is(err, fault.Invalid) {
			t.Errorf("%s: %v", name, err)
		}
		c.Whole = false
		if err := CardPDF(&b, []Card{c}, 0); err != nil {
			t.Errorf("%s, not whole: %v", name, err)
		}
	}
}
