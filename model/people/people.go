// Package people says who uses Pawl and what each may see. A person works in
// the shop under one of the roles; an actor is whoever does an act, by which
// way in. The object and field rules are one pure table here (see May), and
// Shop methods apply it inside the transaction.
package people

import (
	"strings"

	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/names"
)

// Role is what a person, or a token, may do in general.
type Role string

const (
	Manager    Role = "manager"
	Technician Role = "technician"
	Viewer     Role = "viewer"
	ShopDevice Role = "shop device" // the board: acts only under a badge
)

// ParseRole takes one of the roles that can be given to a person or a token.
func ParseRole(s string) (Role, error) {
	switch r := Role(strings.ToLower(strings.TrimSpace(s))); r {
	case Manager, Technician, Viewer:
		return r, nil
	}
	return "", fault.New(fault.Invalid, "%q is not a role", s).WithHint("use manager, technician or viewer")
}

// Person is the recorded row of somebody in the shop.
type Person struct {
	ID      string `gorm:"primaryKey"`
	Rev     int64
	Name    string
	NameKey string // folded name; unique among people who have not left
	Role    Role
	Badge   string        // what a badge carries: B/CODE
	Shares  bool          // prices and papers of their own tools are shown to managers
	Left    dates.Instant // when they left; 0 = still here
}

// TableName names the table of people.
func (Person) TableName() string { return "people" }

// Match finds the one person of that name among those still here. Several or
// none is a fault that lists candidates: nobody is guessed at.
func Match(all []Person, name string) (Person, error) {
	key := names.Key(name)
	var near []string
	for _, p := range all {
		if p.Left != 0 {
			continue
		}
		if p.NameKey == key {
			return p, nil
		}
		if key != "" && strings.Contains(p.NameKey, key) {
			near = append(near, p.Name)
		}
	}
	f := fault.New(fault.NotFound, "nobody here is called %q", name)
	if len(near) > 0 {
		return Person{}, f.WithHint("did you mean: %s", strings.Join(near, ", "))
	}
	return Person{}, f.WithHint("add them: pawl people add %q --role technician", name)
}
