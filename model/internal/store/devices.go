package store

import (
	"pawl/model/dates"
	"pawl/model/people"
)

// Devices gives every device, oldest first; revoked ones too.
func (r *Rx) Devices() ([]people.Device, error) {
	return many[people.Device](r, "since, id", 0, "id <> ''")
}

// DevicesOf gives a person's devices, oldest first; revoked ones too.
func (r *Rx) DevicesOf(person string) ([]people.Device, error) {
	return many[people.Device](r, "since, id", 0, "person = ?", person)
}

// Device gives one by id.
func (r *Rx) Device(id string) (people.Device, bool, error) {
	return one[people.Device](r, "id = ?", id)
}

// PersonWithBadge gives the one, still here, whose badge carries the code.
func (r *Rx) PersonWithBadge(code string) (people.Person, bool, error) {
	return one[people.Person](r, `badge = ? AND "left" IS NULL`, code)
}

// Enrolment is a way in that waits to be taken once.
type Enrolment struct {
	Hash    []byte // of its secret
	Kind    people.DeviceKind
	Person  string // empty: the shop's, a viewer's, or the first manager's
	Name    string // of the device, where its maker chose it
	Until   dates.Date
	Claim   string // whose packets a viewer sees
	MadeBy  string // as recorded: the actor
	Expires dates.Instant
}

// KeepEnrolment keeps a way in.
func (tx *Tx) KeepEnrolment(e Enrolment) error {
	tx.touched = true
	_, err := tx.exec("INSERT INTO enrolments (hash, kind, person, name, until, claim, made_by, expires) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
		e.Hash, string(e.Kind), e.Person, e.Name, string(e.Until), e.Claim, e.MadeBy, int64(e.Expires))
	return err
}

// EnrolmentLife is how long a way in waits to be taken, in microseconds.
const EnrolmentLife = 15 * 60 * 1_000_000

// clocksApart is by how much the clocks of several servers may differ, in microseconds.
const clocksApart = 120 * 1_000_000

// waits is the condition under which a way in is taken. One that was made while the clock
// was ahead does not wait until that time comes.
const waits = "expires > ? AND expires <= ?"

func (r *Rx) waiting() (from, to int64) {
	return int64(r.now), int64(r.now) + EnrolmentLife + clocksApart
}

// EnrolmentOf gives the way in with that hashed secret, unless it has expired.
func (r *Rx) EnrolmentOf(hash []byte) (e Enrolment, found bool, err error) {
	var kind, until string
	var expires int64
	from, to := r.waiting()
	err = r.query(func(scan func(...any) error) error {
		found = true
		return scan(&kind, &e.Person, &e.Name, &until, &e.Claim, &e.MadeBy, &expires)
	}, "SELECT kind, person, name, until, claim, made_by, expires FROM enrolments WHERE hash = ? AND "+waits, hash, from, to)
	e.Hash, e.Kind, e.Until, e.Expires = hash, people.DeviceKind(kind), dates.Date(until), dates.Instant(expires)
	return e, found, err
}

// TakeEnrolment uses a way in up; taken is false when somebody else did.
func (tx *Tx) TakeEnrolment(hash []byte) (taken bool, err error) {
	from, to := tx.waiting()
	n, err := tx.exec("DELETE FROM enrolments WHERE hash = ? AND "+waits, hash, from, to)
	tx.touched = tx.touched || n > 0
	return n > 0, err
}

// DropEnrolments forgets the ways in that wait for a person.
func (tx *Tx) DropEnrolments(person string) error {
	n, err := tx.exec("DELETE FROM enrolments WHERE person = ?", person)
	tx.touched = tx.touched || n > 0
	return err
}

// DropEnrolmentsBy forgets the ways in that an actor made.
func (tx *Tx) DropEnrolmentsBy(actor string) error {
	n, err := tx.exec("DELETE FROM enrolments WHERE made_by = ?", actor)
	tx.touched = tx.touched || n > 0
	return err
}

// Session is how a device is known again.
type Session struct {
	Hash          []byte // of its secret
	Device        string
	Created, Used dates.Instant
}

// KeepSession keeps a session.
func (tx *Tx) KeepSession(s Session) error {
	tx.touched = true
	_, err := tx.exec("INSERT INTO sessions (hash, device, created, used) VALUES (?, ?, ?, ?)", s.Hash, s.Device, int64(s.Created), int64(s.Used))
	return err
}

// SessionOf gives the session with that hashed secret.
func (r *Rx) SessionOf(hash []byte) (s Session, found bool, err error) {
	var created, used int64
	err = r.query(func(scan func(...any) error) error {
		found = true
		return scan(&s.Device, &created, &used)
	}, "SELECT device, created, used FROM sessions WHERE hash = ?", hash)
	s.Hash, s.Created, s.Used = hash, dates.Instant(created), dates.Instant(used)
	return s, found, err
}

// UseSession notes that a session was used now. A last use that is noted stays where it is
// later than now, up to a time that no clock can have been at: another server's is a little
// ahead of ours, or ours is behind.
func (tx *Tx) UseSession(hash []byte, possible dates.Instant) error {
	tx.touched = true
	_, err := tx.exec("UPDATE sessions SET used = ? WHERE hash = ? AND (used < ? OR used > ?)", int64(tx.now), hash, int64(tx.now), int64(possible))
	return err
}

// SessionsUsedBy brings back to now the last use of sessions that is noted after a time that
// no clock can have been at.
func (tx *Tx) SessionsUsedBy(possible dates.Instant) error {
	n, err := tx.exec("UPDATE sessions SET used = ? WHERE used > ?", int64(tx.now), int64(possible))
	tx.touched = tx.touched || n > 0
	return err
}

// DropSessions forgets how a device is known again.
func (tx *Tx) DropSessions(device string) error {
	n, err := tx.exec("DELETE FROM sessions WHERE device = ?", device)
	tx.touched = tx.touched || n > 0
	return err
}

// LastUses gives when each device that is still known was used last.
func (r *Rx) LastUses() (map[string]dates.Instant, error) {
	last := map[string]dates.Instant{}
	err := r.query(func(scan func(...any) error) error {
		var device string
		var used int64
		err := scan(&device, &used)
		last[device] = dates.Instant(used)
		return err
	}, "SELECT device, max(used) FROM sessions GROUP BY device")
	return last, err
}

// Tries gives how often who tried in vain since a time, and when first since then.
func (r *Rx) Tries(who string, since dates.Instant) (n int64, first dates.Instant, err error) {
	var count, oldest *int64
	err = r.query(func(scan func(...any) error) error { return scan(&count, &oldest) },
		"SELECT CAST(sum(tries) AS bigint), min(made) FROM throttles WHERE who = ? AND made > ? AND made <= ?", who, int64(since), int64(r.now))
	if count == nil || oldest == nil {
		return 0, 0, err
	}
	return *count, dates.Instant(*oldest), err
}

// CountTry notes that who tried in vain.
func (tx *Tx) CountTry(who string) error {
	tx.touched = true
	_, err := tx.exec(`INSERT INTO throttles (who, made, tries) VALUES (?, ?, 1)
		ON CONFLICT (who, made) DO UPDATE SET tries = throttles.tries + 1`, who, int64(tx.now))
	return err
}

// DropDoor forgets ways in that have expired, sessions last used before a time,
// and tries made before another.
func (tx *Tx) DropDoor(used, tried dates.Instant) (int64, error) {
	var all int64
	for _, drop := range []struct {
		query string
		at    dates.Instant
	}{
		{"DELETE FROM enrolments WHERE expires <= ?", tx.now},
		{"DELETE FROM sessions WHERE used <= ?", used},
		{"DELETE FROM throttles WHERE made <= ?", tried},
	} {
		n, err := tx.exec(drop.query, int64(drop.at))
		if err != nil {
			return 0, err
		}
		all += n
	}
	tx.touched = tx.touched || all > 0
	return all, nil
}
