package page

import (
	"pawl/model"
	"pawl/model/evidence"
)

func (p *Pages) findRoutes() []Route {
	return []Route{get("/find", p.findPage)}
}

// found is what the Find page shows.
type found struct {
	Asked bool
	Rows  []model.WhichRow
	Gone  bool
	Left  int    // gone tools that fit, where nothing else does
	Also  string // address that shows them
	More  string // address of the next page; empty: this is the last
	Kinds []Option
	Place []Option
	Where []Option // a tool with a worn serial was found
	Worn  *matched // nil: nothing was typed of one
}

// findPage looks a tool up by words, by number or a part of its serial, and, for
// a tool that has no label, by kind and place with photos to tell it by, or by what
// is left of its serial.
func (p *Pages) findPage(a *Ask) (Reply, error) {
	q := a.R.URL.Query()
	v := found{Asked: q.Has("text") || q.Has("kind") || q.Has("place"), Gone: q.Get("gone") == "yes", Where: p.Options(a.language(), "find.where.", "bench", "list", "others")}
	form := formOf(q, nil)
	if err := p.findChoices(a, &v); err != nil {
		return Reply{}, err
	}
	if a.Query("reading") != "" {
		return p.findWorn(a, v, q)
	}
	if !v.Asked {
		return Show("find", v).WithForm(q), nil
	}
	asked := model.WhichQuery{Words: a.Query("text"), Kind: a.Query("kind"), Place: a.Query("place"), Gone: v.Gone, Limit: findRows, Cursor: q.Get("cursor")}
	rows, next, err := p.shop.Which(a.R.Context(), a.By, asked)
	v.Rows = rows
	if next != "" {
		q.Set("cursor", next)
		v.More = "/find?" + q.Encode()
	}
	if err == nil {
		v.Left, err = p.shop.GoneBeside(a.R.Context(), a.By, asked.Find(), len(rows))
	}
	if v.Left > 0 {
		q.Set("gone", "yes")
		v.Also = "/find?" + q.Encode()
	}
	r := Show("find", v)
	r.form, r.err = form, err
	return r, nil
}

// findRows are the tools on one page of results.
const findRows = 30

// findChoices lists the kinds and places that there are.
func (p *Pages) findChoices(a *Ask, v *found) error {
	kinds, err := p.shop.Kinds(a.R.Context(), a.By)
	if err != nil {
		return err
	}
	places, err := p.shop.Places(a.R.Context(), a.By)
	if err != nil {
		return err
	}
	whatever := Option{Label: p.say(a, "find.any")}
	v.Kinds, v.Place = []Option{whatever}, []Option{whatever}
	for _, k := range kinds {
		v.Kinds = append(v.Kinds, Option{Value: k, Label: k, Chosen: k == a.Query("kind")})
	}
	for _, pl := range places {
		v.Place = append(v.Place, Option{Value: pl.Path, Label: pl.Path, Chosen: pl.Path == a.Query("place")})
	}
	return nil
}

// firstPhoto is the photo to tell a tool by: the whole tool, else its plate.
func firstPhoto(photos []evidence.Record) string {
	if len(photos) == 0 {
		return ""
	}
	return photos[0].SHA256
}
