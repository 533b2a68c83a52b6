package people

import "pawl/model/dates"

// Feed is the recorded row of an address at which a calendar program reads what is
// due, and nothing else. Its secret is kept apart, hashed, and never recorded.
type Feed struct {
	ID      string `gorm:"primaryKey"`
	Rev     int64
	Name    string
	Person  string // sees what they see; empty = the shop
	Since   dates.Instant
	Revoked dates.Instant // 0 = in force
}

// TableName names the table of feeds.
func (Feed) TableName() string { return "feeds" }
