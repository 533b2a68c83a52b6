package packets

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"

	"pawl/model/bag"
	"pawl/model/claims"
	"pawl/model/fault"
	"pawl/model/ledger"
	"pawl/model/proofs"
)

// Is says whether a bag is an annex.
func Is(b *bag.Bag) bool { return b.Size(statementFile) >= 0 }

// Checked is what an annex says, held to the lines that it shows; see CheckRecords.
type Checked struct {
	claims.Statement
	Proven      proofs.Proven
	Fingerprint string
	Files       int64
	Records     int64    // that the statement leans on and the lines show
	Unshown     []string // what the statement says and nothing in the annex shows, in words
	proofs.Found
}

// CheckRecords holds what the statement says to the lines that show it, and the files that
// it names to their bytes. Its problems are of that alone.
func CheckRecords(b *bag.Bag, report bag.Report, proven proofs.Proven) (c Checked, err error) {
	c.Fingerprint, c.Proven, c.Problems = report.Fingerprint, proven, tagManifest(b, report.Hashes)
	text, err := b.Text(statementFile, maxStatement)
	if err != nil {
		return c, err
	}
	if c.Statement, err = Parse(text); err != nil {
		return c, err
	}
	if c.Ledger != c.Proven.Origin || c.Size != c.Proven.Size {
		c.Problem("the statement says that it is of %.60q at %d lines, the checkpoint is of %q at %d", c.Ledger, c.Size, c.Proven.Origin, c.Proven.Size)
	}
	c.files(b, report.Hashes)
	c.loss()
	hung := c.hanging()
	for _, l := range c.Lines {
		c.line(l, hung)
	}
	c.copies()
	return c, nil
}

// tagFile covers every byte of a bag but its own, which are those that the writer writes:
// a digit in upper case would say the same and have another fingerprint.
const tagFile = "tagmanifest-sha256.txt"

func tagManifest(b *bag.Bag, hashes map[string]string) []string {
	var want strings.Builder
	for _, path := range b.Files("") {
		if path != tagFile && !strings.HasPrefix(path, "data/") && !bag.Unlisted(path) {
			want.WriteString(hashes[path] + "  " + path + "\n")
		}
	}
	if text, err := b.Text(tagFile, maxStatement); err != nil || text != want.String() {
		return []string{tagFile + " is not as it was written: compare the fingerprint with the one that you were given"}
	}
	return nil
}

// Parse reads a statement: one object with the members that this program knows, and
// nothing after it.
func Parse(text string) (s claims.Statement, err error) {
	d := json.NewDecoder(strings.NewReader(text))
	d.DisallowUnknownFields()
	if err := d.Decode(&s); err != nil {
		return claims.Statement{}, malformed("%s cannot be read: %.200s", statementFile, err)
	}
	if s.Format != claims.Format {
		return claims.Statement{}, malformed("its format is %.40q, and this program reads %q", s.Format, claims.Format)
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return claims.Statement{}, malformed("something follows the statement in %s", statementFile)
	}
	return s, nil
}

func malformed(format string, args ...any) error {
	return fault.New(fault.Malformed, "this is no annex of a packet: "+format, args...).WithHint("give the file that pawl packet wrote")
}

// files holds the bytes in the bag to the hashes that the statement names, and to the
// lines that name them.
func (c *Checked) files(b *bag.Bag, hashes map[string]string) {
	named := map[string]bool{ReadMeFile: true, statementFile: true, ownFile: c.Kind == claims.Ownership}
	for _, f := range handed(c.Statement) {
		if got, there := hashes[f.Path]; there && !f.Copy && got != f.SHA256 {
			c.Problem("%.120q is not the original with the SHA-256 %s", f.Path, f.SHA256)
		}
	}
	for _, f := range Handed(c.Statement) {
		named[f.Path], c.Files = true, c.Files+1
		if thumb := c.ThumbPath(f); thumb != "" {
			if named[thumb] = true; hashes[thumb] == "" {
				c.Problem("%.120q is said to be in the bag, and is not", thumb)
			}
		}
		if _, there := hashes[f.Path]; !there {
			c.Problem("%.120q is named in the statement and not in the bag", f.Path)
		}
	}
	for _, path := range b.Files("data/") {
		if !named[path] {
			c.Problem("%s is in the annex, and the statement does not name it", path)
		}
	}
}

// line holds one line of the statement to what the ledger shows of its tool.
func (c *Checked) line(l claims.Line, h hung) {
	number := strings.ReplaceAll(l.Number, "-", "")
	if r, shown := c.Proven.Records[proofs.RecordID{Noun: "number", ID: number}]; !shown || !strings.Contains(string(r.After), `"`+l.Tool+`"`) {
		c.Problem("line %d: nothing shows that %.20q is the number of the tool %.40q", l.Line, l.Number, l.Tool)
	}
	c.Records++
	image := c.image("tool", l.Tool)
	if image != nil {
		c.Records++
		c.tool(l, image)
	} else {
		c.bare(l)
	}
	c.follows(l, h)
	c.figures(l, image, h)
	c.listed(l, h)
	for _, f := range l.Files {
		c.graded(l, f, h)
		image := c.image("evidence", f.Record)
		if image == nil {
			c.unrecorded(fmt.Sprintf("line %d", l.Line), f)
			continue
		}
		c.Records++
		c.copied(fmt.Sprintf("line %d", l.Line), f)
		if sum, _ := image["sha256"].(string); sum != f.SHA256 {
			c.Problem("line %d names %s with the SHA-256 %.64s, the ledger %.64s", l.Line, f.Ref, f.SHA256, sum)
		}
		c.holds(fmt.Sprintf("line %d", l.Line), "file "+f.Ref, map[string]any{"kind": f.Kind, "received_at": int64(f.Received)}, image)
		if tool, _ := image["tool"].(string); tool != l.Tool {
			c.Problem("line %d names %s, which is a photo or paper of another tool", l.Line, f.Ref)
		}
	}
}

// image is the last image of a record, nil where it is withheld or not there.
func (c *Checked) image(noun, id string) ledger.Image {
	r, shown := c.Proven.Records[proofs.RecordID{Noun: noun, ID: id}]
	if !shown || r.After == nil {
		if !shown {
			c.Problem("no line shows %s %.40q", noun, id)
		}
		return nil
	}
	image, err := ledger.ParseImage(r.After)
	if err != nil {
		c.Problem("%s %.40q: %s", noun, id, err)
		return nil
	}
	return image
}
