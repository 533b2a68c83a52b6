package worth

import (
	"maps"
	"math/big"
	"slices"
	"strconv"
	"strings"
	"time"

	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/register"
)

// Convention says when in a year a thing counts as placed in service.
type Convention string

const (
	HalfYear Convention = "half-year"
	Quarter1 Convention = "mid-quarter, first"
	Quarter2 Convention = "mid-quarter, second"
	Quarter3 Convention = "mid-quarter, third"
	Quarter4 Convention = "mid-quarter, fourth"
)

// percents are the tables of IRS Publication 946, appendix A, in
// hundredths of a percent, by convention and recovery period. They are printed
// figures and cannot be worked out anew: 200 % declining balance rounds to 44.44
// where the table prints 44.45 (money-and-statistics 1.4, notes 1 to 3; years 6 to
// 8 of A-3 are from memory).
var percents = map[Convention]map[int][]int64{
	HalfYear: {3: {3333, 4445, 1481, 741}, 5: {2000, 3200, 1920, 1152, 1152, 576}, 7: {1429, 2449, 1749, 1249, 893, 892, 893, 446}},
	Quarter1: {3: {5833, 2778, 1235, 154}, 5: {3500, 2600, 1560, 1101, 1101, 138}, 7: {2500, 2143, 1531, 1093, 875, 874, 875, 109}},
	Quarter2: {3: {4167, 3889, 1414, 530}, 5: {2500, 3000, 1800, 1137, 1137, 426}, 7: {1785, 2347, 1676, 1197, 887, 887, 887, 334}},
	Quarter3: {3: {2500, 5000, 1667, 833}, 5: {1500, 3400, 2040, 1224, 1130, 706}, 7: {1071, 2551, 1822, 1302, 930, 885, 886, 553}},
	Quarter4: {3: {833, 6111, 2037, 1019}, 5: {500, 3800, 2280, 1368, 1094, 958}, 7: {357, 2755, 1968, 1406, 1004, 873, 873, 764}},
}

// TaxYears spreads a basis over the years of its recovery period (3, 5 or 7). Each
// year is rounded; the last takes what is left, so that the years add up to the
// basis. It is a planning figure: the preparer decides.
func TaxYears(basis int64, when Convention, period int) ([]int64, error) {
	table := percents[when][period]
	if table == nil {
		return nil, fault.New(fault.Invalid, "there is no table for %d years, %s", period, when).WithHint("use 3, 5 or 7 years")
	}
	out, left := make([]int64, len(table)), basis
	for i, p := range table {
		if out[i] = Times(basis, big.NewRat(p, 10_000)); i == len(table)-1 {
			out[i] = left
		}
		left -= out[i]
	}
	return out, nil
}

// UnderSafeHarbor says whether the cost of one thing bought, with its share of freight, is
// within the de minimis limit of Reg. §1.263(a)-1(f); Notice 2015-82 sets 2,500
// without an applicable financial statement. It needs a policy and an election.
func UnderSafeHarbor(cost, limit int64) bool { return cost <= limit }

// TaxPeriod is the recovery period of the column: 5 years, of class 57.0 of Rev.
// Proc. 87-56 (distributive trades and services). That an independent repair shop
// falls in it is common practice, no source; the preparer decides.
const TaxPeriod = 5

// TaxCaution stands over the column.
const TaxCaution = "Not tax advice; no first-year write-offs assumed. Class 57.0, 5 years: whether it applies, and which convention, the preparer decides."

// DeMinimis is the limit of the safe harbor in whole dollars, without an applicable
// financial statement (Notice 2015-82).
const DeMinimis = 2500

// taxDecimals are those of the dollar, in which the tables and the limit are.
const taxDecimals = 100

// TaxYear is what of a basis falls on one year.
type TaxYear struct {
	Year   int
	Amount int64
}

// TaxLine is a tool in the tax book.
type TaxLine struct {
	Basis   int64 // price paid and its tax
	In      dates.Date
	When    Convention
	Years   []TaxYear
	SoFar   int64 // of this year and those before
	Left    int64
	Harbor  bool // its basis alone is within the de minimis limit; an election is not assumed
	WhyNone string
}

// TaxBook spreads what a tool cost over the years. Mid-quarter conventions are taken
// for tools placed in service in the years named; half-year for all others. WhyNone
// says why there is no figure.
func TaxBook(t register.Tool, midQuarter []int, today dates.Date) (l TaxLine, err error) {
	switch {
	case t.Price == nil:
		return TaxLine{WhyNone: "no price paid is on record"}, nil
	case t.Currency != "USD":
		return TaxLine{WhyNone: "the price is in " + t.Currency + "; the tables are for US dollars"}, nil
	case t.Bought == "":
		return TaxLine{WhyNone: "no day of purchase is on record"}, nil
	}
	l = TaxLine{Basis: *t.Price, In: t.Bought, When: HalfYear}
	if t.Tax != nil {
		l.Basis += *t.Tax
	}
	l.Harbor = UnderSafeHarbor(l.Basis, DeMinimis*taxDecimals)
	year, quarter := yearAndQuarter(t.Bought)
	if slices.Contains(midQuarter, year) {
		l.When = []Convention{Quarter1, Quarter2, Quarter3, Quarter4}[quarter-1]
	}
	amounts, err := TaxYears(l.Basis, l.When, TaxPeriod)
	if err != nil {
		return l, err
	}
	now, _ := yearAndQuarter(today)
	for i, a := range amounts {
		l.Years = append(l.Years, TaxYear{year + i, a})
		if year+i <= now {
			l.SoFar += a
		}
	}
	l.Left = l.Basis - l.SoFar
	return l, nil
}

func yearAndQuarter(d dates.Date) (year, quarter int) {
	t, err := time.Parse(time.DateOnly, string(d))
	if err != nil {
		return 0, 1
	}
	return t.Year(), (int(t.Month())-1)/3 + 1
}

// Placed is what an owner placed in service in one year, by what is on record.
type Placed struct {
	Owner       string
	Year        int
	Basis       int64
	LastQuarter int64 // of it, in the last three months
}

// MidQuarter says whether the mid-quarter convention applies by these figures: more
// than 40 % of the year's basis was placed in service in its last three months (IRC
// §168(d)(3)). Property that is not on record here counts too.
func (p Placed) MidQuarter() bool { return 5*p.LastQuarter > 2*p.Basis }

// PlacedIn adds up by owner and year.
type PlacedIn map[string]map[int]*Placed

// Add counts a line of the tax book.
func (all PlacedIn) Add(owner string, l TaxLine) {
	if l.WhyNone != "" {
		return
	}
	year, quarter := yearAndQuarter(l.In)
	if all[owner] == nil {
		all[owner] = map[int]*Placed{}
	}
	if all[owner][year] == nil {
		all[owner][year] = &Placed{Owner: owner, Year: year}
	}
	p := all[owner][year]
	p.Basis += l.Basis
	if quarter == 4 {
		p.LastQuarter += l.Basis
	}
}

// Sorted gives them by owner and year.
func (all PlacedIn) Sorted() (out []Placed) {
	for _, owner := range slices.Sorted(maps.Keys(all)) {
		for _, year := range slices.Sorted(maps.Keys(all[owner])) {
			out = append(out, *all[owner][year])
		}
	}
	return out
}

// ParseYears reads "2024,2025".
func ParseYears(text string) (out []int, err error) {
	if strings.TrimSpace(text) == "" {
		return nil, nil
	}
	for word := range strings.SplitSeq(text, ",") {
		n, err := strconv.Atoi(strings.TrimSpace(word))
		if err != nil || n < 1987 || n > 9999 { // the tables begin with property placed in service after 1986
			return nil, fault.New(fault.Invalid, "%q is not a year from 1987 on", fault.Clip(word)).WithHint("give years with commas between, such as 2024,2025")
		}
		out = append(out, n)
	}
	return out, nil
}
