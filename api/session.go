package api

import (
	"context"
	"errors"
	"net"
	"net/http"
	"net/netip"
	"slices"
	"strings"

	"pawl/api/client"
	"pawl/model"
	"pawl/model/fault"
	"pawl/model/people"
)

// The cookie by which a device is known again. Over HTTPS the name itself binds
// it to this host and to Secure (RFC 6265bis section 4.1.3.2); a browser takes no
// such cookie over plain HTTP, where the name is bare.
const (
	secureCookie = "__Host-pawl"
	plainCookie  = "pawl"
)

// cookieAge is the most that browsers keep a cookie, 400 days (RFC 6265bis
// section 5.5), in seconds. The shop itself ends a session long before, 90 days
// after its last use.
const cookieAge = 400 * 24 * 60 * 60

// BadgeHeader holds the badge, B/CODE, of whoever does one act at a shop device;
// a form of the pages has it in the field BadgeField.
const (
	BadgeHeader = "Pawl-Badge"
	BadgeField  = "badge"
)

// scanPath takes a photo of a label; looking for a tool is nobody's act, and needs
// no badge.
const scanPath = "/scan"

// EnterPath is the page that takes a way in; its secret follows.
const EnterPath = "/enter/"

// Door knows how browsers come in: who asks, from where and how safely, and the
// cookie by which a device is known again. Routes and pages share it.
type Door struct {
	shop    *model.Shop
	proxies []netip.Prefix
	plain   bool
	address string
}

// Actor is whoever asks: the actor whom the in-process transport put into the
// context, else whose bearer token or cookie was sent. A badge names somebody
// for this one request. The fault says that nobody known is asking. The cookie of
// a device in use is renewed once a day, so that it never runs out; it comes before
// the body of the answer.
func (d *Door) Actor(w http.ResponseWriter, r *http.Request) (people.Actor, error) {
	actor, err := d.known(w, r)
	if err != nil {
		return people.Actor{}, err
	}
	badge, err := badgeOf(r, actor)
	if err != nil || badge == "" {
		return actor, err
	}
	return d.shop.ShowBadge(r.Context(), actor, badge)
}

func (d *Door) known(w http.ResponseWriter, r *http.Request) (people.Actor, error) {
	if actor, known := client.ActorFrom(r.Context()); known {
		return actor, nil
	}
	if len(r.Header.Values("Authorization")) == 0 {
		if secret := d.Session(r); secret != "" {
			actor, first, err := d.shop.Visit(r.Context(), secret)
			if first {
				d.SignIn(w, r, secret)
			}
			return actor, err
		}
	}
	secret, err := bearer(r.Header)
	if err != nil {
		return people.Actor{}, err
	}
	actor, err := d.shop.Authenticate(r.Context(), secret)
	if fault.Is(err, fault.Unauthenticated) {
		err = d.shop.WrongToken(r.Context(), d.Address(r), err)
	}
	return actor, err
}

// badgeOf is the badge that was sent with a request. A form is read for it only
// where a shop device asks: what it sends is small.
func badgeOf(r *http.Request, actor people.Actor) (string, error) {
	if stated := r.Header.Values(BadgeHeader); len(stated) > 0 {
		if len(stated) > 1 || stated[0] == "" {
			return "", fault.New(fault.Malformed, "%s is stated %d times, or is empty", BadgeHeader, len(stated)).WithHint("send one badge: B/CODE")
		}
		return stated[0], nil
	}
	kind, _, _ := strings.Cut(r.Header.Get("Content-Type"), ";")
	if actor.Role != people.ShopDevice || r.Method != http.MethodPost || r.URL.Path == scanPath {
		return "", nil
	}
	var err error
	switch strings.ToLower(strings.TrimSpace(kind)) {
	case "application/x-www-form-urlencoded":
		r.Body = http.MaxBytesReader(nil, r.Body, maxJSON)
		err = r.ParseForm()
	case "multipart/form-data":
		r.Body = http.MaxBytesReader(nil, r.Body, maxJSON)
		err = r.ParseMultipartForm(maxJSON)
	default:
		return "", nil
	}
	var big *http.MaxBytesError
	switch {
	case errors.As(err, &big):
		return "", fault.New(fault.TooLarge, "the form has more than %d bytes", big.Limit).WithHint("photos are added with a phone")
	case err != nil:
		return "", fault.New(fault.Malformed, "the form did not arrive whole").WithHint("send it again").WithCause(err)
	}
	return strings.TrimSpace(r.PostForm.Get(BadgeField)), nil
}

// Session is the secret that a device sent, by which it is known; empty: none.
func (d *Door) Session(r *http.Request) string {
	c, err := r.Cookie(d.cookieName(r))
	if err != nil || len(c.Value) > maxSecret {
		return ""
	}
	return c.Value
}

func (d *Door) cookieName(r *http.Request) string {
	if d.HTTPS(r) {
		return secureCookie
	}
	return plainCookie
}

// SignIn gives the device the secret that Shop.Enter made for it, or once more. It comes before
// the body of the answer.
func (d *Door) SignIn(w http.ResponseWriter, r *http.Request, secret string) {
	d.setCookie(w, r, secret, cookieAge)
}

// SignOut takes the secret from the device; Shop.EndSession ends it here.
func (d *Door) SignOut(w http.ResponseWriter, r *http.Request) { d.setCookie(w, r, "", -1) }

func (d *Door) setCookie(w http.ResponseWriter, r *http.Request, secret string, age int) {
	// One answer sets a cookie once (RFC 6265 section 4.1.1).
	name, set := d.cookieName(r), w.Header()
	set["Set-Cookie"] = slices.DeleteFunc(set["Set-Cookie"], func(line string) bool { return strings.HasPrefix(line, name+"=") })
	http.SetCookie(w, &http.Cookie{Name: name, Value: secret, Path: "/", MaxAge: age,
		HttpOnly: true, Secure: d.HTTPS(r), SameSite: http.SameSiteLaxMode})
}

// HTTPS says whether the asker's own connection is safe: it ends here, or at the
// proxy that was named.
func (d *Door) HTTPS(r *http.Request) bool {
	if r.TLS != nil {
		return true
	}
	_, proxied := d.peer(r)
	return proxied && strings.EqualFold(last(r.Header.Values("X-Forwarded-Proto")), "https")
}

// Plain says that this request came, as any may, in plain HTTP from beyond this
// computer. The pages show a banner then.
func (d *Door) Plain(r *http.Request) bool { return d.plain && !d.HTTPS(r) }

// Address is where the asker is, for counting wrong tries: an IPv4 address, or
// the first 64 bits of an IPv6 one, of which a single host has the rest to itself
// (RFC 4291 section 2.5.1). Only the proxy that was named is believed about others.
func (d *Door) Address(r *http.Request) string {
	at, proxied := d.peer(r)
	if proxied {
		if told, ok := hostOf(last(r.Header.Values("X-Forwarded-For"))); ok {
			at = told
		}
	}
	switch {
	case !at.IsValid():
		return r.RemoteAddr
	case at.Is6():
		return netip.PrefixFrom(at, 64).Masked().String()
	}
	return at.String()
}

// peer is the other end of the connection, and whether it is the named proxy.
func (d *Door) peer(r *http.Request) (at netip.Addr, proxied bool) {
	at, ok := hostOf(r.RemoteAddr)
	return at, ok && slices.ContainsFunc(d.proxies, func(p netip.Prefix) bool { return p.Contains(at) })
}

// hostOf reads an address with or without a port.
func hostOf(text string) (netip.Addr, bool) {
	if host, _, err := net.SplitHostPort(text); err == nil {
		text = host
	}
	at, err := netip.ParseAddr(strings.Trim(text, "[]"))
	return at.Unmap().WithZone(""), err == nil
}

// last is the last element of a list in headers: what the nearest proxy added.
func last(headers []string) string {
	all := strings.Split(strings.Join(headers, ","), ",")
	return strings.TrimSpace(all[len(all)-1])
}

// Link is the address of the page that takes a way in: at the address of the
// settings, else where the asker reached this server.
func (d *Door) Link(r *http.Request, secret string) (string, error) {
	base, err := d.base(r.Context())
	if _, here := client.ActorFrom(r.Context()); base == "" && !here {
		scheme := "http://"
		if d.HTTPS(r) {
			scheme = "https://"
		}
		base = scheme + r.Host
	}
	if base == "" {
		base = d.address
	}
	return base + EnterPath + secret, err
}

// base is the address of the settings; empty: none.
func (d *Door) base(ctx context.Context) (string, error) {
	set, err := d.shop.Settings(ctx)
	return set.Address, err
}
