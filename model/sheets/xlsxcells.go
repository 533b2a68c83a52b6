package sheets

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"io"
	"path"
	"strings"

	"github.com/xuri/excelize/v2"
)

// What the text of a cell does not tell, a sheet says beside it: that a formula stands there
// whose result is not in the file, as in one that a program wrote and no spreadsheet opened;
// that the result is an error; that a 1 is a TRUE (ECMA-376 part 1, 18.3.1.4 and 18.18.11).
// The library gives of the first an empty cell, which would pass for nothing.

// cellMarks are the beginnings of what says so; a sheet without any need not be looked
// through again.
var cellMarks = [][]byte{[]byte("<f>"), []byte("<f "), []byte(":f>"), []byte(":f "), []byte(`t="e"`), []byte(`t="b"`), []byte(`t='e'`), []byte(`t='b'`), []byte("mergeCell ")}

// longestMark is the length of the longest of them.
const longestMark = 10

// markedCells are the cells of one sheet that are not what their text says.
type markedCells struct {
	bad  map[int][]BadCell      // by row
	text map[int]map[int]string // by row and index: how a spreadsheet shows it
	tall []merged
}

// merged is a cell that was drawn over several rows.
type merged struct {
	index, first, last int
	value              string // in the first row, once that was read
}

// mostMerged is how many of them are looked at.
const mostMerged = 10_000

// look looks through a sheet for cells that are not what their text says.
func (x *xlsx) look(file []byte, sheet string) error {
	z, err := zip.NewReader(bytes.NewReader(file), int64(len(file)))
	if err != nil {
		return notXLSX(err)
	}
	part := sheetPart(z, sheet)
	if part == nil {
		return nil
	}
	marked, err := anyMark(part)
	if err != nil || !marked {
		return err
	}
	r, err := part.Open()
	if err != nil {
		return notXLSX(err)
	}
	defer r.Close()
	x.marked = markedCells{bad: map[int][]BadCell{}, text: map[int]map[int]string{}}
	return x.marked.read(xml.NewDecoder(&bounded{r, maxUnpacked}))
}

// sheetPart finds the part in which a sheet lies; nil where it is named in a way that other
// programs do not use.
func sheetPart(z *zip.Reader, sheet string) *zip.File {
	var book struct {
		Sheets []struct {
			Name string `xml:"name,attr"`
			ID   string `xml:"http://schemas.openxmlformats.org/officeDocument/2006/relationships id,attr"`
			Same string `xml:"http://purl.oclc.org/ooxml/officeDocument/relationships id,attr"`
		} `xml:"sheets>sheet"`
	}
	var links struct {
		All []struct {
			ID     string `xml:"Id,attr"`
			Target string `xml:"Target,attr"`
		} `xml:"Relationship"`
	}
	if !unmarshalPart(z, "xl/workbook.xml", &book) || !unmarshalPart(z, "xl/_rels/workbook.xml.rels", &links) {
		return nil
	}
	for _, s := range book.Sheets {
		for _, l := range links.All {
			if s.Name != sheet || l.ID != s.ID+s.Same {
				continue
			}
			name := path.Join("xl", l.Target)
			if strings.HasPrefix(l.Target, "/") {
				name = l.Target[1:]
			}
			return partNamed(z, name)
		}
	}
	return nil
}

func partNamed(z *zip.Reader, name string) *zip.File {
	for _, f := range z.File {
		if f.Name == name {
			return f
		}
	}
	return nil
}

func unmarshalPart(z *zip.Reader, name string, into any) bool {
	f := partNamed(z, name)
	if f == nil {
		return false
	}
	r, err := f.Open()
	if err != nil {
		return false
	}
	defer r.Close()
	return xml.NewDecoder(io.LimitReader(r, maxInMemory)).Decode(into) == nil
}

// anyMark says whether a sheet holds what is looked for at all.
func anyMark(part *zip.File) (bool, error) {
	r, err := part.Open()
	if err != nil {
		return false, notXLSX(err)
	}
	defer r.Close()
	src := &bounded{r, maxUnpacked}
	buf := make([]byte, 0, 64<<10)
	for {
		n, err := io.ReadFull(src, buf[len(buf):cap(buf)])
		buf = buf[:len(buf)+n]
		for _, mark := range cellMarks {
			if bytes.Contains(buf, mark) {
				return true, nil
			}
		}
		if err == io.EOF || err == io.ErrUnexpectedEOF {
			return false, nil
		}
		if err != nil {
			return false, notXLSX(err)
		}
		buf = append(buf[:0], buf[len(buf)-longestMark+1:]...) // a mark may stand across the edge
	}
}

// markedCell is as much of a cell as tells what it is.
type markedCell struct {
	Ref     string    `xml:"r,attr"`
	Type    string    `xml:"t,attr"`
	Value   string    `xml:"v"`
	Formula *struct{} `xml:"f"`
}

// read goes through the cells of a sheet. Rows and cells may say where they are; else they
// follow each other.
func (m *markedCells) read(d *xml.Decoder) error {
	row, index := 0, 0
	for {
		token, err := d.Token()
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return notXLSX(err)
		}
		at, begins := token.(xml.StartElement)
		if !begins {
			continue
		}
		switch at.Name.Local {
		case "row":
			row, index = row+1, 0
			for _, a := range at.Attr {
				if n := plainNumber(a.Value); a.Name.Local == "r" && n > 0 {
					row = n
				}
			}
		case "c":
			var c markedCell
			if err := d.DecodeElement(&c, &at); err != nil {
				return notXLSX(err)
			}
			if column, _, err := excelize.CellNameToCoordinates(c.Ref); err == nil {
				index = column - 1
			}
			m.note(row, index, c)
			index++
		case "mergeCell":
			for _, a := range at.Attr {
				if a.Name.Local == "ref" {
					m.merge(a.Value)
				}
			}
		}
	}
}

// merge keeps what was drawn over several rows.
func (m *markedCells) merge(ref string) {
	from, to, _ := strings.Cut(ref, ":")
	left, top, err := excelize.CellNameToCoordinates(from)
	_, bottom, bad := excelize.CellNameToCoordinates(to)
	if err == nil && bad == nil && bottom > top && left <= MaxColumns && len(m.tall) < mostMerged {
		m.tall = append(m.tall, merged{index: left - 1, first: top, last: bottom})
	}
}

// plainNumber reads a whole number of rows; 0 is none.
func plainNumber(s string) (n int) {
	for _, r := range s {
		if r < '0' || r > '9' || n > lastRow {
			return 0
		}
		n = 10*n + int(r-'0')
	}
	return n
}

// note keeps what one cell is.
func (m *markedCells) note(row, index int, c markedCell) {
	value := strings.TrimSpace(c.Value)
	switch {
	case index >= MaxColumns || row > lastRow:
	case c.Type == "e":
		m.bad[row] = append(m.bad[row], BadCell{Index: index, Value: value, Code: "error", Detail: "the spreadsheet shows an error in this cell"})
	case c.Type == "b" && (value == "0" || value == "1"):
		if m.text[row] == nil {
			m.text[row] = map[int]string{}
		}
		m.text[row][index] = map[string]string{"0": "FALSE", "1": "TRUE"}[value]
	case c.Formula != nil && value == "" && (c.Type == "" || c.Type == "n"): // a text may be empty: it is t="str"
		m.bad[row] = append(m.bad[row], BadCell{Index: index, Code: "formula", Detail: "it holds a formula, and the file does not hold its result"})
	}
}

// mend puts what the cells of a row are over what the library says.
func (m *markedCells) mend(row int, cells []string) []string {
	for index, text := range m.text[row] {
		if index < len(cells) {
			cells[index] = text
		}
	}
	for i := range m.tall {
		if t := &m.tall[i]; row == t.first && t.index < len(cells) {
			t.value = strings.TrimSpace(cells[t.index])
		} else if row > t.first && row <= t.last && t.value != "" {
			m.bad[row] = append(m.bad[row], BadCell{Index: t.index, Value: t.value, Code: "merged",
				Detail: "it is one cell with that of row " + whole(t.first) + ", and may be meant for each of these rows or for all together"})
		}
	}
	for _, b := range m.bad[row] {
		for len(cells) <= b.Index {
			cells = append(cells, "")
		}
		cells[b.Index] = ""
	}
	return cells
}

// others says which sheet was read, where the file has more of them and none was asked for.
func (x *xlsx) others(read string, all []string) []string {
	var more []string
	for _, name := range all {
		if name == read || x.empty(name) {
			continue
		}
		if visible, err := x.file.GetSheetVisible(name); err == nil && !visible {
			name += ", which is hidden"
		}
		more = append(more, name)
	}
	if len(more) == 0 {
		return nil
	}
	return []string{"the sheet " + read + " was read, and no other; there is also " + strings.Join(more, "; ") + " (--sheet NAME reads another)"}
}

// empty says whether no cell of a sheet holds anything in its first rows; one that cannot be
// read is not looked at.
func (x *xlsx) empty(sheet string) bool {
	err := x.guard(func() error {
		rows, err := x.file.Rows(sheet)
		if err != nil {
			return err
		}
		defer rows.Close()
		for range lookedAt {
			if !rows.Next() {
				break
			}
			if cells, err := rows.Columns(excelize.Options{RawCellValue: true}); err != nil || !blank(cells) {
				return err
			}
		}
		return io.EOF
	})
	return err != nil
}

// lookedAt is how many rows of a sheet are looked at to say whether it is empty.
const lookedAt = 100

// firstVisible is the first sheet that a person sees; where all are hidden, the first.
func (x *xlsx) firstVisible(all []string) string {
	for _, name := range all {
		if visible, err := x.file.GetSheetVisible(name); err == nil && visible {
			return name
		}
	}
	return all[0]
}
