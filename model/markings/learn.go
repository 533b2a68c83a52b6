package markings

import (
	"maps"
	"math"
	"slices"

	"pawl/model/dates"
)

// The prior of every class until its own looks say otherwise (money-and-statistics 5.3,
// assumption): 4/60 grades a day of daily, unprotected use, and a coefficient of
// variation of 50 % between the tools of a class.
const (
	assumedShape = 4.0
	assumedRate  = 60.0
)

// The least that the spread between tools, or a factor, is learned from: on both sides
// where two are compared (money-and-statistics 5.4).
const (
	enoughTools = 8
	enoughSteps = 10
)

// furthestOff is how many times larger or smaller than assumed a spread or a factor may
// be learned to be. A rule of this project.
const furthestOff = 10

// Prior is what is taken of a class before a marking's own looks: its wear is
// Gamma(Shape, Rate) from tool to tool.
type Prior struct {
	Shape, Rate float64
	Tools       int     // other tools of the class that it was learned from; 0 = assumed
	Steps       float64 // grades that they lost
	Exposure    float64 // in days of daily, unprotected use
	Fitted      bool    // the spread between tools is learned too; else 50 % is assumed
	Factors     Factors
}

// Spread is how much the tools of a class differ in how fast their markings wear: the
// coefficient of variation of the rate, 1/√Shape (money-and-statistics 5.3).
func (p Prior) Spread() Factor { return Factor{1 / math.Sqrt(p.Shape), p.Fitted} }

// AssumedPrior is that of a class of which nothing was seen.
func AssumedPrior() Prior {
	return Prior{Shape: assumedShape, Rate: assumedRate, Factors: AssumedFactors()}
}

// Lessons is what a shop's checks say of every class.
type Lessons struct{ classes map[Class]*lesson }

// lesson is what was seen of one class: of each tool by its id, and of all together.
type lesson struct {
	tools   map[string]*told
	all     told
	compare tally // tools on each side
	spread  *fitted
}

// told is what the markings of a class tell.
type told struct {
	steps float64 // grades lost
	spent spent   // the days meanwhile
	by    sides
}

// side is what was seen under one protection, or in one use, alone.
type side struct{ steps, exposure float64 }

// sides hold what lets protections be compared with each other, and usages. Exposure is
// in days, with no share but the method's.
type sides struct {
	cover [covers]side
	use   [uses]side
}

type tally struct {
	cover [covers]int
	use   [uses]int
}

// Learn gathers what was seen until today. A marking tells something from its second
// day of looks on.
func Learn(all []History, today dates.Date) *Lessons {
	l := &Lessons{map[Class]*lesson{}}
	for _, h := range all {
		own, ok := h.tells(today)
		if !ok {
			continue
		}
		c := l.classes[h.Class()]
		if c == nil {
			c = &lesson{tools: map[string]*told{}}
			l.classes[h.Class()] = c
		}
		if c.tools[h.Tool] == nil {
			c.tools[h.Tool] = &told{}
		}
		c.tools[h.Tool].add(own, 1)
	}
	for class, c := range l.classes {
		c.sum(class.Method)
	}
	return l
}

// sum adds the tools up, by their ids so that it comes out alike each time.
func (c *lesson) sum(m Method) {
	ids := slices.Sorted(maps.Keys(c.tools))
	for _, id := range ids {
		c.all.add(*c.tools[id], 1)
		c.compare.add(c.tools[id].by, 1)
	}
	if len(ids) < enoughTools || c.all.steps < enoughSteps {
		return
	}
	factors, pairs := c.all.factors(c.compare), make([]pair, len(ids))
	for i, id := range ids {
		pairs[i] = pair{c.tools[id].steps, c.tools[id].spent.exposure(m, factors)}
	}
	c.spread = fit(pairs)
}

func (t *told) add(o told, times float64) {
	t.steps += times * o.steps
	t.spent = t.spent.plus(o.spent, times)
	for i, s := range o.by.cover {
		t.by.cover[i].add(s, times)
	}
	for i, s := range o.by.use {
		t.by.use[i].add(s, times)
	}
}

func (s *side) add(o side, times float64) {
	s.steps += times * o.steps
	s.exposure += times * o.exposure
}

// add counts a tool on each side on which something was seen of it.
func (n *tally) add(s sides, times int) {
	for i := range s.cover {
		if s.cover[i].exposure > 0 {
			n.cover[i] += times
		}
	}
	for i := range s.use {
		if s.use[i].exposure > 0 {
			n.use[i] += times
		}
	}
}

// tells is what one marking's looks tell. The last steps of one that was found
// unreadable were lost some time after the look before: it is taken to have been the
// middle of that time (money-and-statistics 5.3).
func (h History) tells(today dates.Date) (out told, ok bool) {
	looks, _ := h.looked(today)
	if len(looks) < 2 || looks[0].grade <= float64(Unreadable) {
		return out, false
	}
	t := h.timeline(today)
	for i := 1; i < len(looks) && looks[i-1].grade > float64(Unreadable); i++ {
		seen := told{steps: looks[i-1].grade - looks[i].grade, spent: t.between(looks[i-1].day, looks[i].day)}
		if looks[i].grade <= float64(Unreadable) {
			seen.spent = seen.spent.plus(seen.spent, -0.5)
		}
		seen.by = seen.aside(h.Method)
		out.add(seen, 1)
	}
	return out, true
}

// aside puts what was seen between two looks on the side of the protection, or of the
// usage, that held all the while: protections are compared in daily use, usages without
// protection, so that no comparison rests on a factor that is only assumed.
func (t told) aside(m Method) (s sides) {
	var byCover [covers]float64
	var byUse [uses]float64
	all := 0.0
	for u := range t.spent {
		for c, days := range t.spent[u] {
			all += days
			byCover[c] += days
			byUse[u] += days
		}
	}
	if !(all > 0) {
		return s
	}
	seen := side{t.steps, all * share(m)}
	for c, days := range byCover {
		if days == all && byUse[daily]+byUse[inUse] == all {
			s.cover[c] = seen
		}
	}
	for u, days := range byUse {
		if days == all && byCover[bare] == all && u != inUse {
			s.use[u] = seen
		}
	}
	return s
}

// factors are learned where enough was seen on both sides of a comparison.
func (t told) factors(n tally) Factors {
	f := AssumedFactors()
	enough := func(s side, tools int) bool { return tools >= enoughTools && s.steps >= enoughSteps }
	learn := func(f *Factor, s, plain side, tools, plainTools int) {
		if enough(s, tools) && enough(plain, plainTools) {
			*f = Factor{ratio(f.Value, s, plain), true}
		}
	}
	learn(&f.Lacquer, t.by.cover[lacquered], t.by.cover[bare], n.cover[lacquered], n.cover[bare])
	learn(&f.ClearTape, t.by.cover[taped], t.by.cover[bare], n.cover[taped], n.cover[bare])
	learn(&f.Weekly, t.by.use[weekly], t.by.use[daily], n.use[weekly], n.use[daily])
	learn(&f.Rare, t.by.use[rare], t.by.use[daily], n.use[rare], n.use[daily])
	return f
}

// ratio is that of two θ̄, each starting at what is assumed (money-and-statistics 5.4):
// never above 1, for neither tape nor rest wears a marking.
func ratio(assumed float64, s, plain side) float64 {
	r := (assumedShape + s.steps) / (assumedRate/assumed + s.exposure) * (assumedRate + plain.exposure) / (assumedShape + plain.steps)
	return min(max(r, assumed/furthestOff), assumed*furthestOff, 1)
}

// Prior is what the other tools of a marking's class say: its own tool is left out, or
// what was seen of it would count twice. θ̄ = (4 + K)/(60 + S) and b = 4/θ̄
// (money-and-statistics 5.4): it starts at what is assumed and moves with what was seen.
// Where the class shows another spread between its tools than is assumed, that is taken.
func (l *Lessons) Prior(h History) Prior {
	p := AssumedPrior()
	c := l.classes[h.Class()]
	if c == nil {
		return p
	}
	others, n, tools := c.all, c.compare, len(c.tools)
	own := c.tools[h.Tool]
	if own != nil {
		others.add(*own, -1)
		n.add(own.by, -1)
		tools--
	}
	if tools == 0 {
		return p
	}
	p.Factors = others.factors(n)
	p.Tools, p.Steps, p.Exposure = tools, max(others.steps, 0), max(others.spent.exposure(h.Method, p.Factors), 0)
	p.Rate = p.Shape * (assumedRate + p.Exposure) / (assumedShape + p.Steps)
	if c.spread == nil || tools < enoughTools || p.Steps < enoughSteps {
		return p
	}
	left := pair{} // nothing, where the marking tells nothing yet
	if own != nil {
		left = pair{own.steps, own.spent.exposure(h.Method, c.all.factors(c.compare))}
	}
	if shape, rate, ok := c.spread.without(left); ok {
		p.Shape, p.Rate, p.Fitted = shape, rate, true
	}
	return p
}
