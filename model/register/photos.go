package register

// Photos are photos of one label: of the tool with that number, or unsorted
// without one. Owner and Place are those of a tool that they start.
type Photos struct {
	Number string   `json:"number,omitempty"`
	Owner  string   `json:"owner,omitempty"`
	Place  string   `json:"place,omitempty"`
	Photos []Attach `json:"photos"`
}

// FileUnder says where an unsorted photo belongs, and what it shows.
type FileUnder struct {
	Number string `json:"number"`
	Kind   string `json:"kind"`
}
