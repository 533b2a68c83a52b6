package chart

import (
	"strings"
	"testing"
)

// TestTheCautionStandsUnderThePicture: whole, in lines that a phone shows, below all
// that is drawn.
func TestTheCautionStandsUnderThePicture(t *testing.T) {
	c := wrench()
	c.Caution = "The vehicle maker's service information governs value, sequence and lubrication. A calibration speaks of its day."
	lines := broken(c.Caution, mostCaption)
	if strings.Join(lines, " ") != c.Caution || len(lines) != 2 {
		t.Fatalf("%q", lines)
	}
	svg := draw(t, c)
	if !strings.Contains(svg, `viewBox="0 0 360 348"`) || !strings.Contains(svg, `y="327" text-anchor="start">The vehicle maker&#39;s`) || !strings.Contains(svg, `y="341"`) {
		t.Error(svg)
	}
	if strings.Contains(draw(t, wrench()), `viewBox="0 0 360 348"`) {
		t.Error("without a caution there is room for one")
	}
}
