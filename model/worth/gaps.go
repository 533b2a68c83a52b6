package worth

import (
	"slices"

	"pawl/model/register"
)

// Gap is one thing without which a tool is harder to prove.
type Gap string

// Gaps, in the order in which they are best mended: what shows that the thing
// existed and whose it was comes first (an assumption).
const (
	NotTyped       Gap = "kind"
	NoSerial       Gap = "serial number"
	NoPlate        Gap = "photo of the serial plate"
	PlateUnshown   Gap = "photo of the serial plate that can be shown"
	NoWhole        Gap = "photo of the whole tool"
	WholeUnshown   Gap = "photo of the whole tool that can be shown"
	ReceiptPrice   Gap = "price on the receipt"
	NoPrice        Gap = "price"
	NoReceipt      Gap = "receipt"
	ReceiptDay     Gap = "day of purchase"
	Fading         Gap = "marking that can still be read"
	Remains        Gap = "photo of what is left of the serial"
	NotLooked      Gap = "look at the marking"
	NoLabel        Gap = "label"
	NoBagLabel     Gap = "label on its bag or box" // of what takes none itself
	NoMarking      Gap = "how the serial is marked"
	NoProtects     Gap = "protection of a printed serial"
	NoOwnersNumber Gap = "permanent number of its owner"
)

// Gaps are all of them, in that order.
var Gaps = []Gap{NotTyped, NoSerial, NoPlate, PlateUnshown, NoWhole, WholeUnshown, ReceiptPrice, NoPrice, NoReceipt, ReceiptDay, Fading, Remains, NotLooked,
	NoLabel, NoBagLabel, NoMarking, NoProtects, NoOwnersNumber}

// Known is what is on record of one tool. What nobody records in this shop is not
// asked for: the pointers are nil then.
type Known struct {
	Tool      register.Tool
	Photos    []string // kinds of its photos and papers that can be shown
	Unshown   []string // kinds of those that no screen and no print can show
	Labelled  bool     // a label was printed for it and none was reported gone
	Marked    bool     // how its serial is marked is on record
	Unguarded bool     // it is printed or a sticker, and nothing protects it
	Priced    bool     // a price or a quote is on record

	Look         *Look // at its marking; nil where marking checks are not on record
	OwnersNumber *bool // it carries a permanent number of its owner's; nil where that is not recorded
}

// Look is what the marking checks of a tool say.
type Look struct {
	Done   bool // there was one within the time that the shop sets itself
	Fading bool // by the last one, it will soon be lost
	Lost   bool // by the last one, a character is gone: no look brings it back
	Photo  bool // the last one has a photo
}

// Missing gives the gaps of one tool, the best to mend first.
func Missing(k Known) (out []Gap) {
	add := func(missing bool, g Gap) {
		if missing {
			out = append(out, g)
		}
	}
	serial := k.Tool.Serial != ""
	add(k.Tool.Kind == "", NotTyped)
	add(!serial && k.Tool.NoSerial == "" && k.Tool.Lot == "", NoSerial)
	if k.Tool.NoSerial != register.NeverMarked {
		out = append(out, k.photo("plate", NoPlate, PlateUnshown)...)
	}
	out = append(out, k.photo("whole", NoWhole, WholeUnshown)...)
	receipt := k.has("receipt")
	add(receipt && k.Tool.Price == nil, ReceiptPrice)
	add(!k.Priced && !receipt, NoPrice)
	add(!receipt && !k.has("account") && !k.has("statement"), NoReceipt)
	add(receipt && k.Tool.Bought == "", ReceiptDay)
	add(k.Look != nil && k.Look.Fading && !k.Look.Lost && !k.Look.Photo, Fading)
	add(k.Look != nil && k.Look.Lost && !k.Look.Photo, Remains)
	add(k.Look != nil && serial && !k.Look.Done, NotLooked)
	sticks := register.TakesLabel(k.Tool.Kind) // never on gloves or insulation
	add(!k.Labelled && sticks, NoLabel)
	add(!k.Labelled && !sticks, NoBagLabel)
	add(serial && !k.Marked, NoMarking)
	add(k.Unguarded && sticks, NoProtects)
	add(k.OwnersNumber != nil && !*k.OwnersNumber && sticks, NoOwnersNumber)
	return out
}

// has says whether there is a photo or paper of the kind, to be shown or not.
func (k Known) has(kind string) bool {
	return slices.Contains(k.Photos, kind) || slices.Contains(k.Unshown, kind)
}

// photo gives what is missing of a photo: all of it, or one that can be shown. Whoever
// is to be convinced sees nothing of a photo that cannot.
func (k Known) photo(kind string, none, unshown Gap) []Gap {
	switch {
	case slices.Contains(k.Photos, kind):
		return nil
	case slices.Contains(k.Unshown, kind):
		return []Gap{unshown}
	}
	return []Gap{none}
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
	case PlateUnshown:
		return "photograph the plate again, as JPEG: pawl evidence add " + number + " --photo plate=FILE"
	case NoWhole:
		return "photograph the whole tool: pawl evidence add " + number + " --photo whole=FILE"
	case WholeUnshown:
		return "photograph the whole tool again, as JPEG: pawl evidence add " + number + " --photo whole=FILE"
	case ReceiptPrice:
		return "type in what the receipt says that it cost: pawl edit " + number + " --price …"
	case NoPrice:
		return "enter what a new one costs: pawl worth quote " + number + " --amount … --source … --date …"
	case NoReceipt:
		return "photograph the receipt: pawl evidence add " + number + " --paper receipt=FILE"
	case ReceiptDay:
		return "type in the day that the receipt says: pawl edit " + number + " --bought …"
	case Fading:
		return "photograph the marking while it can be read, before cleaning it: pawl marking " + number + " --grade … --photo plate=FILE"
	case Remains:
		return "photograph what is left of it, before cleaning it, and tell by it which tool it is: pawl marking " + number + " --grade … --read … --photo plate=FILE; pawl match READING"
	case NotLooked:
		return "look at the marking and photograph it: pawl marking " + number + " --grade … --photo plate=FILE"
	case NoLabel:
		return "print its label and stick it on: pawl labels " + number
	case NoBagLabel:
		return "print its label for its bag or box, never for the thing itself: pawl labels " + number
	case NoMarking:
		return "record how the serial is marked: pawl edit " + number + " --marking …"
	case NoOwnersNumber:
		return "give it a permanent number of its owner's, where the advice on its kind permits: pawl marking " + number + " --owners-number … --method engraved"
	}
	return "protect the marking and record it: pawl marking " + number + " --protection \"clear tape\""
}
