package proofs

import (
	"encoding/json"
	"fmt"
	"iter"
	"maps"
	"slices"
	"strings"

	"golang.org/x/mod/sumdb/tlog"

	"pawl/model/bag"
	"pawl/model/fault"
	"pawl/model/ledger"
)

const rollsFile = "proof/rolls.jsonl"

// RollRow is one row of rolls.jsonl: a roll, or the leaf of one tool under the
// roll that stands before it.
type RollRow struct {
	Roll   *Entry `json:"roll,omitempty"`   // the line of the roll
	Anchor int64  `json:"anchor,omitempty"` // lines of an older checkpoint that covers that line; 0: none but the one here

	Leaf  string   `json:"leaf,omitempty"` // its canonical bytes
	Index int64    `json:"index"`          // place among the tools of the roll
	Path  []string `json:"path,omitempty"` // audit path, base64, from the leaf up
}

// NewRoll makes the row of a roll from the row of its line.
func NewRoll(line Entry, anchor int64) RollRow { return RollRow{Roll: &line, Anchor: anchor} }

// NewLeaf makes the row of a tool under the roll before it.
func NewLeaf(leaf ledger.ToolLeaf, p ledger.Inclusion) RollRow {
	return RollRow{Leaf: string(leaf.Canonical()), Index: p.Index, Path: encoded(p.Hashes)}
}

// Rolled is a roll that the folder shows.
type Rolled struct {
	ledger.Roll
	Seq    int64 // of its line
	At     int64 // when it was recorded, in microseconds since 1970
	Anchor int64 // lines of the older checkpoint that covers it; 0: none
	Shown  int64 // tools of which it shows that no line up to it is left out
	tools  map[string]bool
}

// MaxRolls is how many rolls one folder may show: one a day for over 27 years.
const MaxRolls = 10_000

// toolLine is a line about a tool: its place, and what the lines up to it come to.
type toolLine struct {
	seq    int64
	digest tlog.Hash
}

// note keeps that a line speaks of its tools. It looks at lines in their order.
func (p *Proven) note(l ledger.Line, raw string) {
	for _, tool := range l.Tools {
		leaf := ledger.ToolLeaf{}
		if n := len(p.tools[tool]); n > 0 {
			leaf.Digest = p.tools[tool][n-1].digest
		}
		leaf.Add(l.Seq, ledger.LeafHash([]byte(raw)))
		p.tools[tool] = append(p.tools[tool], toolLine{l.Seq, leaf.Digest})
	}
}

// checkRolls holds the rolls of the folder to the lines that it shows, partly only the
// newest of them.
func (p *Proven) checkRolls(b *bag.Bag, partly bool) error {
	if b.Size(rollsFile) < 0 {
		return nil
	}
	if err := rows(b, rollsFile, p.rollRow); err != nil {
		return err
	}
	newest := int64(0)
	for _, r := range p.Rolls {
		newest = max(newest, r.Size)
	}
	for _, r := range p.Rolls {
		if !partly || r.Size == newest {
			for _, said := range p.NotUnder(r, maps.Keys(p.tools)) {
				p.Problem("%s", said)
			}
		}
	}
	return nil
}

func (p *Proven) rollRow(row RollRow) error {
	switch {
	case row.Roll != nil && row.Leaf == "" && row.Index == 0 && row.Path == nil:
		if len(p.Rolls) >= MaxRolls {
			return fault.New(fault.TooLarge, "there are over %d rolls", MaxRolls)
		}
		return p.roll(row)
	case row.Roll == nil && row.Leaf != "" && row.Anchor == 0 && len(p.Rolls) > 0:
		return p.leaf(&p.Rolls[len(p.Rolls)-1], row)
	}
	return fault.New(fault.Malformed, "a row of %s is neither a roll nor the leaf of a tool under one", rollsFile)
}

// roll checks the row of a roll; the error is of one that cannot be read.
func (p *Proven) roll(row RollRow) error {
	l, err := ledger.ParseLine([]byte(row.Roll.Line))
	if err != nil {
		return err
	}
	path, err := decoded(row.Roll.Path)
	if err != nil {
		return err
	}
	if err := (ledger.Inclusion{Index: l.Seq, Size: p.Size, Hashes: path}).Under(p.Checkpoint, ledger.LeafHash([]byte(row.Roll.Line))); err != nil {
		p.Problem("%s", err)
	}
	image, err := ledger.ParseImage(p.image(l, *row.Roll))
	if err != nil || l.Noun != ledger.RollNoun {
		return fault.New(fault.Malformed, "ledger line %d in %s does not say what its roll is", l.Seq, rollsFile).WithCause(err)
	}
	roll, err := ledger.RollOf(l.ID, image)
	if err != nil {
		return err
	}
	if roll.Size > l.Seq {
		p.Problem("roll %s says that it covers %d lines, but it is line %d itself", roll.ID, roll.Size, l.Seq)
	}
	if _, known := p.older[row.Anchor]; row.Anchor != 0 && row.Anchor != p.Size && !known || row.Anchor != 0 && row.Anchor <= l.Seq {
		p.Problem("roll %s is said to be under a checkpoint of %d lines, to which nothing here leads", roll.ID, row.Anchor)
	}
	p.Rolls = append(p.Rolls, Rolled{Roll: roll, Seq: l.Seq, At: l.At, Anchor: row.Anchor, tools: map[string]bool{}})
	return nil
}

// leaf checks the row of a tool under a roll.
func (p *Proven) leaf(r *Rolled, row RollRow) error {
	leaf, err := ledger.ParseToolLeaf([]byte(row.Leaf))
	if err != nil {
		return err
	}
	path, err := decoded(row.Path)
	if err != nil {
		return err
	}
	root, err := r.Hash()
	if err != nil {
		return err
	}
	in := ledger.Inclusion{Index: row.Index, Size: r.Tools, Hashes: path}
	if err := in.Check(root, ledger.LeafHash([]byte(row.Leaf))); err != nil {
		p.Problem("tool %s is not shown to be under roll %s: the path does not lead to its root", leaf.Tool, r.ID)
		return nil
	}
	if r.tools[leaf.Tool] {
		p.Problem("tool %s stands twice under roll %s", leaf.Tool, r.ID)
		return nil
	}
	r.tools[leaf.Tool] = true
	lines := p.upTo(leaf.Tool, r.Size)
	switch n := int64(len(lines)); {
	case n != leaf.Lines:
		p.Problem("tool %s: roll %s counts %d lines about it, and %d of those are here: some were left out", leaf.Tool, r.ID, leaf.Lines, n)
	case n == 0 || lines[n-1].seq != leaf.LastSeq || lines[n-1].digest != leaf.Digest:
		p.Problem("tool %s: the lines about it are not those that roll %s counts", leaf.Tool, r.ID)
	default:
		r.Shown++
	}
	return nil
}

// upTo gives the lines about a tool among the first size.
func (p *Proven) upTo(tool string, size int64) []toolLine {
	all := p.tools[tool]
	n, _ := slices.BinarySearchFunc(all, size, func(l toolLine, size int64) int { return int(l.seq - size) })
	return all[:n]
}

// NotUnder says which of the tools had lines when a roll was made and are not shown under it.
func (p *Proven) NotUnder(r Rolled, tools iter.Seq[string]) (said []string) {
	for tool := range tools {
		if len(p.upTo(tool, r.Size)) > 0 && !r.tools[tool] {
			said = append(said, fmt.Sprintf("tool %s: nothing shows how many lines about it roll %s counts", tool, r.ID))
		}
	}
	return said
}

// Complete says of how many tools, and up to which roll, nothing is left out.
func (p *Proven) Complete() []string {
	if len(p.Rolls) == 0 {
		return []string{"No roll is in here: nothing shows that no line about these tools was left out."}
	}
	var out []string
	for _, r := range p.Rolls {
		said := fmt.Sprintf("Roll %s, over %d tools and the first %d lines: of %d tools every line up to then is here", r.ID, r.Tools, r.Size, r.Shown)
		switch {
		case r.Anchor == 0:
		case r.Anchor == p.Size || p.held[r.Anchor]:
			said += fmt.Sprintf("; the checkpoint of %d lines covers it", r.Anchor)
		default: // nobody signed here that there was one
			said += fmt.Sprintf("; a checkpoint of %d lines covers it: give the one that was kept outside with --against", r.Anchor)
		}
		out = append(out, said+".")
	}
	return out
}

// partRolls hands over the rows of rolls that concern one tool.
func partRolls(b *bag.Bag, tool string, keep func(RollRow) error) error {
	return RollRows(b, func(row RollRow) error {
		if row.Roll == nil {
			leaf, err := ledger.ParseToolLeaf([]byte(row.Leaf))
			if err != nil || leaf.Tool != tool {
				return err
			}
		}
		return keep(row)
	})
}

// writeRolls writes the file of rolls, where there is any.
func writeRolls(w *bag.Writer, src Source) error {
	if src.Rolls == nil {
		return nil
	}
	var to *json.Encoder
	return src.Rolls(func(row RollRow) error {
		if to == nil {
			f, err := w.Create(rollsFile, false)
			if err != nil {
				return err
			}
			to = encoder(f)
		}
		return to.Encode(row)
	})
}

// Rows hands over rows that are at hand.
func Rows(all []RollRow) func(keep func(RollRow) error) error {
	return func(keep func(RollRow) error) error {
		for _, row := range all {
			if err := keep(row); err != nil {
				return err
			}
		}
		return nil
	}
}

// sortedProblems keeps what was found in one order, whatever the order of a map.
func (p *Proven) sortedProblems() { slices.SortFunc(p.Problems, strings.Compare) }
