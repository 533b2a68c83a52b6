package demo

import (
	"fmt"
	"image/color"
	"strings"
	"time"

	"pawl/model"
	"pawl/model/claims"
	"pawl/model/fault"
	"pawl/model/register"
	"pawl/model/worth"
)

// taken are the places on the list of the cart of Bay 2 of what was stolen from it.
var taken = []int{0, 3, 7, 11, 16, 21}

// breakIn is the night in which the side door of Bay 2 was forced: what is left on its cart
// was counted, the rest is stolen, and is being claimed. One tool was missed later, and
// another came back and was known by what is left of its serial number.
func (b *builder) breakIn() {
	id, count := b.reportBreakIn()
	gone := map[int]bool{}
	for _, i := range taken {
		gone[i] = true
	}
	all := b.toLookFor(count)
	for i, row := range all {
		if !gone[i] && row.Holder == "" {
			b.look(b.tech("Tech C"), count, model.ScanCount{Scanned: "T/" + string(row.Number), At: row.Place})
		}
	}
	b.do("close the count of what is left", func() error { _, err := b.shop.CloseCount(b.ctx, b.by, count); return err })
	b.clock.pass(4 * time.Minute)
	b.loss("confirm", func() (model.LossView, error) { return b.shop.ConfirmLoss(b.ctx, b.by, id, model.LossTools{}) })
	b.tellOfBreakIn(id, string(all[taken[0]].Number))
	b.claim(id, []string{string(all[taken[1]].Number), string(all[taken[4]].Number)})

	b.clock.pass(3 * time.Hour)
	later := b.ofKind("soldering station") // it was carried over from the stockroom, and missed when it was wanted
	b.loss("supplement", func() (model.LossView, error) {
		return b.shop.AddToLoss(b.ctx, b.by, id, model.LossTools{Numbers: later[1:2]})
	})
	b.comesBack(all, gone)
}

// loss does one thing about a loss.
func (b *builder) loss(what string, fn func() (model.LossView, error)) (v model.LossView) {
	b.do("loss: "+what, func() (err error) { v, err = fn(); return err })
	b.clock.pass(5 * time.Minute)
	return v
}

func (b *builder) reportBreakIn() (id, count string) {
	now := b.clock.Now()
	v := b.loss("start", func() (model.LossView, error) {
		return b.shop.StartLoss(b.ctx, b.by, model.StartLoss{Kind: string(claims.Theft), Found: now.Add(-25 * time.Minute).Format(time.RFC3339),
			Secure: now.Add(-14 * time.Hour).Format(time.RFC3339), Where: "Bay 2, side door forced", Place: "Bay 2/Cart"})
	})
	return v.ID, v.Count
}

// tellOfBreakIn is what was told of it: to the police, by photos, and tool by tool.
func (b *builder) tellOfBreakIn(id, first string) {
	text := func(s string) *string { return &s }
	b.loss("police", func() (model.LossView, error) {
		return b.shop.ReportLoss(b.ctx, b.by, id, model.PoliceReport{Agency: text("Ellery County sheriff"), Report: text("26-11873"), Officer: text("Dep. Wren")})
	})
	b.loss("told", func() (model.LossView, error) {
		return b.shop.ChangeLoss(b.ctx, b.by, id, model.AnyRevision, model.LossChange{LossChange: claims.LossChange{Entered: text("side door, lock plate pried off"),
			Locks: text("deadbolt, not thrown"), Alarm: text("none in Bay 2"), Cameras: text("one over the front, none at the side"), Keys: text("Maren Oake, Tech A, Tech C"),
			Closed: text("Tech C, about 6 in the evening"), Opened: text("Maren Oake")}})
	})
	b.loss("a tool of it", func() (model.LossView, error) {
		return b.shop.ChangeLossLine(b.ctx, b.by, id, model.LossLineChange{Number: first, LeftBehind: text("its case"), Condition: text("good")})
	})
	b.loss("photos", func() (model.LossView, error) {
		var in []register.Attach
		for _, p := range []picture{
			{"damage", "side-door.jpg", "image/jpeg", photo(color.RGBA{150, 160, 168, 255}, color.Gray{30}, "side door", "lock plate", "pried off")},
			{"police", "report.pdf", "application/pdf", onPaper("Ellery County sheriff", "Port Ellery", "", "Report 26-11873", "Dep. Wren", "burglary, commercial")},
		} {
			sha, err := b.upload(p)
			if err != nil {
				return model.LossView{}, err
			}
			in = append(in, register.Attach{Kind: p.kind, SHA256: sha, Name: p.name})
		}
		return b.shop.AttachToLoss(b.ctx, b.by, id, in)
	})
	b.loss("given", func() (model.LossView, error) { return b.shop.GiveLossList(b.ctx, b.by, id) })
}

// claim is made on the policy of the shop, which covers employees' own tools.
func (b *builder) claim(loss string, priced []string) {
	day := b.clock.Now()
	var c model.ClaimView
	text := func(s string) *string { return &s }
	for _, each := range []struct {
		what string
		do   func() error
	}{
		{"policy", func() error {
			_, err := b.shop.AddPolicy(b.ctx, b.by, model.NewPolicy{NewPolicy: worth.NewPolicy{Name: "Garage contents", Limit: "18000", Deductible: "250", Coinsurance: "0.8",
				Basis: "rcv", OtherCovered: "12000", Order: "ratio,deductible,limit", Employees: true}})
			return err
		}},
		{"open", func() (err error) {
			c, err = b.shop.OpenClaim(b.ctx, b.by, model.NewClaim{Kind: string(claims.Insurance), Loss: loss, Policy: "Garage contents"})
			return err
		}},
		{"edit", func() error {
			_, err := b.shop.ChangeClaim(b.ctx, b.by, c.ID, model.AnyRevision, claims.ClaimChange{Contact: text("front desk"), PolicyNumber: text("LM-55120"), ClaimNumber: text("77-4120"),
				Adjuster: text("Ada Ling"), AdjusterAt: text("by mail"), ProofDue: text(day.AddDate(0, 0, 25).Format(time.DateOnly))})
			return err
		}},
		{"fact", func() error {
			_, err := b.shop.AddFact(b.ctx, b.by, c.ID, model.NewFact{On: day.Format(time.DateOnly), What: "reported by phone"})
			return err
		}},
		{"amounts", func() error {
			var in []model.ClaimAmount
			for i, number := range priced {
				in = append(in, model.ClaimAmount{Number: number, Amount: fmt.Sprintf("%d.00", 219+i*40)})
			}
			_, err := b.shop.SetAmounts(b.ctx, b.by, c.ID, in)
			return err
		}},
	} {
		b.do("claim: "+each.what, each.do)
		b.clock.pass(6 * time.Minute)
	}
}

// comesBack: a dealer in used goods calls about a tool of whose serial number one
// character cannot be read.
func (b *builder) comesBack(all []model.CountRow, gone map[int]bool) {
	for i, row := range all {
		if !gone[i] || len(row.Serial) < 8 {
			continue
		}
		reading := row.Serial[:4] + "?" + row.Serial[5:]
		b.loss("recovered "+strings.ToLower(row.Kind), func() (model.LossView, error) {
			in := model.Recovered{Reading: reading, At: "dealer in used goods, by the sheriff", Condition: "plate scratched, works as far as one sees"}
			v, err := b.shop.Recover(b.ctx, b.by, in)
			if fault.Is(err, fault.Conflict) { // others are numbered alike: its photos were compared, and it is named
				in.Reading, in.Number = "", row.Number.String()
				v, err = b.shop.Recover(b.ctx, b.by, in)
			}
			return v, err
		})
		return
	}
	b.do("recover a tool", func() error { return fmt.Errorf("no stolen tool has a serial number") })
}
