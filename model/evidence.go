package model

import (
	"context"
	"io"

	"pawl/model/evidence"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/people"
	"pawl/model/register"
)

// Upload says what somebody is about to send.
type Upload struct {
	SHA256, Name, MediaType string
	Size                    int64 // -1: not known
}

// Original is one file kept byte for byte under its hash.
type Original struct {
	SHA256 string
	Bytes  int64
	evidence.Media
	// Sharpness is that of evidence.Sharpness, nil where it was not judged; Question
	// asks about a picture that would not show a serial plate well.
	Sharpness *float64
	Question  string
}

// StoreOriginal keeps the bytes, then notes who sent them. Nothing names them
// yet, so a day later they are removed unless an act has. What is not a photo or
// paper that we take is refused and not kept.
func (s *Shop) StoreOriginal(ctx context.Context, by By, u Upload, r io.Reader) (o Original, created bool, err error) {
	if u.Size > evidence.MaxBytes {
		return o, false, fault.New(fault.TooLarge, "%d bytes; a photo or paper has at most %d", u.Size, evidence.MaxBytes).
			WithHint("scan it at a lower resolution, or split it")
	}
	before, err := s.removalOf(ctx, u.SHA256)
	if err != nil {
		return o, false, err
	}
	size, created, err := s.originals.Put(ctx, u.SHA256, r, evidence.MaxBytes)
	if err != nil {
		return o, false, err
	}
	media, err := s.inspect(u, size)
	if err != nil {
		if created {
			// Somebody else may have sent the same bytes meanwhile, and rightly. One
			// that cannot be taken away is an orphan, which the chores remove.
			if _, gone := s.removeUnwanted(context.WithoutCancel(ctx), by, u.SHA256); gone != nil {
				s.log.Warn("a refused upload could not be removed", "error", gone)
			}
		}
		return o, false, err
	}
	o = Original{SHA256: u.SHA256, Bytes: size, Media: media}
	if err := s.noteUpload(ctx, by, o, before); err != nil {
		return o, created, err
	}
	s.judge(ctx, &o)
	return o, created, nil
}

func (s *Shop) inspect(u Upload, size int64) (evidence.Media, error) {
	f, _, err := s.originals.Open(u.SHA256)
	if err != nil {
		return evidence.Media{}, err
	}
	defer f.Close()
	return evidence.Inspect(f, size, u.Name, u.MediaType)
}

// noteUpload notes who sent bytes that are kept; before is from before they were.
func (s *Shop) noteUpload(ctx context.Context, by By, o Original, before store.Removal) error {
	_, err := store.Write(ctx, s.db, store.Act{Verb: "upload", Actor: by.Recorded()}, func(tx *store.Tx) (bool, error) {
		if err := sameRemoval(tx, o.SHA256, before); err != nil {
			return false, err
		}
		return true, tx.KeepUpload(store.Upload{SHA256: o.SHA256, Who: by.Recorded(), Made: tx.Now(), Bytes: o.Bytes, MediaType: o.Type,
			Width: o.Width, Height: o.Height, ClaimedAt: o.ClaimedAt, Device: o.Device, ClaimedPlace: o.Place})
	})
	return err
}

// Attach joins uploaded originals to a tool.
func (s *Shop) Attach(ctx context.Context, by By, number string, in []register.Attach) (Done, error) {
	done, err := act(ctx, s, by, "evidence add", []any{number, in}, func(tx *store.Tx) (Done, error) {
		d, t, err := toolForChange(tx, number)
		if err != nil {
			return Done{}, err
		}
		if err := allowed(by, people.EditTool, d.object(t)); err != nil {
			return Done{}, err
		}
		if len(in) == 0 {
			return Done{}, fault.At("#/evidence", "nothing is named")
		}
		if _, err := s.attach(tx, by, d, t, in); err != nil {
			return Done{}, err
		}
		return d.done(t, "evidence add")
	})
	if err == nil {
		done.Question = s.question(ctx, in)
	}
	return done, err
}

// MaxAttach is the most photos and papers of one tool.
const MaxAttach = 200

// attach records originals as evidence of a tool and gives every kind that the
// tool has then, but for pictures of which nothing can be shown. One that is not the actor's to attach is NotFound.
func (s *Shop) attach(tx *store.Tx, by By, d *directory, t register.Tool, in []register.Attach) ([]evidence.Kind, error) {
	if len(in) > 0 {
		// Until the records stand, nothing else keeps the bytes from being removed.
		if err := tx.Lock("originals"); err != nil {
			return nil, err
		}
	}
	have, err := tx.Evidence(t.ID)
	if err != nil {
		return nil, err
	}
	var bad fault.Problems
	var kinds []evidence.Kind
	for _, e := range have {
		if !s.views.Broken(e.SHA256) {
			kinds = append(kinds, e.Kind)
		}
	}
	if len(have)+len(in) > MaxAttach {
		bad.Add("#/evidence", "%d photos and papers; a tool has at most %d", len(have)+len(in), MaxAttach)
	}
	for _, a := range in {
		e, err := s.newEvidence(tx, by, d, t, a)
		if fault.Is(err, fault.Invalid) {
			bad.Keep("#/evidence", err)
			continue
		}
		if err != nil {
			return nil, err
		}
		if err := store.Put(tx, &e); err != nil {
			return nil, err
		}
		if !s.views.Broken(e.SHA256) {
			kinds = append(kinds, e.Kind)
		}
	}
	return kinds, bad.Err()
}

func (s *Shop) newEvidence(tx *store.Tx, by By, d *directory, t register.Tool, a register.Attach) (e evidence.Record, err error) {
	kind, err := evidence.ParseKind(a.Kind)
	if err != nil {
		return e, err
	}
	up, err := s.mayAttach(tx, by, d, a.SHA256)
	if err != nil {
		return e, err
	}
	if e, err = newRecord(tx, by, kind, up, a); err == nil {
		e.Tool = t.ID
	}
	return e, err
}

// newRecord makes the record of an original that the actor may attach; what it shows
// is for the caller to say.
func newRecord(tx *store.Tx, by By, kind evidence.Kind, up store.Upload, a register.Attach) (e evidence.Record, err error) {
	if kind.Photo() && up.MediaType == evidence.TypePDF {
		return e, fault.New(fault.Invalid, "%s is a PDF; a %s is a picture", short(a.SHA256), kind.Words())
	}
	if e.ID, err = tx.NewID('E'); err != nil {
		return e, err
	}
	return evidence.Record{ID: e.ID, SHA256: a.SHA256, Kind: kind, MediaType: up.MediaType, Bytes: up.Bytes, Width: up.Width,
		Height: up.Height, Name: fileName(a.Name), ReceivedAt: up.Made, ClaimedAt: up.ClaimedAt, Device: up.Device, ClaimedPlace: up.ClaimedPlace, UploadedBy: by.Person}, nil
}

// mayAttach finds an original that the actor uploaded or may already see.
func (s *Shop) mayAttach(tx *store.Tx, by By, d *directory, sha256 string) (store.Upload, error) {
	up, found, err := tx.UploadOf(sha256, by.Recorded())
	if err != nil || found {
		return up, err
	}
	e, err := d.visibleEvidence(by, sha256)
	if err != nil {
		return up, err
	}
	if e.ID == "" {
		return up, fault.New(fault.NotFound, "no upload %s of yours", short(sha256)).WithHint("upload it first; uploads that nothing names are removed after a day")
	}
	return store.Upload{SHA256: sha256, Made: e.ReceivedAt, Bytes: e.Bytes, MediaType: e.MediaType, Width: e.Width, Height: e.Height,
		ClaimedAt: e.ClaimedAt, Device: e.Device, ClaimedPlace: e.ClaimedPlace}, nil
}

// visibleEvidence gives a record of the original that the actor may see, or an
// empty one.
func (d *directory) visibleEvidence(by By, sha256 string) (evidence.Record, error) {
	all, err := d.EvidenceOf(sha256)
	if err != nil {
		return evidence.Record{}, err
	}
	for _, e := range all {
		if e.Place != "" {
			if e.Withdrawn == 0 && people.May(by.Actor, people.SeePhoto, people.Object{PlainSight: e.Kind.InPlainSight()}) {
				return e, nil
			}
			continue
		}
		if e.Loss != "" {
			if sees, err := d.seesPaperOfLoss(by, e.Loss); err != nil || e.Withdrawn == 0 && sees {
				return e, err
			}
			continue
		}
		if e.Tool == "" {
			if e.Withdrawn == 0 && seesUnsorted(by, e) {
				return e, nil
			}
			continue
		}
		t, found, err := d.Tool(e.Tool)
		if err != nil {
			return evidence.Record{}, err
		}
		if found && e.Withdrawn == 0 && (people.May(by.Actor, people.SeeMoney, d.object(t)) || seesEvidence(by, e)) {
			return e, nil
		}
	}
	return evidence.Record{}, nil
}

// OpenOriginal gives the bytes to somebody who uploaded or may see them; to
// others there is no such original. A shop device gets views alone: an original
// also tells when, where and with what it was taken.
func (s *Shop) OpenOriginal(ctx context.Context, by By, sha256 string) (io.ReadSeekCloser, Original, error) {
	o, err := s.seen(ctx, by, sha256)
	if err == nil && by.Role == people.ShopDevice {
		err = fault.New(fault.NotFound, "there is no original %s", short(sha256))
	}
	if err != nil {
		return nil, o, err
	}
	f, size, err := s.originals.Open(sha256)
	o.Bytes = size
	return f, o, err
}

// seen says what an original is, to somebody who uploaded or may see it.
func (s *Shop) seen(ctx context.Context, by By, sha256 string) (Original, error) {
	o := Original{SHA256: sha256}
	err := s.db.Read(ctx, func(rx *store.Rx) error {
		up, found, err := rx.UploadOf(sha256, by.Recorded())
		if err != nil {
			return err
		}
		if found {
			o.Type, o.Width, o.Height, o.ClaimedAt = up.MediaType, up.Width, up.Height, up.ClaimedAt
			return nil
		}
		d, err := readNames(rx)
		if err != nil {
			return err
		}
		e, err := d.visibleEvidence(by, sha256)
		if err == nil && e.ID == "" {
			err = fault.New(fault.NotFound, "there is no original %s", short(sha256))
		}
		o.Type, o.Width, o.Height, o.ClaimedAt = e.MediaType, e.Width, e.Height, e.ClaimedAt
		return err
	})
	return o, err
}

func short(sha256 string) string { return sha256[:min(12, len(sha256))] + "…" }

// fileName keeps a client's file name as data, cut to a line.
func fileName(name string) string {
	clean := []rune{}
	for _, r := range name {
		if r >= ' ' && r != 0x7f && r != '\uFFFD' && len(clean) < 120 {
			clean = append(clean, r)
		}
	}
	return string(clean)
}
