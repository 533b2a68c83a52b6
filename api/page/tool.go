package page

import (
	"net/http"
	"slices"
	"strings"
	"time"

	"pawl/api/page/words"
	"pawl/model"
	"pawl/model/custody"
	"pawl/model/evidence"
	"pawl/model/fault"
	"pawl/model/numbers"
	"pawl/model/people"
	"pawl/model/register"
)

func (p *Pages) toolRoutes() []Route {
	return []Route{
		get("/t/:number", p.tool),
		get("/T/:number", p.tool), // as the link on a label says it
		get("/t/:number/history", p.history),
	}
}

// Main is the one thing that somebody most likely came to do with a tool.
type Main string

const (
	MainNone   Main = ""
	MainTake   Main = "take"
	MainReturn Main = "return"
	MainMine   Main = "mine" // another has it, and gives it to the asker
	MainBack   Main = "back"
	MainFinish Main = "finish"
	MainClear  Main = "clear"
)

// mainOf picks it by where the tool is, what is wrong with it and who asks.
func mainOf(v model.ToolView, me people.Actor) Main {
	_, out := custody.DoNotUse(v.Wrongs)
	switch {
	case v.Tool.Gone != 0:
		return MainNone
	case v.Custody.State == custody.Away:
		return MainBack
	case v.Custody.State == custody.Out && (out || holds(v, me) || me.Person == ""):
		return MainReturn
	case v.Custody.State == custody.Out:
		return MainMine
	case out && people.May(me, people.ClearTool, objectOf(v)) && custody.MayClear(v.Wrongs, v.Tool.Kind, v.Compared.Clears, time.UTC) == nil:
		return MainClear
	case out:
		return MainNone
	case v.Tool.Kind == "" && people.May(me, people.EditTool, objectOf(v)):
		return MainFinish
	}
	return MainTake
}

// holds says whether the tool is out to whoever asks.
func holds(v model.ToolView, me people.Actor) bool {
	return v.Custody.State == custody.Out && me.Person != "" && v.Custody.Person == me.Name
}

// objectOf is what the rules on editing and ending need of a tool.
func objectOf(v model.ToolView) people.Object { return people.Object{Owner: v.Tool.Owner} }

// Link is a quiet choice: what it says, and where it leads.
type Link struct{ Text, To string }

// seconds are the other things to do with a tool, by what its state allows.
func seconds(lang words.Language, v model.ToolView, me people.Actor) (out []Link) {
	add := func(when bool, what string) {
		if when {
			out = append(out, Link{words.Say(lang, "tool.do."+what), toolPath(v.Tool.Number, what)})
		}
	}
	if v.Tool.Gone != 0 {
		return nil
	}
	_, bad := custody.DoNotUse(v.Wrongs)
	where, device := v.Custody.State, me.Role == people.ShopDevice
	add(where == custody.InPlace && !bad && !device, "take")
	add(where == custody.Out, "return")
	add(where == custody.Out && !bad, "handover")
	add(where == custody.Away, "back")
	add(where != custody.Away && people.May(me, people.EditTool, objectOf(v)), "away")
	return out
}

// toolData is what the page of a tool shows.
type toolData struct {
	model.ToolView
	Code       string // its number, bare
	Main       Main
	Job        string // that this phone took for last
	Device     bool   // a shop device: acts ask for a badge on a page of their own
	Where      string // who has it, since when and what for
	CameBy     string // the earlier number that led here; empty: the present one
	Seconds    []Link
	Whats      []Option
	Whole      *evidence.Record
	Photos     []evidence.Record
	Papers     []evidence.Record
	Others     []numbers.Number // earlier numbers
	Edits      bool
	Ends       bool
	Finishable bool
	NoLook     bool // a tool that measures: nobody clears it by looking
	Cautions   []string
	Measures   bool // it can be found out
	Doubted    int  // lines of work in doubt that nobody has settled
	Advised    []string
	History    []entry
	Measured   *measured // of a tool that measures
}

func (p *Pages) tool(a *Ask) (Reply, error) {
	data, err := p.toolData(a, a.Param("number"))
	if strange(err) {
		return p.strangeNumber(a)
	}
	r := Show("tool", data)
	r.title = strings.TrimSpace(data.Tool.Kind + " " + data.Tool.Number.String())
	return r, err
}

// recentActs is how many of the last acts the page of a tool tells.
const recentActs = 5

func (p *Pages) toolData(a *Ask, number string) (d toolData, err error) {
	ctx, me := a.R.Context(), a.Me()
	if d.ToolView, err = p.shop.Tool(ctx, a.By, number); err != nil {
		return d, err
	}
	v, lang := d.ToolView, a.language()
	d.Code = string(v.Tool.Number)
	d.Main, d.Seconds, d.Device = mainOf(v, me), seconds(lang, v, me), me.Role == people.ShopDevice
	d.Edits, d.Ends = people.May(me, people.EditTool, objectOf(v)), people.May(me, people.EndTool, objectOf(v))
	d.Finishable = v.Tool.Kind == "" && d.Edits && d.Main != MainFinish
	if d.Where = p.whoHas(a, v.Custody, me.Name); v.Custody.State == custody.InPlace && v.Place != "" {
		d.Where = words.Say(lang, "tool.in-place", v.Place)
	}
	if d.Main == MainTake {
		d.Job = p.lastJob(a)
	}
	if n, err := numbers.ParseNumber(number); err == nil && n != v.Tool.Number {
		d.CameBy = n.String()
	}
	for _, w := range custody.Whats {
		d.Whats = append(d.Whats, Option{Value: string(w), Label: wrongWord(lang, w)})
	}
	for _, n := range v.Numbers {
		if n != v.Tool.Number {
			d.Others = append(d.Others, n)
		}
	}
	d.NoLook = fault.Is(custody.MayClear(v.Wrongs, v.Tool.Kind, v.Compared.Clears, time.UTC), fault.Refused)
	d.advise()
	d.sortEvidence()
	if d.Device { // whoever passes it sees the tool there, no papers and no history
		d.Advised, d.Photos, d.Papers = nil, nil, nil
		return d, nil
	}
	if d.Measured, err = p.measured(a, v); err != nil {
		return d, err
	}
	if d.Measures = register.Measures(v.Tool.Kind); d.Measures {
		if d.Doubted, err = p.doubted(a, v.Tool.ID); err != nil {
			return d, err
		}
	}
	lines, err := p.shop.Recent(ctx, a.By, number, 6*recentActs)
	slices.Reverse(lines)
	d.History = entries(lang, lines)
	slices.Reverse(d.History)
	d.History = d.History[:min(recentActs, len(d.History))]
	return d, err
}

// sortEvidence parts photos from papers; the newest photo of the whole tool
// stands at the top.
func (d *toolData) sortEvidence() {
	for i, e := range d.Evidence {
		switch {
		case e.Withdrawn != 0:
		case e.Kind.Photo():
			d.Photos = append(d.Photos, e)
			if e.Kind == evidence.Whole && hasView(e) {
				d.Whole = &d.Evidence[i]
			}
		default:
			d.Papers = append(d.Papers, e)
		}
	}
}

// hasView says whether a browser can show the original smaller.
func hasView(e evidence.Record) bool {
	return slices.Contains([]string{evidence.TypeJPEG, evidence.TypePNG, evidence.TypeWebP}, e.MediaType)
}

// advise parts the cautions of the kind, and what the page says elsewhere, from
// the advice.
func (d *toolData) advise() {
	d.Cautions = register.Cautions(d.Tool.Kind)
	for _, text := range d.Advice {
		if !slices.Contains(d.Cautions, text) && !strings.HasPrefix(text, "NOT COMPLETE") {
			d.Advised = append(d.Advised, forScreen(text))
		}
	}
}

// wrongWord is something that can be wrong, as people read it.
func wrongWord(lang words.Language, w custody.What) string {
	key := "wrong." + strings.ReplaceAll(string(w), " ", "-")
	if !words.Has(key) {
		return string(w)
	}
	return words.Say(lang, key)
}

// strange says whether a number led to no tool.
func strange(err error) bool { return fault.Is(err, fault.NotFound) || fault.Is(err, fault.Invalid) }

// strangeData is what is told of a number that no tool has.
type strangeData struct {
	Number string // as printed; as typed where it is none of ours
	Code   string // six characters; empty where it is none
	Why    string // it is none
	Free   bool   // printed here, and waiting for a tool
	Adds   bool
}

// strangeNumber helps on from a number that no tool has: a free label, one of
// another shop, or one that was read wrong.
func (p *Pages) strangeNumber(a *Ask) (Reply, error) {
	typed := a.Param("number")
	d := strangeData{Number: typed, Adds: a.Me().Role == people.Manager || a.Me().Role == people.Technician}
	r := Show("strange", d)
	r.status = http.StatusNotFound
	n, bad := numbers.ParseNumber(typed)
	if bad != nil {
		d.Why = faultWords(a.language(), forScreen(fault.Of(bad).Error()))
		r.data = d
		return r, nil
	}
	d.Number, d.Code = n.String(), string(n)
	if _, err := p.shop.LabelText(a.R.Context(), a.By, string(n)); err == nil {
		d.Free, r.status = true, http.StatusOK
	} else if !fault.Is(err, fault.NotFound) {
		return Reply{}, err
	}
	r.data = d
	return r, nil
}

// cautionWords says a caution of a kind of tool in a language that has it; it is
// kept in English.
func cautionWords(lang words.Language, text string) string { return ours(lang, "caution.", text) }

// ours is a text of the program in a language that has it, found under a prefix by its
// English.
func ours(lang words.Language, prefix, text string) string {
	for _, key := range words.Keys(words.English) {
		if strings.HasPrefix(key, prefix) && words.Say(words.English, key) == text {
			return words.Say(lang, key)
		}
	}
	return text
}
