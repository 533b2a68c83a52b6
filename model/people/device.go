package people

import "pawl/model/dates"

// DeviceKind says for whom a device was let in.
type DeviceKind string

const (
	PersonDevice  DeviceKind = "person" // acts as its person
	BoardDevice   DeviceKind = "shop"   // stands in the shop; acts under a badge
	ViewersDevice DeviceKind = "viewer" // somebody outside, until a day
)

// Device is the recorded row of a phone, browser or board that was let in. What
// it shows to be known again is kept apart, hashed, and never recorded.
type Device struct {
	ID      string `gorm:"primaryKey"`
	Rev     int64
	Name    string
	Kind    DeviceKind
	Person  string        // whose it is; empty but for a person's
	Until   dates.Date    // last day of a viewer's; empty but for those
	Since   dates.Instant // when it was let in
	Revoked dates.Instant // 0 = in force
	Claim   string        // whose packets a viewer sees
}

// TableName names the table of devices.
func (Device) TableName() string { return "devices" }
