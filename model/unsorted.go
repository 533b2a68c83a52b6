package model

import (
	"context"
	"strconv"
	"strings"

	"pawl/model/dates"
	"pawl/model/evidence"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/people"
	"pawl/model/register"
)

// seesUnsorted says whether somebody sees a photo that belongs to no tool yet: a
// manager all, others their own and the shop's.
func seesUnsorted(by By, e evidence.Record) bool {
	return people.May(by.Actor, people.SeeMoney, people.Object{}) ||
		people.May(by.Actor, people.EditTool, people.Object{}) && (e.UploadedBy == "" || e.UploadedBy == by.Person)
}

// Unsorted gives photos that belong to no tool yet, as received, with the cursor
// of the next page.
func (s *Shop) Unsorted(ctx context.Context, by By, limit int, cur string) (out []evidence.Record, next string, err error) {
	if limit, err = pageLimit(limit); err != nil {
		return nil, "", err
	}
	c, err := parseCursor("unsorted", cur)
	if err != nil {
		return nil, "", err
	}
	after := int64(0)
	if c.Key != "" {
		if after, err = strconv.ParseInt(c.Key, 10, 64); err != nil {
			return nil, "", badCursor()
		}
	}
	q := store.UnsortedQuery{All: people.May(by.Actor, people.SeeMoney, people.Object{}), Person: by.Person,
		After: dates.Instant(after), AfterID: c.ID, Limit: limit + 1}
	err = s.db.Read(ctx, func(rx *store.Rx) error {
		out, err = rx.Unsorted(q)
		return err
	})
	if err == nil && len(out) > limit {
		out = out[:limit]
		last := out[limit-1]
		next = cursor{List: "unsorted", Key: strconv.FormatInt(int64(last.ReceivedAt), 10), ID: last.ID}.String()
	}
	return out, next, err
}

// FileUnsorted files one unsorted photo under the tool of a number. A number that
// is issued and free starts a tool that is not yet typed.
func (s *Shop) FileUnsorted(ctx context.Context, by By, id string, in register.FileUnder) (Done, error) {
	id = strings.ToUpper(strings.TrimSpace(id))
	var filed register.Attach
	done, err := act(ctx, s, by, "evidence file", []any{id, in, in.Start}, func(tx *store.Tx) (Done, error) {
		e, err := unsorted(tx, by, id)
		if err != nil {
			return Done{}, err
		}
		if e.Kind, err = evidence.ParseKind(in.Kind); err != nil {
			return Done{}, fault.At("#/kind", "%s", fault.Of(err).Error())
		}
		d, t, err := toolToFileUnder(tx, by, in)
		if err != nil {
			return Done{}, err
		}
		have, err := tx.Evidence(t.ID)
		if err != nil {
			return Done{}, err
		}
		if len(have) >= MaxAttach {
			return Done{}, fault.New(fault.Conflict, "tool %s has %d photos and papers, which is the most", t.Number, len(have))
		}
		e.Tool = t.ID
		if err := store.Put(tx, &e); err != nil {
			return Done{}, err
		}
		filed = register.Attach{Kind: in.Kind, SHA256: e.SHA256, Name: e.Name}
		return d.done(t, "evidence file")
	})
	if err == nil {
		done.Question = s.question(ctx, []register.Attach{filed})
	}
	return done, err
}

// toolToFileUnder finds the tool that a photo is filed under, or starts it.
func toolToFileUnder(tx *store.Tx, by By, in register.FileUnder) (*directory, register.Tool, error) {
	under := register.Photos{Number: in.Number, Owner: in.Owner}
	if in.Start {
		return startTool(tx, by, under)
	}
	d, t, _, err := toolForPhotos(tx, by, under)
	return d, t, err
}

// unsorted loads a photo that belongs to no tool, for somebody who may see it.
func unsorted(tx *store.Tx, by By, id string) (evidence.Record, error) {
	e, found, err := store.Change[evidence.Record](tx, id)
	if err != nil {
		return e, err
	}
	if !found || e.Withdrawn != 0 || e.Place != "" || e.Loss != "" || e.Tool == "" && !seesUnsorted(by, e) {
		return e, fault.New(fault.NotFound, "there is no unsorted photo %s", id).WithHint("list them: pawl evidence unsorted")
	}
	if e.Tool == "" {
		return e, nil
	}
	t, _, err := tx.Tool(e.Tool)
	if err != nil {
		return e, err
	}
	if !e.Kind.Photo() && e.UploadedBy != by.Person { // what is not theirs is not there
		return e, fault.New(fault.NotFound, "there is no unsorted photo %s", id).WithHint("list them: pawl evidence unsorted")
	}
	return e, fault.New(fault.Conflict, "photo %s is filed already, under tool %s", id, t.Number).WithFact("number", t.Number.String())
}
