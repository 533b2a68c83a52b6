package api

import (
	"bytes"
	"context"
	"io"
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"pawl/api/wire"
	"pawl/model"
	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/inspections"
	"pawl/model/settings"
)

const icsType = "text/calendar"

// CalendarPath is where calendar programs read what is due; a secret follows.
const CalendarPath = Prefix + "/calendar/"

func (s *service) dueRoutes() []route {
	return []route{
		done("inspect", func(ctx context.Context, by model.By, number string, in wire.Inspect) (any, error) {
			v, err := s.shop.Inspect(ctx, by, number, model.Inspect{Check: in.Check, Result: in.Result, By: in.By, On: in.On, Happened: in.Happened,
				Note: in.Note, Next: in.Next, Evidence: in.Evidence, Plan: (*model.InspectionPlan)(in.Plan)})
			return viewInspected(v), err
		}),
		{method: http.MethodGet, path: Prefix + "/tools/:number/inspections", handle: s.inspections},
		{method: http.MethodGet, path: Prefix + "/due", query: []string{"sort", "person", "place", "within", "format", "limit", "cursor"},
			offers: []string{jsonType, icsType}, handle: s.due},
		{method: http.MethodGet, path: Prefix + "/feeds", handle: s.feeds},
		{method: http.MethodPost, path: Prefix + "/feeds", handle: s.addFeed},
		{method: http.MethodPost, path: Prefix + "/feeds/:id/revoke", handle: s.revokeFeed},
		{method: http.MethodGet, path: CalendarPath + ":secret", offers: []string{icsType}, handle: s.calendar},
	}
}

func (s *service) inspections(c *gin.Context) (answer, error) {
	v, err := s.shop.Inspections(c.Request.Context(), by(c), c.Param("number"))
	return ok(viewInspections(v), 0), err
}

func viewInspected(v model.InspectionsView) wire.Inspected {
	out := wire.Inspected{Inspections: viewInspections(v), Advice: words(v.Advice)}
	if v.Recorded != nil {
		one := viewInspection(*v.Recorded)
		out.ID, out.Inspection = &one.ID, &one
	}
	return out
}

func viewInspections(v model.InspectionsView) wire.Inspections {
	return wire.Inspections{Number: v.Number.String(), Kind: v.Kind, DoNotUse: null(v.DoNotUse), Cautions: words(v.Cautions),
		Checks:      list(v.Checks, func(c inspections.Standing) wire.Check { return viewCheck(c, v) }),
		Inspections: list(v.Inspections, viewInspection)}
}

func viewCheck(c inspections.Standing, v model.InspectionsView) wire.Check {
	out := wire.Check{Check: c.Name, Every: c.Every.String(), Whose: string(c.Whose), Source: c.Source, Provenance: c.Provenance, Does: c.Does,
		NeedsBy: c.NeedsPerson, NeedsPaper: c.NeedsPaper, Also: words(c.Also), Next: dayOrNone(c.Next), Why: c.Why, Failed: c.Failed,
		Overdue: c.Overdue(v.Today)}
	if c.Last != nil {
		one := viewInspection(model.InspectionView{Inspection: *c.Last})
		for _, i := range v.Inspections {
			if i.ID == c.Last.ID {
				one = viewInspection(i)
			}
		}
		out.Last = &one
	}
	return out
}

func viewInspection(v model.InspectionView) wire.Inspection {
	return wire.Inspection{ID: v.ID, Check: v.Name, On: v.OnDay, Happened: v.DoneAt, Entered: v.Entered, EnteredBy: null(v.EnteredBy), By: v.Inspector,
		Result: string(v.Result), Note: v.Note, Paper: null(v.Paper), Next: dayOrNone(v.TagDay)}
}

func dayOrNone(d dates.Date) *dates.Date {
	if d == "" {
		return nil
	}
	return &d
}

// due gives what is due, or a calendar of it.
func (s *service) due(c *gin.Context) (answer, error) {
	q := askedOf(c)
	in := model.DueQuery{Sort: q.text("sort"), Person: q.text("person"), Place: q.text("place"), Limit: q.limit(), Cursor: q.text("cursor")}
	if q.values.Has("within") {
		days := q.number("within", 0, 0, 5500)
		in.Within = &days
	}
	kind := c.GetString(offered)
	if q.values.Has("format") {
		in.Tasks = q.text("format") == "tasks"
		if kind = map[string]string{"json": jsonType, "ics": icsType, "tasks": icsType}[q.text("format")]; kind == "" {
			q.bad.Add("#/format", "%q is not a format of what is due; use json, ics or tasks", fault.Clip(q.text("format")))
		}
	}
	if kind == icsType && (q.values.Has("limit") || q.values.Has("cursor")) {
		q.bad.Add("#/limit", "a calendar is given whole")
	}
	if err := q.bad.Err(); err != nil {
		return answer{}, err
	}
	if kind == icsType {
		return calendarOf(func(w io.Writer) error { return s.shop.WriteDue(c.Request.Context(), by(c), in, w) })
	}
	v, err := s.shop.Due(c.Request.Context(), by(c), in)
	return answer{body: wire.Dues{Due: list(v.Rows, viewDue), Today: v.Today, Next: null(v.Next)}, next: v.Next}, err
}

func viewDue(r model.DueRow) wire.Due {
	return wire.Due{ID: r.Row.ID, Sort: string(r.Sort), What: r.What, On: r.Day, At: r.At, Days: r.Days, Number: r.Number.String(), Kind: r.Kind, Maker: r.Maker,
		Model: r.Model, Owner: r.ToolRow.Owner, Place: null(r.ToolRow.Place), Person: null(r.Row.Person), Job: null(r.Job), Claim: null(r.Claim), Why: r.Why, Paid: null(r.Paid)}
}

// calendarOf gives a calendar that was written whole.
func calendarOf(write func(io.Writer) error) (answer, error) {
	var b bytes.Buffer
	if err := write(&b); err != nil {
		return answer{}, err
	}
	return answer{raw: &raw{mediaType: icsType + "; charset=utf-8", size: int64(b.Len()), open: io.NopCloser(&b), disposition: `attachment; filename="due.ics"`}}, nil
}

// calendar is for programs that know nothing but its address.
func (s *service) calendar(c *gin.Context) (answer, error) {
	secret := strings.TrimSuffix(c.Param("secret"), ".ics")
	return calendarOf(func(w io.Writer) error {
		return s.shop.WriteFeed(c.Request.Context(), secret, s.door.Address(c.Request), w)
	})
}

func (s *service) feeds(c *gin.Context) (answer, error) {
	all, err := s.shop.Feeds(c.Request.Context(), by(c))
	return ok(wire.Feeds{Feeds: list(all, viewFeed)}, 0), err
}

func (s *service) addFeed(c *gin.Context) (answer, error) {
	in, err := bind[wire.NewFeed](c, false)
	if err != nil {
		return answer{}, err
	}
	v, err := s.shop.AddFeed(c.Request.Context(), by(c), model.NewFeed(in))
	if err != nil {
		return answer{}, err
	}
	out := viewFeed(v)
	if v.Secret != "" { // a replay has none
		out.Link, err = s.door.Calendar(c.Request, v.Secret)
	}
	return created(out, 0, ""), err
}

func (s *service) revokeFeed(c *gin.Context) (answer, error) {
	if _, err := bind[nothing](c, true); err != nil {
		return answer{}, err
	}
	v, err := s.shop.RevokeFeed(c.Request.Context(), by(c), c.Param("id"))
	return ok(viewFeed(v), 0), err
}

func viewFeed(v model.FeedView) wire.Feed {
	return wire.Feed{ID: v.ID, Name: v.Name, For: null(v.ForName), Since: v.Since, LastUsed: v.LastUsed, Revoked: v.Revoked}
}

// Calendar is the address at which a calendar program reads what a secret opens.
func (d *Door) Calendar(r *http.Request, secret string) (string, error) {
	link, err := d.Link(r, secret)
	base, _, found := strings.Cut(link, EnterPath)
	if err == nil && !found {
		err = fault.New(fault.Internal, "a link has no %s", EnterPath)
	}
	return base + CalendarPath + secret + ".ics", err
}

func viewLead(l settings.Lead) (out wire.Lead) {
	out.Calibration, out.Inspection, out.Return, out.Warranty = l.Days()
	return out
}
