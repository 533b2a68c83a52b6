package counts

import (
	"maps"
	"strings"

	"pawl/model/custody"
	"pawl/model/dates"
	"pawl/model/fault"
)

// Bucket is where a listed tool ends in a count: in exactly one.
type Bucket string

const (
	Seen          Bucket = "seen"
	SeenElsewhere Bucket = "seen elsewhere"
	Incomplete    Bucket = "not complete"    // seen, and pieces of the set are missing
	Confirmed     Bucket = "confirmed"       // by the word of whoever has it
	Moved         Bucket = "moved meanwhile" // it changed hands after the count started, or left: the record accounts for it, and nobody saw it
	StillOut      Bucket = "out"             // since before it, and nobody confirmed it
	StillAway     Bucket = "away"            // likewise
	NotSeen       Bucket = "not seen"
	NotDrawn      Bucket = "not in the sample" // nobody was asked to look for it
)

// Buckets lists all of them, in the order of a report.
var Buckets = []Bucket{Seen, SeenElsewhere, Incomplete, Confirmed, Moved, StillOut, StillAway, NotSeen, NotDrawn}

// Change is the last change of a tool's custody after a count started, or that it left
// for good.
type Change struct {
	Loan custody.Loan
	Gone string // why; empty = it did not
	At   dates.Instant
}

// Changed finds among the loans of one tool the last one that changed after the count
// started and no later than until (0: any time). An act that was entered late counts
// from when it was entered.
func Changed(started, until dates.Instant, loans []custody.Loan) (c Change, moved bool) {
	for _, l := range loans {
		for _, at := range []dates.Instant{l.Since, l.Ended, l.Entered} {
			if at > started && (until == 0 || at <= until) && at >= c.At {
				c, moved = Change{Loan: l, At: at}, true
			}
		}
	}
	return c, moved
}

// Lost says whether a tool that left for good left to nobody of whom it is known: it is
// missing, whatever the record says.
func (c Change) Lost() bool { return c.Gone == "lost" || c.Gone == "stolen" }

// BucketOf says where a listed tool ends: by the look at it, nil for none, else by what
// became of it meanwhile, nil for nothing. A tool that nobody saw is never taken for seen
// because somebody has it on record, and one that was lost is not accounted for, even
// where somebody gave their word before. One that by the record is gone, and was seen, is
// a difference.
func BucketOf(e Entry, s *Sighting, moved *Change) Bucket {
	switch {
	case !e.Look:
		return NotDrawn
	case moved != nil && moved.Lost() && (s == nil || s.Found == ByWord):
		return NotSeen
	case s != nil && len(s.Missing) > 0:
		return Incomplete
	case s != nil && s.Found == ByWord:
		return Confirmed
	case s != nil && s.Found != AsRecorded:
		return SeenElsewhere
	case s != nil:
		return Seen
	case moved != nil:
		return Moved
	case e.State() == custody.Out:
		return StillOut
	case e.State() == custody.Away:
		return StillAway
	}
	return NotSeen
}

// Accounted says whether a tool that ended there is here, or with somebody of whom it
// is known. A set with a piece missing is a missing tool (essay on COMNAVAIRFORINST
// 4790.2B, second hand).
func (b Bucket) Accounted() bool {
	return b == Seen || b == SeenElsewhere || b == Confirmed || b == Moved
}

// AsRecorded says whether the record of such a tool was right, or, of one that moved
// meanwhile, is taken at its word.
func (b Bucket) AsRecorded() bool { return b == Seen || b == Confirmed || b == Moved }

// Differs says whether somebody must settle what became of such a tool.
func (b Bucket) Differs() bool {
	return b == SeenElsewhere || b == Incomplete || b == StillOut || b == StillAway || b == NotSeen
}

// Settlement is how a difference was settled.
type Settlement string

const (
	FoundAt        Settlement = "found"           // it was searched for, and is in a place
	KnownElsewhere Settlement = "known elsewhere" // with somebody, who says so
	RecordMended   Settlement = "record mended"   // the record was wrong, and is right now
	Missing        Settlement = "missing"         // searched for, and not found
)

// Settlements are the words taken.
var Settlements = []Settlement{FoundAt, KnownElsewhere, RecordMended, Missing}

// ParseSettlement takes one of Settlements.
func ParseSettlement(text string) (Settlement, error) {
	how := Settlement(strings.ToLower(strings.TrimSpace(text)))
	for _, s := range Settlements {
		if how == s {
			return s, nil
		}
	}
	return "", fault.New(fault.Invalid, "%q does not settle a difference", text).WithHint("use found, known elsewhere, record mended or missing")
}

// Difference is the recorded row of how one difference of a count was settled.
type Difference struct {
	ID        string `gorm:"primaryKey"`
	Rev       int64
	Count     string
	Tool      string
	How       Settlement
	Place     string // id of where it was found
	Whom      string // who has it, where it is known elsewhere
	Note      string // what was searched, by whom, or how the record was mended
	Person    string // who settled it; empty = the shop
	SettledAt dates.Instant
}

// TableName names the table of differences that were settled.
func (Difference) TableName() string { return "differences" }

// Check holds a settlement to what it must say, and to what was seen: a tool that was
// seen is not missing, and one that nobody saw is not here because its record was mended.
// Bucket is where it ended, empty for a tool that is not listed.
func (d Difference) Check(bucket Bucket) error {
	var bad fault.Problems
	seen := bucket == "" || bucket == SeenElsewhere
	nobody := bucket == NotSeen || bucket == StillOut || bucket == StillAway
	switch {
	case bucket != "" && !bucket.Differs():
		return fault.New(fault.Conflict, "nothing is to be settled: it is %s", bucket).WithHint("nothing to settle")
	case d.How == Missing && seen:
		bad.Add("#/how", "it was seen, and is not missing; settle it as found, known elsewhere or record mended")
	case d.How == RecordMended && nobody:
		bad.Add("#/how", "nobody saw it, and a mended record does not show that it is here; search for it, and settle it as found in its place, known elsewhere with somebody, or missing")
	case d.How == FoundAt && d.Place == "":
		bad.Add("#/at", "say in which place it was found")
	case d.How == KnownElsewhere && d.Whom == "":
		bad.Add("#/with", "say who has it")
	case d.How == RecordMended && d.Note == "" && d.Place == "":
		bad.Add("#/note", "say how the record was mended, or the place where it belongs now")
	}
	return bad.Err()
}

// Numbers counts the listed tools by where they ended; they sum to Listed.
type Numbers struct {
	Listed    int
	Drawn     int // to be looked for
	By        map[Bucket]int
	Extra     int // seen, and not listed
	Unsettled int // differences, extras among them
	Seen      int // drawn, and seen: in their place or not
	ByWord    int // drawn, and with somebody who says so
	Moved     int // drawn, not seen, and by the record handed on, returned, away or sold meanwhile
	Missing   int // drawn, and none of these: looks not made are among them
	Right     int // drawn, and as recorded
}

// Add counts one listed tool that ended in a bucket; settled is nil where nobody
// settled it.
func (n *Numbers) Add(b Bucket, settled *Difference) { n.add(b, settled, 1) }

// Take takes back what Add counted.
func (n *Numbers) Take(b Bucket, settled *Difference) { n.add(b, settled, -1) }

func (n *Numbers) add(b Bucket, settled *Difference, one int) {
	if n.By == nil {
		n.By = map[Bucket]int{}
	}
	n.Listed += one
	n.By[b] += one
	if b == NotDrawn {
		return
	}
	n.Drawn += one
	if b.AsRecorded() {
		n.Right += one
	}
	if b.Differs() && settled == nil {
		n.Unsettled += one
	}
	switch {
	case b == Moved:
		n.Moved += one
	case b == Confirmed, b.heldByWord(settled):
		n.ByWord += one
	case b.Accounted(), settled != nil && settled.How == FoundAt:
		n.Seen += one
	default:
		n.Missing += one
	}
}

// heldByWord says whether a settlement names who has the tool, or says of a set that its
// list of pieces was wrong.
func (b Bucket) heldByWord(settled *Difference) bool {
	return settled != nil && !b.Accounted() && (settled.How == KnownElsewhere || b == Incomplete && settled.How == RecordMended)
}

// AddExtra counts one tool that was seen and is not listed.
func (n *Numbers) AddExtra(settled *Difference) { n.extra(settled, 1) }

// TakeExtra takes back what AddExtra counted.
func (n *Numbers) TakeExtra(settled *Difference) { n.extra(settled, -1) }

func (n *Numbers) extra(settled *Difference, one int) {
	n.Extra += one
	if settled == nil {
		n.Unsettled += one
	}
}

// Clone gives numbers that do not change with these.
func (n Numbers) Clone() Numbers {
	n.By = maps.Clone(n.By)
	return n
}

// Tally is what a count comes to, for State.
func (n Numbers) Tally(confidence float64) Tally {
	return Tally{Listed: n.Listed, Looked: n.Drawn, Seen: n.Seen, ByWord: n.ByWord, Moved: n.Moved, Right: n.Right, Confidence: confidence}
}

// Outcome is what a stratum comes to.
func (n Numbers) Outcome(class string, rule Rule, worth int64) Outcome {
	return Outcome{Class: class, Rule: rule, Listed: n.Listed, Looked: n.Drawn, Seen: n.Seen, ByWord: n.ByWord, Moved: n.Moved, Right: n.Right, Worth: worth}
}

// Ended is one listed tool as it ended when its count was closed: of all but those that
// were seen as recorded, or not looked for.
type Ended struct {
	Tool   string        `json:"tool"`
	Bucket Bucket        `json:"bucket"`
	Loan   string        `json:"loan,omitempty"` // id of the one that changed meanwhile
	Gone   string        `json:"gone,omitempty"` // why it left for good; of one that was lost the bucket is NotSeen
	At     dates.Instant `json:"at,omitempty"`   // when that was
}

// OutcomeRow is the recorded row of one part of how a count ended: custody goes on after
// it, and what the count found stays.
type OutcomeRow struct {
	ID    string `gorm:"primaryKey"`
	Rev   int64
	Count string
	Part  int64  // from 1
	Ended string // JSON list of Ended
}

// TableName names the table of outcomes.
func (OutcomeRow) TableName() string { return "outcomes" }
