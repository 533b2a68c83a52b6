package model

import (
	"context"
	"encoding/hex"
	"fmt"
	"io"

	"pawl/model/fault"
	"pawl/model/internal/store"
)

// How many originals Doctor reads, and bytes of them; it goes on with the next one as long
// as it read fewer.
const (
	bytesRead     = 64 << 20
	originalsRead = 200
)

// bytes reads some originals again, from a place on that chance picks, and holds each
// against its hash: one that was swapped for another of the same length is found so. All
// of them Verify reads.
func (d doctor) bytes(ctx context.Context) (Checkup, error) {
	c := Checkup{What: "bytes of originals", Health: InOrder}
	place := make([]byte, 32)
	if _, err := io.ReadFull(d.chance, place); err != nil {
		return c, err
	}
	l := looked{most: bytesRead}
	from := hex.EncodeToString(place)
	err := d.look(ctx, &l, from, "")
	if err == nil && l.goesOn() {
		err = d.look(ctx, &l, "", from) // hashes are strewn evenly: the first follow the last
	}
	if d.unanswered(err) {
		return Checkup{c.What, NotChecked, "their bucket does not answer", "see the bucket below"}, nil
	}
	if err != nil {
		return c, err
	}
	c.Says = fmt.Sprintf("%d were read, %.1f MB, and are what they were; pawl verify reads all", l.whole, float64(l.bytes)/1e6)
	switch {
	case l.whole+len(l.damaged)+l.lost == 0:
		c.Says = "there are none"
	case l.whole+len(l.damaged) == 0:
		return Checkup{c.What, NotChecked, fmt.Sprintf("none could be read: the %d that were looked for are missing or have another length", l.lost), "see the originals above"}, nil
	case len(l.damaged) > 0:
		c.Health, c.Do = NotInOrder, "see which others: pawl verify; then bring them back from a backup"
		c.Says = fmt.Sprintf("%d of %d that were read are not what they were, such as %s", len(l.damaged), len(l.damaged)+l.whole, l.damaged[0])
	}
	return c, nil
}

// looked is what came of reading originals again.
type looked struct {
	whole, lost int // those that are lost are missing, or have another length
	bytes, most int64
	damaged     []string
}

func (l *looked) goesOn() bool { return l.bytes < l.most && l.whole+len(l.damaged) < originalsRead }

// look reads originals whose hashes come after one, up to another; an empty one is no end.
func (d doctor) look(ctx context.Context, l *looked, after, upTo string) error {
	for {
		var batch []string
		var came map[string]int64
		err := d.db.Read(ctx, func(rx *store.Rx) (err error) {
			if batch, err = rx.Originals(after, 50); err == nil {
				came, err = rx.OriginalSizes(batch)
			}
			return err
		})
		if err != nil || len(batch) == 0 {
			return err
		}
		for _, sha := range batch {
			if !l.goesOn() || upTo != "" && sha > upTo {
				return nil
			}
			length, known := came[sha]
			if err := d.reread(l, sha, length, known); err != nil {
				return err
			}
			after = sha
		}
	}
}

// reread reads one. That it is missing, or has another length than when it came, is said
// where the originals are looked for.
func (d doctor) reread(l *looked, sha string, length int64, known bool) error {
	f, size, err := d.originals.Open(sha)
	if fault.Is(err, fault.NotFound) {
		l.lost++
		return nil
	}
	if err != nil {
		return err
	}
	if err := f.Close(); err != nil {
		return err
	}
	if known && size != length {
		l.lost++
		return nil
	}
	l.bytes += size
	err = d.originals.Check(sha)
	if fault.Is(err, fault.Conflict) {
		l.damaged = append(l.damaged, sha)
		return nil
	}
	if err == nil {
		l.whole++
	}
	return err
}
