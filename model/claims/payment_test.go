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
