package matching

import "strings"

// Model is how characters come to be read otherwise than they are. The figures
// are our choice: no confusion matrix of stamped or etched tools was found.
type Model struct {
	Arm  float64 // weight of a character that was skipped, or read twice
	Mix  float64 // share of readings that say nothing, whatever the rest claims
	Slip float64 // share of misreadings that are slips to a neighboring key
	Cap  float64 // greatest confidence taken at its word
	Seen float64 // confidence of a character that states none
}

// Usual is the model that people are answered by.
var Usual = Model{Arm: 0.005, Mix: 0.02, Slip: 0.1, Cap: 0.95, Seen: 0.95}

// lookShare is the share of misreadings that go to a look-alike.
const lookShare = 0.8

// looks are pairs that look alike, by their weight. The pairs come from
// published lists for vehicle and plate numbers; the weights are ours.
var looks = []struct {
	weight float64
	pairs  string
}{
	{4, "0O 1I 2Z 5S 8B"},
	{3, "1L IL 6G UV"},
	{2, "0D 0Q OQ OD 17 38 CG EF PR VY MN KX 4A"},
	{1, "DQ 3B IT IJ HM HN 7T 56 68"},
}

// keyRows are the keys of the usual keyboard; a key touches those beside it and
// the two above it, at its left and right.
var keyRows = []string{"1234567890", "QWERTYUIOP", "ASDFGHJKL", "ZXCVBNM"}

var confusions, slips = confusionTable(), slipTable()

// confusionTable gives C(o|t) at [t][o]: what a character is misread for.
func confusionTable() (c [nSymbols][nSymbols]float64) {
	var w [nSymbols][nSymbols]float64
	for _, l := range looks {
		for _, pair := range strings.Fields(l.pairs) {
			a, b := strings.IndexByte(symbols, pair[0]), strings.IndexByte(symbols, pair[1])
			w[a][b], w[b][a] = l.weight, l.weight
		}
	}
	for t := range c {
		sum := 0.0
		for _, x := range w[t] {
			sum += x
		}
		for o := range c[t] {
			switch {
			case o == t:
			case sum == 0:
				c[t][o] = 1 / float64(nSymbols-1)
			default:
				c[t][o] = lookShare*w[t][o]/sum + (1-lookShare)/float64(nSymbols-1)
			}
		}
	}
	return c
}

// slipTable gives at [t][o] how often a finger that misses t hits o.
func slipTable() (k [nSymbols][nSymbols]float64) {
	touch := func(a, b byte) {
		x, y := strings.IndexByte(symbols, a), strings.IndexByte(symbols, b)
		k[x][y], k[y][x] = 1, 1
	}
	for i, row := range keyRows {
		for j := range row {
			if j > 0 {
				touch(row[j-1], row[j])
			}
			for _, above := range []int{j, j + 1} {
				if i > 0 && above < len(keyRows[i-1]) {
					touch(keyRows[i-1][above], row[j])
				}
			}
		}
	}
	for t := range k {
		sum := 0.0
		for _, x := range k[t] {
			sum += x
		}
		for o := range k[t] {
			k[t][o] /= sum
		}
	}
	return k
}

// reads is P(o|t): how often t is read as o by somebody who is right with
// probability q.
func (m Model) reads(o, t int, q float64) float64 {
	switch {
	case t == other:
		return (1 - q) / float64(nSymbols-1)
	case o == t:
		return q
	}
	return (1 - q) * ((1-m.Slip)*confusions[t][o] + m.Slip*slips[t][o])
}

// likelihood of a cell that was seen, when the character is t.
func (m Model) likelihood(c Cell, t int) float64 {
	if c.sort != seen {
		return 1
	}
	q := c.q
	if q == 0 {
		q = m.Seen
	}
	q = min(q, m.Cap)
	sum := 0.0
	for _, o := range c.chars {
		sum += m.reads(int(o), t, q) / float64(len(c.chars))
	}
	return (1-m.Mix)*sum + m.Mix/float64(nSymbols)
}
