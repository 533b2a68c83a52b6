package units

import (
	"bufio"
	"encoding/json"
	"maps"
	"math/big"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"pawl/model/fault"
)

func TestParseQuantityTakesWhatPeopleType(t *testing.T) {
	for _, c := range []struct {
		typed string
		want  Quantity
	}{
		{"108 N·m", Quantity{"108", "N·m"}}, {"108 Nm", Quantity{"108", "N·m"}}, {"108Nm", Quantity{"108", "N·m"}}, {"108.0 N m", Quantity{"108.0", "N·m"}},
		{"80 ft-lb", Quantity{"80", "ft-lb"}}, {"80ft-lb", Quantity{"80", "ft-lb"}}, {"80 lb-ft", Quantity{"80", "ft-lb"}},
		{"80 FT-LB", Quantity{"80", "ft-lb"}}, {"80 lbf·ft", Quantity{"80", "ft-lb"}}, {"80 ft lb", Quantity{"80", "ft-lb"}},
		{"250 in-lb", Quantity{"250", "in-lb"}}, {"250 lb-in", Quantity{"250", "in-lb"}}, {"250 INCH-pounds", Quantity{"250", "in-lb"}},
		{"900 kgf·cm", Quantity{"900", "kgf·cm"}}, {"900 kgf-cm", Quantity{"900", "kgf·cm"}},
		{"-40 °C", Quantity{"-40", "°C"}}, {"−40°C", Quantity{"-40", "°C"}}, {"68 F", Quantity{"68", "°F"}}, {"20℃", Quantity{"20", "°C"}},
		{"26.1 mm", Quantity{"26.1", "mm"}}, {"26.100 mm", Quantity{"26.100", "mm"}}, {"0.001 in", Quantity{"0.001", "in"}}, {`0.5"`, Quantity{"0.5", "in"}},
		{"5 μm", Quantity{"5", "µm"}}, {"5 um", Quantity{"5", "µm"}}, {"35 psi", Quantity{"35", "psi"}}, {"35 PSI", Quantity{"35", "psi"}},
		{"2.2 bar", Quantity{"2.2", "bar"}}, {"0.25 MPa", Quantity{"0.25", "MPa"}}, {"250 kPa", Quantity{"250", "kPa"}}, {"20 inHg", Quantity{"20", "inHg"}},
		{"12.6 V", Quantity{"12.6", "V"}}, {"5 mV", Quantity{"5", "mV"}}, {"20 mA", Quantity{"20", "mA"}}, {"1 \u2126", Quantity{"1", "Ω"}}, {"4.7 kohm", Quantity{"4.7", "kΩ"}},
		{" 3 kg ", Quantity{"3", "kg"}}, {"123456789.123456789 g", Quantity{"123456789.123456789", "g"}}, {"7\u00a0oz", Quantity{"7", "oz"}},
	} {
		got, err := ParseQuantity(c.typed)
		if err != nil || got != c.want {
			t.Errorf("ParseQuantity(%q) = %v, %v; want %v", c.typed, got, err, c.want)
		}
	}
}

func TestParseQuantityRefusesWithAHint(t *testing.T) {
	for _, c := range []struct{ typed, hint string }{
		{"108", "needs its unit"}, {"", "write digits"}, {"N·m", "write digits"}, {"80 lb", "ft-lb or in-lb"}, {"80lbs", "ft-lb or in-lb"}, {"80 lbf", "ft-lb or in-lb"},
		{"108 nm", "N·m or Nm"}, {"10 kg-m", "kgf·m"}, {"1 mPa", "use N·m"}, {"1 furlong", "use N·m"}, {"1 MV", "use N·m"},
		{"1e3 N·m", "write digits"}, {"1,5 mm", "write digits"}, {"1/32 in", "write digits"}, {".5 in", "write digits"}, {"5. in", "write digits"},
		{"+5 mm", "write digits"}, {"--5 mm", "write digits"}, {"0x5 mm", "write digits"}, {"NaN mm", "write digits"}, {"5 mm 6", "write digits"},
		{"1234567890123456789 mm", "18 digits"}, {"٣ mm", "write digits"},
	} {
		got, err := ParseQuantity(c.typed)
		if got != (Quantity{}) || !fault.Is(err, fault.Invalid) || !strings.Contains(fault.Of(err).Hint, c.hint) {
			t.Errorf("ParseQuantity(%q) = %v, %v; want an invalid fault that says %q", c.typed, got, err, c.hint)
		}
	}
}

// A published value may be rounded or cut in its last printed digit, not more.
func TestConversionsMatchThePublishedOnes(t *testing.T) {
	f, err := os.Open(filepath.Join("..", "..", "testdata", "vectors", "conversions.txt"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows := 0
	for lines := bufio.NewScanner(f); lines.Scan(); {
		if strings.HasPrefix(lines.Text(), "#") {
			continue
		}
		rows++
		row := strings.Fields(lines.Text())
		got, err := Quantity{row[1], Unit(row[2])}.In(Unit(row[4]))
		want, ok := new(big.Rat).SetString(row[3])
		if err != nil || !ok {
			t.Fatalf("%v: %v", row, err)
		}
		off := new(big.Rat).Sub(got, want)
		if off.Abs(off).Cmp(lastDigit(row[3])) > 0 {
			t.Errorf("%s: %s %s = %s %s, published %s", row[0], row[1], row[2], got.FloatString(18), row[4], row[3])
		}
	}
	if rows < 12 {
		t.Fatalf("%d rows of conversions, want those of the reference", rows)
	}
}

func lastDigit(decimal string) *big.Rat {
	_, after, _ := strings.Cut(decimal, ".")
	return new(big.Rat).SetFrac(big.NewInt(1), new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(len(after))), nil))
}

// Exact by definition: calibration 9.
func TestDefinedConversionsAreExact(t *testing.T) {
	for _, c := range []struct {
		from Quantity
		to   Unit
		want string
	}{
		{Quantity{"1", FootPound}, NewtonMeter, "1.3558179483314004"},
		{Quantity{"1", InchPound}, NewtonMeter, "0.1129848290276167"},
		{Quantity{"12", InchPound}, FootPound, "1"},
		{Quantity{"1", KilogramForceMeter}, KilogramForceCentimeter, "100"},
		{Quantity{"1", Inch}, Millimeter, "25.4"},
		{Quantity{"1", Bar}, Megapascal, "0.1"},
		{Quantity{"68", Fahrenheit}, Celsius, "20"},
		{Quantity{"16", Ounce}, Gram, "453.59237"},
		{Quantity{"1", Megaohm}, Kiloohm, "1000"},
		{Quantity{"1", Meter}, Micrometer, "1000000"},
		{Quantity{"1.5", Volt}, Millivolt, "1500"},
		{Quantity{"250", Milliampere}, Ampere, "0.25"},
	} {
		want, _ := new(big.Rat).SetString(c.want)
		if got, err := c.from.In(c.to); err != nil || got.Cmp(want) != 0 {
			t.Errorf("%s = %v %s, %v; want exactly %s", c.from, got, c.to, err, c.want)
		}
	}
}

func TestOnlyUnitsOfOneDimensionConvert(t *testing.T) {
	for from, d := range definitions {
		for to, other := range definitions {
			got, err := Quantity{"1", from}.In(to)
			if same := d.dimension == other.dimension; (err == nil) != same || (got != nil) != same {
				t.Errorf("1 %s in %s = %v, %v", from, to, got, err)
			}
			if err != nil && !fault.Is(err, fault.Invalid) {
				t.Errorf("1 %s in %s: %v, want an invalid fault", from, to, err)
			}
		}
	}
	for _, q := range []Quantity{{}, {"1", ""}, {"", "mm"}, {"1e9", "mm"}, {"1/3", "mm"}, {"1", "furlong"}} {
		if got, err := q.In(Millimeter); got != nil || !fault.Is(err, fault.Invalid) {
			t.Errorf("%#v in mm = %v, %v; want an invalid fault", q, got, err)
		}
	}
	if got, err := (Quantity{"1", "mm"}).In("furlong"); got != nil || !fault.Is(err, fault.Invalid) {
		t.Errorf("1 mm in furlong = %v, %v; want an invalid fault", got, err)
	}
}

func anyQuantity() *rapid.Generator[Quantity] {
	return rapid.Custom(func(t *rapid.T) Quantity {
		return Quantity{rapid.StringMatching(`-?[0-9]{1,9}(\.[0-9]{1,9})?`).Draw(t, "value"), rapid.SampledFrom(slices.Sorted(maps.Keys(definitions))).Draw(t, "unit")}
	})
}

func TestConversionThereAndBackLosesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		q := anyQuantity().Draw(t, "quantity")
		for to, d := range definitions {
			if d.dimension != q.Unit.Dimension() {
				continue
			}
			there, err := q.In(to)
			if err != nil {
				t.Fatal(err)
			}
			back := new(big.Rat).Add(there, d.offset)
			back.Mul(back, d.factor).Quo(back, definitions[q.Unit].factor).Sub(back, definitions[q.Unit].offset)
			if want, _ := new(big.Rat).SetString(q.Value); back.Cmp(want) != 0 {
				t.Fatalf("%s to %s and back is %s", q, to, back)
			}
		}
	})
}

func TestCompareAgreesWithConversion(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want int
	}{{"12 in-lb", "1 ft-lb", 0}, {"1 ft-lb", "1 N·m", 1}, {"-40 °C", "-40 °F", 0}, {"26.1 mm", "26.10 mm", 0}, {"1 in", "25.5 mm", -1}} {
		a, err1 := ParseQuantity(c.a)
		b, err2 := ParseQuantity(c.b)
		got, err3 := a.Compare(b)
		if err1 != nil || err2 != nil || err3 != nil || got != c.want {
			t.Errorf("%s to %s = %d (%v, %v, %v), want %d", a, b, got, err1, err2, err3, c.want)
		}
	}
	for _, pair := range [][2]Quantity{{{"1", "mm"}, {"1", "bar"}}, {{}, {"1", "mm"}}, {{"1", "mm"}, {}}} {
		if _, err := pair[0].Compare(pair[1]); !fault.Is(err, fault.Invalid) {
			t.Errorf("%v to %v: %v, want an invalid fault", pair[0], pair[1], err)
		}
	}
}

func TestScreensSayInchPounds(t *testing.T) {
	for unit, want := range map[Unit]string{FootPound: "80 ft-lb", InchPound: "80 INCH-pounds", NewtonMeter: "80 N·m"} {
		if got := (Quantity{"80", unit}).Words(); got != want {
			t.Errorf("80 %s prints as %q, want %q", unit, got, want)
		}
	}
	for unit := range definitions {
		if back, err := ParseUnit(unit.Words()); err != nil || back != unit {
			t.Errorf("the words of %s read as %s, %v", unit, back, err)
		}
	}
}

func TestQuantityTravelsAsOneString(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		q := anyQuantity().Draw(t, "quantity")
		data, err := json.Marshal(q)
		back := Quantity{"7", "mm"}
		if err2 := json.Unmarshal(data, &back); err != nil || err2 != nil || back != q {
			t.Fatalf("%v as JSON is %s, read as %v (%v, %v)", q, data, back, err, err2)
		}
	})
	if data, err := json.Marshal(Quantity{}); err != nil || string(data) != "null" {
		t.Errorf("no quantity as JSON is %s, %v", data, err)
	}
	if q := (Quantity{"7", "mm"}); json.Unmarshal([]byte("null"), &q) != nil || !q.IsZero() || q.String()+q.Words() != "" {
		t.Errorf("null reads as %v", q)
	}
	for _, bad := range []string{`108`, `""`, `"108"`, `{"Value":"1","Unit":"mm"}`} {
		q := Quantity{"7", "mm"}
		if err := json.Unmarshal([]byte(bad), &q); !fault.Is(err, fault.Invalid) || q != (Quantity{"7", "mm"}) {
			t.Errorf("JSON %s gives %v, %v; want an invalid fault and no change", bad, q, err)
		}
	}
}

// What is taken must keep its digits, be written back the same, and stand for the
// same number as its text.
func FuzzParseQuantity(f *testing.F) {
	for _, s := range []string{"108 N·m", "80ft-lb", "-40 °C", "26.100 mm", "35", "1e3 mm", "80 lb", "−1 °F", "5\u202fpsi", `3"`, "1,5 mm"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		q, err := ParseQuantity(s)
		if err != nil {
			if q != (Quantity{}) || !fault.Is(err, fault.Invalid) || fault.Of(err).Hint == "" {
				t.Fatalf("ParseQuantity(%q) = %v, %v", s, q, err)
			}
			return
		}
		if !strings.Contains(strings.ReplaceAll(s, "−", "-"), q.Value) || q.Unit.Dimension() == "" {
			t.Fatalf("ParseQuantity(%q) = %#v: not what was typed", s, q)
		}
		for _, text := range []string{q.String(), q.Words()} {
			if back, err := ParseQuantity(text); err != nil || back != q {
				t.Fatalf("%q reads back as %v, %v", text, back, err)
			}
		}
		want, ok := new(big.Rat).SetString(q.Value)
		if got, err := q.In(q.Unit); !ok || err != nil || got.Cmp(want) != 0 {
			t.Fatalf("%s in its own unit = %v, %v", q, got, err)
		}
	})
}
