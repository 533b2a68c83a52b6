package wire

// Candidate is a registered tool that a worn serial may be of.
type Candidate struct {
	Number    string  `json:"number"`
	Serial    string  `json:"serial"`
	Posterior float64 `json:"posterior"`
	Verdict   string  `json:"verdict"`  // probable, possible
	Deciding  string  `json:"deciding"` // the places that agree and tell something, in words
	Differing string  `json:"differing"`
	Kind      string  `json:"kind"`
	Maker     string  `json:"maker"`
	Model     string  `json:"model"`
	State     string  `json:"state"` // in place, out, away, or that it is gone and why
}

// Match is what a reading of a worn serial comes to.
type Match struct {
	Reading     string      `json:"reading"` // as it was understood
	Candidates  []Candidate `json:"candidates"`
	NoneOfThese float64     `json:"none_of_these"`
	Others      float64     `json:"others"`      // of all tools that are not listed
	Error       float64     `json:"error"`       // the most by which a chance may be off
	Registered  int         `json:"registered"`  // serials that it was held against
	Found       string      `json:"found"`       // bench, list, others
	NoneBefore  float64     `json:"none_before"` // chance of none, before anything was read
}

// MatchRow is one reading of a list.
type MatchRow struct {
	Row         int         `json:"row"`
	Reading     string      `json:"reading"`
	Candidates  []Candidate `json:"candidates"`
	NoneOfThese float64     `json:"none_of_these"`
	Others      float64     `json:"others"`
	Error       float64     `json:"error"`
	Assigned    *string     `json:"assigned"` // number of a tool, each once in the list
	Said        string      `json:"said,omitempty"`
}

// MatchList is what a list of readings comes to.
type MatchList struct {
	Rows    []MatchRow `json:"rows"`
	Ignored []string   `json:"ignored"` // headers of columns that were not used
}
