package cli

import (
	"strconv"

	"github.com/urfave/cli/v2"

	"pawl/api/wire"
	"pawl/model/fault"
)

// toolField is a flag that enters one value of a tool, and the member of the
// wire that carries it.
type toolField struct{ flag, member, usage string }

var toolFields = []toolField{
	{"kind", "kind", "what it is, as `KIND`: impact wrench, torque wrench, jack …"},
	{"maker", "maker", "its `MAKER`"},
	{"model", "model", "the maker's `MODEL`"},
	{"serial", "serial", "the serial number as `READ` from the tool"},
	{"serial-again", "serial_again", "the serial number `READ` a second time"},
	{"no-serial", "no_serial", "`WHY` there is no serial: none, or unreadable"},
	{"lot", "lot", "a lot `CODE`, where the number is not its own"},
	{"owner", "owner", "`NAME` of the person whose tool it is; else the shop's"},
	{"place", "place", "where it belongs, as `PATH`: Bay 1/Cart"},
	{"usage", "usage", "`HOW` often it is in hand: daily, weekly or rare"},
	{"notes", "notes", "anything else, as `TEXT`"},
	{"bought", "bought", "`DAY` it was bought, as 2026-10-02"},
	{"bought-as", "bought_as", "`WHAT` it was when bought: new, or used"},
	{"price", "price", "price before tax, as `AMOUNT`: 289.00"},
	{"tax", "tax", "tax on it, as `AMOUNT`"},
	{"seller", "seller", "`WHO` sold it"},
	{"terms", "terms", "`TERMS` of the purchase: paid, or \"on account\""},
	{"owed", "owed", "`AMOUNT` still owed on it"},
	{"owed-to", "owed_to", "to `WHOM` it is owed"},
	{"owed-on", "owed_on", "the `DAY` of which that is true"},
	{"warranty-from", "warranty_from", "first `DAY` of the warranty; else the day it was bought"},
	{"owner-outside", "owner_outside", "`NAME` of the one whose tool it is, who is not of the shop"},
	{"deposit", "deposit", "`AMOUNT` left for it with its owner"},
	{"due-back", "due_back", "the `DAY` by which it goes back to its owner"},
}

// toolFlags are the flags by which register and edit enter values.
func toolFlags() []cli.Flag {
	var flags []cli.Flag
	for _, f := range toolFields {
		flags = append(flags, value(f.flag, f.usage))
	}
	return append(flags,
		value("marking", "`HOW` the serial is marked: printed, sticker, engraved, etched, stamped or cast"),
		value("protection", "`WHAT` protects the marking: none, \"clear tape\" or lacquer"),
		value("marking-where", "`WHERE` on the tool the marking is"),
		value("warranty-months", "warranty of `N` months"),
		values("piece", "a loose `PIECE` of the set: \"10 mm socket\", \"extension*2\"; once for each"),
		values("photo", "photo of it, as `[KIND=]FILE`: plate=plate.jpg; without a kind, of the whole tool"),
		values("paper", "paper of it, as `[KIND=]FILE`: receipt=receipt.pdf; without a kind, a receipt"),
	)
}

// toolChange gathers the values that were given, by member.
func toolChange(c *cli.Context) (map[string]any, error) {
	change := map[string]any{}
	for _, f := range toolFields {
		if c.IsSet(f.flag) {
			change[f.member] = c.String(f.flag)
		}
	}
	if c.IsSet("marking") || c.IsSet("protection") || c.IsSet("marking-where") {
		change["marking"] = map[string]string{
			"method": c.String("marking"), "protection": c.String("protection"), "where": c.String("marking-where"),
		}
	}
	if c.IsSet("warranty-months") {
		months, err := monthsOf(c.String("warranty-months"))
		if err != nil {
			return nil, err
		}
		change["warranty_months"] = months
	}
	if c.IsSet("piece") {
		pieces, err := piecesOf(c.StringSlice("piece"))
		if err != nil {
			return nil, err
		}
		change["pieces"] = pieces
	}
	return change, nil
}

// monthsOf reads a number of months; empty is none.
func monthsOf(s string) (int64, error) {
	if s == "" {
		return 0, nil
	}
	n, err := strconv.ParseInt(s, 10, 64)
	if err != nil {
		return 0, fault.New(fault.Malformed, "--warranty-months is %q", s).WithHint("give a whole number, such as 24")
	}
	return n, nil
}

// piecesOf reads the pieces of a set; one empty text is none.
func piecesOf(texts []string) (wire.Pieces, error) {
	pieces := wire.Pieces{}
	if len(texts) == 1 && texts[0] == "" {
		return pieces, nil
	}
	for _, t := range texts {
		piece, err := wire.ParsePiece(t)
		if err != nil {
			return nil, err
		}
		pieces = append(pieces, piece)
	}
	return pieces, nil
}
