package proofs

import "pawl/model/bag"

// Lines reads the rows of lines of a folder, in their order. It checks nothing of them.
func Lines(b *bag.Bag, keep func(Entry) error) error { return rows(b, linesFile, keep) }
