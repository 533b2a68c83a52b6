package markings

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"pawl/model/dates"
	"pawl/model/register"
)

var (
	anyGrade      = rapid.Int64Range(Unreadable, Crisp)
	anyProtection = rapid.SampledFrom(Protections)
	anyUsage      = rapid.SampledFrom([]register.Usage{register.Daily, register.Weekly, register.Rare})
)

// anyHistory looks at a marking on up to eight days of ten years, through up to four
// terms, sometimes with days out.
func anyHistory(t *rapid.T) History {
	on := func(what string) dates.Date { return start.AddDays(rapid.IntRange(0, 3650).Draw(t, what)) }
	h := History{Tool: rapid.SampledFrom([]string{"a", "b", "c"}).Draw(t, "tool"), Kind: "impact wrench", Method: rapid.SampledFrom(Methods).Draw(t, "method")}
	for range rapid.IntRange(0, 8).Draw(t, "looks") {
		h.Checks = append(h.Checks, look(on("on"), anyGrade.Draw(t, "grade")))
	}
	for range rapid.IntRange(1, 4).Draw(t, "terms") {
		h.Terms = append(h.Terms, Stretch{on("from"), anyProtection.Draw(t, "protection"), anyUsage.Draw(t, "usage")})
	}
	slices.SortStableFunc(h.Terms, func(a, b Stretch) int { return dates.DaysBetween(b.From, a.From) })
	if rapid.Bool().Draw(t, "bought new") {
		h.New = on("new")
	}
	if rapid.Bool().Draw(t, "custody") {
		h.InUse.Covered = []Span{{on("since"), on("covered until")}}
		for range rapid.IntRange(0, 5).Draw(t, "spans") {
			first := on("first")
			h.InUse.Spans = append(h.InUse.Spans, Span{first, first.AddDays(rapid.IntRange(0, 90).Draw(t, "days"))})
		}
	}
	return h
}

// A forecast has no figure that is none, says early before late, and does not depend on
// the order of looks; what is lost or not known has no date.
func TestForecastHolds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := anyHistory(t)
		today := start.AddDays(rapid.IntRange(0, 5000).Draw(t, "today"))
		p := AssumedPrior()
		p.Shape, p.Rate = rapid.Float64Range(0.4, 40).Draw(t, "shape"), rapid.Float64Range(1e-3, 1e6).Draw(t, "rate")
		f := h.Forecast(p, today)
		for _, v := range []float64{f.Exposure, f.Since, f.Steps, f.Pooled, f.Wear.Shape, f.Wear.Rate, f.Early.Days, f.Expected.Days, f.Late.Days} {
			if math.IsNaN(v) || math.IsInf(v, 0) || v < 0 {
				t.Fatalf("%+v", f)
			}
		}
		if f.Early.Days > f.Expected.Days || f.Expected.Days > f.Late.Days {
			t.Fatalf("early %g, expected %g, late %g", f.Early.Days, f.Expected.Days, f.Late.Days)
		}
		if (f.Unreadable != nil) != (f.Standing == Fading || f.Standing == IsLost) || f.Standing != Fading && f.Expected != (Ahead{}) {
			t.Fatalf("%+v", f)
		}
		if f.Unreadable != nil {
			month := *f.ChanceIn(30)
			if !(*f.Unreadable >= 0 && *f.Unreadable <= month && month <= 1) {
				t.Fatalf("today %g, in a month %g", *f.Unreadable, month)
			}
		}
		rand.New(rand.NewPCG(1, rapid.Uint64().Draw(t, "shuffle"))).Shuffle(len(h.Checks), func(i, j int) { h.Checks[i], h.Checks[j] = h.Checks[j], h.Checks[i] })
		again := h.Forecast(p, today)
		if math.Abs(again.Pooled-f.Pooled) > 1e-12 || again.Exposure != f.Exposure || again.Standing != f.Standing || again.Expected.On != f.Expected.On {
			t.Fatalf("in another order %+v, not %+v", again, f)
		}
	})
}

// More exposure, fewer grades left and a faster class never lower the chance; a later
// quantile is never sooner. Over what no marking will ever be.
func TestWearHolds(t *testing.T) {
	wide := rapid.Custom(func(t *rapid.T) float64 { return math.Pow(10, rapid.Float64Range(-6, 9).Draw(t, "power")) })
	rapid.Check(t, func(t *rapid.T) {
		w := Wear{rapid.Float64Range(0.4, 400).Draw(t, "shape"), wide.Draw(t, "rate")}
		m := rapid.Float64Range(1e-3, 4).Draw(t, "left")
		x, more := wide.Draw(t, "exposure"), wide.Draw(t, "more")
		now, then := w.Chance(m, x), w.Chance(m, x+more)
		if !(now >= 0 && now <= then+1e-12 && then <= 1) {
			t.Fatalf("%+v: %g after %g, %g after %g more", w, now, x, then, more)
		}
		if slower := (Wear{w.Shape, w.Rate + more}).Chance(m, x); slower > now+1e-12 {
			t.Fatalf("%+v: a slower class gives %g, not %g", w, slower, now)
		}
		if fresher := w.Chance(m+1, x); fresher > now+1e-12 {
			t.Fatalf("%+v: with a grade more left %g, not %g", w, fresher, now)
		}
		p := rapid.Float64Range(0.01, 0.98).Draw(t, "p")
		q, later := w.Quantile(m, p), w.Quantile(m, p+0.01)
		if math.IsNaN(q) || q < 0 || q > later {
			t.Fatalf("%+v: %g at %g, then %g", w, q, p, later)
		}
		if !math.IsInf(q, 1) && q > 0 {
			if back := w.Chance(m, q); math.Abs(back-p) > 1e-6 {
				t.Fatalf("%+v: %g days at %g, and back %g", w, q, p, back)
			}
		}
	})
}

// Row 25: rarely used outlasts weekly, and that daily; engraved outlasts taped, that
// lacquered, and that unprotected, in every quantile.
func TestProtectionOnlyHelps(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := History{Kind: "drill", Method: "printed", New: start}
		usage, protection, method := anyUsage.Draw(t, "usage"), anyProtection.Draw(t, "protection"), Method("printed")
		days := func(m Method, p Protection, u register.Usage) [3]float64 {
			h.Method, h.Terms = m, []Stretch{{start, p, u}}
			f := h.Forecast(AssumedPrior(), start.AddDays(10))
			return [3]float64{f.Early.Days, f.Expected.Days, f.Late.Days}
		}
		rises := func(all ...[3]float64) {
			for i := 1; i < len(all); i++ {
				for q := range all[i] {
					if !(all[i-1][q] < all[i][q]) {
						t.Fatalf("%v before %v", all[i-1], all[i])
					}
				}
			}
		}
		rises(days(method, protection, register.Daily), days(method, protection, register.Weekly), days(method, protection, register.Rare))
		rises(days(method, "none", usage), days(method, "lacquer", usage), days(method, "clear tape", usage), days("engraved", "none", usage))
	})
}

// Whatever a shop has seen, what is learned of it can be reckoned with.
func TestLearnHolds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var all []History
		for range rapid.IntRange(0, 12).Draw(t, "markings") {
			all = append(all, anyHistory(t))
		}
		l := Learn(all, start.AddDays(3650))
		for _, h := range all {
			p := l.Prior(h)
			if !(p.Shape >= 0.4 && p.Shape <= 40 && p.Rate > 0 && p.Rate < 1e7 && p.Steps >= 0 && p.Exposure >= 0) {
				t.Fatalf("%+v", p)
			}
			for _, f := range []Factor{p.Factors.Weekly, p.Factors.Rare, p.Factors.Lacquer, p.Factors.ClearTape} {
				if !(f.Value > 0 && f.Value <= 1) {
					t.Fatalf("%+v", p.Factors)
				}
			}
		}
	})
}
