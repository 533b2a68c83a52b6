package calibration

import (
	"strings"
	"testing"

	"pgregory.net/rapid"

	"pawl/model/fault"
	"pawl/model/units"
)

func TestLimitAtAValue(t *testing.T) {
	for _, row := range table(t, "limits.txt") {
		s, err := ParseScale(row[2])
		if err != nil {
			t.Fatal(err)
		}
		b, err := limit(row[1]).Bind(s, s.Low.Unit)
		if err != nil {
			t.Fatal(err)
		}
		x := number(t, row[3])
		equal(t, row[0]+" "+row[1]+" at "+row[3], b.At(x, x), number(t, row[4]), 1e-9)
	}
}

// The grades of ASME B40.100 reach the gauge through its preset.
func TestGradesOfGauges(t *testing.T) {
	for _, c := range []struct {
		grade, scale string
		x, want      float64
		standing     Standing
	}{
		{"4A", "psi 0..100", 50, 0.1, FromMemory}, {"3A", "psi 0..100", 50, 0.25, FromMemory}, {"2A", "psi 0..160", 80, 0.8, FromMemory}, {"1A", "psi 0..100", 10, 1, FromMemory},
		{"A", "psi 0..160", 20, 3.2, Seen}, {"A", "psi 0..160", 80, 1.6, Seen}, {"B", "psi 0..200", 40, 6, FromMemory}, {"B", "inHg -30..0", -20, 0.6, FromMemory},
		{"C", "psi 0..300", 30, 12, FromMemory}, {"D", "psi 0..100", 50, 5, FromMemory}, {"1.6", "bar 0..10", 3, 0.16, Seen}, {"en 2.5", "bar 0..16", 3, 0.4, Seen}, {"1", "bar -1..4", 0, 0.05, Seen},
	} {
		s, err := ParseScale(c.scale)
		if err != nil {
			t.Fatal(err)
		}
		p, grade, err := FindPreset("vacuum-gauge:" + c.grade)
		if err != nil {
			t.Fatal(err)
		}
		q, err := p.Requirement(Given{Unit: s.Low.Unit, Scale: s, Grade: grade})
		if err != nil {
			t.Fatal(err)
		}
		b, err := q.Limit.Bind(q.Scale, q.Unit)
		if err != nil {
			t.Fatal(err)
		}
		equal(t, "grade "+c.grade, b.At(c.x, c.x), c.want, 1e-9)
		if q.LimitSource.Standing != c.standing {
			t.Errorf("grade %s is %s, want %s", c.grade, q.LimitSource.Standing, c.standing)
		}
	}
}

func TestLimitReadsAndSpeaks(t *testing.T) {
	for _, c := range []struct{ typed, text, words string }{
		{"4 % of reference", "4 % of reference", "±4 % of what the reference shows"},
		{"±4% of delivered", "4 % of reference", "±4 % of what the reference shows"},
		{"0.5%of indicated+2 counts of 0.01V", "0.5 % of indicated + 2 counts of 0.01 V", "±(0.5 % of what the tool shows + 2 counts of 0.01 V)"},
		{"3/2/3 % of span", "3/2/3 % of span", "±3 % of the whole scale (2 % in its middle half)"},
		{"1.6 % of span", "1.6 % of span", "±1.6 % of the whole scale"},
		{"Larger of 2 °C and 2 % of shown", "larger of 2 °C and 2 % of indicated", "±(larger of 2 °C and 2 % of what the tool shows)"},
		{"0.08 bar to 4 bar, 0.16 bar to 10 bar, 0.25 bar", "0.08 bar to 4 bar, 0.16 bar to 10 bar, 0.25 bar", "±0.08 bar up to 4 bar, ±0.16 bar up to 10 bar, ±0.25 bar above"},
		{"0.03 mm", "0.03 mm", "±0.03 mm"},
		{"1 count of 0.1 V", "1 counts of 0.1 V", "±1 count of 0.1 V"},
		{"5 in-lb", "5 in-lb", "±5 INCH-pounds"},
	} {
		l, err := ParseLimit(c.typed)
		if err != nil || l.String() != c.text || l.Words() != c.words {
			t.Errorf("ParseLimit(%q) = %q %q, %v; want %q %q", c.typed, l.String(), l.Words(), err, c.text, c.words)
		}
		if again, err := ParseLimit(l.String()); err != nil || again.String() != l.String() {
			t.Errorf("%q reads back as %q, %v", l.String(), again.String(), err)
		}
	}
}

func TestLimitRefusesWithAHint(t *testing.T) {
	for _, c := range []struct{ typed, hint string }{
		{"", "write a limit such as"}, {"4", "write a limit such as"}, {"4 %", "say what the percent is of"}, {"4 % of reading", "say what the percent is of"}, {"4 percent", "write a limit such as"},
		{"-4 % of reference", "write a limit such as"}, {"0 % of reference", "more than zero"}, {"100 % of reference", "check the percent"}, {"0 mm", "more than zero"}, {"-1 mm", "more than zero"},
		{"3/2/4 % of span", "the same for the upper quarter"}, {"3/2/3 % of reference", "three percents are of span"}, {"2 counts of 0 V", "one count is more than zero"}, {"2 counts of", "write a limit such as"},
		{"larger of 2 °C", "larger of two"}, {"0.08 bar to 4 bar, 0.16 bar to 10 bar", "each step but the last"}, {"0.08 bar, 0.16 bar", "each step but the last"},
		{"0.08 bar to 4 bar, 0.16 bar to 3 bar, 0.25 bar", "rising values"}, {"0.08 bar to 4 bar, 0.16 bar to 9 mm, 0.25 bar", "rising values"}, {"1 mm+1 mm+1 mm+1 mm+1 mm", "at most four"}, {"5 lb", "write a limit such as"},
	} {
		l, err := ParseLimit(c.typed)
		if !l.IsZero() || !fault.Is(err, fault.Invalid) || !strings.Contains(fault.Of(err).Hint, c.hint) {
			t.Errorf("ParseLimit(%q) = %v, %v; want a hint with %q", c.typed, l, err, c.hint)
		}
	}
}

func TestLimitOfAnotherDimensionIsRefused(t *testing.T) {
	s := Scale{Low: nm("40"), High: nm("200")}
	for _, text := range []string{"2 mm", "4 % of reference + 2 counts of 0.1 V", "1 N·m to 4 bar, 2 N·m"} {
		if _, err := limit(text).Bind(s, units.NewtonMeter); !fault.Is(err, fault.Invalid) {
			t.Errorf("%s on a torque scale: %v", text, err)
		}
	}
	if _, err := limit("1 % of span").Bind(Scale{Low: nm("40"), High: nm("40")}, units.NewtonMeter); !fault.Is(err, fault.Invalid) {
		t.Errorf("percent of a span that has one end: %v", err)
	}
	if _, err := (Limit{}).Bind(s, units.NewtonMeter); !fault.Is(err, fault.Invalid) {
		t.Errorf("no limit: %v", err)
	}
}

// A sum is its terms added and larger-of their maximum, whatever the terms: the
// terms are evaluated one by one on their own.
func TestLimitCombines(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		amount := func(label string) string {
			return string(decimalOf(float64(rapid.IntRange(1, 900).Draw(t, label)) / 100))
		}
		terms := []string{amount("a") + " % of reference", amount("b") + " % of span", amount("c") + " N·m", amount("d") + " counts of 0.1 N·m"}
		terms = terms[rapid.IntRange(0, 2).Draw(t, "from"):]
		x, ref := rapid.Float64Range(40, 200).Draw(t, "x"), rapid.Float64Range(40, 200).Draw(t, "ref")
		at := func(text string) float64 {
			b, err := limit(text).Bind(wrench().Scale, units.NewtonMeter)
			if err != nil {
				t.Fatal(err)
			}
			return b.At(x, ref)
		}
		sum, most := 0.0, 0.0
		for _, term := range terms {
			sum += at(term)
			most = max(most, at(term))
		}
		if got := at(strings.Join(terms, " + ")); !same(got, sum) {
			t.Fatalf("sum = %g, want %g", got, sum)
		}
		if got := at("larger of " + strings.Join(terms, " and ")); !same(got, most) {
			t.Fatalf("larger = %g, want %g", got, most)
		}
	})
}

func FuzzParseLimit(f *testing.F) {
	for _, s := range []string{"4 % of reference", "0.5 % of indicated + 2 counts of 0.01 V", "3/2/3 % of span", "larger of 2 °C and 2 % of shown", "0.08 bar to 4 bar, 0.16 bar", "1e9 mm", "% of span", "NaN mm"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		l, err := ParseLimit(s)
		if err != nil {
			if !fault.Is(err, fault.Invalid) || fault.Of(err).Hint == "" {
				t.Fatalf("ParseLimit(%q): %v", s, err)
			}
			return
		}
		again, err := ParseLimit(l.String())
		if err != nil || again.String() != l.String() || l.Words() == "" {
			t.Fatalf("%q reads back from %q as %q, %v", s, l.String(), again.String(), err)
		}
		for _, u := range []units.Unit{units.NewtonMeter, units.Bar, units.Volt, units.Millimeter, units.Fahrenheit} {
			scale := Scale{Low: units.Quantity{Value: "1", Unit: u}, High: units.Quantity{Value: "9", Unit: u}}
			if b, err := l.Bind(scale, u); err == nil && !(b.At(5, 5) > 0) {
				t.Fatalf("%q allows %g at 5 %s", s, b.At(5, 5), u)
			}
		}
	})
}
