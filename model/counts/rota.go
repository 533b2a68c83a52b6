package counts

import (
	"cmp"
	"maps"
	"math"
	"slices"
	"strings"

	"pawl/model/dates"
)

// Turn is what a rotating plan knows of one tool.
type Turn struct {
	Tool  string     // its id
	Place string     // id of where it belongs; empty: no place is on record
	Whose string     // over whose money its price is; empty = the shop's
	Worth Worth      // as far as it is on record
	Seen  dates.Date // last seen: by a count, by a scan of custody, by being used; empty: never
	Since dates.Date // registered: from when a tool never seen is waited for
}

// Rota keeps the turns of all tools, so that the share of a day can be told without going
// through them: by Plan, for those who may see the same prices. It is not safe for use by
// several goroutines at once.
type Rota struct {
	at     map[string]int32 // of a tool
	turns  []turn
	names  []string // of places and of owners
	number map[string]int32
	here   int
	plans  []*Plan // the one asked for last is the last
}

// turn is a Turn as it is kept of a million tools.
type turn struct {
	tool         string
	minor        int64
	place, whose int32
	seen, since  int32 // days since 1970-01-01, or never
	known, here  bool
}

const (
	never = math.MinInt32 / 2
	// plansKept is how many plans are kept: askers who may see the same prices share one.
	plansKept = 8
	// exactUpTo is up to how many tools the classes are reckoned anew at every change of
	// worth. In a larger shop a tool that came or whose price changed is of the class of
	// those that were worth as much, until one in a hundred changed so.
	exactUpTo = 5000
)

// NewRota is a rota without tools.
func NewRota() *Rota { return &Rota{at: map[string]int32{}, number: map[string]int32{}} }

// Len is how many tools are on it.
func (r *Rota) Len() int { return r.here }

func (r *Rota) named(name string) int32 {
	i, known := r.number[name]
	if !known {
		i = int32(len(r.names))
		r.names, r.number[name] = append(r.names, name), i
	}
	return i
}

func dayNumber(d dates.Date) int32 {
	if d == "" {
		return never
	}
	return int32(dates.DaysBetween("1970-01-01", d))
}

func dayOf(number int32) dates.Date {
	if number == never {
		return ""
	}
	return dates.Date("1970-01-01").AddDays(int(number))
}

// Put says how it stands with a tool now.
func (r *Rota) Put(t Turn) {
	kept := turn{tool: t.Tool, minor: t.Worth.Minor, known: t.Worth.Known, place: r.named(t.Place), whose: r.named(t.Whose),
		seen: dayNumber(t.Seen), since: dayNumber(t.Since), here: true}
	i, known := r.at[t.Tool]
	if !known {
		i = int32(len(r.turns))
		r.at[t.Tool], r.turns = i, append(r.turns, turn{tool: t.Tool})
	}
	r.set(i, kept)
}

// Drop takes a tool off the rota.
func (r *Rota) Drop(tool string) {
	if i, known := r.at[tool]; known {
		gone := r.turns[i]
		gone.here = false
		r.set(i, gone)
	}
}

// Saw says that a tool was seen on a day.
func (r *Rota) Saw(tool string, on dates.Date) {
	if i, known := r.at[tool]; known {
		t := r.turns[i]
		t.seen = max(t.seen, dayNumber(on))
		r.set(i, t)
	}
}

func (r *Rota) set(i int32, now turn) {
	was := r.turns[i]
	if was == now {
		return
	}
	worth := was.here != now.here || was.known != now.known || was.minor != now.minor || was.whose != now.whose
	class := make([]uint8, len(r.plans))
	for n, p := range r.plans {
		// Of tools worth the same some are of one class and some of the next: whose worth is as
		// it was stays where it is.
		if class[n] = p.classLike(now); !worth && int(i) < len(p.class) {
			class[n] = p.class[i]
		}
		p.drop(i)
	}
	if r.turns[i] = now; now.here != was.here {
		r.here += map[bool]int{true: 1, false: -1}[now.here]
	}
	for n, p := range r.plans {
		p.add(i, class[n])
		if worth && (was.known || now.known) {
			p.changed++
		}
	}
}

// Plan is the rota for whoever may see the same prices. Sees says whose those are, and key
// is another for each other answer of it.
func (r *Rota) Plan(key string, sees func(whose string) bool) *Plan {
	i := slices.IndexFunc(r.plans, func(p *Plan) bool { return p.key == key })
	var p *Plan
	if i >= 0 {
		p = r.plans[i]
		r.plans = slices.Delete(r.plans, i, i+1)
	}
	if p == nil || p.changed > 0 && (r.here <= exactUpTo || p.changed > r.here/100) {
		p = newPlan(r, key, sees)
	}
	if r.plans = append(r.plans, p); len(r.plans) > plansKept {
		r.plans = slices.Delete(r.plans, 0, 1)
	}
	return p
}

// Plan deals the tools of a rota out by class, and by the day on which each was last seen.
type Plan struct {
	rota       *Rota
	key        string
	sees       func(whose string) bool
	class      []uint8 // of each tool: one of planned
	sizes      [len(planned)]int
	groups     map[groupKey]*group
	lowA, lowB int64 // the least that a tool of A, and of B, was worth when they were reckoned
	changed    int   // tools whose worth changed since
}

// planned are the classes, in the order of the numbers by which a Plan knows them.
var planned = [...]string{ClassA, ClassB, ClassC, Unpriced}

// off is the class of a tool that is not on the plan.
const off = uint8(len(planned))

// groupKey is what the tools of a group have in common. Of those never seen the day is
// that on which they came.
type groupKey struct {
	class uint8
	seen  bool
	day   int32
}

// group are tools by place, those of a place by their ids.
type group struct {
	tools int
	at    map[int32][]int32
}

func newPlan(r *Rota, key string, sees func(string) bool) *Plan {
	p := &Plan{rota: r, key: key, sees: sees, groups: map[groupKey]*group{}, lowA: math.MaxInt64, lowB: math.MaxInt64}
	order := make([]int32, 0, r.here)
	for i, t := range r.turns {
		if t.here {
			order = append(order, int32(i))
		}
	}
	slices.SortFunc(order, func(a, b int32) int { return strings.Compare(r.turns[a].tool, r.turns[b].tool) })
	worths := make([]Worth, len(order))
	for at, i := range order {
		if t := r.turns[i]; t.known && sees(r.names[t.whose]) {
			worths[at] = Worth{Minor: t.minor, Known: true}
		}
	}
	p.class = slices.Repeat([]uint8{off}, len(r.turns))
	for at, class := range Classes(worths) {
		switch class {
		case ClassA:
			p.lowA = min(p.lowA, worths[at].Minor)
		case ClassB:
			p.lowB = min(p.lowB, worths[at].Minor)
		}
		p.add(order[at], uint8(slices.Index(planned[:], class)))
	}
	return p
}

// classLike is the class of a tool by what others are worth.
func (p *Plan) classLike(t turn) uint8 {
	switch {
	case !t.here:
		return off
	case !t.known || !p.sees(p.rota.names[t.whose]):
		return 3
	case t.minor >= p.lowA:
		return 0
	case t.minor >= p.lowB:
		return 1
	}
	return 2
}

func (p *Plan) groupOf(i int32) groupKey {
	t := p.rota.turns[i]
	if t.seen != never {
		return groupKey{p.class[i], true, t.seen}
	}
	return groupKey{p.class[i], false, t.since}
}

// find says where in a list by ids a tool is, or belongs.
func (p *Plan) find(list []int32, i int32) (int, bool) {
	id := p.rota.turns[i].tool
	if n := len(list); n == 0 || p.rota.turns[list[n-1]].tool < id { // most are added in their order
		return n, false
	}
	return slices.BinarySearchFunc(list, id, func(j int32, id string) int { return strings.Compare(p.rota.turns[j].tool, id) })
}

func (p *Plan) add(i int32, class uint8) {
	for len(p.class) <= int(i) {
		p.class = append(p.class, off)
	}
	if p.class[i] = class; class == off {
		return
	}
	key, place := p.groupOf(i), p.rota.turns[i].place
	g := p.groups[key]
	if g == nil {
		g = &group{at: map[int32][]int32{}}
		p.groups[key] = g
	}
	at, _ := p.find(g.at[place], i)
	g.at[place] = slices.Insert(g.at[place], at, i)
	g.tools++
	p.sizes[class]++
}

// drop takes a tool out of its group, before its turn changes.
func (p *Plan) drop(i int32) {
	if int(i) >= len(p.class) || p.class[i] == off {
		return
	}
	key, place := p.groupOf(i), p.rota.turns[i].place
	g := p.groups[key]
	at, _ := p.find(g.at[place], i)
	if g.at[place] = slices.Delete(g.at[place], at, at+1); len(g.at[place]) == 0 {
		delete(g.at, place)
	}
	if g.tools--; g.tools == 0 {
		delete(p.groups, key)
	}
	p.sizes[p.class[i]]--
	p.class[i] = off
}

// queued is a group with the day by which its tools are wanted, counted from today: under
// 0 it is past.
type queued struct {
	*group
	groupKey
	wanted int
}

// first gives the n tools that are wanted first; those of one day in walking order.
func (p *Plan) first(queue []queued, n int, rank func(place string) int) (out []int32) {
	slices.SortFunc(queue, func(a, b queued) int { return cmp.Compare(a.wanted, b.wanted) })
	for len(queue) > 0 && len(out) < n {
		same := 1
		for same < len(queue) && queue[same].wanted == queue[0].wanted {
			same++
		}
		out = append(out, p.walked(queue[:same], n-len(out), rank)...)
		queue = queue[same:]
	}
	return out
}

// walked gives the first n tools of some groups in walking order.
func (p *Plan) walked(groups []queued, n int, rank func(place string) int) (out []int32) {
	places := map[int32]int{}
	for _, g := range groups {
		for place := range g.at {
			places[place] = rank(p.rota.names[place])
		}
	}
	order := slices.SortedFunc(maps.Keys(places), func(a, b int32) int { return cmp.Compare(places[a], places[b]) })
	for _, place := range order {
		var here []int32
		for _, g := range groups {
			list := g.at[place]
			here = append(here, list[:min(len(list), n-len(out))]...)
		}
		if len(groups) > 1 {
			slices.SortFunc(here, func(a, b int32) int { return strings.Compare(p.rota.turns[a].tool, p.rota.turns[b].tool) })
		}
		if out = append(out, here[:min(len(here), n-len(out))]...); len(out) == n {
			break
		}
	}
	return out
}
