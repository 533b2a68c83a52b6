package wire

import (
	"pawl/model/dates"
	"pawl/model/register"
)

// PlaceName gives a place another name.
type PlaceName struct {
	Name string `json:"name"`
}

// PlaceMove puts a place into another.
type PlaceMove struct {
	To string `json:"to"` // empty: the top
}

// PlacePerson says whose a place is.
type PlacePerson struct {
	Person string `json:"person"` // empty: everybody's
}

// PlacePhoto joins an uploaded photo of the full drawer to a place.
type PlacePhoto struct {
	SHA256 string `json:"sha256"`
	Name   string `json:"name,omitempty"` // the file's name where it came from
}

// PlaceCounts says where the tools are that belong somewhere.
type PlaceCounts struct {
	Belong  int64 `json:"belong"`
	InPlace int64 `json:"in_place"`
	Out     int64 `json:"out"`
	Away    int64 `json:"away"`
	Missing int64 `json:"missing_tools"` // searched for in a count, and not found
}

// PlaceShown is a place at a glance; its counts are of what belongs directly in it.
type PlaceShown struct {
	Place
	PlaceCounts
	Tools  []PlaceTool   `json:"tools"`     // by number
	More   bool          `json:"more"`      // there are more than these
	Seen   []SeenTool    `json:"seen_here"` // last, and belong elsewhere; newest first
	Parts  []PlacePart   `json:"parts"`     // the places in it
	Photos []Evidence    `json:"photos"`
	As     dates.Instant `json:"as"` // when it was so
}

// PlacePart is a place in another, counted with all that is in it.
type PlacePart struct {
	Place
	PlaceCounts
}

// PlaceTool is a tool that belongs in a place. Since is when it was taken or sent away.
type PlaceTool struct {
	ToolRow
	Pieces    register.Pieces `json:"pieces"`
	Job       *string         `json:"job"`
	For       *string         `json:"for"` // why it is away
	Since     dates.Instant   `json:"since"`
	Due       dates.Instant   `json:"due"`
	MissingIn *string         `json:"missing_in"` // the count in which it was searched for and not found
}

// SeenTool is a tool that was seen last where it does not belong.
type SeenTool struct {
	ToolRow
	SeenAt dates.Instant `json:"seen_at"`
	SeenBy string        `json:"seen_by"`
	SeenIn string        `json:"seen_in"` // id of the count
}

// OutRow is a tool that somebody should look after.
type OutRow struct {
	ToolRow
	Since dates.Instant `json:"since"` // when it was taken or sent away, or out of use
	Due   dates.Instant `json:"due"`
	Days  int64         `json:"days"` // whole ones since; where it is overdue, since it was due
	Job   *string       `json:"job"`
	Note  string        `json:"note"` // what was said of it when it went out of use
}

// Outs is a page of such a list, the longest first.
type Outs struct {
	Tools []OutRow `json:"tools"`
	Next  *string  `json:"next"`
}
