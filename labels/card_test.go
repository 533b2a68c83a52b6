package labels

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"pawl/model/fault"
)

// manyLetters is the longest job number. Not one letter 32 times: its regular
// modules look like finder patterns to gozxing, which then finds no symbol.
const manyLetters = "ABCDEFGHJKLMNPQRSTUVWXYZ01234567"

// prints is one of each kind of card, with texts that are far too long among
// them.
func prints() map[string]Card {
	long := strings.Repeat("Überlang Ключ Ω扳手 ", 20)
	caution := strings.Repeat("Never lean on the wrench. ", 40)
	take := BoardCards("Demo garage")
	all := map[string]Card{
		"badge":      Badge{"B/7K2M9AB4", "Tech A", "technician", "Demo garage"}.Card(),
		"long badge": Badge{"B/7K2M9AB4", long, long, long}.Card(),
		"place":      PlaceLabel{"P/7K2M9AB4", "Bay 1/Cart", "Demo garage"}.Card(),
		"long place": PlaceLabel{"P/7K2M9AB4", long + "/" + long, long}.Card(),
		"job":        JobTag{"JOB:1042", "1042", "2019 hatchback, silver", "Demo garage"}.Card(),
		"long job":   JobTag{"JOB:" + manyLetters, strings.Repeat("W", 32), long, long}.Card(),
		"stop":       DoNotUseTag{"T/00EKM5", "00E-KM5", "Brindle TW-340", "dropped", "off the cart", "2026-11-25 09:14", "Tech A", []string{"A caution."}}.Card(),
		"long stop":  DoNotUseTag{link, "00E-KM5", long, "overloaded", long + long, "2026-11-25 09:14", long, []string{caution, caution}}.Card(),
		"take":       take[0],
		"return":     take[1],
		"undo":       take[2],
	}
	for name, c := range all {
		c.Marked = true
		all[name] = c
	}
	return all
}

// TestCardsRead: both judges read every card at 203 dpi, upright and turned by
// 7 degrees, and as a PDF page; the badge at every printer's resolution.
func TestCardsRead(t *testing.T) {
	for name, c := range prints() {
		var b bytes.Buffer
		if err := CardPDF(&b, []Card{c}, 0); err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		seen := map[string]image.Image{"PDF": render(t, keep(t, b.Bytes()), 1)}
		for _, dpi := range []int{203, 300, 600} {
			if dpi > 203 && name != "badge" {
				continue // a picture of a whole tag takes a judge seconds
			}
			var b bytes.Buffer
			if err := CardPNG(&b, c, PNGOptions{DPI: dpi}); err != nil {
				t.Errorf("%s at %d dpi: %v", name, dpi, err)
				continue
			}
			img, err := png.Decode(&b)
			if err != nil {
				t.Fatal(err)
			}
			seen[fmt.Sprintf("%d dpi", dpi)] = img
			if dpi == 203 {
				seen["203 dpi, turned"] = turned(img, 7)
			}
		}
		for how, img := range seen {
			if got, err := zxing(img); got != c.Symbol {
				t.Errorf("%s, %s: gozxing reads %q, %v; want %q", name, how, got, err, c.Symbol)
			}
			if got := zbar(t, img); len(got) != 1 || got[0] != c.Symbol {
				t.Errorf("%s, %s: zbarimg reads %q, want %q", name, how, got, c.Symbol)
			}
		}
	}
}

// TestCardsSay: a card says in words what it is for.
func TestCardsSay(t *testing.T) {
	for name, says := range map[string][]string{
		"badge": {"Tech A", "Technician", "Demo garage"},
		"place": {"Cart", "in Bay 1"},
		"job":   {"Job 1042", "2019 hatchback, silver", "All back before the engine is started."},
		"stop":  {"DO NOT USE", "00E-KM5", "Dropped", "Since 2026-11-25 09:14", "Reported by Tech A", "off the cart", "A caution.", "gloves, insulation, vents"},
		"take":  {"TAKE", "every tool that you take"},
	} {
		var b bytes.Buffer
		if err := CardPDF(&b, []Card{prints()[name]}, 0); err != nil {
			t.Fatal(err)
		}
		path := keep(t, b.Bytes())
		outputOf(t, "qpdf", "--check", path)
		text := strings.Join(strings.Fields(outputOf(t, "pdftotext", "-layout", path, "-")), " ")
		for _, want := range says {
			if !strings.Contains(text, want) {
				t.Errorf("the %s says %q, and not %q", name, text, want)
			}
		}
	}
}

// TestCardSheet: cards on label sheets stay on their labels, and what a label
// cannot hold is refused with one that can.
func TestCardSheet(t *testing.T) {
	for _, s := range []Sheet{sheetOf(t, "letter-2x5"), sheetOf(t, "letter-3x10"), sheetOf(t, "a4-3x7")} {
		for name, c := range prints() {
			var b bytes.Buffer
			err := CardSheet(&b, []Card{c, c}, SheetOptions{Sheet: s, Start: 2})
			if err != nil {
				if f := fault.Of(err); !fault.Is(err, fault.Invalid) || !strings.Contains(f.Hint, "smallest sheet") && !strings.Contains(f.Hint, "page of its own") {
					t.Errorf("%s on %s: %v", name, s.Name, err)
				}
				continue
			}
			img := render(t, keep(t, b.Bytes()), 1)
			for i := 1; i <= 2; i++ {
				x, y := s.corner(i)
				if blacken(img, x+0.5, y+0.5, x+s.W-0.5, y+s.H-0.5) < 500 {
					t.Errorf("%s on %s: label %d is empty", name, s.Name, i+1)
				}
			}
			if stray := blacken(img, 0, 0, s.PaperW, s.PaperH); stray > 0 {
				t.Errorf("%s on %s: %d black dots off the labels", name, s.Name, stray)
			}
		}
	}
	err := CardSheet(&bytes.Buffer{}, []Card{prints()["stop"]}, SheetOptions{Sheet: sheetOf(t, "letter-4x20")})
	if f := fault.Of(err); f == nil || !strings.Contains(f.Hint, "smallest sheet that holds it") {
		t.Errorf("a tag on a tiny label: %v", err)
	}
}

// TestArrangeCard: on an area of any size with any text, what is drawn lies
// inside, no text in the symbol's quiet zone or on other text.
func TestArrangeCard(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w, h := rapid.Float64Range(15, 200).Draw(t, "w"), rapid.Float64Range(15, 200).Draw(t, "h")
		c := Card{
			Symbol: rapid.StringMatching(`[A-Z0-9]{1,40}`).Draw(t, "symbol"), Heading: "X" + words.Draw(t, "heading"),
			Number: rapid.SampledFrom([]string{"", "00E-KM5"}).Draw(t, "number"), Lead: words.Draw(t, "lead"),
			Lines: rapid.SliceOfN(words, 0, 6).Draw(t, "lines"), Foot: rapid.SliceOfN(words, 0, 3).Draw(t, "foot"),
			Offset: rapid.Bool().Draw(t, "offset"),
		}
		s, err := encodeStrong(c.Symbol, 0)
		if err != nil {
			t.Fatal(err)
		}
		l, ok := arrangeCard(w, h, s, c, dot300)
		if !ok {
			if w > 90 && h > 90 {
				t.Fatalf("%g x %g mm is ample", w, h)
			}
			return
		}
		q, side := quiet*l.module, float64(s.Side())*l.module
		zone := box{l.x - q, l.y - q, side + 2*q, side + 2*q}
		if l.module < minModule-1e-9 || zone.x < -1e-6 || zone.y < -1e-6 || zone.x+zone.w > w+1e-6 || zone.y+zone.h > h+1e-6 {
			t.Fatalf("module %g mm; quiet zone %+v on %g x %g mm", l.module, zone, w, h)
		}
		var taken []box
		taken = append(taken, l.marks...)
		for _, r := range l.texts {
			x0, y0, x1, y1 := extent(r)
			if math.IsInf(x0, 1) {
				continue // nothing to be inked
			}
			if x0 < -0.5 || x1 > w+0.5 || y0 < -0.5 || y1 > h+0.5 {
				t.Fatalf("%q spans %g..%g, %g..%g mm on %g x %g mm", r.text, x0, x1, y0, y1, w, h)
			}
			const hairline = 0.3 // an accent or a tail may come near the next line
			for _, b := range append(taken, zone) {
				if b.covers(x0+hairline, y0+hairline, x1-hairline, y1-hairline) {
					t.Fatalf("%q at %g..%g, %g..%g lies on %+v", r.text, x0, x1, y0, y1, b)
				}
			}
			taken = append(taken, box{x0, y0, x1 - x0, y1 - y0})
		}
	})
}

func TestCardRefuses(t *testing.T) {
	good := prints()["badge"]
	for _, c := range []struct {
		name   string
		change func(*Card)
		says   string
	}{
		{"no heading", func(c *Card) { c.Heading = "\u200b " }, "without a heading"},
		{"no symbol", func(c *Card) { c.Symbol = "" }, "nothing to put"},
		{"a symbol beyond ASCII", func(c *Card) { c.Symbol = "JOB:Ä1" }, "printable ASCII"},
		{"a number that the face lacks", func(c *Card) { c.Number = "扳-1" }, "would read"},
		{"a tiny card", func(c *Card) { c.W, c.H = 12, 9 }, "does not fit"},
	} {
		card := good
		c.change(&card)
		for what, err := range map[string]error{"PDF": CardPDF(failing{}, []Card{card}, 0), "PNG": CardPNG(failing{}, card, PNGOptions{DPI: 203})} {
			if !fault.Is(err, fault.Invalid) || !strings.Contains(err.Error(), c.says) {
				t.Errorf("%s as %s: %v; want invalid, saying %q", c.name, what, err, c.says)
			}
		}
	}
	if err := CardPDF(failing{}, nil, 0); !fault.Is(err, fault.Invalid) {
		t.Errorf("no cards: %v", err)
	}
	if err := CardPDF(failing{}, []Card{good}, 0); !fault.Is(err, fault.Internal) {
		t.Errorf("a failing writer: %v, want internal", err)
	}
}

// board is a sign-out sheet of n tools, every third in a box below the place.
func board(n int) SignOut {
	s := SignOut{Symbol: "P/7K2M9AB4", Place: "Bay 1", Shop: "Demo garage", As: "2026-11-25 09:14", Paper: "letter"}
	for i := range n {
		r := SignOutRow{Number: fmt.Sprintf("%03d-KM5", i), What: "Brindle BX-900", Kind: "impact wrench", Where: "Bay 1"}
		if i >= n/2 {
			r.Where = "Bay 1/Box"
		}
		s.Rows = append(s.Rows, r)
	}
	return s
}

func TestSignOut(t *testing.T) {
	for _, c := range []struct {
		tools int
		paper string
		pages int
	}{{0, "letter", 1}, {20, "a4", 1}, {60, "letter", 3}} {
		s := board(c.tools)
		s.Paper = c.paper
		if c.tools > 3 {
			s.Rows[1].Now = "out: Tech A, job 1042"
			s.Rows[2].Now, s.Rows[2].MustNotMove = "DO NOT USE: dropped", true
			s.Rows[3].What = strings.Repeat("very wide ", 40)
		}
		var b bytes.Buffer
		if err := s.PDF(&b); err != nil {
			t.Fatal(err)
		}
		path := keep(t, b.Bytes())
		outputOf(t, "qpdf", "--check", path)
		if pages := strings.TrimSpace(outputOf(t, "qpdf", "--show-npages", path)); pages != fmt.Sprint(c.pages) {
			t.Errorf("%d tools on %s: %s pages, want %d", c.tools, c.paper, pages, c.pages)
		}
		text := outputOf(t, "pdftotext", "-layout", path, "-")
		for _, r := range s.Rows {
			if strings.Count(text, r.Number) != 1 || r.Now != "" && !strings.Contains(text, r.Now) {
				t.Errorf("%s or %q is not printed once", r.Number, r.Now)
			}
		}
		if heads := strings.Count(text, "Taken by"); heads != c.pages {
			t.Errorf("%d heads on %d pages", heads, c.pages)
		}
		for page := 1; page <= c.pages; page += 2 {
			img := render(t, path, page)
			if got := zbar(t, img); len(got) != 1 || got[0] != s.Symbol {
				t.Errorf("page %d: zbarimg reads %q", page, got)
			}
			if got, err := zxing(img); got != s.Symbol {
				t.Errorf("page %d: gozxing reads %q, %v", page, got, err)
			}
			paper := papers[c.paper]
			blacken(img, signMargin-0.5, 7, paper[0]-signMargin+0.5, paper[1]-6)
			if stray := blacken(img, 0, 0, paper[0], paper[1]); stray > 0 {
				t.Errorf("page %d: %d black dots in the margins", page, stray)
			}
		}
	}
}

func TestSignOutRefuses(t *testing.T) {
	for says, change := range map[string]func(*SignOut){
		"not a paper":   func(s *SignOut) { s.Paper = "foolscap" },
		"nothing to":    func(s *SignOut) { s.Symbol = "" },
		"be printed":    func(s *SignOut) { s.Rows[0].Number = "扳" },
		"the number \"": func(s *SignOut) { s.Rows[0].Number = "" },
	} {
		s := board(2)
		change(&s)
		if err := s.PDF(failing{}); !fault.Is(err, fault.Invalid) || !strings.Contains(err.Error(), says) {
			t.Errorf("%v; want invalid, saying %q", err, says)
		}
	}
	if err := board(2).PDF(failing{}); !fault.Is(err, fault.Internal) {
		t.Errorf("a failing writer: %v, want internal", err)
	}
}
