package page

import (
	"net/url"
	"slices"
	"strconv"
	"strings"

	"pawl/api/page/words"
	"pawl/model"
	"pawl/model/evidence"
	"pawl/model/fault"
	"pawl/model/markings"
	"pawl/model/people"
	"pawl/model/register"
	"pawl/model/units"
)

// rest is what step three shows, and what is shown to change a tool.
type rest struct {
	Tool        *model.ToolView
	Adding      bool
	Money       bool
	Currency    string
	Outside     bool // it belongs to somebody who is not of the shop
	Owners      []Option
	Places      []Option
	Usages      []Option
	Boughts     []Option
	Terms       []Option
	Methods     []Option
	Protections []Option
	HasReceipt  bool
	HasWhole    bool
	TakesLabel  bool
	Cautions    []string
}

func (p *Pages) restData(a *Ask, v *model.ToolView) (d rest, err error) {
	lang := a.language()
	d = rest{Tool: v, Adding: adding(a, v), Money: v.MoneyShown, Currency: v.Tool.Currency, Outside: v.Tool.FromOutside(),
		TakesLabel: register.TakesLabel(v.Tool.Kind), Cautions: register.Cautions(v.Tool.Kind)}
	if d.Currency == "" {
		now, err := p.shop.Settings(a.R.Context())
		if err != nil {
			return d, err
		}
		d.Currency = now.Currency
	}
	if d.Owners, err = p.ownerOptions(a, v); err != nil {
		return d, err
	}
	if d.Places, err = p.placeOptions(a); err != nil {
		return d, err
	}
	d.Usages = p.optionsOrNone(lang, "usage.", string(register.Daily), string(register.Weekly), string(register.Rare))
	d.Boughts = p.optionsOrNone(lang, "bought-as.", string(register.BoughtAsNew), string(register.BoughtUsed))
	d.Terms = p.optionsOrNone(lang, "terms.", string(register.Paid), string(register.OnAccount))
	d.Methods, d.Protections = p.markingOptions(lang, v)
	for _, e := range v.Evidence {
		d.HasReceipt = d.HasReceipt || e.Kind == evidence.Receipt && e.Withdrawn == 0
		d.HasWhole = d.HasWhole || e.Kind == evidence.Whole && e.Withdrawn == 0
	}
	return d, nil
}

// markingOptions are the ways of marking and protecting a serial. What is
// recorded can be changed, not unsaid.
func (p *Pages) markingOptions(lang words.Language, v *model.ToolView) (methods, protections []Option) {
	for _, m := range markings.Methods {
		methods = append(methods, p.Options(lang, "marking.", string(m))...)
	}
	for _, m := range markings.Protections {
		protections = append(protections, p.Options(lang, "protection.", string(m))...)
	}
	unsaid := Option{Label: words.Say(lang, "add.not-said")}
	last := lastMarking(v)
	if last.Method == "" {
		methods = slices.Insert(methods, 0, unsaid)
	}
	if last.Protection == "" {
		protections = slices.Insert(protections, 0, unsaid)
	}
	return methods, protections
}

// lastMarking is the one that shows the maker's serial now.
func lastMarking(v *model.ToolView) markings.Marking {
	m, _ := markings.Current(v.Markings)
	return m
}

// optionsOrNone puts "not said" before the choices.
func (p *Pages) optionsOrNone(lang words.Language, prefix string, values ...string) []Option {
	return append([]Option{{Label: words.Say(lang, "add.not-said")}}, p.Options(lang, prefix, values...)...)
}

// ownerOptions are those to whom the asker may give the tool: the shop and
// people who are here.
func (p *Pages) ownerOptions(a *Ask, v *model.ToolView) ([]Option, error) {
	out := []Option{{Value: "shop", Label: p.say(a, "add.owner-shop")}}
	all, err := p.shop.People(a.R.Context(), a.By)
	for _, one := range all {
		if one.ID == v.Tool.Owner || people.May(a.Me(), people.EditTool, people.Object{Owner: one.ID}) {
			out = append(out, Option{Value: one.Name, Label: one.Name})
		}
	}
	return out, err
}

func (p *Pages) placeOptions(a *Ask) ([]Option, error) {
	out := []Option{{Label: p.say(a, "add.no-place")}}
	all, err := p.shop.Places(a.R.Context(), a.By)
	for _, one := range all {
		out = append(out, Option{Value: one.Path, Label: one.Path})
	}
	return out, err
}

// restValues fills the form with what is known.
func restValues(v *model.ToolView) url.Values {
	money := func(m *units.Money) string {
		if m == nil {
			return ""
		}
		return m.Decimal()
	}
	t, mark := v.Tool, lastMarking(v)
	out := url.Values{
		"owner": {v.Owner}, "place": {v.Place}, "usage": {string(t.Usage)}, "notes": {t.Notes}, "bought": {string(t.Bought)}, "bought_as": {string(t.BoughtAs)}, "seller": {t.Seller},
		"price": {money(t.Money(t.Price))}, "tax": {money(t.Money(t.Tax))}, "terms": {string(t.Terms)}, "owed": {money(t.Money(t.Owed))}, "owed_to": {t.OwedTo}, "owed_on": {string(t.OwedOn)},
		"warranty_months": {""}, "warranty_from": {string(t.WarrantyFrom)}, "pieces": {strings.Join(pieceLines(t.Pieces), "\n")},
		"marking": {string(mark.Method)}, "protection": {string(mark.Protection)}, "where": {mark.Spot},
	}
	if t.Owner == "" {
		out.Set("owner", "shop")
	}
	if t.WarrantyMonths != 0 {
		out.Set("warranty_months", strconv.FormatInt(t.WarrantyMonths, 10))
	}
	return out
}

// pieceLines writes the loose pieces of a set as they are read: a line each,
// with a count where there are several.
func pieceLines(pieces register.Pieces) (out []string) {
	for _, one := range pieces {
		line := one.Name
		if one.Count != 1 || strings.Contains(one.Name, "*") {
			line += "*" + strconv.Itoa(one.Count)
		}
		out = append(out, line)
	}
	return out
}

func (p *Pages) addRest(a *Ask) (Reply, error) {
	v, err := p.toolToEdit(a)
	if err != nil {
		return Reply{}, err
	}
	d, err := p.restData(a, &v)
	return p.restPage(a, Show("addrest", d).WithForm(restValues(&v)), d.Adding), err
}

// restPage names the window of a tool that is not added but changed.
func (p *Pages) restPage(a *Ask, r Reply, adding bool) Reply {
	if !adding {
		r.title = p.say(a, "add.edit")
	}
	return r
}

// restPhotos are the pickers of step three, with what each shows.
var restPhotos = []struct {
	field string
	kind  evidence.Kind
}{{"receipt", evidence.Receipt}, {"whole", evidence.Whole}}

// addRestDone files the photos first: what is refused comes back without them,
// since a browser does not keep a file, and then they are filed already.
func (p *Pages) addRestDone(a *Ask) (Reply, error) {
	v, err := p.toolToEdit(a)
	if err != nil {
		return Reply{}, err
	}
	var asked []string
	for _, pick := range restPhotos {
		question, err := p.attach(a, v, pick.field, pick.kind)
		if err != nil {
			return p.restAgain(a, v, err)
		}
		asked = append(asked, question)
	}
	c, err := p.restOf(a, &v)
	var done model.Done
	if err == nil {
		done, err = p.shop.ChangeTool(a.R.Context(), a.By, string(v.Tool.Number), a.rev(), c)
	}
	if err != nil {
		return p.restAgain(a, v, err)
	}
	if !adding(a, &v) {
		return Go(toolPath(done.Number), said(append(asked, p.say(a, "add.kept", done.Number))...)...), nil
	}
	d, err := p.toolData(a, string(done.Number))
	if err != nil {
		return Reply{}, err
	}
	told := append(asked, p.say(a, "add.kept-new", done.Number, p.say(a, "tool.label-again")))
	return Go(toolPath(done.Number), said(append(told, d.Advised...)...)...), nil
}

// restAgain shows step three again, with the photos that were filed meanwhile.
func (p *Pages) restAgain(a *Ask, before model.ToolView, refused error) (Reply, error) {
	v, err := p.toolToEdit(a)
	if err != nil {
		return Reply{}, err
	}
	d, err := p.restData(a, &v)
	if err != nil {
		return Reply{}, err
	}
	r := a.Again("addrest", d, p.stale(a, &v, restValues(&v), refused))
	if n := len(v.Evidence) - len(before.Evidence); n > 0 {
		r.said = []string{p.say(a, "add.filed-already", n)}
	}
	return p.restPage(a, r, d.Adding), nil
}

// attach files what was chosen in one picker under the tool. The same photo of
// the same form is not filed twice; another one is.
func (p *Pages) attach(a *Ask, v model.ToolView, field string, kind evidence.Kind) (question string, err error) {
	photos, err := a.Originals(field, kind)
	if err != nil || len(photos) == 0 {
		if err != nil {
			err = at(field, err)
		}
		return "", err
	}
	by := a.By
	for _, photo := range photos {
		by.Key = also(by.Key, photo.SHA256)
	}
	done, err := p.shop.Attach(a.R.Context(), by, string(v.Tool.Number), photos)
	if err != nil {
		return "", at(field, err)
	}
	return done.Question, nil
}

// restOf reads step three. What the asker may not see was not in the form, and
// stays as it is.
func (p *Pages) restOf(a *Ask, v *model.ToolView) (c register.Change, err error) {
	text := func(name string) *string {
		if !a.Has(name) {
			return nil
		}
		s := a.Value(name)
		return &s
	}
	is := restValues(v)
	c = register.Change{Place: text("place"), Usage: text("usage"), Notes: text("notes"), WarrantyFrom: text("warranty_from")}
	if owner := text("owner"); owner != nil && *owner != is.Get("owner") {
		c.Owner = owner
	}
	if v.MoneyShown {
		c.Bought, c.BoughtAs, c.Price, c.Tax, c.Seller, c.Terms = text("bought"), text("bought_as"), text("price"), text("tax"), text("seller"), text("terms")
		c.Owed, c.OwedTo, c.OwedOn = text("owed"), text("owed_to"), text("owed_on")
	}
	var bad fault.Problems
	if months := a.Value("warranty_months"); a.Has("warranty_months") {
		var n int64
		if months != "" {
			if n, err = strconv.ParseInt(months, 10, 64); err != nil {
				bad.Add("#/warranty_months", "%q is not a number of months", months)
			}
		}
		c.WarrantyMonths = &n
	}
	if a.Has("pieces") {
		pieces, err := piecesOf(a.Value("pieces"))
		bad.Keep("#/pieces", err)
		c.Pieces = &pieces
	}
	c.Marking = markingOf(a, is)
	if c.Marking != nil && c.Marking.Method == "" {
		bad.Add("#/marking", "%s", p.say(a, "add.say-method"))
	}
	return c, bad.Err()
}

// markingOf is how the serial is marked where that was said or changed.
func markingOf(a *Ask, is url.Values) *register.MarkingEntry {
	m := register.MarkingEntry{Method: a.Value("marking"), Protection: a.Value("protection"), Where: a.Value("where")}
	if m.Method == is.Get("marking") && m.Protection == is.Get("protection") && m.Where == is.Get("where") {
		return nil
	}
	return &m
}

// piecesOf reads the loose pieces of a set, a line each.
func piecesOf(lines string) (out register.Pieces, err error) {
	for _, line := range strings.Split(lines, "\n") {
		if strings.TrimSpace(line) == "" {
			continue
		}
		one, err := register.ParsePiece(line)
		if err != nil {
			return nil, err
		}
		out = append(out, one)
	}
	return out, nil
}
