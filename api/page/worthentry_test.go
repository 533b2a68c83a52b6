package page_test

import (
	"strings"
	"testing"
)

// A quote is entered on the page of what a tool is worth, and what its condition takes
// off; whoever may not see its money sees neither.
func TestWorthIsEnteredOnAPage(t *testing.T) {
	b := openBay(t)
	tool := b.tool("pry bar")
	at := tool + "/worth"
	page := b.boss.open(at).says("no price", "Enter what one costs", "New or used").without("What its condition takes off")
	page.press("Keep this quote", "amount=lots", "source=", "date=2199-01-01").with(422).says("is not an amount of money", "who quotes it is missing", "is after today")
	page = page.press("Keep this quote", "amount=40.00", "source=Brindle dealer", "date=2026-11-02").says("The quote is kept.", "40.00 USD", "quoted by Brindle dealer, 2 Nov 2026", "(hand tools, assumed)")
	page.press("Keep this quote", "amount=40.00", "source=Brindle dealer", "date=2026-11-02").with(409).says("on record already")
	page.press("Keep this", "share=1.5", "reason=").with(422).says("is not a share from 0 to 1", "the reason is missing")
	page = page.press("Keep this", "share=0.5", "reason=tip bent").says("Kept.", "20.00 USD", "times 0.5 for its condition: tip bent")
	page.press("Keep this", "share=", "reason=").says("Kept.").without("for its condition")
	b.boss.open(tool).says("What it is worth")
	b.boss.open("/worth").says("40.00 USD", "quoted by Brindle dealer", "hand tools: 240 months, floor 0.2 (assumed)")

	b.techA.open(at).with(404).says("is its owner's to show").without("40.00")
	b.techA.open(tool).without("What it is worth")
	b.boss.open("/worth/quotes").choose("Take them in", "spreadsheet", "quotes.csv", []byte("number,amount,source,date\n000-000,x,,2026-11-03\n")).with(422).
		says("Row 2, number", "Row 2, amount", "who quotes it is missing")
	b.boss.open("/worth/quotes").press("Take them in").with(422).says("choose")
	b.boss.open("/worth/quotes").choose("Take them in", "spreadsheet", "quotes.csv", []byte("number,amount,source,date\n"+strings.TrimPrefix(tool, "/t/")+",45.00,Ostrel dealer,2026-11-03\n")).
		says("Quotes added: 1. On record already: 0.", "45.00 USD")
	b.boss.open("/worth/quotes").press("Enter it for this tool", "number=000-000").with(422).says("is not a tool number")
}

// A policy is entered as it stands on its papers, changed and ended; what was changed
// meanwhile is told.
func TestAPolicyOnAPage(t *testing.T) {
	b := openBay(t)
	page := b.boss.open(b.boss.open("/worth").says("None is recorded that you may see.").link("Enter a policy"))
	page.press("Keep it", "name=Shop contents", "limit=18,000", "deductible=", "order=first", "sublimits=theft").with(422).
		says("is not an amount of money", "deductible is missing", "is no step of an order", "is not NAME=AMOUNT")
	typed := []string{"name=Shop contents", "owner=shop", "limit=18000", "deductible=250", "basis=rcv", "coinsurance=0.8", "other_covered_value=12000",
		"employees=yes", "sublimits=employees=2500\ntheft=10000", "order=ratio,deductible,limit", "holdback_days=180"}
	b.boss.open("/worth/policy").press("Keep it", typed...).says("Shop contents is recorded.", "18000.00 USD", "employees’ own tools too")
	edit := b.boss.open("/worth").link("Change or end it")
	page = b.boss.open(edit).says("Shop contents", "employees=2500.00 theft=10000.00")
	b.boss.open(edit).press("Keep it", "limit=24000").says("Shop contents is changed.", "24000.00 USD")
	page.press("Keep it", "limit=20000").with(412).says("This policy was changed while its form was filled.", "24000.00")
	b.techA.open("/worth").without("Shop contents")
	b.boss.open(edit).press("End it").says("Shop contents is no longer in force.", "None is recorded")
	b.techA.open("/worth/policy").press("Keep it", "name=Mine", "limit=3000", "deductible=0", "basis=acv", "owner=Tech A").says("Mine is recorded.")
	b.boss.open("/worth").without("Mine")
}
