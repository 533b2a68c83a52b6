package wire

// Doctored is how a shop stands on its computer.
type Doctored struct {
	OK       bool      `json:"ok"`
	Checkups []Checkup `json:"checkups"`
}

// Checkup is one thing that was looked at.
type Checkup struct {
	What   string `json:"what"`
	Health string `json:"health"` // in order, not checked, look at it, NOT IN ORDER
	Says   string `json:"says"`
	Do     string `json:"do"`
}
