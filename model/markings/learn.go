package markings

import (
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

// AssumedPrior is that of a class of which nothing was seen.
func AssumedPrior() Prior {
	return Prior{Shape: assumedShape, Rate: assumedRate, Factors: AssumedFactors()}
}

// Lessons is what a shop's checks say of every class.
type Lessons struct{ classes map[Class]*lesson }

// lesson is what was seen of one class: of each tool by its id, and of all together.
type lesson struct {
	tools map[string]*told
	all   told
}

// told is what the markings of a class tell.
type told struct {
	steps float64 // grades lost
	spent spent   // the days meanwhile
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
		t := c.tools[h.Tool]
		if t == nil {
			t = &told{}
			c.tools[h.Tool] = t
		}
		t.add(own)
		c.all.add(own)
	}
	return l
}

func (t *told) add(o told) {
	t.steps += o.steps
	t.spent = t.spent.plus(o.spent, 1)
}

// tells is what one marking's looks tell. The last steps of one that was found
// unreadable were lost some time after the look before: it is taken to have been the
// middle of that time (money-and-statistics 5.3).
func (h History) tells(today dates.Date) (told, bool) {
	looks, _ := h.looked(today)
	end := slices.IndexFunc(looks, func(s seen) bool { return s.grade <= float64(Unreadable) })
	if end < 0 {
		end = len(looks) - 1
	}
	if end < 1 {
		return told{}, false
	}
	t, first, last := h.timeline(today), looks[0], looks[end]
	out := told{steps: first.grade - last.grade, spent: t.between(first.day, last.day)}
	if last.grade <= float64(Unreadable) {
		out.spent = out.spent.plus(t.between(looks[end-1].day, last.day), -0.5)
	}
	return out, true
}

// Prior is what the other tools of a marking's class say: its own tool is left out, or
// what was seen of it would count twice. θ̄ = (4 + K)/(60 + S) and b = 4/θ̄
// (money-and-statistics 5.4): it starts at what is assumed and moves with what was seen.
func (l *Lessons) Prior(h History) Prior {
	p := AssumedPrior()
	c := l.classes[h.Class()]
	if c == nil {
		return p
	}
	steps, days, tools := c.all.steps, c.all.spent, len(c.tools)
	if own := c.tools[h.Tool]; own != nil {
		steps, days, tools = steps-own.steps, days.plus(own.spent, -1), tools-1
	}
	if tools == 0 {
		return p
	}
	p.Tools, p.Steps, p.Exposure = tools, steps, days.exposure(h.Method, p.Factors)
	p.Rate = p.Shape * (assumedRate + p.Exposure) / (assumedShape + p.Steps)
	return p
}
