package api

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"encoding/json"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"pawl/api/wire"
	"pawl/model/fault"
)

func sumOf(n uint64) string {
	raw := sha256.Sum256(binary.BigEndian.AppendUint64(nil, n))
	return hex.EncodeToString(raw[:])
}

// A list of originals is read as it was sent, however it is spaced.
func TestHaveIsRead(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		names := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) string { return sumOf(rapid.Uint64Range(0, 40).Draw(t, "original")) }), 0, 30).Draw(t, "names")
		body, err := json.MarshalIndent(wire.Have{Have: names}, "", rapid.StringOfN(rapid.SampledFrom([]rune(" \t\n")), 0, 3, -1).Draw(t, "space"))
		if err != nil {
			t.Fatal(err)
		}
		had, err := readHave(posted(jsonType, string(body)).Request)
		if err != nil {
			t.Fatal(err)
		}
		named := map[string]bool{}
		for _, n := range names {
			named[n] = true
		}
		for n := range uint64(45) {
			if had.Has(sumOf(n)) != named[sumOf(n)] {
				t.Fatalf("original %d: %v", n, had.Has(sumOf(n)))
			}
		}
	})
}

// The list may be longer than any other body; no single word of it may be. What is none is
// refused as other bodies are.
func TestHaveLimits(t *testing.T) {
	names := make([]string, 20_000) // 67 bytes each: more than maxJSON
	for i := range names {
		names[i] = sumOf(uint64(i))
	}
	body, err := json.Marshal(wire.Have{Have: names})
	if err != nil || len(body) <= maxJSON {
		t.Fatal(len(body), err)
	}
	had, err := readHave(posted(jsonType, string(body)).Request)
	if err != nil || !had.Has(names[0]) || !had.Has(names[19_999]) || had.Has(sumOf(20_000)) {
		t.Fatal(err)
	}
	if _, err := readHave(posted("", "").Request); err != nil {
		t.Errorf("without a body: %v", err)
	}
	for body, want := range map[string]fault.Kind{
		`{}`: "", `{"have":[]}`: "", `[]`: fault.Invalid, `{"have":null}`: fault.Invalid, `{"have":{}}`: fault.Invalid, `{"have":[1]}`: fault.Invalid, `{"have":["ab"]}`: fault.Invalid,
		`{"nonsense":1}`: fault.Invalid, `{"have":[],"have":[]}`: fault.Malformed, `{"have":[`: fault.Malformed, `{`: fault.Malformed, `{"have":[]} x`: fault.Malformed, `{"have":[]}{}`: fault.Malformed,
		`{"x":"` + strings.Repeat("a", maxJSON) + `"}`: fault.TooLarge, `{"have":["` + strings.Repeat("a", 2*maxJSON) + `"]}`: fault.TooLarge, "\xff": fault.Malformed,
	} {
		_, err := readHave(posted(jsonType, body).Request)
		if (want == "") != (err == nil) || want != "" && !fault.Is(err, want) {
			t.Errorf("%.40q: %v, want %q", body, err, want)
		}
	}
	if _, err := readHave(posted("text/csv", "{}").Request); !fault.Is(err, fault.Media) {
		t.Errorf("another type: %v", err)
	}
}
