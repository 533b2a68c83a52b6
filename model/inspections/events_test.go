package inspections

import (
	"slices"
	"strings"
	"testing"
	"time"

	"pawl/model/dates"
)

func at(day dates.Date, hour int) dates.Instant {
	return day.EndIn(time.UTC) + 1 - dates.Instant((24-hour)*3600_000000)
}

func event(w What, day dates.Date) Event { return Event{What: w, Day: day, At: at(day, 12), ID: "W"} }

// After an abnormal load or shock a jack is inspected, and when it is sent out and
// comes back: 29 CFR 1910.244(a)(2)(vi)(b) and (c), calibration.md 8. A lift after
// repair, relocation or impact (from memory), gloves on suspicion and after repair
// (1910.137(c)(2)). It is due on the day that it happened, until it passed after that.
func TestWhatHappenedAsksForAnInspection(t *testing.T) {
	const jack, lift, gloves = "jack six-month", "lift annual", "glove electrical test"
	made := func(name string, day dates.Date, r Result, hour int) Inspection {
		d := on(name, day, r)
		if hour > 0 {
			d.DoneAt = at(day, hour)
		}
		return d
	}
	for _, c := range []struct {
		name, kind, check string
		plans             []Plan
		done              []Inspection
		happened          []Event
		want              dates.Date
		why               string
	}{
		{"nothing happened", "floor jack", jack, nil, []Inspection{made(jack, "2026-08-01", Passed, 0)}, nil, "2027-02-01", ""},
		{"overloaded", "floor jack", jack, nil, []Inspection{made(jack, "2026-08-01", Passed, 0)}, []Event{event(Overloaded, "2026-09-10")}, "2026-09-10", "overloaded on 2026-09-10"},
		{"dropped: a shock", "floor jack", jack, nil, []Inspection{made(jack, "2026-08-01", Passed, 0)}, []Event{event(Dropped, "2026-09-10")}, "2026-09-10", "dropped"},
		{"doubtful is no load or shock", "floor jack", jack, nil, []Inspection{made(jack, "2026-08-01", Passed, 0)}, []Event{event(Doubtful, "2026-09-10")}, "2027-02-01", ""},
		{"passed after it", "floor jack", jack, nil, []Inspection{made(jack, "2026-08-01", Passed, 0), made(jack, "2026-09-11", Passed, 0)}, []Event{event(Overloaded, "2026-09-10")}, "2027-03-11", ""},
		{"passed on that day, after it", "floor jack", jack, nil, []Inspection{made(jack, "2026-09-10", Passed, 13)}, []Event{event(Overloaded, "2026-09-10")}, "2027-03-10", ""},
		{"passed on that day, before it", "floor jack", jack, nil, []Inspection{made(jack, "2026-09-10", Passed, 11)}, []Event{event(Overloaded, "2026-09-10")}, "2026-09-10", "overloaded"},
		{"passed on that day, nobody knows when", "floor jack", jack, nil, []Inspection{made(jack, "2026-09-10", Passed, 0)}, []Event{event(Overloaded, "2026-09-10")}, "2026-09-10", "overloaded"},
		{"failed after it", "floor jack", jack, nil, []Inspection{made(jack, "2026-08-01", Passed, 0), made(jack, "2026-09-11", Failed, 0)}, []Event{event(Overloaded, "2026-09-10")}, "2026-09-10", "overloaded"},
		{"overdue before it", "floor jack", jack, nil, []Inspection{made(jack, "2026-01-31", Passed, 0)}, []Event{event(Overloaded, "2026-09-10")}, "2026-07-31", ""},
		{"twice: since the first", "floor jack", jack, nil, []Inspection{made(jack, "2026-08-01", Passed, 0)}, []Event{event(Dropped, "2026-09-12"), event(Overloaded, "2026-09-10")}, "2026-09-10", "overloaded"},
		{"another check clears nothing", "floor jack", jack, []Plan{plan("oil level", func(p *Plan) { p.Months = 3 })},
			[]Inspection{made(jack, "2026-08-01", Passed, 0), made("oil level", "2026-09-11", Passed, 0)}, []Event{event(Overloaded, "2026-09-10")}, "2026-09-10", "overloaded"},
		{"sent out, inspected on that day", "floor jack", jack, nil, []Inspection{made(jack, "2026-09-10", Passed, 8)}, []Event{event(SentOut, "2026-09-10")}, "2027-03-10", ""},
		{"sent out, not inspected", "floor jack", jack, nil, []Inspection{made(jack, "2026-09-09", Passed, 8)}, []Event{event(SentOut, "2026-09-10")}, "2026-09-10", "sent out of the shop"},
		{"back again", "floor jack", jack, nil, []Inspection{made(jack, "2026-09-10", Passed, 8)}, []Event{event(SentOut, "2026-09-10"), event(CameBack, "2026-09-20")}, "2026-09-20", "back from outside"},
		{"a lift back from repair", "two-post lift", lift, nil, []Inspection{made(lift, "2026-08-01", Passed, 0)}, []Event{event(Repaired, "2026-09-10")}, "2026-09-10", "back from repair"},
		{"a lift that was hit", "two-post lift", lift, nil, []Inspection{made(lift, "2026-08-01", Passed, 0)}, []Event{event(Damaged, "2026-09-10")}, "2026-09-10", "damaged"},
		{"a lift that was moved, as the shop says", "two-post lift", lift, []Plan{plan(lift, func(p *Plan) { p.Again, p.AgainDay, p.AgainAt = "moved", "2026-09-10", at("2026-09-10", 12) })},
			[]Inspection{made(lift, "2026-08-01", Passed, 0)}, nil, "2026-09-10", "moved on 2026-09-10"},
		{"and passed since", "two-post lift", lift, []Plan{plan(lift, func(p *Plan) { p.Again, p.AgainDay, p.AgainAt = "moved", "2026-09-10", at("2026-09-10", 12) })},
			[]Inspection{made(lift, "2026-09-11", Passed, 0)}, nil, "2027-09-11", ""},
		{"gloves in doubt", "insulating gloves", gloves, nil, []Inspection{made(gloves, "2026-08-01", Passed, 0)}, []Event{event(Doubtful, "2026-09-10")}, "2026-09-10", "doubtful"},
		{"an extinguisher that was dropped: no rule asks", "fire extinguisher", "extinguisher annual", nil, []Inspection{made("extinguisher annual", "2026-08-01", Passed, 0)}, []Event{event(Dropped, "2026-09-10")}, "2027-08-01", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			all := Stand(c.kind, c.plans, c.done, c.happened)
			i := slices.IndexFunc(all, func(s Standing) bool { return s.Name == c.check })
			if i < 0 || all[i].Next != c.want || !strings.HasPrefix(all[i].Why, c.why) || c.why == "" && all[i].Why != "" {
				t.Errorf("%+v, want %s because %q", all, c.want, c.why)
			}
		})
	}
}

// A check of the trade is made on the tools that it is for, and every kind that is
// under one by itself fits it.
func TestFits(t *testing.T) {
	for kind, want := range map[string]string{
		"torque wrench": "", "impact wrench": "", "": "",
		"two-post lift": "lift annual", "vehicle hoist": "lift annual, stand annual", "floor jack": "jack six-month, stand annual", "jack stand": "stand annual",
		"insulating gloves": "glove electrical test", "rubber blanket": "blanket and sleeve electrical test", "chain sling": "chain sling 12-month",
		"fire extinguisher": "extinguisher monthly, extinguisher annual, extinguisher six-year, extinguisher hydrostatic",
		"eyewash station":   "eyewash weekly, eyewash annual", "emergency shower": "eyewash weekly, eyewash annual",
	} {
		if got := strings.Join(Fitting(kind), ", "); got != want {
			t.Errorf("on a %s fits %q, want %q", kind, got, want)
		}
	}
}
