package labels

import (
	"fmt"
	"strings"

	"pawl/model/claims"
	"pawl/model/units"
)

// Columns of the list in mm.
const (
	claimGutter = 13.0 // for the number of a line
	claimName   = 27.0 // of a note
	factName    = 44.0 // of a note on the summary
	halfName    = 35.0 // of one in two columns
)

// told gives NotRecorded for nothing.
func told(text string) string {
	if strings.TrimSpace(text) == "" {
		return claims.NotRecorded
	}
	return text
}

// shared is what only the owner of a tool may show.
func shared(l claims.Line, text string) string {
	if text == "" && !l.Money {
		return claims.NotShared
	}
	return told(text)
}

// summary is the first page: who, what, when, where, how much, and what is not in here.
func (c *claimPaper) summary(p *paper, at claimPart) {
	s := c.s
	title := "Claim"
	if s.Loss != nil {
		title += ": " + s.Loss.Kind.Words()
	}
	p.words(boldFace, 6.5, title)
	p.words(lineFace, 4, c.preparedFor()+".")
	from := s.Shop
	if s.Claim != nil && s.Claim.Insured != "" {
		from = s.Claim.Insured
	}
	p.words(lineFace, paperType, fmt.Sprintf("By %s, from what is on record on %s (%s). %s", from, s.When(s.Created), s.Zone, claims.NoAdvice))
	if s.Supplement > 1 {
		p.boxed(fmt.Sprintf("Supplement %d", s.Supplement), supplementWords(s))
	}
	struckOut(p, s)
	p.groups(c.groups()...)
	if at.of > 1 && len(at.spread) > 0 {
		p.heading(4.4, fmt.Sprintf("This document is in %d parts", at.of))
		p.words(lineFace, paperType, strings.Join(at.spread, "; ")+".")
	}
	p.groups(c.factGroup(), c.sayingGroup())
}

// sayingGroup says what was added on purpose, what is left out, and what this is not.
func (c *claimPaper) sayingGroup() noteGroup {
	added := "nothing"
	if len(c.s.Added) > 0 {
		var all []string
		for _, a := range c.s.Added {
			all = append(all, string(a))
		}
		added = strings.Join(all, ", ")
	}
	var notes []note
	if c.s.Packet != "" {
		notes = append(notes, note{name: "Drawn from", value: fmt.Sprintf("packet %s, at %d lines of the ledger %s", c.s.Packet, c.s.Size, c.s.Ledger)})
	}
	if numbering := c.s.NumberWords(); numbering != "" {
		notes = append(notes, note{name: "Lines", value: numbering})
	}
	return noteGroup{title: "What this says and what it does not", notes: append(notes, []note{{name: "Added on purpose", value: added}, {name: "Not in here", value: c.s.LeftOut()},
		{name: "What it is not", value: "This is not the insurer's sworn form, and is not signed for anybody. It blames nobody. What is not recorded is said to be not recorded."}}...)}
}

// supplementWords say which lines are new.
func supplementWords(s claims.Statement) string {
	var fresh, old []int64
	for _, l := range s.Lines {
		if s.New(l) {
			fresh = append(fresh, l.Line)
		} else {
			old = append(old, l.Line)
		}
	}
	words := "New: " + linesNamed(fresh) + "."
	if len(old) > 0 {
		words += " Listed before, under the same numbers: " + linesNamed(old) + "."
	}
	return words
}

// noteGroup is notes under a heading, in one column or in two.
type noteGroup struct {
	title string
	notes []note
	two   bool
}

func (p *paper) groups(all ...noteGroup) {
	for _, g := range all {
		if len(g.notes) == 0 {
			continue
		}
		p.heading(4.4, g.title)
		if !g.two {
			p.notes(0, factName, false, g.notes...)
			continue
		}
		half := (len(g.notes) + 1) / 2
		p.beside(0, halfName, g.notes[:half], g.notes[half:])
		p.blocks[len(p.blocks)-1].held = false
	}
}

// groups are what the summary says, in its order.
func (c *claimPaper) groups() []noteGroup {
	return []noteGroup{claimGroup(c.s), lossGroup(c.s), policeGroup(c.s), c.totalGroup()}
}

func claimGroup(s claims.Statement) (g noteGroup) {
	k := s.Claim
	if k == nil {
		return g
	}
	return noteGroup{title: "Whose claim", two: true, notes: []note{{name: "Named insured", value: told(k.Insured)}, {name: "How to reach them", value: told(k.Contact)},
		{name: "Policy", value: told(k.Policy)}, {name: "Policy number", value: told(k.PolicyNumber)}, {name: "Claim number", value: told(k.ClaimNumber)},
		{name: "Adjuster", value: told(strings.Trim(k.Adjuster+", "+k.AdjusterAt, ", "))}, {name: "Other insurance", value: told(k.OtherInsurance)}}}
}

// lossGroup says what happened.
func lossGroup(s claims.Statement) (g noteGroup) {
	l := s.Loss
	if l == nil {
		return g
	}
	return noteGroup{title: "What happened", two: true, notes: []note{{name: "Kind", value: l.Kind.Words()}, {name: "Found out", value: s.When(l.Found) + " (" + s.Zone + ")"},
		{name: "Last known in order", value: s.When(l.Secure)}, {name: "Where", value: told(l.Spot)}, {name: "How they came in", value: told(l.Entered)},
		{name: "Locks", value: told(l.Locks)}, {name: "Alarm", value: told(l.Alarm)}, {name: "Cameras", value: told(l.Cameras)}, {name: "Keys", value: told(l.Keys)},
		{name: "Closed up", value: told(l.Closed)}, {name: "Opened", value: told(l.Opened)}}}
}

func policeGroup(s claims.Statement) (g noteGroup) {
	l := s.Loss
	switch {
	case l == nil:
		return g
	case l.Agency == "" && l.Report == "":
		return noteGroup{title: "Police", notes: []note{{name: "Report", value: "none recorded so far"}}}
	}
	return noteGroup{title: "Police", two: true, notes: []note{{name: "Agency", value: told(l.Agency)}, {name: "Report number", value: told(l.Report), face: numberFace},
		{name: "Officer", value: told(l.Officer)}, {name: "Reported on", value: told(string(l.Reported))}}}
}

// totalGroup has the sums of the lines, each with what it is and how many lines have
// none.
func (c *claimPaper) totalGroup() noteGroup {
	t := c.s.Totals()
	g := noteGroup{title: fmt.Sprintf("Tools claimed: %d", t.Lines), notes: []note{{name: "Tools", value: c.toolWords(t)}}}
	for _, a := range c.amounts(t) {
		words := sumWords(c.s.Money(&a.sum.Minor), a.sum)
		g.notes = append(g.notes, note{name: a.total, value: words + ". " + a.basis})
	}
	return g
}

// sumWords says an amount with how many lines it is the sum of. A sum of none is no zero.
func sumWords(amount string, sum claims.Sum) string {
	if sum.Of == 0 {
		return claims.NotRecorded + " or shared on any line"
	}
	words := amount + ", the sum of " + units.Count(sum.Of, "line")
	if sum.Without > 0 {
		words += fmt.Sprintf("; of %d none is recorded or shared", sum.Without)
	}
	return words
}

func (c *claimPaper) toolWords(t claims.Totals) string {
	confirmed := 0
	var numbers []int64
	for _, l := range c.s.Lines {
		numbers = append(numbers, l.Line)
		if l.Confirmed != 0 {
			confirmed++
		}
	}
	words := linesNamed(numbers)
	if c.s.Loss != nil {
		words += fmt.Sprintf("; confirmed: %d, missing and not confirmed: %d", confirmed, t.Lines-confirmed)
	}
	if t.Recovered > 0 {
		words += fmt.Sprintf("; recovered since: %d, which are in the sums but not in the amount claimed", t.Recovered)
	}
	if t.AfterLoss > 0 {
		words += fmt.Sprintf("; recorded only after the loss: %d", t.AfterLoss)
	}
	return words
}

// amount is a column of money.
type amount struct {
	total, basis string
	sum          claims.Sum
}

// amounts are those that are shown: the actual cash and market values only where they
// were asked for.
func (c *claimPaper) amounts(t claims.Totals) []amount {
	out := []amount{{"Replacement cost", "What new ones of like kind and quality cost, nothing taken off; each with its source and date.", t.Replacement}}
	if c.s.Has(claims.AddActualCash) {
		out = append(out, amount{"Actual cash value", "Replacement cost less what age and use take off; each with its arithmetic. The owner's own estimate.", t.ActualCash})
	}
	if c.s.Has(claims.AddMarket) {
		out = append(out, amount{"Market value", "What used ones sell for, by the source that each line names.", t.Market})
	}
	return append(out, amount{"Amount claimed", strings.TrimSpace("As the insured states it. " + claimedBack(c.s, t)), t.Claimed})
}

// claimedBack says what is left out of the amount claimed because it came back.
func claimedBack(s claims.Statement, t claims.Totals) string {
	if t.ClaimedBack.Of == 0 {
		return ""
	}
	return fmt.Sprintf("Left out of it, recovered since: %d, of which %s was claimed.", t.ClaimedBack.Of, s.Money(&t.ClaimedBack.Minor))
}

func (c *claimPaper) factGroup() noteGroup {
	g := noteGroup{title: "What has happened since"}
	for _, f := range c.s.Facts {
		words := f.What
		if f.Amount != nil {
			words += ", " + c.s.Money(f.Amount)
		}
		g.notes = append(g.notes, note{name: told(string(f.On)), value: words})
	}
	return g
}

// list is the numbered list of a part.
func (c *claimPaper) list(p *paper, units []claimUnit, at claimPart) {
	n := 0
	for _, u := range units {
		if u.line == nil {
			continue
		}
		if n++; n == 1 {
			words := "The list"
			if at.of > 1 {
				words += ", " + linesOf(units)
			}
			p.heading(5.2, words)
			p.blocks[len(p.blocks)-1].fresh = len(p.blocks) > 1
		}
		c.line(p, *u.line)
	}
}

// line is one tool, all of it held together on a page.
func (c *claimPaper) line(p *paper, l claims.Line) {
	lineHead(p, c.s, l)
	p.beside(claimGutter, claimName, c.identity(l), c.money(l))
	if c.s.Loss != nil {
		p.beside(claimGutter, claimName, lossState(c.s, l), lossSeen(c.s, l))
	}
	p.notes(claimGutter, claimName, true, c.story(l)...)
	last := &p.blocks[len(p.blocks)-1]
	last.held = false
	last.height += 3
}

// lineHead begins a line: its number, and what it is in the words of every paper.
func lineHead(p *paper, s claims.Statement, l claims.Line) {
	b := block{rules: []float64{0}, height: 1, held: true}
	words := l.Words()
	if s.Supplement > 1 && s.New(l) {
		words += fmt.Sprintf(" (new in supplement %d)", s.Supplement)
	}
	runs := p.lines(boldFace, 3.8, claimGutter, p.wide()-claimGutter, words)
	b.height = stack(runs, b.height)
	number := p.lines(boldFace, 3.8, 0, claimGutter-1, fmt.Sprint(l.Line))
	stack(number, 1)
	b.runs = append(number, runs...)
	p.add(b, 0.6)
}

func (c *claimPaper) identity(l claims.Line) []note {
	out := []note{{name: "Quantity", value: l.Quantity()}, {name: "Maker", value: told(l.Maker)}, {name: "Model, catalog no.", value: told(l.Model)},
		{name: "Serial, as read", value: l.SerialRead(), face: numberFace}, {name: "How it was read", value: l.SerialSure()}, {name: "Serial, normalized", value: told(l.Normalized()), face: numberFace}}
	if l.Lot != "" {
		out = append(out, note{name: "Lot code", value: l.Lot + " (not its own number)", face: numberFace})
	}
	return append(out, note{name: "Owner's number", value: l.OwnersNumberWords()}, note{name: "Tool number", value: l.LabelWords()}, note{name: "Owner", value: l.OwnerWords()},
		note{name: "Condition before", value: told(l.Condition)})
}

// money is what is said of buying and replacing it.
func (c *claimPaper) money(l claims.Line) []note {
	s := c.s
	owed := s.MoneyOf(l, l.Owed)
	if l.Owed != nil {
		owed = strings.TrimSuffix(owed+", to "+told(l.OwedTo), ", to "+claims.NotRecorded)
		if l.OwedOn != "" {
			owed += ", on " + string(l.OwedOn)
		}
	}
	out := []note{{name: "Date acquired", value: shared(l, string(l.Bought))}, {name: "Where bought", value: shared(l, l.Seller)},
		{name: "Price before tax", value: s.MoneyOf(l, l.Price)}, {name: "Tax", value: s.MoneyOf(l, l.Tax)}, {name: "Receipt", value: l.Receipt()},
		{name: "Money owed on it", value: owed}, {name: "Age", value: s.Age(l)}}
	return append(out, values(s, l, true)...)
}

// values are what it is worth, each with what it is and says so: the same on the papers
// for police and insurer.
func values(s claims.Statement, l claims.Line, claimed bool) []note {
	replacement := s.MoneyOf(l, l.Replacement)
	if l.Replacement != nil {
		replacement += " (" + l.CostWords() + ")"
	}
	out := []note{{name: "Replacement cost", value: replacement}}
	if s.Has(claims.AddActualCash) {
		out = append(out, note{name: "Actual cash value", value: s.MoneyOf(l, l.ActualCash)})
		if claimed && l.ActualCash != nil {
			out = append(out, note{name: "Its arithmetic", value: told(l.Working)})
		}
	}
	if s.Has(claims.AddMarket) {
		market := s.MoneyOf(l, l.Market)
		if l.Market != nil {
			market += " (" + l.MarketWords() + ")"
		}
		out = append(out, note{name: "Market value", value: market})
	}
	if claimed {
		claimed := s.MoneyOf(l, l.Claimed)
		if l.Recovered != "" && l.Claimed != nil {
			claimed += ", asked for no more: it came back"
		}
		out = append(out, note{name: "Amount claimed", value: claimed, face: boldFace})
	}
	return out
}

// story is what is known of where it was, and by what it is shown.
func (c *claimPaper) story(l claims.Line) (out []note) {
	s := c.s
	if text := l.Contents(); text != "" {
		out = append(out, note{name: "Set contents", value: text})
	}
	if l.Notes != "" {
		out = append(out, note{name: "Size, marks", value: l.Notes})
	}
	if n := recovered(l); n.value != "" {
		out = append(out, n)
	}
	out = append(out, note{name: "On record since", value: since(s, l)}, note{name: "Shown by", value: shownBy(s, l)})
	for _, extra := range l.Extra {
		out = append(out, note{name: "Added", value: extra})
	}
	return out
}

func since(s claims.Statement, l claims.Line) string {
	words := s.When(l.Registered)
	if l.AfterLoss {
		words += ", RECORDED AFTER THE LOSS"
	}
	return words
}

func lossState(s claims.Statement, l claims.Line) []note {
	state := "missing, not confirmed"
	if l.Confirmed != 0 {
		state = fmt.Sprintf("confirmed %s", s.When(l.Confirmed))
	}
	return []note{{name: "Of this loss", value: state}, {name: "Left behind", value: told(l.LeftBehind)}}
}

func lossSeen(s claims.Statement, l claims.Line) []note {
	return []note{{name: "Last seen", value: s.SeenWords(l)}}
}

// recovered says that a tool came back; an empty value where it did not.
func recovered(l claims.Line) note {
	n := note{name: "RECOVERED", face: boldFace}
	if l.Recovered != "" {
		n.value = fmt.Sprintf("%s, known by its %s; condition: %s", l.Recovered, told(l.RecoveredBy), told(l.RecoveredIn))
	}
	return n
}

// shownBy names the photos and papers of a line; one that cannot be shown is a gap.
func shownBy(s claims.Statement, l claims.Line) string {
	switch {
	case len(l.Files) == 0 && !l.Money:
		return "NO PHOTO; papers " + claims.NotShared
	case len(l.Files) == 0:
		return "NO PHOTO AND NO PAPER"
	}
	var said []string
	shown := 0
	for _, f := range l.Files {
		words := f.Ref + " " + f.Words() + ", received " + s.When(f.Received)
		if gap := f.Gap(); gap != "" {
			words = f.Ref + " " + f.Words() + " CANNOT BE SHOWN: " + gap
		} else {
			shown++
		}
		said = append(said, words)
	}
	if shown == 0 {
		said = append(said, "NOTHING OF IT CAN BE SHOWN ON PAPER")
	}
	if !l.Money {
		said = append(said, "papers "+claims.NotShared)
	}
	return strings.Join(said, "; ")
}
