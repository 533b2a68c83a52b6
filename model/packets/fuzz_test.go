package packets

import (
	"encoding/json"
	"reflect"
	"testing"

	"pawl/model/claims"
)

// FuzzStatement: any text is refused or gives a statement that reads back as itself.
func FuzzStatement(f *testing.F) {
	price := int64(41237)
	raw, err := claims.Statement{Format: claims.Format, Kind: claims.Ownership, Zone: "UTC", Added: []claims.Addition{}, Facts: []claims.FactPart{}, Files: []claims.File{},
		Lines: []claims.Line{{Line: 1, Number: "000-01Y", Price: &price, Files: []claims.File{{Ref: "P1", Path: "data/photos/P00001-plate.jpg"}}}}}.Bytes()
	if err != nil {
		f.Fatal(err)
	}
	f.Add(string(raw))
	f.Add(`{"format":"pawl statement 2"}`)
	f.Add(`{"format":"pawl statement 1","lines":null} {}`)
	f.Fuzz(func(t *testing.T, text string) {
		s, err := Parse(text)
		if err != nil {
			return
		}
		Handed(s)
		if _, err := Day(s); err != nil {
			return
		}
		again, err := s.Bytes()
		if err != nil {
			t.Fatal(err)
		}
		back, err := Parse(string(again))
		if err != nil || !reflect.DeepEqual(s, back) {
			t.Errorf("%v: %+v and %+v", err, s, back)
		}
	})
}

// FuzzElsewhere: any text is refused or gives a head that reads back as itself.
func FuzzElsewhere(f *testing.F) {
	raw, err := json.Marshal(Elsewhere{Format: ElsewhereFormat, Zone: "UTC", People: []Named{}, Policies: []Covering{}, Files: []Original{{Path: "data/originals/x.jpg"}}})
	if err != nil {
		f.Fatal(err)
	}
	f.Add(string(raw))
	f.Add(`{"format":"pawl standing copy 2"}`)
	f.Fuzz(func(t *testing.T, text string) {
		e, err := parseElsewhere(text)
		if err != nil {
			return
		}
		again, err := json.Marshal(e)
		if err != nil {
			t.Fatal(err)
		}
		if back, err := parseElsewhere(string(again)); err != nil || !reflect.DeepEqual(e, back) {
			t.Errorf("%v: %+v and %+v", err, e, back)
		}
	})
}
