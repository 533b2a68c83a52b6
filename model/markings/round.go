package markings

import (
	"cmp"
	"slices"
	"strings"

	"pawl/model/dates"
)

// roundDays is the time from one round to the next.
const roundDays = 30

// Candidate is a marking that may be on this month's list, with what would be lost.
type Candidate struct {
	Tool, Marking string // ids
	Number        string // of the tool
	Kind          string
	Place         string // path
	Method        Method
	Forecast      Forecast
	Cost          *int64 // replacement, minor units; nil = not known
	PlatePhoto    bool   // a photo shows the serial
	Receipt       bool   // there is proof of purchase
	OwnersNumber  bool   // a permanent owner's number is on the tool
}

// CostFrom says where a replacement cost comes from.
type CostFrom string

const (
	CostKnown   CostFrom = "known"
	CostKind    CostFrom = "median of its kind"  // in this shop
	CostShop    CostFrom = "median of all tools" // no tool of its kind has a known cost
	CostUnknown CostFrom = "not known"           // nor has any other
)

// Priced is what another tool of the shop would cost to replace, minor units.
type Priced struct {
	Kind string
	Cost int64
}

// Reason says why a marking is on the list.
type Reason string

const (
	PhotoDue    Reason = "photo due"    // by the month's end
	ActNow      Reason = "act now"      // protect it, or add an owner's number
	LookAtFirst Reason = "never looked" // and nobody knows when it was new
)

// Row is a marking on this month's list.
type Row struct {
	Candidate
	Reasons  []Reason
	Chance   *float64 // that the serial is lost before the next round; nil = not known
	Cost     *int64   // as CostFrom says; nil = not known
	CostFrom CostFrom
	Proof    float64 // 1 none, 0.5 a photo of the plate, 0.25 that and a receipt
	AtStake  float64 // chance × cost × Proof: what the list is ordered by
}

// Round is this month's list, most to lose first: what is due by the month's end, what
// is to be seen to now, and what nobody ever looked at. others are the tools of which
// no marking is on record: they tell what tools of a kind cost. Equal rows stand in the
// order of chance, day due and number.
func Round(all []Candidate, others []Priced, today dates.Date) (rows []Row) {
	kinds, shop := medians(all, others)
	end := today.MonthEnd()
	for _, c := range all {
		if reasons := c.reasons(end); len(reasons) > 0 {
			rows = append(rows, c.row(reasons, kinds, shop))
		}
	}
	slices.SortFunc(rows, func(a, b Row) int {
		return cmp.Or(cmp.Compare(b.AtStake, a.AtStake), cmp.Compare(b.ordering(), a.ordering()), cmp.Compare(a.Forecast.NextPhoto, b.Forecast.NextPhoto),
			cmp.Compare(a.Number, b.Number), cmp.Compare(a.Tool, b.Tool), cmp.Compare(a.Marking, b.Marking))
	})
	return rows
}

// Walk puts a list into the order in which one walks through the shop; order compares
// two place paths. Within a place, most to lose stays first.
func Walk(rows []Row, order func(a, b string) int) {
	at := map[string]int{} // places are fewer than rows, and dearer to compare
	var places []string
	for _, r := range rows {
		if _, met := at[r.Place]; !met {
			at[r.Place] = 0
			places = append(places, r.Place)
		}
	}
	slices.SortFunc(places, order)
	for i, p := range places[min(1, len(places)):] {
		at[p] = at[places[i]]
		if order(places[i], p) != 0 {
			at[p]++
		}
	}
	slices.SortStableFunc(rows, func(a, b Row) int { return at[a.Place] - at[b.Place] })
}

// reasons are none where nothing is to do: a lost serial with an owner's number beside
// it is settled.
func (c Candidate) reasons(monthEnd dates.Date) (out []Reason) {
	f := c.Forecast
	switch {
	case f.Standing == NeverLooked:
		return []Reason{LookAtFirst}
	case f.Standing == IsLost && c.OwnersNumber:
		return nil
	}
	if f.Protect && !c.OwnersNumber {
		out = append(out, ActNow)
	}
	if f.NextPhoto <= monthEnd && f.Standing != IsLost {
		out = append(out, PhotoDue)
	}
	return out
}

func (c Candidate) row(reasons []Reason, kinds map[string]int64, shop *int64) Row {
	r := Row{Candidate: c, Reasons: reasons, Chance: c.Forecast.ChanceIn(roundDays), Cost: c.Cost, CostFrom: CostKnown, Proof: 1}
	if median, ok := kinds[fold(c.Kind)]; c.Cost == nil && ok {
		r.Cost, r.CostFrom = &median, CostKind
	} else if c.Cost == nil && shop != nil {
		r.Cost, r.CostFrom = shop, CostShop
	} else if c.Cost == nil {
		r.CostFrom = CostUnknown
	}
	switch {
	case c.PlatePhoto && c.Receipt:
		r.Proof = 0.25
	case c.PlatePhoto:
		r.Proof = 0.5
	}
	cost := 1.0 // all alike where no tool has one
	if r.Cost != nil {
		cost = float64(*r.Cost)
	}
	r.AtStake = r.ordering() * cost * r.Proof
	return r
}

// unseenDays is how long ago a marking that nobody ever looked at is taken to have been
// new, for its place in the list only. A rule of this project.
const unseenDays = 365

// ordering is the chance by which a row stands in the list. Where none is known it is
// that of a marking long unseen, and else that of one whose wear is not forecast: even
// if it is to be seen to now, none if it only waits for its yearly photo.
func (r Row) ordering() float64 {
	f := r.Forecast
	switch {
	case r.Chance != nil:
		return *r.Chance
	case f.Standing == NeverLooked && forecast(r.Method):
		return f.Wear.Chance(float64(Crisp-Lost), (unseenDays+roundDays)*f.Factor)
	case f.Protect:
		return likely
	}
	return 0
}

// medians are those of the known replacement costs, by kind and of all; between two in
// the middle, halfway.
func medians(all []Candidate, others []Priced) (kinds map[string]int64, shop *int64) {
	byKind, every := map[string][]int64{}, []int64{}
	add := func(kind string, cost int64) {
		byKind[fold(kind)] = append(byKind[fold(kind)], cost)
		every = append(every, cost)
	}
	for _, c := range all {
		if c.Cost != nil {
			add(c.Kind, *c.Cost)
		}
	}
	for _, o := range others {
		add(o.Kind, o.Cost)
	}
	kinds = map[string]int64{}
	for kind, costs := range byKind {
		kinds[kind] = median(costs)
	}
	if len(every) > 0 {
		m := median(every)
		shop = &m
	}
	return kinds, shop
}

func median(costs []int64) int64 {
	slices.Sort(costs)
	low, high := costs[(len(costs)-1)/2], costs[len(costs)/2]
	return low + (high-low)/2
}

// fold is a kind as kinds are compared.
func fold(kind string) string { return strings.ToLower(strings.TrimSpace(kind)) }
