package model

import (
	"context"

	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/numbers"
	"pawl/model/people"
)

const (
	sessionDays = 90 // after its last use a session opens nothing any more

	// useEvery is how old the last use that is kept may be, so that looking around
	// does not write.
	useEvery = 5 * 60 * microsPerSecond

	microsPerDay = 24 * microsPerHour
)

// DeviceView is a device with the name of its person and when it was last used.
// InForce says that it opens something now.
type DeviceView struct {
	people.Device
	PersonName string
	LastUsed   dates.Instant // to 5 minutes; 0 once it opens nothing
	InForce    bool
}

// Devices gives every device, revoked ones too, oldest first; of whoever is no
// manager, their own.
func (s *Shop) Devices(ctx context.Context, by By) (out []DeviceView, err error) {
	err = s.db.Read(ctx, func(rx *store.Rx) error {
		d, err := readNames(rx)
		if err != nil {
			return err
		}
		all, err := d.devices()
		for _, v := range all {
			if people.May(by.Actor, people.ShopActs, people.Object{}) || ownDevice(by, v.Device) {
				out = append(out, v)
			}
		}
		return err
	})
	return out, err
}

// ownDevice says whether a device is that of the person who asks.
func ownDevice(by By, v people.Device) bool {
	return v.Kind == people.PersonDevice && v.Person != "" && v.Person == by.Person && by.Role != people.ShopDevice
}

// devices puts every device into names.
func (d *directory) devices() ([]DeviceView, error) {
	all, err := d.Devices()
	if err != nil {
		return nil, err
	}
	used, err := d.LastUses()
	if err != nil {
		return nil, err
	}
	out := make([]DeviceView, len(all))
	for i, v := range all {
		out[i] = DeviceView{Device: v, PersonName: d.person(v.Person)}
		if out[i].InForce, err = d.inForce(v, used[v.ID]); err != nil {
			return nil, err
		}
		if out[i].InForce {
			out[i].LastUsed = used[v.ID]
		}
	}
	return out, nil
}

// inForce says whether a device that was used then opens something now.
func (d *directory) inForce(v people.Device, used dates.Instant) (bool, error) {
	if v.Revoked != 0 || used <= d.Now()-sessionDays*microsPerDay {
		return false, nil
	}
	switch v.Kind {
	case people.PersonDevice:
		p, found := d.byID[v.Person]
		return found && p.Left == 0, nil
	case people.ViewersDevice:
		return stillUntil(d.Rx, v.Until)
	}
	return true, nil
}

// stillUntil says whether a day is not over in the shop's zone.
func stillUntil(rx *store.Rx, until dates.Date) (bool, error) {
	set, err := rx.Settings()
	if err != nil {
		return false, err
	}
	loc, err := set.Location()
	return err == nil && rx.Now() <= until.EndIn(loc), err
}

// RevokeDevice shuts a device out at once: any by a manager, their own by a
// person. It is Refused of the only one by which a manager comes in, but at the
// computer.
func (s *Shop) RevokeDevice(ctx context.Context, by By, id string) (DeviceView, error) {
	return act(ctx, s, by, "device revoke", id, func(tx *store.Tx) (v DeviceView, err error) {
		if v.Device, err = load[people.Device](tx, id, "device "+id); err != nil {
			return v, err
		}
		if !ownDevice(by, v.Device) {
			if err := allowed(by, people.ShopActs, people.Object{}); err != nil {
				return v, err
			}
		}
		return v, endDevice(tx, by, &v)
	})
}

// endDevice ends a device for somebody who may.
func endDevice(tx *store.Tx, by By, v *DeviceView) error {
	if v.Revoked != 0 {
		return fault.New(fault.Conflict, "device %s was revoked already", v.ID).WithFact("since", v.Revoked.String())
	}
	p, _, err := tx.Person(v.Person)
	if v.PersonName = p.Name; err != nil {
		return err
	}
	if err := managersComeIn(tx, by, v.Device); err != nil {
		return err
	}
	return revokeDevice(tx, &v.Device)
}

// managersComeIn is Refused where a device is the only one in force by which a
// manager comes in: without it nobody could let anybody in but at the computer,
// where this is asked of nobody.
func managersComeIn(tx *store.Tx, by By, v people.Device) error {
	if by.AtComputer() || v.Kind != people.PersonDevice {
		return nil
	}
	// Two who leave at once are each the other's.
	if err := tx.Lock("managers"); err != nil {
		return err
	}
	d, err := readNames(&tx.Rx)
	if err != nil {
		return err
	}
	leads := func(v people.Device) bool {
		p := d.byID[v.Person]
		return v.Kind == people.PersonDevice && p.Role == people.Manager && p.Left == 0
	}
	all, err := d.devices()
	if err != nil || !leads(v) {
		return err
	}
	opens := false
	for _, each := range all {
		switch {
		case !each.InForce:
		case each.ID == v.ID:
			opens = true
		case leads(each.Device):
			return nil
		}
	}
	if !opens { // it is over already
		return nil
	}
	return fault.New(fault.Refused, "%s is the only device by which a manager comes in", v.Name).
		WithHint("let in another device of a manager first, and do it then; at the shop's computer it can be ended now (pawl people revoke %s)", v.ID)
}

// revokeDevice ends a device, how it is known again, and the links that it made
// and nobody took: whoever has it now may have made them.
func revokeDevice(tx *store.Tx, v *people.Device) error {
	v.Revoked = tx.Now()
	if err := tx.DropEnrolmentsBy(Actor{Person: v.Person, Via: people.ViaDevice, Device: v.ID}.Recorded()); err != nil {
		return err
	}
	if err := tx.DropSessions(v.ID); err != nil {
		return err
	}
	return store.Put(tx, v)
}

// EndSession ends the device that asks, whoever's it is: without its session it
// could never come back. At a shop device somebody shows their badge for it. Of
// the only one by which a manager comes in it is Refused.
func (s *Shop) EndSession(ctx context.Context, by By) error {
	if by.Device == "" {
		return fault.New(fault.Conflict, "no device is signed in here").WithHint("a token is ended with: pawl token revoke ID")
	}
	_, err := act(ctx, s, by, "device revoke", by.Device, func(tx *store.Tx) (v DeviceView, err error) {
		if v.Device, err = load[people.Device](tx, by.Device, "device "+by.Device); err != nil {
			return v, err
		}
		return v, endDevice(tx, by, &v)
	})
	return err
}

// OwnDevice gives the device that asks, as a list would show it.
func (s *Shop) OwnDevice(ctx context.Context, by By) (out DeviceView, err error) {
	err = s.db.Read(ctx, func(rx *store.Rx) error {
		d, err := readNames(rx)
		if err != nil {
			return err
		}
		all, err := d.devices()
		for _, v := range all {
			if by.Device != "" && v.ID == by.Device {
				out = v
			}
		}
		if err == nil && out.ID == "" {
			err = fault.New(fault.NotFound, "no device is signed in here")
		}
		return err
	})
	return out, err
}

// Session is Visit where it does not matter which of the day it is.
func (s *Shop) Session(ctx context.Context, secret string) (Actor, error) {
	a, _, err := s.Visit(ctx, secret)
	return a, err
}

// Visit turns the secret of a session into an actor, who may do no more than
// the person has the role for by now. Sessions that are unknown, revoked or
// unused for 90 days are Unauthenticated, as are those of people who left and of
// viewers whose time is over. Its 256 bits are not to be guessed, so that wrong
// ones are not counted. The last use is kept to 5 minutes. First says that it is
// the first of a day in UTC: what the device keeps of it is to be renewed then.
func (s *Shop) Visit(ctx context.Context, secret string) (a Actor, first bool, err error) {
	hash, stale := hashSecret(secret), false
	err = s.db.Read(ctx, func(rx *store.Rx) error {
		session, found, err := rx.SessionOf(hash)
		if err != nil || !found || session.Used <= rx.Now()-sessionDays*microsPerDay {
			return orElse(err, errSignedOut())
		}
		first = session.Used/microsPerDay != rx.Now()/microsPerDay
		stale = first || session.Used <= rx.Now()-useEvery || session.Used > rx.Now()+useEvery
		a, err = actorOfDevice(rx, session.Device)
		return err
	})
	if err != nil || !stale {
		return a, false, err
	}
	_, err = store.Write(ctx, s.db, store.Act{Verb: "use", Actor: a.Recorded()}, func(tx *store.Tx) (bool, error) {
		possible, err := latestPossible(&tx.Rx)
		if err != nil {
			return false, err
		}
		return true, tx.UseSession(hash, possible)
	})
	if err != nil {
		s.log.Warn("the last use of a device could not be kept", "device", a.Device, "error", err)
	}
	return a, first, nil
}

func errSignedOut() *fault.Error {
	return fault.New(fault.Unauthenticated, "this device is not let in, or not any more").
		WithHint("ask a manager for a link, or at the shop's computer: pawl people enroll NAME")
}

func actorOfDevice(rx *store.Rx, id string) (a Actor, err error) {
	v, found, err := rx.Device(id)
	if err != nil || !found || v.Revoked != 0 {
		return a, orElse(err, errSignedOut())
	}
	a = Actor{Name: v.Name, Via: people.ViaDevice, Device: v.ID}
	switch v.Kind {
	case people.BoardDevice:
		a.Role = people.ShopDevice
		return a, nil
	case people.ViewersDevice:
		a.Role, a.Claim = people.Viewer, v.Claim
		if still, err := stillUntil(rx, v.Until); err != nil || !still {
			return Actor{}, orElse(err, errSignedOut())
		}
		return a, nil
	}
	p, found, err := rx.Person(v.Person)
	if err != nil || !found || p.Left != 0 {
		return Actor{}, orElse(err, errSignedOut())
	}
	a.Person, a.Name, a.Role = p.ID, p.Name, p.Role
	return a, nil
}

// ShowBadge names whoever showed their badge at a shop device, for one act. Who
// asks as the shop itself, with a token that is nobody's own or at its computer,
// is a board for that act, and may do no more than one: a badge opens nothing that
// is theirs. Badges that nobody here has are Forbidden, and Throttled after ten
// within a minute.
func (s *Shop) ShowBadge(ctx context.Context, a Actor, scanned string) (Actor, error) {
	symbol, err := numbers.ParseSymbol(scanned)
	switch {
	case !a.MayBeBoard():
		return Actor{}, fault.New(fault.Malformed, "a badge is for a shop device").WithHint("leave it out: it is known here who you are")
	case err != nil:
		return Actor{}, fault.New(fault.Malformed, "%s", fault.Of(err).Message).WithHint("scan a badge: B/CODE")
	case symbol.Kind != numbers.Badge:
		return Actor{}, fault.New(fault.Malformed, "%q is the code of a %s, not a badge", scanned, symbol.Kind).WithHint("scan a badge: B/CODE")
	}
	p, found, err := tried(ctx, s, guesser{"badge at " + a.Token + a.Device, "scan your badge once more; if it is not known then either, a manager prints a new one"}, func(tx *store.Tx) (people.Person, bool, error) {
		return tx.PersonWithBadge(symbol.Code)
	})
	switch {
	case err != nil:
		return Actor{}, err
	case !found:
		return Actor{}, fault.New(fault.Forbidden, "nobody here has the badge B/%s", symbol.Code).WithHint("scan it again, or ask a manager for a new one")
	case p.Role == people.Viewer:
		return Actor{}, fault.New(fault.Forbidden, "%s is a viewer, whose badge does nothing here", p.Name).WithHint("ask a manager")
	}
	a.Person, a.Name, a.Role = p.ID, p.Name, people.ShopDevice
	return a, nil
}
