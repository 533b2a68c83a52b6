package model

import (
	"cmp"
	"context"
	"maps"
	"slices"
	"time"

	"pawl/model/claims"
	"pawl/model/evidence"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/internal/views"
	"pawl/model/ledger"
	"pawl/model/numbers"
	"pawl/model/packets"
	"pawl/model/people"
	"pawl/model/worth"
)

// NewPacket says what a packet is to be of: a claim, or whose one tool is by its number.
// Reworded says that lines read otherwise than on papers given out before, and that this
// was mended with the police too.
type NewPacket struct {
	Claim, Ownership string
	Loss             string // for its list alone, before any claim; no packet is built of it
	Add              []string
	Reworded         bool
}

// packetFacts gathers what a packet may be built from, under the size that the ledger has
// by now.
type packetFacts struct {
	s     *Shop
	d     *directory
	loc   *time.Location
	lives worth.Lives
	facts claims.Facts
	read  *gathered
}

func (s *Shop) gatherPacket(rx *store.Rx, by By, in NewPacket) (claims.Facts, error) {
	return s.gatherWith(rx, by, in, newGathered())
}

// gatherWith does not read again what was read before.
func (s *Shop) gatherWith(rx *store.Rx, by By, in NewPacket, read *gathered) (f claims.Facts, err error) {
	p := packetFacts{s: s, read: read}
	if p.d, err = readNames(rx); err != nil {
		return f, err
	}
	if p.loc, err = p.d.settings.Location(); err != nil {
		return f, err
	}
	me, _, err := rx.Identity()
	if err != nil {
		return f, err
	}
	p.facts = claims.Facts{Kind: claims.Ownership, Created: rx.Now(), Settings: p.d.settings, Asker: by.Actor, People: p.d.byID, WhyNot: s.whyNotShown, Left: read.whyNotHanded(s.whyNotHanded)}
	if p.facts.Added, err = claims.ParseAdditions(in.Add); err != nil {
		return f, err
	}
	if p.facts.Ledger, err = ledger.Origin(me.ID); err != nil {
		return f, err
	}
	if p.facts.Size, err = rx.Size(); err != nil {
		return f, err
	}
	switch {
	case in.Claim != "":
		err = p.claim(by, in.Claim)
	case in.Loss != "":
		err = p.list(by, in.Loss)
	default:
		err = p.ownership(by, in.Ownership)
	}
	return p.facts, err
}

// list is of a loss before any claim is opened on it: all that is on its list.
func (p *packetFacts) list(by By, id string) error {
	l, found, err := p.d.Loss(id)
	if err != nil || !found {
		return orElse(err, noLoss(id))
	}
	if err := allowed(by, people.RunLoss, people.Object{Owner: l.Person}); err != nil {
		return err
	}
	p.facts.Kind, p.facts.Listing, p.facts.Covers = claims.Insurance, true, func(claims.ToolFacts) bool { return true }
	return p.lost(by, l)
}

// lost gathers a loss and each tool on its list. Its photos and papers are for whoever may
// settle all of it: they may say what other people's tools cost.
func (p *packetFacts) lost(by By, l claims.Loss) (err error) {
	p.facts.Loss = &l
	if p.facts.LossLines, err = p.d.LossLines(l.ID); err != nil {
		return err
	}
	if p.facts.Papers, err = papersOfLoss(p.d.Rx, l.ID); err != nil {
		return err
	}
	files, err := p.d.EvidenceOfLoss(l.ID)
	if err != nil {
		return err
	}
	if settlesLoss(by, l) {
		p.facts.LossFiles = files
	} else if slices.ContainsFunc(files, func(e evidence.Record) bool { return e.Withdrawn == 0 }) {
		p.facts.Beforehand = append(p.facts.Beforehand, claims.LeftOut{Number: l.ID, What: "photos and papers of the loss", Why: "they are for a manager, and whoever reported the loss, to hand over"})
	}
	var ids []string
	listed := map[string]bool{}
	for _, line := range p.facts.LossLines {
		if line.Withdrawn == 0 && !listed[line.Tool] { // one that came back may be on it again
			ids, listed[line.Tool] = append(ids, line.Tool), true
		}
	}
	if p.facts.OffTools, err = p.d.ToolsByID(toolsOfLines(p.facts.LossLines)); err != nil {
		return err
	}
	return p.tools(ids)
}

// ownership is of one tool.
func (p *packetFacts) ownership(by By, number string) error {
	t, err := resolve(p.d.Rx, number)
	if err != nil {
		return err
	}
	if err := allowed(by, people.SeeMoney, p.d.object(t)); err != nil {
		return err
	}
	return p.tools([]string{t.ID})
}

// claim is of a loss, or of one tool.
func (p *packetFacts) claim(by By, id string) error {
	id = typedID('C', id)
	c, found, err := p.d.Claim(id)
	if err != nil || !found || !p.d.mayClaim(by, c) {
		return orElse(err, fault.New(fault.NotFound, "there is no claim %s", fault.Clip(id)).WithHint("pawl claim list shows those there are"))
	}
	p.facts.Claim, p.facts.Kind = &c, c.Kind
	if p.facts.Dated, err = p.d.FactsOf(c.ID); err != nil {
		return err
	}
	if c.Replacement != "" {
		t, found, err := p.d.Tool(c.Replacement)
		if err != nil {
			return err
		}
		if found {
			p.facts.Replacement = &t
		}
	}
	if c.Loss == "" {
		return p.tools([]string{c.Tool})
	}
	l, found, err := p.d.Loss(c.Loss)
	if err != nil || !found {
		return orElse(err, fault.New(fault.NotFound, "there is no loss %s", fault.Clip(c.Loss)))
	}
	if err := p.amounts(c); err != nil {
		return err
	}
	if err := p.covers(c); err != nil {
		return err
	}
	return p.lost(by, l)
}

// typedID is the id that somebody typed in either case, or what they typed where it is none.
func typedID(letter byte, text string) string {
	if id, err := numbers.ParseID(letter, text); err == nil {
		return id
	}
	return text
}

// claimFor finds a claim that somebody may show to others, and gives its id.
func claimFor(rx *store.Rx, by By, id string) (string, error) {
	d, err := readNames(rx)
	if err != nil {
		return "", err
	}
	id = typedID('C', id)
	c, found, err := d.Claim(id)
	if err == nil && (!found || !d.mayClaim(by, c)) {
		err = fault.New(fault.NotFound, "there is no claim %s", fault.Clip(id)).WithHint("a viewer sees the packets of one claim")
	}
	return id, err
}

// amounts are what is asked for each tool.
func (p *packetFacts) amounts(c claims.Claim) error {
	rows, err := p.d.ClaimLines(c.ID)
	p.facts.Claimed = map[string]int64{}
	for _, r := range rows {
		if r.Amount != nil && r.Currency == p.facts.Settings.Currency {
			p.facts.Claimed[r.Tool] = *r.Amount
		}
	}
	return err
}

// mayClaim says whether somebody may see a claim: managers the shop's, a person their own.
func (d *directory) mayClaim(by By, c claims.Claim) bool {
	return people.May(by.Actor, people.SeeMoney, people.Object{Owner: c.Owner, OwnerShares: d.byID[c.Owner].Shares})
}

// covers says whose tools the claim is about: those that its policy is recorded as
// covering, and without a policy those of whoever claims.
func (p *packetFacts) covers(c claims.Claim) error {
	p.facts.Covers = func(t claims.ToolFacts) bool { return t.Owner == c.Owner }
	if c.Policy == "" {
		return nil
	}
	policy, found, err := p.d.Policy(c.Policy)
	if err != nil || !found {
		return orElse(err, fault.New(fault.NotFound, "there is no policy %s", fault.Clip(c.Policy)))
	}
	policy.Ended = 0 // whom it covered, it covered
	p.facts.Policy = policy.Name
	p.facts.Covers = func(t claims.ToolFacts) bool { return policy.Covers(t.Tool) }
	return nil
}

// tools gathers all of each tool, and of all of them at once.
func (p *packetFacts) tools(ids []string) error {
	if err := p.readTools(slices.DeleteFunc(slices.Clone(ids), func(id string) bool { _, read := p.read.tools[id]; return read })); err != nil {
		return err
	}
	jobs := map[string]bool{}
	for _, id := range ids {
		one := p.read.tools[id]
		for _, l := range one.Loans {
			jobs[l.Job] = true
		}
		for _, u := range one.Uses {
			jobs[u.Job] = true
		}
		p.facts.Tools = append(p.facts.Tools, one)
	}
	delete(jobs, "")
	var err error
	p.facts.Jobs, err = p.d.JobsByID(slices.Sorted(maps.Keys(jobs)))
	return err
}

func (p *packetFacts) readTools(ids []string) error {
	tools, err := p.d.ToolsByID(ids)
	if err != nil {
		return err
	}
	h, err := hangingOn(p.d.Rx, ids)
	if err != nil {
		return err
	}
	paperOf, err := h.papersOf(p.d.Rx, p.facts.Size)
	if err != nil {
		return err
	}
	if p.lives, err = p.d.Lives(); err != nil {
		return err
	}
	for _, id := range ids {
		t, found := tools[id]
		if !found {
			return fault.New(fault.NotFound, "tool %s is not there", fault.Clip(id))
		}
		one := h.of(t, paperOf[id])
		p.cost(&one, h.quotes[id], h.conditionOf(id))
		p.read.tools[id] = one
	}
	return nil
}

// cost says what a new one costs, and what this one is worth by its age on the day of the
// loss.
func (p *packetFacts) cost(one *claims.ToolFacts, quotes []worth.Quote, condition *worth.Condition) {
	if m := worth.MarketOf(quotes, p.facts.Settings.Currency); m != nil {
		one.Market = &claims.Cost{Amount: m.Amount, Of: m.Of, Source: m.Source, Dated: m.Dated}
	}
	c, _ := worth.CostOf(one.Tool, quotes, p.facts.Settings.Currency)
	if c == nil {
		return
	}
	one.Cost = &claims.Cost{Amount: c.Amount, Of: c.Of, Source: c.Source, Dated: c.Dated}
	day := p.facts.Created.Day(p.loc)
	if l := p.facts.Loss; l != nil && l.Found != 0 {
		day = l.Found.Day(p.loc)
	}
	since, assumed := worth.Since(one.Tool, one.Created.Day(p.loc))
	v := worth.ActualCash(c.Amount, worth.AgeOn(since, day), p.lives.Of(one.Kind), condition)
	w := WorthTool{Value: &v, Assumed: assumed}
	one.ActualCash, one.Working = &v.ActualCash, w.Working()
}

// eachLine goes through the lines about a tool under a size of the ledger, and gives
// their places.
func eachLine(rx *store.Rx, tool string, size int64, take func(ledger.Line, ledger.Image, store.Entry)) (seqs []int64, err error) {
	for from := int64(0); from < size; {
		batch, err := rx.History(tool, from, 500)
		if err != nil || len(batch) == 0 {
			return seqs, err
		}
		for _, e := range batch {
			line, image, err := opened(e)
			if err != nil {
				return nil, err
			}
			if from = line.Seq + 1; line.Seq >= size {
				return seqs, nil
			}
			take(line, image, e)
			seqs = append(seqs, line.Seq)
		}
	}
	return seqs, nil
}

// opened reads a line and its image, which is nil where it is withheld.
func opened(e store.Entry) (line ledger.Line, image ledger.Image, err error) {
	if line, err = ledger.ParseLine(e.Raw); err != nil || e.After == nil {
		return line, nil, err
	}
	image, err = ledger.ParseImage(e.After)
	return line, image, err
}

// whyNotShown says why a picture cannot be shown on paper.
func (s *Shop) whyNotShown(e evidence.Record) (string, error) {
	if why := s.whyNotHanded(e); why != "" {
		return why, nil
	}
	return cannotDraw(e, s.views.Converts(), s.photos(context.Background(), views.Large))
}

// cannotDraw says why there is no view of a picture, of a tool or of a paper: whoever reads
// it is told, and the rest is drawn. What only keeps it from being drawn now is an error: a
// gap stays in the packet for good.
func cannotDraw(e evidence.Record, converts bool, view func(claims.File) ([]byte, error)) (string, error) {
	f := claims.File{SHA256: e.SHA256, MediaType: e.MediaType}
	switch {
	case !f.Picture():
		return "", nil
	case (e.MediaType == evidence.TypeHEIC || e.MediaType == evidence.TypeHEIF) && !converts:
		return "a HEIC picture, which this program keeps and cannot draw", nil
	case e.Width*e.Height > evidence.MaxViewPixels:
		return "too large to be drawn", nil
	}
	switch _, err := view(f); {
	case fault.Is(err, fault.NotFound):
		return "it cannot be drawn: " + fault.Of(err).Message, nil
	case err != nil:
		return "", fault.New(fault.Unavailable, "%s %s cannot be drawn just now: %s", e.Kind.Words(), e.ID, fault.Of(err).Message).
			WithHint("try again; where it stays so, withdraw it and build without it").WithCause(err)
	}
	return "", nil
}

// whyNotHanded says why the bytes of a photo or paper cannot be handed over.
func (s *Shop) whyNotHanded(e evidence.Record) string {
	f, _, err := s.originals.Open(e.SHA256)
	if err != nil {
		return "its original is not here any more"
	}
	f.Close()
	return ""
}

// packetLine is a line of the ledger that concerns a packet.
type packetLine struct {
	line  ledger.Line
	image ledger.Image
}

// concerning gathers the lines that concern a statement: all that are about its tools,
// those before a photo was sorted to one, and those of the loss.
type concerning struct {
	rx   *store.Rx
	size int64
	seen map[int64]bool
	all  []packetLine
}

func (c *concerning) keep(line ledger.Line, image ledger.Image) {
	if line.Seq < c.size && !c.seen[line.Seq] {
		c.seen[line.Seq] = true
		c.all = append(c.all, packetLine{line, image})
	}
}

func (c *concerning) record(noun, id string) error {
	rows, err := c.rx.LinesOf(noun, id)
	if err != nil {
		return err
	}
	for _, e := range rows {
		line, image, err := opened(e)
		if err != nil {
			return err
		}
		c.keep(line, image)
	}
	return nil
}

func (c *concerning) tool(id string) error {
	var sorted []string
	if _, err := eachLine(c.rx, id, c.size, func(line ledger.Line, image ledger.Image, _ store.Entry) {
		if line.Noun == "evidence" && line.Rev > 1 {
			sorted = append(sorted, line.ID)
		}
		c.keep(line, image)
	}); err != nil {
		return err
	}
	for _, e := range sorted {
		if err := c.record("evidence", e); err != nil {
			return err
		}
	}
	return nil
}

// linesFor lists the places of all lines that concern a statement, and which of them say
// only that something was recorded.
func linesFor(rx *store.Rx, st claims.Statement) (out []place, err error) {
	c := concerning{rx: rx, size: st.Size, seen: map[int64]bool{}}
	for _, l := range st.Lines {
		if err := c.tool(l.Tool); err != nil {
			return nil, err
		}
	}
	for _, f := range st.Files {
		if err := c.record("evidence", f.Record); err != nil {
			return nil, err
		}
	}
	if st.Loss != nil {
		if err := c.record("loss", st.Loss.ID); err != nil {
			return nil, err
		}
	}
	slices.SortFunc(c.all, func(a, b packetLine) int { return cmp.Compare(a.line.Seq, b.line.Seq) })
	filter := packets.NewFilter(st)
	for _, k := range c.all {
		out = append(out, place{k.line.Seq, !filter.Shows(k.line, k.image)})
	}
	return out, nil
}
