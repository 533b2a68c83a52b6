package model

import (
	"cmp"
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"

	"pawl/model/custody"
	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/markings"
	"pawl/model/names"
	"pawl/model/numbers"
	"pawl/model/people"
	"pawl/model/register"
	"pawl/model/sheets"
)

// sheetPlan is what an import would do to the store as it was at size lines.
// It is made before the write begins, and made again when the store has changed
// since.
type sheetPlan struct {
	in      *sheetImport
	d       *directory
	table   *register.Table
	size    int64
	today   dates.Date
	report  SheetReport
	fresh   []*plannedTool // to be added, by row
	edits   []*plannedTool // to be changed
	last    numbers.Number // the greatest number of the store
	again   bool           // this very import was done before
	before  register.ImportRow
	leftOut map[string]bool // its rows that were left out

	links  []plannedLink
	owners map[string]found
	places map[string]found
	missed map[int]bool // rows with an error
	count  int          // errors, listed or not
}

// plannedTool is a tool as it will be. Rows are those that say so.
type plannedTool struct {
	rows   []int
	was    register.Tool // zero for a new one
	tool   register.Tool
	place  string // path to be made
	claims []numbers.Number
	mark   *markings.Marking
	wrongs []custody.Wrong
	change []sheetChange

	with, instead, successor *plannedTool // it came with, whose place it took, which took its own
}

// sheetChange is what one row says, with names resolved.
type sheetChange struct {
	register.Change
	owner, place    *string // ids
	currency        string
	depositCurrency string
}

// found is a name resolved once.
type found struct {
	id  string
	err error
}

// plan reads the entries and holds each against the store.
func (in *sheetImport) plan(rx *store.Rx) (*sheetPlan, error) {
	d, err := readNames(rx)
	if err != nil {
		return nil, err
	}
	loc, err := d.settings.Location()
	if err != nil {
		return nil, err
	}
	p := &sheetPlan{in: in, d: d, today: rx.Now().Day(loc), owners: map[string]found{}, places: map[string]found{}, missed: map[int]bool{}, leftOut: map[string]bool{}}
	if p.size, err = rx.Size(); err != nil {
		return nil, err
	}
	if p.before, p.again, err = rx.Import(in.hash); err != nil {
		return nil, err
	}
	for _, row := range strings.Split(p.before.LeftOut, ",") {
		p.leftOut[row] = true
	}
	p.table = in.readTable(d.settings.Currency, p.today)
	p.report = SheetReport{DryRun: in.DryRun, Rows: len(p.table.Entries), Columns: p.table.Headings, Warnings: p.table.Warnings}
	code := "encoding"
	if in.Format == "xlsx" {
		code = "sheet"
	}
	for _, w := range in.warnings {
		p.warn(fault.Field{Pointer: "#/file", Code: code, Detail: w})
	}
	for _, f := range p.table.Bad {
		p.wrong(f)
	}
	here, err := p.whatIsHere(rx)
	if err != nil {
		return nil, err
	}
	p.last = here.last
	for i := range p.table.Entries {
		p.entry(&p.table.Entries[i], here)
	}
	p.resolveLinks(here)
	if err := p.oddSerials(rx); err != nil {
		return nil, err
	}
	p.sum()
	return p, nil
}

// readTable reads the cells, unless they were read in the same way before.
func (in *sheetImport) readTable(currency string, today dates.Date) *register.Table {
	if in.table == nil || in.currency != currency || in.today != today {
		reading := in.Reading
		if in.Format != "csv" && reading.Guarded == nil {
			reading.Guarded = new(bool) // cells that are texts need no guard
		}
		in.table, in.currency, in.today = register.ReadTable(in.rows, in.date1904, reading, currency, today), currency, today
	}
	return in.table
}

// sum counts what there is to do.
func (p *sheetPlan) sum() {
	r := &p.report
	r.LeftOut = 0
	for _, e := range p.table.Entries {
		if p.missed[e.Row] {
			r.LeftOut++
		}
	}
	r.Added = len(p.fresh)
	p.edits = slices.DeleteFunc(p.edits, func(t *plannedTool) bool {
		same := reflect.DeepEqual(t.was, t.tool) && t.place == ""
		if same {
			r.Unchanged += len(t.rows)
		}
		return same
	})
	for _, t := range p.edits {
		r.Updated += len(t.rows)
	}
	places := map[string]bool{}
	for _, t := range append(append([]*plannedTool{}, p.fresh...), p.edits...) {
		if t.place != "" && !places[names.Key(t.place)] {
			places[names.Key(t.place)] = true
			r.Places = append(r.Places, t.place)
		}
	}
	slices.SortStableFunc(r.Errors, func(a, b fault.Field) int { return a.Row - b.Row })
	if p.count == 0 && r.Added+r.Updated == 0 && r.Rows > 0 {
		r.Said = append(r.Said, fmt.Sprintf("nothing changes: all %d rows are here already", r.Rows))
	}
	if p.again {
		r.Said = append(r.Said, "this spreadsheet was imported before, on "+p.before.At.String())
	}
}

// wrong notes a value at fault; its row is left out.
func (p *sheetPlan) wrong(f fault.Field) {
	p.missed[f.Row] = true
	if p.count++; p.count > p.troubles() {
		p.report.More++
		return
	}
	p.report.Errors = append(p.report.Errors, f)
}

func (p *sheetPlan) warn(f fault.Field) {
	if len(p.report.Warnings) >= p.troubles() {
		p.report.MoreWarns++
		return
	}
	p.report.Warnings = append(p.report.Warnings, f)
}

// troubles is how many values at fault, and how many warnings, are listed.
func (p *sheetPlan) troubles() int {
	if p.in.Whole && p.in.DryRun {
		return math.MaxInt
	}
	return MaxTroubles
}

// at makes a fault about a column of an entry, by where the value stands in a
// tool.
func (p *sheetPlan) at(row int, pointer, code, detail string) fault.Field {
	header, key, index := p.table.Header(pointer)
	if index < 0 {
		return fault.Field{Pointer: fmt.Sprintf("#/rows/%d", row), Row: row, Code: code, Detail: detail}
	}
	return fault.Field{Pointer: fmt.Sprintf("#/rows/%d/%s", row, key), Row: row, Column: header, Value: p.cell(row, index), Code: code, Detail: detail}
}

// cell gives what stands in a cell of the file.
func (p *sheetPlan) cell(row, index int) string {
	i, ok := slices.BinarySearchFunc(p.in.rows, row, func(r sheets.Row, n int) int { return r.Number - n })
	if !ok || index >= len(p.in.rows[i].Cells) {
		return ""
	}
	return fault.Clip(p.in.rows[i].Cells[index])
}

// here is what the store and the rows gone by know of numbers and serials.
type here struct {
	numbers map[string]register.NumberRow
	serials map[store.SerialOf]string // tool ids
	tools   map[string]register.Tool
	wrongs  map[string][]custody.Wrong // open ones, by tool
	last    numbers.Number

	claimed map[numbers.Number]*plannedTool
	keyed   map[store.SerialOf]*plannedTool
	planned map[string]*plannedTool // by tool id
}

// whatIsHere looks up every number and serial of the file at once.
func (p *sheetPlan) whatIsHere(rx *store.Rx) (*here, error) {
	h := &here{claimed: map[numbers.Number]*plannedTool{}, keyed: map[store.SerialOf]*plannedTool{}, planned: map[string]*plannedTool{}}
	var ids []string
	var keys []store.SerialOf
	for _, e := range p.table.Entries {
		for _, typed := range append([]string{e.Number, e.Links.CameWith, e.Links.ExchangedFrom}, e.Others...) {
			if n, err := numbers.ParseNumber(typed); err == nil {
				ids = append(ids, string(n))
			}
		}
		if k := serialOf(e.Change); k.Serial != "" {
			keys = append(keys, k)
		}
	}
	var err error
	if h.numbers, err = rx.NumberRows(ids); err != nil {
		return nil, err
	}
	if h.serials, err = rx.ToolsWithSerials(keys); err != nil {
		return nil, err
	}
	if h.last, err = rx.LastNumber(); err != nil {
		return nil, err
	}
	var tools []string
	for _, n := range h.numbers {
		if n.Tool != "" {
			tools = append(tools, n.Tool)
		}
	}
	for _, id := range h.serials {
		tools = append(tools, id)
	}
	slices.Sort(tools)
	tools = slices.Compact(tools)
	if h.tools, err = rx.ToolsByID(tools); err != nil {
		return nil, err
	}
	h.wrongs, err = rx.OpenWrongsOf(tools)
	return h, err
}

// entry decides what one row does.
func (p *sheetPlan) entry(e *register.Entry, h *here) {
	claims := p.claims(e, h)
	known := p.match(e, claims, h)
	c := p.resolve(e, known)
	switch {
	case known == nil && p.doneBefore(e):
		p.report.Unchanged++
	case known == nil:
		p.add(e, c, claims, h)
	default:
		p.edit(e, c, known, h)
	}
}

// doneBefore says whether a row by which no tool can be known again was taken
// when the same spreadsheet was imported before.
func (p *sheetPlan) doneBefore(e *register.Entry) bool {
	if !p.again || e.Number != "" || e.Serial != nil {
		return false
	}
	return !p.leftOut[fmt.Sprint(e.Row)]
}

// resolve finds owner and place by name. Who owned a tool and left owns it still.
func (p *sheetPlan) resolve(e *register.Entry, known *plannedTool) (c sheetChange) {
	c.Change, c.currency = e.Change, cmp.Or(e.Currency, p.d.settings.Currency)
	c.depositCurrency = cmp.Or(e.DepositCurrency, c.currency)
	if known != nil && known.tool.Owner != "" && e.Owner != nil && p.d.person(known.tool.Owner) == *e.Owner {
		c.owner = &known.tool.Owner
	} else if e.Owner != nil {
		o, seen := p.owners[*e.Owner]
		if !seen {
			o.id, o.err = p.d.ownerID(*e.Owner)
			p.owners[*e.Owner] = o
		}
		if o.err != nil {
			p.wrong(p.at(e.Row, "#/owner", "owner", fault.Of(o.err).Error()))
		}
		c.owner = &o.id
	}
	if e.Place != nil {
		o, seen := p.places[*e.Place]
		if !seen {
			o = p.findPlace(*e.Place)
			p.places[*e.Place] = o
		}
		if o.err != nil {
			p.wrong(p.at(e.Row, "#/place", "place", fault.Of(o.err).Error()))
		}
		c.place = &o.id
	}
	return c
}

// toMake marks the id of a place that is not there yet; its path follows.
const toMake = "make "

// findPlace finds a place by its path. Where places may be made, only the whole
// path counts.
func (p *sheetPlan) findPlace(path string) found {
	if !p.in.CreatePlaces {
		at, err := p.d.places.Resolve(path)
		if err != nil {
			f := *fault.Of(err)
			f.Hint += ", or import with --create-places"
			return found{err: &f}
		}
		return found{id: at.ID}
	}
	levels, err := register.SplitPath(path)
	if err != nil {
		return found{err: err}
	}
	at := register.Place{}
	for _, name := range levels {
		next, ok := p.d.places.Child(at.ID, name)
		if !ok {
			return found{id: toMake + strings.Join(levels, "/")}
		}
		at = next
	}
	return found{id: at.ID}
}

// maxAhead is how far beyond the last number of the store one may be claimed:
// numbers never come back, and one mistyped must not use them up.
const maxAhead = 1_000_000

// claims reads the numbers of a row, the one joined last first.
func (p *sheetPlan) claims(e *register.Entry, h *here) (out []numbers.Number) {
	for i, typed := range append([]string{e.Number}, e.Others...) {
		if typed == "" {
			continue
		}
		at := "#/number"
		if i > 0 {
			at = "#/other_numbers"
		}
		n, err := numbers.ParseNumber(typed)
		row, known := h.numbers[string(n)]
		switch {
		case err != nil:
			p.wrong(p.at(e.Row, at, "number", fault.Of(err).Error()))
		case known && row.State == register.Void:
			p.wrong(p.at(e.Row, at, "number", "number "+n.String()+" is void (use another)"))
		case !known && (n.Skipped() || n.Counter() > max(h.last.Counter(), 0)+maxAhead):
			p.wrong(p.at(e.Row, at, "number", "number "+n.String()+" is not one that a shop of this size gives out (leave it empty and the next is drawn)"))
		default:
			out = append(out, n)
		}
	}
	return out
}

func serialOf(c register.Change) store.SerialOf {
	var t register.Tool
	t, _ = register.Change{Kind: &anyKind, Maker: c.Maker, Serial: c.Serial}.Apply(t, "", "USD")
	return store.SerialOf{Maker: t.MakerKey, Serial: t.SerialKey}
}

var anyKind = "tool"

// match finds the tool that a row is about: one of the store, or of a row above.
func (p *sheetPlan) match(e *register.Entry, claims []numbers.Number, h *here) *plannedTool {
	key := serialOf(e.Change)
	bySerial := h.keyed[key]
	if id := h.serials[key]; bySerial == nil && id != "" && key.Serial != "" {
		bySerial = h.of(id)
	}
	for _, n := range claims {
		byNumber := h.claimed[n]
		if id := h.numbers[string(n)].Tool; byNumber == nil && id != "" {
			byNumber = h.of(id)
		}
		if byNumber == nil {
			continue
		}
		if bySerial != nil && bySerial != byNumber || key.Serial != "" && byNumber.tool.SerialKey != "" && byNumber.tool.SerialKey != key.Serial {
			p.wrong(p.at(e.Row, "#/number", "duplicate", fmt.Sprintf("number %s belongs to another tool (%s): leave it empty and the next is drawn", n, p.describe(byNumber))))
		}
		bySerial = byNumber
	}
	return bySerial
}

// of gives the plan for a tool of the store, begun with what it is.
func (h *here) of(id string) *plannedTool {
	t := h.planned[id]
	if t == nil {
		t = &plannedTool{was: h.tools[id], tool: h.tools[id]}
		h.planned[id] = t
	}
	return t
}

func (p *sheetPlan) describe(t *plannedTool) string {
	if t.was.ID == "" {
		return fmt.Sprintf("row %d", t.rows[0])
	}
	s := strings.Join(strings.Fields(t.was.Number.String()+" "+t.was.Kind+" "+t.was.Maker+" "+t.was.Serial), " ")
	if t.was.Gone != 0 {
		s += ", which is gone: " + t.was.GoneWhy
	}
	return s
}

// put puts what a row says over a tool.
func (p *sheetPlan) put(row int, t register.Tool, c sheetChange) (register.Tool, string) {
	if t.DepositCurrency == "" && c.Deposit != nil {
		t.DepositCurrency = c.depositCurrency
	}
	next, err := c.Apply(t, p.today, c.currency)
	if f := fault.Of(err); f != nil {
		for _, field := range f.Fields {
			p.wrong(p.at(row, field.Pointer, "value", field.Detail))
		}
	}
	path := ""
	if c.owner != nil {
		next.Owner = *c.owner
	}
	if next.FromOutside() {
		next.Owner = ""
	}
	if c.place != nil {
		made := false
		if path, made = strings.CutPrefix(*c.place, toMake); made {
			next.Place = ""
		} else {
			path, next.Place = "", *c.place
		}
	}
	return next, path
}

// add plans a new tool.
func (p *sheetPlan) add(e *register.Entry, c sheetChange, claims []numbers.Number, h *here) {
	t := &plannedTool{rows: []int{e.Row}, claims: claims, change: []sheetChange{c}}
	// A tool that was photographed and not yet typed has no kind to be written.
	if p.table.Ours && e.Kind == nil {
		t.tool.Rev = 1
	}
	t.tool, t.place = p.put(e.Row, t.tool, c)
	t.tool.Rev = 0
	if e.Marking != nil {
		t.mark = p.marking(e)
	}
	t.wrongs = p.reports(e)
	p.leaving(e, &t.tool)
	p.noteLinks(e, t)
	if !people.May(p.in.by.Actor, people.EditTool, p.d.object(t.tool)) {
		p.wrong(p.at(e.Row, "#/owner", "forbidden", "you may not register tools of this owner (ask a manager)"))
	}
	if p.missed[e.Row] {
		return
	}
	p.fresh = append(p.fresh, t)
	for _, n := range claims {
		h.claimed[n] = t
	}
	if t.tool.SerialKey != "" {
		h.keyed[store.SerialOf{Maker: t.tool.MakerKey, Serial: t.tool.SerialKey}] = t
	}
}

// marking reads how a new tool's serial is marked.
func (p *sheetPlan) marking(e *register.Entry) *markings.Marking {
	m := markings.Marking{}
	keep := func(pointer string, err error) {
		if err != nil {
			p.wrong(p.at(e.Row, pointer, "value", fault.Of(err).Error()))
		}
	}
	var err error
	m.Method, err = markings.ParseMethod(e.Marking.Method)
	keep("#/marking/method", err)
	if e.Marking.Protection != "" {
		m.Protection, err = markings.ParseProtection(e.Marking.Protection)
		keep("#/marking/protection", err)
	}
	m.Spot, err = names.Line(e.Marking.Where)
	keep("#/marking/where", err)
	return &m
}

// edit plans what a row says of a tool that there is.
func (p *sheetPlan) edit(e *register.Entry, c sheetChange, t *plannedTool, h *here) {
	next, path := p.put(e.Row, t.tool, c)
	p.sameLeaving(e, t)
	p.sameReports(e, t, h)
	if t.was.ID == "" {
		p.noteLinks(e, t)
	} else {
		p.sameLinks(e, t, h)
	}
	if p.missed[e.Row] {
		return
	}
	same := reflect.DeepEqual(next, t.tool) && path == ""
	switch {
	case same && t.was.ID != "":
		p.report.Unchanged++
		return
	case p.in.OnDuplicate == "skip":
		p.report.Skipped++
		return
	case p.in.OnDuplicate == "":
		p.wrong(p.at(e.Row, p.duplicateOf(e), "duplicate", fmt.Sprintf("it is here already: %s (--on-duplicate skip leaves that one as it is, update changes it)", p.describe(t))))
		return
	}
	if why := p.mayNot(t, next, c); why != "" {
		p.wrong(p.at(e.Row, "#/number", "forbidden", why))
		return
	}
	t.tool, t.place = next, cmp.Or(path, t.place)
	t.change = append(t.change, c)
	if t.was.ID == "" { // a row above has added it
		p.report.Updated++
		return
	}
	if len(t.rows) == 0 {
		p.edits = append(p.edits, t)
	}
	t.rows = append(t.rows, e.Row)
}

// duplicateOf is the column by which a row is known again.
func (p *sheetPlan) duplicateOf(e *register.Entry) string {
	if e.Serial != nil {
		return "#/serial"
	}
	return "#/number"
}

// mayNot says why a tool may not be changed so.
func (p *sheetPlan) mayNot(t *plannedTool, next register.Tool, c sheetChange) string {
	by := p.in.by.Actor
	switch {
	case t.was.Gone != 0:
		return "it is " + p.describe(t)
	case !people.May(by, people.EditTool, p.d.object(t.was)), !people.May(by, people.EditTool, p.d.object(next)):
		return "you may not change tools of this owner (ask a manager)"
	case t.was.ID != "" && c.Money() && !people.May(by, people.SeeMoney, p.d.object(t.was)):
		return "you may not change what this tool cost (leave those columns empty, or ask its owner)"
	case t.tool.Currency != "" && next.Currency == t.tool.Currency && c.Money() && c.currency != t.tool.Currency:
		return fmt.Sprintf("its amounts are in %s, and the row's in %s", t.tool.Currency, c.currency)
	case c.Deposit != nil && t.tool.DepositCurrency != "" && c.depositCurrency != t.tool.DepositCurrency:
		return fmt.Sprintf("its deposit is in %s, and the row's in %s", t.tool.DepositCurrency, c.depositCurrency)
	}
	return ""
}
