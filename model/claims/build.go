package claims

import (
	"cmp"
	"encoding/json"
	"fmt"
	"path"
	"slices"
	"strings"
	"time"

	"pawl/model/calibration"
	"pawl/model/dates"
	"pawl/model/evidence"
	"pawl/model/fault"
	"pawl/model/markings"
	"pawl/model/people"
	"pawl/model/register"
	"pawl/model/serials"
)

// MaxLines is how many tools one statement lists.
const MaxLines = 20_000

// Build says what a packet says: what whoever builds it may see, and of that nothing
// that is off by default unless it was added on purpose. Cover, gaps and what a policy
// would bring are in no Facts, so that no packet can hold them.
func Build(f Facts) (Statement, []LeftOut, error) {
	b := building{Facts: f, files: map[string]File{}, left: slices.Clone(f.Beforehand)}
	st := Statement{Format: Format, Kind: f.Kind, Packet: f.Packet, Created: f.Created, Ledger: f.Ledger, Size: f.Size, Zone: f.Settings.Zone,
		Currency: f.Settings.Currency, Paper: string(f.Settings.Paper), Shop: f.Settings.Name, Supplement: 1, Thumbs: true,
		Added: inOrder(f.Added), Claim: b.claim(), Loss: b.loss(), Lines: []Line{}, Files: []File{}, Facts: []FactPart{}}
	for _, t := range b.chosen() {
		st.Lines = append(st.Lines, b.line(t))
		st.Supplement = max(st.Supplement, t.lossLine.Supplement)
	}
	st.Added = holding(st)
	for _, off := range b.off() {
		st.Off = append(st.Off, off)
		st.Supplement = max(st.Supplement, off.Supplement)
	}
	if len(st.Lines) == 0 && !f.Listing {
		return st, b.left, fault.New(fault.Refused, "there is no tool that this packet may hold").WithHint("%s", b.whyNone())
	}
	if len(st.Lines) > MaxLines {
		return st, b.left, fault.New(fault.TooLarge, "%d tools; a packet lists at most %d", len(st.Lines), MaxLines)
	}
	for _, e := range f.LossFiles {
		if e.Withdrawn != 0 {
			continue
		}
		one := b.file(e)
		st.Files = append(st.Files, one)
		if one.Left != "" && f.Loss != nil {
			b.left = append(b.left, LeftOut{f.Loss.ID, e.Kind.Words() + " " + one.Ref, one.Left})
		}
	}
	for _, d := range f.Dated {
		if d.Withdrawn != 0 {
			continue
		}
		part := FactPart{On: d.On, What: d.What}
		if d.Currency == st.Currency {
			part.Amount = d.Amount
		}
		st.Facts = append(st.Facts, part)
	}
	return st, b.left, b.failed
}

// Bytes is the statement as it is kept and handed over.
func (s Statement) Bytes() ([]byte, error) { return json.MarshalIndent(s, "", " ") }

// Location is the zone of the times on paper.
func (s Statement) Location() (*time.Location, error) {
	loc, err := time.LoadLocation(s.Zone)
	if err != nil {
		return nil, fault.New(fault.Malformed, "the statement is in the zone %.60q, which is not known", s.Zone).WithCause(err)
	}
	return loc, nil
}

// Has says whether something was put in on purpose.
func (s Statement) Has(a Addition) bool { return slices.Contains(s.Added, a) }

// building is one statement in progress.
type building struct {
	Facts
	files  map[string]File // by SHA-256
	photos int
	papers int
	left   []LeftOut
	failed error // the first that kept a file from being looked at
}

func (b *building) leave(t register.Tool, what, why string) {
	b.left = append(b.left, LeftOut{t.Number.String(), what, why})
}

func (b *building) whyNone() string {
	switch stands := func(l LossLine) bool { return l.Withdrawn == 0 }; {
	case len(b.LossLines) > 0 && !slices.ContainsFunc(b.LossLines, stands):
		return "every tool of the loss was withdrawn from it: tell the insurer, and whoever has a list"
	case len(b.left) == 0:
		return "put tools on its list first"
	}
	first := b.left[min(len(b.Beforehand), len(b.left)-1)]
	return first.Number + ": " + first.Why
}

func (b *building) added(a Addition) bool { return slices.Contains(b.Added, a) }

// tool is a tool with its line.
type tool struct {
	ToolFacts
	lossLine LossLine
	line     int64
}

// chosen are the tools that a packet may hold, in the order of their lines.
func (b *building) chosen() (out []tool) {
	byTool := b.standing()
	for i, t := range b.Tools {
		one := tool{ToolFacts: t, line: int64(i + 1), lossLine: LossLine{Supplement: 1}}
		if b.Loss != nil {
			l, listed := byTool[t.ID]
			if !listed {
				continue
			}
			one.lossLine, one.line = l, l.Line
		}
		switch {
		case t.FromOutside() && !b.Listing:
			b.leave(t.Tool, "the tool", NotAsked(t.Tool))
		case b.Covers != nil && !b.Covers(t):
			b.leave(t.Tool, "the tool", "the policy is not recorded as covering its owner")
		case b.Covers == nil && t.Owner != "" && !b.sees(t.Tool):
			b.leave(t.Tool, "the tool", "its owner alone hands over what proves it, or shares their prices and papers first")
		default:
			out = append(out, one)
		}
	}
	slices.SortFunc(out, func(x, y tool) int { return cmp.Compare(x.line, y.line) })
	return out
}

// NotAsked says why nothing is asked for a tool of somebody outside: no policy is recorded as
// covering what is theirs.
func NotAsked(t register.Tool) string {
	return "not asked here: it belongs to " + t.Outsider + ", and no policy here is recorded as covering it; tell them, the claim is theirs"
}

// standing is the line of each tool. One that came back and is missing again stands with its
// newest line.
func (b *building) standing() map[string]LossLine {
	byTool := map[string]LossLine{}
	for _, l := range b.LossLines {
		if l.Withdrawn == 0 && l.Line >= byTool[l.Tool].Line {
			byTool[l.Tool] = l
		}
	}
	return byTool
}

// off are the lines of lists that were given out which stand no more, with why: whoever has
// such a paper is to strike them out.
func (b *building) off() (out []OffLine) {
	standing := b.standing()
	for _, l := range b.LossLines {
		t := ToolFacts{Tool: b.OffTools[l.Tool]}
		if t.ID == "" || l.Supplement > b.Loss.Given || b.Covers == nil || !b.Covers(t) || t.FromOutside() && !b.Listing {
			continue
		}
		why := ""
		again, stands := standing[l.Tool]
		switch {
		case l.Withdrawn != 0 && !b.printed(l):
			continue
		case l.Withdrawn != 0:
			why = "withdrawn: " + l.WithdrawnWhy
		case stands && again.Line != l.Line:
			why = fmt.Sprintf("it came back on %s, and is missing again as line %d", l.Recovered, again.Line)
		default:
			continue
		}
		out = append(out, OffLine{l.Line, l.Supplement, t.Number.String(), t.Kind, why})
	}
	slices.SortFunc(out, func(x, y OffLine) int { return cmp.Compare(x.Line, y.Line) })
	return out
}

// printed says whether a line was on a paper before it was withdrawn.
func (b *building) printed(l LossLine) bool {
	return b.Papers == nil || slices.ContainsFunc(b.Papers, func(p Packet) bool { return p.Supplement >= l.Supplement && p.Created < l.Withdrawn })
}

// sees says whether whoever builds may see the money and papers of a tool.
func (b *building) sees(t register.Tool) bool {
	return !t.FromOutside() && people.May(b.Asker, people.SeeMoney, people.Object{Owner: t.Owner, OwnerShares: b.People[t.Owner].Shares}) &&
		(t.Owner == "" || t.Owner == b.Asker.Person || b.People[t.Owner].Shares)
}

func (b *building) claim() *ClaimPart {
	c := b.Claim
	if c == nil {
		return nil
	}
	part := &ClaimPart{ID: c.ID, Insured: c.Insured, Contact: c.Contact, Policy: b.Policy, PolicyNumber: c.PolicyNumber, ClaimNumber: c.ClaimNumber,
		Adjuster: c.Adjuster, AdjusterAt: c.AdjusterAt, OtherInsurance: c.OtherInsurance, Fault: c.Fault, FaultOn: c.FaultOn}
	if b.Replacement != nil {
		part.Replacement, part.ReplacementIs = b.Replacement.Number.String(), b.Replacement.Serial
	}
	if c.Kind == Warranty && len(b.Tools) == 1 && b.sees(b.Tools[0].Tool) {
		part.From, part.Months = b.Tools[0].WarrantyStart(), b.Tools[0].WarrantyMonths
	}
	return part
}

func (b *building) loss() *LossPart {
	l := b.Loss
	if l == nil {
		return nil
	}
	return &LossPart{ID: l.ID, Kind: l.Kind, Found: l.Found, Secure: l.Secure, Spot: l.Spot, Entered: l.Entered, Locks: l.Locks, Alarm: l.Alarm,
		Cameras: l.Cameras, Keys: l.Keys, Closed: l.Closed, Opened: l.Opened, Agency: l.Agency, Report: l.Report, Officer: l.Officer, Reported: l.Reported}
}

func (b *building) ownerOf(id string) string {
	if id == "" {
		return b.Settings.Name
	}
	return b.People[id].Name
}

// line says all of one tool.
func (b *building) line(t tool) Line {
	l := Line{Tool: t.ID, OwnerID: t.Owner, Money: b.sees(t.Tool), Line: t.line, Supplement: max(t.lossLine.Supplement, 1), Number: t.Number.String(), Numbers: []string{}, Kind: t.Kind,
		Maker: t.Maker, Model: t.Model, Pieces: []string{}, Notes: t.Notes, Serial: t.Serial, SerialKey: serials.Key(t.Serial), SerialSaid: serialSaid(t.Tool),
		Lot: t.Lot, Owner: cmp.Or(t.Outsider, b.ownerOf(t.Owner)), Outside: t.FromOutside(), Registered: t.Created, Files: []File{}, Extra: []string{}}
	for _, n := range t.Numbers {
		l.Numbers = append(l.Numbers, registerNumber(n))
	}
	for _, p := range t.Pieces {
		words := p.Name
		if p.Count > 1 {
			words = fmt.Sprintf("%s (%d)", p.Name, p.Count)
		}
		l.Pieces = append(l.Pieces, words)
	}
	for _, m := range t.Markings {
		if m.Shows == markings.OwnersNumber && m.Ended == "" {
			l.OwnersNo, l.OwnersNoAt = m.Code, m.Spot
		}
	}
	b.lost(&l, t)
	b.money(&l, t.ToolFacts)
	b.evidence(&l, t.ToolFacts)
	b.extra(&l, t.ToolFacts)
	return l
}

func registerNumber(n register.NumberRow) string { return spelled(n.ID) }

// spelled prints a number as labels do.
func spelled(id string) string {
	if len(id) != 6 {
		return id
	}
	return id[:3] + "-" + id[3:]
}

// Why there is no serial number.
const (
	noneMarked  = "its maker marked none"
	notReadable = "there is one, and it cannot be read"
)

// serialSaid says how sure a serial is, or why there is none.
func serialSaid(t register.Tool) string {
	switch {
	case t.Serial == "" && t.NoSerial == register.NeverMarked:
		return noneMarked
	case t.Serial == "" && t.NoSerial == register.Unreadable:
		return notReadable
	case t.Serial == "":
		return "not recorded"
	case strings.ContainsAny(t.Serial, "?*"):
		return "some characters could not be read; each is marked ?"
	}
	return "as read"
}

// lost says what the loss did to the tool, and where it was seen last.
func (b *building) lost(l *Line, t tool) {
	x := t.lossLine
	l.LastSeen, l.SeenHow, l.LeftBehind, l.Condition = x.LastSeen, x.SeenHow, x.LeftBehind, x.Condition
	l.Confirmed, l.Recovered, l.RecoveredBy, l.RecoveredIn = x.Confirmed, x.Recovered, x.RecoveredBy, x.RecoveredIn
	l.AfterLoss = b.Loss != nil && b.Loss.Found != 0 && t.Created > b.Loss.Found
	for _, loan := range t.Loans {
		if l.Condition == "" {
			l.Condition = loan.Condition
		}
		if seen := loan.Changed(); l.LastSeen == 0 && seen != 0 && b.Loss == nil {
			l.LastSeen, l.SeenHow = seen, "custody"
		}
	}
}

// money says what the tool cost and costs, where that may be seen.
func (b *building) money(l *Line, t ToolFacts) {
	if !l.Money {
		b.leave(t.Tool, "price and papers", "they are its owner's to show: they hand them over, or share them first")
		return
	}
	l.Bought, l.Seller = t.Bought, t.Seller
	if t.Currency == b.Settings.Currency {
		l.Price, l.Tax, l.Owed, l.OwedTo, l.OwedOn = t.Price, t.Tax, t.Owed, t.OwedTo, t.OwedOn
	} else if t.Price != nil {
		b.leave(t.Tool, "price", "it is in "+t.Currency+", and this packet in "+b.Settings.Currency)
	}
	if c := t.Cost; c != nil {
		amount := c.Amount
		l.Replacement, l.CostOf, l.CostSource, l.CostDated = &amount, c.Of, c.Source, c.Dated
	}
	if amount, asked := b.Claimed[t.ID]; asked {
		l.Claimed = &amount
	}
	if b.added(AddActualCash) && t.ActualCash != nil {
		l.ActualCash, l.Working = t.ActualCash, t.Working
	}
	switch m := t.Market; {
	case !b.added(AddMarket):
	case m == nil:
		b.leave(t.Tool, "market value", "none is on record: pawl worth quote "+t.Number.String()+" --basis market …")
	default:
		amount := m.Amount
		l.Market, l.MarketBy, l.MarketDated = &amount, m.Source, m.Dated
	}
}

// evidence names the photos and papers of a tool. A paper is its owner's as the price is,
// and one that came while the tool was another's stays theirs.
func (b *building) evidence(l *Line, t ToolFacts) {
	for _, e := range t.Evidence {
		switch {
		case e.Withdrawn != 0:
		case !e.Kind.Photo() && !l.Money:
		case !e.Kind.Photo() && t.PaperOf[e.ID] != t.Owner:
			b.leave(t.Tool, e.Kind.Words(), "it came while the tool was another's")
		default:
			f := b.file(e)
			f.Grade, f.Graded = t.graded(e)
			l.Files = append(l.Files, f)
			if f.Left != "" {
				b.leave(t.Tool, e.Kind.Words()+" "+f.Ref, f.Left)
			}
		}
	}
}

// graded is the grade that a photo of a serial plate was given by the last look that names
// it, and the day of that look; a look at the owner's own number says nothing of the serial.
func (t ToolFacts) graded(e evidence.Record) (grade *int64, on dates.Date) {
	if e.Kind != evidence.Plate {
		return nil, ""
	}
	last := markings.LookOf(e.ID, t.Checks, t.Markings)
	if last == nil {
		return nil, ""
	}
	return last.Grade, last.On
}

// file gives a photo or paper its name. The same bytes have one name in all of the
// statement.
func (b *building) file(e evidence.Record) File {
	f := File{Record: e.ID, Kind: string(e.Kind), SHA256: e.SHA256, MediaType: e.MediaType, Bytes: e.Bytes, Received: e.ReceivedAt, Claimed: e.ClaimedAt}
	if b.WhyNot != nil && b.failed == nil {
		f.WhyNot, b.failed = b.WhyNot(e)
	}
	if same, known := b.files[e.SHA256]; known {
		f.Ref, f.Path, f.Copy, f.Left = same.Ref, same.Path, same.Copy, same.Left
		return f
	}
	folder, letter, n := "data/papers/", "R", &b.papers
	if e.Kind.Photo() {
		folder, letter, n = "data/photos/", "P", &b.photos
	}
	*n++
	f.Ref = fmt.Sprintf("%s%d", letter, *n)
	f.Path = path.Join(folder, fmt.Sprintf("%s%05d-%s.%s", letter, *n, e.Kind, ending(e.MediaType)))
	if b.Left != nil {
		f.Left = b.Left(e)
	}
	switch {
	case f.Left != "":
		f.Path = ""
	case e.ClaimedPlace == "" || b.added(AddOriginals):
	case e.MediaType == evidence.TypeJPEG:
		f.Copy = true
	default:
		f.Path, f.Left = "", "it carries the place where it was taken, which cannot be left out of a "+ending(e.MediaType)+"; add originals to hand it over as it is"
	}
	b.files[e.SHA256] = f
	return f
}

func ending(mediaType string) string {
	_, kind, _ := strings.Cut(mediaType, "/")
	return strings.ReplaceAll(kind, "jpeg", "jpg")
}

// extra puts in what was asked for on purpose, a line each.
func (b *building) extra(l *Line, t ToolFacts) {
	say := func(format string, args ...any) { l.Extra = append(l.Extra, fmt.Sprintf(format, args...)) }
	for _, u := range t.Uses {
		done := u.SignedAt != 0 || u.Verdict != string(calibration.Yes)
		switch {
		case b.added(AddOverrides) && done && u.SignedAt != 0:
			say("override: %s %s was signed off %s%s%s", u.What, b.day(u.Happened), u.SignedWhy, b.onJob(u.Job), b.withdrawn(u))
		case b.added(AddTightenings):
			say("%s %s, %s, answered %s%s%s", u.What, b.day(u.Happened), u.Name, u.Verdict, b.onJob(u.Job), b.withdrawn(u))
		}
	}
	if b.added(AddRechecks) {
		for _, s := range t.Settled {
			i := slices.IndexFunc(t.Uses, func(u calibration.UseRow) bool { return u.ID == s.Source })
			mistaken := ""
			if i >= 0 { // the work that was in doubt was entered by mistake: there was none
				mistaken = b.withdrawn(t.Uses[i])
			}
			say("recheck settled: %s%s%s", s.How, b.onJob(s.Job), mistaken)
		}
	}
	if b.added(AddCustomers) && !b.added(AddJobs) {
		b.leave(t.Tool, "customers", "they are told with their jobs: add jobs too")
	}
	if b.added(AddJobs) {
		for _, loan := range t.Loans {
			if loan.Job != "" {
				say("taken %s%s", b.day(loan.Since), b.onJob(loan.Job))
			}
		}
	}
}

// withdrawn says of a use that was entered by mistake that it counts for nothing, and why.
func (b *building) withdrawn(u calibration.UseRow) string {
	if u.Withdrawn == 0 {
		return ""
	}
	return ", WITHDRAWN " + b.day(u.Withdrawn) + ": " + u.Why
}

// onJob names a job where that was asked for, and the customer's vehicle where that was.
func (b *building) onJob(id string) string {
	j, known := b.Jobs[id]
	if !known || !b.added(AddJobs) {
		return ""
	}
	words := ", job " + j.Number
	if b.added(AddCustomers) && j.Vehicle+j.VIN != "" {
		words += " (" + strings.TrimSpace(j.Vehicle+" "+j.VIN) + ")"
	}
	return words
}

func (b *building) day(i dates.Instant) string {
	loc, err := b.Settings.Location()
	if err != nil {
		return i.String()
	}
	return string(i.Day(loc))
}
