package labels

import (
	"bytes"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"pawl/model/claims"
)

// Every block is on one page, in order, within the paper; and no page ends with what is
// held to the block after it, unless no page could hold them together.
func TestPagesHoldTogether(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, err := newPaper("letter", "x")
		if err != nil {
			t.Fatal(err)
		}
		for range rapid.IntRange(1, 120).Draw(t, "blocks") {
			p.blocks = append(p.blocks, block{height: rapid.Float64Range(1, 70).Draw(t, "height"), held: rapid.Bool().Draw(t, "held"), fresh: rapid.IntRange(0, 20).Draw(t, "fresh") == 0})
		}
		n := 0
		pages := p.pages()
		for k, page := range pages {
			sum := 0.0
			for _, b := range page {
				if b.height != p.blocks[n].height {
					t.Fatalf("block %d is out of its place", n)
				}
				n++
				sum += b.height
			}
			if sum > p.room()+1e-6 {
				t.Fatalf("page %d is %.1f mm high of %.1f", k+1, sum, p.room())
			}
			if last := page[len(page)-1]; last.held && k+1 < len(pages) && !pages[k+1][0].fresh {
				if chain := chainAround(p.blocks, n-1); chain <= p.room() {
					t.Fatalf("page %d ends with a block that is held to the next; together they have %.1f mm", k+1, chain)
				}
			}
		}
		if n != len(p.blocks) {
			t.Fatalf("%d of %d blocks are on pages", n, len(p.blocks))
		}
	})
}

// chainAround is the height of all that is held together with a block.
func chainAround(all []block, i int) (height float64) {
	for i > 0 && all[i-1].held {
		i--
	}
	for ; ; i++ {
		height += all[i].height
		if !all[i].held || i+1 == len(all) {
			return height
		}
	}
}

var wordBox = regexp.MustCompile(`<word xMin="([\d.-]+)" yMin="([\d.-]+)" xMax="([\d.-]+)" yMax="([\d.-]+)">(.*?)</word>`)

// On no page of any paper do words overlap or leave the margins, with long names and
// without.
func TestPapersDoNotOverlap(t *testing.T) {
	long := ofLines("a4", 3)
	long.Lines[1].Notes = strings.Repeat("word ", 2500)
	long.Claim.Insured, long.Shop = strings.Repeat("A very long name of a shop ", 20), strings.Repeat("Harbor", 60)
	for name, draw := range map[string]func(io.Writer) error{
		"claim, letter": func(w io.Writer) error { return claimTo(w, theft("letter")) }, "claim, a4": func(w io.Writer) error { return claimTo(w, theft("a4")) },
		"long": func(w io.Writer) error { return claimTo(w, long) }, "police": func(w io.Writer) error { return Police(w, theft("letter")) },
		"long police": func(w io.Writer) error { return Police(w, long) }, "warranty": func(w io.Writer) error { return Warranty(w, warranty("letter"), smallPhotos()) },
		"ownership": func(w io.Writer) error { return Ownership(w, ownership("a4"), smallPhotos()) }, "hand-over": func(w io.Writer) error { return HandOverSheet(w, theft("letter"), handOver()) },
		"certification": func(w io.Writer) error { return Certification(w, "a4") },
	} {
		var b bytes.Buffer
		if err := draw(&b); err != nil {
			t.Fatal(name, err)
		}
		pages := strings.Split(outputOf(t, "pdftotext", "-bbox", keep(t, b.Bytes()), "-"), "<page ")[1:]
		for k, page := range pages {
			if clash := overlapping(page); clash != "" {
				t.Errorf("%s, page %d of %d: %s", name, k+1, len(pages), clash)
			}
		}
	}
}

func claimTo(w io.Writer, s claims.Statement) error {
	return Claim(s, smallPhotos(), 0, func(int, int, string) (io.WriteCloser, error) { return nowhere{w}, nil })
}

// overlapping names the first two words of a page that stand over each other, or one that
// is out of the margins. A line is 1.25 of its type high, and a word's box somewhat more:
// a fifth is taken off above and below.
func overlapping(page string) string {
	var size [2]float64
	_, _ = fmt.Sscanf(page, `width="%f" height="%f"`, &size[0], &size[1])
	type word struct {
		box  [4]float64
		text string
	}
	var all []word
	for _, m := range wordBox.FindAllStringSubmatch(page, -1) {
		w := word{text: m[5]}
		for i := range w.box {
			w.box[i], _ = strconv.ParseFloat(m[i+1], 64)
		}
		const margin = 14 * 72 / 25.4
		if w.box[0] < margin || w.box[2] > size[0]-margin || w.box[1] < margin/2 || w.box[3] > size[1]-margin/4 {
			return fmt.Sprintf("%q is out of the margins: %v of %v", w.text, w.box, size)
		}
		inset := (w.box[3] - w.box[1]) / 5
		w.box[1], w.box[3] = w.box[1]+inset, w.box[3]-inset
		for _, o := range all {
			if w.box[0] < o.box[2]-0.5 && o.box[0] < w.box[2]-0.5 && w.box[1] < o.box[3] && o.box[1] < w.box[3] {
				return fmt.Sprintf("%q and %q stand over each other", o.text, w.text)
			}
		}
		all = append(all, w)
	}
	if len(all) < 5 {
		return fmt.Sprintf("%d words", len(all))
	}
	return ""
}
