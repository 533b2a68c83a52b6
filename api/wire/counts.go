package wire

import (
	"pawl/model/dates"
	"pawl/model/register"
)

// StartCount says what to count, and how.
type StartCount struct {
	Scope          string   `json:"scope,omitempty"` // everything where it is not said
	How            string   `json:"how,omitempty"`   // full where it is not said
	MissingAtLeast int64    `json:"missing_at_least,omitempty"`
	Confidence     *float64 `json:"confidence,omitempty"`
	Seed           *int64   `json:"seed,omitempty"`
	Tolerable      string   `json:"tolerable,omitempty"`
	Strata         []string `json:"strata,omitempty"` // "from=1000,all", "from=0,missing-at-least=3,confidence=0.99"
}

// CountLine is a count in a list.
type CountLine struct {
	ID        string        `json:"id"`
	Scope     string        `json:"scope"`
	How       string        `json:"how"`
	State     string        `json:"state"` // open, paused or closed
	Listed    int64         `json:"listed"`
	Drawn     int64         `json:"drawn"` // of them, those to be looked for
	Started   dates.Instant `json:"started"`
	StartedBy string        `json:"started_by"`
	Paused    dates.Instant `json:"paused"`
	PausedBy  *string       `json:"paused_by"`
	Closed    dates.Instant `json:"closed"`
	ClosedBy  *string       `json:"closed_by"`
}

// Counts are counts, newest first.
type Counts struct {
	Counts []CountLine `json:"counts"`
	Next   *string     `json:"next"`
}

// Count is one count with its numbers.
type Count struct {
	CountLine
	Confidence     float64         `json:"confidence"`
	MissingAtLeast *int64          `json:"missing_at_least"` // what the sample was made to find
	Tolerable      *Money          `json:"tolerable"`
	Strata         []string        `json:"strata"` // somebody's own; empty: none, or not for the asker to know
	ListDigest     string          `json:"list_digest"`
	Draw           *CountDraw      `json:"draw"` // null: nothing was drawn
	RedrawOf       *string         `json:"redraw_of"`
	Numbers        CountNumbers    `json:"numbers"`
	Counted        []string        `json:"counted"` // who looked, in the order in which they began
	Last           *CountLook      `json:"last"`
	Statement      *CountStatement `json:"statement"` // null until it is closed
	Unsettled      []CountTool     `json:"unsettled"` // null but in the answer to closing it
	Advice         []string        `json:"advice"`
}

// CountDraw is what a sample was drawn from.
type CountDraw struct {
	Seed       string        `json:"seed"`       // 64 hexadecimal digits
	Chosen     *int64        `json:"chosen"`     // the number that somebody chose; null: it was drawn
	Checkpoint *string       `json:"checkpoint"` // the signed note that the seed was made of
	Nonce      *string       `json:"nonce"`
	Drawn      dates.Instant `json:"drawn"`
}

// CountNumbers are the listed tools by where they are. The first nine sum to what is
// listed.
type CountNumbers struct {
	Seen          int `json:"seen"`
	SeenElsewhere int `json:"seen_elsewhere"`
	NotComplete   int `json:"not_complete"`
	Confirmed     int `json:"confirmed"`
	Moved         int `json:"moved_meanwhile"`
	Out           int `json:"out"`
	Away          int `json:"away"`
	NotSeen       int `json:"not_seen"`
	NotInSample   int `json:"not_in_sample"`
	Extra         int `json:"extra"`
	Unsettled     int `json:"unsettled"`
	Missing       int `json:"missing"` // to be looked for, and not accounted for yet
}

// CountLook is the last time that somebody saw a tool.
type CountLook struct {
	At    dates.Instant `json:"at"`
	By    string        `json:"by"`
	Place *string       `json:"place"`
}

// CountStatement is what a count shows.
type CountStatement struct {
	Listed        int           `json:"listed"`
	Looked        int           `json:"looked"` // for so many it was looked; a look not made counts as missing
	Seen          int           `json:"seen"`
	ByWord        int           `json:"by_word"`
	Moved         int           `json:"moved_meanwhile"`
	Missing       int           `json:"missing"`
	AtMostMissing int           `json:"at_most_missing"`
	Confidence    float64       `json:"confidence"`
	Accuracy      CountAccuracy `json:"accuracy"`
	Words         []string      `json:"words"`
}

// CountAccuracy is the share of records that were right.
type CountAccuracy struct {
	Right int     `json:"right"`
	Share float64 `json:"share"`
	Low   float64 `json:"low"` // of all listed at least, with the confidence
}

// ScanCount is one look in a count.
type ScanCount struct {
	Scanned   string   `json:"scanned"`
	At        string   `json:"at,omitempty"`
	Missing   []string `json:"missing,omitempty"`
	Condition string   `json:"condition,omitempty"`
	Happened  string   `json:"happened,omitempty"` // when entered late
}

// ConfirmCount is somebody's word that they have a tool.
type ConfirmCount struct {
	Number string `json:"number"`
	Note   string `json:"note,omitempty"`
}

// SettleDifference settles a difference.
type SettleDifference struct {
	Number string `json:"number"`
	How    string `json:"how"`
	At     string `json:"at,omitempty"`
	With   string `json:"with,omitempty"`
	Note   string `json:"note,omitempty"`
}

// Counted is what one look in a count did.
type Counted struct {
	Count    string           `json:"count"`
	Done     string           `json:"done"` // place, seen, seen elsewhere, extra, confirmed or seen already
	Number   *string          `json:"number"`
	Kind     string           `json:"kind"`
	Maker    string           `json:"maker"`
	Model    string           `json:"model"`
	At       *string          `json:"at"` // path of where it is, or of where one stands now
	Seen     dates.Instant    `json:"seen"`
	By       *string          `json:"by"`
	Label    *string          `json:"label"`
	Why      *string          `json:"why"`
	Missing  []register.Piece `json:"missing"`
	Custody  *Custody         `json:"custody"`
	ToLookAt bool             `json:"to_look_for"`
	Advice   []string         `json:"advice"`
}

// CountTool is one tool of a count.
type CountTool struct {
	Number   string        `json:"number"`
	Kind     string        `json:"kind"`
	Maker    string        `json:"maker"`
	Model    string        `json:"model"`
	Serial   *string       `json:"serial"`
	Bucket   *string       `json:"bucket"` // null: it is not listed
	ToLookAt bool          `json:"to_look_for"`
	Place    *string       `json:"place"`
	Expected string        `json:"expected"`
	Holder   *string       `json:"holder"`
	Seen     *CountSeen    `json:"seen"`
	Moved    *CountMoved   `json:"moved"`
	Settled  *CountSettled `json:"settled"`
	LastSeen *LastSeen     `json:"last_seen"`
}

// CountSeen is a look at a tool, or somebody's word.
type CountSeen struct {
	At        dates.Instant    `json:"at"`
	By        string           `json:"by"`
	Place     *string          `json:"place"`
	Label     *string          `json:"label"`
	Missing   []register.Piece `json:"missing"`
	Condition *string          `json:"condition"`
	Why       *string          `json:"why"`
	ByWord    bool             `json:"by_word"`
}

// CountMoved is the act of custody by which a tool moved meanwhile.
type CountMoved struct {
	Words   string        `json:"words"`
	Custody *string       `json:"custody"` // id of the stretch in somebody's hands
	At      dates.Instant `json:"at"`
}

// CountSettled is how a difference was settled.
type CountSettled struct {
	How   string        `json:"how"`
	Place *string       `json:"place"`
	With  *string       `json:"with"`
	Note  *string       `json:"note"`
	By    string        `json:"by"`
	At    dates.Instant `json:"at"`
}

// LastSeen is when the record last shows a tool.
type LastSeen struct {
	How string        `json:"how"`
	At  dates.Instant `json:"at"`
}

// CountTools are tools of a count, by place and number.
type CountTools struct {
	Tools []CountTool `json:"tools"`
	Next  *string     `json:"next"`
}

// CountPlan is the share of one day in a rotating plan.
type CountPlan struct {
	Within int          `json:"within"` // days in which every tool is seen
	Usual  int          `json:"usual"`  // tools a day that this comes to
	Late   int          `json:"late"`
	Behind int          `json:"behind"` // due, and more than three usual days of work
	Tools  []PlannedOne `json:"tools"`
	Next   *string      `json:"next"`
}

// PlannedOne is a tool that is to be looked at.
type PlannedOne struct {
	Number string  `json:"number"`
	Kind   string  `json:"kind"`
	Place  *string `json:"place"`
	Holder *string `json:"holder"`
	Seen   *string `json:"last_seen"` // day; null: never
}

// MissingTool is a tool that a count left missing, and of which nothing was seen since.
type MissingTool struct {
	Number   string        `json:"number"`
	Kind     string        `json:"kind"`
	Maker    string        `json:"maker"`
	Model    string        `json:"model"`
	Serial   *string       `json:"serial"`
	Place    *string       `json:"place"`
	Count    string        `json:"count"`
	Since    dates.Instant `json:"since"` // when it was said to be missing
	By       string        `json:"by"`
	Note     *string       `json:"note"`
	LastSeen *LastSeen     `json:"last_seen"` // null: the record never shows it
}

// MissingTools are such tools, newest first.
type MissingTools struct {
	Tools []MissingTool `json:"tools"`
	Next  *string       `json:"next"`
}
