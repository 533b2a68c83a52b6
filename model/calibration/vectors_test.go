package calibration

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"pawl/model/dates"
	"pawl/model/units"
)

// table reads the rows of a file in testdata/vectors; lines with # say where they
// are from. Cells stand apart by | where the file has any, else by spaces.
func table(t *testing.T, name string) [][]string {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("..", "..", "testdata", "vectors", name))
	if err != nil {
		t.Fatal(err)
	}
	var rows [][]string
	for line := range strings.Lines(string(data)) {
		if line = strings.TrimSpace(line); line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		cells := strings.Fields(line)
		if strings.Contains(line, "|") {
			cells = strings.Split(line, "|")
		}
		for i := range cells {
			cells[i] = strings.TrimSpace(cells[i])
		}
		rows = append(rows, cells)
	}
	if len(rows) == 0 {
		t.Fatalf("%s is empty", name)
	}
	return rows
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	if s == "inf" {
		return math.Inf(1)
	}
	d, err := ParseDecimal(s)
	if err != nil {
		t.Fatal(err)
	}
	return d.Float()
}

// equal fails where got is not want within the tolerance, NaN included.
func equal(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s = %.9g, want %.9g ± %g", what, got, want, tolerance)
	}
}

// wrench is a setting torque wrench, 40 N·m to 200 N·m, whose limit its own paper
// states.
func wrench() Requirement {
	return Requirement{
		Instrument: TorqueWrench, Class: SettingWrench, Unit: units.NewtonMeter,
		Scale:      Scale{Low: nm("40"), High: nm("200"), Graduation: nm("1")},
		Directions: []Direction{Clockwise, Counterclockwise},
		Limit:      limit("4 % of reference"), LimitSource: Source{OwnPaper, "its declaration, page 1"},
		Months: 12, Cycles: 5000, IntervalSource: Source{ShopRule, ""},
	}
}

func nm(v string) units.Quantity { return units.Quantity{Value: v, Unit: units.NewtonMeter} }

func limit(s string) Limit {
	l, err := ParseLimit(s)
	if err != nil {
		panic(err)
	}
	return l
}

// points reads clockwise points in the grammar of readings.
func points(t *testing.T, text string) []Point {
	t.Helper()
	p, err := ParseReadings(text, units.NewtonMeter, Clockwise)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// fitStandard is one that nothing can be said against in 2026.
func fitStandard() Standard {
	return Standard{Tool: "a", Low: nm("20"), High: nm("400"), Uncertainty: "1.0", Bias: "0", Calibrated: "2026-01-10", Due: "2027-01-10"}
}

// own is a comparison made here, with readings as left.
func own(t *testing.T, left string) Result {
	return Result{
		On: "2026-11-02", By: "R. Ames", Paper: Own, Standard: fitStandard(), Temperature: units.Quantity{Value: "21", Unit: units.Celsius}, AsLeft: points(t, left),
		Budget: Budget{Reproducibility: "0.20", OutputDrive: "0.16", Interface: "0.12", LoadingPoint: "0.24"},
	}
}

func judged(t *testing.T, q Requirement, r Result, a Around) Judgement {
	t.Helper()
	j, err := Judge(q, r, a)
	if err != nil {
		t.Fatal(err)
	}
	return j
}

func doubt(j Judgement, code DoubtCode) (Doubt, bool) {
	for _, d := range j.Doubts {
		if d.Code == code {
			return d, true
		}
	}
	return Doubt{}, false
}

func dateOf(t *testing.T, s string) dates.Date {
	t.Helper()
	d, err := dates.ParseDate(s)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func scaleOf(t *testing.T, s string) Scale {
	t.Helper()
	out, err := ParseScale(s)
	if err != nil {
		t.Fatal(err)
	}
	return out
}
