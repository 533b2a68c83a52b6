package model

import (
	"cmp"
	"context"
	"math"
	"slices"
	"strconv"
	"strings"

	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/jobs"
	"pawl/model/names"
	"pawl/model/people"
)

// NewJob opens a job, or says more of one that a first mention opened; nil
// leaves a member as it is.
type NewJob struct {
	Number               string
	Vehicle, VIN, Safety *string
}

// JobQuery picks jobs, newest first.
type JobQuery struct {
	Open   *bool
	Limit  int // 0: 50; at most 200
	Cursor string
}

// list names the list of jobs under the filters of q.
func (q JobQuery) list() string {
	q.Limit, q.Cursor = 0, ""
	return under("jobs", q)
}

// OpenJob opens a job. A job that a first mention opened, with nothing yet said
// of it, is filled in; one of which something was said is a Conflict.
func (s *Shop) OpenJob(ctx context.Context, by By, in NewJob) (jobs.Job, error) {
	return act(ctx, s, by, "job open", in, func(tx *store.Tx) (jobs.Job, error) {
		j, _, err := mentionJob(tx, in.Number)
		if err != nil {
			return j, err
		}
		fresh := j.Vehicle == "" && j.VIN == "" && j.Safety == jobs.Unknown && j.Closed == 0
		if !fresh {
			return j, fault.New(fault.Conflict, "job %s is open already, or was", j.Number).
				WithFact("since", j.Opened.String()).WithHint("see it with: pawl job show %s", j.Number)
		}
		if err := (JobChange{in.Vehicle, in.VIN, in.Safety}).apply(&j); err != nil {
			return j, err
		}
		return j, store.Put(tx, &j)
	})
}

// JobChange holds new values of a job; nil leaves one as it is.
type JobChange struct{ Vehicle, VIN, Safety *string }

func (in JobChange) apply(j *jobs.Job) (err error) {
	var bad fault.Problems
	if in.Vehicle != nil {
		j.Vehicle, err = names.Line(*in.Vehicle)
		bad.Keep("#/vehicle", err)
	}
	if in.VIN != nil {
		j.VIN, err = names.Line(strings.ToUpper(*in.VIN))
		bad.Keep("#/vin", err)
	}
	if in.Safety != nil {
		j.Safety, err = jobs.ParseSafety(*in.Safety)
		bad.Keep("#/safety", err)
	}
	return bad.Err()
}

// ChangeJob applies a change to the revision that was read. That a job which
// something holds open be no safety job any more is a manager's to say.
func (s *Shop) ChangeJob(ctx context.Context, by By, number string, rev int64, in JobChange) (jobs.Job, error) {
	return act(ctx, s, by, "job edit", []any{number, rev, in}, func(tx *store.Tx) (jobs.Job, error) {
		j, err := jobForChange(tx, number)
		if err != nil {
			return j, err
		}
		if err := checkRev("job", rev, j.Rev); err != nil {
			return j, err
		}
		was := j.Safety
		if err := in.apply(&j); err != nil {
			return j, err
		}
		if was.Critical() != j.Safety.Critical() {
			if err := maySay(tx, by, j, was); err != nil {
				return j, err
			}
		}
		return j, store.Put(tx, &j)
	})
}

// maySay asks whether somebody may say that a job is a safety job after all, or is none: by
// what was done on it and holds it open the one way or would the other.
func maySay(tx *store.Tx, by By, j jobs.Job, was jobs.Safety) error {
	d, err := readNames(&tx.Rx)
	if err != nil {
		return err
	}
	holds, err := d.holding(jobs.Job{ID: j.ID, Safety: jobs.Yes})
	switch {
	case err != nil || len(holds) == 0:
		return err
	case was.Critical() && allowed(by, people.Override, people.Object{}) != nil:
		return fault.New(fault.Forbidden, "%d of what was done on job %s holds it open: only a manager says that it is no safety job", len(holds), j.Number).
			WithHint("ask a manager")
	case !was.Critical() && j.Closed != 0:
		return fault.New(fault.Invalid, "job %s is closed, and %d of what was done on it would hold it open as a safety job", j.Number, len(holds)).
			WithHint("open it again first: pawl job reopen %s --why …", j.Number)
	}
	return nil
}

// jobForChange finds a job by its number in order to change it.
func jobForChange(tx *store.Tx, number string) (j jobs.Job, err error) {
	_, key, bad := jobs.CheckNumber(number)
	found := false
	if bad == nil {
		if j, found, err = tx.JobNumberedForChange(key); err != nil {
			return j, err
		}
	}
	if !found {
		return j, noJob(number)
	}
	return j, nil
}

func noJob(number string) *fault.Error {
	return fault.New(fault.NotFound, "there is no job %.40q", number).WithHint("open it: pawl job open NUMBER")
}

// OpenedJob is a job that an act opened by mentioning it first.
type OpenedJob struct {
	Number string
	Like   []string // open jobs whose numbers are one slip away, the likeliest first
}

// mentionJob finds a job by its number; a first mention opens it with its
// safety unknown, which counts as yes, and says so, since a mistyped number is
// one too.
func mentionJob(tx *store.Tx, number string) (jobs.Job, *OpenedJob, error) {
	clean, key, err := jobs.CheckNumber(number)
	if err != nil {
		return jobs.Job{}, nil, fault.At("#/job", "%s", fault.Of(err).Error())
	}
	j, found, err := tx.JobNumberedForChange(key)
	if err != nil || found {
		return j, nil, err
	}
	like, err := jobsLike(&tx.Rx, key)
	if err != nil {
		return j, nil, err
	}
	j = jobs.Job{Number: clean, NumberKey: key, Safety: jobs.Unknown, Opened: tx.Now()}
	if j.ID, err = tx.NewID('J'); err != nil {
		return j, nil, err
	}
	return j, &OpenedJob{Number: clean, Like: like}, store.Put(tx, &j)
}

// jobsLike names open jobs that may have been meant by a number that no job has: those
// with two characters swapped first, and of each sort the newest first.
func jobsLike(rx *store.Rx, key string) (like []string, err error) {
	swapped, changed := jobs.Slips(key)
	for _, slips := range [][]string{swapped, changed} {
		open, err := rx.OpenJobsNumbered(slips)
		if err != nil {
			return nil, err
		}
		slices.SortFunc(open, func(a, b jobs.Job) int {
			return cmp.Or(cmp.Compare(b.Opened, a.Opened), cmp.Compare(a.NumberKey, b.NumberKey))
		})
		for _, j := range open {
			like = append(like, j.Number)
		}
	}
	return like[:min(len(like), jobs.MaxLike)], nil
}

// Job gives one by its number. Where there is none, the fact "like" of the fault names
// the open jobs that may have been meant.
func (s *Shop) Job(ctx context.Context, by By, number string) (j jobs.Job, err error) {
	_, key, err := jobs.CheckNumber(number)
	if err != nil {
		return j, fault.New(fault.NotFound, "there is no job %q", number)
	}
	err = s.db.Read(ctx, func(rx *store.Rx) error {
		var found bool
		if j, found, err = rx.JobNumbered(key); err != nil || found {
			return err
		}
		like, err := jobsLike(rx, key)
		if err != nil {
			return err
		}
		return fault.New(fault.NotFound, "there is no job %q", number).WithHint("open it: pawl job open %s", number).WithFact("like", strings.Join(like, ", "))
	})
	return j, err
}

// Jobs gives jobs, newest first, with the cursor of the next page.
func (s *Shop) Jobs(ctx context.Context, by By, q JobQuery) (list []jobs.Job, next string, err error) {
	limit, err := pageLimit(q.Limit)
	if err != nil {
		return nil, "", err
	}
	c, err := parseCursor(q.list(), q.Cursor)
	if err != nil {
		return nil, "", err
	}
	at := int64(math.MaxInt64)
	if c.Key != "" {
		if at, err = strconv.ParseInt(c.Key, 10, 64); err != nil {
			return nil, "", badCursor()
		}
	}
	err = s.db.Read(ctx, func(rx *store.Rx) error {
		list, err = rx.JobsBefore(at, c.ID, q.Open, limit+1)
		return err
	})
	if len(list) > limit {
		list = list[:limit]
		last := list[limit-1]
		next = cursor{List: c.List, Key: strconv.FormatInt(int64(last.Opened), 10), ID: last.ID}.String()
	}
	return list, next, err
}
