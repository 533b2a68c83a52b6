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
	Condition  *Condition  `json:"condition"`     // what its condition takes off; null: nothing
	Indexed    *Indexed    `json:"indexed"`       // the price paid, moved by the index; null: there is a quote, or no such figure
	Tax        *TaxLine    `json:"tax,omitempty"` // only when asked for
}

// Condition is what the condition of a tool takes off its value.
type Condition struct {
	Share  string `json:"share"`
	Reason string `json:"reason"`
}

// Indexed is a price moved by a price index; it is no quote.
type Indexed struct {
	Amount    string  `json:"amount"`
	Label     string  `json:"label"` // "indexed, not quoted"
	Series    string  `json:"series"`
	Area      string  `json:"area"`
	Base      string  `json:"base"`
	FromMonth string  `json:"from_month"`
	FromValue string  `json:"from_value"`
	ToMonth   string  `json:"to_month"`
	ToValue   string  `json:"to_value"`
	Change    float64 `json:"change_percent"` // to one decimal
}

// TaxLine is a tool in the tax book; not tax advice.
type TaxLine struct {
	Basis      *string     `json:"basis"` // null: there is no figure, and why_none says why
	In         *dates.Date `json:"placed_in_service"`
	Convention *string     `json:"convention"`
	Period     int         `json:"recovery_years"`
	Years      []TaxYear   `json:"years"`
	SoFar      *string     `json:"through_this_year"`
	Left       *string     `json:"left"`
	Harbor     bool        `json:"within_de_minimis"` // an election is not assumed
	WhyNone    *string     `json:"why_none"`
}

// TaxYear is what falls on a year.
type TaxYear struct {
	Year   int    `json:"year"`
	Amount string `json:"amount"`
}

// TaxPlaced is what an owner placed in service in a year, by what is on record.
type TaxPlaced struct {
	Owner       string `json:"owner"`
	Year        int    `json:"year"`
	Basis       string `json:"basis"`
	LastQuarter string `json:"last_three_months"`
	MidQuarter  bool   `json:"mid_quarter"` // over 40 % of it: the mid-quarter convention, by these figures
}

// TaxBook is what stands over the tax column.
type TaxBook struct {
	Placed  []TaxPlaced `json:"placed"`
	Caution string      `json:"caution"`
}

// ToolWorth is what one tool is worth, with its quotes.
type ToolWorth struct {
	WorthTool
	Currency string   `json:"currency"`
	Quotes   []Quote  `json:"quotes"` // newest entered first
	Cautions []string `json:"cautions"`
}

// Quote is what a new tool costs, or what a used one sells for.
type Quote struct {
	Amount string     `json:"amount"`
	Source string     `json:"source"`
	Dated  dates.Date `json:"dated"`
	Basis  string     `json:"basis"` // replacement, market
}

// NewQuote is a quote as typed.
type NewQuote struct {
	Amount string `json:"amount"`
	Source string `json:"source"`
	Date   string `json:"date"`
	Basis  string `json:"basis,omitempty"` // replacement, market; empty is replacement
}

// NewCondition is a condition as typed; both empty end what was judged before.
type NewCondition struct {
	Share  string `json:"share,omitempty"`
	Reason string `json:"reason,omitempty"`
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
	From   string `json:"from"` // "assumed" or "set by the shop"
}

// Lives are how long the shop takes tools to be of use.
type Lives struct {
	Lives []LifeOf `json:"lives"`
	Next  *string  `json:"next"`
}

// LifeOf is the life of a class or a kind.
type LifeOf struct {
	Life
	ID    *string `json:"id"` // null: assumed
	Of    string  `json:"of"` // "class" or "kind"
	By    *string `json:"by"` // who set it
	Since *string `json:"since"`
}

// NewLife is a life as typed: of a class or of a kind.
type NewLife struct {
	Class  string `json:"class,omitempty"`
	Kind   string `json:"kind,omitempty"`
	Months string `json:"months"`
	Floor  string `json:"floor"`
}

// IndexPoint is one published value of a price index.
type IndexPoint struct {
	Series string `json:"series"`
	Area   string `json:"area"`
	Base   string `json:"base"`
	Month  string `json:"month"`
	Value  string `json:"value"`
}

// PriceIndex is the index that the shop goes by, by month.
type PriceIndex struct {
	Values []IndexPoint `json:"values"`
	Next   *string      `json:"next"`
}

// IndexReport is what an import of index values did.
type IndexReport struct {
	DryRun    bool `json:"dry_run"`
	Rows      int  `json:"rows"`
	Added     int  `json:"added"`
	Changed   int  `json:"changed"`
	Unchanged int  `json:"unchanged"`
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
	HoldbackDays *int64        `json:"holdback_days"` // null: nobody said
	Since        dates.Instant `json:"since"`
	Ended        dates.Instant `json:"ended"`
}

// PolicyChange is what is to be changed of a policy, as typed.
type PolicyChange struct {
	Name         *string   `json:"name,omitempty"`
	Limit        *string   `json:"limit,omitempty"`
	Deductible   *string   `json:"deductible,omitempty"`
	Coinsurance  *string   `json:"coinsurance,omitempty"`
	Basis        *string   `json:"basis,omitempty"`
	OtherCovered *string   `json:"other_covered_value,omitempty"`
	Order        *string   `json:"order,omitempty"`
	HoldbackDays *string   `json:"holdback_days,omitempty"`
	Sublimits    *[]string `json:"sublimits,omitempty"`
	Employees    *bool     `json:"employees,omitempty"`
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
	HoldbackDays string   `json:"holdback_days,omitempty"`
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
	Index    *IndexPoint      `json:"index"`         // that prices paid are moved by, at its reference month; null: none
	Unmoved  int              `json:"not_indexed"`   // prices paid in months of which it has no value
	Tax      *TaxBook         `json:"tax,omitempty"` // only when asked for
	Tools    []WorthTool      `json:"tools"`
	More     int              `json:"more"`
	Next     *string          `json:"next"`
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
	Held   *string        `json:"holdback"`      // at best, after all is replaced; null: nothing is held back
	Days   *int64         `json:"holdback_days"` // within which it is to be claimed; null: nobody said
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
	Next     *string    `json:"next"`
	Cautions []string   `json:"cautions"`
}
