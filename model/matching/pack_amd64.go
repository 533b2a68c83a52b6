package matching

import "golang.org/x/sys/cpu"

// packed says whether packs are followed: whether this processor can.
var packed = cpu.X86.HasAVX512F

// followPack follows the serials of a pack for so many columns, or until none of them
// may still come to more than the limit, and says how many columns that took. Codes is
// the first code that is not followed yet of the first serial; of bounds, the row after
// that code comes first.
//
//go:noescape
func followPack(p *pack, codes *byte, bounds *float32, columns int) (done int)
