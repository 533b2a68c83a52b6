package api

import (
	"github.com/gin-gonic/gin"

	"pawl/api/wire"
	"pawl/model"
	"pawl/model/claims"
	"pawl/model/fault"
	"pawl/model/numbers"
	"pawl/model/sheets"
	"pawl/model/worth"
)

func (s *service) policies(c *gin.Context) (answer, error) {
	all, err := s.shop.Policies(c.Request.Context(), by(c))
	return ok(wire.Policies{Policies: list(all, viewPolicy)}, 0), err
}

func (s *service) addPolicy(c *gin.Context) (answer, error) {
	in, err := bind[wire.NewPolicy](c, false)
	if err != nil {
		return answer{}, err
	}
	p, err := s.shop.AddPolicy(c.Request.Context(), by(c), model.NewPolicy{Owner: in.Owner, NewPolicy: worth.NewPolicy{Name: in.Name, Limit: in.Limit,
		Deductible: in.Deductible, Coinsurance: in.Coinsurance, Basis: in.Basis, OtherCovered: in.OtherCovered, Order: in.Order, Sublimits: in.Sublimits, Employees: in.Employees,
		HoldbackDays: in.HoldbackDays}})
	return created(viewPolicy(p), p.Rev, "/policies/"+p.ID), err
}

func (s *service) policy(c *gin.Context) (answer, error) {
	p, err := s.shop.Policy(c.Request.Context(), by(c), c.Param("id"))
	return ok(viewPolicy(p), p.Rev), err
}

func (s *service) editPolicy(c *gin.Context) (answer, error) {
	in, rev, err := bindChange[wire.PolicyChange](c)
	if err != nil {
		return answer{}, err
	}
	p, err := s.shop.EditPolicy(c.Request.Context(), by(c), c.Param("id"), rev, model.PolicyChange{Name: in.Name, Limit: in.Limit, Deductible: in.Deductible, Coinsurance: in.Coinsurance,
		Basis: in.Basis, OtherCovered: in.OtherCovered, Order: in.Order, HoldbackDays: in.HoldbackDays, Sublimits: in.Sublimits, Employees: in.Employees})
	return ok(viewPolicy(p), p.Rev), err
}

func (s *service) endPolicy(c *gin.Context) (answer, error) {
	if _, err := bind[nothing](c, true); err != nil {
		return answer{}, err
	}
	p, err := s.shop.EndPolicy(c.Request.Context(), by(c), c.Param("id"))
	return ok(viewPolicy(p), 0), err
}

// aCSV gives the body of a request that is to be a CSV of those rows, and whether
// nothing is to be changed.
func aCSV(c *gin.Context, what string) (body *limited, dry bool, err error) {
	format, err := sheetFormat(c.Request)
	if err == nil && format != "csv" {
		err = fault.New(fault.Media, "%s come as a CSV, not as %s", what, fault.Clip(c.Request.Header.Get("Content-Type"))).WithHint("send them as Content-Type: %s", csvType)
	}
	if err != nil {
		return nil, false, err
	}
	q := askedOf(c)
	dry = q.yes("dry_run")
	return limit(c.Request.Body, sheets.MaxBytes), dry, q.bad.Err()
}

// importQuotes takes the bytes of a CSV.
func (s *service) importQuotes(c *gin.Context) (answer, error) {
	body, dry, err := aCSV(c, "quotes")
	if err != nil {
		return answer{}, err
	}
	r, err := s.shop.ImportQuotes(c.Request.Context(), by(c), body, dry)
	if body.err != nil {
		err = body.err // rather than what the shop made of it
	}
	return ok(wire.QuotesReport{DryRun: r.DryRun, Rows: r.Rows, Added: r.Added, Unchanged: r.Unchanged,
		Numbers: list(r.Tools, func(n numbers.Number) string { return n.String() })}, 0), err
}

// importIndex takes the bytes of a CSV.
func (s *service) importIndex(c *gin.Context) (answer, error) {
	body, dry, err := aCSV(c, "values of an index")
	if err != nil {
		return answer{}, err
	}
	r, err := s.shop.ImportIndex(c.Request.Context(), by(c), body, dry)
	if body.err != nil {
		err = body.err
	}
	return ok(wire.IndexReport(r), 0), err
}

func (s *service) priceIndex(c *gin.Context) (answer, error) {
	all, err := s.shop.PriceIndex(c.Request.Context(), by(c))
	return ok(wire.PriceIndex{Values: list(all, viewPoint)}, 0), err
}

func (s *service) endIndex(c *gin.Context) (answer, error) {
	if _, err := bind[nothing](c, true); err != nil {
		return answer{}, err
	}
	r, err := s.shop.EndIndex(c.Request.Context(), by(c))
	return ok(wire.IndexReport(r), 0), err
}

func viewLifeOf(v model.LifeView) wire.LifeOf {
	out := wire.LifeOf{Life: viewLife(v.Life), Of: v.Sort, ID: null(v.ID), By: null(v.Person), Since: null(v.Since)}
	return out
}

func (s *service) lives(c *gin.Context) (answer, error) {
	all, err := s.shop.Lives(c.Request.Context(), by(c))
	return ok(wire.Lives{Lives: list(all, viewLifeOf)}, 0), err
}

func (s *service) setLife(c *gin.Context) (answer, error) {
	in, err := bind[wire.NewLife](c, false)
	if err != nil {
		return answer{}, err
	}
	v, err := s.shop.SetLife(c.Request.Context(), by(c), worth.NewLife(in))
	return ok(viewLifeOf(v), 0), err
}

func (s *service) endLife(c *gin.Context) (answer, error) {
	if _, err := bind[nothing](c, true); err != nil {
		return answer{}, err
	}
	v, err := s.shop.EndLife(c.Request.Context(), by(c), c.Param("id"))
	return ok(viewLifeOf(v), 0), err
}

func (s *service) toolWorth(c *gin.Context) (answer, error) {
	w, err := s.shop.ToolWorth(c.Request.Context(), by(c), c.Param("number"))
	if err != nil {
		return answer{}, err
	}
	m := inCurrency(w.Currency)
	return ok(wire.ToolWorth{WorthTool: m.tool(w.WorthTool), Currency: w.Currency, Cautions: []string{claims.NoAdvice},
		Quotes: list(w.Quotes, func(q worth.Quote) wire.Quote {
			out := wire.Quote{Source: q.Source, Dated: q.Dated, Basis: q.Of.Words()}
			if q.Amount != nil {
				out.Amount = inCurrency(q.Currency).text(*q.Amount)
			}
			return out
		})}, 0), nil
}

func (s *service) addQuote(c *gin.Context) (answer, error) {
	in, err := bind[wire.NewQuote](c, false)
	if err != nil {
		return answer{}, err
	}
	w, err := s.shop.AddQuote(c.Request.Context(), by(c), c.Param("number"), worth.NewQuote(in))
	return ok(valued(w), 0), err
}

// valued is a tool with what it is worth, in its currency.
func valued(w model.WorthTool) wire.WorthTool { return inCurrency(w.Currency).tool(w) }

func (s *service) judge(c *gin.Context) (answer, error) {
	in, err := bind[wire.NewCondition](c, false)
	if err != nil {
		return answer{}, err
	}
	w, err := s.shop.Judge(c.Request.Context(), by(c), c.Param("number"), worth.NewCondition(in))
	return ok(valued(w), 0), err
}
