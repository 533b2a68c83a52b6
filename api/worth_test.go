package api

import (
	"net/http"
	"strings"
	"testing"

	"pawl/api/wire"
	"pawl/model/people"
	"pawl/model/register"
)

// quotes sends a CSV of quotes.
func (a asker) quotes(query, csv string, headers ...string) reply {
	return a.send(http.MethodPost, Prefix+"/worth/quotes"+query, strings.NewReader(csv), append([]string{"Content-Type: text/csv"}, headers...)...)
}

// A quote replaces the price paid, a policy is set against what it covers, and what
// a loss would bring is worked out line by line.
func TestWorth(t *testing.T) {
	s := openShop(t)
	m := s.manager()
	price := func(v string) *string { return &v }
	wrench := m.registered(register.New{Change: register.Change{Kind: price("impact wrench"), Price: price("600"), Bought: price("2021-03-15")}}).Number
	m.registered(register.New{Change: register.Change{Kind: price("pry bar")}})
	csv := "number,amount,source,date\n" + wrench + ",649.00,Brindle dealer,2026-11-01\n"
	var report wire.QuotesReport
	m.quotes("?dry_run=true", csv).want(http.StatusOK).into(&report)
	if !report.DryRun || report.Added != 1 {
		t.Errorf("%+v", report)
	}
	m.quotes("", csv, `Idempotency-Key: "q-1"`).want(http.StatusOK).into(&report)
	if report.DryRun || report.Added != 1 || report.Numbers[0] != wrench {
		t.Errorf("%+v", report)
	}
	m.quotes("", strings.Replace(csv, "649", "650", 1), `Idempotency-Key: "q-1"`).refused(http.StatusUnprocessableEntity)
	if p := m.quotes("", csv+"00E-KM5,1,x,2026-11-01\n").refused(http.StatusUnprocessableEntity); p.Errors[0].Row != 3 || p.Errors[0].Column != "number" {
		t.Errorf("%+v", p.Errors)
	}
	m.quotes("", strings.Repeat("a,b\n", 20_002)).refused(http.StatusRequestEntityTooLarge)
	m.quotes("?dry_run=perhaps", csv).refused(http.StatusUnprocessableEntity)
	m.send(http.MethodPost, Prefix+"/worth/quotes", strings.NewReader("[]"), "Content-Type: application/json").refused(http.StatusUnsupportedMediaType)

	in := wire.NewPolicy{Name: "Shop contents", Limit: "18000", Deductible: "250", Basis: "rcv", Coinsurance: "0.8", OtherCovered: "29351", Order: "ratio,deductible,limit"}
	var policy wire.Policy
	m.post("/policies", in).want(http.StatusCreated).into(&policy)
	m.post("/policies", in).refused(http.StatusConflict)
	m.post("/policies", wire.NewPolicy{Name: "x"}).refused(http.StatusUnprocessableEntity)

	var v wire.Worth
	m.get("/worth").want(http.StatusOK).into(&v)
	// 18,000 ÷ (0.8 × (29,351 + 649)) = 0.75.
	if v.Total.Cost != "649.00 USD" || v.Total.Unpriced != 1 || len(v.Policies) != 1 || *v.Policies[0].Adequacy != 0.75 || v.Policies[0].Gap != "12000.00 USD" || v.Policies[0].Warning == nil {
		t.Errorf("%+v", v)
	}
	m.get("/worth?limit=0").refused(http.StatusUnprocessableEntity)
	if got := m.get("/worth?format=csv").want(http.StatusOK).Body.String(); !strings.Contains(got, ",649.00,USD,quote,Brindle dealer,2026-11-01,") {
		t.Errorf("%q", got)
	}
	var lost wire.Lost
	m.get("/worth/if-lost?everything=true").want(http.StatusOK).into(&lost)
	// 0.75 × 649.00 − 250 = 236.75; the pry bar has no price, so that is the most.
	if *lost.Paid.High != "236.75 USD" || lost.Paid.Low != nil || *lost.Unpaid.Low != "412.25 USD" || len(lost.Cautions) == 0 {
		t.Errorf("%+v", lost)
	}
	m.get("/worth/if-lost").refused(http.StatusUnprocessableEntity)
	m.get("/worth/if-lost?place=Nowhere").refused(http.StatusNotFound)
	var gaps wire.Gaps
	m.get("/gaps?limit=1").want(http.StatusOK).into(&gaps)
	if gaps.AtStake != "649.00 USD" || gaps.Unpriced != 1 || gaps.More != 1 || gaps.Tools[0].Number != wrench || !strings.Contains(gaps.Tools[0].Next, wrench) {
		t.Errorf("%+v", gaps)
	}
	m.get("/gaps?limit=x").refused(http.StatusUnprocessableEntity)

	var all wire.Policies
	m.get("/policies").want(http.StatusOK).into(&all)
	if len(all.Policies) != 1 || all.Policies[0].ID != policy.ID {
		t.Errorf("%+v", all)
	}
	end := "/policies/" + policy.ID + "/end"
	s.person("Tech A", people.Technician).post(end, struct{}{}).refused(http.StatusNotFound)
	m.post(end, struct{}{}).want(http.StatusOK).into(&policy)
	if policy.Ended == 0 {
		t.Errorf("%+v", policy)
	}
	m.post(end, struct{}{}).refused(http.StatusConflict)
	m.get("/policies").want(http.StatusOK).into(&all)
	if len(all.Policies) != 0 {
		t.Errorf("it ended: %+v", all)
	}
}
