package labels

import (
	"fmt"
	"io"

	"codeberg.org/go-pdf/fpdf"

	"pawl/model/fault"
)

// JobSheet is what is on record of a job on paper: what was taken to it and where that
// is, what does not add up, what the vehicle's owner is to be told.
type JobSheet struct {
	Symbol   string // JOB:NUMBER
	Number   string
	About    []string // the vehicle, its VIN, whether it is a safety job, open or closed
	Shop, As string   // As: when it was drawn, as people write it
	Paper    string   // letter or a4
	Words    string   // whether all is back, in a sentence
	Parts    []JobSheetPart
	Foot     string // what the sheet does not say
}

// JobSheetPart is one heading with what stands under it.
type JobSheetPart struct {
	Title string
	Loud  bool // its lines are bold: they are to be acted on
	Lines []JobSheetLine
}

// JobSheetLine is one thing: Text, and More in smaller type below it. Blank leaves room
// to write how it was answered for.
type JobSheetLine struct {
	Text, More string
	Blank      bool
}

// Lengths of the sheet in mm.
const (
	jobMargin = 15.0
	jobType   = 3.6
	jobSmall  = 3.1
	jobFoot   = 18.0
	jobBlank  = 8.0
	jobMost   = 12 // lines of one text
)

// jobBlock is what stays together on a page.
type jobBlock struct {
	texts  []recheckText
	rule   bool
	blank  bool
	height float64
}

// jobPaper is a sheet while it is drawn.
type jobPaper struct {
	JobSheet
	doc    *fpdf.Fpdf
	w, h   float64
	symbol *Symbol
}

// PDF draws the sheet on as many pages as it needs; each says of which job it is and how
// many there are.
func (s JobSheet) PDF(w io.Writer) error {
	paper, known := papers[s.Paper]
	if !known {
		return fault.At("#/paper", "%q is not a paper", s.Paper).WithHint("use letter or a4")
	}
	symbol, err := encodeStrong(s.Symbol, 0)
	if err != nil {
		return err
	}
	j := jobPaper{JobSheet: s, w: paper[0], h: paper[1], symbol: symbol}
	j.doc = newPages(j.w, j.h, "Job "+boldFace.clean(s.Number), numberFace, lineFace, boldFace)
	pages := j.pages()
	for i, blocks := range pages {
		j.doc.AddPage()
		y := j.head(i == 0)
		for _, b := range blocks {
			y = j.draw(b, y)
		}
		for k, line := range lineFace.wrap(lineFace.clean(s.Foot), (j.w-2*jobMargin)/2.8) {
			write(j.doc, lineFace, 2.8, jobMargin, j.h-12+leading*2.8*float64(k), line)
		}
		foot := fmt.Sprintf("Job %s, drawn %s. Page %d of %d.", boldFace.clean(s.Number), s.As, i+1, len(pages))
		write(j.doc, lineFace, 2.8, jobMargin, j.h-16, foot)
	}
	return output(j.doc, w)
}

// pages deals the blocks out. A heading goes with what follows it.
func (j *jobPaper) pages() (pages [][]jobBlock) {
	var page []jobBlock
	left := j.h - j.top(true) - jobFoot
	all := j.blocks()
	for i, b := range all {
		need := b.height
		if !b.blank && !b.rule && i+1 < len(all) && all[i+1].rule {
			need += all[i+1].height
		}
		if need > left && len(page) > 0 {
			pages, page, left = append(pages, page), nil, j.h-j.top(false)-jobFoot
		}
		page, left = append(page, b), left-b.height
	}
	return append(pages, page)
}

// top is where a page's blocks begin.
func (j *jobPaper) top(first bool) float64 {
	if first {
		return jobMargin + 24 + 4.6*float64(max(len(j.About)-1, 0))
	}
	return jobMargin + 10
}

func (j *jobPaper) blocks() (out []jobBlock) {
	out = append(out, j.measured(jobBlock{texts: []recheckText{{boldFace, jobType, 0, j.Words}}}))
	for _, p := range j.Parts {
		if len(p.Lines) == 0 {
			continue
		}
		out = append(out, j.measured(jobBlock{texts: []recheckText{{boldFace, 4.4, 0, p.Title}}}))
		face := lineFace
		if p.Loud {
			face = boldFace
		}
		for _, l := range p.Lines {
			b := jobBlock{rule: true, blank: l.Blank, texts: []recheckText{{face, jobType, 0, l.Text}}}
			if l.More != "" {
				b.texts = append(b.texts, recheckText{lineFace, jobSmall, 4, l.More})
			}
			out = append(out, j.measured(b))
		}
	}
	return out
}

// measured wraps the texts of a block to the paper, and says how high it is.
func (j *jobPaper) measured(b jobBlock) jobBlock {
	var all []recheckText
	b.height = 3
	for _, t := range b.texts {
		wide := (j.w - 2*jobMargin - t.indent) / t.size
		lines := t.face.wrap(t.face.clean(t.text), wide)
		if len(lines) > jobMost {
			lines = append(lines[:jobMost-1], t.face.cut(lines[jobMost-1]+" "+ellipsis+ellipsis+ellipsis, wide))
		}
		for _, line := range lines {
			all = append(all, recheckText{t.face, t.size, t.indent, line})
			b.height += leading * t.size
		}
	}
	if b.texts = all; b.blank {
		b.height += jobBlank
	}
	return b
}

// head draws the top of a page and gives where its blocks begin.
func (j *jobPaper) head(first bool) (y float64) {
	title := "Job " + boldFace.clean(j.Number)
	if !first {
		write(j.doc, boldFace, 4.4, jobMargin, jobMargin+3, title)
		return j.top(false)
	}
	module := wholeDots(20.0 / float64(j.symbol.Side()))
	side := module * float64(j.symbol.Side())
	l := layout{symbol: j.symbol, module: module, x: j.w - jobMargin - side, y: jobMargin - 4}
	j.doc.RawWriteStr(strokes(l, j.h, 0, 0))
	wide := l.x - quiet*module - jobMargin
	size := max(4, min(8, wide/boldFace.width(title)))
	write(j.doc, boldFace, size, jobMargin, jobMargin+4, boldFace.cut(title, wide/size+1e-9))
	for i, text := range append(append([]string{}, j.About...), j.Shop+", "+j.As) {
		text = lineFace.clean(text)
		size := max(2.4, min(jobType, wide/max(lineFace.width(text), 1e-9)))
		write(j.doc, lineFace, size, jobMargin, jobMargin+11+4.6*float64(i), lineFace.cut(text, wide/size+1e-9))
	}
	return j.top(true)
}

// draw draws a block and gives where the next begins.
func (j *jobPaper) draw(b jobBlock, y float64) float64 {
	if b.rule {
		j.doc.SetLineWidth(0.15)
		j.doc.Line(jobMargin, y, j.w-jobMargin, y)
	}
	end := y + b.height
	y++
	for _, t := range b.texts {
		write(j.doc, t.face, t.size, jobMargin+t.indent, y+t.size, t.text)
		y += leading * t.size
	}
	if b.blank {
		write(j.doc, lineFace, 2.8, jobMargin+4, y+6, "Found where, with whom, or searched by whom and where:")
		j.doc.SetLineWidth(0.15)
		j.doc.Line(jobMargin+78, y+6.6, j.w-jobMargin, y+6.6)
	}
	return end
}
