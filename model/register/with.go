package register

import (
	"strings"

	"pawl/model/fault"
	"pawl/model/names"
	"pawl/model/serials"
	"pawl/model/units"
)

// With is a tool that came with another and is registered together with it.
type With struct {
	Kind   string `json:"kind"`
	Serial string `json:"serial,omitempty"`
	Price  string `json:"price,omitempty"` // its own, taken off that of the main tool; empty: not known
}

// MaxWith is the most tools that come with one.
const MaxWith = 20

// ParseWith reads KIND:SERIAL[:PRICE], such as "battery:KD1:49.00". A case has
// no serial number: "case" or "case::12.00".
func ParseWith(text string) (With, error) {
	parts := strings.Split(text, ":")
	if len(parts) > 3 || strings.TrimSpace(parts[0]) == "" {
		return With{}, fault.New(fault.Malformed, "%q is not KIND:SERIAL or KIND:SERIAL:PRICE", text).
			WithHint("such as battery:KD408B217-1:49.00")
	}
	parts = append(parts, "", "")
	return With{Kind: parts[0], Serial: strings.TrimSpace(parts[1]), Price: strings.TrimSpace(parts[2])}, nil
}

// Parts makes the tools that came with t, which was filled from what was entered
// and has its owner and place. They are of its maker, and share its owner,
// place, purchase and warranty. Each price that is stated is taken off that of t,
// so that all together are what the receipt says, to the minor unit.
func Parts(t *Tool, in []With, currency string) ([]Tool, error) {
	var e editor
	if len(in) > MaxWith {
		e.bad.Add("#/with", "%d tools came with it; at most %d are taken at once", len(in), MaxWith)
		return nil, e.bad.Err()
	}
	if t.Currency != "" {
		currency = t.Currency
	}
	out := make([]Tool, 0, len(in))
	first := map[string]string{}
	if t.SerialKey != "" {
		first[t.SerialKey] = t.Kind
	}
	for _, w := range in {
		p := e.part(*t, w, currency)
		if kind, twice := first[p.SerialKey]; twice && p.SerialKey != "" {
			e.bad.Add("#/with", "serial %s of the %s is that of the %s already", p.Serial, p.Kind, kind)
		}
		first[p.SerialKey] = p.Kind
		out = append(out, p)
	}
	e.split(t, out)
	return out, e.bad.Err()
}

// part makes one tool that came with another.
func (e *editor) part(t Tool, w With, currency string) Tool {
	p := Tool{Maker: t.Maker, MakerKey: t.MakerKey, Owner: t.Owner, Place: t.Place, Created: t.Created}
	kind, err := names.Line(w.Kind)
	e.bad.Keep("#/with", err)
	p.Kind = strings.ToLower(strings.Join(strings.Fields(kind), " "))
	if p.Kind == "" {
		e.bad.Add("#/with", "a tool that came with it needs a kind, such as battery")
	}
	if w.Serial != "" {
		clean, err := serials.Check(w.Serial)
		e.bad.Keep("#/with", err)
		p.Serial, p.SerialKey = clean, serials.Key(clean)
	}
	p.Purchase = t.Purchase
	p.Price, p.Tax, p.Owed, p.OwedTo, p.OwedOn, p.Currency = nil, nil, nil, "", "", ""
	if w.Price != "" {
		m, err := units.ParseMoney(w.Price, currency)
		e.bad.Keep("#/with", err)
		p.Price, p.Currency = &m.Minor, m.Currency
	}
	p.Outside = Outside{Outsider: t.Outsider, DueBack: t.DueBack}
	p.CameWith = t.ID
	return p
}

// split takes the stated prices of the parts off that of the main tool.
func (e *editor) split(t *Tool, parts []Tool) {
	if t.Price == nil {
		return
	}
	left := *t.Price
	for _, p := range parts {
		if p.Price != nil {
			left -= *p.Price
		}
	}
	if left < 0 {
		whole := units.Money{Minor: *t.Price, Currency: t.Currency}
		over := units.Money{Minor: -left, Currency: t.Currency}
		e.bad.Add("#/with", "the prices of what came with it are %s more than the %s paid for all together", over, whole)
		return
	}
	t.Price = &left
}
