package people

import "pawl/model/dates"

// Token is the recorded row of a way in for scripts. Its secret is kept apart,
// hashed, and never recorded.
type Token struct {
	ID      string `gorm:"primaryKey"`
	Rev     int64
	Name    string
	Role    Role
	Person  string        // acts as this person; empty = the shop
	Revoked dates.Instant // 0 = in force
}

// TableName names the table of tokens.
func (Token) TableName() string { return "tokens" }
