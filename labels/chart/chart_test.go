package chart

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"regexp"
	"strings"
	"testing"

	"pawl/model/fault"
)

func some(v float64) *float64 { return &v }

func all(v ...float64) (out []*float64) {
	for _, f := range v {
		out = append(out, &f)
	}
	return out
}

// wrench was found out at 120 clockwise, adjusted, and left well both ways.
func wrench() Calibration {
	c := Calibration{Title: "00E-KM5 torque wrench, calibrated 2026-05-04: PASS", Unit: "N·m"}
	add := func(phase Phase, d Direction, set float64, readings ...float64) {
		mean := 0.0
		for _, r := range readings {
			mean += r / float64(len(readings))
		}
		c.Points = append(c.Points, Point{Phase: phase, Direction: d, Set: set, Deviations: all(readings...), Mean: some(math.Round(mean*1e6) / 1e6),
			Limit: some(4), Guarded: some(2.8), Words: fmt.Sprintf("set %g", set), Decision: "pass"})
	}
	add(AsFound, Clockwise, 40, -1, -0.8, -0.9)
	add(AsFound, Clockwise, 120, 9.090909)
	add(AsFound, Clockwise, 200, 8)
	for _, d := range []Direction{Clockwise, Counterclockwise} {
		add(AsLeft, d, 40, 0.5, 0.3, 0.4, 0.6)
		add(AsLeft, d, 120, 0.6, 0.5, 0.7)
		add(AsLeft, d, 200, -0.5, -0.4, -0.3)
	}
	return c
}

func draw(t *testing.T, c Calibration) string {
	t.Helper()
	var b bytes.Buffer
	if err := c.SVG(&b); err != nil {
		t.Fatal(err)
	}
	d := xml.NewDecoder(bytes.NewReader(b.Bytes()))
	for {
		if _, err := d.Token(); errors.Is(err, io.EOF) {
			return b.String()
		} else if err != nil {
			t.Fatalf("%v in %s", err, b.String())
		}
	}
}

// TestEveryReadingIsDrawn: a dot for each reading and one in the legend; the same
// data give the same bytes; nothing has a color of its own.
func TestEveryReadingIsDrawn(t *testing.T) {
	c := wrench()
	svg := draw(t, c)
	if got, want := strings.Count(svg, "<circle "), 3+1+1+2*(4+3+3)+1; got != want {
		t.Errorf("%d dots, want %d", got, want)
	}
	if svg != draw(t, c) {
		t.Error("drawn again, it is another picture")
	}
	if colored := regexp.MustCompile(`#[0-9a-f]{3}|rgb|red|green`).FindString(svg); colored != "" {
		t.Errorf("there is color: %s", colored)
	}
	for _, want := range []string{`role="img"`, "<title>00E-KM5", "<desc>as found clockwise: set 40; pass", "set value, N·m", "as found clockwise</text>",
		"as left clockwise</text>", "as left counterclockwise</text>", "limit</text>", "limit less uncertainty</text>", "one reading</text>", ">−10 %<"} {
		if !strings.Contains(svg, want) {
			t.Errorf("%s is not there", want)
		}
	}
	if strings.Contains(svg, "as found counterclockwise</text>") {
		t.Error("the legend names what is not drawn")
	}
}

// TestMarksStandWhereTheyBelong: linear in both directions, higher is more.
func TestMarksStandWhereTheyBelong(t *testing.T) {
	v := canvas{x: axis{low: 0, high: 200, step: 50}, y: axis{low: -10, high: 10, step: 5}}
	if v.atY(10) != top || v.atY(-10) != bottom || v.atY(0) != (top+bottom)/2.0 {
		t.Errorf("deviations at %v, %v, %v", v.atY(10), v.atY(0), v.atY(-10))
	}
	if middle := (v.atX(0) + v.atX(200)) / 2; v.atX(0) <= left || v.atX(200) >= right || v.atX(100) != middle {
		t.Errorf("values at %v, %v, %v", v.atX(0), v.atX(100), v.atX(200))
	}
}

func TestAxis(t *testing.T) {
	for _, c := range []struct {
		low, high float64
		n         int
		want      string
	}{
		{40, 200, 5, "0 50 100 150 200"},
		{-4.2, 4.2, 6, "−6 −4 −2 0 2 4 6"},
		{-9.54, 9.54, 6, "−10 −5 0 5 10"},
		{0.02, 0.09, 5, "0.02 0.04 0.06 0.08 0.10"},
		{100, 100, 5, "50 100 150"},
		{0, 0, 5, "−1.0 −0.5 0.0 0.5 1.0"},
		{20000, 250000, 5, "0 50000 100000 150000 200000 250000"},
	} {
		a := axisOf(c.low, c.high, c.n)
		var got []string
		for _, tick := range a.ticks() {
			got = append(got, a.label(tick))
		}
		if strings.Join(got, " ") != c.want {
			t.Errorf("%g to %g: %v, want %s", c.low, c.high, got, c.want)
		}
	}
}

// TestWhatIsNotKnown: without an uncertainty no guarded limit is drawn; a point at
// zero has no percent and stands in the table only; without any there is no chart.
func TestWhatIsNotKnown(t *testing.T) {
	c := Calibration{Title: `gauge <"&'>`, Unit: "psi", Points: []Point{
		{Phase: AsLeft, Set: 0, Words: "at zero", Decision: "pass"},
		{Phase: AsLeft, Set: 30, Deviations: all(1), Mean: some(1), Limit: some(3), Words: "high", Decision: "pass"},
	}}
	svg := draw(t, c)
	if strings.Contains(svg, "limit less uncertainty") || strings.Contains(svg, "NaN") || !strings.Contains(svg, "as left</text>") {
		t.Error(svg)
	}
	if rows := c.Rows(); len(rows) != 2 || rows[0][4] != "not known" || rows[1][4] != "1 %" || rows[1][6] != "not known" {
		t.Errorf("rows %q", rows)
	}
	c.Points = c.Points[:1]
	if err := c.SVG(io.Discard); !fault.Is(err, fault.Conflict) {
		t.Errorf("a chart of nothing: %v", err)
	}
	c.Points[0].Set, c.Points[0].Mean = math.NaN(), some(1)
	if err := c.SVG(io.Discard); !fault.Is(err, fault.Invalid) {
		t.Errorf("a point nowhere: %v", err)
	}
}

// TestTable: the table holds every figure as it was given, and escapes texts.
func TestTable(t *testing.T) {
	c := wrench()
	c.Title = "<script>"
	var b bytes.Buffer
	if err := c.Table(&b); err != nil {
		t.Fatal(err)
	}
	if got := strings.Count(b.String(), "<tr>"); got != 1+len(c.Points) {
		t.Errorf("%d rows", got)
	}
	for _, want := range []string{"<caption>&lt;script&gt;", `<th scope="col">Set, N·m</th>`, `<td data-label="Mean">9.090909 %</td>`, `<td data-label="Deviation of each reading">−1 %, −0.8 %, −0.9 %</td>`} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("%s is not in %s", want, b.String())
		}
	}
}

// FuzzAxis: every axis covers its range, in few steps.
func FuzzAxis(f *testing.F) {
	f.Add(40.0, 200.0)
	f.Add(-1e-9, 1e9)
	f.Fuzz(func(t *testing.T, low, high float64) {
		if !(math.Abs(low) < 1e12 && math.Abs(high) < 1e12) || high < low || high-low < 1e-9*math.Abs(high) && high != low {
			t.Skip()
		}
		a := axisOf(low, high, 5)
		if a.low > low+a.step*1e-6 || a.high < high-a.step*1e-6 || len(a.ticks()) > 6 {
			t.Errorf("%g to %g: %+v", low, high, a)
		}
	})
}
