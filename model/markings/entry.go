package markings

import (
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/names"
	"pawl/model/register"
)

// Entry is what somebody records of a marking of a tool, as typed: a look at it, how it
// is protected from a day on, or another marking. What is empty is not said.
type Entry struct {
	Marking string // id of the marking that is meant; empty = the one that shows the maker's serial now
	On      string // the day of all of it; empty = today

	Grade    *int64
	Read     string            // what could be read, in the notation of package matching
	Evidence []register.Attach // photos of it

	Protection string // begins a term; of a new marking, what it has from the start

	Remark       string // the way in which the maker's serial is marked anew: ends the marking before
	OwnersNumber string // that is put on the tool beside the maker's serial, for good
	Method       string // the way in which the owner's number is made
	Where        string // on the tool, of either
}

// Anew says whether the entry brings another marking.
func (e Entry) Anew() bool { return e.Remark != "" || e.OwnersNumber != "" }

// Look says whether the entry tells of a look.
func (e Entry) Look() bool { return e.Grade != nil || e.Read != "" || len(e.Evidence) > 0 }

// Permanent are the ways in which an owner's number is put on for good; what peels
// off or rubs off is none.
var Permanent = []Method{"engraved", "etched", "stamped"}

// mostCode is the longest owner's number, in characters.
const mostCode = 40

// Check says what is wrong with an entry that can be seen without the shop's records.
func (e Entry) Check() error {
	var bad fault.Problems
	if e.Grade != nil && (*e.Grade < Unreadable || *e.Grade > Crisp) {
		bad.Keep("#/grade", fault.New(fault.Invalid, "%d is not a grade", *e.Grade).WithHint("%s", GradesInWords()))
	}
	if e.Remark != "" && e.OwnersNumber != "" {
		bad.Keep("#/remark", fault.New(fault.Invalid, "the maker's serial marked anew and a number of the owner's are two markings").WithHint("record one after the other"))
	}
	if e.Anew() && e.Marking != "" {
		bad.Keep("#/marking", fault.New(fault.Invalid, "a new marking is none of those on record").WithHint("leave the marking out"))
	}
	if e.Method != "" && e.OwnersNumber == "" {
		bad.Keep("#/method", fault.New(fault.Invalid, "a way of marking goes with a number of the owner's").WithHint("give the number too; where the maker's serial is marked anew, say how as its remark"))
	}
	if e.Where != "" && !e.Anew() {
		bad.Keep("#/where", fault.New(fault.Invalid, "a place on the tool goes with a new marking").WithHint("of the one on record it is changed with: pawl edit NUMBER --marking-where …"))
	}
	if !e.Anew() && !e.Look() && e.Protection == "" {
		bad.Keep("#/grade", fault.New(fault.Invalid, "nothing is said of the marking").WithHint("give a grade, a reading, a photo, a protection or a new marking"))
	}
	return bad.Err()
}

// New gives the marking that an entry brings, made on a day.
func (e Entry) New(on dates.Date) (m Marking, err error) {
	var bad fault.Problems
	m.Marked = on
	if e.Protection != "" {
		m.Protection, err = ParseProtection(e.Protection)
		bad.Keep("#/protection", err)
	}
	m.Spot, err = names.Line(e.Where)
	bad.Keep("#/where", err)
	if e.OwnersNumber == "" {
		m.Method, err = ParseMethod(e.Remark)
		bad.Keep("#/remark", err)
		return m, bad.Err()
	}
	m.Shows = OwnersNumber
	m.Code, err = names.Line(e.OwnersNumber)
	bad.Keep("#/owners_number", err)
	if n := utf8.RuneCountInString(m.Code); err == nil && (n == 0 || n > mostCode) {
		bad.Add("#/owners_number", "an owner's number of %d characters; it has 1 to %d", n, mostCode)
	}
	m.Method, err = ParseMethod(e.Method)
	if err == nil && !slices.Contains(Permanent, m.Method) {
		err = fault.New(fault.Invalid, "%s is not for good: an owner's number stays on the tool", m.Method).WithHint("use %s; what peels off is a label", list(Permanent))
	}
	bad.Keep("#/method", err)
	return m, bad.Err()
}

// GradesInWords lists the grades, the best first.
func GradesInWords() string {
	var all []string
	for _, g := range Grades() {
		all = append(all, strconv.FormatInt(g, 10)+" "+GradeWords(g))
	}
	return strings.Join(all, "; ")
}
