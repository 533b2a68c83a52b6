package demo

import (
	"strings"

	"pawl/model"
	"pawl/model/register"
)

const (
	inspector = "Tern Lift Inspection, no. 218"
	testHouse = "Shoal Dielectric, lab 7"
)

// inspections are those of the lift, the jacks, the gloves and the extinguisher: the
// lift is due within days, a jack is overdue and another failed, one pair of gloves
// is past its test.
func (b *builder) inspections() {
	lift := b.register(tool{kind: "two-post lift", maker: "Holmfast", model: "HL-4000", serial: "HL4-20118", owner: "shop", place: "Bay 1",
		price: "3890.00", bought: "2024-11-18", seller: "Fennwick Supply", usage: "daily", marking: "stamped"})
	b.inspect(lift, model.Inspect{Check: "lift annual", Result: "pass", By: inspector, On: "2025-11-20"}, "LIFT INSPECTION", "passed")
	extinguisher := b.register(tool{kind: "fire extinguisher", maker: "Ostrel", model: "DC-9", serial: "DC9-55017", owner: "shop", place: "Bay 2",
		price: "96.00", bought: "2024-05-06", seller: "Fennwick Supply", usage: "rare", marking: "sticker"})
	yes := true
	b.inspect(extinguisher, model.Inspect{Check: "extinguisher six-year", Plan: &model.InspectionPlan{TwelveYear: &yes}})
	b.inspect(extinguisher, model.Inspect{Check: "extinguisher hydrostatic", Result: "pass", By: "Ostrel service, 31", On: "2024-05-06", Next: "2036-05-06"})
	b.inspect(extinguisher, model.Inspect{Check: "extinguisher annual", Result: "pass", By: "Ostrel service, 31", On: "2026-05-11"})
	b.inspect(extinguisher, model.Inspect{Check: "extinguisher monthly", Result: "pass", By: "Tech B", On: "2026-10-19"})

	jacks, gloves := b.ofKind("floor jack"), b.ofKind("insulating gloves")
	b.inspect(jacks[0], model.Inspect{Check: "jack six-month", Result: "pass", By: "Tech C", On: "2026-06-02"})
	b.inspect(jacks[1], model.Inspect{Check: "jack six-month", Result: "pass", By: "Tech C", On: "2026-04-20"})
	b.inspect(jacks[2], model.Inspect{Check: "jack six-month", Result: "fail", By: "Tech C", On: "2026-11-12", Note: "sinks under load"})

	issued := "2026-08-03"
	b.inspect(gloves[0], model.Inspect{Check: "glove electrical test", Result: "pass", By: testHouse, On: "2026-03-02",
		Plan: &model.InspectionPlan{FirstIssued: &issued}}, "GLOVE TEST", "class 0, passed, pair 1")
	b.inspect(gloves[1], model.Inspect{Check: "glove electrical test", Result: "pass", By: testHouse, On: "2026-05-04"}, "GLOVE TEST", "class 0, passed, pair 2")
	b.inspect(gloves[2], model.Inspect{Check: "glove electrical test", Result: "pass", By: testHouse, On: "2026-02-02",
		Plan: &model.InspectionPlan{NotIssued: &yes}}, "GLOVE TEST", "class 0, passed, pair 3")
}

// ofKind gives the numbers of the tools of a kind, in the order of the stock.
func (b *builder) ofKind(kind string) (out []string) {
	for i, t := range stock()[1:] {
		if t.kind == kind && i < len(b.numbers) {
			out = append(out, b.numbers[i])
		}
	}
	return out
}

// inspect enters one inspection, with a paper of those lines where there are any.
func (b *builder) inspect(number string, in model.Inspect, paper ...string) {
	b.do("inspect "+number, func() error {
		if len(paper) > 0 {
			p := picture{"certificate", strings.ToLower(strings.ReplaceAll(paper[0], " ", "-")) + ".pdf", "application/pdf",
				onPaper(in.By, "", paper[0], "on "+in.On, paper[1])}
			sha, err := b.upload(p)
			if err != nil {
				return err
			}
			in.Evidence = []register.Attach{{Kind: p.kind, SHA256: sha, Name: p.name}}
		}
		_, err := b.shop.Inspect(b.ctx, b.by, number, in)
		return err
	})
}
