package api

import (
	"encoding/json"
	"net/http"
	"strings"
	"testing"

	"pawl/api/wire"
	"pawl/model/people"
	"pawl/model/register"
)

// index sends a CSV of index values.
func (a asker) index(query, csv string) reply {
	return a.send(http.MethodPost, Prefix+"/worth/index"+query, strings.NewReader(csv), "Content-Type: text/csv")
}

// A price paid is moved by the index and labelled so; a quote is left alone. The values
// are those of the Bureau of Labor Statistics of December 2013 and 2014, 489.00 to
// 492.70 (money-and-statistics 2.3).
func TestAnIndexMovesPricesPaid(t *testing.T) {
	s := openShop(t)
	m := s.manager()
	kind, price, bought := "tool chest", "489.00", "2013-12-05"
	number := m.registered(register.New{Change: register.Change{Kind: &kind, Price: &price, Bought: &bought}}).Number
	csv := "series,area,base,month,value\nall items,city average,1982-84=100,2013-12,233.049\nall items,city average,1982-84=100,2014-12,234.812\n"
	var r wire.IndexReport
	m.index("?dry_run=true", csv).want(http.StatusOK).into(&r)
	if !r.DryRun || r.Added != 2 {
		t.Errorf("%+v", r)
	}
	m.index("", csv).want(http.StatusOK).into(&r)
	m.index("", strings.ReplaceAll(csv, "all items", "tools")).refused(http.StatusConflict)
	if p := m.index("", csv+"all items,city average,1982-84=100,2014-13,x\n").refused(http.StatusUnprocessableEntity); len(p.Errors) != 2 || p.Errors[0].Row != 4 {
		t.Errorf("%+v", p.Errors)
	}
	m.index("", strings.Repeat("a,b\n", 20_002)).refused(http.StatusRequestEntityTooLarge)
	m.send(http.MethodPost, Prefix+"/worth/index", strings.NewReader("[]"), "Content-Type: application/json").refused(http.StatusUnsupportedMediaType)
	s.person("Tech A", people.Technician).index("", csv).refused(http.StatusForbidden)

	var v wire.Worth
	m.get("/worth").want(http.StatusOK).into(&v)
	i := v.Tools[0].Indexed
	if i == nil || i.Amount != "492.70 USD" || i.Label != "indexed, not quoted" || i.Change != 0.8 || i.FromMonth != "2013-12" || v.Index.Month != "2014-12" || *v.Tools[0].Cost != "489.00 USD" {
		t.Fatalf("%+v of %+v", i, v.Tools[0])
	}
	m.post("/tools/"+number+"/quotes", wire.NewQuote{Amount: "400", Source: "Brindle dealer", Date: "2015-01-02"}).want(http.StatusOK)
	m.post("/tools/"+number+"/quotes", wire.NewQuote{Amount: "400", Source: "Brindle dealer", Date: "2015-01-02"}).refused(http.StatusConflict)
	m.post("/tools/"+number+"/quotes", wire.NewQuote{Amount: "a lot", Date: "2199-01-01"}).refused(http.StatusUnprocessableEntity)
	var one wire.ToolWorth
	m.get("/tools/" + number + "/worth").want(http.StatusOK).into(&one)
	m.get("/tools/X/worth").refused(http.StatusUnprocessableEntity)
	if one.Indexed != nil || *one.Cost != "400.00 USD" || len(one.Quotes) != 1 {
		t.Errorf("a quote beats the index: %+v", one)
	}
	var values wire.PriceIndex
	m.get("/worth/index").want(http.StatusOK).into(&values)
	if len(values.Values) != 2 || values.Values[1].Value != "234.812" {
		t.Errorf("%+v", values)
	}
	m.post("/worth/index/end", struct{}{}).want(http.StatusOK)
	m.post("/worth/index/end", struct{}{}).refused(http.StatusConflict)
}

// A life of the shop's own goes before what is assumed, and a condition takes its
// share, with the reason printed.
func TestLivesAndConditions(t *testing.T) {
	s := openShop(t)
	m := s.manager()
	kind, price, bought := "pry bar", "100", "2026-11-01"
	number := m.registered(register.New{Change: register.Change{Kind: &kind, Price: &price, Bought: &bought}}).Number
	var l wire.LifeOf
	m.post("/worth/lives", wire.NewLife{Class: "hand tools", Months: "10", Floor: "0.5"}).want(http.StatusOK).into(&l)
	m.post("/worth/lives", wire.NewLife{Class: "treasure", Months: "0", Floor: "2"}).refused(http.StatusUnprocessableEntity)
	m.post("/worth/lives", wire.NewLife{Months: "1", Floor: "0"}).refused(http.StatusUnprocessableEntity)
	var w wire.WorthTool
	m.post("/tools/"+number+"/condition", wire.NewCondition{Share: "0.8", Reason: "tip bent"}).want(http.StatusOK).into(&w)
	if *w.ActualCash != "80.00 USD" || w.Condition.Share != "0.8" || *w.Working != "0 of 10 months (hand tools, set by the shop): 10/10 is left, times 0.8 for its condition: tip bent" {
		t.Errorf("%s, %s", *w.ActualCash, *w.Working)
	}
	m.post("/tools/"+number+"/condition", wire.NewCondition{Share: "1.1"}).refused(http.StatusUnprocessableEntity)
	m.post("/tools/"+number+"/condition", wire.NewCondition{}).want(http.StatusOK).into(&w)
	if *w.ActualCash != "100.00 USD" || w.Condition != nil {
		t.Errorf("%+v", w)
	}
	m.post("/tools/"+number+"/condition", wire.NewCondition{}).refused(http.StatusConflict)
	var all wire.Lives
	m.get("/worth/lives").want(http.StatusOK).into(&all)
	if all.Lives[0].From != "set by the shop" || all.Lives[1].From != "assumed" || all.Lives[1].ID != nil {
		t.Errorf("%+v", all.Lives[:2])
	}
	end := "/worth/lives/" + *l.ID + "/end"
	m.post(end, struct{}{}).want(http.StatusOK)
	m.post(end, struct{}{}).refused(http.StatusConflict)
	m.post("/worth/lives/X-2222/end", struct{}{}).refused(http.StatusNotFound)
}

// The tax book is there only when it is asked for.
func TestTheTaxBookIsAskedFor(t *testing.T) {
	s := openShop(t)
	m := s.manager()
	kind, price, bought := "tool chest", "1249.00", "2025-12-05"
	m.registered(register.New{Change: register.Change{Kind: &kind, Price: &price, Bought: &bought}})
	m.registered(register.New{Change: register.Change{Kind: &kind}})
	if body := m.get("/worth").want(http.StatusOK).Body.String(); strings.Contains(body, "\"tax\"") {
		t.Error(body)
	}
	var v wire.Worth
	m.get("/worth?tax=true").want(http.StatusOK).into(&v)
	l := v.Tools[0].Tax
	// Check row 4: the last year takes the remainder.
	if len(l.Years) != 6 || l.Years[0].Amount != "249.80 USD" || l.Years[5] != (wire.TaxYear{Year: 2030, Amount: "71.95 USD"}) || *l.SoFar != "649.48 USD" || !l.Harbor {
		t.Errorf("%+v", l)
	}
	if v.Tools[1].Tax.WhyNone == nil || !strings.HasPrefix(v.Tax.Caution, "Not tax advice; no first-year write-offs assumed.") || !v.Tax.Placed[0].MidQuarter {
		t.Errorf("%+v, %+v", v.Tools[1].Tax, v.Tax)
	}
	m.get("/worth?tax=true&mid_quarter=2025").want(http.StatusOK).into(&v)
	if l = v.Tools[0].Tax; *l.Convention != "mid-quarter, fourth" || l.Years[0].Amount != "62.45 USD" {
		t.Errorf("%+v", l)
	}
	m.get("/worth?mid_quarter=2025").refused(http.StatusUnprocessableEntity)
	m.get("/worth?tax=true&mid_quarter=soon").refused(http.StatusUnprocessableEntity)
}

// Pages follow one another, and the whole as a stream has the same tools.
func TestWorthAndGapsPageByPage(t *testing.T) {
	s := openShop(t)
	m := s.manager()
	for _, price := range []string{"10", "30", "20", "30", ""} {
		kind := "pry bar"
		in := register.New{Change: register.Change{Kind: &kind}}
		if price != "" {
			in.Price = &price
		}
		m.registered(in)
	}
	for path, sums := range map[string]string{"/worth": "total", "/gaps": "missing"} {
		var paged, whole []json.RawMessage
		for next, pages := "", 0; ; pages++ {
			var page struct {
				Tools []json.RawMessage
				Next  *string
				More  int
			}
			m.get(path + "?limit=2" + next).want(http.StatusOK).into(&page)
			if paged = append(paged, page.Tools...); page.Next == nil {
				if pages != 2 || page.More != 0 {
					t.Errorf("%s: %d pages more, %+v", path, pages, page)
				}
				break
			}
			next = "&cursor=" + *page.Next
		}
		var all map[string]json.RawMessage
		m.get(path + "?all=true").want(http.StatusOK).into(&all)
		if err := json.Unmarshal(all["tools"], &whole); err != nil || len(whole) != 5 || len(paged) != 5 || all[sums] == nil || all["cautions"] == nil {
			t.Fatalf("%s: %d and %d tools, %v", path, len(whole), len(paged), err)
		}
		for i := range whole {
			if string(whole[i]) != string(paged[i]) {
				t.Errorf("%s %d: %s, by pages %s", path, i, whole[i], paged[i])
			}
		}
		m.get(path + "?all=true&limit=2").refused(http.StatusUnprocessableEntity)
		m.get(path + "?cursor=x").refused(http.StatusBadRequest)
	}
}

// What is read again off a policy is changed under its revision.
func TestAPolicyIsEdited(t *testing.T) {
	s := openShop(t)
	m := s.manager()
	var p wire.Policy
	made := m.post("/policies", wire.NewPolicy{Name: "Shop contents", Limit: "18000", Deductible: "250", Basis: "rcv", Sublimits: []string{"theft=10000"}}).want(http.StatusCreated)
	made.into(&p)
	m.post("/policies", wire.NewPolicy{Name: "Other", Limit: "1", Deductible: "0", Basis: "acv"}).want(http.StatusCreated)
	path, etag := "/policies/"+p.ID, made.header("ETag")
	change := func(body, etag string) reply {
		return m.send(http.MethodPatch, Prefix+path, strings.NewReader(body), "Content-Type: "+patchType, "If-Match: "+etag)
	}
	changed := change(`{"limit":"24000","holdback_days":"180","coinsurance":"0.8"}`, etag).want(http.StatusOK)
	changed.into(&p)
	if p.Limit != "24000.00 USD" || *p.HoldbackDays != 180 || p.Sublimits[0].Amount != "10000.00 USD" || *p.Coinsurance != "0.8" {
		t.Errorf("%+v", p)
	}
	change(`{"limit":"1"}`, etag).refused(http.StatusPreconditionFailed)
	now := changed.header("ETag")
	change(`{"name":"Other"}`, now).refused(http.StatusConflict)
	change(`{"limit":"much","holdback_days":"soon"}`, now).refused(http.StatusUnprocessableEntity)
	m.send(http.MethodPatch, Prefix+path, strings.NewReader("{}"), "Content-Type: "+patchType).refused(http.StatusPreconditionRequired)
	change(`{"coinsurance":null,"sublimits":null}`, now).want(http.StatusOK).into(&p)
	if p.Coinsurance != nil || len(p.Sublimits) != 0 {
		t.Errorf("%+v", p)
	}
	s.person("Tech A", people.Technician).get(path).refused(http.StatusNotFound)
	again := m.get(path).want(http.StatusOK)
	m.send(http.MethodGet, Prefix+path, nil, "If-None-Match: "+again.header("ETag")).want(http.StatusNotModified)
}
