package wire

import "pawl/model/register"

// NewTool registers a tool, and ToolChange edits one: a member that is absent
// leaves a value as it is, an empty text takes it away.
type (
	NewTool    = register.New
	ToolChange = register.Change
	Pieces     = register.Pieces
	Piece      = register.Piece
)

// ParsePiece reads a loose piece as people write it: "10 mm socket", "extension*2".
func ParsePiece(s string) (Piece, error) { return register.ParsePiece(s) }
