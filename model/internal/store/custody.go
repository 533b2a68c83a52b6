package store

import "pawl/model/custody"

// LastLoan gives a tool's latest stretch in somebody's hands: the open one, or
// the one that ended last.
func (r *Rx) LastLoan(tool string) (custody.Loan, error) {
	l, found, err := one[custody.Loan](r, "tool = ? AND ended IS NULL", tool)
	if err != nil || found {
		return l, err
	}
	return r.LastEnded(tool)
}

// OpenLoans gives the open loans among tools.
func (r *Rx) OpenLoans(tools []string) ([]custody.Loan, error) {
	return many[custody.Loan](r, "tool", 0, "tool IN ? AND ended IS NULL", tools)
}

// LoansAway gives the stretches in which tools were away, oldest first.
func (r *Rx) LoansAway(tools ...string) ([]custody.Loan, error) {
	return many[custody.Loan](r, "since, id", 0, "tool IN ? AND state = 'away'", tools)
}

// endedOrder is the order in which the stretches of a tool ended: by time, and before that
// by how often the clock had gone back.
const endedOrder = "(coalesce(setbacks, 0), ended, since, id)"

const latestEnded = "coalesce(setbacks, 0) DESC, ended DESC, since DESC, id DESC"

// LastEnded gives the stretch of a tool that ended last, whether or not it is in
// somebody's hands again: what is missing of it is missing still.
func (r *Rx) LastEnded(tool string) (custody.Loan, error) {
	return first(many[custody.Loan](r, latestEnded, 1, "tool = ? AND ended IS NOT NULL", tool))
}

// EndedBefore gives the stretch of the same tool that ended last before another did, or of
// one that is open, last of all; none is the zero loan.
func (r *Rx) EndedBefore(l custody.Loan) (custody.Loan, error) {
	if l.Open() {
		return r.LastEnded(l.Tool)
	}
	return first(many[custody.Loan](r, latestEnded, 1, "tool = ? AND ended IS NOT NULL AND "+endedOrder+" < (?, ?, ?, ?)", l.Tool, l.Setbacks, l.Ended, l.Since, l.ID))
}

func first(list []custody.Loan, err error) (custody.Loan, error) {
	if err != nil || len(list) == 0 {
		return custody.Loan{}, err
	}
	return list[0], nil
}

// Incomplete gives, of the loan of each of the tools as LastEnded picks it, those from
// which pieces did not come back. That the tool is out again makes it no more complete.
func (r *Rx) Incomplete(tools []string) ([]custody.Loan, error) {
	return many[custody.Loan](r, "tool", 0, `tool IN ? AND ended IS NOT NULL AND missing IS NOT NULL AND NOT EXISTS (SELECT 1 FROM loans later WHERE later.tool = loans.tool
		AND later.ended IS NOT NULL AND (coalesce(later.setbacks, 0), later.ended, later.since, later.id) > (coalesce(loans.setbacks, 0), loans.ended, loans.since, loans.id))`, tools)
}

// OpenWrongs gives what is reported wrong with any of the tools and not
// cleared, oldest first.
func (r *Rx) OpenWrongs(tools ...string) ([]custody.Wrong, error) {
	return many[custody.Wrong](r, `"at", id`, 0, "tool IN ? AND cleared IS NULL", tools)
}

// LoansOf gives what a person has, oldest first.
func (r *Rx) LoansOf(person string) ([]custody.Loan, error) {
	return many[custody.Loan](r, "since, id", 0, "person = ? AND ended IS NULL", person)
}

// LoanEndedAt gives the loan of the same tool that ended in the very act by which
// another began: from its hands the tool went on. None is the zero loan.
func (r *Rx) LoanEndedAt(next custody.Loan) (custody.Loan, error) {
	l, _, err := one[custody.Loan](r, "tool = ? AND ended = ? AND id <> ? AND ended_how IN ?", next.Tool, next.Since, next.ID,
		[]custody.End{custody.HandedOver, custody.WentAway})
	return l, err
}

// WasBackSince says whether a stretch, or one of the same tool after it, ended in the
// shop: it was put back, or came back from where it was away.
func (r *Rx) WasBackSince(l custody.Loan) (bool, error) {
	if l.EndedHow == custody.Returned || l.EndedHow == custody.CameBack {
		return true, nil
	}
	_, found, err := one[custody.Loan](r, "tool = ? AND ended IS NOT NULL AND "+endedOrder+" > (?, ?, ?, ?) AND ended_how IN ?", l.Tool, l.Setbacks, l.Ended, l.Since, l.ID,
		[]custody.End{custody.Returned, custody.CameBack})
	return found, err
}
