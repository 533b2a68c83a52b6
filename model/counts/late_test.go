package counts

import (
	"reflect"
	"testing"

	"pgregory.net/rapid"

	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/register"
)

// Two looks say the same in whichever order they are entered.
func TestTwoLooksInEitherOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		look := func(name string, at dates.Instant) Sighting {
			s := Sighting{Count: "N", Tool: "T", At: at, Found: rapid.SampledFrom([]Found{AsRecorded, Elsewhere, NotListed, ByWord}).Draw(t, name+" found"),
				Person: rapid.SampledFrom([]string{"a", "b"}).Draw(t, name+" by"), Condition: rapid.SampledFrom([]string{"", "worn", "bent"}).Draw(t, name+" condition")}
			if s.Found != ByWord {
				s.Place = rapid.SampledFrom([]string{"", "p", "q"}).Draw(t, name+" in")
				if rapid.Bool().Draw(t, name+" lacks") {
					s.Missing = register.Pieces{{Name: "socket", Count: 1}}
				}
			}
			return s
		}
		first, second := look("first", 10), look("second", 20)
		if first.Found == ByWord && second.Found == ByWord {
			return // one word is taken, the first
		}
		kept, entered := first, second
		kept.ID, kept.Rev = "E", 1
		ahead, _ := kept.With(entered)
		kept, entered = second, first
		kept.ID, kept.Rev = "E", 1
		late, more := kept.With(entered)
		if !reflect.DeepEqual(ahead, late) {
			t.Fatalf("in order %+v\nlate %+v", ahead, late)
		}
		if more == reflect.DeepEqual(late, kept) {
			t.Fatalf("more is %v: %+v was %+v", more, late, kept)
		}
		if again, more := late.With(entered); more {
			t.Fatalf("entered twice: %+v was %+v", again, late)
		}
	})
}

func TestWhenALookMayHaveBeenMade(t *testing.T) {
	c := Count{Started: 100}
	for at, says := range map[dates.Instant]bool{99: false, 100: true, 150: true, 200: true, 201: false} {
		err := c.MayHaveBeenSeen(at, 200)
		if (err == nil) != says || err != nil && (!fault.Is(err, fault.Invalid) || fault.Of(err).Fields[0].Pointer != "#/happened") {
			t.Errorf("%d: %v", at, err)
		}
	}
}
