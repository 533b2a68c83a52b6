package api

import (
	"context"
	"io"
	"net/http"

	"github.com/gin-gonic/gin"

	"pawl/api/wire"
	"pawl/model"
	"pawl/model/claims"
)

func (s *service) lossRoutes() []route {
	return []route{
		{method: http.MethodGet, path: Prefix + "/losses", query: []string{"limit", "cursor"}, handle: s.losses},
		{method: http.MethodPost, path: Prefix + "/losses", handle: s.startLoss},
		{method: http.MethodPost, path: Prefix + "/losses/recovered", handle: s.recovered},
		{method: http.MethodGet, path: Prefix + "/losses/:id", handle: s.loss},
		{method: http.MethodPatch, path: Prefix + "/losses/:id", handle: s.changeLoss},
		{method: http.MethodGet, path: Prefix + "/losses/:id/sheet", handle: s.policeSheet},
		lossAct("missing", true, func(ctx context.Context, by model.By, id string, _ nothing) (model.LossView, error) {
			return s.shop.MissingFromCount(ctx, by, id)
		}),
		lossAct("confirm", true, func(ctx context.Context, by model.By, id string, in wire.LossTools) (model.LossView, error) {
			return s.shop.ConfirmLoss(ctx, by, id, model.LossTools(in))
		}),
		lossAct("add", false, func(ctx context.Context, by model.By, id string, in wire.LossTools) (model.LossView, error) {
			return s.shop.AddToLoss(ctx, by, id, model.LossTools(in))
		}),
		lossAct("withdraw", false, func(ctx context.Context, by model.By, id string, in wire.WithdrawFromLoss) (model.LossView, error) {
			return s.shop.WithdrawFromLoss(ctx, by, id, model.WithdrawFromLoss(in))
		}),
		lossAct("line", false, func(ctx context.Context, by model.By, id string, in wire.LossLineChange) (model.LossView, error) {
			return s.shop.ChangeLossLine(ctx, by, id, model.LossLineChange(in))
		}),
		lossAct("police", false, func(ctx context.Context, by model.By, id string, in wire.PoliceReport) (model.LossView, error) {
			return s.shop.ReportLoss(ctx, by, id, model.PoliceReport(in))
		}),
		lossAct("given", true, func(ctx context.Context, by model.By, id string, _ nothing) (model.LossView, error) {
			return s.shop.GiveLossList(ctx, by, id)
		}),
		lossAct("evidence", false, func(ctx context.Context, by model.By, id string, in wire.LossEvidence) (model.LossView, error) {
			return s.shop.AttachToLoss(ctx, by, id, in.Evidence)
		}),
	}
}

// lossAct is a route of one act on a loss; optional says that it needs no body.
func lossAct[T any](verb string, optional bool, do func(context.Context, model.By, string, T) (model.LossView, error)) route {
	return route{method: http.MethodPost, path: Prefix + "/losses/:id/" + verb, handle: func(c *gin.Context) (answer, error) {
		in, err := bind[T](c, optional)
		if err != nil {
			return answer{}, err
		}
		v, err := do(c.Request.Context(), by(c), c.Param("id"), in)
		return ok(viewLoss(v), 0), err
	}}
}

func (s *service) losses(c *gin.Context) (answer, error) {
	q := askedOf(c)
	query := model.LossQuery{Limit: q.limit(), Cursor: q.text("cursor")}
	if err := q.bad.Err(); err != nil {
		return answer{}, err
	}
	page, next, err := s.shop.Losses(c.Request.Context(), by(c), query)
	return answer{body: wire.Losses{Losses: list(page, viewLossLine), Next: null(next)}, next: next}, err
}

func (s *service) startLoss(c *gin.Context) (answer, error) {
	in, err := bind[wire.StartLoss](c, false)
	if err != nil {
		return answer{}, err
	}
	v, err := s.shop.StartLoss(c.Request.Context(), by(c), model.StartLoss{Kind: in.Kind, Found: in.Found, Secure: in.Secure, Where: in.Where, Place: in.Place, Tools: in.Tools})
	return created(viewLoss(v), v.Rev, at("losses", v.ID)), err
}

func (s *service) recovered(c *gin.Context) (answer, error) {
	in, err := bind[wire.Recovered](c, false)
	if err != nil {
		return answer{}, err
	}
	v, err := s.shop.Recover(c.Request.Context(), by(c), model.Recovered(in))
	return ok(viewLoss(v), 0), err
}

func (s *service) loss(c *gin.Context) (answer, error) {
	v, err := s.shop.Loss(c.Request.Context(), by(c), c.Param("id"))
	return ok(viewLoss(v), v.Rev), err
}

func (s *service) changeLoss(c *gin.Context) (answer, error) {
	in, rev, err := bindChange[wire.LossChange](c)
	if err != nil {
		return answer{}, err
	}
	v, err := s.shop.ChangeLoss(c.Request.Context(), by(c), c.Param("id"), rev, model.LossChange{Secure: in.Secure, LossChange: claims.LossChange{Where: in.Where,
		Entered: in.Entered, Locks: in.Locks, Alarm: in.Alarm, Cameras: in.Cameras, Keys: in.Keys, Closed: in.Closed, Opened: in.Opened}})
	return ok(viewLoss(v), v.Rev), err
}

func viewLossLine(v model.LossView) wire.LossLine {
	return wire.LossLine{ID: v.ID, Kind: string(v.Kind), Found: v.Found, Where: v.Spot, Tools: len(v.Lines), StillGone: v.Left(), Unconfirmed: v.Unconfirmed(),
		Report: null(v.Report), Started: v.Started, StartedBy: v.StartedBy}
}

func viewLoss(v model.LossView) wire.Loss {
	out := wire.Loss{ID: v.ID, Rev: v.Rev, Kind: string(v.Kind), Found: v.Found, Secure: v.Secure, Where: v.Spot, Place: null(v.PlacePath), Count: null(v.Count),
		CountState: null(v.Stage), ToLookFor: v.ToLookFor, Entered: v.Entered, Locks: v.Locks, Alarm: v.Alarm, Cameras: v.Cameras, Keys: v.Keys, Closed: v.Closed,
		Opened: v.Opened, Given: v.Given, Started: v.Started, StartedBy: v.StartedBy, Tools: list(v.Lines, viewLossTool), Evidence: list(v.Papers, viewEvidence),
		Advice: words(v.Advice)}
	if v.Agency != "" {
		out.Police = &wire.LossPolice{Agency: v.Agency, Report: null(v.Report), Officer: null(v.Officer), Reported: v.Reported}
	}
	out.Held = list(v.Held, func(h model.HeldTool) wire.HeldTool {
		return wire.HeldTool{Number: h.Number.String(), Kind: h.Kind, Words: h.Words}
	})
	out.Claims = list(v.Claims, func(c model.ClaimOfLoss) wire.LossClaim { return wire.LossClaim{ID: c.ID, Policy: c.PolicyName} })
	return out
}

func viewLossTool(l model.LossLineView) wire.LossTool {
	out := wire.LossTool{Line: l.Line, Supplement: l.Supplement, Number: l.Number.String(), Kind: l.Kind, Maker: l.Maker, Model: l.Model, Serial: null(l.Serial),
		Owner: l.Owner, Outside: l.Outside, State: string(l.Stands), AfterLoss: l.AfterLoss, LastSeen: l.LastSeen, SeenHow: null(l.SeenHow), SeenSince: l.SeenSince,
		LeftBehind: l.LeftBehind, Condition: l.Condition, Confirmed: l.Confirmed}
	if l.Recovered != "" {
		out.Recovered = &wire.LossRecovered{On: l.Recovered, By: l.RecoveredBy, At: l.RecoveredAt, Condition: l.RecoveredIn}
	}
	if l.Withdrawn != 0 {
		out.Withdrawn = &wire.LossWithdrawn{At: l.Withdrawn, Why: l.WithdrawnWhy}
	}
	return out
}

// policeSheet gives the sheet for the police as it is now.
func (s *service) policeSheet(c *gin.Context) (answer, error) {
	return drawn(pdfType, "police", func(w io.Writer) error { return s.shop.PoliceSheet(c.Request.Context(), by(c), c.Param("id"), w) })
}
