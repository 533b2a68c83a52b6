package markings

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"pawl/model/dates"
	"pawl/model/register"
)

const today dates.Date = "2026-11-10"

// candidate is a tool with a marking in daily use, at a grade some days ago.
func candidate(number string, grade int64, ago int, cost int64) Candidate {
	h := printed(look(today.AddDays(-ago), grade))
	c := Candidate{Tool: "id " + number, Marking: "m " + number, Number: number, Kind: "impact wrench", Method: "printed", Forecast: h.Forecast(AssumedPrior(), today)}
	if cost > 0 {
		c.Cost = &cost
	}
	return c
}

func numbered(rows []Row) (out string) {
	for _, r := range rows {
		out += r.Number + " "
	}
	return strings.TrimSpace(out)
}

func TestRoundOrder(t *testing.T) {
	photo, both, unpriced, settled := candidate("photo", 3, 20, 40000), candidate("both", 3, 20, 40000), candidate("unpriced", 3, 20, 0), candidate("settled", 1, 20, 90000)
	photo.PlatePhoto, both.PlatePhoto, both.Receipt, settled.OwnersNumber = true, true, true, true
	receipt := candidate("receipt", 3, 20, 39000)
	receipt.Receipt = true
	all := []Candidate{
		both, photo, receipt, candidate("plain", 3, 20, 40000), candidate("cheap", 3, 20, 1000), candidate("worn", 2, 20, 40000), candidate("fresh", 4, 1, 40000),
		candidate("today", 3, 0, 30000), unpriced, settled, candidate("gone", 1, 20, 40000),
	}
	rows := Round(all, nil, today)
	if got, want := numbered(rows), "gone worn plain unpriced receipt today photo fresh both cheap"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
	by := map[string]Row{}
	for _, r := range rows {
		by[r.Number] = r
	}
	quarter := math.Pow(60.0/110, 4) // 5.3 with α 4, β 60, 20 + 30 days, written out for m 1 and 2
	near(t, "chance of grade 3, m 2: 1−(60/110)^4·(1+4·50/110)", *by["plain"].Chance, 1-quarter*(1+4*50.0/110), 1e-12)
	near(t, "chance of grade 2, m 1: 1−(60/110)^4", *by["worn"].Chance, 1-quarter, 1e-12)
	near(t, "at stake", by["photo"].AtStake, *by["photo"].Chance*40000*0.5, 1e-9)
	near(t, "with a receipt too", by["both"].AtStake, *by["both"].Chance*40000*0.25, 1e-9)
	if r := by["unpriced"]; r.CostFrom != CostKind || *r.Cost != 40000 || r.Candidate.Cost != nil {
		t.Errorf("median of 1000, 30000, 39000, six of 40000, 90000: %+v", r)
	}
	if r := by["plain"]; r.CostFrom != CostKnown || !slices.Equal(r.Reasons, []Reason{PhotoDue}) {
		t.Errorf("%+v", r)
	}
	if r := by["gone"]; *r.Chance != 1 || !slices.Equal(r.Reasons, []Reason{ActNow}) {
		t.Errorf("%+v", r)
	}
	if r := by["worn"]; !slices.Equal(r.Reasons, []Reason{ActNow, PhotoDue}) {
		t.Errorf("%+v", r)
	}
}

// Due by the month's end, or now.
func TestRoundOfThisMonth(t *testing.T) {
	for name, c := range map[string]struct {
		with    func(*Candidate)
		reasons []Reason
	}{
		"due on the last day": {func(c *Candidate) { c.Forecast.NextPhoto = "2026-11-30" }, []Reason{PhotoDue}},
		"due in the next":     {func(c *Candidate) { c.Forecast.NextPhoto = "2026-12-01" }, nil},
		"long due":            {func(c *Candidate) { c.Forecast.NextPhoto = "2025-01-01" }, []Reason{PhotoDue}},
		"one grade left":      {func(c *Candidate) { c.Forecast.Protect, c.Forecast.NextPhoto = true, "2027-01-01" }, []Reason{ActNow}},
		"that has an owner's number": {func(c *Candidate) {
			c.Forecast.Protect, c.OwnersNumber, c.Forecast.NextPhoto = true, true, "2027-01-01"
		}, nil},
		"nobody looked":                {func(c *Candidate) { c.Forecast = printed().Forecast(AssumedPrior(), today) }, []Reason{LookAtFirst}},
		"lost":                         {func(c *Candidate) { *c = candidate("x", 0, 400, 100) }, []Reason{ActNow}},
		"lost, with an owner's":        {func(c *Candidate) { *c = candidate("x", 0, 400, 100); c.OwnersNumber = true }, nil},
		"seen long ago, and half gone": {func(c *Candidate) { *c = candidate("x", 4, 60, 100) }, []Reason{ActNow, PhotoDue}},
	} {
		one := candidate("x", 4, 0, 100)
		c.with(&one)
		rows := Round([]Candidate{one}, nil, today)
		if len(rows) != min(1, len(c.reasons)) || len(rows) == 1 && !slices.Equal(rows[0].Reasons, c.reasons) {
			t.Errorf("%s: %+v", name, rows)
		}
	}
}

func TestRoundCosts(t *testing.T) {
	a, b, c, d := candidate("a", 2, 5, 1000), candidate("b", 2, 5, 2001), candidate("c", 2, 5, 0), candidate("d", 2, 5, 0)
	c.Kind, d.Kind = " Impact Wrench ", "drill"
	by := map[string]Row{}
	for _, r := range Round([]Candidate{a, b, c, d}, nil, today) {
		by[r.Number] = r
	}
	if *by["c"].Cost != 1500 || by["c"].CostFrom != CostKind || *by["d"].Cost != 1500 || by["d"].CostFrom != CostShop {
		t.Errorf("%+v and %+v", by["c"], by["d"])
	}
	others := []Priced{{"Impact wrench", 9000}, {"drill", 700}, {"drill", 900}}
	for _, r := range Round([]Candidate{a, c, d}, others, today) {
		by[r.Number] = r
	}
	if *by["c"].Cost != 5000 || *by["d"].Cost != 800 || by["d"].CostFrom != CostKind {
		t.Errorf("what tools without a marking cost does not count: %+v and %+v", by["c"], by["d"])
	}
	alone := Round([]Candidate{d}, nil, today)[0]
	if alone.Cost != nil || alone.CostFrom != CostUnknown || alone.AtStake != *alone.Chance {
		t.Errorf("%+v", alone)
	}
}

// A marking of which nothing is known is not at the end of the list, and says that its
// chance is not known; one whose wear is not forecast is.
func TestRoundOfWhatIsNotKnown(t *testing.T) {
	never := candidate("never", 4, 0, 40000)
	never.Forecast = printed().Forecast(AssumedPrior(), today)
	stamped := printed(look(today.AddDays(-400), 4))
	stamped.Method = "stamped"
	plain := candidate("stamped", 4, 0, 40000)
	plain.Method, plain.Forecast = "stamped", stamped.Forecast(AssumedPrior(), today)
	rows := Round([]Candidate{plain, candidate("seen", 3, 20, 40000), never}, nil, today)
	if got := numbered(rows); got != "never seen stamped" || rows[0].Chance != nil || rows[2].Chance != nil {
		t.Errorf("%s: %+v", got, rows)
	}
}

// The list is one whatever the order in which tools come, and is walked place by place.
func TestRoundIsOne(t *testing.T) {
	var all []Candidate
	for i := range 60 {
		c := candidate(fmt.Sprintf("%02d", i), 2, 5, 1000)
		c.Place = []string{"Bay 1", "Bay 2", ""}[i%3]
		all = append(all, c)
	}
	want := numbered(Round(all, nil, today))
	rand.New(rand.NewPCG(1, 1)).Shuffle(len(all), func(i, j int) { all[i], all[j] = all[j], all[i] })
	rows := Round(all, nil, today)
	if got := numbered(rows); got != want || !strings.HasPrefix(got, "00 01 02 ") {
		t.Errorf("%s, want %s", got, want)
	}
	Walk(rows, strings.Compare)
	if got := numbered(rows); !strings.HasPrefix(got, "02 05 08 ") || !strings.HasSuffix(got, "52 55 58") {
		t.Errorf("not walked: %s", got)
	}
}

// shop is tools of so many kinds, looked at every other month.
func shop(tools, looks, kinds int) (all []History) {
	r := rand.New(rand.NewPCG(11, 11))
	for i := range tools {
		h := History{Tool: fmt.Sprint(i), Kind: fmt.Sprint("kind ", i%kinds), Method: "printed", New: start,
			Terms: []Stretch{{start, "none", register.Daily}, {start.AddDays(200), "clear tape", register.Weekly}}}
		for grade, n := int64(Crisp), 0; n < looks; n++ {
			if r.IntN(4) == 0 && grade > Lost {
				grade--
			}
			h.Checks = append(h.Checks, look(start.AddDays(60*n), grade))
		}
		all = append(all, h)
	}
	return all
}

// round does all the arithmetic of a round.
func round(all []History, on dates.Date) []Row {
	l := Learn(all, on)
	var candidates []Candidate
	for i, h := range all {
		cost := int64(1000 + i)
		candidates = append(candidates, Candidate{Tool: h.Tool, Number: h.Tool, Kind: h.Kind, Method: h.Method, Cost: &cost, Forecast: h.Forecast(l.Prior(h), on)})
	}
	return Round(candidates, nil, on)
}

// Leaving a tool out, and the fit of a class, must not cost the square of the tools: ten
// times as many take ten times as long, in one class as in forty.
func TestRoundIsLinear(t *testing.T) {
	for _, kinds := range []int{1, 40} {
		n := tools(100, 100, 500)
		few, many := shop(n, 6, kinds), shop(10*n, 6, kinds)
		ratio := math.Inf(1)
		for tries := 0; tries < 10 && ratio > 25; tries++ { // others use the machine too; a square would come to 100 every time
			one := took(few, 5)
			ratio = min(ratio, took(many, 1)*5/one)
		}
		t.Logf("%d kinds: %d tools take %.1f times as long as %d", kinds, 10*n, ratio, n)
		if ratio > 25 {
			t.Errorf("%d kinds: %d tools take %.1f times as long as %d", kinds, 10*n, ratio, n)
		}
	}
}

func took(all []History, times int) float64 {
	began := time.Now()
	for range times {
		if len(round(all, start.AddDays(400))) == 0 {
			panic("an empty round")
		}
	}
	return float64(time.Since(began))
}

func BenchmarkRound5000(b *testing.B) {
	all := shop(5000, 6, 40)
	for b.Loop() {
		round(all, start.AddDays(400))
	}
}

// A class that was fitted is among those measured.
func TestShopHasAFittedClass(t *testing.T) {
	h := History{Tool: "another", Kind: "kind 0", Method: "printed"}
	if p := Learn(shop(500, 6, 1), start.AddDays(400)).Prior(h); !p.Fitted {
		t.Errorf("%+v", p)
	}
}
