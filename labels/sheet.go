package labels

import (
	"math"
	"strings"

	"pawl/model/fault"
)

// Sheet is the geometry of a sheet of labels, in mm.
type Sheet struct {
	Name           string  // such as "letter-3x10": paper, columns x rows
	Paper          string  // "letter", "a4", or another name for paper of another size
	PaperW, PaperH float64 // size of the paper
	Cols, Rows     int
	W, H           float64 // size of a label
	Left, Top      float64 // corner of the first label
	PitchX, PitchY float64 // from the corner of a label to that of the next
}

// Paper of a known name has this size (ISO 216; ANSI/ASME Y14.1 size A).
var papers = map[string][2]float64{"letter": {215.9, 279.4}, "a4": {210, 297}}

// Sheets returns the built-in geometries. They are converted from an open
// template database; identity-labels-evidence 2.5 lists them with their
// opposite margins.
func Sheets() []Sheet {
	letter := func(name string, cols, rows int, w, h, left, top, px, py float64) Sheet {
		return Sheet{name, "letter", 215.9, 279.4, cols, rows, w, h, left, top, px, py}
	}
	a4 := func(name string, cols, rows int, w, h, left, top, px, py float64) Sheet {
		return Sheet{name, "a4", 210, 297, cols, rows, w, h, left, top, px, py}
	}
	return []Sheet{
		letter("letter-3x10", 3, 10, 66.675, 25.4, 4.7625, 12.7, 69.85, 25.4),
		letter("letter-2x10", 2, 10, 101.6, 25.4, 3.969, 12.7, 106.36, 25.4),
		letter("letter-2x7", 2, 7, 101.6, 33.87, 3.969, 21.17, 106.36, 33.87),
		letter("letter-2x5", 2, 5, 101.6, 50.8, 3.969, 12.7, 106.36, 50.8),
		letter("letter-4x20", 4, 20, 44.45, 12.7, 7.144, 12.7, 52.39, 12.7),
		a4("a4-3x7", 3, 7, 63.5, 38.1, 7.2, 15.15, 66.0, 38.1),
		a4("a4-2x8", 2, 8, 99.1, 33.9, 3.99, 12.98, 102.48, 33.9),
		a4("a4-3x11", 3, 11, 70, 25, 0, 10, 70, 25),
		a4("a4-5x13", 5, 13, 38.1, 21.2, 4.70, 10.90, 40.60, 21.20),
		a4("a4-5x16", 5, 16, 35.6, 16.9, 11, 13, 38.1, 16.9),
	}
}

// SheetByName returns a built-in geometry.
func SheetByName(name string) (Sheet, error) {
	var names []string
	for _, s := range Sheets() {
		if s.Name == name {
			return s, nil
		}
		names = append(names, s.Name)
	}
	return Sheet{}, fault.New(fault.Invalid, "unknown sheet %q", name).WithHint("use one of %s", strings.Join(names, ", "))
}

// Opposite margins of a true geometry are close to equal; these are the
// largest differences that the published ones show, and a little more.
const (
	slackX = 0.6 // mm
	slackY = 2.1 // mm
	hair   = 0.02
)

// cells returns how many labels the sheet has.
func (s Sheet) cells() int { return s.Cols * s.Rows }

// margins returns the white right of the last column and below the last row.
func (s Sheet) margins() (right, bottom float64) {
	return s.PaperW - s.Left - float64(s.Cols-1)*s.PitchX - s.W,
		s.PaperH - s.Top - float64(s.Rows-1)*s.PitchY - s.H
}

// Check is the self-test of a geometry: labels lie on the paper, do not
// overlap, and leave opposite margins that differ by at most 0.6 mm across and
// 2.1 mm along the paper, so that a dimension off by 3 mm shows.
func (s Sheet) Check() error {
	if err := s.checkFigures(); err != nil {
		return err
	}
	if p, ok := papers[s.Paper]; ok && math.Hypot(s.PaperW-p[0], s.PaperH-p[1]) > 0.5 {
		return fault.At("#/paper", "%s paper is %g x %g mm, not %g x %g", s.Paper, p[0], p[1], s.PaperW, s.PaperH).
			WithHint("give paper of another size another name")
	}
	if s.Cols > 1 && s.PitchX < s.W-hair {
		return fault.At("#/pitch_x", "labels %g mm wide overlap at a pitch of %g mm", s.W, s.PitchX)
	}
	if s.Rows > 1 && s.PitchY < s.H-hair {
		return fault.At("#/pitch_y", "labels %g mm high overlap at a pitch of %g mm", s.H, s.PitchY)
	}
	right, bottom := s.margins()
	if right < -hair || bottom < -hair {
		return fault.At("#/paper", "the last label ends %.2f mm off the paper", max(-right, -bottom)).
			WithHint("measure paper, first corner, pitch and label again")
	}
	if math.Abs(s.Left-right) > slackX {
		return fault.At("#/left", "the left margin is %.2f mm, the right comes out at %.2f mm", s.Left, right).
			WithHint("they differ by at most %g mm on a true sheet; measure again", slackX)
	}
	if math.Abs(s.Top-bottom) > slackY {
		return fault.At("#/top", "the top margin is %.2f mm, the bottom comes out at %.2f mm", s.Top, bottom).
			WithHint("they differ by at most %g mm on a true sheet; measure again", slackY)
	}
	return nil
}

// checkFigures refuses what is no measure at all.
func (s Sheet) checkFigures() error {
	for _, m := range []struct {
		name, what string
		mm, least  float64
	}{
		{"paper_w", "the width of the paper", s.PaperW, 20}, {"paper_h", "the height of the paper", s.PaperH, 20},
		{"w", "the width of a label", s.W, 5}, {"h", "the height of a label", s.H, 5},
		{"left", "the left margin", s.Left, 0}, {"top", "the top margin", s.Top, 0},
		{"pitch_x", "the pitch from column to column", s.PitchX, 0}, {"pitch_y", "the pitch from row to row", s.PitchY, 0},
	} {
		if !(m.mm >= m.least && m.mm <= 2000) {
			return fault.At("#/"+m.name, "%s is %g mm; it lies between %g and 2000 mm", m.what, m.mm, m.least)
		}
	}
	if s.Cols < 1 || s.Rows < 1 || s.Cols > 100 || s.Rows > 100 {
		return fault.At("#/cols", "a sheet of %d x %d labels; there are 1 to 100 columns and rows", s.Cols, s.Rows)
	}
	return nil
}

// corner returns the top left corner of label i, counted from 0 by rows.
func (s Sheet) corner(i int) (x, y float64) {
	return s.Left + float64(i%s.Cols)*s.PitchX, s.Top + float64(i/s.Cols)*s.PitchY
}
