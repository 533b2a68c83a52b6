package api

import (
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"pawl/api/access"
	"pawl/api/page"
	"pawl/model"
	"pawl/model/fault"
	"pawl/model/people"
)

// mountPages puts the pages beside the routes for programs. Who may see which
// stands in the same matrix.
func (s *service) mountPages(e *gin.Engine) {
	s.pages = page.New(s.shop, page.Options{Chance: s.chanceInTurn(), Door: s.door})
	for _, r := range s.pages.Routes() {
		handle := func(c *gin.Context) { s.answerPage(r, c) }
		e.Handle(r.Method, r.Path, note, handle)
		if r.Method == http.MethodGet {
			e.Handle(http.MethodHead, r.Path, note, handle)
		}
	}
}

// askOf makes the pages' request of one that came in; why it fails goes to the
// log as with every exchange.
func askOf(w http.ResponseWriter, r *http.Request) *page.Ask {
	x := exchangeOf(r)
	return &page.Ask{W: w, R: r, Failed: func(err error) { x.err = err }}
}

// answerPage finds out who asks, and answers with the page or with why not.
func (s *service) answerPage(r page.Route, c *gin.Context) {
	a := askOf(c.Writer, c.Request)
	a.Param = func(name string) string { return c.Param(name) }
	actor, err := s.admitted(c)
	if device, ok := s.withoutBadge(c, err); ok {
		actor, a.Refused, err = device, err, nil
	}
	if err != nil {
		if fault.Is(err, fault.Forbidden) {
			a.By.Actor, _ = s.door.known(c.Writer, c.Request) // who is turned away, with ways on that are theirs
		}
		s.pages.Fail(a, err)
		return
	}
	a.By = model.By{Actor: actor, Replayed: &exchangeOf(c.Request).replayed}
	s.pages.Answer(r, a)
}

// turnAway refuses what no route takes: a browser that asks for a page gets one,
// a program a problem.
func (s *service) turnAway(w http.ResponseWriter, r *http.Request, err error) {
	if !wantsPage(r) {
		exchangeOf(r).fail(w, err)
		return
	}
	s.pages.Fail(askOf(w, r), err)
}

// wantsPage says whether a browser asks for something to be looked at.
func wantsPage(r *http.Request) bool {
	return !strings.HasPrefix(r.URL.Path, "/api/") && strings.Contains(r.Header.Get("Accept"), "text/html")
}

// withoutBadge gives the shop device at which an act was refused for its badge
// alone: its page is shown again, with what was typed.
func (s *service) withoutBadge(c *gin.Context, err error) (people.Actor, bool) {
	refused := fault.Is(err, fault.Forbidden) || fault.Is(err, fault.Malformed) || fault.Is(err, fault.Throttled)
	if !refused || c.Request.Method != http.MethodPost || !access.AllowedWithBadge(c.Request.Method, c.FullPath()) {
		return people.Actor{}, false
	}
	device, unknown := s.door.known(c.Writer, c.Request)
	return device, unknown == nil && device.Role == people.ShopDevice
}

// chanceInTurn lets one draw at a time.
func (s *service) chanceInTurn() inTurn { return inTurn{s} }

type inTurn struct{ s *service }

func (t inTurn) Read(p []byte) (int, error) {
	t.s.drawing.Lock()
	defer t.s.drawing.Unlock()
	return t.s.chance.Read(p)
}
