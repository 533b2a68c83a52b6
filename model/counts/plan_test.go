package counts

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"pawl/model/dates"
	"pawl/model/fault"
)

func TestWalkingOrder(t *testing.T) {
	ordered := []string{"Bay 1", "Bay 1/Box 1/Drawer 2", "Bay 1/Box 1/Drawer 10", "Bay 1/Box 2", "Bay 1/Cart", "Bay 2", "bay 2", "Bay 2b", "Bay 10", "Bay 10/Cart", "Van", ""}
	for i := range ordered {
		for j := range ordered {
			want := cmp.Compare(i, j)
			a, b := ordered[i], ordered[j]
			if strings.EqualFold(a, b) && a != b {
				want = strings.Compare(a, b)
			}
			if got := WalkingOrder(a, b); got != want {
				t.Errorf("%q and %q: %d, want %d", a, b, got, want)
			}
		}
	}
}

func TestWalkingOrderIsOne(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		path := rapid.StringMatching(`[aB01/ ]{0,6}`)
		a, b, c := path.Draw(t, "a"), path.Draw(t, "b"), path.Draw(t, "c")
		if WalkingOrder(a, b) != -WalkingOrder(b, a) || (WalkingOrder(a, b) == 0) != (a == b) {
			t.Fatal("not the same from both sides")
		}
		if WalkingOrder(a, b) <= 0 && WalkingOrder(b, c) <= 0 && WalkingOrder(a, c) > 0 {
			t.Fatal("a circle")
		}
	})
}

// standing is a tool as a plan in a test has it.
type standing struct {
	Tool, Path, Class string
	Seen, Since       dates.Date
}

// planOf deals tools out whose classes are given; the path of a place stands for its id.
func planOf(all []standing) *Plan {
	r := NewRota()
	p := &Plan{rota: r, groups: map[groupKey]*group{}}
	for i, s := range all {
		r.Put(Turn{Tool: s.Tool, Place: s.Path, Seen: s.Seen, Since: s.Since})
		p.add(int32(i), uint8(slices.Index(planned[:], s.Class)))
	}
	return p
}

// byPath orders places as one walks.
func byPath(all []standing) func(string) int {
	var paths []string
	for _, s := range all {
		paths = append(paths, s.Path)
	}
	slices.SortFunc(paths, WalkingOrder)
	return func(path string) int { return slices.Index(paths, path) }
}

func shareOn(t interface{ Fatal(...any) }, today dates.Date, all []standing, round int) DayShare {
	s, err := planOf(all).Share(today, round, -1, byPath(all))
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestTodaysShare(t *testing.T) {
	const today = dates.Date("2026-11-25")
	all := []standing{
		{"dear, 11 days unseen", "Bay 2/Drawer 1", ClassA, today.AddDays(-11), ""},
		{"cheap, 11 days unseen", "Bay 1/Drawer 1", ClassC, today.AddDays(-11), ""},
		{"cheap, its day", "Bay 10/Drawer 1", ClassC, today.AddDays(-30), ""},
		{"never seen, long here", "Bay 1/Drawer 2", ClassB, "", today.AddDays(-400)},
		{"never seen, new", "Bay 1/Drawer 2", Unpriced, "", today},
		{"seen this morning", "Bay 1", ClassA, today, ""},
	}
	got := shareOn(t, today, all, 30)
	var names []string
	for _, s := range got.Tools {
		names = append(names, s.Tool)
	}
	// Usual: 2/8 + 2/27 + 2/12, rounded up: one a day. The dear one is past its ten days,
	// the one never seen long past its fifteen.
	if want := "[never seen, long here dear, 11 days unseen cheap, its day]"; fmt.Sprint(names) != want {
		t.Errorf("%v, want %s", names, want)
	}
	if got.Usual != 1 || got.Late != 2 || got.Behind != 0 {
		t.Errorf("%+v", got)
	}
	for _, round := range []int{0, -1, LongestRound + 1} {
		if _, err := planOf(all).Share(today, round, -1, byPath(all)); !fault.Is(err, fault.Invalid) {
			t.Error(round, err)
		}
	}
	if s := shareOn(t, today, nil, 30); len(s.Tools) != 0 || s.Usual != 0 {
		t.Errorf("an empty shop: %+v", s)
	}
}

// TestAShopThatNeverCountedIsNotDrowned: 900 tools late on one day are asked for three
// usual days of work at a time, and none is passed over in silence.
func TestAShopThatNeverCountedIsNotDrowned(t *testing.T) {
	const today = dates.Date("2026-11-25")
	var all []standing
	for i := range 900 {
		all = append(all, standing{fmt.Sprint(i), fmt.Sprintf("Bay %d", i%7), ClassC, "", today.AddDays(-100)})
	}
	got := shareOn(t, today, all, 90)
	if len(got.Tools) != 33 || got.Usual != 11 || got.Late != 900 || got.Behind != 867 {
		t.Errorf("%d tools, usual %d, late %d, behind %d", len(got.Tools), got.Usual, got.Late, got.Behind)
	}
	if !slices.IsSortedFunc(got.Tools, func(a, b Standing) int {
		return cmp.Or(WalkingOrder(a.Place, b.Place), strings.Compare(a.Tool, b.Tool))
	}) {
		t.Error("not in walking order")
	}
}

// TestEveryToolIsSeenWithinItsRound does each day's share for three rounds, other work
// showing a tool now and then and weekends off: no tool is longer unseen than its
// round. Where the rounds of all leave little of a usual day over, what begins on one day
// is drawn apart by looks that come early, and more so where weekends are off: up to three
// times the usual were seen in 4,000 drawn shops, and more than four are a fault.
func TestEveryToolIsSeenWithinItsRound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		start := dates.Date("2026-01-01")
		round := rapid.IntRange(3, 60).Draw(t, "round")
		weekends := round >= 36 // dear ones come up every twelve days then, three of them in hand
		classes := rapid.SliceOfN(rapid.SampledFrom([]string{ClassA, ClassB, ClassC, ClassC, ClassC, Unpriced}), 1, 120).Draw(t, "classes")
		all := make([]standing, len(classes))
		for i, class := range classes {
			all[i] = standing{fmt.Sprint(i), fmt.Sprintf("Bay %d", i%9), class, "", start}
		}
		looks := 0
		for day := range 3 * round {
			today := start.AddDays(day)
			if i := rapid.IntRange(0, 2*len(all)).Draw(t, "used"); i < len(all) {
				all[i].Seen = today
			}
			if weekends && (day%7 == 5 || day%7 == 6) {
				continue
			}
			share := shareOn(t, today, all, round)
			if share.Late > 0 || share.Behind > 0 {
				t.Fatalf("day %d: %d late, %d behind", day, share.Late, share.Behind)
			}
			if looks += len(share.Tools); looks > 4*(day+1)*share.Usual+len(all) {
				t.Fatalf("day %d: %d looks so far, usual %d a day", day, looks, share.Usual)
			}
			for _, s := range share.Tools {
				at := slices.IndexFunc(all, func(a standing) bool { return a.Tool == s.Tool })
				all[at].Seen = today
			}
			// What was seen early comes again early, which may ask for a little more, but
			// not for what was seen today.
			for _, s := range shareOn(t, today, all, round).Tools {
				if s.Seen == today {
					t.Fatalf("day %d: %s was seen today", day, s.Tool)
				}
			}
		}
	})
}
