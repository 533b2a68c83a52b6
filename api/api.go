// Package api is Pawl's REST service: routes by noun under /api/v1, each bound
// to one use-case of the model. Its words: an exchange is one request with its
// answer and its id; a handler binds what came, asks the Shop and gives an
// answer or a fault, and never a status of failure; offers are the media types
// that a route can give. What a route takes and gives is described in openapi,
// who may use it in access.
package api

import (
	"crypto/rand"
	"io"
	"log/slog"
	"net/http"
	"sync"

	"github.com/gin-gonic/gin"

	"pawl/api/access"
	"pawl/api/openapi"
	"pawl/model"
	"pawl/model/fault"
)

// Prefix is the path below which the routes of this version are.
const Prefix = "/api/v1"

// Options is what the outside world gives the service.
type Options struct {
	Log     *slog.Logger // nil: nothing is logged
	Version string       // of the program, for the description
	Chance  io.Reader    // for the ids of requests; nil: the system's
}

// service answers the routes.
type service struct {
	shop        *model.Shop
	log         *slog.Logger
	description []byte // openapi.json
	docs        page
	chance      io.Reader
	drawing     sync.Mutex // of chance
}

// route is one way to ask.
type route struct {
	method, path string
	query        []string // parameters taken; any other is refused
	offers       []string // media types given; nil: JSON
	handle       handler
}

// New returns the service over a shop. It may be served by an http.Server (see
// Serve) or within this process (see client.InProcess).
func New(shop *model.Shop, o Options) http.Handler {
	s := &service{shop: shop, log: o.Log, chance: o.Chance}
	if s.log == nil {
		s.log = slog.New(slog.DiscardHandler)
	}
	if s.chance == nil {
		s.chance = rand.Reader
	}
	described := openapi.Read(o.Version)
	s.description, s.docs = described.JSON(), docsPage(described)
	return s.watch(s.recover(secure(crossOrigin(refuseWhenStopping(s.engine())))))
}

// engine is the router. Paths are matched as they were sent, so that a job
// number with an escaped slash is one part of the path.
func (s *service) engine() *gin.Engine {
	gin.SetMode(gin.ReleaseMode)
	e := gin.New()
	if err := e.SetTrustedProxies(nil); err != nil {
		panic("api: " + err.Error())
	}
	e.HandleMethodNotAllowed = true
	e.RedirectTrailingSlash = false
	e.UseEscapedPath = true
	e.UnescapePathValues = false // gin would make a space of "+"
	e.NoRoute(func(c *gin.Context) {
		fail(c, fault.New(fault.NotFound, "there is no %q here", c.Request.URL.Path).WithHint("see %s/docs", Prefix))
	})
	e.NoMethod(func(c *gin.Context) {
		fail(c, fault.New(fault.NotAllowed, "%s is not for %q", c.Request.Method, c.Request.URL.Path).
			WithHint("use %s", c.Writer.Header().Get("Allow")))
	})
	for _, r := range s.routes() {
		handlers := []gin.HandlerFunc{note, s.admit, r.agree, r.answer}
		e.Handle(r.method, r.path, handlers...)
		if r.method == http.MethodGet {
			e.Handle(http.MethodHead, r.path, handlers...)
		}
	}
	return e
}

// routes lists every route.
func (s *service) routes() []route {
	var all []route
	for _, noun := range [][]route{
		s.healthRoutes(), s.docsRoutes(), s.settingsRoutes(), s.peopleRoutes(), s.placeRoutes(), s.jobRoutes(),
		s.toolRoutes(), s.custodyRoutes(), s.leavingRoutes(), s.copyRoutes(), s.evidenceRoutes(), s.photoRoutes(), s.labelRoutes(), s.printRoutes(), s.spreadsheetRoutes(), s.tokenRoutes(), s.proofRoutes(),
	} {
		all = append(all, noun...)
	}
	return all
}

// note tells the exchange which route it came to, for the log.
func note(c *gin.Context) { exchangeOf(c.Request).route = c.FullPath() }

// admit finds out who asks and holds the matrix of routes and roles against it.
func (s *service) admit(c *gin.Context) {
	if access.Anyone(c.Request.Method, c.FullPath()) {
		return
	}
	actor, err := s.whoAsks(c.Request)
	if err != nil {
		fail(c, err)
		return
	}
	if !access.Allowed(c.Request.Method, c.FullPath(), actor.Role) {
		fail(c, fault.New(fault.Forbidden, "a %s may not do this", orElse(string(actor.Role), "stranger")).
			WithHint("ask a manager"))
		return
	}
	c.Set(actorKey, actor)
}

func orElse(s, other string) string {
	if s == "" {
		return other
	}
	return s
}
