package claims

import "pawl/model/dates"

// Format names the form of a statement that this program writes and reads.
const Format = "pawl statement 1"

// Statement is all that the papers of a packet say, frozen: the claim document, the
// police sheet, the inventory and the annex are drawn from it and from nothing else,
// so that the same line has the same number and the same words on each of them.
// Amounts are minor units of Currency; nil is not known or not shown.
type Statement struct {
	Format     string        `json:"format"`
	Kind       ClaimKind     `json:"kind"`
	Packet     string        `json:"packet,omitempty"`
	Created    dates.Instant `json:"created"`
	Ledger     string        `json:"ledger"` // origin of its checkpoint
	Size       int64         `json:"size"`   // lines of the ledger under the checkpoint
	Zone       string        `json:"zone"`   // IANA; times on paper are its
	Currency   string        `json:"currency"`
	Paper      string        `json:"paper"` // letter, a4
	Shop       string        `json:"shop"`
	Supplement int64         `json:"supplement"`       // 1 = the first
	Added      []Addition    `json:"added"`            // what is off by default and was asked for
	Thumbs     bool          `json:"thumbs,omitempty"` // the annex holds small views of its photos

	Claim *ClaimPart `json:"claim,omitempty"`
	Loss  *LossPart  `json:"loss,omitempty"`
	Lines []Line     `json:"lines"`
	Off   []OffLine  `json:"off,omitempty"` // lines of lists that were given out, which stand no more
	Files []File     `json:"files"`         // of the loss as a whole: forced entry, police report
	Facts []FactPart `json:"facts"`
}

// Addition is something that a packet holds only when it was asked for.
type Addition string

// Additions.
const (
	AddActualCash  Addition = "actual cash value"
	AddMarket      Addition = "market value"
	AddTightenings Addition = "tightenings"
	AddRechecks    Addition = "rechecks"
	AddOverrides   Addition = "overrides"
	AddJobs        Addition = "jobs"
	AddCustomers   Addition = "customers"
	AddOriginals   Addition = "originals" // photos as received, with the place that they carry
)

// Additions lists them in the order in which they are offered.
var Additions = []Addition{AddActualCash, AddMarket, AddTightenings, AddRechecks, AddOverrides, AddJobs, AddCustomers, AddOriginals}

// ClaimPart is what is said of the claim.
type ClaimPart struct {
	ID             string     `json:"id"`
	Insured        string     `json:"insured"`
	Contact        string     `json:"contact"`
	Policy         string     `json:"policy"`
	PolicyNumber   string     `json:"policy_number"`
	ClaimNumber    string     `json:"claim_number"`
	Adjuster       string     `json:"adjuster"`
	AdjusterAt     string     `json:"adjuster_at"`
	OtherInsurance string     `json:"other_insurance"`
	Fault          string     `json:"fault"`
	FaultOn        dates.Date `json:"fault_on"`
	Replacement    string     `json:"replacement"`        // number of the tool that it was swapped for
	ReplacementIs  string     `json:"replacement_serial"` // its serial
	From           dates.Date `json:"warranty_from"`      // of a warranty; empty: when it began is not recorded
	Months         int64      `json:"warranty_months"`    // 0: how long it runs is not recorded
}

// LossPart is what is said of the loss.
type LossPart struct {
	ID       string        `json:"id"`
	Kind     LossKind      `json:"kind"`
	Found    dates.Instant `json:"found"`
	Secure   dates.Instant `json:"secure"`
	Spot     string        `json:"where"`
	Entered  string        `json:"entered"`
	Locks    string        `json:"locks"`
	Alarm    string        `json:"alarm"`
	Cameras  string        `json:"cameras"`
	Keys     string        `json:"keys"`
	Closed   string        `json:"closed"`
	Opened   string        `json:"opened"`
	Agency   string        `json:"agency"`
	Report   string        `json:"report"`
	Officer  string        `json:"officer"`
	Reported dates.Date    `json:"reported"`
}

// Line is one tool. Quantity is always 1: a set is one tool with its pieces.
type Line struct {
	Tool    string `json:"tool"`     // its id; on no paper
	OwnerID string `json:"owner_id"` // person id; empty = the shop
	Money   bool   `json:"money"`    // its money and papers are shown

	Line       int64    `json:"line"`
	Supplement int64    `json:"supplement"`
	Number     string   `json:"number"`
	Numbers    []string `json:"numbers"` // all that it answers to
	Kind       string   `json:"kind"`
	Maker      string   `json:"maker"`
	Model      string   `json:"model"` // or catalog number
	Pieces     []string `json:"pieces"`
	Notes      string   `json:"notes"` // size, material, color, marks, as recorded

	Serial     string `json:"serial"`      // as read, an uncertain character as ?
	SerialKey  string `json:"serial_key"`  // letters and digits only, as registers of stolen property search it
	SerialSaid string `json:"serial_said"` // how sure it is, or why there is none, in words
	Lot        string `json:"lot"`
	OwnersNo   string `json:"owners_number"` // permanent on the tool; never the label
	OwnersNoAt string `json:"owners_number_at"`
	Condition  string `json:"condition"`
	Owner      string `json:"owner"`
	Outside    bool   `json:"outside,omitempty"` // the owner is somebody outside the shop

	Bought dates.Date `json:"bought"`
	Seller string     `json:"seller"`
	Price  *int64     `json:"price"` // before tax
	Tax    *int64     `json:"tax"`
	Owed   *int64     `json:"owed"`
	OwedTo string     `json:"owed_to"`
	OwedOn dates.Date `json:"owed_on"`

	Replacement *int64     `json:"replacement"`
	CostOf      string     `json:"cost_of"` // quote, price paid: where the replacement cost is from
	CostSource  string     `json:"cost_source"`
	CostDated   dates.Date `json:"cost_dated"`
	ActualCash  *int64     `json:"actual_cash"` // only with AddActualCash
	Working     string     `json:"working"`     // its arithmetic
	Market      *int64     `json:"market"`      // only with AddMarket
	MarketBy    string     `json:"market_by,omitempty"`
	MarketDated dates.Date `json:"market_dated,omitempty"`
	Claimed     *int64     `json:"claimed"`

	Registered  dates.Instant `json:"registered"`
	AfterLoss   bool          `json:"after_loss"` // recorded after the loss
	LastSeen    dates.Instant `json:"last_seen"`
	SeenHow     string        `json:"seen_how"`
	LeftBehind  string        `json:"left_behind"`
	Confirmed   dates.Instant `json:"confirmed"` // 0 = missing, not confirmed
	Recovered   dates.Date    `json:"recovered"`
	RecoveredBy string        `json:"recovered_by"`
	RecoveredIn string        `json:"recovered_in"`
	Reworded    bool          `json:"reworded,omitempty"` // it reads otherwise than on the papers given out before

	Files []File   `json:"files"`
	Extra []string `json:"extra"` // what was added on purpose, a line each
}

// OffLine is a line that stands on papers given out before and is on the list no more. Its
// number is given to no other.
type OffLine struct {
	Line       int64  `json:"line"`
	Supplement int64  `json:"supplement"`
	Number     string `json:"number"`
	Kind       string `json:"kind"`
	Why        string `json:"why"`
}

// File is one photo or paper. Ref is how the papers call it (P12), Path where it is in
// the annex; both are of the whole statement and fixed.
type File struct {
	Record    string        `json:"record"` // id of the evidence; on no paper
	Copy      bool          `json:"copy"`   // the annex holds a copy without the place that the photo carries
	Left      string        `json:"left"`   // why the annex holds no bytes of it; empty: it does
	Ref       string        `json:"ref"`
	Kind      string        `json:"kind"` // a token of evidence.Kind
	Path      string        `json:"path"`
	SHA256    string        `json:"sha256"`
	MediaType string        `json:"media_type"`
	Bytes     int64         `json:"bytes"`
	Received  dates.Instant `json:"received"`
	Claimed   string        `json:"claimed"`          // what the photo says of its time
	WhyNot    string        `json:"why_not"`          // empty: it can be shown on paper; else why it cannot
	Grade     *int64        `json:"grade,omitempty"`  // of the marking check that a photo of a serial plate was taken at: 4 best, 0 worst; nil: none
	Graded    dates.Date    `json:"graded,omitempty"` // the day of that check
}

// FactPart is a dated fact of the claim.
type FactPart struct {
	On     dates.Date `json:"on"`
	What   string     `json:"what"`
	Amount *int64     `json:"amount"`
}
