package store

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"golang.org/x/mod/sumdb/tlog"

	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/ledger"
)

// The table leaves holds what the lines about each tool come to, up to some
// line: those of its newest roll, and of no act since. A day's roll takes in
// the lines since the one before and then reads one short row a tool.

// leafLines is how many lines one act takes into the leaves: others write
// between.
const leafLines = 2000

// Roll gives the roll of a day.
func (r *Rx) Roll(day dates.Date) (ledger.Roll, bool, error) {
	return one[ledger.Roll](r, "id = ?", string(day))
}

// Rolls gives those of less than size lines, the newest first.
func (r *Rx) Rolls(size int64, limit int) ([]ledger.Roll, error) {
	return many[ledger.Roll](r, "size DESC, id DESC", limit, "coalesce(size, 0) < ?", size)
}

// RollPlaces gives where the lines of rolls stand, by the roll's id.
func (r *Rx) RollPlaces() (map[string]int64, error) {
	out := map[string]int64{}
	err := r.query(func(scan func(...any) error) error {
		var id string
		var seq int64
		err := scan(&id, &seq)
		out[id] = seq
		return err
	}, "SELECT id, max(seq) FROM lines WHERE noun = ? GROUP BY id", ledger.RollNoun)
	return out, err
}

// Unrolled says whether lines from seq on speak of anything but rolls.
func (r *Rx) Unrolled(seq int64) (found bool, err error) {
	err = r.query(func(scan func(...any) error) error { return scan(&found) },
		"SELECT EXISTS (SELECT 1 FROM lines WHERE seq >= ? AND noun <> ?)", seq, ledger.RollNoun)
	return found, err
}

// LeavesSize gives how many lines the leaves have taken in, but for lines about
// no tool at the end of them.
func (r *Rx) LeavesSize() (int64, error) { return r.count("SELECT max(last_seq) + 1 FROM leaves") }

// RollLeaves takes the lines from the leaves' size to size into the leaves, a
// few at a time.
func (d *DB) RollLeaves(ctx context.Context, act Act, size int64) error {
	var from int64
	if err := d.Read(ctx, func(rx *Rx) (err error) { from, err = rx.LeavesSize(); return err }); err != nil {
		return err
	}
	for ; from < size; from += leafLines {
		_, err := Write(ctx, d, act, func(tx *Tx) (bool, error) {
			if err := tx.Lock("leaves"); err != nil {
				return false, err
			}
			return true, tx.rollLeaves(from, min(from+leafLines, size))
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// rollLeaves takes the lines [from, to) into the leaves; those that are in them
// already are passed over.
func (tx *Tx) rollLeaves(from, to int64) error {
	batch, err := tx.entries(from, int(to-from))
	if err != nil {
		return err
	}
	added := map[string][]placed{}
	for i, e := range batch {
		line, err := ledger.ParseLine(e.Raw)
		if err != nil {
			return err
		}
		for _, tool := range line.Tools {
			added[tool] = append(added[tool], placed{from + int64(i), ledger.LeafHash(e.Raw)})
		}
	}
	return tx.addToLeaves(added)
}

// placed is the leaf hash of a line, and where it stands.
type placed struct {
	seq  int64
	leaf tlog.Hash
}

// keptLeaf is a row of the leaves.
type keptLeaf struct {
	ledger.ToolLeaf
	first int64 // seq of the oldest line about the tool
}

func (tx *Tx) addToLeaves(added map[string][]placed) error {
	tools := make([]string, 0, len(added))
	for tool := range added {
		tools = append(tools, tool)
	}
	slices.Sort(tools)
	into := tx.rows("INSERT INTO leaves (tool, first_seq, last_seq, lines, digest)", 5)
	for some := range slices.Chunk(tools, lookRows) {
		tx.touched = true
		kept, err := tx.leavesOf(some)
		if err != nil {
			return err
		}
		if _, err := tx.exec("DELETE FROM leaves WHERE tool IN (?"+strings.Repeat(", ?", len(some)-1)+")", anys(some)...); err != nil {
			return err
		}
		for _, tool := range some {
			l, known := kept[tool]
			if !known {
				l = keptLeaf{ledger.ToolLeaf{Tool: tool}, added[tool][0].seq}
			}
			for _, p := range added[tool] {
				if l.Lines == 0 || p.seq > l.LastSeq {
					l.Add(p.seq, p.leaf)
				}
			}
			if err := into.add(tool, l.first, l.LastSeq, l.Lines, l.Digest[:]); err != nil {
				return err
			}
		}
	}
	return into.flush()
}

const leafColumns = "SELECT tool, first_seq, last_seq, lines, digest FROM leaves "

func scanLeaf(scan func(...any) error) (l keptLeaf, err error) {
	var digest []byte
	if err := scan(&l.Tool, &l.first, &l.LastSeq, &l.Lines, &digest); err != nil {
		return l, err
	}
	copy(l.Digest[:], digest)
	return l, nil
}

func (r *Rx) leavesOf(tools []string) (map[string]keptLeaf, error) {
	out := map[string]keptLeaf{}
	err := r.query(func(scan func(...any) error) error {
		l, err := scanLeaf(scan)
		out[l.Tool] = l
		return err
	}, leafColumns+"WHERE tool IN (?"+strings.Repeat(", ?", len(tools)-1)+")", anys(tools)...)
	return out, err
}

// leavesAfter gives the next leaves by tool.
func (r *Rx) leavesAfter(tool string, limit int) (out []keptLeaf, err error) {
	err = r.query(func(scan func(...any) error) error {
		l, err := scanLeaf(scan)
		out = append(out, l)
		return err
	}, leafColumns+"WHERE tool > ? ORDER BY tool LIMIT ?", tool, limit)
	return out, err
}

// RollNow gives the roll over the leaves as they stand. They must have taken in
// size lines, and no more.
func (r *Rx) RollNow(ctx context.Context, size int64) (ledger.Roll, error) {
	roller := ledger.NewRoller([]int64{size})
	err := r.query(func(scan func(...any) error) error {
		l, err := scanLeaf(scan)
		if err == nil && l.LastSeq >= size {
			err = fault.New(fault.Internal, "what the lines about tool %s come to is of more than %d lines", l.Tool, size)
		}
		roller.Leaf(l.ToolLeaf)
		if err == nil && roller.Tools(0)%1000 == 0 && ctx.Err() != nil {
			err = canceled(ctx.Err())
		}
		return err
	}, leafColumns+"ORDER BY tool")
	return ledger.Roll{Size: size, Tools: roller.Tools(0), Root: roller.Root(0).String()}, err
}

// UnderRoll is a tool's leaf under a roll, with its audit path.
type UnderRoll struct {
	ledger.ToolLeaf
	ledger.Inclusion
}

// ToolsUnder proves tools under a roll, by tool id. One that had no line yet is
// left out. It reads one short row for each tool there is, and the lines about
// those that changed since the roll.
func (r *Rx) ToolsUnder(ctx context.Context, roll ledger.Roll, tools []string) ([]UnderRoll, error) {
	tools = slices.Compact(slices.Sorted(slices.Values(tools)))
	at, err := r.indexesUnder(roll, tools)
	if err != nil {
		return nil, err
	}
	hashes := pathHashes{}
	for _, index := range at {
		needs, err := ledger.PathNeeds(roll.Tools, index)
		if err != nil {
			return nil, err
		}
		for _, n := range needs {
			hashes[n] = tlog.Hash{}
		}
	}
	leaves := map[string]ledger.ToolLeaf{}
	root, err := r.rolledAgain(ctx, roll.Size, func(index int64, leaf ledger.ToolLeaf, stored []tlog.Hash) {
		for i, h := range stored {
			if n := ledger.FirstStored(index) + int64(i); hashes.wants(n) {
				hashes[n] = h
			}
		}
		if _, wanted := at[leaf.Tool]; wanted {
			leaves[leaf.Tool] = leaf
		}
	})
	if err != nil {
		return nil, err
	}
	if root.String() != roll.Root {
		return nil, fault.New(fault.Internal, "the roll of %s cannot be made again from the lines that it covers", roll.ID).WithHint("run pawl verify --rolls all")
	}
	var out []UnderRoll
	for _, tool := range tools {
		index, there := at[tool]
		if !there {
			continue
		}
		p, err := ledger.ProveInclusion(roll.Tools, index, hashes)
		if err != nil {
			return nil, err
		}
		out = append(out, UnderRoll{leaves[tool], p})
	}
	return out, nil
}

// pathHashes are the hashes that some audit paths are made of.
type pathHashes map[int64]tlog.Hash

func (p pathHashes) wants(n int64) bool { _, wanted := p[n]; return wanted }

// ReadHashes makes it a tlog.HashReader.
func (p pathHashes) ReadHashes(indexes []int64) ([]tlog.Hash, error) {
	out := make([]tlog.Hash, len(indexes))
	for i, n := range indexes {
		if !p.wants(n) {
			return nil, fmt.Errorf("hash %d of a roll was not kept", n)
		}
		out[i] = p[n]
	}
	return out, nil
}

// indexesUnder gives where the tools stand under a roll.
func (r *Rx) indexesUnder(roll ledger.Roll, tools []string) (map[string]int64, error) {
	at, n := map[string]int64{}, int64(0)
	err := r.query(func(scan func(...any) error) error {
		var tool string
		err := scan(&tool)
		if _, wanted := slices.BinarySearch(tools, tool); wanted {
			at[tool] = n
		}
		n++
		return err
	}, "SELECT tool FROM leaves WHERE first_seq < ? ORDER BY tool", roll.Size)
	if err == nil && n != roll.Tools {
		err = fault.New(fault.Internal, "the roll of %s is over %d tools, but %d had lines then", roll.ID, roll.Tools, n).WithHint("run pawl verify --rolls all")
	}
	return at, err
}

// rolledAgain makes an earlier roll again. Leaves that have not changed since
// are as they were; the others are made from their lines.
func (r *Rx) rolledAgain(ctx context.Context, size int64, each func(int64, ledger.ToolLeaf, []tlog.Hash)) (tlog.Hash, error) {
	roller := ledger.NewRoller([]int64{size})
	roller.Each = func(_ int, index int64, leaf ledger.ToolLeaf, stored []tlog.Hash) { each(index, leaf, stored) }
	for after := ""; ; {
		batch, err := r.leavesAfter(after, lookRows)
		if err != nil || len(batch) == 0 {
			return roller.Root(0), err
		}
		if err := ctx.Err(); err != nil {
			return tlog.Hash{}, canceled(err)
		}
		after = batch[len(batch)-1].Tool
		var changed []string
		for _, l := range batch {
			if l.first < size && l.LastSeq >= size {
				changed = append(changed, l.Tool)
			}
		}
		was, err := r.leavesAsOf(changed, size)
		if err != nil {
			return tlog.Hash{}, err
		}
		for _, l := range batch {
			switch {
			case l.LastSeq < size:
				roller.Leaf(l.ToolLeaf)
			case l.first < size:
				roller.Leaf(*was[l.Tool])
			}
		}
	}
}

// leavesAsOf makes the leaves of tools from the first size lines.
func (r *Rx) leavesAsOf(tools []string, size int64) (map[string]*ledger.ToolLeaf, error) {
	out := map[string]*ledger.ToolLeaf{}
	if len(tools) == 0 {
		return out, nil
	}
	for _, tool := range tools {
		out[tool] = &ledger.ToolLeaf{Tool: tool}
	}
	err := r.query(func(scan func(...any) error) error {
		var tool string
		var seq int64
		var raw []byte
		if err := scan(&tool, &seq, &raw); err != nil {
			return err
		}
		out[tool].Add(seq, ledger.LeafHash(raw))
		return nil
	}, `SELECT t.tool, t.seq, l.line FROM line_tools t JOIN lines l ON l.seq = t.seq
		WHERE t.tool IN (?`+strings.Repeat(", ?", len(tools)-1)+`) AND t.seq < ? ORDER BY t.tool, t.seq`, append(anys(tools), size)...)
	return out, err
}

// rebuildLeaves makes the leaves anew, as of the newest roll.
func (tx *Tx) rebuildLeaves() error {
	newest, err := tx.Rolls(ledger.MaxSize, 1)
	if err != nil || len(newest) == 0 {
		return err
	}
	for from := int64(0); from < newest[0].Size; from += leafLines {
		if err := tx.rollLeaves(from, min(from+leafLines, newest[0].Size)); err != nil {
			return err
		}
	}
	return nil
}
