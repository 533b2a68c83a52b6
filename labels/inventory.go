package labels

import (
	"fmt"
	"io"
	"strings"

	"pawl/model/claims"
	"pawl/model/sheets"
	"pawl/model/units"
)

// inventoryColumn is a column of the inventory (identity-labels-evidence 6.2): its cells
// have the words of the other papers.
type inventoryColumn struct {
	title  string
	cell   func(claims.Statement, claims.Line) string
	amount bool
	sum    func(claims.Totals) claims.Sum // of an amount with a total
	added  claims.Addition                // only where this was asked for
}

func textColumn(title string, get func(claims.Line) string) inventoryColumn {
	return inventoryColumn{title: title, cell: func(_ claims.Statement, l claims.Line) string { return get(l) }}
}

// moneyColumn is a column of amounts: plain decimals, the currency is a column of its own.
func moneyColumn(title string, get func(claims.Line) *int64, sum func(claims.Totals) claims.Sum) inventoryColumn {
	return inventoryColumn{title: title, amount: true, sum: sum, cell: func(s claims.Statement, l claims.Line) string { return decimal(s, get(l)) }}
}

func decimal(s claims.Statement, minor *int64) string {
	if minor == nil {
		return ""
	}
	return units.Money{Minor: *minor, Currency: s.Currency}.Decimal()
}

// only makes a column one that is asked for.
func (c inventoryColumn) only(a claims.Addition) inventoryColumn { c.added = a; return c }

var inventoryColumns = []inventoryColumn{
	{title: "line", amount: true, cell: func(_ claims.Statement, l claims.Line) string { return fmt.Sprint(l.Line) }},
	{title: "supplement", amount: true, cell: func(_ claims.Statement, l claims.Line) string { return fmt.Sprint(l.Supplement) }},
	textColumn("quantity", claims.Line.Quantity),
	textColumn("description", claims.Line.Words),
	textColumn("set contents", claims.Line.Contents),
	textColumn("maker", func(l claims.Line) string { return l.Maker }),
	textColumn("model or catalog number", func(l claims.Line) string { return l.Model }),
	textColumn("serial as read", claims.Line.SerialMarked),
	textColumn("how it was read", claims.Line.SerialSure),
	textColumn("serial normalized", claims.Line.Normalized),
	textColumn("lot code", func(l claims.Line) string { return l.Lot }),
	textColumn("owner's number", func(l claims.Line) string { return l.OwnersNo }),
	textColumn("owner's number is at", func(l claims.Line) string { return l.OwnersNoAt }),
	textColumn("tool number (label, peels off)", func(l claims.Line) string { return l.Number }),
	textColumn("owner", func(l claims.Line) string { return l.Owner }),
	textColumn("size, color, marks", func(l claims.Line) string { return l.Notes }),
	textColumn("date acquired", func(l claims.Line) string { return string(l.Bought) }),
	textColumn("where bought", func(l claims.Line) string { return l.Seller }),
	moneyColumn("price before tax", func(l claims.Line) *int64 { return l.Price }, func(t claims.Totals) claims.Sum { return t.Price }),
	moneyColumn("tax", func(l claims.Line) *int64 { return l.Tax }, func(t claims.Totals) claims.Sum { return t.Tax }),
	textColumn("receipt", claims.Line.Receipt),
	moneyColumn("money owed on it", func(l claims.Line) *int64 { return l.Owed }, func(t claims.Totals) claims.Sum { return t.Owed }),
	textColumn("owed to", func(l claims.Line) string { return l.OwedTo }),
	{title: "age", cell: func(s claims.Statement, l claims.Line) string { return s.Age(l) }},
	textColumn("condition before the loss", func(l claims.Line) string { return l.Condition }),
	moneyColumn("replacement cost", func(l claims.Line) *int64 { return l.Replacement }, func(t claims.Totals) claims.Sum { return t.Replacement }),
	{title: "replacement cost is from", cell: func(_ claims.Statement, l claims.Line) string {
		if l.Replacement == nil {
			return ""
		}
		return l.CostWords()
	}},
	moneyColumn("actual cash value", func(l claims.Line) *int64 { return l.ActualCash }, func(t claims.Totals) claims.Sum { return t.ActualCash }).only(claims.AddActualCash),
	textColumn("arithmetic of the actual cash value", func(l claims.Line) string { return l.Working }).only(claims.AddActualCash),
	moneyColumn("market value", func(l claims.Line) *int64 { return l.Market }, func(t claims.Totals) claims.Sum { return t.Market }).only(claims.AddMarket),
	textColumn("market value is from", func(l claims.Line) string {
		if l.Market == nil {
			return ""
		}
		return l.MarketWords()
	}).only(claims.AddMarket),
	moneyColumn("amount claimed", claimedStill, func(t claims.Totals) claims.Sum { return t.Claimed }),
	{title: "currency", cell: func(s claims.Statement, _ claims.Line) string { return s.Currency }},
	{title: "last seen", cell: func(s claims.Statement, l claims.Line) string { return lossSeen(s, l)[0].value }},
	textColumn("left behind", func(l claims.Line) string { return l.LeftBehind }),
	{title: "of this loss", cell: func(s claims.Statement, l claims.Line) string { return lossState(s, l)[0].value }},
	textColumn("recovered", func(l claims.Line) string { return recovered(l).value }),
	{title: "on record since", cell: since},
	{title: "photos and papers", cell: shownBy},
	textColumn("files in the annex", filesInAnnex),
	textColumn("added on purpose", func(l claims.Line) string { return strings.Join(l.Extra, "; ") }),
}

// claimedStill is what is asked for a tool that did not come back: what the column adds up.
func claimedStill(l claims.Line) *int64 {
	if l.Recovered != "" {
		return nil
	}
	return l.Claimed
}

// filesInAnnex names each file by its path, and its digest.
func filesInAnnex(l claims.Line) string {
	var all []string
	for _, f := range l.Files {
		at := f.Path
		if left := f.Missing(); left != "" {
			at = "NOT IN THE ANNEX: " + left + ","
		}
		all = append(all, fmt.Sprintf("%s %s sha256:%s", f.Ref, at, f.SHA256))
	}
	return strings.Join(all, "; ")
}

// InventoryXLSX writes the inventory as a spreadsheet: amounts are numbers, all else is
// text.
func InventoryXLSX(w io.Writer, s claims.Statement) error {
	if err := s.Check(); err != nil {
		return err
	}
	var amounts []int
	for i, c := range inventoryOf(s) {
		if c.amount {
			amounts = append(amounts, i)
		}
	}
	to, err := sheets.NewXLSX(w, "Inventory", amounts...)
	if err != nil {
		return err
	}
	return inventory(to, s)
}

// InventoryCSV writes the inventory as CSV for spreadsheets: with a byte order mark, and
// guarded against being taken for formulas.
func InventoryCSV(w io.Writer, s claims.Statement) error {
	if err := s.Check(); err != nil {
		return err
	}
	return inventory(sheets.NewCSV(w, sheets.CSVOptions{BOM: true, Guard: true}), s)
}

// inventoryOf gives the columns that a statement shows.
func inventoryOf(s claims.Statement) (out []inventoryColumn) {
	for _, c := range inventoryColumns {
		if c.added == "" || s.Has(c.added) {
			out = append(out, c)
		}
	}
	return out
}

func inventory(to sheets.Writer, s claims.Statement) error {
	columns := inventoryOf(s)
	row := make([]string, len(columns))
	write := func(cell func(inventoryColumn) string) error {
		for i, c := range columns {
			row[i] = strings.Join(strings.Fields(cell(c)), " ")
		}
		return to.Write(row)
	}
	if err := write(func(c inventoryColumn) string { return c.title }); err != nil {
		return err
	}
	for _, l := range s.Lines {
		if err := write(func(c inventoryColumn) string { return c.cell(s, l) }); err != nil {
			return err
		}
	}
	totals := s.Totals()
	err := write(func(c inventoryColumn) string {
		switch {
		case c.title == "description":
			return strings.Join([]string{"Total of " + units.Count(totals.Lines, "line") + ".", claimedBack(s, totals), claims.NoAdvice}, " ")
		case c.title == "currency":
			return s.Currency
		case c.sum == nil:
			return ""
		}
		sum := c.sum(totals)
		if sum.Of == 0 {
			return ""
		}
		return decimal(s, &sum.Minor)
	})
	if err != nil {
		return err
	}
	return to.Close()
}
