package model

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"hash"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"pawl/labels"
	"pawl/model/claims"
	"pawl/model/ledger"
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

// claimParts lists the parts of the claim document. It is drawn once, into its room: with
// hundreds of photos that takes its time, and how many parts there are shows only then.
func (h handing) claimParts() (out []PacketFile, err error) {
	if _, err := os.Stat(h.room); errors.Is(err, fs.ErrNotExist) {
		if err := h.drawClaim(); err != nil {
			return nil, err
		}
	}
	all, err := os.ReadDir(h.room)
	if err != nil {
		return nil, err
	}
	for _, name := range labels.ClaimNames(len(all)) {
		out = append(out, PacketFile{name, pdfType, func(_ context.Context, w io.Writer) error { return copyOut(w, filepath.Join(h.room, name)) }})
	}
	return out, nil
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
	return nil
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
// stand in what it is of, and each file with its size and hash.
func (h handing) handOver(ctx context.Context, w io.Writer) error {
	sheet := labels.HandOver{Fingerprint: h.fingerprint, Origin: h.point.Origin, Root: h.point.Root.String(), Size: h.point.Size, Key: h.key}
	all, err := h.files()
	if err != nil {
		return err
	}
	for _, f := range all {
		if f.Name == handOverFile {
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

// counting hashes and counts what is written.
type counting struct {
	hash hash.Hash
	n    int64
}

func (c *counting) Write(p []byte) (int, error) {
	c.n += int64(len(p))
	return c.hash.Write(p)
}
