package demo

import "pawl/model/register"

// tool is one tool of the story, as a person would enter it.
type tool struct {
	kind, maker, model, serial, owner, place string
	price, bought, seller                    string
	usage, marking, protection               string
	pieces                                   register.Pieces
}

var tools = []tool{
	{"impact wrench", "Brindle", "BX-900", "KD408B217", "Tech A", "Bay 1/Cart", "289.00", "2026-10-01", "Counter sale", "daily", "printed", "none", nil},
	{"torque wrench", "Ostrel", "T-200", "OT2-11876", "shop", "Bay 1/Wall board", "214.50", "2026-02-17", "Fennwick Supply", "weekly", "engraved", "none", nil},
	{"impact driver", "Brindle", "BD-300", "KD511A090", "Tech B", "Bay 2/Cart", "159.00", "2026-06-05", "Counter sale", "daily", "printed", "clear tape", nil},
	{"multimeter", "Volune", "VM-7", "7V-004418", "shop", "Bay 2/Cart", "188.00", "2025-11-20", "Fennwick Supply", "weekly", "sticker", "none", nil},
	{"socket set", "Marrowby", "MS-46", "", "Tech A", "Bay 1/Cart", "96.40", "2025-08-14", "Counter sale", "daily", "", "",
		register.Pieces{{Name: "10 mm socket", Count: 1}, {Name: "13 mm socket", Count: 1}, {Name: "extension", Count: 2}, {Name: "ratchet", Count: 1}}},
	{"floor jack", "Holmfast", "HJ-3", "HF3300215", "shop", "Bay 2/Lift side", "342.00", "2024-04-09", "Fennwick Supply", "daily", "stamped", "none", nil},
	{"caliper", "Ostrel", "C-150", "C15-77120", "shop", "Stockroom/Drawer 3", "74.00", "2025-01-22", "Fennwick Supply", "weekly", "etched", "none", nil},
	{"tire pressure gauge", "Kettwig", "KG-100", "KG100-5531", "shop", "Bay 1/Wall board", "48.90", "2026-03-30", "Counter sale", "daily", "printed", "lacquer", nil},
}

// entry is what register takes.
func (t tool) entry() register.New {
	months := int64(24)
	in := register.New{SerialAgain: t.serial, Change: register.Change{Kind: &t.kind, Maker: &t.maker, Model: &t.model, Serial: &t.serial,
		Owner: &t.owner, Place: &t.place, Price: &t.price, Bought: &t.bought, Seller: &t.seller, Usage: &t.usage, WarrantyMonths: &months}}
	if t.marking != "" {
		in.Marking = &register.MarkingEntry{Method: t.marking, Protection: t.protection}
	}
	if t.pieces != nil {
		in.Pieces = &t.pieces
	}
	return in
}
