package markings

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"pawl/model/dates"
	"pawl/model/register"
)

const start dates.Date = "2020-01-01"

// worn is a printed marking in daily use that lost grades between two looks.
func worn(tool string, steps int64, days int, protection Protection, usage register.Usage) History {
	h := printed(look(start, 4), look(start.AddDays(days), 4-steps))
	h.Tool, h.Terms = tool, []Stretch{{start, protection, usage}}
	return h
}

// six are the tools of money-and-statistics 5.4. The third lost its last grade some time
// between days 60 and 80.
func six() (all []History) {
	for i, c := range []struct {
		steps int64
		days  int
	}{{3, 55}, {2, 66}, {4, 70}, {1, 40}, {3, 90}, {0, 20}} {
		h := worn(fmt.Sprint("tool ", i), c.steps, c.days, "none", register.Daily)
		if c.steps == 4 {
			h.Checks = []Check{look(start, 4), look(start.AddDays(60), 1), look(start.AddDays(80), 0), look(start.AddDays(200), 0)}
		}
		all = append(all, h)
	}
	return all
}

// Row 27.
func TestLearn(t *testing.T) {
	all := six()
	l := Learn(all, "2026-11-29")
	other := printed()
	other.Tool, other.Kind = "another", " Impact Wrench"
	p := l.Prior(other)
	near(t, "K", p.Steps, 13, 1e-9)
	near(t, "S", p.Exposure, 341, 1e-9)
	near(t, "mean rate", p.Shape/p.Rate, 0.0423940, 5e-8)
	near(t, "rate b", p.Rate, 94.3529, 5e-5)
	near(t, "days a grade", p.Rate/p.Shape, 23.588, 5e-4)
	if p.Tools != 6 || p.Fitted || p.Factors != AssumedFactors() {
		t.Errorf("%+v", p)
	}
	own := l.Prior(all[4]) // without (3, 90): (4+10)/(60+251)
	near(t, "without its own", own.Shape/own.Rate, 14.0/311, 1e-12)
	twice := worn("tool 4", 1, 500, "none", register.Daily) // a second marking of the same tool
	if again := Learn(append(all, twice), "2026-11-29").Prior(all[4]); again != own || own.Tools != 5 {
		t.Errorf("another marking of the tool counts: %+v, want %+v", again, own)
	}
	slices.Reverse(all)
	if again := Learn(all, "2026-11-29").Prior(other); again != p {
		t.Errorf("the order of tools counts: %+v", again)
	}
	for name, h := range map[string]History{"another kind": {Kind: "drill", Method: "printed"}, "another way of marking": {Kind: "impact wrench", Method: "engraved"}} {
		if got := l.Prior(h); got != AssumedPrior() {
			t.Errorf("%s: %+v", name, got)
		}
	}
	alone := []History{worn("a", 3, 30, "none", register.Daily)}
	if got := Learn(alone, "2026-11-29").Prior(alone[0]); got != AssumedPrior() {
		t.Errorf("it learned from itself: %+v", got)
	}
	if got := Learn(six(), start.AddDays(1)).Prior(other); got != AssumedPrior() {
		t.Errorf("it learned from days to come: %+v", got)
	}
}

// The values of 5.4.
func TestLikelihood(t *testing.T) {
	l := newLikelihood([]pair{{3, 55}, {2, 66}, {4, 70}, {1, 40}, {3, 90}, {0, 20}, {2, 0}})
	near(t, "at what is assumed", l.negative(4, 60), 10.717336, 5e-7)
	near(t, "at what was learned", l.negative(4, 4*401.0/17), 9.353744, 5e-7)
}

// drawn are tools of a class of which the true spread is known, looked at for the same
// exposure each.
func drawn(r *rand.Rand, n int, shape, rate, exposure float64) (all []pair) {
	for range n {
		theta := distuv.Gamma{Alpha: shape, Beta: rate, Src: r}.Rand()
		e := exposure * (0.5 + r.Float64())
		all = append(all, pair{distuv.Poisson{Lambda: theta * e, Src: r}.Rand(), e})
	}
	return all
}

// The fit finds a spread that is there, and claims none that is not: a class like the
// assumed one is told apart from it in about 1 of 20 tries, as the test at 95 % says.
func TestFit(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 7))
	f := fit(drawn(r, 3000, 1, 15, 60))
	if f == nil || f.bound {
		t.Fatalf("%+v", f)
	}
	near(t, "shape", f.shape, 1, 0.12)
	near(t, "mean rate", f.shape/f.rate, 1.0/15, 0.006)
	near(t, "slope in ln a", f.bend.a, 0, 0.05)
	near(t, "slope in ln b", f.bend.b, 0, 0.05)
	claimed, n := 0.0, tools(200, 500, 5000)
	for range n {
		if fit(drawn(r, 20, 4, 60, 60)) != nil {
			claimed++
		}
	}
	if share := claimed / float64(n); share > 0.05+3.5*math.Sqrt(0.05*0.95/float64(n)) {
		t.Errorf("another spread is claimed in %g of classes that have the assumed one", share)
	}
	for name, all := range map[string][]pair{"seven tools": drawn(r, 7, 0.4, 4, 90), "nothing lost": make([]pair, 20), "none": nil} {
		if got := fit(all); got != nil {
			t.Errorf("%s: %+v", name, got)
		}
	}
	alike := make([]pair, 400)
	for i := range alike {
		alike[i] = pair{3, 60}
	}
	if f = fit(alike); f == nil || !f.bound || f.shape > assumedShape*furthestOff*1.001 {
		t.Errorf("tools that are all the same: %+v", f)
	}
}

// The slopes and curvature are those of the likelihood, by differences.
func TestCurve(t *testing.T) {
	const h = 1e-4
	for _, p := range []pair{{0, 20}, {3, 55}, {1.5, 40}, {4, 1000}} {
		l := newLikelihood([]pair{p})
		f := fitted{shape: 2.5, rate: 70}
		at := func(i, j float64) float64 { return l.negative(f.shape*math.Exp(i*h), f.rate*math.Exp(j*h)) }
		got := f.of(p)
		near(t, "a", got.a, (at(1, 0)-at(-1, 0))/(2*h), 1e-5)
		near(t, "b", got.b, (at(0, 1)-at(0, -1))/(2*h), 1e-5)
		near(t, "aa", got.aa, (at(1, 0)-2*at(0, 0)+at(-1, 0))/(h*h), 1e-4)
		near(t, "bb", got.bb, (at(0, 1)-2*at(0, 0)+at(0, -1))/(h*h), 1e-4)
		near(t, "ab", got.ab, (at(1, 1)-at(1, -1)-at(-1, 1)+at(-1, -1))/(4*h*h), 1e-4)
	}
}

// Leaving a tool out by one step is what fitting anew without it gives, but for 3 %.
func TestWithout(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 1))
	for _, n := range []int{12, 60} {
		all := drawn(r, n, 0.8, 8, 60)
		f := fit(all)
		for f == nil || f.bound {
			all = drawn(r, n, 0.8, 8, 60)
			f = fit(all)
		}
		worst, compared := 0.0, 0
		for i, p := range all {
			anew := fit(slices.Delete(slices.Clone(all), i, i+1))
			shape, rate, ok := f.without(p)
			if anew == nil || anew.bound || !ok {
				continue
			}
			compared++
			worst = max(worst, math.Abs(math.Log(shape/rate*anew.rate/anew.shape)), math.Abs(math.Log(shape/anew.shape)))
		}
		t.Logf("%d tools, %d compared: worst difference in ln a or ln of the mean rate %.3f", n, compared, worst)
		if compared < n/2 || worst > 0.03 {
			t.Errorf("%d tools: off by %g in %d", n, worst, compared)
		}
	}
}

// fading is a class in which tape does what is given, and weekly use counts for what is
// given.
func fading(tape, week float64, tools int) (all []History) {
	for i := range tools {
		r := rand.New(rand.NewPCG(uint64(i), 5))
		for side, c := range []struct {
			p   Protection
			u   register.Usage
			phi float64
		}{{"none", register.Daily, 1}, {"clear tape", register.Daily, tape}, {"none", register.Weekly, week}} {
			theta := distuv.Gamma{Alpha: 4, Beta: 60, Src: r}.Rand()
			h := printed(look(start, 4))
			h.Tool, h.Terms = fmt.Sprint(i, side), []Stretch{{start, c.p, c.u}}
			for grade, at := int64(4), 0.0; ; {
				at += distuv.Exponential{Rate: theta * c.phi, Src: r}.Rand()
				if at > 600 {
					h.Checks = append(h.Checks, look(start.AddDays(600), grade))
					break
				}
				grade--
				h.Checks = append(h.Checks, look(start.AddDays(int(at+0.5)), grade))
				if grade == Lost {
					break
				}
			}
			all = append(all, h)
		}
	}
	return all
}

// What tape and rest do is learned from the shop's own checks where there is enough.
func TestFactorsAreLearned(t *testing.T) {
	other := printed()
	other.Tool = "another"
	many := fading(0.5, 0.4, 400)
	p := Learn(many, "2026-11-29").Prior(other)
	if !p.Factors.ClearTape.Learned || !p.Factors.Weekly.Learned || p.Factors.Rare.Learned || p.Factors.Lacquer.Learned {
		t.Fatalf("%+v", p.Factors)
	}
	near(t, "tape", p.Factors.ClearTape.Value, 0.5, 0.08)
	near(t, "weekly", p.Factors.Weekly.Value, 0.4, 0.06)
	near(t, "lacquer as assumed", p.Factors.Lacquer.Value, 0.25, 0)
	if got := Learn(fading(0.5, 0.4, 7), "2026-11-29").Prior(other).Factors; got != AssumedFactors() {
		t.Errorf("learned from seven: %+v", got)
	}
	eight := fading(0.5, 0.4, 8)
	l := Learn(eight, "2026-11-29")
	if !l.Prior(other).Factors.ClearTape.Learned || l.Prior(eight[1]).Factors.ClearTape.Learned || l.Prior(eight[0]).Factors.Weekly.Learned {
		t.Error("its own tool is among the eight")
	}
	for _, tape := range []float64{0.0001, 3} {
		got := Learn(fading(tape, 0.2, 60), "2026-11-29").Prior(other).Factors.ClearTape
		if got.Value < 1.0/60 || got.Value > 1 {
			t.Errorf("tape that does %g: %+v", tape, got)
		}
	}
	near(t, "never more than ten times off", ratio(1.0/6, side{10, 1e9}, side{1000, 1}), 1.0/60, 1e-12)
	near(t, "tape wears nothing", ratio(1.0/6, side{1000, 1}, side{10, 1e9}), 1, 0)
	near(t, "weekly, ten times more is above daily", ratio(0.03, side{1000, 1}, side{10, 1e9}), 0.3, 1e-12)
	near(t, "nothing seen", ratio(1.0/6, side{}, side{}), 1.0/6, 1e-12)
}

// What was under tape for a part, or in two uses, is on no side; what custody counted is
// daily use, and says nothing of usages.
func TestSides(t *testing.T) {
	always := []Span{{start, start.AddDays(3650)}}
	ten := InUse{Covered: always, Spans: []Span{{start, start.AddDays(9)}}}
	taping, weekend := Stretch{start.AddDays(50), "clear tape", register.Daily}, Stretch{start.AddDays(50), "none", register.Weekly}
	for name, c := range map[string]struct {
		first    Stretch
		then     []Stretch
		inUse    InUse
		cover    int
		use      int
		exposure float64
	}{
		"bare, daily":             {first: Stretch{start, "none", register.Daily}, cover: bare, use: daily, exposure: 100},
		"taped, daily":            {first: Stretch{start, "clear tape", register.Daily}, cover: taped, use: -1, exposure: 100},
		"bare, weekly":            {first: Stretch{start, "none", register.Weekly}, cover: -1, use: weekly, exposure: 100},
		"taped, weekly":           {first: Stretch{start, "clear tape", register.Weekly}, cover: -1, use: -1},
		"taped halfway":           {first: Stretch{start, "none", register.Daily}, then: []Stretch{taping}, cover: -1, use: -1},
		"weekly from halfway":     {first: Stretch{start, "none", register.Daily}, then: []Stretch{weekend}, cover: -1, use: -1},
		"lacquered, ten days out": {first: Stretch{start, "lacquer", register.Weekly}, inUse: ten, cover: lacquered, use: -1, exposure: 10},
		"never out":               {first: Stretch{start, "lacquer", register.Weekly}, inUse: InUse{Covered: always}, cover: -1, use: -1},
	} {
		h := worn("a", 2, 100, "none", register.Daily)
		h.Terms, h.InUse = append([]Stretch{c.first}, c.then...), c.inUse
		var want sides
		if c.cover >= 0 {
			want.cover[c.cover] = side{2, c.exposure}
		}
		if c.use >= 0 {
			want.use[c.use] = side{2, c.exposure}
		}
		if got, _ := h.tells("2026-11-29"); got.by != want {
			t.Errorf("%s: %+v, want %+v", name, got.by, want)
		}
	}
}

// What a class has learned keeps the promise of the interval: classes that wear twice as
// fast as assumed, each tool forecast from the others, looked at once as in
// money-and-statistics 5.5.
func TestIntervalsHoldWhereAClassHasLearned(t *testing.T) {
	r := rand.New(rand.NewPCG(12345, 9))
	seen, inside, early := 0.0, 0.0, 0.0
	for range tools(150, 600, 12_000) {
		c, lost := &lesson{tools: map[string]*told{}}, map[string]float64{}
		for i := range 24 {
			theta := distuv.Gamma{Alpha: assumedShape, Beta: assumedRate / 2, Src: r}.Rand()
			looked, at, k := 5+25*r.Float64(), 0.0, 0.0
			for step := range 4 {
				if at += (distuv.Exponential{Rate: theta, Src: r}).Rand(); at <= looked {
					k++
				} else if step == 2 { // the grade at which it is lost
					lost[fmt.Sprint(i)] = at - looked
				}
			}
			own := &told{steps: k}
			if own.spent[daily][bare] = looked; k == 4 { // unreadable since the middle of the time
				own.spent[daily][bare] = looked / 2
			}
			c.tools[fmt.Sprint(i)] = own
		}
		c.sum("printed")
		l := &Lessons{map[Class]*lesson{{"impact wrench", "printed"}: c}}
		for id, x := range lost {
			h := printed()
			h.Tool = id
			p, k := l.Prior(h), c.tools[id].steps
			w := Wear{p.Shape + k, p.Rate + c.tools[id].spent[daily][bare]}
			seen++
			if x < w.Quantile(3-k, 0.1) {
				early++
			} else if x <= w.Quantile(3-k, 0.9) {
				inside++
			}
		}
	}
	t.Logf("of %.0f inside %.4f, lost before early %.4f", seen, inside/seen, early/seen)
	near(t, "inside", inside/seen, 0.8, 0.03)
	near(t, "before early", early/seen, 0.1, 0.03)
}
