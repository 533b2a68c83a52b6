package model

import (
	"context"
	"strings"

	"pawl/model/custody"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/numbers"
	"pawl/model/people"
	"pawl/model/register"
)

// Leave marks somebody as left. Settled says that what is open is known and is
// settled otherwise.
type Leave struct{ Settled bool }

// ToSettle is something that is open when somebody leaves.
type ToSettle struct {
	Number numbers.Number
	Kind   string
	What   string // in words: who has whose tool
}

// Left is what somebody's leaving left behind.
type Left struct {
	Person people.Person
	Open   []ToSettle // what was still to settle
	Takes  []PartView // own tools that went with them
	Tokens []string   // names of tokens that were ended

	Devices []string // names of devices that were revoked
}

// Leave ends somebody's time here: their tokens and devices open nothing any
// more, and their own tools that are in place go with them. It is refused while they hold what
// is not theirs, or others hold what is, unless that is said to be settled; and
// Refused of the last manager in force, but at the computer.
func (s *Shop) Leave(ctx context.Context, by By, id string, in Leave) (Left, error) {
	return act(ctx, s, by, "people leave", []any{id, in}, func(tx *store.Tx) (out Left, err error) {
		if err := allowed(by, people.ShopActs, people.Object{}); err != nil {
			return out, err
		}
		if out.Person, err = load[people.Person](tx, id, "person "+id); err != nil {
			return out, err
		}
		if out.Person.Left != 0 {
			return out, fault.New(fault.Conflict, "%s left already", out.Person.Name).WithFact("since", out.Person.Left.String())
		}
		if out.Person.Role == people.Manager {
			if err := othersLead(tx, by, out.Person); err != nil {
				return out, err
			}
		}
		l := leaving{s: s, tx: tx, by: by, out: &out, settled: in.Settled}
		if l.d, err = readNames(&tx.Rx); err != nil {
			return out, err
		}
		for _, step := range []func() error{l.held, l.own, l.refuse, l.tokens, l.devices, l.feeds} {
			if err := step(); err != nil {
				return out, err
			}
		}
		out.Person.Left = tx.Now()
		return out, store.Put(tx, &out.Person)
	})
}

// leaving is one leave in progress.
type leaving struct {
	s       *Shop
	tx      *store.Tx
	by      By
	d       *directory
	out     *Left
	settled bool
}

func (l *leaving) open(t register.Tool, what string) {
	l.out.Open = append(l.out.Open, ToSettle{Number: t.Number, Kind: t.Kind, What: what})
}

// held finds what they have and is not theirs.
func (l *leaving) held() error {
	loans, err := l.tx.LoansOf(l.out.Person.ID)
	if err != nil {
		return err
	}
	for _, loan := range loans {
		t, _, err := l.tx.Tool(loan.Tool)
		if err != nil {
			return err
		}
		if t.Owner != l.out.Person.ID {
			l.open(t, l.out.Person.Name+" has it, and it belongs to "+l.d.ownerOf(t)+": to be returned or handed over")
		}
	}
	return nil
}

// own takes their own tools out of the register, but for those that others have.
func (l *leaving) own() error {
	tools, err := l.tx.ToolsOf(l.out.Person.ID)
	if err != nil {
		return err
	}
	for _, t := range tools {
		h, err := l.s.handFor(l.tx, l.by, string(t.Number))
		if err != nil {
			return err
		}
		if h.last.Open() && (h.last.State != custody.Out || h.last.Person != l.out.Person.ID) {
			l.open(t, "it is theirs, and "+string(h.last.State)+" to "+h.holder(h.last).Name+": to be given back")
			continue
		}
		on, err := h.day("#/on", "")
		if err != nil {
			return err
		}
		if err := h.gone(register.HandedToOwner, "", on); err != nil {
			return err
		}
		l.out.Takes = append(l.out.Takes, PartView{Number: t.Number, Kind: t.Kind, Serial: t.Serial})
	}
	return nil
}

func (l *leaving) refuse() error {
	if len(l.out.Open) == 0 || l.settled {
		return nil
	}
	var said, numbers []string
	for _, o := range l.out.Open {
		said = append(said, o.Number.String()+" "+o.Kind+": "+o.What)
		numbers = append(numbers, o.Number.String())
	}
	return fault.New(fault.Conflict, "there is something to settle with %s: %s", l.out.Person.Name, strings.Join(said, "; ")).
		WithHint("settle it, or say that it is settled otherwise with --settled").WithFact("tools", strings.Join(numbers, " "))
}

// tokens ends every way in that acts as them.
func (l *leaving) tokens() error {
	all, err := l.tx.Tokens()
	if err != nil {
		return err
	}
	for _, each := range all {
		if each.Person != l.out.Person.ID || each.Revoked != 0 {
			continue
		}
		t, err := load[people.Token](l.tx, each.ID, "token "+each.ID)
		if err != nil {
			return err
		}
		if err := revokeToken(l.tx, &t); err != nil {
			return err
		}
		l.out.Tokens = append(l.out.Tokens, t.Name)
	}
	return nil
}

// feeds ends every calendar of theirs.
func (l *leaving) feeds() error {
	all, err := l.tx.Feeds()
	if err != nil {
		return err
	}
	for _, each := range all {
		if each.Person != l.out.Person.ID || each.Revoked != 0 {
			continue
		}
		f, err := load[people.Feed](l.tx, each.ID, "calendar "+each.ID)
		if err != nil {
			return err
		}
		if err := revokeFeed(l.tx, &f); err != nil {
			return err
		}
	}
	return nil
}

// devices shuts out every device that acts as them, and every link to one.
func (l *leaving) devices() error {
	if err := l.tx.DropEnrolments(l.out.Person.ID); err != nil {
		return err
	}
	all, err := l.tx.DevicesOf(l.out.Person.ID)
	if err != nil {
		return err
	}
	for _, each := range all {
		if each.Revoked != 0 {
			continue
		}
		v, err := load[people.Device](l.tx, each.ID, "device "+each.ID)
		if err != nil {
			return err
		}
		if err := revokeDevice(l.tx, &v); err != nil {
			return err
		}
		l.out.Devices = append(l.out.Devices, v.Name)
	}
	return nil
}
