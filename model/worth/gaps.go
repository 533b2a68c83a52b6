package worth

import (
	"cmp"
	"slices"
	"strings"

	"pawl/model/register"
)

// Gap is one thing without which a tool is harder to prove.
type Gap string

// Gaps, in the order in which they are best mended: what shows that the thing
// existed and whose it was comes first (an assumption).
const (
	NoSerial   Gap = "serial number"
	NoPlate    Gap = "photo of the serial plate"
	NoWhole    Gap = "photo of the whole tool"
	NoPrice    Gap = "price"
	NoReceipt  Gap = "receipt"
	NoLabel    Gap = "label"
	NoMarking  Gap = "how the serial is marked"
	NoProtects Gap = "protection of a printed serial"
	NotTyped   Gap = "kind"
)

// Gaps are all of them, in that order.
var Gaps = []Gap{NotTyped, NoSerial, NoPlate, NoWhole, NoPrice, NoReceipt, NoLabel, NoMarking, NoProtects}

// Known is what is on record of one tool.
type Known struct {
	Tool      register.Tool
	Photos    []string // kinds of its photos and papers
	Labelled  bool     // a label was printed for it and none was reported gone
	Marked    bool     // how its serial is marked is on record
	Unguarded bool     // it is printed or a sticker, and nothing protects it
	Priced    bool     // a price or a quote is on record
}

// Missing gives the gaps of one tool, the best to mend first.
func Missing(k Known) (out []Gap) {
	has := func(kinds ...string) bool {
		return slices.ContainsFunc(k.Photos, func(p string) bool { return slices.Contains(kinds, p) })
	}
	add := func(missing bool, g Gap) {
		if missing {
			out = append(out, g)
		}
	}
	add(k.Tool.Kind == "", NotTyped)
	serial := k.Tool.Serial != ""
	add(!serial && k.Tool.NoSerial == "" && k.Tool.Lot == "", NoSerial)
	add(!has("plate") && k.Tool.NoSerial != register.NeverMarked, NoPlate)
	add(!has("whole"), NoWhole)
	add(!k.Priced, NoPrice)
	add(!has("receipt", "account", "statement"), NoReceipt)
	add(!k.Labelled, NoLabel)
	add(serial && !k.Marked, NoMarking)
	add(k.Unguarded, NoProtects)
	return out
}

// Next says what to do about a gap first.
func (g Gap) Next(number string) string {
	switch g {
	case NotTyped:
		return "type in what it is: pawl edit " + number + " --kind …"
	case NoSerial:
		return "read the serial twice: pawl edit " + number + " --serial …"
	case NoPlate:
		return "photograph the plate, before cleaning it: pawl evidence add " + number + " --photo plate=FILE"
	case NoWhole:
		return "photograph the whole tool: pawl evidence add " + number + " --photo whole=FILE"
	case NoPrice:
		return "enter what a new one costs: pawl worth quotes quotes.csv"
	case NoReceipt:
		return "photograph the receipt: pawl evidence add " + number + " --paper receipt=FILE"
	case NoLabel:
		return "print its label and stick it on: pawl labels " + number
	case NoMarking:
		return "record how the serial is marked: pawl edit " + number + " --marking …"
	}
	return "protect the marking and record it: pawl edit " + number + " --protection \"clear tape\""
}

// Row is a tool with its gaps and the money at stake; nil is not known.
type Row struct {
	Number string
	Cost   *int64
	Gaps   []Gap
}

// Sort puts the dearest first, then those without a price, by number.
func Sort(rows []Row) {
	slices.SortFunc(rows, func(a, b Row) int {
		switch {
		case a.Cost != nil && b.Cost == nil:
			return -1
		case a.Cost == nil && b.Cost != nil:
			return 1
		case a.Cost != nil && *a.Cost != *b.Cost:
			return cmp.Compare(*b.Cost, *a.Cost)
		}
		return strings.Compare(a.Number, b.Number)
	})
}
