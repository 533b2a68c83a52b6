// Package packets writes and checks what is handed over so that it can be checked: the
// annex of a packet, and the copy of a shop that is kept elsewhere. Both are one bag with
// the originals and the folder proof/.
//
// An annex is made of its statement, which is frozen, of originals and of lines of the
// ledger under one size. The same three give the same bytes, whatever was learned since.
package packets

import (
	"bytes"
	"encoding/hex"
	"io"
	"maps"
	"slices"
	"strings"

	"pawl/model/bag"
	"pawl/model/claims"
	"pawl/model/dates"
	"pawl/model/evidence"
	"pawl/model/fault"
	"pawl/model/proofs"
)

// ReadMeFile is the page of an annex that is opened first. It is drawn of the statement.
const ReadMeFile = "data/00-READ-ME-FIRST.html"

// Other files of an annex.
const (
	statementFile     = "data/statement.json"
	ownFile           = "data/own.pdf"
	certificationFile = "proof/CERTIFICATION-BLANK.pdf"
	maxStatement      = 256 << 20
)

// Source is what an annex is made of.
type Source struct {
	claims.Statement
	Raw    []byte // the statement as it is kept
	Proofs proofs.Source
	// Original opens the bytes of a file of the statement.
	Original func(sha256 string) (io.ReadCloser, error)
	// Thumb gives the small view of a photo.
	Thumb  func(claims.File) ([]byte, error)
	ReadMe func(io.Writer) error
	Own    func(io.Writer) error // the paper on whose a tool is, where that goes along; nil: none
	// Certification writes the blank page by which a person may certify records; nil: none.
	Certification func(io.Writer) error
	// Date dates the bag; nil: nobody does.
	Date bag.Dater
}

// Day is the bagging date: that of the packet, in the shop's zone.
func Day(s claims.Statement) (dates.Date, error) {
	loc, err := s.Location()
	if err != nil {
		return "", err
	}
	return s.Created.Day(loc), nil
}

func (src Source) info() (bag.Info, error) {
	day, err := Day(src.Statement)
	if err != nil {
		return bag.Info{}, err
	}
	name, what := "annex-"+src.Packet, "Photos, papers and proofs, claim"
	if src.Packet == "" {
		name = "annex-" + string(day)
	}
	if src.Kind == claims.Ownership {
		what = "Photos, papers and proofs, whose a tool is"
	}
	labels := []bag.Label{{Name: "Source-Organization", Value: src.Shop}, {Name: "External-Description", Value: what},
		{Name: "Bagging-Date", Value: string(day)}}
	if id := src.Packet; id != "" {
		labels = append(labels, bag.Label{Name: "External-Identifier", Value: id})
	}
	return bag.Info{Name: name, Date: day, Labels: labels}, nil
}

// Write writes the annex to w and gives the fingerprint of its bag. Of the originals one
// is read at a time.
func Write(w io.Writer, src Source) (fingerprint string, err error) {
	info, err := src.info()
	if err != nil {
		return "", err
	}
	out, err := bag.NewWriter(w, info)
	if err != nil {
		return "", err
	}
	if err := src.write(out, func(f claims.File) error { return src.original(out, f) }); err != nil {
		return "", err
	}
	return out.CloseStamped(src.Date)
}

// Plan gives the fingerprint and the size that the annex will have. Of the originals it
// reads only those of which a copy goes in.
func Plan(src Source) (fingerprint string, size int64, err error) {
	info, err := src.info()
	if err != nil {
		return "", 0, err
	}
	out, err := bag.NewPlan(info)
	if err != nil {
		return "", 0, err
	}
	err = src.write(out.Writer, func(f claims.File) error {
		sum, err := hex.DecodeString(f.SHA256)
		if f.Copy || err != nil {
			return src.original(out.Writer, f)
		}
		return out.Known(f.Path, sum, f.Bytes)
	})
	if err == nil {
		fingerprint, err = out.Close()
	}
	return fingerprint, out.Size(), err
}

func (src Source) write(out *bag.Writer, original func(claims.File) error) error {
	if err := drawn(out, ReadMeFile, src.ReadMe); err != nil {
		return err
	}
	if err := drawn(out, ownFile, src.Own); err != nil {
		return err
	}
	for _, f := range Handed(src.Statement) {
		if err := original(f); err != nil {
			return err
		}
	}
	if err := out.Add(statementFile, false, bytes.NewReader(src.Raw)); err != nil {
		return err
	}
	if err := src.thumbs(out); err != nil {
		return err
	}
	if err := drawn(out, certificationFile, src.Certification); err != nil {
		return err
	}
	return proofs.Write(out, src.Proofs)
}

// thumbs puts the small views of photos into the bag, by path.
func (src Source) thumbs(out *bag.Writer) error {
	byPath := map[string]claims.File{}
	for _, f := range Handed(src.Statement) {
		if path := src.ThumbPath(f); path != "" {
			byPath[path] = f
		}
	}
	for _, path := range slices.Sorted(maps.Keys(byPath)) {
		f := byPath[path]
		view, err := src.Thumb(f)
		if err != nil {
			return fault.New(fault.Unavailable, "%s %s cannot be drawn small just now: %s", f.Kind, f.Ref, fault.Of(err).Message).
				WithHint("try again; where it stays so, build another packet").WithCause(err)
		}
		if err := out.Add(path, true, bytes.NewReader(view)); err != nil {
			return err
		}
	}
	return nil
}

// drawn writes a file that is drawn; where nothing draws it, there is none.
func drawn(out *bag.Writer, path string, draw func(io.Writer) error) error {
	if draw == nil {
		return nil
	}
	w, err := out.Create(path, false)
	if err != nil {
		return err
	}
	return draw(w)
}

// Handed lists the files whose bytes the annex holds, by path, each once.
func Handed(s claims.Statement) []claims.File {
	return slices.CompactFunc(handed(s), func(a, b claims.File) bool { return a.Path == b.Path })
}

// handed lists them as often as they are named.
func handed(s claims.Statement) []claims.File {
	var out []claims.File
	take := func(all []claims.File) {
		for _, f := range all {
			if f.Path != "" && f.Left == "" {
				out = append(out, f)
			}
		}
	}
	take(s.Files)
	for _, l := range s.Lines {
		take(l.Files)
	}
	slices.SortStableFunc(out, func(a, b claims.File) int { return strings.Compare(a.Path, b.Path) })
	return out
}

// original puts the bytes of one file into the bag, or a copy of them without place.
func (src Source) original(out *bag.Writer, f claims.File) (err error) {
	r, err := src.Original(f.SHA256)
	if err != nil {
		return fault.New(fault.Refused, "%s %s cannot be handed over: its original is not here any more", f.Kind, f.Ref).
			WithHint("restore it from a backup, then build again").WithCause(err)
	}
	defer r.Close()
	if !f.Copy {
		return out.Add(f.Path, true, r)
	}
	w, err := out.Create(f.Path, true)
	if err != nil {
		return err
	}
	return evidence.WithoutMetadata(w, r)
}
