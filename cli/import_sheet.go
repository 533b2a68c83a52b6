package cli

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"net/url"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"

	"pawl/api/client"
	"pawl/api/wire"
	"pawl/model/fault"
)

// sheetEndings are the ends of names of files that are read as spreadsheets.
var sheetEndings = []string{".csv", ".tsv", ".txt", ".xlsx", ".json"}

// importSheetFlags are the flags of an import that only a spreadsheet takes.
func importSheetFlags() []cli.Flag {
	return []cli.Flag{
		&cli.BoolFlag{Name: "dry-run", Aliases: []string{"n"}, Usage: "of a spreadsheet: change nothing and report what would be done", DisableDefaultText: true},
		yes("partial", "of a spreadsheet: leave out the rows that are wrong"),
		value("on-duplicate", "of a spreadsheet: `WHAT` to do with a tool that is here already and would change: skip or update"),
		yes("create-places", "of a spreadsheet: make places that are missing"),
		values("map", "of a spreadsheet: what a column holds, as `\"Their header=serial\"`; once for each"),
		values("ignore", "of a spreadsheet: leave out the column `HEADER`; once for each"),
		value("mapping", "of a spreadsheet: read it as was kept under `NAME`"),
		value("save-mapping", "of a spreadsheet: keep how it was read under `NAME`"),
		value("date-order", "of a spreadsheet: dates such as 03/04/2024 are `dmy` or mdy"),
		value("century", "of a spreadsheet: years with two digits are of `2000` or 1900"),
		yes("day-numbers", "of a spreadsheet: numbers such as 45000 are its days"),
		value("decimal", "of a spreadsheet: the decimal `SIGN` of amounts, . or ,"),
		value("delimiter", "of a CSV: `WHAT` stands between cells: comma, semicolon, tab or pipe"),
		value("sheet", "of an XLSX: the sheet called `NAME`; else the first that is not hidden"),
		value("header-row", "of a spreadsheet: its header stands in row `N`, as under a title; else in the first row that is not blank"),
		yes("guarded", "of a CSV: cells have a single quote before what looks like a formula"),
	}
}

// importSheetOptions are those of the import of a spreadsheet.
type importSheetOptions struct {
	file      string
	mediaType string
	settings  url.Values
	dryRun    bool
}

func (p *program) importSheet(c *cli.Context, words []string) error {
	return action(p, func(c *cli.Context) (importSheetOptions, error) { return parseImportSheet(c, words) }, runImportSheet)(c)
}

func parseImportSheet(c *cli.Context, words []string) (o importSheetOptions, err error) {
	if len(words) != 1 {
		return o, fault.New(fault.Malformed, "%s takes one spreadsheet at a time", c.Command.HelpName)
	}
	o = importSheetOptions{file: words[0], mediaType: client.TypeCSV, settings: url.Values{}, dryRun: c.Bool("dry-run")}
	switch strings.ToLower(filepath.Ext(o.file)) {
	case ".xlsx":
		o.mediaType = client.TypeXLSX
	case ".json":
		o.mediaType = client.TypeJSON
	}
	for _, name := range []string{"on-duplicate", "mapping", "save-mapping", "date-order", "century", "decimal", "delimiter", "sheet", "header-row"} {
		if c.IsSet(name) {
			o.settings.Set(strings.ReplaceAll(name, "-", "_"), c.String(name))
		}
	}
	for _, name := range []string{"dry-run", "partial", "create-places", "day-numbers", "guarded"} {
		if c.IsSet(name) {
			o.settings.Set(strings.ReplaceAll(name, "-", "_"), strconv.FormatBool(c.Bool(name)))
		}
	}
	for _, name := range []string{"map", "ignore"} {
		if all := c.StringSlice(name); len(all) > 0 {
			o.settings[name] = all
		}
	}
	o.settings.Set("file", filepath.Base(o.file))
	return o, nil
}

// sheetFile opens a file named on the command line; "-" is stdin, read whole.
func (s *session) sheetFile(name string) (size int64, open func() (io.ReadCloser, error), err error) {
	if name == "-" {
		all, err := io.ReadAll(s.in)
		if err != nil {
			return 0, nil, fault.New(fault.Malformed, "cannot read stdin: %v", err).WithCause(err)
		}
		return int64(len(all)), func() (io.ReadCloser, error) { return io.NopCloser(bytes.NewReader(all)), nil }, nil
	}
	info, err := os.Stat(name)
	if err != nil {
		return 0, nil, cannotRead(name, err)
	}
	if info.IsDir() {
		return 0, nil, fault.New(fault.Malformed, "%s is a folder", name).WithHint("name a file; photos are taken in with: pawl import photos %s", name)
	}
	return info.Size(), func() (io.ReadCloser, error) {
		f, err := os.Open(name)
		if err != nil {
			return nil, cannotRead(name, err)
		}
		return f, nil
	}, nil
}

func runImportSheet(ctx context.Context, s *session, o importSheetOptions) error {
	size, open, err := s.sheetFile(o.file)
	if err != nil {
		return err
	}
	r, err := s.client.Import(ctx, o.settings, o.mediaType, size, open)
	if err != nil {
		return sheetFault(err)
	}
	if s.json {
		err = s.object(r)
	} else {
		err = s.sheetReport(r)
	}
	if err == nil && o.dryRun && len(r.Errors) > 0 {
		return told{exitCodes[fault.Invalid]}
	}
	return err
}

// unreadable is the code of a row that ends the reading of a file.
const unreadable = "unreadable"

// sheetFault has each value at fault named as a person finds it in the file.
func sheetFault(err error) error {
	f := *fault.Of(err)
	f.Fields = append([]fault.Field{}, f.Fields...)
	for i, at := range f.Fields {
		if at.Row > 0 {
			f.Fields[i].Pointer = place(at.Row, at.Column, at.Value)
		}
	}
	if len(f.Fields) == 1 && f.Fields[0].Row > 0 && f.Fields[0].Code != unreadable { // that says it already
		f.Message += ": " + f.Fields[0].Pointer + ": " + f.Fields[0].Detail
	}
	return &f
}

// place names a cell: row 17, column "Purchase date", value "13/14/2024".
func place(row int, column, value string) string {
	at := "the file"
	if row > 0 {
		at = "row " + strconv.Itoa(row)
	}
	if column != "" {
		at += ", column " + strconv.Quote(column)
	}
	if value != "" {
		at += ", value " + strconv.Quote(value)
	}
	return at
}

func (s *session) sheetReport(r wire.SheetReport) error {
	if !s.terminal {
		for _, t := range r.Tools {
			if err := s.row(t.Number, t.Done, strconv.Itoa(t.Row)); err != nil {
				return err
			}
		}
	}
	for _, e := range r.Errors {
		if err := s.changed(place(e.Row, e.Column, e.Value)+": "+e.Detail, "error", strconv.Itoa(e.Row), e.Column, e.Value, e.Code, e.Detail); err != nil {
			return err
		}
	}
	for _, w := range r.Warnings {
		s.note(place(w.Row, w.Column, w.Value) + ": " + w.Detail)
	}
	s.note(r.Said...)
	verb, places := "imported", "places made: "
	if r.DryRun {
		verb, places = "would be imported", "places that would be made: "
	}
	if len(r.Places) > 0 {
		s.note(places + strings.Join(r.Places, ", "))
	}
	sum := fmt.Sprintf("%d rows: %d added, %d updated, %d unchanged, %d skipped, %d left out", r.Rows, r.Added, r.Updated, r.Unchanged, r.Skipped, r.LeftOut)
	return s.changed(verb+": "+sum, verb, strconv.Itoa(r.Rows), strconv.Itoa(r.Added), strconv.Itoa(r.Updated), strconv.Itoa(r.Unchanged), strconv.Itoa(r.Skipped), strconv.Itoa(r.LeftOut))
}
