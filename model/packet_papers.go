package model

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"hash"
	"io"

	"pawl/model/claims"
	"pawl/model/ledger"
	"pawl/model/packets"
)

// drawing draws the papers of a packet, each drawn from its statement alone. A nil one is in
// no packet.
type drawing struct {
	claim         func(s claims.Statement, photo func(claims.File) ([]byte, error), maxPart int64, part func(n, of int, name string) (io.WriteCloser, error)) error
	ownership     func(w io.Writer, s claims.Statement, photo func(claims.File) ([]byte, error)) error
	warranty      func(w io.Writer, s claims.Statement, photo func(claims.File) ([]byte, error)) error
	police        func(w io.Writer, s claims.Statement) error
	inventoryXLSX func(w io.Writer, s claims.Statement) error
	inventoryCSV  func(w io.Writer, s claims.Statement) error
	handOver      func(w io.Writer, s claims.Statement, h HandOver) error
	readMePage    func(w io.Writer, s claims.Statement) error
	certifying    func(w io.Writer, paper string) error
}

// HandOver is what the sheet says that goes beside the files.
type HandOver struct {
	Fingerprint, Origin, Root, Key string
	Size                           int64
	Files                          []HandedFile
}

// HandedFile is one file that is handed over.
type HandedFile struct {
	Name   string
	Bytes  int64
	SHA256 string
}

// papers are those that this program draws.
var papers = drawing{readMePage: packets.ReadMe}

func (d drawing) readMe(s claims.Statement) func(io.Writer) error {
	return func(w io.Writer) error { return d.readMePage(w, s) }
}

// own draws into the annex whose its one tool is, where nothing else goes along with it.
func (d drawing) own(s claims.Statement, photo func(claims.File) ([]byte, error)) func(io.Writer) error {
	if d.ownership == nil || s.Kind != claims.Ownership || len(s.Lines) != 1 {
		return nil
	}
	return func(w io.Writer) error { return d.ownership(w, s, photo) }
}

func (d drawing) certification(s claims.Statement) func(io.Writer) error {
	if d.certifying == nil {
		return nil
	}
	return func(w io.Writer) error { return d.certifying(w, s.Paper) }
}

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
	maxPart          int64 // of the claim document, in bytes; 0 leaves it whole
}

// files lists them in the order in which they are handed over.
func (h handing) files() ([]PacketFile, error) {
	var out []PacketFile
	add := func(name, mediaType string, there bool, write func(io.Writer) error) {
		if there {
			out = append(out, PacketFile{name, mediaType, func(_ context.Context, w io.Writer) error { return write(w) }})
		}
	}
	if h.Kind == claims.Insurance && papers.claim != nil {
		parts, err := h.claimParts()
		if err != nil {
			return nil, err
		}
		out = append(out, parts...)
	}
	add("warranty.pdf", pdfType, h.Kind == claims.Warranty && papers.warranty != nil, func(w io.Writer) error { return papers.warranty(w, h.Statement, h.photo) })
	add("police.pdf", pdfType, h.Loss != nil && papers.police != nil, func(w io.Writer) error { return papers.police(w, h.Statement) })
	add("inventory.xlsx", xlsxType, papers.inventoryXLSX != nil, func(w io.Writer) error { return papers.inventoryXLSX(w, h.Statement) })
	add("inventory.csv", csvType, papers.inventoryCSV != nil, func(w io.Writer) error { return papers.inventoryCSV(w, h.Statement) })
	out = append(out, PacketFile{AnnexFile, zipType, h.annex})
	if papers.handOver != nil {
		out = append(out, PacketFile{handOverFile, pdfType, h.handOver})
	}
	return out, nil
}

// Media types of the files of a packet.
const (
	pdfType  = "application/pdf"
	xlsxType = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
	csvType  = "text/csv"
	zipType  = "application/zip"
)

// discarded takes what is drawn, and is closed when a part of it is.
type discarded struct{ io.Writer }

func (discarded) Close() error { return nil }

// claimParts lists the parts of the claim document; to know how many there are, it is
// drawn.
func (h handing) claimParts() (out []PacketFile, err error) {
	err = papers.claim(h.Statement, h.photo, h.maxPart, func(n, _ int, name string) (io.WriteCloser, error) {
		out = append(out, PacketFile{name, pdfType, func(_ context.Context, w io.Writer) error {
			return papers.claim(h.Statement, h.photo, h.maxPart, func(m, _ int, _ string) (io.WriteCloser, error) {
				if m == n {
					return discarded{w}, nil
				}
				return discarded{io.Discard}, nil
			})
		}})
		return discarded{io.Discard}, nil
	})
	return out, err
}

// handOver draws the sheet that goes beside the files: the fingerprint, which cannot
// stand in what it is of, and each file with its size and hash.
func (h handing) handOver(ctx context.Context, w io.Writer) error {
	sheet := HandOver{Fingerprint: h.fingerprint, Origin: h.point.Origin, Root: h.point.Root.String(), Size: h.point.Size, Key: h.key}
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
		sheet.Files = append(sheet.Files, HandedFile{f.Name, sum.n, hex.EncodeToString(sum.hash.Sum(nil))})
	}
	return papers.handOver(w, h.Statement, sheet)
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
