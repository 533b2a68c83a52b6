package packets

import (
	"fmt"
	"strings"

	"pawl/model/claims"
)

// What is withheld shows nothing. A packet withholds what its owner does not share, and a
// photo's record that names a place; wherever it had no such reason, a statement could say
// anything of a line whose image was taken out.

// bare looks at a line of the statement whose tool's image is not there. What the line says
// of money, nothing then may stand for; of the rest it is said that nothing shows it.
func (c *Checked) bare(l claims.Line) {
	for _, told := range []struct {
		what  string
		value any
	}{{"price", l.Price}, {"tax", l.Tax}, {"money owed", l.Owed}, {"whom it is owed to", l.OwedTo}, {"day it is owed on", l.OwedOn}, {"day it was bought", l.Bought}, {"seller", l.Seller}} {
		if plain(told.value) != "" {
			c.Problem("line %d tells the %s of its tool, and what the ledger says of the tool is withheld", l.Line, told.what)
		}
	}
	if l.Money && !l.Outside {
		c.Problem("line %d: what the ledger says of the tool %.40q is withheld, though its owner shares it: nothing shows what the line says", l.Line, l.Tool)
		return
	}
	c.Unshown = append(c.Unshown, fmt.Sprintf("Line %d, number %s: what the ledger says of this tool is withheld, since it is not the sharing of whoever built this. Nothing in here shows its kind, maker, serial number %q or owner.", l.Line, l.Number, l.Serial))
}

// unrecorded looks at a file whose record is withheld: only a copy without place, or one that
// was not handed over, may be so.
func (c *Checked) unrecorded(at string, f claims.File) {
	if !f.Copy && f.Left == "" {
		c.Problem("%s names %s, and what the ledger says of it is withheld: nothing shows that it is the photo or paper that was received", at, f.Ref)
	}
}

// copied looks at a photo that is said to be a copy. One is made to leave out the place of a
// photo, whose record is withheld for the same reason; so of one whose record is shown and
// that carries none, the original belongs there.
func (c *Checked) copied(at string, f claims.File) {
	if f.Copy {
		c.Problem("%s names %s as a copy without its place, and the ledger says that it carries none", at, f.Ref)
	}
}

// copies says of how many photos the annex holds a copy, which nothing holds to the original.
func (c *Checked) copies() {
	var refs []string
	for _, f := range Handed(c.Statement) {
		if f.Copy {
			refs = append(refs, f.Ref)
		}
	}
	if len(refs) > 0 {
		c.Unshown = append(c.Unshown, "Handed over as copies without the place where they were taken: "+strings.Join(refs, ", ")+". Nothing in here shows that these are of the photos received: ask for the originals.")
	}
}
