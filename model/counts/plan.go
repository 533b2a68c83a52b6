package counts

import (
	"cmp"
	"math/big"
	"slices"
	"strings"

	"pawl/model/dates"
	"pawl/model/fault"
)

// Standing is how it stands with a tool that a rotating plan asks for.
type Standing struct {
	Tool, Place string     // ids; of where it is expected, empty where no place is on record
	Class       string     // ClassA, ClassB, ClassC or Unpriced
	Seen        dates.Date // last seen; empty: never
}

// LongestRound is the longest round a rotating plan may have, in days.
const LongestRound = 3660

// DayShare is what a rotating plan asks for on one day.
type DayShare struct {
	Usual  int        // tools a day that the round comes to, in the long run
	Late   int        // of all tools, those whose last day is past
	Behind int        // asked for today but left out of this share, since late ones make it more than three usual days of work
	Look   int        // how many are to be looked at
	Tools  []Standing // they, or as many of those waiting longest as were asked for, in walking order
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

// Share gives the share of a day in a rotating plan in which every tool is seen
// within round days, dear ones more often. It is the least that leaves no more than a
// usual day's work for each day to come: the most, over the days h ahead, of what has to
// be seen within h days less h usual days (the demand bound of earliest-due-first
// scheduling, S. K. Baruah, A. K. Mok and L. E. Rosier, 1990, from memory). So whatever
// else shows a tool makes the share smaller, and who does every share never lets a tool
// go unseen for longer than its round. Who has fallen behind gets three usual days of
// work a day, latest first, and is told how many more there are. At most so many tools
// are given, all where most is below 0; rank orders places as one walks through the shop.
// round is 1 to LongestRound, else fault.Invalid.
func (p *Plan) Share(today dates.Date, round, most int, rank func(place string) int) (share DayShare, err error) {
	if round < 1 || round > LongestRound {
		return share, fault.New(fault.Invalid, "a round of %d days cannot be planned", round).
			WithHint("every tool is seen within 1 to %d days", LongestRound)
	}
	share.Usual = p.usual(round)
	now, ahead := int(dayNumber(today)), make([]int, round+1)
	queue := make([]queued, 0, len(p.groups))
	for key, g := range p.groups {
		days := RoundFor(planned[key.class], round)
		last := int(key.day) + days // long past where nothing is known: at once
		if last < now {
			share.Late += g.tools
		}
		q := queued{group: g, groupKey: key, wanted: min(last-now-reserve(days), round)}
		ahead[max(0, q.wanted)] += g.tools
		queue = append(queue, q)
	}
	asked := demand(queue, round, share.Usual, p.total())
	n := asked
	if share.Late > 0 {
		n = min(n, 3*share.Usual)
	}
	share.Behind = asked - n
	p.choose(&share, nearest(queue, ahead, n), n, most, now, rank)
	return share, nil
}

// nearest leaves out the groups from which none of the first n are.
func nearest(queue []queued, ahead []int, n int) []queued {
	through, sum := 0, 0
	for sum < n && through < len(ahead) {
		sum += ahead[through]
		through++
	}
	return slices.DeleteFunc(queue, func(q queued) bool { return q.wanted >= through })
}

// choose says which n of the tools are to be looked at, and gives most of them. One that
// was seen today is not, which in a small shop with a short round may be asked for.
func (p *Plan) choose(share *DayShare, queue []queued, n, most, now int, rank func(string) int) {
	again := func(q queued) bool { return q.seen && int(q.day) == now }
	pick := n
	if most >= 0 && !slices.ContainsFunc(queue, again) {
		pick = min(n, most)
	}
	share.Look = n
	var chosen []int32
	for _, i := range p.first(queue, pick, rank) {
		if t := p.rota.turns[i]; int(t.seen) == now {
			share.Look--
		} else if most < 0 || len(chosen) < most {
			chosen = append(chosen, i)
		}
	}
	slices.SortFunc(chosen, func(a, b int32) int {
		x, y := p.rota.turns[a], p.rota.turns[b]
		return cmp.Or(cmp.Compare(rank(p.rota.names[x.place]), rank(p.rota.names[y.place])), strings.Compare(x.tool, y.tool))
	})
	for _, i := range chosen {
		t := p.rota.turns[i]
		share.Tools = append(share.Tools, Standing{Tool: t.tool, Place: p.rota.names[t.place], Class: planned[p.class[i]], Seen: dayOf(t.seen)})
	}
}

// demand is how many have to be seen today so that usual ones a day do for the rest,
// each coming again when its round is over.
func demand(queue []queued, round, usual, all int) (most int) {
	within := make([]int, round+1)
	for _, q := range queue {
		days := RoundFor(planned[q.class], round)
		for at := max(0, q.wanted); at <= round; at += days - reserve(days) {
			within[at] += q.tools
		}
	}
	sum := 0
	for h, n := range within {
		sum += n
		most = max(most, sum-h*usual)
	}
	return min(most, all)
}

func (p *Plan) total() (n int) {
	for _, size := range p.sizes {
		n += size
	}
	return n
}

// usual is Σ 1/days of each tool, rounded up, the days being those planned for.
func (p *Plan) usual(round int) int {
	sum := new(big.Rat)
	for class, tools := range p.sizes {
		days := RoundFor(planned[class], round)
		sum.Add(sum, big.NewRat(int64(tools), int64(days-reserve(days))))
	}
	n, rest := new(big.Int).QuoRem(sum.Num(), sum.Denom(), new(big.Int))
	return int(n.Int64()) + rest.Sign()
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
