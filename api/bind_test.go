package api

import (
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"reflect"
	"regexp"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/gin-gonic/gin"
	"pgregory.net/rapid"

	"pawl/api/wire"
	"pawl/model/fault"
	"pawl/model/register"
)

// posted is the context of a request with that body.
func posted(mediaType, body string) *gin.Context {
	c, _ := gin.CreateTestContext(httptest.NewRecorder())
	c.Request = httptest.NewRequest(http.MethodPost, "/", strings.NewReader(body))
	c.Request.Header.Set("Content-Type", mediaType)
	return c
}

func TestBind(t *testing.T) {
	in, err := bind[wire.Take](posted("application/json; charset=UTF-8", ` {"to":"Tech A","due":"2026-11-30"} `), false)
	if want := (wire.Take{To: "Tech A", Due: "2026-11-30"}); err != nil || in != want {
		t.Errorf("%+v, %v", in, err)
	}
	if in, err = bind[wire.Take](posted("", ""), true); err != nil || in != (wire.Take{}) {
		t.Errorf("no body: %+v, %v", in, err)
	}
	// One name in two objects, and a value like a name, are no member twice (RFC 7493 section 2.3).
	if p, err := bindPatch[register.Change](posted(patchType, `{"notes":"notes","pieces":[{"name":"case","count":1},{"name":"name","count":1}]}`)); err != nil || len(*p.Pieces) != 2 {
		t.Errorf("%+v, %v", p, err)
	}
	// RFC 8259 section 7 has this very pair for U+1D11E.
	if in, err = bind[wire.Take](posted(jsonType, `{"to":"\ud834\udd1e \\ud834"}`), false); err != nil || in.To != "\U0001D11E \\ud834" {
		t.Errorf("a pair of surrogates: %+v, %v", in, err)
	}
}

func TestBindRefuses(t *testing.T) {
	for name, c := range map[string]struct {
		mediaType, body string
		kind            fault.Kind
		pointers        string
	}{
		"no body":                {jsonType, "", fault.Malformed, ""},
		"blanks":                 {jsonType, "  ", fault.Malformed, ""},
		"cut off":                {jsonType, `{"to":"a"`, fault.Malformed, ""},
		"a comma too many":       {jsonType, `{"to":"a",}`, fault.Malformed, ""},
		"two texts":              {jsonType, `{} {}`, fault.Malformed, ""},
		"a text and a brace":     {jsonType, `{}}`, fault.Malformed, ""},
		"a byte order mark":      {jsonType, "\ufeff{}", fault.Malformed, ""},
		"not UTF-8":              {jsonType, "{\"to\":\"\xff\"}", fault.Malformed, ""},
		"half a surrogate":       {jsonType, `{"to":"\ud834"}`, fault.Malformed, ""},
		"halves the wrong way":   {jsonType, `{"to":"\udd1e\ud834"}`, fault.Malformed, ""},
		"half before an escape":  {jsonType, `{"to":"\ud834\n"}`, fault.Malformed, ""},
		"a member twice":         {jsonType, `{"to":"a","due":"x","to":"a"}`, fault.Malformed, ""},
		"twice by an escape":     {jsonType, `{"to":"a","\u0074o":"a"}`, fault.Malformed, ""},
		"twice deeper down":      {jsonType, `{"to":[{"a":1,"b":{"a":1}},{"a":[],"c":0,"a":{}}]}`, fault.Malformed, ""},
		"too deep":               {jsonType, strings.Repeat(`[`, 20000), fault.Malformed, ""},
		"no type":                {"", "{}", fault.Media, ""},
		"another type":           {"text/json", "{}", fault.Media, ""},
		"a patch":                {patchType, "{}", fault.Media, ""},
		"another character set":  {"application/json; charset=latin1", "{}", fault.Media, ""},
		"a type that is none":    {"json", "{}", fault.Media, ""},
		"a list":                 {jsonType, "[]", fault.Invalid, "#"},
		"null":                   {jsonType, "null", fault.Invalid, "#"},
		"a number for a text":    {jsonType, `{"to":1}`, fault.Invalid, "#/to"},
		"null for a text":        {jsonType, `{"to":null}`, fault.Invalid, "#/to"},
		"unknown members":        {jsonType, `{"two":1,"TO":"a"}`, fault.Invalid, "#/TO #/two"},
		"a member to be escaped": {jsonType, `{"a/b~c d":1}`, fault.Invalid, "#/a~1b~0c%20d"},
		"over 1 MB":              {jsonType, `{"to":"` + strings.Repeat("a", maxJSON) + `"}`, fault.TooLarge, ""},
	} {
		_, err := bind[wire.Take](posted(c.mediaType, c.body), false)
		f := fault.Of(err)
		if f == nil || f.Kind != c.kind {
			t.Errorf("%s: %v, want %s", name, err, c.kind)
			continue
		}
		var at []string
		for _, field := range f.Fields {
			at = append(at, field.Pointer)
		}
		if got := strings.Join(at, " "); got != c.pointers {
			t.Errorf("%s: at %q, want %q", name, got, c.pointers)
		}
	}
}

// Exactly maxJSON bytes are taken.
func TestBindLimit(t *testing.T) {
	frame := `{"to":""}`
	body := `{"to":"` + strings.Repeat("a", maxJSON-len(frame)) + `"}`
	if in, err := bind[wire.Take](posted(jsonType, body), false); err != nil || len(in.To) != maxJSON-len(frame) {
		t.Errorf("%d bytes: %v", len(body), err)
	}
}

func TestManyFaultsAreCutShort(t *testing.T) {
	members := make([]string, 500)
	for i := range members {
		members[i] = `"m` + strings.Repeat("x", i) + `":1`
	}
	_, err := bind[wire.Take](posted(jsonType, "{"+strings.Join(members, ",")+"}"), false)
	if f := fault.Of(err); f == nil || len(f.Fields) != mostProblems || len(f.Message) > 20_000 {
		t.Errorf("%d faults, %d bytes", len(f.Fields), len(f.Message))
	}
}

// A merge patch is read as RFC 7396 says, by comparison with a reading through
// plain maps.
func TestBindPatch(t *testing.T) {
	in, err := bindPatch[register.Change](posted(patchType, `{"notes":null,"maker":"","warranty_months":null,"pieces":null,"kind":"jack"}`))
	if err != nil {
		t.Fatal(err)
	}
	zero, empty, jack := int64(0), "", "jack"
	want := register.Change{Notes: &empty, Maker: &empty, WarrantyMonths: &zero, Pieces: &register.Pieces{}, Kind: &jack}
	if !reflect.DeepEqual(in, want) {
		t.Errorf("%+v", in)
	}
	if p, err := bindPatch[wire.PersonChange](posted(patchType, `{"shares":null}`)); err != nil || p.Shares == nil || *p.Shares {
		t.Errorf("%+v, %v", p, err)
	}
	for _, body := range []string{"[]", "null", `"x"`, `{"pieces":[null]}`, `{"pieces":[{"name":null,"count":1}]}`, `{"id":"x"}`} {
		if in, err := bindPatch[register.Change](posted(patchType, body)); !fault.Is(err, fault.Invalid) {
			t.Errorf("%s gives %+v, %v", body, in, err)
		}
	}
}

// patchMembers are the members of a change and the Go types of their values.
var patchMembers = map[string]string{
	"kind": "text", "maker": "text", "model": "text", "serial": "text", "lot": "text", "owner": "text", "place": "text", "usage": "text",
	"notes": "text", "pieces": "pieces", "bought": "text", "bought_as": "text", "price": "text", "tax": "text", "seller": "text", "terms": "text", "owed": "text",
	"owed_to": "text", "owed_on": "text", "warranty_months": "whole", "warranty_from": "text",
	"serial_again": "text", "marking": "marking",
	"owner_outside": "text", "deposit": "text", "due_back": "text", "no_serial": "text",
}

// FuzzMergePatch compares with a reading of the same bytes through
// map[string]json.RawMessage and encoding/json alone.
func FuzzMergePatch(f *testing.F) {
	for _, body := range []string{`{}`, `{"notes":null}`, `{"notes":"a","maker":null}`, `{"pieces":[{"name":"a","count":2}]}`, `{"warranty_months":24}`,
		`{"warranty_months":2.5}`, `{"Notes":"a"}`, `{"rev":1}`, `{"notes":"\ud800"}`, `[]`, `{"a":1}{`, `{"notes":"a","notes":"b"}`, `{"pieces":null}`} {
		f.Add([]byte(body))
	}
	f.Fuzz(func(t *testing.T, raw []byte) {
		got, err := decode[register.Change](raw, true)
		var members map[string]json.RawMessage
		object := json.Unmarshal(raw, &members) == nil && members != nil
		if err != nil {
			if f := fault.Of(err); f.Kind != fault.Malformed && f.Kind != fault.Invalid {
				t.Fatalf("%q: %v", raw, err)
			}
			if object && plainPatch(raw, members) {
				t.Fatalf("%q is refused: %v", raw, err)
			}
			return
		}
		if !object {
			t.Fatalf("%q is taken, and is no object", raw)
		}
		value := reflect.ValueOf(got)
		for name, kind := range patchMembers {
			sent, present := members[name]
			field := fieldOf(value, name)
			if field.IsNil() == present {
				t.Fatalf("%q: %s present %v, set %v", raw, name, present, !field.IsNil())
			}
			if present && string(sent) == "null" && !isEmpty(field.Elem()) {
				t.Fatalf("%q: null leaves %v", raw, field.Elem())
			}
			if present && string(sent) != "null" && kind == "text" {
				var text string
				if json.Unmarshal(sent, &text) != nil || text != field.Elem().String() {
					t.Fatalf("%q: %s is %q, not %q", raw, name, field.Elem(), text)
				}
			}
			delete(members, name)
		}
		if len(members) > 0 {
			t.Fatalf("%q: %v is dropped in silence", raw, members)
		}
	})
}

// plainPatch says whether a patch is so plain that it must be taken: known
// members with texts and nulls only, without escapes.
func plainPatch(raw []byte, members map[string]json.RawMessage) bool {
	if !utf8.Valid(raw) || strings.Contains(string(raw), `\`) {
		return false
	}
	for name, sent := range members {
		kind, known := patchMembers[name]
		var text string
		if strings.Count(string(raw), `"`+name+`"`) > 1 { // perhaps the member is there twice
			return false
		}
		if !known || string(sent) != "null" && (kind != "text" || json.Unmarshal(sent, &text) != nil) {
			return false
		}
	}
	return true
}

func fieldOf(v reflect.Value, name string) reflect.Value {
	for i := range v.NumField() {
		if tag, _, _ := strings.Cut(v.Type().Field(i).Tag.Get("json"), ","); tag == name {
			return v.Field(i)
		}
	}
	panic("no member " + name)
}

func isEmpty(v reflect.Value) bool {
	if v.Kind() == reflect.Slice {
		return v.Len() == 0
	}
	return v.IsZero()
}

// The list above is that of the type.
func TestPatchMembers(t *testing.T) {
	if got := members(reflect.TypeFor[register.Change]()); len(got) != len(patchMembers) {
		t.Errorf("%d members, %d are listed", len(got), len(patchMembers))
	}
	if got := members(reflect.TypeFor[register.New]()); got["kind"] == nil || got["serial_again"] == nil || got["evidence"] == nil || got["Change"] != nil {
		t.Errorf("the members of an embedded struct: %v", got)
	}
}

// keyShape is the key of our documents as a regular expression, bare and as a
// string of RFC 9651 section 3.3.3 less its blanks.
var keyShape = regexp.MustCompile(`^(?:[!#-~][!-~]{0,254}|"(?:[!#-\[\]-~]|\\["\\]){1,255}")$`)

func FuzzIdempotencyKey(f *testing.F) {
	for _, key := range []string{"", "k-1", `"k-1"`, `"a\"b"`, `"a\\"`, `"a`, `a"`, `""`, `"a\b"`, "a b", "ä", strings.Repeat("x", 256), `"` + strings.Repeat("x", 255) + `"`} {
		f.Add(key)
	}
	f.Fuzz(func(t *testing.T, sent string) {
		key, err := replayKey(http.Header{"Idempotency-Key": {sent}})
		if taken := err == nil; taken != keyShape.MatchString(sent) {
			t.Fatalf("%q is taken: %v (%v)", sent, taken, err)
		}
		if err != nil {
			if !fault.Is(err, fault.Malformed) || key != "" {
				t.Fatalf("%q gives %q and %v", sent, key, err)
			}
			return
		}
		quoted := `"` + strings.NewReplacer(`\`, `\\`, `"`, `\"`).Replace(key) + `"`
		if again, err := replayKey(http.Header{"Idempotency-Key": {quoted}}); err != nil || again != key {
			t.Fatalf("%q is %q, and in quotes %q, %v", sent, key, again, err)
		}
	})
}

func TestReplayKeyStatedTwice(t *testing.T) {
	if key, err := replayKey(http.Header{"Idempotency-Key": {"a", "a"}}); err == nil {
		t.Errorf("taken as %q", key)
	}
	if key, err := replayKey(http.Header{}); err != nil || key != "" {
		t.Errorf("none is %q, %v", key, err)
	}
}

// The examples are those of RFC 9110 section 12.5.1, and what it says of them.
func TestNegotiate(t *testing.T) {
	for _, c := range []struct {
		accept []string
		offers string
		want   string
	}{
		{nil, "application/json", "application/json"},
		{[]string{"*/*"}, "application/json", "application/json"},
		{[]string{"application/*"}, "application/json", "application/json"},
		{[]string{"APPLICATION/JSON"}, "application/json", "application/json"},
		{[]string{"text/html", "application/json"}, "application/json", "application/json"},
		{[]string{"audio/*; q=0.2, audio/basic"}, "audio/mpeg audio/basic", "audio/basic"},
		{[]string{"text/plain; q=0.5, text/html, text/x-dvi; q=0.8, text/x-c"}, "text/x-dvi text/plain", "text/x-dvi"},
		{[]string{"image/*, image/png;q=0"}, "image/png image/svg+xml", "image/svg+xml"},
		{[]string{"text/html"}, "application/json", ""},
		{[]string{"*/*;q=0"}, "application/json", ""},
		{[]string{""}, "application/json", ""},
		{[]string{"json"}, "application/json", ""},
		{[]string{"*/json"}, "application/json", ""},
		{[]string{"application/json;q=2"}, "application/json", ""},
		{[]string{"application/json;q=NaN"}, "application/json", ""},
		{[]string{"application/problem+json"}, "application/json", ""},
		{[]string{";;;, application/json"}, "application/json", "application/json"},
	} {
		got, err := negotiate(c.accept, strings.Fields(c.offers))
		if got != c.want || (err == nil) != (c.want != "") {
			t.Errorf("%q of %s gives %q, %v; want %q", c.accept, c.offers, got, err, c.want)
		}
	}
}

// FuzzAccept: only an offer is ever chosen; one that is named alone, with no
// weight, always is; and an element that nobody understands changes nothing.
func FuzzAccept(f *testing.F) {
	f.Add("text/*;q=0.3, text/html;q=0.7")
	f.Add(`a/b;c="d,e"`)
	offers := []string{pngType, svgType, pdfType}
	f.Fuzz(func(t *testing.T, accept string) {
		got, err := negotiate([]string{accept}, offers)
		if err != nil {
			if !fault.Is(err, fault.NotAcceptable) {
				t.Fatal(err)
			}
			got = ""
		} else if got != pngType && got != svgType && got != pdfType {
			t.Fatalf("%q is given %q", accept, got)
		}
		if more, _ := negotiate([]string{accept, "???"}, offers); more != got {
			t.Fatalf("%q gives %q, and with ??? %q", accept, got, more)
		}
	})
}

// A list of entity tags is read as it was written (RFC 9110 section 8.8.3).
func TestEntityTags(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 4).Draw(t, "tags")
		var want []entityTag
		var text []string
		for range n {
			tag := entityTag{rapid.Bool().Draw(t, "weak"), rapid.StringMatching(`[!#-~]{0,8}`).Draw(t, "text")}
			want = append(want, tag)
			text = append(text, map[bool]string{true: "W/"}[tag.weak]+`"`+tag.text+`"`)
		}
		space := rapid.SampledFrom([]string{",", ", ", " ,", ",,"}).Draw(t, "between")
		got, any, ok := entityTags([]string{strings.Join(text, space)})
		if !ok || any || !reflect.DeepEqual(got, want) {
			t.Fatalf("%q is read as %v, %v", text, got, ok)
		}
	})
	for _, bad := range []string{"", ",", "a", `"a`, `a"`, `"a" "b"`, `w/"a"`, `"a"b`} {
		if got, any, ok := entityTags([]string{bad}); ok || any {
			t.Errorf("%q is read as %v", bad, got)
		}
	}
}

// An early end, and one byte too many, are told apart from the end.
func TestLimited(t *testing.T) {
	for size := range 6 {
		l := limit(strings.NewReader(strings.Repeat("x", size)), 4)
		got, err := io.ReadAll(l)
		if over := size > 4; over != fault.Is(err, fault.TooLarge) || !over && len(got) != size {
			t.Errorf("%d of 4 bytes: %d, %v", size, len(got), err)
		}
		if _, again := l.Read(make([]byte, 1)); err != nil && again != err {
			t.Errorf("%d of 4 bytes: the reason is lost: %v", size, again)
		}
	}
	if _, err := io.ReadAll(limit(broken{}, 4)); !fault.Is(err, fault.Malformed) {
		t.Errorf("broken off: %v", err)
	}
}
