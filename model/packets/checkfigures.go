package packets

import (
	"cmp"
	"fmt"
	"slices"

	"pawl/model/claims"
	"pawl/model/dates"
	"pawl/model/evidence"
	"pawl/model/ledger"
	"pawl/model/markings"
	"pawl/model/proofs"
	"pawl/model/register"
	"pawl/model/worth"
)

// hung is what the proofs show of what hangs on tools, each by its tool.
type hung struct {
	quotes   map[string][]worth.Quote // as they were entered
	lines    map[string][]ledger.Image
	checks   map[string][]markings.Check
	markings map[string][]markings.Marking
}

// hanging reads them, once for all lines. What is withheld is not among them, and excuses
// nothing: whatever a statement tells goes along with its image.
func (c *Checked) hanging() hung {
	h := hung{map[string][]worth.Quote{}, map[string][]ledger.Image{}, map[string][]markings.Check{}, map[string][]markings.Marking{}}
	for _, noun := range []string{"quote", "loss line", "check", "marking"} {
		for _, id := range c.Proven.IDs(noun) {
			if c.Proven.Records[proofs.RecordID{Noun: noun, ID: id}].After == nil {
				continue
			}
			if image := c.image(noun, id); image != nil {
				h.take(noun, id, image)
			}
		}
	}
	for _, quotes := range h.quotes {
		slices.SortStableFunc(quotes, func(a, b worth.Quote) int { return cmp.Compare(a.Entered, b.Entered) })
	}
	return h
}

func (h hung) take(noun, id string, image ledger.Image) {
	tool := textOf(image, "tool")
	switch noun {
	case "quote":
		h.quotes[tool] = append(h.quotes[tool], quoteOf(image))
	case "loss line":
		h.lines[tool] = append(h.lines[tool], image)
	case "check":
		h.checks[tool] = append(h.checks[tool], markings.Check{ID: id, Tool: tool, Marking: textOf(image, "marking"), On: dates.Date(textOf(image, "day")), Grade: numberOf(image, "grade"),
			Evidence: textOf(image, "evidence"), Entered: instantOf(image, "entered"), Withdrawn: instantOf(image, "withdrawn")})
	case "marking":
		h.markings[tool] = append(h.markings[tool], markings.Marking{ID: id, Tool: tool, Shows: textOf(image, "shows"), Code: textOf(image, "code"), Spot: textOf(image, "spot"), Ended: dates.Date(textOf(image, "ended"))})
	}
}

func textOf(image ledger.Image, column string) string { s, _ := image[column].(string); return s }

func instantOf(image ledger.Image, column string) dates.Instant {
	n, _ := image[column].(int64)
	return dates.Instant(n)
}

// numberOf is a column that may be empty.
func numberOf(image ledger.Image, column string) *int64 {
	if n, is := image[column].(int64); is {
		return &n
	}
	return nil
}

func quoteOf(image ledger.Image) worth.Quote {
	return worth.Quote{Tool: textOf(image, "tool"), Amount: numberOf(image, "amount"), Currency: textOf(image, "currency"), Source: textOf(image, "source"),
		Dated: dates.Date(textOf(image, "dated")), Of: worth.Of(textOf(image, "basis")), Entered: instantOf(image, "entered")}
}

// figures holds a replacement cost, and a market value, to the quote or the price that each
// is from, by the rule that they were chosen by. Image is the tool's own; nil: withheld.
func (c *Checked) figures(l claims.Line, image ledger.Image, h hung) {
	if !l.Money {
		image = nil // its quotes are withheld as well
	}
	var paid register.Tool
	paid.Price, paid.Currency, paid.Seller, paid.Bought = numberOf(image, "price"), textOf(image, "currency"), textOf(image, "seller"), dates.Date(textOf(image, "bought"))
	shown, _ := worth.CostOf(paid, h.quotes[l.Tool], c.Currency)
	c.figure(l.Line, "replacement cost", told(l.Replacement, l.CostOf, l.CostSource, l.CostDated), shown)
	shown = nil
	if c.Has(claims.AddMarket) {
		shown = worth.MarketOf(h.quotes[l.Tool], c.Currency)
	}
	c.figure(l.Line, "market value", told(l.Market, worth.FromQuote, l.MarketBy, l.MarketDated), shown)
}

func told(amount *int64, of, source string, dated dates.Date) *worth.Cost {
	if amount == nil {
		return nil
	}
	return &worth.Cost{Amount: *amount, Of: of, Source: source, Dated: dated}
}

func (c *Checked) figure(line int64, what string, says, shown *worth.Cost) {
	if says, is := figureWords(says), figureWords(shown); says != is {
		c.Problem("line %d says of the %s %s, and its lines in the ledger show %s", line, what, says, is)
	}
}

func figureWords(f *worth.Cost) string {
	if f == nil {
		return "none"
	}
	return fmt.Sprintf("%d by %.20s of %.60q on %.20q", f.Amount, f.Of, f.Source, f.Dated)
}

// graded holds the grade of a photo to the looks at its tool's markings.
func (c *Checked) graded(l claims.Line, f claims.File, h hung) {
	var shown claims.File
	if f.Kind == string(evidence.Plate) {
		if last := markings.LookOf(f.Record, h.checks[l.Tool], h.markings[l.Tool]); last != nil {
			shown.Grade, shown.Graded = last.Grade, last.On
		}
	}
	if says, is := gradeWords(f), gradeWords(shown); says != is {
		c.Problem("line %d says of %s %s, and its lines in the ledger show %s", l.Line, f.Ref, says, is)
	}
}

func gradeWords(f claims.File) string {
	if f.Grade == nil && f.Graded == "" {
		return "no grade"
	}
	return fmt.Sprintf("grade %s on %.20q", plain(f.Grade), f.Graded)
}
