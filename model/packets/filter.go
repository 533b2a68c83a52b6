package packets

import (
	"pawl/model/claims"
	"pawl/model/dates"
	"pawl/model/evidence"
	"pawl/model/ledger"
	"pawl/model/worth"
)

// Filter says of each line of the ledger about the tools of a statement whether what it
// says goes along, or only that something was recorded. Lines come by rising place: whose
// a tool was then decides about its price and papers.
type Filter struct {
	tools map[string]claims.Line
	files map[string]claims.File // by id of the record
	owner map[string]string      // of each tool, as far as the lines came
	all   claims.Statement
}

// NewFilter begins one.
func NewFilter(s claims.Statement) *Filter {
	f := &Filter{tools: map[string]claims.Line{}, files: map[string]claims.File{}, owner: map[string]string{}, all: s}
	for _, l := range s.Lines {
		f.tools[l.Tool] = l
		for _, one := range l.Files {
			f.files[one.Record] = one
		}
	}
	for _, one := range s.Files {
		f.files[one.Record] = one
	}
	return f
}

// Shows says whether the image of a line goes along.
func (f *Filter) Shows(line ledger.Line, image ledger.Image) bool {
	if image == nil {
		return false
	}
	if line.Noun == "tool" {
		f.owner[line.ID], _ = image["owner"].(string)
		l, here := f.tools[line.ID]
		return here && l.Money && f.owner[line.ID] == l.OwnerID && image["outsider"] == nil
	}
	if line.Noun == "evidence" {
		one, named := f.files[line.ID]
		return named && (!one.Copy && one.Left == "" || image["claimed_place"] == nil)
	}
	if line.Noun == "loss" {
		return f.all.Loss != nil && f.all.Loss.ID == line.ID
	}
	l, here := f.of(line)
	if !here {
		return false
	}
	switch line.Noun {
	case "number", "marking", "check", "loss line":
		return true
	case "quote":
		if image["basis"] != nil && !f.all.Has(claims.AddMarket) {
			return false
		}
		return l.Money && (f.owner[l.Tool] == l.OwnerID || f.named(l, image))
	case "loan":
		return image["job"] == nil || f.all.Has(claims.AddJobs)
	}
	return false
}

// named says whether a quote is one that the line itself tells: that one is shown whoever
// owned the tool when it came, or nothing could hold the line to it.
func (f *Filter) named(l claims.Line, image ledger.Image) bool {
	q := quoteOf(image)
	if q.Amount == nil || q.Currency != f.all.Currency {
		return false
	}
	of := func(amount *int64, source string, dated dates.Date) bool {
		return amount != nil && *amount == *q.Amount && source == q.Source && dated == q.Dated
	}
	if q.Of == worth.OfUsed {
		return of(l.Market, l.MarketBy, l.MarketDated)
	}
	return q.Of == worth.OfNew && l.CostOf == worth.FromQuote && of(l.Replacement, l.CostSource, l.CostDated)
}

// of finds the line of the statement that a line of the ledger is about.
func (f *Filter) of(line ledger.Line) (l claims.Line, here bool) {
	for _, id := range line.Tools {
		if l, here = f.tools[id]; here {
			return l, true
		}
	}
	return l, false
}

// Owners follows whose tools were when papers about them came.
type Owners struct {
	tool  map[string]string
	Paper map[string]string // by id of evidence: whose its tool was
}

// NewOwners begins one.
func NewOwners() *Owners { return &Owners{map[string]string{}, map[string]string{}} }

// Take takes in one line, by rising place.
func (o *Owners) Take(line ledger.Line, image ledger.Image) {
	switch line.Noun {
	case "tool":
		o.tool[line.ID], _ = image["owner"].(string)
	case "evidence":
		kind, _ := image["kind"].(string)
		tool, _ := image["tool"].(string)
		if _, known := o.Paper[line.ID]; !known && tool != "" && !evidence.Kind(kind).Photo() {
			o.Paper[line.ID] = o.tool[tool]
		}
	}
}
