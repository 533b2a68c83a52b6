// Package sheets reads and writes the cells of spreadsheets, as CSV, as XLSX and,
// where programs talk to each other, as JSON.
// It knows nothing of what stands in them.
//
// Words. A row is what a person sees as one line of the spreadsheet, numbered as
// there: the first is row 1, a line break within quotes begins no row. A cell is
// text: of a number in an XLSX, the figures as they are kept and not as they are
// shown. A guard is the single quote that is put before a cell so that no
// spreadsheet takes it for a formula.
package sheets

import (
	"io"
	"slices"
	"strings"

	"pawl/model/fault"
)

// Limits on one file.
const (
	MaxBytes   = 25 << 20
	MaxRows    = 20_000 // below the first, blank ones not counted
	MaxColumns = 200
	MaxField   = 192 << 10   // bytes of UTF-8 in one cell: the pieces of a large set
	lastRow    = 5 * MaxRows // blank ones counted
)

// Options say how to read a file; the zero value finds out.
type Options struct {
	Delimiter rune   // of a CSV: comma, semicolon, tab or pipe
	Sheet     string // of an XLSX, by name; empty is the first that is not hidden
}

// Row is one row with its number.
type Row struct {
	Number int
	Cells  []string
	Bad    []BadCell // empty among Cells, and not because nothing stands there
}

// BadCell is a cell of which the file does not say what stands there.
type BadCell struct {
	Index  int
	Value  string // what a spreadsheet shows
	Code   string // for programs: error, formula, merged
	Detail string
}

// alone says whether a row in which nothing else stands is a row for this cell. A cell that
// reaches into a row from above is not.
func (b BadCell) alone() bool { return b.Code != "merged" }

// Reader gives the rows of one file that are not blank.
type Reader struct {
	// Date1904 says that day numbers count from 1904, as in some XLSX.
	Date1904 bool

	next     func() ([]string, error) // one row, blank or not
	bad      map[int][]BadCell        // by row
	warnings func() []string
	close    func() error
	number   int
	rows     int
}

// Next gives the next row that is not blank; io.EOF at the end. What cannot be
// read is Invalid and names the row; more than the limits is TooLarge.
func (r *Reader) Next() (Row, error) {
	for {
		cells, err := r.next()
		if err != nil {
			return Row{}, err
		}
		if r.number++; r.number > lastRow {
			return Row{}, fault.New(fault.TooLarge, "the file goes beyond row %d, most of them blank", lastRow).WithHint("delete the blank rows, or import it in parts")
		}
		cells = narrow(cells)
		if len(cells) > MaxColumns {
			return Row{}, tooWide(r.number)
		}
		if blank(cells) && !slices.ContainsFunc(r.bad[r.number], BadCell.alone) {
			continue
		}
		if r.rows++; r.rows > MaxRows+1 {
			return Row{}, fault.New(fault.TooLarge, "the file has over %d rows", MaxRows).WithHint("import it in parts")
		}
		return Row{Number: r.number, Cells: cells, Bad: r.bad[r.number]}, nil
	}
}

// Warnings gives, once Next has come to the end, what a person should know of
// how the file was read.
func (r *Reader) Warnings() []string {
	if r.warnings == nil {
		return nil
	}
	return r.warnings()
}

// Close lets go of the file.
func (r *Reader) Close() error {
	if r.close == nil {
		return nil
	}
	return r.close()
}

func blank(cells []string) bool {
	for _, c := range cells {
		if strings.TrimSpace(c) != "" {
			return false
		}
	}
	return true
}

// narrow leaves off blank cells that stand beyond the most columns.
func narrow(cells []string) []string {
	for len(cells) > MaxColumns && strings.TrimSpace(cells[len(cells)-1]) == "" {
		cells = cells[:len(cells)-1]
	}
	return cells
}

// tooWide is the fault of a row with more cells than are taken.
func tooWide(row int) error {
	return atRow(row, "it has over %d columns", MaxColumns).WithHint("delete what stands to the right of the list")
}

// atRow is the fault of a row that cannot be read.
func atRow(row int, format string, args ...any) *fault.Error {
	f := fault.At("#/row", format, args...)
	f.Fields[0].Row, f.Fields[0].Code = row, "unreadable"
	f.Message = "row " + whole(row) + ": " + f.Message
	return f
}

// bounded reads at most MaxBytes, and then is TooLarge.
type bounded struct {
	r    io.Reader
	left int64
}

func (b *bounded) Read(p []byte) (int, error) {
	if int64(len(p)) > b.left+1 {
		p = p[:b.left+1]
	}
	n, err := b.r.Read(p)
	if int64(n) > b.left {
		return 0, tooLarge()
	}
	b.left -= int64(n)
	return n, err
}

func tooLarge() error {
	return fault.New(fault.TooLarge, "the file is over %d MiB", MaxBytes>>20).WithHint("import it in parts")
}

// Writer takes rows for a file. Nothing is complete before Close.
type Writer interface {
	Write(cells []string) error
	Close() error
}

// guarded are the first characters that a spreadsheet takes for a formula, or
// that would be taken for a guard (OWASP, "CSV Injection").
const guarded = "=+-@\t\r"

// Guard puts a single quote before a cell that a spreadsheet would take for a
// formula, and before one that begins with such a quote already, so that Unguard
// gives back what was.
func Guard(cell string) string {
	if cell != "" && (cell[0] == '\'' || strings.IndexByte(guarded, cell[0]) >= 0) {
		return "'" + cell
	}
	return cell
}

// Unguard takes away one guard.
func Unguard(cell string) string { return strings.TrimPrefix(cell, "'") }

// Guarded says whether a cell looks guarded: a single quote before what a
// spreadsheet would take for a formula.
func Guarded(cell string) bool {
	return len(cell) > 1 && cell[0] == '\'' && strings.IndexByte(guarded, cell[1]) >= 0
}
