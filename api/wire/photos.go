package wire

import (
	"pawl/model/dates"
	"pawl/model/evidence"
	"pawl/model/register"
)

// Photos files photos under the tool of a label, or as unsorted, and FileUnder
// one of the unsorted.
type (
	Photos    = register.Photos
	FileUnder = register.FileUnder
)

// Shot is a photo of a walk along the drawers, and ShotGroup what belongs to one
// label; see evidence.Groups.
type (
	Shot      = evidence.Shot
	ShotGroup = evidence.Group
)

// GroupShots splits shots at their labels.
func GroupShots(shots []Shot, known func(number string) bool) []ShotGroup {
	return evidence.Groups(shots, known)
}

// Codes are the labels that can be read in a photo.
type Codes struct {
	Numbers    []string `json:"numbers"`    // of labels that this shop gave out
	Strange    []string `json:"strange"`    // of labels that it did not
	Unreadable bool     `json:"unreadable"` // there seems to be a code, and none could be read
}

// FiledPhoto is one photo after it was filed.
type FiledPhoto struct {
	ID      string `json:"id"`
	SHA256  string `json:"sha256"`
	Kind    string `json:"kind"`
	Name    string `json:"name"`
	Already bool   `json:"already"` // it was so before
}

// PhotosFiled answers the filing of photos. Number is null for unsorted ones.
type PhotosFiled struct {
	ID       *string      `json:"id"` // of the tool
	Number   *string      `json:"number"`
	Started  bool         `json:"started"` // the tool is new, and not yet typed
	Photos   []FiledPhoto `json:"photos"`
	Question string       `json:"question,omitempty"`
}

// UnsortedPhoto is a photo that belongs to no tool yet.
type UnsortedPhoto struct {
	ID         string        `json:"id"`
	SHA256     string        `json:"sha256"`
	MediaType  string        `json:"media_type"`
	Bytes      int64         `json:"bytes"`
	Name       string        `json:"name"`
	ReceivedAt dates.Instant `json:"received_at"`
	ClaimedAt  *string       `json:"claimed_at"`
}

// Unsorted is a page of unsorted photos, as received.
type Unsorted struct {
	Unsorted []UnsortedPhoto `json:"unsorted"`
	Next     *string         `json:"next"`
}

// Photo is a photo to tell a tool by.
type Photo struct {
	SHA256 string `json:"sha256"`
	Kind   string `json:"kind"` // whole or plate
}

// WhichRow is a tool that it may be.
type WhichRow struct {
	ToolRow
	Photos []Photo `json:"photos"`
}

// Which is a page of the tools that fit a description.
type Which struct {
	Tools []WhichRow `json:"tools"`
	Gone  int        `json:"gone"` // that fit where nothing else does
	Next  *string    `json:"next"`
}
