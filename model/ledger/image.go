package ledger

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"maps"
	"slices"

	"pawl/model/fault"
)

// SaltSize is the length of a salt in bytes.
const SaltSize = 32

// NewSalt reads a fresh salt from chance. The salt keeps a digest from telling
// what it covers to those who can guess it.
func NewSalt(chance io.Reader) ([]byte, error) {
	salt := make([]byte, SaltSize)
	if _, err := io.ReadFull(chance, salt); err != nil {
		return nil, fault.New(fault.Internal, "no salt can be made: the source of chance failed").WithCause(err)
	}
	return salt, nil
}

// Digest returns SHA-256 (FIPS 180-4) of the salt followed by the image's
// bytes, as 64 lower-case hexadecimal digits. The salt has SaltSize bytes.
func Digest(salt, after []byte) string {
	h := sha256.New()
	h.Write(salt)
	h.Write(after)
	return hex.EncodeToString(h.Sum(nil))
}

// Image is the state of a record after a change: column to string, int64 or
// bool. An empty column is left out, never nil.
type Image map[string]any

// Canonical returns the bytes that are digested and kept, in the form of
// Line.Canonical. It panics on a value of another type, which is a mistake in
// the program that made the image; Check finds it without.
func (m Image) Canonical() []byte {
	w := make(encoder, 0, 32*len(m)+2)
	w.open('{')
	for _, column := range slices.Sorted(maps.Keys(m)) {
		if !w.value(column, m[column]) {
			panic(fmt.Sprintf("ledger: column %q of an image holds %T, not string, int64 or bool", column, m[column]))
		}
	}
	w.shut('}')
	return w
}

// value writes a column, unless it holds what no image may.
func (w *encoder) value(column string, v any) bool {
	switch v := v.(type) {
	case string:
		w.text(column, v)
	case int64:
		w.integer(column, v)
	case bool:
		w.boolean(column, v)
	default:
		return false
	}
	return true
}

// Encode returns Canonical of the image in which each of the columns, that stand
// in bytewise order, holds the value of the same index. A nil is an empty column.
// A refusal is that of Image.Check.
func Encode(columns []string, values []any) ([]byte, error) {
	w := make(encoder, 0, 512)
	w.open('{')
	for i, v := range values {
		if v == nil {
			continue
		}
		text, is := v.(string)
		if is && !isText(text) || !w.value(columns[i], v) {
			return nil, Image{columns[i]: v}.Check()
		}
	}
	w.shut('}')
	return w, nil
}

// Check says whether every column is UTF-8 text without NUL and holds such text,
// an int64 or a bool. A refusal is Invalid and names the column.
func (m Image) Check() error {
	for _, column := range slices.Sorted(maps.Keys(m)) {
		if !isText(column) {
			return fault.New(fault.Invalid, "column %q of an image is not UTF-8 text without NUL", column)
		}
		switch v := m[column].(type) {
		case string:
			if !isText(v) {
				return fault.New(fault.Invalid, "column %q of an image holds %q, which is not UTF-8 text without NUL", column, v)
			}
		case int64, bool:
		default:
			return fault.New(fault.Invalid, "column %q of an image holds %T, not string, int64 or bool", column, v)
		}
	}
	return nil
}

// ParseImage reads an image from its canonical bytes and from no others; all
// else is Malformed. Numbers become int64.
func ParseImage(raw []byte) (Image, error) {
	r := decoder{raw: raw}
	m := Image{}
	r.want("{")
	for first := true; r.fail == "" && !r.take("}"); first = false {
		if !first {
			r.want(",")
		}
		column := r.text()
		r.want(":")
		m[column] = r.value()
	}
	if err := r.finish("an image"); err != nil {
		return nil, err
	}
	if err := m.Check(); err != nil {
		return nil, fault.New(fault.Malformed, "%s", err.Error()).WithCause(err)
	}
	if !bytes.Equal(m.Canonical(), raw) {
		return nil, fault.New(fault.Malformed, "an image is not in its canonical form: columns must be sorted and stand once, without needless escapes").
			WithHint("compare it with the original bytes")
	}
	return m, nil
}

// value reads what a column of an image may hold.
func (r *decoder) value() any {
	switch {
	case r.take("true"):
		return true
	case r.take("false"):
		return false
	case r.at < len(r.raw) && r.raw[r.at] == '"':
		return r.text()
	default:
		return r.integer()
	}
}

// Equal says whether both images have the same columns with the same values.
func (m Image) Equal(other Image) bool { return len(m.Diff(other)) == 0 }

// Diff returns the names of the columns that differ, or that only one of the
// two has, in bytewise order.
func (m Image) Diff(other Image) []string {
	var names []string
	for column, v := range m {
		w, ok := other[column]
		if !ok || !same(v, w) {
			names = append(names, column)
		}
	}
	for column := range other {
		if _, ok := m[column]; !ok {
			names = append(names, column)
		}
	}
	slices.Sort(names)
	return names
}

// same compares two values of columns; a value that no image may hold equals none.
func same(a, b any) bool {
	switch a.(type) {
	case string, int64, bool:
		return a == b
	}
	return false
}
