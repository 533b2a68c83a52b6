package page

import (
	"net/url"
	"strings"

	"pawl/api/page/words"
	"pawl/model"
	"pawl/model/custody"
	"pawl/model/evidence"
	"pawl/model/fault"
	"pawl/model/register"
)

func (p *Pages) placeRoutes() []Route {
	return []Route{
		get("/places", p.placesPage), post("/places", p.addPlace),
		get("/p/:code", p.placePage),
		post("/p/:code/rename", p.placeAct("place.renamed", func(a *Ask, place string) (model.PlaceView, error) {
			return p.shop.RenamePlace(a.R.Context(), a.By, place, a.Value("name"))
		})),
		post("/p/:code/move", p.placeAct("place.moved", func(a *Ask, place string) (model.PlaceView, error) {
			return p.shop.MovePlace(a.R.Context(), a.By, place, a.Value("to"))
		})),
		post("/p/:code/whose", p.placeAct("place.given", func(a *Ask, place string) (model.PlaceView, error) {
			return p.shop.GivePlace(a.R.Context(), a.By, place, a.Value("person"))
		})),
		post("/p/:code/photo", p.placeAct("place.photographed", p.photographPlace)),
		post("/p/:code/close", p.closePlace),
		get("/out", p.outPage),
	}
}

// placesData is what the page of the tree shows.
type placesData struct {
	Places []model.PlacePart
	Leads  bool // the asker may add one
}

func (p *Pages) placesData(a *Ask) (v placesData, err error) {
	v.Leads = a.leads()
	v.Places, err = p.shop.PlaceTree(a.R.Context(), a.By)
	return v, err
}

// Deep is how many places a path is in.
func (placesData) Deep(path string) int { return strings.Count(path, "/") }

func (p *Pages) placesPage(a *Ask) (Reply, error) {
	v, err := p.placesData(a)
	return Show("places", v), err
}

func (p *Pages) addPlace(a *Ask) (Reply, error) {
	added, err := p.shop.AddPlace(a.R.Context(), a.By, a.Value("path"))
	if err != nil {
		v, failed := p.placesData(a)
		if failed != nil {
			return Reply{}, failed
		}
		return a.Again("places", v, err), nil
	}
	return Go(placePath(added.Code), p.say(a, "places.added", added.Path)), nil
}

// placePath is the page of a place, by the code on its label.
func placePath(code string) string { return "/p/" + url.PathEscape(code) }

// placeData is what the page of a place shows.
type placeData struct {
	model.PlaceShown
	Groups []placeGroup // its tools, those that are not here first
	Leads  bool         // the asker may rename and move it
	Sheet  string       // address of the printed sheet
	Below  string       // of those of everything in it; empty: nothing is in it
	Up     *Link        // what it is in
	To     []Option     // where it can go
	People []Option
}

// placeGroup is the tools of a place that are in one state.
type placeGroup struct {
	Title string
	Tools []model.PlaceTool
}

// Photo is the newest photo that a browser can show.
func (d placeData) Photo() *evidence.Record {
	for i := range d.Photos {
		if hasView(d.Photos[i]) {
			return &d.Photos[i]
		}
	}
	return nil
}

// symbolOf is what the label of a place carries.
func symbolOf(a *Ask) string { return "P/" + strings.ToUpper(a.Param("code")) }

func (p *Pages) placeData(a *Ask) (d placeData, err error) {
	if d.PlaceShown, err = p.shop.Place(a.R.Context(), a.By, symbolOf(a)); err != nil {
		return d, err
	}
	d.Leads, d.Groups = a.leads(), groupsOf(a.language(), d.Tools)
	d.Sheet = "/api/v1/prints/drawer?name=" + url.QueryEscape(d.Path)
	if len(d.Parts) > 0 {
		d.Below = "/api/v1/prints/drawers?name=" + url.QueryEscape(d.Path)
	}
	all, err := p.shop.Places(a.R.Context(), a.By)
	if err != nil {
		return d, err
	}
	d.To = []Option{{Label: p.say(a, "place.top")}}
	for _, other := range all {
		if other.ID == d.Parent {
			d.Up = &Link{Text: other.Path, To: placePath(other.Code)}
		}
		if other.ID != d.ID && !strings.HasPrefix(other.Path, d.Path+"/") {
			d.To = append(d.To, Option{Value: other.Path, Label: other.Path, Chosen: other.ID == d.Parent})
		}
	}
	people, err := p.shop.People(a.R.Context(), a.By)
	d.People = []Option{{Label: p.say(a, "place.everybodys")}}
	for _, one := range people {
		d.People = append(d.People, Option{Value: one.Name, Label: one.Name, Chosen: one.ID == d.Person})
	}
	return d, err
}

// groupsOf parts tools by where they are.
func groupsOf(lang words.Language, tools []model.PlaceTool) (out []placeGroup) {
	keys := []string{"missing", "out", "away", "lab", "here"}
	by := map[string][]model.PlaceTool{}
	for _, t := range tools {
		key := "here"
		switch {
		case t.MissingIn != "":
			key = "missing"
		case t.AtLab():
			key = "lab"
		case t.State == custody.Out:
			key = "out"
		case t.State == custody.Away:
			key = "away"
		}
		by[key] = append(by[key], t)
	}
	for _, key := range keys {
		if len(by[key]) > 0 {
			out = append(out, placeGroup{Title: words.Say(lang, "place.group."+key, len(by[key])), Tools: by[key]})
		}
	}
	return out
}

// PlaceWords says who has a tool of a place, since when, and what is missing of it.
func (v view) PlaceWords(t model.PlaceTool) string {
	var parts []string
	if t.DoNotUse != "" {
		parts = append(parts, reasonList(v.Lang, t.DoNotUse))
	}
	if t.MissingIn != "" {
		parts = append(parts, words.Say(v.Lang, "place.missing-since", t.MissingIn))
	}
	switch t.State {
	case custody.Out:
		if t.Job != "" {
			parts = append(parts, words.Say(v.Lang, "place.out-job", t.Person, t.Job, v.When(t.Since)))
		} else {
			parts = append(parts, words.Say(v.Lang, "place.out", t.Person, v.When(t.Since)))
		}
	case custody.Away:
		parts = append(parts, words.Say(v.Lang, "place.away", t.Person, v.When(t.Since)))
	}
	if t.Due != 0 {
		parts = append(parts, words.Say(v.Lang, "place.due", v.When(t.Due)))
	}
	for _, piece := range t.Missing {
		parts = append(parts, words.Say(v.Lang, "place.missing", pieceText(piece)))
	}
	return strings.Join(parts, " · ")
}

// SeenWords says where a tool belongs that was seen in another place, and who saw it.
func (v view) SeenWords(t model.SeenTool) string {
	parts := []string{words.Say(v.Lang, "place.no-home")}
	if t.Place != "" {
		parts[0] = words.Say(v.Lang, "place.home", t.Place)
	}
	parts = append(parts, words.Say(v.Lang, "place.seen", t.SeenBy, v.When(t.SeenAt), t.SeenIn))
	if t.DoNotUse != "" {
		parts = append([]string{reasonList(v.Lang, t.DoNotUse)}, parts...)
	}
	if t.Person != "" {
		parts = append(parts, words.Say(v.Lang, "place.held", t.Person))
	}
	return strings.Join(parts, " · ")
}

// CountWords says where the tools of a place are.
func (v view) CountWords(c model.PlaceCounts) string {
	if c.Belong == 0 {
		return words.Say(v.Lang, "place.empty")
	}
	said := words.Say(v.Lang, "place.counts", c.Belong, c.InPlace, c.Out, c.Away)
	if c.Missing > 0 {
		said = words.Say(v.Lang, "place.counts-missing", said, c.Missing)
	}
	return said
}

func (p *Pages) placePage(a *Ask) (Reply, error) {
	d, err := p.placeData(a)
	r := Show("place", d).WithForm(url.Values{"name": {d.Name}})
	r.title = d.Path
	return r, err
}

// placeAct answers a form of a place's page: it leads back there and says what was done.
func (p *Pages) placeAct(said string, do func(a *Ask, place string) (model.PlaceView, error)) func(*Ask) (Reply, error) {
	return func(a *Ask) (Reply, error) {
		done, err := do(a, symbolOf(a))
		if err == nil {
			return Go(placePath(done.Code), p.say(a, said, done.Path)), nil
		}
		return p.placeAgain(a, err)
	}
}

// placeAgain shows the page of a place with why an act was refused.
func (p *Pages) placeAgain(a *Ask, err error) (Reply, error) {
	d, failed := p.placeData(a)
	if failed != nil {
		return Reply{}, err
	}
	return a.Again("place", d, err), nil
}

func (p *Pages) photographPlace(a *Ask, place string) (v model.PlaceView, err error) {
	sent, err := a.Originals("drawer", evidence.Drawer)
	if err == nil && len(sent) == 0 {
		err = fault.At("#/drawer", "%s", p.say(a, "place.no-photo"))
	}
	if err != nil {
		return v, err
	}
	for _, photo := range sent {
		if v, err = p.shop.PhotographPlace(a.R.Context(), a.By, place, register.Attach{SHA256: photo.SHA256, Name: photo.Name}); err != nil {
			return v, at("drawer", err)
		}
		a.By.Key = "" // the first act has it
	}
	return v, nil
}

func (p *Pages) closePlace(a *Ask) (Reply, error) {
	done, err := p.shop.ClosePlace(a.R.Context(), a.By, symbolOf(a))
	if err != nil {
		return p.placeAgain(a, err)
	}
	return Go("/places", p.say(a, "place.closed", done.Name)), nil
}

// outData is what the page of tools that somebody should look after shows.
type outData struct {
	Lists []outList
	Days  int64 // after which a tool is long out
	Whole bool  // one list alone, page by page
}

// outList is one list on that page.
type outList struct {
	Key  string // of its words: "long-out"
	Rows []model.OutRow
	More string // address of what follows
}

// outShown is how many tools of each list stand on the page of all.
const outShown = 20

// outPage shows the four lists, or one of them page by page.
func (p *Pages) outPage(a *Ask) (Reply, error) {
	set, err := p.shop.Settings(a.R.Context())
	if err != nil {
		return Reply{}, err
	}
	v := outData{Days: set.LongOut(), Whole: a.Query("list") != ""}
	asked, q := custody.Lists(), model.OutQuery{Limit: outShown, Place: a.Query("place"), Cursor: a.Query("cursor")}
	if v.Whole {
		which, err := custody.ParseWhich(a.Query("list"))
		if err != nil {
			return Reply{}, err
		}
		asked, q.Limit = []custody.Which{which}, dueRows
	}
	for _, which := range asked {
		q.Which = string(which)
		rows, next, err := p.shop.OutList(a.R.Context(), a.By, q)
		if err != nil {
			return Reply{}, err
		}
		l := outList{Key: listKey(which), Rows: rows}
		if next != "" {
			more := url.Values{"list": {string(which)}, "cursor": {next}}
			if q.Place != "" {
				more.Set("place", q.Place)
			}
			l.More = "/out?" + more.Encode()
		}
		v.Lists = append(v.Lists, l)
	}
	return Show("out", v), nil
}

func listKey(which custody.Which) string { return strings.ReplaceAll(string(which), " ", "-") }

// OutWords says of a tool in such a list who has it, since when and for how long.
func (v view) OutWords(key string, r model.OutRow) string {
	var parts []string
	if key == listKey(custody.Unfit) {
		parts = append(parts, words.Say(v.Lang, "out.unfit", reasonList(v.Lang, r.DoNotUse), v.When(r.Since)))
		if r.Person != "" {
			parts = append(parts, words.Say(v.Lang, "find.with", r.Person))
		}
	} else {
		parts = append(parts, words.Say(v.Lang, "place.out", r.Person, v.When(r.Since)))
		if r.Due != 0 {
			parts = append(parts, words.Say(v.Lang, "place.due", v.When(r.Due)))
		}
		if r.Job != "" {
			parts = append(parts, words.Say(v.Lang, "out.job", r.Job))
		}
	}
	days := "out.days"
	if key == listKey(custody.Overdue) {
		days = "out.days-over"
	}
	parts = append(parts, words.Count(v.Lang, days, r.Days))
	if r.Place != "" {
		parts = append(parts, words.Say(v.Lang, "find.in", r.Place))
	}
	if r.Note != "" {
		parts = append(parts, r.Note)
	}
	return strings.Join(parts, " · ")
}

// ListCount says how many tools a list has.
func (v view) ListCount(c model.OutCount) string {
	if c.More {
		return words.Say(v.Lang, "out.more-than", c.N)
	}
	return words.Say(v.Lang, "out.count", c.N)
}
