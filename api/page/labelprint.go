package page

import (
	"context"
	"io"
	"net/url"
	"strconv"
	"strings"

	"pawl/labels"
	"pawl/model"
	"pawl/model/fault"
)

// onPaper is one sort of thing on paper.
type onPaper struct {
	of      string // what names it: number, person, place, job; empty: nothing in particular
	sheet   bool   // goes on label sheets
	alone   bool   // has a page of its own otherwise
	starts  bool   // a part-used sheet can be gone on with
	picture bool   // can be a picture for a label printer
}

var prints = map[string]onPaper{
	"labels":     {of: "numbers", sheet: true, starts: true, picture: true},
	"test-page":  {sheet: true},
	"badge":      {of: "person", sheet: true, alone: true, starts: true, picture: true},
	"place":      {of: "place", sheet: true, alone: true, starts: true, picture: true},
	"job":        {of: "job", sheet: true, alone: true, starts: true, picture: true},
	"do-not-use": {of: "tool", sheet: true, alone: true, starts: true, picture: true},
	"sticker":    {of: "tool", sheet: true, alone: true, starts: true, picture: true},
	"slip":       {of: "tool"},
	"cards":      {sheet: true, alone: true, starts: true},
	"sign-out":   {of: "place"},
}

// printing is what the page of a print shows.
type printing struct {
	What, Of string
	Names    []Option // to pick from; nil: typed
	Sheeted  bool
	sheetForm
	As         []Option // a sheet, or a picture for a printer of so many dots; nil: no choice
	File, Name string   // address and name of what was drawn; empty: nothing yet
	Picture    bool     // it is a picture, which the page can show
}

// print asks what a print is of and which sheet it goes on, and then gives the
// file to be saved: a browser that would show a PDF in its own viewer is kept
// from it by the policy under which everything is served. It changes nothing.
func (p *Pages) print(a *Ask) (Reply, error) {
	what, q := a.Param("what"), a.R.URL.Query()
	kind, known := prints[what]
	if !known {
		return Reply{}, fault.New(fault.NotFound, "%s", p.say(a, "labels.no-print", what))
	}
	d, err := p.printing(a, what, kind)
	if err != nil {
		return Reply{}, err
	}
	if q.Has("number") {
		q.Set("number", strings.Join(q["number"], "\n"))
	}
	if q.Get("draw") != "" {
		if d.File, err = p.drawn(a, what, kind, q); err != nil {
			d.File = ""
		}
	}
	if d.File != "" {
		d.Name = what + ".pdf"
		if d.Picture = strings.Contains(d.File, "format=png"); d.Picture {
			d.Name = what + ".png"
		}
	}
	r := Show("labelprint", d)
	r.form, r.err, r.title = formOf(q, err), err, p.say(a, "labels.print."+what)
	return r, nil
}

func (p *Pages) printing(a *Ask, what string, kind onPaper) (d printing, err error) {
	d = printing{What: what, Of: kind.of, Sheeted: kind.sheet}
	if d.sheetForm, _, err = p.sheetForm(a, kind.alone, kind.starts); err != nil {
		return d, err
	}
	if kind.picture {
		d.As = p.Options(a.language(), "labels.as.", "pdf", "203", "300", "600")
		d.As[0].Chosen = true
	}
	switch kind.of {
	case "person":
		all, err := p.shop.People(a.R.Context(), a.By)
		for _, one := range all {
			if one.Badge != "" { // who asks may print it
				d.Names = append(d.Names, Option{Value: one.Name, Label: one.Name})
			}
		}
		return d, err
	case "place":
		all, err := p.shop.Places(a.R.Context(), a.By)
		for _, one := range all {
			d.Names = append(d.Names, Option{Value: one.Path, Label: one.Path})
		}
		return d, err
	}
	return d, nil
}

// drawn draws a print to see whether it can be, and gives the address of its
// file.
func (p *Pages) drawn(a *Ask, what string, kind onPaper, typed url.Values) (string, error) {
	onto, q := labels.SheetOptions{}, url.Values{}
	picture := kind.picture && typed.Get("as") != "" && typed.Get("as") != "pdf"
	if kind.sheet && !picture {
		var err error
		if onto, q, err = sheetOf(typed); err != nil {
			return "", err
		}
	}
	o := labels.PNGOptions{}
	if picture {
		var err error
		if o.DPI, err = strconv.Atoi(typed.Get("as")); err != nil {
			return "", fault.At("#/as", "%q is not one of the choices", typed.Get("as"))
		}
		q.Set("format", "png")
		q.Set("dpi", strconv.Itoa(o.DPI))
	}
	marked := markedOf(typed, q)
	switch what {
	case "labels":
		return p.drawnLabels(a, marked, strings.Fields(strings.ReplaceAll(typed.Get("number"), ",", " ")), onto, o, q)
	case "test-page":
		return "/api/v1/prints/test-page?" + q.Encode(), labels.TestPage(io.Discard, onto)
	}
	name := strings.TrimSpace(typed.Get("name"))
	if kind.of != "" {
		if name == "" {
			return "", fault.At("#/name", "%s", p.say(a, "labels.say-"+kind.of))
		}
		q.Set("name", name)
	}
	if !picture {
		q.Set("format", "pdf")
	}
	if err := p.drawnCard(a, what, name, marked, onto, o); err != nil {
		if kind.of == "" {
			return "", err
		}
		return "", orField("name", err)
	}
	return "/api/v1/prints/" + what + "?" + q.Encode(), nil
}

// orField says that a fault is of one field, unless it names one.
func orField(field string, err error) error {
	if len(fault.Of(err).Fields) > 0 {
		return err
	}
	return at(field, err)
}

// maxDrawn is the most labels that are drawn at once.
const maxDrawn = 300

// drawnLabels draws the labels of numbers onto sheets, or one as a picture.
func (p *Pages) drawnLabels(a *Ask, marked bool, all []string, onto labels.SheetOptions, o labels.PNGOptions, q url.Values) (string, error) {
	if len(all) == 0 || len(all) > maxDrawn {
		return "", fault.At("#/number", "%s", p.say(a, "labels.say-numbers", len(all), maxDrawn))
	}
	texts := make([]labels.Text, len(all))
	for i, number := range all {
		var err error
		if texts[i], err = p.shop.LabelText(a.R.Context(), a.By, number); err != nil {
			return "", orField("number", err)
		}
		texts[i].Marked = marked
	}
	if o.DPI != 0 {
		if len(texts) != 1 {
			return "", fault.At("#/as", "%s", p.say(a, "labels.one-picture"))
		}
		return "/api/v1/labels/" + url.PathEscape(texts[0].Number) + "?" + q.Encode(), labels.PNG(io.Discard, texts[0], o)
	}
	q["number"] = all
	return "/api/v1/labels?" + q.Encode(), labels.PDF(io.Discard, texts, onto)
}

// markedOf says whether letters that cannot be printed become a question mark,
// and hands that on.
func markedOf(typed, q url.Values) bool {
	marked := typed.Get("unprintable") == "mark"
	if marked {
		q.Set("unprintable", "mark")
	}
	return marked
}

// drawnCard draws what is not a tool's label.
func (p *Pages) drawnCard(a *Ask, what, name string, marked bool, onto labels.SheetOptions, o labels.PNGOptions) error {
	if what == "sign-out" {
		sheet, err := p.shop.SignOut(a.R.Context(), a.By, name)
		if err != nil {
			return err
		}
		sheet.Marked = sheet.Marked || marked
		return sheet.PDF(io.Discard)
	}
	if what == "slip" {
		slip, err := p.shop.Slip(a.R.Context(), a.By, name)
		if err != nil {
			return err
		}
		return slip.PDF(io.Discard)
	}
	cards, err := p.cards(a.R.Context(), a.By, what, name)
	if err != nil {
		return err
	}
	for i := range cards {
		cards[i].Marked = cards[i].Marked || marked
	}
	switch {
	case o.DPI != 0:
		return labels.CardPNG(io.Discard, cards[0], o)
	case onto.Sheet.Name == "":
		return labels.CardPDF(io.Discard, cards, onto.Level)
	}
	return labels.CardSheet(io.Discard, cards, onto)
}

func (p *Pages) cards(ctx context.Context, by model.By, what, name string) ([]labels.Card, error) {
	switch what {
	case "badge":
		b, err := p.shop.Badge(ctx, by, name)
		return []labels.Card{b.Card()}, err
	case "job":
		j, err := p.shop.JobTag(ctx, by, name)
		return []labels.Card{j.Card()}, err
	case "do-not-use":
		t, err := p.shop.DoNotUseTag(ctx, by, name)
		return []labels.Card{t.Card()}, err
	case "sticker":
		s, err := p.shop.Sticker(ctx, by, name)
		return []labels.Card{s.Card()}, err
	case "cards":
		return p.shop.BoardCards(ctx, by)
	}
	place, err := p.shop.PlaceLabel(ctx, by, name)
	return []labels.Card{place.Card()}, err
}
