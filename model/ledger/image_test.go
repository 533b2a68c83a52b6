package ledger

import (
	"bytes"
	"encoding/json"
	"slices"
	"strconv"
	"strings"
	"testing"
	"testing/iotest"

	"pgregory.net/rapid"

	"pawl/model/fault"
)

func TestParseImageRefusesOtherForms(t *testing.T) {
	for _, raw := range []string{
		``, `null`, `[]`, `1`, `{`, `{}{}`, "{}\n", ` {}`, `{"a": 1}`, `{"a":1,}`, `{,"a":1}`, `{"a"}`, `{"a":}`, `{a:1}`,
		`{"b":1,"a":2}`, `{"a":1,"a":1}`, `{"a":1,"a":2}`, // order, repeats
		`{"a":1.0}`, `{"a":1e3}`, `{"a":-0}`, `{"a":01}`, `{"a":+1}`, `{"a":-}`, `{"a":9223372036854775808}`, `{"a":-9223372036854775809}`,
		`{"a":null}`, `{"a":[]}`, `{"a":{}}`, `{"a":True}`, `{"a":tru}`, // kinds that no column has
		`{"a":"\u0041"}`, `{"a":"\/"}`, `{"a":"\u001F"}`, `{"a":"\u000a"}`, `{"a":"\u2028"}`, `{"a":"\ud83d\udd27"}`, `{"a":"\ud800"}`, `{"a":"\u0000"}`, `{"a":"\x"}`,
		"{\"a\":\"\n\"}", "{\"a\":\"\xff\"}", "{\"a\":\"\\n\xff\"}", `{"a":"`, `{"a":"\`, `{"a":"\"}`,
		"{\"\U0001f527\":1,\"ﬀ\":1}", // UTF-16 order (RFC 8785) is not ours
	} {
		if m, err := ParseImage([]byte(raw)); !fault.Is(err, fault.Malformed) || m != nil {
			t.Errorf("ParseImage(%q) = %v, %v; want malformed", raw, m, err)
		}
	}
}

func TestImageCheck(t *testing.T) {
	if err := (Image{"a": "x", "b": int64(1), "c": true}).Check(); err != nil {
		t.Error(err)
	}
	for _, bad := range []any{nil, 1, 1.5, []byte("x"), json.Number("1"), "a\x00b", "\xff"} {
		wantInvalid(t, Image{"good": true, "price": bad}.Check(), `"price"`)
	}
	wantInvalid(t, Image{"\xff": true}.Check(), `"\xff"`)
}

func TestImageCanonicalPanicsOnOtherTypes(t *testing.T) {
	defer func() {
		if got, _ := recover().(string); !strings.Contains(got, `"price"`) || !strings.Contains(got, "float64") {
			t.Errorf("panic %q, want one that names column and type", got)
		}
	}()
	t.Errorf("Canonical gave %s", Image{"price": 1.5}.Canonical())
}

func TestImageDiff(t *testing.T) {
	base := Image{"n": int64(1), "s": "1", "t": true}
	tests := []struct {
		name  string
		other Image
		want  []string
	}{
		{"itself", Image{"n": int64(1), "s": "1", "t": true}, nil},
		{"a value", Image{"n": int64(2), "s": "1", "t": true}, []string{"n"}},
		{"a type", Image{"n": "1", "s": int64(1), "t": true}, []string{"n", "s"}},
		{"a column less", Image{"n": int64(1), "t": true}, []string{"s"}},
		{"a column more", Image{"a": false, "n": int64(1), "s": "1", "t": true}, []string{"a"}},
		{"nothing in common", Image{"z": int64(0)}, []string{"n", "s", "t", "z"}},
		{"none", nil, []string{"n", "s", "t"}},
		{"a type no image may hold", Image{"n": []byte{1}, "s": "1", "t": true}, []string{"n"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			for _, got := range [][]string{base.Diff(tt.other), tt.other.Diff(base)} {
				if !slices.Equal(got, tt.want) {
					t.Errorf("Diff = %v, want %v", got, tt.want)
				}
			}
			if got, want := base.Equal(tt.other), tt.want == nil; got != want {
				t.Errorf("Equal = %v, want %v", got, want)
			}
		})
	}
	if odd := (Image{"a": []byte{1}}); odd.Equal(odd) {
		t.Error("a value that no image may hold equals itself")
	}
}

func drawImage(rt *rapid.T, label string) Image {
	m := Image{}
	for range rapid.IntRange(0, 5).Draw(rt, label) {
		column := drawText(rt, "column")
		switch rapid.IntRange(0, 2).Draw(rt, "kind") {
		case 0:
			m[column] = drawText(rt, "text")
		case 1:
			m[column] = rapid.Int64().Draw(rt, "number")
		case 2:
			m[column] = rapid.Bool().Draw(rt, "truth")
		}
	}
	return m
}

func TestImageRoundTrip(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		m, other := drawImage(rt, "columns"), drawImage(rt, "columns of the other")
		got, err := ParseImage(m.Canonical())
		if err != nil {
			rt.Fatalf("%s: %v", m.Canonical(), err)
		}
		if !got.Equal(m) {
			rt.Fatalf("read back %v, want %v: differ in %v", got, m, m.Diff(got))
		}
		if equal := bytes.Equal(m.Canonical(), other.Canonical()); equal != m.Equal(other) {
			rt.Fatalf("bytes equal: %v, but images equal: %v, for %v and %v", equal, m.Equal(other), m, other)
		}
		if !slices.Equal(m.Diff(other), other.Diff(m)) {
			rt.Fatalf("Diff is one-sided: %v and %v", m.Diff(other), other.Diff(m))
		}
	})
}

func TestNewSalt(t *testing.T) {
	source := bytes.Repeat([]byte("0123456789abcdef"), 4)
	chance := bytes.NewReader(source)
	first, err := NewSalt(iotest.OneByteReader(chance))
	if err != nil || !bytes.Equal(first, source[:SaltSize]) {
		t.Errorf("salt %q, %v; want the first 32 bytes of chance", first, err)
	}
	if _, err := NewSalt(chance); err != nil || chance.Len() != 0 {
		t.Errorf("second salt: %v, %d bytes left; want none", err, chance.Len())
	}
	if salt, err := NewSalt(bytes.NewReader(source[:SaltSize-1])); !fault.Is(err, fault.Internal) || salt != nil {
		t.Errorf("salt %q, %v from too little chance; want an internal error and no salt", salt, err)
	}
}

// referenceImage says by encoding/json and plain rules whether raw is an image.
func referenceImage(raw []byte) (map[string]any, bool) {
	m, ok := reference(raw)
	if !ok || holdsNUL(m) {
		return nil, false
	}
	for _, v := range m {
		switch v.(type) {
		case string, bool, json.Number:
		default:
			return nil, false
		}
	}
	return m, true
}

// FuzzParseImage: what is accepted is exactly what encoding/json calls a flat
// canonical object, with the same values, and it goes round.
func FuzzParseImage(f *testing.F) {
	for _, v := range readFrozen(f) {
		f.Add([]byte(v.image))
	}
	f.Add([]byte(`{}`))
	f.Add([]byte(`{"a":"\u0001\\\"","b":false,"c":-1}`))
	f.Add([]byte(`{"a":{"b":1},"c":[1]}`))
	f.Fuzz(func(t *testing.T, raw []byte) {
		m, err := ParseImage(raw)
		if err != nil && !fault.Is(err, fault.Malformed) {
			t.Fatalf("error of another kind: %v", err)
		}
		if err == nil && (m.Check() != nil || !bytes.Equal(m.Canonical(), raw)) {
			t.Fatalf("read %q but writes %q, check %v", raw, m.Canonical(), m.Check())
		}
		if beyondReference(raw) {
			return
		}
		want, ok := referenceImage(raw)
		if ok != (err == nil) {
			t.Fatalf("%q: reference says %v, ParseImage %v", raw, ok, err)
		}
		for column, v := range want {
			if n, isNumber := v.(json.Number); isNumber {
				v, _ = strconv.ParseInt(n.String(), 10, 64)
			}
			if m[column] != v {
				t.Fatalf("%q: column %q is %v, reference %v", raw, column, m[column], v)
			}
		}
	})
}
