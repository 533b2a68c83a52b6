package worth

import (
	"slices"
	"strconv"
	"strings"

	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/names"
	"pawl/model/register"
)

// Life is how long a class of tools is taken to be of use, and the share of its
// replacement cost below which its value does not sink.
type Life struct {
	Class  string // of tools; the kind itself where the shop set its own
	Months int64
	Floor  string // a share, as ParseShare reads it
	Set    bool   // by the shop; else assumed
}

// From says where a life comes from.
func (l Life) From() string {
	if l.Set {
		return "set by the shop"
	}
	return "assumed"
}

// The lives are assumptions (money-and-statistics 1.3: hand tools, air and cordless
// tools, measuring tools, storage; the others are common practice, no source):
// public tables of useful lives are made for tax assessment, not for insurance.
const floor = "0.2"

var (
	HandTools  = Life{Class: "hand tools", Months: 240, Floor: floor}
	Powered    = Life{Class: "air and cordless tools", Months: 84, Floor: floor}
	Measuring  = Life{Class: "measuring tools", Months: 120, Floor: floor}
	Storage    = Life{Class: "storage", Months: 180, Floor: floor}
	Lifting    = Life{Class: "lifts, jacks and stands", Months: 180, Floor: floor}
	Equipment  = Life{Class: "shop equipment", Months: 120, Floor: floor}
	Electronic = Life{Class: "electronic tools", Months: 60, Floor: floor}
	Protective = Life{Class: "protective equipment", Months: 60, Floor: floor}
)

// Classes are all of them.
var Classes = []Life{HandTools, Powered, Measuring, Storage, Lifting, Equipment, Electronic, Protective}

// classed says by which words in its name a kind belongs to a class; the first that
// fits is taken. What is only for use with something stands before it: sockets for
// an impact wrench are hand tools, and a press for a ball joint is held in the hand.
var classed = []struct {
	life Life
	is   func(kind string) bool
}{
	{Measuring, register.Measures},
	{HandTools, says("spring compressor", "socket", "bit", "bits", "blade", "adapter", "vise", "hand saw", "ball joint press", "jack handle")},
	{Protective, says("glove", "blanket", "extinguisher", "eyewash", "helmet", "face shield", "respirator")},
	{Lifting, register.Bears},
	{Equipment, says("compressor", "tire changer", "tyre changer", "balancer", "alignment rack", "aligner", "parts washer", "blast cabinet", "welder", "welding machine",
		"lathe", "press", "drill press", "bench grinder", "band saw", "hose reel", "oil drain", "drain", "coolant exchanger", "recovery machine", "evacuator",
		"vacuum pump", "generator", "plasma cutter", "induction heater")},
	{Electronic, says("scan tool", "scanner", "camera", "borescope", "oscilloscope", "work light", "lamp", "flashlight", "soldering station", "tablet", "laptop", "programmer", "code reader")},
	{Powered, says("battery", "charger")},
	{Storage, says("chest", "cabinet", "toolbox", "tool box", "box", "cart", "workbench", "bench", "case", "drawer", "rack")},
	{Powered, says("impact", "drill", "grinder", "sander", "polisher", "air ratchet", "cordless ratchet", "air hammer", "air chisel", "air tool", "cordless", "electric",
		"saw", "heat gun", "grease gun", "blow gun", "spray gun", "nailer", "nibbler", "rotary tool")},
}

// says looks for any of the words in the name of a kind.
func says(words ...string) func(string) bool {
	return func(kind string) bool { return register.Says(kind, words...) }
}

// LifeOf gives the class of a kind of tool by the words in its name; what nothing
// is said of is taken for a hand tool.
func LifeOf(kind string) Life {
	for _, c := range classed {
		if c.is(kind) {
			return c.life
		}
	}
	return HandTools
}

// What a life of the shop's own is of.
const (
	OfClass = "class"
	OfKind  = "kind"
)

// LifeRow is the recorded row of a life that the shop set for a class or a kind.
type LifeRow struct {
	ID      string `gorm:"primaryKey"`
	Rev     int64
	Sort    string // OfClass, OfKind
	Name    string
	NameKey string
	Months  int64
	Floor   string
	Since   dates.Instant
	Person  string        // who set it
	Ended   dates.Instant // 0 = it holds
}

// TableName names the table of lives.
func (LifeRow) TableName() string { return "lives" }

// NewLife is a life as typed: of a class or of a kind.
type NewLife struct{ Class, Kind, Months, Floor string }

// maxMonths is a hundred years.
const maxMonths = 1200

// Read reads what was typed, or names every value at fault.
func (n NewLife) Read() (r LifeRow, err error) {
	var bad fault.Problems
	r.Sort, r.Name = OfKind, strings.TrimSpace(n.Kind)
	switch {
	case (n.Class == "") == (n.Kind == ""):
		bad.Add("#/class", "say which: give a class or a kind, and not both")
	case n.Class != "":
		r.Sort, r.Name = OfClass, names.Key(n.Class)
		if !slices.ContainsFunc(Classes, func(l Life) bool { return l.Class == r.Name }) {
			bad.Add("#/class", "%q is no class of tools; use %s", fault.Clip(n.Class), classNames())
		}
	default:
		r.Name, err = names.Check(n.Kind)
		bad.Keep("#/kind", err)
	}
	r.NameKey = names.Key(r.Name)
	if r.Months, err = strconv.ParseInt(strings.TrimSpace(n.Months), 10, 64); err != nil || r.Months < 1 || r.Months > maxMonths {
		bad.Add("#/months", "%q is not a whole number of months from 1 to %d", fault.Clip(n.Months), maxMonths)
	}
	r.Floor = strings.TrimSpace(n.Floor)
	share, err := ParseShare(r.Floor)
	if err == nil && share.Cmp(one) >= 0 {
		err = fault.New(fault.Invalid, "a floor of %s leaves nothing to depreciate; give a share below 1, such as 0.2", r.Floor)
	}
	bad.Keep("#/floor", err)
	return r, bad.Err()
}

func classNames() string {
	words := make([]string, len(Classes))
	for i, l := range Classes {
		words[i] = strconv.Quote(l.Class)
	}
	return strings.Join(words, ", ")
}

// Lives are the lives that the shop goes by: its own before what is assumed, one of
// the very kind before one of its class.
type Lives []LifeRow

// Of gives the life of a kind of tool.
func (all Lives) Of(kind string) Life {
	l, key := LifeOf(kind), names.Key(kind)
	for _, sort := range []string{OfKind, OfClass} {
		for _, r := range all {
			if r.Sort == sort && (sort == OfKind && r.NameKey == key || sort == OfClass && r.Name == l.Class) {
				return Life{Class: r.Name, Months: r.Months, Floor: r.Floor, Set: true}
			}
		}
	}
	return l
}

// Condition is the recorded row of what the condition of one tool takes off its
// value, with the reason.
type Condition struct {
	ID     string `gorm:"primaryKey"`
	Rev    int64
	Tool   string
	Share  string // above 0 to 1, as ParseShare reads it
	Reason string
	Since  dates.Instant
	Person string        // who judged it
	Ended  dates.Instant // 0 = it holds
}

// TableName names the table of conditions.
func (Condition) TableName() string { return "conditions" }

// NewCondition is a condition as typed.
type NewCondition struct{ Share, Reason string }

// Read reads what was typed, or names every value at fault. Why a share is taken
// belongs in the file: every such deduction has to be justified (10 CCR 2695.9(f),
// money-and-statistics 1.1).
func (n NewCondition) Read() (c Condition, err error) {
	var bad fault.Problems
	c.Share = strings.TrimSpace(n.Share)
	share, err := ParseShare(c.Share)
	if err == nil && share.Sign() == 0 {
		err = fault.New(fault.Invalid, "a share of 0 leaves no value; give one above 0 to 1, such as 0.8")
	}
	bad.Keep("#/share", err)
	c.Reason, err = names.Line(n.Reason)
	if err == nil && c.Reason == "" {
		err = fault.New(fault.Invalid, "the reason is missing; say what can be seen of it, such as: handle bent, still in use")
	}
	bad.Keep("#/reason", err)
	return c, bad.Err()
}
