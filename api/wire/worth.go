package wire

import "pawl/model/dates"

// WorthTool is a tool with what it is worth. Amounts are text with their currency.
type WorthTool struct {
	Number     string      `json:"number"`
	Kind       string      `json:"kind"`
	Maker      string      `json:"maker"`
	Model      string      `json:"model"`
	Owner      string      `json:"owner"`
	Place      *string     `json:"place"`
	Cost       *string     `json:"replacement_cost"` // null: no figure is on record
	Of         *string     `json:"of"`               // quote, or price paid
	Source     *string     `json:"source"`
	Dated      *dates.Date `json:"dated"`
	Aged       bool        `json:"aged"` // over a year old, or of no date
	ActualCash *string     `json:"actual_cash_value"`
	Working    *string     `json:"working"` // its arithmetic
	Assumed    bool        `json:"age_assumed"`
	Foreign    bool        `json:"other_currency"`
}

// WorthSum adds up tools. What is in no amount is counted.
type WorthSum struct {
	Name       string `json:"name"`
	Tools      int    `json:"tools"`
	Cost       string `json:"replacement_cost"`
	ActualCash string `json:"actual_cash_value"`
	Quotes     int    `json:"from_quotes"`
	Prices     int    `json:"from_prices_paid"`
	Unpriced   int    `json:"unpriced"`
	Foreign    int    `json:"other_currency"`
	Hidden     int    `json:"theirs_to_show"`
}

// Life is how long a class of tools is taken to be of use.
type Life struct {
	Class  string `json:"class"`
	Months int64  `json:"months"`
	Floor  string `json:"floor"`
}

// Policy is what somebody read off a policy.
type Policy struct {
	ID           string        `json:"id"`
	Name         string        `json:"name"`
	Owner        string        `json:"owner"`
	Employees    bool          `json:"employees"`
	Limit        string        `json:"limit"`
	Deductible   string        `json:"deductible"`
	Coinsurance  *string       `json:"coinsurance"` // null: nobody said
	Basis        string        `json:"basis"`
	OtherCovered *string       `json:"other_covered_value"` // null: nobody said
	Order        []string      `json:"order"`
	Sublimits    []Sublimit    `json:"sublimits"`
	Since        dates.Instant `json:"since"`
	Ended        dates.Instant `json:"ended"`
}

// Sublimit caps a group.
type Sublimit struct {
	Name   string `json:"name"`
	Amount string `json:"amount"`
}

// PolicyStanding is a policy against what it covers.
type PolicyStanding struct {
	Policy
	Covered  WorthSum `json:"covered"`
	Adequacy *float64 `json:"adequacy"` // at best, where other covered value is not known
	Gap      string   `json:"gap"`
	Warning  *string  `json:"warning"`
}

// Policies are the policies in force.
type Policies struct {
	Policies []Policy `json:"policies"`
	Next     *string  `json:"next"`
}

// NewPolicy is a policy as typed.
type NewPolicy struct {
	Name         string   `json:"name"`
	Limit        string   `json:"limit"`
	Deductible   string   `json:"deductible"`
	Basis        string   `json:"basis"`
	Coinsurance  string   `json:"coinsurance,omitempty"`
	OtherCovered string   `json:"other_covered_value,omitempty"`
	Order        string   `json:"order,omitempty"`
	Sublimits    []string `json:"sublimits,omitempty"`
	Owner        string   `json:"owner,omitempty"`
	Employees    bool     `json:"employees,omitempty"`
}

// Worth is what the tools are worth.
type Worth struct {
	Currency string           `json:"currency"`
	Today    dates.Date       `json:"today"`
	Total    WorthSum         `json:"total"`
	Outside  int              `json:"outside"` // tools of owners outside, in no figure
	Places   []WorthSum       `json:"places"`
	Owners   []WorthSum       `json:"owners"`
	Policies []PolicyStanding `json:"policies"`
	Lives    []Life           `json:"lives"`
	Tools    []WorthTool      `json:"tools"`
	More     int              `json:"more"`
	Cautions []string         `json:"cautions"`
}

// Range is from the lowest to the highest; null cannot be said.
type Range struct {
	Low  *string `json:"low"`
	High *string `json:"high"`
}

// EstimateLine is one step of an estimate.
type EstimateLine struct {
	Step   *string `json:"step"`
	Words  string  `json:"words"`
	Amount string  `json:"amount"`
}

// LostPolicy is what one policy would bring.
type LostPolicy struct {
	Policy string         `json:"policy"`
	Basis  string         `json:"basis"`
	Lost   WorthSum       `json:"lost"`
	Paid   Range          `json:"paid"`
	First  *Range         `json:"first_payment"` // before anything is replaced; null: the same
	Lines  []EstimateLine `json:"lines"`         // of the highest
	Orders int            `json:"orders"`
	Said   []string       `json:"said"`
}

// Lost is an estimate of what would be paid if tools were lost.
type Lost struct {
	Scope     string       `json:"scope"`
	Currency  string       `json:"currency"`
	Lost      WorthSum     `json:"lost"`
	Outside   int          `json:"outside"`
	Paid      Range        `json:"paid"`
	Unpaid    Range        `json:"unpaid"`
	Policies  []LostPolicy `json:"policies"`
	Uncovered WorthSum     `json:"uncovered"`
	Words     string       `json:"words"`
	Said      []string     `json:"said"`
	Cautions  []string     `json:"cautions"`
}

// QuotesReport is what an import of quotes did.
type QuotesReport struct {
	DryRun    bool     `json:"dry_run"`
	Rows      int      `json:"rows"`
	Added     int      `json:"added"`
	Unchanged int      `json:"unchanged"`
	Numbers   []string `json:"numbers"`
}

// GapTool is a tool that could not be proven today.
type GapTool struct {
	Number  string   `json:"number"`
	Kind    string   `json:"kind"`
	Owner   string   `json:"owner"`
	Place   *string  `json:"place"`
	AtStake *string  `json:"at_stake"` // null: no figure is on record
	Missing []string `json:"missing"`
	Next    string   `json:"next"` // the next best thing to do
}

// GapCount is how many tools lack one thing.
type GapCount struct {
	Missing string `json:"missing"`
	Tools   int    `json:"tools"`
}

// Gaps is what could not be proven today, dearest first.
type Gaps struct {
	Currency string     `json:"currency"`
	AtStake  string     `json:"at_stake"`
	Looked   int        `json:"looked_at"`
	Proven   int        `json:"nothing_missing"`
	Unpriced int        `json:"unpriced"`
	Hidden   int        `json:"theirs_to_show"`
	Missing  []GapCount `json:"missing"`
	Tools    []GapTool  `json:"tools"`
	More     int        `json:"more"`
	Cautions []string   `json:"cautions"`
}
