package proofs

import "pawl/model/bag"

// Lines reads the rows of lines of a folder, in their order. It checks nothing of them.
func Lines(b *bag.Bag, keep func(Entry) error) error { return rows(b, linesFile, keep) }

// RollRows reads the rows of rolls of a folder, in their order, where it has any. It checks
// nothing of them.
func RollRows(b *bag.Bag, keep func(RollRow) error) error {
	if b.Size(rollsFile) < 0 {
		return nil
	}
	return rows(b, rollsFile, keep)
}
