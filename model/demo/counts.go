package demo

import (
	"fmt"
	"time"

	"pawl/model"
	"pawl/model/counts"
)

// count is the last of the story: the stockroom was counted and closed, and a count of
// Bay 1 is under way, which Tech A and Tech B scan.
func (b *builder) count() {
	b.countClosed()
	v := b.startCount("place:Bay 1")
	all := b.toLookFor(v.ID)
	for i, row := range all {
		who, in := b.tech("Tech A"), model.ScanCount{Scanned: "T/" + string(row.Number), At: row.Place}
		if i%3 == 2 {
			who = b.tech("Tech B")
		}
		switch {
		case row.Holder != "" || i%4 == 3:
			continue // still to look for
		case i == 5:
			in.At = "Bay 2/Cart" // it is in the wrong place
		case i == 8:
			in.Condition = "handle cracked"
		}
		b.look(who, v.ID, in)
	}
	if extras := b.ofKind("heat gun"); len(extras) > 0 { // one that belongs elsewhere, or to nobody's list
		b.look(b.tech("Tech B"), v.ID, model.ScanCount{Scanned: extras[0], At: "Bay 1/Cart"})
	}
}

// countClosed is a count of the stockroom in which one tool was not found.
func (b *builder) countClosed() {
	v := b.startCount("place:Stockroom")
	all := b.toLookFor(v.ID)
	for i, row := range all {
		if i == 4 || row.Holder != "" {
			continue
		}
		b.look(b.tech("Tech C"), v.ID, model.ScanCount{Scanned: "T/" + string(row.Number), At: row.Place})
	}
	for i, row := range all {
		in := model.SettleDifference{Number: string(row.Number), How: string(counts.Missing), Note: "Stockroom and both carts searched, Tech C"}
		if row.Holder != "" {
			in.How, in.With, in.Note = string(counts.KnownElsewhere), row.Holder, "asked"
		} else if i != 4 {
			continue
		}
		b.do("settle a difference", func() error { _, err := b.shop.SettleDifference(b.ctx, b.by, v.ID, in); return err })
	}
	b.clock.pass(5 * time.Minute)
	b.do("close a count", func() error { _, err := b.shop.CloseCount(b.ctx, b.by, v.ID); return err })
	b.clock.pass(15 * time.Minute)
}

func (b *builder) startCount(scope string) (v model.CountView) {
	b.do("start a count of "+scope, func() (err error) {
		v, err = b.shop.StartCount(b.ctx, b.by, model.StartCount{Scope: scope, How: counts.InFull})
		return err
	})
	b.clock.pass(3 * time.Minute)
	return v
}

func (b *builder) toLookFor(id string) (all []model.CountRow) {
	b.do("list a count", func() error {
		rows, next, err := b.shop.CountTools(b.ctx, b.by, id, model.CountToolsQuery{Which: model.ListToLookFor, Limit: 200})
		if all = rows; err == nil && (len(all) < 9 || next != "") {
			err = fmt.Errorf("%d tools to look for, and more after %q", len(all), next)
		}
		return err
	})
	return all
}

// tech is somebody who acts in their own name.
func (b *builder) tech(name string) (by model.By) {
	b.do("name "+name, func() (err error) { by.Actor, err = b.shop.ActorNamed(b.ctx, name); return err })
	return by
}

func (b *builder) look(by model.By, id string, in model.ScanCount) {
	b.do("scan "+in.Scanned, func() error { _, err := b.shop.ScanCount(b.ctx, by, id, in); return err })
	b.clock.pass(20 * time.Second)
}
