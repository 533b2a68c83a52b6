// Package claims holds what happened to tools (a loss), what is asked of somebody
// because of it (a claim) and what is handed over (a packet), and the statement that
// every paper about them is drawn from. What is known of a claim are dated facts,
// not states.
package claims

import (
	"pawl/model/dates"
)

// LossKind says what happened.
type LossKind string

// Kinds of loss.
const (
	Theft   LossKind = "theft"
	Fire    LossKind = "fire"
	Water   LossKind = "water"
	Damage  LossKind = "damage"
	Mislaid LossKind = "lost"
)

// Loss is the recorded row of one loss.
type Loss struct {
	ID      string `gorm:"primaryKey"` // L-…
	Rev     int64
	Kind    LossKind
	Found   dates.Instant // when it was found out
	Secure  dates.Instant // when all was last known to be in order; 0 = nobody said
	Spot    string        // where, in words
	Place   string        // id of the place, when it started from what is left there
	Count   string        // id of the count of what is left
	Entered string        // how they came in: forced entry, unlocked …
	Locks   string
	Alarm   string
	Cameras string
	Keys    string // who has keys
	Closed  string // who closed up, and when
	Opened  string // who opened, and when

	Agency   string // police; empty = not reported yet
	Report   string // its number; may come later
	Officer  string
	Reported dates.Date

	Given      int64  // the newest supplement whose list was handed to the police or the insurer; 0 = none
	GivenSheet string // id of the police sheet that was handed over last; empty = none was
	Started    dates.Instant
	Person     string // who started it; empty = the shop
}

// TableName names the table of losses.
func (Loss) TableName() string { return "losses" }

// LossLine is the recorded row of one tool of a loss. It is missing until somebody
// confirms it. Its number stands on every paper, for police and insurer alike, and
// is never given again.
type LossLine struct {
	ID         string `gorm:"primaryKey"`
	Rev        int64
	Loss       string
	Tool       string
	Line       int64
	Supplement int64         // 1 = the first list; later finds make 2 …
	Confirmed  dates.Instant // that it was stolen, burnt, lost …; 0 = missing
	LastSeen   dates.Instant // 0 = nothing on record
	SeenHow    string        // what it was last seen by, in words
	LeftBehind string        // of this tool: case, charger, box
	Condition  string        // before the loss

	Recovered   dates.Date // empty = still gone
	RecoveredBy string     // number, serial or reading
	RecoveredAt string     // where, and by whom, in words
	RecoveredIn string     // condition it came back in

	Withdrawn    dates.Instant // it was not of this loss; 0 = it is
	WithdrawnWhy string
}

// TableName names the table of the lines of losses.
func (LossLine) TableName() string { return "loss_lines" }

// ClaimKind says of whom something is asked.
type ClaimKind string

// Kinds of claim.
const (
	Insurance ClaimKind = "insurance"
	Warranty  ClaimKind = "warranty"
	Ownership ClaimKind = "ownership" // to show whose a tool is: to the police, a buyer, a seller
)

// Claim is the recorded row of one claim.
type Claim struct {
	ID     string `gorm:"primaryKey"` // C-…
	Rev    int64
	Kind   ClaimKind
	Loss   string // of an insurance claim
	Tool   string // of a warranty claim, or of one on ownership
	Policy string // of an insurance claim
	Owner  string // person id, of a person's own policy or tool; empty = the shop

	Insured        string // named insured
	Contact        string // how to reach them
	PolicyNumber   string
	ClaimNumber    string
	Adjuster       string
	AdjusterAt     string // how to reach them
	OtherInsurance string

	Fault       string     // of a warranty claim
	FaultOn     dates.Date //
	Replacement string     // tool id, once it was swapped

	ProofDue    dates.Date // sworn proof of loss; the policy or the insurer's letter says when
	SuitDue     dates.Date
	HoldbackDue dates.Date // to ask for the second payment
	AnswerDue   dates.Date // whatever else somebody waits for

	Opened dates.Instant
	Person string
}

// TableName names the table of claims.
func (Claim) TableName() string { return "claims" }

// Fact is the recorded row of one dated fact of a claim: reported, adjuster came,
// first payment, closed.
type Fact struct {
	ID       string `gorm:"primaryKey"`
	Rev      int64
	Claim    string
	On       dates.Date `gorm:"column:day"`
	What     string
	Amount   *int64 // minor units of Currency
	Currency string
	Payment  Payment // what the amount is of; empty: nobody said
	Entered  dates.Instant
	Person   string

	Withdrawn dates.Instant // it was entered by mistake; 0 = it stands
	Why       string        // it was withdrawn
}

// TableName names the table of facts.
func (Fact) TableName() string { return "claim_facts" }

// ClaimLine is the recorded row of what is asked for one tool in one claim.
type ClaimLine struct {
	ID       string `gorm:"primaryKey"`
	Rev      int64
	Claim    string
	Tool     string
	Line     int64  // of the loss; 0 in a claim without one
	Amount   *int64 // minor units of Currency; nil = nothing is said
	Currency string
	Entered  dates.Instant
	Person   string
}

// TableName names the table of amounts that are asked for.
func (ClaimLine) TableName() string { return "claim_lines" }

// Packet is the recorded row of one packet that was built, or of a police sheet that was
// handed over before any. The statement that it was drawn from is kept, byte for byte, as an original under its SHA-256: what was handed
// over can be built again, the same to the byte, whatever was learned since.
type Packet struct {
	ID          string `gorm:"primaryKey"`
	Rev         int64
	Claim       string // empty for one about ownership alone
	Tool        string // of one about ownership
	Loss        string // of a police sheet alone, which has no annex and no fingerprint
	Supplement  int64
	Lines       int64  // size of the ledger whose checkpoint it carries
	Statement   string // SHA-256 of the statement
	Fingerprint string // SHA-256 of the tag manifest of its annex
	Added       string // what was put in on purpose, as Added prints it
	Created     dates.Instant
	Person      string
}

// TableName names the table of packets.
func (Packet) TableName() string { return "packets" }

// Everything is what Added says of the copy that is kept elsewhere.
const Everything = "everything"
