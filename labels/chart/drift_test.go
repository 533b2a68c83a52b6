package chart

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"pawl/model/calibration"
	"pawl/model/calibration/intervals"
	"pawl/model/fault"
	"pawl/model/units"
)

// drifting is a wrench that went up by a percent a year at 120 clockwise, was adjusted
// once, and was compared twice only the other way.
func drifting() Drift {
	month := func(n float64) float64 { return n * 12 }
	nm := func(v string) units.Quantity { return units.Quantity{Value: v, Unit: units.NewtonMeter} }
	return Drift{Title: "00E-KM5 torque wrench: drift between tool calibrations", Points: []intervals.Drift{
		{
			Direction: calibration.Clockwise, Set: nm("120"), From: "2023-01-10", LimitPercent: some(4), GuardedPercent: some(2.58), Words: "drifts",
			Marks: []intervals.MarkShown{
				{On: "2023-01-10", Left: some(0.4)},
				{On: "2024-01-10", Months: month(1), Found: some(1.5), Left: some(-0.25), Adjusted: true},
				{On: "2025-01-10", Months: month(2), Found: some(0.75), Left: some(0.75)},
			},
			Pieces: []intervals.PieceShown{{FromMonths: 0, ToMonths: 12, FromPercent: some(0.4), ToPercent: some(1.45)}, {FromMonths: 12, ToMonths: 24, FromPercent: some(-0.25), ToPercent: some(0.8)}},
			Band:   []intervals.AheadShown{{Months: 24, Line: some(0.75), Low: some(0.2), High: some(1.3)}, {Months: 36, Line: some(1.8), Low: some(0.5), High: some(3.1)}, {Months: 48, Line: some(2.85), Low: some(0.4), High: some(5.3)}},
		},
		{
			Direction: calibration.Counterclockwise, Set: nm("40"), From: "2024-01-10", LimitPercent: some(4), Words: "insufficient data",
			Marks: []intervals.MarkShown{{On: "2024-01-10", Left: some(-0.5)}, {On: "2025-01-10", Months: 12, Found: some(-1.25), Left: some(-1.25)}},
		},
		{Set: nm("200"), From: "2025-01-10", Marks: []intervals.MarkShown{{On: "2025-01-10", Left: some(0.5)}}},
	}}
}

// driftPanel is one panel as it stands in the document, read by its own axes.
type driftPanel struct {
	name        string
	yTick, yAt  []float64
	xTick       []string
	xAt         []float64
	found, left [][2]float64
	paths       map[string][][][2]float64
}

func attribute(e xml.StartElement, name string) string {
	for _, a := range e.Attr {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}

func value(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(strings.Replace(s, "−", "-", 1), 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// panels reads the drawing back with a parser of XML.
func panels(t *testing.T, svg string) (out []*driftPanel) {
	t.Helper()
	number := regexp.MustCompile(`-?[0-9.]+`)
	var at *driftPanel
	var text xml.StartElement
	d := xml.NewDecoder(strings.NewReader(svg))
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			return out
		} else if err != nil {
			t.Fatal(err)
		}
		switch e := token.(type) {
		case xml.StartElement:
			text = e
			switch {
			case e.Name.Local == "g":
				at = &driftPanel{name: attribute(e, "aria-label"), paths: map[string][][][2]float64{}}
				out = append(out, at)
			case at == nil:
			case e.Name.Local == "circle":
				at.found = append(at.found, [2]float64{value(t, attribute(e, "cx")), value(t, attribute(e, "cy"))})
			case e.Name.Local == "rect":
				at.left = append(at.left, [2]float64{value(t, attribute(e, "x")) + 3, value(t, attribute(e, "y")) + 3})
			case e.Name.Local == "path" && attribute(e, "class") != "":
				var points [][2]float64
				all := number.FindAllString(attribute(e, "d"), -1)
				for i := 0; i+1 < len(all); i += 2 {
					points = append(points, [2]float64{value(t, all[i]), value(t, all[i+1])})
				}
				at.paths[attribute(e, "class")] = append(at.paths[attribute(e, "class")], points)
			}
		case xml.CharData:
			words := strings.TrimSpace(string(e))
			switch {
			case at == nil || words == "" || text.Name.Local != "text":
			case strings.HasSuffix(words, " %"):
				at.yTick, at.yAt = append(at.yTick, value(t, strings.TrimSuffix(words, " %"))), append(at.yAt, value(t, attribute(text, "y"))-4)
			case regexp.MustCompile(`^\d{4}-\d\d$`).MatchString(words):
				at.xTick, at.xAt = append(at.xTick, words), append(at.xAt, value(t, attribute(text, "x")))
			}
		case xml.EndElement:
			if e.Name.Local == "g" {
				at = nil
			}
		}
	}
}

// scale makes a ruler of two marks of an axis.
func scale(atA, a, atB, b float64) func(float64) float64 {
	return func(at float64) float64 { return a + (b-a)*(at-atA)/(atB-atA) }
}

// TestDriftReadsBack: every figure can be read off the picture by its axes, to a
// hundredth of a percent and a tenth of a month.
func TestDriftReadsBack(t *testing.T) {
	var b bytes.Buffer
	if err := drifting().SVG(&b); err != nil {
		t.Fatal(err)
	}
	got := panels(t, b.String())
	if len(got) != 2 || got[0].name != "120 N·m clockwise" || got[1].name != "40 N·m counterclockwise" {
		t.Fatalf("%d panels: %+v", len(got), got)
	}
	p := got[0]
	last := len(p.yTick) - 1
	percent := scale(p.yAt[0], p.yTick[0], p.yAt[last], p.yTick[last])
	if strings.Join(p.xTick, " ") != "2023-01 2024-01 2025-01 2026-01 2027-01" {
		t.Fatalf("dates %v", p.xTick)
	}
	month := scale(p.xAt[1], 12, p.xAt[3], 36) // the first and the last text stand inside the picture
	near := func(what string, at [2]float64, months, percents float64) {
		t.Helper()
		if math.Abs(month(at[0])-months) > 0.1 || math.Abs(percent(at[1])-percents) > 0.01 {
			t.Errorf("%s reads %.2f %% at %.2f months, want %g at %g", what, percent(at[1]), month(at[0]), percents, months)
		}
	}
	if len(p.found) != 2 || len(p.left) != 2 || len(p.paths["adjusted"]) != 1 {
		t.Fatalf("%d found, %d left, %d adjusted", len(p.found), len(p.left), len(p.paths["adjusted"]))
	}
	near("as left first", p.left[0], 0, 0.4)
	near("as found", p.found[0], 12, 1.5)
	near("as left", p.left[1], 12, -0.25)
	near("as found last", p.found[1], 24, 0.75)
	lines := p.paths["line"]
	if len(lines) != 3 || len(p.paths["bound"]) != 2 || len(p.paths["limit"]) != 2 || len(p.paths["guarded"]) != 2 {
		t.Fatalf("%v", p.paths)
	}
	near("the line", lines[0][1], 12, 1.45)
	near("anew after the adjustment", lines[1][0], 12, -0.25)
	near("ahead", lines[2][2], 48, 2.85)
	near("lower bound", p.paths["bound"][0][1], 36, 0.5)
	near("upper bound", p.paths["bound"][1][2], 48, 5.3)
	near("limit", p.paths["limit"][0][1], 48, 4)
	near("below", p.paths["limit"][1][1], 48, -4)
	near("limit less uncertainty", p.paths["guarded"][0][0], 0, 2.58)
	if q := got[1]; len(q.paths["line"])+len(q.paths["bound"])+len(q.paths["guarded"]) > 0 || len(q.found) != 1 || len(q.left) != 1 {
		t.Errorf("where too little is known: %+v", q)
	}
}

// TestDriftInBlackAndWhite: no color, every stroke of a sort its own dashes, said in
// words, the same every time.
func TestDriftInBlackAndWhite(t *testing.T) {
	var one, two bytes.Buffer
	d := drifting()
	if err := errors.Join(d.SVG(&one), d.SVG(&two)); err != nil {
		t.Fatal(err)
	}
	svg := one.String()
	if svg != two.String() {
		t.Error("drawn again, it is another picture")
	}
	if colored := regexp.MustCompile(`#[0-9a-f]{3}|rgb|red|green|NaN|Inf`).FindString(svg); colored != "" {
		t.Errorf("there is %s", colored)
	}
	seen := map[string]bool{limitStroke: true}
	for _, s := range []string{guardedStroke, lineStroke, boundStroke, adjustStroke} {
		if seen[s] {
			t.Errorf("%s stands for two things", s)
		}
		seen[s] = true
	}
	for _, want := range []string{"<desc>120 N·m clockwise: drifts. 40 N·m counterclockwise: insufficient data", ">as found<", ">as left<", ">adjusted<", ">limit<",
		">limit less uncertainty<", ">line of the drift<", ">95 % bound, each side<"} {
		if !strings.Contains(svg, want) {
			t.Errorf("%s is not there", want)
		}
	}
	d.Points = d.Points[2:]
	if err := d.SVG(io.Discard); !fault.Is(err, fault.Conflict) {
		t.Errorf("a chart of one comparison: %v", err)
	}
}

// TestDriftKeepsToItsPaper: a bound that runs away is cut at the end of the axis, where
// it crosses it, and the rest stays readable.
func TestDriftKeepsToItsPaper(t *testing.T) {
	d := drifting()
	d.Points[0].Band[2].High, d.Points[0].Band[2].Low = some(1000), some(-1000)
	var b bytes.Buffer
	if err := d.SVG(&b); err != nil {
		t.Fatal(err)
	}
	for _, p := range panels(t, b.String()) {
		for class, all := range p.paths {
			for _, path := range all {
				for _, at := range path {
					if at[1] < min(p.yAt[0], p.yAt[len(p.yAt)-1])-0.01 || at[1] > max(p.yAt[0], p.yAt[len(p.yAt)-1])+0.01 {
						t.Errorf("%s of %s at height %g, outside %v", class, p.name, at[1], p.yAt)
					}
				}
			}
		}
	}
}
