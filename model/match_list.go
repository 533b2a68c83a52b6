package model

import (
	"context"
	"io"
	"slices"
	"strconv"
	"strings"

	"pawl/model/fault"
	"pawl/model/matching"
	"pawl/model/names"
	"pawl/model/register"
	"pawl/model/serials"
	"pawl/model/sheets"
)

// MatchedRow is one reading of a list, with the tool that it is best taken for when
// no tool is taken twice; none where the likeliest is none of them.
type MatchedRow struct {
	Row int // of the file, as spreadsheets count
	MatchView
	Assigned string // number of a tool
	Said     string // what was not used of the row, and why
}

// MatchedList is what a list of readings comes to.
type MatchedList struct {
	Rows    []MatchedRow
	Ignored []string // headers of columns that say nothing of a match
}

// maxReadings is the most readings of one list.
const maxReadings = 2000

// listColumns are the columns of a list of readings, with other headers of theirs.
var listColumns = map[string]string{"reading": "reading", "serial": "reading", "serialnumber": "reading", "serialno": "reading", "maker": "maker", "make": "maker", "brand": "maker", "kind": "kind", "tooltype": "kind"}

// MatchList tells which registered tools the readings of a CSV are of, such as a
// list of tools that the police recovered: each tool at most once, all readings
// together. It writes nothing.
func (s *Shop) MatchList(ctx context.Context, by By, file io.Reader, found string) (out MatchedList, err error) {
	found, none, err := whereFound(found)
	if err != nil {
		return out, err
	}
	list, err := readReadings(file)
	if err != nil {
		return out, err
	}
	out.Ignored = list.ignored
	err = s.read(ctx, func(d *directory) error {
		ix, err := s.serials.upTo(d)
		if err != nil {
			return err
		}
		out.Rows, err = list.match(ix, none, found, func(a matching.Query, q MatchQuery) (MatchView, error) { return d.matched(ctx, ix, a, q) })
		return err
	})
	return out, err
}

// readings are the rows of a list.
type readings struct {
	rows    []readingRow
	ignored []string
}

type readingRow struct {
	row int
	matching.Query
	maker, kind string // as typed
}

// readReadings reads a list. All readings at fault are named at once.
func readReadings(file io.Reader) (out readings, err error) {
	r, err := sheets.ReadCSV(file, sheets.Options{})
	if err != nil {
		return out, err
	}
	defer r.Close()
	head, err := r.Next()
	if err == io.EOF {
		return out, fault.New(fault.Invalid, "the list is empty").WithHint("its first row names the columns: reading, and if known maker and kind")
	}
	if err != nil {
		return out, err
	}
	at := map[string]int{}
	for i, h := range head.Cells {
		name, known := listColumns[register.FoldHeader(h)]
		if _, twice := at[name]; !known || twice {
			out.ignored = append(out.ignored, h)
			continue
		}
		at[name] = i
	}
	if _, there := at["reading"]; !there {
		return out, fault.New(fault.Invalid, "no column of the list is called reading").WithHint("its first row names the columns: reading, and if known maker and kind")
	}
	bad := fault.New(fault.Invalid, "readings of the list cannot be understood; nothing was matched").WithHint("mend them; ? is one character that cannot be read, * some that are gone")
	for {
		row, err := r.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			return out, err
		}
		if len(out.rows) == maxReadings {
			return out, fault.New(fault.TooLarge, "the list has more than %d readings", maxReadings).WithHint("split it")
		}
		out.add(row, at, head.Cells[at["reading"]], bad)
	}
	if len(bad.Fields) > 0 {
		return out, bad
	}
	return out, nil
}

func (l *readings) add(row sheets.Row, at map[string]int, header string, bad *fault.Error) {
	cell := func(name string) string {
		if i, there := at[name]; there && i < len(row.Cells) {
			return strings.TrimSpace(row.Cells[i])
		}
		return ""
	}
	reading, err := matching.Parse(cell("reading"))
	if err != nil {
		bad.Fields = append(bad.Fields, fault.Field{Pointer: "#/rows/" + strconv.Itoa(row.Number) + "/reading", Row: row.Number, Column: header, Value: cell("reading"), Code: "reading", Detail: fault.Of(err).Message})
		return
	}
	l.rows = append(l.rows, readingRow{row.Number, matching.Query{Reading: reading, Maker: serials.MakerKey(cell("maker")), Kind: names.Key(cell("kind"))}, cell("maker"), cell("kind")})
}

// probable says whether one of the candidates is.
func (v MatchView) probable() bool {
	return slices.ContainsFunc(v.Candidates, func(c MatchedTool) bool { return c.Verdict == matching.Probable })
}

// widen asks again without the kind, which is let go, and said so, where there is
// none of it or where none of these is less likely then.
func (m *MatchedRow) widen(r readingRow, known bool, ask func(matching.Query) (MatchView, error)) error {
	r.Kind = ""
	wide, err := ask(r.Query)
	if err != nil || known && wide.None >= m.None {
		return err
	}
	said := "no serial on a tool of kind " + r.kind + " is registered; all kinds were looked at"
	if known {
		said = "no tool of kind " + r.kind + " fits as well as another; all kinds were looked at"
	}
	if m.MatchView = wide; m.Said != "" {
		said = m.Said + "; " + said
	}
	m.Said = said
	return nil
}

// match asks for every row and then assigns. A maker of whom nothing is registered
// narrows nothing: it may be spelled otherwise. So does a kind of which nothing is
// registered or probable: whoever made the list may call the tool otherwise.
func (l readings) match(ix *matching.Index, none float64, found string, ask func(matching.Query, MatchQuery) (MatchView, error)) ([]MatchedRow, error) {
	out, answers := []MatchedRow{}, []matching.Answer{}
	for _, r := range l.rows {
		row := MatchedRow{Row: r.row}
		if r.None = none; r.Maker != "" && !ix.Knows(r.Maker) {
			row.Said, r.Maker = "no serial of maker "+r.maker+" is registered; all makers were looked at", ""
		}
		q := MatchQuery{Found: found, Limit: usualMatches}
		var err error
		if row.MatchView, err = ask(r.Query, q); err != nil {
			return nil, err
		}
		if r.Kind != "" && !row.probable() {
			if err := row.widen(r, ix.Has(r.Maker, r.Kind), func(wide matching.Query) (MatchView, error) { return ask(wide, q) }); err != nil {
				return nil, err
			}
		}
		a := matching.Answer{None: row.None}
		for _, c := range row.Candidates {
			a.Candidates = append(a.Candidates, c.Candidate)
		}
		out, answers = append(out, row), append(answers, a)
	}
	for i, which := range matching.Assign(answers) {
		if which >= 0 {
			out[i].Assigned = out[i].Candidates[which].Row.Number.String()
		}
	}
	return out, nil
}
