package counts

import (
	"cmp"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"pawl/model/dates"
)

// plainShare is the share of a day by going through every tool, as its rule is written.
func plainShare(today dates.Date, turns []Turn, sees func(string) bool, round int, rank func(string) int) (share DayShare) {
	worths := make([]Worth, len(turns))
	for i, t := range turns {
		if sees(t.Whose) {
			worths[i] = t.Worth
		}
	}
	classes := Classes(worths)
	type waiting struct {
		Standing
		wanted int
	}
	sizes, within, queue := map[string]int{}, make([]int, round+1), []waiting(nil)
	for i, t := range turns {
		sizes[classes[i]]++
		days := RoundFor(classes[i], round)
		last := cmp.Or(t.Seen, t.Since).AddDays(days)
		if last < today {
			share.Late++
		}
		w := waiting{Standing{t.Tool, t.Place, classes[i], t.Seen}, dates.DaysBetween(today, last) - reserve(days)}
		for at := max(0, w.wanted); at <= round; at += days - reserve(days) {
			within[at]++
		}
		queue = append(queue, w)
	}
	whole, parts := 0, 1
	for class, n := range sizes { // Σ n/days, exactly
		days := RoundFor(class, round) - reserve(RoundFor(class, round))
		whole, parts = whole*days+n*parts, parts*days
	}
	share.Usual = (whole + parts - 1) / parts
	asked, sum := 0, 0
	for h, n := range within {
		sum += n
		asked = max(asked, sum-h*share.Usual)
	}
	asked = min(asked, len(turns))
	n := asked
	if share.Late > 0 {
		n = min(n, 3*share.Usual)
	}
	share.Behind = asked - n
	walk := func(a, b Standing) int { return cmp.Or(rank(a.Place)-rank(b.Place), strings.Compare(a.Tool, b.Tool)) }
	slices.SortFunc(queue, func(a, b waiting) int { return cmp.Or(a.wanted-b.wanted, walk(a.Standing, b.Standing)) })
	for _, w := range queue[:n] {
		if w.Seen != today {
			share.Tools = append(share.Tools, w.Standing)
		}
	}
	share.Look = len(share.Tools)
	slices.SortFunc(share.Tools, walk)
	return share
}

// A rota that follows what happens to tools gives on any day, to anybody, what going
// through all of them gives.
func TestARotaThatFollowsGivesTheSameShare(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r, all := NewRota(), map[string]Turn{}
		today := dates.Date("2026-06-01")
		rank := func(place string) int { return len(place) }
		watchers := []func(string) bool{
			func(string) bool { return true }, func(whose string) bool { return whose == "" }, func(whose string) bool { return whose == "a" }, func(string) bool { return false },
		}
		for range rapid.IntRange(1, 60).Draw(t, "acts") {
			id := fmt.Sprintf("T-%02d", rapid.IntRange(0, 20).Draw(t, "tool"))
			was, on := all[id]
			switch what := rapid.IntRange(0, 4).Draw(t, "what"); {
			case what == 0 && on:
				r.Drop(id)
				delete(all, id)
			case what == 1 && on:
				was.Seen = max(was.Seen, today)
				r.Saw(id, today)
				all[id] = was
			case what == 2:
				today = today.AddDays(rapid.IntRange(0, 9).Draw(t, "days"))
			default:
				now := Turn{Tool: id, Place: strings.Repeat("p", rapid.IntRange(0, 3).Draw(t, "place")), Whose: rapid.SampledFrom([]string{"", "a", "b"}).Draw(t, "whose"),
					Worth: Worth{Minor: int64(rapid.IntRange(0, 4).Draw(t, "worth")) * 1000, Known: rapid.Bool().Draw(t, "known")}, Since: today}
				if !now.Worth.Known {
					now.Worth.Minor = 0
				}
				if rapid.Bool().Draw(t, "seen") {
					now.Seen = today.AddDays(-rapid.IntRange(0, 40).Draw(t, "ago"))
				}
				r.Put(now)
				all[id] = now
			}
			if rapid.Bool().Draw(t, "ask") {
				who, round := rapid.IntRange(0, 3).Draw(t, "who"), rapid.IntRange(1, 50).Draw(t, "round")
				var turns []Turn
				for _, turn := range all {
					turns = append(turns, turn)
				}
				slices.SortFunc(turns, func(a, b Turn) int { return strings.Compare(a.Tool, b.Tool) })
				want := plainShare(today, turns, watchers[who], round, rank)
				got, err := r.Plan(fmt.Sprint(who), watchers[who]).Share(today, round, -1, rank)
				if err != nil || !reflect.DeepEqual(got, want) {
					t.Fatalf("%+v\nwant %+v, %v", got, want, err)
				}
				most := rapid.IntRange(0, 4).Draw(t, "most")
				some, _ := r.Plan(fmt.Sprint(who), watchers[who]).Share(today, round, most, rank)
				if some.Look != want.Look || len(some.Tools) != min(most, want.Look) || some.Usual != want.Usual || some.Late != want.Late || some.Behind != want.Behind {
					t.Fatalf("the first %d: %+v\nof %+v", most, some, want)
				}
				if r.Len() != len(all) {
					t.Fatalf("%d tools of %d", r.Len(), len(all))
				}
			}
		}
	})
}

// In a large shop a tool that comes is of the class of those that are worth as much, and
// after one in a hundred came all are reckoned anew.
func TestClassesOfALargeShopFollow(t *testing.T) {
	r := NewRota()
	put := func(i int, minor int64) {
		r.Put(Turn{Tool: fmt.Sprintf("T-%06d", i), Since: "2026-01-01", Worth: Worth{minor, true}})
	}
	const shop = 2 * exactUpTo
	for i := range shop {
		put(i, int64(1+i%100*100))
	}
	all := func(string) bool { return true }
	p := r.Plan("", all)
	put(shop, 9_901)
	put(shop+1, 1)
	if again := r.Plan("", all); again != p || planned[p.class[shop]] != ClassA || planned[p.class[shop+1]] != ClassC {
		t.Errorf("%s and %s", planned[p.class[shop]], planned[p.class[shop+1]])
	}
	for i := range shop / 50 {
		put(shop+2+i, 1)
	}
	if r.Plan("", all) == p {
		t.Error("the classes were not reckoned anew")
	}
}

// The share of a day is not told by going through the tools: of a hundred times as many,
// last seen on as many days, it takes hardly longer.
func TestAShareIsToldWithoutGoingThroughTheTools(t *testing.T) {
	if testing.Short() {
		t.Skip("a ratio of times means nothing here")
	}
	all, rank := func(string) bool { return true }, func(place string) int { return len(place) }
	of := func(tools int) *Plan {
		r := NewRota()
		for i := range tools {
			r.Put(Turn{Tool: fmt.Sprintf("T-%08d", i), Place: "Bay"[:i%3], Since: dates.Date("2026-01-01").AddDays(i % 90), Worth: Worth{int64(i % 977), i%3 > 0}})
		}
		return r.Plan("", all)
	}
	small, large := of(10_000), of(1_000_000)
	took := fastest(t, func() { _, _ = small.Share("2026-04-20", 90, 5, rank) }, func() { _, _ = large.Share("2026-04-20", 90, 5, rank) })
	t.Logf("%v of 10,000 tools, %v of 1,000,000", took[0], took[1])
	if took[1] > 3*took[0] {
		t.Errorf("%v of 10,000 tools, %v of 1,000,000", took[0], took[1])
	}
}
