package wire

import "pawl/model/dates"

// Due is one thing that is due. On is its last good day.
type Due struct {
	ID     string        `json:"id"`
	Sort   string        `json:"sort"`
	What   string        `json:"what"`
	On     dates.Date    `json:"on"`
	At     dates.Instant `json:"at"`   // of a tool that is to be back; null else
	Days   int           `json:"days"` // left: 0 on the day, less when it is over
	Number string        `json:"number"`
	Kind   string        `json:"kind"`
	Maker  string        `json:"maker"`
	Model  string        `json:"model"`
	Owner  string        `json:"owner"`
	Place  *string       `json:"place"`
	Person *string       `json:"person"` // who has what is to be back, else who owns it
	Job    *string       `json:"job"`
	Claim  *string       `json:"claim"` // whose deadline it is; it has no tool
	Why    string        `json:"why"`
	Paid   *string       `json:"paid"` // of the rest of a claim: how much was, of what is asked; null of all else
}

// Dues is a page of what is due, the longest overdue first.
type Dues struct {
	Due   []Due      `json:"due"`
	Today dates.Date `json:"today"`
	Next  *string    `json:"next"`
}

// NewFeed makes an address at which a calendar program reads what is due.
type NewFeed struct {
	Name string `json:"name"`
	For  string `json:"for,omitempty"` // a person, or shop; else the asker
}

// Feed is one such address.
type Feed struct {
	ID       string        `json:"id"`
	Name     string        `json:"name"`
	For      *string       `json:"for"` // null: the shop
	Since    dates.Instant `json:"since"`
	LastUsed dates.Instant `json:"last_used"` // to 5 minutes
	Revoked  dates.Instant `json:"revoked"`
	Link     string        `json:"link,omitempty"` // only when it is made
}

// Feeds are the addresses of the calendar.
type Feeds struct {
	Feeds []Feed  `json:"feeds"`
	Next  *string `json:"next"`
}

// Lead is how many days before its day each sort of what is due is shown.
type Lead struct {
	Calibration int64 `json:"lead_calibration"`
	Inspection  int64 `json:"lead_inspection"`
	Return      int64 `json:"lead_return"`
	Warranty    int64 `json:"lead_warranty"`
}
