package api

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"pawl/api/wire"
	"pawl/model"
	"pawl/model/calibration"
	"pawl/model/register"
)

// allBackRoutes are those of what was taken to a job, what does not add up on it and
// what is held.
func (s *service) allBackRoutes() []route {
	job := Prefix + "/jobs/:number"
	return []route{
		{method: http.MethodPatch, path: job, handle: s.changeJob},
		{method: http.MethodPost, path: job + "/close", handle: s.closeJob},
		{method: http.MethodPost, path: job + "/reopen", handle: s.reopenJob},
		{method: http.MethodGet, path: job + "/allback", handle: s.allBack},
		{method: http.MethodPost, path: job + "/allback", handle: s.lookAtJob},
		{method: http.MethodPost, path: job + "/held", handle: s.hold},
		{method: http.MethodPost, path: job + "/give", handle: s.giveHeld},
		{method: http.MethodGet, path: job + "/sheet", offers: []string{pdfType}, handle: s.jobSheet},
		{method: http.MethodGet, path: Prefix + "/findings", query: []string{"limit", "cursor"}, handle: s.unsettledFindings},
		{method: http.MethodPost, path: Prefix + "/findings/:id/answer", handle: s.answerFinding},
	}
}

func (s *service) changeJob(c *gin.Context) (answer, error) {
	in, rev, err := bindChange[wire.JobChange](c)
	if err != nil {
		return answer{}, err
	}
	j, err := s.shop.ChangeJob(c.Request.Context(), by(c), c.Param("number"), rev, model.JobChange(in))
	if err != nil {
		return answer{}, err
	}
	job, err := s.oneJob(c, j)
	return ok(job, j.Rev), err
}

func (s *service) closeJob(c *gin.Context) (answer, error) {
	in, err := bind[wire.CloseJob](c, true)
	if err != nil {
		return answer{}, err
	}
	v, err := s.shop.CloseJob(c.Request.Context(), by(c), c.Param("number"), model.CloseJob(in))
	return ok(viewAllBack(v), 0), err
}

func (s *service) reopenJob(c *gin.Context) (answer, error) {
	in, err := bind[wire.ReopenJob](c, false)
	if err != nil {
		return answer{}, err
	}
	v, err := s.shop.ReopenJob(c.Request.Context(), by(c), c.Param("number"), in.Why)
	return ok(viewAllBack(v), 0), err
}

func (s *service) allBack(c *gin.Context) (answer, error) {
	v, err := s.shop.AllBack(c.Request.Context(), by(c), c.Param("number"))
	return ok(viewAllBack(v), 0), err
}

func (s *service) lookAtJob(c *gin.Context) (answer, error) {
	in, err := bind[wire.LookAtJob](c, false)
	if err != nil {
		return answer{}, err
	}
	look := model.LookedAtJob{Before: in.Before, Scanned: in.Scanned}
	for _, set := range in.Sets {
		look.Sets = append(look.Sets, model.LookedAtSet(set))
	}
	v, err := s.shop.LookAtJob(c.Request.Context(), by(c), c.Param("number"), look)
	return ok(viewAllBack(v), 0), err
}

func (s *service) hold(c *gin.Context) (answer, error) {
	in, err := bind[wire.Hold](c, false)
	if err != nil {
		return answer{}, err
	}
	h, err := s.shop.Hold(c.Request.Context(), by(c), c.Param("number"), in.What)
	return answer{status: http.StatusCreated, body: viewHeld(h)}, err
}

func (s *service) giveHeld(c *gin.Context) (answer, error) {
	in, err := bind[wire.GiveHeld](c, false)
	if err != nil {
		return answer{}, err
	}
	h, err := s.shop.GiveHeld(c.Request.Context(), by(c), c.Param("number"), in.Thing, in.To)
	return ok(viewHeld(h), 0), err
}

func (s *service) jobSheet(c *gin.Context) (answer, error) {
	sheet, err := s.shop.JobSheet(c.Request.Context(), by(c), c.Param("number"))
	if err != nil {
		return answer{}, err
	}
	return drawn(pdfType, "job-sheet", sheet.PDF)
}

func (s *service) unsettledFindings(c *gin.Context) (answer, error) {
	q := askedOf(c)
	query := model.FindingQuery{Limit: q.limit(), Cursor: q.text("cursor")}
	if err := q.bad.Err(); err != nil {
		return answer{}, err
	}
	page, next, err := s.shop.UnsettledFindings(c.Request.Context(), by(c), query)
	return answer{body: wire.Findings{Findings: list(page, viewFinding), Next: null(next)}, next: next}, err
}

func (s *service) answerFinding(c *gin.Context) (answer, error) {
	in, err := bind[wire.AnswerFinding](c, false)
	if err != nil {
		return answer{}, err
	}
	f, err := s.shop.AnswerFinding(c.Request.Context(), by(c), c.Param("id"), model.AnswerFinding(in))
	return ok(viewFinding(f), 0), err
}

func viewAllBack(v model.AllBackView) wire.AllBack {
	j := v.Job
	out := wire.AllBack{Job: j.Number, Vehicle: j.Vehicle, Safety: string(j.Safety), Closed: j.Closed, Takes: v.Tally.Takes,
		TakesBack: v.Tally.Back, Elsewhere: v.Tally.Elsewhere, Sets: v.Tally.Sets, Looked: v.Tally.Looked, Open: len(v.Unanswered()), Words: v.Words, Tools: list(v.Tools, viewTaken),
		Findings: list(v.Findings, viewFinding), Held: list(v.Held, viewHeld), Looks: list(v.Looks, viewLook), Holds: list(v.Holds, viewUse),
		Tell: words(v.Tell()), Scanned: list(v.Scanned, viewScan), Cautions: []string{}}
	out.Flagged = len(out.Tell) > 0
	if !v.Tally.Unknown() {
		out.Back = new(v.Tally.AllBack())
	}
	if j.OverrideAt != 0 {
		out.Override = &wire.JobReason{Why: j.OverrideWhy, By: v.OverrideBy, At: j.OverrideAt}
	}
	if j.ReopenedAt != 0 {
		out.Reopened = &wire.JobReason{Why: j.ReopenedWhy, By: v.ReopenedBy, At: j.ReopenedAt}
	}
	if len(v.Holds) > 0 {
		out.Cautions = words(calibration.Cautions(calibration.HazardTorque, calibration.HazardDate))
	}
	return out
}

func viewTaken(t model.TakenTool) wire.JobTool {
	return wire.JobTool{Number: t.Number.String(), Kind: t.Kind, Maker: t.Maker, Model: t.Model, State: t.Where, Person: null(t.Holder), OnJob: null(t.OnJob),
		Since: t.Since, Takes: t.Takes, Pieces: append(register.Pieces{}, t.Pieces...), LookedAt: t.LookedAt, Missing: append(register.Pieces{}, t.Missing...),
		Condition: t.Condition, Broken: t.Broken, FragmentMissing: t.Fragment, DoNotUse: null(t.DoNotUse)}
}

func viewFinding(f model.FindingView) wire.Finding {
	out := wire.Finding{ID: f.ID, Job: f.JobNumber, Sort: string(f.Sort), Kind: null(f.Kind), What: f.What, Count: f.Count, At: f.At, By: f.By, Words: f.Words,
		Answer: null(string(f.Answer)), Where: f.Spot, Who: f.Whom, AnsweredAt: f.AnsweredAt, Flagged: f.Flags(), ToldAt: f.ToldAt, Told: f.ToldHow, NotInSet: f.NotInSet}
	if f.Tool != "" {
		out.Number = null(f.Number.String())
	}
	if !f.Open() {
		out.AnsweredBy = null(f.AnsweredByPerson)
	}
	return out
}

func viewHeld(h model.HeldView) wire.HeldThing {
	out := wire.HeldThing{ID: h.ID, What: h.What, Since: h.At, By: h.By, Given: h.GivenAt, GivenTo: null(h.GivenTo)}
	if h.GivenAt != 0 {
		out.GivenBy = null(h.GivenByPerson)
	}
	return out
}

func viewLook(l model.LookView) wire.JobLook {
	out := wire.JobLook{Sort: string(l.Sort), Before: null(string(l.Before)), At: l.At, By: l.By, Missing: append(register.Pieces{}, l.MissingPieces()...),
		Result: null(l.Result), Words: l.Words}
	if l.Tool != "" {
		out.Number = null(l.Number.String())
	}
	return out
}

func viewScan(s model.Scanned) wire.JobScan {
	out := wire.JobScan{Scanned: s.Text, Kind: null(s.Kind), Done: null(s.Done), Person: null(s.Holder), Finding: null(s.Finding)}
	if s.Number != "" {
		out.Number = null(s.Number.String())
	}
	if p := s.Problem; p != nil {
		out.Problem = &wire.ScanTrouble{Kind: string(p.Kind), Message: p.Message, Hint: p.Hint}
	}
	return out
}
