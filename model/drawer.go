package model

import (
	"context"
	"fmt"
	"io"
	"strings"

	"pawl/labels"
	"pawl/model/custody"
	"pawl/model/fault"
	"pawl/model/internal/views"
	"pawl/model/register"
)

// Most of what is drawn at once: tools, as many as are read by hand anyway, and photos,
// which the document holds whole.
const (
	drawerTools  = 2000
	drawerSheets = 200
)

// DrawerSheetPDF draws the sheet that lies in a place: what belongs directly in it.
// Below, it draws those of all places in it too, each on a page of its own; an empty
// place is then the whole tree.
func (s *Shop) DrawerSheetPDF(ctx context.Context, by By, place string, below, marked bool, w io.Writer) error {
	var all []labels.DrawerSheet
	var shown []PlaceShown
	err := s.read(ctx, func(d *directory) error {
		ids, err := d.drawers(place, below)
		if err != nil {
			return err
		}
		tools := 0
		for _, id := range ids {
			v, err := d.placeShown(by, d.places[id], drawerTools)
			if err != nil {
				return err
			}
			if tools += len(v.Tools); v.More || tools > drawerTools {
				return fault.New(fault.Invalid, "more than %d tools belong there", drawerTools).WithHint("draw the sheets of one place after the other")
			}
			sheet, err := d.drawerSheet(v)
			if err != nil {
				return err
			}
			sheet.Marked = marked
			all, shown = append(all, sheet), append(shown, v)
		}
		return nil
	})
	if err != nil {
		return err
	}
	for i := range all {
		if err := s.drawerPhoto(ctx, &all[i], shown[i]); err != nil {
			return err
		}
	}
	return labels.DrawersPDF(w, all)
}

// drawers are the places to draw sheets of, parents first.
func (d *directory) drawers(place string, below bool) (ids []string, err error) {
	var top register.Place
	if !below || strings.TrimSpace(place) != "" {
		if top, err = d.placeCalled(place); err != nil {
			return nil, err
		}
		ids = append(ids, top.ID)
	}
	if !below {
		return ids, nil
	}
	var walk func(id string)
	walk = func(id string) {
		for _, part := range d.places.Parts(id) {
			ids = append(ids, part)
			walk(part)
		}
	}
	walk(top.ID)
	if len(ids) > drawerSheets {
		err = fault.New(fault.Invalid, "%d places; %d sheets are drawn at once", len(ids), drawerSheets).WithHint("name a place, and draw what is in it")
	}
	return ids, err
}

// drawerSheet puts a place into the words that are printed.
func (d *directory) drawerSheet(v PlaceShown) (out labels.DrawerSheet, err error) {
	out = labels.DrawerSheet{Symbol: "P/" + v.Code, Place: v.Path, Shop: d.settings.Name, Whose: v.Whose, Paper: string(d.settings.Paper),
		Counts: fmt.Sprintf("%d belong here: %d in place, %d out, %d away", v.Belong, v.InPlace, v.Out, v.Away)}
	if v.PlaceCounts.Missing > 0 {
		out.Counts += fmt.Sprintf(", %d MISSING", v.PlaceCounts.Missing)
	}
	if out.As, err = d.clockTime(v.As); err != nil {
		return out, err
	}
	for _, t := range v.Tools {
		row, err := d.drawerRow(t)
		if err != nil {
			return out, err
		}
		out.Rows = append(out.Rows, row)
	}
	for _, t := range v.Elsewhere {
		row, err := d.seenRow(t)
		if err != nil {
			return out, err
		}
		out.Rows = append(out.Rows, row)
	}
	out.PhotoWords = "No photo of the full drawer is recorded."
	if len(v.Photos) > 0 {
		when, err := d.clockTime(v.Photos[0].ReceivedAt)
		if err != nil {
			return out, err
		}
		out.PhotoWords = "The full drawer, photo received " + when
	}
	return out, nil
}

func (d *directory) drawerRow(t PlaceTool) (row labels.DrawerRow, err error) {
	row = labels.DrawerRow{Number: t.Number.String(), Kind: t.Kind, What: strings.TrimSpace(t.Maker + " " + t.Model), Now: string(t.State), AtLab: t.AtLab()}
	if row.Kind == "" {
		row.Kind = "not yet typed"
	}
	var pieces []string
	for _, p := range t.Pieces {
		if p.Count > 1 {
			pieces = append(pieces, fmt.Sprintf("%s (%d)", p.Name, p.Count))
		} else {
			pieces = append(pieces, p.Name)
		}
	}
	row.Pieces = strings.Join(pieces, ", ")
	if t.State != custody.InPlace {
		since, err := d.clockTime(t.Since)
		if err != nil {
			return row, err
		}
		row.Now = fmt.Sprintf("%s: %s, since %s", t.State, t.Person, since)
	}
	if t.MissingIn != "" {
		row.Now = missingWords(t.MissingIn, row.Now)
	}
	if len(t.Missing) > 0 {
		row.Now = "NOT COMPLETE; " + row.Now
	}
	if t.DoNotUse != "" {
		row.Now, row.MustNotMove = "DO NOT USE: "+t.DoNotUse+"; "+row.Now, true
	}
	return row, nil
}

// seenRow is a tool that was seen in the drawer and belongs elsewhere.
func (d *directory) seenRow(t SeenTool) (row labels.DrawerRow, err error) {
	if row, err = d.drawerRow(PlaceTool{ToolRow: t.ToolRow}); err != nil {
		return row, err
	}
	seen, err := d.clockTime(t.SeenAt)
	home := t.Place
	if home == "" {
		home = "no place recorded"
	}
	row.Elsewhere, row.Now = true, "Home: "+home+"; seen "+seen
	if t.Person != "" {
		row.Now += "; by the record " + string(t.State) + ": " + t.Person
	}
	if len(t.Missing) > 0 {
		row.Now = "NOT COMPLETE; " + row.Now
	}
	if row.MustNotMove {
		row.Now = "DO NOT USE: " + t.DoNotUse + "; " + row.Now
	}
	return row, err
}

// missingWords says that a tool was searched for in a count and not found: nobody knows
// it to be in place.
func missingWords(count, now string) string {
	words := "MISSING since count " + count
	if now != string(custody.InPlace) {
		words += "; by the record " + now
	}
	return words
}

// drawerPhoto puts the newest photo that can be drawn onto a sheet.
func (s *Shop) drawerPhoto(ctx context.Context, sheet *labels.DrawerSheet, v PlaceShown) error {
	if len(v.Photos) == 0 {
		return nil
	}
	photo, err := s.views.Open(ctx, v.Photos[0].SHA256, views.Large)
	if fault.Is(err, fault.NotFound) { // kept as it came, and not drawn
		sheet.PhotoWords += "; it is kept, and cannot be drawn here"
		return nil
	}
	sheet.Photo = photo
	return err
}
