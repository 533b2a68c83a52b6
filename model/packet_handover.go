package model

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"hash"
	"io"
)

// writeHandOver draws the sheet that goes beside the files: the fingerprint, which cannot
// stand in what it is of, and each file with its size and hash.
func (s *Shop) writeHandOver(ctx context.Context, v PacketView, maxPart int64, w io.Writer) error {
	h := HandOver{Fingerprint: v.Fingerprint, Origin: v.Point.Origin, Root: v.Point.Root.String(), Size: v.Point.Size, Key: v.Key}
	all, err := s.PacketFiles(ctx, v, maxPart)
	if err != nil {
		return err
	}
	for _, f := range all {
		if f.Name == handOverFile || f.Name == StatementFile {
			continue
		}
		sum := counting{hash: sha256.New()}
		if err := f.write(ctx, &sum); err != nil {
			return err
		}
		h.Files = append(h.Files, HandedFile{f.Name, sum.n, hex.EncodeToString(sum.hash.Sum(nil))})
	}
	return papers.handOver(w, v.Statement, h)
}

// counting hashes and counts what is written.
type counting struct {
	hash hash.Hash
	n    int64
}

func (c *counting) Write(p []byte) (int, error) {
	c.n += int64(len(p))
	return c.hash.Write(p)
}
