package intervals

import (
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"pawl/model/calibration"
)

// equal fails where got is not want within the tolerance, NaN included.
func equal(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) && got != want {
		t.Errorf("%s = %.10g, want %.10g ± %g", what, got, want, tolerance)
	}
}

// numbers reads a file of testdata/vectors: rows of figures; # says where they are from.
func numbers(t *testing.T, name string) (rows [][]float64) {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("..", "..", "..", "testdata", "vectors", name))
	if err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(string(data)) {
		if line = strings.TrimSpace(line); line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		var row []float64
		for _, cell := range strings.Fields(line) {
			v, err := strconv.ParseFloat(cell, 64)
			if err != nil {
				t.Fatal(err)
			}
			row = append(row, v)
		}
		rows = append(rows, row)
	}
	return rows
}

// pass and fail are calibrations of like tools at one age: right- and left-censored.
func pass(age float64, n int) (out []Observation) {
	for range n {
		out = append(out, Observation{age, math.Inf(1)})
	}
	return out
}

func fail(age float64, n int) (out []Observation) {
	for range n {
		out = append(out, Observation{0, age})
	}
	return out
}

func all(parts ...[]Observation) (out []Observation) {
	for _, p := range parts {
		out = append(out, p...)
	}
	return out
}

// shopData: (months, n, in tolerance) = (6, 20, 19), (12, 40, 34), (18, 25, 18), and
// singleTool: pass at 12 three times, fail at 12, pass at 6 three times. Both worked by
// two independent scripts (Newton; grid refinement and bisection), to the digits below.
func shopData() []Observation {
	return all(pass(6, 19), fail(6, 1), pass(12, 34), fail(12, 6), pass(18, 18), fail(18, 7))
}

func singleTool() []Observation { return all(pass(12, 3), fail(12, 1), pass(6, 3)) }

func TestExponentialOfStatusData(t *testing.T) {
	e, ok := FitExponential(shopData())
	if !ok {
		t.Fatal("no estimate")
	}
	equal(t, "λ", e.Rate, 0.0148291, 1e-7)
	equal(t, "its standard error", e.Error, 0.0039715, 1e-7)
	equal(t, "ln L", e.LnL, -36.05147, 1e-5)
	for _, c := range []struct{ reliability, nominal, conservative float64 }{
		{0.90, 7.1050, 4.932}, {0.95, 3.4590, math.NaN()}, {0.99, 0.67774, math.NaN()},
	} {
		nominal, conservative := e.Until(c.reliability)
		equal(t, "nominal", nominal, c.nominal, 1e-4)
		if c.conservative == c.conservative {
			equal(t, "conservative", conservative, c.conservative, 1e-3)
		}
	}
	// Of one tool there is a closed form: e^(−12λ) = 54/66.
	e, _ = FitExponential(singleTool())
	equal(t, "λ", e.Rate, math.Log(66.0/54)/12, 1e-12)
	nominal, conservative := e.Until(0.90)
	equal(t, "nominal of one tool", nominal, 6.3005, 1e-4)
	equal(t, "conservative of one tool", conservative, 2.4, 0.05)
}

func TestWeibullOfStatusData(t *testing.T) {
	w, ok := FitWeibull(shopData())
	if !ok {
		t.Fatal("no estimate")
	}
	equal(t, "β", w.Shape, 1.70335, 2e-4)
	equal(t, "η", w.Scale, 34.696, 2e-3)
	equal(t, "ln L", w.LnL, -35.70297, 1e-5)
	for _, c := range [][2]float64{{0.90, 9.2580}, {0.95, 6.0672}, {0.99, 2.3303}} {
		nominal, conservative := w.Until(c[0])
		equal(t, "nominal", nominal, c[1], 1e-3)
		if !(conservative > 0 && conservative < nominal) {
			t.Errorf("conservative %g beside %g", conservative, nominal)
		}
	}
	// 2ΔlnL = 0.69699 does not pay for the second parameter (chi-square, 95 %: 3.84).
	s := StudyOf(shopData(), 0.90)
	equal(t, "2ΔlnL", s.Ratio, 0.69699, 1e-4)
	if s.chosen() != "exponential" {
		t.Errorf("chosen: %s", s.chosen())
	}
}

// Cracks of turbine parts: W. Nelson, Applied Life Data Analysis (1982) p. 415, as
// reproduced in the SAS/QC documentation, PROC RELIABILITY; the estimates there are
// η 71.6904, β 1.4854, standard errors 0.07440 of ln η and 0.06642 of 1/β.
func TestTurbineParts(t *testing.T) {
	var cracks []Observation
	before := 0.0
	for _, r := range numbers(t, "turbine.txt") {
		for range int(r[1]) {
			cracks = append(cracks, Observation{before, r[0]})
		}
		before = r[0]
	}
	cracks = append(cracks, pass(before, 167-len(cracks))...)
	w, ok := FitWeibull(cracks)
	if !ok {
		t.Fatal("no estimate")
	}
	equal(t, "η", w.Scale, 71.6904, 1e-3)
	equal(t, "β", w.Shape, 1.48537, 1e-4)
	equal(t, "ln L", w.LnL, -309.66841, 1e-4)
	equal(t, "standard error of ln η", w.SELnScale, 0.07440, 1e-5)
	equal(t, "standard error of 1/β", w.SELnShape/w.Shape, 0.06642, 1e-5)
	ninety, _ := w.Until(0.90)
	equal(t, "B10", ninety, 15.7578, 1e-3)
	e, _ := FitExponential(cracks)
	equal(t, "exponential mean", 1/e.Rate, 82.6655, 1e-3)
	equal(t, "exponential ln L", e.LnL, -316.67055, 1e-4)
	equal(t, "what is taken at 0.90", StudyOf(cracks, 0.9).Nominal, 15.7578, 1e-3)
	_, conservative := w.Until(0.90)
	equal(t, "conservative B10", conservative, ninety*math.Exp(-1.644854*spreadOfLife(cracks, 0.90, ninety, w.Shape)), 1e-3)
	if s := StudyOf(cracks, 0.9); s.chosen() != "weibull" || math.Abs(s.Ratio-14.0043) > 1e-3 {
		t.Errorf("%s by %g: wear-out is real there", s.chosen(), s.Ratio)
	}
	// Equally spaced inspections have a closed form: λ = −ln(1 − R/M)/Δ; at risk 10, 9,
	// 7, 6, failures 1, 2, 1, 1, every 30 days (worked by script: 0.00566330).
	var spaced []Observation
	for i, f := range []int{1, 2, 1, 1} {
		for range f {
			spaced = append(spaced, Observation{30 * float64(i), 30 * float64(i+1)})
		}
	}
	spaced = append(spaced, pass(120, 5)...)
	e, _ = FitExponential(spaced)
	equal(t, "λ", e.Rate, 0.00566330, 1e-8)
}

// spreadOfLife is the standard error of ln t at a reliability another way: ln L written
// in (ln t, ln β) themselves, and its curvature at the maximum inverted.
func spreadOfLife(lives []Observation, reliability, life, shape float64) float64 {
	logL := func(lnLife, lnShape float64) (sum float64) {
		alive := func(t float64) float64 {
			if math.IsInf(t, 1) {
				return 0
			}
			return math.Pow(reliability, math.Pow(t/math.Exp(lnLife), math.Exp(lnShape)))
		}
		for _, o := range lives {
			sum += math.Log(alive(o.After) - alive(o.By))
		}
		return sum
	}
	const h = 2e-3
	x, y := math.Log(life), math.Log(shape)
	xx := -(logL(x+h, y) - 2*logL(x, y) + logL(x-h, y)) / (h * h)
	yy := -(logL(x, y+h) - 2*logL(x, y) + logL(x, y-h)) / (h * h)
	xy := -(logL(x+h, y+h) - logL(x+h, y-h) - logL(x-h, y+h) + logL(x-h, y-h)) / (4 * h * h)
	return math.Sqrt(yy / (xx*yy - xy*xy))
}

func TestNoFiniteEstimate(t *testing.T) {
	for name, lives := range map[string][]Observation{
		"all passed": pass(12, 40), "all failed at once": fail(12, 5), "nothing": nil,
	} {
		if _, ok := FitExponential(lives); ok {
			t.Errorf("%s: there is an estimate", name)
		}
		if s := StudyOf(lives, 0.95); s.Insufficient == "" || !math.IsNaN(s.Nominal) || !math.IsNaN(s.Conservative) {
			t.Errorf("%s: %+v", name, s)
		}
	}
	// One age does not tell shapes apart, and two failures are no likelihood.
	if _, ok := FitWeibull(all(pass(12, 7), fail(12, 3))); ok {
		t.Error("a shape from one age")
	}
	if s := StudyOf(all(pass(12, 38), fail(12, 2)), 0.95); s.Insufficient == "" || !math.IsNaN(s.PassesShow) {
		t.Errorf("two failures: %+v", s)
	}
	// 10 lives of 12 months without a failure: T/(−ln 0.05) · −ln 0.95 by hand.
	equal(t, "what passes show", StudyOf(pass(12, 10), 0.95).PassesShow, 120/2.995732273553991*0.05129329438755058, 1e-9)
}

// A second way to the same: ln L written out from the definition, on a grid that is
// made finer around its highest place.
func TestLikelihoodAgainstAGrid(t *testing.T) {
	random := uint64(7)
	next := func() float64 { // Lehmer's generator
		random = random * 48271 % 2147483647
		return float64(random) / 2147483647
	}
	fits, cases := 0, 8
	if os.Getenv("PAWL_SIZE") != "" {
		cases = 100
	}
	for range cases {
		var lives []Observation
		scale, shape := 10+50*next(), 0.7+2*next()
		for range 30 + int(60*next()) {
			dies := scale * math.Pow(-math.Log(next()), 1/shape)
			every := 3 + math.Floor(12*next())
			o := Observation{0, math.Inf(1)}
			for seen := every; seen <= 4*every; seen += every {
				if dies < seen {
					o.By = seen
					break
				}
				o.After = seen
			}
			lives = append(lives, o)
		}
		logL := func(eta, beta float64) (sum float64) {
			alive := func(t float64) float64 {
				if math.IsInf(t, 1) {
					return 0
				}
				return math.Exp(-math.Pow(t/eta, beta))
			}
			for _, o := range lives {
				sum += math.Log(alive(o.After) - alive(o.By))
			}
			return sum
		}
		eta, _ := finer(func(e, _ float64) float64 { return logL(math.Exp(e), 1) }, 0, 7, 0, 0)
		if e, ok := FitExponential(lives); ok {
			equal(t, "1/λ", 1/e.Rate/math.Exp(eta), 1, 1e-5)
			equal(t, "ln L", e.LnL, logL(math.Exp(eta), 1), 1e-7)
		}
		eta, beta := finer(func(e, b float64) float64 { return logL(math.Exp(e), math.Exp(b)) }, 0, 7, -1.5, 2)
		if w, ok := FitWeibull(lives); ok {
			fits++
			equal(t, "η", w.Scale/math.Exp(eta), 1, 1e-4)
			equal(t, "β", w.Shape/math.Exp(beta), 1, 1e-4)
			equal(t, "ln L", w.LnL, logL(math.Exp(eta), math.Exp(beta)), 1e-7)
		}
	}
	if fits < cases*3/4 {
		t.Errorf("only %d of %d had an estimate", fits, cases)
	}
}

// finer looks at 21 × 21 places, then around the highest, thirty times.
func finer(height func(x, y float64) float64, lowX, highX, lowY, highY float64) (bestX, bestY float64) {
	for range 30 {
		best := math.Inf(-1)
		for i := range 21 {
			for j := range 21 {
				x, y := lowX+(highX-lowX)*float64(i)/20, lowY+(highY-lowY)*float64(j)/20
				if h := height(x, y); h > best {
					best, bestX, bestY = h, x, y
				}
			}
		}
		wideX, wideY := (highX-lowX)/5, (highY-lowY)/5
		lowX, highX, lowY, highY = bestX-wideX, bestX+wideX, bestY-wideY, bestY+wideY
	}
	return bestX, bestY
}

func TestStaircase(t *testing.T) {
	// 12 months, then well inside twice, out, well inside: worked by hand.
	months := 12.0
	for i, found := range []Outcome{Near, Near, OutOf, Near} {
		months = Stair(months, found)
		equal(t, string(found), months, []float64{13.2, 14.52, 7.26, 7.986}[i], 1e-9)
	}
	for _, c := range []struct {
		months float64
		found  Outcome
		want   float64
	}{{23, Near, 24}, {4, OutOf, 3}, {12, Inside, 12}, {12, Unknown, 12}} {
		equal(t, string(c.found), Stair(c.months, c.found), c.want, 1e-9)
	}
	// NCSLI RP-1 method A1 (concept from memory); worked by script from the relation.
	for _, c := range [][3]float64{{0.10, 0.95, 0.83649}, {0.10, 0.90, 0.57590}, {0.05, 0.95, 0.60427}} {
		equal(t, "step down", StepDown(c[0], c[1]), c[2], 1e-5)
		equal(t, "and back", SettlesAt(c[0], StepDown(c[0], c[1])), c[1], 1e-12)
	}
}

func TestReliability(t *testing.T) {
	// One-point rescaling, worked by script: 0.85 at 12 months and so on.
	for _, c := range [][4]float64{{12, 0.85, 0.90, 7.7796}, {12, 0.85, 0.95, 3.7874}, {12, 0.95, 0.90, 24.649}, {12, 0.75, 0.90, 4.3949}} {
		equal(t, "rescaled", Rescale(c[0], c[1], c[2]), c[3], 1e-3)
	}
	// Zero-failure sample, 95 % confidence: 59 for R = 0.95 and 29 for 0.90 are the usual tables'.
	equal(t, "R 0.95", ZeroFailures(0.95, 0.95), 58.40, 0.01)
	equal(t, "R 0.90", ZeroFailures(0.90, 0.95), 28.43, 0.01)
	// Clopper-Pearson, one-sided 95 %, worked by script; the first and last are closed
	// forms, 0.05^(1/n). NIST/SEMATECH e-Handbook 7.2.4.1: 4 of 20, two-sided 90 %, 0.071354.
	for _, c := range []struct {
		in, of int
		want   float64
	}{{3, 3, math.Pow(0.05, 1.0/3)}, {10, 10, 0.74113}, {19, 20, 0.78389}, {34, 40, 0.7253}, {59, 59, math.Pow(0.05, 1.0/59)}, {4, 20, 0.071354}, {0, 5, 0}} {
		equal(t, "lower bound", calibration.Like{Calibrations: c.of, InTolerance: c.in}.LowerReliability(0.95), c.want, 6e-5)
	}
	if got := (calibration.Like{}).LowerReliability(0.95); !math.IsNaN(got) {
		t.Errorf("of nothing: %g", got)
	}
}

// NIST/SEMATECH e-Handbook 8.4.5.1; the factors for chi-square as in its tables.
func TestMeanLife(t *testing.T) {
	low, high := MeanLife(800, 2, 0.90)
	equal(t, "lower", low, 127.069, 1e-3)
	equal(t, "upper", high, 2251.229, 1e-3)
	low, high = MeanLife(1, 5, 0.80)
	equal(t, "lower factor", 5*low, 0.5391, 1e-4)
	equal(t, "upper factor", 5*high, 2.0554, 1e-4)
	if _, high = MeanLife(500, 0, 0.90); !math.IsInf(high, 1) {
		t.Errorf("an upper bound of %g without a failure", high)
	}
	equal(t, "no failure in 500 h", NoFailureMean(500, 0.95), 166.904, 1e-3)
	// RIAC's example prints chi-square .1 and .9 at 90 degrees of freedom.
	equal(t, "χ² .1", chiSquare(0.1, 90), 73.2911, 1e-4)
	equal(t, "χ² .9", chiSquare(0.9, 90), 107.5650, 1e-4)
	// Student's t as in every table.
	for f, want := range map[float64]float64{3: 3.1824, 10: 2.2281, 30: 2.0423, 34: 2.0322} {
		equal(t, "t .975", calibration.StudentQuantile(0.975, f), want, 5e-5)
	}
}

func TestKaplanMeier(t *testing.T) {
	units := func(failed, seen []float64) (out []Ended) {
		for _, x := range failed {
			out = append(out, Ended{x, true})
		}
		for _, x := range seen {
			out = append(out, Ended{x, false})
		}
		return out
	}
	for name, c := range map[string]struct {
		units     []Ended
		want      []float64
		tolerance float64
		errors    []float64
	}{
		"NIST/SEMATECH e-Handbook 8.2.1.5": {
			units([]float64{10, 32, 56, 98, 122, 181}, []float64{50, 100, 125, 150, 200, 200, 200, 200, 200, 200, 200, 200, 200, 200}),
			[]float64{0.95, 0.90, 0.847059, 0.794118, 0.737395, 0.670359}, 1e-6, nil},
		"remission of leukemia, E. J. Freireich and others, Blood 21 (1963) 699 (data from memory)": {
			units([]float64{6, 6, 6, 7, 10, 13, 16, 22, 23}, []float64{6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35}),
			[]float64{0.8571, 0.8067, 0.7529, 0.6902, 0.6275, 0.5378, 0.4482}, 5e-5,
			[]float64{0.0764, 0.0869, 0.0963, 0.1068, 0.1141, 0.1282, 0.1346}},
		"19 subjects, the first three as published": {
			units([]float64{1, 1, 2, 3, 4, 6, 8, 9, 12, 14, 20}, []float64{0.5, 2, 5, 7, 10, 14, 17, 21}),
			[]float64{0.8889, 0.8333, 0.7738, 0.7143, 0.6494, 0.5772, 0.5051, 0.4209, 0.3367, 0.1684}, 5e-5, []float64{0.0741}},
	} {
		got := KaplanMeier(c.units)
		if len(got) != len(c.want) {
			t.Errorf("%s: %d steps, want %d", name, len(got), len(c.want))
			continue
		}
		for i, want := range c.want {
			equal(t, name, got[i].Share, want, c.tolerance)
		}
		for i, want := range c.errors {
			equal(t, name+", error", got[i].Error, want, 5e-5)
		}
	}
}

// NIST Statistical Reference Datasets, Norris: certified values.
func TestNorris(t *testing.T) {
	var x, y []float64
	for _, r := range numbers(t, "norris.txt") {
		y, x = append(y, r[0]), append(x, r[1])
	}
	l, err := FitLine(x, y)
	if err != nil || l.N != 36 {
		t.Fatal(err, l.N)
	}
	for what, c := range map[string][2]float64{
		"b0": {l.Intercept, -0.262323073774029}, "its error": {l.SEIntercept, 0.232818234301152},
		"b1": {l.Slope, 1.00211681802045}, "its error ": {l.SESlope, 0.429796848199937e-3},
		"s": {l.S, 0.884796396144373}, "R²": {l.R2, 0.999993745883712}, "residual sum of squares": {l.SSE, 26.6173985294224},
	} {
		equal(t, what, c[0]/c[1], 1, 1e-9)
	}
	// At 500: worked by two programs in different languages.
	equal(t, "at 500", l.At(500), 500.796086, 1e-6)
	equal(t, "prediction, low", l.At(500)-l.Margin(500, 0.975), 498.971794, 1e-6)
	equal(t, "prediction, high", l.At(500)+l.Margin(500, 0.975), 502.620378, 1e-6)
	equal(t, "the line itself, low", l.At(500)-l.MeanMargin(500, 0.975), 500.488197, 1e-6)
}

// Small drifts, worked by script.
func TestDriftLine(t *testing.T) {
	l, err := FitLine([]float64{0, 12, 24, 36}, []float64{0.4, 1.0, 1.5, 2.2})
	if err != nil {
		t.Fatal(err)
	}
	equal(t, "slope", l.Slope, 0.0491667, 1e-7)
	equal(t, "intercept", l.Intercept, 0.39, 1e-12)
	equal(t, "s", l.S, 0.05916, 1e-5)
	met, ok := l.Meets(2.58, 0, 0.5, 36, 60)
	equal(t, "reaches 2.58", met, 44.542, 1e-3)
	if !ok {
		t.Error("not reached")
	}
	if met, ok = l.Meets(4, 0, 0.5, 36, 60); ok {
		t.Errorf("4 %% at %g, past twice the last gap", met)
	}
	l, _ = FitLine([]float64{0, 1, 2, 3, 4}, []float64{0.2, 0.5, 0.9, 1.1, 1.6})
	equal(t, "b0", l.Intercept, 0.18, 1e-12)
	equal(t, "b1", l.Slope, 0.34, 1e-12)
	equal(t, "se(b1)", l.SESlope, 0.0230940, 1e-7)
	for x, want := range map[float64]float64{5: 0.3368, 6: 0.3889, 8: 0.5092} {
		equal(t, "half-width", l.Margin(x, 0.975), want, 5e-5)
	}
	met, _ = l.Meets(4, 0, 0.5, 4, 20)
	equal(t, "the line meets 4.0", met, 11.235, 1e-3)
	met, _ = l.Meets(4, 0, 0.95, 4, 20)
	equal(t, "its bound meets 4.0", met, 9.86198, 1e-4)
	down, _ := FitLine([]float64{0, 1, 2, 3, 4}, []float64{-0.2, -0.5, -0.9, -1.1, -1.6})
	met, _ = down.Meets(4, 0, 0.95, 4, 20)
	equal(t, "downward", met, 9.86198, 1e-4)
	// Hardly any slope: both bounds meet a limit, and the first of them counts.
	flat, _ := FitLine([]float64{0, 1, 2, 3, 4}, []float64{0.1, -0.1, 0.2, 0.1, 0.2})
	met, _ = flat.Meets(2, 0, 0.95, 4, 500)
	equal(t, "the upper bound where it meets", flat.At(met)+flat.Margin(met, 0.95), 2, 1e-9)
	met, _ = flat.Meets(2, -1, 0.95, 4, 500)
	equal(t, "the lower bound where it meets", flat.At(met)-1-flat.Margin(met, 0.95), -2, 1e-9)
	for _, x := range [][]float64{{1, 2}, {3, 3, 3}} {
		if _, err := FitLine(x, make([]float64, len(x))); err == nil {
			t.Errorf("a line through %v", x)
		}
	}
}
