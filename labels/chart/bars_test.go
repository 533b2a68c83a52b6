package chart

import (
	"bytes"
	"encoding/xml"
	"io"
	"strings"
	"testing"
)

// The longest bar fills the width, the others are in proportion, every amount is in
// words beside it and in the table; text from outside is escaped.
func TestBars(t *testing.T) {
	c := Bars{Title: "Worth <by> place", Heads: [3]string{"Place", "Worth", "Not shown"},
		Bars: []Bar{{"Bay 1 & 2", 200, "2.00 USD", ""}, {"Van", 50, "0.50 USD", "1 without a price"}, {"Yard", 0, "0.00 USD", ""}}}
	var svg, table bytes.Buffer
	if err := c.SVG(&svg); err != nil {
		t.Fatal(err)
	}
	if err := c.Table(&table); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{`width="352" height="10"`, `width="88" height="10"`, `width="0" height="10"`, "Bay 1 &amp; 2", ">0.50 USD<", "Worth &lt;by&gt; place"} {
		if !strings.Contains(svg.String(), want) {
			t.Errorf("no %s in\n%s", want, svg.String())
		}
	}
	for _, want := range []string{`<td data-label="Not shown">1 without a price</td>`, "Bay 1 &amp; 2"} {
		if !strings.Contains(table.String(), want) {
			t.Errorf("no %s in\n%s", want, table.String())
		}
	}
	for d := xml.NewDecoder(&svg); ; {
		if _, err := d.Token(); err == io.EOF {
			break
		} else if err != nil {
			t.Fatal(err)
		}
	}
}

func TestBarsRefuse(t *testing.T) {
	for what, c := range map[string]Bars{"none": {}, "all of nothing": {Bars: []Bar{{"a", 0, "0", ""}}}, "below 0": {Bars: []Bar{{"a", -1, "-1", ""}, {"b", 1, "1", ""}}}} {
		if err := c.SVG(io.Discard); err == nil {
			t.Errorf("%s was drawn", what)
		}
	}
}
