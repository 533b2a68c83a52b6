package store

import "pawl/model/jobs"

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
