package register

import (
	"database/sql/driver"
	"encoding/json"
	"fmt"
	"strconv"
	"strings"

	"pawl/model/fault"
	"pawl/model/names"
)

// Piece is a loose part of a set, with how many belong to it.
type Piece struct {
	Name  string `json:"name"`
	Count int    `json:"count"`
}

// Pieces are the loose parts of one tool, kept as JSON text.
type Pieces []Piece

// Value gives JSON text, or null for none.
func (p Pieces) Value() (driver.Value, error) {
	if len(p) == 0 {
		return nil, nil
	}
	b, err := json.Marshal(p)
	return string(b), err
}

// Scan reads what Value gave.
func (p *Pieces) Scan(v any) error {
	*p = nil
	switch v := v.(type) {
	case nil:
		return nil
	case string:
		return json.Unmarshal([]byte(v), p)
	case []byte:
		return json.Unmarshal(v, p)
	}
	return fmt.Errorf("pieces: cannot read a %T", v)
}

// Limits on the pieces of one set.
const (
	MaxPieces     = 500
	MaxPieceCount = 1000
)

// ParsePiece reads "10 mm socket" or "extension*2".
func ParsePiece(s string) (Piece, error) {
	name, count := strings.TrimSpace(s), 1
	if i := strings.LastIndexByte(name, '*'); i >= 0 {
		n, err := strconv.Atoi(strings.TrimSpace(name[i+1:]))
		if err != nil || n < 1 || n > MaxPieceCount {
			return Piece{}, fault.New(fault.Invalid, "piece %q: the count after * is not 1 to %d", s, MaxPieceCount).
				WithHint(`write "extension*2"`)
		}
		name, count = strings.TrimSpace(name[:i]), n
	}
	clean, err := names.Line(name)
	if err != nil {
		return Piece{}, err
	}
	if clean == "" {
		return Piece{}, fault.New(fault.Invalid, "piece %q has no name", s)
	}
	return Piece{Name: clean, Count: count}, nil
}

// checked returns the pieces with the same name joined, or what is wrong.
func (p Pieces) checked() (Pieces, error) {
	if len(p) > MaxPieces {
		return nil, fault.New(fault.Invalid, "%d pieces are over the limit of %d", len(p), MaxPieces)
	}
	var out Pieces
	at := map[string]int{}
	for _, piece := range p {
		clean, err := names.Line(piece.Name)
		if err != nil {
			return nil, err
		}
		if clean == "" || piece.Count < 1 || piece.Count > MaxPieceCount {
			return nil, fault.New(fault.Invalid, "piece %q, count %d: needs a name and a count of 1 to %d", piece.Name, piece.Count, MaxPieceCount)
		}
		if i, seen := at[clean]; seen {
			out[i].Count += piece.Count
			continue
		}
		at[clean] = len(out)
		out = append(out, Piece{Name: clean, Count: piece.Count})
	}
	return out, nil
}

// Find returns the piece of that name, folded to lower case.
func (p Pieces) Find(name string) (Piece, bool) {
	for _, piece := range p {
		if strings.EqualFold(piece.Name, strings.TrimSpace(name)) {
			return piece, true
		}
	}
	return Piece{}, false
}
