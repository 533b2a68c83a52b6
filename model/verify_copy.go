package model

import (
	"io"
	"strconv"

	"pawl/model/bag"
	"pawl/model/copies"
	"pawl/model/packets"
	"pawl/model/proofs"
)

// CopyQuery is what to hold a copy against: a verifying key and signed
// checkpoints that were kept outside.
type CopyQuery struct {
	Key     string
	Against []string
}

// VerifyCopy checks a copy of tools in a file of size bytes, the proofs that were kept of
// one, the annex of a packet, or a copy that was kept elsewhere. It needs no shop. Its error means that it could not look.
func VerifyCopy(r io.ReaderAt, size int64, q CopyQuery) (Verified, error) {
	b, err := bag.Open(r, size)
	if err != nil {
		return Verified{}, err
	}
	outside := proofs.Outside{Key: q.Key, Checkpoints: q.Against}
	if v, handed, err := verifyHanded(b, outside); handed || err != nil {
		return v, err
	}
	c, err := copies.Check(b, outside)
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

// verifyHanded checks the annex of a packet, or a copy that was kept elsewhere; handed says
// that it is one of them.
func verifyHanded(b *bag.Bag, o proofs.Outside) (v Verified, handed bool, err error) {
	var p proofs.Proven
	switch {
	case packets.Is(b):
		c, err := packets.Check(b, o)
		if err != nil {
			return v, true, err
		}
		p, v = c.Proven, Verified{Records: c.Records, Originals: c.Files, Problems: c.Problems}
		v.Said = []string{"Fingerprint " + c.Fingerprint + ": compare with the hand-over sheet."}
	case packets.IsElsewhere(b):
		c, err := packets.CheckElsewhere(b, o)
		if err != nil {
			return v, true, err
		}
		p, v = c.Proven, Verified{Records: int64(len(c.Proven.Records)), Originals: c.Here, Problems: c.Problems}
		if c.Follows > 0 {
			v.Said = []string{"Photos and papers that an earlier copy has and this one leaves out: " + strconv.FormatInt(c.Follows, 10) + ". Keep that one too."}
		}
	default:
		return v, false, nil
	}
	v.Lines, v.Checkpoints, v.Withheld, v.Size, v.Root = p.Lines, p.Compared, p.Withheld, p.Size, p.Root.String()
	v.Said = append(p.Said(len(o.Checkpoints)), v.Said...)
	return v, true, nil
}
