package settings

import (
	"testing"
	_ "time/tzdata"

	"pawl/model/fault"
)

func p(s string) *string { return &s }

func TestApply(t *testing.T) {
	got, err := Change{Name: p(" Gull  Lane "), Zone: p("America/Chicago"), Currency: p("usd"), Address: p("https://Tools.Example/"), Paper: p("A4")}.Apply(Default())
	want := Settings{ID: ID, Name: "Gull Lane", Zone: "America/Chicago", Currency: "USD", Address: "https://tools.example", Paper: A4, Units: US}
	if err != nil || got != want {
		t.Errorf("%+v, %v; want %+v", got, err, want)
	}
	if got, err := (Change{Address: p("")}).Apply(want); err != nil || got.Address != "" {
		t.Errorf("an empty address stays: %+v, %v", got, err)
	}
}

// The percent of a job's limits that nobody gave: more than 0, less than 100, or none.
func TestDefaultLimits(t *testing.T) {
	for text, want := range map[string]string{"4": "4", " ±2.5 % ": "2.5", "99.999999": "99.999999", "": "", "0": "!", "0.00": "!", "100": "!", "-4": "!", "4,5": "!", "four": "!", "1e1": "!"} {
		got, err := Change{DefaultLimitsPercent: p(text)}.Apply(Default())
		if (want == "!") != fault.Is(err, fault.Invalid) || err == nil && got.DefaultLimitsPercent != want {
			t.Errorf("%q: %q, %v", text, got.DefaultLimitsPercent, err)
		}
	}
}

// Every value at fault is named at once.
func TestApplyRefuses(t *testing.T) {
	_, err := Change{Name: p(""), Zone: p("Local"), Currency: p("QQQ"), Address: p("ftp://x"), Paper: p("a3"), Units: p("old")}.Apply(Default())
	if f := fault.Of(err); f == nil || f.Kind != fault.Invalid || len(f.Fields) != 6 {
		t.Errorf("%+v; want six values at fault", f)
	}
}
