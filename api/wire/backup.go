package wire

import "pawl/model/dates"

// Backup is a backup that was made, looked through or restored.
type Backup struct {
	OK        bool          `json:"ok"`
	Shop      string        `json:"shop"`
	Taken     dates.Instant `json:"taken"`
	Lines     int64         `json:"lines"`
	Root      string        `json:"root"`
	Originals int64         `json:"originals"`
	Bytes     int64         `json:"bytes"`
	Copied    int64         `json:"copied"`
	Before    string        `json:"before,omitempty"`
	Problems  []string      `json:"problems"`
	Said      []string      `json:"said"`
}

// Moved is a shop that was moved.
type Moved struct {
	OK          bool     `json:"ok"`
	Shop        string   `json:"shop"`
	To          string   `json:"to"`
	Lines       int64    `json:"lines"`
	Root        string   `json:"root"`
	Rows        int64    `json:"rows"` // of all tables; 0 where the move was done before
	Originals   int64    `json:"originals"`
	OriginalsIn string   `json:"originals_in"`
	Copied      int64    `json:"copied"`
	Problems    []string `json:"problems"`
	Said        []string `json:"said"`
}
