package labels

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"pawl/model/claims"
	"pawl/model/fault"
)

// TestClaimAnswersAStranger: somebody with the paper alone can tell of each line what it
// is, whose, since when, proven how, and worth what on what basis. The answers are looked
// for in what pdftotext reads between the heads of the lines.
func TestClaimAnswersAStranger(t *testing.T) {
	for _, paper := range []string{"letter", "a4"} {
		s := theft(paper)
		parts := claimParts(t, s, smallPhotos(), 0)
		if len(parts) != 1 || parts[0].name != "claim.pdf" {
			t.Fatalf("%d parts, the first %q", len(parts), parts[0].name)
		}
		text, _ := pdfText(t, parts[0].Bytes())
		summary, _, _ := strings.Cut(text, "The list")
		for _, want := range []string{"Claim: theft", "Prepared for R. Example.", claims.NoAdvice, "Named insured Gull Lane Garage LLC", "Policy number GL-5512-09", "Claim number 26-0042-T", "Adjuster R. Example, adjuster@insurer.example",
			"Other insurance none", "Found out 2026-11-23 07:40 (America/Chicago)", "Last known in order 2026-11-22 17:55", "Where Bay 2, side door forced", "How they came in side door pried open", "Locks deadbolt, broken", "Alarm not set",
			"Cameras one, facing the street", "Keys Tech A, Tech B", "Closed up Tech B, 2026-11-22 17:55", "Opened Tech A, 2026-11-23 07:40", "Agency County sheriff", "Report number 26-11873", "Officer not recorded", "Reported on 2026-11-23"} {
			if !strings.Contains(summary, want) {
				t.Errorf("%s: %q is not in %q", paper, want, summary)
			}
		}
		inOrder(t, text, "Tools claimed: 4", "lines 1 to 4; confirmed: 2, missing and not confirmed: 2; recovered since: 1, which are in the sums but not in the amount claimed; recorded only after the loss: 1",
			"Replacement cost 4059.00 USD, the sum of 3 lines; of 1 none is recorded or shared", "Amount claimed 649.00 USD, the sum of 1 line; of 2 none is recorded or shared", "Left out of it, recovered since: 1, of which 3000.00 USD was claimed.", "first payment, 500.00 USD",
			"Drawn from packet K-7K2M4Q9XC, at 1423 lines of the ledger pawl/0123456789abcdef", "Added on purpose nothing", "Not asked for: actual cash value, market value", "not the insurer's sworn form", "page 2 of", "The list")
		for _, c := range []struct{ from, to, what, whose, since, proven, worth string }{
			{"1 impact wrench, Brindle BX-900", "2 socket set", "Serial, normalized KD4[?]8B217", "Owner Gull Lane Garage", "Date acquired 2021-03-15",
				"Shown by P3 serial plate, received 2026-03-02 09:14; P4 receipt, received 2026-03-02 09:14", "Replacement cost 649.00 USD (quote, Gannet Tool Counter, 2026-11-25)"},
			{"2 socket set, Tarn TS-40", "3 Quern", "Set contents 10 mm socket, 12 mm socket, extension (2)", "Owner Tech B", "Date acquired 2024-06-30",
				"P5 whole tool CANNOT BE SHOWN: HEIC, and no converter is set up; P6 receipt, received", "Replacement cost 210.00 USD (price paid, 2024-06-30)"},
			{"3 Quern, kind not recorded", "4 torque", "How it was read worn off", "Owner Gull Lane Garage", "On record since 2026-11-24 10:00, RECORDED AFTER THE LOSS", "Shown by NO PHOTO AND NO PAPER", "Replacement cost not recorded"},
			{"4 torque wrench, Tarn TW-200", "Photos, by line", "Serial, as read 77-1204", "Owner Gull Lane Garage", "Date acquired 2012-01-10", "Shown by P7 serial plate",
				"Replacement cost 3200.00 USD (quote, Öl & Meßtechnik Núñez, Peña, 2026-11-26)"},
		} {
			_, after, found := strings.Cut(text, c.from)
			of, _, ends := strings.Cut(after, c.to)
			if !found || !ends {
				t.Errorf("%s: no lines from %q to %q in %q", paper, c.from, c.to, text)
				continue
			}
			for _, answer := range []string{c.what, c.whose, c.since, c.proven, c.worth} {
				if !strings.Contains(of, answer) {
					t.Errorf("%s, %q: %q is not in %q", paper, c.from, answer, of)
				}
			}
		}
		inOrder(t, text, "Photos, by line", "Of the loss as a whole", "P1 damage", "Line 1: impact wrench, Brindle BX-900", "P3 serial plate Received 2026-03-02 09:14. Photo says 2026-03-02 09:12 -06:00.",
			"Line 2: socket set", "P5 CANNOT BE SHOWN: HEIC, and no converter is set up. It counts as a gap.", "Papers (3)", "P2 the loss police report, not printed here. In the annex: papers/P2.pdf",
			"P4 line 1 receipt, printed with the photos of line 1", "P6 line 2 receipt, not printed here")
		holdsNone(t, text, "roof of loss", "Market value", "Actual cash value", "SHOWN: .")
	}
}

// A supplement says so, which lines are new, and lists all under the same numbers.
func TestClaimSupplement(t *testing.T) {
	s := theft("letter")
	s.Supplement, s.Lines[3].Supplement = 2, 2
	text, _ := pdfText(t, claimParts(t, s, smallPhotos(), 0)[0].Bytes())
	inOrder(t, text, "Claim C-2H4K9Q7M, supplement 2, Gull Lane Garage", "Supplement 2 New: line 4. Listed before, under the same numbers: lines 1 to 3.", "1 impact wrench, Brindle BX-900 Quantity",
		"4 torque wrench, Tarn TW-200 (new in supplement 2)")
	s.Lines = s.Lines[:2]
	text, _ = pdfText(t, claimParts(t, s, smallPhotos(), 0)[0].Bytes())
	inOrder(t, text, "New: no lines. Listed before")
}

// What is off by default stands where it was asked for, with its arithmetic.
func TestClaimHoldsWhatWasAdded(t *testing.T) {
	s := theft("letter")
	s.Added = []claims.Addition{claims.AddActualCash, claims.AddMarket, claims.AddJobs}
	s.Lines[0].ActualCash, s.Lines[0].Working, s.Lines[0].Market = cents(28123), "649.00 x 52/120", cents(20000)
	s.Lines[0].MarketBy, s.Lines[0].MarketDated = "Gannet used tools", "2026-11-20"
	s.Lines[0].Extra = []string{"job 1042, 2026-10-30"}
	text, _ := pdfText(t, claimParts(t, s, smallPhotos(), 0)[0].Bytes())
	inOrder(t, text, "Actual cash value 281.23 USD, the sum of 1 line; of 3 none is recorded or shared", "Market value 200.00 USD", "Added on purpose actual cash value, market value, jobs",
		"Actual cash value 281.23 USD", "Its arithmetic 649.00 x 52/120", "Market value 200.00 USD", "Added job 1042, 2026-10-30", "2 socket set", "Actual cash value not recorded")
	police, _ := drawnPaper(t, func(w io.Writer) error { return Police(w, s) })
	inOrder(t, police, "Replacement cost 649.00 USD", "Actual cash value 281.23 USD", "Market value 200.00 USD (Gannet used tools, 2026-11-20)")
	holdsNone(t, police, "arithmetic", "52/120", "job 1042")
}

// What an owner does not share is said to be so, and not that it is not recorded; a file
// that the annex does not hold is said too.
func TestClaimSaysWhatIsNotShared(t *testing.T) {
	s := theft("letter")
	l := &s.Lines[1]
	l.Money, l.Bought, l.Seller, l.Price, l.Replacement, l.Files = false, "", "", nil, nil, l.Files[:1]
	s.Files[1].Path, s.Files[1].Left = "", "its bytes are on another disk"
	for name, text := range map[string]string{"claim": func() string { text, _ := pdfText(t, claimParts(t, s, smallPhotos(), 0)[0].Bytes()); return text }(),
		"page": readPage(t, readMeOf(t, s, ReadMeParts{})).text} {
		_, of, _ := strings.Cut(text, "socket set, Tarn TS-40 Quantity")
		of, _, _ = strings.Cut(of, "Quern, kind")
		for _, want := range []string{"Date acquired not shared by its owner", "Where bought not shared by its owner", "Price before tax not shared by its owner", "Receipt not shared by its owner", "Age not shared by its owner",
			"Replacement cost not shared by its owner", "papers not shared by its owner"} {
			if !strings.Contains(of, want) {
				t.Errorf("%s: %q is not in %q", name, want, of)
			}
		}
		if !strings.Contains(strings.ToLower(text), "its bytes are on another disk") {
			t.Errorf("%s does not say what is not in the annex: %q", name, text)
		}
	}
}

// The same line has the same number and words on claim, police sheet, inventory and the
// page of the annex.
func TestPapersAgree(t *testing.T) {
	s := ofLines("letter", 12)
	s.Lines[3].Pieces, s.Lines[5].Kind = []string{"a", "b"}, ""
	claim, _ := pdfText(t, claimParts(t, s, smallPhotos(), 0)[0].Bytes())
	police, _ := drawnPaper(t, func(w io.Writer) error { return Police(w, s) })
	var sheet, page bytes.Buffer
	if err := InventoryCSV(&sheet, s); err != nil {
		t.Fatal(err)
	}
	if err := ReadMe(&page, s, ReadMeParts{}); err != nil {
		t.Fatal(err)
	}
	for _, l := range s.Lines {
		numbered := fmt.Sprintf("%d %s ", l.Line, l.Words())
		for name, text := range map[string]string{"claim": claim, "police": police} {
			if strings.Count(text, numbered) != 1 {
				t.Errorf("%s: %q is there %d times", name, numbered, strings.Count(text, numbered))
			}
		}
		if !regexp.MustCompile(fmt.Sprintf(`(?m)^%d,1,[^,]*,"%s"`, l.Line, regexp.QuoteMeta(l.Words()))).MatchString(sheet.String()) {
			t.Errorf("the inventory does not have line %d as %q", l.Line, l.Words())
		}
		if want := strings.ReplaceAll(fmt.Sprintf("Line %d: %s", l.Line, l.Words()), "&", "&amp;"); !strings.Contains(page.String(), want) {
			t.Errorf("the page does not have %q", want)
		}
	}
}

// A document is divided into volumes of 100 tools; every line and photo is in exactly
// one, each part says which of how many it is, and the same bytes come again.
func TestClaimVolumes(t *testing.T) {
	s := ofLines("letter", 250)
	photos := (&plates{w: 80, h: 60, kept: map[string][]byte{}}).photo
	parts := claimParts(t, s, photos, 0)
	if len(parts) != 3 {
		t.Fatalf("%d parts of 250 tools, want 3", len(parts))
	}
	again := claimParts(t, s, photos, 0)
	lines, refs := map[string]int{}, map[string]int{}
	for i, p := range parts {
		if p.name != fmt.Sprintf("claim-%d.pdf", i+1) || !bytes.Equal(p.Bytes(), again[i].Bytes()) {
			t.Errorf("part %d is named %s, and comes again: %v", i+1, p.name, bytes.Equal(p.Bytes(), again[i].Bytes()))
		}
		text, pages := pdfText(t, p.Bytes())
		if n := strings.Count(text, fmt.Sprintf("part %d of 3, page ", i+1)); n != pages {
			t.Errorf("part %d says so on %d of %d pages", i+1, n, pages)
		}
		for _, m := range regexp.MustCompile(`Serial, as read (SN\d{6}) `).FindAllStringSubmatch(text, -1) {
			lines[m[1]]++
		}
		for _, m := range regexp.MustCompile(`(P\d+) (?:serial plate|whole tool|receipt) Received`).FindAllStringSubmatch(text, -1) {
			refs[m[1]]++
		}
		if i == 0 {
			inOrder(t, text, "This document is in 3 parts", "part 1: lines 1 to 100; part 2: lines 101 to 200; part 3: lines 201 to 250.", "The list, lines 1 to 100")
		}
	}
	for i := range 250 {
		if lines[fmt.Sprintf("SN%06d", i)] != 1 {
			t.Errorf("line %d is there %d times", i+1, lines[fmt.Sprintf("SN%06d", i)])
		}
	}
	for i := range 750 {
		if refs[fmt.Sprintf("P%d", i+1)] != 1 {
			t.Errorf("photo P%d is there %d times", i+1, refs[fmt.Sprintf("P%d", i+1)])
		}
	}
}

// A part can be written as often as it takes, and is the same each time.
func TestClaimDocumentWritesAgain(t *testing.T) {
	d, err := NewClaimDocument(ofLines("letter", 101), smallPhotos(), 0)
	if err != nil {
		t.Fatal(err)
	}
	parts := claimParts(t, ofLines("letter", 101), smallPhotos(), 0)
	for range 2 {
		for i, name := range d.Names() {
			var b bytes.Buffer
			if err := d.Write(i, &b); err != nil || parts[i].name != name || !bytes.Equal(b.Bytes(), parts[i].Bytes()) {
				t.Errorf("part %s: %v", name, err)
			}
		}
	}
	asked := 0
	little, err := newClaimDocument(ofLines("letter", 101), func(f claims.File) ([]byte, error) { asked++; return smallPhotos()(f) }, 0, 100_000)
	if err != nil {
		t.Fatal(err)
	}
	for i := range parts {
		var b bytes.Buffer
		if err := little.Write(i, &b); err != nil || !bytes.Equal(b.Bytes(), parts[i].Bytes()) {
			t.Errorf("part %d with little memory: %v", i+1, err)
		}
	}
	if asked < 404 || asked > 606 {
		t.Errorf("with little memory it asks %d times for 303 photos", asked)
	}
	if err := d.Write(0, failing{}); !fault.Is(err, fault.Internal) {
		t.Errorf("a full disk: %v", err)
	}
}

// No part is larger than it may be; 10MB are 10,000,000 bytes.
func TestClaimParts(t *testing.T) {
	s := ofLines("a4", 12)
	photos := (&plates{w: 640, h: 480, noisy: true, kept: map[string][]byte{}}).photo
	whole := claimParts(t, s, photos, 0)[0].Len()
	for _, most := range []int64{600_000, int64(whole) + 5000} {
		parts := claimParts(t, s, photos, most)
		text := ""
		for i, p := range parts {
			if int64(p.Len()) > most || i < len(parts)-1 && int64(p.Len()) < most/2 {
				t.Errorf("part %d of %d has %d bytes of %d", i+1, len(parts), p.Len(), most)
			}
			of, _ := pdfText(t, p.Bytes())
			text += of
		}
		if least := whole / int(most); len(parts) < least || len(parts) > 2*least+2 {
			t.Errorf("%d bytes in %d parts of at most %d", whole, len(parts), most)
		}
		if n := strings.Count(text, "Serial, as read SN"); n != 12 {
			t.Errorf("%d lines in parts of %d", n, most)
		}
	}
}

// A line whose photos do not fit into a part is printed less finely, and refused with
// words where not even that fits.
func TestClaimShrinksPhotos(t *testing.T) {
	s := ofLines("letter", 1)
	for i := range 30 {
		ref := "Q" + strconv.Itoa(i)
		s.Lines[0].Files = append(s.Lines[0].Files, fileOf(ref, "whole", "photos/"+ref+".jpg", "image/jpeg"))
	}
	photos := (&plates{w: 640, h: 480, noisy: true, kept: map[string][]byte{}}).photo
	whole := int64(claimParts(t, s, photos, 0)[0].Len())
	parts := claimParts(t, s, photos, whole/3)
	if len(parts) > 2 {
		t.Errorf("one line in %d parts", len(parts))
	}
	for _, p := range parts {
		if int64(p.Len()) > whole/3 {
			t.Errorf("%d bytes of %d", p.Len(), whole/3)
		}
	}
	if text, _ := pdfText(t, parts[len(parts)-1].Bytes()); strings.Count(text, "whole tool Received") != 31 {
		t.Errorf("%d photos are left", strings.Count(text, "whole tool Received"))
	}
	err := Claim(s, photos, 200_000, func(int, int, string) (io.WriteCloser, error) {
		t.Error("a part was begun")
		return nil, io.ErrClosedPipe
	})
	if f := fault.Of(err); f == nil || f.Kind != fault.Invalid || !strings.Contains(f.Message, "line 1 with its 33 photos") || f.Hint == "" {
		t.Errorf("what does not fit: %v", err)
	}
}

// What cannot be read as a picture is a gap and said; what the caller cannot get ends the
// drawing.
func TestClaimPhotosThatAreNone(t *testing.T) {
	s := theft("letter")
	text, _ := pdfText(t, claimParts(t, s, func(f claims.File) ([]byte, error) {
		if f.Ref == "P3" {
			return []byte("no picture"), nil
		}
		b, err := smallPhotos()(f)
		if f.Ref == "P7" {
			b = b[:len(b)/2]
		}
		return b, err
	}, 0)[0].Bytes())
	inOrder(t, text, "P3 CANNOT BE SHOWN: its view cannot be read as a picture. It counts as a gap.", "P7 CANNOT BE SHOWN: its view is damaged. It counts as a gap.")
	gone := errors.New("the disk is gone")
	if err := Claim(s, func(claims.File) ([]byte, error) { return nil, gone }, 0, nil); !errors.Is(err, gone) {
		t.Errorf("a photo that the caller cannot get: %v", err)
	}
	asked := map[string]bool{}
	claimParts(t, s, func(f claims.File) ([]byte, error) { asked[f.Ref] = true; return smallPhotos()(f) }, 0)
	if asked["P2"] || asked["P5"] || asked["P6"] || !asked["P1"] || !asked["P4"] {
		t.Errorf("asked for %v", asked)
	}
}

// A photo of several lines is printed once.
func TestClaimPrintsAPhotoOnce(t *testing.T) {
	s := theft("letter")
	s.Lines[3].Files = append(s.Lines[3].Files, s.Lines[0].Files[1])
	text, _ := pdfText(t, claimParts(t, s, smallPhotos(), 0)[0].Bytes())
	if n := strings.Count(text, "P4 receipt Received"); n != 1 {
		t.Errorf("it is printed %d times", n)
	}
	inOrder(t, text, "P4 line 1 receipt, printed with the photos of line 1", "P4 line 4 receipt, printed with the photos of line 1")
}

// Letters that the type lacks print as ? and are named; Spanish ones print.
func TestClaimLetters(t *testing.T) {
	s := theft("letter")
	s.Lines[0].Maker, s.Loss.Spot = "扳手 🔧", "Taller Ñandú: ¿dónde? ¡Año, pingüino, ÁÉÍÓÚÜ áéíóúü ñ ª º!"
	text, _ := pdfText(t, claimParts(t, s, smallPhotos(), 0)[0].Bytes())
	inOrder(t, text, "Where "+s.Loss.Spot, "1 impact wrench, ?? ? BX-900", "prints ? for each of these (Unicode): U+624B, U+6273, U+1F527.")
	s.Lines[0].Maker = "Brindle"
	if text, _ := pdfText(t, claimParts(t, s, smallPhotos(), 0)[0].Bytes()); strings.Contains(text, "lacks letters") {
		t.Error("a paper of Spanish letters says that it lacks some")
	}
}

// Texts of any length are printed to their end: nothing is cut, and a line of more than a
// page goes on.
func TestClaimCutsNothing(t *testing.T) {
	s := theft("a4")
	s.Lines[0].Notes = strings.Repeat("word ", 3000) + "THE-END-OF-IT"
	s.Lines[1].Seller = strings.Repeat("x", 900) + "Z"
	text, pages := pdfText(t, claimParts(t, s, smallPhotos(), 0)[0].Bytes())
	if got := strings.Count(text, "word "); got < 3000 || !strings.Contains(text, "THE-END-OF-IT") || pages < 6 {
		t.Errorf("%d words on %d pages", got, pages)
	}
	if got := strings.Count(text, "x"); got < 900 || strings.Contains(text, ellipsis) {
		t.Errorf("%d letters of 900, or cut", got)
	}
}

func TestClaimRefuses(t *testing.T) {
	for name, change := range map[string]func(*claims.Statement){
		"paper":  func(s *claims.Statement) { s.Paper = "foolscap" },
		"zone":   func(s *claims.Statement) { s.Zone = "Local" },
		"twice":  func(s *claims.Statement) { s.Lines[1].Line = 1 },
		"unseen": func(s *claims.Statement) { s.Lines[0].ActualCash = cents(1) },
	} {
		s := theft("letter")
		change(&s)
		for what, draw := range map[string]func() error{
			"claim": func() error { return Claim(s, smallPhotos(), 0, nil) }, "police": func() error { return Police(io.Discard, s) },
			"sheet": func() error { return HandOverSheet(io.Discard, s, handOver()) },
		} {
			if err := draw(); !fault.Is(err, fault.Invalid) {
				t.Errorf("%s, %s: %v", name, what, err)
			}
		}
	}
	broken := func(int, int, string) (io.WriteCloser, error) { return nil, fault.New(fault.Unavailable, "no room") }
	if err := Claim(theft("letter"), smallPhotos(), 0, broken); !fault.Is(err, fault.Unavailable) {
		t.Errorf("a part that cannot be opened: %v", err)
	}
}
