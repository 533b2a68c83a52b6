package wire

import "pawl/model/dates"

// NewEnrolment asks for a way in: exactly one of Person, ShopDevice and Viewer.
type NewEnrolment struct {
	Person     string `json:"person,omitempty"`      // name of somebody in the shop
	ShopDevice string `json:"shop_device,omitempty"` // what to call a board
	Viewer     string `json:"viewer,omitempty"`      // name of somebody outside
	Until      string `json:"until,omitempty"`       // last day of a viewer
	Claim      string `json:"claim,omitempty"`       // whose packets a viewer sees
}

// Enrolment is a way in that waits to be taken, once. Link is shown when it is
// made, and never again.
type Enrolment struct {
	Kind    string        `json:"kind"` // person, shop, viewer
	Name    string        `json:"name"` // of the person, else of the device
	Until   dates.Date    `json:"until"`
	Expires dates.Instant `json:"expires"`
	First   bool          `json:"first"` // makes the first manager, who says their name
	Link    string        `json:"link,omitempty"`
}

// Entry takes a way in.
type Entry struct {
	Device string `json:"device,omitempty"` // what to call a person's device
	Name   string `json:"name,omitempty"`   // of the first manager
}

// Device is a phone, browser or board that was let in.
type Device struct {
	ID       string        `json:"id"`
	Name     string        `json:"name"`
	Kind     string        `json:"kind"`
	Person   *string       `json:"person"`
	Until    dates.Date    `json:"until"`
	Since    dates.Instant `json:"since"`
	LastUsed dates.Instant `json:"last_used"` // to 5 minutes
	InForce  bool          `json:"in_force"`
	Revoked  dates.Instant `json:"revoked"`
}

// Devices is a list of devices.
type Devices struct {
	Devices []Device `json:"devices"`
	Next    *string  `json:"next"`
}
