package page

import (
	"reflect"
	"slices"
	"strings"
	"testing"

	"pawl/api/page/words"
	"pawl/model/claims"
	"pawl/model/evidence"
)

// ofOneLine is a statement with a line, and with a claim and a loss.
func ofOneLine() claims.Statement {
	return claims.Statement{Shop: "Demo garage", Claim: &claims.ClaimPart{}, Loss: &claims.LossPart{},
		Lines: []claims.Line{{Tool: "T-1", Line: 3, Number: "00E-KM5", Kind: "impact wrench", Notes: "keys, locks",
			Files: []claims.File{{Record: "E-1", Ref: "P12", Kind: string(evidence.Plate)}}}}}
}

// Whatever is recorded otherwise since a paper was handed over is said in Spanish: each
// member of the claim, the loss and a line, and each way in which two statements differ.
func TestSinceInSpanish(t *testing.T) {
	was := ofOneLine()
	for _, part := range []struct {
		of   any
		edit func(*claims.Statement) reflect.Value
	}{
		{claims.ClaimPart{}, func(s *claims.Statement) reflect.Value { return reflect.ValueOf(s.Claim).Elem() }},
		{claims.LossPart{}, func(s *claims.Statement) reflect.Value { return reflect.ValueOf(s.Loss).Elem() }},
		{claims.Line{}, func(s *claims.Statement) reflect.Value { return reflect.ValueOf(&s.Lines[0]).Elem() }},
	} {
		members := reflect.TypeOf(part.of)
		for i := range members.NumField() {
			name, _, _ := strings.Cut(members.Field(i).Tag.Get("json"), ",")
			switch name {
			case "tool", "line", "files", "reworded": // a line of another tool or number is another line
				continue
			}
			now := ofOneLine()
			set(t, part.edit(&now).Field(i))
			told := claims.Changed(was, now)
			if len(told) != 1 {
				t.Fatalf("%s: %q", name, told)
			}
			if said := inSpanish(t, told[0]); strings.Contains(said, strings.ReplaceAll(name, "_", " ")+" ") || strings.HasSuffix(said, " "+name) {
				t.Errorf("%s: %q", name, said)
			}
		}
	}
}

// set gives a member another value than none.
func set(t *testing.T, v reflect.Value) {
	t.Helper()
	switch v.Kind() {
	case reflect.String:
		v.SetString("another")
	case reflect.Int64:
		v.SetInt(7)
	case reflect.Bool:
		v.SetBool(true)
	case reflect.Slice:
		v.Set(reflect.ValueOf([]string{"another"}))
	case reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
	default:
		t.Fatalf("a member of kind %s", v.Kind())
	}
}

func inSpanish(t *testing.T, line string) string {
	t.Helper()
	said, known := faultSaid(words.Spanish, line)
	if !known {
		t.Errorf("not in Spanish: %q", line)
	}
	return said
}

func TestEveryDifferenceInSpanish(t *testing.T) {
	fact := claims.FactPart{On: "2026-11-10", What: "what happened, was withdrawn, came"}
	for _, c := range []struct {
		what string
		edit func(was, now *claims.Statement)
		want string
	}{
		{"shop", func(_, now *claims.Statement) { now.Shop = "Another" }, `el taller se llama ahora "Another"`},
		{"no claim", func(_, now *claims.Statement) { now.Claim = nil }, "solo antes o solo ahora hay una reclamación"},
		{"no loss", func(_, now *claims.Statement) { now.Loss = nil }, "solo antes o solo ahora hay una pérdida"},
		{"papers", func(_, now *claims.Statement) { now.Files = []claims.File{{Record: "E-9"}} }, "fotos y papeles de la pérdida: había 0, hay 1, o se cambió uno"},
		{"fact gone", func(was, _ *claims.Statement) { was.Facts = []claims.FactPart{fact} }, `lo que pasó el 2026-11-10, "what happened, was withdrawn, came", se retiró`},
		{"fact new", func(_, now *claims.Statement) { now.Facts = []claims.FactPart{fact} }, `lo que pasó el 2026-11-10, "what happened, was withdrawn, came", es nuevo`},
		{"line off", func(_, now *claims.Statement) { now.Lines = nil }, "la línea 3, 00E-KM5 impact wrench, ya no está"},
		{"line new", func(was, _ *claims.Statement) { was.Lines = nil }, "la línea 3, 00E-KM5 impact wrench, es nueva"},
		{"line moved", func(_, now *claims.Statement) { now.Lines[0].Line = 4 }, "la línea 3, 00E-KM5 impact wrench, es la línea 4"},
		{"line said", func(_, now *claims.Statement) { now.Lines[0].Notes = "keys" }, `línea 3, 00E-KM5: decía "impact wrench; keys, locks", y diría "impact wrench; keys"`},
		{"file gone", func(_, now *claims.Statement) { now.Lines[0].Files = nil }, "línea 3, 00E-KM5: placa de serie P12 se retiró, o ya no puede verse"},
		{"file new", func(was, _ *claims.Statement) { was.Lines[0].Files = nil }, "línea 3, 00E-KM5: llegó placa de serie"},
		{"file looked at", func(_, now *claims.Statement) { grade := int64(2); now.Lines[0].Files[0].Grade = &grade }, "línea 3, 00E-KM5: cambió lo que una revisión dice de placa de serie P12"},
	} {
		was, now := ofOneLine(), ofOneLine()
		c.edit(&was, &now)
		var said []string
		for _, line := range append(claims.Changed(was, now), claims.Reworded(was, now)...) {
			said = append(said, inSpanish(t, line))
		}
		if !slices.Contains(said, c.want) {
			t.Errorf("%s: want %q in %q", c.what, c.want, said)
		}
	}
}
