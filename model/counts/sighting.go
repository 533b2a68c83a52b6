package counts

import (
	"net/url"
	"reflect"
	"slices"
	"strings"

	"pawl/model/custody"
	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/numbers"
	"pawl/model/pattern"
	"pawl/model/register"
	"pawl/model/serials"
)

// Found is what a look at a tool said of its record.
type Found string

const (
	AsRecorded Found = "seen"           // where the record has it, or with whom
	Elsewhere  Found = "seen elsewhere" // the record has it somewhere else
	NotListed  Found = "extra"          // it is not on the list
	ByWord     Found = "confirmed"      // whoever has it says so; nobody saw it
)

// Sighting is the recorded row of one tool that was looked at in a count, or whose
// holder said that they have it. There is one for a tool in a count.
type Sighting struct {
	ID        string `gorm:"primaryKey"`
	Rev       int64
	Count     string
	Tool      string
	Found     Found
	At        dates.Instant
	Person    string          // who saw it, or gave their word; empty = the shop
	Place     string          // id of where it was seen; empty = nobody said
	Label     string          // LabelUnreadable, or empty
	Serial    string          // by which it was known then
	Missing   register.Pieces `gorm:"type:text"`
	Condition string
	Why       string // what does not fit the record, in words
}

// TableName names the table of sightings.
func (Sighting) TableName() string { return "sightings" }

// Again is the sighting with what a later look adds to it: that it was seen, where there
// was only somebody's word; another place; its condition; pieces that are missing; that
// its record does not fit any more, as of one that was sent away or said to be gone since.
// More says whether there is anything of that.
func (s Sighting) Again(later Sighting) (again Sighting, more bool) {
	word := s.Found == ByWord
	place := later.Place != "" && later.Place != s.Place
	said := later.Condition != "" && later.Condition != s.Condition
	pieces := len(later.Missing) > 0 && !slices.Equal(later.Missing, s.Missing)
	against := !word && s.Found == AsRecorded && later.Found != AsRecorded
	if !word && !place && !said && !pieces && !against {
		return s, false
	}
	id, rev, was := s.ID, s.Rev, s
	s = later
	s.ID, s.Rev = id, rev
	if !word && s.Place == "" && against {
		s.Place = was.Place
	} else if !word && s.Place == "" { // it was seen there, and is judged by it still
		s.Place, s.Found, s.Why = was.Place, was.Found, was.Why
	}
	if s.Condition == "" && !word {
		s.Condition = was.Condition
	}
	if len(s.Missing) == 0 {
		s.Missing = was.Missing
	}
	return s, true
}

// With is the sighting with another look, which may have been earlier and is entered late:
// the two say together what they would in the order in which they were made. More says
// whether it differs from the sighting.
func (s Sighting) With(look Sighting) (out Sighting, more bool) {
	first, later := s, look
	if look.At < s.At {
		first, later = look, s
	}
	if out = first; first.Found == ByWord || later.Found != ByWord { // a word adds nothing to a look
		out, _ = first.Again(later)
	}
	out.ID, out.Rev = s.ID, s.Rev
	a, b := out, s
	a.Missing, b.Missing = nil, nil
	return out, !slices.Equal(out.Missing, s.Missing) || !reflect.DeepEqual(a, b)
}

// LabelUnreadable is the Label of a tool that was known by its serial number.
const LabelUnreadable = "unreadable"

// Scan is what one scanned or typed line of a count says: a tool's number, a place, or
// a serial number.
type Scan struct {
	Number numbers.Number
	Place  string // code
	Serial string
}

// minBareSerial is how many letters and digits a serial number has that is taken
// without "serial:" before it: a half of a label's code is shorter.
const minBareSerial = 7

// hyphened is how a number is printed for people.
var hyphened = pattern.Late(`^[0-9A-Za-z]{3}-[0-9A-Za-z]{3}$`)

// ReadScan reads one line: a tool's symbol, or its number as it is printed, with the
// hyphen; the symbol of a place, or "serial:TEXT". Address is the shop's, scheme and
// host, empty for none: a link of another host is another shop's label, and its number
// is refused. So is a code of six characters without the hyphen, which any barcode could
// be, and one with look-alike letters: nothing is folded. Another text that is none of these may be a serial number, and is taken as
// one that must fit to the letter; what cannot even be that is Invalid, and says what
// it is. A line is read whole: two codes run together are none.
func ReadScan(line, address string) (Scan, error) {
	text := strings.TrimSpace(line)
	if len(text) >= len("serial:") && strings.EqualFold(text[:len("serial:")], "serial:") {
		serial, err := serials.Check(text[len("serial:"):])
		if err == nil && serials.Key(serial) == "" {
			err = fault.New(fault.Invalid, "the serial number is empty").WithHint("write serial: and what stands on the tool")
		}
		return Scan{Serial: serial}, err
	}
	if strings.ContainsAny(text, "/:") {
		return readSymbol(text, address)
	}
	n, err := numbers.ParseExact(text)
	if err == nil && hyphened().MatchString(text) {
		return Scan{Number: n}, nil
	}
	if typed, bad := numbers.ParseNumber(text); bad == nil {
		return Scan{}, fault.New(fault.Invalid, "%.40q could be any barcode", text).
			WithHint("scan the square symbol of the label, or write the number as it is printed, with its hyphen: %s if it is that tool", typed)
	}
	if serial, bad := serials.Check(text); bad == nil && len(serials.Key(serial)) >= minBareSerial {
		return Scan{Serial: serial}, nil
	}
	return Scan{}, err
}

func readSymbol(text, address string) (Scan, error) {
	symbol, err := numbers.ParseSymbol(text)
	if err != nil {
		return Scan{}, err
	}
	switch symbol.Kind {
	case numbers.Tool:
		if host := numbers.ForeignHost(text, hostOf(address)); host != "" {
			return Scan{}, fault.New(fault.Invalid, "that label leads to %.60s, which is not the address of this shop: it may be another shop's tool", host).
				WithHint("if it is this shop's, write its number with the hyphen")
		}
		return Scan{Number: symbol.Number()}, nil
	case numbers.Place:
		return Scan{Place: symbol.Code}, nil
	}
	return Scan{}, fault.New(fault.Invalid, "that is the code of a %s, and no tool", symbol.Kind).WithHint("scan a tool, or the place where you stand")
}

// hostOf is the host of the shop's address, in lower case.
func hostOf(address string) string {
	link, err := url.Parse(address)
	if err != nil {
		return ""
	}
	return strings.ToLower(link.Host)
}

// Look is what is known when somebody sees a tool.
type Look struct {
	Listed bool
	Home   string        // id of the place where the tool belongs; empty = none
	Now    custody.State // by the record
	Holder string        // by name, where it is out or away
	At     string        // id of the place where it is seen; empty = nobody said
	Gone   string        // why it is gone by the record; empty = it is not
}

// Judge says what a look means. A tool that is out may be seen anywhere but put away in
// its place. Why tells what does not fit; it is empty where all does.
func Judge(l Look, places register.Places) (found Found, why string) {
	home, in := places.Path(l.Home), places.Path(l.At)
	fits := l.At == "" || l.Home == "" || within(places, l.At, l.Home) || within(places, l.Home, l.At)
	switch {
	case l.Gone != "" && l.Listed:
		return Elsewhere, "it is here, and by the record gone: " + l.Gone
	case l.Gone != "":
		return NotListed, "by the record it is gone: " + l.Gone
	case !l.Listed:
		return NotListed, "it is not on the list of this count"
	case l.Now == custody.Away:
		return Elsewhere, "it is here, and by the record away to " + l.Holder
	case l.Now == custody.Out && l.At != "" && l.Home != "" && within(places, l.At, l.Home):
		return Elsewhere, "it is put away in " + in + ", and by the record out to " + l.Holder
	case l.Now == custody.Out || fits:
		return AsRecorded, ""
	}
	return Elsewhere, "it is in " + in + ", and belongs in " + home
}

// within says whether a place is another, or in it.
func within(places register.Places, id, other string) bool {
	for range register.MaxDepth {
		if id == other {
			return true
		}
		p, there := places[id]
		if !there || p.Parent == "" {
			return false
		}
		id = p.Parent
	}
	return false
}
