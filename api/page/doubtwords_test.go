package page

import (
	"slices"
	"strings"
	"testing"

	"pawl/api/page/words"
	"pawl/model/calibration"
)

// Each reason that the catalog has is found again by its English text, whatever it names,
// and said in Spanish; a reason within a reason too.
func TestDoubtsAreSaidInSpanish(t *testing.T) {
	spanish := words.Keys(words.Spanish)
	for _, key := range words.Keys(words.English) {
		if !strings.HasPrefix(key, "doubt.") && !strings.HasPrefix(key, "recheck.unknown.") {
			continue
		}
		if !slices.Contains(spanish, key) {
			t.Errorf("%s has no Spanish text", key)
		}
		if strings.HasPrefix(key, "recheck.") || strings.HasPrefix(key, doubtWord) {
			continue
		}
		named := []any{"000-01Y", "2026-11-10", "000-02W"}
		in := named[:strings.Count(words.Say(words.English, key), "{")]
		got, want := doubtSaid(words.Spanish, words.Say(words.English, key, in...)), words.Say(words.Spanish, key, in...)
		if got.Said != want || (got.Figures != "") != strings.HasSuffix(key, ofFigures) {
			t.Errorf("%s is said as %+v, want %q", key, got, want)
		}
	}
	got := doubtSaid(words.Spanish, "the bench check of 2026-11-20 was made against a standard that is in doubt: 000-02W was found out: "+
		"the tool calibration of 2026-11-10 found it failing: clockwise, 120 N·m read 110.0")
	want := doubtText{"la comprobación en el banco del 2026-11-20 se hizo con un patrón que está en duda: 000-02W quedó en evidencia: " +
		"la calibración del 2026-11-10 la halló fuera de límites", "clockwise, 120 N·m read 110.0"}
	if got != want {
		t.Errorf("%+v\nwant\n%+v", got, want)
	}
}

// What a tool must hold is said in Spanish, whatever its limit is made of.
func TestWhatAToolMustHoldIsSaidInSpanish(t *testing.T) {
	for text, want := range map[string]string{
		"4 % of reference":                     "±4 % de lo que muestra la referencia",
		"2/1/2 % of span":                      "±2 % de toda la escala (1 % en su mitad central)",
		"0.08 bar to 4 bar, 0.16 bar":          "±0.08 bar hasta 4 bar, ±0.16 bar por encima",
		"0.5 % of indicated + 2 counts of 1 V": "±(0.5 % de lo que muestra la herramienta + 2 cuentas de 1 V)",
	} {
		l, err := calibration.ParseLimit(text)
		if err != nil {
			t.Errorf("%s: %v", text, err)
			continue
		}
		if got := mustHoldWords(words.Spanish, l.Words()); got != want {
			t.Errorf("%s: %q, want %q", l.Words(), got, want)
		}
		if got := mustHoldWords(words.English, l.Words()); got != l.Words() {
			t.Errorf("in English %q", got)
		}
	}
	if got := mustHoldWords(words.Spanish, "N·m 40..200 by 1"); got != "N·m 40..200, paso 1" {
		t.Errorf("%q", got)
	}
	spanish := words.Keys(words.Spanish)
	for _, key := range words.Keys(words.English) {
		for _, area := range []string{"calibration.", "calibrations.", "limit.word.", "uses.", "use.", "recheck.", "field.settle.", "hint.settle."} {
			if strings.HasPrefix(key, area) && !slices.Contains(spanish, key) {
				t.Errorf("%s has no Spanish text", key)
			}
		}
	}
}
