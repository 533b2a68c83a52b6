package store

import (
	"slices"

	"pawl/model/custody"
	"pawl/model/dates"
	"pawl/model/jobs"
)

// Job gives one by id.
func (r *Rx) Job(id string) (jobs.Job, bool, error) { return one[jobs.Job](r, "id = ?", id) }

// JobNumbered gives the job of that folded number.
func (r *Rx) JobNumbered(key string) (jobs.Job, bool, error) {
	return one[jobs.Job](r, "number_key = ?", key)
}

// JobNumberedForChange is JobNumbered, for an act that changes it.
func (tx *Tx) JobNumberedForChange(key string) (jobs.Job, bool, error) {
	return changeWhere[jobs.Job](tx, "number_key = ?", key)
}

// OpenJobsNumbered gives the open jobs among those of some folded numbers.
func (r *Rx) OpenJobsNumbered(keys []string) (out []jobs.Job, err error) {
	for some := range slices.Chunk(keys, lookRows) {
		rows, err := many[jobs.Job](r, "number_key", 0, "number_key IN ? AND closed IS NULL", some)
		if err != nil {
			return nil, err
		}
		out = append(out, rows...)
	}
	return out, nil
}

// JobsBefore gives jobs opened before (at, id), newest first; open nil means
// both open and closed ones.
func (r *Rx) JobsBefore(at int64, id string, open *bool, limit int) ([]jobs.Job, error) {
	where := "(opened < ? OR (opened = ? AND id < ?))"
	if open != nil && *open {
		where += " AND closed IS NULL"
	} else if open != nil {
		where += " AND closed IS NOT NULL"
	}
	return many[jobs.Job](r, "opened DESC, id DESC", limit, where, at, at, id)
}

// LoansOn gives the stretches of custody on a job, oldest first.
func (r *Rx) LoansOn(job string) ([]custody.Loan, error) {
	return many[custody.Loan](r, "since, id", 0, "job = ?", job)
}

// FindingsOn gives what did not add up on a job, oldest first.
func (r *Rx) FindingsOn(job string) ([]jobs.Finding, error) {
	return many[jobs.Finding](r, `"at", id`, 0, "job = ?", job)
}

// FindingsOf gives what did not add up of one stretch of custody, oldest first.
func (r *Rx) FindingsOf(loan string) ([]jobs.Finding, error) {
	return many[jobs.Finding](r, `"at", id`, 0, "loan = ?", loan)
}

// UnsettledFindings gives the findings that nobody answered for, and those that were
// searched for and not found of which the vehicle's owner was not told, oldest first,
// those after (at, id).
func (r *Rx) UnsettledFindings(at dates.Instant, id string, limit int) ([]jobs.Finding, error) {
	return many[jobs.Finding](r, `"at", id`, limit, `(answered_at IS NULL OR (missed_at IS NOT NULL AND told_at IS NULL)) AND ("at", id) > (?, ?)`, int64(at), id)
}

// HeldOn gives the things held on a job, oldest first.
func (r *Rx) HeldOn(job string) ([]jobs.Held, error) {
	return many[jobs.Held](r, `"at", id`, 0, "job = ?", job)
}

// HeldThing gives one by id.
func (r *Rx) HeldThing(id string) (jobs.Held, bool, error) { return one[jobs.Held](r, "id = ?", id) }

// LooksOn gives the looks at what was on a job, oldest first.
func (r *Rx) LooksOn(job string) ([]jobs.Look, error) {
	return many[jobs.Look](r, `"at", id`, 0, "job = ?", job)
}
