package counts

import (
	"math"
	"strconv"
	"strings"

	"pawl/model/dates"
	"pawl/model/fault"
)

// Over says what a count is over.
type Over string

const (
	Everything Over = "everything"
	OfPlace    Over = "place"  // the tools that belong there, or in what is in it
	OfPerson   Over = "person" // their own, and what they have
	OfKind     Over = "kind"
)

// Scope is what a count is over, as typed.
type Scope struct {
	Over Over
	Of   string // path, name or kind; empty for everything
}

// ParseScope reads "everything", "place:Bay 1", "person:Tech A" or "kind:torque wrench";
// an empty text is everything. All else is Invalid.
func ParseScope(text string) (Scope, error) {
	sort, of, named := strings.Cut(strings.TrimSpace(text), ":")
	over, of := Over(strings.ToLower(strings.TrimSpace(sort))), strings.TrimSpace(of)
	switch {
	case !named && (over == "" || over == Everything):
		return Scope{Over: Everything}, nil
	case named && of != "" && (over == OfPlace || over == OfPerson || over == OfKind):
		return Scope{Over: over, Of: of}, nil
	}
	return Scope{}, fault.New(fault.Invalid, "%q is nothing that can be counted", text).
		WithHint(`write everything, "place:Bay 1", "person:Tech A" or "kind:torque wrench"`)
}

// String writes the scope as ParseScope reads it.
func (s Scope) String() string {
	if s.Over == Everything || s.Over == "" {
		return string(Everything)
	}
	return string(s.Over) + ":" + s.Of
}

// How says which of the listed tools are looked for.
type How string

const (
	InFull   How = "full"   // all of them
	BySample How = "sample" // as many as find one if so many are missing
	ByStrata How = "strata" // the dearest all, of the others a sample each
	ByUnits  How = "units"  // by money: the dearer, the likelier
)

// Count is the recorded row of one count. What it lists is in its frame, what was seen
// in its sightings.
type Count struct {
	ID     string `gorm:"primaryKey"`
	Rev    int64
	Sort   Over   // what it is over
	Target string // place id, person id or folded kind
	Scope  string // in words, as they were at its start: place:Bay 1
	How    How
	Listed int64
	Drawn  int64  // of them to be looked for
	Digest string // of the frame: see Digest

	Confidence     string // decimal over 0 and under 1
	MissingAtLeast int64  // what the sample was made to find; 0 where none was drawn
	Tolerable      *int64 // of a count by money, minor units of Currency
	Currency       string
	Strata         string // somebody's own, in amounts of Currency, one a line: see OwnStrata
	Redraw         string // id of an earlier sample of the same on that day, or still open

	Started   dates.Instant
	StartedBy string        // person id; empty = the shop
	Paused    dates.Instant // 0 = it goes on
	PausedBy  string
	Closed    dates.Instant // 0 = open
	ClosedBy  string
}

// TableName names the table of counts.
func (Count) TableName() string { return "counts" }

// Level is the confidence of the count's statement as a number, NaN where none can be
// read.
func (c Count) Level() float64 {
	level, err := strconv.ParseFloat(c.Confidence, 64)
	if err != nil {
		return math.NaN()
	}
	return level
}

// Interval is the distance of the units of a count by money, in minor units of its
// currency; see UnitInterval.
func (c Count) Interval() (int64, error) {
	if c.Tolerable == nil {
		return 0, fault.New(fault.Invalid, "count %s is not by money", c.ID)
	}
	return UnitInterval(*c.Tolerable, c.Level(), TableFactor)
}

// Stage is how far a count is.
type Stage string

const (
	Open   Stage = "open"
	Paused Stage = "paused"
	Closed Stage = "closed"
)

// Stage gives how far the count is now.
func (c Count) Stage() Stage {
	switch {
	case c.Closed != 0:
		return Closed
	case c.Paused != 0:
		return Paused
	}
	return Open
}

// MustBeOpen refuses what can only be done while a count goes on; who names whoever
// closed or paused it. The fault is a Conflict that tells who and since when.
func (c Count) MustBeOpen(who func(id string) string) error {
	switch c.Stage() {
	case Closed:
		return fault.New(fault.Conflict, "count %s is closed: nothing changes in it any more", c.ID).
			WithFact("by", who(c.ClosedBy)).WithFact("since", c.Closed.String()).WithHint("start another: pawl count start")
	case Paused:
		return fault.New(fault.Conflict, "count %s is paused", c.ID).
			WithFact("by", who(c.PausedBy)).WithFact("since", c.Paused.String()).WithHint("go on with it: pawl count resume %s", c.ID)
	}
	return nil
}

// MustNotBeClosed is MustBeOpen for what can be done while a count is paused too.
func (c Count) MustNotBeClosed(who func(id string) string) error {
	if c.Stage() == Paused {
		return nil
	}
	return c.MustBeOpen(who)
}

// MayHaveBeenSeen refuses the time of a look that is entered late: it is not in the future,
// and not before the count started.
func (c Count) MayHaveBeenSeen(at, now dates.Instant) error {
	switch {
	case at > now:
		return fault.At("#/happened", "%s is in the future; it is %s now", at, now).WithHint("correct the time; without an offset it is the shop's own")
	case at < c.Started:
		return fault.At("#/happened", "%s is before the count, which started at %s", at, c.Started).WithHint("look again: what was seen before is no part of it")
	}
	return nil
}

// LongBreak is how long nobody may have scanned before whoever goes on with a count is
// asked to look again at the last place: 30 minutes, in microseconds. That a count
// which was interrupted starts again there is from memory, the time is our choice.
const LongBreak = 30 * 60 * 1_000_000

// Interrupted says whether so long passed since the last look, 0 for none, that its
// place should be looked at again.
func Interrupted(last, now dates.Instant) bool { return last != 0 && now-last > LongBreak }

// DrawRow is the recorded row of what a sample is drawn from, kept in an act of its own
// before the list is read: it has the id of the count that it is for.
type DrawRow struct {
	ID         string `gorm:"primaryKey"`
	Rev        int64
	Checkpoint string // the signed note, whole; empty where the seed was chosen
	Nonce      string // 64 hexadecimal digits; empty where the seed was chosen
	Chosen     *int64 // the number that somebody chose; nil: drawn
	Seed       string // 64 hexadecimal digits: Seed of those two, or ChosenSeed
	Drawn      dates.Instant
	Person     string // who asked for it; empty = the shop
}

// TableName names the table of draws.
func (DrawRow) TableName() string { return "draws" }
