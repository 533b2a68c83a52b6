package page

import (
	"net/url"
	"strconv"

	"pawl/model"
	"pawl/model/evidence"
	"pawl/model/fault"
	"pawl/model/people"
	"pawl/model/register"
)

// Adding a tool is three short steps, each of which is saved: a photo of the
// plate, which starts the tool; what it is, with its serial twice; the rest,
// which is also how a tool is changed later.
func (p *Pages) addRoutes() []Route {
	return []Route{
		get("/add", p.addStart),
		post("/add", p.addPhoto),
		get("/add/new", p.addNew),
		post("/add/new", p.addRegister),
		get("/add/:number/serial", p.addSerial),
		post("/add/:number/serial", p.addSerialDone),
		get("/add/:number/rest", p.addRest),
		post("/add/:number/rest", p.addRestDone),
		get("/add/:number/photos", p.addMore),
		post("/add/:number/photos", p.addMoreDone),
		get("/add/unfinished", p.unfinished),
		get("/add/unsorted", p.unsorted),
		post("/add/unsorted/:id", p.fileUnsorted),
	}
}

// newOwner is whose a tool is that somebody adds: a technician's own, else the
// shop's, until step three says otherwise.
func newOwner(me people.Actor) string {
	if me.Role == people.Technician {
		return me.Name
	}
	return ""
}

func (p *Pages) addStart(a *Ask) (Reply, error) {
	return Show("add", nil).WithForm(a.R.URL.Query()), nil
}

// addPhoto starts a tool with the photo of its plate; without one there is
// nothing to save yet.
func (p *Pages) addPhoto(a *Ask) (Reply, error) {
	number := a.Value("number")
	if !a.HasFile("plate") {
		return Go("/add/new?" + url.Values{"number": {number}}.Encode()), nil
	}
	photos, err := a.Originals("plate", evidence.Plate)
	if err != nil {
		return a.Again("add", nil, at("plate", err)), nil
	}
	filed, err := p.shop.FilePhotos(a.R.Context(), a.By, register.Photos{Number: number, Start: true, Owner: newOwner(a.Me()), Photos: photos})
	if err != nil {
		if f := fault.Of(err); len(f.Fields) > 0 && fieldName(f.Fields[0].Pointer) == "photos" {
			err = at("plate", err)
		}
		return a.Again("add", nil, err), nil
	}
	return Go("/add/"+string(filed.Number)+"/serial", said(filed.Question)...), nil
}

// at says that a fault is of one field, the picker of a photo, where it names
// none of the form's own.
func at(field string, err error) error {
	f := *fault.Of(err)
	f.Fields = []fault.Field{{Pointer: "#/" + field, Detail: f.Message}}
	return &f
}

// toolToEdit is the tool of the address, for somebody who may change it.
func (p *Pages) toolToEdit(a *Ask) (model.ToolView, error) {
	v, err := p.shop.Tool(a.R.Context(), a.By, a.Param("number"))
	if err == nil && !people.May(a.Me(), people.EditTool, objectOf(v)) {
		err = fault.New(fault.Forbidden, "%s", p.say(a, "add.not-yours", v.Tool.Number, v.Owner))
	}
	return v, err
}

// said is what there is to tell, without what is empty.
func said(texts ...string) (out []string) {
	for _, s := range texts {
		if s != "" {
			out = append(out, s)
		}
	}
	return out
}

// identity is what step two shows: the tool, if it was started, and its plate.
type identity struct {
	Tool   *model.ToolView // nil: a new tool
	Adding bool
	Rev    int64
	Plate  *evidence.Record // the newest photo of it that can be shown
	Has    []Option
}

func (p *Pages) identityData(a *Ask, v *model.ToolView) identity {
	d := identity{Tool: v, Adding: v == nil || adding(a, v), Has: p.Options(a.language(), "add.has.", "serial", "lot", "none", "unreadable")}
	chosen := "serial"
	if v != nil {
		d.Rev = v.Tool.Rev
		for i, e := range v.Evidence {
			if e.Kind == evidence.Plate && e.Withdrawn == 0 && hasView(e) {
				d.Plate = &v.Evidence[i]
			}
		}
		switch {
		case v.Tool.Serial != "":
		case v.Tool.Lot != "":
			chosen = "lot"
		case v.Tool.NoSerial != "":
			chosen = string(v.Tool.NoSerial)
		case v.Tool.Kind != "": // nobody said why, and nobody is made to have said it
			chosen = ""
		}
	}
	for i := range d.Has {
		d.Has[i].Chosen = d.Has[i].Value == chosen
	}
	return d
}

// adding says whether a tool is on its way through the three steps; else it is
// changed.
func adding(a *Ask, v *model.ToolView) bool {
	return v.Tool.Kind == "" || a.Query("step") != "" || a.Value("step") != ""
}

// addressOfRest is step three, which goes on with adding or with changing.
func addressOfRest(number string, adding bool) string {
	if adding {
		return "/add/" + number + "/rest?step=3"
	}
	return "/add/" + number + "/rest"
}

func (p *Pages) addNew(a *Ask) (Reply, error) {
	return Show("addserial", p.identityData(a, nil)).WithForm(a.R.URL.Query()), nil
}

// addRegister registers a tool of which there is no photo yet.
func (p *Pages) addRegister(a *Ask) (Reply, error) {
	c, err := identityOf(a)
	owner := newOwner(a.Me())
	c.Owner = &owner
	var done model.Done
	if err == nil {
		done, err = p.shop.Register(a.R.Context(), a.By, register.New{Number: a.Value("number"), SerialAgain: a.Value("serial_again"), Change: c})
	}
	if err != nil {
		return a.Again("addserial", p.identityData(a, nil), err), nil
	}
	return Go(addressOfRest(string(done.Number), true), p.oddity(a, string(done.Number))...), nil
}

// oddity asks once more about a serial that was just entered and is unlike the
// maker's others.
func (p *Pages) oddity(a *Ask, number string) []string {
	v, err := p.shop.Tool(a.R.Context(), a.By, number)
	if err != nil {
		return nil // the tool is kept; its page says more
	}
	return said(v.Oddity)
}

// identityOf reads what a tool is. Leaving the serial out is said, not slipped
// into, and what was typed is not passed over.
func identityOf(a *Ask) (c register.Change, err error) {
	text := func(name string) *string { v := a.Value(name); return &v }
	c = register.Change{Kind: text("kind"), Maker: text("maker"), Model: text("model"), Lot: text("lot")}
	none, typed := "", a.Value("serial") != "" || a.Value("serial_again") != ""
	switch has := a.Value("has"); has {
	case "serial", "":
		if a.Value("serial") == "" {
			return c, fault.At("#/serial", "no serial number was entered").WithHint("read it from the plate, or choose below that there is none")
		}
		c.Serial, c.SerialAgain = text("serial"), text("serial_again")
	case "lot", string(register.NeverMarked), string(register.Unreadable):
		switch {
		case typed:
			return c, fault.At("#/has", "a serial number was typed as well").WithHint("take it out of its fields, or choose that the tool has one")
		case has == "lot" && a.Value("lot") == "":
			return c, fault.At("#/lot", "no lot code was entered")
		case has == "lot":
			c.NoSerial = &none
		default:
			c.Lot, c.NoSerial = &none, &has
		}
		c.Serial = &none
	default:
		return c, fault.At("#/has", "%q is not one of the choices", has)
	}
	return c, nil
}

func identityValues(v *model.ToolView) url.Values {
	return url.Values{"kind": {v.Tool.Kind}, "maker": {v.Tool.Maker}, "model": {v.Tool.Model}, "serial": {v.Tool.Serial}, "lot": {v.Tool.Lot}}
}

func (p *Pages) addSerial(a *Ask) (Reply, error) {
	v, err := p.toolToEdit(a)
	if err != nil {
		return Reply{}, err
	}
	return Show("addserial", p.identityData(a, &v)).WithForm(identityValues(&v)), nil
}

func (p *Pages) addSerialDone(a *Ask) (Reply, error) {
	v, err := p.toolToEdit(a)
	if err != nil {
		return Reply{}, err
	}
	c, err := identityOf(a)
	if err == nil {
		_, err = p.shop.ChangeTool(a.R.Context(), a.By, string(v.Tool.Number), a.rev(), c)
	}
	if err != nil {
		return a.Again("addserial", p.identityData(a, &v), p.stale(a, &v, identityValues(&v), err)), nil
	}
	return Go(addressOfRest(string(v.Tool.Number), adding(a, &v)), p.oddity(a, string(v.Tool.Number))...), nil
}

// stale tells of a tool that was changed while its form was filled: by whom, and
// which values on record differ from what is typed now. What was typed stays,
// and is saved over them when it is sent once more.
func (p *Pages) stale(a *Ask, v *model.ToolView, is url.Values, err error) error {
	if !fault.Is(err, fault.Stale) {
		return err
	}
	message := p.say(a, "add.stale")
	lines, failed := p.shop.Recent(a.R.Context(), a.By, string(v.Tool.Number), 1)
	if failed == nil && len(lines) > 0 {
		message = p.say(a, "add.stale-by", actorWords(a.language(), lines[0].ActorName))
	}
	return p.overtaken(a, is, v.Tool.Rev, message)
}

// rev is the revision that the form was made from.
func (a *Ask) rev() int64 {
	n, err := strconv.ParseInt(a.Value("rev"), 10, 64)
	if err != nil || n < 1 {
		return 0 // none was read
	}
	return n
}
