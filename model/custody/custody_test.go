package custody

import (
	"testing"

	"pawl/model/dates"
	"pawl/model/fault"
)

const noon = dates.Instant(1_780_000_000_000_000)

// One tool has one holder: who may take it, by its latest loan.
func TestMayTake(t *testing.T) {
	out := Loan{ID: "O-1", State: Out, Person: "H-A", Since: noon}
	away := Loan{ID: "O-1", State: Away, Whom: "Lab", Since: noon}
	ended := Loan{ID: "O-1", State: Out, Person: "H-A", Since: noon, Ended: noon + 1}
	for _, c := range []struct {
		what   string
		last   Loan
		person string
		holder string
		job    string
		want   fault.Kind
	}{
		{"never lent", Loan{}, "H-B", "", "", ""},
		{"back in place", ended, "H-B", "", "", ""},
		{"out to another", out, "H-B", "Tech A", "1042", fault.Conflict},
		{"out to the same", out, "H-A", "Tech A", "1042", fault.Conflict},
		{"out on no job", out, "H-A", "Tech A", "", fault.Conflict},
		{"away", away, "H-A", "Lab", "", fault.Conflict},
	} {
		err := MayTake(c.last, Holder{Name: c.holder, Since: c.last.Since, Job: c.job}, c.person)
		f := fault.Of(err)
		if c.want == "" {
			if err != nil {
				t.Errorf("%s: %v", c.what, err)
			}
			continue
		}
		if f == nil || f.Kind != c.want || f.Facts["holder"] != c.holder || f.Facts["since"] != noon.String() {
			t.Errorf("%s: %+v; want %s with holder %s since %s", c.what, f, c.want, c.holder, noon)
		}
		if job, told := f.Facts["job"]; job != c.job || told != (c.last.State == Out) {
			t.Errorf("%s: job %q, told %t; want %q", c.what, job, told, c.job)
		}
	}
}

// An act entered late lies neither ahead nor before the last change.
func TestWhen(t *testing.T) {
	last := Loan{ID: "O-1", Since: noon - 100, Ended: noon - 50}
	for _, c := range []struct {
		happened, at, entered dates.Instant
		refused               bool
	}{
		{0, noon, 0, false},
		{noon - 50, noon - 50, noon, false},
		{noon, noon, noon, false},
		{noon + 1, 0, 0, true},
		{noon - 51, 0, 0, true},
	} {
		at, entered, err := When(c.happened, noon, last)
		if (err != nil) != c.refused || at != c.at || entered != c.entered {
			t.Errorf("%d: %d, %d, %v", c.happened-noon, at-noon, entered, err)
		}
	}
}

// A look clears what does not measure; what measures needs a comparison.
func TestMayClear(t *testing.T) {
	dropped := []Wrong{{What: "dropped", At: noon}}
	for kind, want := range map[string]fault.Kind{"ratchet": "", "torque wrench": fault.Refused, "tire pressure gauge": fault.Refused, "multimeter": fault.Refused} {
		err := MayClear(dropped, kind, false)
		if want == "" && err != nil || want != "" && !fault.Is(err, want) {
			t.Errorf("%s: %v, want %q", kind, err, want)
		}
	}
	if err := MayClear([]Wrong{{What: LabelGone}}, "torque wrench", false); err != nil {
		t.Errorf("a missing label keeps a wrench out of use: %v", err)
	}
	if err := MayClear(nil, "ratchet", false); !fault.Is(err, fault.Conflict) {
		t.Errorf("nothing to clear: %v", err)
	}
	if err := MayUse([]Wrong{{What: LabelGone}}); err != nil {
		t.Errorf("a missing label is no reason: %v", err)
	}
	if err := MayUse(dropped); !fault.Is(err, fault.Refused) {
		t.Errorf("a dropped tool may be used: %v", err)
	}
}
