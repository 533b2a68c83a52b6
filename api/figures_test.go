package api

import (
	"encoding/xml"
	"math"
	"net/http"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"pawl/api/wire"
)

// picture is what an SVG says: its texts, and the middle of every dot.
type picture struct {
	texts []string
	ticks map[string][2]float64 // of the text at the upright axis: where it stands
	dots  []float64
}

func readPicture(t *testing.T, svg []byte) (p picture) {
	t.Helper()
	p.ticks = map[string][2]float64{}
	d := xml.NewDecoder(strings.NewReader(string(svg)))
	var at map[string]string
	for {
		token, err := d.Token()
		if token == nil {
			if len(p.texts) == 0 {
				t.Fatal(err)
			}
			return p
		}
		switch e := token.(type) {
		case xml.StartElement:
			at = map[string]string{"name": e.Name.Local}
			for _, a := range e.Attr {
				at[a.Name.Local] = a.Value
			}
			if e.Name.Local == "circle" {
				p.dots = append(p.dots, number(t, at["cy"]))
			}
		case xml.CharData:
			text := strings.TrimSpace(string(e))
			if text == "" {
				continue
			}
			if at["text-anchor"] == "end" && strings.HasSuffix(text, " %") || at["text-anchor"] == "middle" {
				p.ticks[text] = [2]float64{number(t, at["x"]), number(t, at["y"])}
				continue
			}
			p.texts = append(p.texts, text)
		}
	}
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	f, err := strconv.ParseFloat(strings.TrimSuffix(strings.ReplaceAll(s, "−", "-"), " %"), 64)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

var figures = regexp.MustCompile(`[0-9]+(?:\.[0-9]+)?`)

// missing are the figures of texts that stand nowhere in an answer.
func missing(texts []string, answer string) (out []string) {
	there := figures.FindAllString(answer, -1)
	for _, text := range texts {
		for _, f := range figures.FindAllString(text, -1) {
			if !slices.Contains(there, f) {
				out = append(out, f+" of "+text)
			}
		}
	}
	return out
}

// Every figure on a chart and on a sticker is in the JSON of the same calibration; the
// marks of the axes are a ruler, and each dot stands at a deviation that is there.
func TestEveryFigureIsInTheJSON(t *testing.T) {
	m := openShop(t).manager()
	w := m.aWrench()
	m.post("/tools/"+w+"/calibrate", wire.Calibrate{By: "Own words", CertificateNumber: "C-118", On: "2026-11-25", Direction: "cw", Uncertainty: "1.3%",
		AsFound: "40=40.4,40.3,120=110.0,200=185.2", AsLeft: "40=39.8,39.7,120=119.3,200=199.1"}).want(http.StatusOK)
	r := m.get("/tools/" + w + "/calibrations").want(http.StatusOK)
	var kept wire.Calibrations
	r.into(&kept)
	newest, answer := kept.Calibrations[0], r.Body.String()
	chart := readPicture(t, m.get("/tools/"+w+"/chart").want(http.StatusOK).Body.Bytes())
	for _, f := range missing(chart.texts, answer) {
		t.Errorf("the chart says %s", f)
	}
	sticker := readPicture(t, m.get("/prints/sticker?format=svg&name="+w).want(http.StatusOK).Body.Bytes())
	for _, f := range missing(sticker.texts, answer) {
		t.Errorf("the sticker says %s", f)
	}
	if all := strings.Join(sticker.texts, " "); !strings.Contains(all, "40 to 200 N·m") || !strings.Contains(all, "Due 2027-11-25") {
		t.Errorf("nothing was compared of the sticker: %q", all)
	}
	if all := strings.Join(chart.texts, " "); !strings.Contains(all, "delivered 110.0: 8.3 % LOW") {
		t.Errorf("nothing was compared of the chart: %q", all)
	}
	readings := 0
	for _, p := range newest.Points {
		readings += len(p.DeviationsPercent)
		if p.GuardedLimitPercent == nil || math.Abs(*p.GuardedLimitPercent-(*p.LimitPercent-*p.ExpandedPercent)) > 1e-6 {
			t.Errorf("at %s the limit %v less %v is %v", p.Set, p.LimitPercent, p.ExpandedPercent, p.GuardedLimitPercent)
		}
	}
	if len(chart.dots) != readings+1 { // and one in the legend
		t.Errorf("%d dots for %d readings", len(chart.dots), readings)
	}
	zero, five := chart.ticks["0 %"][1], chart.ticks["5 %"][1]
	for _, y := range chart.dots[:len(chart.dots)-1] {
		percent := 5 * (zero - 4 - y) / (zero - five) // a mark's text stands 4 below it
		found := slices.ContainsFunc(newest.Points, func(p wire.ShownPoint) bool {
			return slices.ContainsFunc(p.DeviationsPercent, func(d *float64) bool { return math.Abs(*d-percent) < 0.01 })
		})
		if !found {
			t.Errorf("a dot stands at %.3f %%, where no reading is", percent)
		}
	}
	// The comparison finds a figure that is not there.
	if got := missing([]string{"Due 2027-11-25", "41.5 N·m"}, answer); len(got) != 1 || !strings.HasPrefix(got[0], "41.5") {
		t.Errorf("%q", got)
	}
}
