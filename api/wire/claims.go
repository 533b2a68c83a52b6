package wire

import "pawl/model/dates"

// StartLoss reports a loss. Place has what is left there counted; tools are numbers.
type StartLoss struct {
	Kind   string   `json:"kind"`
	Found  string   `json:"found"`
	Secure string   `json:"secure,omitempty"`
	Where  string   `json:"where"`
	Place  string   `json:"place,omitempty"`
	Tools  []string `json:"tools,omitempty"`
}

// LossLine is a loss in a list.
type LossLine struct {
	ID          string        `json:"id"`
	Kind        string        `json:"kind"`
	Found       dates.Instant `json:"found"`
	Where       string        `json:"where"`
	Tools       int           `json:"tools"`       // lines that you may see, those that were withdrawn too
	StillGone   int           `json:"still_gone"`  // of them, those that are not back
	Unconfirmed int           `json:"unconfirmed"` // of them, those that are missing and no more is said
	Report      *string       `json:"report"`      // number of the police report
	Started     dates.Instant `json:"started"`
	StartedBy   string        `json:"started_by"`
}

// Losses are losses, newest first.
type Losses struct {
	Losses []LossLine `json:"losses"`
	Next   *string    `json:"next"`
}

// Loss is one loss with those of its tools that the asker may see.
type Loss struct {
	ID         string        `json:"id"`
	Rev        int64         `json:"rev"`
	Kind       string        `json:"kind"`
	Found      dates.Instant `json:"found"`
	Secure     dates.Instant `json:"secure"`
	Where      string        `json:"where"`
	Place      *string       `json:"place"`       // where what is left was counted
	Count      *string       `json:"count"`       // id of that count
	CountState *string       `json:"count_state"` // open, paused or closed
	ToLookFor  int           `json:"to_look_for"` // tools of it that nobody accounted for yet
	Entered    string        `json:"entered"`
	Locks      string        `json:"locks"`
	Alarm      string        `json:"alarm"`
	Cameras    string        `json:"cameras"`
	Keys       string        `json:"keys"`
	Closed     string        `json:"closed"`
	Opened     string        `json:"opened"`
	Police     *LossPolice   `json:"police"` // null: not reported
	Given      int64         `json:"given"`  // the newest supplement whose list was given out; 0: none
	Started    dates.Instant `json:"started"`
	StartedBy  string        `json:"started_by"`
	Tools      []LossTool    `json:"tools"`
	Held       []HeldTool    `json:"held"`
	Evidence   []Evidence    `json:"evidence"`
	Claims     []LossClaim   `json:"claims"`
	Advice     []string      `json:"advice"`
}

// LossPolice is the report to the police.
type LossPolice struct {
	Agency   string     `json:"agency"`
	Report   *string    `json:"report"` // null: the number is to come
	Officer  *string    `json:"officer"`
	Reported dates.Date `json:"reported"`
}

// LossTool is one tool of a loss.
type LossTool struct {
	Line       int64          `json:"line"`
	Supplement int64          `json:"supplement"`
	Number     string         `json:"number"`
	Kind       string         `json:"kind"`
	Maker      string         `json:"maker"`
	Model      string         `json:"model"`
	Serial     *string        `json:"serial"`
	Owner      string         `json:"owner"`
	Outside    bool           `json:"owner_outside"` // on the list for the police, in no claim of the shop
	State      string         `json:"state"`
	AfterLoss  bool           `json:"recorded_after_loss"`
	LastSeen   dates.Instant  `json:"last_seen"` // before the loss
	SeenHow    *string        `json:"seen_how"`
	SeenSince  dates.Instant  `json:"seen_since"` // of one that is missing: the record shows it after the loss was found out
	LeftBehind string         `json:"left_behind"`
	Condition  string         `json:"condition"`
	Confirmed  dates.Instant  `json:"confirmed"`
	Recovered  *LossRecovered `json:"recovered"`
	Withdrawn  *LossWithdrawn `json:"withdrawn"`
}

// LossRecovered is how a tool came back.
type LossRecovered struct {
	On        dates.Date `json:"on"`
	By        string     `json:"by"` // number, serial or reading
	At        string     `json:"at"`
	Condition string     `json:"condition"`
}

// LossWithdrawn is why a tool was not of the loss.
type LossWithdrawn struct {
	At  dates.Instant `json:"at"`
	Why string        `json:"why"`
}

// HeldTool is a tool that was not seen, and that somebody has by the record.
type HeldTool struct {
	Number string `json:"number"`
	Kind   string `json:"kind"`
	Words  string `json:"words"`
}

// LossClaim is a claim on a loss.
type LossClaim struct {
	ID     string `json:"id"`
	Policy string `json:"policy"`
}

// LossChange is a change of what is told of a loss; an empty text takes it away.
type LossChange struct {
	Secure  *string `json:"secure,omitempty"`
	Where   *string `json:"where,omitempty"`
	Entered *string `json:"entered,omitempty"`
	Locks   *string `json:"locks,omitempty"`
	Alarm   *string `json:"alarm,omitempty"`
	Cameras *string `json:"cameras,omitempty"`
	Keys    *string `json:"keys,omitempty"`
	Closed  *string `json:"closed,omitempty"`
	Opened  *string `json:"opened,omitempty"`
}

// LossLineChange says more of one tool of a loss.
type LossLineChange struct {
	Number     string  `json:"number"`
	LeftBehind *string `json:"left_behind,omitempty"`
	Condition  *string `json:"condition,omitempty"`
	LastSeen   *string `json:"last_seen,omitempty"`
	SeenHow    *string `json:"seen_how,omitempty"`
}

// LossTools names tools of a loss.
type LossTools struct {
	Numbers    []string `json:"numbers,omitempty"`
	Supplement bool     `json:"supplement,omitempty"` // begin the next list
}

// WithdrawFromLoss says that a tool was not of a loss.
type WithdrawFromLoss struct {
	Number string `json:"number"`
	Why    string `json:"why"`
}

// PoliceReport is what is known of the report to the police; what is absent stays.
type PoliceReport struct {
	Agency   *string `json:"agency,omitempty"`
	Report   *string `json:"report,omitempty"`
	Officer  *string `json:"officer,omitempty"`
	Reported *string `json:"reported,omitempty"` // today where it was never said
}

// LossEvidence names photos and papers of a loss as a whole.
type LossEvidence struct {
	Evidence []Attach `json:"evidence"`
}

// Recovered is a tool that came back: one of number, serial and reading names it.
type Recovered struct {
	Number    string `json:"number,omitempty"`
	Serial    string `json:"serial,omitempty"`
	Reading   string `json:"reading,omitempty"`
	On        string `json:"on,omitempty"` // today where it is not said
	At        string `json:"at,omitempty"`
	Condition string `json:"condition,omitempty"`
}

// NewClaim opens a claim: one on a policy names a loss, others a tool.
type NewClaim struct {
	Kind   string `json:"kind"`
	Loss   string `json:"loss,omitempty"`
	Policy string `json:"policy,omitempty"` // its name
	Number string `json:"number,omitempty"`
	Fault  string `json:"fault,omitempty"`
	On     string `json:"on,omitempty"` // day of the fault; today where it is not said
}

// ClaimLine is a claim in a list.
type ClaimLine struct {
	ID       string        `json:"id"`
	Kind     string        `json:"kind"`
	Loss     *string       `json:"loss"`
	Policy   *string       `json:"policy"`
	Number   *string       `json:"number"` // of the tool that it is about
	Owner    string        `json:"owner"`
	Opened   dates.Instant `json:"opened"`
	OpenedBy string        `json:"opened_by"`
	Awaited  *Deadline     `json:"awaited"` // the next; null: none is recorded
}

// Claims are claims, newest first.
type Claims struct {
	Claims []ClaimLine `json:"claims"`
	Next   *string     `json:"next"`
}

// Deadline is a day by which somebody waits for something.
type Deadline struct {
	What string     `json:"what"`
	On   dates.Date `json:"on"`
	Why  string     `json:"why"` // that day, where nobody entered it
}

// Claim is one claim.
type Claim struct {
	ClaimLine
	Rev            int64          `json:"rev"`
	ToolKind       *string        `json:"tool_kind"`
	Insured        string         `json:"insured"`
	Contact        string         `json:"contact"`
	PolicyNumber   string         `json:"policy_number"`
	ClaimNumber    string         `json:"claim_number"`
	Adjuster       string         `json:"adjuster"`
	AdjusterAt     string         `json:"adjuster_at"`
	OtherInsurance string         `json:"other_insurance"`
	Fault          string         `json:"fault"`
	FaultOn        dates.Date     `json:"fault_on"`
	Warranty       *ClaimWarranty `json:"warranty"`
	Replacement    *Replacement   `json:"replacement"`
	ProofDue       dates.Date     `json:"proof_due"`
	SuitDue        dates.Date     `json:"suit_due"`
	HoldbackDue    dates.Date     `json:"holdback_due"`
	AnswerDue      dates.Date     `json:"answer_due"`
	Deadlines      []Deadline     `json:"deadlines"` // those entered, and what follows from a payment; the next first
	Tools          []ClaimTool    `json:"tools"`
	LeftOut        []LeftOut      `json:"left_out"`
	Claimed        string         `json:"claimed"`        // what is asked, added up
	ClaimedUnsaid  int            `json:"claimed_unsaid"` // tools of which no amount is on record, or yours to see
	Facts          []Fact         `json:"facts"`
	Advice         []string       `json:"advice"`
}

// ClaimWarranty says whether a fault fell into the warranty.
type ClaimWarranty struct {
	Within  string      `json:"within"`  // inside, outside or unknown
	Through *dates.Date `json:"through"` // its last day; null: not known
}

// Replacement is what a tool was exchanged for.
type Replacement struct {
	Number string `json:"number"`
	Serial string `json:"serial"`
}

// ClaimTool is one tool of an insurance claim.
type ClaimTool struct {
	LossTool
	Claimed *string `json:"claimed"` // what is asked for it
	Owed    *string `json:"owed"`    // still owed on it
	OwedTo  *string `json:"owed_to"`
	Hidden  bool    `json:"theirs_to_show"` // its money is its owner's to show
}

// LeftOut is a tool of a loss that is not in a claim.
type LeftOut struct {
	Line   int64  `json:"line"`
	Number string `json:"number"`
	Kind   string `json:"kind"`
	Owner  string `json:"owner"`
	Why    string `json:"why"`
}

// Fact is a dated fact of a claim.
type Fact struct {
	ID        string         `json:"id"`
	On        dates.Date     `json:"on"`
	What      string         `json:"what"`
	Amount    *string        `json:"amount"`
	Payment   *string        `json:"payment"`   // actual cash, rest or whole; null: nobody said
	Withdrawn *FactWithdrawn `json:"withdrawn"` // null: it stands
}

// FactWithdrawn says why a fact that was entered by mistake stands no more.
type FactWithdrawn struct {
	At  dates.Instant `json:"at"`
	Why string        `json:"why"`
}

// WithdrawFact is why a fact is taken back.
type WithdrawFact struct {
	Why string `json:"why"`
}

// ClaimChange is a change of a claim; an empty text takes a value away.
type ClaimChange struct {
	Insured        *string `json:"insured,omitempty"`
	Contact        *string `json:"contact,omitempty"`
	PolicyNumber   *string `json:"policy_number,omitempty"`
	ClaimNumber    *string `json:"claim_number,omitempty"`
	Adjuster       *string `json:"adjuster,omitempty"`
	AdjusterAt     *string `json:"adjuster_at,omitempty"`
	OtherInsurance *string `json:"other_insurance,omitempty"`
	Fault          *string `json:"fault,omitempty"`
	FaultOn        *string `json:"fault_on,omitempty"`
	ProofDue       *string `json:"proof_due,omitempty"`
	SuitDue        *string `json:"suit_due,omitempty"`
	HoldbackDue    *string `json:"holdback_due,omitempty"`
	AnswerDue      *string `json:"answer_due,omitempty"`
}

// NewFact records a dated fact.
type NewFact struct {
	On     string `json:"on"`
	What   string `json:"what"`
	Amount string `json:"amount,omitempty"`
	// Payment says what the amount is of: actual cash, rest or whole.
	Payment string `json:"payment,omitempty"`
}

// ClaimAmounts records what is asked for tools.
type ClaimAmounts struct {
	Amounts []ClaimAmount `json:"amounts"`
}

// ClaimAmount is what is asked for one tool; an empty amount takes it away.
type ClaimAmount struct {
	Number string `json:"number"`
	Amount string `json:"amount"`
}
