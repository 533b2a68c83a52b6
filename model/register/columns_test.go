package register

import (
	"slices"
	"strings"
	"testing"
	"unicode"

	"pawl/model/fault"
	"pawl/model/sheets"
)

// "S/N", "Serial #", "serial no." are one (interfaces 5.3); the other synonyms
// are common practice, no source.
func TestHeadersThatMeanOneColumn(t *testing.T) {
	for key, headers := range map[string][]string{
		"serial": {"serial", "S/N", "Serial #", "serial no.", "SERIAL NUMBER", "Serial-Nr", " serial_number ", "SerialNumber", "Serial №", "s / n", "ＳＥＲＩＡＬ"},
		"number": {"Number", "#", "No.", "Tool number", "tool #", "Tag"},
		"price":  {"Price", "Cost", "purchase price", "PRICE PAID"},
		"bought": {"Purchase date", "Date purchased", "date of purchase", "bought"},
		"place":  {"Place", "Location", "kept in"},
		"maker":  {"Manufacturer", "Brand", "MFR.", "make"},
		"model":  {"Model", "Model #", "Part number", "P/N"},
	} {
		for _, h := range headers {
			if c, ok := ColumnOf(h); !ok || c.Key != key {
				t.Errorf("%q means %q, %v; want %s", h, c.Key, ok, key)
			}
		}
	}
	for _, h := range []string{"", "Color", "serials", "serial number of the case", "!!"} {
		if c, ok := ColumnOf(h); ok {
			t.Errorf("%q means %s", h, c.Key)
		}
	}
}

func sheet(lines ...string) (rows []sheets.Row) {
	for i, line := range lines {
		rows = append(rows, sheets.Row{Number: i + 1, Cells: strings.Split(line, "|")})
	}
	return rows
}

func codes(bad []fault.Field) (out []string) {
	for _, f := range bad {
		out = append(out, f.Column+": "+f.Code)
	}
	return out
}

// Above the header a title may stand. Which row is the header is asked where the first does
// not read like one, and is as stated.
func TestHeaderRow(t *testing.T) {
	titled := []string{"Tools of bay 1, November", "made by Tech B", "", "Kind|Maker|S/N", "wrench|Brindle|1"}
	foreign := []string{"Werkzeuge", "", "Sorte|Hersteller|Nummer", "Hammer|Brindle|1"}
	says := func(n string) string { return "this row does not read like the header, and row " + n + " does" }
	for name, c := range map[string]struct {
		rows []string
		r    Reading
		bad  string // begins the first fault
		row  int    // of the fault, or of the first entry
	}{
		"below a title":         {titled, Reading{}, says("4"), 1},
		"as stated":             {titled, Reading{HeaderRow: 4}, "", 5},
		"a blank row":           {titled, Reading{HeaderRow: 3}, "nothing stands in this row", 3},
		"beyond the end":        {titled, Reading{HeaderRow: 9}, "nothing stands in this row", 9},
		"stated, and no header": {titled, Reading{HeaderRow: 1}, "it is not known what this column holds", 1},
		"of no words of ours":   {foreign, Reading{}, says("3"), 1},
		"mapped":                {foreign, Reading{Map: map[string]string{"Sorte": "kind", "Hersteller": "maker", "Nummer": "serial"}}, says("3"), 1},
		"mapped and stated":     {foreign, Reading{HeaderRow: 3, Map: map[string]string{"Sorte": "kind", "Hersteller": "maker", "Nummer": "serial"}}, "", 4},
		"the first is one":      {[]string{"Kind|Color|S/N", "tool|make|model"}, Reading{}, "it is not known what this column holds", 1},
		"a single column":       {[]string{"Kind", "wrench", "hammer"}, Reading{}, "", 2},
	} {
		tab := ReadTable(slices.DeleteFunc(sheet(c.rows...), func(r sheets.Row) bool { return len(r.Cells) == 1 && r.Cells[0] == "" }), false, c.r, "USD", "2026-11-02")
		switch {
		case c.bad == "" && (len(tab.Bad) > 0 || tab.Entries[0].Row != c.row):
			t.Errorf("%s: %+v, %+v", name, tab.Bad, tab.Entries)
		case c.bad != "" && (len(tab.Bad) == 0 || !strings.HasPrefix(tab.Bad[0].Detail, c.bad) || tab.Bad[0].Row != c.row || len(tab.Entries) > 0):
			t.Errorf("%s: %+v", name, tab.Bad)
		}
	}
}

// A cell of which the file does not say what stands there is at fault, unless its column is
// left out.
func TestCellsThatTheFileDoesNotTell(t *testing.T) {
	rows := []sheets.Row{{Number: 1, Cells: []string{"Kind", "S/N", "Color"}}, {Number: 2, Cells: []string{"wrench", "", ""}, Bad: []sheets.BadCell{
		{Index: 1, Code: "formula", Detail: "it holds a formula, and the file does not hold its result"}, {Index: 2, Value: "#N/A", Code: "error", Detail: "an error"}, {Index: 7, Code: "formula", Detail: "beyond"}}}}
	tab := ReadTable(rows, false, Reading{Ignore: []string{"Color"}}, "USD", "2026-11-02")
	if got := codes(tab.Bad); !slices.Equal(got, []string{"S/N: formula"}) || !strings.Contains(tab.Bad[0].Detail, "save it again") {
		t.Errorf("%q, %+v", got, tab.Bad)
	}
	tab = ReadTable(rows, false, Reading{Map: map[string]string{"Color": "notes"}}, "USD", "2026-11-02")
	if got := codes(tab.Bad); !slices.Equal(got, []string{"S/N: formula", "Color: error"}) || tab.Bad[1].Value != "#N/A" {
		t.Errorf("%q, %+v", got, tab.Bad)
	}
}

func TestColumnsAreMappedOrIgnoredOnPurpose(t *testing.T) {
	for name, c := range map[string]struct {
		header string
		r      Reading
		want   []string // column: code
		keys   string
	}{
		"known":                      {"Kind|S/N", Reading{}, nil, "kind serial"},
		"unknown is listed":          {"Kind|Color|Shape", Reading{}, []string{"Color: unknown column", "Shape: unknown column"}, ""},
		"mapped":                     {"Kind|Color", Reading{Map: map[string]string{"color": "notes"}}, nil, "kind notes"},
		"mapped by a header of ours": {"Kind|Color", Reading{Map: map[string]string{"COLOR.": "Serial number"}}, nil, "kind serial"},
		"ignored":                    {"Kind|Color", Reading{Ignore: []string{"Color"}}, nil, "kind "},
		"two that mean one":          {"Kind|Serial|S/N", Reading{}, []string{"S/N: column twice"}, ""},
		"two, one ignored":           {"Kind|Serial|S/N", Reading{Ignore: []string{"S/N"}}, nil, "kind serial "},
		"mapped onto another":        {"Kind|Serial|Color", Reading{Map: map[string]string{"Color": "serial"}}, []string{"Color: column twice"}, ""},
		"mapping of no column":       {"Kind", Reading{Map: map[string]string{"Color": "notes"}, Ignore: []string{"Shape"}}, []string{"Color: no such column", "Shape: no such column"}, ""},
		"no header over something":   {"Kind|", Reading{}, []string{"column B: unknown column"}, ""},
		"that ignored":               {"Kind|", Reading{Ignore: []string{"column B"}}, nil, "kind "},
	} {
		tab := ReadTable(sheet(c.header, "wrench|x|y"), false, c.r, "USD", "2026-11-02")
		if got := codes(tab.Bad); !slices.Equal(got, c.want) {
			// the third cell of the row is beyond two columns
			got = slices.DeleteFunc(got, func(s string) bool { return s == ": cells" })
			if !slices.Equal(got, c.want) {
				t.Errorf("%s: %q, want %q", name, got, c.want)
			}
		}
		if c.keys == "" {
			continue
		}
		var keys []string
		for _, h := range tab.Headings {
			keys = append(keys, h.Key)
		}
		if got := strings.Join(keys, " "); got != c.keys {
			t.Errorf("%s: taken for %q, want %q", name, got, c.keys)
		}
	}
	if tab := ReadTable(nil, false, Reading{}, "USD", ""); len(tab.Bad) != 1 || tab.Bad[0].Code != "empty" {
		t.Errorf("nothing: %+v", tab.Bad)
	}
	if tab := ReadTable(sheet("Kind|", "wrench|"), false, Reading{}, "USD", ""); len(tab.Bad) != 0 || len(tab.Entries) != 1 {
		t.Errorf("no header over nothing: %+v", tab.Bad)
	}
}

// What a kept reading says stands where the one at hand says nothing.
func TestReadingOverAKeptOne(t *testing.T) {
	yes := true
	kept := Reading{Map: map[string]string{"A": "serial", "B": "kind"}, Ignore: []string{"C"}, DateOrder: "dmy", Decimal: ",", Century: 2000}
	got := Reading{Map: map[string]string{"B": "notes"}, Ignore: []string{"D"}, DateOrder: "mdy", Guarded: &yes}.Over(kept)
	if got.Map["A"] != "serial" || got.Map["B"] != "notes" || !slices.Equal(got.Ignore, []string{"C", "D"}) || got.DateOrder != "mdy" || got.Decimal != "," || got.Century != 2000 || got.Guarded == nil {
		t.Errorf("%+v", got)
	}
	if kept.Map["B"] != "kind" || len(kept.Ignore) != 1 {
		t.Errorf("the kept one has changed: %+v", kept)
	}
}

// Only what is known to be guarded loses a quote: our own files by their
// headers, others where a formula would follow.
func TestGuardsAreTakenOff(t *testing.T) {
	yes, no := true, false
	header := func(headers []string, cell string) []sheets.Row {
		cells := make([]string, len(headers))
		cells[slices.Index(Keys, "serial")] = cell
		return []sheets.Row{{Number: 1, Cells: headers}, {Number: 2, Cells: cells}}
	}
	for name, c := range map[string]struct {
		rows    []sheets.Row
		guarded *bool
		want    string
	}{
		"ours for people":            {header(Headers, "''00"), nil, "'00"},
		"ours, exact":                {header(Keys, "'=A1"), nil, "'=A1"},
		"theirs, a formula":          {sheet("serial", "'=A1"), nil, "=A1"},
		"theirs, no formula":         {sheet("serial", "'00"), nil, "'00"},
		"theirs, said to be guarded": {sheet("serial", "'00"), &yes, "00"},
		"theirs, said not to be":     {sheet("serial", "'=A1"), &no, "'=A1"},
		"exactly one":                {header(Headers, "'''00"), nil, "''00"},
	} {
		tab := ReadTable(c.rows, false, Reading{Guarded: c.guarded}, "USD", "2026-11-02")
		if len(tab.Entries) != 1 || tab.Entries[0].Serial == nil || *tab.Entries[0].Serial != c.want {
			t.Errorf("%s: %+v, want %s", name, tab.Entries, c.want)
		}
		if said := len(tab.Warnings) > 0; said != (name == "theirs, a formula") {
			t.Errorf("%s: warnings %+v", name, tab.Warnings)
		}
	}
}

// A spreadsheet that seems to have changed serial numbers is warned of
// (interfaces 5.8).
func TestDamagedSerialsAreWarnedOf(t *testing.T) {
	for _, c := range []struct {
		serials string
		rows    []int
	}{
		{"1.23E+11|KD1|1E5", []int{2}},
		{"123456789012345000000|123456789012345678", []int{2}},
		{"3-Dec|12/3/2024|2024-03-12|Dec-12|3-12", []int{2, 3, 4, 5}},
		{"1234|5678|9012|345", []int{5}},
		{"0012|5678|9012|345", nil},
		{"1234|5678|90|1", nil},
		{"12|34|56|7", nil},
	} {
		tab := ReadTable(sheet(append([]string{"serial"}, strings.Split(c.serials, "|")...)...), false, Reading{}, "USD", "2026-11-02")
		var rows []int
		for _, w := range tab.Warnings {
			if w.Code != "damaged serial" || w.Column != "serial" {
				t.Errorf("%+v", w)
			}
			rows = append(rows, w.Row)
		}
		if !slices.Equal(rows, c.rows) {
			t.Errorf("%s: rows %v, want %v", c.serials, rows, c.rows)
		}
	}
}

// FuzzHeader: folding settles, and neither case nor punctuation tells headers
// apart.
func FuzzHeader(f *testing.F) {
	for _, h := range append(slices.Concat(Keys, Headers), "S/N", "Serial #", "№", "nunumbermber", "İ", "ﬁ", "ǅ") {
		f.Add(h)
	}
	f.Fuzz(func(t *testing.T, h string) {
		folded := FoldHeader(h)
		if FoldHeader(folded) != folded || strings.ContainsFunc(folded, unicode.IsSpace) {
			t.Fatalf("%q folds to %q and then to %q", h, folded, FoldHeader(folded))
		}
		c, ok := ColumnOf(h)
		d, also := ColumnOf(" " + folded + " .")
		if ok != also || c.Key != d.Key {
			t.Fatalf("%q means %q, and folded %q", h, c.Key, d.Key)
		}
		tab := ReadTable([]sheets.Row{{Number: 1, Cells: []string{"kind", h, h}}}, false, Reading{}, "USD", "")
		for _, bad := range tab.Bad {
			if bad.Row != 1 || bad.Code == "" || bad.Detail == "" {
				t.Fatalf("%+v", bad)
			}
		}
		if ok && len(tab.Bad) == 0 {
			t.Fatalf("%q twice is no mistake", h)
		}
	})
}
