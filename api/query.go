package api

import (
	"cmp"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/gin-gonic/gin"

	"pawl/model/fault"
)

// queryKey is where the parameters of a request are kept.
const queryKey = "query"

// Rows of one page of a list.
const (
	defaultLimit = 50
	maxLimit     = 200
)

// many are the parameters that may be given more than once.
var many = []string{"number", "map", "ignore"}

// parameters reads the query. One that the route does not take is Malformed, so
// that a misspelt filter cannot give everything.
func parameters(r *http.Request, taken []string) (url.Values, error) {
	values, err := url.ParseQuery(r.URL.RawQuery)
	if err != nil {
		return nil, fault.New(fault.Malformed, "the parameters after ? cannot be read: %s", fault.Clip(err.Error())).
			WithHint("escape them as in a form")
	}
	for name, all := range values {
		switch {
		case !slices.Contains(taken, name):
			return nil, fault.New(fault.Malformed, "there is no parameter %q here", fault.Clip(name)).
				WithHint("this route takes %s", cmp.Or(strings.Join(taken, ", "), "none"))
		case len(all) > 1 && !slices.Contains(many, name):
			return nil, fault.New(fault.Malformed, "parameter %s is given %d times", name, len(all)).WithHint("give it once")
		case !utf8.ValidString(strings.Join(all, "")):
			return nil, fault.New(fault.Malformed, "parameter %s is not UTF-8 text", name)
		}
	}
	return values, nil
}

func queryOf(c *gin.Context) url.Values {
	values, _ := c.MustGet(queryKey).(url.Values)
	return values
}

// asked reads the parameters of one request and gathers what is wrong with them.
type asked struct {
	values url.Values
	bad    fault.Problems
}

func askedOf(c *gin.Context) *asked { return &asked{values: queryOf(c)} }

func (q *asked) text(name string) string { return q.values.Get(name) }

// flag reads true or false; absent is nil.
func (q *asked) flag(name string) *bool {
	var v bool
	switch q.values.Get(name) {
	case "true":
		v = true
	case "false":
	default:
		if q.values.Has(name) {
			q.bad.Add("#/"+name, "%q is not true or false", fault.Clip(q.values.Get(name)))
		}
		return nil
	}
	return &v
}

// number reads a whole number from least to most; absent is other.
func (q *asked) number(name string, other, least, most int) int {
	if !q.values.Has(name) {
		return other
	}
	n, err := strconv.Atoi(q.values.Get(name))
	if err != nil || n < least || n > most || strconv.Itoa(n) != q.values.Get(name) {
		q.bad.Add("#/"+name, "%q is not a whole number from %d to %d", fault.Clip(q.values.Get(name)), least, most)
	}
	return n
}

// limit reads how many rows a page may hold. Too many is refused and not cut.
func (q *asked) limit() int { return q.number("limit", defaultLimit, 1, maxLimit) }

// millimeters reads a length such as -0.3, with at most one decimal.
func (q *asked) millimeters(name string) float64 {
	stated := q.values.Get(name)
	if stated == "" && !q.values.Has(name) {
		return 0
	}
	whole, tenths, _ := strings.Cut(strings.TrimPrefix(stated, "-"), ".")
	plain := func(s string, most int) bool {
		return len(s) <= most && strings.IndexFunc(s, func(r rune) bool { return r < '0' || r > '9' }) < 0
	}
	mm, err := strconv.ParseFloat(stated, 64)
	if err != nil || !plain(whole, 3) || !plain(tenths, 1) {
		q.bad.Add("#/"+name, "%q is not a length in mm with one decimal", fault.Clip(stated))
	}
	return mm
}

// unescape turns the parts of the path into text, once.
func unescape(c *gin.Context) error {
	for i, p := range c.Params {
		text, err := url.PathUnescape(p.Value)
		if err != nil || !utf8.ValidString(text) {
			return fault.New(fault.Malformed, "%q in the address is not UTF-8 text, escaped", fault.Clip(p.Value))
		}
		c.Params[i].Value = text
	}
	return nil
}
