package model

import (
	"context"
	"io"

	"pawl/model/claims"
	"pawl/model/fault"
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

func (d drawing) certification(s claims.Statement) func(io.Writer) error {
	if d.certifying == nil {
		return nil
	}
	return func(w io.Writer) error { return d.certifying(w, s.Paper) }
}

// Names of the files of a packet. A claim document has one part, claim.pdf, or several.
const (
	AnnexFile     = "annex.zip"
	StatementFile = "statement.json"
	claimFile     = "claim.pdf"
	handOverFile  = "hand-over.pdf"
)

// PacketFile is a file of a packet.
type PacketFile struct {
	Name, MediaType string
	write           func(ctx context.Context, w io.Writer) error
}

// photo gives the view of a photo that is printed.
func (s *Shop) photo(ctx context.Context) func(claims.File) ([]byte, error) {
	return func(f claims.File) ([]byte, error) { return s.views.Open(ctx, f.SHA256, "large") }
}

// PacketFiles lists the files of a packet in the order in which they are handed over.
// MaxPart splits the claim document, 0 leaves it whole.
func (s *Shop) PacketFiles(ctx context.Context, v PacketView, maxPart int64) ([]PacketFile, error) {
	var out []PacketFile
	st := v.Statement
	add := func(name, mediaType string, there bool, write func(context.Context, io.Writer) error) {
		if there {
			out = append(out, PacketFile{name, mediaType, write})
		}
	}
	plain := func(draw func(io.Writer, claims.Statement) error) func(context.Context, io.Writer) error {
		return func(_ context.Context, w io.Writer) error { return draw(w, st) }
	}
	pictured := func(draw func(io.Writer, claims.Statement, func(claims.File) ([]byte, error)) error) func(context.Context, io.Writer) error {
		return func(ctx context.Context, w io.Writer) error { return draw(w, st, s.photo(ctx)) }
	}
	insured := st.Kind == claims.Insurance
	if insured && papers.claim != nil {
		parts, err := s.claimParts(ctx, st, maxPart)
		if err != nil {
			return nil, err
		}
		out = append(out, parts...)
	}
	add("own.pdf", pdfType, st.Kind == claims.Ownership && papers.ownership != nil && len(st.Lines) == 1, pictured(papers.ownership))
	add("warranty.pdf", pdfType, st.Kind == claims.Warranty && papers.warranty != nil, pictured(papers.warranty))
	add("police.pdf", pdfType, st.Loss != nil && papers.police != nil, plain(papers.police))
	add("inventory.xlsx", xlsxType, papers.inventoryXLSX != nil, plain(papers.inventoryXLSX))
	add("inventory.csv", csvType, papers.inventoryCSV != nil, plain(papers.inventoryCSV))
	add(StatementFile, jsonType, true, func(_ context.Context, w io.Writer) error {
		_, raw, err := s.statement(v.Packet)
		if err == nil {
			_, err = w.Write(raw)
		}
		return err
	})
	add(AnnexFile, zipType, true, func(ctx context.Context, w io.Writer) error { return s.WriteAnnex(ctx, v, w) })
	add(handOverFile, pdfType, papers.handOver != nil, func(ctx context.Context, w io.Writer) error { return s.writeHandOver(ctx, v, maxPart, w) })
	return out, nil
}

// Media types of the files of a packet.
const (
	pdfType  = "application/pdf"
	xlsxType = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
	csvType  = "text/csv"
	jsonType = "application/json"
	zipType  = "application/zip"
)

// nowhere takes what is drawn only to be counted.
type nowhere struct{ io.Writer }

func (nowhere) Close() error { return nil }

// claimParts lists the parts of the claim document; to know how many there are, it is
// drawn.
func (s *Shop) claimParts(ctx context.Context, st claims.Statement, maxPart int64) (out []PacketFile, err error) {
	err = papers.claim(st, s.photo(ctx), maxPart, func(n, _ int, name string) (io.WriteCloser, error) {
		out = append(out, PacketFile{name, pdfType, func(ctx context.Context, w io.Writer) error {
			return papers.claim(st, s.photo(ctx), maxPart, func(m, _ int, _ string) (io.WriteCloser, error) {
				if m == n {
					return nowhere{w}, nil
				}
				return nowhere{io.Discard}, nil
			})
		}})
		return nowhere{io.Discard}, nil
	})
	return out, err
}

// WritePacketFile writes one file of a packet by its name.
func (s *Shop) WritePacketFile(ctx context.Context, by By, id, name string, maxPart int64) (PacketFile, func(io.Writer) error, error) {
	v, err := s.Packet(ctx, by, id, false)
	if err != nil {
		return PacketFile{}, nil, err
	}
	all, err := s.PacketFiles(ctx, v, maxPart)
	if err != nil {
		return PacketFile{}, nil, err
	}
	for _, f := range all {
		if f.Name == name {
			return f, func(w io.Writer) error { return f.write(ctx, w) }, nil
		}
	}
	return PacketFile{}, nil, fault.New(fault.NotFound, "packet %s has no file %s", id, clipCell(name)).WithHint("it lists its files")
}
