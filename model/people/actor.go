package people

// Via is the way in by which an actor acts.
type Via string

const (
	ViaLocal   Via = "local"   // at this computer, holding the data folder
	ViaToken   Via = "token"   // a script or remote command line
	ViaSession Via = "session" // a phone or browser
	ViaChores  Via = "chores"  // what falls due by itself
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
}

// Recorded is how a line of the ledger names the actor: ids and ways in only,
// never a name.
func (a Actor) Recorded() string {
	who := a.Person
	if who == "" {
		who = "shop"
	}
	s := who + " via " + string(a.Via)
	if a.Token != "" {
		s += " " + a.Token
	}
	return s
}

// AtComputer says that the actor sits at the computer that holds the data
// folder and has not taken somebody's name. Whoever can open the folder can
// read all of it, so nothing in it is hidden from them.
func (a Actor) AtComputer() bool {
	return a.Via == ViaLocal && a.Person == "" && a.Role == Manager
}
