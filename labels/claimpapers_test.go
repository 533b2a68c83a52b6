package labels

import (
	"bytes"
	"io"
	"strings"
	"testing"
	"time"

	"pawl/model/claims"
	"pawl/model/fault"
)

// warranty is a statement of a warranty claim whose tool was swapped.
func warranty(paper string) claims.Statement {
	s := theft(paper)
	s.Kind, s.Loss, s.Files, s.Facts = claims.Warranty, nil, nil, nil
	s.Claim.Policy, s.Claim.Adjuster = "", ""
	s.Claim.Fault, s.Claim.FaultOn, s.Claim.From, s.Claim.Months = "anvil detent fails", "2026-11-20", "2024-11-20", 24
	s.Claim.Replacement, s.Claim.ReplacementIs = "00J-4TT", "KD511C002"
	l := s.Lines[0]
	grade := func(ref, received string, g int64) claims.File {
		f := fileOf(ref, "plate", "photos/"+ref+".jpg", "image/jpeg")
		f.Received = at(received)
		if g >= 0 {
			f.Grade, f.Graded = &g, f.Received.Day(time.UTC).AddDays(1)
		}
		return f
	}
	l.Files = []claims.File{grade("P1", "2025-01-10 10:00", 3), grade("P2", "2025-06-10 10:00", 4), grade("P3", "2025-09-10 10:00", 4), grade("P4", "2026-11-21 10:00", 2),
		fileOf("P5", "receipt", "papers/P5.pdf", "application/pdf"), fileOf("P6", "damage", "photos/P6.png", "image/png"), fileOf("P7", "whole", "photos/P7.jpg", "image/jpeg")}
	s.Lines = []claims.Line{l}
	return s
}

func ownership(paper string) claims.Statement {
	s := warranty(paper)
	s.Kind = claims.Ownership
	return s
}

// drawnPaper draws a document twice, and gives its text.
func drawnPaper(t *testing.T, draw func(io.Writer) error) (text string, pages int) {
	t.Helper()
	var b, again bytes.Buffer
	if err := draw(&b); err != nil {
		t.Fatal(err)
	}
	if err := draw(&again); err != nil || !bytes.Equal(b.Bytes(), again.Bytes()) {
		t.Errorf("drawn again, it is another document: %v", err)
	}
	return pdfText(t, b.Bytes())
}

// inOrder wants texts to follow each other.
func inOrder(t *testing.T, text string, want ...string) {
	t.Helper()
	at := 0
	for _, w := range want {
		i := strings.Index(text[at:], w)
		if i < 0 {
			t.Errorf("%q does not come next in %q", w, text[at:])
			continue
		}
		at += i + len(w)
	}
}

func holdsNone(t *testing.T, text string, no ...string) {
	t.Helper()
	for _, n := range no {
		if strings.Contains(text, n) {
			t.Errorf("%q is in %q", n, text)
		}
	}
}

// The police sheet has what a report asks (identity-labels-evidence 6.1), numbers
// foremost, and nothing of policy, claim, price paid or money owed.
func TestPoliceSheet(t *testing.T) {
	for _, paper := range []string{"letter", "a4"} {
		s := theft(paper)
		text, _ := drawnPaper(t, func(w io.Writer) error { return Police(w, s) })
		inOrder(t, text, "For the police", "Agency County sheriff", "Case number 26-11873", "Officer ____", "Found out 2026-11-23 07:40 (America/Chicago)", "Where Bay 2, side door forced",
			"1 impact wrench, Brindle BX-900", "Serial, normalized KD4[?]8B217", "Quantity 1", "Owner's number GLG-0417, engraved on the housing, left", "Tool number 00E-KM5 (a printed label: it peels off)",
			"Replacement cost 649.00 USD (quote, Gannet Tool Counter, 2026-11-25)", "Last seen 2026-11-22 16:10, returned by Tech B",
			"2 socket set, Tarn TS-40", "Set contents 10 mm socket, 12 mm socket, extension (2)", "P5 whole tool CANNOT BE SHOWN: HEIC, and no converter is set up",
			"3 Quern, kind not recorded", "RECORDED AFTER THE LOSS", "NO PHOTO AND NO PAPER", "4 torque wrench, Tarn TW-200", "RECOVERED 2026-11-28, known by its serial number; condition: drive bent")
		holdsNone(t, text, "GL-5512-09", "Shop contents", "26-0042-T", "C-2H4K9Q7M", "599.00", "49.42", "120.00", "owed", "claimed", "3000.00")
	}
}

// A sheet that goes with a packet says that it is not the whole list, and which lines are
// missing from it: those of other owners would stay unreported. The sheet of the loss alone
// has them all, and says nothing of the kind.
func TestPoliceSheetOfAPacketIsNotTheWholeList(t *testing.T) {
	const whole = "It lists the tools of one packet, and is not the whole list of the loss."
	s := theft("letter")
	text, _ := drawnPaper(t, func(w io.Writer) error { return Police(w, s) })
	inOrder(t, text, "For the police", whole+" Tools of other owners that are missing too are on the sheet of the whole loss: ask for it.", "Agency")
	s.Lines[1].Line, s.Lines[2].Line, s.Lines[3].Line = 3, 4, 9
	s.Off = []claims.OffLine{{Line: 6, Supplement: 1, Number: "00J-TCQ", Kind: "drill", Why: "withdrawn: in the van"}}
	text, _ = drawnPaper(t, func(w io.Writer) error { return Police(w, s) })
	inOrder(t, text, whole+" Not on it: lines 2, 5, 7 to 8. Tools of other owners", "Agency")
	s.Claim = nil
	text, _ = drawnPaper(t, func(w io.Writer) error { return Police(w, s) })
	holdsNone(t, text, "whole list", "Not on it")
}

// Supplement 2 says so and lists the lines that are new, under their own numbers.
func TestPoliceSupplement(t *testing.T) {
	s := theft("letter")
	s.Supplement, s.Lines[3].Supplement, s.Loss.Agency, s.Loss.Report = 2, 2, "", ""
	text, _ := drawnPaper(t, func(w io.Writer) error { return Police(w, s) })
	inOrder(t, text, "Supplement 2", "New: line 4. Listed before, under the same numbers: lines 1 to 3. This sheet lists the new ones, and those that changed.", "Agency ____", "Case number ____", "4 torque wrench, Tarn TW-200 (new in supplement 2)")
	holdsNone(t, text, "impact wrench", "socket set")
	// A line that reads otherwise by now, and one that came back, are on it too; what is on
	// the list no more is struck out.
	s.Lines[0].Reworded, s.Lines[1].Recovered, s.Lines[1].RecoveredBy = true, "2026-11-28", "number"
	s.Off = []claims.OffLine{{Line: 5, Supplement: 1, Number: "00J-TCQ", Kind: "drill", Why: "withdrawn: in the van"}}
	text, _ = drawnPaper(t, func(w io.Writer) error { return Police(w, s) })
	inOrder(t, text, "STRIKE OUT", "line 5, 00J-TCQ drill (withdrawn: in the van)", "4 torque wrench", "Changed since an earlier list", "1 impact wrench", "2 socket set", "RECOVERED 2026-11-28")
	holdsNone(t, text, "3 Quern")
	s.Lines, s.Off = nil, nil
	if text, _ := drawnPaper(t, func(w io.Writer) error { return Police(w, s) }); !strings.Contains(text, "NO TOOL IS LISTED YET") {
		t.Errorf("without lines: %q", text)
	}
}

// The proofs of a warranty claim come in the order of money-and-statistics 3.2: best
// serial photo ever, latest, receipt, warranty text, fault.
func TestWarrantyPaper(t *testing.T) {
	for _, paper := range []string{"letter", "a4"} {
		s := warranty(paper)
		text, _ := drawnPaper(t, func(w io.Writer) error { return Warranty(w, s, smallPhotos()) })
		inOrder(t, text, "Warranty claim", "Prepared for Brindle.", "What impact wrench, Brindle BX-900", "Serial, as read KD4[?]8B217", "The fault", "Fault anvil detent fails", "Seen on 2026-11-20",
			"The warranty runs 24 months from 2024-11-20, through 2026-11-20. The fault of 2026-11-20 is INSIDE it.", "Who decides the maker's own terms",
			"Old tool 00E-KM5, serial number KD4[?]8B217", "New tool 00J-4TT, serial number KD511C002",
			"1. Serial number, the best photo ever", "P2 serial plate", "Received 2025-06-10 05:00.", "Marking: grade 4 of 4, crisp, looked at on 2025-06-11.", "2. Serial number, the latest photo", "P4 serial plate", "grade 2 of 4",
			"3. Receipt", "P5 receipt", "comes as a file", "4. Warranty text", "None on record.", "5. The fault", "P6 damage", "6. Other photos and papers", "P1 serial plate", "P3 serial plate", "P7 whole tool")
		holdsNone(t, text, "6. Other photos and papers None")
	}
	s := warranty("letter")
	s.Lines[0].Files = s.Lines[0].Files[:1]
	text, _ := drawnPaper(t, func(w io.Writer) error { return Warranty(w, s, smallPhotos()) })
	inOrder(t, text, "the best photo ever", "P1 serial plate", "the latest photo", "P1 serial plate, above.")
}

func TestOwnershipPaper(t *testing.T) {
	for _, paper := range []string{"letter", "a4"} {
		s := ownership(paper)
		text, _ := drawnPaper(t, func(w io.Writer) error { return Ownership(w, s, smallPhotos()) })
		inOrder(t, text, "Whose tool this is, by the record", "Owner on record: Gull Lane Garage", "Acquired: 2021-03-15. In this register since 2025-05-02 10:00.", "it does not decide who owns the tool",
			"Serial, as read KD4[?]8B217", "Owner's number GLG-0417", "Money owed on it 120.00 USD", "Replacement cost 649.00 USD (quote, Gannet Tool Counter, 2026-11-25)", "P5 receipt, received", "1. Serial number, the best photo ever")
	}
}

func TestOneToolPapersRefuse(t *testing.T) {
	two, wrong, none, foolscap := warranty("letter"), theft("letter"), warranty("letter"), warranty("foolscap")
	two.Lines = append(two.Lines, two.Lines[0])
	two.Lines[1].Line = 9
	wrong.Lines = wrong.Lines[:1]
	none.Claim = nil
	for name, s := range map[string]claims.Statement{"two tools": two, "another kind": wrong, "no claim": none, "paper": foolscap} {
		if err := Warranty(io.Discard, s, smallPhotos()); !fault.Is(err, fault.Invalid) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// handOver has the fingerprint of the published worked bag (identity-labels-evidence 4.5)
// and the checkpoint of the published sample (4.3).
func handOver() HandOver {
	return HandOver{Fingerprint: "4c99b78ad4b2da50dec8b0fc304bceafc917e4fa53b46c753102e791a520726b", Origin: "example.com/behind-the-sofa", Size: 20852163,
		Root: "CsUYapGGPo4dkMgIAUqom/Xajj7h2fB2MPA3j2jxq2I=", Key: "033de0ae", Files: []HandedFile{{Name: "claim-1.pdf", Bytes: 9_871_004, SHA256: strings.Repeat("ab", 32)}, {Name: "annex.zip"}},
		Compare: []string{"The broker has had every monthly checkpoint since 2026-01."}}
}

// The fingerprint reads as text, and from the symbol by both judges.
func TestHandOverSheet(t *testing.T) {
	for _, paper := range []string{"letter", "a4"} {
		s := theft(paper)
		text, pages := drawnText(t, func(w io.Writer) error { return HandOverSheet(w, s, handOver()) }, handOver().Fingerprint)
		inOrder(t, text, "Hand-over sheet", "packet K-7K2M4Q9XC", "4c99 b78a d4b2 da50", "dec8 b0fc 304b ceaf", "c917 e4fa 53b4 6c75", "3102 e791 a520 726b", "example.com/behind-the-sofa", "20852163",
			"CsUYapGGPo4dkMgIAUqom/Xajj7h2fB2MPA3j2jxq2I=", "033de0ae", "claim-1.pdf", "9871004 bytes", "abab abab", "annex.zip", "by the fingerprint above", "sha256sum -c",
			"They do not show that a record was true", "The broker has had every monthly checkpoint", "Given by (name)", "Taken by (name)")
		if pages != 1 {
			t.Errorf("%s: %d pages", paper, pages)
		}
	}
	h := handOver()
	h.Compare, h.Files = nil, nil
	text, _ := drawnPaper(t, func(w io.Writer) error { return HandOverSheet(w, theft("a4"), h) })
	inOrder(t, text, "None is named.", "No outside anchor is named. Compare the fingerprint with the annex")
	h.Fingerprint = strings.ToUpper(h.Fingerprint)
	if err := HandOverSheet(io.Discard, theft("a4"), h); !fault.Is(err, fault.Invalid) {
		t.Errorf("a fingerprint in capitals: %v", err)
	}
}

// The certification page is blank: it names the rule, and nothing of any shop.
func TestCertification(t *testing.T) {
	for _, paper := range []string{"letter", "a4"} {
		text, pages := drawnPaper(t, func(w io.Writer) error { return Certification(w, paper) })
		inOrder(t, text, "Certification of electronic records", "902(13) and 902(14)", "authenticated by a process of digital identification", "no legal advice", "fills in nothing and signs for nobody", "902(13)", "902(14)", "Signature", "Place and date")
		if pages != 1 {
			t.Errorf("%s: %d pages", paper, pages)
		}
	}
	if err := Certification(io.Discard, "foolscap"); !fault.Is(err, fault.Invalid) {
		t.Errorf("a paper that is none: %v", err)
	}
}
