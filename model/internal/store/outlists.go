package store

import (
	"slices"

	"pawl/model/custody"
	"pawl/model/dates"
)

// OutQuery picks the rows of a list of custody.Lists; empty members do not narrow.
type OutQuery struct {
	Which   custody.Which
	Also    []custody.Which // the tool is on those lists too; they come later among custody.Lists
	Due     dates.Instant   // Overdue: due before it
	Since   dates.Instant   // LongOut: out since before it
	Left    []string        // LeftWith: ids of those who left
	Places  []string        // ids; the tool belongs in one of them
	Owner   *string         // person id; "" = the shop
	From    string          // name of an owner outside
	Person  string          // id: who has it
	AfterAt dates.Instant
	AfterID string
	Limit   int
}

// outParts is a list as conditions on one table, in its order.
type outParts struct {
	where, order string
	args         []any
}

func (p *outParts) and(clause string, args ...any) {
	p.where, p.args = p.where+" AND "+clause, append(p.args, args...)
}

// parts writes a list so that an index holds it in its order: loans_due, loans_out,
// loans_person or wrongs_newest. A tool that is out of use is there once, by the oldest
// of its open reports.
func (q OutQuery) parts() outParts {
	p := outParts{where: "ended IS NULL", order: "since, id"}
	person, table, key := "person = ?", "loans", "since"
	switch q.Which {
	case custody.Overdue:
		p.order, key = "due, id", "due"
	case custody.Unfit:
		p.where, p.order = "cleared IS NULL", `"at", id`
		person, table, key = "EXISTS (SELECT 1 FROM loans l WHERE l.tool = wrongs.tool AND l.ended IS NULL AND l.person = ?)", "wrongs", `"at"`
		p.and(`what <> 'label gone' AND NOT EXISTS (SELECT 1 FROM wrongs earlier WHERE earlier.tool = wrongs.tool AND earlier.cleared IS NULL
			AND earlier.what <> 'label gone' AND (earlier."at", earlier.id) < (wrongs."at", wrongs.id))
			AND EXISTS (SELECT 1 FROM tools t WHERE t.id = wrongs.tool AND t.gone IS NULL)`)
	}
	q.ofLoans(&p)
	if q.Person != "" {
		p.and(person, q.Person)
	}
	of := "EXISTS (SELECT 1 FROM tools t WHERE t.id = " + table + ".tool AND "
	if q.Places != nil {
		p.and(of+"t.place IN ?)", q.Places)
	}
	if q.Owner != nil {
		p.and(of+"coalesce(t.owner, '') = ? AND t.outsider IS NULL)", *q.Owner)
	}
	if q.From != "" {
		p.and(of+"t.outsider = ?)", q.From)
	}
	if q.AfterID != "" {
		p.and("("+key+", id) > (?, ?)", int64(q.AfterAt), q.AfterID)
	}
	return p
}

// ofLoans narrows a list of loans to what is on each of the lists that are asked for.
func (q OutQuery) ofLoans(p *outParts) {
	for _, which := range append([]custody.Which{q.Which}, q.Also...) {
		switch {
		case which == custody.Overdue:
			p.and("due IS NOT NULL AND due < ?", int64(q.Due))
		case which == custody.LongOut:
			p.and("state = 'out' AND since < ?", int64(q.Since))
		case which == custody.LeftWith:
			p.and("state = 'out' AND person IN ?", q.Left)
		case q.Which != custody.Unfit:
			p.and(`EXISTS (SELECT 1 FROM wrongs w WHERE w.tool = loans.tool AND w.cleared IS NULL AND w.what <> 'label gone')
				AND EXISTS (SELECT 1 FROM tools t WHERE t.id = loans.tool AND t.gone IS NULL)`)
		}
	}
}

// nobody says that the list is of tools out to people of whom there are none.
func (q OutQuery) nobody() bool {
	return (q.Which == custody.LeftWith || slices.Contains(q.Also, custody.LeftWith)) && len(q.Left) == 0
}

// OutLoans gives the rows of a list of loans, the longest first.
func (r *Rx) OutLoans(q OutQuery) ([]custody.Loan, error) {
	if q.nobody() {
		return nil, nil
	}
	p := q.parts()
	return many[custody.Loan](r, p.order, q.Limit, p.where, p.args...)
}

// UnfitNow gives the oldest open report of each tool that is out of use, the longest
// first.
func (r *Rx) UnfitNow(q OutQuery) ([]custody.Wrong, error) {
	p := q.parts()
	return many[custody.Wrong](r, p.order, q.Limit, p.where, p.args...)
}

// CountOut counts the rows of a list, no further than its limit.
func (r *Rx) CountOut(q OutQuery) (n int64, err error) {
	if q.nobody() {
		return 0, nil
	}
	p, table := q.parts(), "loans"
	if q.Which == custody.Unfit {
		table = "wrongs"
	}
	some := r.g.Table(table).Select("id").Where(p.where, p.args...).Limit(q.Limit)
	return n, r.g.Table("(?) AS bounded", some).Count(&n).Error
}
