package labels

import (
	"fmt"
	"io"

	"pawl/model/fault"
	"pawl/model/markings"
)

// MarkingRound is the list of markings to be looked at this month, to be walked through
// with a pen: a row each, by place, with room for the grade and for what could be read.
type MarkingRound struct {
	Shop, As string       // As: when it was drawn, as people write it
	Month    string       // "November 2026"
	Paper    string       // letter or a4
	Of       string       // how many these are, of how many: "12 of 143 markings"
	Places   []RoundPlace // in walking order
	Cautions []string     // of the kinds on it
}

// RoundPlace is a place with the markings to be looked at there.
type RoundPlace struct {
	Title string
	Rows  []RoundRow
}

// RoundRow is one marking. Texts are as people read them; the serial on record is not
// among them, since whoever knows it reads it into a worn plate.
type RoundRow struct {
	Symbol   string // T/NUMBER, or the link
	Number   string
	What     string // "impact wrench, Brindle BX-900"
	Marking  string // "printed, below the handle; protection: none"
	Last     string // "2026-10-02: grade 3"; empty: nobody has looked
	Forecast string // "expected to lose a character by 2026-12-14"; empty: nothing is known
	Rank     int    // 1 has most to lose; 0: not said
	Do       string // what is to be done beside the look; empty: nothing
}

// Lengths of the sheet in mm.
const (
	roundSymbol = 12.0 // side of a symbol
	roundModule = 0.4  // least module of one: a link is long
	roundBox    = 5.0  // side of a box to tick
	roundRead   = 9.0  // height of the box for the reading
)

// roundHow is said once, before the list.
var roundHow = []string{
	"Photograph the marking before anything is cleaned: brake cleaner takes print off.",
	"Look, tick a grade, write what you see: ? for a character that cannot be read, * where some are gone. What you only know or guess is not written.",
	"Clear tape goes on a clean, dry marking that has been photographed; never on gloves, insulation, vents or a rating plate.",
	"An owner's number is put on for good, beside the maker's serial: one that a police register takes, if yours has one. A label that peels off is none.",
}

// roundNever stands in a frame.
const roundNever = "The maker's serial is never re-cut, restamped, filled or altered in any way: that can make a tool look stolen, and in many places is against the law (common practice, no source). " +
	"Never engrave, file, etch or heat-mark a part that measures, insulates, carries load or pressure, or a battery; ask whether marking ends a warranty. " +
	"An owner's number goes beside the serial, and both are photographed."

// PDF draws the list on as many pages as it needs; each says how many there are. The
// same list gives the same bytes.
func (s MarkingRound) PDF(w io.Writer) error {
	p, err := newPaper(s.Paper, "Round of markings, "+s.Month)
	if err != nil {
		return err
	}
	p.words(boldFace, 6.5, "Round of markings, "+s.Month)
	p.words(lineFace, paperType, fmt.Sprintf("%s, %s. To be looked at: %s.", s.Shop, s.As, s.Of))
	for _, how := range roundHow {
		p.words(lineFace, paperType, "- "+how)
	}
	p.boxed("The maker's serial stays as it is", roundNever)
	for _, c := range s.Cautions {
		p.words(lineFace, paperType, "! "+c)
	}
	for _, g := range markings.Grades() {
		p.notes(0, 10, true, note{name: fmt.Sprint(g), value: markings.GradeWords(g)})
	}
	p.blanks(58, "Looked at by, on")
	for _, place := range s.Places {
		p.heading(4.4, place.Title)
		for _, row := range place.Rows {
			if err := p.roundRow(row); err != nil {
				return err
			}
		}
	}
	if len(s.Places) == 0 {
		p.words(boldFace, paperType, "No marking is to be looked at. That says nothing of markings that are not recorded.")
	}
	p.missing()
	return p.output(paperHead{left: "Round of markings, " + s.Month + ", " + s.Shop, right: "drawn " + s.As,
		foot: "A chance is a guess from what looks have shown so far; the marking decides. Grades and readings are entered on the tool's page, or by scanning its symbol."}, w)
}

// roundRow sets one marking beside the symbol that leads to its tool.
func (p *paper) roundRow(row RoundRow) error {
	if clean := numberFace.clean(row.Number); clean != row.Number || clean == "" {
		return fault.At("#/number", "the number %q cannot be printed as it is", row.Number)
	}
	symbol, err := encodeStrong(row.Symbol, 0)
	if err != nil {
		return err
	}
	module := wholeDots(max(roundSymbol/float64(symbol.Side()), roundModule))
	side := module * float64(symbol.Side())
	zone := quiet * module
	b := block{symbol: symbol, side: side, rules: []float64{0}}
	x := side + zone + 2
	head := p.lines(numberFace, 4.6, x, 40, row.Number)
	what := p.lines(boldFace, paperType, x+32, p.wide()-x-32, row.What)
	y := max(stack(head, 1.5), stack(what, 2.5))
	b.runs = append(head, what...)
	for _, text := range row.texts() {
		runs := p.lines(lineFace, paperType, x, p.wide()-x, text)
		y = stack(runs, y)
		b.runs = append(b.runs, runs...)
	}
	y = p.roundBoxes(&b, x, y+1.5)
	b.height = max(y, side+2*zone)
	p.add(b, 1.5)
	return nil
}

// texts are what is known of the marking, and what is to be done.
func (r RoundRow) texts() (out []string) {
	add := func(name, text string) {
		if text != "" {
			out = append(out, name+text)
		}
	}
	add("", r.Marking)
	if r.Last == "" {
		out = append(out, "Nobody has looked at it yet.")
	}
	add("Last look ", r.Last)
	if r.Forecast == "" {
		out = append(out, "NOT KNOWN how long it stays readable.")
	}
	add("", r.Forecast)
	if r.Rank > 0 {
		out = append(out, fmt.Sprintf("Most to lose: no. %d.", r.Rank))
	}
	add("TO DO: ", r.Do)
	return out
}

// roundBoxes sets a box for each grade with its short meaning, one for the photo, and
// a wide one for the reading; it gives the height below them.
func (p *paper) roundBoxes(b *block, x, y float64) float64 {
	ticks := []string{"photo"}
	for _, g := range markings.Grades() {
		ticks = append(ticks, fmt.Sprintf("%d %s", g, roundShort[g]))
	}
	at, low := x, y
	for i, text := range ticks {
		wide := p.wide() - x
		wide *= roundShare[i]
		b.frames = append(b.frames, box{at, y, roundBox, roundBox})
		runs := p.lines(lineFace, paperSmall, at+roundBox+1, wide-roundBox-2, text)
		low = max(low, stack(runs, y))
		b.runs = append(b.runs, runs...)
		at += wide
	}
	y = max(low, y+roundBox) + 1.5
	name := p.lines(lineFace, paperSmall, x, 26, "What can be read")
	stack(name, y+2)
	b.runs = append(b.runs, name...)
	b.frames = append(b.frames, box{x + 27, y, p.wide() - x - 27, roundRead})
	return y + roundRead + 2.5
}

// roundShort are the grades beside their boxes; the list above says them in full.
var roundShort = map[int64]string{markings.Crisp: "crisp", markings.Worn: "worn, sure", markings.WithCare: "with care", markings.Lost: "one lost", markings.Unreadable: "unreadable"}

// roundShare is how much of the width each tick has.
var roundShare = []float64{0.13, 0.14, 0.19, 0.18, 0.17, 0.19}
