package model

import (
	"io"
	"strconv"

	"pawl/model/copies"
	"pawl/model/proofs"
)

// CopyQuery is what to hold a copy against: a verifying key and signed
// checkpoints that were kept outside.
type CopyQuery struct {
	Key     string
	Against []string
}

// VerifyCopy checks a copy of tools in a file of size bytes, or the proofs that
// were kept of one. It needs no shop. Its error means that it could not look.
func VerifyCopy(r io.ReaderAt, size int64, q CopyQuery) (Verified, error) {
	c, err := checkCopy(r, size, proofs.Outside{Key: q.Key, Checkpoints: q.Against})
	if err != nil {
		return Verified{}, err
	}
	return verifiedCopy(c, len(q.Against)), nil
}

// verifiedCopy says what was looked at in a copy.
func verifiedCopy(c copies.Checked, checkpoints int) Verified {
	v := Verified{Lines: c.Proven.Lines, Records: c.Records, Originals: c.Files, Checkpoints: c.Proven.Compared, Withheld: c.Proven.Withheld,
		Size: c.Proven.Size, Root: c.Proven.Root.String(), Problems: c.Problems}
	v.Rolls = int64(len(c.Proven.Rolls))
	v.Said = append(c.Proven.Said(checkpoints), c.Proven.Complete()...)
	if c.Absent > 0 {
		v.Said = append(v.Said, "Photos and papers that are named and not in this file: "+strconv.FormatInt(c.Absent, 10)+".")
	}
	return v
}
