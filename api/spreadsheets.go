package api

import (
	"cmp"
	"io"
	"math"
	"mime"
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"pawl/api/wire"
	"pawl/model"
	"pawl/model/fault"
	"pawl/model/numbers"
	"pawl/model/register"
	"pawl/model/sheets"
)

const (
	csvType  = "text/csv"
	xlsxType = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
)

// sheetFormats are the formats of tools as a spreadsheet, with the media type of
// each as it is stated.
var sheetFormats = []struct{ name, mediaType, stated string }{
	{"json", jsonType, jsonType},
	{"csv", csvType, csvType + "; charset=utf-8; header=present"}, // RFC 4180 section 3
	{"xlsx", xlsxType, xlsxType},
}

func (s *service) spreadsheetRoutes() []route {
	return []route{
		{method: http.MethodPost, path: Prefix + "/imports", query: []string{"dry_run", "partial", "on_duplicate", "create_places", "mapping",
			"save_mapping", "map", "ignore", "date_order", "century", "day_numbers", "decimal", "delimiter", "sheet", "header_row", "guarded", "file"}, handle: s.importTools},
		{method: http.MethodGet, path: Prefix + "/tools/export", query: []string{"of", "format", "raw", "bom"},
			offers: []string{jsonType, csvType, xlsxType}, handle: s.exportTools},
		{method: http.MethodPost, path: Prefix + "/numbers/:number/join", handle: s.joinBySerial},
	}
}

// joinBySerial puts a printed label on the tool with a serial number.
func (s *service) joinBySerial(c *gin.Context) (answer, error) {
	in, err := bind[wire.JoinSerial](c, false)
	if err != nil {
		return answer{}, err
	}
	done, err := s.shop.JoinBySerial(c.Request.Context(), by(c), c.Param("number"), model.JoinSerial(in))
	return ok(viewDone(done), 0), err
}

// importTools takes the bytes of a spreadsheet.
func (s *service) importTools(c *gin.Context) (answer, error) {
	format, err := sheetFormat(c.Request)
	if err != nil {
		return answer{}, err
	}
	q := askedOf(c)
	o := model.SheetOptions{
		Format: format, File: q.text("file"), DryRun: q.yes("dry_run"), Partial: q.yes("partial"), CreatePlaces: q.yes("create_places"),
		OnDuplicate: q.text("on_duplicate"), Mapping: q.text("mapping"), SaveMapping: q.text("save_mapping"), Reading: q.reading(),
	}
	if err := q.bad.Err(); err != nil {
		return answer{}, err
	}
	body := limit(c.Request.Body, sheets.MaxBytes)
	r, err := s.shop.Import(c.Request.Context(), by(c), body, o)
	if body.err != nil {
		err = body.err // rather than what the shop made of it
	}
	return ok(viewSheetReport(r), 0), err
}

// sheetFormat reads what the body is said to be. Its charset says nothing that
// the bytes do not.
func sheetFormat(r *http.Request) (string, error) {
	stated := r.Header.Get("Content-Type")
	kind, _, err := mime.ParseMediaType(stated)
	switch {
	case r.Header.Get("Content-Encoding") != "":
		return "", fault.New(fault.Media, "a spreadsheet in the encoding %q is not taken", fault.Clip(r.Header.Get("Content-Encoding"))).WithHint("send the bytes as they are")
	case r.ContentLength > sheets.MaxBytes:
		return "", fault.New(fault.TooLarge, "the file has %d bytes; the limit is %d", r.ContentLength, sheets.MaxBytes).WithHint("import it in parts")
	case err == nil && kind == csvType:
		return "csv", nil
	case err == nil && kind == xlsxType:
		return "xlsx", nil
	case err == nil && kind == jsonType:
		return "json", nil
	}
	return "", fault.New(fault.Media, "a body of type %q is not taken here", fault.Clip(stated)).WithHint("send it as Content-Type: %s, %s or %s", csvType, xlsxType, jsonType)
}

// yes reads a parameter that is false where it is absent.
func (q *asked) yes(name string) bool {
	v := q.flag(name)
	return v != nil && *v
}

// reading reads how a spreadsheet is to be read.
func (q *asked) reading() register.Reading {
	r := register.Reading{
		DateOrder: q.text("date_order"), DayNumbers: q.yes("day_numbers"), Decimal: q.text("decimal"), Delimiter: q.text("delimiter"),
		Sheet: q.text("sheet"), Guarded: q.flag("guarded"), Ignore: q.values["ignore"], Century: q.number("century", 0, 1900, 2000), HeaderRow: q.number("header_row", 0, 1, math.MaxInt32),
	}
	for _, m := range q.values["map"] {
		at := strings.LastIndexByte(m, '=')
		if at < 1 {
			q.bad.Add("#/map", `%q is not "Their header=key"`, fault.Clip(m))
			continue
		}
		if r.Map == nil {
			r.Map = map[string]string{}
		}
		r.Map[m[:at]] = m[at+1:]
	}
	return r
}

// exportTools gives every tool, by the parameter format or else as was agreed
// upon.
func (s *service) exportTools(c *gin.Context) (answer, error) {
	q := askedOf(c)
	o := model.ExportOptions{Of: cmp.Or(q.text("of"), "tools"), Raw: q.one("raw"), BOM: q.one("bom")}
	name := q.text("format")
	out := &stream{}
	for _, f := range sheetFormats {
		if q.values.Has("format") && f.name == name || !q.values.Has("format") && f.mediaType == c.GetString(offered) {
			o.Format, out.mediaType, out.disposition = f.name, f.stated, `attachment; filename="`+o.Of+`.`+f.name+`"`
		}
	}
	if o.Of != "tools" && o.Of != "markings" {
		q.bad.Add("#/of", "%q is not exported; use tools or markings", fault.Clip(o.Of))
	}
	if o.Format == "" {
		q.bad.Add("#/format", "%q is not a format; use csv, xlsx or json", fault.Clip(name))
	}
	if err := q.bad.Err(); err != nil {
		return answer{}, err
	}
	out.write = func(w io.Writer) error { return s.shop.Export(c.Request.Context(), by(c), w, o) }
	return answer{stream: out}, nil
}

// one reads a parameter of a link: 1 or true.
func (q *asked) one(name string) bool {
	switch q.text(name) {
	case "1", "true":
		return true
	case "0", "false":
		return false
	}
	if q.values.Has(name) {
		q.bad.Add("#/"+name, "%q is not 1 or 0", fault.Clip(q.text(name)))
	}
	return false
}

func viewSheetReport(r model.SheetReport) wire.SheetReport {
	return wire.SheetReport{
		DryRun: r.DryRun, Rows: r.Rows, Added: r.Added, Updated: r.Updated, Unchanged: r.Unchanged, Skipped: r.Skipped, LeftOut: r.LeftOut,
		Columns: list(r.Columns, func(h register.Heading) wire.SheetColumn { return wire.SheetColumn{Header: h.Header, Key: null(h.Key)} }),
		Tools: list(r.Tools, func(t model.SheetTool) wire.SheetTool {
			return wire.SheetTool{Row: t.Row, Number: numbers.Number.String(t.Number), Done: t.Done}
		}),
		Places: words(r.Places), Errors: list(r.Errors, viewTrouble), MoreErrors: r.More, Warnings: list(r.Warnings, viewTrouble), Said: words(r.Said),
	}
}

func viewTrouble(f fault.Field) wire.Trouble {
	return wire.Trouble{Row: f.Row, Column: f.Column, Value: f.Value, Code: f.Code, Detail: f.Detail}
}
