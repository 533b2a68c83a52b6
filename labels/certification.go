package labels

import (
	"io"

	"pawl/model/claims"
)

// Certification draws the blank page on which a qualified person may certify records
// from an electronic process and copies known by their hashes (US Fed. R. Evid. 902(13)
// and (14); identity-labels-evidence 4.6; "a system that gives an accurate result" from
// memory). Nothing on it is filled in.
func Certification(w io.Writer, size string) error {
	p, err := newPaper(size, "Certification of electronic records, blank")
	if err != nil {
		return err
	}
	p.words(boldFace, 6.5, "Certification of electronic records")
	p.words(lineFace, paperType, "Blank form. In the United States, Federal Rules of Evidence 902(13) and 902(14), in effect since 1 December 2017, let a qualified person certify records made by an "+
		"electronic process, and data that were copied and \"authenticated by a process of digital identification\"; equal hash values are treated as showing exact duplicates. "+
		"Objections of hearsay and relevance remain. Other places have other rules. This is no legal advice: ask a lawyer whether, and how, to use it.")
	p.boxed("Nobody has certified anything on this page unless it is filled in and signed below", "The program that made this page fills in nothing and signs for nobody.")
	p.heading(4.4, "Who certifies")
	p.blanks(58, "Name", "Position, and why qualified", "Address")
	p.heading(4.4, "Records made by an electronic process: 902(13)")
	p.words(lineFace, paperType, "The records named below were made by an electronic process or system that gives an accurate result. How it works and how it was used:")
	p.blanks(58, "Program, version", "Computer, where kept", "Records, by file name", "How they were made", "")
	p.heading(4.4, "Copies known by their hashes: 902(14)")
	p.words(lineFace, paperType, "The copies named below were compared with what they were copied from by a process of digital identification, and were the same:")
	p.blanks(58, "Process (such as SHA-256)", "Fingerprint, as compared", "Compared on, by whom")
	p.heading(4.4, "Signature")
	p.blanks(58, "As the law of the place asks", "Signature", "Place and date")
	return p.output(paperHead{left: "Certification of electronic records, blank form", foot: "Blank form. " + claims.NoAdvice}, w)
}
