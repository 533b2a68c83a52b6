package model

import (
	"context"
	"fmt"
	"io"
	"slices"
	"strings"

	"pawl/model/evidence"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/internal/views"
	"pawl/model/numbers"
	"pawl/model/people"
	"pawl/model/register"
)

// judge looks at a new upload at once, as if it were to show a serial plate.
func (s *Shop) judge(ctx context.Context, o *Original) {
	q, known := s.views.Judge(ctx, o.SHA256, o.Media)
	if s.views.Converts() {
		o.Media = o.Converted()
	}
	if known {
		o.Sharpness = &q.Sharpness
	}
	if known || q.Broken {
		o.Question = q.Question()
	}
}

// question asks about the serial plates among what was attached, and about each picture
// that breaks off. What else cannot be judged is not asked about: the act stands already.
func (s *Shop) question(ctx context.Context, in []register.Attach) string {
	var asked []string
	for _, a := range in {
		if about := s.questionOf(ctx, a); about != "" {
			asked = append(asked, strings.TrimPrefix(fileName(a.Name)+": "+about, ": "))
		}
	}
	return strings.Join(asked, "; ")
}

// questionOf is the question about one picture; empty where there is none. All were
// judged when they came in, so that only plates are decoded again where that was forgotten.
func (s *Shop) questionOf(ctx context.Context, a register.Attach) string {
	if s.views.Broken(a.SHA256) {
		return evidence.Quality{Broken: true}.Question()
	}
	if a.Kind != string(evidence.Plate) {
		return ""
	}
	media, err := s.mediaOf(a.SHA256)
	if err != nil {
		return ""
	}
	q, known := s.views.Judge(ctx, a.SHA256, media)
	if !known && !q.Broken {
		return ""
	}
	return q.Question()
}

func (s *Shop) mediaOf(sha256 string) (evidence.Media, error) {
	f, size, err := s.originals.Open(sha256)
	if err != nil {
		return evidence.Media{}, err
	}
	defer f.Close()
	return evidence.Inspect(f, size, "", "")
}

// View gives an upright JPEG of an original, small or large, to somebody who may
// see the original. One that has no view is NotFound, with the reason.
func (s *Shop) View(ctx context.Context, by By, sha256, size string) ([]byte, error) {
	wanted, err := views.ParseSize(size)
	if err != nil {
		return nil, err
	}
	if _, err := s.seen(ctx, by, sha256); err != nil {
		return nil, err
	}
	return s.views.Open(ctx, sha256, wanted)
}

// CodesView is what the codes in a photo hold.
type CodesView struct {
	Numbers    []numbers.Number // of labels that this shop gave out
	Strange    []numbers.Number // of labels that it did not
	Unreadable bool             // there seems to be a code, and none could be read
}

// Codes reads the labels in an original that the asker may see. Codes of others
// are passed over. An original that cannot be drawn is NotFound.
func (s *Shop) Codes(ctx context.Context, by By, sha256 string) (v CodesView, err error) {
	if _, err := s.seen(ctx, by, sha256); err != nil {
		return v, err
	}
	texts, unreadable, err := s.views.Codes(ctx, sha256)
	if err != nil {
		return v, err
	}
	v.Unreadable = unreadable
	return v, s.labelsIn(ctx, &v, texts)
}

// CodesIn reads the labels in a photo of size bytes, and keeps nothing of it. It
// tells no more than typing their numbers would, and so is for whoever asks.
func (s *Shop) CodesIn(ctx context.Context, _ By, photo io.ReadSeeker, size int64) (v CodesView, err error) {
	texts, unreadable, err := s.views.CodesIn(ctx, photo, size)
	if err != nil {
		return v, err
	}
	v.Unreadable = unreadable
	return v, s.labelsIn(ctx, &v, texts)
}

// labelsIn parts the labels among codes into ours and those of others.
func (s *Shop) labelsIn(ctx context.Context, v *CodesView, texts []string) error {
	return s.db.Read(ctx, func(rx *store.Rx) error {
		for _, text := range texts {
			sym, err := numbers.ParseSymbol(text)
			if err != nil || sym.Kind != numbers.Tool {
				continue
			}
			row, found, err := rx.Number(sym.Number())
			switch {
			case err != nil:
				return err
			case found && row.State != register.Void:
				v.Numbers = append(v.Numbers, sym.Number())
			default:
				v.Strange = append(v.Strange, sym.Number())
			}
		}
		return nil
	})
}

// FiledPhoto is one photo after it was filed. Already says that it was so before.
type FiledPhoto struct {
	ID, SHA256, Name string
	Kind             evidence.Kind
	Already          bool
}

// PhotosFiled is what filing a group of photos left behind.
type PhotosFiled struct {
	Tool     string // empty: unsorted
	Number   numbers.Number
	Started  bool // the tool is new, and not yet typed
	Photos   []FiledPhoto
	Question string
}

// FilePhotos files photos under the tool of a label, or as unsorted where no
// number is given. A label that is issued and free starts a tool that is not yet
// typed. A photo that is filed there already, or is unsorted, is passed over, so
// that filing twice changes nothing.
func (s *Shop) FilePhotos(ctx context.Context, by By, in register.Photos) (PhotosFiled, error) {
	out, err := act(ctx, s, by, "file photos", in, func(tx *store.Tx) (out PhotosFiled, err error) {
		if len(in.Photos) == 0 || len(in.Photos) > MaxAttach {
			return out, fault.At("#/photos", "%d photos; 1 to %d are filed at once", len(in.Photos), MaxAttach)
		}
		if err := tx.Lock("originals"); err != nil {
			return out, err
		}
		var d *directory
		var t register.Tool
		switch {
		case in.Start:
			d, t, err = startTool(tx, by, in)
			out.Started = true
		case in.Number == "":
			d, err = readNames(&tx.Rx)
			if err == nil {
				err = allowed(by, people.EditTool, people.Object{})
			}
		default:
			d, t, out.Started, err = toolForPhotos(tx, by, in)
		}
		if err != nil {
			return out, err
		}
		out.Tool, out.Number = t.ID, t.Number
		out.Photos, err = s.filePhotos(tx, by, d, t, in.Photos)
		return out, err
	})
	if err == nil && out.Tool != "" {
		out.Question = s.question(ctx, in.Photos)
	}
	return out, err
}

// toolForPhotos finds the tool of a number, or starts one.
func toolForPhotos(tx *store.Tx, by By, in register.Photos) (*directory, register.Tool, bool, error) {
	n, err := parseNumber(in.Number)
	if err != nil {
		return nil, register.Tool{}, false, fault.At("#/number", "%s", fault.Of(err).Error())
	}
	row, found, err := tx.Number(n)
	if err != nil {
		return nil, register.Tool{}, false, err
	}
	if found && row.State == register.Issued {
		d, t, err := startTool(tx, by, in)
		return d, t, true, err
	}
	d, t, err := toolForChange(tx, string(n))
	if err == nil {
		err = allowed(by, people.EditTool, d.object(t))
	}
	return d, t, false, err
}

// startTool records a tool that is photographed and not yet typed, under the
// number of a free label, or else the next one.
func startTool(tx *store.Tx, by By, in register.Photos) (*directory, register.Tool, error) {
	t := register.Tool{Created: tx.Now()}
	d, err := readNames(&tx.Rx)
	if err != nil {
		return d, t, err
	}
	var bad fault.Problems
	if in.Owner != "" {
		t.Owner, err = d.ownerID(in.Owner)
		bad.Keep("#/owner", err)
	}
	if in.Place != "" {
		t.Place, err = d.place(in.Place)
		bad.Keep("#/place", err)
	}
	if err := bad.Err(); err != nil {
		return d, t, err
	}
	if err := allowed(by, people.EditTool, d.object(t)); err != nil {
		return d, t, err
	}
	if t.ID, err = tx.NewID('T'); err != nil {
		return d, t, err
	}
	if t.Number, err = numberFor(tx, in.Number, t.ID); err != nil {
		return d, t, err
	}
	if err := holdPlaces(tx, t.Place); err != nil {
		return d, t, err
	}
	return d, t, store.Put(tx, &t)
}

// filePhotos records each photo that is not filed under the tool, or unsorted,
// already.
func (s *Shop) filePhotos(tx *store.Tx, by By, d *directory, t register.Tool, in []register.Attach) (out []FiledPhoto, err error) {
	have := 0
	if t.ID != "" {
		all, err := tx.Evidence(t.ID)
		if err != nil {
			return nil, err
		}
		have = len(all)
	}
	var bad fault.Problems
	for i, a := range in {
		at := fmt.Sprintf("#/photos/%d", i)
		if slices.ContainsFunc(out, func(f FiledPhoto) bool { return f.SHA256 == a.SHA256 }) {
			bad.Add(at, "%s is named twice", short(a.SHA256))
			continue
		}
		filed, err := s.filePhoto(tx, by, d, t, a)
		if err != nil {
			bad.Keep(at, err)
			continue
		}
		if out = append(out, filed); !filed.Already {
			have++
		}
	}
	if t.ID != "" && have > MaxAttach {
		bad.Add("#/photos", "%d photos and papers; a tool has at most %d", have, MaxAttach)
	}
	return out, bad.Err()
}

func (s *Shop) filePhoto(tx *store.Tx, by By, d *directory, t register.Tool, a register.Attach) (FiledPhoto, error) {
	filed := FiledPhoto{SHA256: a.SHA256, Name: fileName(a.Name)}
	if t.ID == "" {
		a.Kind = string(evidence.Other)
	}
	e, err := s.newEvidence(tx, by, d, t, a)
	if err != nil {
		return filed, err
	}
	if e.MediaType == evidence.TypePDF {
		return filed, fault.New(fault.Invalid, "%s is a PDF; this is for photos", short(a.SHA256)).WithHint("use: pawl evidence add NUMBER --paper receipt=FILE")
	}
	all, err := tx.EvidenceOf(a.SHA256)
	if err != nil {
		return filed, err
	}
	for _, was := range all {
		if t.ID == "" || was.Place == "" && (was.Tool == t.ID || was.Tool == "") {
			filed.ID, filed.Kind, filed.Already = was.ID, was.Kind, true
			return filed, nil
		}
	}
	filed.ID, filed.Kind = e.ID, e.Kind
	return filed, store.Put(tx, &e)
}
