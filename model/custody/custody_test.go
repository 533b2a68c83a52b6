package custody

import (
	"strings"
	"testing"
	"time"

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
		err := MayClear(dropped, kind, false, time.UTC)
		if want == "" && err != nil || want != "" && !fault.Is(err, want) {
			t.Errorf("%s: %v, want %q", kind, err, want)
		}
	}
	if err := MayClear([]Wrong{{What: LabelGone}}, "torque wrench", false, time.UTC); err != nil {
		t.Errorf("a missing label keeps a wrench out of use: %v", err)
	}
	if err := MayClear(nil, "ratchet", false, time.UTC); !fault.Is(err, fault.Conflict) {
		t.Errorf("nothing to clear: %v", err)
	}
	if err := MayUse([]Wrong{{What: LabelGone}}); err != nil {
		t.Errorf("a missing label is no reason: %v", err)
	}
	if err := MayUse(dropped); !fault.Is(err, fault.Refused) {
		t.Errorf("a dropped tool may be used: %v", err)
	}
}

// A failure that was entered by its day names the day that clears it, and no hour that
// nobody recorded; what has an hour is told by the clock of the shop.
func TestLaterThan(t *testing.T) {
	chicago, err := time.LoadLocation("America/Chicago")
	if err != nil {
		t.Fatal(err)
	}
	byDay := Wrong{What: Failed, Calibration: "A-1", At: OnDay("2026-11-30", chicago)}
	hour := dates.InstantOf(time.Date(2026, 11, 30, 20, 5, 0, 0, time.UTC))
	for _, c := range []struct {
		name string
		open []Wrong
		want string
	}{
		{"by its day", []Wrong{byDay}, "dated 2026-12-01 or later: it failed on 2026-11-30, hour not recorded"},
		{"with its hour", []Wrong{{What: Failed, Calibration: "A-1", At: hour}}, "dated after 2026-11-30 14:05"},
		{"dropped later that day", []Wrong{byDay, {What: "dropped", At: hour}}, "dated after 2026-11-30 14:05"},
		{"a label is gone besides", []Wrong{byDay, {What: LabelGone, At: hour}}, "dated 2026-12-01 or later: it failed on 2026-11-30, hour not recorded"},
	} {
		if got := LaterThan(c.open, chicago); got != c.want {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
		if err := MayClear(c.open, "torque wrench", false, chicago); !fault.Is(err, fault.Refused) || !strings.HasSuffix(fault.Of(err).Hint, c.want) {
			t.Errorf("%s: %v", c.name, err)
		}
	}
}
