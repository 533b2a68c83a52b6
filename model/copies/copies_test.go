package copies

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"reflect"
	"slices"
	"strings"
	"testing"

	"golang.org/x/mod/sumdb/tlog"

	"pawl/model/bag"
	"pawl/model/fault"
	"pawl/model/ledger"
	"pawl/model/proofs"
)

const (
	origin = "pawl/0123456789abcdef"
	photo  = "a photo of a serial plate"
)

func sha(text string) string {
	sum := sha256.Sum256([]byte(text))
	return hex.EncodeToString(sum[:])
}

// shop is a ledger in memory with the lines about two tools.
type shop struct {
	hashes []tlog.Hash
	lines  [][3][]byte // line, salt, image
	skey   string
	vkey   string
}

func (s *shop) ReadHashes(at []int64) (out []tlog.Hash, err error) {
	for _, i := range at {
		out = append(out, s.hashes[i])
	}
	return out, nil
}

// change is what one line of the ledger is about.
type change struct {
	noun, id, tool string
	rev            int64
	image          ledger.Image
}

var history = []change{
	{"tool", "T-1", "T-1", 1, ledger.Image{"kind": "drill", "number": "00001Y"}},
	{"number", "00001Y", "T-1", 1, ledger.Image{"tool": "T-1", "state": "assigned"}},
	{"tool", "T-2", "T-2", 1, ledger.Image{"kind": "jack", "number": "00002W"}},
	{"number", "00002W", "T-2", 1, ledger.Image{"tool": "T-2", "state": "assigned"}},
	{"marking", "M-1", "T-1", 1, ledger.Image{"tool": "T-1", "method": "printed"}},
	{"tool", "T-1", "T-1", 2, ledger.Image{"kind": "drill", "number": "00001Y", "notes": "a new grip"}},
	{"wrong", "W-1", "T-1", 1, ledger.Image{"tool": "T-1", "what": "dropped"}},
	{"evidence", "E-1", "T-1", 1, ledger.Image{"tool": "T-1", "kind": "plate", "media_type": "image/jpeg", "sha256": sha(photo)}},
	{"evidence", "E-2", "T-2", 1, ledger.Image{"tool": "T-2", "kind": "receipt", "media_type": "application/pdf", "sha256": sha("a receipt")}},
}

func openShop(t testing.TB) *shop {
	t.Helper()
	s := &shop{}
	var err error
	if s.skey, s.vkey, err = ledger.GenerateKey(strings.NewReader(strings.Repeat("k", 64)), origin); err != nil {
		t.Fatal(err)
	}
	for i, c := range history {
		seq, image, salt := int64(i), c.image.Canonical(), sha256.Sum256([]byte{byte(i)})
		l := ledger.Line{V: 1, Seq: seq, Act: seq, At: seq, Actor: "shop via local", Verb: "edit", Noun: c.noun, ID: c.id, Rev: c.rev,
			Tools: []string{c.tool}, Digest: ledger.Digest(salt[:], image)}
		stored, err := ledger.Append(seq, l.Canonical(), s)
		if err != nil {
			t.Fatal(err)
		}
		s.hashes = append(s.hashes, stored...)
		s.lines = append(s.lines, [3][]byte{l.Canonical(), salt[:], image})
	}
	return s
}

// record is a record as its last line left it.
func record(noun, id string) (r Record) {
	for _, c := range history {
		if c.noun == noun && c.id == id {
			r = Record{ID: id, Rev: c.rev, After: c.image.Canonical()}
		}
	}
	return r
}

// source is the copy of both tools. The receipt's bytes are not in it.
func (s *shop) source(t testing.TB) Source {
	t.Helper()
	size := int64(len(s.lines))
	root, err := ledger.Root(size, s)
	if err != nil {
		t.Fatal(err)
	}
	note, err := ledger.Sign(ledger.Checkpoint{Origin: origin, Size: size, Root: root}, s.skey)
	if err != nil {
		t.Fatal(err)
	}
	return Source{
		Copy: Copy{Format: Format, Ledger: origin, Shop: "Demo garage", Owner: "Tech A", Made: 1, Tools: []Tool{
			{Number: "000-01Y", Numbers: []string{"000-01Y"}, Record: record("tool", "T-1"), Markings: []Record{record("marking", "M-1")},
				Wrongs: []Record{record("wrong", "W-1")}, Evidence: []Evidence{{record("evidence", "E-1"), FileOf(sha(photo), "image/jpeg")}}},
			{Number: "000-02W", Numbers: []string{"000-02W"}, Record: record("tool", "T-2"), Markings: []Record{}, Wrongs: []Record{},
				Evidence: []Evidence{{record("evidence", "E-2"), ""}}},
		}},
		Original: func(string) (io.ReadCloser, error) { return io.NopCloser(strings.NewReader(photo)), nil },
		Proofs: proofs.Source{Note: note, Key: s.vkey, Lines: func(keep func(proofs.Entry) error) error {
			for _, l := range s.lines {
				e, err := proofs.NewEntry(l[0], l[1], l[2], size, s)
				if err == nil {
					err = keep(e)
				}
				if err != nil {
					return err
				}
			}
			return nil
		}},
	}
}

// written writes a copy and opens its bag.
func written(t testing.TB, src Source) *bag.Bag {
	t.Helper()
	var out bytes.Buffer
	if _, err := Write(&out, "2026-11-25", src); err != nil {
		t.Fatal(err)
	}
	b, err := bag.Open(bytes.NewReader(out.Bytes()), int64(out.Len()))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// Whatever is done to the records or the originals of a copy shows: a record
// says what its last line shows, and every tool that the lines show is there.
func TestCheckHoldsEachRecordToItsLine(t *testing.T) {
	s := openShop(t)
	for name, c := range map[string]struct {
		edit func(*Source)
		want string // within the one problem; empty: none
	}{
		"as it was":             {func(*Source) {}, ""},
		"a record is changed":   {func(x *Source) { x.Tools[0].Record.After = json.RawMessage(`{"kind":"drill"}`) }, `tool "T-1" is not as its last line left it`},
		"an earlier revision":   {func(x *Source) { x.Tools[0].Record.Rev = 1 }, `tool "T-1" is not as its last line left it`},
		"a report is changed":   {func(x *Source) { x.Tools[0].Wrongs[0].After = json.RawMessage(`{"tool":"T-1","what":"doubtful"}`) }, `wrong "W-1" is not as`},
		"a marking nobody made": {func(x *Source) { x.Tools[0].Markings[0].ID = "M-9" }, `no line shows marking "M-9"`},
		"a marking of another":  {func(x *Source) { x.Tools[1].Markings = x.Tools[0].Markings }, `marking "M-1" is not of tool T-2`},
		"a number of another":   {func(x *Source) { x.Tools[1].Number = "000-01Y" }, `no line shows that number "000-01Y" is that of tool T-2`},
		"a number nobody has":   {func(x *Source) { x.Tools[0].Numbers = append(x.Tools[0].Numbers, "000-03T") }, `no line shows that number "000-03T"`},
		"a tool is left out":    {func(x *Source) { x.Tools = x.Tools[:1] }, "the lines show tool T-2, which is not among the records"},
		"a report is left out":  {func(x *Source) { x.Tools[0].Wrongs = nil }, `the lines show wrong "W-1" of tool T-1, which is not among the records`},
		"a marking is left out": {func(x *Source) { x.Tools[0].Markings = nil }, `the lines show marking "M-1" of tool T-1`},
		"a paper is left out":   {func(x *Source) { x.Tools[1].Evidence = nil }, `the lines show evidence "E-2" of tool T-2`},
		"a tool stands twice":   {func(x *Source) { x.Tools = append(x.Tools, x.Tools[1]) }, `tool "T-2" stands there twice`},
		"of another ledger":     {func(x *Source) { x.Ledger = "pawl/ffffffffffffffff" }, "the records say that they are of"},
		"another photo": {func(x *Source) {
			x.Original = func(string) (io.ReadCloser, error) { return io.NopCloser(strings.NewReader("another")), nil }
		}, "is not the original with the SHA-256"},
		"a photo by other means": {func(x *Source) { x.Tools[0].Evidence[0].File = originals + "x.jpg" }, ""},
	} {
		t.Run(name, func(t *testing.T) {
			src := s.source(t)
			c.edit(&src)
			got, err := Check(written(t, src), proofs.Outside{Key: s.vkey})
			if err != nil {
				t.Fatal(err)
			}
			if c.want == "" && len(got.Problems) > 0 || c.want != "" && (len(got.Problems) == 0 || !strings.Contains(strings.Join(got.Problems, "\n"), c.want)) {
				t.Errorf("problems %q, want %q", got.Problems, c.want)
			}
		})
	}
	got, err := Check(written(t, s.source(t)), proofs.Outside{})
	if err != nil || got.Records != 6 || got.Files != 1 || got.Absent != 1 || !reflect.DeepEqual(got.Copy, s.source(t).Copy) {
		t.Errorf("%d records, %d originals, %d absent: %+v, %v", got.Records, got.Files, got.Absent, got.Copy, err)
	}
}

// A line whose image is withheld shows nothing: a record that leans on it is not
// proven.
func TestARecordBehindAWithheldLineIsNotProven(t *testing.T) {
	s := openShop(t)
	src := s.source(t)
	lines := src.Proofs.Lines
	src.Proofs.Lines = func(keep func(proofs.Entry) error) error {
		return lines(func(e proofs.Entry) error {
			if strings.Contains(string(e.Line), `"M-1"`) {
				e.Salt, e.After = "", ""
			}
			return keep(e)
		})
	}
	got, err := Check(written(t, src), proofs.Outside{})
	if err != nil || len(got.Problems) != 1 || !strings.Contains(got.Problems[0], `what marking "M-1" says is withheld`) {
		t.Errorf("%q, %v", got.Problems, err)
	}
}

// A copy is of tools that their owner has. One that was put together from the lines about a
// tool that was stolen, as they are in what is handed to the police, is none.
func TestAGoneToolIsNobodysOwn(t *testing.T) {
	was := history
	defer func() { history = was }()
	history = append(slices.Clone(was), change{"tool", "T-2", "T-2", 2, ledger.Image{"kind": "jack", "number": "00002W", "gone": int64(7), "gone_why": "stolen"}})
	s := openShop(t)
	got, err := Check(written(t, s.source(t)), proofs.Outside{Key: s.vkey})
	if err != nil || len(got.Problems) != 1 || !strings.Contains(got.Problems[0], `tool "T-2" is gone (stolen)`) {
		t.Errorf("%q, %v", got.Problems, err)
	}
}

// The part of one tool is a copy that holds by itself, without the originals.
func TestPartIsACopyOfOneTool(t *testing.T) {
	s := openShop(t)
	whole, err := Check(written(t, s.source(t)), proofs.Outside{})
	if err != nil {
		t.Fatal(err)
	}
	part, err := Check(written(t, whole.Part(whole.Tools[0])), proofs.Outside{Key: s.vkey})
	if err != nil || len(part.Problems) > 0 || len(part.Tools) != 1 || part.Files != 0 || part.Absent != 1 || part.Proven.Lines != 6 {
		t.Errorf("%d tools, %d originals, %d absent, %d lines: %q, %v", len(part.Tools), part.Files, part.Absent, part.Proven.Lines, part.Problems, err)
	}
	if whole.Tools[0].Evidence[0].File == "" {
		t.Error("the whole lost its originals")
	}
}

// An original that cannot be had, or an image that is none, ends the writing.
func TestWriteFails(t *testing.T) {
	s := openShop(t)
	gone := errors.New("no such original")
	for name, edit := range map[string]func(*Source){
		"no original": func(x *Source) { x.Original = func(string) (io.ReadCloser, error) { return nil, gone } },
		"no image":    func(x *Source) { x.Tools[0].Evidence[0].After = json.RawMessage(`[]`) },
	} {
		src := s.source(t)
		edit(&src)
		if _, err := Write(io.Discard, "2026-11-25", src); err == nil {
			t.Errorf("%s: it was written", name)
		}
	}
}

func TestParseRefuses(t *testing.T) {
	for name, c := range map[string]struct{ text, want string }{
		"nothing":             {"", "cannot be read"},
		"no JSON":             {"tools", "cannot be read"},
		"a list":              {"[]", "cannot be read"},
		"another format":      {`{"format":"pawl copy 2"}`, `its format is "pawl copy 2"`},
		"no format":           {`{}`, "its format is"},
		"an unknown member":   {`{"format":"pawl copy 1","color":"red"}`, "color"},
		"within a tool":       {`{"format":"pawl copy 1","tools":[{"price":1}]}`, "price"},
		"a number for a text": {`{"format":"pawl copy 1","shop":1}`, "cannot be read"},
		"a day for a time":    {`{"format":"pawl copy 1","made":"2026-11-25"}`, "cannot be read"},
		"cut short":           {`{"format":"pawl copy 1","tools":[`, "cannot be read"},
		"something after":     {`{"format":"pawl copy 1"} {}`, "something follows"},
		"and a bracket":       {`{"format":"pawl copy 1"}]`, "something follows"},
	} {
		if _, err := parse(c.text); !fault.Is(err, fault.Malformed) || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", name, err, c.want)
		}
	}
}

func TestFileOf(t *testing.T) {
	for _, c := range [][3]string{{"ab", "image/jpeg", "data/originals/ab.jpg"}, {"ab", "image/png", "data/originals/ab.png"}, {"ab", "application/pdf", "data/originals/ab.pdf"}} {
		if got := FileOf(c[0], c[1]); got != c[2] {
			t.Errorf("%s of type %s is %s, want %s", c[0], c[1], got, c[2])
		}
	}
}

// FuzzRecords: no file of records makes the check fall over, and one in which it
// finds nothing wrong says of each tool what the lines show, and of every tool.
func FuzzRecords(f *testing.F) {
	s := openShop(f)
	genuine, err := json.Marshal(s.source(f).Copy)
	if err != nil {
		f.Fatal(err)
	}
	b := written(f, s.source(f))
	report, err := b.Check()
	if err != nil {
		f.Fatal(err)
	}
	proven, err := proofs.Check(b, proofs.Outside{})
	if err != nil {
		f.Fatal(err)
	}
	f.Add(string(genuine))
	f.Add(strings.Replace(string(genuine), `"a new grip"`, `"an old grip"`, 1))
	f.Add(strings.Replace(string(genuine), `"rev":2`, `"rev":-1`, 1))
	f.Add(`{"format":"pawl copy 1","tools":[{"record":{"after":null},"evidence":[{"id":"E-1","file":"../x"}],"numbers":[""]}]}`)
	f.Add(fmt.Sprintf(`{"format":%q,"ledger":%q,"made":null,"tools":[{}]}`, Format, origin))
	f.Fuzz(func(t *testing.T, text string) {
		c := Checked{Bag: b, Proven: proven}
		if c.Copy, err = parse(text); err != nil {
			if !fault.Is(err, fault.Malformed) {
				t.Fatal(err)
			}
			return
		}
		c.records()
		c.originals(report.Hashes)
		if len(c.Problems) > 0 {
			return
		}
		if len(c.Tools) != 2 {
			t.Fatalf("%d tools are said to be all", len(c.Tools))
		}
		for _, tool := range c.Tools {
			if want := record("tool", tool.Record.ID); !bytes.Equal(want.After, tool.Record.After) || want.Rev != tool.Record.Rev {
				t.Fatalf("tool %s is said to be %s", tool.Record.ID, tool.Record.After)
			}
		}
	})
}
