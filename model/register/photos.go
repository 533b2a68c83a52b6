package register

// Photos are photos of one label: of the tool with that number, or unsorted
// without one. With Start they start a tool, under the number of a free label or
// the next one. Owner and Place are those of a tool that they start.
type Photos struct {
	Number string   `json:"number,omitempty"`
	Start  bool     `json:"-"`
	Owner  string   `json:"owner,omitempty"`
	Place  string   `json:"place,omitempty"`
	Photos []Attach `json:"photos"`
}

// FileUnder says where an unsorted photo belongs, and what it shows. With Start
// it starts a tool of that owner, under the number of a free label or the next.
type FileUnder struct {
	Number string `json:"number"`
	Kind   string `json:"kind"`
	Start  bool   `json:"-"`
	Owner  string `json:"-"`
}
