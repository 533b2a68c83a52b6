package wire

import (
	"pawl/model/claims"
	"pawl/model/dates"
)

// PartSize reads how large a part of a claim document may be, as typed: 10MB.
func PartSize(text string) (int64, error) { return claims.ParseSize(text) }

// NewPacket says what a packet holds on purpose. Reworded says that lines read otherwise
// than on papers that were given out before, and that this was mended there too.
type NewPacket struct {
	Add      []string `json:"add,omitempty"`
	Reworded bool     `json:"reworded,omitempty"`
}

// Packet is one packet that was built. Its files are written when they are asked for, and
// are the same each time.
type Packet struct {
	ID          string        `json:"id"`
	Kind        string        `json:"kind"`
	Claim       *string       `json:"claim"`
	Number      *string       `json:"number"` // of one about whose a tool is
	Supplement  int64         `json:"supplement"`
	Created     dates.Instant `json:"created"`
	Tools       int           `json:"tools"`
	Added       []string      `json:"added"`
	Fingerprint string        `json:"fingerprint"` // SHA-256 of the tag manifest of its annex
	Size        int64         `json:"size"`        // lines of the ledger under its checkpoint
	Checkpoint  string        `json:"checkpoint"`
	Key         string        `json:"key_fingerprint"`
	Files       []string      `json:"files"`
	Left        []NotInPacket `json:"left_out"`     // told once, to whoever built it
	Changed     []string      `json:"changed"`      // since then; null: that was not asked for
	Police      *PoliceSince  `json:"police_sheet"` // null: none was handed over, or that was not asked for
	Cautions    []string      `json:"cautions"`
}

// PoliceSince is what is recorded otherwise since the police sheet was handed over.
type PoliceSince struct {
	Drawn   dates.Instant `json:"drawn"`
	Changed []string      `json:"changed"`
}

// NotInPacket is what a packet does not hold, and why.
type NotInPacket struct {
	Number string `json:"number"`
	What   string `json:"what"`
	Why    string `json:"why"`
}

// Packets are those of a claim.
type Packets struct {
	Packets []Packet `json:"packets"`
	Next    *string  `json:"next"`
}

// Have names originals that an earlier copy holds, by SHA-256.
type Have struct {
	Have []string `json:"have,omitempty"`
}

// Elsewhere says how the copy kept elsewhere stands.
type Elsewhere struct {
	ID    *string       `json:"id"` // null: none was ever made
	Made  dates.Instant `json:"made"`
	Size  int64         `json:"size"`  // lines of the ledger that it covers
	Since int64         `json:"since"` // lines recorded since
	Days  *int          `json:"days"`
	Old   bool          `json:"old"`
}
