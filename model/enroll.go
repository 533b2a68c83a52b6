package model

import (
	"context"
	"encoding/base64"

	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/names"
	"pawl/model/people"
)

// enrolMinutes is how long a way in waits to be taken.
const enrolMinutes = store.EnrolmentLife / 60 / microsPerSecond

// Enrolment is a way in that waits to be taken, once. Secret is there only in
// the answer that made it: it is kept nowhere.
type Enrolment struct {
	Kind    people.DeviceKind
	Name    string     // of the person; else of the device
	Until   dates.Date // last day of a viewer's
	Expires dates.Instant
	First   bool   // makes the first manager, who is still to be named
	Secret  string `json:"-"`
}

// Entry is what a device says when it takes a way in. Device names it where its
// maker did not, Name the first manager. Session is what it was known by so far,
// if it was: that ends.
type Entry struct{ Secret, Device, Name, Session string }

// Entered is a device that was let in. Secret is what it shows from now on; it is
// in no other answer.
type Entered struct {
	DeviceView
	Secret string
}

// Enroll makes a way in for a phone or browser of a person; those that wait for
// them already open nothing any more.
//
// Through it goes whoever holds the link, and sees what is the person's alone.
// A token for somebody else may therefore not be made by a manager: it works
// unseen for ever. A link is another thing. The person's own phone takes it,
// once, within 15 minutes, while both stand there; the line in the ledger says
// who made it; and the device stands in the person's own list with its last use,
// where they revoke it. So a manager lets people in, as long as that is their
// first device: beside one that is in force a second would be easy to overlook,
// and only they themselves, or whoever holds the data folder, let one more in.
func (s *Shop) Enroll(ctx context.Context, by By, name string) (Enrolment, error) {
	return s.enroll(ctx, by, func(tx *store.Tx) (e store.Enrolment, shown string, err error) {
		d, err := readNames(&tx.Rx)
		if err != nil {
			return e, "", err
		}
		p, err := people.Match(d.people, name)
		if err != nil {
			return e, "", err
		}
		if err := lockDevices(tx, p.ID); err != nil {
			return e, "", err
		}
		if err := d.mayEnroll(by, p); err != nil {
			return e, "", err
		}
		// Of two links the person might take the one and somebody else the other.
		return store.Enrolment{Kind: people.PersonDevice, Person: p.ID}, p.Name, tx.DropEnrolments(p.ID)
	})
}

// lockDevices makes all who let a device in as one person wait for one another.
func lockDevices(tx *store.Tx, person string) error {
	if person == "" {
		return nil
	}
	return tx.Lock("devices of " + person)
}

// mayEnroll says whether somebody may let a device in as that person.
func (d *directory) mayEnroll(by By, p people.Person) error {
	switch {
	case by.AtComputer():
		return nil
	case by.Person == p.ID && by.Via != people.ViaToken && by.Role != people.ShopDevice:
		return nil
	case by.Person == p.ID:
		return fault.New(fault.Forbidden, "a token or badge lets no device in for its person").WithHint("they do it at a device that is theirs, or at the shop's computer")
	}
	if err := allowed(by, people.ShopActs, people.Object{}); err != nil {
		return err
	}
	all, err := d.devices()
	if err != nil {
		return err
	}
	for _, v := range all {
		if v.Device.Person == p.ID && v.InForce {
			return fault.New(fault.Conflict, "%s has a device in force: %s", p.Name, v.Name).WithFact("device", v.ID).
				WithHint("they let another in with that one; if it is lost, revoke it first: pawl people revoke %s", v.ID)
		}
	}
	return nil
}

// EnrollShopDevice makes a way in for a board or tablet that stands in the shop.
func (s *Shop) EnrollShopDevice(ctx context.Context, by By, name string) (Enrolment, error) {
	return s.enroll(ctx, by, func(tx *store.Tx) (e store.Enrolment, shown string, err error) {
		if err := allowed(by, people.ShopActs, people.Object{}); err != nil {
			return e, "", err
		}
		name, err := names.Check(name)
		if err != nil {
			return e, "", fault.At("#/shop_device", "%s", fault.Of(err).Error())
		}
		return store.Enrolment{Kind: people.BoardDevice, Name: name}, name, nil
	})
}

// EnrollViewer makes a way in for somebody outside, through the end of a day. They see the
// packets of one claim, and without a claim nothing.
func (s *Shop) EnrollViewer(ctx context.Context, by By, name, until, claim string) (Enrolment, error) {
	return s.enroll(ctx, by, func(tx *store.Tx) (e store.Enrolment, shown string, err error) {
		if err := allowed(by, people.ShopActs, people.Object{}); err != nil {
			return e, "", err
		}
		var bad fault.Problems
		name, err := names.Check(name)
		bad.Keep("#/viewer", err)
		day, err := dates.ParseDate(until)
		bad.Keep("#/until", err)
		if err == nil {
			still, err := stillUntil(&tx.Rx, day)
			if err != nil {
				return e, "", err
			}
			if !still {
				bad.Add("#/until", "%s is over", day)
			}
		}
		if claim != "" {
			if claim, err = claimFor(&tx.Rx, by, claim); err != nil {
				return e, "", err
			}
		}
		return store.Enrolment{Kind: people.ViewersDevice, Name: name, Until: day, Claim: claim}, name, bad.Err()
	})
}

// FirstManager makes a way in for the manager who is let in first: whoever takes
// it says their name. It is for the one who starts the shop's own server. While a
// manager's device is in force it is a Conflict.
func (s *Shop) FirstManager(ctx context.Context) (Enrolment, error) {
	atComputer := By{Actor: Actor{Role: people.Manager, Via: people.ViaLocal}}
	return s.enroll(ctx, atComputer, func(tx *store.Tx) (e store.Enrolment, shown string, err error) {
		return store.Enrolment{Kind: people.PersonDevice}, "", noManagerYet(&tx.Rx)
	})
}

func noManagerYet(rx *store.Rx) error {
	d, err := readNames(rx)
	if err != nil {
		return err
	}
	all, err := d.devices()
	for _, v := range all {
		if v.InForce && v.Kind == people.PersonDevice && d.byID[v.Device.Person].Role == people.Manager {
			return fault.New(fault.Conflict, "a manager is let in already: %s", v.PersonName).
				WithHint("they let others in; or at the shop's computer: pawl people enroll NAME")
		}
	}
	return err
}

// enroll makes a way in. Nothing of it is recorded: what it makes will be.
func (s *Shop) enroll(ctx context.Context, by By, what func(*store.Tx) (store.Enrolment, string, error)) (Enrolment, error) {
	return store.Write(ctx, s.db, store.Act{Verb: "people enroll", Actor: by.Recorded()}, func(tx *store.Tx) (out Enrolment, err error) {
		e, shown, err := what(tx)
		if err != nil {
			return out, err
		}
		raw := make([]byte, 16)
		if err := tx.Chance(raw); err != nil {
			return out, err
		}
		secret := base64.RawURLEncoding.EncodeToString(raw)
		e.Hash, e.MadeBy, e.Expires = hashSecret(secret), by.Recorded(), tx.Now()+store.EnrolmentLife
		out = viewEnrolment(e, shown)
		out.Secret = secret
		return out, tx.KeepEnrolment(e)
	})
}

func viewEnrolment(e store.Enrolment, shown string) Enrolment {
	return Enrolment{Kind: e.Kind, Name: shown, Until: e.Until, Expires: e.Expires, First: e.Kind == people.PersonDevice && e.Person == ""}
}

// LookEnrolment says what a way in would make, and leaves it as it is. Address is
// where the asker is: after ten wrong secrets from there within a minute, another
// wrong one is Throttled.
func (s *Shop) LookEnrolment(ctx context.Context, secret, address string) (Enrolment, error) {
	l, err := s.link(ctx, secret, address)
	if err != nil {
		return Enrolment{}, err
	}
	return viewEnrolment(l.Enrolment, l.shown), nil
}

// link is a way in with whom it is for, in words.
type link struct {
	store.Enrolment
	shown string
}

func (s *Shop) link(ctx context.Context, secret, address string) (link, error) {
	var l link
	opens := false
	err := s.db.Read(ctx, func(rx *store.Rx) (err error) {
		if l.Enrolment, opens, err = rx.EnrolmentOf(hashSecret(secret)); err != nil || !opens {
			return err
		}
		p, _, err := rx.Person(l.Person)
		if err != nil {
			return err
		}
		l.shown = l.Name + p.Name // one of them is empty
		opens, err = stillOpens(rx, l.Enrolment)
		return err
	})
	if err != nil || opens {
		return l, err
	}
	return link{}, s.wrongSecret(ctx, guesser{"enrolment from " + address, "open the newest link that was made for you"}, errSpent())
}

// stillOpens says whether whoever made a way in may let that in by now too: they
// may be no manager any more, or the person may have a device meanwhile.
func stillOpens(rx *store.Rx, e store.Enrolment) (bool, error) {
	if e.Kind == people.PersonDevice && e.Person == "" {
		return true, nil // the first manager's; whether there is one is asked when they say their name
	}
	d, err := readNames(rx)
	if err != nil {
		return false, err
	}
	by, err := d.maker(e)
	switch {
	case err != nil:
	case e.Kind == people.PersonDevice:
		p, found := d.byID[e.Person]
		if !found || p.Left != 0 {
			return false, nil
		}
		err = d.mayEnroll(by, p)
	default:
		err = allowed(by, people.ShopActs, people.Object{})
	}
	if fault.Is(err, fault.Unauthenticated) || fault.Is(err, fault.Forbidden) || fault.Is(err, fault.Conflict) {
		return false, nil
	}
	return err == nil, err
}

// maker is whoever made a way in, in the role that they have by now.
func (d *directory) maker(e store.Enrolment) (By, error) {
	person, via, id := people.OfRecorded(e.MadeBy)
	switch via {
	case people.ViaDevice:
		a, err := actorOfDevice(d.Rx, id)
		return By{Actor: a}, err
	case people.ViaToken:
		a, err := actorOfToken(d.Rx, id)
		return By{Actor: a}, err
	}
	if person == "" {
		return By{Actor: Actor{Role: people.Manager, Via: via}}, nil
	}
	p, found := d.byID[person]
	if !found || p.Left != 0 {
		return By{}, errSignedOut()
	}
	return By{Actor: Actor{Person: p.ID, Name: p.Name, Role: p.Role, Via: via}}, nil
}

func errSpent() *fault.Error {
	return fault.New(fault.NotFound, "this link opens nothing: it was used, or is over %d minutes old, or a newer one took its place", enrolMinutes).
		WithHint("ask a manager for a new one, or at the shop's computer: pawl people enroll NAME")
}

// Enter takes a way in and lets the device in; of two that come with one link,
// one. Other links that wait for the person open nothing any more, and what the
// device was let in as before ends; where no manager could come in after that, it
// is Refused. In the ledger it is the act of whoever made the link: they let it in.
func (s *Shop) Enter(ctx context.Context, in Entry, address string) (Entered, error) {
	e, err := s.link(ctx, in.Secret, address)
	if err != nil {
		return Entered{}, err
	}
	return store.Write(ctx, s.db, store.Act{Verb: "device add", Actor: e.MadeBy}, func(tx *store.Tx) (out Entered, err error) {
		if err := take(tx, e.Enrolment); err != nil {
			return out, err
		}
		v := people.Device{Kind: e.Kind, Name: e.Name, Person: e.Person, Until: e.Until, Claim: e.Claim, Since: tx.Now()}
		p, err := whoEnters(tx, e.Enrolment, in)
		if err != nil {
			return out, err
		}
		v.Person = p.ID
		if v.Name == "" {
			if v.Name, err = names.Check(in.Device); err != nil {
				return out, fault.At("#/device", "%s", fault.Of(err).Error())
			}
		}
		if err := endSession(tx, in.Session, p); err != nil {
			return out, err
		}
		if v.ID, err = tx.NewID('D'); err != nil {
			return out, err
		}
		if out.Secret, err = newSession(tx, v.ID); err != nil {
			return out, err
		}
		err = store.Put(tx, &v)
		out.DeviceView = DeviceView{Device: v, PersonName: p.Name, LastUsed: tx.Now(), InForce: true}
		return out, err
	})
}

// take uses a way in up, and with it all that wait for the same person.
func take(tx *store.Tx, e store.Enrolment) error {
	if err := lockDevices(tx, e.Person); err != nil {
		return err
	}
	opens, err := stillOpens(&tx.Rx, e)
	if err == nil && opens {
		opens, err = tx.TakeEnrolment(e.Hash)
	}
	if err != nil || !opens {
		return orElse(err, errSpent())
	}
	if e.Person == "" {
		return nil
	}
	return tx.DropEnrolments(e.Person)
}

// endSession ends the device that a session is of, if it is in force: its browser
// becomes one of next, or nobody's own. By it the last manager would go too.
func endSession(tx *store.Tx, secret string, next people.Person) error {
	session, found, err := tx.SessionOf(hashSecret(secret))
	if err != nil || !found {
		return err
	}
	v, found, err := store.Change[people.Device](tx, session.Device)
	if err != nil || !found || v.Revoked != 0 {
		return err
	}
	if next.Role != people.Manager {
		if err := managersComeIn(tx, By{}, v); err != nil {
			return err
		}
	}
	return revokeDevice(tx, &v)
}

// newSession makes what a device shows to be known again.
func newSession(tx *store.Tx, device string) (secret string, err error) {
	raw := make([]byte, 32)
	if err := tx.Chance(raw); err != nil {
		return "", err
	}
	secret = base64.RawURLEncoding.EncodeToString(raw)
	return secret, tx.KeepSession(store.Session{Hash: hashSecret(secret), Device: device, Created: tx.Now(), Used: tx.Now()})
}

// whoEnters is the person of the device; nobody for a board or a viewer.
func whoEnters(tx *store.Tx, e store.Enrolment, in Entry) (p people.Person, err error) {
	switch {
	case e.Kind != people.PersonDevice:
		return p, nil
	case e.Person == "":
		return firstManager(tx, in.Name)
	}
	p, found, err := tx.Person(e.Person)
	if err == nil && (!found || p.Left != 0) {
		err = errSpent()
	}
	return p, err
}

// firstManager makes the manager of that name, or takes the one there is.
func firstManager(tx *store.Tx, name string) (people.Person, error) {
	// Two links may be out, of two servers that started: one of them is first.
	if err := tx.Lock("first manager"); err != nil {
		return people.Person{}, err
	}
	if err := noManagerYet(&tx.Rx); err != nil {
		return people.Person{}, err
	}
	all, err := tx.People()
	if err != nil {
		return people.Person{}, err
	}
	for _, p := range all {
		if p.Left != 0 || p.NameKey != names.Key(name) {
			continue
		}
		if p.Role != people.Manager {
			return p, fault.New(fault.Conflict, "%s is here already, as a %s", p.Name, p.Role).
				WithHint("at the shop's computer: pawl people edit %q --role manager", p.Name)
		}
		return p, nil
	}
	return addPerson(tx, NewPerson{Name: name, Role: string(people.Manager)})
}
