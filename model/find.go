package model

import (
	"context"
	"strings"

	"pawl/model/custody"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/names"
	"pawl/model/numbers"
	"pawl/model/people"
	"pawl/model/register"
	"pawl/model/serials"
)

// FindQuery picks tools; empty members do not narrow. Text is a number, a part
// of a serial of at least three characters, or the beginnings of words.
type FindQuery struct {
	Text, Kind, Maker string
	Place, Owner      string
	State, Person     string // in place, out, away; who has it
	Gone              bool   // gone tools too; one whose exact number is the text is found all the same
	Unfinished        bool   // only those photographed and not yet typed, dearest first
	Limit             int    // 0: 50; at most 200
	Cursor            string
}

// list names a list of tools under the filters of q.
func (q FindQuery) list(name string) string {
	q.Limit, q.Cursor = 0, ""
	return under(name, q)
}

// Find gives tools in the order of their numbers, unless unfinished ones are
// asked for, with the cursor of the next page.
func (s *Shop) Find(ctx context.Context, by By, q FindQuery) (rows []ToolRow, next string, err error) {
	if q.Text, err = names.Line(q.Text); err != nil {
		return nil, "", fault.At("#/text", "%s", fault.Of(err).Error())
	}
	limit, err := pageLimit(q.Limit)
	if err != nil {
		return nil, "", err
	}
	if q.Unfinished && q.Gone {
		return nil, "", errUnfinishedGone
	}
	name := "tools"
	if q.Unfinished {
		name = "unfinished"
	}
	c, err := parseCursor(q.list(name), q.Cursor)
	if err != nil {
		return nil, "", err
	}
	err = s.db.Read(ctx, func(rx *store.Rx) error {
		d, err := readNames(rx)
		if err != nil {
			return err
		}
		sq, err := d.toolQuery(q)
		if err != nil {
			return err
		}
		if q.Unfinished {
			rows, next, err = d.unfinished(by, sq, limit, c)
			return err
		}
		sq.After, sq.Limit = numbers.Number(c.Key), limit+1
		tools, err := rx.Tools(sq)
		if err != nil {
			return err
		}
		if len(tools) > limit {
			tools = tools[:limit]
			next = cursor{List: c.List, Key: string(tools[limit-1].Number)}.String()
		}
		rows, err = d.rows(tools)
		return err
	})
	return rows, next, err
}

// GoneBeside counts the gone tools that fit beside a list of so many, so that "none" is not
// said where one was stolen: of the first page of a list in which nothing was found, unless
// gone ones or those to be typed were asked for. Else it is 0.
func (s *Shop) GoneBeside(ctx context.Context, by By, q FindQuery, found int) (n int, err error) {
	if found > 0 || q.Gone || q.Unfinished || q.Cursor != "" {
		return 0, nil
	}
	err = s.db.Read(ctx, func(rx *store.Rx) error {
		d, err := readNames(rx)
		if err != nil {
			return err
		}
		sq, err := d.toolQuery(q)
		if err == nil {
			n, err = rx.GoneTools(sq)
		}
		return err
	})
	return n, err
}

// Kinds gives every kind of tool that there is, as typed first.
func (s *Shop) Kinds(ctx context.Context, by By) (kinds []string, err error) {
	err = s.db.Read(ctx, func(rx *store.Rx) error {
		kinds, err = rx.Kinds()
		return err
	})
	return kinds, err
}

func (d *directory) toolQuery(q FindQuery) (sq store.ToolQuery, err error) {
	sq = store.ToolQuery{Text: q.Text, Kind: names.Key(q.Kind), Maker: serials.MakerKey(q.Maker), Gone: q.Gone}
	if n, err := parseNumber(q.Text); err == nil {
		sq.Number = n
	}
	switch sq.State = custody.State(strings.ToLower(q.State)); sq.State {
	case "", custody.InPlace, custody.Out, custody.Away:
	default:
		return sq, fault.At("#/state", "%q is not a state; use in place, out or away", q.State)
	}
	if q.Place != "" {
		p, err := d.places.Resolve(q.Place)
		if err != nil {
			return sq, err
		}
		sq.Places = d.places.Under(p.ID)
	}
	if q.Owner != "" {
		if sq.From, err = d.outsiderNamed(q.Owner); err != nil {
			return sq, err
		}
		id, err := d.ownerID(q.Owner)
		switch {
		case err == nil:
			sq.Owner, sq.From = &id, ""
		case sq.From == "":
			return sq, err
		}
	}
	if q.Person != "" {
		p, err := people.Match(d.people, q.Person)
		if err != nil {
			return sq, err
		}
		sq.Person = p.ID
	}
	return sq, nil
}

// rows puts tools into names, with who has each, what is wrong and what is missing.
func (d *directory) rows(tools []register.Tool) ([]ToolRow, error) {
	ids := make([]string, len(tools))
	for i, t := range tools {
		ids[i] = t.ID
	}
	loans, err := d.OpenLoans(ids)
	if err != nil {
		return nil, err
	}
	has := map[string]custody.Loan{}
	for _, l := range loans {
		has[l.Tool] = l
	}
	open, err := d.OpenWrongs(ids...)
	if err != nil {
		return nil, err
	}
	wrongs := map[string][]custody.Wrong{}
	for _, w := range open {
		wrongs[w.Tool] = append(wrongs[w.Tool], w)
	}
	incomplete, err := d.Incomplete(ids)
	if err != nil {
		return nil, err
	}
	missing := map[string]register.Pieces{}
	for _, l := range incomplete {
		if missing[l.Tool], err = l.Lost(); err != nil {
			return nil, err
		}
	}
	out := make([]ToolRow, len(tools))
	for i, t := range tools {
		loan := has[t.ID]
		out[i] = ToolRow{ID: t.ID, Number: t.Number, Kind: t.Kind, Maker: t.Maker, Model: t.Model, Serial: t.Serial,
			GoneWhy: t.GoneWhy, DoNotUse: custody.Reasons(wrongs[t.ID]),
			Owner: d.ownerOf(t), Place: d.places.Path(t.Place), State: loan.Now(), Person: d.holder(loan).Name, Missing: missing[t.ID]}
	}
	return out, nil
}
