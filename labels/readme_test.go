package labels

import (
	"bytes"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"golang.org/x/net/html"

	"pawl/model/claims"
	"pawl/model/fault"
)

func readMeOf(t testing.TB, s claims.Statement, parts ReadMeParts) []byte {
	t.Helper()
	var b, again bytes.Buffer
	if err := ReadMe(&b, s, parts); err != nil {
		t.Fatal(err)
	}
	if err := ReadMe(&again, s, parts); err != nil || !bytes.Equal(b.Bytes(), again.Bytes()) {
		t.Errorf("written again, it is another page: %v", err)
	}
	return b.Bytes()
}

const howToCheck = "../proof/HOW-TO-CHECK.txt" // the one link out of data/

// page is what an HTML reader that is not ours finds in a page.
type page struct {
	text     string
	elements map[string]int
	links    []string // href, src
	bad      []string // what a page without script and network must not have
}

func readPage(t testing.TB, b []byte) (p page) {
	t.Helper()
	root, err := html.Parse(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	p.elements = map[string]int{}
	var text strings.Builder
	for n := range root.Descendants() {
		if n.Type == html.TextNode && n.Parent.Data != "style" {
			text.WriteString(n.Data)
		}
		if n.Type != html.ElementNode {
			continue
		}
		p.elements[n.Data]++
		for _, a := range n.Attr {
			switch {
			case a.Key == "href" || a.Key == "src":
				p.links = append(p.links, a.Val)
				if !strings.HasPrefix(a.Val, "./") && !strings.HasPrefix(a.Val, "#line-") && a.Val != howToCheck {
					p.bad = append(p.bad, a.Key+"="+a.Val)
				}
			case strings.HasPrefix(a.Key, "on") || a.Key == "style" || a.Key == "srcset":
				p.bad = append(p.bad, a.Key)
			}
		}
	}
	for _, element := range []string{"script", "iframe", "object", "embed", "form", "link", "base", "svg", "video", "audio"} {
		if p.elements[element] > 0 {
			p.bad = append(p.bad, element)
		}
	}
	p.text = strings.Join(strings.Fields(text.String()), " ")
	return p
}

// The page says the lines in the words of the papers, links to each file by a relative
// path, has no script, and says what the proofs do not show.
func TestReadMe(t *testing.T) {
	b := readMeOf(t, theft("letter"), ReadMeParts{Proof: true, Documents: []ReadMeLink{{"claim/claim 1.pdf", "The claim, part 1"}},
		Thumb: func(f claims.File) string {
			if f.Ref == "P3" {
				return "data/thumbs/P3.jpg"
			}
			return ""
		}})
	p := readPage(t, b)
	inOrder(t, p.text, "Claim C-2H4K9Q7M", "Gull Lane Garage", claims.NoAdvice, "Documents", "The claim, part 1", "Named insured", "Replacement cost 4059.00 USD", "Added on purpose nothing", "Photos and papers of the loss as a whole",
		"The list", "Line 1: impact wrench, Brindle BX-900", "Serial, as read KD4[?]8B217", "Replacement cost 649.00 USD (quote, Gannet Tool Counter, 2026-11-25)", "P3 serial plate", "Received 2026-03-02 09:14.",
		"Line 2: socket set", "Cannot be shown on paper: HEIC, and no converter is set up. It counts as a gap.", "Line 3: Quern, kind not recorded", "RECORDED AFTER THE LOSS", "They do not show that a record was true")
	for _, want := range []string{"./claim/claim%201.pdf", "./photos/P3.jpg", "./thumbs/P3.jpg", "./papers/P2.pdf", "./photos/P5.heic", "#line-4", howToCheck} {
		if !slices.Contains(p.links, want) {
			t.Errorf("no link to %s in %q", want, p.links)
		}
	}
	if len(p.bad) > 0 || p.elements["h1"] != 1 || p.elements["main"] != 1 || p.elements["img"] != 1 {
		t.Errorf("%q; %v", p.bad, p.elements)
	}
	if dir := os.Getenv("PAWL_PICTURES"); dir != "" {
		if err := os.WriteFile(filepath.Join(dir, "readme.html"), b, 0o600); err != nil {
			t.Fatal(err)
		}
	}
}

func TestReadMeOfEachKind(t *testing.T) {
	supplement := theft("a4")
	supplement.Supplement, supplement.Lines[3].Supplement = 2, 2
	for title, s := range map[string]claims.Statement{"Warranty claim": warranty("letter"), "Ownership record": ownership("a4"), "Claim C-2H4K9Q7M, supplement 2": supplement} {
		p := readPage(t, readMeOf(t, s, ReadMeParts{}))
		if !strings.Contains(p.text, title) || len(p.bad) > 0 || slices.Contains(p.links, howToCheck) || !strings.Contains(p.text, "holds no proofs") {
			t.Errorf("%s: %q, %.300q", title, p.bad, p.text)
		}
	}
	if err := ReadMe(failing{}, theft("a4"), ReadMeParts{}); !fault.Is(err, fault.Unavailable) && !fault.Is(err, fault.Internal) {
		t.Errorf("a page that cannot be written: %v", err)
	}
}

// hostile puts a text into every field that somebody else may have written.
func hostile(s *claims.Statement, text string) {
	s.Shop, s.Claim.Insured, s.Claim.Adjuster, s.Claim.Contact, s.Loss.Spot, s.Loss.Keys = text, text, text, text, text, text
	s.Facts[0].What = text
	l := &s.Lines[0]
	l.Kind, l.Maker, l.Model, l.Serial, l.SerialSaid, l.Lot, l.OwnersNo, l.OwnersNoAt, l.Owner, l.Notes = text, text, text, text, text, text, text, text, text, text
	l.Seller, l.OwedTo, l.CostSource, l.SeenHow, l.LeftBehind, l.Condition, l.Pieces, l.Extra, l.Number = text, text, text, text, text, text, []string{text}, []string{text}, text
	l.Files[0].Path, l.Files[0].Claimed, l.Files[0].WhyNot, l.Files[0].Kind = text, text, text, text
}

var hostileTexts = []string{`<script>alert(1)</script>`, `"><img src=x onerror=alert(1)>`, `javascript:alert(1)`, `//elsewhere.example/x`, `https://elsewhere.example/x`, `../../../etc/passwd`, `data:text/html,x`,
	`</style><script>`, `{{.Title}}`, "a\x00b", "\u202eevil", `\\server\share`, "P1.jpg?x#y", "' onload='x", "&lt;b&gt;", "%2e%2e/x", "\xff\xfe"}

// Nothing that somebody typed becomes part of the page's own language, and no link leads
// out of the annex.
func FuzzReadMe(f *testing.F) {
	for _, text := range hostileTexts {
		f.Add(text)
	}
	clean := readPage(f, func() []byte {
		s := theft("letter")
		hostile(&s, "x")
		return readMeOf(f, s, ReadMeParts{})
	}())
	f.Fuzz(func(t *testing.T, text string) {
		s := theft("letter")
		hostile(&s, text)
		p := readPage(t, readMeOf(t, s, ReadMeParts{Documents: []ReadMeLink{{text, text}}, Thumb: func(claims.File) string { return text }}))
		if len(p.bad) > 0 {
			t.Fatalf("%q gives %q", text, p.bad)
		}
		for _, link := range p.links {
			for _, step := range strings.Split(strings.TrimPrefix(link, "./"), "/") {
				if strings.HasPrefix(link, "./") && (step == ".." || step == "" || strings.ContainsAny(step, `\?#`) && !strings.HasPrefix(step, "#")) {
					t.Fatalf("%q gives the link %q", text, link)
				}
			}
		}
		for element, n := range clean.elements {
			if got := p.elements[element]; element != "img" && element != "a" && element != "li" && element != "h2" && element != "ul" && element != "dt" && element != "dd" && got != n && element != "br" && element != "strong" {
				t.Fatalf("%q gives %d of %s, not %d", text, got, element, n)
			}
		}
		if word := strings.Join(strings.Fields(text), " "); word != "" && utf8.ValidString(word) && !strings.ContainsAny(word, "\x00\ufeff") && !strings.Contains(p.text, word) {
			t.Fatalf("%q is not read back from %.400q", word, p.text)
		}
	})
}

// Hostile texts are printed as what they are, on paper and in cells.
func TestPapersTakeHostileTexts(t *testing.T) {
	for _, text := range hostileTexts[:4] {
		s := theft("letter")
		hostile(&s, text)
		s.Lines[0].Files[0].Kind = "plate"
		out, _ := pdfText(t, claimParts(t, s, smallPhotos(), 0)[0].Bytes())
		if !strings.Contains(out, "Keys "+text) {
			t.Errorf("%q is not printed in %.2000q", text, out)
		}
	}
	for _, text := range hostileTexts {
		s := theft("letter")
		hostile(&s, text)
		for name, draw := range map[string]func() error{
			"police": func() error { return Police(new(bytes.Buffer), s) }, "inventory": func() error { return InventoryCSV(new(bytes.Buffer), s) },
			"sheet": func() error { return HandOverSheet(new(bytes.Buffer), s, handOver()) },
		} {
			if err := draw(); err != nil {
				t.Errorf("%s of %q: %v", name, text, err)
			}
		}
	}
}
