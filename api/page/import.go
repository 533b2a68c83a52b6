package page

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"io"
	"slices"
	"strconv"
	"strings"

	"pawl/api/page/words"
	"pawl/model"
	"pawl/model/fault"
	"pawl/model/register"
	"pawl/model/sheets"
)

// A spreadsheet is looked at first: what each column is taken for, and what is
// wrong with which row. It is imported from the page that shows that. Until then
// nothing of it is recorded.
func (p *Pages) importRoutes() []Route {
	return []Route{
		get("/import", func(*Ask) (Reply, error) { return Show("import", nil), nil }),
		post("/import", p.importFile),
		get("/import/rows", func(*Ask) (Reply, error) { return Go("/import"), nil }),
		post("/import/rows", p.importRows),
	}
}

const (
	// shownRows is how many rows left out are named after an import.
	shownRows = 100

	// shownFaults is how many rows at fault one page lists, and shownOfSort how many
	// of one sort; of the rest it says how many, and the file has all.
	shownFaults = 30
	shownOfSort = 5

	// openColumns is how many columns that are not decided offer every choice at
	// once; each such list has 2 kB.
	openColumns = 4

	// shownValue is how many characters of a value or of a fault stand on the page.
	shownValue = 120

	// leaveOut and undecided are what a column can be besides one of ours.
	leaveOut  = "-"
	undecided = ""
)

// looked is what an import would do, as its page shows it.
type looked struct {
	File, Kept string // its name, and by what its bytes are found again
	Seen       string // how it was read for this page
	Report     *model.SheetReport
	Columns    []pickedColumn
	Errors     []rowFault
	MoreErrors []moreFaults // of each sort, what is not listed
	Warnings   []rowFault
	MoreWarns  []moreFaults
	Change     int  // rows that would change something
	Good       bool // all of them can be taken
	Partial    bool // the good ones can
	Places     bool // the asker may make places

	Orders, Centuries, DayNumbers, Decimals, Delimiters, Guards, Duplicates []Option
}

// pickedColumn is a column of the file, and what it is taken for.
type pickedColumn struct {
	Index  int
	Header string
	Keys   []Option
}

// rowFault is a value of the file at fault, and what can be done about it.
type rowFault struct {
	fault.Field
	Help string
}

func (p *Pages) importFile(a *Ask) (Reply, error) {
	file, name, err := a.spreadsheet()
	if err != nil {
		return a.Again("import", nil, err), nil
	}
	return p.lookAt(a, file, name)
}

// spreadsheet is the file that was chosen.
func (a *Ask) spreadsheet() (raw []byte, name string, err error) {
	if !a.HasFile("spreadsheet") {
		return nil, "", fault.At("#/spreadsheet", "%s", a.pages.say(a, "import.no-file"))
	}
	f := a.files["spreadsheet"][0]
	if f.Size > sheets.MaxBytes {
		return nil, "", fault.At("#/spreadsheet", "%s", a.pages.say(a, "import.too-large", f.Size>>20+1, sheets.MaxBytes>>20))
	}
	r, err := f.Open()
	if err != nil {
		return nil, "", err
	}
	defer r.Close()
	raw, err = io.ReadAll(r)
	return raw, f.Filename, err
}

// importRows looks again after something was changed, or imports.
func (p *Pages) importRows(a *Ask) (Reply, error) {
	file, err := p.sheets.again(a.Value("kept"), a.who(), p.shop.Now())
	if err != nil {
		return a.Again("import", nil, fault.At("#/spreadsheet", "%s", p.say(a, "import.lost"))), nil
	}
	name, do := a.Value("file"), a.Value("do")
	o, err := a.sheetOptions(file, name)
	if err == nil && do == "report" {
		return p.wholeReport(a, file, o)
	}
	if err != nil || do == "" || do == "look" {
		return p.lookAt(a, file, name)
	}
	if seenAs(o) != a.Value("seen") {
		return p.lookAgain(a, file, name, fault.New(fault.Conflict, "%s", p.say(a, "import.unseen")))
	}
	o.Partial = do == "good"
	done, err := p.shop.Import(a.R.Context(), a.By, bytes.NewReader(file), o)
	switch {
	case fault.Is(err, fault.Invalid), fault.Is(err, fault.Conflict): // the shop is not what it was when it was looked at
		return p.lookAgain(a, file, name, fault.New(fault.Conflict, "%s", p.say(a, "import.moved")))
	case err != nil:
		return p.lookAgain(a, file, name, err)
	}
	return Go("/import", p.imported(a, done)...), nil
}

// imported tells what an import did.
func (p *Pages) imported(a *Ask, r model.SheetReport) []string {
	told := []string{p.say(a, "import.done", r.Added, r.Updated, r.Unchanged+r.Skipped)}
	if len(r.Places) > 0 {
		told = append(told, p.say(a, "import.done-places", len(r.Places)))
	}
	if r.LeftOut > 0 {
		var rows []string
		for _, e := range r.Errors {
			if row := strconv.Itoa(e.Row); !slices.Contains(rows, row) && len(rows) < shownRows {
				rows = append(rows, row)
			}
		}
		told = append(told, p.say(a, "import.done-left-out", r.LeftOut, strings.Join(rows, ", ")))
	}
	return told
}

// lookAt shows what an import would do.
func (p *Pages) lookAt(a *Ask, file []byte, name string) (Reply, error) {
	return p.lookAgain(a, file, name, nil)
}

// lookAgain shows what an import would do, and why that was not done.
func (p *Pages) lookAgain(a *Ask, file []byte, name string, why error) (Reply, error) {
	kept := a.Value("kept")
	if kept == "" { // it came just now
		kept = p.sheets.keep(file, a.who(), p.shop.Now(), p.newKey)
	}
	v := looked{File: name, Kept: kept, Places: a.leads()}
	p.readingOptions(a, &v)
	o, err := a.sheetOptions(file, name)
	if err == nil {
		o.DryRun, o.Whole = true, true // of every sort some are shown
		var report model.SheetReport
		if report, err = p.shop.Import(a.R.Context(), a.By, bytes.NewReader(file), o); err == nil {
			p.report(a, &v, report)
			asShown(&o, v.Columns)
		}
	}
	v.Seen = seenAs(o)
	switch {
	case err != nil && len(fault.Of(err).Fields) == 0 && !a.Has("kept"): // nothing that could be changed here would help
		return a.Again("import", nil, err), nil
	case err != nil:
		v.Columns = a.typedColumns(p)
		return a.Again("importrows", v, err), nil
	case why != nil:
		return a.Again("importrows", v, why), nil
	}
	return Show("importrows", v).WithForm(a.form), nil
}

// report puts the report of a dry run into the page.
func (p *Pages) report(a *Ask, v *looked, r model.SheetReport) {
	v.Report, v.Change = &r, r.Added+r.Updated
	bad := len(r.Errors) + r.More
	v.Good, v.Partial = bad == 0 && v.Change > 0, bad > 0 && v.Change > 0
	open := map[string]bool{} // headers of which it is not known what they mean
	for _, e := range r.Errors {
		open[e.Column] = open[e.Column] || e.Pointer == "#/columns"
	}
	undecideds := 0
	for i, c := range r.Columns {
		key := c.Key
		if key == "" && !open[c.Header] {
			key = leaveOut
		}
		if c.Header == "" {
			continue
		}
		if key == undecided {
			undecideds++
		}
		v.Columns = append(v.Columns, p.column(a, i, c.Header, key, key == undecided && undecideds <= openColumns))
	}
	v.Errors, v.MoreErrors = p.someFaults(a, r.Errors, r.More)
	v.Warnings, v.MoreWarns = p.someFaults(a, r.Warnings, r.MoreWarns)
}

// moreFaults is how many values of one sort are at fault and not listed, with how
// the first of them reads.
type moreFaults struct {
	Count int
	Like  string
}

// someFaults picks the first of each sort, and counts the rest.
func (p *Pages) someFaults(a *Ask, all []fault.Field, unlisted int) (shown []rowFault, more []moreFaults) {
	ofSort, rest := map[string]int{}, map[string]int{}
	for _, f := range all {
		sort := f.Code + " " + f.Column
		if ofSort[sort]++; ofSort[sort] <= shownOfSort && len(shown) < shownFaults {
			shown = append(shown, p.rowFault(a, f))
			continue
		}
		if len(more) == 0 || rest[sort] == 0 {
			if len(more) < shownFaults {
				more = append(more, moreFaults{Like: strings.TrimPrefix(f.Column+": "+clipped(f.Detail), ": ")})
				rest[sort] = len(more)
			} else { // many sorts: the last says how many of all others
				rest[sort] = len(more)
				more[len(more)-1].Like = ""
			}
		}
		more[rest[sort]-1].Count++
	}
	if unlisted > 0 {
		more = append(more, moreFaults{Count: unlisted})
	}
	return shown, more
}

// clipped is the beginning of a text that is long.
func clipped(text string) string {
	if all := []rune(text); len(all) > shownValue {
		return string(all[:shownValue]) + " …"
	}
	return text
}

// wholeReport gives all that is wrong with a file, as one.
func (p *Pages) wholeReport(a *Ask, file []byte, o model.SheetOptions) (Reply, error) {
	o.DryRun, o.Whole = true, true
	r, err := p.shop.Import(a.R.Context(), a.By, bytes.NewReader(file), o)
	if err != nil {
		return Reply{}, err
	}
	var b bytes.Buffer
	out := sheets.NewCSV(&b, sheets.CSVOptions{BOM: true})
	rows := [][]string{{p.say(a, "importrows.sort"), p.say(a, "importrows.row"), p.say(a, "importrows.column"), p.say(a, "importrows.value"), p.say(a, "importrows.what")}}
	for _, part := range []struct {
		sort   string
		faults []fault.Field
	}{{p.say(a, "importrows.error"), r.Errors}, {p.say(a, "importrows.warning"), r.Warnings}} {
		for _, f := range part.faults {
			rows = append(rows, []string{part.sort, strconv.Itoa(f.Row), f.Column, f.Value, f.Detail})
		}
	}
	for _, row := range rows {
		if err := out.Write(row); err != nil {
			return Reply{}, err
		}
	}
	if err := out.Close(); err != nil {
		return Reply{}, err
	}
	return Reply{file: &given{name: "import-report.csv", mediaType: "text/csv; charset=utf-8; header=present", bytes: b.Bytes()}}, nil
}

// rowFault says what is wrong with a value in the words of a screen: what a
// command would be told is a choice on this page.
func (p *Pages) rowFault(a *Ask, f fault.Field) rowFault {
	if before, inside, found := strings.Cut(f.Detail, " ("); found && strings.Contains(inside, "--") {
		f.Detail = before
	}
	f.Value, f.Detail = clipped(f.Value), clipped(f.Detail)
	out := rowFault{Field: f}
	if key := "import.help." + strings.ReplaceAll(f.Code, " ", "-"); words.Has(key) {
		out.Help = p.say(a, key)
	}
	return out
}

// column offers what a column of the file may be taken for. One that is decided
// can be left undecided, and offers everything when it is looked at again: the page
// stays small.
func (p *Pages) column(a *Ask, i int, header, key string, everything bool) pickedColumn {
	out := pickedColumn{Index: i, Header: header, Keys: []Option{
		{Value: undecided, Label: p.say(a, "import.undecided")}, {Value: leaveOut, Label: p.say(a, "import.leave-out")}}}
	for _, c := range register.Columns {
		if !everything && c.Key != key {
			continue
		}
		out.Keys = append(out.Keys, Option{Value: c.Key, Label: c.Header})
	}
	for j := range out.Keys {
		out.Keys[j].Chosen = out.Keys[j].Value == key
	}
	return out
}

// typedColumns are those of the form, where the file could not be read again.
func (a *Ask) typedColumns(p *Pages) (out []pickedColumn) {
	for i := range sheets.MaxColumns {
		if header := a.Value("h" + strconv.Itoa(i)); header != "" {
			out = append(out, p.column(a, i, header, a.Value("k"+strconv.Itoa(i)), i < openColumns))
		}
	}
	return out
}

// sheetOptions reads how the file is to be read.
func (a *Ask) sheetOptions(file []byte, name string) (model.SheetOptions, error) {
	o := model.SheetOptions{Format: "csv", File: name, OnDuplicate: a.Value("on_duplicate"), CreatePlaces: a.Value("create_places") == "yes",
		Mapping: a.Value("mapping"), SaveMapping: a.Value("save_mapping"),
		Reading: register.Reading{DateOrder: a.Value("date_order"), DayNumbers: a.Value("day_numbers") == "yes", Decimal: a.Value("decimal"), Delimiter: a.Value("delimiter"), Sheet: a.Value("sheet")}}
	if bytes.HasPrefix(file, []byte("PK\x03\x04")) { // every XLSX is a ZIP file (ISO/IEC 29500-2)
		o.Format = "xlsx"
	}
	if century := a.Value("century"); century != "" {
		n, err := strconv.Atoi(century)
		if err != nil {
			return o, fault.At("#/century", "%q is not a century", century)
		}
		o.Century = n
	}
	if row := a.Value("header_row"); row != "" {
		n, err := strconv.Atoi(row)
		if err != nil || n < 1 {
			return o, fault.At("#/header_row", "%q is not the number of a row", row)
		}
		o.HeaderRow = n
	}
	if guarded := a.Value("guarded"); guarded != "" {
		yes := guarded == "yes"
		o.Guarded = &yes
	}
	for i := range sheets.MaxColumns {
		takeColumn(&o, a.Value("h"+strconv.Itoa(i)), a.Value("k"+strconv.Itoa(i)))
	}
	return o, nil
}

// seenAs tells apart how a file was read for a page: what is imported is what
// was looked at.
func seenAs(o model.SheetOptions) string {
	o.DryRun, o.Partial, o.File, o.SaveMapping = false, false, "", ""
	raw, err := json.Marshal(o)
	if err != nil {
		panic("page: " + err.Error())
	}
	sum := sha256.Sum256(raw)
	return hex.EncodeToString(sum[:8])
}

// asShown makes the columns what the page says that they are.
func asShown(o *model.SheetOptions, columns []pickedColumn) {
	o.Map, o.Ignore = nil, nil
	for _, c := range columns {
		for _, k := range c.Keys {
			if k.Chosen {
				takeColumn(o, c.Header, k.Value)
			}
		}
	}
}

// takeColumn says what a column of the file is taken for.
func takeColumn(o *model.SheetOptions, header, key string) {
	switch {
	case header == "" || key == undecided:
	case key == leaveOut:
		o.Ignore = append(o.Ignore, header)
	default:
		if o.Map == nil {
			o.Map = map[string]string{}
		}
		o.Map[header] = key
	}
}

// readingOptions are the choices of how a file is read.
func (p *Pages) readingOptions(a *Ask, v *looked) {
	lang := a.language()
	v.Orders = p.findOut(a, "import.order.", "mdy", "dmy")
	v.Centuries = p.findOut(a, "import.century.", "2000", "1900")
	v.Decimals = []Option{{Label: p.say(a, "import.find-out")}, {Value: ".", Label: p.say(a, "import.decimal.point")}, {Value: ",", Label: p.say(a, "import.decimal.comma")}}
	v.Delimiters = p.findOut(a, "import.delimiter.", "comma", "semicolon", "tab", "pipe")
	v.Guards = p.findOut(a, "import.guarded.", "yes", "no")
	v.DayNumbers = append([]Option{{Label: p.say(a, "import.day-numbers.no")}}, p.Options(lang, "import.day-numbers.", "yes")...)
	v.Duplicates = append([]Option{{Label: p.say(a, "import.duplicate.stop")}}, p.Options(lang, "import.duplicate.", "skip", "update")...)
}

func (p *Pages) findOut(a *Ask, prefix string, values ...string) []Option {
	return append([]Option{{Label: p.say(a, "import.find-out")}}, p.Options(a.language(), prefix, values...)...)
}
