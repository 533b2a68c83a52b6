package model

import (
	"encoding/json"
	"fmt"
	"testing"
	"time"

	"pawl/model/internal/store"
	"pawl/model/register"
)

// BenchmarkRank answers one question for many measuring tools, beside loading the
// rows that the answers rest on.
func BenchmarkRank(b *testing.B) {
	const tools = 5000
	s, err := Open(ctx, Options{Dir: b.TempDir(), Program: "bench"})
	if err != nil {
		b.Fatal(err)
	}
	defer s.Close()
	by := By{Actor: Actor{Role: "manager", Via: "local"}}
	if _, err := store.Write(ctx, s.db, store.Act{Verb: "bench", Actor: by.Recorded()}, func(tx *store.Tx) (bool, error) {
		return true, manyWrenches(tx, tools)
	}); err != nil {
		b.Fatal(err)
	}
	load := func(rx *store.Rx) error {
		requirements, err := rx.Requirements()
		if err != nil {
			return err
		}
		ids := make([]string, len(requirements))
		for i, r := range requirements {
			ids[i] = r.Tool
		}
		if _, err := rx.ToolsByID(ids); err != nil {
			return err
		}
		if _, err := rx.Results(); err != nil {
			return err
		}
		if _, err := rx.Wrongs(); err != nil {
			return err
		}
		if _, err := rx.LoansThatCount(); err != nil {
			return err
		}
		if _, err := rx.Outings(); err != nil {
			return err
		}
		_, err = rx.Turns()
		return err
	}
	b.Run("load the rows", func(b *testing.B) {
		for b.Loop() {
			if err := s.db.Read(ctx, load); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("answer", func(b *testing.B) {
		for b.Loop() {
			v, err := s.ReadyTools(ctx, by, nuts)
			if err != nil || len(v.Tools) != mostRanked {
				b.Fatal(len(v.Tools), err)
			}
		}
	})
}

func manyWrenches(tx *store.Tx, n int) error {
	q, err := readRequirement(nil, wrenchScale)
	if err != nil {
		return err
	}
	for i := range n {
		t := register.Tool{ID: fmt.Sprintf("T-%08d", i), Kind: "torque wrench", Created: tx.Now()}
		if t.Number, err = numberFor(tx, "", t.ID); err != nil {
			return err
		}
		if err := store.Put(tx, &t); err != nil {
			return err
		}
		if err := putRequirement(tx, t, q); err != nil {
			return err
		}
		c := comparing{hand: &hand{directory: &directory{Rx: &tx.Rx}, tx: tx, tool: t}, q: q}
		c.settings.Zone = "UTC"
		paper := labPaper(string(tx.Now().Day(time.UTC)))
		if err := c.read(paper); err != nil {
			return err
		}
		body, err := json.Marshal(c.result)
		if err != nil {
			return err
		}
		c.row.ID, c.row.Tool, c.row.Body = fmt.Sprintf("A-%08d", i), t.ID, string(body)
		if err := store.Put(tx, &c.row); err != nil {
			return err
		}
	}
	return nil
}
