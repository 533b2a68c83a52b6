// Package matching says which tool a worn serial may be of: how likely each
// registered serial makes what can still be read, against the chance that the
// tool is none of them. It answers with probabilities and never with a serial: a
// guess is not something that was read. All figures of the model that have no
// published source are ours; identity-labels-evidence 3.1 says why.
package matching

import (
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"

	"pawl/model/fault"
)

// symbols are the characters that a reading can hold, by code.
const symbols = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"

const (
	nSymbols = len(symbols)
	other    = nSymbols // the code of any other character of a serial
	nCodes   = nSymbols + 1

	maxCells = 64
	maxGap   = 64
	openGap  = 6 // "*" is this many characters at most
	maxGaps  = 4 // each multiplies the work; a reading of more parts says little
)

// sort of a cell.
type sort uint8

const (
	seen    sort = iota // one of Chars, with confidence Q
	unknown             // a character that cannot be read
	gap                 // Lo to Hi characters are gone
)

// Cell is one place of a reading.
type Cell struct {
	sort  sort
	chars []byte  // codes; one, or several of equal weight
	q     float64 // confidence; 0: not stated
	lo,
	hi int
}

// Reading is what can be read of a serial, left to right.
type Reading struct {
	Cells []Cell
}

// Parse reads a reading as it is typed: a character that is seen, with its
// confidence where one is stated (K or K@0.8); {B8} for one of these; ? for one
// that cannot be read; * for up to six that are gone, *{0,3} for so many. Spaces,
// hyphens, slashes and dots between cells mean nothing.
func Parse(text string) (Reading, error) {
	if !utf8.ValidString(text) {
		return Reading{}, fault.At("#/reading", "the reading is not valid UTF-8 text").WithHint("type it again")
	}
	p := parser{text: []rune(strings.ToUpper(norm.NFKC.String(text)))}
	for p.at < len(p.text) {
		if err := p.cell(); err != nil {
			return Reading{}, err
		}
		if len(p.out.Cells) > maxCells {
			return Reading{}, fault.At("#/reading", "the reading has more than %d places", maxCells).WithHint("a serial has at most %d characters", maxCells)
		}
	}
	if !p.out.legible() {
		return Reading{}, fault.At("#/reading", "nothing can be read in %q", fault.Clip(text)).
			WithHint("type what can be seen, ? for a character that cannot be read, * for some that are gone: KD4?8*")
	}
	return p.out, nil
}

// legible says whether a character can be read at all.
func (r Reading) legible() bool {
	for _, c := range r.Cells {
		if c.sort == seen {
			return true
		}
	}
	return false
}

type parser struct {
	text []rune
	at   int
	out  Reading
}

// cell reads the next cell, or what stands between two.
func (p *parser) cell() error {
	r := p.text[p.at]
	p.at++
	c := Cell{}
	switch {
	case r == ' ' || r == '-' || r == '/' || r == '.':
		return nil
	case r == '?':
		c.sort = unknown
	case r == '*':
		c = Cell{sort: gap, hi: openGap}
		if p.next('{') {
			var err error
			if c.lo, c.hi, err = p.bounds(); err != nil {
				return err
			}
		}
	case r == '{':
		chars, err := p.set()
		if err != nil {
			return err
		}
		c.chars = chars
	default:
		code := strings.IndexRune(symbols, r)
		if code < 0 {
			return fault.At("#/reading", "%q is not a letter A to Z or a digit", string(r)).WithHint("type ? where a character cannot be read")
		}
		c.chars = []byte{byte(code)}
	}
	if p.next('@') {
		q, err := p.confidence()
		if err != nil {
			return err
		}
		if c.sort != seen {
			return fault.At("#/reading", "a confidence goes with a character that is seen").WithHint("write K@0.8 or {B8}@0.8; ? and * have none")
		}
		c.q = q
	}
	return p.keep(c)
}

// keep takes in a cell. Gaps side by side are one; all of them together are no more
// than a serial has characters, and few, so that a search ends.
func (p *parser) keep(c Cell) error {
	last := len(p.out.Cells) - 1
	if c.sort == gap && last >= 0 && p.out.Cells[last].sort == gap {
		before := &p.out.Cells[last]
		before.lo, before.hi = before.lo+c.lo, before.hi+c.hi
	} else {
		p.out.Cells = append(p.out.Cells, c)
	}
	gaps, gone := 0, 0
	for _, c := range p.out.Cells {
		if c.sort == gap {
			gaps, gone = gaps+1, gone+c.hi
		}
	}
	if gaps > maxGaps {
		return fault.At("#/reading", "characters are gone at more than %d places of the reading", maxGaps).WithHint("type ? for each one that is gone, where their number can be seen, or leave out the part that is worn most")
	}
	if gone > maxGap {
		return fault.At("#/reading", "up to %d characters of the reading are gone", gone).WithHint("a serial has at most %d; write *{0,3} for none to three", maxCells)
	}
	return nil
}

func (p *parser) next(r rune) bool {
	if p.at < len(p.text) && p.text[p.at] == r {
		p.at++
		return true
	}
	return false
}

// upTo gives what stands before the closing brace, which it takes.
func (p *parser) upTo() (string, bool) {
	for i := p.at; i < len(p.text); i++ {
		if p.text[i] == '}' {
			inside := string(p.text[p.at:i])
			p.at = i + 1
			return inside, true
		}
	}
	return "", false
}

func (p *parser) set() ([]byte, error) {
	inside, closed := p.upTo()
	var codes []byte
	for _, r := range inside {
		code := strings.IndexRune(symbols, r)
		if code < 0 || strings.IndexByte(string(codes), byte(code)) >= 0 {
			return nil, fault.At("#/reading", "{%s} is not a set of different letters and digits", fault.Clip(inside)).WithHint("write {B8} for a B or an 8")
		}
		codes = append(codes, byte(code))
	}
	if !closed || len(codes) == 0 {
		return nil, fault.At("#/reading", "a set is opened with { and holds nothing or is not closed").WithHint("write {B8} for a B or an 8")
	}
	return codes, nil
}

func (p *parser) bounds() (lo, hi int, err error) {
	inside, closed := p.upTo()
	first, second, two := strings.Cut(inside, ",")
	lo, bad := strconv.Atoi(strings.TrimSpace(first))
	if hi = lo; two && bad == nil {
		hi, bad = strconv.Atoi(strings.TrimSpace(second))
	}
	if !closed || bad != nil || lo < 0 || hi < lo || hi < 1 || hi > maxGap {
		return 0, 0, fault.At("#/reading", "*{%s} is not a number of characters that are gone", fault.Clip(inside)).WithHint("write *{0,3} for none to three, at most %d", maxGap)
	}
	return lo, hi, nil
}

func (p *parser) confidence() (float64, error) {
	from := p.at
	for p.at < len(p.text) && (p.text[p.at] == '.' || unicode.IsDigit(p.text[p.at])) {
		p.at++
	}
	stated := string(p.text[from:p.at])
	q, err := strconv.ParseFloat(stated, 64)
	if err != nil || !(q > 0 && q <= 1) {
		return 0, fault.At("#/reading", "@%s is not a confidence over 0 and up to 1", fault.Clip(stated)).WithHint("write K@0.8 for a K that is fairly sure; @0.6 is a guess")
	}
	return q, nil
}

// Text writes a cell as it is typed, without its confidence.
func (c Cell) Text() string {
	switch {
	case c.sort == unknown:
		return "?"
	case c.sort == gap && c.lo == 0 && c.hi == openGap:
		return "*"
	case c.sort == gap:
		return "*{" + strconv.Itoa(c.lo) + "," + strconv.Itoa(c.hi) + "}"
	case len(c.chars) == 1:
		return symbols[c.chars[0] : c.chars[0]+1]
	}
	var b strings.Builder
	b.WriteByte('{')
	for _, code := range c.chars {
		b.WriteByte(symbols[code])
	}
	b.WriteByte('}')
	return b.String()
}

// String writes a reading as it is typed.
func (r Reading) String() string {
	var b strings.Builder
	for i, c := range r.Cells {
		if i > 0 && r.Cells[i-1].q != 0 {
			b.WriteByte(' ') // or a digit would be one of the confidence
		}
		b.WriteString(c.Text())
		if c.q != 0 {
			b.WriteString("@" + strconv.FormatFloat(c.q, 'f', -1, 64))
		}
	}
	return b.String()
}

// codesOf puts a serial key into codes.
func codesOf(key string) []byte {
	out := make([]byte, 0, len(key))
	for _, r := range key {
		code := strings.IndexRune(symbols, r)
		if code < 0 {
			code = other
		}
		out = append(out, byte(code))
	}
	return out
}
