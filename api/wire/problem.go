package wire

import (
	"encoding/json"
	"errors"
	"net/http"
	"strconv"
	"strings"

	"pawl/model/fault"
)

// ProblemType is the media type of every failure: RFC 9457 section 3.
const ProblemType = "application/problem+json"

// docs is where each kind of fault is described.
const docs = "/api/v1/docs#fault-"

// retryAfter is the Retry-After, in seconds, of a fault that states none.
const retryAfter = "5"

// RetryFact is the fact by which a Throttled or Unavailable fault states after
// how many whole seconds to try again.
const RetryFact = "retry_after"

// QuotaFact and WindowFact are the facts by which a Throttled fault states how
// often something may be tried in how many seconds.
const (
	QuotaFact  = "quota"
	WindowFact = "window"
)

// quotaType is the problem type of a quota that is used up, and quotaPolicy the
// name of ours: draft-ietf-httpapi-ratelimit-headers, text of September 2025.
const (
	quotaType   = "https://iana.org/assignments/http-problem-types#quota-exceeded"
	quotaPolicy = "guesses"
)

// Problem is how a failure travels: the members of RFC 9457 section 3.1, and
// ours: kind tells apart what one status joins, errors lists each value at
// fault, facts are for programs.
type Problem struct {
	Type     string            `json:"type"` // an absolute path into the docs page
	Title    string            `json:"title"`
	Status   int               `json:"status"`
	Detail   string            `json:"detail"`
	Instance string            `json:"instance,omitempty"` // the id of the request
	Kind     string            `json:"kind"`
	Hint     string            `json:"hint,omitempty"`
	Errors   []fault.Field     `json:"errors,omitempty"`
	Facts    map[string]string `json:"facts,omitempty"`

	Violated []string `json:"violated-policies,omitempty"` // by the names in RateLimit-Policy
}

// meaning is a row of the one table between faults and HTTP.
type meaning struct {
	kind   fault.Kind
	status int
	title  string
}

// meanings is read both ways; of two kinds with one status the first is meant
// where nothing but the status is known. Statuses: RFC 9110 section 15.5 and
// 15.6; 428 and 429: RFC 6585.
var meanings = []meaning{
	{fault.Malformed, http.StatusBadRequest, "The request cannot be read"},
	{fault.Unauthenticated, http.StatusUnauthorized, "Nobody known is asking"},
	{fault.Forbidden, http.StatusForbidden, "Not allowed"},
	{fault.NotFound, http.StatusNotFound, "Not found"},
	{fault.NotAllowed, http.StatusMethodNotAllowed, "Not with this method"},
	{fault.NotAcceptable, http.StatusNotAcceptable, "No such representation"},
	{fault.Conflict, http.StatusConflict, "The state of things does not permit it now"},
	{fault.Refused, http.StatusConflict, "A rule says no"},
	{fault.Stale, http.StatusPreconditionFailed, "The record has changed since it was read"},
	{fault.TooLarge, http.StatusRequestEntityTooLarge, "Too large"},
	{fault.Media, http.StatusUnsupportedMediaType, "Media type not taken"},
	{fault.Invalid, http.StatusUnprocessableEntity, "A value is not acceptable"},
	{fault.Precondition, http.StatusPreconditionRequired, "Say which revision was read"},
	{fault.Throttled, http.StatusTooManyRequests, "Too much at once"},
	{fault.Internal, http.StatusInternalServerError, "Something went wrong inside"},
	{fault.Unavailable, http.StatusServiceUnavailable, "Cannot be served now"},
}

func meaningOf(kind fault.Kind) (meaning, bool) {
	for _, m := range meanings {
		if m.kind == kind {
			return m, true
		}
	}
	return meaning{}, false
}

// ProblemOf says err in a form that may leave the house. Of an internal fault
// it says nothing but that it was one: message, facts and cause are for the log.
// Instance is the id of the request.
func ProblemOf(err error, instance string) Problem {
	e := fault.Of(err)
	if e == nil {
		e = fault.New(fault.Internal, "")
	}
	m, known := meaningOf(e.Kind)
	if !known || e.Kind == fault.Internal {
		m, _ = meaningOf(fault.Internal)
		e = fault.Of(errInside)
	}
	p := Problem{
		Type: docs + strings.ReplaceAll(string(m.kind), " ", "-"), Title: m.title, Status: m.status,
		Detail: e.Message, Instance: instance, Kind: string(m.kind),
		Hint: e.Hint, Errors: e.Fields, Facts: e.Facts,
	}
	if p.quota() {
		p.Type, p.Violated = quotaType, []string{quotaPolicy}
	}
	return p
}

// quota says that what was tried too often is counted, and may be tried again.
func (p Problem) quota() bool {
	return p.Status == http.StatusTooManyRequests && p.Facts[QuotaFact] != "" && p.Facts[WindowFact] != ""
}

// errInside stands for whatever an internal fault was about.
var errInside = errors.New("inside")

// Fault rebuilds the fault that the problem was made of, less its cause. A
// problem of no kind of ours, from a proxy or a newer server, counts by its
// status.
func (p Problem) Fault() *fault.Error {
	detail := p.Detail
	if detail == "" {
		detail = p.Title
	}
	e := FaultOfStatus(p.Status, detail)
	if m, known := meaningOf(fault.Kind(p.Kind)); known {
		e.Kind = m.kind
	}
	e.Hint, e.Fields, e.Facts = p.Hint, p.Errors, p.Facts
	return e
}

// FaultOfStatus makes the fault of an answer of which nothing but its status is
// known. Detail may be empty. A status outside the table counts as the nearest
// in it: another 4xx as Malformed, a gateway's failure as Unavailable, all else
// as Internal.
func FaultOfStatus(status int, detail string) *fault.Error {
	if detail == "" {
		detail = strings.TrimSpace("the server answered " + strconv.Itoa(status) + " " + http.StatusText(status))
	}
	return &fault.Error{Kind: kindOf(status), Message: detail}
}

func kindOf(status int) fault.Kind {
	for _, m := range meanings {
		if m.status == status {
			return m.kind
		}
	}
	switch {
	case status == http.StatusGone:
		return fault.NotFound
	case status == http.StatusRequestTimeout, status == http.StatusBadGateway, status == http.StatusGatewayTimeout:
		return fault.Unavailable
	case status >= 400 && status < 500:
		return fault.Malformed
	}
	return fault.Internal
}

// WriteProblem answers with err. It must come before anything else was written.
func WriteProblem(w http.ResponseWriter, err error, instance string) {
	p := ProblemOf(err, instance)
	h := w.Header()
	for _, name := range []string{"Content-Length", "Content-Encoding", "Content-Disposition", "Etag", "Last-Modified", "Location"} {
		h.Del(name) // they spoke of the answer that did not come about
	}
	h.Set("Content-Type", ProblemType)
	h.Set("Cache-Control", "no-store")
	h.Set("X-Content-Type-Options", "nosniff")
	switch p.Status {
	case http.StatusUnauthorized: // RFC 9110 section 15.5.2
		h.Set("WWW-Authenticate", "Bearer")
	case http.StatusTooManyRequests, http.StatusServiceUnavailable:
		h.Set("Retry-After", retryIn(p.Facts[RetryFact]))
	}
	if p.quota() {
		h.Set("RateLimit-Policy", `"`+quotaPolicy+`";q=`+retryIn(p.Facts[QuotaFact])+";w="+retryIn(p.Facts[WindowFact]))
		h.Set("RateLimit", `"`+quotaPolicy+`";r=0;t=`+retryIn(p.Facts[RetryFact]))
	}
	w.WriteHeader(p.Status)
	_ = json.NewEncoder(w).Encode(p) // the asker may be gone, and nothing is left to tell them
}

// retryIn takes whole seconds as RFC 9110 section 10.2.3 wants them.
func retryIn(stated string) string {
	if n, err := strconv.Atoi(stated); err != nil || n < 0 {
		return retryAfter
	}
	return stated
}
