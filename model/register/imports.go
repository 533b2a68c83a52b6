package register

import (
	"database/sql/driver"
	"encoding/json"
	"fmt"

	"pawl/model/dates"
)

// ImportRow is the recorded row of one spreadsheet that was imported. Its id is
// the SHA-256 of how it was read and of its bytes, so that the same import is
// known again.
type ImportRow struct {
	ID      string `gorm:"primaryKey"`
	Rev     int64
	File    string // its name, as stated
	Rows    int64  // below the header
	LeftOut string // row numbers, with commas between them
	At      dates.Instant
}

// TableName names the table of imports.
func (ImportRow) TableName() string { return "imports" }

// MappingRow is the recorded row of a way of reading spreadsheets that was kept.
type MappingRow struct {
	ID      string `gorm:"primaryKey"`
	Rev     int64
	Name    string
	NameKey string
	Reading Reading `gorm:"type:text"`
}

// TableName names the table of kept mappings.
func (MappingRow) TableName() string { return "mappings" }

// Value gives JSON text.
func (r Reading) Value() (driver.Value, error) {
	b, err := json.Marshal(r)
	return string(b), err
}

// Scan reads what Value gave.
func (r *Reading) Scan(v any) error {
	*r = Reading{}
	switch v := v.(type) {
	case nil:
		return nil
	case string:
		return json.Unmarshal([]byte(v), r)
	case []byte:
		return json.Unmarshal(v, r)
	}
	return fmt.Errorf("reading: cannot read a %T", v)
}
