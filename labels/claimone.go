package labels

import (
	"cmp"
	"fmt"
	"io"

	"pawl/model/claims"
	"pawl/model/evidence"
	"pawl/model/fault"
)

// onePaper is a document about one tool while it is drawn.
type onePaper struct {
	*paper
	s     claims.Statement
	l     claims.Line
	photo Photo
	grid  photoGrid
	shown map[string]bool // by reference
}

// newOnePaper begins a document about the one tool of a statement of a kind.
func newOnePaper(s claims.Statement, kind claims.ClaimKind, title string, photo Photo) (*onePaper, error) {
	if err := s.Check(); err != nil {
		return nil, err
	}
	if s.Kind != kind || len(s.Lines) != 1 {
		return nil, fault.At("#/kind", "a statement of %d tools for %q is not one of one tool for %q", len(s.Lines), string(s.Kind), string(kind))
	}
	p, err := newPaper(s.Paper, title)
	if err != nil {
		return nil, err
	}
	return &onePaper{paper: p, s: s, l: s.Lines[0], photo: photo, grid: newPhotoGrid(p.wide(), 2), shown: map[string]bool{}}, nil
}

// Warranty draws a warranty claim: the tool, the fault, whether it falls within the
// warranty, what it was swapped for, and then the proofs in the order in which such a
// claim is looked at (money-and-statistics 3.2).
func Warranty(w io.Writer, s claims.Statement, photo Photo) error {
	p, err := newOnePaper(s, claims.Warranty, "Warranty claim", photo)
	if err != nil {
		return err
	}
	c := s.Claim
	if c == nil {
		return fault.At("#/claim", "a warranty claim without what is said of the claim")
	}
	maker := "the maker"
	if p.l.Maker != "" {
		maker = p.l.Maker
	}
	p.words(boldFace, 6.5, "Warranty claim")
	p.words(lineFace, 4, "Prepared for "+maker+".")
	p.words(lineFace, paperType, fmt.Sprintf("By %s, from what is on record on %s (%s). %s", told(p.owner()), s.When(s.Created), s.Zone, claims.NoAdvice))
	p.tool()
	p.heading(4.4, "The fault")
	p.notes(0, factName, false, note{name: "Fault", value: told(c.Fault)}, note{name: "Seen on", value: told(string(c.FaultOn))}, note{name: "Warranty", value: c.WarrantyWords()},
		note{name: "Who decides", value: "the maker's own terms"})
	p.swapped(c)
	if err := p.proofs(); err != nil {
		return err
	}
	p.missing()
	return p.output(paperHead{left: "Warranty claim " + c.ID + ", " + s.Shop, foot: claims.NoAdvice}, w)
}

func (p *onePaper) owner() string {
	if p.s.Claim != nil && p.s.Claim.Insured != "" {
		return p.s.Claim.Insured
	}
	if p.l.Owner != "" {
		return p.l.Owner
	}
	return p.s.Shop
}

// tool says what it is and since when.
func (p *onePaper) tool() {
	l := p.l
	p.heading(4.4, "The tool")
	contact := ""
	if p.s.Claim != nil {
		contact = p.s.Claim.Contact
	}
	p.notes(0, factName, false, note{name: "What", value: l.Words()}, note{name: "Maker", value: told(l.Maker)}, note{name: "Model, catalog no.", value: told(l.Model)},
		note{name: "Serial, as read", value: l.SerialRead(), face: numberFace}, note{name: "How it was read", value: l.SerialSure()}, note{name: "Serial, normalized", value: told(l.Normalized()), face: numberFace},
		note{name: "Lot code", value: told(l.Lot)}, note{name: "Owner's number", value: l.OwnersNumberWords()}, note{name: "Tool number", value: l.LabelWords()})
	if text := l.Contents(); text != "" {
		p.notes(0, factName, false, note{name: "Set contents", value: text})
	}
	p.notes(0, factName, false, note{name: "Owner", value: told(l.Owner)}, note{name: "How to reach them", value: told(contact)}, note{name: "Date acquired", value: shared(l, string(l.Bought))},
		note{name: "Where bought", value: shared(l, l.Seller)}, note{name: "Receipt", value: l.Receipt()}, note{name: "On record since", value: since(p.s, l)})
	for _, extra := range l.Extra {
		p.notes(0, factName, false, note{name: "Added", value: extra})
	}
}

// swapped chains the new tool to the old by their serial numbers.
func (p *onePaper) swapped(c *claims.ClaimPart) {
	if c.Replacement == "" {
		return
	}
	p.heading(4.4, "Swapped")
	p.notes(0, factName, false, note{name: "Old tool", value: p.l.Number + ", serial number " + told(p.l.SerialMarked()), face: numberFace},
		note{name: "New tool", value: c.Replacement + ", serial number " + told(c.ReplacementIs), face: numberFace})
}

const otherProofs = "6. Other photos and papers"

// proofs are photos and papers in the order of a warranty claim.
func (p *onePaper) proofs() error {
	best, latest := p.plates()
	first := "1. Serial number, the best photo ever"
	if len(latest) > 0 && len(best) == 0 {
		first, best = "1. Serial number, the first photo: no photo of it was graded", p.firstPlate()
	}
	for _, part := range []struct {
		title string
		files []claims.File
	}{
		{first, best},
		{"2. Serial number, the latest photo", latest},
		{"3. Receipt", p.ofKinds(evidence.Receipt, evidence.Account, evidence.Card, evidence.Registration)},
		{"4. Warranty text", p.ofKinds(evidence.Warranty)},
		{"5. The fault", p.ofKinds(evidence.Damage)},
		{otherProofs, p.l.Files},
	} {
		if err := p.part(part.title, part.files); err != nil {
			return err
		}
	}
	return nil
}

// plates are the photo of the serial number with the best grade ever, and the latest.
func (p *onePaper) plates() (best, latest []claims.File) {
	plates := p.ofKinds(evidence.Plate)
	for _, f := range plates {
		if f.Grade != nil && (best == nil || better(f, best[0])) {
			best = []claims.File{f}
		}
		if latest == nil || f.Received > latest[0].Received {
			latest = []claims.File{f}
		}
	}
	return best, latest
}

// better says whether a graded photo shows a serial number better than another: one that can
// be shown at all, then the grade, then the one that came first.
func better(f, than claims.File) bool {
	if shown := f.Gap() == ""; shown != (than.Gap() == "") {
		return shown
	}
	return cmp.Or(cmp.Compare(*f.Grade, *than.Grade), cmp.Compare(than.Received, f.Received)) > 0
}

// firstPlate is the photo of the serial number that came first and can be shown.
func (p *onePaper) firstPlate() (first []claims.File) {
	for _, f := range p.ofKinds(evidence.Plate) {
		better := first == nil || first[0].Gap() != "" && f.Gap() == ""
		if better || (first[0].Gap() == "") == (f.Gap() == "") && f.Received < first[0].Received {
			first = []claims.File{f}
		}
	}
	return first
}

func (p *onePaper) ofKinds(kinds ...evidence.Kind) (out []claims.File) {
	for _, f := range p.l.Files {
		for _, k := range kinds {
			if evidence.Kind(f.Kind) == k {
				out = append(out, f)
			}
		}
	}
	return out
}

// part prints photos and names papers under a heading, those that stand already by name.
func (p *onePaper) part(title string, files []claims.File) error {
	p.heading(4.4, title)
	var photos []*printed
	said := 0
	for _, f := range files {
		if p.shown[f.Ref] {
			if title != otherProofs {
				p.words(lineFace, paperType, f.Ref+" "+f.Words()+", above.")
				said++
			}
			continue
		}
		p.shown[f.Ref] = true
		said++
		if !f.Picture() {
			how := " It is no picture and comes as a file."
			if gap := f.Gap(); gap != "" {
				how = " It CANNOT BE SHOWN: " + gap + "."
			}
			p.words(lineFace, paperType, f.Ref+" "+f.Words()+". "+captionOf(p.s, f)+how)
			continue
		}
		of, err := toPrint(f, p.photo, p.grid.frame, finenesses[0])
		if err != nil {
			return err
		}
		photos = append(photos, of)
	}
	if said == 0 {
		p.words(lineFace, paperType, "None on record.")
	}
	p.photoRows(p.grid, p.s, photos)
	return nil
}

// Ownership draws what is on record of whose one tool is.
func Ownership(w io.Writer, s claims.Statement, photo Photo) error {
	p, err := newOnePaper(s, claims.Ownership, "Ownership record", photo)
	if err != nil {
		return err
	}
	p.words(boldFace, 6.5, "Whose tool this is, by the record")
	p.words(lineFace, paperType, fmt.Sprintf("From %s, what is on record on %s (%s). Prepared for whoever it is shown to. %s", s.Shop, s.When(s.Created), s.Zone, claims.NoAdvice))
	p.boxed("Owner on record: "+told(p.l.Owner), ownedWords(s, p.l))
	p.tool()
	p.heading(4.4, "What it is worth")
	p.notes(0, factName, false, append([]note{{name: "Price before tax", value: s.MoneyOf(p.l, p.l.Price)}, {name: "Tax", value: s.MoneyOf(p.l, p.l.Tax)}, {name: "Money owed on it", value: s.MoneyOf(p.l, p.l.Owed)}}, values(s, p.l, false)...)...)
	p.heading(4.4, "By what it is shown")
	p.words(lineFace, paperType, shownBy(s, p.l)+".")
	p.words(lineFace, paperSmall, photoWords)
	if err := p.proofs(); err != nil {
		return err
	}
	p.missing()
	return p.output(paperHead{left: "Ownership record " + p.l.Number + ", " + s.Shop, foot: claims.NoAdvice}, w)
}

// ownedWords say since when, and that a record decides nothing.
func ownedWords(s claims.Statement, l claims.Line) string {
	words := "Acquired: " + shared(l, string(l.Bought)) + ". In this register since " + since(s, l) + ". " + shownCount(l)
	return words + " This is what the register says; it does not decide who owns the tool."
}

func shownCount(l claims.Line) string {
	shown := 0
	for _, f := range l.Files {
		if f.Gap() == "" {
			shown++
		}
	}
	return fmt.Sprintf("Photos and papers that can be shown: %d of %d.", shown, len(l.Files))
}
