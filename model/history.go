package model

import (
	"context"
	"encoding/json"
	"slices"
	"strconv"

	"pawl/model/dates"
	"pawl/model/evidence"
	"pawl/model/internal/store"
	"pawl/model/ledger"
	"pawl/model/numbers"
	"pawl/model/people"
	"pawl/model/register"
)

// moneyColumns are the columns of a tool that only some may see.
var moneyColumns = []string{"bought", "bought_as", "price", "tax", "currency", "seller", "terms", "owed", "owed_to", "owed_on", "deposit", "deposit_currency"}

// History gives every line about a tool, oldest first, without what the asker
// may not see, with the cursor of the next page.
func (s *Shop) History(ctx context.Context, by By, number string, limit int, cur string) (lines []LineView, next string, err error) {
	limit, err = pageLimit(limit)
	if err != nil {
		return nil, "", err
	}
	err = s.db.Read(ctx, func(rx *store.Rx) error {
		t, err := resolve(rx, number)
		if err != nil {
			return err
		}
		c, from, err := parseHistoryCursor(t, cur)
		if err != nil {
			return err
		}
		d, err := readNames(rx)
		if err != nil {
			return err
		}
		entries, err := rx.History(t.ID, from, limit+1)
		if err != nil {
			return err
		}
		shown := people.May(by.Actor, people.SeeMoney, d.object(t))
		for i, e := range entries {
			v, err := d.line(by, e, shown)
			if err != nil {
				return err
			}
			if i == limit {
				next = cursor{List: c.List, Key: strconv.FormatInt(v.Seq, 10)}.String()
				break
			}
			lines = append(lines, v)
		}
		return nil
	})
	return lines, next, err
}

// parseHistoryCursor reads a cursor of one tool's history, and the line where the
// page begins.
func parseHistoryCursor(t register.Tool, text string) (c cursor, from int64, err error) {
	if c, err = parseCursor(under("history", t.ID), text); err != nil || c.Key == "" {
		return c, 0, err
	}
	if from, err = strconv.ParseInt(c.Key, 10, 64); err != nil {
		return c, 0, badCursor()
	}
	return c, from, nil
}

func (d *directory) line(by By, e store.Entry, shown bool) (v LineView, err error) {
	if v.Line, err = ledger.ParseLine(e.Raw); err != nil {
		return v, err
	}
	v.ActorName = d.actor(v.Actor)
	if e.After == nil {
		return v, nil
	}
	after, err := ledger.ParseImage(e.After)
	if err != nil || !shown && !bare(by, v.Noun, after) {
		return v, err
	}
	v.After, err = d.legible(after)
	if v.Noun == "number" {
		v.ID = numbers.Number(v.ID).String()
	}
	return v, err
}

// bare takes away what somebody may not see who may not see the tool's money;
// false means that nothing is left.
func bare(by By, noun string, after ledger.Image) bool {
	switch noun {
	case "tool":
		for _, column := range moneyColumns {
			delete(after, column)
		}
	case "quote", "condition", "claim", "claim line", "packet":
		return false
	case "evidence":
		kind, _ := after["kind"].(string)
		who, _ := after["uploaded_by"].(string)
		e := evidence.Record{Kind: evidence.Kind(kind), UploadedBy: who}
		if !addedBy(by, e) {
			delete(after, "claimed_place")
		}
		return seesEvidence(by, e)
	}
	return true
}

// instants are the columns that hold a time in microseconds.
var instants = []string{"created", "gone", "since", "entered", "due", "ended", "at", "cleared", "received_at", "withdrawn", "revoked",
	"opened", "closed", "confirmed", "left", "happened", "done_at", "signed_at", "settled_at", "answered_at", "missed_at", "told_at", "last_seen"}

// legible puts an image as people and programs read it: names for ids, times as
// text, pieces as a list.
func (d *directory) legible(after ledger.Image) (map[string]any, error) {
	out := map[string]any{}
	for column, v := range after {
		text, isText := v.(string)
		switch {
		case slices.Contains(instants, column) && !isText: // a marking ends on a day
			at, _ := v.(int64)
			out[column] = dates.Instant(at).String()
		case !isText:
			out[column] = v
		case column == "owner" || column == "person" || column == "by" || column == "uploaded_by" || column == "signed_by" || column == "answered_by" || column == "withdrawn_by":
			out[column] = d.person(text)
		case column == "place":
			out[column] = d.places.Path(text)
		case column == "number":
			out[column] = numbers.Number(text).String()
		case column == "job":
			number, err := d.job(text)
			if err != nil {
				return nil, err
			}
			out[column] = number
		case column == "replacement":
			t, _, err := d.Tool(text)
			if err != nil {
				return nil, err
			}
			out[column] = t.Number.String()
		case column == "body":
			out[column] = json.RawMessage(text)
		case column == "pieces" || column == "missing":
			var list []register.Piece
			if err := json.Unmarshal([]byte(text), &list); err != nil {
				return nil, err
			}
			out[column] = list
		default:
			out[column] = text
		}
	}
	return out, nil
}
