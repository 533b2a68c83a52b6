package wire

// LabelAgain records that a tool's label is printed once more.
type LabelAgain struct {
	Why string `json:"why,omitempty"`
}

// Join gives a tool a fresh label that was printed first.
type Join struct {
	Number string `json:"number"`
}

// Numbers is a page of numbers that are issued and free.
type Numbers struct {
	Numbers []string `json:"numbers"`
	Next    *string  `json:"next"`
}
