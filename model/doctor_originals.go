package model

import (
	"context"
	"fmt"
	"time"

	"pawl/model/fault"
	"pawl/model/internal/originals"
	"pawl/model/internal/store"
)

// sizes looks whether each original that is named lies there and is as long as it was
// when it came, by one walk through both lists, which have the same order. Its bytes are
// not read.
func (d doctor) sizes(ctx context.Context) (Checkup, error) {
	c := Checkup{What: "originals", Health: InOrder}
	m := meeting{doctor: d, ctx: ctx, more: true}
	err := d.originals.Walk(func(sha string, size int64, _ time.Time) error { return m.lies(sha, size) })
	if err == nil {
		err = m.lies("", 0)
	}
	if d.unanswered(err) {
		return Checkup{c.What, NotChecked, "their bucket does not answer", "see the bucket below"}, nil
	}
	if err != nil {
		return c, err
	}
	c.Says = fmt.Sprintf("%d are named and lie there; their bytes were not read", m.count)
	if m.bad > 0 {
		c.Health, c.Says, c.Do = NotInOrder, fmt.Sprintf("%d of %d are missing or have another length", m.bad, m.count), "see which: pawl verify; then bring them back from a backup"
	}
	return c, nil
}

// unanswered says that an error is that of a bucket that does not answer.
func (d doctor) unanswered(err error) bool {
	_, remote := d.originals.(*originals.Bucket)
	return remote && fault.Is(err, fault.Unavailable)
}

// meeting holds the originals that are named against those that lie there.
type meeting struct {
	doctor
	ctx        context.Context
	named      []string // the next, in order
	came       map[string]int64
	after      string
	more       bool
	count, bad int
}

// lies is told of the next original that lies there; an empty name is the end of them.
func (m *meeting) lies(sha string, size int64) error {
	for {
		if err := m.load(); err != nil || len(m.named) == 0 {
			return err
		}
		next := m.named[0]
		if sha != "" && sha < next {
			return nil // nothing names it, or not yet
		}
		m.named, m.count = m.named[1:], m.count+1
		known, told := m.came[next]
		if next == sha {
			if told && size != known {
				m.bad++
			}
			return nil
		}
		// It may have come since the list of those that lie there was made.
		holds, err := m.asked(next, known, told)
		if err != nil {
			return err
		}
		if !holds {
			m.bad++
		}
	}
}

// load gets the next names, and how long each was when it came.
func (m *meeting) load() error {
	if len(m.named) > 0 || !m.more {
		return nil
	}
	return m.db.Read(m.ctx, func(rx *store.Rx) (err error) {
		if m.named, err = rx.Originals(m.after, 500); err != nil {
			return err
		}
		if m.more = len(m.named) > 0; !m.more {
			return nil
		}
		m.after = m.named[len(m.named)-1]
		m.came, err = rx.OriginalSizes(m.named)
		return err
	})
}

// asked says whether an original lies there after all, and is of that size if it is known.
func (m *meeting) asked(sha string, size int64, known bool) (bool, error) {
	f, is, err := m.originals.Open(sha)
	if fault.Is(err, fault.NotFound) {
		return false, nil
	}
	if err != nil {
		return false, err
	}
	return !known || is == size, f.Close()
}

// wrongClock is by how much the clocks of a bucket and of this computer may differ before
// somebody should look; S3 refuses a request that is fifteen minutes off (S3 API
// reference, "Authenticating Requests").
const wrongClock = 2 * time.Minute

// bucket looks at what the originals' bucket is like, where they are in one.
func (d doctor) bucket(ctx context.Context) (Checkup, error) {
	b, remote := d.originals.(*originals.Bucket)
	if !remote {
		return Checkup{}, nil
	}
	c := Checkup{What: "bucket", Health: InOrder}
	look, err := b.Look(ctx)
	if f := fault.Of(err); f != nil {
		return Checkup{c.What, NotInOrder, f.Message, f.Hint}, nil
	}
	clock := "its clock is not told"
	if look.Told {
		clock = fmt.Sprintf("its clock is %s from ours", look.Ahead.Abs())
	}
	c.Says = fmt.Sprintf("%s answers; a second put under one name is refused; %s; versions: %s; object lock: %s", b.Location, clock, look.Versioning, look.Lock)
	switch {
	case !look.CreateOnly:
		c.Health = NotInOrder
		c.Says = fmt.Sprintf("%s took a second put under one name, over the first", b.Location)
		c.Do = "use a server that honours If-None-Match, or switch it on: whoever may write can put other bytes in the place of a photo"
	case look.Told && look.Ahead.Abs() > wrongClock:
		c.Health, c.Do = LookAt, "set the clock that is wrong, this computer's or the server's: far off, the bucket refuses all"
	}
	return c, nil
}
