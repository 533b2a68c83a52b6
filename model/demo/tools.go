package demo

import (
	"fmt"

	"pawl/model/register"
)

// tool is one tool of the story, as a person would enter it.
type tool struct {
	kind, maker, model, serial, owner, place string
	price, bought, seller                    string
	usage, marking, protection               string
	outside                                  string
	pieces                                   register.Pieces
	with                                     []register.With
	noWhole, noReceipt                       bool // what is not there to prove it
}

// wrench is the impact wrench of the errand; it comes first in the stock.
var wrench = tool{kind: "impact wrench", maker: "Brindle", model: "BX-900", serial: "KD408B217", owner: "Tech A", place: "Bay 1/Cart",
	price: "289.00", bought: "2026-10-01", seller: "Counter sale", usage: "daily", marking: "printed", protection: "none",
	with: []register.With{{Kind: "battery", Serial: "KB-20417", Price: "64.00"}, {Kind: "charger", Serial: "KC-5518"}}}

// lines of the stock: a kind, how many, what one costs, where and how it is
// marked.
var lines = []struct {
	kind, code string
	many       int
	price      int // of the first, in whole dollars
	place      string
	usage      string
	marking    string
	pieces     register.Pieces
}{
	{"torque wrench", "TW", 6, 214, "Bay 1/Wall board", "weekly", "engraved", nil},
	{"impact driver", "ID", 5, 159, "Bay 2/Cart", "daily", "printed", nil},
	{"impact wrench", "IW", 5, 249, "Bay 1/Cart", "daily", "printed", nil},
	{"multimeter", "MM", 4, 188, "Bay 2/Cart", "weekly", "sticker", nil},
	{"socket set", "SS", 8, 96, "Bay 1/Cart", "daily", "", register.Pieces{{Name: "10 mm socket", Count: 1}, {Name: "13 mm socket", Count: 1}, {Name: "extension", Count: 2}, {Name: "ratchet", Count: 1}}},
	{"floor jack", "FJ", 3, 342, "Bay 2/Lift side", "daily", "stamped", nil},
	{"jack stand", "JS", 8, 58, "Bay 2/Lift side", "daily", "cast", nil},
	{"caliper", "CA", 5, 74, "Stockroom/Drawer 3", "weekly", "etched", nil},
	{"micrometer", "MC", 3, 118, "Stockroom/Drawer 3", "rare", "etched", nil},
	{"dial indicator", "DI", 3, 87, "Stockroom/Drawer 3", "rare", "etched", nil},
	{"tire pressure gauge", "PG", 5, 48, "Bay 1/Wall board", "daily", "printed", nil},
	{"fuel pressure gauge", "FG", 2, 133, "Stockroom/Drawer 2", "rare", "sticker", nil},
	{"ratchet", "RA", 10, 62, "Bay 1/Cart", "daily", "printed", nil},
	{"breaker bar", "BB", 4, 55, "Bay 2/Cart", "weekly", "stamped", nil},
	{"pry bar", "PB", 6, 31, "Bay 2/Cart", "weekly", "", nil},
	{"ball joint press", "BP", 2, 176, "Stockroom/Drawer 1", "rare", "stamped", nil},
	{"bearing puller", "PU", 4, 92, "Stockroom/Drawer 1", "rare", "", nil},
	{"cordless drill", "DR", 5, 139, "Bay 1/Cart", "daily", "printed", nil},
	{"battery", "BA", 10, 64, "Bay 1/Cart", "daily", "sticker", nil},
	{"charger", "CH", 4, 49, "Bay 1/Cart", "daily", "sticker", nil},
	{"work light", "WL", 6, 44, "Bay 2/Cart", "daily", "sticker", nil},
	{"heat gun", "HG", 2, 71, "Stockroom/Drawer 2", "rare", "printed", nil},
	{"soldering station", "SO", 2, 166, "Stockroom/Drawer 2", "rare", "sticker", nil},
	{"insulating gloves", "GL", 3, 83, "Stockroom/Drawer 2", "rare", "printed", nil},
	{"infrared thermometer", "IR", 2, 79, "Bay 2/Cart", "weekly", "sticker", nil},
	{"tread depth gauge", "TD", 4, 22, "Bay 1/Wall board", "daily", "printed", nil},
	{"brake bleeder", "BL", 2, 121, "Stockroom/Drawer 1", "weekly", "sticker", nil},
	{"screwdriver set", "SD", 8, 54, "Bay 1/Cart", "daily", "", register.Pieces{{Name: "flat", Count: 3}, {Name: "cross", Count: 3}}},
	{"hammer", "HA", 4, 28, "Van", "weekly", "", nil},
	{"inspection camera", "IC", 2, 205, "Stockroom/Drawer 2", "rare", "sticker", nil},
}

var (
	makers = []string{"Brindle", "Ostrel", "Volune", "Marrowby", "Holmfast", "Kettwig"}
	owners = []string{"shop", "Tech A", "Tech B", "shop", "Tech C"}
)

// stock is every tool of the story, the wrench of the errand first.
func stock() []tool {
	all := []tool{wrench}
	for k, l := range lines {
		for i := range l.many {
			n := k*17 + i*29
			t := tool{kind: l.kind, maker: makers[(k+i)%len(makers)], model: fmt.Sprintf("%s-%d", l.code, 100+n%9*50), owner: owners[(k+i)%len(owners)],
				place: l.place, price: fmt.Sprintf("%d.%02d", l.price+i*3, n%100), bought: fmt.Sprintf("%d-%02d-%02d", 2021+n%4, 1+n%12, 1+n%28),
				seller: []string{"Fennwick Supply", "Counter sale"}[n%2], usage: l.usage, marking: l.marking, pieces: l.pieces, noWhole: n%2 == 1, noReceipt: n%4 == 3}
			if l.marking != "" {
				t.serial, t.protection = fmt.Sprintf("%s%d-%05d", l.code, k, 10007+n*613%89993), []string{"none", "none", "clear tape", "lacquer"}[n%4]
			}
			all = append(all, t)
		}
	}
	all[len(all)-1].owner, all[len(all)-1].outside = "", "Breakwater Parts"
	return all
}

// entry is what register takes.
func (t tool) entry() register.New {
	months := int64(24)
	in := register.New{SerialAgain: t.serial, With: t.with, Change: register.Change{Kind: &t.kind, Maker: &t.maker, Model: &t.model, Serial: &t.serial,
		Owner: &t.owner, Place: &t.place, Price: &t.price, Bought: &t.bought, Seller: &t.seller, Usage: &t.usage, WarrantyMonths: &months}}
	if t.marking != "" {
		in.Marking = &register.MarkingEntry{Method: t.marking, Protection: t.protection}
	}
	if t.pieces != nil {
		in.Pieces = &t.pieces
	}
	if t.outside != "" {
		in.Owner, in.OwnerOutside = nil, &t.outside
	}
	return in
}
