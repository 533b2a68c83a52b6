package page

import (
	"net/url"
	"strings"

	"pawl/model"
	"pawl/model/evidence"
	"pawl/model/fault"
	"pawl/model/register"
)

// more is what the page for further photos and papers shows.
type more struct {
	Tool  *model.ToolView
	Kinds []Option
}

func (p *Pages) moreData(a *Ask) (more, error) {
	v, err := p.toolToEdit(a)
	return more{&v, kindOptions(a.Query("kind"), evidence.Kinds())}, err
}

// kindOptions are what a photo or paper can show.
func kindOptions(chosen string, kinds []evidence.Kind) (out []Option) {
	for _, k := range kinds {
		out = append(out, Option{Value: string(k), Label: k.Words(), Chosen: string(k) == chosen})
	}
	return out
}

func (p *Pages) addMore(a *Ask) (Reply, error) {
	d, err := p.moreData(a)
	return Show("addmore", d), err
}

func (p *Pages) addMoreDone(a *Ask) (Reply, error) {
	d, err := p.moreData(a)
	if err != nil {
		return Reply{}, err
	}
	kind, err := evidence.ParseKind(a.Value("kind"))
	if err != nil {
		return a.Again("addmore", d, at("kind", err)), nil
	}
	if !a.HasFile("shot") {
		return a.Again("addmore", d, fault.At("#/shot", "%s", p.say(a, "add.no-file"))), nil
	}
	question, err := p.attach(a, *d.Tool, "shot", kind)
	if err != nil {
		return a.Again("addmore", d, err), nil
	}
	return Go(toolPath(d.Tool.Tool.Number), said(p.say(a, "add.filed", kind.Words()), question)...), nil
}

// waiting is the list of tools that are photographed and not yet typed.
type waiting struct {
	Rows []model.WhichRow
	More string // address of the next page; empty: this is the last
}

func (p *Pages) unfinished(a *Ask) (Reply, error) {
	rows, next, err := p.shop.Which(a.R.Context(), a.By, model.WhichQuery{Unfinished: true, Limit: findRows, Cursor: a.Query("cursor")})
	d := waiting{Rows: rows}
	if next != "" {
		d.More = "/add/unfinished?" + url.Values{"cursor": {next}}.Encode()
	}
	return Show("unfinished", d), err
}

// loose is one photo that belongs to no tool yet; they are filed one by one.
type loose struct {
	Photo *evidence.Record // nil: there is none
	After string           // cursor by which it was reached
	Skip  string           // address of the one after it; empty: it is the last
	Kinds []Option
}

func (p *Pages) looseData(a *Ask, after string) (d loose, err error) {
	all, next, err := p.shop.Unsorted(a.R.Context(), a.By, 1, after)
	d = loose{After: after, Kinds: looseKinds()}
	if len(all) > 0 {
		d.Photo = &all[0]
	}
	if next != "" {
		d.Skip = "/add/unsorted?" + url.Values{"after": {next}}.Encode()
	}
	return d, err
}

// looseKinds are what an unsorted photo can show: the label, the plate and the
// whole tool first, since that is what photographing on day one leaves.
func looseKinds() []Option {
	first := []evidence.Kind{evidence.Plate, evidence.Whole, evidence.Label}
	kinds := first
	for _, k := range evidence.Kinds() {
		if k != first[0] && k != first[1] && k != first[2] {
			kinds = append(kinds, k)
		}
	}
	return kindOptions("", kinds)
}

func (p *Pages) unsorted(a *Ask) (Reply, error) {
	d, err := p.looseData(a, a.Query("after"))
	// Photos come in runs: the tool that the last one was filed under stands there.
	return Show("unsorted", d).WithForm(url.Values{"number": {a.Query("number")}}), err
}

// fileUnsorted files one photo under a tool, or starts a tool with it, and goes
// on to the next.
func (p *Pages) fileUnsorted(a *Ask) (Reply, error) {
	in := register.FileUnder{Number: a.Value("number"), Kind: a.Value("kind"), Start: a.Value("start") != "", Owner: newOwner(a.Me())}
	done, err := p.shop.FileUnsorted(a.R.Context(), a.By, a.Param("id"), in)
	on := url.Values{}
	if after := a.Value("after"); after != "" {
		on.Set("after", after)
	}
	if err != nil {
		d, bad := p.looseData(a, a.Value("after"))
		switch {
		case bad != nil:
			return Reply{}, bad
		case d.Photo == nil || !strings.EqualFold(d.Photo.ID, a.Param("id")): // somebody filed it meanwhile
			return Go("/add/unsorted?"+on.Encode(), p.clockOf(a).why(problemOf(err).Detail)), nil
		}
		return a.Again("unsorted", d, err), nil
	}
	on.Set("number", string(done.Number))
	return Go("/add/unsorted?"+on.Encode(), said(p.say(a, "unsorted.filed", evidence.Kind(in.Kind).Words(), done.Number), done.Question)...), nil
}
