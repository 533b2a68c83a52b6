package people

import "strings"

// Via is the way in by which an actor acts.
type Via string

const (
	ViaLocal  Via = "local"  // at this computer, holding the data folder
	ViaToken  Via = "token"  // a script or remote command line
	ViaDevice Via = "device" // a phone, browser or board that was let in
	ViaChores Via = "chores" // what falls due by itself
)

// Actor is whoever does an act: a person, or the shop itself when Person is
// empty. It is put in the context by the way in and handed to every Shop
// method; nothing else says who asks.
type Actor struct {
	Person string // person id; empty = the shop
	Name   string // for messages; not trusted for anything
	Role   Role
	Via    Via
	Token  string // token id, where one was shown
	Device string // device id, where one asks
	Claim  string // of a viewer: the claim whose packets they see
}

// Recorded is how a line of the ledger names the actor: ids and ways in only,
// never a name.
func (a Actor) Recorded() string {
	who := a.Person
	if who == "" {
		who = "shop"
	}
	s := who + " via " + string(a.Via)
	if id := a.Token + a.Device; id != "" {
		s += " " + id
	}
	return s
}

// OfRecorded reads back what Recorded wrote: the person id, empty for the shop;
// the way in; and the id of the token or device, where there was one.
func OfRecorded(line string) (person string, via Via, id string) {
	person, rest, _ := strings.Cut(line, " via ")
	if person == "shop" {
		person = ""
	}
	way, id, _ := strings.Cut(rest, " ")
	return person, Via(way), id
}

// AtComputer says that the actor sits at the computer that holds the data
// folder and has not taken somebody's name. Whoever can open the folder can
// read all of it, so nothing in it is hidden from them.
func (a Actor) AtComputer() bool {
	return a.Via == ViaLocal && a.Person == "" && a.Role == Manager
}

// MayBeBoard says whether somebody may show their badge to the actor: to a shop
// device, or to what asks in the shop's own name. Whoever has a way in of their
// own is known already.
func (a Actor) MayBeBoard() bool {
	asShop := a.Person == "" && (a.Via == ViaToken || a.Via == ViaLocal) && (a.Role == Manager || a.Role == Technician)
	return a.Role == ShopDevice || asShop
}

// Badged says that somebody showed their badge at a shop device. It names them
// for one act; the device keeps its own, smaller rights.
func (a Actor) Badged() bool { return a.Role == ShopDevice && a.Person != "" }
