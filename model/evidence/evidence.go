// Package evidence holds the rules on photos and papers: what is taken, what it
// says about itself, and what is recorded of it.
//
// An original is a file as received, byte for byte, known by its SHA-256. A
// piece of evidence joins one original to one tool under a kind; one receipt
// may serve three tools. A view is a smaller, upright copy without metadata;
// this package only says whether one can be made. A claim is what a photo says
// of its time and device: anybody can edit it, so it is shown beside the time of
// receipt and never trusted. A family is picture or PDF; a file whose name or
// stated type belongs to another family than its content is refused.
//
// Nothing here decodes a pixel: sizes come from headers.
package evidence

import (
	"strings"

	"pawl/model/dates"
	"pawl/model/fault"
)

// Kind says what a photo or paper shows. Its text is the token that commands,
// routes and stored rows use.
type Kind string

const (
	Plate        Kind = "plate"        // the maker's serial plate
	Whole        Kind = "whole"        // the whole tool
	Label        Kind = "label"        // our label, where it sticks
	Drawer       Kind = "drawer"       // a drawer with several tools
	Receipt      Kind = "receipt"      // proof of purchase
	Account      Kind = "account"      // statement of a dealer's account
	Card         Kind = "card"         // record of a card payment
	Registration Kind = "registration" // registration with the maker
	Certificate  Kind = "certificate"  // of a tool calibration
	Warranty     Kind = "warranty"     // terms of a warranty
	Slip         Kind = "slip"         // packing, repair or exchange slip
	Damage       Kind = "damage"       // what is broken
	Police       Kind = "police"       // police report
	Statement    Kind = "statement"    // what somebody declares
	Other        Kind = "other"
)

// kinds are in the order in which they are offered.
var kinds = []struct {
	kind  Kind
	words string
	photo bool
}{
	{Plate, "serial plate", true},
	{Whole, "whole tool", true},
	{Label, "label in place", true},
	{Drawer, "drawer", true},
	{Receipt, "receipt", false},
	{Account, "account statement", false},
	{Card, "card record", false},
	{Registration, "maker registration", false},
	{Certificate, "certificate", false},
	{Warranty, "warranty", false},
	{Slip, "slip", false},
	{Damage, "damage", true},
	{Police, "police report", false},
	{Statement, "statement", false},
	{Other, "other", false},
}

// Kinds lists every kind in the order in which they are offered.
func Kinds() []Kind {
	all := make([]Kind, len(kinds))
	for i, k := range kinds {
		all[i] = k.kind
	}
	return all
}

// ParseKind reads a token such as "plate". Any other text is Invalid; the fault
// lists the tokens.
func ParseKind(token string) (Kind, error) {
	tokens := make([]string, len(kinds))
	for i, k := range kinds {
		if string(k.kind) == token {
			return k.kind, nil
		}
		tokens[i] = string(k.kind)
	}
	return "", fault.New(fault.Invalid, "%s is not a kind of photo or paper", quote(token)).
		WithHint("use one of: %s", strings.Join(tokens, " "))
}

// Words is the kind as people read it: "serial plate" for plate. A kind that
// ParseKind would refuse is given back as it is.
func (k Kind) Words() string {
	for _, known := range kinds {
		if known.kind == k {
			return known.words
		}
	}
	return string(k)
}

// Photo says whether the kind is a view of a thing (plate, whole, label, drawer,
// damage) and not a paper about it.
func (k Kind) Photo() bool {
	for _, known := range kinds {
		if known.kind == k {
			return known.photo
		}
	}
	return false
}

// InPlainSight says whether a photo of the kind shows what whoever passes sees
// anyway: the tool as it hangs there, the drawer as it lies open.
func (k Kind) InPlainSight() bool { return k == Whole || k == Drawer }

// Record is one piece of evidence: one original, joined to one tool, one place or one
// loss. One of none of them is not yet sorted.
type Record struct {
	ID           string `gorm:"primaryKey"`
	Rev          int64
	Tool         string        // id of the tool
	SHA256       string        // of the original: 64 lower-case hex digits
	Kind         Kind          //
	MediaType    string        // by content, see Inspect
	Bytes        int64         // size of the original
	Width        int64         // pixels as stored, before turning upright; 0 where unknown
	Height       int64         //
	Name         string        // the file's name where it came from; data, never part of a path
	ReceivedAt   dates.Instant // by the store's clock
	ClaimedAt    string        // what the photo says, see Media; empty when it says nothing
	Device       string        // what the photo says
	ClaimedPlace string        // what the photo says, see Media
	UploadedBy   string        // id of the person
	Withdrawn    dates.Instant // 0 while it stands
	Place        string        // id of the place that it shows, in place of a tool; see Drawer
	Loss         string        // id of the loss that it is about as a whole: forced entry, police report
}

// TableName is the table that keeps the rows.
func (Record) TableName() string { return "evidence" }
