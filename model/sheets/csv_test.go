package sheets

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"io"
	"os/exec"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"

	"pawl/model/fault"
	"pawl/model/needs"
)

// all reads every row; each is "number: cell|cell".
func all(r *Reader, err error) (rows []string, warnings []string, _ error) {
	if err != nil {
		return nil, nil, err
	}
	defer r.Close()
	for {
		row, err := r.Next()
		if err == io.EOF {
			return rows, r.Warnings(), nil
		}
		if err != nil {
			return rows, nil, err
		}
		rows = append(rows, fmt.Sprintf("%d: %s", row.Number, strings.Join(row.Cells, "|")))
	}
}

func readAll(text string, o Options) ([]string, []string, error) {
	return all(ReadCSV(strings.NewReader(text), o))
}

// Rows are numbered as in the spreadsheet (interfaces 5.2), quoted as in RFC
// 4180 section 2, and take the delimiter of most of the first rows (5.5).
func TestReadCSV(t *testing.T) {
	for name, c := range map[string]struct {
		text string
		want string // rows, with a slash between them
	}{
		"CRLF":                         {"a,b\r\n1,2\r\n", "1: a|b/2: 1|2"},
		"no line end at the end":       {"a,b\n1,2", "1: a|b/2: 1|2"},
		"CR alone":                     {"a,b\r1,2\r", "1: a|b/2: 1|2"},
		"quoted comma, quote, break":   {"a,b\r\n\"x,y\",\"say \"\"hi\"\"\r\nthere\"\r\n3,4\r\n", "1: a|b/2: x,y|say \"hi\"\r\nthere/3: 3|4"},
		"spaces are data":              {"a,b\n x , y \n", "1: a|b/2:  x | y "},
		"blank rows count and are not": {"a,b\n\n,\n3,4\n", "1: a|b/4: 3|4"},
		"a quote within a bare cell":   {"a,b\n3/8\" ratchet,x\n", "1: a|b/2: 3/8\" ratchet|x"},
		"empty quoted":                 {"a,b\n\"\",x\n", "1: a|b/2: |x"},
		"semicolons":                   {"a;b;c\n1,5;2;3\n4;5,5;6\n", "1: a|b|c/2: 1,5|2|3/3: 4|5,5|6"},
		"tabs":                         {"a\tb\n1,2\t3\n", "1: a|b/2: 1,2|3"},
		"pipes":                        {"a|b\n1|2\n", "1: a|b/2: 1|2"},
		"one column":                   {"a\n1\n2\n", "1: a/2: 1/3: 2"},
		"sep is no row":                {"sep=;\r\na;b\n1;2\n", "1: a|b/2: 1|2"},
		"sep goes before most":         {"sep=;\na,b;c\n1,2;3\n", "1: a,b|c/2: 1,2|3"},
		"SEP, tab":                     {"SEP=\t\na\tb\n", "1: a|b"},
		"sep of nothing we know":       {"sep=x\n", "1: sep=x"},
		"a delimiter within quotes":    {"a,b\n\"1;2;3\",4\n\"5;6;7\",8\n", "1: a|b/2: 1;2;3|4/3: 5;6;7|8"},
		"nothing":                      {"", ""},
		"a mark alone":                 {"\xef\xbb\xbf", ""},
		"UTF-8 with mark":              {"\xef\xbb\xbfé,b\n", "1: é|b"},
	} {
		rows, warnings, err := readAll(c.text, Options{})
		if got := strings.ReplaceAll(strings.Join(rows, "/"), "|", "|"); got != c.want || err != nil || len(warnings) > 0 {
			t.Errorf("%s: %q, %v, %v; want %q", name, got, warnings, err, c.want)
		}
	}
	if rows, _, err := readAll("a;b,c\n", Options{Delimiter: ';'}); err != nil || rows[0] != "1: a|b,c" {
		t.Errorf("with a delimiter stated: %q, %v", rows, err)
	}
}

func TestReadCSVRefuses(t *testing.T) {
	for name, c := range map[string]struct {
		text string
		kind fault.Kind
		row  int
	}{
		"never closed":        {"a\n\"b\n", fault.Invalid, 2},
		"after the quote":     {"a,b\n\"x\"y,z\n", fault.Invalid, 2},
		"NUL":                 {"a\nb\x00\n", fault.Invalid, 2},
		"UTF-8 and then not":  {"é\n\xe9\n", fault.Invalid, 0},
		"nothing in 1252":     {"a\n\x81\n", fault.Invalid, 0},
		"half a character":    {"\xff\xfea\x00\n", fault.Invalid, 0},
		"a lone surrogate":    {"\xff\xfe\x00\xd8a\x00", fault.Invalid, 0},
		"a surrogate at last": {"\xfe\xff\xd8\x00", fault.Invalid, 0},
		"bytes of no text":    {"\xff\xfe\x00garbage", fault.Invalid, 0},
		"a long field":        {"a\n" + strings.Repeat("x", MaxField+1), fault.Invalid, 2},
		"many columns":        {strings.Repeat("a,", MaxColumns+1) + "\n", fault.Invalid, 1},
		"many rows":           {strings.Repeat("a\n", MaxRows+2), fault.TooLarge, 0},
		"many bytes":          {strings.Repeat(strings.Repeat("\n", 1<<20), MaxBytes>>20) + "a", fault.TooLarge, 0},
	} {
		_, _, err := readAll(c.text, Options{})
		f := fault.Of(err)
		if f == nil || f.Kind != c.kind || c.row > 0 && (len(f.Fields) != 1 || f.Fields[0].Row != c.row) {
			t.Errorf("%s: %v, want %s in row %d", name, err, c.kind, c.row)
		}
	}
	if _, _, err := readAll("a", Options{Delimiter: 'x'}); !fault.Is(err, fault.Invalid) {
		t.Errorf("an unknown delimiter: %v", err)
	}
	if rows, _, err := readAll(strings.Repeat("a\n", MaxRows+1), Options{}); err != nil || len(rows) != MaxRows+1 {
		t.Errorf("as many rows as are taken: %d, %v", len(rows), err)
	}
}

// The encodings are made by iconv (GNU libc), which knows nothing of us.
func TestEncodings(t *testing.T) {
	needs.Program(t, "iconv")
	const text = "kind;serial\r\n“Schlüssel”;é–€\r\n"
	const want = "1: kind|serial/2: “Schlüssel”|é–€"
	for _, c := range []struct {
		to, mark string
		warned   bool
	}{{"UTF-8", "", false}, {"UTF-8", "\xef\xbb\xbf", false}, {"UTF-16LE", "\xff\xfe", false}, {"UTF-16BE", "\xfe\xff", false}, {"WINDOWS-1252", "", true}} {
		command := exec.Command("iconv", "-f", "UTF-8", "-t", c.to)
		command.Stdin = strings.NewReader(text)
		made, err := command.Output()
		if err != nil {
			t.Fatal(err)
		}
		rows, warnings, err := readAll(c.mark+string(made), Options{})
		if got := strings.Join(rows, "/"); err != nil || got != want || (len(warnings) > 0) != c.warned {
			t.Errorf("%s: %q, %v, %v", c.to, got, warnings, err)
		}
	}
	for _, astral := range []string{"UTF-16LE", "UTF-16BE"} {
		command := exec.Command("iconv", "-f", "UTF-8", "-t", astral)
		command.Stdin = strings.NewReader("\ufeff🔧,b\n")
		made, err := command.Output()
		if err != nil {
			t.Fatal(err)
		}
		if rows, _, err := readAll(string(made), Options{}); err != nil || strings.Join(rows, "/") != "1: 🔧|b" {
			t.Errorf("%s: %q, %v", astral, rows, err)
		}
	}
}

// What is written is what RFC 4180 section 2 says, byte for byte, and what
// encoding/csv and our own reader read back.
func TestWriteCSV(t *testing.T) {
	var b bytes.Buffer
	w := NewCSV(&b, CSVOptions{BOM: true, Guard: true})
	for _, row := range [][]string{{"a", "b"}, {"=1+1", "x,y"}, {`say "hi"`, "two\nlines"}, {"'quoted", "-5"}} {
		if err := w.Write(row); err != nil {
			t.Fatal(err)
		}
	}
	const want = "\ufeffa,b\r\n'=1+1,\"x,y\"\r\n\"say \"\"hi\"\"\",\"two\nlines\"\r\n''quoted,'-5\r\n"
	if err := w.Close(); err != nil || b.String() != want {
		t.Errorf("%q, want %q", b.String(), want)
	}
}

// A file whose cells are guarded gives back exactly what was (interfaces 4.1).
func TestGuardIsTakenOffExactly(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cell := rapid.StringOf(rapid.SampledFrom([]rune("'=+-@\t\rA0 \"é,"))).Draw(t, "cell")
		guarded := Guard(cell)
		if guarded != "" && strings.ContainsAny(guarded[:1], guardedChars) {
			t.Fatalf("%q begins like a formula", guarded)
		}
		if Unguard(guarded) != cell {
			t.Fatalf("%q became %q and then %q", cell, guarded, Unguard(guarded))
		}
		if strings.HasPrefix(guarded, "'") && strings.IndexByte(guardedChars, cell[0]) >= 0 != Guarded(guarded) {
			t.Fatalf("%q looks guarded: %v", guarded, Guarded(guarded))
		}
	})
}

const guardedChars = "=+-@\t\r"

func TestRowsSurviveCSV(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		width := rapid.IntRange(1, 5).Draw(t, "width")
		cell := rapid.OneOf(rapid.StringOf(rapid.SampledFrom([]rune("',;\t|\"\r\n=-0a é🔧"))), rapid.StringN(0, 20, 60))
		rows := rapid.SliceOfN(rapid.SliceOfN(cell, width, width), 1, 8).Draw(t, "rows")
		var b bytes.Buffer
		w := NewCSV(&b, CSVOptions{})
		var want []string
		for i, row := range rows {
			for j := range row {
				row[j] = strings.ReplaceAll(row[j], "\x00", "")
			}
			if err := w.Write(row); err != nil {
				t.Fatal(err)
			}
			if !blank(row) {
				want = append(want, fmt.Sprintf("%d: %s", i+1, strings.Join(row, "|")))
			}
		}
		got, _, err := readAll(b.String(), Options{Delimiter: ','})
		if begin := strings.ToLower(b.String()); strings.HasPrefix(begin, "sep=") || strings.HasPrefix(begin, "\ufeff") {
			t.Skip("a first cell that means something else")
		}
		if err != nil || !slices.Equal(got, want) {
			t.Fatalf("%q\nread %q\nwant %q, %v", b.String(), got, want, err)
		}
	})
}

// FuzzCSV compares with encoding/csv where both take the file strictly: no lone
// CR, which it keeps, and nothing that it does not take.
func FuzzCSV(f *testing.F) {
	for _, s := range []string{"a,b\r\n1,2\r\n", "\"a\"\"b\",\"c\nd\"\n", "sep=;\na;b\n", "\xff\xfea\x00", "\xe9,b\n", "a;b\n1;2\n", "\"", "\xef\xbb\xbfa", "a,b\n\n,\n"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, file []byte) {
		r, err := ReadCSV(bytes.NewReader(file), Options{Delimiter: ','})
		if err != nil {
			if fault.Of(err).Kind == fault.Internal {
				t.Fatal(err)
			}
			return
		}
		var rows [][]string
		last := 0
		for {
			row, err := r.Next()
			if err == io.EOF {
				break
			}
			if err != nil {
				if fault.Of(err).Kind == fault.Internal {
					t.Fatal(err)
				}
				return
			}
			if row.Number <= last || len(row.Cells) > MaxColumns {
				t.Fatalf("row %d after %d with %d cells", row.Number, last, len(row.Cells))
			}
			for _, c := range row.Cells {
				if len(c) > MaxField+utf8.UTFMax || !utf8.ValidString(c) {
					t.Fatalf("a cell of %d bytes, valid %v", len(c), utf8.ValidString(c))
				}
			}
			last, rows = row.Number, append(rows, row.Cells)
		}
		if !utf8.Valid(file) || bytes.ContainsAny(file, "\r\x00") || bytes.HasPrefix(file, []byte("\xef\xbb\xbf")) || len(file) > 3 && strings.EqualFold(string(file[:4]), "sep=") {
			return
		}
		theirs := csv.NewReader(bytes.NewReader(file))
		theirs.FieldsPerRecord = -1
		want, err := theirs.ReadAll()
		if err != nil {
			return
		}
		want = slices.DeleteFunc(want, blank)
		for i, cells := range want { // what stands beyond is blank, or the file was refused
			want[i] = cells[:min(len(cells), MaxColumns)]
		}
		if !slices.EqualFunc(rows, want, slices.Equal) {
			t.Fatalf("%q\nread %q\nencoding/csv %q", file, rows, want)
		}
	})
}
