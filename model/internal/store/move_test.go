package store

import (
	"testing"

	"pawl/model/fault"
	"pawl/model/ledger"
)

// named gives the store a name and a person.
func named(t *testing.T, d *DB) {
	t.Helper()
	do(t, d, func(tx *Tx) error {
		return tx.SetIdentity(Identity{ID: "0123456789abcdef", VKey: testKey(t), Created: tx.Now()})
	})
	do(t, d, put(person("H-1", "Tech A")))
}

func testKey(t *testing.T) string {
	t.Helper()
	origin, err := ledger.Origin("0123456789abcdef")
	if err != nil {
		t.Fatal(err)
	}
	_, vkey, err := ledger.GenerateKey(newChance(1), origin)
	if err != nil {
		t.Fatal(err)
	}
	return vkey
}

// A process whose hold on the store broke unseen, as a connection does, adds nothing to a
// shop that left meanwhile.
func TestNothingIsAddedToAShopThatLeft(t *testing.T) {
	onBoth(t, func(t *testing.T, at *site) {
		d := at.open(t)
		named(t, d)
		if _, err := at.raw(t).Exec("UPDATE store SET moved_to = 'elsewhere'"); err != nil {
			t.Fatal(err)
		}
		err := try(d, Act{Verb: "do"}, put(person("H-2", "Tech B")))
		if !fault.Is(err, fault.Refused) || size(t, d) != 1 {
			t.Errorf("%v, %d lines", err, size(t, d))
		}
	})
}

// A shop leaves with the lines that were copied, or not at all.
func TestAShopLeavesWithAllItsLines(t *testing.T) {
	onBoth(t, func(t *testing.T, at *site) {
		d := at.open(t)
		named(t, d)
		err := try(d, Act{Verb: "move"}, func(tx *Tx) error { return tx.Leave("elsewhere", 0) })
		if !fault.Is(err, fault.Conflict) {
			t.Errorf("one line was added: %v", err)
		}
		do(t, d, put(person("H-2", "Tech B"))) // it stands
		do(t, d, func(tx *Tx) error { return tx.Leave("elsewhere", 2) })
		if err := try(d, Act{Verb: "do"}, put(person("H-3", "Tech C"))); !fault.Is(err, fault.Refused) {
			t.Errorf("it left: %v", err)
		}
	})
}

// Who wants a store alone does not get it while another has it.
func TestAloneIsAlone(t *testing.T) {
	onBoth(t, func(t *testing.T, at *site) {
		d := at.openDamaged(t)
		alone := at.Config
		alone.Alone = true
		if other, err := Open(ctx, alone); !fault.Is(err, fault.Unavailable) {
			t.Errorf("%v", err)
			if err == nil {
				other.Close()
			}
		}
		if err := d.Close(); err != nil {
			t.Fatal(err)
		}
		only, err := Open(ctx, alone)
		if err != nil {
			t.Fatal(err)
		}
		defer only.Close()
		if other, err := Open(ctx, alone); !fault.Is(err, fault.Unavailable) {
			t.Errorf("a second: %v", err)
			if err == nil {
				other.Close()
			}
		}
	})
}

// Nothing is carried into a store that is not being moved into, and none is emptied that
// stands.
func TestAStoreThatStandsIsNotFilled(t *testing.T) {
	onBoth(t, func(t *testing.T, at *site) {
		from := newSite(t, "sqlite").open(t)
		named(t, from)
		d := at.open(t)
		named(t, d)
		if _, err := d.Carry(ctx, from); !fault.Is(err, fault.Internal) {
			t.Errorf("carried: %v", err)
		}
		err := try(d, Act{Verb: "move"}, func(tx *Tx) error {
			return tx.Arrive(Identity{ID: "0123456789abcdef", VKey: "key", MovingFrom: "elsewhere"})
		})
		if !fault.Is(err, fault.Conflict) || size(t, d) != 1 {
			t.Errorf("arrived: %v, %d lines", err, size(t, d))
		}
	})
}
