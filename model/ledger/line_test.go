package ledger

import (
	"bytes"
	"encoding/json"
	"errors"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"pawl/model/fault"
)

var digestOfNothing = Digest(nil, nil)

func goodLine() Line {
	return Line{V: Version, Seq: 7, Act: 6, At: 1767225600000000, Actor: "tech-a", Verb: "take", Noun: "custody",
		ID: "c0001", Rev: 2, Tools: []string{"t0001", "t0002"}, Digest: digestOfNothing}
}

func TestParseLineRefusesOtherForms(t *testing.T) {
	good := string(goodLine().Canonical())
	if _, err := ParseLine([]byte(good)); err != nil {
		t.Fatal(err)
	}
	swap := func(old, new string) string {
		if strings.Count(good, old) != 1 {
			t.Fatalf("%q stands %d times in %s", old, strings.Count(good, old), good)
		}
		return strings.Replace(good, old, new, 1)
	}
	tests := []struct{ name, raw string }{
		{"nothing", ""},
		{"null", "null"},
		{"newline at the end", good + "\n"},
		{"space before", " " + good},
		{"space after a colon", swap(`"at":`, `"at": `)},
		{"cut short", good[:len(good)-1]},
		{"two lines", good + good},
		{"byte order mark", "\ufeff" + good},
		{"unknown member", swap(`,"verb"`, `,"u":1,"verb"`)},
		{"missing member", swap(`"rev":2,`, ``)},
		{"repeated member", swap(`"rev":2,`, `"rev":2,"rev":2,`)},
		{"other order", swap(`"id":"c0001","noun":"custody"`, `"noun":"custody","id":"c0001"`)},
		{"member in capitals", swap(`"rev"`, `"Rev"`)},
		{"form 2", swap(`"v":1`, `"v":2`)},
		{"form 0", swap(`"v":1`, `"v":0`)},
		{"form 2^32+1", swap(`"v":1`, `"v":4294967297`)},
		{"number as text", swap(`"rev":2`, `"rev":"2"`)},
		{"text as number", swap(`"id":"c0001"`, `"id":1`)},
		{"null number", swap(`"rev":2`, `"rev":null`)},
		{"fraction", swap(`"rev":2`, `"rev":2.0`)},
		{"exponent", swap(`"rev":2`, `"rev":2e0`)},
		{"leading zero", swap(`"rev":2`, `"rev":02`)},
		{"plus sign", swap(`"rev":2`, `"rev":+2`)},
		{"minus zero", swap(`"rev":2`, `"rev":-0`)},
		{"over 64 bits", swap(`"rev":2`, `"rev":9223372036854775808`)},
		{"negative revision", swap(`"rev":2`, `"rev":-1`)},
		{"negative seq", swap(`"seq":7`, `"seq":-7`)},
		{"seq of 2^53", swap(`"seq":7`, `"seq":9007199254740992`)},
		{"act after its own line", swap(`"act":6`, `"act":8`)},
		{"negative act", swap(`"act":6`, `"act":-1`)},
		{"needless escape", swap(`"take"`, `"\u0074ake"`)},
		{"escaped slash", swap(`"take"`, `"ta\/ke"`)},
		{"escape in capitals", swap(`"take"`, `"\u001F"`)},
		{"long escape", swap(`"take"`, `"\u000a"`)},
		{"escaped NUL", swap(`"take"`, `"\u0000"`)},
		{"bare control character", swap(`"take"`, "\"ta\nke\"")},
		{"bad UTF-8", swap(`"take"`, "\"ta\xffke\"")},
		{"bad UTF-8 beside an escape", swap(`"take"`, "\"\\n\xff\"")},
		{"half a surrogate pair", swap(`"take"`, `"\ud800"`)},
		{"surrogate in UTF-8", swap(`"take"`, "\"\xed\xa0\x80\"")},
		{"tools not sorted", swap(`["t0001","t0002"]`, `["t0002","t0001"]`)},
		{"tool twice", swap(`["t0001","t0002"]`, `["t0001","t0001"]`)},
		{"comma after the last tool", swap(`"t0002"]`, `"t0002",]`)},
		{"null tools", swap(`["t0001","t0002"]`, `null`)},
		{"digest in capitals", swap(digestOfNothing, strings.ToUpper(digestOfNothing))},
		{"short digest", swap(digestOfNothing, digestOfNothing[1:])},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			l, err := ParseLine([]byte(tt.raw))
			if !fault.Is(err, fault.Malformed) {
				t.Errorf("error %v, want malformed", err)
			}
			if !sameFields(l, Line{}) {
				t.Errorf("a refused line still gives %+v", l)
			}
		})
	}
}

func TestLineCheckNamesTheLine(t *testing.T) {
	tests := []struct {
		name   string
		change func(*Line)
	}{
		{"form", func(l *Line) { l.V = 2 }},
		{"act", func(l *Line) { l.Act = l.Seq + 1 }},
		{"revision", func(l *Line) { l.Rev = -1 }},
		{"digest", func(l *Line) { l.Digest = "e3b0" }},
		{"actor with NUL", func(l *Line) { l.Actor = "a\x00b" }},
		{"tool not UTF-8", func(l *Line) { l.Tools = []string{"\xff"} }},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			l := goodLine()
			if err := l.Check(); err != nil {
				t.Fatal(err)
			}
			tt.change(&l)
			wantInvalid(t, l.Check(), "line 7")
			if _, err := ParseLine(l.Canonical()); !fault.Is(err, fault.Malformed) {
				t.Errorf("ParseLine of it: %v, want malformed", err)
			}
		})
	}
}

func TestCheckAfter(t *testing.T) {
	salt, after := bytes.Repeat([]byte{7}, SaltSize), []byte(`{"open":true}`)
	l := goodLine()
	l.Digest = Digest(salt, after)
	if err := l.CheckAfter(salt, after); err != nil {
		t.Fatal(err)
	}
	eachFlip(salt, func(changed []byte) { wantInvalid(t, l.CheckAfter(changed, after), "line 7") })
	eachFlip(after, func(changed []byte) { wantInvalid(t, l.CheckAfter(salt, changed), "line 7") })
	// The same bytes, cut elsewhere: a byte of the salt passed off as image.
	whole := append(bytes.Clone(salt), after...)
	wantInvalid(t, l.CheckAfter(whole[:SaltSize-1], whole[SaltSize-1:]), "line 7")
	wantInvalid(t, l.CheckAfter(whole[:SaltSize+1], whole[SaltSize+1:]), "line 7")
}

func TestCanonicalLeavesToolsAlone(t *testing.T) {
	l := goodLine()
	l.Tools = []string{"b", "a", "b"}
	if got := string(l.Canonical()); !strings.Contains(got, `"tools":["a","b"]`) {
		t.Errorf("canonical %s", got)
	}
	if !slices.Equal(l.Tools, []string{"b", "a", "b"}) {
		t.Errorf("Canonical changed the tools of its line to %v", l.Tools)
	}
}

// drawText draws what the door lets in: UTF-8 without NUL.
func drawText(rt *rapid.T, label string) string {
	return strings.ReplaceAll(rapid.String().Draw(rt, label), "\x00", "")
}

func TestLineRoundTrip(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		seq := rapid.Int64Range(0, MaxSize-1).Draw(rt, "seq")
		l := Line{V: Version, Seq: seq, Act: rapid.Int64Range(0, seq).Draw(rt, "act"), At: rapid.Int64().Draw(rt, "at"),
			Actor: drawText(rt, "actor"), Verb: drawText(rt, "verb"), Noun: drawText(rt, "noun"), ID: drawText(rt, "id"),
			Rev: rapid.Int64Range(0, math.MaxInt64).Draw(rt, "rev"), Digest: Digest(nil, []byte(drawText(rt, "image")))}
		for range rapid.IntRange(0, 4).Draw(rt, "tools") {
			l.Tools = append(l.Tools, drawText(rt, "tool"))
		}
		got, err := ParseLine(l.Canonical())
		if err != nil {
			rt.Fatalf("%s: %v", l.Canonical(), err)
		}
		want := l
		want.Tools = sortedUnique(l.Tools)
		if !slices.Equal(got.Tools, want.Tools) {
			rt.Fatalf("tools %q, want %q", got.Tools, want.Tools)
		}
		if !sameFields(got, want) {
			rt.Fatalf("read back %+v, want %+v", got, want)
		}
	})
}

func sameFields(a, b Line) bool {
	return a.V == b.V && a.Seq == b.Seq && a.Act == b.Act && a.At == b.At && a.Actor == b.Actor && a.Verb == b.Verb &&
		a.Noun == b.Noun && a.ID == b.ID && a.Rev == b.Rev && a.Digest == b.Digest && slices.Equal(a.Tools, b.Tools)
}

// reference reads raw with encoding/json and writes it again with sorted keys.
// ok says that raw is that very form, so a value of JSON without freedom of
// notation. It judges nothing that holds U+2028 or U+2029, which encoding/json
// always escapes.
func reference(raw []byte) (members map[string]any, ok bool) {
	read := json.NewDecoder(bytes.NewReader(raw))
	read.UseNumber()
	if err := read.Decode(&members); err != nil || members == nil {
		return nil, false
	}
	for _, v := range members {
		if n, isNumber := v.(json.Number); isNumber {
			whole, err := strconv.ParseInt(n.String(), 10, 64)
			if err != nil || strconv.FormatInt(whole, 10) != n.String() {
				return nil, false
			}
		}
	}
	var again bytes.Buffer
	write := json.NewEncoder(&again)
	write.SetEscapeHTML(false)
	if err := write.Encode(members); err != nil {
		return nil, false
	}
	return members, again.String() == string(raw)+"\n"
}

func beyondReference(raw []byte) bool {
	return bytes.Contains(raw, []byte("\u2028")) || bytes.Contains(raw, []byte("\u2029"))
}

// referenceLine says by encoding/json and plain rules whether raw is a line.
func referenceLine(raw []byte) (map[string]any, bool) {
	m, ok := reference(raw)
	if !ok || bytes.Contains(raw, []byte(`\u0000`)) && holdsNUL(m) {
		return nil, false
	}
	if !slices.Equal(slices.Sorted(maps.Keys(m)), []string{"act", "actor", "at", "digest", "id", "noun", "rev", "seq", "tools", "v", "verb"}) {
		return nil, false
	}
	number := func(key string) int64 {
		n, isNumber := m[key].(json.Number)
		ok = ok && isNumber
		v, _ := n.Int64()
		return v
	}
	text := func(v any) string {
		s, isText := v.(string)
		ok = ok && isText
		return s
	}
	act, seq, rev, v := number("act"), number("seq"), number("rev"), number("v")
	number("at")
	for _, key := range []string{"actor", "id", "noun", "verb"} {
		text(m[key])
	}
	digest := text(m["digest"])
	list, isList := m["tools"].([]any)
	for i := range list {
		if s := text(list[i]); ok && i > 0 && list[i-1].(string) >= s {
			return nil, false
		}
	}
	return m, ok && isList && v == 1 && 0 <= act && act <= seq && seq < 1<<53 && rev >= 0 &&
		len(digest) == 64 && strings.Trim(digest, "0123456789abcdef") == ""
}

func holdsNUL(v any) bool {
	switch v := v.(type) {
	case string:
		return strings.Contains(v, "\x00")
	case []any:
		return slices.ContainsFunc(v, holdsNUL)
	case map[string]any:
		for key, inner := range v {
			if holdsNUL(key) || holdsNUL(inner) {
				return true
			}
		}
	}
	return false
}

// FuzzParseLine: what is accepted is exactly what encoding/json and the plain
// rules call a canonical line, with the same values, and it goes round.
func FuzzParseLine(f *testing.F) {
	for _, v := range readFrozen(f) {
		f.Add([]byte(v.line))
	}
	f.Add(goodLine().Canonical())
	f.Add([]byte(`{"act":0,"actor":"\u0000"}`))
	f.Fuzz(func(t *testing.T, raw []byte) {
		l, err := ParseLine(raw)
		if err != nil && !fault.Is(err, fault.Malformed) {
			t.Fatalf("error of another kind: %v", err)
		}
		if err == nil && !bytes.Equal(l.Canonical(), raw) {
			t.Fatalf("read %q but writes %q", raw, l.Canonical())
		}
		if beyondReference(raw) {
			return
		}
		m, ok := referenceLine(raw)
		if ok != (err == nil) {
			t.Fatalf("%q: reference says %v, ParseLine %v", raw, ok, err)
		}
		if ok && (m["actor"] != l.Actor || m["id"] != l.ID || m["noun"] != l.Noun || m["verb"] != l.Verb || m["digest"] != l.Digest ||
			m["at"] != json.Number(strconv.FormatInt(l.At, 10)) || m["seq"] != json.Number(strconv.FormatInt(l.Seq, 10)) ||
			m["act"] != json.Number(strconv.FormatInt(l.Act, 10)) || m["rev"] != json.Number(strconv.FormatInt(l.Rev, 10)) ||
			len(m["tools"].([]any)) != len(l.Tools)) {
			t.Fatalf("%q: read %+v, reference %v", raw, l, m)
		}
	})
}

// wantInvalid wants an Invalid fault whose message names the thing.
func wantInvalid(t testing.TB, err error, name string) {
	t.Helper()
	var f *fault.Error
	if !errors.As(err, &f) || f.Kind != fault.Invalid || !strings.Contains(f.Message, name) {
		t.Errorf("error %v, want an invalid one that names %q", err, name)
	}
}

// eachFlip calls try with every copy of raw that differs in one bit.
func eachFlip(raw []byte, try func(changed []byte)) {
	for i := range raw {
		for bit := range 8 {
			changed := bytes.Clone(raw)
			changed[i] ^= 1 << bit
			try(changed)
		}
	}
}
