package worth

import (
	"encoding/json"
	"math/big"
	"slices"
	"strconv"
	"strings"

	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/names"
	"pawl/model/people"
	"pawl/model/register"
	"pawl/model/units"
)

// Basis is what a policy pays a tool by.
type Basis string

const (
	ByReplacement Basis = "rcv" // replacement cost, less depreciation until it is replaced
	ByActualCash  Basis = "acv" // replacement cost less depreciation
)

// Policy is the recorded row of one policy, as somebody read it off the paper.
// Amounts are minor units of Currency; nil is not known, which is not nothing.
type Policy struct {
	ID           string `gorm:"primaryKey"`
	Rev          int64
	Name         string
	NameKey      string // folded name; unique among the policies in force
	Owner        string // person id; empty = the shop's
	Employees    bool   // it is recorded as covering employees' own tools too
	LimitAmount  *int64
	Deductible   *int64
	Currency     string
	Coinsurance  string // a share; empty = nobody said, 0 = none is asked
	Basis        Basis
	OtherCovered *int64 // what the limit covers besides tools
	Steps        string // their order, as ParseOrder reads it
	Sublimits    string // JSON: a list of {Name, Amount}
	HoldbackDays *int64 // within which what is held back is to be claimed; nil: nobody said
	Since        dates.Instant
	Person       string        // who entered it
	Ended        dates.Instant // 0 = in force
}

// TableName names the table of policies.
func (Policy) TableName() string { return "policies" }

// NewPolicy is a policy as typed.
type NewPolicy struct {
	Name, Limit, Deductible, Coinsurance, Basis, OtherCovered, Order string

	Sublimits    []string // NAME=AMOUNT
	Employees    bool
	HoldbackDays string
}

// maxSublimits is how many a policy may have.
const maxSublimits = 20

// Read reads what was typed, in the shop's currency, or names every value at fault.
func (n NewPolicy) Read(currency string) (p Policy, err error) {
	var bad fault.Problems
	p = Policy{Currency: currency, Employees: n.Employees}
	p.Name, err = names.Check(n.Name)
	bad.Keep("#/name", err)
	p.NameKey = names.Key(p.Name)
	p.LimitAmount = amount(&bad, "limit", n.Limit, currency, "it is on the declarations page")
	p.Deductible = amount(&bad, "deductible", n.Deductible, currency, "it is on the declarations page; 0 where there is none")
	if n.OtherCovered != "" {
		p.OtherCovered = amount(&bad, "other_covered_value", n.OtherCovered, currency, "")
	}
	if n.Coinsurance != "" {
		_, err := ParseShare(n.Coinsurance)
		bad.Keep("#/coinsurance", err)
		p.Coinsurance = n.Coinsurance
	}
	p.Basis = Basis(strings.ToLower(strings.TrimSpace(n.Basis)))
	if p.Basis != ByReplacement && p.Basis != ByActualCash {
		bad.Add("#/basis", "%q is no basis that can be reckoned; use rcv (replacement cost) or acv (actual cash value)", fault.Clip(n.Basis))
	}
	order, err := ParseOrder(n.Order)
	bad.Keep("#/order", err)
	words := make([]string, len(order))
	for i, s := range order {
		words[i] = string(s)
	}
	p.Steps = strings.Join(words, ",")
	p.HoldbackDays = holdbackDays(&bad, n.HoldbackDays)
	p.Sublimits = sublimits(&bad, n.Sublimits, currency)
	return p, bad.Err()
}

// maxHoldback is ten years.
const maxHoldback = 3660

func holdbackDays(bad *fault.Problems, text string) *int64 {
	if text = strings.TrimSpace(text); text == "" {
		return nil
	}
	n, err := strconv.ParseInt(text, 10, 64)
	if err != nil || n < 1 || n > maxHoldback {
		bad.Add("#/holdback_days", "%q is not a whole number of days from 1 to %d", fault.Clip(text), maxHoldback)
		return nil
	}
	return &n
}

// AsTyped gives a policy as it would be typed, so that what stays the same need not
// be typed again.
func (p Policy) AsTyped() (n NewPolicy, err error) {
	text := func(minor *int64) string {
		if minor == nil {
			return ""
		}
		return units.Money{Minor: *minor, Currency: p.Currency}.Decimal()
	}
	n = NewPolicy{Name: p.Name, Limit: text(p.LimitAmount), Deductible: text(p.Deductible), Coinsurance: p.Coinsurance, Basis: string(p.Basis), OtherCovered: text(p.OtherCovered),
		Order: p.Steps, Employees: p.Employees}
	if p.HoldbackDays != nil {
		n.HoldbackDays = strconv.FormatInt(*p.HoldbackDays, 10)
	}
	t, err := p.Terms()
	for _, s := range t.Sublimits {
		n.Sublimits = append(n.Sublimits, s.Name+"="+text(&s.Amount))
	}
	return n, err
}

// HoldbackDue is the last day on which what was held back of a loss can be claimed.
// Policies and states set it, from 180 days to 12 months and more
// (money-and-statistics 1.2): there is no default. Empty is not known.
func (p Policy) HoldbackDue(loss dates.Date) dates.Date {
	if p.HoldbackDays == nil || loss == "" {
		return ""
	}
	return loss.AddDays(int(*p.HoldbackDays))
}

func amount(bad *fault.Problems, name, text, currency, hint string) *int64 {
	if text == "" && hint != "" {
		bad.Add("#/"+name, "the policy's %s is missing; %s", name, hint)
		return nil
	}
	m, err := units.ParseMoney(text, currency)
	bad.Keep("#/"+name, err)
	return &m.Minor
}

func sublimits(bad *fault.Problems, typed []string, currency string) string {
	var all []Sublimit
	if len(typed) > maxSublimits {
		bad.Add("#/sublimits", "%d sublimits are over %d", len(typed), maxSublimits)
		return ""
	}
	for _, text := range typed {
		at := strings.LastIndexByte(text, '=')
		if at < 1 {
			bad.Add("#/sublimits", "%q is not NAME=AMOUNT, such as theft=10000", fault.Clip(text))
			continue
		}
		name, err := names.Check(text[:at])
		bad.Keep("#/sublimits", err)
		m, err := units.ParseMoney(text[at+1:], currency)
		bad.Keep("#/sublimits", err)
		key := names.Key(name)
		if slices.ContainsFunc(all, func(s Sublimit) bool { return s.Name == key }) {
			bad.Add("#/sublimits", "%q is given twice", fault.Clip(name))
		}
		all = append(all, Sublimit{key, m.Minor})
	}
	if len(all) == 0 {
		return ""
	}
	out, err := json.Marshal(all)
	bad.Keep("#/sublimits", err)
	return string(out)
}

// Terms gives what the policy says, to reckon with.
func (p Policy) Terms() (t Terms, err error) {
	if p.LimitAmount != nil {
		t.Limit = *p.LimitAmount
	}
	if p.Deductible != nil {
		t.Deductible = *p.Deductible
	}
	t.OtherCovered = p.OtherCovered
	if p.Coinsurance != "" {
		if t.Coinsurance, err = ParseShare(p.Coinsurance); err != nil {
			return t, err
		}
		t.Coinsurance = new(big.Rat).Set(t.Coinsurance)
	}
	if t.Order, err = ParseOrder(p.Steps); err != nil || p.Sublimits == "" {
		return t, err
	}
	return t, json.Unmarshal([]byte(p.Sublimits), &t.Sublimits)
}

// Covers says whether the policy is recorded as covering the owner of a tool. A
// tool of somebody outside is covered by none here.
func (p Policy) Covers(t register.Tool) bool {
	switch {
	case p.Ended != 0 || t.FromOutside():
		return false
	case p.Owner != "":
		return t.Owner == p.Owner
	}
	return t.Owner == "" || p.Employees
}

// May says whether somebody may see or record the policy: it tells of money as a
// tool's price does.
func (p Policy) May(a people.Actor, ownerShares bool) bool {
	return people.May(a, people.SeeMoney, people.Object{Owner: p.Owner, OwnerShares: ownerShares})
}
