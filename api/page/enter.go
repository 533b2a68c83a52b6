package page

import (
	"cmp"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"github.com/skip2/go-qrcode"

	"pawl/model"
	"pawl/model/fault"
	"pawl/model/people"
)

// Door is how browsers come in and are known again.
type Door interface {
	Session(r *http.Request) string // what this device is known by; empty: by nothing
	SignIn(w http.ResponseWriter, r *http.Request, secret string)
	HTTPS(r *http.Request) bool // as the browser sees it, also through the shop's own proxy
	SignOut(w http.ResponseWriter, r *http.Request)
	Address(r *http.Request) string // where the asker is, for counting wrong tries
	Link(r *http.Request, secret string) (string, error)
	Calendar(r *http.Request, secret string) (string, error)
	Plain(r *http.Request) bool // it came in plain HTTP from beyond this computer
}

func (p *Pages) enterRoutes() []Route {
	return []Route{
		get("/enter", p.enterByHand),
		get("/enter/:secret", p.enterPage),
		post("/enter/:secret", p.enter),
		get("/signed-out", func(*Ask) (Reply, error) { return Show("enterbye", nil), nil }),
	}
}

// home is where somebody begins: a board at its board, and a viewer
// only what they were let in for.
func home(role people.Role) string {
	switch role {
	case people.ShopDevice:
		return "/board"
	case people.Viewer:
		return "/me"
	}
	return "/today"
}

// strange answers somebody who is not known here with the ways in.
func (p *Pages) strange(a *Ask) Reply {
	a.W.Header().Set("WWW-Authenticate", "Bearer") // RFC 9110 section 15.5.2
	if a.R.Header.Get(byScript) != "" {
		return Reply{page: "problem", err: fault.New(fault.Unauthenticated, "%s", p.say(a, "enter.unknown")).WithHint("%s", p.say(a, "enter.unknown-hint"))}
	}
	return Reply{page: "enterhelp", data: true, status: http.StatusUnauthorized}
}

// enterByHand takes a link that somebody was sent and pastes.
func (p *Pages) enterByHand(a *Ask) (Reply, error) {
	link := a.Query("link")
	if link == "" {
		return Show("enterhelp", false), nil
	}
	secret := link[strings.LastIndexByte(link, '/')+1:]
	if secret == "" || strings.ContainsAny(secret, "?#% ") {
		r := Show("enterhelp", false)
		r.err = fault.At("#/link", "%s", p.say(a, "enter.no-link"))
		r.form = formOf(a.R.URL.Query(), r.err)
		return r, nil
	}
	return Go("/enter/" + secret), nil
}

// entrance is what the page of a way in shows.
type entrance struct {
	model.Enrolment
	Path   string
	Device string // what this device is called unless its owner says otherwise
	Now    string // whose it is so far; empty: nobody's
}

// look says what a way in would make. Looking never uses it up.
func (p *Pages) look(a *Ask) (entrance, error) {
	secret := a.Param("secret")
	e, err := p.shop.LookEnrolment(a.R.Context(), secret, p.door.Address(a.R))
	device := p.say(a, "enter.computer")
	if strings.Contains(a.R.UserAgent(), "Mobi") {
		device = p.say(a, "enter.phone")
	}
	v := entrance{Enrolment: e, Path: "/enter/" + url.PathEscape(secret), Device: device}
	if session := p.door.Session(a.R); session != "" && err == nil {
		was, err := p.shop.Session(a.R.Context(), session)
		if err != nil && !fault.Is(err, fault.Unauthenticated) {
			return v, err
		}
		v.Now = was.Name
	}
	return v, err
}

func (p *Pages) enterPage(a *Ask) (Reply, error) {
	e, err := p.look(a)
	if err != nil {
		return Reply{page: "enterhelp", data: false, err: err}, nil
	}
	return Show("enter", e), nil
}

// enter takes a way in: this device is known from here on.
func (p *Pages) enter(a *Ask) (Reply, error) {
	secret := a.Param("secret")
	let, err := p.shop.Enter(a.R.Context(), model.Entry{Secret: secret, Device: a.Value("device"), Name: a.Value("name"), Session: p.door.Session(a.R)}, p.door.Address(a.R))
	if fault.Is(err, fault.Invalid) || fault.Is(err, fault.Conflict) {
		e, gone := p.look(a)
		if gone == nil {
			return a.Again("enter", e, err), nil
		}
		err = gone
	}
	if err != nil {
		return Reply{page: "enterhelp", data: false, err: err}, nil
	}
	p.door.SignIn(a.W, a.R, let.Secret)
	role := map[people.DeviceKind]people.Role{people.BoardDevice: people.ShopDevice, people.ViewersDevice: people.Viewer}[let.Kind]
	return Go(home(role), p.say(a, "enter.done", cmp.Or(let.PersonName, let.Name))), nil
}

// invitation is a way in as the screen shows it to the one who may take it.
type invitation struct {
	model.Enrolment
	Link string
	Side int    // modules of the code, its quiet zone with them
	Code string // path of its dark modules
	Here bool   // the link leads to this computer alone
	Back string // where the one who made it goes on
}

// invite shows a way in that was just made. Its secret is in no address of ours
// and is kept nowhere: to see it again is to make another.
func (p *Pages) invite(a *Ask, e model.Enrolment, back string) (Reply, error) {
	link, err := p.door.Link(a.R, e.Secret)
	if err != nil {
		return Reply{}, err
	}
	v := invitation{Enrolment: e, Link: link, Back: back}
	if v.Code, v.Side, err = drawCode(link); err != nil {
		return Reply{}, err
	}
	if at, err := url.Parse(link); err == nil {
		host := at.Hostname()
		v.Here = host == "localhost" || strings.HasPrefix(host, "127.") || host == "::1"
	}
	return Show("enterlink", v), nil
}

// drawCode gives the dark modules of a QR code as a path of runs, one unit a
// module, within its quiet zone of four (ISO/IEC 18004).
func drawCode(text string) (path string, side int, err error) {
	code, err := qrcode.New(text, qrcode.Medium)
	if err != nil {
		return "", 0, fault.New(fault.Internal, "the link cannot be drawn as a QR code").WithCause(err)
	}
	code.DisableBorder = true
	const quiet = 4
	rows := code.Bitmap()
	var b strings.Builder
	for y, row := range rows {
		for x := 0; x < len(row); x++ {
			from := x
			for x < len(row) && row[x] {
				x++
			}
			if x > from {
				run := strconv.Itoa(x - from)
				b.WriteString("M" + strconv.Itoa(from+quiet) + " " + strconv.Itoa(y+quiet) + "h" + run + "v1h-" + run + "z")
			}
		}
	}
	return b.String(), len(rows) + 2*quiet, nil
}
