package dates

import (
	"database/sql/driver"
	"encoding/json"
	"time"

	"pawl/model/fault"
)

// Instant is a point in time in microseconds since 1970-01-01T00:00:00Z; 0 means
// none, so that very microsecond cannot be told.
type Instant int64

// InstantOf cuts t down to the microsecond before it. The zero time is none.
func InstantOf(t time.Time) Instant {
	if t.IsZero() {
		return 0
	}
	return Instant(t.UnixMicro())
}

// Time returns the instant in UTC; none is the zero time.
func (i Instant) Time() time.Time {
	if i == 0 {
		return time.Time{}
	}
	return time.UnixMicro(int64(i)).UTC()
}

// Day returns the day on which the instant falls in loc; none for none.
func (i Instant) Day(loc *time.Location) Date { return Of(i.Time(), loc) }

// String writes RFC 3339 with Z, and six decimals of a second only when they are
// not all zero; "" for none.
func (i Instant) String() string {
	if i == 0 {
		return ""
	}
	if i%1e6 == 0 {
		return i.Time().Format("2006-01-02T15:04:05Z")
	}
	return i.Time().Format("2006-01-02T15:04:05.000000Z")
}

// MarshalJSON writes the instant as String does; none is null.
func (i Instant) MarshalJSON() ([]byte, error) {
	if i == 0 {
		return []byte("null"), nil
	}
	return json.Marshal(i.String())
}

// UnmarshalJSON reads a string in RFC 3339 with an offset; null is none.
func (i *Instant) UnmarshalJSON(data []byte) error {
	var s *string
	if err := json.Unmarshal(data, &s); err != nil {
		return fault.New(fault.Invalid, "a time is a string, not %s", fault.Clip(string(data))).WithHint(`write it as "2026-11-25T16:30:00Z", or null for none`)
	}
	if s == nil {
		*i = 0
		return nil
	}
	parsed, err := parseOffset(*s)
	if err != nil {
		return err
	}
	*i = parsed
	return nil
}

// Value gives the database the microseconds, or NULL for none.
func (i Instant) Value() (driver.Value, error) {
	if i == 0 {
		return nil, nil
	}
	return int64(i), nil
}

// Scan takes microseconds or NULL from a database.
func (i *Instant) Scan(src any) error {
	switch v := src.(type) {
	case nil:
		*i = 0
	case int64:
		*i = Instant(v)
	default:
		return fault.New(fault.Internal, "a stored instant is of type %T", src)
	}
	return nil
}
