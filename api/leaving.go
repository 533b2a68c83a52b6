package api

import (
	"context"
	"net/http"

	"github.com/gin-gonic/gin"

	"pawl/api/wire"
	"pawl/model"
	"pawl/model/numbers"
	"pawl/model/register"
)

// leavingRoutes are those by which tools and people leave the shop.
func (s *service) leavingRoutes() []route {
	return []route{
		act("gone", false, func(ctx context.Context, by model.By, number string, in wire.Gone) (model.Done, error) {
			return s.shop.Gone(ctx, by, number, model.Gone(in))
		}),
		{method: http.MethodPost, path: Prefix + "/tools/:number/swap", handle: s.swap},
	}
}

// swap exchanges a tool; the answer is the new one.
func (s *service) swap(c *gin.Context) (answer, error) {
	in, err := bind[wire.Swap](c, false)
	if err != nil {
		return answer{}, err
	}
	out, err := s.shop.Swap(c.Request.Context(), by(c), c.Param("number"), model.Swap(in))
	if err != nil {
		return answer{}, err
	}
	v, err := s.shop.Tool(c.Request.Context(), by(c), string(out.New.Number))
	tool := viewTool(v)
	old := wire.Old{ID: out.Old.Tool, Number: out.Old.Number.String(), GoneWhy: out.Old.GoneWhy}
	a := created(wire.Swapped{ID: tool.ID, Number: tool.Number, Tool: tool, Old: old}, tool.Rev, at("tools", string(out.New.Number)))
	a.tagged = tool
	return a, err
}

func viewPart(p model.PartView) wire.Part {
	return wire.Part{Number: p.Number.String(), Kind: p.Kind, Serial: p.Serial}
}

func viewOutside(o register.Outside) *wire.Outside {
	if !o.FromOutside() {
		return nil
	}
	out := wire.Outside{Name: o.Outsider, DueBack: o.DueBack}
	if m := o.DepositMoney(); m != nil {
		out.Deposit = &wire.Money{Minor: m.Minor, Currency: m.Currency}
	}
	return &out
}

func numberOrNone(n numbers.Number) *string {
	if n == "" {
		return nil
	}
	return null(n.String())
}
