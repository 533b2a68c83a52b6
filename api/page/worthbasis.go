package page

import (
	"bytes"
	"net/url"
	"strings"

	"pawl/model"
	"pawl/model/fault"
	"pawl/model/numbers"
	"pawl/model/worth"
)

// worthBasisRoutes are the pages of what values are reckoned by: for how long tools are of
// use, and an index of prices.
func (p *Pages) worthBasisRoutes() []Route {
	return []Route{
		get("/worth/lives", p.livesPage), post("/worth/lives", p.setLife), post("/worth/lives/:id/end", p.endLife),
		get("/worth/index", p.indexPage), post("/worth/index", p.importIndex), post("/worth/index/end", p.endIndex),
	}
}

// livesData is what the page of lives shows.
type livesData struct {
	Lives   []model.LifeView
	Classes []Option
	Leads   bool // the asker may change them
}

func (p *Pages) lives(a *Ask) (d livesData, err error) {
	d = livesData{Leads: a.leads(), Classes: []Option{{Value: "", Label: p.say(a, "lives.no-class")}}}
	for _, c := range worth.Classes {
		d.Classes = append(d.Classes, Option{Value: c.Class, Label: c.Class})
	}
	d.Lives, err = p.shop.Lives(a.R.Context(), a.By)
	return d, err
}

func (p *Pages) livesPage(a *Ask) (Reply, error) {
	d, err := p.lives(a)
	return Show("lives", d), err
}

func (p *Pages) setLife(a *Ask) (Reply, error) {
	v, err := p.shop.SetLife(a.R.Context(), a.By, worth.NewLife{Class: a.Value("class"), Kind: a.Value("kind"), Months: a.Value("months"), Floor: a.Value("floor")})
	if err != nil {
		d, failed := p.lives(a)
		if failed != nil {
			return Reply{}, failed
		}
		return a.Again("lives", d, err), nil
	}
	return Go("/worth/lives", p.say(a, "lives.kept", v.Class)), nil
}

func (p *Pages) endLife(a *Ask) (Reply, error) {
	v, err := p.shop.EndLife(a.R.Context(), a.By, a.Param("id"))
	if err != nil {
		return Reply{}, err
	}
	return Go("/worth/lives", p.say(a, "lives.ended", v.Class)), nil
}

// indexData is what the page of the price index shows.
type indexData struct {
	Points []worth.IndexPoint // by month, the newest first
	Leads  bool
	Errors []fault.Field
}

func (p *Pages) index(a *Ask) (d indexData, err error) {
	d = indexData{Leads: a.leads()}
	all, err := p.shop.PriceIndex(a.R.Context(), a.By)
	for i := len(all) - 1; i >= 0; i-- {
		d.Points = append(d.Points, all[i])
	}
	return d, err
}

func (p *Pages) indexPage(a *Ask) (Reply, error) {
	d, err := p.index(a)
	return Show("priceindex", d), err
}

// importIndex takes values of an index in, typed as one row or as a spreadsheet.
func (p *Pages) importIndex(a *Ask) (Reply, error) {
	raw, _, err := a.spreadsheet()
	var r model.IndexReport
	if err == nil {
		r, err = p.shop.ImportIndex(a.R.Context(), a.By, bytes.NewReader(raw), false)
	}
	if err != nil {
		d, failed := p.index(a)
		if failed != nil {
			return Reply{}, failed
		}
		if f := fault.Of(err); f != nil {
			d.Errors = f.Fields[:min(len(f.Fields), shownFaults)]
		}
		return a.Again("priceindex", d, err), nil
	}
	return Go("/worth/index", p.say(a, "index.taken", r.Added, r.Changed, r.Unchanged)), nil
}

func (p *Pages) endIndex(a *Ask) (Reply, error) {
	r, err := p.shop.EndIndex(a.R.Context(), a.By)
	if err != nil {
		d, failed := p.index(a)
		if failed != nil {
			return Reply{}, failed
		}
		return a.Again("priceindex", d, err), nil
	}
	return Go("/worth/index", p.say(a, "index.ended", r.Changed)), nil
}

// ownershipData is what the page shows on which a packet of one tool is built.
type ownershipData struct {
	Number    numbers.Number
	Tool      string
	Additions []Option
}

func (p *Pages) ownership(a *Ask) (d ownershipData, err error) {
	w, err := p.shop.ToolWorth(a.R.Context(), a.By, a.Param("number")) // whose money one may see, one hands over
	if err != nil {
		return d, err
	}
	t := w.WorthTool.Tool
	d = ownershipData{Number: t.Number, Tool: strings.TrimSpace(strings.Join([]string{t.Kind, t.Maker, t.Model}, " ")), Additions: p.additions(a)}
	return d, nil
}

func (p *Pages) ownershipPage(a *Ask) (Reply, error) {
	d, err := p.ownership(a)
	return Show("toolpacket", d), err
}

// buildOwnership freezes what is on record of one tool and leads to its files.
func (p *Pages) buildOwnership(a *Ask) (Reply, error) {
	v, err := p.shop.BuildPacket(a.R.Context(), a.By, model.NewPacket{Ownership: a.Param("number"), Add: a.form["add"]})
	if err != nil {
		d, failed := p.ownership(a)
		if failed != nil {
			return Reply{}, failed
		}
		return a.Again("toolpacket", d, err), nil
	}
	return Go("/packets/"+url.PathEscape(v.ID), p.builtWords(a, v)...), nil
}
