package claims

import (
	"testing"

	"pawl/model/dates"
)

// What was held back is to be asked for by the day that was entered, else by that which the
// policy's days give; where neither is known, that is said and no day is made up
// (money-and-statistics 1.2: claim windows are set by policy and state, no default).
func TestTheRestHasADay(t *testing.T) {
	paid := func(on dates.Date, p Payment) Fact { return Fact{On: on, Amount: ptr(int64(39900)), Payment: p} }
	withdrawn := paid("2026-12-10", PaidActualCash)
	withdrawn.Withdrawn = 1
	told := Fact{On: "2026-12-01", What: "adjuster came"}
	keeps := Holdback{Keeps: true}
	known := Holdback{Keeps: true, Days: 180, Due: "2027-05-22"}
	for name, c := range map[string]struct {
		claim Claim
		facts []Fact
		held  Holdback
		what  string // empty: nothing is due
		day   dates.Date
		why   string
	}{
		"nothing was paid":           {Claim{Kind: Insurance}, []Fact{told}, known, "", "", ""},
		"days of the policy":         {Claim{Kind: Insurance}, []Fact{told, paid("2026-12-10", PaidActualCash)}, known, AskForRest, "2027-05-22", "180 days after the loss, by the policy"},
		"nobody said of what":        {Claim{Kind: Insurance}, []Fact{paid("2026-12-10", "")}, known, AskForRest, "2027-05-22", "180 days after the loss, by the policy"},
		"entered":                    {Claim{Kind: Insurance, HoldbackDue: "2027-03-01"}, []Fact{paid("2026-12-10", PaidActualCash)}, known, AskForRest, "2027-03-01", ""},
		"entered, nothing paid yet":  {Claim{Kind: Insurance, HoldbackDue: "2027-03-01"}, nil, keeps, AskForRest, "2027-03-01", ""},
		"not known":                  {Claim{Kind: Insurance}, []Fact{paid("2026-12-20", ""), paid("2026-12-10", PaidActualCash)}, keeps, FindOutDay, "2026-12-10", "it is not known: the policy or the insurer's letter says it"},
		"the rest came":              {Claim{Kind: Insurance}, []Fact{paid("2026-12-10", PaidActualCash), paid("2027-02-01", PaidRest)}, known, "", "", ""},
		"entered, and the rest came": {Claim{Kind: Insurance, HoldbackDue: "2027-03-01"}, []Fact{paid("2027-02-01", PaidRest)}, known, "", "", ""},
		"all was paid":               {Claim{Kind: Insurance}, []Fact{paid("2026-12-10", PaidWhole)}, keeps, "", "", ""},
		"taken back":                 {Claim{Kind: Insurance}, []Fact{withdrawn}, keeps, "", "", ""},
		"the policy keeps nothing":   {Claim{Kind: Insurance}, []Fact{paid("2026-12-10", PaidActualCash)}, Holdback{}, "", "", ""},
		"a warranty":                 {Claim{Kind: Warranty}, []Fact{paid("2026-12-10", "")}, keeps, "", "", ""},
	} {
		c.claim.ID = "C-1"
		days := c.claim.Deadlines(c.facts, c.held)
		if c.what == "" {
			if len(days) != 0 {
				t.Errorf("%s: %+v", name, days)
			}
			continue
		}
		if len(days) != 1 || days[0] != (Deadline{"C-1/holdback", c.what, c.day, c.why}) || days[0].Unknown() != (c.what == FindOutDay) {
			t.Errorf("%s: %+v", name, days)
		}
	}
}

// What is left of a claim is told only where all that is asked, and all that was paid, is
// on record in one currency.
func TestPaidOf(t *testing.T) {
	paid := func(minor int64, currency string) Fact { return Fact{Amount: &minor, Currency: currency} }
	gone := paid(999_00, "USD")
	gone.Withdrawn = 1
	for _, c := range []struct {
		name   string
		facts  []Fact
		unsaid bool
		want   string
	}{
		{"nothing yet", []Fact{{}}, false, "paid so far 0.00 USD of 500.00 USD that is asked: at most 500.00 USD is left"},
		{"two payments, one taken back", []Fact{paid(300_00, "USD"), gone, paid(50_00, "USD")}, false, "paid so far 350.00 USD of 500.00 USD that is asked: at most 150.00 USD is left"},
		{"more than asked", []Fact{paid(600_00, "USD")}, false, "paid so far 600.00 USD of 500.00 USD that is asked: at most 0.00 USD is left"},
		{"not all is asked", []Fact{paid(300_00, "USD")}, true, "paid so far 300.00 USD; not all that is asked is on record, so what is left is NOT KNOWN"},
		{"paid in another currency", []Fact{paid(300_00, "EUR")}, false, "what was paid is not all in USD, so what is left is NOT KNOWN"},
	} {
		if got := PaidOf(c.facts, 500_00, c.unsaid, "USD"); got != c.want {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
}
