// Package proofs writes and checks the folder proof/ of a bag: lines of a ledger
// with their salts and images, each with the proof that it is under one signed
// checkpoint, and the key that signed it. A line may come without salt and
// image: it is withheld, and shows only that something was recorded there.
//
// What it shows is that the lines were in that ledger, unchanged, when the
// checkpoint was signed. What a line says may still be wrong, and whether the
// key is the one it should be is for somebody to say who has it from elsewhere.
package proofs

import (
	_ "embed"
	"encoding/hex"
	"encoding/json"
	"io"
	"slices"

	"golang.org/x/mod/sumdb/tlog"

	"pawl/model/bag"
	"pawl/model/fault"
	"pawl/model/ledger"
)

// The files of the folder, in their order.
const (
	howFile         = "proof/HOW-TO-CHECK.txt"
	anchorStamp     = bag.AnchorStampFile
	anchorFile      = "proof/anchor.txt"
	checkpointFile  = "proof/checkpoint.txt"
	consistencyFile = "proof/consistency.jsonl"
	keyFile         = "proof/key.txt"
	linesFile       = "proof/lines.jsonl"
)

// Words say what such proofs show and what they do not.
const Words = "These proofs show that the listed records were in this ledger, unchanged, when the outside anchors named below were made. " +
	"They do not show that a record was true, that a photo shows the tool claimed, who owns it, or that no other ledger exists. " +
	"Dates with no anchor are the shop's own statement."

//go:embed how.txt
var how string

// Entry is one row of lines.jsonl.
type Entry struct {
	Line  string   `json:"line"`            // its canonical bytes
	Salt  string   `json:"salt,omitempty"`  // hexadecimal; empty when withheld
	After string   `json:"after,omitempty"` // its image; empty when withheld
	Path  []string `json:"path"`            // audit path, base64, from the leaf up
}

// Older is one row of consistency.jsonl: the proof from an older size.
type Older struct {
	Size   int64    `json:"size"`
	Hashes []string `json:"hashes"`
}

// NewEntry makes the row of a line under the first size lines; without image it
// is withheld.
func NewEntry(raw, salt, after []byte, size int64, r tlog.HashReader) (Entry, error) {
	line, err := ledger.ParseLine(raw)
	if err != nil {
		return Entry{}, err
	}
	p, err := ledger.ProveInclusion(size, line.Seq, r)
	if err != nil {
		return Entry{}, err
	}
	e := Entry{Line: string(raw), Path: encoded(p.Hashes)}
	if after != nil {
		e.Salt, e.After = hex.EncodeToString(salt), string(after)
	}
	return e, nil
}

// NewOlder makes the row of an older checkpoint of that size.
func NewOlder(old, size int64, r tlog.HashReader) (Older, error) {
	p, err := ledger.ProveConsistency(old, size, r)
	return Older{Size: old, Hashes: encoded(p.Hashes)}, err
}

func encoded(hashes []tlog.Hash) []string {
	out := make([]string, len(hashes))
	for i, h := range hashes {
		out[i] = h.String()
	}
	return out
}

func decoded(texts []string) ([]tlog.Hash, error) {
	out := make([]tlog.Hash, len(texts))
	for i, t := range texts {
		h, err := tlog.ParseHash(t)
		if err != nil || h.String() != t {
			return nil, fault.New(fault.Malformed, "%.60q is no hash", t)
		}
		out[i] = h
	}
	return out, nil
}

// Source is what a folder of proofs is made of.
type Source struct {
	Note  string // the signed checkpoint
	Key   string // the verifying key
	Older []Older
	// Anchor is an older checkpoint, from before what the packet is about; nil:
	// there is none. Older must lead from it.
	Anchor *Anchor
	// Lines hands over every row, by rising place in the ledger.
	Lines func(keep func(Entry) error) error
	// Rolls hands over the rows of rolls, each roll before its leaves. Nil, or no
	// row: the folder shows no roll.
	Rolls func(keep func(RollRow) error) error
}

// Anchor is an older signed checkpoint, with the answer of a time-stamp authority
// about it where there is one.
type Anchor struct {
	Note   string
	Answer []byte
}

// part is one file of the folder.
type part struct {
	path  string
	write func(io.Writer) error
}

// parts are the files of the anchor.
func (a *Anchor) parts() (out []part) {
	if a == nil {
		return nil
	}
	if len(a.Answer) > 0 {
		out = append(out, part{anchorStamp, text(string(a.Answer))})
	}
	return append(out, part{anchorFile, text(a.Note)})
}

// Write writes the folder into a bag.
func Write(w *bag.Writer, src Source) error {
	for _, f := range slices.Concat([]part{{howFile, text(Words + "\n" + how)}}, src.Anchor.parts(), []part{
		{checkpointFile, text(src.Note)},
		{consistencyFile, func(to io.Writer) error {
			rows := encoder(to)
			for _, o := range src.Older {
				if err := rows.Encode(o); err != nil {
					return err
				}
			}
			return nil
		}},
		{keyFile, text(src.Key + "\n")},
		{linesFile, func(to io.Writer) error {
			rows := encoder(to)
			return src.Lines(func(e Entry) error { return rows.Encode(e) })
		}},
	}) {
		to, err := w.Create(f.path, false)
		if err == nil {
			err = f.write(to)
		}
		if err != nil {
			return err
		}
	}
	return writeRolls(w, src)
}

func text(s string) func(io.Writer) error {
	return func(w io.Writer) error {
		_, err := io.WriteString(w, s)
		return err
	}
}

func encoder(w io.Writer) *json.Encoder {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	return e
}
