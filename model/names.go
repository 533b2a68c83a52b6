package model

import (
	"strings"

	"pawl/model/custody"
	"pawl/model/internal/store"
	"pawl/model/names"
	"pawl/model/people"
	"pawl/model/register"
	"pawl/model/settings"
)

// directory turns ids into the names of today.
type directory struct {
	*store.Rx
	settings settings.Settings
	people   []people.Person
	byID     map[string]people.Person
	places   register.Places
	jobs     map[string]string
	doubt    []string // what to say of a doubtful clock, beside everything

	broken func(sha256 string) bool // says which originals cannot be decoded; nil: none is known
}

// shows says that an original is not known to be one that cannot be decoded.
func (d *directory) shows(sha256 string) bool { return d.broken == nil || !d.broken(sha256) }

func readNames(rx *store.Rx) (d *directory, err error) {
	d = &directory{Rx: rx, byID: map[string]people.Person{}, jobs: map[string]string{}}
	if d.settings, err = rx.Settings(); err != nil {
		return d, err
	}
	if d.people, err = rx.People(); err != nil {
		return d, err
	}
	for _, p := range d.people {
		d.byID[p.ID] = p
	}
	if d.places, err = rx.Places(); err != nil {
		return d, err
	}
	clock, err := clockOf(rx)
	if clock.Doubtful {
		d.doubt = []string{"The clock is DOUBTFUL: it says " + clock.Now.String() + ", and the ledger holds " + clock.Latest.String() +
			" already. Set it right; a manager then vouches for it with: pawl clock confirm"}
	}
	return d, err
}

// person gives a name, "" for none.
func (d *directory) person(id string) string { return d.byID[id].Name }

// owner gives the name of a tool's owner.
func (d *directory) owner(id string) string {
	if id == "" {
		return d.settings.Name
	}
	return d.person(id)
}

// ownerOf names the owner of a tool: somebody outside, a person, or the shop.
func (d *directory) ownerOf(t register.Tool) string {
	if t.FromOutside() {
		return t.Outsider
	}
	return d.owner(t.Owner)
}

// outsiderNamed finds an owner outside whose tools are here, in any case.
func (d *directory) outsiderNamed(name string) (string, error) {
	all, err := d.Outsiders()
	for _, o := range all {
		if names.Key(o) == names.Key(name) {
			return o, err
		}
	}
	return "", err
}

// ownerID resolves an owner by name; the shop goes by its name, or "shop".
func (d *directory) ownerID(name string) (string, error) {
	switch names.Key(name) {
	case "", "shop", "the shop", names.Key(d.settings.Name):
		return "", nil
	}
	p, err := people.Match(d.people, name)
	return p.ID, err
}

// object is what the rules ask about a tool.
func (d *directory) object(t register.Tool) people.Object {
	return people.Object{Owner: t.Owner, OwnerShares: d.byID[t.Owner].Shares}
}

// job gives a job's number, "" for none.
func (d *directory) job(id string) (string, error) {
	if n, known := d.jobs[id]; known || id == "" {
		return n, nil
	}
	j, _, err := d.Rx.Job(id)
	d.jobs[id] = j.Number
	return j.Number, err
}

// actor gives the actor of a line in names: "Tech A via token".
func (d *directory) actor(recorded string) string {
	who, rest, _ := strings.Cut(recorded, " via ")
	via, _, _ := strings.Cut(rest, " ")
	name := d.person(who)
	if who == "shop" || who == "" {
		name = d.settings.Name
	}
	if name == "" {
		name = who
	}
	return name + " via " + via
}

// holder names who has a tool by its latest loan.
func (d *directory) holder(l custody.Loan) custody.Holder {
	name := d.person(l.Person)
	if l.State == custody.Away {
		name = l.Whom
	}
	return custody.Holder{Name: name, Since: l.Since}
}

// custody puts a loan into names.
func (d *directory) custody(l custody.Loan) (CustodyView, error) {
	if !l.Open() {
		return CustodyView{State: custody.InPlace, Since: l.Changed()}, nil
	}
	job, err := d.job(l.Job)
	return CustodyView{State: l.State, Person: d.person(l.Person), Job: job, To: l.Whom, Purpose: l.Purpose, Since: l.Since, Due: l.Due}, err
}

// lastLoan gives the latest stretch of a tool in somebody's hands, as custody.Loan tells of it.
func (d *directory) lastLoan(t register.Tool) (custody.Loan, error) {
	l, err := d.LastLoan(t.ID)
	return l.CameBackAt(t.BackSince), err
}

// place resolves a place by path; an empty one is none.
func (d *directory) place(path string) (string, error) {
	if strings.TrimSpace(path) == "" {
		return "", nil
	}
	p, err := d.places.Resolve(path)
	return p.ID, err
}
