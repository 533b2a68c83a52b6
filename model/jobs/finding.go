package jobs

import (
	"fmt"
	"slices"
	"strings"

	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/names"
	"pawl/model/units"
)

// Sort is what sort of thing does not add up on a job. The rules that they come from
// are those of tool control programs: a set with a piece missing is a missing tool, a
// broken tool is not accounted for until every fragment is found (essay on
// COMNAVAIRFORINST 4790.2B), and an extra one is a wrong count too (AORN clinical
// questions, 2015).
type Sort string

const (
	ToolMissing     Sort = "tool missing"
	PieceMissing    Sort = "piece missing"
	FragmentMissing Sort = "fragment missing"
	Extra           Sort = "extra"
	StillHeld       Sort = "held thing"
)

// Answer is how a finding is answered for.
type Answer string

const (
	Found          Answer = "found"
	KnownElsewhere Answer = "known elsewhere"
	NotFound       Answer = "searched and not found"
)

// Answers are the words taken.
var Answers = []Answer{Found, KnownElsewhere, NotFound}

// ParseAnswer takes one of Answers.
func ParseAnswer(s string) (Answer, error) {
	a := Answer(names.Key(s))
	if !slices.Contains(Answers, a) {
		return "", fault.New(fault.Invalid, "%.40q does not answer for what is open", s).WithHint("use found, known elsewhere, or searched and not found")
	}
	return a, nil
}

// Finding is the recorded row of one thing that does not add up on a job.
type Finding struct {
	ID         string `gorm:"primaryKey"`
	Rev        int64
	Job        string
	Tool       string // id; empty for a held thing
	Loan       string // id of the stretch on the job that it came of
	Held       string // id of the held thing
	Sort       Sort
	What       string // the piece, the fragment, the thing
	Count      int64  // pieces
	At         dates.Instant
	Person     string // who found it; empty = the shop
	Answer     Answer // empty: open
	Spot       string // where it was found, where was searched
	Whom       string // with whom it is, by whom was searched
	AnsweredBy string
	AnsweredAt dates.Instant
	MissedAt   dates.Instant // when it was first searched for and not found: never taken back
	ToldAt     dates.Instant // when the vehicle's owner was told
	ToldHow    string
}

// TableName names the table of findings.
func (Finding) TableName() string { return "findings" }

// FindingID is the id of what a row leaves open by itself, a tool that is still out
// or a thing still held: the same characters, whose check still holds, behind the
// letter Z.
func FindingID(source string) string {
	if len(source) < 2 {
		return ""
	}
	return "Z" + source[1:]
}

// SourceID is the id of the row of the given letter that a finding follows from.
func SourceID(letter byte, finding string) string {
	if len(finding) < 2 || finding[0] != 'Z' {
		return ""
	}
	return string(letter) + finding[1:]
}

// Open says whether nobody answered for it yet.
func (f Finding) Open() bool { return f.Answer == "" }

// Flags says whether the vehicle's owner must know of it, for ever: it was searched
// for and not found at some time.
func (f Finding) Flags() bool { return f.MissedAt != 0 }

// Reply is what somebody says of a finding; texts are checked.
type Reply struct {
	Answer     Answer
	Spot, Whom string
	Told       string // how the vehicle's owner was told; empty: not yet
}

// Take answers for the finding. What was found stays so; what was known elsewhere or
// searched for may be answered anew, since things turn up. A fault is Invalid at
// the member that is lacking, or a Conflict.
func (f *Finding) Take(r Reply, by string, at dates.Instant) error {
	if r.Answer == "" && r.Told == "" {
		return fault.At("#/answer", "say how it is answered for").WithHint("use found, known elsewhere, or searched and not found")
	}
	if r.Told != "" && r.Answer != NotFound && (r.Answer != "" || !f.Flags()) {
		return fault.At("#/told", "the vehicle's owner is told of what was searched for and not found")
	}
	if r.Answer != "" {
		if err := f.takeAnswer(r, by, at); err != nil {
			return err
		}
	}
	if r.Told != "" {
		f.ToldAt, f.ToldHow = at, r.Told
	}
	return nil
}

func (f *Finding) takeAnswer(r Reply, by string, at dates.Instant) error {
	if f.Answer == Found {
		return fault.New(fault.Conflict, "%s is answered for already: found, %s", f.ID, f.Spot).WithFact("since", f.AnsweredAt.String()).WithHint("nothing to answer")
	}
	if f.Sort == Extra && r.Answer == NotFound {
		return fault.At("#/answer", "an extra is here: it cannot be searched for").WithHint("say found with where it belongs, or known elsewhere with whose it is")
	}
	var bad fault.Problems
	switch {
	case r.Answer == Found && r.Spot == "":
		bad.Add("#/where", "say where it was found")
	case r.Answer == KnownElsewhere && r.Whom == "":
		bad.Add("#/who", "say with whom it is")
	case r.Answer == NotFound:
		if r.Spot == "" {
			bad.Add("#/where", "say where was searched")
		}
		if r.Whom == "" {
			bad.Add("#/who", "say by whom it was searched for")
		}
	}
	if err := bad.Err(); err != nil {
		return err
	}
	f.Answer, f.Spot, f.Whom, f.AnsweredBy, f.AnsweredAt = r.Answer, r.Spot, r.Whom, by, at
	if r.Answer == NotFound && f.MissedAt == 0 {
		f.MissedAt = at
	}
	return nil
}

// Says puts how it was answered for into words; "" while it is open.
func (f Finding) Says() string {
	switch f.Answer {
	case Found:
		return "found: " + f.Spot
	case KnownElsewhere:
		return join("known elsewhere: with "+f.Whom, f.Spot)
	case NotFound:
		return "searched and not found, by " + f.Whom + ": " + f.Spot
	}
	return ""
}

func join(a, b string) string {
	if b == "" {
		return a
	}
	return a + ", " + b
}

// Held is the recorded row of a thing of the customer's that the shop keeps while
// the job is open: a key, the key of the wheel locks.
type Held struct {
	ID      string `gorm:"primaryKey"`
	Rev     int64
	Job     string
	What    string
	At      dates.Instant
	Person  string // who took it in
	GivenAt dates.Instant
	GivenTo string
	GivenBy string
}

// TableName names the table of held things.
func (Held) TableName() string { return "held" }

// Moment is when *all back?* is asked.
type Moment string

const (
	BeforeEngine   Moment = "engine"
	BeforeHandover Moment = "handover"
)

// ParseMoment takes one of the moments; none is none.
func ParseMoment(s string) (Moment, error) {
	switch m := Moment(strings.ToLower(strings.TrimSpace(s))); m {
	case "", BeforeEngine, BeforeHandover:
		return m, nil
	}
	return "", fault.New(fault.Invalid, "%.40q is not a moment to ask", s).WithHint("use engine, before it is started, or handover")
}

// LookSort is what somebody looked at.
type LookSort string

const (
	LookAsked LookSort = "asked" // whether all is back
	LookSet   LookSort = "set"   // a set, piece by piece
	LookSeen  LookSort = "seen"  // a tool that came back, by its label
)

// Look is the recorded row of one look at what was on a job.
type Look struct {
	ID      string `gorm:"primaryKey"`
	Rev     int64
	Job     string
	Tool    string // id; empty: the job as a whole
	Sort    LookSort
	Before  Moment
	At      dates.Instant
	Person  string // who looked; empty = the shop
	Missing string // JSON list of pieces that are not in the set
	Result  string // of what was asked: back, not back, or nothing recorded
	Words   string // as it was answered
}

// TableName names the table of looks.
func (Look) TableName() string { return "looks" }

// Tally counts what is on record of a job.
type Tally struct {
	Takes, Back   int // recorded takes, and those of them that are in place again
	Elsewhere     int // handed on, away or gone, by the record
	Out           []string
	Sets, Looked  int
	Open, Flagged int // findings without an answer; searched and not found
}

// AllBack says whether every recorded take is back or elsewhere by the record, each set
// was looked at, and nothing is open or was searched for in vain: a set with a piece
// missing is a missing tool, and what broke is not accounted for until every fragment
// is found. Of no takes it is false: what nobody recorded cannot be counted back.
func (t Tally) AllBack() bool {
	return t.Takes > 0 && t.placed() && t.Looked == t.Sets && t.Open == 0 && t.Flagged == 0
}

// Unknown says whether the record cannot answer: nothing is recorded as taken, and
// nothing does not add up. A count begins from a list of what went in (perioperative
// recommended practices on counts, AORN 2006, excerpt); without one nobody knows.
func (t Tally) Unknown() bool { return t.Takes == 0 && t.Open == 0 && t.Flagged == 0 }

// placed says whether every recorded take is back, or elsewhere by the record.
func (t Tally) placed() bool { return t.Back+t.Elsewhere == t.Takes }

// Words says it in one sentence, which never claims more than the record has.
func (t Tally) Words() string {
	var out []string
	switch {
	case t.Takes == 0:
		out = append(out, "nothing is recorded as taken to this job")
	case t.Back == t.Takes:
		out = append(out, is(t.Takes, "recorded take")+" back")
	case t.placed():
		out = append(out, fmt.Sprintf("%d of %s back", t.Back, is(t.Takes, "recorded take")))
	default:
		out = append(out, fmt.Sprintf("NOT BACK: %s; %d of %s", strings.Join(t.Out, ", "), t.Back, is(t.Takes, "recorded take")+" back"))
	}
	if t.Elsewhere > 0 {
		out = append(out, fmt.Sprintf("%d elsewhere by the record: handed on, away or gone", t.Elsewhere))
	}
	if t.Sets > 0 && t.Looked == t.Sets {
		out = append(out, units.Count(t.Sets, "set")+" looked at")
	} else if t.Sets > 0 {
		out = append(out, fmt.Sprintf("%d of %s looked at", t.Looked, units.Count(t.Sets, "set")))
	}
	if t.Open > 0 {
		out = append(out, units.Count(t.Open, "finding")+" not answered for")
	}
	if t.Flagged > 0 {
		out = append(out, fmt.Sprintf("%d searched for and not found", t.Flagged))
	}
	return strings.Join(append(out, "tools nobody scanned are not covered"), "; ")
}

func is(n int, word string) string {
	if n == 1 {
		return units.Count(n, word) + " is"
	}
	return units.Count(n, word) + " are"
}
