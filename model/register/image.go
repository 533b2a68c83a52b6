package register

import (
	"encoding/json"

	"pawl/model/fault"
	"pawl/model/ledger"
	"pawl/model/units"
)

// FromImage gives what would have to be entered to get a tool like the one that
// an image of elsewhere shows, but for owner and place. It is to be applied like
// any entry: the image is somebody else's word.
func FromImage(image ledger.Image) (c Change, err error) {
	text := func(column string) *string {
		if v, ok := image[column].(string); ok {
			return &v
		}
		return nil
	}
	currency, _ := image["currency"].(string)
	money := func(column string) *string {
		minor, ok := image[column].(int64)
		if !ok {
			return nil
		}
		v := units.Money{Minor: minor, Currency: currency}.Decimal()
		return &v
	}
	c = Change{
		Kind: text("kind"), Maker: text("maker"), Model: text("model"), Serial: text("serial"), NoSerial: text("no_serial"), Lot: text("lot"), Usage: text("usage"),
		Notes: text("notes"), Bought: text("bought"), BoughtAs: text("bought_as"), Price: money("price"), Tax: money("tax"), Seller: text("seller"), Terms: text("terms"),
		Owed: money("owed"), OwedTo: text("owed_to"), OwedOn: text("owed_on"), WarrantyFrom: text("warranty_from"),
	}
	if months, ok := image["warranty_months"].(int64); ok {
		c.WarrantyMonths = &months
	}
	if raw := text("pieces"); raw != nil {
		var p Pieces
		if err := json.Unmarshal([]byte(*raw), &p); err != nil {
			return c, fault.New(fault.Malformed, "its pieces cannot be read").WithCause(err)
		}
		c.Pieces = &p
	}
	return c, nil
}

// EarlierNumbers gives the numbers that an image of elsewhere says it had before
// it came there.
func EarlierNumbers(image ledger.Image) (out Texts) {
	text, _ := image["earlier_numbers"].(string)
	if json.Unmarshal([]byte(text), &out) != nil || len(out) > 100 {
		return nil
	}
	return out
}
