package model

import (
	"context"

	"pawl/model/custody"
	"pawl/model/dates"
	"pawl/model/evidence"
	"pawl/model/internal/store"
	"pawl/model/people"
	"pawl/model/register"
)

// PlaceShown is a place at a glance: what belongs in it and where each of it is, and
// what is in it in its turn.
type PlaceShown struct {
	PlaceView
	PlaceCounts                   // of what belongs directly in it
	Tools       []PlaceTool       // those, by number
	More        bool              // there are more than Tools has
	Elsewhere   []SeenTool        // seen here last, and belong elsewhere; newest first
	Parts       []PlacePart       // places in it, by name
	Photos      []evidence.Record // of the full drawer, newest first
	As          dates.Instant     // when it was so
	Photographs bool              // the asker may add a photo
}

// PlaceCounts says where the tools are that belong somewhere. Missing are those that were
// searched for in a count, and not found, and that by the record nobody has.
type PlaceCounts struct{ Belong, InPlace, Out, Away, Missing int64 }

// PlaceTool is a tool that belongs in a place.
type PlaceTool struct {
	ToolRow
	Pieces     register.Pieces
	Job        string
	Purpose    custody.Purpose // why it is away
	Since, Due dates.Instant   // since when it is not in place; 0 = it is
	MissingIn  string          // id of the count in which it was searched for and not found; empty = none
}

// SeenTool is a tool that was seen last in a place where it does not belong.
type SeenTool struct {
	ToolRow
	SeenAt dates.Instant
	SeenBy string
	SeenIn string // id of the count
}

// PlacePart is a place in another, counted with all that is in it.
type PlacePart struct {
	PlaceView
	PlaceCounts
}

// AtLab says whether a tool is at the laboratory, where it is listed apart.
func (t PlaceTool) AtLab() bool {
	return t.State == custody.Away && t.Purpose == custody.ForCalibration
}

// placeTools is the most tools of one place that are shown.
const placeTools = 500

// Place gives a place at a glance, by its path, a name that only one has, its id or what
// its printed code holds.
func (s *Shop) Place(ctx context.Context, by By, place string) (v PlaceShown, err error) {
	err = s.read(ctx, func(d *directory) error {
		p, err := d.placeCalled(place)
		if err != nil {
			return err
		}
		v, err = d.placeShown(by, p, placeTools)
		return err
	})
	return v, err
}

// seenTools is the most tools of elsewhere that are shown of one place.
const seenTools = 100

// placeShown looks at a place: what belongs in it, and beside that what was seen in it
// last and belongs elsewhere.
func (d *directory) placeShown(by By, p register.Place, most int) (v PlaceShown, err error) {
	v = PlaceShown{PlaceView: d.placeView(p), As: d.Now(), Photographs: people.May(by.Actor, people.EditTool, people.Object{Owner: p.Person})}
	counts, err := d.placeCounts([]string{p.ID})
	if err != nil {
		return v, err
	}
	v.PlaceCounts = counts[p.ID]
	if v.Tools, v.More, err = d.placeTools(p.ID, most); err != nil {
		return v, err
	}
	if v.Elsewhere, err = d.seenTools(p.ID); err != nil {
		return v, err
	}
	if v.Parts, err = d.placeParts(p.ID); err != nil {
		return v, err
	}
	if people.May(by.Actor, people.SeePhoto, people.Object{PlainSight: true}) {
		v.Photos, err = d.PhotosOfPlace(p.ID)
	}
	return v, err
}

// placeTools gives the tools that belong directly in a place, and where each is.
func (d *directory) placeTools(place string, most int) (out []PlaceTool, more bool, err error) {
	tools, err := d.Tools(store.ToolQuery{Places: []string{place}, Limit: most + 1})
	if err != nil {
		return nil, false, err
	}
	if more = len(tools) > most; more {
		tools = tools[:most]
	}
	rows, err := d.rows(tools)
	if err != nil {
		return nil, false, err
	}
	ids := make([]string, len(tools))
	for i, t := range tools {
		ids[i] = t.ID
	}
	loans, err := d.OpenLoans(ids)
	if err != nil {
		return nil, false, err
	}
	missing, err := d.MissingOf(ids)
	if err != nil {
		return nil, false, err
	}
	open := map[string]custody.Loan{}
	for _, l := range loans {
		open[l.Tool] = l
	}
	for i, r := range rows {
		l := open[r.ID]
		job, err := d.job(l.Job)
		if err != nil {
			return nil, false, err
		}
		out = append(out, PlaceTool{ToolRow: r, Pieces: tools[i].Pieces, Job: job, Purpose: l.Purpose, Since: l.Since, Due: l.Due, MissingIn: missing[r.ID].Count})
	}
	return out, more, nil
}

// seenTools gives the tools that were seen last in a place and belong neither in it nor in
// a place in it: who counts a bay is not asked for each of its drawers.
func (d *directory) seenTools(place string) (out []SeenTool, err error) {
	seen, err := d.SeenIn(place, d.places.Under(place), seenTools)
	if err != nil || len(seen) == 0 {
		return nil, err
	}
	ids := make([]string, len(seen))
	for i, s := range seen {
		ids[i] = s.Tool
	}
	rows, err := d.rowsByID(ids)
	for _, s := range seen {
		out = append(out, SeenTool{ToolRow: rows[s.Tool], SeenAt: s.At, SeenBy: d.personOr(s.Person), SeenIn: s.Count})
	}
	return out, err
}

// placeCounts counts what belongs directly in each of the places.
func (d *directory) placeCounts(ids []string) (map[string]PlaceCounts, error) {
	belong, err := d.Belonging(ids)
	if err != nil {
		return nil, err
	}
	gone, err := d.NotHere(ids)
	if err != nil {
		return nil, err
	}
	missing, err := d.MissingIn(ids)
	if err != nil {
		return nil, err
	}
	lost, out := map[string]int64{}, map[string]PlaceCounts{}
	for _, m := range missing {
		if !m.Held {
			lost[m.Place]++
		}
	}
	for _, id := range ids {
		c := PlaceCounts{Belong: belong[id], Out: gone[id][custody.Out], Away: gone[id][custody.Away], Missing: lost[id]}
		c.InPlace = c.Belong - c.Out - c.Away - c.Missing
		out[id] = c
	}
	return out, nil
}

// placeParts gives the places directly in one, each counted with all that is in it; an
// empty id gives those at the top.
func (d *directory) placeParts(id string) (out []PlacePart, err error) {
	parts := d.places.Parts(id)
	under, all := map[string][]string{}, []string{}
	for _, part := range parts {
		under[part] = d.places.Under(part)
		all = append(all, under[part]...)
	}
	counts, err := d.placeCounts(all)
	if err != nil {
		return nil, err
	}
	for _, part := range parts {
		one := PlacePart{PlaceView: d.placeView(d.places[part])}
		for _, below := range under[part] {
			one.add(counts[below])
		}
		out = append(out, one)
	}
	return out, nil
}

func (c *PlaceCounts) add(more PlaceCounts) {
	c.Belong, c.InPlace, c.Out, c.Away, c.Missing = c.Belong+more.Belong, c.InPlace+more.InPlace, c.Out+more.Out, c.Away+more.Away, c.Missing+more.Missing
}

// PlaceTree gives every place as PlaceParts, parents first, each counted with all that
// is in it.
func (s *Shop) PlaceTree(ctx context.Context, by By) (out []PlacePart, err error) {
	err = s.read(ctx, func(d *directory) error {
		all := d.places.Under("")[1:]
		counts, err := d.placeCounts(all)
		if err != nil {
			return err
		}
		var walk func(id string) PlaceCounts
		walk = func(id string) PlaceCounts {
			sum, at := counts[id], len(out)
			out = append(out, PlacePart{PlaceView: d.placeView(d.places[id])})
			for _, part := range d.places.Parts(id) {
				sum.add(walk(part))
			}
			out[at].PlaceCounts = sum
			return sum
		}
		for _, top := range d.places.Parts("") {
			walk(top)
		}
		return nil
	})
	return out, err
}
