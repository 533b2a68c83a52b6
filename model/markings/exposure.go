package markings

import (
	"cmp"
	"slices"

	"pawl/model/dates"
	"pawl/model/register"
)

// History is one marking with everything that is recorded of its wear. Checks that were
// withdrawn or carry no grade, and all that is dated after the day asked about, do not
// count; the order of checks means nothing.
type History struct {
	Tool   string // id; what a class is learned from leaves this tool out
	Kind   string // of the tool
	Method Method
	New    dates.Date // the day it was marked or bought new; empty = not known
	Terms  []Stretch  // oldest first, as Stretches gives them
	Checks []Check
	InUse  InUse
}

// InUse says on which days of the shop a tool was out. Both in any order; what overlaps
// counts once.
type InUse struct {
	Spans   []Span // a day in one is a day of use
	Covered []Span // a day in one, but in none of Spans, is a day without use; see Covered
}

// Span is a run of days, both ends among them.
type Span struct{ First, Last dates.Date }

// takesApart is how many days may go by between two takes for the days between to count
// as days without use. Assumption.
const takesApart = 14

// Covered gives the days of which custody tells how a tool was used: those from the
// first to the last of at least two days on which it was taken, none more than 14 days
// after it came back from the one before (assumption), and on until today if that was no
// longer ago. Before, after and between such runs nobody scanned, and what is said of the
// usage counts: a take now and then makes no wear less.
func Covered(takes []Span, today dates.Date) (out []Span) {
	for at := apart(takes); len(at) > 0; {
		n := 1
		for n < len(at) && at[n].first-at[n-1].end < takesApart {
			n++
		}
		run := span{at[0].first, at[n-1].end}
		if now := day(today) + 1; n == len(at) && run.end < now && now-run.end <= takesApart {
			run.end = now
		}
		if n > 1 || at[0].end-at[0].first > 1 {
			out = append(out, Span{dayOf(run.first), dayOf(run.end - 1)})
		}
		at = at[n:]
	}
	return out
}

// Class is what markings wear alike in: kind of tool and way of marking.
type Class struct {
	Kind   string
	Method Method
}

// Class folds the kind's letters.
func (h History) Class() Class {
	return Class{fold(h.Kind), h.Method}
}

// Factor is what a day counts for, as a share of a day of daily, unprotected use.
type Factor struct {
	Value   float64 // above 0, at most 1
	Learned bool    // from the shop's own checks; else assumed
}

// Factors are those that a class may learn. A day of daily use and a marking without
// protection count 1.
type Factors struct{ Weekly, Rare, Lacquer, ClearTape Factor }

// AssumedFactors are those of money-and-statistics 5.1: assumptions, no source.
func AssumedFactors() Factors {
	return Factors{Weekly: Factor{Value: 0.2}, Rare: Factor{Value: 0.03}, Lacquer: Factor{Value: 1.0 / 4}, ClearTape: Factor{Value: 1.0 / 6}}
}

// Share is what a day counts for, with what it is counted for.
type Share struct {
	Of string // "weekly use", "rare use", "lacquer", "clear tape", or a way of marking
	Factor
}

// Shares lists the factors, and that of the way of marking where it is not 1.
func (f Factors) Shares(m Method) []Share {
	out := []Share{{"weekly use", f.Weekly}, {"rare use", f.Rare}, {"lacquer", f.Lacquer}, {"clear tape", f.ClearTape}}
	if phi := share(m); phi != 1 {
		out = append(out, Share{string(m), Factor{Value: phi}})
	}
	return out
}

// methods are the ways of marking whose wear is forecast, each with what a day counts
// for (money-and-statistics 5.1, assumption). Of all others nothing is known.
var methods = map[Method]float64{"printed": 1, "engraved": 1.0 / 40}

// The rows and columns of spent.
const (
	daily = iota
	weekly
	rare
	inUse // a day on which custody says that it was in use
	uses
)
const (
	bare = iota
	lacquered
	taped
	covers
)

// spent is how many days a marking spent in each use under each protection.
type spent [uses][covers]float64

func (s spent) plus(o spent, times float64) spent {
	for u := range s {
		for c := range s[u] {
			s[u][c] += times * o[u][c]
		}
	}
	return s
}

// exposure is x = Σ u·φ·days, in days of daily, unprotected use, the method's share
// included.
func (s spent) exposure(m Method, f Factors) (x float64) {
	for u := range s {
		for c := range s[u] {
			x += s[u][c] * f.of(u, c)
		}
	}
	return x * share(m)
}

func (f Factors) of(use, cover int) float64 {
	return [uses]float64{1, f.Weekly.Value, f.Rare.Value, 1}[use] * [covers]float64{1, f.Lacquer.Value, f.ClearTape.Value}[cover]
}

// forecast says whether the wear of a way of marking is forecast.
func forecast(m Method) bool { _, ok := methods[m]; return ok }

// share is the method's φ; days of others count as they are.
func share(m Method) float64 {
	if phi, ok := methods[m]; ok {
		return phi
	}
	return 1
}

// term is a Stretch in days and indices of spent, until the next one begins.
type term struct{ from, use, cover int }

// timeline is a History in whole days.
type timeline struct {
	terms   []term // oldest first; the first holds for all days before it too
	covered []span // custody tells of these; as out
	out     []span // apart from each other, oldest first
	assumed bool   // the use that holds last is not recorded: daily was taken
}

type span struct{ first, end int } // the end is not in it

// never is a day that does not come.
const never = 1 << 40

// day counts from an arbitrary one.
func day(d dates.Date) int { return dates.DaysBetween(firstDay, d) }

func dayOf(n int) dates.Date { return firstDay.AddDays(n) }

const firstDay dates.Date = "1900-01-01"

func (h History) timeline(today dates.Date) (t timeline) {
	t.terms = make([]term, 0, max(1, len(h.Terms)))
	for i, r := range h.Terms {
		if i > 0 && r.From > today {
			break
		}
		use := slices.Index(rows, r.Usage)
		t.assumed = use < 0
		t.terms = append(t.terms, term{day(r.From), max(use, daily), max(slices.Index(columns, r.Protection), bare)})
	}
	if len(t.terms) == 0 {
		t.terms, t.assumed = []term{{}}, true
	}
	t.out = apart(h.InUse.Spans)
	t.covered = apart(slices.Concat(h.InUse.Covered, h.InUse.Spans))
	return t
}

// rows are the usages, and columns the protections, in the order of spent.
var rows = []register.Usage{register.Daily, register.Weekly, register.Rare}
var columns = []Protection{"none", "lacquer", "clear tape"}

// apart joins spans that overlap or meet.
func apart(all []Span) (out []span) {
	for _, s := range all {
		if s.First <= s.Last {
			out = append(out, span{day(s.First), day(s.Last) + 1})
		}
	}
	slices.SortFunc(out, func(a, b span) int { return cmp.Or(cmp.Compare(a.first, b.first), cmp.Compare(a.end, b.end)) })
	n := 0
	for _, s := range out {
		if n > 0 && s.first <= out[n-1].end {
			out[n-1].end = max(out[n-1].end, s.end)
		} else {
			out[n], n = s, n+1
		}
	}
	return out[:n]
}

// between is what was spent from one day until the other, which is not in it.
func (t timeline) between(from, until int) (s spent) {
	for i, r := range t.terms {
		a, b := r.from, never
		if i == 0 {
			a = from
		}
		if i+1 < len(t.terms) {
			b = t.terms[i+1].from
		}
		a, b = max(a, from), min(b, until)
		s[r.use][r.cover] += float64(max(0, b-a) - daysIn(t.covered, a, b))
		s[inUse][r.cover] += float64(daysIn(t.out, a, b))
	}
	return s
}

func daysIn(all []span, from, until int) (n int) {
	first, _ := slices.BinarySearchFunc(all, from, func(s span, day int) int { return cmp.Compare(s.end, day+1) })
	for _, s := range all[first:] {
		if s.first >= until {
			break
		}
		n += max(0, min(s.end, until)-max(s.first, from))
	}
	return n
}

// now is the use and the protection that hold on the last day.
func (t timeline) now() term { return t.terms[len(t.terms)-1] }
