package counts

import (
	"cmp"
	"math/big"
	"slices"
	"strings"

	"pawl/model/dates"
	"pawl/model/fault"
)

// Standing is what the rotating plan knows of one tool.
type Standing struct {
	Tool  string     // its id
	Path  string     // where it is expected, "Bay 1/Cart/Drawer 2"; empty where no place is on record
	Class string     // ClassA, ClassB, ClassC or Unpriced
	Seen  dates.Date // last seen: by a count, by a scan of custody, by being used; empty: never
	Since dates.Date // registered, or the plan's beginning: from when a tool never seen is waited for
}

// LongestRound is the longest round a rotating plan may have, in days.
const LongestRound = 3660

// DayShare is what a rotating plan asks for on one day.
type DayShare struct {
	Tools  []Standing // to look at, in walking order
	Usual  int        // tools a day that the round comes to, in the long run
	Late   int        // of all tools, those whose last day is past
	Behind int        // asked for today but left out of this share, since late ones make it more than three usual days of work
}

// RoundFor is the number of days within which a tool of a class is seen again, in a
// round of that many days: A in a third of it, B and the unpriced in half, C in the
// whole, at least one day. That dear ones are counted more often is common practice, no
// source; the fractions are our own choice.
func RoundFor(class string, round int) int {
	switch class {
	case ClassA:
		return max(1, round/3)
	case ClassB, Unpriced:
		return max(1, round/2)
	}
	return max(1, round)
}

// reserve is how many days early a tool is planned for, so that a weekend does not
// make it late.
func reserve(days int) int { return min(3, days/4) }

// ShareOn gives the share of a day in a rotating plan in which every tool is seen
// within round days, dear ones more often. It is the least that leaves no more than a
// usual day's work for each day to come: the most, over the days h ahead, of what has to
// be seen within h days less h usual days (the demand bound of earliest-due-first
// scheduling, S. K. Baruah, A. K. Mok and L. E. Rosier, 1990, from memory). So whatever
// else shows a tool makes the share smaller, and who does every share never lets a tool
// go unseen for longer than its round. Who has fallen behind gets three usual days of
// work a day, latest first, and is told how many more there are. round is 1 to
// LongestRound, else fault.Invalid.
func ShareOn(today dates.Date, all []Standing, round int) (DayShare, error) {
	if round < 1 || round > LongestRound {
		return DayShare{}, fault.New(fault.Invalid, "a round of %d days cannot be planned", round).
			WithHint("every tool is seen within 1 to %d days", LongestRound)
	}
	share := DayShare{Usual: usual(all, round)}
	queue := make([]waiting, len(all))
	for i, s := range all {
		days := RoundFor(s.Class, round)
		last := cmp.Or(s.Seen, s.Since).AddDays(days) // none where nothing is known: at once
		queue[i] = waiting{s, max(0, dates.DaysBetween(today, last)-reserve(days))}
		if last < today {
			share.Late++
		}
	}
	slices.SortFunc(queue, func(a, b waiting) int { return cmp.Or(cmp.Compare(a.days, b.days), walk(a.Standing, b.Standing)) })
	asked := demand(queue, round, share.Usual)
	n := asked
	if share.Late > 0 {
		n = min(n, 3*share.Usual)
	}
	share.Behind = asked - n
	for _, w := range queue[:n] {
		if w.Seen != today { // in a small shop with a short round
			share.Tools = append(share.Tools, w.Standing)
		}
	}
	slices.SortFunc(share.Tools, walk)
	return share, nil
}

// waiting is a tool and the days until it is to be seen, 0 for today or earlier.
type waiting struct {
	Standing
	days int
}

// demand is how many have to be seen today so that usual ones a day do for the rest,
// each coming again when its round is over.
func demand(queue []waiting, round, usual int) (most int) {
	within := make([]int, round+1)
	for _, w := range queue {
		days := RoundFor(w.Class, round)
		for at := w.days; at <= round; at += days - reserve(days) {
			within[at]++
		}
	}
	sum := 0
	for h, n := range within {
		sum += n
		most = max(most, sum-h*usual)
	}
	return min(most, len(queue))
}

func walk(a, b Standing) int {
	return cmp.Or(WalkingOrder(a.Path, b.Path), strings.Compare(a.Tool, b.Tool))
}

// usual is Σ 1/days of each tool, rounded up, the days being those planned for.
func usual(all []Standing, round int) int {
	per := map[int]int{}
	for _, s := range all {
		days := RoundFor(s.Class, round)
		per[days-reserve(days)]++
	}
	sum := new(big.Rat)
	for days, tools := range per {
		sum.Add(sum, big.NewRat(int64(tools), int64(days)))
	}
	n, rest := new(big.Int).QuoRem(sum.Num(), sum.Denom(), new(big.Int))
	return int(n.Int64()) + rest.Sign()
}

// NotSeenSince gives the tools that were last seen before a day, or never, the longest
// unseen first; those of one day in walking order.
func NotSeenSince(all []Standing, day dates.Date) []Standing {
	var out []Standing
	for _, s := range all {
		if s.Seen == "" || s.Seen < day {
			out = append(out, s)
		}
	}
	slices.SortStableFunc(out, func(a, b Standing) int {
		return cmp.Or(cmp.Compare(a.Seen, b.Seen), walk(a, b))
	})
	return out
}

// WalkingOrder compares two place paths as one walks through the shop: level by level,
// numbers in a name by their size, so that "Bay 2" comes before "Bay 10" and a bay
// before what stands in it. No place comes last.
func WalkingOrder(a, b string) int {
	switch {
	case a == b:
		return 0
	case a == "":
		return 1
	case b == "":
		return -1
	}
	as, bs := strings.Split(a, "/"), strings.Split(b, "/")
	for i := range min(len(as), len(bs)) {
		if c := inWords(as[i], bs[i]); c != 0 {
			return c
		}
	}
	return cmp.Or(cmp.Compare(len(as), len(bs)), strings.Compare(a, b))
}

// inWords compares two names, runs of digits by their value, letters without their case.
func inWords(a, b string) int {
	a, b = strings.ToLower(a), strings.ToLower(b)
	for a != "" && b != "" {
		x, y := digits(a), digits(b)
		if x != "" && y != "" {
			m, n := strings.TrimLeft(x, "0"), strings.TrimLeft(y, "0")
			if c := cmp.Or(cmp.Compare(len(m), len(n)), strings.Compare(m, n)); c != 0 {
				return c
			}
			a, b = a[len(x):], b[len(y):]
			continue
		}
		if a[0] != b[0] {
			return cmp.Compare(a[0], b[0])
		}
		a, b = a[1:], b[1:]
	}
	return cmp.Compare(len(a), len(b))
}

func digits(s string) string {
	return s[:len(s)-len(strings.TrimLeft(s, "0123456789"))]
}
