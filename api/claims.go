package api

import (
	"io"
	"net/http"

	"github.com/gin-gonic/gin"

	"pawl/api/wire"
	"pawl/model"
	"pawl/model/claims"
)

func (s *service) claimRoutes() []route {
	return []route{
		{method: http.MethodGet, path: Prefix + "/claims", query: []string{"limit", "cursor"}, handle: s.claims},
		{method: http.MethodPost, path: Prefix + "/claims", handle: s.openClaim},
		{method: http.MethodGet, path: Prefix + "/claims/:id", handle: s.claim},
		{method: http.MethodPatch, path: Prefix + "/claims/:id", handle: s.changeClaim},
		{method: http.MethodPost, path: Prefix + "/claims/:id/facts", handle: s.addFact},
		{method: http.MethodPost, path: Prefix + "/claims/:id/facts/:fact/withdraw", handle: s.withdrawFact},
		{method: http.MethodPost, path: Prefix + "/claims/:id/amounts", handle: s.setAmounts},
		{method: http.MethodGet, path: Prefix + "/claims/:id/paper", handle: s.claimPaper},
	}
}

func (s *service) claims(c *gin.Context) (answer, error) {
	q := askedOf(c)
	query := model.ClaimQuery{Limit: q.limit(), Cursor: q.text("cursor")}
	if err := q.bad.Err(); err != nil {
		return answer{}, err
	}
	page, next, err := s.shop.Claims(c.Request.Context(), by(c), query)
	return answer{body: wire.Claims{Claims: list(page, viewClaimLine), Next: null(next)}, next: next}, err
}

func (s *service) openClaim(c *gin.Context) (answer, error) {
	in, err := bind[wire.NewClaim](c, false)
	if err != nil {
		return answer{}, err
	}
	v, err := s.shop.OpenClaim(c.Request.Context(), by(c), model.NewClaim(in))
	return created(viewClaim(v), v.Rev, at("claims", v.ID)), err
}

func (s *service) claim(c *gin.Context) (answer, error) {
	v, err := s.shop.Claim(c.Request.Context(), by(c), c.Param("id"))
	return ok(viewClaim(v), v.Rev), err
}

func (s *service) changeClaim(c *gin.Context) (answer, error) {
	in, rev, err := bindChange[wire.ClaimChange](c)
	if err != nil {
		return answer{}, err
	}
	v, err := s.shop.ChangeClaim(c.Request.Context(), by(c), c.Param("id"), rev, claims.ClaimChange(in))
	return ok(viewClaim(v), v.Rev), err
}

func (s *service) addFact(c *gin.Context) (answer, error) {
	in, err := bind[wire.NewFact](c, false)
	if err != nil {
		return answer{}, err
	}
	v, err := s.shop.AddFact(c.Request.Context(), by(c), c.Param("id"), model.NewFact(in))
	return ok(viewClaim(v), 0), err
}

func (s *service) withdrawFact(c *gin.Context) (answer, error) {
	in, err := bind[wire.WithdrawFact](c, false)
	if err != nil {
		return answer{}, err
	}
	v, err := s.shop.WithdrawFact(c.Request.Context(), by(c), c.Param("id"), c.Param("fact"), in.Why)
	return ok(viewClaim(v), 0), err
}

func (s *service) setAmounts(c *gin.Context) (answer, error) {
	in, err := bind[wire.ClaimAmounts](c, false)
	if err != nil {
		return answer{}, err
	}
	v, err := s.shop.SetAmounts(c.Request.Context(), by(c), c.Param("id"), list(in.Amounts, func(a wire.ClaimAmount) model.ClaimAmount { return model.ClaimAmount(a) }))
	return ok(viewClaim(v), 0), err
}

// claimPaper gives the paper of a claim on a warranty.
func (s *service) claimPaper(c *gin.Context) (answer, error) {
	return drawn(pdfType, "claim", func(w io.Writer) error { return s.shop.ClaimPaper(c.Request.Context(), by(c), c.Param("id"), w) })
}

func viewClaimLine(v model.ClaimView) wire.ClaimLine {
	out := wire.ClaimLine{ID: v.ID, Kind: string(v.Claim.Kind), Loss: null(v.Loss), Policy: null(v.PolicyName), Number: null(v.Number.String()), Owner: v.OwnerName,
		Opened: v.Opened, OpenedBy: v.OpenedBy}
	if len(v.Awaited) > 0 {
		out.Awaited = new(viewDeadline(v.Awaited[0]))
	}
	return out
}

func viewDeadline(d claims.Deadline) wire.Deadline {
	return wire.Deadline{What: d.What, On: d.Day, Why: d.Why}
}

func viewClaim(v model.ClaimView) wire.Claim {
	m := inCurrency(v.Currency)
	out := wire.Claim{ClaimLine: viewClaimLine(v), Rev: v.Rev, ToolKind: null(v.ToolKind), Insured: v.Insured, Contact: v.Contact, PolicyNumber: v.PolicyNumber,
		ClaimNumber: v.ClaimNumber, Adjuster: v.Adjuster, AdjusterAt: v.AdjusterAt, OtherInsurance: v.OtherInsurance, Fault: v.Fault, FaultOn: v.FaultOn,
		ProofDue: v.ProofDue, SuitDue: v.SuitDue, HoldbackDue: v.HoldbackDue, AnswerDue: v.AnswerDue, Deadlines: list(v.Awaited, viewDeadline), Advice: words(v.Advice)}
	if v.Within != "" {
		out.Warranty = &wire.ClaimWarranty{Within: string(v.Within), Through: dayOrNone(v.Through)}
	}
	if v.Replacement != "" {
		out.Replacement = &wire.Replacement{Number: v.SwappedFor.String(), Serial: v.NewSerial}
	}
	sum, unsaid := v.Claimed()
	out.Claimed, out.ClaimedUnsaid = m.text(sum), unsaid
	out.Tools = list(v.Tools, func(t model.ClaimTool) wire.ClaimTool {
		return wire.ClaimTool{LossTool: viewLossTool(t.LossLineView), Claimed: m.orNone(t.Amount), Owed: m.orNone(t.Owed), OwedTo: null(t.OwedTo), Hidden: t.Hidden}
	})
	out.LeftOut = list(v.LeftOut, func(l model.LeftOut) wire.LeftOut {
		return wire.LeftOut{Line: l.Line, Number: l.Number.String(), Kind: l.Kind, Owner: l.Owner, Why: l.Why}
	})
	out.Facts = list(v.Facts, viewFact)
	return out
}

func viewFact(f claims.Fact) wire.Fact {
	out := wire.Fact{ID: f.ID, On: f.On, What: f.What, Amount: inCurrency(f.Currency).orNone(f.Amount), Payment: null(string(f.Payment))}
	if f.Withdrawn != 0 {
		out.Withdrawn = &wire.FactWithdrawn{At: f.Withdrawn, Why: f.Why}
	}
	return out
}
