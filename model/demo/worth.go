package demo

import (
	"fmt"
	"strings"

	"pawl/model"
	"pawl/model/worth"
)

// quoted are the kinds that a dealer was asked for, with what they rose by in percent.
var quoted = []struct {
	kind string
	rise int
}{{"torque wrench", 14}, {"impact wrench", 9}, {"multimeter", 6}, {"floor jack", 18}, {"micrometer", 11}, {"inspection camera", -4}, {"ball joint press", 7}}

// worth enters what new tools cost, an index for the others, and what the policies
// say: the shop's limit is too low for what coinsurance asks, and only Tech A has a
// policy of their own.
func (b *builder) worth() {
	b.do("quotes", func() error {
		rows := []string{"number,amount,source,date"}
		for i, q := range quoted {
			for n, t := range stock()[1:] {
				cents := 0
				if _, err := fmt.Sscanf(strings.Replace(t.price, ".", "", 1), "%d", &cents); err != nil {
					return err
				}
				if t.kind != q.kind || n >= len(b.numbers) {
					continue
				}
				cents += cents * q.rise / 100
				rows = append(rows, fmt.Sprintf("%s,%d.%02d,Fennwick Supply,2026-10-%02d", b.numbers[n], cents/100, cents%100, 5+3*i))
			}
		}
		_, err := b.shop.ImportQuotes(b.ctx, b.by, strings.NewReader(strings.Join(rows, "\n")+"\n"), false)
		return err
	})
	b.do("index", func() error {
		rows := []string{"series,area,base,month,value"}
		for i := range 70 { // from January 2021 to October 2026, an invented index
			rows = append(rows, fmt.Sprintf("Invented index of tool prices,the coast,2020=100,%d-%02d,%d.%d", 2021+i/12, 1+i%12, 101+i*3/10, i*3%10))
		}
		_, err := b.shop.ImportIndex(b.ctx, b.by, strings.NewReader(strings.Join(rows, "\n")+"\n"), false)
		return err
	})
	b.do("a life of the shop's own", func() error {
		_, err := b.shop.SetLife(b.ctx, b.by, worth.NewLife{Kind: "battery", Months: "48", Floor: "0.1"})
		return err
	})
	b.do("a condition", func() error {
		_, err := b.shop.Judge(b.ctx, b.by, b.ofKind("breaker bar")[0], worth.NewCondition{Share: "0.8", Reason: "square drive rounded, still in use"})
		return err
	})
	for _, p := range []model.NewPolicy{
		{NewPolicy: worth.NewPolicy{Name: "Shop contents", Limit: "18000", Deductible: "250", Coinsurance: "0.8", Basis: "rcv", OtherCovered: "16000", Order: "sublimit,ratio,deductible,limit",
			Employees: true, Sublimits: []string{"employees=2500"}, HoldbackDays: "180"}},
		{NewPolicy: worth.NewPolicy{Name: "Own tools", Limit: "3000", Deductible: "100", Coinsurance: "0", Basis: "acv", Order: "deductible,limit"}, Owner: "Tech A"},
	} {
		b.do("policy", func() error { _, err := b.shop.AddPolicy(b.ctx, b.by, p); return err })
	}
}
