package proofs

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"strings"
	"testing"

	"golang.org/x/mod/sumdb/tlog"

	"pawl/model/bag"
	"pawl/model/ledger"
)

// kept is a ledger in memory: a tool of four revisions, with other lines
// between.
type kept struct {
	hashes []tlog.Hash
	lines  [][3][]byte // line, salt, image
	skey   string
	vkey   string
}

func (k *kept) ReadHashes(at []int64) (out []tlog.Hash, err error) {
	for _, i := range at {
		out = append(out, k.hashes[i])
	}
	return out, nil
}

const origin = "pawl/0123456789abcdef"

func newLedger(t testing.TB) *kept {
	t.Helper()
	k := &kept{}
	var err error
	if k.skey, k.vkey, err = ledger.GenerateKey(strings.NewReader(strings.Repeat("k", 64)), origin); err != nil {
		t.Fatal(err)
	}
	for seq := range int64(8) {
		image := ledger.Image{"kind": "drill", "notes": fmt.Sprint("line ", seq)}.Canonical()
		salt := sha256.Sum256([]byte{byte(seq)})
		l := ledger.Line{V: 1, Seq: seq, Act: seq, At: seq, Actor: "shop via local", Verb: "edit", Noun: "tool", ID: "T-1", Rev: seq/2 + 1,
			Tools: []string{"T-1"}, Digest: ledger.Digest(salt[:], image)}
		if seq%2 == 1 {
			l.ID, l.Tools = "T-2", []string{"T-2"}
		}
		stored, err := ledger.Append(seq, l.Canonical(), k)
		if err != nil {
			t.Fatal(err)
		}
		k.hashes = append(k.hashes, stored...)
		k.lines = append(k.lines, [3][]byte{l.Canonical(), salt[:], image})
	}
	return k
}

// note signs the first size lines.
func (k *kept) note(t testing.TB, size int64) string {
	t.Helper()
	root, err := ledger.Root(size, k)
	if err != nil {
		t.Fatal(err)
	}
	note, err := ledger.Sign(ledger.Checkpoint{Origin: origin, Size: size, Root: root}, k.skey)
	if err != nil {
		t.Fatal(err)
	}
	return note
}

// entries are the rows about the first tool.
func (k *kept) entries(t testing.TB) (out []Entry) {
	t.Helper()
	for i, l := range k.lines {
		if i%2 == 1 {
			continue
		}
		e, err := NewEntry(l[0], l[1], l[2], 8, k)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, e)
	}
	return out
}

// folder writes a bag with those rows and opens it again.
func (k *kept) folder(t testing.TB, rows []Entry) *bag.Bag {
	t.Helper()
	older, err := NewOlder(3, 8, k)
	if err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	w, err := bag.NewWriter(&out, bag.Info{Name: "b", Date: "2026-11-25"})
	if err == nil {
		err = Write(w, Source{Note: k.note(t, 8), Key: k.vkey, Older: []Older{older}, Lines: func(keep func(Entry) error) error {
			for _, e := range rows {
				if err := keep(e); err != nil {
					return err
				}
			}
			return nil
		}})
	}
	if err == nil {
		_, err = w.Close()
	}
	if err != nil {
		t.Fatal(err)
	}
	b, err := bag.Open(bytes.NewReader(out.Bytes()), int64(out.Len()))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// TestCheck: whatever is done to the rows shows; a line that is withheld does
// not break the rest.
func TestCheck(t *testing.T) {
	k := newLedger(t)
	all := k.entries(t)
	_, stranger, err := ledger.GenerateKey(strings.NewReader(strings.Repeat("x", 64)), origin)
	if err != nil {
		t.Fatal(err)
	}
	edited := func(i int, edit func(*Entry)) []Entry {
		rows := append([]Entry{}, all...)
		edit(&rows[i])
		return rows
	}
	for name, c := range map[string]struct {
		rows    []Entry
		outside Outside
		want    string // within a problem; empty: none
	}{
		"as it was":             {all, Outside{}, ""},
		"the key and old notes": {all, Outside{Key: k.vkey, Checkpoints: []string{k.note(t, 3), k.note(t, 8)}}, ""},
		"withheld":              {edited(1, func(e *Entry) { e.Salt, e.After = "", "" }), Outside{}, ""},
		"another image":         {edited(1, func(e *Entry) { e.After = strings.Replace(e.After, "line 2", "line 9", 1) }), Outside{}, "image has digest"},
		"another line":          {edited(3, func(e *Entry) { e.Line = strings.Replace(e.Line, `"at":6`, `"at":7`, 1) }), Outside{}, "does not lead to the root"},
		"another path":          {edited(3, func(e *Entry) { e.Path = all[2].Path }), Outside{}, "does not lead to the root"},
		"one left out":          {append(append([]Entry{}, all[:1]...), all[2:]...), Outside{}, "some were left out"},
		"the first left out":    {all[1:], Outside{}, "some were left out"},
		"out of order":          {[]Entry{all[1], all[0], all[2], all[3]}, Outside{}, "stands after line"},
		"another key":           {all, Outside{Key: stranger}, "another key"},
		"a size not kept":       {all, Outside{Checkpoints: []string{k.note(t, 5)}}, "nothing leads from it"},
		"no checkpoint":         {all, Outside{Checkpoints: []string{"x"}}, "not a signed checkpoint"},
	} {
		p, err := Check(k.folder(t, c.rows), c.outside)
		said := strings.Join(p.Problems, "\n")
		if err != nil || (c.want == "") != (said == "") || !strings.Contains(said, c.want) {
			t.Errorf("%s: %v %q, want %q", name, err, said, c.want)
		}
		if c.want == "" && p.Compared != int64(len(c.outside.Checkpoints)) {
			t.Errorf("%s: compared with %d", name, p.Compared)
		}
	}
}

// FuzzCheck: what somebody writes in place of the rows is refused or a problem,
// unless it is the rows themselves or some of those that stand first.
func FuzzCheck(f *testing.F) {
	k := newLedger(f)
	whole, err := k.folder(f, k.entries(f)).Text(linesFile, 1<<20)
	if err != nil {
		f.Fatal(err)
	}
	f.Add([]byte(whole))
	f.Add([]byte(strings.Replace(whole, "drill", "press", 1)))
	f.Add([]byte(`{"line":"","path":[]}`))
	note, _ := k.folder(f, nil).Text(checkpointFile, 1<<20)
	f.Fuzz(func(t *testing.T, raw []byte) {
		var out bytes.Buffer
		w, err := bag.NewWriter(&out, bag.Info{Name: "b", Date: "2026-11-25"})
		for _, file := range []struct{ path, text string }{{checkpointFile, note}, {consistencyFile, ""}, {keyFile, k.vkey}, {linesFile, string(raw)}} {
			if err == nil {
				err = w.Add(file.path, false, strings.NewReader(file.text))
			}
		}
		if err == nil {
			_, err = w.Close()
		}
		if err != nil {
			t.Fatal(err)
		}
		b, err := bag.Open(bytes.NewReader(out.Bytes()), int64(out.Len()))
		if err != nil {
			t.Fatal(err)
		}
		p, err := Check(b, Outside{Key: k.vkey})
		if err != nil || len(p.Problems) > 0 {
			return
		}
		for id, r := range p.Records {
			image, err := ledger.ParseImage(r.After)
			if r.After != nil && (err != nil || !bytes.Contains([]byte(whole), []byte(fmt.Sprint(image["notes"])))) {
				t.Errorf("%v is shown as %s, which the ledger never held", id, r.After)
			}
		}
	})
}
