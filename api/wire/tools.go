package wire

import (
	"pawl/model/dates"
	"pawl/model/register"
)

// NewTool registers a tool.
type (
	NewTool = register.New
	Pieces  = register.Pieces
	Piece   = register.Piece
)

// ParsePiece reads a loose piece as people write it: "10 mm socket", "extension*2".
func ParsePiece(s string) (Piece, error) { return register.ParsePiece(s) }

// With is a tool that came with the one that is registered.
type With = register.With

// ParseWith reads such a tool as people write it: "battery:KD1:49.00".
func ParseWith(s string) (With, error) { return register.ParseWith(s) }

// Part is a tool that came with another.
type Part struct {
	Number string `json:"number"`
	Kind   string `json:"kind"`
	Serial string `json:"serial"`
}

// Outside is whose a tool is that belongs to nobody here.
type Outside struct {
	Name    string     `json:"name"`
	Deposit *Money     `json:"deposit"`
	DueBack dates.Date `json:"due_back"`
}

// Exchanged links a tool with the one that took its place, and the one whose
// place it took.
type Exchanged struct {
	For  *string `json:"exchanged_for"`
	From *string `json:"exchanged_from"`
}

// Gone says that a tool left for good.
type Gone struct {
	Why  string `json:"why"`
	Note string `json:"note,omitempty"`
	On   string `json:"on,omitempty"` // the day of it; empty: today
}

// Swap says what was given for a tool. Evidence of the kind slip is joined to
// both tools, all other to the new one.
type Swap struct {
	Serial      string   `json:"serial"`
	SerialAgain string   `json:"serial_again"`
	Model       string   `json:"model,omitempty"`
	Number      string   `json:"number,omitempty"`
	Note        string   `json:"note,omitempty"`
	On          string   `json:"on,omitempty"`
	Evidence    []Attach `json:"evidence,omitempty"`
}

// Swapped answers an exchange with the new tool.
type Swapped struct {
	ID     string `json:"id"`
	Number string `json:"number"`
	Tool   Tool   `json:"tool"`
	Old    Old    `json:"old"`
}

// Old is the tool that was exchanged.
type Old struct {
	ID      string `json:"id"`
	Number  string `json:"number"`
	GoneWhy string `json:"gone_why"`
}

// Leave marks somebody as left.
type Leave struct {
	Settled bool `json:"settled,omitempty"` // what is open is known, and settled otherwise
}

// Left is what somebody's leaving left behind.
type Left struct {
	Person Person     `json:"person"`
	Open   []ToSettle `json:"open"`   // what was still to settle
	Takes  []Part     `json:"takes"`  // own tools that went with them
	Tokens []string   `json:"tokens"` // that were ended

	Devices []string `json:"devices"` // that were revoked
}

// ToSettle is something that is open when somebody leaves.
type ToSettle struct {
	Number string `json:"number"`
	Kind   string `json:"kind"`
	What   string `json:"what"`
}

// ImportedCopy answers the import of a copy of tools.
type ImportedCopy struct {
	Owner  string         `json:"owner"`
	Ledger string         `json:"ledger"` // where they come from
	Tools  []ImportedTool `json:"tools"`
	Said   []string       `json:"said"` // what the proofs show and what they do not
}

// ImportedTool is one of them, with its number here and there.
type ImportedTool struct {
	Number string `json:"number"`
	Was    string `json:"was"`
	Kind   string `json:"kind"`
	Serial string `json:"serial"`
}
