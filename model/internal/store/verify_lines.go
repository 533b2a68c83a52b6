package store

import (
	"database/sql"
	"slices"
	"sync"

	"golang.org/x/mod/sumdb/tlog"

	"pawl/model/ledger"
)

// lines goes through the ledger in order.
func (v *verifier) lines() error {
	r := lineReader{verifier: v, signed: -1}
	batches := readAhead(&sync.Mutex{}, r.next)
	defer batches.end()
	for {
		if err := v.ctx.Err(); err != nil {
			return canceled(err)
		}
		b, err := batches.take()
		if err != nil {
			return err
		}
		v.kept = append(v.kept, b.checkpoints...)
		v.meet()
		for _, k := range b.lines {
			if !v.line(k) {
				return nil
			}
		}
		if len(b.lines) == 0 {
			return v.ended()
		}
	}
}

// keptLine is a line with everything that stands beside it.
type keptLine struct {
	Entry
	seq, act, at, rev int64
	noun, id          string
	hashes            []tlog.Hash
}

// lineBatch is some lines, and the checkpoints kept of as many lines as they end with or
// of fewer that were not given before.
type lineBatch struct {
	lines       []keptLine
	checkpoints []Checkpoint
}

// lineReader reads the ledger a batch at a time, and touches nothing of its verifier but
// the view.
type lineReader struct {
	*verifier
	from     int64        // the seq of the next line
	waiting  []Checkpoint // read, and of more lines than were
	signed   int64        // the size of the last checkpoint that was read
	complete bool         // no more of them are kept

	// What is read now, and what is gone through meanwhile: the one before is done with,
	// so its memory is taken again.
	now, before lineMemory
}

// lineMemory is what a batch lies in.
type lineMemory struct {
	lines  []keptLine
	bytes  arena
	hashes []tlog.Hash
}

func (r *lineReader) next() (b lineBatch, more bool, err error) {
	if b.lines, err = r.keptLines(r.from); err != nil {
		return b, false, err
	}
	r.from += int64(len(b.lines))
	b.checkpoints, err = r.until(r.from)
	return b, len(b.lines) > 0, err
}

// until gives the next checkpoints of at most size lines.
func (r *lineReader) until(size int64) (out []Checkpoint, err error) {
	for !r.complete && (len(r.waiting) == 0 || r.signed <= size) {
		list, err := r.Checkpoints(r.signed, verifyBatch)
		if err != nil {
			return nil, err
		}
		r.complete = len(list) < verifyBatch
		if len(list) > 0 {
			r.signed = list[len(list)-1].Size
		}
		r.waiting = append(r.waiting, list...)
	}
	n := 0
	for n < len(r.waiting) && r.waiting[n].Size <= size {
		n++
	}
	out, r.waiting = r.waiting[:n:n], r.waiting[n:]
	return out, nil
}

// keptLines loads the next batch of lines with their stored hashes.
func (r *lineReader) keptLines(from int64) ([]keptLine, error) {
	r.now, r.before = r.before, r.now
	out, bytes := r.now.lines[:0], r.now.bytes[:0]
	var line, salt, after sql.RawBytes
	err := r.query(func(scan func(...any) error) error {
		var k keptLine
		err := scan(&k.seq, &k.act, &k.at, &k.noun, &k.id, &k.rev, &line, &salt, &after)
		k.Raw, k.Salt, k.After = bytes.keep(line), bytes.keep(salt), bytes.keep(after)
		out = append(out, k)
		return err
	}, `SELECT seq, act, "at", noun, id, rev, line, salt, after FROM lines WHERE seq >= ? ORDER BY seq LIMIT ?`, from, verifyBatch)
	r.now.lines, r.now.bytes = out, bytes
	if err != nil || len(out) == 0 {
		return nil, err
	}
	return out, r.hashesOf(out, from)
}

// hashesOf gives lines the hashes that are kept of those from seq from on.
func (r *lineReader) hashesOf(lines []keptLine, from int64) error {
	end := from + int64(len(lines))
	first, behind := ledger.FirstStored(from), ledger.FirstStored(end)
	all := slices.Grow(r.now.hashes[:0], int(behind-first))
	r.now.hashes = all
	seq, until := from, ledger.FirstStored(from+1) // of the line whose hashes come now
	var raw sql.RawBytes
	return r.query(func(scan func(...any) error) error {
		var idx int64
		if err := scan(&idx, &raw); err != nil {
			return err
		}
		for ; idx >= until; until = ledger.FirstStored(seq + 1) {
			seq++
		}
		var h tlog.Hash
		copy(h[:], raw)
		all = append(all, h)
		if i := seq - lines[0].seq; i >= 0 && i < int64(len(lines)) {
			k := &lines[i]
			k.hashes = all[len(all)-len(k.hashes)-1:]
		}
		return nil
	}, "SELECT idx, hash FROM hashes WHERE idx >= ? AND idx < ? ORDER BY idx", first, behind)
}

// arena holds the bytes of many columns, to make room for them but once.
type arena []byte

// keep copies what a driver lends until the next row; NULL stays nil, and what is empty
// does not become it.
func (a *arena) keep(lent sql.RawBytes) []byte {
	if lent == nil {
		return nil
	}
	if *a == nil {
		*a = make(arena, 0, verifyBatch*512)
	}
	at := len(*a)
	*a = append(*a, lent...)
	return slices.Clip((*a)[at:])
}
