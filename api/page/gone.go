package page

import (
	"net/url"
	"strings"

	"pawl/api/page/words"
	"pawl/model"
	"pawl/model/evidence"
	"pawl/model/fault"
	"pawl/model/people"
	"pawl/model/register"
)

func (p *Pages) goneRoutes() []Route {
	return []Route{
		get("/t/:number/gone", p.gonePage), post("/t/:number/gone", p.gone),
		get("/t/:number/swap", p.swapPage), post("/t/:number/swap", p.swap),
	}
}

// goneData is what the page shows on which a tool leaves for good. Asking once
// more, it says what will be so and takes nothing but yes.
type goneData struct {
	model.ToolView
	Whys   []Option
	Sure   bool
	Change string // address of the form with what was typed
}

// endable gives a tool to somebody who may end it.
func (p *Pages) endable(a *Ask) (model.ToolView, error) {
	v, err := p.shop.Tool(a.R.Context(), a.By, a.Param("number"))
	switch {
	case err != nil:
		return v, err
	case !people.May(a.Me(), people.EndTool, objectOf(v)):
		return v, fault.New(fault.Forbidden, "%s may not end or exchange this tool: its owner or a manager does", a.Me().Name)
	case v.Tool.Gone != 0:
		return v, fault.New(fault.Conflict, "tool %s is gone already: %s", v.Tool.Number, v.Tool.GoneWhy)
	}
	return v, nil
}

// notEndable answers somebody who asks for the form of what they cannot end.
func (p *Pages) notEndable(a *Ask, v model.ToolView, err error) (Reply, error) {
	switch {
	case strange(err):
		return p.strangeNumber(a)
	case fault.Is(err, fault.Forbidden):
		return Go(toolPath(v.Tool.Number), words.Say(a.language(), "custody.not-yours")), nil
	}
	return Reply{}, err
}

func (p *Pages) goneData(a *Ask, v model.ToolView) goneData {
	d := goneData{ToolView: v}
	for _, why := range register.GoneWhys {
		if register.MayGo(v.Tool, why) == nil && why != register.Exchanged { // an exchange has a page of its own
			d.Whys = append(d.Whys, p.Options(a.language(), "gone.", why)...)
			d.Whys[len(d.Whys)-1].Value = why
		}
	}
	return d
}

// gonePage asks how the tool left; with that in its address it asks once more.
func (p *Pages) gonePage(a *Ask) (Reply, error) {
	v, err := p.endable(a)
	if err != nil {
		return p.notEndable(a, v, err)
	}
	d, typed := p.goneData(a, v), a.R.URL.Query()
	d.Sure = typed.Get("why") != "" && !typed.Has("change")
	d.Change = a.R.URL.Path + "?" + url.Values{"why": typed["why"], "note": typed["note"], "on": typed["on"], "change": {"yes"}}.Encode()
	return Show("gone", d).WithForm(typed), nil
}

// gone ends the tool once that was said twice.
func (p *Pages) gone(a *Ask) (Reply, error) {
	if a.Value("sure") != "yes" {
		return p.goneAgain(a, fault.New(fault.Invalid, "%s", words.Say(a.language(), "gone.say-twice")))
	}
	done, err := p.shop.Gone(a.R.Context(), a.By, a.Param("number"), model.Gone{Why: a.Value("why"), Note: a.Value("note"), On: a.Value("on")})
	if err != nil {
		return p.goneAgain(a, err)
	}
	said := []string{words.Say(a.language(), "gone.done", done.Number.String(), goneWords(a.language(), done.GoneWhy))}
	return Go(toolPath(done.Number), append(said, afterwards(done)...)...), nil
}

// goneAgain shows the refused form of a tool that may still be ended. It is looked
// at after the act alone, so that a form sent twice gets its first answer.
func (p *Pages) goneAgain(a *Ask, err error) (Reply, error) {
	v, not := p.endable(a)
	if not != nil {
		return Reply{}, not
	}
	return a.Again("gone", p.goneData(a, v), err), nil
}

// afterwards is the advice of an act that does not stand on the tool's page.
func afterwards(done model.Done) (out []string) {
	standing := map[string]bool{}
	for _, c := range register.Cautions(done.Kind) {
		standing[c] = true
	}
	for _, text := range done.Advice {
		if !standing[text] {
			out = append(out, forScreen(text))
		}
	}
	return out
}

// swapData is what the page of an exchange shows.
type swapData struct {
	model.ToolView
	Cautions []string
}

func swapOf(v model.ToolView) swapData { return swapData{v, register.Cautions(v.Tool.Kind)} }

func (p *Pages) swapPage(a *Ask) (Reply, error) {
	v, err := p.endable(a)
	if err != nil {
		return p.notEndable(a, v, err)
	}
	return Show("swap", swapOf(v)).WithForm(a.R.URL.Query()), nil
}

// swap exchanges the tool for the one that came for it, with the slip.
func (p *Pages) swap(a *Ask) (Reply, error) {
	slip, err := a.Originals("slip", evidence.Slip)
	if err != nil {
		return p.swapAgain(a, err)
	}
	plate, err := a.Originals("plate", evidence.Plate)
	if err != nil {
		return p.swapAgain(a, err)
	}
	out, err := p.shop.Swap(a.R.Context(), a.By, a.Param("number"), model.Swap{Serial: a.Value("serial"), SerialAgain: a.Value("serial_again"),
		Model: a.Value("model"), Number: a.Value("number"), Note: a.Value("note"), On: a.Value("on"), Evidence: append(slip, plate...)})
	if err != nil {
		return p.swapAgain(a, err)
	}
	said := words.Say(a.language(), "swap.done", out.New.Number.String(), out.Old.Number.String())
	return Go(toolPath(out.New.Number), append([]string{said}, afterwards(out.New)...)...), nil
}

func (p *Pages) swapAgain(a *Ask, err error) (Reply, error) {
	v, not := p.endable(a)
	if not != nil {
		return Reply{}, not
	}
	return a.Again("swap", swapOf(v), err), nil
}

// goneWords is how a tool left, as people read it.
func goneWords(lang words.Language, why string) string {
	key := "gone." + strings.ReplaceAll(why, " ", "-")
	if !words.Has(key) {
		return why
	}
	return words.Say(lang, key)
}
