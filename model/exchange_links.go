package model

import (
	"cmp"
	"fmt"
	"slices"

	"pawl/model/custody"
	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/names"
	"pawl/model/numbers"
	"pawl/model/people"
	"pawl/model/register"
)

// plannedLink is a number in a row that names another tool.
type plannedLink struct {
	row     int
	from    *plannedTool
	pointer string
	number  numbers.Number
}

// linksOf gives the numbers of an entry that name other tools.
func linksOf(e *register.Entry) [2]struct{ pointer, typed string } {
	return [2]struct{ pointer, typed string }{{"#/came_with", e.Links.CameWith}, {"#/exchanged_from", e.Links.ExchangedFrom}}
}

// noteLinks keeps the links of a row until every row has been read: the tool
// that is named may follow.
func (p *sheetPlan) noteLinks(e *register.Entry, t *plannedTool) {
	for _, l := range linksOf(e) {
		if l.typed == "" {
			continue
		}
		n, err := numbers.ParseNumber(l.typed)
		if err != nil {
			p.wrong(p.at(e.Row, l.pointer, "number", fault.Of(err).Error()))
			continue
		}
		p.links = append(p.links, plannedLink{row: e.Row, from: t, pointer: l.pointer, number: n})
	}
}

// resolveLinks finds the tools that rows name. A new tool whose row is at fault
// here is left out, and so is whatever names it in turn.
func (p *sheetPlan) resolveLinks(h *here) {
	for again := true; again; {
		again = false
		for _, l := range p.links {
			if p.missed[l.row] || p.missed[firstRow(l.from)] {
				continue
			}
			if why := p.link(l, h); why != "" {
				p.wrong(p.at(l.row, l.pointer, "link", why))
				again = true
			}
		}
		p.fresh = slices.DeleteFunc(p.fresh, func(t *plannedTool) bool { return p.missed[t.rows[0]] })
	}
}

func firstRow(t *plannedTool) int {
	if len(t.rows) == 0 {
		return 0
	}
	return t.rows[0]
}

// link ties one tool to another, or says why it does not.
func (p *sheetPlan) link(l plannedLink, h *here) string {
	to := h.claimed[l.number]
	if id := h.numbers[string(l.number)].Tool; to == nil && id != "" {
		to = h.of(id)
	}
	with := l.pointer == "#/came_with"
	switch {
	case to == nil || to.was.ID == "" && p.missed[to.rows[0]]:
		return "there is no tool " + l.number.String() + ", here or in the rows that are taken"
	case to == l.from:
		return "it is the tool's own number"
	case with:
		l.from.with = to
	case to.was.ID != "":
		return "tool " + l.number.String() + " is here already (say so with: pawl swap " + l.number.String() + ")"
	case to.successor != nil && to.successor != l.from:
		return "another row took the place of tool " + l.number.String() + " already"
	default:
		l.from.instead, to.successor = to, l.from
	}
	return ""
}

// tie puts the ids of linked tools into new ones, once all have one.
func (p *sheetPlan) tie() {
	for _, t := range p.fresh {
		if t.with != nil {
			t.tool.CameWith = cmp.Or(t.with.was.ID, t.with.tool.ID)
		}
		if t.instead != nil {
			t.tool.ExchangedFrom, t.instead.tool.ExchangedFor = t.instead.tool.ID, t.tool.ID
		}
	}
}

// leaving reads how a new tool left for good.
func (p *sheetPlan) leaving(e *register.Entry, t *register.Tool) {
	if e.Gone == (register.Leaving{}) {
		return
	}
	if e.Gone.Why == "" {
		p.wrong(p.at(e.Row, "#/gone", "value", "it says when or how the tool left, and not why (write sold, scrapped, lost …)"))
		return
	}
	why, err := parseGone(e.Gone.Why)
	if names.Key(e.Gone.Why) == register.Stolen { // told as a loss where it was; a row has no room for that
		why, err = register.Stolen, nil
	}
	if err == nil {
		err = register.MayGo(*t, why)
	}
	if err != nil {
		p.wrong(p.at(e.Row, "#/gone", "value", fault.Of(err).Error()))
	}
	note, err := names.Note(e.Gone.Note)
	if err != nil {
		p.wrong(p.at(e.Row, "#/gone_note", "value", fault.Of(err).Error()))
	}
	if !people.May(p.in.by.Actor, people.EndTool, p.d.object(*t)) {
		p.wrong(p.at(e.Row, "#/gone", "forbidden", "you may not say that tools of this owner are gone (ask a manager)"))
	}
	t.GoneWhy, t.GoneNote, t.GoneOn = why, note, dates.Date(e.Gone.On)
}

// sameLeaving holds what a row says of how a tool left to what is recorded: a
// spreadsheet ends no tool that is here.
func (p *sheetPlan) sameLeaving(e *register.Entry, t *plannedTool) {
	g, is := e.Gone, t.tool
	note, _ := names.Note(g.Note)
	for _, c := range []struct{ pointer, says, is string }{
		{"#/gone", names.Key(g.Why), is.GoneWhy}, {"#/gone_on", g.On, string(is.GoneOn)}, {"#/gone_note", note, is.GoneNote},
	} {
		if c.says == "" || c.says == c.is {
			continue
		}
		detail := "the tool is here (say how it left with: pawl gone " + is.Number.String() + " --why …)"
		if is.GoneWhy != "" {
			detail = fmt.Sprintf("the tool is gone already: %q is recorded", cmp.Or(c.is, "nothing"))
		}
		p.wrong(p.at(e.Row, c.pointer, "gone", detail))
		return
	}
}

// reports reads what is wrong with a tool.
func (p *sheetPlan) reports(e *register.Entry) (out []custody.Wrong) {
	for _, r := range e.Reports {
		what, err := custody.ParseWhat(r.What)
		note := ""
		if err == nil {
			note, err = names.Note(r.Note)
		}
		if err != nil {
			p.wrong(p.at(e.Row, "#/wrong", "value", fault.Of(err).Error()))
		}
		out = append(out, custody.Wrong{What: what, Note: note})
	}
	return out
}

// sameReports holds what a row says is wrong with a tool to the reports that are
// open: a spreadsheet adds none to a tool that is here.
func (p *sheetPlan) sameReports(e *register.Entry, t *plannedTool, h *here) {
	open := t.wrongs
	if t.was.ID != "" {
		open = h.wrongs[t.was.ID]
	}
	for _, r := range p.reports(e) {
		known := slices.ContainsFunc(open, func(w custody.Wrong) bool { return w.What == r.What && w.Note == r.Note })
		if !known && !p.missed[e.Row] {
			p.wrong(p.at(e.Row, "#/wrong", "value", fmt.Sprintf("no such report is open for %s (make one with: pawl wrong NUMBER --what …)", p.describe(t))))
		}
	}
}

// sameLinks holds the tools that a row names to those that a tool of the store
// is linked with.
func (p *sheetPlan) sameLinks(e *register.Entry, t *plannedTool, h *here) {
	for i, l := range linksOf(e) {
		is := [2]string{t.was.CameWith, t.was.ExchangedFrom}[i]
		n, err := numbers.ParseNumber(l.typed)
		if l.typed != "" && (err != nil || is == "" || h.numbers[string(n)].Tool != is) {
			p.wrong(p.at(e.Row, l.pointer, "link", "tool "+t.was.Number.String()+" is here already and is not linked so (leave the cell empty)"))
		}
	}
}
