package labels

import (
	"bytes"
	"io"
	"strings"
	"testing"

	"pawl/model/claims"
)

// A paper whose bytes are gone shows nothing: no document counts it or leans on it.
func TestAPaperThatIsGoneShowsNothing(t *testing.T) {
	const gone = "its original is not here any more"
	s := theft("letter")
	receipt := fileOf("R1", "receipt", "", "application/pdf")
	receipt.Left = gone
	s.Lines = s.Lines[:1]
	s.Lines[0].Files = []claims.File{receipt}
	s.Supplement, s.Files = 1, nil
	if said := s.Lines[0].Receipt(); !strings.Contains(said, "CANNOT BE SHOWN: "+gone) {
		t.Errorf("%q", said)
	}
	police, _ := drawnPaper(t, func(w io.Writer) error { return Police(w, s) })
	inOrder(t, police, "R1 receipt CANNOT BE SHOWN: "+gone, "NOTHING OF IT CAN BE SHOWN ON PAPER")
	claim, _ := pdfText(t, claimParts(t, s, smallPhotos(), 0)[0].Bytes())
	inOrder(t, claim, "Receipt R1 receipt, which CANNOT BE SHOWN", "R1 receipt CANNOT BE SHOWN")
	var csv bytes.Buffer
	if err := InventoryCSV(&csv, s); err != nil || !strings.Contains(csv.String(), "R1 NOT IN THE ANNEX: "+gone) {
		t.Errorf("%v: %s", err, csv.String())
	}
	s.Kind, s.Loss, s.Facts, s.Claim = claims.Ownership, nil, nil, nil
	own, _ := drawnPaper(t, func(w io.Writer) error { return Ownership(w, s, smallPhotos()) })
	inOrder(t, own, "can be shown: 0 of 1", "CANNOT BE SHOWN: "+gone)
	if strings.Contains(own, "comes as a file") {
		t.Errorf("it is said to come as a file: %s", own)
	}
}

// Where no photo of the serial number was graded, the first is printed and said to be that.
func TestWithoutAGradeTheFirstPlateIsShown(t *testing.T) {
	s := theft("letter")
	early, late := fileOf("P1", "plate", "photos/P1.jpg", "image/jpeg"), fileOf("P2", "plate", "photos/P2.jpg", "image/jpeg")
	late.Received = early.Received + 1000
	s.Kind, s.Loss, s.Files, s.Facts, s.Lines = claims.Warranty, nil, nil, nil, s.Lines[:1]
	s.Lines[0].Files = []claims.File{late, early}
	text, _ := drawnPaper(t, func(w io.Writer) error { return Warranty(w, s, smallPhotos()) })
	inOrder(t, text, "1. Serial number, the first photo: no photo of it was graded", "P1 serial plate", "2. Serial number, the latest photo", "P2 serial plate", "3. Receipt")
	s.Lines[0].Files = nil
	text, _ = drawnPaper(t, func(w io.Writer) error { return Warranty(w, s, smallPhotos()) })
	inOrder(t, text, "1. Serial number, the best photo ever", "None on record.", "2. Serial number, the latest photo")
}

// How many whole parts there are is known without drawing them.
func TestWholePartsAreThoseDrawn(t *testing.T) {
	for _, n := range []int{1, 100, 101, 200, 201} {
		s := ofLines("letter", n)
		for i := range s.Lines {
			s.Lines[i].Files = nil
		}
		if parts := claimParts(t, s, smallPhotos(), 0); len(parts) != WholeParts(n) {
			t.Errorf("%d lines: %d parts, reckoned %d", n, len(parts), WholeParts(n))
		}
	}
}
