package markings

import (
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"testing"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"

	"pawl/model/dates"
	"pawl/model/register"
)

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: %.9g, want %.9g", what, got, want)
	}
}

// look is a graded check.
func look(on dates.Date, grade int64) Check { return Check{On: on, Grade: &grade} }

// printed is a printed marking in daily use without protection, looked at so.
func printed(checks ...Check) History {
	return History{Tool: "a", Kind: "impact wrench", Method: "printed", Checks: checks, Terms: []Stretch{{"2020-01-01", "none", register.Daily}}}
}

// exampleA is A of money-and-statistics 5.3.
func exampleA() History {
	return printed(look("2026-01-05", 4), look("2026-01-26", 4), look("2026-02-20", 3), look("2026-03-12", 2))
}

// Check rows 21 to 23 of money-and-statistics.
func TestWear(t *testing.T) {
	for name, c := range map[string]struct {
		wear                      Wear
		steps                     float64
		mean, early, median, late float64
		tolerance                 float64
	}{
		"row 21, new":             {Wear{4, 60}, 3, 60, 15.085, 43.700, 120.075, 1e-3},
		"row 22, A":               {Wear{6, 126}, 1, 25.2, 2.232112, 15.430218, 58.942708, 1e-5},
		"row 23, A until nothing": {Wear{6, 126}, 2, 50.4, 10.781597, 37.316087, 104.164288, 1e-5},
		"B":                       {Wear{5, 110}, 2, 55, 11.225, 39.548, 114.635, 6e-4},
		"C":                       {Wear{5, 121 + 1.0/3}, 2, 60.667, 12.381, 43.623, 126.446, 6e-4},
	} {
		mean, _ := meanAndDeviation(c.wear, c.steps)
		near(t, name+" mean", mean, c.mean, c.tolerance)
		near(t, name+" early", c.wear.Quantile(c.steps, 0.1), c.early, c.tolerance)
		near(t, name+" median", c.wear.Quantile(c.steps, 0.5), c.median, c.tolerance)
		near(t, name+" late", c.wear.Quantile(c.steps, 0.9), c.late, c.tolerance)
	}
	_, deviation := meanAndDeviation(Wear{4, 60}, 3)
	near(t, "standard deviation of a new one (5.3)", deviation, 60, 1e-3)
	for x, want := range map[float64]float64{7: 0.2770, 14: 0.4686, 30: 0.7224, 60: 0.9034} { // A
		near(t, "lost in", Wear{6, 126}.Chance(1, x), want, 5e-5)
	}
	// The trade check of 5.3: common practice, no source, says about two months.
	near(t, "unprotected, daily, in 60 days", Wear{4, 60}.Chance(3, 60), 0.656250, 5e-7)
	near(t, "taped, daily, in 60 days", Wear{4, 60}.Chance(3, 60.0/6), 0.041624, 5e-7)
	near(t, "unprotected, rarely used, in 60 days", Wear{4, 60}.Chance(3, 60*0.03), 0.000463, 5e-7)
	near(t, "the mean passed by 34 % of new markings", 1-Wear{4, 60}.Chance(3, 60), 0.34, 5e-3)
}

// meanAndDeviation integrates the chance that so many grades are not lost yet over the
// exposure, which tends to a power of it: x = β·u/(1−u).
func meanAndDeviation(w Wear, steps float64) (mean, deviation float64) {
	over := func(power float64) float64 {
		return quad.Fixed(func(u float64) float64 {
			x := w.Rate * u / (1 - u)
			return power * math.Pow(x, power-1) * (1 - w.Chance(steps, x)) * w.Rate / ((1 - u) * (1 - u))
		}, 0, 1, 200, quad.Legendre{}, 0)
	}
	mean = over(1)
	return mean, math.Sqrt(over(2) - mean*mean)
}

// The chance is that of a Poisson process whose rate is Gamma distributed: integrated
// here over the rate. The quantiles are those of F (gonum), and give their chance back.
func TestWearComparedWithItsDefinition(t *testing.T) {
	for _, w := range []Wear{{4, 60}, {6, 126}, {1.3, 10}, {40, 900}, {0.6, 2}} {
		for _, m := range []float64{1, 2, 3, 0.5, 1.75} {
			rate := distuv.Gamma{Alpha: w.Shape, Beta: w.Rate}
			for _, p := range []float64{0.1, 0.5, 0.9} {
				x := w.Quantile(m, p)
				byRate := quad.Fixed(func(u float64) float64 { return mathext.GammaIncReg(m, rate.Quantile(u)*x) }, 0, 1, 150, quad.Legendre{}, 0)
				near(t, "integrated over the rate", byRate, p, 2e-4)
				f := distuv.F{D1: 2 * m, D2: 2 * w.Shape}.CDF(x / w.Rate * w.Shape / m)
				near(t, "by F", f, p, 1e-9)
				near(t, "quantile of F, in proportion", w.Rate*m/w.Shape*distuv.F{D1: 2 * m, D2: 2 * w.Shape}.Quantile(p)/x, 1, 1e-9)
				near(t, "chance", w.Chance(m, x), p, 1e-9)
			}
		}
	}
}

// The table of 5.3: a new marking in calendar days. D is its first row.
func TestForecastOfANewMarking(t *testing.T) {
	for _, c := range []struct {
		method           Method
		protection       Protection
		usage            register.Usage
		early, mid, late float64
		photo            int // days until the next
	}{
		{"printed", "none", register.Daily, 15.1, 43.7, 120.1, 15},
		{"printed", "none", register.Weekly, 75.4, 218.5, 600.4, 75},
		{"printed", "none", register.Rare, 502.8, 1456.7, 4002.5, 365},
		{"printed", "lacquer", register.Daily, 60.3, 174.8, 480.3, 60},
		{"printed", "clear tape", register.Daily, 90.5, 262.2, 720.5, 90},
		{"printed", "clear tape", register.Weekly, 452.6, 1311.0, 3602.3, 365},
		{"engraved", "none", register.Daily, 603.4, 1748.0, 4803.0, 365},
	} {
		h := History{Kind: "impact wrench", Method: c.method, New: "2026-01-05", Terms: []Stretch{{"2026-01-05", c.protection, c.usage}}}
		f := h.Forecast(AssumedPrior(), "2026-01-05")
		near(t, "early", f.Early.Days, c.early, 0.06)
		near(t, "expected", f.Expected.Days, c.mid, 0.06)
		near(t, "late", f.Late.Days, c.late, 0.06)
		if !f.New || f.Grade != nil || f.Standing != Fading || *f.Unreadable != 0 || f.NextPhoto != dates.Date("2026-01-05").AddDays(c.photo) {
			t.Errorf("%s, %s, %s: %+v", c.method, c.protection, c.usage, f)
		}
		if beyond := c.late > furthest; beyond != (f.Late.On == "") {
			t.Errorf("%s, %s, %s: late on %q after %g days", c.method, c.protection, c.usage, f.Late.On, f.Late.Days)
		}
	}
}

// Rows 22 and 24, and all dates of A.
func TestForecastOfExampleA(t *testing.T) {
	f := exampleA().Forecast(AssumedPrior(), "2026-03-12")
	if f.Wear != (Wear{6, 126}) || f.Steps != 2 || f.Exposure != 66 || *f.Grade != 2 || f.From != "2026-01-05" || f.Last != "2026-03-12" || f.New || f.Rose {
		t.Fatalf("%+v", f)
	}
	for _, c := range []struct {
		what string
		x    float64
		want dates.Date
	}{
		{"early", f.Early.Days, "2026-03-14"}, {"expected", f.Expected.Days, "2026-03-27"}, {"late", f.Late.Days, "2026-05-09"},
		{"nothing, early", f.Wear.Quantile(2, 0.1), "2026-03-22"}, {"nothing, median", f.Wear.Quantile(2, 0.5), "2026-04-18"},
		{"nothing, late", f.Wear.Quantile(2, 0.9), "2026-06-24"},
	} {
		if got := f.after(c.x); got != c.want {
			t.Errorf("%s: %s, want %s", c.what, got, c.want)
		}
	}
	if f.Early.On != "2026-03-14" || f.Expected.On != "2026-03-27" || f.Late.On != "2026-05-09" || f.NextPhoto != f.Early.On || !f.Protect || *f.Unreadable != 0 {
		t.Errorf("%+v", f)
	}
	// A month without a look moves no estimate: only the chance of today (A: 0.7224).
	later := exampleA().Forecast(AssumedPrior(), "2026-04-11")
	near(t, "expected, a month later", later.Expected.Days, f.Expected.Days, 1e-9)
	if later.Wear != f.Wear || later.Expected.On != f.Expected.On || later.Exposure != f.Exposure || later.Since != 30 {
		t.Errorf("moved without a look: %+v", later)
	}
	near(t, "unreadable today", *later.Unreadable, 0.7224, 5e-5)
	near(t, "in thirty days more (0.9034)", *later.ChanceIn(30), 0.9034, 5e-5)
	if before := exampleA().Forecast(AssumedPrior(), "2026-02-19"); before.Steps != 0 || before.Exposure != 21 || *before.Grade != 4 {
		t.Errorf("looks of later days count: %+v", before)
	}
}

// B and C of 5.3: through protections and usages.
func TestForecastThroughTerms(t *testing.T) {
	b := printed(look("2026-01-01", 4), look(dates.Date("2026-01-01").AddDays(300), 3))
	b.Terms = []Stretch{{"2026-01-01", "clear tape", register.Daily}}
	f := b.Forecast(AssumedPrior(), "2026-12-31")
	near(t, "B exposure", f.Exposure, 50, 1e-9)
	near(t, "B early", f.Early.Days, 67.3, 0.06)
	near(t, "B median", f.Expected.Days, 237.3, 0.06)
	near(t, "B late", f.Late.Days, 687.8, 0.06)
	near(t, "B since the last look", f.Since, 64.0/6, 1e-9)
	first := dates.Date("2026-01-01")
	c := printed(look(first, 4), look(first.AddDays(230), 3))
	c.Terms = []Stretch{{first, "none", register.Daily}, {first.AddDays(40), "none", register.Weekly}, {first.AddDays(130), "clear tape", register.Weekly}}
	f = c.Forecast(AssumedPrior(), first.AddDays(230))
	near(t, "C exposure", f.Exposure, 61.3333, 5e-5)
	near(t, "C early", f.Early.Exposure, 12.381, 6e-4)
}

// A day that is given and the chance of today speak of the same use: what custody knows of
// the days since the last look counts for both, and a change of use or of protection from
// its day on. When to look again goes by what is said of the usage.
func TestDaysAheadGoByTheUseSinceTheLastLook(t *testing.T) {
	last := dates.Date("2026-10-01")
	idle := printed(look(last, 4)) // expected in 43.7 days of use
	idle.InUse = InUse{Spans: []Span{{last, last.AddDays(1)}}, Covered: []Span{{last, last.AddDays(59)}}}
	f := idle.Forecast(AssumedPrior(), last.AddDays(60))
	near(t, "two days out of sixty", f.Since, 2, 1e-9)
	near(t, "early", f.Early.Days, 60-2+15.085, 1e-2)
	near(t, "expected", f.Expected.Days, 60-2+43.700, 1e-2)
	if !f.Expected.On.After(last.AddDays(60)) || *f.Unreadable >= 0.5 || f.NextPhoto != last.AddDays(15) {
		t.Errorf("expected %s with a chance of %g, next photo %s", f.Expected.On, *f.Unreadable, f.NextPhoto)
	}
	rested := printed(look(last, 4))
	rested.Terms = append(rested.Terms, Stretch{last.AddDays(30), "none", register.Weekly})
	for _, days := range []int{30, 60, 98, 99, 150} { // 30 + (43.7 − 30)/0.2 is 98.5
		f := rested.Forecast(AssumedPrior(), last.AddDays(days))
		near(t, "expected, used weekly from the 30th day on", f.Expected.Days, 98.5, 1e-2)
		if past := days >= 99; past != (*f.Unreadable >= 0.5) {
			t.Errorf("after %d days the chance is %g", days, *f.Unreadable)
		}
	}
}

// What custody knows takes the place of a usage.
func TestDaysInUse(t *testing.T) {
	h := printed(look("2026-01-01", 4), look("2026-03-02", 3)) // 60 days
	on := func(since dates.Date) []Span { return []Span{{since, "2027-01-01"}} }
	for name, c := range map[string]struct {
		use   InUse
		terms []Stretch
		want  float64
	}{
		"never covered":         {InUse{Spans: []Span{{"2026-01-01", "2026-01-09"}}}, h.Terms, 60},
		"covered, never out":    {InUse{Covered: on("2025-01-01")}, h.Terms, 0},
		"out twice on a day":    {InUse{[]Span{{"2026-01-10", "2026-01-12"}, {"2026-01-12", "2026-01-12"}}, on("2025-01-01")}, h.Terms, 3},
		"within one another":    {InUse{[]Span{{"2026-01-12", "2026-01-12"}, {"2026-01-10", "2026-01-20"}, {"2026-01-11", "2026-01-13"}}, on("2025-01-01")}, h.Terms, 11},
		"ended before it began": {InUse{[]Span{{"2026-01-20", "2026-01-10"}, {"2026-01-22", "2026-01-22"}}, on("2025-01-01")}, h.Terms, 1},
		"over both ends":        {InUse{[]Span{{"2025-12-01", "2026-01-01"}, {"2026-03-01", "2026-04-01"}}, on("2025-01-01")}, h.Terms, 2},
		"covered from later":    {InUse{[]Span{{"2026-02-05", "2026-02-05"}}, on("2026-01-31")}, h.Terms, 31},
		"usage as it was":       {InUse{[]Span{{"2026-02-05", "2026-02-05"}}, on("2026-01-31")}, []Stretch{{"2026-01-01", "none", register.Weekly}}, 7},
		"taped while out":       {InUse{[]Span{{"2026-01-10", "2026-01-21"}}, on("2025-01-01")}, []Stretch{{"2026-01-01", "none", register.Daily}, {"2026-01-16", "clear tape", register.Daily}}, 7},
		"out while not covered": {InUse{Spans: []Span{{"2026-01-01", "2026-01-10"}}}, []Stretch{{"2026-01-01", "none", register.Weekly}}, 10 + 50*0.2},
		"before any term":       {InUse{}, []Stretch{{"2026-02-01", "none", register.Weekly}}, 12},
		"usage not recorded":    {InUse{}, []Stretch{{"2026-01-01", "none", ""}}, 60},
		"nothing is recorded":   {InUse{}, nil, 60},
	} {
		h.InUse, h.Terms = c.use, c.terms
		f := h.Forecast(AssumedPrior(), "2026-03-02")
		near(t, name, f.Exposure, c.want, 1e-9)
		if taken := len(c.terms) == 0 || c.terms[0].Usage == ""; f.UseTaken != taken {
			t.Errorf("%s: usage assumed is %t", name, f.UseTaken)
		}
	}
}

// Days without use are known only where takes come regularly: expected days by hand.
func TestCovered(t *testing.T) {
	out := func(days ...dates.Date) (all []Span) {
		for _, d := range days {
			all = append(all, Span{d, d})
		}
		return all
	}
	for name, c := range map[string]struct{ takes, want []Span }{
		"never taken":            {},
		"taken once":             {out("2026-02-01"), nil},
		"taken once, yesterday":  {out("2026-03-01"), nil},
		"twice on a day":         {out("2026-02-01", "2026-02-01"), nil},
		"14 days later":          {out("2026-01-15", "2026-01-01"), []Span{{"2026-01-01", "2026-01-15"}}},
		"15 days later":          {out("2026-01-01", "2026-01-16"), nil},
		"up to today":            {out("2026-02-10", "2026-02-16"), []Span{{"2026-02-10", "2026-03-02"}}},
		"no more since":          {out("2026-02-10", "2026-02-15"), []Span{{"2026-02-10", "2026-02-15"}}},
		"two runs, one between":  {out("2026-01-01", "2026-01-05", "2026-01-25", "2026-02-20", "2026-02-21"), []Span{{"2026-01-01", "2026-01-05"}, {"2026-02-20", "2026-03-02"}}},
		"kept out for some days": {[]Span{{"2026-01-01", "2026-01-03"}}, []Span{{"2026-01-01", "2026-01-03"}}},
		"out still":              {[]Span{{"2026-02-20", "2026-03-02"}}, []Span{{"2026-02-20", "2026-03-02"}}},
	} {
		if got := Covered(c.takes, "2026-03-02"); !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, want %v", name, got, c.want)
		}
	}
	// One scan says nothing of the 300 days since: the marking is to be seen to, as it
	// would be had nobody scanned at all.
	h := printed(look("2026-02-02", 3))
	never := h.Forecast(AssumedPrior(), "2026-11-29")
	h.InUse.Spans = out("2026-02-01")
	h.InUse.Covered = Covered(h.InUse.Spans, "2026-11-29")
	if once := h.Forecast(AssumedPrior(), "2026-11-29"); !once.Protect || *once.Unreadable != *never.Unreadable || *once.Unreadable < 0.9 {
		t.Errorf("scanned once: %v, never: %v", *once.Unreadable, *never.Unreadable)
	}
}

// Grades that rise are noise: pooled with those before, looks of one day with one
// another. Expected values by hand.
func TestPooledGrades(t *testing.T) {
	days := []dates.Date{"2026-01-01", "2026-01-11", "2026-01-21", "2026-01-31", "2026-02-10"}
	for name, c := range map[string]struct {
		grades      []int64
		same        bool // the last two on one day
		steps, left float64
		rose        bool
		standing    Outlook
	}{
		"falls":                     {grades: []int64{4, 3, 2}, steps: 2, left: 1, standing: Fading},
		"rises once":                {grades: []int64{4, 2, 3}, steps: 1.5, left: 1.5, rose: true, standing: Fading},
		"rises back":                {grades: []int64{4, 2, 4, 3}, steps: 1, left: 2, rose: true, standing: Fading},
		"rises from the first":      {grades: []int64{2, 4}, left: 2, rose: true, standing: Fading},
		"rises all the way":         {grades: []int64{4, 3, 1, 4, 4}, steps: 1, left: 2, rose: true, standing: Fading},
		"two looks on a day":        {grades: []int64{4, 3, 2}, same: true, steps: 1.5, left: 1.5, standing: Fading},
		"one character gone":        {grades: []int64{4, 1}, steps: 3, left: 0, standing: IsLost},
		"unreadable":                {grades: []int64{4, 0}, steps: 4, left: -1, standing: IsLost},
		"seen once":                 {grades: []int64{3}, left: 2, standing: Fading},
		"lost, and readable after":  {grades: []int64{4, 1, 3}, steps: 2, left: 1, rose: true, standing: Fading},
		"lost thrice, then crisp":   {grades: []int64{0, 0, 0, 4}, left: 0, rose: true, standing: InDoubt},
		"found unreadable at first": {grades: []int64{0}, left: -1, standing: IsLost},
	} {
		var checks []Check
		for i, g := range c.grades {
			if c.same && i == len(c.grades)-1 {
				i--
			}
			checks = append(checks, look(days[i], g))
		}
		f := printed(checks...).Forecast(AssumedPrior(), "2026-03-01")
		near(t, name+" steps", f.Steps, c.steps, 1e-9)
		near(t, name+" left", f.Left(), c.left, 1e-9)
		if f.Rose != c.rose || f.Standing != c.standing {
			t.Errorf("%s: %+v", name, f)
		}
		if c.standing == IsLost && (f.Expected.On != "" || *f.Unreadable != 1 || !f.Protect) {
			t.Errorf("%s: a date for what is lost, or no word: %+v", name, f)
		}
	}
	rose := printed(look("2026-01-01", 0), look("2026-01-05", 0), look("2026-01-09", 0), look("2026-01-13", 4)).Forecast(AssumedPrior(), "2026-03-01")
	if rose.Unreadable != nil || rose.ChanceIn(30) != nil || rose.Expected != (Ahead{}) || rose.NextPhoto != "2026-01-13" || *rose.Grade != 4 {
		t.Errorf("in doubt, and something is reckoned, or no look is due at once: %+v", rose)
	}
	w := look("2026-01-21", 1)
	w.Withdrawn = 1
	h := printed(look("2026-01-01", 4), w, look("2027-01-01", 0), Check{On: "2026-01-25"})
	if f := h.Forecast(AssumedPrior(), "2026-03-01"); *f.Grade != 4 || f.Last != "2026-01-01" {
		t.Errorf("a look that was withdrawn, is to come, or gave no grade counts: %+v", f)
	}
}

// What nobody knows is never good.
func TestForecastOfWhatIsNotKnown(t *testing.T) {
	never := printed().Forecast(AssumedPrior(), "2026-03-01")
	if never.Standing != NeverLooked || never.Unreadable != nil || never.NextPhoto != "" || never.Expected != (Ahead{}) || never.ChanceIn(30) != nil {
		t.Errorf("%+v", never)
	}
	h := printed(look("2026-01-01", 4))
	h.Method = "stamped"
	f := h.Forecast(AssumedPrior(), "2026-03-01")
	if f.Standing != NoForecast || f.Unreadable != nil || f.Expected != (Ahead{}) || f.NextPhoto != "2027-01-01" || f.Protect {
		t.Errorf("%+v", f)
	}
	h.Checks = append(h.Checks, look("2026-02-01", 2))
	if f = h.Forecast(AssumedPrior(), "2026-03-01"); !f.Protect {
		t.Errorf("one grade left: %+v", f)
	}
	h = printed()
	h.New = "2026-04-01"
	if f = h.Forecast(AssumedPrior(), "2026-03-01"); f.Standing != NeverLooked {
		t.Errorf("new on a day to come: %+v", f)
	}
	h.New = "2026-01-01"
	h.Checks = []Check{look("2026-02-01", 3)}
	if f = h.Forecast(AssumedPrior(), "2026-03-01"); f.Exposure != 0 || f.From != "2026-02-01" || f.New {
		t.Errorf("begins before the first look: %+v", f)
	}
}

// Row 26: more looks with the same grades lost and the same exposure change nothing,
// nor does the order in which they were entered.
func TestMoreLooksSayTheSame(t *testing.T) {
	few := printed(look("2026-01-05", 4), look("2026-03-12", 2)).Forecast(AssumedPrior(), "2026-04-01")
	many := exampleA()
	slices.Reverse(many.Checks)
	got := many.Forecast(AssumedPrior(), "2026-04-01")
	if got.Wear != few.Wear || got.Expected != few.Expected || *got.Unreadable != *few.Unreadable || got.Late != few.Late {
		t.Errorf("%+v, and with more looks %+v", few, got)
	}
}

// tools is how many a simulation has.
func tools(quick, ci, full int) int {
	switch os.Getenv("PAWL_SIZE") {
	case "full":
		return full
	case "ci":
		return ci
	}
	return quick
}

// Money-and-statistics 5.5: tools that wear as modelled, and steadier ones, each looked
// at once in days 5 to 60. The shares are its simulation's, of 13,000 to 15,000 tools:
// to both its own error and this one's is granted.
func TestIntervalsHold(t *testing.T) {
	n := tools(6_000, 30_000, 600_000)
	for _, c := range []struct {
		stages        int // Erlang stages of a grade's time
		inside, early float64
	}{{1, 0.799, 0.100}, {2, 0.864, 0.076}, {4, 0.905, 0.057}} {
		r := rand.New(rand.NewPCG(12345, uint64(c.stages)))
		seen, inside, early := 0.0, 0.0, 0.0
		for range n {
			theta := distuv.Gamma{Alpha: assumedShape, Beta: assumedRate, Src: r}.Rand()
			step := distuv.Gamma{Alpha: float64(c.stages), Beta: theta * float64(c.stages), Src: r}
			var falls [3]float64
			at := 0.0
			for i := range falls {
				at += step.Rand()
				falls[i] = at
			}
			looked := 5 + 55*r.Float64()
			k := 0.0
			for _, f := range falls {
				if f <= looked {
					k++
				}
			}
			if k == 3 {
				continue
			}
			w, x := Wear{assumedShape + k, assumedRate + looked}, falls[2]-looked
			seen++
			if x < w.Quantile(3-k, 0.1) {
				early++
			} else if x <= w.Quantile(3-k, 0.9) {
				inside++
			}
		}
		t.Logf("%d stages: of %.0f inside %.4f, lost before early %.4f", c.stages, seen, inside/seen, early/seen)
		slack := func(p float64) float64 { return 3.5 * math.Sqrt(p*(1-p)*(1/seen+1/13_000.0)) }
		near(t, "inside", inside/seen, c.inside, slack(c.inside)+5e-4)
		near(t, "before early", early/seen, c.early, slack(c.early)+5e-4)
		if c.stages == 1 { // as modelled: exactly what is said
			near(t, "inside, as modelled", inside/seen, 0.8, 3.5*math.Sqrt(0.16/seen))
			near(t, "before early, as modelled", early/seen, 0.1, 3.5*math.Sqrt(0.09/seen))
		}
	}
}
