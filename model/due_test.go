package model

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"pawl/model/due"
	"pawl/model/fault"
	"pawl/model/inspections"
	"pawl/model/internal/store"
	"pawl/model/register"
	"pawl/model/settings"
)

// paper uploads a report and names it to be attached.
func (g *garage) report(t *testing.T, shade byte) []register.Attach {
	t.Helper()
	return []register.Attach{{Kind: "certificate", SHA256: g.upload(t, g.boss, picture(shade))}}
}

func (g *garage) inspect(t *testing.T, number string, in Inspect) InspectionsView {
	t.Helper()
	v, err := g.Inspect(ctx, g.boss, number, in)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// dueOf says what is due of a tool, as "day what (why)".
func (g *garage) dueOf(t *testing.T, by By, number string, within int) string {
	t.Helper()
	v, err := g.Due(ctx, by, DueQuery{Within: &within})
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, r := range v.Rows {
		if r.Number.String() == number {
			out = append(out, strings.TrimSpace(fmt.Sprintf("%s %s %s", r.Day, r.What, r.Why)))
		}
	}
	return strings.Join(out, "; ")
}

// What is due follows the record, whatever it comes from. The clock stands on
// 2026-10-30.
func TestDueFollowsTheRecord(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		lift := g.tool(t, kind("two-post lift"))
		want := func(by By, number, what string) {
			t.Helper()
			if got := g.dueOf(t, by, number, 5000); got != what {
				t.Errorf("due: %q, want %q", got, what)
			}
		}
		want(g.techA, lift, "2026-10-30 lift annual none on record")
		g.inspect(t, lift, Inspect{Check: "Lift Annual", Result: "pass", By: "Inspector I, 4711", On: "2026-03-31", Evidence: g.report(t, 1)})
		want(g.techA, lift, "2027-03-31 lift annual")
		g.inspect(t, lift, Inspect{Check: "lift annual", Result: "fail", By: "Inspector I, 4711", On: "2026-10-29", Evidence: g.report(t, 2)})
		want(g.techA, lift, "2026-10-29 lift annual it failed; it is due until it passes")

		wrench := g.goodWrench(t, "TW1")
		want(g.techA, wrench, "2027-10-01 tool calibration")
		if _, err := g.Calibrate(ctx, g.boss, wrench, Calibrate{Requirement: &Requirement{Cycles: ptr(int64(5)), Months: ptr(12)}}); err != nil {
			t.Fatal(err)
		}
		for range 2 {
			if _, err := g.Tighten(ctx, g.boss, wrench, Use{Ask: nuts, Job: "1042", Name: "wheel nut", Count: 3}); err != nil {
				t.Fatal(err)
			}
		}
		want(g.techA, wrench, "2026-10-30 tool calibration 5 uses recorded since the last one")

		out := g.tool(t)
		if _, err := g.Take(ctx, g.techA, out, Take{Due: "2026-11-02"}); err != nil {
			t.Fatal(err)
		}
		want(g.techB, out, "2026-11-02 to be returned")
		if _, err := g.Return(ctx, g.techA, out, Return{}); err != nil {
			t.Fatal(err)
		}
		want(g.techB, out, "")
		if _, err := g.Gone(ctx, g.boss, lift, Gone{Why: "sold"}); err != nil {
			t.Fatal(err)
		}
		want(g.boss, lift, "")
	})
}

// A warranty that runs from the purchase tells its date: it is shown to whoever may
// see the purchase. One with a start of its own is shown to all.
func TestAWarrantyThatTellsThePurchaseIsHidden(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		covered := func(edit ...func(*register.New)) string {
			return g.tool(t, append([]func(*register.New){func(in *register.New) { in.Bought, in.WarrantyMonths = ptr("2026-01-31"), ptr(int64(13)) }}, edit...)...)
		}
		shops, as, open := covered(), covered(owned(g.techA)), covered(owned(g.techA), func(in *register.New) { in.WarrantyFrom = ptr("2026-01-31") })
		const ends = "2027-02-28 warranty ends" // held to the month's end
		for _, c := range []struct {
			by     By
			number string
			want   string
		}{
			{g.boss, shops, ends}, {g.manager, shops, ends}, {g.techA, shops, ""}, {g.techB, shops, ""},
			{g.boss, as, ends}, {g.manager, as, ""}, {g.techA, as, ends}, {g.techB, as, ""},
			{g.manager, open, ends}, {g.techB, open, ends},
		} {
			if got := g.dueOf(t, c.by, c.number, 1000); got != c.want {
				t.Errorf("%s sees %q of %s, want %q", c.by.Name, got, c.number, c.want)
			}
		}
		g.clock.advance(200 * 24 * time.Hour) // over: it asks for nothing any more
		if got := g.dueOf(t, g.boss, shops, 1000); got != "" {
			t.Errorf("after it ended: %q", got)
		}
	})
}

// Every filter, and page after page each row once, in the order of days.
func TestDueIsReadByPagesAndFilters(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		var all []string
		for i := range 7 {
			n := g.tool(t, kind("floor jack"), func(in *register.New) { in.Place = ptr("Cart") })
			g.inspect(t, n, Inspect{Check: "jack six-month", Result: "pass", By: "Tech A", On: fmt.Sprintf("2026-0%d-10", 9-i%3)})
			all = append(all, n)
		}
		mine := g.tool(t, kind("floor jack"), owned(g.techA))
		days := ptr(365)
		count := func(q DueQuery) (n int) {
			t.Helper()
			q.Limit = 3
			last := ""
			for {
				v, err := g.Due(ctx, g.techB, q)
				if err != nil {
					t.Fatal(err)
				}
				for _, r := range v.Rows {
					if key := string(r.Day) + r.Row.ID; key <= last {
						t.Errorf("%s after %s", key, last)
					} else {
						last = key
					}
					n++
				}
				if q.Cursor = v.Next; v.Next == "" {
					return n
				}
			}
		}
		for _, c := range []struct {
			q    DueQuery
			want int
		}{
			{DueQuery{Within: days}, len(all) + 1}, {DueQuery{Within: days, Sort: "inspection"}, len(all) + 1}, {DueQuery{Within: days, Sort: "warranty"}, 0},
			{DueQuery{Within: days, Person: "Tech A"}, 1}, {DueQuery{Within: days, Person: "shop"}, len(all)},
			{DueQuery{Within: days, Place: "Bay 1"}, len(all)}, {DueQuery{}, 1}, {DueQuery{Within: ptr(0)}, 1},
		} {
			if got := count(c.q); got != c.want {
				t.Errorf("%+v: %d rows, want %d", c.q, got, c.want)
			}
		}
		_ = mine
		for _, q := range []DueQuery{{Sort: "nothing"}, {Within: ptr(-1)}, {Within: ptr(9999)}, {Person: "Nobody"}, {Place: "Moon"}} {
			if _, err := g.Due(ctx, g.boss, q); !fault.Is(err, fault.Invalid) {
				t.Errorf("%+v: %v", q, err)
			}
		}
		// The lead time decides what is shown without days, and on Today.
		if _, err := g.ChangeSettings(ctx, g.boss, AnyRevision, settings.Change{LeadChange: settings.LeadChange{Inspection: ptr(int64(200))}}); err != nil {
			t.Fatal(err)
		}
		if got := count(DueQuery{}); got != len(all)+1 {
			t.Errorf("%d rows within the lead time", got)
		}
		today, err := g.Today(ctx, g.techB)
		if err != nil || len(today.Due) != len(all)+1 {
			t.Errorf("today: %d rows, %v", len(today.Due), err)
		}
	})
}

// Things of every sort that fall on one day come in one order, on either engine, and
// page after page each of them once, wherever a page ends.
func TestTiesArePagedOnce(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		for range 3 {
			n := g.tool(t, kind("floor jack"), func(in *register.New) { in.WarrantyFrom, in.WarrantyMonths = ptr("2025-11-30"), ptr(int64(12)) })
			g.inspect(t, n, Inspect{Check: "jack six-month", Result: "pass", By: "Tech A", On: "2026-05-30"})
			g.inspect(t, n, Inspect{Check: "oil level", Result: "pass", On: "2026-05-30", Plan: &InspectionPlan{Months: ptr(6)}})
			if _, err := g.Take(ctx, g.techA, n, Take{Due: "2026-11-30"}); err != nil {
				t.Fatal(err)
			}
		}
		rows := func(limit int) (out []string) {
			q := DueQuery{Within: ptr(60), Limit: limit}
			for {
				v, err := g.Due(ctx, g.techB, q)
				if err != nil {
					t.Fatal(err)
				}
				for _, r := range v.Rows {
					if r.Day != "2026-11-30" || r.Days != 31 { // over the end of daylight saving time, 2026-11-01
						t.Errorf("%s on %s, %d days left", r.What, r.Day, r.Days)
					}
					out = append(out, r.Row.ID)
				}
				if q.Cursor = v.Next; v.Next == "" {
					return out
				}
			}
		}
		whole := rows(100)
		if len(whole) != 12 || !slices.IsSorted(whole) {
			t.Fatalf("%q", whole)
		}
		for limit := 1; limit <= len(whole)+1; limit++ {
			if got := rows(limit); !slices.Equal(got, whole) {
				t.Errorf("by pages of %d: %q, want %q", limit, got, whole)
			}
		}
	})
}

// What is kept of what is due is what would be made anew, after acts of every sort
// that move it: DESIGN 4.
func TestWhatIsDueIsWhatWouldBeMadeAnew(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		wrench, lift, gloves, out := g.goodWrench(t, "TW2"), g.tool(t, kind("lift")), g.tool(t, kind("insulating gloves")), g.tool(t, owned(g.techA))
		do := func(err error) {
			t.Helper()
			if err != nil {
				t.Fatal(err)
			}
			kept := g.dueTable(t)
			if _, err := store.Write(ctx, g.db, store.Act{Verb: "rebuild"}, func(tx *store.Tx) (bool, error) { return true, tx.RebuildDerived() }); err != nil {
				t.Fatal(err)
			}
			if made := g.dueTable(t); kept != made {
				t.Fatalf("kept\n%s\nmade anew\n%s", kept, made)
			}
		}
		err := func(_ any, err error) error { return err }
		do(nil)
		do(err(g.Inspect(ctx, g.boss, gloves, Inspect{Check: "glove electrical test", Result: "pass", By: "Lab L", On: "2026-09-01", Evidence: g.report(t, 3),
			Plan: &InspectionPlan{FirstIssued: ptr("2026-10-01")}})))
		do(err(g.Inspect(ctx, g.boss, lift, Inspect{Check: "lift annual", Plan: &InspectionPlan{Dropped: ptr(true), Why: ptr("it is taken down")}})))
		do(err(g.Inspect(ctx, g.boss, lift, Inspect{Check: "oil change", Result: "pass", Plan: &InspectionPlan{Months: ptr(3)}})))
		jack := g.tool(t, kind("floor jack"))
		do(err(g.Inspect(ctx, g.boss, jack, Inspect{Check: "jack six-month", Result: "pass", By: "Tech A"})))
		g.clock.advance(time.Minute)
		do(err(g.Wrong(ctx, g.techA, jack, Wrong{What: "overloaded"})))
		do(err(g.Inspect(ctx, g.boss, jack, Inspect{Check: "jack six-month", Plan: &InspectionPlan{Again: ptr("used at a neighbor's")}})))
		g.clock.advance(time.Minute)
		do(err(g.Inspect(ctx, g.boss, jack, Inspect{Check: "jack six-month", Result: "pass", By: "Tech A"})))
		do(err(g.Clear(ctx, g.boss, jack, Clear{Why: "inspected"})))
		do(err(g.Away(ctx, g.boss, jack, Away{To: "Neighbor N", For: "lent"})))
		g.clock.advance(time.Minute)
		do(err(g.Back(ctx, g.boss, jack, Back{})))
		do(err(g.Take(ctx, g.techA, out, Take{Due: "2026-11-02T10:00"})))
		do(err(g.Handover(ctx, g.boss, out, Handover{To: "Tech B"})))
		do(err(g.ChangeTool(ctx, g.boss, out, AnyRevision, register.Change{Place: ptr("Cart"), WarrantyMonths: ptr(int64(24)), Bought: ptr("2026-01-01")})))
		do(err(g.Tighten(ctx, g.boss, wrench, Use{Ask: nuts, Job: "1042", Name: "wheel nut", Count: 3})))
		do(err(g.Calibrate(ctx, g.boss, wrench, Calibrate{Requirement: &Requirement{Cycles: ptr(int64(2))}})))
		do(err(g.ChangeSettings(ctx, g.boss, AnyRevision, settings.Change{Zone: ptr("Pacific/Auckland")})))
		do(err(g.Return(ctx, g.techB, out, Return{})))
		do(err(g.Gone(ctx, g.boss, gloves, Gone{Why: "scrapped"})))
		if got := g.dueTable(t); !strings.Contains(got, "oil change") || strings.Contains(got, "glove") {
			t.Errorf("due:\n%s", got)
		}
	})
}

// dueTable is the kept table as text.
func (g *garage) dueTable(t *testing.T) string {
	t.Helper()
	rows, err := g.raw(t).Query(`SELECT id, sort, what, day, "at", known, person, owner, place, veil, why FROM due ORDER BY id`)
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	var out strings.Builder
	for rows.Next() {
		v := make([]any, 11)
		into := make([]any, 11)
		for i := range v {
			into[i] = &v[i]
		}
		if err := rows.Scan(into...); err != nil {
			t.Fatal(err)
		}
		fmt.Fprintln(&out, v...)
	}
	return out.String()
}

// An inspection says who, with which paper, on which day and when it was entered; a
// failure puts the tool out of use at once, and no look clears it.
func TestAnInspectionIsRecorded(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		lift := g.tool(t, kind("two-post lift"))
		v := g.inspect(t, lift, Inspect{Check: "lift annual", Result: "pass", By: "Inspector I, 4711", Happened: "2026-10-01T09:30", Evidence: g.report(t, 4), Note: "arms greased"})
		r := v.Recorded
		if r == nil || r.OnDay != "2026-10-01" || r.DoneAt.String() != "2026-10-01T14:30:00Z" || r.Entered.String() != "2026-10-30T17:00:00Z" || r.Paper == "" || r.Inspector != "Inspector I, 4711" {
			t.Fatalf("%+v", r)
		}
		if len(v.Checks) != 1 || v.Checks[0].Next != "2027-10-01" || v.Checks[0].Whose != inspections.Consensus || len(v.Cautions) == 0 {
			t.Errorf("%+v", v)
		}
		v = g.inspect(t, lift, Inspect{Check: "lift annual", Result: "fail", By: "Inspector I, 4711", On: "2026-10-20", Evidence: g.report(t, 5)})
		if v.DoNotUse != "failed" {
			t.Errorf("do not use: %q", v.DoNotUse)
		}
		_, err := g.Take(ctx, g.techA, lift, Take{})
		wantFault(t, err, fault.Refused, "failed")
		_, err = g.Clear(ctx, g.boss, lift, Clear{Why: "looks fine"})
		wantFault(t, err, fault.Refused, "has not passed it since")
		v = g.inspect(t, lift, Inspect{Check: "lift annual", Result: "pass", By: "Inspector I, 4711", Evidence: g.report(t, 6)})
		if !strings.Contains(strings.Join(v.Advice, " "), "still marked DO NOT USE") {
			t.Errorf("advice %q", v.Advice)
		}
		if _, err := g.Clear(ctx, g.boss, lift, Clear{Why: "passed again"}); err != nil {
			t.Error(err)
		}
		lines, _, err := g.History(ctx, g.techB, lift, 0, "")
		if err != nil || !slices.ContainsFunc(lines, func(l LineView) bool { return l.Noun == "inspection" && l.After["result"] == "fail" }) {
			t.Errorf("history %v, %v", lines, err)
		}
	})
}

// After an abnormal load a jack is due for inspection (29 CFR 1910.244(a)(2)(vi)(c)),
// cleared or not, until it passed; no look clears it before that.
func TestAnOverloadedJackIsInspected(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		jack := g.tool(t, kind("floor jack"))
		pass := Inspect{Check: "jack six-month", Result: "pass", By: "Tech A"}
		g.inspect(t, jack, pass)
		g.clock.advance(time.Hour)
		if _, err := g.Wrong(ctx, g.techB, jack, Wrong{What: "overloaded"}); err != nil {
			t.Fatal(err)
		}
		if got := g.dueOf(t, g.techA, jack, 0); got != "2026-10-30 jack six-month overloaded on 2026-10-30; it is due until it passes after that" {
			t.Errorf("due: %q", got)
		}
		_, err := g.Clear(ctx, g.boss, jack, Clear{Why: "looks fine"})
		wantFault(t, err, fault.Refused, "1910.244")
		g.clock.advance(time.Hour)
		g.inspect(t, jack, pass)
		if got := g.dueOf(t, g.techA, jack, 365); got != "2027-04-30 jack six-month" {
			t.Errorf("due: %q", got)
		}
		if _, err := g.Clear(ctx, g.boss, jack, Clear{Why: "inspected"}); err != nil {
			t.Error(err)
		}
	})
}

// What cannot be recorded, and which values are at fault.
func TestInspectRefuses(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		lift, ext, own := g.tool(t, kind("lift")), g.tool(t, kind("fire extinguisher")), g.tool(t, owned(g.techB))
		paper := g.report(t, 7)
		cases := []struct {
			name, number string
			in           Inspect
			pointers     string
		}{
			{"no person and no paper", lift, Inspect{Check: "lift annual", Result: "pass"}, "#/by #/evidence"},
			{"no result", lift, Inspect{Check: "lift annual"}, "#/result"},
			{"no check", lift, Inspect{Result: "pass"}, "#/check"},
			{"a check that nobody knows", lift, Inspect{Check: "moon phase", Result: "pass"}, "#/check"},
			{"tomorrow", lift, Inspect{Check: "lift annual", Result: "pass", By: "I", On: "2026-10-31", Evidence: paper}, "#/on"},
			{"a day twice", lift, Inspect{Check: "lift annual", Result: "pass", By: "I", On: "2026-10-01", Happened: "2026-10-01T10:00", Evidence: paper}, "#/on"},
			{"a day of no calendar", lift, Inspect{Check: "lift annual", Result: "pass", By: "I", On: "2026-02-30", Evidence: paper}, "#/on"},
			{"six years on an extinguisher that is not said to be one of those", ext, Inspect{Check: "extinguisher six-year", Result: "pass", By: "I"}, "#/check"},
			{"no day on the tag", ext, Inspect{Check: "extinguisher hydrostatic", Result: "pass", By: "I"}, "#/next"},
			{"rarer than its rule", lift, Inspect{Check: "lift annual", Plan: &InspectionPlan{Months: ptr(24)}}, "#/plan/every"},
			{"not held, without a reason", lift, Inspect{Check: "lift annual", Plan: &InspectionPlan{Dropped: ptr(true)}}, "#/plan/why"},
			{"a check that is not made on it", ext, Inspect{Check: "lift annual", Result: "pass", By: "I", Evidence: paper}, "#/check"},
			{"a plan that is not for it", lift, Inspect{Check: "jack six-month", Plan: &InspectionPlan{Months: ptr(3)}}, "#/check"},
			{"asked for and entered at once", lift, Inspect{Check: "lift annual", Result: "pass", By: "I", Evidence: paper, Plan: &InspectionPlan{Again: ptr("moved")}}, "#/plan/again"},
			{"nobody's rule", lift, Inspect{Check: "lift annual", Plan: &InspectionPlan{Whose: ptr("moon")}}, "#/plan/whose"},
		}
		before := g.lines(t)
		for _, c := range cases {
			t.Run(c.name, func(t *testing.T) {
				_, err := g.Inspect(ctx, g.boss, c.number, c.in)
				wantPointers(t, err, c.pointers)
			})
		}
		_, err := g.Inspect(ctx, g.techA, own, Inspect{Check: "oil", Plan: &InspectionPlan{Days: ptr(7)}})
		wantFault(t, err, fault.Forbidden, "may not")
		if after := g.lines(t); after != before {
			t.Errorf("%d lines were left behind", after-before)
		}
	})
}

// The address of a calendar opens dates until it is revoked or its person leaves;
// the same facts give the same bytes; guesses are counted.
func TestACalendarIsOpenedByItsAddress(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		jack := g.tool(t, kind("floor jack"), owned(g.techA), func(in *register.New) { in.Bought, in.WarrantyMonths = ptr("2026-01-31"), ptr(int64(13)) })
		mine, err := g.AddFeed(ctx, g.techA, NewFeed{Name: "phone"})
		if err != nil || mine.Secret == "" || mine.ForName != "Tech A" {
			t.Fatalf("%+v, %v", mine, err)
		}
		shops, err := g.AddFeed(ctx, g.manager, NewFeed{Name: "office", For: "shop"})
		if err != nil {
			t.Fatal(err)
		}
		read := func(secret string) (string, error) {
			var b bytes.Buffer
			err := g.WriteFeed(ctx, secret, "192.0.2.1", &b)
			return b.String(), err
		}
		first, err := read(mine.Secret)
		if err != nil || !strings.Contains(first, "jack six-month: floor jack "+jack) || !strings.Contains(first, "warranty ends") || strings.Contains(first, "289") {
			t.Errorf("%s, %v", first, err)
		}
		g.clock.advance(time.Hour)
		if again, _ := read(mine.Secret); again != first {
			t.Error("the same facts gave other bytes")
		}
		if got, err := read(shops.Secret); err != nil || strings.Contains(got, "warranty") || !strings.Contains(got, jack) {
			t.Errorf("the shop's: %s, %v", got, err)
		}
		if list, err := g.Feeds(ctx, g.techB); err != nil || len(list) != 0 {
			t.Errorf("another sees %v, %v", list, err)
		}
		_, err = g.AddFeed(ctx, g.techB, NewFeed{Name: "x", For: "Tech A"})
		wantFault(t, err, fault.Forbidden, "would show what is theirs")
		_, err = g.RevokeFeed(ctx, g.techB, mine.ID)
		wantFault(t, err, fault.Forbidden, "may not")
		if _, err := g.Authenticate(ctx, mine.Secret); !fault.Is(err, fault.Unauthenticated) {
			t.Errorf("it opens more than a calendar: %v", err)
		}
		if _, err := g.RevokeFeed(ctx, g.manager, shops.ID); err != nil {
			t.Fatal(err)
		}
		_, err = read(shops.Secret)
		wantFault(t, err, fault.NotFound, "no calendar")
		if _, err := g.Leave(ctx, g.boss, g.techA.Person, Leave{}); err != nil {
			t.Fatal(err)
		}
		_, err = read(mine.Secret)
		wantFault(t, err, fault.NotFound, "no calendar")
		for range 9 {
			_, err = read("guess")
		}
		wantFault(t, err, fault.Throttled, "too many")
	})
}

// Sorts of what is due are those of the lead times.
func TestEverySortHasALeadTime(t *testing.T) {
	through := throughs(settings.Lead{}, "2026-10-30", nil)
	for _, s := range due.Sorts() {
		if through[s] == "" {
			t.Errorf("%s has none", s)
		}
	}
}
