package sheets

import (
	"io"
	"strings"

	"pawl/model/fault"
)

// delimiters are those looked for, in the order in which equals are taken.
var delimiters = []rune{',', ';', '\t', '|'}

const (
	sampleRunes = 64 << 10 // looked at to find the delimiter
	sampleRows  = 50
)

// ReadCSV begins to read a CSV: RFC 4180, with the delimiter of a first line
// `sep=;`, of o, or else the one that gives most of the first rows the same
// number of cells. Lines end with CRLF, LF or CR.
func ReadCSV(r io.Reader, o Options) (*Reader, error) {
	t, err := newText(r)
	if err != nil {
		return nil, err
	}
	named := separatorLine(t)
	switch {
	case o.Delimiter != 0 && !strings.ContainsRune(string(delimiters), o.Delimiter):
		return nil, fault.At("#/delimiter", "%q is not a delimiter; use a comma, semicolon, tab or pipe", string(o.Delimiter))
	case o.Delimiter == 0 && named != 0:
		o.Delimiter = named
	case o.Delimiter == 0:
		o.Delimiter = delimiterOf(t.sample(sampleRunes)[t.at:], t.ended == nil)
	}
	p := &parser{next: t.next, comma: o.Delimiter}
	return &Reader{next: p.record, warnings: func() []string {
		if !t.as1252 {
			return nil
		}
		return []string{"the file is not UTF-8 and was read as Windows-1252: look at letters with accents and at signs"}
	}}, nil
}

// separatorLine takes a first line that names the delimiter, which is no row.
func separatorLine(t *text) rune {
	head := t.sample(sampleRunes)
	if len(head) < 5 || !strings.EqualFold(string(head[:4]), "sep=") {
		return 0
	}
	comma, rest := head[4], head[5:]
	switch {
	case !strings.ContainsRune(string(delimiters), comma):
		return 0
	case len(rest) == 0:
		t.at = 5
	case rest[0] == '\r' && len(rest) > 1 && rest[1] == '\n':
		t.at = 7
	case rest[0] == '\n' || rest[0] == '\r':
		t.at = 6
	default:
		return 0
	}
	return comma
}

// delimiterOf finds the delimiter of the first rows; more says that the file
// goes on after them.
func delimiterOf(head []rune, more bool) rune {
	best, bestShare, bestWidth := ',', 0.0, 1
	for _, comma := range delimiters {
		share, width := regularity(head, comma, more)
		if share > bestShare || share == bestShare && width > bestWidth {
			best, bestShare, bestWidth = comma, share, width
		}
	}
	return best
}

// regularity is the share of rows that have the commonest number of cells, of
// two or more, and that number.
func regularity(head []rune, comma rune, more bool) (share float64, width int) {
	at := 0
	p := &parser{comma: comma, next: func() (rune, error) {
		if at == len(head) {
			return 0, io.EOF
		}
		at++
		return head[at-1], nil
	}}
	var widths []int
	for len(widths) < sampleRows {
		cells, err := p.record()
		if err != nil || more && at == len(head) && len(widths) > 0 {
			break
		}
		if !blank(cells) {
			widths = append(widths, len(cells))
		}
	}
	count := map[int]int{}
	most := 0
	for _, w := range widths {
		if count[w]++; w > 1 && (count[w] > most || count[w] == most && w > width) {
			most, width = count[w], w
		}
	}
	if len(widths) == 0 {
		return 0, 0
	}
	return float64(most) / float64(len(widths)), width
}

// parser takes one CSV apart.
type parser struct {
	next   func() (rune, error)
	comma  rune
	row    int
	peeked rune
	has    bool
}

const endOfFile = rune(-1)

// get gives the next character, endOfFile at the end.
func (p *parser) get() (rune, error) {
	if p.has {
		p.has = false
		return p.peeked, nil
	}
	r, err := p.next()
	if err == io.EOF {
		return endOfFile, nil
	}
	return r, err
}

func (p *parser) unget(r rune) { p.peeked, p.has = r, true }

// record reads one row; io.EOF at the end.
func (p *parser) record() ([]string, error) {
	first, err := p.get()
	if err != nil {
		return nil, err
	}
	if first == endOfFile {
		return nil, io.EOF
	}
	p.unget(first)
	p.row++
	var cells []string
	for {
		cell, end, err := p.cell(len(cells) + 1)
		if err != nil {
			return nil, err
		}
		if len(cells) < MaxColumns {
			cells = append(cells, cell)
		} else if strings.TrimSpace(cell) != "" {
			return nil, tooWide(p.row)
		}
		if end != p.comma {
			return cells, nil
		}
	}
}

// cell reads one cell and what ended it: the delimiter, a line feed or the end.
func (p *parser) cell(column int) (string, rune, error) {
	r, err := p.get()
	if err != nil {
		return "", 0, err
	}
	var b strings.Builder
	if r == '"' {
		if err := p.quoted(&b, column); err != nil {
			return "", 0, err
		}
		if r, err = p.get(); err != nil {
			return "", 0, err
		}
		if r != p.comma && r != '\n' && r != '\r' && r != endOfFile {
			return "", 0, atRow(p.row, "in column %d something follows the closing quote", column).
				WithHint("quotes within a quoted cell are doubled")
		}
	}
	for r != p.comma && r != '\n' && r != '\r' && r != endOfFile {
		if err := p.keep(&b, r, column); err != nil {
			return "", 0, err
		}
		if r, err = p.get(); err != nil {
			return "", 0, err
		}
	}
	if r == '\r' {
		follows, err := p.get()
		if err != nil {
			return "", 0, err
		}
		if follows != '\n' {
			p.unget(follows)
		}
		r = '\n'
	}
	return b.String(), r, nil
}

// quoted reads up to the closing quote.
func (p *parser) quoted(b *strings.Builder, column int) error {
	for {
		r, err := p.get()
		switch {
		case err != nil:
			return err
		case r == endOfFile:
			return atRow(p.row, "the quote that opens column %d is never closed", column)
		case r == '"':
			again, err := p.get()
			if err != nil {
				return err
			}
			if again != '"' {
				p.unget(again)
				return nil
			}
		}
		if err := p.keep(b, r, column); err != nil {
			return err
		}
	}
}

func (p *parser) keep(b *strings.Builder, r rune, column int) error {
	if r == 0 {
		return atRow(p.row, "column %d holds a NUL: the file is no text", column).WithHint("save it as CSV UTF-8")
	}
	if b.Len() >= MaxField {
		return atRow(p.row, "column %d is longer than %d bytes", column, MaxField)
	}
	b.WriteRune(r)
	return nil
}

// CSVOptions say how to write a CSV.
type CSVOptions struct {
	BOM   bool // a byte order mark first, for spreadsheet programs
	Guard bool // guard cells against being taken for formulas
}

// NewCSV writes RFC 4180: commas, CRLF, quotes where they are needed.
func NewCSV(w io.Writer, o CSVOptions) Writer { return &csvWriter{w: w, o: o} }

type csvWriter struct {
	w     io.Writer
	o     CSVOptions
	begun bool
	line  []byte
}

func (c *csvWriter) Write(cells []string) error {
	c.line = c.line[:0]
	if c.o.BOM && !c.begun {
		c.line = append(c.line, "\ufeff"...)
	}
	c.begun = true
	for i, cell := range cells {
		if i > 0 {
			c.line = append(c.line, ',')
		}
		if c.o.Guard {
			cell = Guard(cell)
		}
		if !strings.ContainsAny(cell, ",\"\r\n") {
			c.line = append(c.line, cell...)
			continue
		}
		c.line = append(c.line, '"')
		c.line = append(c.line, strings.ReplaceAll(cell, `"`, `""`)...)
		c.line = append(c.line, '"')
	}
	c.line = append(c.line, "\r\n"...)
	_, err := c.w.Write(c.line)
	return err
}

func (c *csvWriter) Close() error { return nil }
