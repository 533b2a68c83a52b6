package labels

import (
	"bytes"
	"io"
	"strings"
	"testing"

	"pawl/model/fault"
)

// TestUnprintable: a text with letters that the faces lack is refused with the
// letters named, on every print; a marked one prints "?" for each.
func TestUnprintable(t *testing.T) {
	const text = "Łukasz 扳手 ☃扳"
	label, card, board := wrench, prints()["badge"], board(3)
	label.Lines = []string{"Demo garage", text}
	card.Lines = []string{text}
	board.Rows[1].What = text
	for what, draw := range map[string]func(io.Writer, bool) error{
		"PNG": func(w io.Writer, marked bool) error {
			label.Marked = marked
			return PNG(w, label, PNGOptions{DPI: 203})
		},
		"SVG": func(w io.Writer, marked bool) error { label.Marked = marked; return SVG(w, label, 0) },
		"PDF": func(w io.Writer, marked bool) error {
			label.Marked = marked
			return PDF(w, []Text{wrench, label}, SheetOptions{Sheet: Sheets()[0]})
		},
		"card PDF": func(w io.Writer, marked bool) error { card.Marked = marked; return CardPDF(w, []Card{card}, 0) },
		"card PNG": func(w io.Writer, marked bool) error {
			card.Marked = marked
			return CardPNG(w, card, PNGOptions{DPI: 203})
		},
		"card SVG": func(w io.Writer, marked bool) error { card.Marked = marked; return CardSVG(w, card, 0) },
		"card sheet": func(w io.Writer, marked bool) error {
			card.Marked = marked
			return CardSheet(w, []Card{card}, SheetOptions{Sheet: sheetOf(t, "letter-2x5")})
		},
		"sign-out": func(w io.Writer, marked bool) error { board.Marked = marked; return board.PDF(w) },
	} {
		err := draw(io.Discard, false)
		if !fault.Is(err, fault.Invalid) || !strings.Contains(err.Error(), "cannot be printed: 扳手☃ ") {
			t.Errorf("%s: %v; want invalid, naming 扳手☃", what, err)
		}
		if err := draw(io.Discard, true); err != nil {
			t.Errorf("%s, marked: %v", what, err)
		}
	}
	if got := lineFace.clean(text); got != "Łukasz ?? ??" {
		t.Errorf("marked, it prints %q", got)
	}
}

// TestFacesAgree: a letter that one face prints, all print; printable asks one.
func TestFacesAgree(t *testing.T) {
	for r := rune(0x20); r < 0x3000; r++ {
		line, bold := lineFace.lacks(string(r)), boldFace.lacks(string(r))
		if line != bold {
			t.Errorf("%q: lacking in one face only", r)
		}
	}
}

// TestDoNotUseTagAlwaysPrints: what cannot be printed does not hold a do-not-use
// tag up; the tag says what "?" stands for, and only then.
func TestDoNotUseTagAlwaysPrints(t *testing.T) {
	for note, want := range map[string]bool{"掉在地上": true, "off the cart?": false} {
		c := DoNotUseTag{"T/00EKM5", "00E-KM5", "Brindle TW-340", "dropped", note, "2026-11-25 09:14", "Tech A", nil}.Card()
		var b bytes.Buffer
		if err := CardPDF(&b, []Card{c}, 0); err != nil {
			t.Fatal(err)
		}
		text := strings.Join(strings.Fields(outputOf(t, "pdftotext", "-layout", keep(t, b.Bytes()), "-")), " ")
		if said := strings.Contains(text, "letters that cannot be printed. Scan to read them."); said != want || !strings.Contains(text, "DO NOT USE") {
			t.Errorf("%q: the tag says %q", note, text)
		}
	}
}
