package sheets

import (
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"pawl/model/fault"
)

func TestReadJSON(t *testing.T) {
	for text, want := range map[string][]string{
		`{"tools":[{"kind":"jack","serial":null},{"serial":"=A1","notes":"a\nb"}],"next":null}`: {"1: kind|serial|notes", "2: jack|", "3: |=A1|a\nb"},
		`{"tools":[{"kind":"jack"},{},{"kind":"saw"}]}`:                                         {"1: kind", "2: jack", "4: saw"},
		`{"tools":[]}`: nil,
	} {
		if rows, _, err := all(ReadJSON(strings.NewReader(text), Options{})); err != nil || !slices.Equal(rows, want) {
			t.Errorf("%s: %q, %v, want %q", text, rows, err, want)
		}
	}
	for name, text := range map[string]string{"nothing": "", "a list": `[]`, "a number": `{"tools":[{"kind":1}]}`, "an object": `{"tools":[{"kind":{}}]}`, "a member twice": `{"tools":[{"a":"1","a":"2"}]}`,
		"cut short": `{"tools":[{"a":"1"}`, "not UTF-8": "{\"tools\":[{\"a\":\"\xff\"}]}", "rows of text": `{"tools":["a"]}`, "rubbish after": `{"tools":[]} x`,
		"a long cell": `{"tools":[{"a":"` + strings.Repeat("x", MaxField+1) + `"}]}`} {
		if _, _, err := all(ReadJSON(strings.NewReader(text), Options{})); !fault.Is(err, fault.Invalid) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// FuzzJSON: whatever comes is refused, or gives cells of valid text within the
// limits.
func FuzzJSON(f *testing.F) {
	for _, s := range []string{`{"tools":[{"kind":"jack","serial":null}],"next":null}`, `{"a":[{},{"":""}]}`, `{"tools":[{"a":"\ud800"}]}`, `[[`, `{"tools":[{"a":"1","a":"2"}]}`} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		r, err := ReadJSON(strings.NewReader(text), Options{})
		for err == nil {
			var row Row
			if row, err = r.Next(); err != nil {
				break
			}
			for _, c := range row.Cells {
				if len(row.Cells) > MaxColumns || len(c) > MaxField || !utf8.ValidString(c) {
					t.Fatalf("row %d holds %q", row.Number, c)
				}
			}
		}
		if err.Error() != "EOF" && fault.Of(err).Kind == fault.Internal {
			t.Fatal(err)
		}
	})
}
