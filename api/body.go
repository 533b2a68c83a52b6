package api

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"mime"
	"net/http"
	"os"
	"reflect"
	"strings"
	"unicode/utf8"

	"github.com/gin-gonic/gin"

	"pawl/model/fault"
)

// maxJSON is the most bytes of a request in JSON.
const maxJSON = 1 << 20

const patchType = "application/merge-patch+json"

// bind reads a JSON object into a T. Members that T does not have, and values
// of another type than theirs, are Invalid with a pointer to each; what is no
// JSON is Malformed. Without a body, optional says whether that means {}.
func bind[T any](c *gin.Context, optional bool) (T, error) {
	var in T
	raw, err := readJSON(c.Request, jsonType, optional)
	if err != nil || raw == nil {
		return in, err
	}
	return decode[T](raw, false)
}

// bindPatch reads a merge patch (RFC 7396) into a T, whose members are pointers:
// an absent member stays nil, null becomes the empty value.
func bindPatch[T any](c *gin.Context) (T, error) {
	raw, err := readJSON(c.Request, patchType, false)
	if err != nil {
		var none T
		return none, err
	}
	return decode[T](raw, true)
}

// nothing is the body of a request that needs none.
type nothing struct{}

// readJSON reads a body of that media type; nil where there is none and that is
// permitted.
func readJSON(r *http.Request, mediaType string, optional bool) ([]byte, error) {
	body := limit(r.Body, maxJSON)
	raw, err := io.ReadAll(body)
	if err != nil {
		return nil, err
	}
	if len(raw) == 0 && optional {
		return nil, nil
	}
	if err := checkMedia(r.Header, mediaType); err != nil {
		return nil, err
	}
	if !utf8.Valid(raw) {
		return nil, fault.New(fault.Malformed, "the body is not UTF-8 text")
	}
	return raw, nil
}

func checkMedia(h http.Header, want string) error {
	stated := h.Get("Content-Type")
	kind, parameters, err := mime.ParseMediaType(stated)
	charset := parameters["charset"]
	switch {
	case err != nil || kind != want || charset != "" && !strings.EqualFold(charset, "utf-8"):
		return fault.New(fault.Media, "a body of type %q is not taken here", fault.Clip(stated)).WithHint("send it as Content-Type: %s", want)
	case h.Get("Content-Encoding") != "" && !strings.EqualFold(h.Get("Content-Encoding"), "identity"):
		return fault.New(fault.Media, "a body in the encoding %q is not taken", fault.Clip(h.Get("Content-Encoding"))).WithHint("send it as it is")
	}
	return nil
}

// decode turns the text of one JSON object into a T.
func decode[T any](raw []byte, patch bool) (T, error) {
	var out T
	value, err := parse(raw)
	if err != nil {
		return out, err
	}
	form := reflect.TypeFor[T]()
	var s shape
	if object, ok := value.(map[string]any); ok && patch {
		s.empty(object, form)
	}
	s.check("#", value, form)
	if err := s.bad.Err(); err != nil {
		return out, err
	}
	plain, err := json.Marshal(value)
	if err != nil {
		return out, err
	}
	return out, json.Unmarshal(plain, &out)
}

// parse reads one JSON text and nothing after it. Numbers stay as written.
func parse(raw []byte) (any, error) {
	d := json.NewDecoder(bytes.NewReader(raw))
	d.UseNumber()
	var value any
	if err := d.Decode(&value); err != nil {
		return nil, notJSON(err)
	}
	if _, err := d.Token(); err != io.EOF {
		return nil, fault.New(fault.Malformed, "something follows the JSON text, at byte %d", d.InputOffset())
	}
	if at := loneSurrogate(raw); at >= 0 {
		return nil, fault.New(fault.Malformed, "the escape at byte %d stands for no character", at).
			WithHint(`surrogates such as \ud83d come in pairs`)
	}
	if at, name := twice(raw); at >= 0 {
		return nil, fault.New(fault.Malformed, "member %q is there twice, at byte %d again", fault.Clip(name), at).WithHint("send it once")
	}
	return value, nil
}

// twice finds the second of two members of one name in an object, and the byte
// after its name; -1 for none. RFC 8259 section 4 leaves open what such an object
// means, and RFC 7493 section 2.3 forbids it. The text must be JSON.
func twice(raw []byte) (at int64, name string) {
	type level struct {
		names map[string]bool // nil in an array
		value bool            // a value is next, and no name
	}
	var open []level
	for d := json.NewDecoder(bytes.NewReader(raw)); ; {
		token, err := d.Token()
		if err != nil {
			return -1, ""
		}
		if delimiter, ok := token.(json.Delim); ok && (delimiter == '}' || delimiter == ']') {
			open = open[:len(open)-1]
			continue
		}
		if len(open) > 0 && open[len(open)-1].names != nil {
			in := &open[len(open)-1]
			if in.value = !in.value; in.value {
				name, _ := token.(string)
				if in.names[name] {
					return d.InputOffset(), name
				}
				in.names[name] = true
				continue
			}
		}
		switch token {
		case json.Delim('{'):
			open = append(open, level{names: map[string]bool{}})
		case json.Delim('['):
			open = append(open, level{})
		}
	}
}

func notJSON(err error) error {
	var syntax *json.SyntaxError
	switch {
	case errors.As(err, &syntax):
		return fault.New(fault.Malformed, "not JSON at byte %d: %s", syntax.Offset, syntax.Error())
	case errors.Is(err, io.EOF):
		return fault.New(fault.Malformed, "there is no body").WithHint("send a JSON object, {} at least")
	}
	return fault.New(fault.Malformed, "not JSON: the text ends too early").WithCause(err)
}

// loneSurrogate finds an escaped surrogate without its other half (RFC 8259
// section 8.2), which encoding/json would silently replace; -1 for none. The
// text must be JSON.
func loneSurrogate(raw []byte) int {
	for i := 0; i < len(raw); i++ {
		if raw[i] != '\\' {
			continue
		}
		i++
		if raw[i] != 'u' {
			continue
		}
		switch c := hex4(raw[i+1:]); {
		case c >= 0xdc00 && c <= 0xdfff:
			return i - 1
		case c >= 0xd800 && c <= 0xdbff:
			rest := raw[i+5:]
			if len(rest) < 6 || rest[0] != '\\' || rest[1] != 'u' || hex4(rest[2:]) < 0xdc00 || hex4(rest[2:]) > 0xdfff {
				return i - 1
			}
			i += 6
		}
		i += 4
	}
	return -1
}

func hex4(raw []byte) int {
	n := 0
	for _, c := range raw[:4] {
		n = n<<4 | strings.IndexByte("0123456789abcdef", c|0x20)
	}
	return n
}

// limited is the body of a request up to a number of bytes. It remembers why it
// could not be read, so that a fault of the asker is not taken for one of ours.
type limited struct {
	r    io.Reader
	left int64
	most int64
	err  error
}

func limit(body io.Reader, most int64) *limited { return &limited{r: body, left: most, most: most} }

func (l *limited) Read(p []byte) (int, error) {
	if l.err != nil {
		return 0, l.err
	}
	if int64(len(p)) > l.left+1 {
		p = p[:l.left+1]
	}
	n, err := l.r.Read(p)
	if int64(n) > l.left {
		l.err = fault.New(fault.TooLarge, "the body is over %d bytes", l.most).WithHint("send less at once")
		return 0, l.err
	}
	l.left -= int64(n)
	if err != nil && err != io.EOF {
		l.err = unread(err)
		return n, l.err
	}
	return n, err
}

// unread says why a body did not come whole.
func unread(err error) error {
	if errors.Is(err, os.ErrDeadlineExceeded) {
		return fault.New(fault.Unavailable, "the body came too slowly").
			WithHint("try again over a better connection; nothing was changed").WithCause(err)
	}
	return fault.New(fault.Malformed, "the body ended before its end").WithCause(err)
}
