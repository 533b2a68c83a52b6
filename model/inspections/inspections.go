// Package inspections says which named checks without readings a tool is under,
// whose rule each of them is, who may do it, which paper it needs, and when it is
// next due. An inspection is one such check, done on a day by somebody, passed or
// failed. The look before each use, and the air test of gloves, are not among them:
// they move no date and are no list to tick; what they find is reported wrong.
package inspections

import (
	"strings"

	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/names"
)

// Whose says where a rule comes from.
type Whose string

const (
	Federal   Whose = "federal"
	Consensus Whose = "consensus standard"
	State     Whose = "state"
	Insurer   Whose = "insurer"
	ShopOwn   Whose = "shop"
)

// ParseWhose takes one of the sources of a rule.
func ParseWhose(s string) (Whose, error) {
	switch w := Whose(strings.ToLower(strings.TrimSpace(s))); w {
	case Federal, Consensus, State, Insurer, ShopOwn:
		return w, nil
	}
	return "", fault.New(fault.Invalid, "%q is not whose rule it can be", s).WithHint("use federal, consensus standard, state, insurer or shop")
}

// Result is how an inspection ended.
type Result string

const (
	Passed Result = "pass"
	Failed Result = "fail"
)

// ParseResult takes one of the results.
func ParseResult(s string) (Result, error) {
	switch r := Result(strings.ToLower(strings.TrimSpace(s))); r {
	case Passed, Failed:
		return r, nil
	}
	return "", fault.New(fault.Invalid, "%q is not how an inspection ends", s).WithHint("use pass or fail")
}

// Every is the time from one inspection to the next; the zero value is none: the
// next day is read from the tool's own tag.
type Every struct{ Months, Days int }

// From gives the day on which it ends; a month without that day ends on its last.
func (e Every) From(on dates.Date) dates.Date {
	if e.Days > 0 {
		return on.AddDays(e.Days)
	}
	if e.Months > 0 {
		return on.AddMonths(e.Months)
	}
	return ""
}

// MaxMonths is the longest interval that is taken, 12 years and one more.
const MaxMonths = 13 * 12

// Inspection is the recorded row of one inspection.
type Inspection struct {
	ID        string `gorm:"primaryKey"`
	Rev       int64
	Tool      string
	Name      string // of the check
	NameKey   string
	OnDay     dates.Date
	DoneAt    dates.Instant // 0 where only the day is known
	Entered   dates.Instant
	By        string // person id of who entered it; empty = the shop
	Inspector string // who did it, and their number, as written
	Result    Result
	Note      string
	Paper     string     // evidence id
	TagDay    dates.Date // the next day, as the paper or the tag says
	Wrong     string     // report that a failure made
}

// TableName names the table of inspections.
func (Inspection) TableName() string { return "inspections" }

// Plan is the recorded row of what a shop decided on one check of one tool. A check
// of the catalog needs none as long as its own rule is kept.
type Plan struct {
	ID          string `gorm:"primaryKey"`
	Rev         int64
	Tool        string
	Name        string
	NameKey     string
	Months      int
	Days        int
	Whose       Whose
	Source      string // what the rule rests on, as entered
	NeedsPaper  bool
	Strict      bool       // gloves: six months from the last test always
	FirstIssued dates.Date // gloves: the first day they were given out
	NotIssued   bool       // gloves: tested and still in store
	TwelveYear  bool       // extinguishers: stored-pressure dry chemical with a 12-year test
	Dropped     bool       // not held here
	Why         string     // why it is not
	Again       string     // what happened, after which the shop asked for it: moved, repaired …
	AgainDay    dates.Date // on that day
	AgainAt     dates.Instant
	Since       dates.Instant
}

// TableName names the table of plans.
func (Plan) TableName() string { return "plans" }

// Check is one named check as it holds for one tool: a rule of the catalog, or the
// shop's own, with what the shop decided.
type Check struct {
	Rule
	Plan *Plan
	Own  bool // not in the catalog
}

func (c Check) key() string { return names.Key(c.Name) }

// Standing is how a tool stands by one check.
type Standing struct {
	Check
	Last   *Inspection // newest by its day; nil: none is on record
	Next   dates.Date  // last good day; empty: not known
	Why    string      // why that day, where it is not the interval alone
	Failed bool        // the newest one did
	Since  *Event      // what happened, after which it has not passed yet; nil: nothing
}

// Held gives the checks that a tool of that kind is under, those of the catalog
// first: what its kind is under, what was planned for it, and what was ever done.
func Held(kind string, plans []Plan, done []Inspection) (out []Check) {
	planned, own := map[string]*Plan{}, []string{}
	for i := range plans {
		planned[plans[i].NameKey] = &plans[i]
	}
	wanted := map[string]string{}
	for _, p := range plans {
		wanted[p.NameKey] = p.Name
		own = append(own, p.NameKey)
	}
	for _, d := range done {
		if _, known := wanted[d.NameKey]; !known {
			wanted[d.NameKey] = d.Name
			own = append(own, d.NameKey)
		}
	}
	for _, r := range Catalog() {
		key := names.Key(r.Name)
		_, asked := wanted[key]
		if p := planned[key]; (asked || r.Expected(kind)) && (p == nil || !p.Dropped) {
			out = append(out, Check{Rule: r, Plan: p}.decided())
		}
		delete(wanted, key)
	}
	for _, key := range own {
		p := planned[key]
		if _, left := wanted[key]; !left || p == nil || p.Dropped {
			continue
		}
		delete(wanted, key)
		out = append(out, Check{Rule: Rule{Name: p.Name, NeedsPaper: p.NeedsPaper, Whose: ShopOwn, Source: "the shop's own check"}, Plan: p, Own: true}.decided())
	}
	return out
}

// decided puts what the shop decided over the rule of the catalog.
func (c Check) decided() Check {
	p := c.Plan
	if p == nil {
		return c
	}
	if p.Months > 0 || p.Days > 0 {
		c.Every = Every{p.Months, p.Days}
	}
	if p.Whose != "" {
		c.Whose, c.Provenance = p.Whose, ""
	}
	if p.Source != "" {
		c.Source, c.Provenance = p.Source, "as entered by the shop"
	}
	c.NeedsPaper = c.NeedsPaper || p.NeedsPaper
	return c
}

// Stand says how a tool stands by every check that it is under. Inspections and what
// happened come in any order; of several inspections on a day the one entered last
// counts.
func Stand(kind string, plans []Plan, done []Inspection, happened []Event) (out []Standing) {
	last, passed := map[string]*Inspection{}, map[string]*Inspection{}
	for i := range done {
		d := &done[i]
		if later(d, last[d.NameKey]) {
			last[d.NameKey] = d
		}
		if d.Result == Passed && later(d, passed[d.NameKey]) {
			passed[d.NameKey] = d
		}
	}
	for _, c := range Held(kind, plans, done) {
		key := names.Key(c.Name)
		s := Standing{Check: c, Last: last[key]}
		if s.Last != nil {
			s.Failed = s.Last.Result == Failed
			s.Next, s.Why = c.next(*s.Last, passed)
		}
		s.after(c.waiting(happened, done))
		out = append(out, s)
	}
	return out
}

func later(d, than *Inspection) bool {
	if than == nil || d.OnDay != than.OnDay {
		return than == nil || than.OnDay.Before(d.OnDay)
	}
	return d.Entered > than.Entered || d.Entered == than.Entered && d.ID > than.ID
}

// next gives the last good day after an inspection, and why it is that one.
func (c Check) next(d Inspection, passed map[string]*Inspection) (day dates.Date, why string) {
	if d.Result == Failed {
		return d.OnDay, "it failed; it is due until it passes"
	}
	switch {
	case c.Gloves:
		day, why = c.gloves(d.OnDay)
	case c.TwelveYear:
		day = c.Every.From(d.OnDay)
		// Refilled at a hydrostatic test, it begins anew (29 CFR 1910.157(e)(4), from
		// memory, unverified).
		if h := passed[names.Key(Hydrostatic)]; h != nil && d.OnDay.Before(h.OnDay) {
			day, why = c.Every.From(h.OnDay), "from its hydrostatic test"
		}
	default:
		day = c.Every.From(d.OnDay)
	}
	if d.TagDay != "" && (day == "" || d.TagDay.Before(day)) {
		day, why = d.TagDay, "as its tag or paper says"
	}
	return day, why
}

// gloves is the project's rule on insulating gloves (calibration.md 8; not legal
// advice): first issued within 12 months of the test, tested again 6 months after
// that and no later than 12 months after the test; later 6 months from each test.
// Without a first day of issue they count as in service since the test, and the
// owner may choose six months from the last test always, which is the strictest.
func (c Check) gloves(tested dates.Date) (dates.Date, string) {
	six, twelve := tested.AddMonths(6), tested.AddMonths(12)
	p := c.Plan
	switch {
	case p == nil || p.Strict && p.FirstIssued == "" && !p.NotIssued:
		return six, ""
	case p.Strict:
		return six, "six months from the last test always, as the shop chose"
	case p.NotIssued:
		return twelve, "not issued yet: they may be first issued until then"
	case p.FirstIssued != "" && !p.FirstIssued.Before(tested):
		if after := p.FirstIssued.AddMonths(6); after.Before(twelve) {
			return after, "six months from their first issue on " + string(p.FirstIssued)
		}
		return twelve, "twelve months from the test: they were first issued on " + string(p.FirstIssued)
	}
	return six, ""
}
