package register

import (
	"regexp"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// What a kind of tool does, by its name (common practice, no source).
func TestKinds(t *testing.T) {
	for _, c := range []struct {
		kind                   string
		measures, bears, check bool
	}{
		{"torque wrench", true, false, true},
		{"Torque Wrenches", true, false, true},
		{"torque-wrench tester", true, false, true},
		{"bore-gauge set", true, false, true},
		{"tire pressure gauge", true, false, true},
		{"voltmeter", true, false, true},
		{"clamp meter", true, false, true},
		{"battery tester", true, false, true},
		{"refrigerant scale", true, false, true},
		{"lift indicator", true, false, true}, // it measures, whatever it is for
		{"two-post lift", false, true, true},
		{"axle stands", false, true, true},
		{"insulating gloves", false, true, true},
		{"jack wrench", false, false, true}, // turns a jack; the word is there, so it is looked at
		{"insulating blanket", false, false, true},
		{"fire extinguisher", false, false, true},
		{"impact wrench", false, false, false},
		{"standard socket set", false, false, false},
		{"scaler", false, false, false},
		{"battery", false, false, false},
		{"", false, false, false},
		{"llave dinamométrica", true, false, true},
		{"Llaves Dinamometricas", true, false, true},
		{"llave de torque digital", true, false, true},
		{"destornillador dinamométrico", true, false, true},
		{"pie de rey", true, false, true},
		{"juego de galgas", true, false, true},
		{"manómetro de neumáticos", true, false, true},
		{"probador de baterías", true, false, true},
		{"elevador de dos columnas", false, true, true},
		{"gato hidráulico", false, true, true},
		{"guantes aislantes", false, true, true},
		{"manta aislante", false, false, true},
		{"extintor", false, false, true},
		{"llave de impacto", false, false, false},
		{"juego de vasos", false, false, false},
	} {
		if m, b, n := Measures(c.kind), Bears(c.kind), NeedsCheck(c.kind); m != c.measures || b != c.bears || n != c.check {
			t.Errorf("%q: measures %v, bears %v, needs a check %v; want %v, %v, %v", c.kind, m, b, n, c.measures, c.bears, c.check)
		}
	}
}

// Says against its definition as an expression: whole words, an s or es at the end of
// the last, and meter at the end of any word.
func TestSaysAsAnExpressionDoes(t *testing.T) {
	words := []string{"meter", "stand", "jack stand", "gauge", "box", "high voltage", "s"}
	rapid.Check(t, func(t *rapid.T) {
		parts := rapid.SliceOfN(rapid.SampledFrom([]string{"meter", "Volt", "stands", "jack", "JACK", "gauge", "boxes", "high", "voltage", "s", "es", "é", "3", "-", " ", "/", "\xff"}), 0, 8).Draw(t, "parts")
		kind := strings.Join(parts, "")
		for _, w := range words {
			start := `(?:^|[^\pL\p{Nd}])`
			if w == "meter" {
				start = ""
			}
			plain := regexp.MustCompile(`(?i)` + start + strings.ReplaceAll(w, " ", `[^\pL\p{Nd}]+`) + `(?:s|es)?(?:[^\pL\p{Nd}]|$)`)
			if got, want := Says(kind, w), plain.MatchString(kind); got != want {
				t.Fatalf("%q says %q: %v, want %v", kind, w, got, want)
			}
		}
	})
}

// Every list is in the form that Says asks for.
func TestWordsOfKindsAreAsSaysAsks(t *testing.T) {
	lists := [][]string{measuring, bearing, inspected}
	for _, c := range cautions {
		lists = append(lists, c.words)
	}
	for _, w := range slices.Concat(lists...) {
		if " "+w+" " != spaced(w) || !Says("a "+w+", new", w) {
			t.Errorf("%q", w)
		}
	}
}

// Cautions stand beside a tool that is named in Spanish, and gloves take no label.
func TestCautionsOfKindsInSpanish(t *testing.T) {
	for spanish, english := range map[string]string{
		"llave dinamométrica": "torque wrench", "llave de impacto": "impact wrench", "carraca": "ratchet", "gato": "jack", "gato hidráulico": "hydraulic jack",
		"guantes dieléctricos": "insulating gloves", "multímetro": "multimeter", "manómetro": "pressure gauge", "compresor de muelles": "spring compressor", "mesa elevadora": "lift table",
		"juego de vasos": "socket set",
	} {
		if got, want := Cautions(spanish), Cautions(english); !slices.Equal(got, want) || TakesLabel(spanish) != TakesLabel(english) {
			t.Errorf("%s: %q, want %q as of %s", spanish, got, want, english)
		}
	}
}
