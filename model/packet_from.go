package model

import (
	"bytes"
	"cmp"
	"context"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"pawl/model/bag"
	"pawl/model/calibration"
	"pawl/model/claims"
	"pawl/model/custody"
	"pawl/model/evidence"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/internal/views"
	"pawl/model/jobs"
	"pawl/model/ledger"
	"pawl/model/markings"
	"pawl/model/numbers"
	"pawl/model/packets"
	"pawl/model/people"
	"pawl/model/proofs"
	"pawl/model/register"
	"pawl/model/settings"
	"pawl/model/worth"
)

// CopyFile is a copy that was kept elsewhere.
type CopyFile struct {
	From io.ReaderAt
	Size int64
}

// FromCopy says what a packet from such copies is to be of: tools by their numbers, or a
// claim that was on record when the copy was made.
type FromCopy struct {
	Tools   []string
	Claim   string
	Add     []string
	Key     string
	Against []string
	MaxPart int64
}

// CopiedPacket is a packet that is made of copies alone, without any shop. Close it.
type CopiedPacket struct {
	Statement   claims.Statement
	Left        []claims.LeftOut
	Cautions    []string
	Said        []string
	Fingerprint string
	Key         string // fingerprint of the key that signed the copy
	Note        string // its checkpoint
	Files       []PacketFile
	Close       func()
}

// PacketFromCopies builds a packet from copies that were kept elsewhere. The newest says
// what was recorded, the others lend originals that it leaves out. One that does not hold
// is refused.
func PacketFromCopies(ctx context.Context, files []CopyFile, in FromCopy) (out CopiedPacket, err error) {
	if (len(in.Tools) == 0) == (in.Claim == "") {
		return out, fault.New(fault.Malformed, "a packet from a copy is of tools, or of one claim").WithHint("give --tools NUMBER,NUMBER or name the claim")
	}
	c := copied{ctx: ctx, in: in}
	if err := c.open(files); err != nil {
		return out, err
	}
	if err := c.views(); err != nil {
		return out, err
	}
	if out, err = c.packet(); err != nil {
		c.close()
		return out, err
	}
	out.Close = c.close
	return out, nil
}

// copied is a packet from copies in progress.
type copied struct {
	ctx    context.Context
	in     FromCopy
	newest packets.CheckedElsewhere
	where  map[string]stored // originals by hash
	gone   map[string]bool   // those that the shop did not have any more when the newest was made
	maker  *views.Maker
	dir    string
	facts  packetFacts
	tools  map[string]register.Tool
}

// stored is where the bytes of an original are.
type stored struct {
	bag  *bag.Bag
	path string
}

func (c *copied) open(files []CopyFile) error {
	c.where = map[string]stored{}
	for i, f := range files {
		b, err := bag.Open(f.From, f.Size)
		if err != nil {
			return err
		}
		one, err := packets.CheckElsewhere(b, proofs.Outside{Key: c.in.Key, Checkpoints: c.in.Against})
		if err != nil {
			return err
		}
		if len(one.Problems) > 0 {
			return fault.New(fault.Invalid, "the copy does not hold: %s", strings.Join(one.Problems[:min(3, len(one.Problems))], "; ")).WithHint("pawl verify FILE tells all of it")
		}
		if i > 0 && one.Ledger != c.newest.Ledger {
			return fault.New(fault.Invalid, "the copies are of two shops: %s and %s", c.newest.Ledger, one.Ledger)
		}
		if i == 0 || one.Size > c.newest.Size {
			c.newest = one
		}
		for _, o := range one.Files {
			if o.Path != "" {
				c.where[o.SHA256] = stored{b, o.Path}
			}
		}
	}
	if len(files) == 0 {
		return fault.New(fault.Malformed, "no copy is given")
	}
	c.gone = map[string]bool{}
	for _, o := range c.newest.Files {
		c.gone[o.SHA256] = o.Why != ""
	}
	return nil
}

// views makes upright copies of photos in a folder of their own.
func (c *copied) views() (err error) {
	if c.dir, err = os.MkdirTemp("", "pawl-packet-"); err != nil {
		return fault.New(fault.Unavailable, "there is no place for what is drawn").WithCause(err)
	}
	c.maker, err = views.New(views.Config{Dir: c.dir, Log: slog.New(slog.DiscardHandler), Originals: func(sum string) (io.ReadSeekCloser, int64, error) {
		r, err := c.original(sum)
		if err != nil {
			return nil, 0, err
		}
		defer r.Close()
		raw, err := io.ReadAll(io.LimitReader(r, evidence.MaxBytes+1))
		return inMemory{bytes.NewReader(raw)}, int64(len(raw)), err
	}})
	return err
}

func (c *copied) photo(f claims.File) ([]byte, error) {
	return c.maker.Open(c.ctx, f.SHA256, views.Large)
}

func (c *copied) thumb(f claims.File) ([]byte, error) {
	return c.maker.Open(c.ctx, f.SHA256, views.Small)
}

type inMemory struct{ *bytes.Reader }

func (inMemory) Close() error { return nil }

func (c *copied) close() {
	if c.maker != nil {
		c.maker.Close()
	}
	os.RemoveAll(c.dir)
}

func (c *copied) original(sum string) (io.ReadCloser, error) {
	at, here := c.where[sum]
	if !here {
		return nil, fault.New(fault.NotFound, "the original %.16s… is in none of the copies", sum)
	}
	return at.bag.Open(at.path)
}

func (c *copied) packet() (out CopiedPacket, err error) {
	if err := c.gather(); err != nil {
		return out, err
	}
	if out.Statement, out.Left, err = claims.Build(c.facts.facts); err != nil {
		return out, err
	}
	raw, err := out.Statement.Bytes()
	if err != nil {
		return out, err
	}
	src := packets.Source{Statement: out.Statement, Raw: raw, Original: c.original, Thumb: c.thumb}
	src.ReadMe, src.Certification, src.Own = annexPages(out.Statement, c.photo)
	if src.Proofs, err = c.proofs(out.Statement); err != nil {
		return out, err
	}
	if out.Fingerprint, _, err = packets.Plan(src); err != nil {
		return out, err
	}
	h := handing{Statement: out.Statement, raw: raw, point: c.newest.Proven.Checkpoint, fingerprint: out.Fingerprint, key: ledger.Fingerprint(c.newest.Proven.Key), maxPart: c.in.MaxPart, room: filepath.Join(c.dir, "papers"),
		photo: c.photo, anchors: c.anchors(out.Statement),
		annex: func(_ context.Context, w io.Writer) error { _, err := packets.Write(w, src); return err }}
	out.Key, out.Note = h.key, c.newest.Proven.Note
	out.Said, out.Cautions = slices.Concat(badStamps(c.newest.Points), c.newest.Proven.Said(len(c.in.Against))), []string{claims.NoAdvice}
	out.Files, err = h.files()
	return out, err
}

// decoded gives the rows of a noun that the copy shows, by their ids.
func decoded[T any](c *copied, noun string) (out []T, err error) {
	for _, id := range c.newest.Proven.IDs(noun) {
		r := c.newest.Proven.Records[proofs.RecordID{Noun: noun, ID: id}]
		if r.After == nil {
			continue
		}
		image, err := ledger.ParseImage(r.After)
		if err != nil {
			return nil, err
		}
		row, err := store.Decode[T](id, r.Rev, image)
		if err != nil {
			return nil, fault.New(fault.Malformed, "%s %s of the copy cannot be read", noun, id).WithCause(err)
		}
		out = append(out, row)
	}
	return out, nil
}

func (c *copied) gather() error {
	e := c.newest.Elsewhere
	f := claims.Facts{Kind: claims.Ownership, Created: e.Made, Ledger: e.Ledger, Size: e.Size, People: map[string]people.Person{}, Jobs: map[string]jobs.Job{},
		Settings: settings.Settings{Name: e.Shop, Zone: e.Zone, Currency: e.Currency, Paper: settings.Paper(e.Paper)},
		Asker:    people.Actor{Person: e.For, Role: people.Manager, Via: people.ViaLocal}, WhyNot: c.whyNotShown, Left: c.whyNotHanded}
	for _, p := range e.People {
		f.People[p.ID] = people.Person{ID: p.ID, Name: p.Name, Shares: p.Shares}
	}
	for _, j := range e.Jobs {
		f.Jobs[j.ID] = jobs.Job{ID: j.ID, Number: j.Number}
	}
	var err error
	if f.Added, err = claims.ParseAdditions(c.in.Add); err != nil {
		return err
	}
	if err := claims.InCopies(f.Added); err != nil {
		return err
	}
	loc, err := time.LoadLocation(e.Zone)
	if err != nil {
		return fault.New(fault.Malformed, "the copy is of the zone %.60q, which is not known", e.Zone).WithCause(err)
	}
	c.facts = packetFacts{loc: loc, facts: f}
	all, err := decoded[register.Tool](c, "tool")
	if err != nil {
		return err
	}
	c.tools = map[string]register.Tool{}
	for _, t := range all {
		c.tools[t.ID] = t
	}
	ids, err := c.wanted()
	if err != nil {
		return err
	}
	return c.hang(ids)
}

// wanted says which tools the packet is of.
func (c *copied) wanted() ([]string, error) {
	if c.in.Claim != "" {
		return c.claim()
	}
	rows, err := decoded[register.NumberRow](c, "number")
	if err != nil {
		return nil, err
	}
	toolOf := map[string]string{}
	for _, r := range rows {
		toolOf[r.ID] = r.Tool
	}
	var ids []string
	named := map[string]bool{}
	for _, typed := range c.in.Tools {
		n, err := numbers.ParseNumber(typed)
		if err != nil {
			return nil, err
		}
		id := toolOf[string(n)]
		if id == "" {
			return nil, fault.New(fault.NotFound, "there is no tool %s in the copy", n)
		}
		if _, shown := c.tools[id]; !shown {
			return nil, fault.New(fault.NotFound, "what tool %s is, is not in the copy: its owner did not share it when it was made", n).
				WithHint("they have a copy of their own tools, or make one: pawl people leave")
		}
		if !named[id] {
			ids, named[id] = append(ids, id), true
		}
	}
	return ids, nil
}

func (c *copied) claim() ([]string, error) {
	f := &c.facts.facts
	all, err := decoded[claims.Claim](c, "claim")
	if err != nil {
		return nil, err
	}
	at := slices.IndexFunc(all, func(o claims.Claim) bool { return o.ID == typedID('C', c.in.Claim) })
	if at < 0 {
		return nil, fault.New(fault.NotFound, "there is no claim %s in the copy", fault.Clip(c.in.Claim)).WithHint("it was opened after the copy was made; name the tools: --tools NUMBER,NUMBER")
	}
	f.Claim, f.Kind = &all[at], all[at].Kind
	if t, shown := c.tools[f.Claim.Replacement]; shown {
		f.Replacement = &t
	}
	facts, err := decoded[claims.Fact](c, "fact")
	if err != nil {
		return nil, err
	}
	for _, one := range facts {
		if one.Claim == f.Claim.ID {
			f.Dated = append(f.Dated, one)
		}
	}
	slices.SortFunc(f.Dated, func(a, b claims.Fact) int {
		return cmp.Or(cmp.Compare(a.On, b.On), cmp.Compare(a.Entered, b.Entered), strings.Compare(a.ID, b.ID))
	})
	if f.Claim.Loss == "" {
		return []string{f.Claim.Tool}, nil
	}
	return c.lost()
}

// lost are the tools of the loss that the claim is of.
func (c *copied) lost() (ids []string, err error) {
	f := &c.facts.facts
	losses, err := decoded[claims.Loss](c, "loss")
	if err != nil {
		return nil, err
	}
	for i, l := range losses {
		if l.ID == f.Claim.Loss {
			f.Loss = &losses[i]
		}
	}
	lines, err := decoded[claims.LossLine](c, "loss line")
	if err != nil || f.Loss == nil {
		return nil, orElse(err, fault.New(fault.NotFound, "the loss of claim %s is not in the copy", f.Claim.ID))
	}
	listed := map[string]bool{}
	for _, l := range lines {
		if _, shown := c.tools[l.Tool]; l.Loss != f.Loss.ID || !shown {
			continue
		}
		f.LossLines = append(f.LossLines, l)
		if l.Withdrawn == 0 && !listed[l.Tool] { // one that came back may be on it again
			ids, listed[l.Tool] = append(ids, l.Tool), true
		}
	}
	if err := c.asked(); err != nil {
		return nil, err
	}
	f.OffTools = c.tools
	owner, employees := f.Claim.Owner, false
	for _, p := range c.newest.Policies {
		if p.ID == f.Claim.Policy {
			f.Policy, owner, employees = p.Name, p.Owner, p.Employees
		}
	}
	if f.Claim.Policy != "" && f.Policy == "" {
		return nil, fault.New(fault.NotFound, "whom the policy of claim %s covers is not in the copy", f.Claim.ID).
			WithHint("make the copy anew where the shop still is, or name the tools: --tools NUMBER,NUMBER")
	}
	f.Covers = func(t claims.ToolFacts) bool {
		return worth.Policy{Owner: owner, Employees: employees}.Covers(t.Tool)
	}
	return ids, nil
}

// asked is what the claim asks for each tool, and what is about its loss as a whole.
func (c *copied) asked() error {
	f := &c.facts.facts
	amounts, err := decoded[claims.ClaimLine](c, "claim line")
	if err != nil {
		return err
	}
	f.Claimed = map[string]int64{}
	for _, a := range amounts {
		if a.Claim == f.Claim.ID && a.Amount != nil && a.Currency == f.Settings.Currency {
			f.Claimed[a.Tool] = *a.Amount
		}
	}
	all, err := decoded[evidence.Record](c, "evidence")
	f.LossFiles = slices.DeleteFunc(all, func(e evidence.Record) bool { return e.Loss != f.Loss.ID || e.Withdrawn != 0 })
	slices.SortStableFunc(f.LossFiles, receivedBefore)
	return err
}

// receivedBefore puts photos and papers in the order in which they came.
func receivedBefore(a, b evidence.Record) int {
	return cmp.Or(cmp.Compare(a.ReceivedAt, b.ReceivedAt), strings.Compare(a.ID, b.ID))
}

// hang puts to each tool what hangs on it.
func (c *copied) hang(ids []string) error {
	h, err := c.hanging()
	if err != nil {
		return err
	}
	paperOf, withheld, err := c.withheld()
	if err != nil {
		return err
	}
	if err := c.told(h, withheld, ids); err != nil {
		return err
	}
	for _, id := range ids {
		one := h.of(c.tools[id], paperOf)
		c.facts.cost(&one, h.quotes[id], h.conditionOf(id))
		c.facts.facts.Tools = append(c.facts.facts.Tools, one)
	}
	return nil
}

// hangingIn reads the rows of a noun that the copy shows, by their tools and in an order.
func hangingIn[T any](c *copied, noun string, tool func(T) string, order func(a, b T) int) (map[string][]T, error) {
	all, err := decoded[T](c, noun)
	if order != nil {
		slices.SortStableFunc(all, order)
	}
	return byTool(all, tool), err
}

func (c *copied) hanging() (h hanging, err error) {
	if h.numbers, err = hangingIn(c, "number", func(r register.NumberRow) string { return r.Tool }, nil); err != nil {
		return h, err
	}
	if h.markings, err = hangingIn(c, "marking", func(m markings.Marking) string { return m.Tool }, nil); err != nil {
		return h, err
	}
	if h.checks, err = hangingIn(c, "check", func(k markings.Check) string { return k.Tool }, nil); err != nil {
		return h, err
	}
	if h.evidence, err = hangingIn(c, "evidence", func(e evidence.Record) string { return e.Tool }, receivedBefore); err != nil {
		return h, err
	}
	if h.loans, err = hangingIn(c, "loan", func(l custody.Loan) string { return l.Tool }, func(a, b custody.Loan) int {
		return -cmp.Or(cmp.Compare(a.Since, b.Since), strings.Compare(a.ID, b.ID))
	}); err != nil {
		return h, err
	}
	if h.uses, err = hangingIn(c, "use", func(u calibration.UseRow) string { return u.Tool }, func(a, b calibration.UseRow) int {
		return cmp.Or(cmp.Compare(a.Happened, b.Happened), strings.Compare(a.ID, b.ID))
	}); err != nil {
		return h, err
	}
	if h.settled, err = hangingIn(c, "recheck", func(s calibration.SettledRow) string { return s.Tool }, func(a, b calibration.SettledRow) int {
		return cmp.Or(cmp.Compare(a.SettledAt, b.SettledAt), strings.Compare(a.ID, b.ID))
	}); err != nil {
		return h, err
	}
	if h.quotes, err = hangingIn(c, "quote", func(q worth.Quote) string { return q.Tool }, func(a, b worth.Quote) int { return cmp.Compare(a.Entered, b.Entered) }); err != nil {
		return h, err
	}
	return h, c.judged(&h)
}

// judged reads what of the value of tools rests on judgment: the conditions and lives that
// hold.
func (c *copied) judged(h *hanging) error {
	conditions, err := decoded[worth.Condition](c, "condition")
	if err != nil {
		return err
	}
	h.judged = map[string]worth.Condition{}
	for _, one := range conditions {
		if one.Ended == 0 {
			h.judged[one.Tool] = one
		}
	}
	lives, err := decoded[worth.LifeRow](c, "life")
	for _, l := range lives {
		if l.Ended == 0 {
			c.facts.lives = append(c.facts.lives, l)
		}
	}
	return err
}

// withheld goes through the lines for whose each tool was when papers about it came, and how
// many records of each noun about a tool do not show how they stand.
func (c *copied) withheld() (paperOf map[string]string, hidden map[about]int, err error) {
	owners := packets.NewOwners()
	hidden = map[about]int{}
	err = c.each(func(line ledger.Line, image ledger.Image, _ proofs.Entry) error {
		owners.Take(line, image)
		if r := c.newest.Proven.Records[proofs.RecordID{Noun: line.Noun, ID: line.ID}]; r.After == nil && r.Rev == line.Rev && len(line.Tools) > 0 {
			hidden[about{line.Tools[0], line.Noun}]++
		}
		return nil
	})
	return owners.Paper, hidden, err
}

// each goes through the lines of the copy.
func (c *copied) each(take func(ledger.Line, ledger.Image, proofs.Entry) error) error {
	return proofs.Lines(c.newest.Bag, func(e proofs.Entry) error {
		line, err := ledger.ParseLine([]byte(e.Line))
		if err != nil {
			return err
		}
		var image ledger.Image
		if e.After != "" {
			if image, err = ledger.ParseImage([]byte(e.After)); err != nil {
				return err
			}
		}
		return take(line, image, e)
	})
}

// lines hands over those lines that concern a statement.
func (c *copied) lines(st claims.Statement) (func(keep func(proofs.Entry) error) error, error) {
	tools, photos := map[string]bool{}, map[string]bool{}
	for _, l := range st.Lines {
		tools[l.Tool] = true
	}
	about := func(line ledger.Line) bool {
		return slices.ContainsFunc(line.Tools, func(t string) bool { return tools[t] })
	}
	if err := c.each(func(line ledger.Line, _ ledger.Image, _ proofs.Entry) error {
		if line.Noun == "evidence" && about(line) {
			photos[line.ID] = true
		}
		return nil
	}); err != nil {
		return nil, err
	}
	for _, f := range st.Files {
		photos[f.Record] = true
	}
	return func(keep func(proofs.Entry) error) error {
		filter := packets.NewFilter(st)
		return c.each(func(line ledger.Line, image ledger.Image, e proofs.Entry) error {
			if !about(line) && !(line.Noun == "evidence" && photos[line.ID]) && !(line.Noun == "loss" && st.Loss != nil && st.Loss.ID == line.ID) {
				return nil
			}
			if !filter.Shows(line, image) {
				e.Salt, e.After = "", ""
			}
			return keep(e)
		})
	}, nil
}

func (c *copied) whyNotHanded(e evidence.Record) string {
	if _, here := c.where[e.SHA256]; !here {
		if c.gone[e.SHA256] {
			return "its original was not in the shop any more when the copy was made"
		}
		return "its original is in an earlier copy that was not given"
	}
	return ""
}

func (c *copied) whyNotShown(e evidence.Record) (string, error) {
	if why := c.whyNotHanded(e); why != "" {
		return why, nil
	}
	return cannotDraw(e, c.maker.Converts(), c.photo)
}
