//go:build !amd64

package matching

// packed says whether this processor follows packs.
var packed = false

func followPack(*pack, *byte, *float32, int) int { panic("no packs here") }
