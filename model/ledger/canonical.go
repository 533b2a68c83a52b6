package ledger

import (
	"bytes"
	"encoding/json"
	"strconv"
	"strings"
	"unicode/utf8"

	"pawl/model/fault"
)

// encoder writes the one JSON form that is hashed. Strings that are not UTF-8
// pass through as they are, so that two different values never share a form;
// ParseLine and ParseImage refuse them.
type encoder []byte

func (w *encoder) open(bracket byte) { *w = append(*w, bracket) }
func (w *encoder) shut(bracket byte) { *w = append(*w, bracket) }

// next writes the comma before every member or element but the first.
func (w *encoder) next() {
	if last := (*w)[len(*w)-1]; last != '{' && last != '[' {
		*w = append(*w, ',')
	}
}

func (w *encoder) key(name string) {
	w.next()
	w.quoted(name)
	*w = append(*w, ':')
}

func (w *encoder) integer(name string, value int64) {
	w.key(name)
	*w = strconv.AppendInt(*w, value, 10)
}

func (w *encoder) boolean(name string, value bool) {
	w.key(name)
	*w = strconv.AppendBool(*w, value)
}

func (w *encoder) text(name, value string) {
	w.key(name)
	w.quoted(value)
}

func (w *encoder) texts(name string, values []string) {
	w.key(name)
	w.open('[')
	for _, v := range values {
		w.next()
		w.quoted(v)
	}
	w.shut(']')
}

const hexDigits = "0123456789abcdef"

// quoted escapes what RFC 8259 section 7 says must be escaped and nothing else,
// in the short form where there is one.
func (w *encoder) quoted(s string) {
	*w = append(*w, '"')
	for _, c := range []byte(s) {
		switch {
		case c == '"' || c == '\\':
			*w = append(*w, '\\', c)
		case c >= 0x20:
			*w = append(*w, c)
		case strings.IndexByte("\b\t\n\f\r", c) >= 0:
			*w = append(*w, '\\', "btn-fr"[c-'\b'])
		default:
			*w = append(*w, '\\', 'u', '0', '0', hexDigits[c>>4], hexDigits[c&15])
		}
	}
	*w = append(*w, '"')
}

// decoder reads canonical JSON from left to right. The first thing out of place
// stops it: every later step does nothing, and finish tells.
type decoder struct {
	raw  []byte
	at   int
	fail string // what was expected where it stopped; empty while all is well
}

func (r *decoder) stop(expected string) {
	if r.fail == "" {
		r.fail = expected
	}
}

func (r *decoder) want(literal string) {
	if r.fail == "" && !r.take(literal) {
		r.stop(literal)
	}
}

// take steps over the literal if it is next.
func (r *decoder) take(literal string) bool {
	if r.fail != "" || !bytes.HasPrefix(r.raw[r.at:], []byte(literal)) {
		return false
	}
	r.at += len(literal)
	return true
}

func (r *decoder) integer() int64 {
	if r.fail != "" {
		return 0
	}
	end := r.at
	for end < len(r.raw) && (r.raw[end] == '-' || r.raw[end] >= '0' && r.raw[end] <= '9') {
		end++
	}
	value, err := strconv.ParseInt(string(r.raw[r.at:end]), 10, 64)
	if err != nil {
		r.stop("a whole number of 64 bits")
		return 0
	}
	r.at = end
	return value
}

// text reads a string. What stands between the quotes may still be escaped
// without need or not be UTF-8; the comparison with the canonical form and
// Check find that.
func (r *decoder) text() string {
	if r.fail != "" {
		return ""
	}
	end := r.closingQuote()
	if end < 0 {
		r.stop("a string")
		return ""
	}
	inside := r.raw[r.at+1 : end]
	var value string
	if bytes.IndexByte(inside, '\\') < 0 {
		value = string(inside)
	} else if err := json.Unmarshal(r.raw[r.at:end+1], &value); err != nil {
		r.stop("a string")
		return ""
	}
	r.at = end + 1
	return value
}

// closingQuote finds the end of the string that starts here, or -1.
func (r *decoder) closingQuote() int {
	if r.at >= len(r.raw) || r.raw[r.at] != '"' {
		return -1
	}
	for i := r.at + 1; i < len(r.raw); i++ {
		switch r.raw[i] {
		case '\\':
			i++
		case '"':
			return i
		}
	}
	return -1
}

func (r *decoder) texts() []string {
	r.want("[")
	if r.fail != "" || r.take("]") {
		return nil
	}
	var list []string
	for r.fail == "" {
		list = append(list, r.text())
		if r.take("]") {
			return list
		}
		r.want(",")
	}
	return nil
}

// finish says what stopped the reading of the thing named, if anything did.
func (r *decoder) finish(thing string) error {
	if r.fail == "" && r.at != len(r.raw) {
		r.stop("the end")
	}
	if r.fail == "" {
		return nil
	}
	found := r.raw[r.at:]
	if len(found) > 20 {
		found = found[:20]
	}
	return fault.New(fault.Malformed, "%s is not canonical at byte %d: expected %s, found %q", thing, r.at, r.fail, found).
		WithHint("compare it with the original bytes")
}

// isText says whether s is what the door of Pawl lets in: UTF-8 without NUL.
func isText(s string) bool {
	return utf8.ValidString(s) && strings.IndexByte(s, 0) < 0
}
