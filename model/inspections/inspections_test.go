package inspections

import (
	"strings"
	"testing"

	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/names"
)

func on(name string, day dates.Date, result Result) Inspection {
	return Inspection{ID: string(day), Name: name, NameKey: names.Key(name), OnDay: day, Result: result, Entered: 1}
}

func plan(name string, edit func(*Plan)) Plan {
	p := Plan{Name: name, NameKey: names.Key(name)}
	edit(&p)
	return p
}

// The next day of each check. S-01, S-02 are the rows of calibration.md 11 (project
// rule of section 8); the months' ends are the clamp of money-and-statistics 3.1; the
// intervals are those of the rules named in the catalog.
func TestTheNextDay(t *testing.T) {
	cases := []struct {
		name, kind string
		plans      []Plan
		done       []Inspection
		check      string
		want       dates.Date
	}{
		{"S-01: issued late in the year after the test", "insulating gloves",
			[]Plan{plan("glove electrical test", func(p *Plan) { p.FirstIssued = "2026-10-01" })},
			[]Inspection{on("glove electrical test", "2026-01-01", Passed)}, "glove electrical test", "2027-01-01"},
		{"S-02: issued six weeks after it", "insulating gloves",
			[]Plan{plan("glove electrical test", func(p *Plan) { p.FirstIssued = "2026-02-15" })},
			[]Inspection{on("glove electrical test", "2026-01-01", Passed)}, "glove electrical test", "2026-08-15"},
		{"no first issue on record: in service since the test", "insulating gloves", nil,
			[]Inspection{on("glove electrical test", "2026-01-01", Passed)}, "glove electrical test", "2026-07-01"},
		{"still in store", "insulating gloves", []Plan{plan("glove electrical test", func(p *Plan) { p.NotIssued = true })},
			[]Inspection{on("glove electrical test", "2026-01-01", Passed)}, "glove electrical test", "2027-01-01"},
		{"the strictest reading, chosen", "insulating gloves",
			[]Plan{plan("glove electrical test", func(p *Plan) { p.Strict, p.FirstIssued = true, "2026-10-01" })},
			[]Inspection{on("glove electrical test", "2026-01-01", Passed)}, "glove electrical test", "2026-07-01"},
		{"tested again after the first issue", "insulating gloves",
			[]Plan{plan("glove electrical test", func(p *Plan) { p.FirstIssued = "2026-02-15" })},
			[]Inspection{on("glove electrical test", "2026-01-01", Passed), on("glove electrical test", "2026-08-01", Passed)}, "glove electrical test", "2027-02-01"},
		{"a lift, each year", "two-post lift", nil, []Inspection{on("lift annual", "2026-11-01", Passed)}, "lift annual", "2027-11-01"},
		{"a leap day", "two-post lift", nil, []Inspection{on("lift annual", "2028-02-29", Passed)}, "lift annual", "2029-02-28"},
		{"a jack at the end of August", "floor jack", nil, []Inspection{on("jack six-month", "2026-08-31", Passed)}, "jack six-month", "2027-02-28"},
		{"an extinguisher each month, at a month's end", "fire extinguisher", nil, []Inspection{on("extinguisher monthly", "2027-01-31", Passed)}, "extinguisher monthly", "2027-02-28"},
		{"an eyewash each week", "eyewash station", nil, []Inspection{on("eyewash weekly", "2026-12-28", Passed)}, "eyewash weekly", "2027-01-04"},
		{"six years", "fire extinguisher", []Plan{plan("extinguisher six-year", func(p *Plan) { p.TwelveYear = true })},
			[]Inspection{on("extinguisher six-year", "2026-03-31", Passed)}, "extinguisher six-year", "2032-03-31"},
		{"six years begin anew with a hydrostatic test", "fire extinguisher", []Plan{plan("extinguisher six-year", func(p *Plan) { p.TwelveYear = true })},
			[]Inspection{on("extinguisher six-year", "2026-03-31", Passed), tagged(on(Hydrostatic, "2030-01-10", Passed), "2042-01-10")}, "extinguisher six-year", "2036-01-10"},
		{"the day is on the tag", "fire extinguisher", nil, []Inspection{tagged(on(Hydrostatic, "2026-01-10", Passed), "2038-01-01")}, Hydrostatic, "2038-01-01"},
		{"an earlier day on the tag goes before the interval", "two-post lift", nil, []Inspection{tagged(on("lift annual", "2026-11-01", Passed), "2027-06-30")}, "lift annual", "2027-06-30"},
		{"a later one does not", "two-post lift", nil, []Inspection{tagged(on("lift annual", "2026-11-01", Passed), "2028-06-30")}, "lift annual", "2027-11-01"},
		{"failed: due until it passes", "two-post lift", nil, []Inspection{on("lift annual", "2026-05-01", Passed), on("lift annual", "2026-11-01", Failed)}, "lift annual", "2026-11-01"},
		{"entered late, an older one moves nothing", "floor jack", nil, []Inspection{on("jack six-month", "2026-08-01", Passed), on("jack six-month", "2026-02-01", Failed)}, "jack six-month", "2027-02-01"},
		{"the shop's own", "spray booth", []Plan{plan("filter change", func(p *Plan) { p.Days = 30 })}, []Inspection{on("filter change", "2026-01-31", Passed)}, "filter change", "2026-03-02"},
		{"more often than its rule", "two-post lift", []Plan{plan("lift annual", func(p *Plan) { p.Months = 6 })}, []Inspection{on("lift annual", "2026-01-31", Passed)}, "lift annual", "2026-07-31"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			for _, s := range Stand(c.kind, c.plans, c.done, nil) {
				if s.Name == c.check {
					if s.Next != c.want {
						t.Errorf("next %s (%s), want %s", s.Next, s.Why, c.want)
					}
					return
				}
			}
			t.Errorf("it is not under %s", c.check)
		})
	}
}

func tagged(d Inspection, next dates.Date) Inspection {
	d.TagDay = next
	return d
}

// Which checks a kind of tool is under by itself.
func TestWhatAKindIsUnder(t *testing.T) {
	cases := []struct{ kind, want string }{
		{"two-post lift", "lift annual"},
		{"floor jack", "jack six-month"},
		{"jack stand", "stand annual"},
		{"jack stands", "stand annual"},
		{"insulating gloves", "glove electrical test"},
		{"insulating blanket", "blanket and sleeve electrical test"},
		{"chain sling", "chain sling 12-month"},
		{"nylon sling", ""}, // a look each day by a competent person, 1910.184(d): nothing to tick
		{"fire extinguisher", "extinguisher monthly, extinguisher annual"},
		{"eyewash", "eyewash weekly, eyewash annual"},
		{"impact wrench", ""},
		{"glovebox light", ""},
	}
	for _, c := range cases {
		var got []string
		for _, s := range Stand(c.kind, nil, nil, nil) {
			got = append(got, s.Name)
			if s.Next != "" || s.Last != nil {
				t.Errorf("%s: %s is next %s without any on record", c.kind, s.Name, s.Next)
			}
		}
		if strings.Join(got, ", ") != c.want {
			t.Errorf("%s is under %v, want %s", c.kind, got, c.want)
		}
	}
}

// Every check says whose rule it is, where that stands, how it is known, and who may
// do it.
func TestEveryCheckSaysWhoseRuleItIs(t *testing.T) {
	for _, r := range Catalog() {
		if r.Whose == "" || r.Source == "" || r.Provenance == "" || r.Does == "" {
			t.Errorf("%s: %+v", r.Name, r)
		}
		if _, err := ParseWhose(string(r.Whose)); err != nil {
			t.Error(err)
		}
		if (r.Every == Every{}) != r.NeedsTag {
			t.Errorf("%s has neither an interval nor a tag, or both", r.Name)
		}
	}
}

// What each check asks to be said with an inspection.
func TestMayRecord(t *testing.T) {
	done := func(edit func(*Inspection)) Inspection {
		d := Inspection{OnDay: "2026-11-01", Result: Passed, Inspector: "Inspector I, 4711"}
		edit(&d)
		return d
	}
	same := func(*Inspection) {}
	six := plan("extinguisher six-year", func(p *Plan) { p.TwelveYear = true })
	cases := []struct {
		check string
		plan  *Plan
		d     Inspection
		paper bool
		want  string
	}{
		{"lift annual", nil, done(same), true, ""},
		{"lift annual", nil, done(same), false, "#/evidence"},
		{"lift annual", nil, done(func(d *Inspection) { d.Inspector = "" }), false, "#/by #/evidence"},
		{"glove electrical test", nil, done(func(d *Inspection) { d.Inspector = "" }), true, "#/by"},
		{"jack six-month", nil, done(same), false, ""},
		{"jack six-month", nil, done(func(d *Inspection) { d.Inspector = "" }), false, "#/by"},
		{"extinguisher monthly", nil, done(func(d *Inspection) { d.Inspector = "" }), false, ""},
		{"extinguisher six-year", nil, done(same), false, "#/check"},
		{"extinguisher six-year", &six, done(same), false, ""},
		{Hydrostatic, nil, done(same), false, "#/next"},
		{Hydrostatic, nil, done(func(d *Inspection) { d.TagDay = "2038-11-01" }), false, ""},
		{Hydrostatic, nil, done(func(d *Inspection) { d.TagDay = "2026-11-01" }), false, "#/next"},
		{Hydrostatic, nil, done(func(d *Inspection) { d.Result = Failed }), false, ""},
	}
	for _, c := range cases {
		r, known := Named(c.check)
		if !known {
			t.Fatal(c.check)
		}
		if got := pointers(Check{Rule: r, Plan: c.plan}.MayRecord(c.d, c.paper)); got != c.want {
			t.Errorf("%s, %+v: at fault %q, want %q", c.check, c.d, got, c.want)
		}
	}
}

func pointers(err error) string {
	var all []string
	if f := fault.Of(err); f != nil {
		for _, field := range f.Fields {
			all = append(all, field.Pointer)
		}
	}
	return strings.Join(all, " ")
}

// A rule of the trade is never made rarer; what is for gloves is for gloves.
func TestCheckPlan(t *testing.T) {
	cases := []struct {
		p    Plan
		want string
	}{
		{Plan{Name: "lift annual", Months: 6}, ""},
		{Plan{Name: "lift annual", Months: 13}, "#/plan/every"},
		{Plan{Name: "extinguisher monthly", Days: 7}, ""},
		{Plan{Name: "extinguisher monthly", Months: 2}, "#/plan/every"},
		{Plan{Name: "extinguisher monthly", Days: 28}, ""},
		{Plan{Name: "extinguisher monthly", Days: 29}, "#/plan/every"}, // February has 28
		{Plan{Name: "jack six-month", Days: 181}, ""},
		{Plan{Name: "jack six-month", Days: 182}, "#/plan/every"}, // from 31 August to the end of February
		{Plan{Name: "lift annual", Days: 365}, ""},
		{Plan{Name: "lift annual", Days: 366}, "#/plan/every"},
		{Plan{Name: "eyewash weekly", Days: 7}, ""},
		{Plan{Name: "eyewash weekly", Days: 8}, "#/plan/every"},
		{Plan{Name: "eyewash weekly", Months: 1}, "#/plan/every"},
		{Plan{Name: "filter change"}, "#/plan/every"},
		{Plan{Name: "filter change", Months: 3, Days: 2}, "#/plan/every"},
		{Plan{Name: "filter change", Months: 200}, "#/plan/every"},
		{Plan{Name: "lift annual", NotIssued: true}, "#/plan/first_issued"},
		{Plan{Name: "glove electrical test", NotIssued: true, FirstIssued: "2026-01-01"}, "#/plan/not_issued"},
		{Plan{Name: "glove electrical test", Strict: true}, ""},
		{Plan{Name: "stand annual", Dropped: true}, "#/plan/why"},
		{Plan{Name: "stand annual", Dropped: true, Why: "only recommended"}, ""},
	}
	for _, c := range cases {
		if got := pointers(CheckPlan(c.p)); got != c.want {
			t.Errorf("%+v: at fault %q, want %q", c.p, got, c.want)
		}
	}
}

// What lifts, insulates or is under pressure never stands without its caution, and
// each defers to the maker.
func TestCautions(t *testing.T) {
	for kind, says := range map[string]string{"two-post lift": "not permission", "insulating gloves": "air-tested", "fire extinguisher": "pressure"} {
		var checks []Check
		for _, s := range Stand(kind, nil, nil, nil) {
			checks = append(checks, s.Check)
		}
		got := strings.Join(Cautions(checks), " ")
		if !strings.Contains(got, says) || !strings.Contains(got, "maker's") {
			t.Errorf("%s: %q", kind, got)
		}
	}
}
