package sheets

import (
	"archive/zip"
	"bytes"
	"errors"
	"io"
	"slices"
	"strconv"
	"strings"
	"unicode/utf16"

	"github.com/xuri/excelize/v2"

	"pawl/model/fault"
	"pawl/model/pattern"
)

// Limits on what an XLSX, which is a ZIP, unpacks to.
const (
	maxEntries  = 1000
	maxUnpacked = 200 << 20
	maxCell     = 32_767   // characters of one cell (ECMA-376 part 1 leaves it open; spreadsheets cut there)
	maxInMemory = 16 << 20 // of one part; a larger one is unpacked to a temporary file
)

// ReadXLSX begins to read an XLSX from its bytes. How much it unpacks to is
// checked before anything is unpacked.
func ReadXLSX(r io.Reader, o Options) (*Reader, error) {
	file, err := io.ReadAll(&bounded{r, MaxBytes})
	if err != nil {
		return nil, unread(err)
	}
	if err := checkZIP(file); err != nil {
		return nil, err
	}
	x := &xlsx{}
	err = x.guard(func() error { return x.open(file, o.Sheet) })
	if err != nil {
		return nil, errors.Join(err, x.close())
	}
	return &Reader{next: x.next, close: x.close, Date1904: x.date1904, bad: x.marked.bad, warnings: func() []string { return x.warnings }}, nil
}

func checkZIP(file []byte) error {
	z, err := zip.NewReader(bytes.NewReader(file), int64(len(file)))
	if err != nil {
		return notXLSX(err)
	}
	if len(z.File) > maxEntries {
		return fault.New(fault.TooLarge, "the XLSX holds %d parts; %d are taken", len(z.File), maxEntries).WithHint("save the one sheet as CSV")
	}
	var unpacked uint64
	for _, f := range z.File {
		// Each is looked at alone first, so that the sum cannot overflow.
		if f.UncompressedSize64 > maxUnpacked || unpacked+f.UncompressedSize64 > maxUnpacked {
			return fault.New(fault.TooLarge, "the XLSX unpacks to over %d MiB", maxUnpacked>>20).WithHint("save the one sheet as CSV")
		}
		unpacked += f.UncompressedSize64
	}
	return nil
}

func notXLSX(err error) error {
	return fault.New(fault.Invalid, "the file is no XLSX, or a damaged one").
		WithHint("save it again as XLSX, or as CSV; a file with a password cannot be read").WithCause(err)
}

// xlsx is one sheet being read.
type xlsx struct {
	file     *excelize.File
	rows     *excelize.Rows
	date1904 bool
	row      int
	marked   markedCells
	warnings []string
}

// guard runs one call of the library. A file that makes it panic is a damaged
// one.
func (x *xlsx) guard(call func() error) (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = notXLSX(errors.New("the library panicked"))
		}
	}()
	return call()
}

func (x *xlsx) open(file []byte, sheet string) (err error) {
	x.file, err = excelize.OpenReader(bytes.NewReader(file), excelize.Options{
		RawCellValue: true, UnzipSizeLimit: maxUnpacked, UnzipXMLSizeLimit: maxInMemory,
	})
	if err != nil {
		return notXLSX(err)
	}
	all := x.file.GetSheetList()
	switch {
	case len(all) == 0:
		return fault.New(fault.Invalid, "the XLSX holds no sheet")
	case sheet == "":
		sheet = x.firstVisible(all)
		x.warnings = x.others(sheet, all)
	case !slices.Contains(all, sheet):
		return fault.At("#/sheet", "there is no sheet %q; there is %s", sheet, strings.Join(all, ", "))
	}
	props, err := x.file.GetWorkbookProps()
	if err == nil && props.Date1904 != nil {
		x.date1904 = *props.Date1904
	}
	if x.rows, err = x.file.Rows(sheet); err != nil {
		return notXLSX(err)
	}
	return x.look(file, sheet)
}

// next gives one row; rows that are not in the file are blank.
func (x *xlsx) next() (cells []string, err error) {
	err = x.guard(func() error {
		x.row++
		if !x.rows.Next() {
			if err := x.rows.Error(); err != nil {
				return notXLSX(err)
			}
			return io.EOF
		}
		if cells, err = x.rows.Columns(excelize.Options{RawCellValue: true}); err != nil {
			return notXLSX(err)
		}
		cells = x.marked.mend(x.row, cells)
		for i, cell := range cells {
			if len(cell) > MaxField {
				return atRow(x.row, "column %d is longer than %d bytes", i+1, MaxField)
			}
		}
		return nil
	})
	return cells, err
}

func (x *xlsx) close() (err error) {
	if x.file == nil {
		return nil
	}
	if x.rows != nil {
		err = x.rows.Close()
	}
	return errors.Join(err, x.file.Close())
}

// NewXLSX writes an XLSX of one sheet in which every cell is text: no
// spreadsheet turns a serial into a number, or a text into a formula. In the columns
// that are named as amounts, counted from 0, a plain decimal such as 289.00 is a number
// with as many decimals as it has.
func NewXLSX(w io.Writer, sheet string, amounts ...int) (Writer, error) {
	file := excelize.NewFile()
	x := &xlsxWriter{w: w, file: file, amounts: amounts, decimals: map[int]int{}}
	if err := file.SetSheetName(file.GetSheetName(0), sheet); err != nil {
		return nil, errors.Join(err, file.Close())
	}
	const asText = 49 // built-in number format "@" (ECMA-376 part 1, 18.8.30)
	var err error
	if x.style, err = file.NewStyle(&excelize.Style{NumFmt: asText}); err == nil {
		x.rows, err = file.NewStreamWriter(sheet)
	}
	if err != nil {
		return nil, errors.Join(err, file.Close())
	}
	return x, nil
}

type xlsxWriter struct {
	w     io.Writer
	file  *excelize.File
	rows  *excelize.StreamWriter
	style int
	row   int

	amounts  []int       // columns of numbers
	decimals map[int]int // decimals of a number to its style
}

// amountFigures is how many figures a spreadsheet keeps of a number.
const amountFigures = 15

var plainAmount = pattern.Late(`^[0-9]+(\.[0-9]+)?$`)

// amount gives a number in place of a plain decimal.
func (x *xlsxWriter) amount(text string) (excelize.Cell, error) {
	whole, after, _ := strings.Cut(text, ".")
	if len(whole)+len(after) > amountFigures {
		return excelize.Cell{}, fault.New(fault.Invalid, "row %d: %s has more figures than a spreadsheet keeps of a number, %d", x.row, text, amountFigures).
			WithHint("write it as CSV")
	}
	value, err := strconv.ParseFloat(text, 64)
	if err != nil {
		return excelize.Cell{}, fault.New(fault.Internal, "row %d: %s is no number", x.row, text).WithCause(err)
	}
	style, known := x.decimals[len(after)]
	if !known {
		format := strings.TrimSuffix("0."+strings.Repeat("0", len(after)), ".")
		if style, err = x.file.NewStyle(&excelize.Style{CustomNumFmt: &format}); err != nil {
			return excelize.Cell{}, err
		}
		x.decimals[len(after)] = style
	}
	return excelize.Cell{StyleID: style, Value: value}, nil
}

func (x *xlsxWriter) Write(cells []string) error {
	x.row++
	at, err := excelize.CoordinatesToCellName(1, x.row)
	if err != nil {
		return err
	}
	row := make([]any, len(cells))
	for i, cell := range cells {
		if n := len(utf16.Encode([]rune(cell))); n > maxCell {
			return fault.New(fault.Invalid, "row %d: a cell of an XLSX holds %d characters, and this one has %d: %.40q…", x.row, maxCell, n, cell).
				WithHint("export it as CSV or JSON")
		}
		row[i] = excelize.Cell{StyleID: x.style, Value: cell}
		if slices.Contains(x.amounts, i) && plainAmount().MatchString(cell) {
			if row[i], err = x.amount(cell); err != nil {
				return err
			}
		}
	}
	return x.rows.SetRow(at, row)
}

func (x *xlsxWriter) Close() error {
	err := x.rows.Flush()
	if err == nil {
		err = x.file.Write(x.w)
	}
	return errors.Join(err, x.file.Close())
}
