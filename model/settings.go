package model

import (
	"context"

	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/people"
	"pawl/model/settings"
)

// Settings gives the shop's settings.
func (s *Shop) Settings(ctx context.Context) (set settings.Settings, err error) {
	err = s.db.Read(ctx, func(rx *store.Rx) error {
		set, err = rx.Settings()
		return err
	})
	return set, err
}

// ChangeSettings applies a change to the revision that was read.
func (s *Shop) ChangeSettings(ctx context.Context, by By, rev int64, c settings.Change) (settings.Settings, error) {
	return act(ctx, s, by, "settings", []any{rev, c}, func(tx *store.Tx) (settings.Settings, error) {
		if err := allowed(by, people.ShopActs, people.Object{}); err != nil {
			return settings.Settings{}, err
		}
		set, err := load[settings.Settings](tx, settings.ID, "shop")
		if err != nil {
			return set, err
		}
		if err := checkRev("settings", rev, set.Rev); err != nil {
			return set, err
		}
		if set, err = c.Apply(set); err != nil {
			return set, err
		}
		return set, store.Put(tx, &set)
	})
}

// allowed asks the table of object and field rules.
func allowed(by By, r people.Right, o people.Object) error {
	if people.May(by.Actor, r, o) {
		return nil
	}
	who := by.Name
	if who == "" {
		who = "this " + string(by.Role)
	}
	return fault.New(fault.Forbidden, "%s may not: %s", who, r).WithHint("ask a manager")
}
