package counts

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"slices"

	"pawl/model/custody"
	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/numbers"
)

// Entry is one listed tool with where it was expected when the count started: in its
// place, out to somebody or away to somebody.
type Entry struct {
	Tool    string         `json:"tool"`
	Number  numbers.Number `json:"number"`
	Place   string         `json:"place,omitempty"`   // id of where it belongs
	Loan    string         `json:"loan,omitempty"`    // id of the loan by which it was out or away
	Person  string         `json:"person,omitempty"`  // id of who had it
	Whom    string         `json:"whom,omitempty"`    // to whom it was away
	Since   dates.Instant  `json:"since,omitempty"`   // when that loan began
	Look    bool           `json:"look,omitempty"`    // it is to be looked for
	Stratum string         `json:"stratum,omitempty"` // class, of a count by strata
	Worth   *int64         `json:"worth,omitempty"`   // minor units, of a count by worth; nil = not known
}

// State is where the tool was expected.
func (e Entry) State() custody.State {
	switch {
	case e.Loan == "":
		return custody.InPlace
	case e.Person != "":
		return custody.Out
	}
	return custody.Away
}

// Frame is the list of a count, in the order of the tools' numbers. It is fixed when
// the count starts.
type Frame []Entry

// BlockSize is how many tools one recorded row of a frame holds.
const BlockSize = 1000

// FrameRow is the recorded row of one part of a frame.
type FrameRow struct {
	ID      string `gorm:"primaryKey"`
	Rev     int64
	Count   string
	Part    int64  // from 1
	Entries string // JSON list of Entry
}

// TableName names the table of frames.
func (FrameRow) TableName() string { return "frames" }

// Rows parts a frame into rows without ids. The second result is its digest: SHA-256
// of the text of all rows one after the other, as 64 hexadecimal digits.
func (f Frame) Rows(count string) (rows []FrameRow, digest string, err error) {
	sum := sha256.New()
	for part := range slices.Chunk(f, BlockSize) {
		text, err := json.Marshal(part)
		if err != nil {
			return nil, "", err
		}
		sum.Write(text)
		rows = append(rows, FrameRow{Count: count, Part: int64(len(rows) + 1), Entries: string(text)})
	}
	return rows, hex.EncodeToString(sum.Sum(nil)), nil
}

// ReadFrame puts the rows of a frame, in their order, together again and holds them to
// the digest that the count has. What differs is Internal.
func ReadFrame(rows []FrameRow, digest string) (f Frame, err error) {
	sum := sha256.New()
	for _, row := range rows {
		sum.Write([]byte(row.Entries))
		var part []Entry
		if err := json.Unmarshal([]byte(row.Entries), &part); err != nil {
			return nil, fault.New(fault.Internal, "part %d of the list of count %s cannot be read", row.Part, row.Count).WithHint("run pawl verify").WithCause(err)
		}
		f = append(f, part...)
	}
	if got := hex.EncodeToString(sum.Sum(nil)); got != digest {
		return nil, fault.New(fault.Internal, "the list of the count is not the one that it started with").WithHint("run pawl verify")
	}
	return f, nil
}

// Look marks the entries at these positions as to be looked for, and those alone.
func (f Frame) Look(at []int) {
	for i := range f {
		f[i].Look = false
	}
	for _, i := range at {
		f[i].Look = true
	}
}
