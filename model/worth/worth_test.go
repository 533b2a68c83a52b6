package worth

import (
	"math/big"
	"os"
	"reflect"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"pawl/model/dates"
	"pawl/model/register"
	"pawl/model/sheets"
)

// The check values and worked examples of money-and-statistics, each beside where
// that page has it from.

func TestActualCashValues(t *testing.T) {
	cases := []struct {
		what        string
		since       dates.Date
		age         int64
		replacement int64
		want        int64
	}{
		{"impact wrench; check row 1", "2021-03-15", 68, 64900, 28123},
		{"torque wrench; section 1.2, worked", "2024-06-30", 28, 42000, 32200},
		{"tool chest, on its floor; check row 2", "2012-01-10", 178, 320000, 64000},
	}
	total, cost := int64(0), int64(0)
	for _, c := range cases {
		if age := AgeOn(c.since, "2026-11-25"); age != c.age {
			t.Errorf("%s: %d months, want %d", c.what, age, c.age)
		}
		v := ActualCash(c.replacement, c.age, Measuring, nil)
		if v.ActualCash != c.want || v.Depreciation != c.replacement-c.want {
			t.Errorf("%s: %d, depreciation %d; want %d", c.what, v.ActualCash, v.Depreciation, c.want)
		}
		total, cost = total+v.ActualCash, cost+v.Replacement
	}
	if cost != 426900 || total != 124323 {
		t.Errorf("totals %d and %d, want 4,269.00 and 1,243.23 (section 1.2)", cost, total)
	}
}

func TestPublishedTwoStagePayments(t *testing.T) {
	cases := []struct {
		what                      string
		replacement, first, spent int64
		want                      int64
	}{
		{"800, 40 % depreciation (claims guide): 480 then 320", 80000, 48000, 80000, 32000},
		{"1,000, 4 of 10 years (adjuster article): 600 then 400", 100000, 60000, 100000, 40000},
		{"20,000, 15,000, spent 17,000 (legal dictionary, check row 3)", 2000000, 1500000, 1700000, 200000},
		{"spent less than was paid first", 100000, 60000, 50000, 0},
	}
	for _, c := range cases {
		if got := SecondPayment(c.replacement, c.first, c.spent); got != c.want {
			t.Errorf("%s: %d, want %d", c.what, got, c.want)
		}
	}
	if v := ActualCash(100000, 48, Life{Months: 120, Floor: "0"}, nil); v.ActualCash != 60000 {
		t.Errorf("1,000 after 4 of 10 years: %d, want 600.00 (adjuster article)", v.ActualCash)
	}
}

func TestTaxTables(t *testing.T) {
	for when, periods := range percents {
		for period, years := range periods {
			if sum := Sum(years); sum != 10_000 || len(years) != period+1 {
				t.Errorf("%s, %d years: %d percents sum to %d; want 100.00 (check row 6)", when, period, len(years), sum)
			}
		}
	}
	cases := []struct {
		what   string
		basis  int64
		period int
		want   []int64
	}{
		{"check row 4: the last year takes the remainder", 124900, 5, []int64{24980, 39968, 23981, 14388, 14388, 7195}},
		{"check row 5 (engineering-economy textbook)", 10000000, 7, []int64{1429000, 2449000, 1749000, 1249000, 893000, 892000, 893000, 446000}},
		{"IRS Pub. 946 worksheet shape (from memory)", 1000000, 7, []int64{142900, 244900, 174900, 124900, 89300, 89200, 89300, 44600}},
	}
	for _, c := range cases {
		if got, err := TaxYears(c.basis, HalfYear, c.period); err != nil || !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, %v; want %v", c.what, got, err, c.want)
		}
	}
	if _, err := TaxYears(1, HalfYear, 9); err == nil {
		t.Error("there is no table of 9 years")
	}
}

// Tax-preparer association: 8 at 2,400 and 10 at 350 are under the limit of 2,500, a
// 6,800 server is not (check row 7). Accounting firm: 2,495 with 10 of freight each
// is over.
func TestSafeHarbor(t *testing.T) {
	within := int64(0)
	for cost, n := range map[int64]int64{240000: 8, 35000: 10, 680000: 1} {
		if UnderSafeHarbor(cost, 250000) {
			within += cost * n
		}
	}
	if within != 2270000 {
		t.Errorf("%d, want 22,700.00", within)
	}
	if UnderSafeHarbor(249500+1000, 250000) || !UnderSafeHarbor(250000, 250000) {
		t.Error("freight counts, and the limit itself is within")
	}
}

func share100(p int64) *big.Rat { return big.NewRat(p, 100) }

// Each published example is on tools worth all of value, of which one loss is one item.
func TestPublishedCoinsurance(t *testing.T) {
	cases := []struct {
		what                                        string
		value, percent, carried, loss, deduct, want int64
	}{
		{"agency article; check row 8", 15000000, 80, 8000000, 6000000, 0, 4000000},
		{"agency article, 90 %", 50000000, 90, 27000000, 10000000, 0, 6000000},
		{"reprinted dictionary case", 30000000, 80, 20000000, 15000000, 0, 12500000},
		{"licence-exam card", 20000000, 80, 12000000, 4000000, 0, 3000000},
		{"how-to page; check row 9", 30000000, 80, 18000000, 10000000, 100000, 7400000},
		{"standard form example (from memory)", 25000000, 80, 10000000, 4000000, 25000, 1975000},
		{"its adequate twin (read second-hand)", 25000000, 80, 20000000, 4000000, 25000, 3975000},
	}
	none := int64(0)
	for _, c := range cases {
		e := Pay(Terms{Limit: c.carried, Deductible: c.deduct, Coinsurance: share100(c.percent), OtherCovered: &none, Order: []Step{Ratio, Deduct, Capped}},
			[]LostTool{{Value: c.loss}}, c.value)
		if e.High != c.want || e.Low == nil || *e.Low != c.want || e.Orders != 1 {
			t.Errorf("%s: %+v, want %d", c.what, e, c.want)
		}
	}
}

// The three tools of section 1.2 out of tools worth 30,000, 80 %, carried 18,000:
// check row 10, and the gap and adequacy of section 2.1.
func TestTheClaimOfThreeTools(t *testing.T) {
	other := int64(3000000 - 426900)
	terms := Terms{Limit: 1800000, Deductible: 25000, Coinsurance: share100(80), OtherCovered: &other, Order: []Step{Sublimited, Ratio, Deduct, Capped},
		Sublimits: []Sublimit{{"theft", 1000000}}}
	full := Pay(terms, []LostTool{{Value: 64900}, {Value: 42000}, {Value: 320000}}, 426900)
	if full.High != 295175 || *full.Low != 295175 {
		t.Errorf("on replacement cost: %+v, want 2,951.75", full)
	}
	// The ratio stays that of replacement cost, as in the worked example.
	paid := Pay(terms, []LostTool{{Value: 28123}, {Value: 32200}, {Value: 64000}}, 426900)
	if paid.High != 68242 || full.High-paid.High != 226933 {
		t.Errorf("first %d, then %d; want 682.42 and 2,269.33", paid.High, full.High-paid.High)
	}
	if a, g := terms.Adequacy(426900), terms.Gap(426900); *a != 0.75 || g != 1200000 {
		t.Errorf("adequacy %v, gap %d; want 0.75 and 12,000", *a, g)
	}
}

// Section 2.1: loss 8,000, ratio 0.75, deductible 250, sublimit 5,000.
func TestTheOrderMatters(t *testing.T) {
	none := int64(0)
	terms := Terms{Limit: 600000, Deductible: 25000, Coinsurance: big.NewRat(1, 1), OtherCovered: &none, Sublimits: []Sublimit{{Employees, 500000}}}
	pay := func(order ...Step) Estimate {
		terms.Order = order
		return Pay(terms, []LostTool{{800000, true}}, 800000)
	}
	for want, order := range map[int64][]Step{
		350000: {Sublimited, Ratio, Deduct, Capped},
		500000: {Ratio, Deduct, Sublimited, Capped},
		475000: {Ratio, Sublimited, Deduct, Capped},
	} {
		if e := pay(order...); e.High != want || *e.Low != want {
			t.Errorf("%v: %+v, want %d", order, e, want)
		}
	}
	if e := pay(Ratio, Deduct, Capped); e.High != 500000 || *e.Low != 350000 || e.Orders != 4 {
		t.Errorf("sublimit unplaced: %+v, want 3,500 to 5,000 over 4 orders", e)
	}
}

// What nobody entered makes the lower figure unknown, never a good one.
func TestWhatIsNotRecordedLeavesNoLowerFigure(t *testing.T) {
	some := int64(100000)
	cases := []struct {
		what  string
		terms Terms
		known bool
	}{
		{"no word of coinsurance", Terms{Limit: 1000, OtherCovered: &some}, false},
		{"no word of what else is covered", Terms{Limit: 1000, Coinsurance: share100(80)}, false},
		{"none is asked", Terms{Limit: 1000, Coinsurance: new(big.Rat)}, true},
		{"both", Terms{Limit: 1000, Coinsurance: share100(80), OtherCovered: &some}, true},
	}
	for _, c := range cases {
		if e := Pay(c.terms, []LostTool{{Value: 500}}, 2000); (e.Low != nil) != c.known || (len(e.Said) == 0) == (!c.known) && !c.known {
			t.Errorf("%s: %+v", c.what, e)
		}
	}
}

// A step without a figure changes nothing, and widens nothing.
func TestAStepWithoutAFigureHasNoPlace(t *testing.T) {
	if e := Pay(Terms{Limit: 30000, Coinsurance: new(big.Rat)}, []LostTool{{Value: 20000}}, 20000); e.Orders != 1 || len(e.Lines) != 2 || e.High != 20000 || *e.Low != 20000 {
		t.Errorf("%+v, want the loss and the limit", e)
	}
}

func TestEachToolIsCapped(t *testing.T) {
	terms := Terms{Limit: 1000000, Coinsurance: new(big.Rat), Order: Steps, Sublimits: []Sublimit{{EachTool, 50000}}}
	if e := Pay(terms, []LostTool{{Value: 64900}, {Value: 42000}, {Value: 320000}}, 0); e.High != 142000 {
		t.Errorf("%+v, want 500 + 420 + 500", e)
	}
}

// BLS leaflet (1989) and Alaska Department of Labor: check row 11; the last is the
// price of section 2.3.
func TestIndex(t *testing.T) {
	for _, c := range []struct {
		from, to string
		tenths   int64
	}{{"113.8", "118.5", 41}, {"129.9", "136.0", 47}, {"201.427", "205.916", 22}, {"136.0", "129.9", -45}, {"233.049", "234.812", 8}} {
		if got, err := (Index{FromValue: c.from, ToValue: c.to}).Change(); err != nil || got != c.tenths {
			t.Errorf("%s to %s: %d tenths of a percent, %v; want %d", c.from, c.to, got, err, c.tenths)
		}
	}
	if p, err := (Index{FromValue: "233.049", ToValue: "234.812"}).Price(48900); err != nil || p != 49270 {
		t.Errorf("%d, %v; want 492.70", p, err)
	}
	for _, bad := range []Index{{FromValue: "0", ToValue: "1"}, {FromValue: "x", ToValue: "1"}, {FromValue: "1"}, {FromValue: "1", ToValue: "101"}, {FromValue: "101", ToValue: "1"}, {FromValue: "1e9", ToValue: "1e9"}} {
		if _, err := bad.Price(1); err == nil {
			t.Errorf("%+v is no index", bad)
		}
	}
}

// Check rows 12 and 13: Ballentine's, Freeman v Reed (1863); the naive sum gives 03-03.
func TestCalendarMonths(t *testing.T) {
	for _, c := range []struct {
		from dates.Date
		n    int
		want dates.Date
	}{{"2024-01-31", 1, "2024-02-29"}, {"2024-02-29", 12, "2025-02-28"}, {"2026-08-31", 6, "2027-02-28"}, {"2026-01-31", 1, "2026-02-28"}} {
		if got := c.from.AddMonths(c.n); got != c.want {
			t.Errorf("%s + %d: %s, want %s", c.from, c.n, got, c.want)
		}
	}
}

// nearest is another way to round: the two neighbors are compared by distance.
func nearest(x *big.Rat) int64 {
	down := new(big.Int).Div(x.Num(), x.Denom()) // Euclid: the floor for a positive divisor
	up := new(big.Int).Add(down, big.NewInt(1))
	below := new(big.Rat).Sub(x, new(big.Rat).SetInt(down))
	above := new(big.Rat).Sub(new(big.Rat).SetInt(up), x)
	if c := below.Cmp(above); c < 0 || c == 0 && x.Sign() < 0 {
		return down.Int64()
	}
	return up.Int64()
}

func claims() int {
	switch os.Getenv("PAWL_SIZE") {
	case "full":
		return 100_000
	case "ci":
		return 10_000
	}
	return 1_000
}

// Over generated claims: totals are the sum of their printed lines to the cent, each
// line is the exact figure rounded once, and the estimate brackets what a placed
// order pays.
func TestTotalsAreTheirLines(t *testing.T) {
	most := int64(1_000_000_000)
	for done := 0; done < claims(); {
		rapid.Check(t, func(r *rapid.T) {
			done++
			lost := rapid.SliceOfN(rapid.Custom(func(r *rapid.T) LostTool {
				return LostTool{rapid.Int64Range(0, most).Draw(r, "value"), rapid.Bool().Draw(r, "employee")}
			}), 1, 12).Draw(r, "lost")
			oneClaim(r, lost)
		})
	}
}

func oneClaim(r *rapid.T, lost []LostTool) {
	age, life := rapid.Int64Range(0, 400).Draw(r, "age"), rapid.SampledFrom(Classes).Draw(r, "life")
	cash, gone, cost := int64(0), int64(0), int64(0)
	for _, i := range lost {
		v := ActualCash(i.Value, age, life, nil)
		exact := new(big.Rat).Mul(new(big.Rat).SetInt64(i.Value), v.remaining)
		if v.ActualCash != nearest(exact) {
			r.Fatalf("%d × %s is %d, want %d", i.Value, v.remaining, v.ActualCash, nearest(exact))
		}
		cash, gone, cost = cash+v.ActualCash, gone+v.Depreciation, cost+i.Value
	}
	if cash+gone != cost {
		r.Fatalf("%d and %d are not %d", cash, gone, cost)
	}
	other := rapid.Int64Range(0, cost+1).Draw(r, "other")
	terms := Terms{Limit: rapid.Int64Range(0, 2*cost+1).Draw(r, "limit"), Deductible: rapid.Int64Range(0, cost/2+1).Draw(r, "deductible"),
		Coinsurance: big.NewRat(rapid.Int64Range(0, 100).Draw(r, "coinsurance"), 100), OtherCovered: &other,
		Sublimits: []Sublimit{{EachTool, rapid.Int64Range(0, cost+1).Draw(r, "each")}, {Employees, rapid.Int64Range(0, cost+1).Draw(r, "theirs")}}}
	free := Pay(terms, lost, cost)
	terms.Order = rapid.Permutation(Steps).Draw(r, "order")
	e := Pay(terms, lost, cost)
	every := 1
	for i := range terms.live() {
		every *= i + 1
	}
	if e.Loss != cost || e.Orders != 1 || free.Orders != every {
		r.Fatalf("loss %d of %d; %d and %d orders", e.Loss, cost, e.Orders, free.Orders)
	}
	if e.High != e.Lines[len(e.Lines)-1].Amount || *e.Low != e.High || *free.Low > e.High || free.High < e.High {
		r.Fatalf("%+v is not within %+v", e, free)
	}
	before := e.Lines[0].Amount
	for _, l := range e.Lines[1:] {
		if l.Amount < 0 || l.Amount > before {
			r.Fatalf("a step raised what is paid: %+v", e.Lines)
		}
		switch l.Step {
		case Deduct:
			if l.Amount != max(0, before-terms.Deductible) {
				r.Fatalf("deductible: %+v", e.Lines)
			}
		case Ratio:
			ratio, _ := terms.ratio(cost)
			if want := nearest(new(big.Rat).Mul(new(big.Rat).SetInt64(before), ratio)); l.Amount != want {
				r.Fatalf("ratio: %d, want %d", l.Amount, want)
			}
		}
		before = l.Amount
	}
	if e.High > terms.Limit {
		r.Fatalf("%d is over the limit %d", e.High, terms.Limit)
	}
}

func FuzzOrder(f *testing.F) {
	f.Add("item,sublimit,ratio,deductible,limit")
	f.Add(" ratio , limit")
	f.Fuzz(func(t *testing.T, text string) {
		out, err := ParseOrder(text)
		if err == nil && len(orders(out, Steps)) < 1 {
			t.Errorf("%q: no order", text)
		}
	})
}

// What is missing of a tool, as far as it is known: what this shop does not record is
// not asked for, and what cannot be shown counts as missing.
func TestMissing(t *testing.T) {
	price, yes, no := int64(100), true, false
	whole := Known{Tool: register.Tool{Kind: "pry bar", Serial: "S1", Purchase: register.Purchase{Price: &price, Bought: "2026-01-15"}},
		Photos: []string{"plate", "receipt", "whole"}, Labelled: true, Marked: true, Priced: true}
	for _, c := range []struct {
		what string
		do   func(*Known)
		want []Gap
	}{
		{"nothing is missing", func(*Known) {}, nil},
		{"no kind, no serial", func(k *Known) { k.Tool.Kind, k.Tool.Serial = "", "" }, []Gap{NotTyped, NoSerial}},
		{"a lot code is enough", func(k *Known) { k.Tool.Serial, k.Tool.Lot = "", "L7" }, nil},
		{"never marked, no plate to show", func(k *Known) {
			k.Tool.Serial, k.Tool.NoSerial, k.Photos = "", register.NeverMarked, []string{"receipt", "whole"}
		}, nil},
		{"photos that cannot be shown", func(k *Known) { k.Photos, k.Unshown = []string{"receipt"}, []string{"plate", "whole"} }, []Gap{PlateUnshown, WholeUnshown}},
		{"one of two can be shown", func(k *Known) { k.Unshown = []string{"plate"} }, nil},
		{"a receipt that nobody typed in", func(k *Known) { k.Tool.Purchase, k.Priced = register.Purchase{}, false }, []Gap{ReceiptPrice, ReceiptDay}},
		{"the same, with a quote", func(k *Known) { k.Tool.Purchase = register.Purchase{} }, []Gap{ReceiptPrice, ReceiptDay}},
		{"no price and no receipt", func(k *Known) { k.Tool.Price, k.Priced, k.Photos = nil, false, []string{"plate", "whole"} }, []Gap{NoPrice, NoReceipt}},
		{"a card record is no receipt", func(k *Known) { k.Photos = []string{"plate", "whole", "card"} }, []Gap{NoReceipt}},
		{"an account statement is one", func(k *Known) { k.Photos = []string{"plate", "whole", "account"} }, nil},
		{"label gone", func(k *Known) { k.Labelled = false }, []Gap{NoLabel}},
		{"gloves take no label and no tape", func(k *Known) {
			k.Tool.Kind, k.Labelled, k.Unguarded, k.OwnersNumber = "insulating gloves", false, true, &no
		}, []Gap{NoBagLabel}},
		{"printed, unprotected", func(k *Known) { k.Unguarded = true }, []Gap{NoProtects}},
		{"marking not on record", func(k *Known) { k.Marked = false }, []Gap{NoMarking}},
		{"nobody looked at the marking", func(k *Known) { k.Look = &Look{} }, []Gap{NotLooked}},
		{"looked at, fading", func(k *Known) { k.Look = &Look{Done: true, Fading: true} }, []Gap{Fading}},
		{"fading, and photographed so", func(k *Known) { k.Look = &Look{Done: true, Fading: true, Photo: true} }, nil},
		{"lost", func(k *Known) { k.Look, k.OwnersNumber = &Look{Done: true, Fading: true, Lost: true}, &no }, []Gap{Remains, NoOwnersNumber}},
		{"lost, and what is left photographed", func(k *Known) {
			k.Look, k.OwnersNumber = &Look{Done: true, Fading: true, Lost: true, Photo: true}, &yes
		}, nil},
		{"looked at, in order, with a number of its owner", func(k *Known) { k.Look, k.OwnersNumber = &Look{Done: true}, &yes }, nil},
		{"without a number of its owner", func(k *Known) { k.OwnersNumber = &no }, []Gap{NoOwnersNumber}},
	} {
		k := whole
		c.do(&k)
		if got := Missing(k); !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, want %v", c.what, got, c.want)
		}
	}
	said := map[string]bool{}
	for _, g := range Gaps {
		if next := g.Next("00E-KM5"); next == "" || said[next] {
			t.Errorf("%s: next is %q", g, next)
		} else {
			said[next] = true
		}
	}
}

// Every kind that the register has a rule for falls in the class of what it is: a lift
// is no hand tool. The classes of money-and-statistics 1.3; the others are common
// practice, no source.
func TestClassesOfKinds(t *testing.T) {
	for life, kinds := range map[Life][]string{
		Measuring: {"torque wrench", "torque screwdriver", "torque tester", "tire pressure gauge", "caliper", "micrometer", "dial indicator", "multimeter", "infrared thermometer",
			"scale", "battery tester", "lift indicator", "bore-gauge set"},
		Lifting:    {"two-post lift", "lift", "floor jack", "jack", "jack stand", "axle stands", "chain sling", "engine hoist", "engine crane", "transmission jack"},
		Protective: {"insulating gloves", "insulating blanket", "fire extinguisher", "eyewash"},
		Equipment: {"press", "hydraulic press", "drill press", "air compressor", "tire changer", "wheel balancer", "parts washer", "blast cabinet", "welder", "brake lathe",
			"bench grinder", "hose reel", "refrigerant recovery machine"},
		Electronic: {"scan tool", "inspection camera", "work light", "soldering station", "oscilloscope"},
		Powered: {"impact wrench", "impact driver", "cordless drill", "cordless ratchet", "air ratchet", "angle grinder", "sander", "polisher", "heat gun", "grease gun", "battery",
			"charger", "battery charger", "reciprocating saw"},
		Storage: {"tool chest", "tool box", "roller cabinet", "service cart", "workbench"},
		HandTools: {"", "pry bar", "ratchet", "socket set", "impact socket set", "standard socket set", "drill bit set", "saw blade", "bench vise", "ball joint press", "bearing puller",
			"screwdriver set", "hammer", "tap set", "brake bleeder", "breaker bar", "hand saw", "spring compressor"},
	} {
		for _, kind := range kinds {
			if got := LifeOf(kind); got != life {
				t.Errorf("%q is of %s, want %s", kind, got.Class, life.Class)
			}
		}
	}
}

// What the shop set goes before what is assumed, the very kind before its class.
func TestLivesOfTheShopGoFirst(t *testing.T) {
	read := func(n NewLife) LifeRow {
		r, err := n.Read()
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	lives := Lives{read(NewLife{Class: "Hand Tools", Months: "300", Floor: "0.25"}), read(NewLife{Kind: "Pry  bar", Months: "60", Floor: "0"})}
	for kind, want := range map[string]Life{"hammer": {"hand tools", 300, "0.25", true}, "PRY BAR": {"Pry bar", 60, "0", true}, "lift": Lifting} {
		if got := lives.Of(kind); got != want {
			t.Errorf("%s: %+v, want %+v", kind, got, want)
		}
	}
	for _, bad := range []NewLife{{Months: "1", Floor: "0"}, {Class: "hand tools", Kind: "hammer", Months: "1", Floor: "0"}, {Class: "x", Months: "1", Floor: "0"},
		{Kind: "hammer", Months: "0", Floor: "0"}, {Kind: "hammer", Months: "1201", Floor: "0"}, {Kind: "hammer", Months: "12", Floor: "1"}, {Kind: "hammer", Months: "12", Floor: "-1"}} {
		if r, err := bad.Read(); err == nil {
			t.Errorf("%+v is taken as %+v", bad, r)
		}
	}
}

// A condition is a share of what age leaves, the floor too (money-and-statistics 1.2:
// remaining = max(f, 1 − age/L) × c).
func TestACondition(t *testing.T) {
	c := &Condition{Share: "0.5", Reason: "worn"}
	if v := ActualCash(10000, 60, Life{Months: 120, Floor: "0.2"}, c); v.ActualCash != 2500 || v.Depreciation != 7500 {
		t.Errorf("%+v, want 25.00", v)
	}
	if v := ActualCash(10000, 500, Life{Months: 120, Floor: "0.2"}, c); v.ActualCash != 1000 || !v.AtFloor {
		t.Errorf("%+v, want 10.00", v)
	}
}

// A quote is left alone, however old; a price paid is moved from its month to the
// reference month, and never backwards.
func TestWhatAnIndexMoves(t *testing.T) {
	all := Points{{Series: "all items", Month: "2014-12", Value: "234.812"}, {Series: "all items", Month: "2013-12", Value: "233.049"}}
	for _, c := range []struct {
		cost    *Cost
		want    int64
		missing string
	}{
		{&Cost{Amount: 48900, Of: FromPrice, Dated: "2013-12-31"}, 49270, ""}, // money-and-statistics 2.3
		{&Cost{Amount: 48900, Of: FromQuote, Dated: "2013-12-31"}, 0, ""},
		{&Cost{Amount: 48900, Of: FromPrice, Dated: "2013-11-30"}, 0, "2013-11"},
		{&Cost{Amount: 48900, Of: FromPrice, Dated: "2014-12-01"}, 0, ""},
		{&Cost{Amount: 48900, Of: FromPrice, Dated: "2026-01-01"}, 0, ""},
		{&Cost{Amount: 48900, Of: FromPrice}, 0, ""},
		{nil, 0, ""},
	} {
		m, missing := all.Move(c.cost)
		if (m == nil) != (c.want == 0) || m != nil && m.Amount != c.want || missing != c.missing {
			t.Errorf("%+v: %+v, missing %q; want %d, %q", c.cost, m, missing, c.want, c.missing)
		}
	}
	if m, _ := (Points{}).Move(&Cost{Amount: 1, Of: FromPrice, Dated: "2013-12-31"}); m != nil {
		t.Errorf("no index, and %+v", m)
	}
}

// The tax book: what is not known has no figure, and says why.
func TestTaxBook(t *testing.T) {
	price, tax := int64(120000), int64(4900)
	bought := register.Tool{Purchase: register.Purchase{Price: &price, Tax: &tax, Currency: "USD", Bought: "2025-11-05"}}
	l, err := TaxBook(bought, nil, "2027-03-01")
	if err != nil || l.Basis != 124900 || l.When != HalfYear || l.SoFar != 24980+39968+23981 || l.Left != 124900-l.SoFar || l.Years[5] != (TaxYear{2030, 7195}) || !l.Harbor {
		t.Errorf("%+v, %v; want check row 4", l, err)
	}
	if l, err = TaxBook(bought, []int{2025}, "2025-12-31"); err != nil || l.When != Quarter4 || l.SoFar != 6245 {
		t.Errorf("%+v, %v; want 5.00 %% in the first year (A-5)", l, err)
	}
	for why, tool := range map[string]register.Tool{"no price paid is on record": {}, "the price is in EUR; the tables are for US dollars": {Purchase: register.Purchase{Price: &price, Currency: "EUR", Bought: "2025-11-05"}},
		"no day of purchase is on record": {Purchase: register.Purchase{Price: &price, Currency: "USD"}}} {
		if l, err := TaxBook(tool, nil, "2027-03-01"); err != nil || l.WhyNone != why || l.Years != nil {
			t.Errorf("%+v, %v; want %s", l, err, why)
		}
	}
	placed := PlacedIn{}
	for _, d := range []dates.Date{"2025-02-01", "2025-11-05"} {
		placed.Add("shop", TaxLine{Basis: 60000, In: d})
	}
	placed.Add("Tech A", TaxLine{WhyNone: "x"})
	if got := placed.Sorted(); len(got) != 1 || !got[0].MidQuarter() {
		t.Errorf("%+v: half of the basis in the last quarter is over 40 %%", got)
	}
	if (Placed{Basis: 100, LastQuarter: 40}).MidQuarter() {
		t.Error("40 % is not more than 40 %")
	}
}

// A policy comes back as it was typed.
func TestAPolicyAsTyped(t *testing.T) {
	n := NewPolicy{Name: "Shop contents", Limit: "18000.00", Deductible: "250.00", Coinsurance: "0.8", Basis: "rcv", OtherCovered: "12000.00", Order: "ratio,deductible,limit",
		Sublimits: []string{"theft=10000.00", "employees=2500.00"}, Employees: true, HoldbackDays: "180"}
	p, err := n.Read("USD")
	if err != nil {
		t.Fatal(err)
	}
	if got, err := p.AsTyped(); err != nil || !reflect.DeepEqual(got, n) {
		t.Errorf("%+v, %v; want %+v", got, err, n)
	}
	if day := p.HoldbackDue("2026-11-25"); day != "2027-05-24" {
		t.Errorf("%s, want 180 days after 25 November 2026", day)
	}
	if day := (Policy{}).HoldbackDue("2026-11-25"); day != "" {
		t.Errorf("%s, and nobody said", day)
	}
}

// FuzzIndex: any cells either make a value that can be reckoned with, or are named.
func FuzzIndex(f *testing.F) {
	f.Add("Prices, all items", "City average", "1982-84=100", "2014-12", "234.812")
	f.Add("", "x", "y", "2014-13", "1e9")
	f.Fuzz(func(t *testing.T, series, area, base, month, value string) {
		rows := []sheets.Row{{Number: 1, Cells: []string{"series", "area", "base", "month", "value"}}, {Number: 2, Cells: []string{series, area, base, month, value}}}
		out, bad := ReadPoints(rows, "2026-11-25")
		if (len(out) == 1) == (len(bad) > 0) {
			t.Fatalf("%+v and %+v", out, bad)
		}
		if len(out) == 1 {
			if _, ok := indexValue(out[0].Value); !ok || out[0].Month > "2026-11" || out[0].Series == "" {
				t.Fatalf("%+v is taken", out[0])
			}
		}
	})
}

// FuzzQuotes: a row is taken with a number, an amount and a day until today, or named.
func FuzzQuotes(f *testing.F) {
	f.Add("00E-KM5", "289.00", "Harbor tools", "2026-11-20", "")
	f.Add("00E-KM5", "1e9", "", "2027-01-01", "new price")
	f.Add("'=1+1", "-5", "x", "20.11.2026", "?")
	f.Fuzz(func(t *testing.T, number, amount, source, date, basis string) {
		rows := []sheets.Row{{Number: 1, Cells: []string{"number", "amount", "source", "date", "basis"}}, {Number: 2, Cells: []string{number, amount, source, date, basis}}}
		out, bad := ReadQuotes(rows, "USD", "2026-11-25")
		if len(out) != 1 {
			t.Fatalf("%+v and %+v", out, bad)
		}
		if q := out[0]; len(bad) == 0 && (q.Number == "" || q.Amount == nil || *q.Amount <= 0 || q.Source == "" || q.Dated.After("2026-11-25")) {
			t.Fatalf("%+v is taken", q)
		}
		for _, b := range bad {
			if b.Row != 2 || b.Column == "" || b.Detail == "" {
				t.Fatalf("%+v", b)
			}
		}
	})
}

// FuzzYears: years come back in order of typing, or are refused.
func FuzzYears(f *testing.F) {
	f.Add("2024,2025")
	f.Add(" , ")
	f.Fuzz(func(t *testing.T, text string) {
		years, err := ParseYears(text)
		for _, y := range years {
			if err == nil && (y < 1987 || y > 9999) {
				t.Fatalf("%q gives %d", text, y)
			}
		}
	})
}
