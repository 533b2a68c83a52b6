package labels

import (
	"fmt"
	"io"
	"strings"

	"pawl/model/claims"
	"pawl/model/fault"
	"pawl/model/pattern"
)

// HandOver is what the sheet says that is kept apart from the files: by it, paper and
// files are tied together.
type HandOver struct {
	Fingerprint string // SHA-256 of the annex's tagmanifest-sha256.txt: 64 hex digits
	Origin      string // of the checkpoint
	Size        int64  // lines of the ledger under it
	Root        string // base64
	Key         string // fingerprint of the public key
	Files       []HandedFile
	Compare     []string // where fingerprint, checkpoint and key can be compared
}

// HandedFile is one file that is given. The annex goes by its fingerprint, and has no SHA256
// here: a time stamp that comes later changes its bytes, and nothing that it holds.
type HandedFile struct {
	Name   string
	Bytes  int64
	SHA256 string
}

var sha256Text = pattern.Late(`^[0-9a-f]{64}$`)

const handOverSymbol = 44.0

// HandOverSheet draws the sheet that goes with the files by another way: on paper.
func HandOverSheet(w io.Writer, s claims.Statement, h HandOver) error {
	if err := s.Check(); err != nil {
		return err
	}
	if !sha256Text().MatchString(h.Fingerprint) {
		return fault.At("#/fingerprint", "%.80q is not a fingerprint", h.Fingerprint).WithHint("it is the SHA-256 of tagmanifest-sha256.txt: 64 digits 0-9 and a-f")
	}
	symbol, err := Encode(h.Fingerprint, 0)
	if err != nil {
		return err
	}
	title := strings.TrimSpace("Hand-over sheet " + s.Packet)
	p, err := newPaper(s.Paper, title)
	if err != nil {
		return err
	}
	p.words(boldFace, 6.5, "Hand-over sheet")
	p.words(lineFace, paperType, fmt.Sprintf("%s, packet %s of %s (%s). Keep this paper apart from the files: it shows whether they are the ones that were given.", s.Shop, told(s.Packet), s.When(s.Created), s.Zone))
	p.heading(4.4, "Fingerprint of the annex")
	p.symbolBeside(symbol, handOverSymbol, func(x, wide float64) (runs []run) {
		for _, row := range grouped(h.Fingerprint, 4, 4) {
			runs = append(runs, p.lines(numberFace, 5, x, wide, row)...)
		}
		return append(runs, p.lines(lineFace, paperType, x, wide, "SHA-256 of the file tagmanifest-sha256.txt in the annex, also in the symbol. Sixteen groups of four: all must be equal.")...)
	})
	p.heading(4.4, "Checkpoint of the shop's ledger")
	p.notes(0, factName, false, note{name: "Origin", value: told(h.Origin), face: numberFace}, note{name: "Lines", value: fmt.Sprint(h.Size), face: numberFace},
		note{name: "Root (base64)", value: told(h.Root), face: numberFace}, note{name: "Key fingerprint", value: told(h.Key), face: numberFace})
	handedFiles(p, h.Files)
	p.heading(4.4, "To check")
	for _, text := range append([]string{"Unpack the annex, and in its folder: sha256sum tagmanifest-sha256.txt, then sha256sum -c tagmanifest-sha256.txt, then sha256sum -c manifest-sha256.txt. " +
		"On Windows certutil -hashfile FILE SHA256, on macOS shasum -a 256 FILE, give the same digits.", claims.ProofWords}, comparing(h.Compare)...) {
		p.words(lineFace, paperType, text)
	}
	p.signatures()
	p.missing()
	return p.output(paperHead{left: title + ", " + s.Shop, foot: claims.NoAdvice}, w)
}

// comparing says where to compare: with the anchors outside the shop.
func comparing(given []string) []string {
	if len(given) == 0 {
		return []string{"No outside anchor is named. Compare the fingerprint with the annex, and checkpoint and key with the ones that were given to you or to somebody outside the shop before."}
	}
	return append([]string{"Outside anchors, to compare with:"}, given...)
}

// handedFiles list what is given.
func handedFiles(p *paper, files []HandedFile) {
	p.heading(4.4, fmt.Sprintf("Files handed over (%d)", len(files)))
	for _, f := range files {
		if f.SHA256 == "" {
			p.row(false, cell{text: f.Name, wide: p.wide() * 0.24, face: boldFace}, cell{text: "by the fingerprint above; a time stamp may be added to it later", x: p.wide() * 0.43, wide: p.wide() * 0.57})
			continue
		}
		p.row(false, cell{text: f.Name, wide: p.wide() * 0.24, face: boldFace}, cell{text: fmt.Sprintf("%d bytes", f.Bytes), x: p.wide() * 0.25, wide: p.wide() * 0.16, right: true},
			cell{text: strings.Join(grouped(f.SHA256, 4, 8), " "), x: p.wide() * 0.43, wide: p.wide() * 0.57, face: numberFace})
	}
	if len(files) == 0 {
		p.words(lineFace, paperType, "None is named.")
	}
}

// grouped sets digits in groups, so many groups a row.
func grouped(digits string, size, groups int) (rows []string) {
	var row []string
	for len(digits) > 0 {
		n := min(size, len(digits))
		row, digits = append(row, digits[:n]), digits[n:]
		if len(row) == groups || digits == "" {
			rows, row = append(rows, strings.Join(row, " ")), nil
		}
	}
	return rows
}

// signatures are lines for who gives and who takes, held together.
func (p *paper) signatures() {
	from := len(p.blocks)
	p.heading(4.4, "Given and taken")
	p.blanks(58, "Given by (name)", "Signature, place and date", "Taken by (name)", "Signature, place and date")
	for i := from; i < len(p.blocks)-1; i++ {
		p.blocks[i].held = true
	}
}
