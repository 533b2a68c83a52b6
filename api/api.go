// Package api is Pawl's REST service: routes by noun under /api/v1, each bound
// to one use-case of the model. Its words: an exchange is one request with its
// answer and its id; a handler binds what came, asks the Shop and gives an
// answer or a fault, and never a status of failure; offers are the media types
// that a route can give. What a route takes and gives is described in openapi,
// who may use it in access.
package api

import (
	"cmp"
	"crypto/rand"
	"io"
	"log/slog"
	"net/http"
	"net/netip"
	"sync"

	"github.com/gin-gonic/gin"

	"pawl/api/access"
	"pawl/api/openapi"
	"pawl/api/page"
	"pawl/model"
	"pawl/model/fault"
	"pawl/model/people"
)

// Prefix is the path below which the routes of this version are.
const Prefix = "/api/v1"

// Options is what the outside world gives the service.
type Options struct {
	Log     *slog.Logger // nil: nothing is logged
	Version string       // of the program, for the description
	Chance  io.Reader    // for the ids of requests; nil: the system's
	Metrics *Metrics     // counts them; nil: nobody does

	Address string         // where it is reached when the settings say nothing: https://HOST:PORT
	Proxies []netip.Prefix // of these alone X-Forwarded-For and X-Forwarded-Proto are believed
	Plain   bool           // it is reached from beyond this computer in plain HTTP
}

// service answers the routes.
type service struct {
	shop        *model.Shop
	log         *slog.Logger
	metrics     *Metrics
	description func() []byte   // openapi.json, made when it is first asked for
	docs        func() document // the same for people
	pages       *page.Pages
	door        *Door
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
	s := &service{shop: shop, log: o.Log, metrics: o.Metrics, chance: o.Chance, door: &Door{shop: shop, proxies: o.Proxies, plain: o.Plain, address: o.Address}}
	if s.log == nil {
		s.log = slog.New(slog.DiscardHandler)
	}
	if s.chance == nil {
		s.chance = rand.Reader
	}
	s.description = sync.OnceValue(func() []byte { return openapi.Read(o.Version).JSON() })
	s.docs = sync.OnceValue(func() document { return docsPage(openapi.Read(o.Version)) })
	return s.watch(s.recover(s.secure(s.crossOrigin(s.refuseTurnedAway(s.engine())))))
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
		s.turnAway(c.Writer, c.Request, fault.New(fault.NotFound, "there is no %q here", c.Request.URL.Path).WithHint("see %s/docs", Prefix))
	})
	e.NoMethod(func(c *gin.Context) {
		s.turnAway(c.Writer, c.Request, fault.New(fault.NotAllowed, "%s is not for %q", c.Request.Method, c.Request.URL.Path).
			WithHint("use %s", c.Writer.Header().Get("Allow")))
	})
	for _, r := range s.routes() {
		handlers := []gin.HandlerFunc{note, s.admit, r.agree, r.answer}
		e.Handle(r.method, r.path, handlers...)
		if r.method == http.MethodGet {
			e.Handle(http.MethodHead, r.path, handlers...)
		}
	}
	s.mountPages(e)
	return e
}

// routes lists every route.
func (s *service) routes() []route {
	var all []route
	for _, noun := range [][]route{
		s.healthRoutes(), s.docsRoutes(), s.settingsRoutes(), s.peopleRoutes(), s.placeRoutes(), s.jobRoutes(),
		s.toolRoutes(), s.custodyRoutes(), s.leavingRoutes(), s.copyRoutes(), s.evidenceRoutes(), s.photoRoutes(), s.labelRoutes(), s.printRoutes(), s.spreadsheetRoutes(), s.tokenRoutes(), s.proofRoutes(), s.deviceRoutes(), s.calibrationRoutes(), s.chartRoutes(), s.adviceRoutes(), s.recheckRoutes(), s.dueRoutes(), s.markingRoutes(), s.allBackRoutes(), s.countRoutes(), s.worthRoutes(), s.lossRoutes(), s.claimRoutes(), s.packetRoutes(), s.matchRoutes(),
	} {
		all = append(all, noun...)
	}
	return all
}

// note tells the exchange which route it came to, for the log.
func note(c *gin.Context) { exchangeOf(c.Request).route = c.FullPath() }

// admit finds out who asks and holds the matrix of routes and roles against it.
func (s *service) admit(c *gin.Context) {
	actor, err := s.admitted(c)
	if err != nil {
		fail(c, err)
		return
	}
	c.Set(actorKey, actor)
}

// admitted gives whoever asks, if the matrix lets them; nobody where a route is
// for anyone.
func (s *service) admitted(c *gin.Context) (people.Actor, error) {
	method, path := c.Request.Method, c.FullPath()
	if access.Anyone(method, path) {
		return people.Actor{}, nil
	}
	actor, err := s.door.Actor(c.Writer, c.Request)
	if err != nil {
		return people.Actor{}, err
	}
	if access.Allowed(method, path, actor) {
		return actor, nil
	}
	denied := fault.New(fault.Forbidden, "a %s may not do this", cmp.Or(string(actor.Role), "stranger")).WithHint("ask a manager")
	if actor.Role == people.ShopDevice && access.AllowedWithBadge(method, path) {
		denied = fault.New(fault.Forbidden, "say who you are: this device is the shop's").WithHint("scan your badge").WithFact("badge", "needed")
	}
	return people.Actor{}, denied
}
