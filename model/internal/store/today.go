package store

import (
	"pawl/model/custody"
	"pawl/model/dates"
)

// Overdue gives open loans that were due before an instant, longest overdue first: those
// of a person, or all where none is named.
func (r *Rx) Overdue(before dates.Instant, person string, limit int) ([]custody.Loan, error) {
	if person == "" {
		return many[custody.Loan](r, "due, id", limit, "ended IS NULL AND due IS NOT NULL AND due < ?", before)
	}
	return many[custody.Loan](r, "due, id", limit, "ended IS NULL AND person = ? AND due IS NOT NULL AND due < ?", person, before)
}

// WrongNow gives open reports of some kinds on tools that are not gone, newest first.
func (r *Rx) WrongNow(limit int, of ...custody.What) ([]custody.Wrong, error) {
	var kinds []any
	for _, what := range of {
		kinds = append(kinds, string(what))
	}
	return many[custody.Wrong](r, `"at" DESC, id`, limit, "cleared IS NULL AND what IN ("+marks(len(of))+") AND EXISTS (SELECT 1 FROM tools WHERE tools.id = wrongs.tool AND tools.gone IS NULL)", kinds...)
}

// maxKinds is the most kinds that are listed to pick from.
const maxKinds = 500

// Kinds gives the kinds of tool that there are, by name. It leaps from one to
// the next in the index, whatever the number of tools.
func (r *Rx) Kinds() (out []string, err error) {
	err = r.query(func(scan func(...any) error) error {
		var kind string
		err := scan(&kind)
		out = append(out, kind)
		return err
	}, `WITH RECURSIVE next(kind) AS (
		SELECT min(kind) FROM tools
		UNION ALL
		SELECT (SELECT min(kind) FROM tools WHERE kind > next.kind) FROM next WHERE next.kind IS NOT NULL
	) SELECT kind FROM next WHERE kind IS NOT NULL ORDER BY kind LIMIT ?`, maxKinds)
	return out, err
}
