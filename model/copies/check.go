package copies

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"slices"
	"strings"

	"pawl/model/bag"
	"pawl/model/ledger"
	"pawl/model/proofs"
)

// file is an original within a bag.
type file struct{ path, sha256 string }

// files lists the originals that the records name and the bag holds, in the
// order of their paths, each once.
func (c Copy) files() (out []file, err error) {
	for _, t := range c.Tools {
		for _, e := range t.Evidence {
			if e.File == "" {
				continue
			}
			image, err := e.Image()
			if err != nil {
				return nil, err
			}
			out = append(out, file{e.File, column(image, "sha256")})
		}
	}
	slices.SortFunc(out, func(a, b file) int { return strings.Compare(a.path, b.path) })
	return slices.Compact(out), nil
}

// Checked is a copy that was looked at. No problems means that all of it holds.
type Checked struct {
	Copy
	Bag         *bag.Bag
	Proven      proofs.Proven
	Fingerprint string
	Files       int64 // originals in the bag
	Absent      int64 // originals that are named and not in it
	Records     int64
	proofs.Found
}

// Check looks through a copy: every byte of the bag, every line of the proofs,
// and each record in the file against the line that shows it. Its error means
// that it could not look.
func Check(b *bag.Bag, o proofs.Outside) (c Checked, err error) {
	report, err := b.Check()
	if err != nil {
		return c, err
	}
	proven, err := proofs.Check(b, o)
	if err != nil {
		return c, err
	}
	if c, err = CheckRecords(b, report, proven); err == nil {
		c.Problems = slices.Concat(report.Problems, proven.Problems, c.Problems)
	}
	return c, err
}

// In says whether a bag is a copy of tools.
func In(b *bag.Bag) bool { return b.Size(recordsFile) >= 0 }

// CheckRecords holds each record of a copy to the lines that are proven, and its
// originals to the hashes of the files. Its problems are of these alone.
func CheckRecords(b *bag.Bag, report bag.Report, proven proofs.Proven) (c Checked, err error) {
	c.Bag, c.Proven, c.Fingerprint = b, proven, report.Fingerprint
	text, err := b.Text(recordsFile, maxRecords)
	if err != nil {
		return c, err
	}
	if c.Copy, err = parse(text); err != nil {
		return c, err
	}
	if c.Ledger != c.Proven.Origin {
		c.Problem("the records say that they are of %.60q, the checkpoint is of %q", c.Ledger, c.Proven.Origin)
	}
	c.records()
	c.originals(report.Hashes)
	return c, nil
}

// parse reads the file of records: one object with the members that this program
// knows, and nothing after it.
func parse(text string) (c Copy, err error) {
	d := json.NewDecoder(strings.NewReader(text))
	d.DisallowUnknownFields()
	if err := d.Decode(&c); err != nil {
		return Copy{}, malformed("%s cannot be read: %.200s", recordsFile, err)
	}
	if c.Format != Format {
		return Copy{}, malformed("its format is %.40q, and this program reads %q", c.Format, Format)
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return Copy{}, malformed("something follows the records in %s", recordsFile)
	}
	return c, nil
}

// records holds each record to the last line that shows it, and looks for tools
// that the lines show and the file does not.
func (c *Checked) records() {
	seen := map[string]bool{}
	for _, t := range c.Tools {
		if seen[t.Record.ID] {
			c.Problem("tool %.40q stands there twice", t.Record.ID)
		}
		seen[t.Record.ID] = true
		c.record("tool", t.Record)
		if image, err := t.Record.Image(); err == nil && image["gone"] != nil {
			c.Problem("tool %.40q is gone (%.40s): nobody takes a copy of it along as their own", t.Record.ID, column(image, "gone_why"))
		}
		for _, m := range t.Markings {
			c.of(t, "marking", m)
		}
		for _, r := range t.Terms {
			c.of(t, "term", r)
		}
		for _, r := range t.Checks {
			c.of(t, "check", r)
		}
		for _, w := range t.Wrongs {
			c.of(t, "wrong", w)
		}
		for _, e := range t.Evidence {
			c.of(t, "evidence", e.Record)
		}
		for _, n := range append([]string{t.Number}, t.Numbers...) {
			if r, shown := c.Proven.Records[proofs.RecordID{Noun: "number", ID: strings.ReplaceAll(n, "-", "")}]; !shown || !bytes.Contains(r.After, []byte(`"`+t.Record.ID+`"`)) {
				c.Problem("no line shows that number %.20q is that of tool %s", n, t.Record.ID)
			}
		}
	}
	for _, id := range c.Proven.IDs("tool") {
		if !seen[id] {
			c.Problem("the lines show tool %s, which is not among the records", id)
		}
	}
	c.leftOut(seen)
}

// leftOut looks for what hangs on the tools by the lines, still stands, and is not among the
// records: a report that a tool was dropped, or the look that found its serial unreadable.
func (c *Checked) leftOut(tools map[string]bool) {
	listed := map[proofs.RecordID]bool{}
	for _, t := range c.Tools {
		for noun, records := range map[string][]Record{"marking": t.Markings, "term": t.Terms, "check": t.Checks, "wrong": t.Wrongs} {
			for _, r := range records {
				listed[proofs.RecordID{Noun: noun, ID: r.ID}] = true
			}
		}
		for _, e := range t.Evidence {
			listed[proofs.RecordID{Noun: "evidence", ID: e.ID}] = true
		}
	}
	for _, noun := range []string{"marking", "term", "check", "wrong", "evidence"} {
		for _, id := range c.Proven.IDs(noun) {
			r := proofs.RecordID{Noun: noun, ID: id}
			if listed[r] || c.Proven.Records[r].After == nil {
				continue
			}
			image, err := ledger.ParseImage(c.Proven.Records[r].After)
			if err == nil && tools[column(image, "tool")] && image["withdrawn"] == nil && image["cleared"] == nil {
				c.Problem("the lines show %s %.40q of tool %s, which is not among the records", noun, id, column(image, "tool"))
			}
		}
	}
}

// of checks a record that hangs on a tool.
func (c *Checked) of(t Tool, noun string, r Record) {
	c.record(noun, r)
	if image, err := r.Image(); err == nil && column(image, "tool") != t.Record.ID {
		c.Problem("%s %.40q is not of tool %s", noun, r.ID, t.Record.ID)
	}
}

func (c *Checked) record(noun string, r Record) {
	c.Records++
	shown, found := c.Proven.Records[proofs.RecordID{Noun: noun, ID: r.ID}]
	switch {
	case !found:
		c.Problem("no line shows %s %.40q", noun, r.ID)
	case shown.After == nil:
		c.Problem("what %s %.40q says is withheld from the lines: nothing shows it", noun, r.ID)
	case shown.Rev != r.Rev || !bytes.Equal(shown.After, r.After):
		c.Problem("%s %.40q is not as its last line left it: it was changed", noun, r.ID)
	}
}

// originals holds the bytes in the bag to the hashes that the records name.
func (c *Checked) originals(hashes map[string]string) {
	named := map[string]bool{}
	for _, t := range c.Tools {
		for _, e := range t.Evidence {
			image, err := e.Image()
			if err != nil {
				c.Problem("evidence %.40q cannot be read: %s", e.ID, err)
				continue
			}
			if e.File == "" {
				c.Absent++
				continue
			}
			named[e.File] = true
			if hashes[e.File] != column(image, "sha256") {
				c.Problem("%.120q is not the original with the SHA-256 %s", e.File, column(image, "sha256"))
			}
		}
	}
	for _, path := range c.Bag.Files(originals) {
		c.Files++
		if !named[path] {
			c.Problem("%s is in the copy, and no record names it", path)
		}
	}
}

// Part is the source of a copy that holds one tool of this one, its records and
// proofs, without the originals: what is kept of a copy where it was imported.
func (c Checked) Part(t Tool) Source {
	t.Evidence = slices.Clone(t.Evidence)
	for i := range t.Evidence {
		t.Evidence[i].File = ""
	}
	part := c.Copy
	part.Tools = []Tool{t}
	return Source{Copy: part, Proofs: c.Proven.Part(c.Bag, t.Record.ID)}
}
