package api

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"strconv"

	"github.com/gin-gonic/gin"

	"pawl/api/wire"
	"pawl/model/fault"
)

const (
	jsonType   = "application/json"
	secondLook = "no-cache" // may be kept, and is asked about before each use
)

// handler answers one request, or says why not.
type handler func(c *gin.Context) (answer, error)

// answer is what is given when all went well.
type answer struct {
	status   int     // 0: 200
	body     any     // is given as JSON
	raw      *raw    // is given in place of JSON
	stream   *stream // is given in place of JSON, as it is written
	rev      int64   // revision of the record; 0: it has none, and no entity tag
	tagged   any     // the representation that the entity tag is of; nil: body
	location string  // of what was created
	told     string  // entity tag without quotes, where the handler knows it; empty: of rev
	next     string  // cursor of the next page; empty: this is the last
	keep     string  // Cache-Control; empty: nothing may keep it
}

// raw is an answer in bytes. It is closed once it was sent.
type raw struct {
	mediaType   string
	disposition string // Content-Disposition
	etag        string // without quotes
	policy      string // Content-Security-Policy; empty: as everywhere
	size        int64  // -1: not known before its end
	open        io.ReadCloser
}

func ok(body any, rev int64) answer { return answer{body: body, rev: rev} }

func created(body any, rev int64, location string) answer {
	return answer{status: http.StatusCreated, body: body, rev: rev, location: location}
}

// answer runs the handler and gives what it made.
func (r route) answer(c *gin.Context) {
	a, err := r.handle(c)
	if err == nil {
		err = a.give(c)
	}
	if err != nil {
		fail(c, err)
	}
}

// give renders the answer. An error comes before anything was written.
func (a answer) give(c *gin.Context) error {
	h := c.Writer.Header()
	h.Set("Vary", "Accept")
	h.Set("Cache-Control", cmp.Or(a.keep, "no-store"))
	if exchangeOf(c.Request).replayed {
		h.Set("Idempotency-Replayed", "true")
	}
	if a.location != "" {
		h.Set("Location", Prefix+a.location)
	}
	if a.next != "" {
		h.Set("Link", nextLink(c.Request, a.next))
	}
	if a.raw != nil {
		return a.raw.give(c)
	}
	if a.stream != nil {
		return a.stream.give(c)
	}
	if a.told != "" && unchanged(c, a.told) {
		return nil
	}
	body, err := encode(a.body)
	if err != nil {
		return err
	}
	if etag, err := a.etag(body); err != nil {
		return err
	} else if etag != "" && unchanged(c, etag) {
		return nil
	}
	h.Set("Content-Type", jsonType)
	h.Set("Content-Length", strconv.Itoa(len(body)))
	c.Status(max(a.status, http.StatusOK))
	_, err = c.Writer.Write(body)
	return cut(err)
}

// cut breaks off an answer that has begun: nobody must take it for whole.
func cut(err error) error {
	if err != nil {
		panic(http.ErrAbortHandler)
	}
	return nil
}

// encode writes JSON for programs: without escapes for HTML.
func encode(v any) ([]byte, error) {
	var b bytes.Buffer
	w := json.NewEncoder(&b)
	w.SetEscapeHTML(false)
	if err := w.Encode(v); err != nil {
		return nil, fmt.Errorf("cannot write %T as JSON: %w", v, err)
	}
	return b.Bytes(), nil
}

// etag is the entity tag of the answer: the revision, a dot, and the first 16
// hex digits of the SHA-256 of the body. Empty where there is no revision.
func (a answer) etag(body []byte) (string, error) {
	if a.rev == 0 {
		return "", nil
	}
	if a.tagged != nil {
		var err error
		if body, err = encode(a.tagged); err != nil {
			return "", err
		}
	}
	return strconv.FormatInt(a.rev, 10) + "." + digest(body), nil
}

func digest(body []byte) string {
	sum := sha256.Sum256(body)
	return hex.EncodeToString(sum[:8])
}

// unchanged sets the entity tag and, where the asker has that very
// representation already, answers 304 (RFC 9110 section 13.1.2).
func unchanged(c *gin.Context, etag string) bool {
	c.Writer.Header().Set("ETag", `"`+etag+`"`)
	if c.Request.Method != http.MethodGet && c.Request.Method != http.MethodHead {
		return false
	}
	if !matches(c.Request.Header.Values("If-None-Match"), etag) {
		return false
	}
	c.Status(http.StatusNotModified)
	c.Writer.WriteHeaderNow()
	return true
}

// give sends bytes.
func (r *raw) give(c *gin.Context) error {
	defer r.open.Close()
	if r.etag != "" && unchanged(c, r.etag) {
		return nil
	}
	h := c.Writer.Header()
	h.Set("Content-Type", r.mediaType)
	if r.size >= 0 {
		h.Set("Content-Length", strconv.FormatInt(r.size, 10))
	}
	if r.disposition != "" {
		h.Set("Content-Disposition", r.disposition)
	}
	if r.policy != "" {
		h.Set("Content-Security-Policy", r.policy)
	}
	c.Status(http.StatusOK)
	if c.Request.Method == http.MethodHead {
		c.Writer.WriteHeaderNow()
		return nil
	}
	_, err := io.Copy(c.Writer, r.open)
	return cut(err)
}

// inMemory makes a raw answer of bytes at hand.
func inMemory(mediaType string, body []byte) *raw {
	return &raw{mediaType: mediaType, etag: digest(body), size: int64(len(body)), open: io.NopCloser(bytes.NewReader(body))}
}

// nextLink points at the next page of a list (RFC 8288).
func nextLink(r *http.Request, cursor string) string {
	at := *r.URL
	query := at.Query()
	query.Set("cursor", cursor)
	return "<" + at.EscapedPath() + "?" + query.Encode() + `>; rel="next"`
}

// fail answers with what went wrong.
func fail(c *gin.Context, err error) {
	exchangeOf(c.Request).fail(c.Writer, err)
	c.Abort()
}

// fail writes err as a problem, the only way in which this service fails.
func (x *exchange) fail(w http.ResponseWriter, err error) {
	x.err = err
	h := w.Header()
	h.Set("Vary", "Accept")
	h.Del("Link")
	if f := fault.Of(err); f.Kind == fault.TooLarge || f.Kind == fault.Unavailable {
		h.Set("Connection", "close") // what is left of the body is not waited for
	}
	wire.WriteProblem(w, err, "urn:uuid:"+x.id)
}

// null is the JSON of a text that may be none.
func null(s string) *string {
	if s == "" {
		return nil
	}
	return &s
}

// list is the JSON of a list: never null.
func list[T, U any](all []T, view func(T) U) []U {
	out := make([]U, len(all))
	for i, v := range all {
		out[i] = view(v)
	}
	return out
}

// words is the JSON of a list of texts: never null.
func words[T ~string](all []T) []string {
	return list(all, func(s T) string { return string(s) })
}
