package model

import (
	"context"
	"strconv"

	"pawl/model/evidence"
	"pawl/model/internal/store"
	"pawl/model/ledger"
	"pawl/model/people"
)

// moneyColumns are the columns of a tool that only some may see.
var moneyColumns = []string{"bought", "price", "tax", "currency", "seller", "terms", "owed", "owed_to", "owed_on"}

// History gives every line about a tool, oldest first, without what the asker
// may not see, with the cursor of the next page.
func (s *Shop) History(ctx context.Context, by By, number string, limit int, cur string) (lines []LineView, next string, err error) {
	limit, err = pageLimit(limit)
	if err != nil {
		return nil, "", err
	}
	c, err := parseCursor("history", cur)
	if err != nil {
		return nil, "", err
	}
	from := int64(0)
	if c.Key != "" {
		if from, err = strconv.ParseInt(c.Key, 10, 64); err != nil {
			return nil, "", badCursor()
		}
	}
	err = s.db.Read(ctx, func(rx *store.Rx) error {
		t, err := resolve(rx, number)
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
				next = cursor{List: "history", Key: strconv.FormatInt(v.Seq, 10)}.String()
				break
			}
			lines = append(lines, v)
		}
		return nil
	})
	return lines, next, err
}

func (d *directory) line(by By, e store.Entry, shown bool) (v LineView, err error) {
	if v.Line, err = ledger.ParseLine(e.Raw); err != nil {
		return v, err
	}
	v.ActorName = d.actor(v.Actor)
	if e.After == nil {
		return v, nil
	}
	if v.After, err = ledger.ParseImage(e.After); err != nil || shown {
		return v, err
	}
	switch v.Noun {
	case "tool":
		for _, column := range moneyColumns {
			delete(v.After, column)
		}
	case "evidence":
		kind, _ := v.After["kind"].(string)
		who, _ := v.After["uploaded_by"].(string)
		if !seesEvidence(by, evidence.Record{Kind: evidence.Kind(kind), UploadedBy: who}) {
			v.After = nil
		}
	}
	return v, nil
}
