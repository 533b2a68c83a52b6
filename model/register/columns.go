package register

import (
	"strings"

	"golang.org/x/text/unicode/norm"

	"pawl/model/fault"
	"pawl/model/numbers"
	"pawl/model/units"
)

// Form is how a column is read: as it stands, as a day, an amount of money, a
// whole number, or a serial number, which a spreadsheet may have damaged.
type Form int

const (
	Words Form = iota
	Day
	Amount
	Whole
	Code
)

// Column is one column of a spreadsheet of tools.
type Column struct {
	Key     string // for programs: the header of exact files, the name in JSON
	Header  string // in words
	Pointer string // where the value stands in a fault of Change.Apply
	Form    Form
	Money   bool // hidden from those who may not see the money of a tool
	Later   bool // of a day: it may be in the future

	also []string // other headers that people use
	set  func(*Entry, string)
	get  func(Record) string
}

// Record is a tool as it is written into a spreadsheet.
type Record struct {
	Tool    Tool
	Owner   string // by name; the shop is "shop"
	Place   string // path
	Others  []numbers.Number
	Marking MarkingEntry
	Links   Links    // as printed
	Reports []Report // that are open
}

// Entry is what one row of a spreadsheet says of a tool. Empty cells say nothing.
type Entry struct {
	Row int
	New
	Currency        string   // of the amounts; empty is the shop's
	DepositCurrency string   // of the deposit; empty is Currency
	Others          []string // other numbers that the tool answers to
	Links           Links    // as typed
	Gone            Leaving
	Reports         []Report
}

// Get writes the cell of a tool.
func (c Column) Get(r Record) string { return c.get(r) }

// marking is the entry's marking, begun where there was none.
func (e *Entry) marking() *MarkingEntry {
	if e.Marking == nil {
		e.Marking = &MarkingEntry{}
	}
	return e.Marking
}

func money(minor func(Purchase) *int64) func(Record) string {
	return func(r Record) string { return decimal(r.Tool.Purchase.Money(minor(r.Tool.Purchase))) }
}

func decimal(m *units.Money) string {
	if m == nil {
		return ""
	}
	return m.Decimal()
}

// text is a column that is kept as it stands.
func text(key, header, pointer string, field func(*Change) **string, get func(Tool) string, also ...string) Column {
	return Column{Key: key, Header: header, Pointer: pointer, also: also,
		set: func(e *Entry, s string) { *field(&e.Change) = &s },
		get: func(r Record) string { return get(r.Tool) }}
}

func (c Column) form(f Form) Column {
	c.Form = f
	return c
}

func (c Column) hidden() Column {
	c.Money = true
	return c
}

func (c Column) later() Column {
	c.Later = true
	return c
}

func (c Column) from(get func(Record) string) Column {
	c.get = get
	return c
}

// Columns lists every column, in the order in which they are written.
var Columns = []Column{
	{Key: "number", Header: "Number", Pointer: "#/number", also: []string{"tool number", "label", "tag", "label number"},
		set: func(e *Entry, s string) { e.Number = s }, get: func(r Record) string { return r.Tool.Number.String() }},
	{Key: "other_numbers", Header: "Other numbers", Pointer: "#/other_numbers", also: []string{"earlier numbers", "numbers"},
		set: func(e *Entry, s string) { e.Others = strings.Fields(s) }, get: others},
	text("kind", "Kind", "#/kind", func(c *Change) **string { return &c.Kind }, func(t Tool) string { return t.Kind },
		"type", "tool", "description", "tool type", "what", "category"),
	text("maker", "Maker", "#/maker", func(c *Change) **string { return &c.Maker }, func(t Tool) string { return t.Maker },
		"manufacturer", "brand", "make", "mfr", "mfg"),
	text("model", "Model", "#/model", func(c *Change) **string { return &c.Model }, func(t Tool) string { return t.Model },
		"model number", "part number", "catalog number", "p/n"),
	text("serial", "Serial number", "#/serial", func(c *Change) **string { return &c.Serial }, func(t Tool) string { return t.Serial },
		"s/n", "ser no", "sno").form(Code),
	text("no_serial", "Why no serial", "#/no_serial", func(c *Change) **string { return &c.NoSerial }, func(t Tool) string { return string(t.NoSerial) }),
	text("lot", "Lot code", "#/lot", func(c *Change) **string { return &c.Lot }, func(t Tool) string { return t.Lot },
		"lot", "batch", "date code"),
	text("owner", "Owner", "#/owner", func(c *Change) **string { return &c.Owner }, nil, "owned by", "belongs to").
		from(func(r Record) string { return r.Owner }),
	text("owner_outside", "Owner outside", "#/owner_outside", func(c *Change) **string { return &c.OwnerOutside }, func(t Tool) string { return t.Outsider },
		"outsider", "borrowed from", "loaned by"),
	text("place", "Place", "#/place", func(c *Change) **string { return &c.Place }, nil, "location", "where", "drawer", "bay", "kept in").
		from(func(r Record) string { return r.Place }),
	text("usage", "Usage", "#/usage", func(c *Change) **string { return &c.Usage }, func(t Tool) string { return string(t.Usage) },
		"used", "how often"),
	{Key: "marking", Header: "Marking", Pointer: "#/marking/method", also: []string{"marking method", "how marked"},
		set: func(e *Entry, s string) { e.marking().Method = s }, get: func(r Record) string { return r.Marking.Method }},
	{Key: "protection", Header: "Protection", Pointer: "#/marking/protection", also: []string{"marking protection"},
		set: func(e *Entry, s string) { e.marking().Protection = s }, get: func(r Record) string { return r.Marking.Protection }},
	{Key: "marking_where", Header: "Where marked", Pointer: "#/marking/where", also: []string{"marking where", "marking place"},
		set: func(e *Entry, s string) { e.marking().Where = s }, get: func(r Record) string { return r.Marking.Where }},
	{Key: "pieces", Header: "Pieces", Pointer: "#/pieces", also: []string{"contents", "loose pieces", "set contents"},
		set: (*Entry).setPieces, get: pieces},
	text("bought", "Purchase date", "#/bought", func(c *Change) **string { return &c.Bought }, func(t Tool) string { return string(t.Bought) },
		"date purchased", "purchased", "bought on", "date bought", "date of purchase", "purchased on").form(Day).hidden(),
	text("bought_as", "Bought as", "#/bought_as", func(c *Change) **string { return &c.BoughtAs }, func(t Tool) string { return string(t.BoughtAs) },
		"new or used", "bought new or used").hidden(),
	text("price", "Price", "#/price", func(c *Change) **string { return &c.Price }, nil,
		"purchase price", "cost", "price paid", "paid", "amount", "unit price").form(Amount).hidden().
		from(money(func(p Purchase) *int64 { return p.Price })),
	text("tax", "Tax", "#/tax", func(c *Change) **string { return &c.Tax }, nil, "sales tax", "vat").form(Amount).hidden().
		from(money(func(p Purchase) *int64 { return p.Tax })),
	{Key: "currency", Header: "Currency", Pointer: "#/currency", Money: true,
		set: func(e *Entry, s string) { e.Currency = strings.ToUpper(strings.TrimSpace(s)) },
		get: func(r Record) string { return r.Tool.Currency }},
	text("seller", "Seller", "#/seller", func(c *Change) **string { return &c.Seller }, func(t Tool) string { return t.Seller },
		"supplier", "vendor", "dealer", "bought from", "purchased from", "store").hidden(),
	text("terms", "Terms", "#/terms", func(c *Change) **string { return &c.Terms }, func(t Tool) string { return string(t.Terms) },
		"payment terms").hidden(),
	text("owed", "Owed", "#/owed", func(c *Change) **string { return &c.Owed }, nil, "balance", "still owed", "balance owed").form(Amount).hidden().
		from(money(func(p Purchase) *int64 { return p.Owed })),
	text("owed_to", "Owed to", "#/owed_to", func(c *Change) **string { return &c.OwedTo }, func(t Tool) string { return t.OwedTo },
		"creditor").hidden(),
	text("owed_on", "Owed on", "#/owed_on", func(c *Change) **string { return &c.OwedOn }, func(t Tool) string { return string(t.OwedOn) },
		"balance date").form(Day).hidden(),
	text("deposit", "Deposit", "#/deposit", func(c *Change) **string { return &c.Deposit }, nil, "deposit paid").form(Amount).hidden().
		from(func(r Record) string { return decimal(r.Tool.DepositMoney()) }),
	{Key: "deposit_currency", Header: "Deposit currency", Pointer: "#/deposit_currency", Money: true,
		set: func(e *Entry, s string) { e.DepositCurrency = strings.ToUpper(strings.TrimSpace(s)) },
		get: func(r Record) string { return r.Tool.DepositCurrency }},
	text("due_back", "Due back", "#/due_back", func(c *Change) **string { return &c.DueBack }, func(t Tool) string { return string(t.DueBack) },
		"give back by").form(Day).later(),
	{Key: "warranty_months", Header: "Warranty months", Pointer: "#/warranty_months", Form: Whole, also: []string{"warranty"},
		set: (*Entry).setWarranty, get: warrantyMonths},
	text("warranty_from", "Warranty from", "#/warranty_from", func(c *Change) **string { return &c.WarrantyFrom }, func(t Tool) string { return string(t.WarrantyFrom) },
		"warranty start", "warranty begins").form(Day).later(),
	{Key: "came_with", Header: "Came with", Pointer: "#/came_with",
		set: func(e *Entry, s string) { e.Links.CameWith = s }, get: func(r Record) string { return r.Links.CameWith }},
	{Key: "exchanged_from", Header: "Took the place of", Pointer: "#/exchanged_from",
		set: func(e *Entry, s string) { e.Links.ExchangedFrom = s }, get: func(r Record) string { return r.Links.ExchangedFrom }},
	{Key: "wrong", Header: "Something wrong", Pointer: "#/wrong", also: []string{"do not use"}, set: (*Entry).setReports, get: reports},
	{Key: "gone", Header: "Gone", Pointer: "#/gone", also: []string{"gone why"},
		set: func(e *Entry, s string) { e.Gone.Why = s }, get: func(r Record) string { return r.Tool.GoneWhy }},
	{Key: "gone_on", Header: "Gone on", Pointer: "#/gone_on", Form: Day,
		set: func(e *Entry, s string) { e.Gone.On = s }, get: func(r Record) string { return string(r.Tool.GoneOn) }},
	{Key: "gone_note", Header: "Gone note", Pointer: "#/gone_note",
		set: func(e *Entry, s string) { e.Gone.Note = s }, get: func(r Record) string { return r.Tool.GoneNote }},
	text("notes", "Notes", "#/notes", func(c *Change) **string { return &c.Notes }, func(t Tool) string { return t.Notes },
		"note", "remarks", "comments", "comment"),
}

func others(r Record) string {
	all := make([]string, len(r.Others))
	for i, n := range r.Others {
		all[i] = n.String()
	}
	return strings.Join(all, " ")
}

// Keys are the headers of an exact file; Headers those of one for people.
var Keys, Headers = func() (keys, headers []string) {
	for _, c := range Columns {
		keys, headers = append(keys, c.Key), append(headers, c.Header)
	}
	return keys, headers
}()

var columnsByHeader = func() map[string]int {
	m := map[string]int{}
	for i, c := range Columns {
		for _, h := range append([]string{c.Key, c.Header}, c.also...) {
			h = FoldHeader(h)
			if other, taken := m[h]; taken && other != i {
				panic("register: the header " + h + " means two columns")
			}
			m[h] = i
		}
	}
	return m
}()

// numberWords are ways of writing "number" in a header.
var numberWords = map[string]bool{"number": true, "num": true, "nbr": true, "nr": true, "no": true, "numero": true}

// FoldHeader makes equal what differs only in case, spaces, punctuation and ways
// of writing "number": "Serial #", "serial no." and "SERIAL-NUMBER" are one.
func FoldHeader(h string) string {
	for {
		folded := foldHeader(h)
		if folded == h {
			return folded
		}
		h = folded
	}
}

func foldHeader(h string) string {
	h = strings.ReplaceAll(strings.ToLower(norm.NFKC.String(h)), "#", " no ")
	words := strings.FieldsFunc(h, func(r rune) bool { return !isWordRune(r) })
	for i, w := range words {
		if numberWords[w] {
			words[i] = "no"
		}
	}
	return strings.ReplaceAll(strings.Join(words, ""), "number", "no")
}

// ColumnOf finds the column that a header means.
func ColumnOf(header string) (Column, bool) {
	i, ok := columnsByHeader[FoldHeader(header)]
	if !ok {
		return Column{}, false
	}
	return Columns[i], true
}

// ColumnByKey finds a column by its key or a header of it.
func ColumnByKey(key string) (Column, error) {
	c, ok := ColumnOf(key)
	if !ok {
		return Column{}, fault.New(fault.Invalid, "%q is not a column of ours", key).WithHint("there are %s", strings.Join(Keys, ", "))
	}
	return c, nil
}
