package api

import (
	"net/http"
	"slices"
	"strings"
	"testing"

	"pawl/api/wire"
	"pawl/model/people"
	"pawl/model/register"
)

// TestLosses: a loss from the count of what is left to a tool that came back, over the wire.
func TestLosses(t *testing.T) {
	s := openShop(t)
	m, a, b := s.manager(), s.person("Tech A", people.Technician), s.person("Tech B", people.Technician)
	m.post("/places", wire.NewPlace{Path: "Bay 2/Cart"}).want(http.StatusCreated)
	var numbers []string
	for i, serial := range []string{"KD408B217", "KD408B218", "KD408B219", "KD408B220"} {
		in := aTool(serial)
		in.Place = given("Bay 2/Cart")
		if i == 1 {
			in.Owner = given("Tech A")
		}
		numbers = append(numbers, m.registered(in).Number)
	}
	var v wire.Loss
	found := s.clock.tick().UTC().Format("2006-01-02T15:04:05Z07:00")
	in := wire.StartLoss{Kind: "theft", Found: found, Where: "Bay 2, side door forced", Place: "Bay 2"}
	started := m.post("/losses", in, `Idempotency-Key: "loss-1"`).want(http.StatusCreated)
	started.into(&v)
	if v.Count == nil || *v.CountState != "open" || v.ToLookFor != 4 || *v.Place != "Bay 2" || len(v.Tools) != 0 || started.header("Location") != Prefix+"/losses/"+v.ID {
		t.Fatalf("%+v", v)
	}
	if again := m.post("/losses", in, `Idempotency-Key: "loss-1"`).want(http.StatusCreated); again.header("Idempotency-Replayed") != "true" {
		t.Errorf("a repeat is not replayed: %s", again.Body)
	}
	at := "/losses/" + v.ID
	m.get(at + "/sheet").want(http.StatusOK) // from the first minute on: nothing is on its list yet
	m.post(at+"/given", struct{}{}).refused(http.StatusConflict)
	m.post("/counts/"+*v.Count+"/scan", wire.ScanCount{Scanned: numbers[3]}).want(http.StatusOK)
	m.post(at+"/missing", struct{}{}).want(http.StatusOK).into(&v)
	if len(v.Tools) != 3 || v.Tools[0].State != "missing" || v.Tools[0].Line != 1 || v.Tools[0].Supplement != 1 || v.Given != 0 {
		t.Fatalf("%+v", v.Tools)
	}
	if sheet := m.get(at + "/sheet").want(http.StatusOK); sheet.header("Content-Type") != pdfType || !strings.HasPrefix(sheet.Body.String(), "%PDF") {
		t.Errorf("%s: %.20q", sheet.header("Content-Type"), sheet.Body)
	}
	s.lossSettled(m, a, b, v, numbers)

	m.post(at+"/confirm", struct{}{}).want(http.StatusOK).into(&v)
	if v.Tools[0].State != "stolen" || v.Tools[0].Confirmed == 0 {
		t.Errorf("%+v", v.Tools[0])
	}
	m.post(at+"/confirm", struct{}{}).refused(http.StatusConflict)
	a.post("/tools/"+numbers[0]+"/take", wire.Take{}).refused(http.StatusConflict)
	m.post("/losses/recovered", wire.Recovered{Reading: "KD408B21?"}).refused(http.StatusConflict)
	m.post("/losses/recovered", wire.Recovered{Serial: "KD999"}).refused(http.StatusNotFound)
	m.post("/losses/recovered", wire.Recovered{Reading: "KD*"}).refused(http.StatusConflict)
	m.post("/losses/recovered", wire.Recovered{Serial: "KD408B217", At: "pawn shop"}).want(http.StatusOK).into(&v)
	if r := v.Tools[0].Recovered; r == nil || r.By != "serial" || r.At != "pawn shop" || v.Tools[0].State != "recovered" {
		t.Errorf("%+v", v.Tools[0])
	}
	var tool wire.Tool
	m.get("/tools/" + numbers[0]).want(http.StatusOK).into(&tool)
	if tool.Gone != 0 || tool.DoNotUse == nil || tool.DoNotUse.Reason != "doubtful" || tool.Loss == nil || tool.Loss.State != "recovered" || tool.Loss.ID != v.ID {
		t.Errorf("%+v %+v", tool.DoNotUse, tool.Loss)
	}
	m.registered(register.New{Change: register.Change{Kind: given("drill")}, GoneByLoss: v.ID})
	m.get(at).want(http.StatusOK).into(&v)
	if last := v.Tools[len(v.Tools)-1]; last.Kind != "drill" || !last.AfterLoss || last.Supplement != 2 {
		t.Errorf("%+v", last)
	}
	var all wire.Losses
	m.get("/losses?limit=1").want(http.StatusOK).into(&all) // the one that was entered last
	m.get("/losses?limit=1&cursor=" + *all.Next).want(http.StatusOK).into(&all)
	if len(all.Losses) != 1 || all.Losses[0].ID != v.ID || all.Losses[0].Tools != 4 || all.Losses[0].StillGone != 2 || *all.Losses[0].Report != "26-11873" {
		t.Errorf("%+v", all)
	}
	m.get("/losses?limit=0").refused(http.StatusUnprocessableEntity)
}

// lossSettled: what is told of a loss, who sees it, and what is refused.
func (s *shop) lossSettled(m, a, b asker, v wire.Loss, numbers []string) {
	t, at := s.TB, "/losses/"+v.ID
	t.Helper()
	for _, bad := range []wire.StartLoss{{}, {Kind: "theft", Found: "soon", Where: "x"}, {Kind: "theft", Found: "2026-01-01T00:00:00Z", Where: "x", Place: "Nowhere"}} {
		m.post("/losses", bad).refused(http.StatusUnprocessableEntity)
	}
	m.post("/losses", wire.StartLoss{Kind: "theft", Found: "2026-01-01T00:00:00Z", Where: "x", Tools: []string{numbers[0]}}).refused(http.StatusConflict)
	b.post("/losses", wire.StartLoss{Kind: "theft", Found: "2026-01-01T00:00:00Z", Where: "x", Tools: []string{numbers[0]}}).refused(http.StatusForbidden)
	b.get(at).refused(http.StatusNotFound)
	var own wire.Loss
	a.get(at).want(http.StatusOK).into(&own)
	if len(own.Tools) != 1 || own.Tools[0].Number != numbers[1] {
		t.Errorf("%+v", own.Tools)
	}
	a.post(at+"/police", wire.PoliceReport{Agency: given("x")}).refused(http.StatusForbidden)
	m.post(at+"/police", wire.PoliceReport{Report: given("26-11873")}).refused(http.StatusUnprocessableEntity)
	m.post(at+"/police", wire.PoliceReport{Agency: given("County sheriff"), Report: given("26-11873")}).want(http.StatusOK).into(&v)
	if v.Police == nil || v.Police.Agency != "County sheriff" || *v.Police.Report != "26-11873" || v.Police.Officer != nil || v.Police.Reported == "" {
		t.Errorf("%+v", v.Police)
	}
	got := m.get(at).want(http.StatusOK)
	m.get(at, "If-None-Match: "+got.header("ETag")).want(http.StatusNotModified)
	m.patch(at, got.header("ETag"), map[string]any{"keys": "the manager", "locks": "padlock cut"}).want(http.StatusOK).into(&v)
	if v.Keys != "the manager" || v.Locks != "padlock cut" {
		t.Errorf("%+v", v)
	}
	m.patch(at, got.header("ETag"), map[string]any{"keys": "x"}).refused(http.StatusPreconditionFailed)
	m.post(at+"/line", wire.LossLineChange{Number: numbers[0], LeftBehind: given("charger")}).want(http.StatusOK).into(&v)
	if v.Tools[0].LeftBehind != "charger" {
		t.Errorf("%+v", v.Tools[0])
	}
	m.post(at+"/line", wire.LossLineChange{Number: numbers[3]}).refused(http.StatusNotFound)
	m.post(at+"/withdraw", wire.WithdrawFromLoss{Number: numbers[2]}).refused(http.StatusUnprocessableEntity)
	m.post(at+"/withdraw", wire.WithdrawFromLoss{Number: numbers[2], Why: "at home"}).want(http.StatusOK).into(&v)
	if w := v.Tools[2].Withdrawn; w == nil || w.Why != "at home" || v.Tools[2].State != "withdrawn" {
		t.Errorf("%+v", v.Tools[2])
	}
	m.post(at+"/withdraw", wire.WithdrawFromLoss{Number: numbers[2], Why: "again"}).refused(http.StatusConflict)
	m.post(at+"/given", struct{}{}).want(http.StatusOK).into(&v)
	m.post(at+"/given", struct{}{}).refused(http.StatusConflict)
	m.post(at+"/add", wire.LossTools{Numbers: []string{numbers[0]}}).refused(http.StatusConflict)
	m.post(at+"/add", wire.LossTools{}).refused(http.StatusUnprocessableEntity)
	photo := aPhoto(t, 90, asPNG)
	m.upload(photo).want(http.StatusCreated)
	m.post(at+"/evidence", wire.LossEvidence{Evidence: []wire.Attach{{Kind: "damage", SHA256: shaOf(photo)}}}).want(http.StatusOK).into(&v)
	if len(v.Evidence) != 1 || v.Given != 1 {
		t.Errorf("%+v", v.Evidence)
	}
	m.post(at+"/evidence", wire.LossEvidence{}).refused(http.StatusUnprocessableEntity)

	// A loss of named tools has no count, and one tool added to it is there at once.
	var list wire.Loss
	m.post("/losses", wire.StartLoss{Kind: "lost", Found: "2026-01-01T00:00:00Z", Where: "van"}).want(http.StatusCreated).into(&list)
	m.post("/losses/"+list.ID+"/missing", struct{}{}).refused(http.StatusConflict)
	m.post("/losses/"+list.ID+"/add", wire.LossTools{Numbers: []string{numbers[3]}}).want(http.StatusOK).into(&list)
	m.post("/losses/"+list.ID+"/withdraw", wire.WithdrawFromLoss{Number: numbers[3], Why: "here"}).want(http.StatusOK)
}

// TestClaims: an insurance claim and one on a warranty, over the wire.
func TestClaims(t *testing.T) {
	s := openShop(t)
	m, a := s.manager(), s.person("Tech A", people.Technician)
	shops := m.registered(register.New{Change: register.Change{Kind: given("impact wrench"), Price: given("600"), Owed: given("120"), OwedTo: given("Brindle dealer"), Terms: given("on account"),
		Bought: given("2026-01-15"), WarrantyMonths: func() *int64 { n := int64(36); return &n }()}}).Number
	theirs := m.registered(register.New{Change: register.Change{Kind: given("drill"), Owner: given("Tech A")}}).Number
	m.post("/policies", wire.NewPolicy{Name: "Shop contents", Limit: "18000", Deductible: "250", Basis: "rcv"}).want(http.StatusCreated)
	var l wire.Loss
	found := s.clock.tick().UTC().Format("2006-01-02T15:04:05Z07:00")
	m.post("/losses", wire.StartLoss{Kind: "theft", Found: found, Where: "van", Tools: []string{shops, theirs}}).want(http.StatusCreated).into(&l)

	var c wire.Claim
	opened := m.post("/claims", wire.NewClaim{Kind: "insurance", Loss: l.ID, Policy: "Shop contents"}).want(http.StatusCreated)
	opened.into(&c)
	if len(c.Tools) != 1 || c.Tools[0].Number != shops || *c.Tools[0].Owed != "120.00 USD" || len(c.LeftOut) != 1 || c.LeftOut[0].Number != theirs || c.LeftOut[0].Why == "" ||
		opened.header("Location") != Prefix+"/claims/"+c.ID || c.ClaimedUnsaid != 1 {
		t.Fatalf("%+v", c)
	}
	at := "/claims/" + c.ID
	m.post("/claims", wire.NewClaim{Kind: "insurance", Loss: l.ID, Policy: "Shop contents"}).refused(http.StatusConflict)
	m.post("/claims", wire.NewClaim{Kind: "insurance", Loss: l.ID, Policy: "Other"}).refused(http.StatusUnprocessableEntity)
	m.post("/claims", wire.NewClaim{Kind: "insurance", Loss: "L-00000000", Policy: "Shop contents"}).refused(http.StatusUnprocessableEntity)
	a.get(at).refused(http.StatusNotFound)
	got := m.get(at).want(http.StatusOK)
	m.get(at, "If-None-Match: "+got.header("ETag")).want(http.StatusNotModified)
	in := map[string]any{"policy_number": "HP-55120", "adjuster": "A. Ling", "proof_due": "2030-01-22", "suit_due": "2031-01-22"}
	m.patch(at, got.header("ETag"), in).want(http.StatusOK).into(&c)
	if c.Adjuster != "A. Ling" || c.ProofDue != "2030-01-22" || c.Awaited == nil || c.Awaited.What != "sworn proof of loss" {
		t.Errorf("%+v", c)
	}
	m.patch(at, got.header("ETag"), in).refused(http.StatusPreconditionFailed)
	m.post(at+"/facts", wire.NewFact{On: "2026-01-20", What: "first payment", Amount: "399.00"}).want(http.StatusOK).into(&c)
	if len(c.Facts) != 1 || *c.Facts[0].Amount != "399.00 USD" {
		t.Errorf("%+v", c.Facts)
	}
	m.post(at+"/facts", wire.NewFact{On: "soon"}).refused(http.StatusUnprocessableEntity)
	m.post(at+"/facts", wire.NewFact{On: "2026-01-20", What: "first payment", Amount: "399.00"}).want(http.StatusOK).into(&c)
	twice := at + "/facts/" + c.Facts[1].ID + "/withdraw"
	m.post(twice, wire.WithdrawFact{}).refused(http.StatusUnprocessableEntity)
	m.post(twice, wire.WithdrawFact{Why: "typed twice"}).want(http.StatusOK).into(&c)
	if w := c.Facts[1].Withdrawn; c.Facts[0].Withdrawn != nil || w == nil || w.Why != "typed twice" || w.At == 0 {
		t.Errorf("%+v", c.Facts)
	}
	m.post(twice, wire.WithdrawFact{Why: "again"}).refused(http.StatusConflict)
	m.post(at+"/facts/F-00000000/withdraw", wire.WithdrawFact{Why: "x"}).refused(http.StatusNotFound)
	m.post(at+"/amounts", wire.ClaimAmounts{Amounts: []wire.ClaimAmount{{Number: shops, Amount: "649.00"}}}).want(http.StatusOK).into(&c)
	if c.Claimed != "649.00 USD" || c.ClaimedUnsaid != 0 || *c.Tools[0].Claimed != "649.00 USD" {
		t.Errorf("%+v", c)
	}
	m.post(at+"/amounts", wire.ClaimAmounts{Amounts: []wire.ClaimAmount{{Number: theirs, Amount: "1"}}}).refused(http.StatusUnprocessableEntity)
	m.get(at + "/paper").refused(http.StatusConflict)
	m.get("/claims/C-00000000/paper").refused(http.StatusNotFound)
	var due wire.Dues
	m.get("/due?sort=claim&within=3000").want(http.StatusOK).into(&due)
	if len(due.Due) != 3 || due.Due[0].Claim == nil || *due.Due[0].Claim != c.ID || due.Due[0].Number != "" || !strings.Contains(due.Due[0].What, "find out the last day") || due.Due[0].Why == "" {
		t.Errorf("%+v", due.Due)
	}
	m.post(at+"/facts", wire.NewFact{On: "2026-01-21", What: "second payment", Amount: "250.00", Payment: "half"}).refused(http.StatusUnprocessableEntity)
	m.post(at+"/facts", wire.NewFact{On: "2026-01-21", What: "second payment", Amount: "250.00", Payment: "rest"}).want(http.StatusOK).into(&c)
	if last := c.Facts[len(c.Facts)-1]; last.Payment == nil || *last.Payment != "rest" || len(c.Deadlines) != 2 {
		t.Errorf("%+v, %+v", last, c.Deadlines)
	}
	m.get("/losses/" + l.ID).want(http.StatusOK).into(&l)
	if len(l.Claims) != 1 || l.Claims[0].Policy != "Shop contents" {
		t.Errorf("%+v", l.Claims)
	}
	s.warranty(m, a)
}

// warranty: a claim on one, and on whose a tool is.
func (s *shop) warranty(m, a asker) {
	t := s.TB
	t.Helper()
	in := register.New{Change: register.Change{Kind: given("impact wrench"), Bought: given("2026-01-15")}}
	number := m.registered(in).Number
	m.post("/claims", wire.NewClaim{Kind: "warranty", Number: number}).refused(http.StatusUnprocessableEntity)
	a.post("/claims", wire.NewClaim{Kind: "warranty", Number: number, Fault: "x"}).refused(http.StatusForbidden)
	var c wire.Claim
	m.post("/claims", wire.NewClaim{Kind: "warranty", Number: number, Fault: "anvil detent fails"}).want(http.StatusCreated).into(&c)
	if c.Warranty == nil || c.Warranty.Within != "unknown" || c.Warranty.Through != nil || *c.Number != number || c.Fault != "anvil detent fails" {
		t.Errorf("%+v", c)
	}
	m.get("/claims/" + c.ID + "/paper").want(http.StatusOK)
	m.post("/tools/"+number+"/swap", wire.Swap{Serial: "XC-1", SerialAgain: "XC-1"}).want(http.StatusCreated)
	m.get("/claims/" + c.ID).want(http.StatusOK).into(&c)
	if c.Replacement == nil || c.Replacement.Serial != "XC-1" {
		t.Errorf("%+v", c.Replacement)
	}
	var all wire.Claims
	m.get("/claims").want(http.StatusOK).into(&all)
	if len(all.Claims) != 2 || !slices.ContainsFunc(all.Claims, func(l wire.ClaimLine) bool { return l.Kind == "warranty" }) {
		t.Errorf("%+v", all)
	}
	if p := m.get("/claims?limit=x").refused(http.StatusUnprocessableEntity); !strings.Contains(p.Detail, "limit") {
		t.Errorf("%+v", p)
	}
}
