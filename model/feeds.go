package model

import (
	"context"
	"encoding/base64"
	"io"

	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/names"
	"pawl/model/people"
)

// NewFeed is an address of the calendar to be made; For names whose it is, where
// that is not the asker's.
type NewFeed struct{ Name, For string }

// FeedView is an address of the calendar with the name of whose it is. Secret is
// there only in the answer that made it: it is kept nowhere, and a replay has none.
type FeedView struct {
	people.Feed
	ForName  string
	LastUsed dates.Instant // when it was last read, to 5 minutes; 0: never, or no longer known
	Secret   string        `json:"-"`
}

// AddFeed makes an address at which a calendar program reads what is due: dates
// alone, those that its person may see. A manager makes the shop's, whoever has a
// name their own; one for somebody else only who holds the data folder.
func (s *Shop) AddFeed(ctx context.Context, by By, in NewFeed) (FeedView, error) {
	return act(ctx, s, by, "calendar add", in, func(tx *store.Tx) (v FeedView, err error) {
		if v.Name, err = names.Check(in.Name); err != nil {
			return v, fault.At("#/name", "%s", fault.Of(err).Error())
		}
		if err := v.owned(tx, by, in.For); err != nil {
			return v, err
		}
		if v.ID, err = tx.NewID('F'); err != nil {
			return v, err
		}
		raw := make([]byte, 24)
		if err := tx.Chance(raw); err != nil {
			return v, err
		}
		v.Secret, v.Since = base64.RawURLEncoding.EncodeToString(raw), tx.Now()
		if err := tx.KeepFeedSecret(hashSecret(v.Secret), v.ID); err != nil {
			return v, err
		}
		return v, store.Put(tx, &v.Feed)
	})
}

// owned settles whose calendar it is.
func (v *FeedView) owned(tx *store.Tx, by By, name string) error {
	all, err := tx.People()
	if err != nil {
		return err
	}
	switch names.Key(name) {
	case "":
		v.Person = by.Person
	case "shop":
	default:
		p, err := people.Match(all, name)
		if err != nil {
			return fault.At("#/for", "%s", fault.Of(err).Error())
		}
		if v.Person = p.ID; p.ID != by.Person && !by.AtComputer() {
			return fault.New(fault.Forbidden, "a calendar of %s would show what is theirs", p.Name).
				WithHint("they make it themselves, or it is made at the shop's computer")
		}
	}
	if by.Role == people.ShopDevice {
		return fault.New(fault.Forbidden, "no calendar is made at a shop device").WithHint("make it on a phone of your own")
	}
	for _, p := range all {
		if p.ID == v.Person {
			v.ForName = p.Name
		}
	}
	if v.Person == "" {
		return allowed(by, people.ShopActs, people.Object{})
	}
	return allowed(by, people.EditTool, people.Object{})
}

// Feeds gives the addresses of the calendar, revoked ones too, without secrets: all
// to a manager, else one's own.
func (s *Shop) Feeds(ctx context.Context, by By) (out []FeedView, err error) {
	err = s.db.Read(ctx, func(rx *store.Rx) error {
		all, err := rx.Feeds()
		if err != nil {
			return err
		}
		used, err := rx.FeedUses()
		if err != nil {
			return err
		}
		n, err := readNames(rx)
		for _, f := range all {
			if ownFeed(by, f) || people.May(by.Actor, people.ShopActs, people.Object{}) {
				out = append(out, FeedView{Feed: f, ForName: n.person(f.Person), LastUsed: used[f.ID]})
			}
		}
		return err
	})
	return out, err
}

func ownFeed(by By, f people.Feed) bool {
	return f.Person != "" && f.Person == by.Person && by.Role != people.ShopDevice
}

// RevokeFeed ends an address at once: any by a manager, their own by a person.
func (s *Shop) RevokeFeed(ctx context.Context, by By, id string) (FeedView, error) {
	return act(ctx, s, by, "calendar revoke", id, func(tx *store.Tx) (v FeedView, err error) {
		if v.Feed, err = load[people.Feed](tx, id, "calendar "+id); err != nil {
			return v, err
		}
		if !ownFeed(by, v.Feed) {
			if err := allowed(by, people.ShopActs, people.Object{}); err != nil {
				return v, err
			}
		}
		if v.Revoked != 0 {
			return v, fault.New(fault.Conflict, "calendar %s was revoked already", id).WithFact("since", v.Revoked.String())
		}
		p, _, err := tx.Person(v.Person)
		if err != nil {
			return v, err
		}
		v.ForName = p.Name
		return v, revokeFeed(tx, &v.Feed)
	})
}

func revokeFeed(tx *store.Tx, f *people.Feed) error {
	f.Revoked = tx.Now()
	if err := tx.DropFeedSecret(f.ID); err != nil {
		return err
	}
	return store.Put(tx, f)
}

// WriteFeed writes the calendar that a secret opens. One that opens nothing is
// NotFound, and Throttled after ten from one address within a minute.
func (s *Shop) WriteFeed(ctx context.Context, secret, address string, w io.Writer) error {
	var a Actor
	opens, stale, hash := false, false, hashSecret(secret)
	err := s.db.Read(ctx, func(rx *store.Rx) error {
		id, used, err := rx.FeedOfSecret(hash)
		if err != nil || id == "" {
			return err
		}
		stale = used <= rx.Now()-useEvery
		a, opens, err = actorOfFeed(rx, id)
		return err
	})
	if err != nil {
		return err
	}
	if !opens {
		return s.wrongSecret(ctx, guesser{"calendar from " + address, "use an address that is in force"},
			fault.New(fault.NotFound, "there is no calendar at this address: it is unknown or was revoked").WithHint("make a new one on the page of the calendar"))
	}
	if stale {
		_, err := store.Write(ctx, s.db, store.Act{Verb: "use", Actor: a.Recorded()}, func(tx *store.Tx) (bool, error) { return true, tx.UseFeed(hash) })
		if err != nil {
			return err
		}
	}
	return s.WriteDue(ctx, By{Actor: a}, DueQuery{}, w)
}

// actorOfFeed is whoever a calendar is for, in the role that they have by now; the
// shop's own sees what is the shop's.
func actorOfFeed(rx *store.Rx, id string) (a Actor, opens bool, err error) {
	f, found, err := rx.Feed(id)
	if err != nil || !found || f.Revoked != 0 {
		return a, false, err
	}
	a = Actor{Person: f.Person, Role: people.Manager, Via: people.ViaToken}
	if f.Person == "" {
		return a, true, nil
	}
	p, found, err := rx.Person(f.Person)
	a.Name, a.Role = p.Name, p.Role
	return a, found && p.Left == 0 && p.Role != people.Viewer, err
}
