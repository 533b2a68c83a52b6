package model

import (
	"context"
	"io"
	"maps"
	"slices"

	"pawl/model/claims"
	"pawl/model/dates"
	"pawl/model/evidence"
	"pawl/model/internal/store"
	"pawl/model/ledger"
	"pawl/model/packets"
	"pawl/model/people"
	"pawl/model/proofs"
)

// elsewhereDays is how old the copy kept elsewhere may be before it is asked for anew.
const elsewhereDays = 30

// KeptElsewhere is a copy of the shop that is ready to be written.
type KeptElsewhere struct {
	ID, Name string
	Left     int // originals that an earlier copy has
	Write    func(io.Writer) error
}

// KeepElsewhere makes the copy of all that proves the shop's tools, to be kept where what
// happens to the shop does not reach it. Have are originals that an earlier copy has, by
// SHA-256: they are named and left out. It is recorded once all of it was written. What
// somebody does not share stays here, whoever asks: the copy leaves the house. So does what
// a packet does not tell by default, unless it is to be added; one may add tightenings,
// rechecks, overrides and jobs.
func (s *Shop) KeepElsewhere(ctx context.Context, by By, had packets.Had, add ...string) (out KeptElsewhere, err error) {
	if err := allowed(by, people.ShopActs, people.Object{}); err != nil {
		return out, err
	}
	added, err := claims.ParseForCopy(add)
	if err != nil {
		return out, err
	}
	point, err := s.Checkpoint(ctx, by)
	if err != nil {
		return out, err
	}
	id, err := store.Write(ctx, s.db, store.Act{Verb: "packet", Actor: by.Recorded()}, func(tx *store.Tx) (string, error) { return tx.NewID('S') })
	if err != nil {
		return out, err
	}
	k := keeping{s: s, by: by, point: point, had: had, src: packets.ElsewhereSource{Original: s.originalBytes, Proofs: proofs.Source{Note: point.Note, Key: point.Key}}}
	k.src.ID = id
	k.added = added
	if err := s.db.Read(ctx, k.gather); err != nil {
		return out, err
	}
	day, err := k.day()
	if err != nil {
		return out, err
	}
	k.src.Proofs.Rolls = func(keep func(proofs.RollRow) error) error { return k.rollRows(ctx, keep) }
	k.src.Proofs.Lines = func(keep func(proofs.Entry) error) error {
		return s.entries(ctx, gathering{size: point.Size, places: k.places}, keep)
	}
	return KeptElsewhere{ID: id, Name: "elsewhere-" + string(day), Left: int(k.src.Follows), Write: func(w io.Writer) error {
		sum, err := packets.WriteElsewhere(w, day, k.src)
		if err != nil {
			return err
		}
		row := claims.Packet{ID: id, Lines: point.Size, Fingerprint: sum, Added: claims.Everything, Created: k.src.Made, Person: by.Person}
		_, err = store.Write(context.WithoutCancel(ctx), s.db, store.Act{Verb: "packet", Actor: by.Recorded()}, func(tx *store.Tx) (bool, error) {
			p := row
			return true, store.Put(tx, &p)
		})
		return err
	}}, nil
}

// keeping is one such copy in progress.
type keeping struct {
	s      *Shop
	by     By
	point  CheckpointView
	had    packets.Had
	added  []claims.Addition
	src    packets.ElsewhereSource
	places []place
	tools  []string // that the lines are about, by id
	rolls  []heldRoll
	shares map[string]bool
}

func (k *keeping) day() (dates.Date, error) {
	return packets.Day(claims.Statement{Zone: k.src.Zone, Created: k.src.Made})
}

func (k *keeping) gather(rx *store.Rx) error {
	d, err := readNames(rx)
	if err != nil {
		return err
	}
	me, _, err := rx.Identity()
	if err != nil {
		return err
	}
	e := packets.Elsewhere{Format: packets.ElsewhereFormat, ID: k.src.ID, Size: k.point.Size, Made: rx.Now(), For: k.by.Person, Shop: d.settings.Name,
		Zone: d.settings.Zone, Currency: d.settings.Currency, Paper: string(d.settings.Paper), People: []packets.Named{}, Policies: []packets.Covering{}, Added: k.added}
	if e.Ledger, err = ledger.Origin(me.ID); err != nil {
		return err
	}
	k.shares = map[string]bool{"": true, k.by.Person: true}
	for _, p := range d.people {
		e.People = append(e.People, packets.Named{ID: p.ID, Name: p.Name, Shares: p.Shares})
		k.shares[p.ID] = p.Shares || p.ID == k.by.Person
	}
	policies, err := rx.PoliciesClaimedOn()
	if err != nil {
		return err
	}
	for _, p := range policies {
		if k.shares[p.Owner] {
			e.Policies = append(e.Policies, packets.Covering{ID: p.ID, Name: p.Name, Owner: p.Owner, Employees: p.Employees})
		}
	}
	k.src.Elsewhere = e
	rule, err := k.lines(rx)
	if err != nil {
		return err
	}
	if err := k.jobs(rx, rule.Jobs); err != nil {
		return err
	}
	return k.anchors(rx, rule)
}

// jobs names the jobs that the tools were used on. What else is on record of them, such as
// whose vehicle it was, stays here.
func (k *keeping) jobs(rx *store.Rx, named map[string]bool) error {
	all, err := rx.JobsByID(slices.Sorted(maps.Keys(named)))
	k.src.Jobs = []packets.Numbered{}
	for _, id := range slices.Sorted(maps.Keys(all)) {
		k.src.Jobs = append(k.src.Jobs, packets.Numbered{ID: id, Number: all[id].Number})
	}
	return err
}

// lines goes through the whole ledger.
func (k *keeping) lines(rx *store.Rx) (*packets.Keeping, error) {
	rule, tools := packets.NewKeeping(func(owner string) bool { return k.shares[owner] }, k.added), map[string]bool{}
	k.places = nil
	for from := int64(0); from < k.point.Size; {
		batch, err := rx.EntriesFrom(from, 1000)
		if err != nil {
			return nil, err
		}
		if len(batch) == 0 {
			break
		}
		for _, e := range batch {
			line, image, err := opened(e)
			if err != nil {
				return nil, err
			}
			if from = line.Seq + 1; line.Seq >= k.point.Size || !rule.Concerns(line) {
				continue
			}
			for _, t := range line.Tools {
				tools[t] = true
			}
			k.places = append(k.places, place{line.Seq, !rule.Takes(line, image)})
		}
	}
	k.tools = slices.Sorted(maps.Keys(tools))
	k.originals(rule)
	return rule, nil
}

// originals lists what stands, and leaves out what an earlier copy has, or nobody.
func (k *keeping) originals(rule *packets.Keeping) {
	k.src.Files, k.src.Follows = rule.Originals(), 0
	for i := range k.src.Files {
		if k.had.Has(k.src.Files[i].SHA256) {
			k.src.Files[i].Path = ""
			k.src.Follows++
		} else if why := k.s.whyNotHanded(evidence.Record{SHA256: k.src.Files[i].SHA256}); why != "" {
			k.src.Files[i].Path, k.src.Files[i].Why = "", why // the others are kept all the more
		}
	}
}

// ElsewhereState says when the copy kept elsewhere was made last.
type ElsewhereState struct {
	ID    string
	Made  dates.Instant // 0 = never
	Lines int64         // of the ledger that it covers
	Since int64         // lines recorded since
	Days  int           // since then; -1: never
}

// Old says that it should be made anew.
func (e ElsewhereState) Old() bool { return e.Days < 0 || e.Days > elsewhereDays }

// Elsewhere says how the copy kept elsewhere stands.
func (s *Shop) Elsewhere(ctx context.Context, by By) (e ElsewhereState, err error) {
	if err := allowed(by, people.ShopActs, people.Object{}); err != nil {
		return e, err
	}
	err = s.db.Read(ctx, func(rx *store.Rx) (err error) {
		e, err = elsewhereState(rx)
		return err
	})
	return e, err
}

func elsewhereState(rx *store.Rx) (e ElsewhereState, err error) {
	p, found, err := rx.LastKeptElsewhere()
	if err != nil {
		return e, err
	}
	size, err := rx.Size()
	if err != nil || !found {
		return ElsewhereState{Days: -1, Since: size}, err
	}
	return ElsewhereState{ID: p.ID, Made: p.Created, Lines: p.Lines, Since: size - p.Lines, Days: int((rx.Now() - p.Created) / (24 * microsPerHour))}, nil
}
