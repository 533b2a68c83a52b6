package model

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"

	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/names"
	"pawl/model/numbers"
	"pawl/model/people"
	"pawl/model/register"
	"pawl/model/sheets"
	"pawl/model/units"
)

// SheetOptions say how a spreadsheet of tools is imported.
type SheetOptions struct {
	register.Reading
	Format       string `json:"format"` // "csv", "xlsx" or "json"
	File         string `json:"file"`   // its name, for the record
	DryRun       bool   `json:"dry_run"`
	Partial      bool   `json:"partial"`       // leave out the rows that are wrong
	OnDuplicate  string `json:"on_duplicate"`  // "" stops; "skip" or "update"
	CreatePlaces bool   `json:"create_places"` // make places that are missing
	Mapping      string `json:"mapping"`       // read it as was kept under this name
	SaveMapping  string `json:"save_mapping"`  // keep how it was read under this name
	Whole        bool   `json:"-"`             // a dry run lists whatever is at fault
}

// MaxTroubles is the most values at fault that one report lists, unless all are
// asked for.
const MaxTroubles = 1000

// SheetReport is what an import did, or in a dry run would do.
type SheetReport struct {
	DryRun    bool
	Rows      int // below the header
	Added     int
	Updated   int
	Unchanged int
	Skipped   int // duplicates that were to be skipped
	LeftOut   int // rows that are wrong
	Columns   []register.Heading
	Tools     []SheetTool   // added and updated ones; none in a dry run
	Places    []string      // paths that are made
	Errors    []fault.Field // at most MaxTroubles, and so are Warnings
	More      int           // errors that are not listed
	Warnings  []fault.Field
	MoreWarns int // warnings that are not listed
	Said      []string
}

// SheetTool is what became of one row.
type SheetTool struct {
	Row    int
	Number numbers.Number
	Done   string // added, updated
}

// Import registers the tools of a spreadsheet as one act: all rows or, with
// Partial, those that are right. A tool that is here already, by its number or
// by maker and serial number, stays as it is where the row says nothing new; one
// that would change is a fault, unless OnDuplicate says what to do. A cell that
// is empty changes nothing. The same import again changes nothing.
func (s *Shop) Import(ctx context.Context, by By, file io.Reader, o SheetOptions) (SheetReport, error) {
	in := sheetImport{by: by, SheetOptions: o}
	err := s.db.Read(ctx, func(rx *store.Rx) error { return in.prepare(rx) })
	if err != nil {
		return SheetReport{}, err
	}
	if err := in.read(file); err != nil {
		return SheetReport{}, err
	}
	var p *sheetPlan
	err = s.db.Read(ctx, func(rx *store.Rx) (err error) {
		p, err = in.plan(rx)
		return err
	})
	if err != nil {
		return SheetReport{}, err
	}
	if o.DryRun {
		return p.report, nil
	}
	return act(ctx, s, by, "import", []any{in.hash, o}, func(tx *store.Tx) (SheetReport, error) {
		stale, err := tx.ChangedSince(p.size, planned...)
		if err == nil && stale {
			p, err = in.plan(&tx.Rx)
		}
		if err != nil {
			return SheetReport{}, err
		}
		if err := p.stop(); err != nil {
			return SheetReport{}, err
		}
		return p.apply(tx)
	})
}

// sheetImport is one spreadsheet on its way in.
type sheetImport struct {
	by By
	SheetOptions
	rows     []sheets.Row
	date1904 bool
	warnings []string
	hash     string // of how it is read and of its bytes

	table    *register.Table // the rows as they are read with currency on today
	currency string
	today    dates.Date
}

// planned are the nouns whose records a plan is made of. Whatever changed one of
// them has left a line; those who take and return tools meanwhile do not matter.
var planned = []string{"settings", "person", "place", "tool", "number", "wrong", "import"}

// prepare checks the options and fetches a kept mapping.
func (in *sheetImport) prepare(rx *store.Rx) error {
	if err := allowed(in.by, people.EditTool, people.Object{Owner: in.by.Person}); err != nil {
		return err
	}
	var bad fault.Problems
	switch in.OnDuplicate {
	case "", "skip", "update":
	default:
		bad.Add("#/on_duplicate", "%q is not known; use skip or update", in.OnDuplicate)
	}
	if in.CreatePlaces {
		if err := allowed(in.by, people.ShopActs, people.Object{}); err != nil {
			return err
		}
	}
	if in.SaveMapping != "" {
		_, err := names.Check(in.SaveMapping)
		bad.Keep("#/save_mapping", err)
	}
	if in.Mapping != "" {
		kept, found, err := rx.Mapping(names.Key(in.Mapping))
		if err != nil {
			return err
		}
		if !found {
			bad.Add("#/mapping", "no mapping is kept under %q", in.Mapping)
		}
		in.Reading = in.Reading.Over(kept.Reading)
	}
	bad.Keep("#/reading", in.Reading.Check())
	return bad.Err()
}

// read takes the cells out of the file.
func (in *sheetImport) read(file io.Reader) error {
	sum := sha256.New()
	if err := json.NewEncoder(sum).Encode(in.Reading); err != nil {
		return err
	}
	comma, err := delimiter(in.Delimiter)
	if err != nil {
		return err
	}
	o := sheets.Options{Delimiter: comma, Sheet: in.Sheet}
	open := map[string]func(io.Reader, sheets.Options) (*sheets.Reader, error){
		"csv": sheets.ReadCSV, "xlsx": sheets.ReadXLSX, "json": sheets.ReadJSON}[in.Format]
	r, err := open(io.TeeReader(file, sum), o)
	if err != nil {
		return err
	}
	defer r.Close()
	for {
		row, err := r.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			return err
		}
		in.rows = append(in.rows, row)
	}
	in.hash, in.date1904, in.warnings = hex.EncodeToString(sum.Sum(nil)), r.Date1904, r.Warnings()
	return nil
}

// delimiter reads a delimiter as it is typed.
func delimiter(s string) (rune, error) {
	switch s {
	case "":
		return 0, nil
	case ",", "comma":
		return ',', nil
	case ";", "semicolon":
		return ';', nil
	case "\t", `\t`, "tab":
		return '\t', nil
	case "|", "pipe":
		return '|', nil
	}
	return 0, fault.At("#/delimiter", "%q is not a delimiter; use comma, semicolon, tab or pipe", s)
}

// stop is the fault of an import that has errors, unless those rows are to be
// left out. A header that is wrong leaves nothing to be read.
func (p *sheetPlan) stop() error {
	all := len(p.report.Errors) + p.report.More
	if all == 0 || p.in.Partial && len(p.table.Entries) > 0 {
		return nil
	}
	f := fault.New(fault.Invalid, "%s of the spreadsheet %s at fault, in %d of %d rows; nothing was changed", units.Count(all, "value"), isOrAre(all), p.report.LeftOut, p.report.Rows).
		WithHint("mend the rows, or leave them out with --partial")
	if len(p.table.Entries) == 0 {
		f = fault.New(fault.Invalid, "the header of the spreadsheet does not fit; nothing was changed").WithHint("map or ignore the columns named")
		if all == 1 && p.report.Errors[0].Code == "header row" {
			f.Hint = "" // the fault says what to do
		}
	}
	f.Fields = p.report.Errors
	if p.report.More > 0 {
		f.WithFact("more_errors", fmt.Sprint(p.report.More))
	}
	return f
}
