package labels

import (
	"bytes"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"pawl/model/claims"
	"pawl/model/evidence"
	"pawl/model/fault"
)

// Part opens the file of one part of a document: n of of, by the name that it should
// have. It is closed before the next one is opened.
type Part func(n, of int, name string) (io.WriteCloser, error)

// volume is the most tools of one part: the library holds a whole document in memory.
const volume = 100

// fewTools have their photos printed larger.
const fewTools = 20

// claimPaper is the document of a claim while it is divided and drawn.
type claimPaper struct {
	s       claims.Statement
	photo   Photo
	maxPart int64
	keep    int64 // bytes of photos that may be held at a time; of the others only the sizes are kept
	grid    photoGrid
	first   map[string]int64 // reference of a photo to the line that prints it; 0 is the loss
	units   []claimUnit      // the loss as a whole, then the lines
}

// claimUnit is what stands in one part: a line with its photos. The first one is the
// loss as a whole.
type claimUnit struct {
	line   *claims.Line
	photos []*printed
}

func (u claimUnit) size() (n int64) {
	const ofLine = 2500 // of its compressed text, on the average
	n = ofLine
	for _, p := range u.photos {
		n += p.size()
	}
	return n
}

// Claim draws the document of a claim: a summary, the list of its lines, their photos
// and papers. It is divided into parts of at most maxPart bytes (0: no limit) and of at
// most 100 tools; the same statement and photos give the same bytes. One part is named
// claim.pdf, several are claim-1.pdf, claim-2.pdf …
func Claim(s claims.Statement, photo Photo, maxPart int64, part Part) error {
	d, err := NewClaimDocument(s, photo, maxPart)
	if err != nil {
		return err
	}
	for i, name := range d.Names() {
		w, err := part(i+1, len(d.parts), name)
		if err != nil {
			return err
		}
		err = d.Write(i, w)
		if closed := w.Close(); err == nil && closed != nil {
			err = unwritten("document", closed)
		}
		if err != nil {
			return err
		}
		d.parts[i] = nil // its photos are not needed again
	}
	return nil
}

// ClaimDocument is the document of a claim, divided into parts, with its photos brought
// to the size of print: each part can be written as often as it takes.
type ClaimDocument struct {
	claimPaper
	parts  [][]claimUnit
	spread []string // "part 1: lines 1 to 100"
}

// NewClaimDocument divides the document of a claim as Claim does.
func NewClaimDocument(s claims.Statement, photo Photo, maxPart int64) (*ClaimDocument, error) {
	return newClaimDocument(s, photo, maxPart, mostKept)
}

// mostKept are the bytes of printed photos that are held from the dividing to the
// drawing: those of a thousand tools. Photos beyond are brought to the size of print a
// second time.
const mostKept = 60_000_000

func newClaimDocument(s claims.Statement, photo Photo, maxPart, keep int64) (*ClaimDocument, error) {
	if err := s.Check(); err != nil {
		return nil, err
	}
	measures, known := papers[s.Paper]
	if !known {
		return nil, fault.At("#/paper", "%q is not a paper", s.Paper).WithHint("use letter or a4")
	}
	d := &ClaimDocument{claimPaper: claimPaper{s: s, photo: photo, maxPart: maxPart, keep: keep, grid: newPhotoGrid(measures[0]-2*paperMargin, 3)}}
	if len(s.Lines) <= fewTools {
		d.grid = newPhotoGrid(measures[0]-2*paperMargin, 2)
	}
	if err := d.measure(); err != nil {
		return nil, err
	}
	var err error
	if d.parts, err = d.divide(); err != nil {
		return nil, err
	}
	for i, units := range d.parts {
		d.spread = append(d.spread, fmt.Sprintf("part %d: %s", i+1, linesOf(units)))
	}
	d.units = nil // the parts have them
	return d, nil
}

// Names are those of the parts, in their order.
func (d *ClaimDocument) Names() []string { return ClaimNames(len(d.parts)) }

// WholeParts is how many parts a document of so many lines has where none is too large: it
// is known before it is drawn.
func WholeParts(lines int) int { return max(1, (lines+volume-1)/volume) }

// ClaimNames are the names of so many parts, in their order.
func ClaimNames(parts int) []string {
	if parts == 1 {
		return []string{"claim.pdf"}
	}
	names := make([]string, parts)
	for i := range names {
		names[i] = fmt.Sprintf("claim-%d.pdf", i+1)
	}
	return names
}

// Write draws one part, counted from 0.
func (d *ClaimDocument) Write(i int, w io.Writer) error {
	release, err := d.fetch(d.parts[i])
	defer release()
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := d.draw(d.parts[i], i == 0, claimPart{n: i + 1, of: len(d.parts), spread: d.spread}, false, &b); err != nil {
		return err
	}
	if d.maxPart > 0 && int64(b.Len()) > d.maxPart {
		return fault.New(fault.Internal, "part %d takes %d bytes, more than was reckoned", i+1, b.Len())
	}
	if _, err := b.WriteTo(w); err != nil {
		return unwritten("document", err)
	}
	return nil
}

// fetch makes the photos of a part that were let go of, and gives what lets go of them
// again.
func (d *ClaimDocument) fetch(units []claimUnit) (release func(), err error) {
	var made []*printed
	release = func() {
		for _, p := range made {
			p.jpeg = nil
		}
	}
	for _, u := range units {
		for _, p := range u.photos {
			if p.jpeg != nil || p.gap != "" {
				continue
			}
			again, err := toPrint(p.file, d.photo, d.grid.frame, p.fine)
			if err != nil {
				return release, err
			}
			if again.long != p.long || again.gap != "" {
				return release, fault.New(fault.Internal, "photo %s is another one than a moment ago", p.file.Ref)
			}
			p.jpeg = again.jpeg
			made = append(made, p)
		}
	}
	return release, nil
}

// measure brings every photo to the size of print.
func (c *claimPaper) measure() error {
	c.first = map[string]int64{}
	c.units = append(c.units, claimUnit{})
	for i := range c.s.Lines {
		c.units = append(c.units, claimUnit{line: &c.s.Lines[i]})
	}
	for i := range c.units {
		for _, f := range c.pictures(&c.units[i]) {
			p, err := toPrint(f, c.photo, c.grid.frame, finenesses[0])
			if err != nil {
				return err
			}
			if c.keep -= p.long; c.keep < 0 {
				p.jpeg = nil
			}
			c.units[i].photos = append(c.units[i].photos, p)
		}
	}
	return nil
}

// pictures are the files of a unit that are printed with it: pictures which no unit
// before it prints.
func (c *claimPaper) pictures(u *claimUnit) (out []claims.File) {
	files, line := c.s.Files, int64(0)
	if u.line != nil {
		files, line = u.line.Files, u.line.Line
	}
	for _, f := range files {
		if _, done := c.first[f.Ref]; f.Picture() && !done {
			c.first[f.Ref] = line
			out = append(out, f)
		}
	}
	return out
}

// divide puts the units into parts. A part is filled by estimate, and then drawn without
// its photos to see how large it is with them.
func (c *claimPaper) divide() (parts [][]claimUnit, err error) {
	for at := 0; at < len(c.units); {
		to, tools, size := at, 0, int64(0)
		for ; to < len(c.units); to++ {
			u := c.units[to]
			if u.line != nil {
				tools++
			}
			size += u.size()
			if to > at && (tools > volume || c.maxPart > 0 && size > c.maxPart) {
				break
			}
		}
		for c.maxPart > 0 {
			size, err := c.weigh(at, to)
			if err != nil {
				return nil, err
			}
			if size <= c.maxPart {
				break
			}
			if to-at > 1 {
				to -= max(1, (to-at)/20)
			} else if err := c.coarser(at, size); err != nil {
				return nil, err
			}
		}
		parts = append(parts, slices.Clone(c.units[at:to]))
		at = to
	}
	return parts, nil
}

// weigh says how large a part of these units gets.
func (c *claimPaper) weigh(at, to int) (int64, error) {
	units := c.units[at:to]
	var b weight
	// The numbers of parts are not known yet; they may have as many figures as these.
	if err := c.draw(units, at == 0, claimPart{n: 999, of: 999}, true, &b); err != nil {
		return 0, err
	}
	size := int64(b) + 2000
	for _, u := range units {
		for _, p := range u.photos {
			size += p.size()
		}
	}
	return size, nil
}

// weight counts what is written.
type weight int64

func (n *weight) Write(b []byte) (int, error) {
	*n += weight(len(b))
	return len(b), nil
}

// coarser prints the photos of a unit that is too large for a part less finely.
func (c *claimPaper) coarser(i int, size int64) error {
	u := &c.units[i]
	for _, fine := range finenesses[1:] {
		now := size
		for k, p := range u.photos {
			again, err := toPrint(p.file, c.photo, c.grid.frame, fine)
			if err != nil {
				return err
			}
			now += again.size() - p.size()
			u.photos[k] = again
		}
		if size = now; size <= c.maxPart {
			return nil
		}
	}
	what := "the loss as a whole"
	if u.line != nil {
		what = fmt.Sprintf("line %d", u.line.Line)
	}
	return fault.At("#/max_part", "%s with its %d photos takes %d bytes and does not fit into a part of %d", what, len(u.photos), size, c.maxPart).
		WithHint("allow larger parts, at least %d kB", size/1000+1)
}

// claimPart says which part is drawn, and of the others where they begin.
type claimPart struct {
	n, of  int
	spread []string // "part 1: lines 1 to 100"
}

// linesOf says which lines a part holds.
func linesOf(units []claimUnit) string {
	var numbers []int64
	for _, u := range units {
		if u.line != nil {
			numbers = append(numbers, u.line.Line)
		}
	}
	return linesNamed(numbers)
}

// linesNamed says line numbers: those that follow each other by the first and last.
func linesNamed(numbers []int64) string {
	var said []string
	for i := 0; i < len(numbers); {
		j := i
		for j+1 < len(numbers) && numbers[j+1] == numbers[j]+1 {
			j++
		}
		span := strconv.FormatInt(numbers[i], 10)
		if j > i {
			span += " to " + strconv.FormatInt(numbers[j], 10)
		}
		said = append(said, span)
		i = j + 1
	}
	switch {
	case len(numbers) == 0:
		return "no lines"
	case len(numbers) == 1:
		return "line " + said[0]
	}
	return "lines " + strings.Join(said, ", ")
}

// draw writes one part.
func (c *claimPaper) draw(units []claimUnit, first bool, at claimPart, dry bool, w io.Writer) error {
	p, err := newPaper(c.s.Paper, c.title())
	if err != nil {
		return err
	}
	p.dry = dry
	if first {
		c.summary(p, at)
	}
	c.list(p, units, at)
	c.photoPages(p, units)
	c.paperList(p, units)
	p.missing()
	right := ""
	if at.of > 1 {
		right = fmt.Sprintf("part %d of %d", at.n, at.of)
	}
	return p.output(paperHead{left: c.title() + ", " + c.s.Shop, right: right, foot: c.preparedFor() + ". " + claims.NoAdvice}, w)
}

func (c *claimPaper) title() string {
	title := "Claim"
	if c.s.Claim != nil {
		title += " " + c.s.Claim.ID
	}
	if c.s.Supplement > 1 {
		title += fmt.Sprintf(", supplement %d", c.s.Supplement)
	}
	return title
}

// preparedFor says for whom the document is: it is no proof of loss.
func (c *claimPaper) preparedFor() string {
	claim := c.s.Claim
	switch {
	case claim == nil:
		return "Prepared for whoever it is shown to"
	case claim.Adjuster != "":
		return "Prepared for " + claim.Adjuster
	case claim.Policy != "":
		return fmt.Sprintf("Prepared for the insurer of %q", claim.Policy)
	}
	return "Prepared for the insurer"
}

// photoPages print the photos of a part, by line.
func (c *claimPaper) photoPages(p *paper, units []claimUnit) {
	begun := false
	for _, u := range units {
		if len(u.photos) == 0 {
			continue
		}
		if !begun {
			p.heading(5.2, "Photos, by line")
			p.blocks[len(p.blocks)-1].fresh = true
			p.words(lineFace, paperSmall, photoWords)
			begun = true
		}
		title := "Of the loss as a whole"
		if u.line != nil {
			title = fmt.Sprintf("Line %d: %s", u.line.Line, u.line.Words())
		}
		p.heading(3.6, title)
		p.photoRows(c.grid, c.s, u.photos)
	}
}

// paperList names what is a paper and not a view of a thing, line by line.
func (c *claimPaper) paperList(p *paper, units []claimUnit) {
	type listed struct {
		line int64
		file claims.File
	}
	var all []listed
	for _, u := range units {
		files, line := c.s.Files, int64(0)
		if u.line != nil {
			files, line = u.line.Files, u.line.Line
		}
		for _, f := range files {
			if !evidence.Kind(f.Kind).Photo() {
				all = append(all, listed{line, f})
			}
		}
	}
	if len(all) == 0 {
		return
	}
	p.heading(4.4, fmt.Sprintf("Papers (%d)", len(all)))
	for _, l := range all {
		of := "the loss"
		if l.line > 0 {
			of = fmt.Sprintf("line %d", l.line)
		}
		p.row(false, cell{text: l.file.Ref, wide: 14, face: boldFace}, cell{text: of, x: 15, wide: 20},
			cell{text: l.file.Words() + c.whereTo(l.file) + c.of(l.file), x: 36, wide: p.wide() - 36})
	}
}

// whereTo says where a paper is to be seen.
func (c *claimPaper) whereTo(f claims.File) string {
	switch gap := f.Gap(); {
	case gap != "":
		return ", cannot be shown here: " + gap
	case f.Picture() && c.first[f.Ref] == 0:
		return ", printed above with the loss"
	case f.Picture():
		return fmt.Sprintf(", printed with the photos of line %d", c.first[f.Ref])
	}
	return ", not printed here"
}

// of says where a file is in the annex, and how it is known there.
func (c *claimPaper) of(f claims.File) string {
	out := ""
	switch left := f.Missing(); {
	case left != "":
		out = ". NOT IN THE ANNEX: " + left
	case f.Path != "":
		out = ". In the annex: " + strings.TrimPrefix(f.Path, "data/")
	}
	out += fmt.Sprintf(". Received %s, %d bytes.", c.s.When(f.Received), f.Bytes)
	if f.SHA256 != "" {
		out += " SHA-256 " + f.SHA256
	}
	return out
}
