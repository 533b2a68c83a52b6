package model

import (
	"context"
	"crypto/x509"
	"encoding/pem"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/ledger"
)

// Health is how one thing that a shop rests on stands.
type Health string

// Healths, the worst last. What was not looked at is not said to be in order.
const (
	InOrder    Health = "in order"
	NotChecked Health = "not checked"
	LookAt     Health = "look at it"
	NotInOrder Health = "NOT IN ORDER"
)

// Checkup is one thing that was looked at.
type Checkup struct {
	What   string
	Health Health
	Says   string
	Do     string // empty where nothing is to be done
}

// Doctored is how the shop stands on this computer.
type Doctored struct {
	Checkups []Checkup
	OK       bool // all of it is in order, or was not asked for
}

// DoctorQuery says what else to look at.
type DoctorQuery struct {
	Certificate []byte // PEM, as serve is given it; nil: not looked at
}

// What is little, and what is long ago.
const (
	littleSpace  = 1 << 30
	noSpace      = 100 << 20
	oldBackup    = 7 * 24 * time.Hour
	oldPoint     = 48 * time.Hour
	soonExpiring = 14 * 24 * time.Hour
)

// Doctor looks at what the shop rests on: the store's own settings, the disk, rights on
// the folder, the originals and their bucket, the signing key, the clock, the last
// checkpoint, the last backup, the last copy kept elsewhere, and the certificate that is
// given. It changes nothing, but for two small objects that it leaves in a bucket. What is
// recorded, and the bytes of all originals, are Verify's to check.
func (s *Shop) Doctor(ctx context.Context, by By, q DoctorQuery) (out Doctored, err error) {
	d := doctor{Shop: s, now: s.clock()}
	for _, look := range []func(context.Context) (Checkup, error){
		d.store, d.disk, d.rights, d.sizes, d.bytes, d.bucket, d.key, d.clockState, d.checkpoint, d.backup, d.elsewhere,
	} {
		c, err := look(ctx)
		if err != nil {
			return out, err
		}
		if c.What != "" {
			out.Checkups = append(out.Checkups, c)
		}
	}
	out.Checkups = append(out.Checkups, d.certificate(q.Certificate))
	out.OK = true
	for _, c := range out.Checkups {
		out.OK = out.OK && c.Health != LookAt && c.Health != NotInOrder
	}
	return out, nil
}

type doctor struct {
	*Shop
	now time.Time
}

func (d doctor) store(ctx context.Context) (Checkup, error) {
	c := Checkup{What: "store", Health: InOrder}
	me, err := d.identity(ctx)
	if err != nil {
		return c, err
	}
	if me.MovedTo != "" {
		return Checkup{c.What, NotInOrder, "this shop moved to " + me.MovedTo + "; what is here is what was left behind", "use it there"}, nil
	}
	said, bad, err := d.db.Engine(ctx)
	c.Says = said
	if bad != "" {
		c.Health, c.Do = NotInOrder, bad+": an act that was answered can be lost when the power fails; set it right"
	}
	return c, err
}

func (d doctor) disk(context.Context) (Checkup, error) {
	c := Checkup{What: "disk", Health: InOrder}
	free := d.freeSpace()
	if free < 0 {
		return Checkup{c.What, NotChecked, "the system does not tell its free space", ""}, nil
	}
	c.Says = fmt.Sprintf("%.1f GB free where the data folder is", float64(free)/1e9)
	switch {
	case free < noSpace:
		c.Health, c.Do = NotInOrder, "make room now: photos and acts are about to be refused"
	case free < littleSpace:
		c.Health, c.Do = LookAt, "make room soon"
	}
	return c, nil
}

func (d doctor) rights(context.Context) (Checkup, error) {
	c := Checkup{What: "rights", Health: InOrder, Says: "only its owner reads the data folder and the key"}
	for name, path := range map[string]string{"the data folder": d.dir, "the signing key": filepath.Join(d.keys.dir, keyFile)} {
		info, err := os.Stat(path)
		if err != nil {
			continue // the key's own look says so
		}
		if info.Mode().Perm()&0o077 != 0 {
			return Checkup{c.What, LookAt, "others on this computer may read " + name, "take their rights away: chmod go-rwx"}, nil
		}
	}
	return c, nil
}

// key signs something, and opens it with the key that others know the shop by.
func (d doctor) key(ctx context.Context) (Checkup, error) {
	me, err := d.identity(ctx)
	if err != nil {
		return Checkup{}, err
	}
	if err := d.keys.signs(me); err != nil {
		return Checkup{"signing key", NotInOrder, fault.Of(err).Message, "restore the folder keys from a backup"}, nil
	}
	return Checkup{"signing key", InOrder, "it signs in the name of pawl/" + me.ID + "; its fingerprint is " + ledger.Fingerprint(me.VKey), ""}, nil
}

func (d doctor) clockState(ctx context.Context) (Checkup, error) {
	v, err := d.ClockState(ctx)
	c := Checkup{"clock", InOrder, "it says " + v.Now.String(), ""}
	if v.Doubtful {
		c.Health, c.Do = NotInOrder, "it stands before "+v.Latest.String()+", which is recorded: set it, or have a manager confirm it: pawl clock confirm"
	}
	return c, err
}

func (d doctor) checkpoint(ctx context.Context) (c Checkup, err error) {
	err = d.db.Read(ctx, func(rx *store.Rx) error {
		last, found, err := rx.LastCheckpoint()
		if err != nil {
			return err
		}
		size, err := rx.Size()
		c = d.since("checkpoint", last.Made, oldPoint, "let pawl serve run, or pawl chores once a day; and keep a checkpoint elsewhere: pawl checkpoint -o FILE")
		if found && size == last.Size {
			c.Health, c.Do = InOrder, ""
		}
		return err
	})
	return c, err
}

func (d doctor) backup(context.Context) (Checkup, error) {
	last := d.LastBackup()
	if last == 0 && !d.db.InFolder() {
		return Checkup{"backup", NotChecked, "none was made from this computer; another may have made one, or PostgreSQL's own keeps the records, beside a copy of the originals and the folder keys", ""}, nil
	}
	return d.since("backup", last, oldBackup, "make one on another disk: pawl backup FOLDER"), nil
}

// elsewhere is about the copy that what happens to the shop does not reach.
func (d doctor) elsewhere(ctx context.Context) (c Checkup, err error) {
	err = d.db.Read(ctx, func(rx *store.Rx) error {
		e, err := elsewhereState(rx)
		c = d.since("copy elsewhere", e.Made, elsewhereDays*24*time.Hour, "make one and keep it off the premises: pawl packet --all -o FILE")
		return err
	})
	return c, err
}

// since says when something was done last, and whether that is long ago.
func (d doctor) since(what string, last dates.Instant, long time.Duration, do string) Checkup {
	if last == 0 {
		return Checkup{what, LookAt, "none is known of", do}
	}
	c := Checkup{what, InOrder, "the last one was made " + last.String(), ""}
	if d.now.Sub(last.Time()) > long {
		c.Health, c.Do = LookAt, do
	}
	return c
}

// certificate reads the first one of a chain, which is the server's own.
func (d doctor) certificate(chain []byte) Checkup {
	c := Checkup{What: "certificate", Health: NotChecked, Says: "none was given", Do: ""}
	if chain == nil {
		return c
	}
	block, _ := pem.Decode(chain)
	if block == nil {
		return Checkup{c.What, NotInOrder, "the file holds no certificate in PEM", "give the file that serve is given"}
	}
	cert, err := x509.ParseCertificate(block.Bytes)
	if err != nil {
		return Checkup{c.What, NotInOrder, "the certificate cannot be read", "get a new one"}
	}
	c.Health, c.Says = InOrder, "it is good until "+cert.NotAfter.UTC().Format(time.RFC3339)
	switch {
	case d.now.Before(cert.NotBefore):
		c.Health, c.Do = NotInOrder, "it is not good yet; see the clock"
	case d.now.After(cert.NotAfter):
		c.Health, c.Do = NotInOrder, "it ran out; get a new one"
	case cert.NotAfter.Sub(d.now) < soonExpiring:
		c.Health, c.Do = LookAt, "it runs out soon; get a new one"
	}
	return c
}
