package wire

// SheetReport answers an import: what it did, or in a dry run would do.
type SheetReport struct {
	DryRun     bool          `json:"dry_run"`
	Rows       int           `json:"rows"` // below the header
	Added      int           `json:"added"`
	Updated    int           `json:"updated"`
	Unchanged  int           `json:"unchanged"`
	Skipped    int           `json:"skipped"`  // duplicates that were to be skipped
	LeftOut    int           `json:"left_out"` // rows that are wrong
	Columns    []SheetColumn `json:"columns"`
	Tools      []SheetTool   `json:"tools"`  // added and updated ones; none in a dry run
	Places     []string      `json:"places"` // paths that are made
	Errors     []Trouble     `json:"errors"`
	MoreErrors int           `json:"more_errors"` // that are not listed
	Warnings   []Trouble     `json:"warnings"`
	Said       []string      `json:"said"`
}

// SheetColumn says what a column of the file was taken for; null is ignored.
type SheetColumn struct {
	Header string  `json:"header"`
	Key    *string `json:"key"`
}

// SheetTool is what became of one row.
type SheetTool struct {
	Row    int    `json:"row"`
	Number string `json:"number"`
	Done   string `json:"done"`
}

// Trouble is a cell to look at. Rows are numbered as in the spreadsheet, where
// the header is row 1; row 0 is the file as a whole.
type Trouble struct {
	Row    int    `json:"row"`
	Column string `json:"column"`
	Value  string `json:"value"`
	Code   string `json:"code"`
	Detail string `json:"detail"`
}

// JoinSerial says by its serial number which tool a printed label is stuck on.
type JoinSerial struct {
	Serial string `json:"serial"`
	Maker  string `json:"maker,omitempty"`
}
