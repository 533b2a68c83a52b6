package markings

import (
	"cmp"
	"math"
	"slices"
	"sort"
	"strconv"

	"gonum.org/v1/gonum/mathext"

	"pawl/model/dates"
)

const (
	// furthest is how many days ahead a date is given: "more than 10 years" beyond it.
	furthest = 3650
	// photoDays is the longest time until the next photo is due. Assumption.
	photoDays = 365
	// likely is the chance from which on a marking is to be seen to now. Assumption.
	likely = 0.5
)

// Outlook says what can be said of a marking's days to come.
type Outlook string

const (
	Fading      Outlook = "fading"       // there is a forecast
	IsLost      Outlook = "lost"         // its grades have come down to Lost: no date
	InDoubt     Outlook = "in doubt"     // the last look found every character, and those before it say lost: look again
	NeverLooked Outlook = "never looked" // no graded check, and nobody knows when it was new
	NoForecast  Outlook = "no forecast"  // nothing is known of how such markings wear
)

// Forecast is what one marking's looks, and those of its class, say of the day on which
// its serial number is no longer complete (money-and-statistics 5.3).
type Forecast struct {
	Standing Outlook
	Grade    *int64  // at the last look, the worst of that day; nil = none was graded
	Pooled   float64 // what it is reckoned with: grades that rise are pooled with those before
	Rose     bool    // a grade rose though the marking stayed the same
	From     dates.Date
	Last     dates.Date // of the last look, or the day it was new; dates are counted from it
	New      bool       // it was never looked at, and is taken to have been crisp when new: assumed
	UseTaken bool       // no usage is recorded: daily use is assumed

	Steps    float64 // k, the grades lost from From to Last
	Exposure float64 // E, in days of daily, unprotected use from From to Last
	Since    float64 // exposure from Last until today
	Factor   float64 // what a day counts for at the present use and protection
	Prior    Prior
	Wear     Wear

	Early, Expected, Late Ahead      // meaningful while fading
	Unreadable            *float64   // the chance that it is lost by today; nil = not known
	NextPhoto             dates.Date // of what is in doubt the day of the last look: at once
	Protect               bool       // protect it, or add an owner's number, now
}

// Ahead is a day to come with the chance that the serial is lost by then.
type Ahead struct {
	Chance   float64
	Exposure float64    // from the last look
	Days     float64    // from the last look: those gone by as they were used, those to come at the present use and protection
	On       dates.Date // empty = more than ten years after the last look
}

// Wear is what is known of the rate at which a marking loses grades per day of daily,
// unprotected use: Gamma(Shape, Rate), both above 0.
type Wear struct{ Shape, Rate float64 }

// Chance is the probability that steps more grades are lost by a further exposure x:
// I_{x/(x+β)}(m, α) (money-and-statistics 5.3). It is 1 with no steps left, 0 with no
// exposure.
func (w Wear) Chance(steps, x float64) float64 {
	switch {
	case !(steps > 0):
		return 1
	case !(x > 0):
		return 0
	case math.IsInf(x/w.Rate, 1):
		return 1
	}
	return mathext.RegIncBeta(steps, w.Shape, x/(x+w.Rate))
}

// Quantile is the further exposure by which steps more grades are lost with a chance of
// p, 0 < p < 1: β·q/(1−q) with q the inverse of I(m, α) at p (money-and-statistics 5.3).
// It may be +Inf.
func (w Wear) Quantile(steps, p float64) float64 {
	switch {
	case !(steps > 0):
		return 0
	case steps == 1:
		return w.Rate * math.Expm1(-math.Log1p(-p)/w.Shape)
	}
	q := mathext.InvRegIncBeta(steps, w.Shape, p)
	rest := 1 - q
	if q > 0.5 { // near 1 the rest is known better than 1 less q
		rest = mathext.InvRegIncBeta(w.Shape, steps, 1-p)
		q = 1 - rest
	}
	return w.Rate * (q / rest)
}

// seen is a day on which a marking was looked at.
type seen struct {
	day   int
	on    dates.Date
	grade float64 // pooled
	looks float64
	worst int64
}

// looked are the days of looks, oldest first, and whether a grade rose between them.
// Looks of one day are averaged.
func (h History) looked(today dates.Date) (all []seen, rose bool) {
	all = make([]seen, 0, len(h.Checks))
	for _, c := range h.Checks {
		if c.Withdrawn != 0 || c.Grade == nil || *c.Grade < Unreadable || *c.Grade > Crisp || c.On == "" || c.On > today {
			continue
		}
		all = append(all, seen{on: c.On, grade: float64(*c.Grade), looks: 1, worst: *c.Grade})
	}
	slices.SortFunc(all, func(a, b seen) int { return cmp.Compare(a.on, b.on) })
	n := 0
	for _, s := range all {
		if n > 0 && all[n-1].on == s.on {
			d := &all[n-1]
			d.grade, d.looks, d.worst = (d.grade*d.looks+s.grade)/(d.looks+1), d.looks+1, min(d.worst, s.worst)
			continue
		}
		s.day = day(s.on)
		all[n], n = s, n+1
	}
	all = all[:n]
	return all, pool(all)
}

// pool fits the non-increasing grades that are nearest by least squares: pool adjacent
// violators (M. Ayer and others, Ann. Math. Statist. 26 (1955) 641). It says whether
// there was anything to pool.
func pool(all []seen) (rose bool) {
	type block struct {
		mean, looks float64
		end         int
	}
	blocks := make([]block, 0, len(all))
	for i, s := range all {
		b := block{s.grade, s.looks, i + 1}
		for len(blocks) > 0 && blocks[len(blocks)-1].mean < b.mean {
			last := blocks[len(blocks)-1]
			b.mean = (b.mean*b.looks + last.mean*last.looks) / (b.looks + last.looks)
			b.looks += last.looks
			blocks, rose = blocks[:len(blocks)-1], true
		}
		blocks = append(blocks, b)
	}
	from := 0
	for _, b := range blocks {
		for ; from < b.end; from++ {
			all[from].grade = b.mean
		}
	}
	return rose
}

// Forecast reckons with what was seen until today. Time after the last look is no wear
// that was seen: it moves no estimate, only the chance that the serial is lost by now.
func (h History) Forecast(p Prior, today dates.Date) Forecast {
	t := h.timeline(today)
	f := Forecast{Standing: Fading, Prior: p, UseTaken: t.assumed, Wear: Wear{p.Shape, p.Rate}}
	f.Factor = p.Factors.of(t.now().use, t.now().cover) * share(h.Method)
	if !h.begin(&f, t, today) {
		f.Standing = NeverLooked
		return f
	}
	f.Since = t.between(day(f.Last), day(today)).exposure(h.Method, p.Factors)
	f.NextPhoto = f.Last.AddDays(photoDays)
	f.Protect = f.Left() <= 1
	switch {
	case f.Left() <= 0 && f.Grade != nil && *f.Grade > Lost: // it rose so far that pooling settles nothing
		f.Standing, f.NextPhoto = InDoubt, f.Last
	case f.Left() <= 0 || f.Grade != nil && *f.Grade <= Lost: // of two looks on one day the worse counts here
		f.Standing, f.Unreadable = IsLost, chance(1)
	case !forecast(h.Method):
		f.Standing = NoForecast
	default:
		f.ahead(func(x float64) float64 { return t.reaches(x, f, h.Method, today) })
		said := t
		said.covered, said.out = nil, nil // a look falls due by what is said of the usage, whoever scans or not
		f.NextPhoto = f.after(math.Min(said.reaches(f.Early.Exposure, f, h.Method, today), photoDays))
	}
	return f
}

// reaches is in how many days after the last look a further exposure x is reached: in
// those gone by since by how the marking was used and kept on them, and in those to come
// at the present use and protection. It may be +Inf.
func (t timeline) reaches(x float64, f Forecast, m Method, today dates.Date) float64 {
	last, gone := day(f.Last), dates.DaysBetween(f.Last, today)
	upTo := func(days int) float64 { return t.between(last, last+days).exposure(m, f.Prior.Factors) }
	so := upTo(gone)
	if x >= so {
		return float64(gone) + (x-so)/f.Factor
	}
	full := sort.Search(gone, func(days int) bool { return upTo(days+1) > x })
	before := upTo(full)
	return float64(full) + (x-before)/(upTo(full+1)-before)
}

// begin fills in what was seen, or assumed, and says whether there was anything.
func (h History) begin(f *Forecast, t timeline, today dates.Date) bool {
	looks, rose := h.looked(today)
	if len(looks) == 0 {
		f.New, f.Pooled, f.From, f.Last = true, float64(Crisp), h.New, h.New
		return h.New != "" && h.New <= today
	}
	first, last := looks[0], looks[len(looks)-1]
	f.Rose, f.Grade, f.Pooled, f.From, f.Last = rose, &last.worst, last.grade, first.on, last.on
	f.Steps = first.grade - last.grade
	f.Exposure = t.between(first.day, last.day).exposure(h.Method, f.Prior.Factors)
	f.Wear = Wear{f.Prior.Shape + f.Steps, f.Prior.Rate + f.Exposure}
	return true
}

// Left is m, the grades until Lost; 0 or less where it is.
func (f Forecast) Left() float64 { return f.Pooled - float64(Lost) }

func (f *Forecast) ahead(reaches func(exposure float64) float64) {
	at := func(p float64) Ahead {
		a := Ahead{Chance: p, Exposure: f.Wear.Quantile(f.Left(), p)}
		a.Days = reaches(a.Exposure)
		a.On = f.after(a.Days)
		return a
	}
	f.Early, f.Expected, f.Late = at(0.1), at(0.5), at(0.9)
	f.Unreadable = f.ChanceIn(0)
	f.Protect = f.Protect || *f.Unreadable >= likely
}

// after is the day that many days after the last look, part of a day left out; none
// beyond ten years.
func (f Forecast) after(days float64) dates.Date {
	if !(days <= furthest) {
		return ""
	}
	return f.Last.AddDays(int(days + 1e-9)) // what is a whole day but for rounding is one
}

// ChanceIn is the probability that the serial is lost when days more have gone by from
// today at the present use and protection; nil where it is not known.
func (f Forecast) ChanceIn(days float64) *float64 {
	switch f.Standing {
	case IsLost:
		return chance(1)
	case Fading:
		return chance(f.Wear.Chance(f.Left(), f.Since+days*f.Factor))
	}
	return nil
}

func chance(p float64) *float64 { return &p }

// ChanceWords writes a chance in percent, so that neither never nor certain is claimed.
func ChanceWords(p float64) string {
	switch {
	case p < 0.01:
		return "less than 1 %"
	case p > 0.99:
		return "more than 99 %"
	}
	return strconv.Itoa(int(100*p+0.5)) + " %"
}
