package labels

import (
	"fmt"
	"io"
	"strings"

	"pawl/model/claims"
)

// Police draws the sheet for the police: the same lines, numbers and words as the claim,
// serial numbers and owner's numbers foremost. It says nothing of policy, claim or money
// owed. For a supplement it lists the lines that are new, and those of earlier lists that read
// otherwise by now or came back.
func Police(w io.Writer, s claims.Statement) error {
	if err := s.Check(); err != nil {
		return err
	}
	p, err := newPaper(s.Paper, policeTitle(s))
	if err != nil {
		return err
	}
	policeHead(p, s)
	n := 0
	for _, l := range s.Lines {
		if !s.New(l) {
			continue
		}
		if n++; n == 1 {
			p.heading(5.2, "The tools")
		}
		policeLine(p, s, l)
	}
	changed := 0
	for _, l := range s.Lines {
		if !s.Mended(l) {
			continue
		}
		if changed++; changed == 1 {
			p.heading(5.2, "Changed since an earlier list")
		}
		policeLine(p, s, l)
	}
	if n+changed+len(s.Off) == 0 {
		p.boxed("NO TOOL IS LISTED YET", "What is missing was not found out yet: what is left is counted first. A further sheet will list it, each tool with its serial number.")
	}
	p.missing()
	return p.output(paperHead{left: policeTitle(s) + ", " + s.Shop, foot: policeFoot}, w)
}

const policeFoot = "From the shop's own records, for the police report. It blames nobody. A printed label is no permanent number: it peels off."

func policeTitle(s claims.Statement) string {
	title := "Police sheet"
	if s.Loss != nil {
		title += " " + s.Loss.ID
	}
	if s.Supplement > 1 {
		title += fmt.Sprintf(", supplement %d", s.Supplement)
	}
	return title
}

// blank leaves room to write what is not known yet.
func blank(text string) string {
	if strings.TrimSpace(text) == "" {
		return strings.Repeat("_", 40)
	}
	return text
}

// policeHead is what a report asks first; a number that there is not yet is left to be
// written in.
func policeHead(p *paper, s claims.Statement) {
	p.words(boldFace, 6.5, "For the police")
	p.words(lineFace, paperType, fmt.Sprintf("From %s, what is on record on %s (%s). Prepared for the police report.", s.Shop, s.When(s.Created), s.Zone))
	if whole := notWhole(s); whole != "" {
		p.words(lineFace, paperType, whole)
	}
	if s.Supplement > 1 {
		p.boxed(fmt.Sprintf("Supplement %d", s.Supplement), supplementWords(s)+" This sheet lists the new ones, and those that changed.")
	}
	struckOut(p, s)
	l := s.Loss
	if l == nil {
		l = &claims.LossPart{}
	}
	p.heading(4.4, "Report")
	p.notes(0, factName, false, note{name: "Agency", value: blank(l.Agency)}, note{name: "Case number", value: blank(l.Report), face: numberFace},
		note{name: "Officer", value: blank(l.Officer)}, note{name: "Reported on", value: blank(string(l.Reported))})
	p.groups(lossGroup(s))
	p.heading(4.4, "Owner, and how to reach them")
	contact := ""
	if s.Claim != nil {
		contact = s.Claim.Contact
	}
	p.notes(0, factName, false, note{name: "Shop", value: told(s.Shop)}, note{name: "How to reach them", value: blank(contact)},
		note{name: "Right to the tools", value: "each line names its owner"})
	if of := filesOf(s, s.Files); of != "" {
		p.notes(0, factName, false, note{name: "Photos and papers", value: of})
	}
}

// notWhole says that a sheet which goes with a packet does not list every tool of the loss:
// with it alone what belongs to somebody else would stay unreported. Lines whose numbers
// are higher than all that are here cannot be named.
func notWhole(s claims.Statement) string {
	if s.Claim == nil || s.Loss == nil {
		return ""
	}
	here, last := map[int64]bool{}, int64(0)
	for _, l := range s.Lines {
		here[l.Line], last = true, max(last, l.Line)
	}
	for _, o := range s.Off {
		here[o.Line], last = true, max(last, o.Line)
	}
	var gaps []int64
	for n := int64(1); n < last; n++ {
		if !here[n] {
			gaps = append(gaps, n)
		}
	}
	said := "It lists the tools of one packet, and is not the whole list of the loss."
	if len(gaps) > 0 {
		said += " Not on it: " + linesNamed(gaps) + "."
	}
	return said + " Tools of other owners that are missing too are on the sheet of the whole loss: ask for it."
}

// struckOut names the lines that stand on papers given out before and are on the list no
// more.
func struckOut(p *paper, s claims.Statement) {
	var all []string
	for _, o := range s.Off {
		all = append(all, fmt.Sprintf("line %d, %s %s (%s)", o.Line, o.Number, o.Kind, o.Why))
	}
	if len(all) > 0 {
		p.boxed("STRIKE OUT", "On papers given out before, and on the list no more: "+strings.Join(all, "; ")+".")
	}
}

// filesOf names photos and papers with when they were received.
func filesOf(s claims.Statement, files []claims.File) string {
	if len(files) == 0 {
		return ""
	}
	return shownBy(s, claims.Line{Files: files, Money: true})
}

func policeLine(p *paper, s claims.Statement, l claims.Line) {
	lineHead(p, s, l)
	numbers := []note{{name: "Serial, normalized", value: told(l.Normalized()), face: numberFace}, {name: "Serial, as read", value: l.SerialRead(), face: numberFace},
		{name: "How it was read", value: l.SerialSure()}, {name: "Owner's number", value: l.OwnersNumberWords(), face: boldFace}}
	for _, doubt := range l.RegisterDoubts() {
		numbers = append(numbers, note{name: "For the register", value: doubt})
	}
	if l.Lot != "" {
		numbers = append(numbers, note{name: "Lot code", value: l.Lot + " (not its own number)", face: numberFace})
	}
	numbers = append(numbers, note{name: "Tool number", value: l.LabelWords()})
	what := []note{{name: "Quantity", value: l.Quantity()}, {name: "Maker", value: told(l.Maker)}, {name: "Model, catalog no.", value: told(l.Model)}, {name: "Owner", value: l.OwnerWords()},
		{name: "Condition before", value: told(l.Condition)}, {name: "Date acquired", value: shared(l, string(l.Bought))}, {name: "Age", value: s.Age(l)}}
	p.beside(claimGutter, claimName, numbers, append(what, values(s, l, false)...))
	if s.Loss != nil {
		p.beside(claimGutter, claimName, lossState(s, l), lossSeen(s, l))
	}
	var more []note
	if text := l.Contents(); text != "" {
		more = append(more, note{name: "Set contents", value: text})
	}
	if n := recovered(l); n.value != "" {
		more = append(more, n)
	}
	more = append(more, note{name: "Size, color, marks", value: told(l.Notes)}, note{name: "On record since", value: since(s, l)}, note{name: "Photos and papers", value: shownBy(s, l)})
	p.notes(claimGutter, claimName, true, more...)
	last := &p.blocks[len(p.blocks)-1]
	last.held = false
	last.height += 3
}
