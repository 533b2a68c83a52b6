// Package copies writes and checks the copy of their own tools that somebody
// takes along who leaves a shop: one bag with a file of records, the photos and
// papers, and the proofs that each record stood in the shop's ledger. A record
// in the file is the very image that a line of the ledger covers, so that the
// file says nothing that is not proven.
package copies

import (
	"bytes"
	"encoding/json"
	"io"
	"strings"

	"pawl/model/bag"
	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/ledger"
	"pawl/model/proofs"
)

// Format names the form that this program writes and reads.
const Format = "pawl copy 1"

// Files of the payload.
const (
	readMeFile  = "data/00-READ-ME-FIRST.txt"
	recordsFile = "data/tools.json"
	originals   = "data/originals/"
	maxRecords  = 256 << 20
)

// Copy is the file of records.
type Copy struct {
	Format string        `json:"format"`
	Ledger string        `json:"ledger"` // origin of the checkpoint
	Shop   string        `json:"shop"`
	Owner  string        `json:"owner"`
	Made   dates.Instant `json:"made"`
	Tools  []Tool        `json:"tools"`
}

// Tool is one tool with what hangs on it.
type Tool struct {
	Number   string     `json:"number"`
	Numbers  []string   `json:"numbers"` // all that it answers to there
	Record   Record     `json:"record"`
	Markings []Record   `json:"markings"`
	Terms    []Record   `json:"terms,omitempty"`  // from when each marking was kept how
	Checks   []Record   `json:"checks,omitempty"` // looks at the markings
	Wrongs   []Record   `json:"wrongs"`           // reports that are open
	Evidence []Evidence `json:"evidence"`
}

// Record is a record as its last line left it. After is the canonical image.
type Record struct {
	ID    string          `json:"id"`
	Rev   int64           `json:"rev"`
	After json.RawMessage `json:"after"`
}

// Image reads the record's image.
func (r Record) Image() (ledger.Image, error) { return ledger.ParseImage(r.After) }

// Evidence is a photo or paper, and where its bytes are in the bag; empty where
// they are not.
type Evidence struct {
	Record
	File string `json:"file,omitempty"`
}

// FileOf names an original in a bag.
func FileOf(sha256, mediaType string) string {
	_, ending, _ := strings.Cut(mediaType, "/")
	return originals + sha256 + "." + strings.ReplaceAll(ending, "jpeg", "jpg")
}

// Source is what a copy is made of.
type Source struct {
	Copy
	Proofs proofs.Source
	// Original opens the bytes of a file that Evidence names.
	Original func(sha256 string) (io.ReadCloser, error)
	Date     bag.Dater // nil: no time stamp is wanted
}

// readMe is what whoever opens the ZIP reads first.
const readMe = `The tools of %OWNER%, as they were recorded at %SHOP%.

data/tools.json     what was recorded of each tool
data/originals/     its photos and papers, byte for byte as they were received
proof/              that these records stood in the ledger of the shop
Prices and papers from a time when a tool was not %OWNER%'s are not in here.

Into another Pawl: pawl import FILE.zip
To check it:       pawl verify FILE.zip --key KEY --against CHECKPOINT
`

// Write writes a copy to w and gives the fingerprint of the bag. It holds the
// records in memory, and of the rest one file at a time.
func Write(w io.Writer, day dates.Date, src Source) (fingerprint string, err error) {
	out, err := bag.NewWriter(w, bag.Info{Name: "tools-copy-" + string(day), Date: day, Labels: []bag.Label{
		{Name: "Source-Organization", Value: src.Shop}, {Name: "Contact-Name", Value: src.Owner},
		{Name: "External-Description", Value: "Copy of own tools"}, {Name: "Bagging-Date", Value: string(day)},
		{Name: "External-Identifier", Value: src.Ledger},
	}})
	if err != nil {
		return "", err
	}
	text := strings.NewReplacer("%OWNER%", src.Owner, "%SHOP%", src.Shop).Replace(readMe)
	if err := out.Add(readMeFile, false, strings.NewReader(text)); err != nil {
		return "", err
	}
	if err := writeOriginals(out, src); err != nil {
		return "", err
	}
	var records bytes.Buffer
	e := json.NewEncoder(&records)
	e.SetEscapeHTML(false)
	if err := e.Encode(src.Copy); err != nil {
		return "", err
	}
	if err := out.Add(recordsFile, false, &records); err != nil {
		return "", err
	}
	if err := proofs.Write(out, src.Proofs); err != nil {
		return "", err
	}
	return out.CloseStamped(src.Date)
}

func writeOriginals(out *bag.Writer, src Source) error {
	shas, err := src.files()
	if err != nil {
		return err
	}
	for _, f := range shas {
		r, err := src.Original(f.sha256)
		if err != nil {
			return err
		}
		err = out.Add(f.path, true, r)
		if closing := r.Close(); err == nil {
			err = closing
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// column reads a column that holds text.
func column(m ledger.Image, name string) string {
	s, _ := m[name].(string)
	return s
}

func malformed(format string, args ...any) error {
	return fault.New(fault.Malformed, "this is no copy of tools: "+format, args...).WithHint("give the file that pawl people leave wrote")
}
