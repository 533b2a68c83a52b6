package packets

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"slices"

	"pawl/model/fault"
)

// Had names originals that earlier copies have, at 32 bytes each. The zero Had names none.
type Had struct {
	sums   [][sha256.Size]byte
	sorted bool
}

// Add names one by its SHA-256: 64 digits 0-9 and a-f. What is none is Invalid.
func (h *Had) Add(sum string) error {
	raw, err := hex.DecodeString(sum)
	if err != nil || len(raw) != sha256.Size || hex.EncodeToString(raw) != sum {
		return fault.New(fault.Invalid, "%.80q is not the SHA-256 of an original", sum).WithHint("64 digits 0-9 and a-f, as the names of the files in data/originals begin")
	}
	h.sums, h.sorted = append(h.sums, [sha256.Size]byte(raw)), false
	return nil
}

// Has says whether one was named.
func (h *Had) Has(sum string) bool {
	if !h.sorted {
		slices.SortFunc(h.sums, func(a, b [sha256.Size]byte) int { return bytes.Compare(a[:], b[:]) })
		h.sorted = true
	}
	raw, err := hex.DecodeString(sum)
	if err != nil || len(raw) != sha256.Size {
		return false
	}
	_, found := slices.BinarySearchFunc(h.sums, [sha256.Size]byte(raw), func(a, b [sha256.Size]byte) int { return bytes.Compare(a[:], b[:]) })
	return found
}
