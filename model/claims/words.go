package claims

import (
	"fmt"
	"strings"
	"sync"
	"time"
	"unicode"

	"pawl/model/dates"
	"pawl/model/evidence"
	"pawl/model/markings"
	"pawl/model/units"
)

// NoAdvice stands on every paper of a claim, and beside every packet.
const NoAdvice = "Not legal, tax or insurance advice; the policy's wording decides."

// ProofWords say what the proofs of a packet show and what they do not
// (identity-labels-evidence 4.6).
const ProofWords = "These proofs show that the listed records were in this ledger, unchanged, when the outside anchors named below were made. " +
	"They do not show that a record was true, that a photo shows the tool claimed, who owns it, or that no other ledger exists. " +
	"Dates with no anchor are the shop's own statement."

// NotRecorded stands where nobody said.
const NotRecorded = "not recorded"

// NotShared stands where the owner of a tool does not show its money.
const NotShared = "not shared by its owner"

// Uncertain stands on paper for a character of a serial number that could not be read
// with certainty: not a bare question mark, which a paper also prints for a letter that
// its type does not have. Unread stands for any number of them.
const (
	Uncertain = "[?]"
	Unread    = "[*]"
)

var markUncertain = strings.NewReplacer("?", Uncertain, "*", Unread)

// Words is a kind of loss as people read it.
func (k LossKind) Words() string {
	if k == Mislaid {
		return "tools lost"
	}
	return string(k)
}

// Words describe the tool of a line. They are the same on every paper.
func (l Line) Words() string {
	kind, make := tidy(l.Kind), tidy(l.Maker+" "+l.Model)
	switch {
	case kind == "" && make == "":
		return "a tool of which kind, maker and model are not recorded"
	case kind == "":
		return make + ", kind not recorded"
	case make == "":
		return kind + ", maker and model not recorded"
	}
	return kind + ", " + make
}

// tidy sets single blanks for white space, so that a text reads alike in a cell and on
// a line.
func tidy(s string) string { return strings.Join(strings.Fields(s), " ") }

// Contents lists the pieces of a set; empty for a single tool.
func (l Line) Contents() string { return tidy(strings.Join(l.Pieces, ", ")) }

// Quantity of a line in words: a set is one tool with its pieces.
func (l Line) Quantity() string {
	if len(l.Pieces) > 0 {
		return "1 set"
	}
	return "1"
}

// SerialMarked is the serial number as it was read, with each character that is not
// certain marked; empty where there is none.
func (l Line) SerialMarked() string { return markUncertain.Replace(tidy(l.Serial)) }

// SerialRead is the same, or why there is none: that its maker marked none is said only where
// somebody recorded it.
func (l Line) SerialRead() string {
	switch marked := l.SerialMarked(); {
	case marked != "":
		return marked
	case l.SerialSaid == noneMarked:
		return "none"
	case l.SerialSaid == notReadable:
		return "cannot be read"
	}
	return NotRecorded
}

// SerialSure says how sure the serial number is, or why there is none.
func (l Line) SerialSure() string {
	said := tidy(l.SerialSaid)
	if strings.Contains(l.Serial, "?") {
		said += "; " + Uncertain + " is a character that could not be read with certainty"
	}
	if strings.Contains(l.Serial, "*") {
		said += "; " + Unread + " is any number of characters that could not be read"
	}
	if said == "" {
		return NotRecorded
	}
	return strings.TrimPrefix(said, "; ")
}

// Normalized is the serial number as registers of stolen property search it: letters
// and digits only. A character that is not certain is marked and never guessed.
func (l Line) Normalized() string {
	if !strings.ContainsAny(l.Serial, "?*") {
		return l.SerialKey
	}
	var b strings.Builder
	for _, r := range strings.ToUpper(l.Serial) {
		switch {
		case r == '?' || r == '*':
			b.WriteString(markUncertain.Replace(string(r)))
		case unicode.IsLetter(r) || unicode.IsDigit(r):
			b.WriteRune(r)
		}
	}
	return b.String()
}

// OwnersNumberWords say the permanent number that the owner put on the tool, and where.
func (l Line) OwnersNumberWords() string {
	number, at := tidy(l.OwnersNo), tidy(l.OwnersNoAt)
	switch {
	case number == "":
		return "none recorded"
	case at == "":
		return number + " (where on the tool: " + NotRecorded + ")"
	}
	return number + ", " + at
}

// OwnerWords say whose the tool is. One of somebody outside is on the list for the police
// only.
func (l Line) OwnerWords() string {
	owner := tidy(l.Owner)
	switch {
	case owner == "":
		return NotRecorded
	case l.Outside:
		return owner + ", who is not of this shop: it was in the shop's hands"
	}
	return owner
}

// LabelWords say the tool number, which is on a label that comes off.
func (l Line) LabelWords() string {
	if len(l.Numbers) < 2 {
		return l.Number + " (a printed label: it peels off)"
	}
	return strings.Join(l.Numbers, ", ") + " (printed labels: they peel off)"
}

// MarketWords say who says what a used one sells for, and when.
func (l Line) MarketWords() string {
	by := tidy(l.MarketBy)
	if by == "" {
		by = "source " + NotRecorded
	}
	return strings.TrimSuffix(by+", "+string(l.MarketDated), ", ")
}

// CostWords say who says what a new one costs, and when: no amount stands without it.
func (l Line) CostWords() string {
	var said []string
	for _, part := range []string{tidy(l.CostOf), tidy(l.CostSource), string(l.CostDated)} {
		if part != "" {
			said = append(said, part)
		}
	}
	if len(said) == 0 {
		return "source " + NotRecorded
	}
	return strings.Join(said, ", ")
}

// Words is the kind of a file as people read it.
func (f File) Words() string { return evidence.Kind(f.Kind).Words() }

// Picture says whether a file is a picture, which can be printed unless something keeps
// it from it.
func (f File) Picture() bool { return strings.HasPrefix(f.MediaType, "image/") }

// Gap says why a picture is not to be seen on paper, and why a file that is none is not
// handed over either; empty where it is. What is a gap shows nothing.
func (f File) Gap() string {
	if !f.Picture() {
		return f.Missing()
	}
	return tidy(f.WhyNot)
}

// GradeWords say how well the marking in a photo could be read when it was looked at; empty
// where nobody judged it.
func (f File) GradeWords() string {
	if f.Grade == nil {
		return ""
	}
	words := fmt.Sprintf("grade %d of 4", *f.Grade)
	if means := markings.GradeWords(*f.Grade); means != "" {
		words += ", " + means
	}
	if f.Graded != "" {
		words += ", looked at on " + string(f.Graded)
	}
	return words
}

// ThumbPath is where in the annex the small view of a photo is; empty where there is none: it
// cannot be shown, its bytes are left out, or its format is drawn by another program, which
// may draw it otherwise next time. A view is drawn anew from the picture alone, and carries
// no place.
func (s Statement) ThumbPath(f File) string {
	drawn := f.MediaType == evidence.TypeJPEG || f.MediaType == evidence.TypePNG || f.MediaType == evidence.TypeWebP
	if !s.Thumbs || !drawn || f.Gap() != "" || f.Missing() != "" || f.Path == "" {
		return ""
	}
	return "data/thumbs/" + f.Ref + ".jpg"
}

// Missing says why the annex holds no bytes of a file; empty where it does.
func (f File) Missing() string { return tidy(f.Left) }

// ClaimedWords say what a photo says of its own time, and whether it is over a day from
// when it was received.
func (f File) ClaimedWords() string {
	said := tidy(f.Claimed)
	if said == "" {
		return ""
	}
	for _, layout := range []string{time.RFC3339, "2006-01-02T15:04:05"} {
		t, err := time.Parse(layout, said)
		if err != nil {
			continue
		}
		said = strings.Replace(t.Format("2006-01-02 15:04 -07:00"), " +00:00", "", 1)
		if layout != time.RFC3339 {
			said = t.Format("2006-01-02 15:04")
		}
		if apart := f.Received.Time().Sub(t); f.Received != 0 && (apart > 24*time.Hour || apart < -24*time.Hour) {
			said += ", over a day apart"
		}
		break
	}
	return said
}

// NumberWords say why a line of the list for the police may not be in a claim; empty where
// there is no such list.
func (s Statement) NumberWords() string {
	if s.Kind != Insurance || s.Loss == nil {
		return ""
	}
	return "Line numbers are those of the list for the police. A line that stands there and not here is not asked in this claim: its tool is of an owner whom the policy is not recorded as covering, and the claim is theirs, or it was withdrawn."
}

// LeftOut says what could have been added and was not, and what is never in a packet.
func (s Statement) LeftOut() string {
	var out []string
	for _, a := range Additions {
		if !s.Has(a) {
			out = append(out, string(a))
		}
	}
	never := "Never in it: what is not covered or not proven, limits of policies, what might be paid, and prices and papers of tools of other owners who did not share them."
	if len(out) == 0 {
		return never
	}
	return "Not asked for: " + strings.Join(out, ", ") + ". " + never
}

// zones keeps those that were read: a paper of many lines says many times.
var zones sync.Map

// Place is the zone in which its times are said. Check has seen that there is one.
func (s Statement) Place() *time.Location {
	if known, ok := zones.Load(s.Zone); ok {
		return known.(*time.Location)
	}
	loc, err := time.LoadLocation(s.Zone)
	if err != nil {
		return time.UTC
	}
	zones.Store(s.Zone, loc)
	return loc
}

// When says an instant as the clock on the wall shows it; not recorded for none.
func (s Statement) When(i dates.Instant) string {
	if i == 0 {
		return NotRecorded
	}
	return i.Time().In(s.Place()).Format("2006-01-02 15:04")
}

// SeenWords say when the record shows a tool last, and by what, in words that a stranger
// to the shop reads.
func (s Statement) SeenWords(l Line) string {
	switch how := tidy(l.SeenHow); how {
	case "":
		return s.When(l.LastSeen)
	case "custody":
		return s.When(l.LastSeen) + ", when it was taken, returned or handed over"
	default:
		return s.When(l.LastSeen) + ", " + how
	}
}

// Money says an amount with its currency; not recorded for none.
func (s Statement) Money(minor *int64) string {
	if minor == nil {
		return NotRecorded
	}
	return s.amount(minor)
}

// MoneyOf says an amount of a line: that its owner does not share it, or not recorded, for
// none.
func (s Statement) MoneyOf(l Line, minor *int64) string {
	if minor == nil && !l.Money {
		return NotShared
	}
	return s.Money(minor)
}

func (s Statement) amount(minor *int64) string {
	return units.Money{Minor: *minor, Currency: s.Currency}.String()
}

// Day is that to which ages are counted: of the loss, of the fault, or of the packet.
func (s Statement) Day() dates.Date {
	switch {
	case s.Loss != nil && s.Loss.Found != 0:
		return s.Loss.Found.Day(s.Place())
	case s.Claim != nil && s.Claim.FaultOn != "":
		return s.Claim.FaultOn
	}
	return s.Created.Day(s.Place())
}

// Age says how old a tool was on the day of the statement, in complete months.
func (s Statement) Age(l Line) string {
	day := s.Day()
	if l.Bought == "" && !l.Money {
		return NotShared
	}
	if l.Bought == "" || day == "" || l.Bought > day {
		return NotRecorded
	}
	months := dates.CompleteMonths(l.Bought, day)
	age := units.Count(months%12, "month")
	if months >= 12 {
		age = units.Count(months/12, "year") + " " + age
	}
	return age + " on " + string(day)
}

// Receipt says by what the purchase is shown.
func (l Line) Receipt() string {
	var refs []string
	for _, f := range l.Files {
		switch evidence.Kind(f.Kind) {
		case evidence.Receipt, evidence.Account, evidence.Card:
			words := f.Ref + " " + f.Words()
			if gap := f.Gap(); gap != "" {
				words += ", which CANNOT BE SHOWN: " + gap
			}
			refs = append(refs, words)
		}
	}
	switch {
	case len(refs) == 0 && !l.Money:
		return NotShared
	case len(refs) == 0:
		return "no receipt"
	}
	return strings.Join(refs, ", ")
}

// New says whether a line is of the supplement that a packet is for, and not of an
// earlier list.
func (s Statement) New(l Line) bool { return s.Supplement < 2 || l.Supplement >= s.Supplement }

// Mended says whether a line of an earlier list reads otherwise by now, or came back.
func (s Statement) Mended(l Line) bool { return !s.New(l) && (l.Reworded || l.Recovered != "") }

// WarrantyWords say whether a fault fell within the warranty: through the last day of its
// months, counted from its first (money-and-statistics 3.1). The maker's terms decide.
func (c ClaimPart) WarrantyWords() string {
	if c.Months == 0 {
		return "How long the warranty runs is not recorded: it is not known whether it covers the day of the fault."
	}
	if c.From == "" {
		return fmt.Sprintf("The warranty runs %s; when it began is not recorded: it is not known whether it covers the day of the fault.", units.Count(c.Months, "month"))
	}
	through := c.From.AddMonths(int(c.Months))
	words := fmt.Sprintf("The warranty runs %s from %s, through %s. ", units.Count(c.Months, "month"), c.From, through)
	switch {
	case through == "":
		return fmt.Sprintf("The warranty runs %s from %s: its last day cannot be told.", units.Count(c.Months, "month"), c.From)
	case c.FaultOn == "":
		return words + "The day of the fault is not recorded: it is not known whether it is inside the warranty."
	case c.FaultOn < c.From:
		return words + fmt.Sprintf("The fault of %s is BEFORE it began.", c.FaultOn)
	case c.FaultOn > through:
		return words + fmt.Sprintf("The fault of %s is OUTSIDE it by %s.", c.FaultOn, units.Count(dates.DaysBetween(through, c.FaultOn), "day"))
	}
	return words + fmt.Sprintf("The fault of %s is INSIDE it.", c.FaultOn)
}

// RegisterDoubts say why a register of stolen property may not take the owner's number:
// it takes 1 to 20 letters and digits, not letters alone, not zeros alone, and not the
// serial number again (Wisconsin DOJ TIME manual, owner-applied number edits;
// identity-labels-evidence 6.1).
func (l Line) RegisterDoubts() (out []string) {
	if l.OwnersNo == "" {
		return nil
	}
	key, digits := "", 0
	for _, r := range strings.ToUpper(l.OwnersNo) {
		if r >= '0' && r <= '9' {
			digits++
		}
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			key += string(r)
		}
	}
	if n := len([]rune(key)); n < 1 || n > 20 {
		out = append(out, fmt.Sprintf("the owner's number has %d letters and digits; registers take 1 to 20", n))
	}
	if digits == 0 {
		out = append(out, "the owner's number holds no digit; registers may not take letters alone")
	}
	if key != "" && strings.Trim(key, "0") == "" {
		out = append(out, "the owner's number is zeros alone; registers may not take it")
	}
	if key != "" && key == l.SerialKey {
		out = append(out, "the owner's number is the serial number again; registers want two different ones")
	}
	return out
}
