package model

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"io"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"pawl/labels"
	"pawl/model/claims"
	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/ledger"
	"pawl/model/packets"
	"pawl/model/proofs"
	"pawl/model/stamp"
)

// Names of files of a packet.
const (
	AnnexFile    = "annex.zip"
	handOverFile = "hand-over.pdf"
)

// PacketFile is a file of a packet.
type PacketFile struct {
	Name, MediaType string
	Write           func(ctx context.Context, w io.Writer) error
}

// handing is a packet that is ready to be written, from a shop or from a copy of one.
type handing struct {
	claims.Statement
	raw              []byte
	photo            func(claims.File) ([]byte, error)
	annex            func(context.Context, io.Writer) error
	anchors          func(context.Context) ([]string, error) // what of it was fixed before; nil: nothing
	point            ledger.Checkpoint
	fingerprint, key string
	maxPart          int64  // of the claim document, in bytes; 0 leaves it whole
	room             string // folder where its parts are kept once they were drawn
}

// files lists them in the order in which they are handed over.
func (h handing) files() ([]PacketFile, error) {
	var out []PacketFile
	add := func(name, mediaType string, there bool, write func(io.Writer) error) {
		if there {
			out = append(out, PacketFile{name, mediaType, func(_ context.Context, w io.Writer) error { return write(w) }})
		}
	}
	if h.Kind == claims.Insurance {
		parts, err := h.claimParts()
		if err != nil {
			return nil, err
		}
		out = append(out, parts...)
	}
	add("warranty.pdf", pdfType, h.Kind == claims.Warranty, func(w io.Writer) error { return labels.Warranty(w, h.Statement, h.photo) })
	add("police.pdf", pdfType, h.Loss != nil, func(w io.Writer) error { return labels.Police(w, h.Statement) })
	add("inventory.xlsx", xlsxType, true, func(w io.Writer) error { return labels.InventoryXLSX(w, h.Statement) })
	add("inventory.csv", csvType, true, func(w io.Writer) error { return labels.InventoryCSV(w, h.Statement) })
	return append(out, PacketFile{AnnexFile, zipType, h.annex}, PacketFile{handOverFile, pdfType, h.handOver}), nil
}

// Media types of the files of a packet.
const (
	pdfType  = "application/pdf"
	xlsxType = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
	csvType  = "text/csv"
	zipType  = "application/zip"
)

// mostRooms is in how many divisions the claim document of a packet is kept: whoever may
// read it may ask for parts of any size.
const mostRooms = 4

// claimParts lists the parts of the claim document. It is drawn once, into its room: with
// hundreds of photos that takes its time. How many parts of a certain size there are shows
// only then; how many whole ones, without.
func (h handing) claimParts() (out []PacketFile, err error) {
	parts := labels.WholeParts(len(h.Lines))
	if h.maxPart > 0 {
		if _, err := os.Stat(h.room); errors.Is(err, fs.ErrNotExist) {
			if err := h.drawClaim(); err != nil {
				return nil, err
			}
		}
		all, err := os.ReadDir(h.room)
		if err != nil {
			return nil, err
		}
		parts = len(all)
	}
	for _, name := range labels.ClaimNames(parts) {
		out = append(out, PacketFile{name, pdfType, func(_ context.Context, w io.Writer) error { return h.copyPart(w, name) }})
	}
	return out, nil
}

// copyPart writes a part out of its room, drawn where it is not there.
func (h handing) copyPart(w io.Writer, name string) error {
	path := filepath.Join(h.room, name)
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		if err := h.drawClaim(); err != nil {
			return err
		}
	}
	return copyOut(w, path)
}

// drawClaim draws all parts beside the room and puts them there by one rename.
func (h handing) drawClaim() error {
	if err := os.MkdirAll(filepath.Dir(h.room), 0o700); err != nil {
		return err
	}
	dir, err := os.MkdirTemp(filepath.Dir(h.room), "drawing-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	if err := labels.Claim(h.Statement, h.photo, h.maxPart, func(_, _ int, name string) (io.WriteCloser, error) {
		return os.OpenFile(filepath.Join(dir, name), os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	}); err != nil {
		return err
	}
	if err := os.Rename(dir, h.room); err != nil && !errors.Is(err, fs.ErrExist) {
		return err // when it is there, somebody else drew the same meanwhile
	}
	return h.clearRooms()
}

// clearRooms removes the oldest divisions of the same document beyond mostRooms.
func (h handing) clearRooms() error {
	parent, name := filepath.Split(h.room)
	end := strings.LastIndex(name, "-")
	all, err := os.ReadDir(parent)
	if err != nil || end < 0 {
		return err
	}
	drawn := map[string]time.Time{}
	for _, r := range all {
		info, err := r.Info()
		if err == nil && strings.HasPrefix(r.Name(), name[:end+1]) && r.Name() != name {
			drawn[r.Name()] = info.ModTime()
		}
	}
	oldest := slices.SortedFunc(maps.Keys(drawn), func(a, b string) int { return cmp.Or(drawn[a].Compare(drawn[b]), strings.Compare(a, b)) })
	for _, r := range oldest[:max(0, len(oldest)-mostRooms+1)] {
		err = errors.Join(err, os.RemoveAll(filepath.Join(parent, r)))
	}
	return err
}

func copyOut(w io.Writer, path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	_, err = io.Copy(w, f)
	return err
}

// dropPapers removes what was drawn of packets over a day ago; it is drawn again when
// somebody asks.
func (s *Shop) dropPapers(context.Context, By) (string, error) {
	dir := filepath.Join(s.dir, "views", "papers")
	rooms, err := os.ReadDir(dir)
	if errors.Is(err, fs.ErrNotExist) {
		return "", nil
	}
	for _, r := range rooms {
		info, e := r.Info()
		if e == nil && info.ModTime().Before(s.clock().Add(-24*time.Hour)) {
			err = errors.Join(err, os.RemoveAll(filepath.Join(dir, r.Name())))
		}
	}
	return "", err
}

// handOver draws the sheet that goes beside the files: the fingerprint, which cannot
// stand in what it is of, and each other file with its size and hash.
func (h handing) handOver(ctx context.Context, w io.Writer) error {
	sheet := labels.HandOver{Fingerprint: h.fingerprint, Origin: h.point.Origin, Root: h.point.Root.String(), Size: h.point.Size, Key: h.key}
	all, err := h.files()
	if err == nil && h.anchors != nil {
		sheet.Compare, err = h.anchors(ctx)
	}
	if err != nil {
		return err
	}
	for _, f := range all {
		switch f.Name {
		case handOverFile:
			continue
		case AnnexFile:
			sheet.Files = append(sheet.Files, labels.HandedFile{Name: f.Name})
			continue
		}
		sum := counting{hash: sha256.New()}
		if err := f.Write(ctx, &sum); err != nil {
			return err
		}
		sheet.Files = append(sheet.Files, labels.HandedFile{Name: f.Name, Bytes: sum.n, SHA256: hex.EncodeToString(sum.hash.Sum(nil))})
	}
	return labels.HandOverSheet(w, h.Statement, sheet)
}

// anchors name the checkpoint from before what a packet is about, and the time stamp on it.
func (s *Shop) anchors(ctx context.Context, st claims.Statement) (out []string, err error) {
	err = s.db.Read(ctx, func(rx *store.Rx) error {
		at, err := rx.CheckpointBy(before(st), st.Size-1)
		if err != nil || at == 0 {
			return err
		}
		c, found, err := rx.CheckpointAt(at)
		if err != nil || !found {
			return err
		}
		dated, _, err := rx.Stamp(digestOf(c.Note))
		if err != nil {
			return err
		}
		out = anchorWords(st, packets.Point{Size: at, Made: c.Made, Note: c.Note, Stamp: dated.Answer})
		return nil
	})
	return out, err
}

// anchorWords put an older checkpoint into words, and what dates it. A time stamp that does
// not hold is named as one, and is not handed over.
func anchorWords(st claims.Statement, p packets.Point) []string {
	out := []string{fmt.Sprintf("The checkpoint at %d lines, signed %s by the shop's own clock: proof/anchor.txt. Compare it with what was given to somebody outside the shop then.", p.Size, st.When(p.Made))}
	if len(p.Stamp) == 0 {
		return out
	}
	said, err := stampOn(p.Note, p.Stamp)
	if err != nil {
		return append(out, badStamp(p.Size, err))
	}
	return append(out, fmt.Sprintf("The time stamp on that checkpoint, of %s by %s: proof/anchor.tsr.", st.When(dates.InstantOf(said.At)), said.Authority))
}

// stampOn reads the time stamp on a checkpoint, if it holds.
func stampOn(note string, answer []byte) (stamp.Stamped, error) {
	return stamp.Check(answer, sha256.Sum256([]byte(note)), nil, time.Time{})
}

// badStamp is what is said of a time stamp that does not hold.
func badStamp(size int64, why error) string {
	return fmt.Sprintf("The time stamp that was kept with the checkpoint at %d lines DOES NOT HOLD, and a packet does not hand it over: %s. That checkpoint is dated by the shop's own clock alone.", size, fault.Of(why).Message)
}

// anchorOf is an older checkpoint with its time stamp, where it holds.
func anchorOf(note string, answer []byte) *proofs.Anchor {
	if _, err := stampOn(note, answer); err != nil {
		answer = nil
	}
	return &proofs.Anchor{Note: note, Answer: answer}
}

// counting hashes and counts what is written.
type counting struct {
	hash hash.Hash
	n    int64
}

func (c *counting) Write(p []byte) (int, error) {
	c.n += int64(len(p))
	return c.hash.Write(p)
}
