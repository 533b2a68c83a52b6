// Package client asks a Pawl server in Go types, over any http.RoundTripper:
// the network's, or InProcess, which carries the API inside this process. Each
// method is one route, and every failure is a *fault.Error: rebuilt from the
// problem that the server sent, or Unavailable when no answer came.
//
// Every POST and PATCH carries a replay key, so that one sent again does what
// it does once. A caller that may ask again later states the key itself with
// Key. A request that found no answer is sent again, under the same key, twice.
package client

import (
	"net/http"
	"strings"
	"time"
)

// inHouse is the address of a server that is reached without a network; the
// name can never resolve: RFC 6761 section 6.4.
const inHouse = "http://pawl.invalid"

// Client asks one server. It is safe for use by many goroutines; its fields are
// to be set before the first call.
type Client struct {
	// Timeout bounds one try of a call that answers in JSON, from the first byte
	// sent to the last received, and each wait for the other side where bytes of
	// any number flow. 0 sets no bound.
	Timeout time.Duration
	// Pause comes before a second try; twice as long before a third.
	Pause time.Duration

	base  string
	token string
	http  http.Client
}

// New returns a client of the server at base, such as "https://tools.example".
// An empty base is for the in-process transport. A nil rt is the network's.
// Token, where not empty, is sent as a bearer token.
func New(base string, rt http.RoundTripper, token string) *Client {
	if base == "" {
		base = inHouse
	}
	return &Client{
		Timeout: 60 * time.Second, Pause: 200 * time.Millisecond,
		base: strings.TrimRight(base, "/"), token: token,
		http: http.Client{Transport: rt, CheckRedirect: asAnswered},
	}
}

// asAnswered follows no redirect: the API makes none, and a token is not for
// whoever a stranger's answer points at.
func asAnswered(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }

// Call is what a caller may state about one request.
type Call struct {
	Badge string // B/CODE of whoever acts, at a board
	Key   string // replay key: 1 to 255 visible ASCII characters, no quote or backslash
}

// Option states something about one request.
type Option func(*Call)

// Badge states whose badge was shown at a board for this request.
func Badge(code string) Option { return func(c *Call) { c.Badge = code } }

// Key states the replay key of a request, for a caller that may send it again.
func Key(key string) Option { return func(c *Call) { c.Key = key } }
