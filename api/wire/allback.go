package wire

import (
	"pawl/model/dates"
	"pawl/model/register"
)

// JobChange edits a job; absent members stay.
type JobChange struct {
	Vehicle *string `json:"vehicle,omitempty"`
	VIN     *string `json:"vin,omitempty"`
	Safety  *string `json:"safety,omitempty"`
}

// AllBack is what is on record of a job: what was taken to it, what does not add up,
// what is held for the customer, and who looked.
type AllBack struct {
	Job       string        `json:"job"`
	Vehicle   string        `json:"vehicle"`
	Safety    string        `json:"safety"`
	Closed    dates.Instant `json:"closed"`
	Back      *bool         `json:"back"`  // every recorded take is back, sets were looked at, nothing is open; null: nothing is recorded as taken
	Takes     int           `json:"takes"` // recorded
	TakesBack int           `json:"takes_back"`
	Elsewhere int           `json:"elsewhere"` // takes handed on, away or gone, by the record
	Sets      int           `json:"sets"`
	Looked    int           `json:"sets_looked_at"`
	Open      int           `json:"open"` // findings that nobody answered for
	Flagged   bool          `json:"flagged"`
	Words     string        `json:"words"` // all of it in a sentence
	Tools     []JobTool     `json:"tools"`
	Findings  []Finding     `json:"findings"` // open ones first
	Held      []HeldThing   `json:"held"`
	Looks     []JobLook     `json:"looks"`
	Holds     []Use         `json:"holds"`
	Tell      []string      `json:"tell"`     // what the vehicle's owner must know
	Override  *JobReason    `json:"override"` // of a manager, to close it over what was open
	Reopened  *JobReason    `json:"reopened"` // to open it again, the last time
	Scanned   []JobScan     `json:"scanned"`  // of the look that this answers
	Cautions  []string      `json:"cautions"`
}

// JobReason is why somebody did with a job what needs a reason.
type JobReason struct {
	Why string        `json:"why"`
	By  string        `json:"by"`
	At  dates.Instant `json:"at"`
}

// JobTool is one tool that was taken to a job.
type JobTool struct {
	Number          string          `json:"number"`
	Kind            string          `json:"kind"`
	Maker           string          `json:"maker"`
	Model           string          `json:"model"`
	State           string          `json:"state"`  // back, out, handed on, away, gone, lost
	Person          *string         `json:"person"` // who has it, or where it is away
	OnJob           *string         `json:"on_job"` // that it was handed on to
	Since           dates.Instant   `json:"since"`
	Takes           int             `json:"takes"`
	Pieces          register.Pieces `json:"pieces"` // of a set
	LookedAt        dates.Instant   `json:"looked_at"`
	Missing         register.Pieces `json:"missing"`
	Condition       string          `json:"condition"`
	Broken          string          `json:"broken"`
	FragmentMissing bool            `json:"fragment_missing"`
	DoNotUse        *string         `json:"do_not_use"`
}

// Finding is one thing that does not add up on a job.
type Finding struct {
	ID         string        `json:"id"`
	Job        string        `json:"job"`
	Sort       string        `json:"sort"` // tool missing, piece missing, fragment missing, extra, held thing
	Number     *string       `json:"number"`
	Kind       *string       `json:"kind"`
	What       string        `json:"what"` // the piece, the fragment, the thing
	Count      int64         `json:"count"`
	At         dates.Instant `json:"at"`
	By         string        `json:"by"`
	Words      string        `json:"words"`
	Answer     *string       `json:"answer"` // found, known elsewhere, searched and not found; null: open
	Where      string        `json:"where"`
	Who        string        `json:"who"`
	AnsweredBy *string       `json:"answered_by"`
	AnsweredAt dates.Instant `json:"answered_at"`
	Flagged    bool          `json:"flagged"` // it was searched for and not found at some time
	ToldAt     dates.Instant `json:"told_at"`
	Told       string        `json:"told"`       // how the vehicle's owner was told
	NotInSet   bool          `json:"not_in_set"` // a piece that was found, and that its set lacks by the record
}

// Findings are those of all jobs that are not settled.
type Findings struct {
	Findings []Finding `json:"findings"`
	Next     *string   `json:"next"`
}

// AnswerFinding answers for a finding.
type AnswerFinding struct {
	Answer string `json:"answer,omitempty"`
	Where  string `json:"where,omitempty"`
	Who    string `json:"who,omitempty"`
	Told   string `json:"told,omitempty"`
	InSet  bool   `json:"in_set,omitempty"` // they saw the piece in its set again
}

// HeldThing is a thing of the customer's that the shop keeps while the job is open.
type HeldThing struct {
	ID      string        `json:"id"`
	What    string        `json:"what"`
	Since   dates.Instant `json:"since"`
	By      string        `json:"by"`
	Given   dates.Instant `json:"given"`
	GivenTo *string       `json:"given_to"`
	GivenBy *string       `json:"given_by"`
}

// Hold keeps a thing of the customer's.
type Hold struct {
	What string `json:"what"`
}

// GiveHeld gives one back, by its id or its words.
type GiveHeld struct {
	Thing string `json:"thing"`
	To    string `json:"to"`
}

// JobLook is one look at what was on a job.
type JobLook struct {
	Sort    string          `json:"sort"`   // asked, set, seen
	Before  *string         `json:"before"` // engine, handover
	Number  *string         `json:"number"`
	At      dates.Instant   `json:"at"`
	By      string          `json:"by"`
	Missing register.Pieces `json:"missing"`
	Result  *string         `json:"result"` // of what was asked: back, not back
	Words   string          `json:"words"`
}

// JobScan is what came of one label that was scanned.
type JobScan struct {
	Scanned string       `json:"scanned"`
	Number  *string      `json:"number"`
	Kind    *string      `json:"kind"`
	Done    *string      `json:"done"` // returned, seen, still out, extra; null: nothing
	Person  *string      `json:"person"`
	Finding *string      `json:"finding"`
	Problem *ScanTrouble `json:"problem"`
}

// ScanTrouble is why one of several was not done.
type ScanTrouble struct {
	Kind    string `json:"kind"`
	Message string `json:"message"`
	Hint    string `json:"hint"`
}

// LookAtJob is one look at what was on a job.
type LookAtJob struct {
	Before  string      `json:"before,omitempty"`  // engine, handover
	Scanned []string    `json:"scanned,omitempty"` // labels, as they were read
	Sets    []LookAtSet `json:"sets,omitempty"`
}

// LookAtSet is a set that was looked at; nothing missing: all are there.
type LookAtSet struct {
	Number  string   `json:"number"`
	Missing []string `json:"missing,omitempty"`
}

// CloseJob closes a job; an override is a manager's reason to close it over what is
// open.
type CloseJob struct {
	Override string `json:"override,omitempty"`
}

// ReopenJob opens a closed job again.
type ReopenJob struct {
	Why string `json:"why"`
}
