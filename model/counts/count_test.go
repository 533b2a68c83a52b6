package counts

import (
	"fmt"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"pawl/model/custody"
	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/numbers"
	"pawl/model/register"
)

func TestParseScope(t *testing.T) {
	for text, want := range map[string]string{
		"": "everything", " Everything ": "everything", "place:Bay 1": "place:Bay 1", "PLACE: Bay 1/Cart": "place:Bay 1/Cart",
		"person:Tech A": "person:Tech A", "kind:torque wrench": "kind:torque wrench", "place:a:b": "place:a:b",
		"place:": "refused", "everything:": "refused", "drawer": "refused", "job:1042": "refused", ":": "refused",
	} {
		s, err := ParseScope(text)
		got := s.String()
		if err != nil {
			got = "refused"
		}
		if got != want {
			t.Errorf("%q: %s, want %s", text, got, want)
		}
		if again, err := ParseScope(s.String()); err != nil || again != s && got != "refused" {
			t.Errorf("%q is read back as %+v, %v", s, again, err)
		}
	}
}

// What a line of a scanner or a keyboard is taken for. 00E-KM5 is the number of
// DESIGN 2; no other line here may be taken for it: not another shop's label, not a bare
// code that any barcode could be, nothing with look-alikes.
func TestReadScan(t *testing.T) {
	for line, want := range map[string]string{
		"00E-KM5": "number 00E-KM5", "00e-km5": "number 00E-KM5", "00ekm5": "refused", "OOE-KM5": "refused", "OOEKM5": "refused", "00E KM5": "refused", "0-0EKM5": "refused",
		"https://other.example/t/00ekm5": "refused", "HTTP://SHOP.EXAMPLE:8080/T/00EKM5": "refused", "HTTPS://SHOP.EXAMPLE/T/00EKM5?x": "number 00E-KM5", "T/00EKM5": "number 00E-KM5", "https://shop.example/t/00ekm5": "number 00E-KM5",
		"P/G-1": "place G-1", "p/g-1": "place G-1", "serial:KD408-B217": "serial KD408-B217", "SERIAL: 7": "serial 7",
		"KD408-B217": "serial KD408-B217", "00E-KM500F-LN6": "serial 00E-KM500F-LN6", // of no tool, unless one is marked so
		"00E-KM6": "refused", "00EKM": "refused", "T/00EKM": "refused", "T/00EKM5T/00FLN6": "refused", "B/H-1": "refused", "JOB:1042": "refused",
		"CARD:TAKE": "refused", "": "refused", "serial:": "refused", "T-00EKM5": "serial T-00EKM5", "//": "refused", "a\x00b1234567": "refused",
	} {
		s, err := ReadScan(line, "https://shop.example")
		got := "refused"
		switch {
		case err != nil:
		case s.Number != "":
			got = "number " + s.Number.String()
		case s.Place != "":
			got = "place " + s.Place
		default:
			got = "serial " + s.Serial
		}
		if got != want {
			t.Errorf("%q: %s (%v), want %s", line, got, err, want)
		}
	}
}

// A shop without an address prints no links: any link is another's.
func TestALinkNeedsTheShopsAddress(t *testing.T) {
	_, err := ReadScan("https://shop.example/t/00ekm5", "")
	if !fault.Is(err, fault.Invalid) || !strings.Contains(err.Error(), "shop.example, which is not the address") || !strings.Contains(fault.Of(err).Hint, "hyphen") {
		t.Error(err)
	}
}

// FuzzReadScan: a line is one thing or refused, never a panic, and a number is valid.
func FuzzReadScan(f *testing.F) {
	for _, seed := range []string{"00E-KM5", "T/00EKM5", "P/G-1", "serial:KD408-B217", "JOB:1042", "https://shop.example/t/00ekm5", "4006381333931", ""} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, line string) {
		s, err := ReadScan(line, "https://shop.example")
		said := 0
		for _, is := range []bool{s.Number != "", s.Place != "", s.Serial != ""} {
			if is {
				said++
			}
		}
		if err == nil && said != 1 || s.Number != "" && !s.Number.Valid() {
			t.Errorf("%q: %+v, %v", line, s, err)
		}
		if err != nil && fault.Of(err).Kind == fault.Internal {
			t.Errorf("%q: %v", line, err)
		}
	})
}

// What a look at a tool means.
func TestJudge(t *testing.T) {
	places := register.Places{"bay": {ID: "bay", Name: "Bay 1"}, "cart": {ID: "cart", Name: "Cart", Parent: "bay"}, "box": {ID: "box", Name: "Box", Parent: "cart"}, "van": {ID: "van", Name: "Van"}}
	for _, c := range []struct {
		what string
		look Look
		want Found
		why  string
	}{
		{"in its place, as nobody says otherwise", Look{Listed: true, Home: "cart", Now: custody.InPlace}, AsRecorded, ""},
		{"in its place", Look{Listed: true, Home: "cart", Now: custody.InPlace, At: "cart"}, AsRecorded, ""},
		{"in a box within its place", Look{Listed: true, Home: "cart", Now: custody.InPlace, At: "box"}, AsRecorded, ""},
		{"in the bay that its place is in", Look{Listed: true, Home: "cart", Now: custody.InPlace, At: "bay"}, AsRecorded, ""},
		{"somewhere else", Look{Listed: true, Home: "cart", Now: custody.InPlace, At: "van"}, Elsewhere, "it is in Van, and belongs in Bay 1/Cart"},
		{"one without a place is right anywhere", Look{Listed: true, Now: custody.InPlace, At: "van"}, AsRecorded, ""},
		{"out, and with whoever has it", Look{Listed: true, Home: "cart", Now: custody.Out, Holder: "Tech A"}, AsRecorded, ""},
		{"out, and seen in another bay", Look{Listed: true, Home: "cart", Now: custody.Out, Holder: "Tech A", At: "van"}, AsRecorded, ""},
		{"out, and put away", Look{Listed: true, Home: "cart", Now: custody.Out, Holder: "Tech A", At: "cart"}, Elsewhere, "out to Tech A"},
		{"away, and here", Look{Listed: true, Home: "cart", Now: custody.Away, Holder: "Lab 1"}, Elsewhere, "away to Lab 1"},
		{"not listed", Look{Home: "cart", Now: custody.InPlace}, NotListed, "not on the list"},
		{"gone, and here", Look{Listed: true, Home: "cart", Now: custody.InPlace, Gone: "sold"}, Elsewhere, "it is here, and by the record gone: sold"},
		{"gone, and not listed", Look{Home: "cart", Now: custody.InPlace, Gone: "sold"}, NotListed, "gone: sold"},
	} {
		found, why := Judge(c.look, places)
		if found != c.want || !strings.Contains(why, c.why) || (why == "") != (c.why == "") {
			t.Errorf("%s: %s, %q; want %s, %q", c.what, found, why, c.want, c.why)
		}
	}
}

// What a later look adds to one that is kept.
func TestAgain(t *testing.T) {
	piece := register.Pieces{{Name: "socket", Count: 1}}
	kept := Sighting{ID: "E-1", Rev: 1, Found: Elsewhere, Place: "van", Why: "it is in Van", Condition: "oily"}
	for _, c := range []struct {
		what        string
		kept, later Sighting
		more        bool
		want        Sighting
	}{
		{"the same again", kept, Sighting{Found: AsRecorded}, false, kept},
		{"in the same place again", kept, Sighting{Found: Elsewhere, Place: "van"}, false, kept},
		{"put back", kept, Sighting{Found: AsRecorded, Place: "cart"}, true, Sighting{ID: "E-1", Rev: 1, Found: AsRecorded, Place: "cart", Condition: "oily"}},
		{"a piece is missing", kept, Sighting{Found: AsRecorded, Missing: piece}, true,
			Sighting{ID: "E-1", Rev: 1, Found: Elsewhere, Place: "van", Why: "it is in Van", Condition: "oily", Missing: piece}},
		{"gone since, and still here", Sighting{ID: "E-1", Rev: 1, Found: AsRecorded, Place: "cart"}, Sighting{Found: Elsewhere, Why: "gone: sold"}, true,
			Sighting{ID: "E-1", Rev: 1, Found: Elsewhere, Place: "cart", Why: "gone: sold"}},
		{"a word becomes a look", Sighting{ID: "E-1", Rev: 1, Found: ByWord, Condition: "by phone"}, Sighting{Found: AsRecorded}, true, Sighting{ID: "E-1", Rev: 1, Found: AsRecorded}},
	} {
		got, more := c.kept.Again(c.later)
		if more != c.more || fmt.Sprint(got) != fmt.Sprint(c.want) {
			t.Errorf("%s: %+v, %v; want %+v", c.what, got, more, c.want)
		}
	}
}

// What custody did after a count started.
func TestChanged(t *testing.T) {
	const start dates.Instant = 100
	for _, c := range []struct {
		what  string
		loans []custody.Loan
		until dates.Instant
		at    dates.Instant // 0: it did not move
	}{
		{"nothing", nil, 0, 0},
		{"taken before", []custody.Loan{{Since: 50}}, 0, 0},
		{"returned before", []custody.Loan{{Since: 50, Ended: 100}}, 0, 0},
		{"taken after", []custody.Loan{{Since: 101}}, 0, 101},
		{"returned after", []custody.Loan{{Since: 50, Ended: 120}}, 0, 120},
		{"taken before, and entered after", []custody.Loan{{Since: 50, Entered: 130}}, 0, 130},
		{"handed over", []custody.Loan{{ID: "a", Since: 50, Ended: 110}, {ID: "b", Since: 110}}, 0, 110},
		{"taken after the count was closed", []custody.Loan{{Since: 300}}, 200, 0},
		{"returned after it, and taken within", []custody.Loan{{Since: 150, Ended: 300}}, 200, 150},
	} {
		got, moved := Changed(start, c.until, c.loans)
		if moved != (c.at != 0) || got.At != c.at {
			t.Errorf("%s: %d, %v; want %d", c.what, got.At, moved, c.at)
		}
		if c.what == "handed over" && got.Loan.ID != "b" {
			t.Errorf("the act is that of %s", got.Loan.ID)
		}
	}
}

// Where a listed tool ends, whether it is accounted for, whether somebody must settle it,
// and as what it is counted.
func TestWhereAToolEnds(t *testing.T) {
	here, out := Entry{Look: true}, Entry{Look: true, Loan: "O", Person: "H"}
	for _, c := range []struct {
		what    string
		entry   Entry
		seen    Found // empty: nobody saw it
		moved   *Change
		want    Bucket
		counted string
		settle  bool
	}{
		{"seen", here, AsRecorded, nil, Seen, "seen", false},
		{"not seen", here, "", nil, NotSeen, "missing", true},
		{"taken meanwhile: nobody saw it", here, "", &Change{}, Moved, "moved", false},
		{"sold meanwhile: nobody saw it", here, "", &Change{Gone: "sold"}, Moved, "moved", false},
		{"lost meanwhile is missing", here, "", &Change{Gone: "lost"}, NotSeen, "missing", true},
		{"stolen meanwhile is missing", out, "", &Change{Gone: "stolen"}, NotSeen, "missing", true},
		{"lost after whoever had it gave their word", out, ByWord, &Change{Gone: "lost"}, NotSeen, "missing", true},
		{"sold after whoever had it gave their word", out, ByWord, &Change{Gone: "sold"}, Confirmed, "by word", false},
		{"gone by the record, and seen", here, NotListed, nil, SeenElsewhere, "seen", true},
	} {
		var s *Sighting
		if c.seen != "" {
			s = &Sighting{Found: c.seen}
		}
		got := BucketOf(c.entry, s, c.moved)
		var n Numbers
		n.Add(got, nil)
		counted := fmt.Sprint(map[string]int{"seen": n.Seen, "by word": n.ByWord, "moved": n.Moved, "missing": n.Missing}[c.counted], n.Seen+n.ByWord+n.Moved+n.Missing)
		if got != c.want || counted != "1 1" || got.Differs() != c.settle || got.Accounted() != (c.counted != "missing") || (n.Right == 1) != !c.settle {
			t.Errorf("%s: %s, %+v; want %s, %s", c.what, got, n, c.want, c.counted)
		}
	}
}

// What nobody saw is not here because its record was mended.
func TestAMendedRecordFindsNothing(t *testing.T) {
	for bucket, refused := range map[Bucket]bool{NotSeen: true, StillOut: true, StillAway: true, SeenElsewhere: false, Incomplete: false, "": false} {
		mended := Difference{How: RecordMended, Place: "G", Note: "n"}
		err := mended.Check(bucket)
		if (err != nil) != refused || refused && (!fault.Is(err, fault.Invalid) || !strings.Contains(err.Error(), "nobody saw it")) {
			t.Errorf("%q: %v", bucket, err)
		}
		if !refused {
			continue
		}
		var n Numbers // as it was kept before it was refused
		if n.Add(bucket, &mended); n.Missing != 1 {
			t.Errorf("%q: %+v", bucket, n)
		}
	}
}

// Every listed tool ends in exactly one bucket, the buckets sum to the list, and what
// is to be looked for is seen, by word or missing: whatever was scanned and settled.
func TestEveryListedToolEndsInOneBucket(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		var n Numbers
		counted := map[Bucket]int{}
		listed := rapid.IntRange(1, 60).Draw(rt, "listed")
		for range listed {
			e, s, moved := aTool(rt)
			b := BucketOf(e, s, moved)
			counted[b]++
			settled := aSettlement(rt, b)
			n.Add(b, settled)
		}
		sum := 0
		for _, b := range Buckets {
			sum += n.By[b]
			if n.By[b] != counted[b] {
				rt.Fatalf("%s: %d, want %d", b, n.By[b], counted[b])
			}
		}
		if sum != listed || n.Listed != listed || n.Drawn != listed-n.By[NotDrawn] || n.Seen+n.ByWord+n.Moved+n.Missing != n.Drawn || n.Right > n.Seen+n.ByWord+n.Moved {
			rt.Fatalf("%+v of %d", n, listed)
		}
		if n.Drawn == 0 {
			return
		}
		st, err := State(n.Tally(0.95))
		if err != nil || st.Missing != n.Missing || st.AtMostMissing < n.Missing || st.AtMostMissing > listed {
			rt.Fatalf("%+v: %+v, %v", n, st, err)
		}
	})
}

// aTool draws a listed tool, what was seen of it, and whether it moved.
func aTool(rt *rapid.T) (Entry, *Sighting, *Change) {
	e := Entry{Tool: "T", Look: rapid.Bool().Draw(rt, "look")}
	switch rapid.IntRange(0, 2).Draw(rt, "state") {
	case 1:
		e.Loan, e.Person = "O", "H"
	case 2:
		e.Loan, e.Whom = "O", "Lab 1"
	}
	var s *Sighting
	if rapid.Bool().Draw(rt, "seen") {
		s = &Sighting{Found: rapid.SampledFrom([]Found{AsRecorded, Elsewhere, NotListed, ByWord}).Draw(rt, "found")}
		if rapid.Bool().Draw(rt, "incomplete") {
			s.Missing = register.Pieces{{Name: "case", Count: 1}}
		}
	}
	if rapid.Bool().Draw(rt, "moved") {
		return e, s, &Change{Gone: rapid.SampledFrom([]string{"", "sold", "lost", "stolen"}).Draw(rt, "gone")}
	}
	return e, s, nil
}

// aSettlement draws one that is taken for a tool that ended there, or none.
func aSettlement(rt *rapid.T, b Bucket) *Difference {
	d := Difference{How: rapid.SampledFrom(Settlements).Draw(rt, "how"), Place: "G", Whom: "Lab 1", Note: "n"}
	if rapid.Bool().Draw(rt, "open") || d.Check(b) != nil {
		return nil
	}
	return &d
}

// A list is put together again from its rows, and from no others.
func TestAListIsReadBackAndNoOther(t *testing.T) {
	worth := int64(90000)
	var f Frame
	for i := range 2*BlockSize + 7 {
		n, err := numbers.FromCounter(int64(i + 100))
		if err != nil {
			t.Fatal(err)
		}
		f = append(f, Entry{Tool: fmt.Sprint("T-", i), Number: n, Place: "G-1", Look: i%3 == 0, Worth: &worth})
	}
	rows, digest, err := f.Rows("N-1")
	if err != nil || len(rows) != 3 || rows[2].Part != 3 || len(digest) != 64 {
		t.Fatalf("%d rows, %q, %v", len(rows), digest, err)
	}
	back, err := ReadFrame(rows, digest)
	if err != nil || len(back) != len(f) || fmt.Sprint(back[2005].Number, back[2004].Look) != fmt.Sprint(f[2005].Number, f[2004].Look) {
		t.Errorf("%d, %v", len(back), err)
	}
	rows[1].Entries = strings.Replace(rows[1].Entries, `"look":true,`, "", 1)
	if _, err := ReadFrame(rows, digest); !fault.Is(err, fault.Internal) {
		t.Errorf("a list that was changed: %v", err)
	}
}
