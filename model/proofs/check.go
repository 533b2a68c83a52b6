package proofs

import (
	"bufio"
	"bytes"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"

	"pawl/model/bag"
	"pawl/model/fault"
	"pawl/model/ledger"
)

// Outside is what somebody has from elsewhere to hold the proofs against.
type Outside struct {
	Key         string   // verifying key; empty: none
	Checkpoints []string // signed notes
	Partly      bool     // the newest roll alone must show every tool; of the others whoever looks asks, by NotUnder
}

// Record is the last state of a record that the lines show.
type Record struct {
	Rev   int64
	After []byte // canonical image; nil when withheld
	first int64
	lines int64
}

// RecordID names a record.
type RecordID struct{ Noun, ID string }

// Proven is what a folder of proofs shows. No problems means that all of it holds.
type Proven struct {
	ledger.Checkpoint
	Note, Key  string
	Lines      int64
	Withheld   int64
	Compared   int64 // checkpoints from outside that it agrees with
	Records    map[RecordID]Record
	Rolls      []Rolled // in the order of the file
	Anchor     *Anchor  // an older checkpoint that leads to this one; nil: there is none
	AnchorSize int64    // its lines
	Found
	outsideKey  bool
	older       map[int64]Older
	consistency []Older
	tools       map[string][]toolLine // lines about each tool, by place
	held        map[int64]bool        // sizes of the signed checkpoints that were seen to lead here
}

// Bounds on what is read of a bag that comes from outside, in bytes.
const (
	maxSmall = 64 << 10
	maxRow   = 4 << 20
)

// In says whether a bag has proofs in it.
func In(b *bag.Bag) bool { return len(b.Files("proof/")) > 0 }

// Check holds every line of the folder to the checkpoint, and the checkpoint to
// its key and to what is known from outside. Its error means that it could not
// look.
func Check(b *bag.Bag, o Outside) (p Proven, err error) {
	p = Proven{Records: map[RecordID]Record{}, older: map[int64]Older{}, tools: map[string][]toolLine{}, held: map[int64]bool{}, outsideKey: o.Key != ""}
	if p.Key, err = b.Text(keyFile, maxSmall); err != nil {
		return p, err
	}
	p.Key = strings.TrimSpace(p.Key)
	if o.Key != "" && strings.TrimSpace(o.Key) != p.Key {
		p.Problem("it is signed with another key than the one given: its fingerprint is %s, that of the one given %s", ledger.Fingerprint(p.Key), ledger.Fingerprint(strings.TrimSpace(o.Key)))
	}
	if p.Note, err = b.Text(checkpointFile, maxSmall); err != nil {
		return p, err
	}
	if p.Checkpoint, err = ledger.Open(p.Note, p.Key); err != nil {
		return p, err
	}
	if err := rows(b, consistencyFile, p.keepOlder); err != nil {
		return p, err
	}
	if err := p.anchor(b); err != nil {
		return p, err
	}
	for i, note := range o.Checkpoints {
		p.compare(i+1, note)
	}
	last := int64(-1)
	if err := rows(b, linesFile, func(e Entry) error {
		seq, err := p.line(e, last)
		last = max(last, seq)
		return err
	}); err != nil {
		return p, err
	}
	p.gaps()
	if err := p.checkRolls(b, o.Partly); err != nil {
		return p, err
	}
	p.sortedProblems()
	return p, nil
}

// rows reads a file of one JSON object a row.
func rows[T any](b *bag.Bag, path string, each func(T) error) error {
	f, err := b.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	scan := bufio.NewScanner(f)
	scan.Buffer(nil, maxRow)
	for n := 1; scan.Scan(); n++ {
		var row T
		d := json.NewDecoder(bytes.NewReader(scan.Bytes()))
		d.DisallowUnknownFields()
		if err := d.Decode(&row); err != nil || d.InputOffset() != int64(len(scan.Bytes())) {
			return fault.New(fault.Malformed, "row %d of %s cannot be read", n, path).WithCause(err)
		}
		if err := each(row); err != nil {
			return err
		}
	}
	if err := scan.Err(); err != nil {
		return fault.New(fault.Malformed, "%s cannot be read", path).WithCause(err)
	}
	return nil
}

func (p *Proven) keepOlder(o Older) error {
	if len(p.older) >= 100_000 {
		return fault.New(fault.TooLarge, "there are over %d older checkpoints", len(p.older))
	}
	p.older[o.Size] = o
	p.consistency = append(p.consistency, o)
	return nil
}

// compare holds a checkpoint that was kept elsewhere against the one here.
func (p *Proven) compare(n int, note string) {
	if _, err := p.Leads(note); err != nil {
		p.Problem("checkpoint number %d of those given: %s", n, err)
		return
	}
	p.Compared++
}

// anchor reads the older checkpoint that is in the folder, and what dates it.
func (p *Proven) anchor(b *bag.Bag) error {
	if b.Size(anchorFile) < 0 {
		if b.Size(anchorStamp) >= 0 {
			p.Problem("%s dates a checkpoint that is not there", anchorStamp)
		}
		return nil
	}
	note, err := b.Text(anchorFile, maxSmall)
	if err != nil {
		return err
	}
	a := &Anchor{Note: note}
	if b.Size(anchorStamp) >= 0 {
		answer, err := b.Text(anchorStamp, maxRow)
		if err != nil {
			return err
		}
		a.Answer = []byte(answer)
	}
	size, err := p.Leads(note)
	if err != nil {
		p.Problem("%s: %s", anchorFile, err)
		return nil
	}
	p.Anchor, p.AnchorSize = a, size
	return nil
}

// Leads says how many lines a signed checkpoint has. Its error is that what it is of is
// not the beginning of the ledger here.
func (p *Proven) Leads(note string) (size int64, err error) {
	c, err := ledger.Open(note, p.Key)
	if err != nil {
		return 0, err
	}
	if c.Size > p.Size {
		return c.Size, fault.New(fault.Invalid, "it is of %d lines, newer than this one of %d: compare it where the ledger is", c.Size, p.Size)
	}
	o, known := p.older[c.Size]
	if !known && c.Size != p.Size && c.Size != 0 {
		return c.Size, fault.New(fault.Invalid, "of %d lines, it was not kept where this was made: nothing leads from it to this one", c.Size)
	}
	hashes, err := decoded(o.Hashes)
	if err != nil {
		return c.Size, err
	}
	if err := (ledger.Consistency{Old: c.Size, New: p.Size, Hashes: hashes}).Between(c, p.Checkpoint); err != nil {
		return c.Size, err
	}
	p.held[c.Size] = true
	return c.Size, nil
}

// line checks one row; the error is of one that cannot be read.
func (p *Proven) line(e Entry, last int64) (int64, error) {
	l, err := ledger.ParseLine([]byte(e.Line))
	if err != nil {
		return last, err
	}
	p.Lines++
	if l.Seq <= last {
		p.Problem("ledger line %d stands after line %d", l.Seq, last)
	}
	path, err := decoded(e.Path)
	if err != nil {
		return last, err
	}
	in := ledger.Inclusion{Index: l.Seq, Size: p.Size, Hashes: path}
	if err := in.Under(p.Checkpoint, ledger.LeafHash([]byte(e.Line))); err != nil {
		p.Problem("%s", err)
		return l.Seq, nil
	}
	if l.Seq > last {
		p.note(l, e.Line)
	}
	id := RecordID{l.Noun, l.ID}
	r := p.Records[id]
	if r.lines == 0 {
		r.first = l.Rev
	}
	r.lines++
	if l.Rev > r.Rev {
		r.Rev, r.After = l.Rev, p.image(l, e)
	} else {
		p.Problem("ledger line %d: revision %d of %s %s comes after revision %d", l.Seq, l.Rev, l.Noun, l.ID, r.Rev)
	}
	p.Records[id] = r
	return l.Seq, nil
}

// image gives the image of a line where it is there and the line's own.
func (p *Proven) image(l ledger.Line, e Entry) []byte {
	if e.After == "" && e.Salt == "" {
		p.Withheld++
		return nil
	}
	salt, err := hex.DecodeString(e.Salt)
	if err == nil {
		err = l.CheckAfter(salt, []byte(e.After))
	}
	if err == nil {
		_, err = ledger.ParseImage([]byte(e.After))
	}
	if err != nil {
		p.Problem("%s", err)
		return nil
	}
	return []byte(e.After)
}

// gaps looks for lines that were left out between others about one record. A
// number may have been issued before it was a tool's.
func (p *Proven) gaps() {
	for id, r := range p.Records {
		if r.Rev != r.first+r.lines-1 || r.first != 1 && id.Noun != "number" {
			p.Problem("%s %s is at revision %d, and %d lines about it are here from revision %d: some were left out", id.Noun, id.ID, r.Rev, r.lines, r.first)
		}
	}
}

// IDs lists the records of a noun that the lines show, in order.
func (p *Proven) IDs(noun string) (out []string) {
	for _, id := range slices.SortedFunc(maps.Keys(p.Records), func(a, b RecordID) int { return strings.Compare(a.Noun+" "+a.ID, b.Noun+" "+b.ID) }) {
		if id.Noun == noun {
			out = append(out, id.ID)
		}
	}
	return out
}

// Said puts into words what was compared, and with what.
func (p *Proven) Said(checkpoints int) []string {
	if p.outsideKey && checkpoints > 0 {
		return []string{fmt.Sprintf("Compared with the key that was given and with %d of %d checkpoints kept outside.", p.Compared, checkpoints), Words}
	}
	said := "Consistent with itself. Not compared with anything outside this packet. Key fingerprint " + ledger.Fingerprint(p.Key) + ": compare with the one you were given."
	switch {
	case p.outsideKey:
		said = "Signed with the key that was given. Not compared with a checkpoint kept outside: give one with --against."
	case checkpoints > 0:
		said = fmt.Sprintf("Consistent with itself and with %d of %d checkpoints given. Not compared with a key from outside. Key fingerprint %s: compare with the one you were given.",
			p.Compared, checkpoints, ledger.Fingerprint(p.Key))
	}
	return []string{said, Words}
}

// Part is the source of a folder that holds only the lines about one tool, and those from
// before its photos were filed under it, from one that was checked.
func (p *Proven) Part(b *bag.Bag, tool string) Source {
	rolls := func(keep func(RollRow) error) error { return partRolls(b, tool, keep) }
	each := func(take func(Entry, ledger.Line) error) error {
		return rows(b, linesFile, func(e Entry) error {
			l, err := ledger.ParseLine([]byte(e.Line))
			if err != nil {
				return err
			}
			return take(e, l)
		})
	}
	return Source{Note: p.Note, Key: p.Key, Older: p.consistency, Rolls: rolls, Lines: func(keep func(Entry) error) error {
		photos := map[string]bool{}
		if err := each(func(_ Entry, l ledger.Line) error {
			if l.Noun == "evidence" && slices.Contains(l.Tools, tool) {
				photos[l.ID] = true
			}
			return nil
		}); err != nil {
			return err
		}
		return each(func(e Entry, l ledger.Line) error {
			if !slices.Contains(l.Tools, tool) && (l.Noun != "evidence" || !photos[l.ID]) {
				return nil
			}
			return keep(e)
		})
	}}
}
