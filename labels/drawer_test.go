package labels

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"slices"
	"strings"
	"testing"

	"pawl/model/fault"
)

// full is the sheet of a drawer of so many tools.
func full(tools int, photo []byte) DrawerSheet {
	s := DrawerSheet{Symbol: "P/7K2M9AB4", Place: "Bay 1/Cart/Drawer 3", Shop: "Gull Lane Garage", Whose: "Tech A", As: "2026-11-25 16:30", Paper: "letter",
		Counts: fmt.Sprintf("%d belong here: %d in place, 0 out, 0 away", tools, tools), Photo: photo, PhotoWords: "The full drawer, photo received 2026-11-20 08:00"}
	for i := range tools {
		s.Rows = append(s.Rows, DrawerRow{Number: fmt.Sprintf("0%02dE-KM%d", i/10, i%10), Kind: "socket set", What: "Brindle BX-900", Now: "in place"})
	}
	return s
}

// twoTone is a photo of which the left half is dark.
func twoTone(t *testing.T, w, h int) []byte {
	t.Helper()
	m := image.NewGray(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			m.SetGray(x, y, color.Gray{Y: map[bool]uint8{true: 60, false: 210}[x < w/2]})
		}
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, m, nil); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// A sheet prints each tool once with where it is, those at the laboratory last, and its
// symbol on every page; qpdf, pdftotext, zbarimg and gozxing are the judges.
func TestDrawerSheet(t *testing.T) {
	photo := twoTone(t, 160, 90)
	for _, c := range []struct {
		tools int
		paper string
		pages int
		photo []byte
	}{{0, "letter", 1, nil}, {6, "a4", 1, photo}, {6, "letter", 1, photo}, {19, "letter", 2, photo}, {60, "a4", 4, photo}} {
		s := full(c.tools, c.photo)
		s.Paper = c.paper
		if c.tools > 3 {
			s.Rows[1].Now = "out: Tech B, since 2026-11-24 09:00"
			s.Rows[2].Now, s.Rows[2].MustNotMove = "DO NOT USE: dropped; in place", true
			s.Rows[3].Now, s.Rows[3].AtLab = "away: Harbor lab, since 2026-11-20 10:00", true
			s.Rows[4].Pieces = strings.Repeat("10 mm socket, extension (2), ", 3) + "ratchet"
			s.Rows[5].Pieces = strings.Repeat("12 mm socket, ", 200)
		}
		var b, again bytes.Buffer
		if err := DrawersPDF(&b, []DrawerSheet{s}); err != nil {
			t.Fatal(err)
		}
		if err := DrawersPDF(&again, []DrawerSheet{s}); err != nil || !bytes.Equal(b.Bytes(), again.Bytes()) {
			t.Errorf("%d tools on %s: drawn twice, it differs (%v)", c.tools, c.paper, err)
		}
		path := keep(t, b.Bytes())
		outputOf(t, "qpdf", "--check", path)
		if pages := strings.TrimSpace(outputOf(t, "qpdf", "--show-npages", path)); pages != fmt.Sprint(c.pages) {
			t.Errorf("%d tools on %s: %s pages, want %d", c.tools, c.paper, pages, c.pages)
		}
		text := outputOf(t, "pdftotext", "-layout", path, "-")
		for _, r := range s.Rows {
			if strings.Count(text, r.Number) != 1 {
				t.Errorf("%s is not printed once", r.Number)
			}
		}
		if c.tools == 0 { // one below the other, and not one over the other
			for _, line := range []string{"No tool belongs directly in here.", s.PhotoWords} {
				if !slices.ContainsFunc(strings.Split(text, "\n"), func(l string) bool { return strings.TrimSpace(l) == line }) {
					t.Errorf("%q is no line of its own in %q", line, text)
				}
			}
		}
		if c.tools > 3 {
			lab := strings.Index(text, "At the calibration laboratory")
			if at := strings.Index(text, s.Rows[3].Number); lab < 0 || at < lab || strings.Index(text, s.Rows[c.tools-1].Number) > lab {
				t.Errorf("what is at the laboratory is not apart: heading at %d, tool at %d", lab, at)
			}
			for _, words := range []string{"DO NOT USE: dropped", "out: Tech B, since 2026-11-24", "ratchet", "photo received", "Of Tech A"} {
				if !strings.Contains(text, words) {
					t.Errorf("%q is not printed", words)
				}
			}
		}
		for page := 1; page <= c.pages; page++ {
			img := render(t, path, page)
			if got := zbar(t, img); len(got) != 1 || got[0] != s.Symbol {
				t.Errorf("page %d of %d: zbarimg reads %q", page, c.pages, got)
			}
			if got, err := zxing(img); got != s.Symbol {
				t.Errorf("page %d of %d: gozxing reads %q, %v", page, c.pages, got, err)
			}
		}
	}
}

// Several sheets begin on a page of their own each; what cannot be printed is refused.
func TestDrawerSheetsTogether(t *testing.T) {
	var b bytes.Buffer
	if err := DrawersPDF(&b, []DrawerSheet{full(2, nil), full(0, nil), full(3, nil)}); err != nil {
		t.Fatal(err)
	}
	if pages := strings.TrimSpace(outputOf(t, "qpdf", "--show-npages", keep(t, b.Bytes()))); pages != "3" {
		t.Errorf("%s pages", pages)
	}
	for name, edit := range map[string]func(*DrawerSheet){
		"no paper":       func(s *DrawerSheet) { s.Paper = "a5" },
		"no number":      func(s *DrawerSheet) { s.Rows[0].Number = "" },
		"foreign letter": func(s *DrawerSheet) { s.Rows[0].What = "工具" },
	} {
		s := full(1, nil)
		edit(&s)
		if err := DrawersPDF(&b, []DrawerSheet{s}); !fault.Is(err, fault.Invalid) {
			t.Errorf("%s: %v", name, err)
		}
	}
	s := full(1, nil)
	s.Rows[0].What, s.Marked = "工具", true
	if err := DrawersPDF(&b, []DrawerSheet{s}); err != nil {
		t.Error(err)
	}
	if err := DrawersPDF(&b, nil); !fault.Is(err, fault.NotFound) {
		t.Error(err)
	}
}

// Photos of equal width come in one order, whatever the order of a map.
func TestDrawerSheetsWithPhotosAreDeterministic(t *testing.T) {
	var all []DrawerSheet
	for i := range 8 {
		s := full(1, twoTone(t, 160, 90+i))
		s.Symbol = fmt.Sprintf("P/7K2M9AB%d", i)
		all = append(all, s)
	}
	var first bytes.Buffer
	if err := DrawersPDF(&first, all); err != nil {
		t.Fatal(err)
	}
	for range 5 {
		var again bytes.Buffer
		if err := DrawersPDF(&again, all); err != nil || !bytes.Equal(first.Bytes(), again.Bytes()) {
			t.Fatalf("drawn again, they are another document: %v", err)
		}
	}
}
