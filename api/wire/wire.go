// Package wire is what travels between Pawl and those who ask it: the JSON of
// requests and answers, problem details, and the table of faults and statuses.
// Members are only ever added. A measured value is one string with its unit, an
// instant RFC 3339 with Z, a day YYYY-MM-DD, money minor units with a currency.
package wire

import (
	"pawl/model/dates"
	"pawl/model/register"
	"pawl/model/units"
)

// Money is an amount in minor units.
type Money struct {
	Minor    int64  `json:"minor"`
	Currency string `json:"currency"`
}

// Words writes the amount in the currency's usual decimals: "289.00 USD".
func (m Money) Words() string { return units.Money(m).String() }

// Serial is what the maker marked.
type Serial struct {
	AsRead string `json:"as_read"`
	Key    string `json:"key"`
	Lot    string `json:"lot"`
	Why    string `json:"no_serial"` // why there is none; empty: nobody said
}

// Custody says who has the tool.
type Custody struct {
	State  string        `json:"state"` // in place, out, away
	Person *string       `json:"person"`
	Job    *string       `json:"job"`
	To     *string       `json:"to"`  // where it is, when away
	For    *string       `json:"for"` // why it is away
	Since  dates.Instant `json:"since"`
	Due    dates.Instant `json:"due"`
}

// DoNotUse is why a tool is out of use.
type DoNotUse struct {
	Reason string        `json:"reason"`
	Note   string        `json:"note"`
	Since  dates.Instant `json:"since"`

	Calibration *string `json:"calibration"` // id of the tool calibration or bench check that it failed; null: somebody reported it
}

// Purchase is how a tool came to its owner; null to those who may not see it.
type Purchase struct {
	Date   dates.Date `json:"date"`
	As     string     `json:"bought_as"` // new, used; empty: not recorded
	Price  *Money     `json:"price"`
	Tax    *Money     `json:"tax"`
	Seller string     `json:"seller"`
	Terms  string     `json:"terms"`
	Owed   *Money     `json:"owed"`
	OwedTo string     `json:"owed_to"`
	OwedOn dates.Date `json:"owed_on"`
}

// Warranty is the maker's promise; through is the last day covered.
type Warranty struct {
	Months  int64      `json:"months"`
	From    dates.Date `json:"from"`
	Through dates.Date `json:"through"`
}

// Marking is a serial number as it physically exists.
type Marking struct {
	ID         string        `json:"id"`
	Method     string        `json:"method"`
	Protection string        `json:"protection"`
	Where      string        `json:"where"`
	Since      dates.Instant `json:"since"`
}

// Evidence is one photo or paper of a tool.
type Evidence struct {
	ID         string        `json:"id"`
	SHA256     string        `json:"sha256"`
	Kind       string        `json:"kind"`
	MediaType  string        `json:"media_type"`
	Bytes      int64         `json:"bytes"`
	Name       string        `json:"name"`
	ReceivedAt dates.Instant `json:"received_at"`
	ClaimedAt  *string       `json:"claimed_at"`    // what the photo says of itself; never trusted
	Place      *string       `json:"claimed_place"` // likewise: latitude and longitude in degrees (WGS 84)
	Device     string        `json:"device"`
	Differs    bool          `json:"differs"` // claimed and received are over a day apart
}

// Tool is everything about one tool that the asker may see.
type Tool struct {
	ID          string          `json:"id"`
	Rev         int64           `json:"rev"`
	Number      string          `json:"number"`
	Numbers     []string        `json:"numbers"`
	Kind        string          `json:"kind"`
	Maker       string          `json:"maker"`
	Model       string          `json:"model"`
	Owner       string          `json:"owner"`
	Serial      Serial          `json:"serial"`
	Custody     Custody         `json:"custody"`
	DoNotUse    *DoNotUse       `json:"do_not_use"`
	LabelWanted bool            `json:"label_wanted"`
	Place       *string         `json:"place"`
	Missing     register.Pieces `json:"missing"`   // what did not come back with the last return
	Condition   string          `json:"condition"` // as found then
	Usage       string          `json:"usage"`
	Notes       string          `json:"notes"`
	Pieces      register.Pieces `json:"pieces"`
	Purchase    *Purchase       `json:"purchase"`
	Warranty    *Warranty       `json:"warranty"` // null: none is recorded
	Markings    []Marking       `json:"markings"`
	Evidence    []Evidence      `json:"evidence"`
	Created     dates.Instant   `json:"created"`
	Gone        dates.Instant   `json:"gone"`
	GoneWhy     string          `json:"gone_why"`
	GoneOn      dates.Date      `json:"gone_on"`
	GoneNote    string          `json:"gone_note"`
	Outside     *Outside        `json:"outside"` // null: it belongs to the shop or a person
	CameWith    *string         `json:"came_with"`
	With        []Part          `json:"with"` // what came with it
	Exchanged
	Origin         *string  `json:"origin"` // where it was imported from
	EarlierNumbers []string `json:"earlier_numbers"`
	Advice         []string `json:"advice"` // what its record lacks, and cautions

	Now  string    `json:"now"`  // where it is, in words; place is where it belongs
	Loss *ToolLoss `json:"loss"` // the newest that it is on
}

// ToolLoss is how a tool stands by a loss.
type ToolLoss struct {
	ID        string `json:"id"`
	Line      int64  `json:"line"`
	State     string `json:"state"`
	AfterLoss bool   `json:"recorded_after_loss"`
}

// ToolRow is a tool in a list.
type ToolRow struct {
	ID       string  `json:"id"`
	Number   string  `json:"number"`
	Kind     string  `json:"kind"`
	Maker    string  `json:"maker"`
	Model    string  `json:"model"`
	Serial   string  `json:"serial"`
	Owner    string  `json:"owner"`
	Place    *string `json:"place"`
	State    string  `json:"state"`
	Person   *string `json:"person"`
	DoNotUse *string `json:"do_not_use"`
	GoneWhy  *string `json:"gone_why"`

	Missing register.Pieces `json:"missing"` // what did not come back with the last return
}

// Tools is a page of a list of tools.
type Tools struct {
	Tools []ToolRow `json:"tools"`
	Gone  int       `json:"gone"` // that fit where nothing else does, and were not asked for
	Next  *string   `json:"next"`
}

// Registered is the answer to registering a tool.
type Registered struct {
	ID     string `json:"id"`
	Number string `json:"number"`
	Tool   Tool   `json:"tool"`

	Question string `json:"question,omitempty"` // about its serial plate
}

// Line is one entry of a tool's history. After holds what the record was, less
// what the asker may not see; null when it was withheld or purged.
type Line struct {
	Seq   int64          `json:"seq"`
	At    dates.Instant  `json:"at"`
	Actor string         `json:"actor"` // in names: "Tech A via token"
	Verb  string         `json:"verb"`
	Noun  string         `json:"noun"`
	ID    string         `json:"id"`
	Rev   int64          `json:"rev"`
	After map[string]any `json:"after"`
}

// History is a page of a tool's history, oldest first.
type History struct {
	History []Line  `json:"history"`
	Next    *string `json:"next"`
}

// Settings are the shop's.
type Settings struct {
	Rev      int64  `json:"rev"`
	Name     string `json:"name"`
	Zone     string `json:"zone"`
	Currency string `json:"currency"`
	Address  string `json:"address"`
	Paper    string `json:"paper"`
	Units    string `json:"units"`

	DefaultLimitsPercent string `json:"default_limits_percent"` // taken where nobody gave a job's limits; empty: none

	PlainHTTP bool `json:"plain_http"` // a server may answer others than its own computer without a certificate
	Lead

	LongOutDays int64 `json:"long_out_days"` // after which a tool that is out is long out

	TimeAuthority      string `json:"time_authority"`       // address of the time-stamp authority; empty: none
	TimeAuthorityRoots string `json:"time_authority_roots"` // certificates in PEM that its own must lead to; empty: not checked
}

// Person is somebody in the shop. Badge is the symbol on their badge, B/CODE.
type Person struct {
	ID     string        `json:"id"`
	Rev    int64         `json:"rev"`
	Name   string        `json:"name"`
	Role   string        `json:"role"`
	Badge  string        `json:"badge"`
	Shares bool          `json:"shares"`
	Left   dates.Instant `json:"left"`
}

// People is a list of people.
type People struct {
	People []Person `json:"people"`
	Next   *string  `json:"next"`
}

// NewPerson adds somebody.
type NewPerson struct {
	Name string `json:"name"`
	Role string `json:"role"`
}

// PersonChange edits somebody; absent members stay.
type PersonChange struct {
	Name   *string `json:"name,omitempty"`
	Role   *string `json:"role,omitempty"`
	Shares *bool   `json:"shares,omitempty"`
}

// Place is a shop, bay, box, drawer or van. Code is its symbol, P/CODE.
type Place struct {
	ID   string `json:"id"`
	Path string `json:"path"`
	Code string `json:"code"`

	Person *string `json:"person"` // whose it is; null: everybody's
}

// Places is the tree as a list of paths, parents first.
type Places struct {
	Places []Place `json:"places"`
	Next   *string `json:"next"`
}

// NewPlace adds a place by its path, with any parents missing.
type NewPlace struct {
	Path   string `json:"path"`
	Person string `json:"person,omitempty"` // whose it is; empty: everybody's
}

// Job is a repair order.
type Job struct {
	ID      string        `json:"id"`
	Rev     int64         `json:"rev"`
	Number  string        `json:"number"`
	Vehicle string        `json:"vehicle"`
	VIN     string        `json:"vin"`
	Safety  string        `json:"safety"` // yes, no, unknown; unknown counts as yes
	Opened  dates.Instant `json:"opened"`
	Closed  dates.Instant `json:"closed"`
	Holds   []Use         `json:"holds,omitzero"` // what holds it open; only of one job

	Warnings []string `json:"warnings,omitzero"` // of its VIN; only of one job
}

// Jobs is a page of a list of jobs, newest first.
type Jobs struct {
	Jobs []Job   `json:"jobs"`
	Next *string `json:"next"`
}

// NewJob opens a job, or says more about one that a first mention opened.
type NewJob struct {
	Number  string  `json:"number"`
	Vehicle *string `json:"vehicle,omitempty"`
	VIN     *string `json:"vin,omitempty"`
	Safety  *string `json:"safety,omitempty"`
}

// Take hands a tool to somebody in the shop.
type Take struct {
	To       string `json:"to"`
	Job      string `json:"job,omitempty"`
	Due      string `json:"due,omitempty"`      // instant, or a day: its end
	Happened string `json:"happened,omitempty"` // when entered late
	Since    string `json:"since,omitempty"`    // of the custody that the asker saw
}

// Return puts a tool back in its place.
type Return struct {
	Missing   []string `json:"missing,omitempty"` // "10 mm socket", "extension*2"
	Condition string   `json:"condition,omitempty"`
	Happened  string   `json:"happened,omitempty"`
	Since     string   `json:"since,omitempty"`

	AllThere        bool   `json:"all_there,omitempty"`        // of a set: each piece was looked at
	Broken          string `json:"broken,omitempty"`           // what broke off or broke on it
	FragmentMissing bool   `json:"fragment_missing,omitempty"` // and not every fragment of it came back
}

// Undo takes back the take or return that happened at Since.
type Undo struct {
	Since    string `json:"since"`
	Happened string `json:"happened,omitempty"`
}

// Handover passes a tool from its holder to somebody else.
type Handover struct {
	To       string `json:"to"`
	Job      string `json:"job,omitempty"` // empty keeps the job it was on
	Due      string `json:"due,omitempty"`
	Happened string `json:"happened,omitempty"`
	Since    string `json:"since,omitempty"`
}

// Away sends a tool out of the shop.
type Away struct {
	To       string `json:"to"`
	For      string `json:"for"` // calibration, repair, lent
	Due      string `json:"due,omitempty"`
	Happened string `json:"happened,omitempty"`
	Since    string `json:"since,omitempty"`
}

// Back receives a tool that was away.
type Back struct {
	Condition string `json:"condition,omitempty"`
	Happened  string `json:"happened,omitempty"`
	Since     string `json:"since,omitempty"`
	Serial    string `json:"serial,omitempty"` // as read on the tool that came back
}

// Wrong reports that something is wrong with a tool.
type Wrong struct {
	What     string `json:"what"`
	Note     string `json:"note,omitempty"`
	Happened string `json:"happened,omitempty"`
}

// Clear ends every open report on a tool.
type Clear struct {
	Why string `json:"why"`
}

// Done answers an act on a tool. Cleared lists what a clear ended.
type Done struct {
	ID       string           `json:"id"`
	Number   string           `json:"number"`
	Done     string           `json:"done"` // the verb
	Kind     string           `json:"kind"`
	Maker    string           `json:"maker"`
	Model    string           `json:"model"`
	Owner    string           `json:"owner"`
	Custody  Custody          `json:"custody"`
	DoNotUse *DoNotUse        `json:"do_not_use"`
	Missing  []register.Piece `json:"missing,omitempty"`
	Cleared  []string         `json:"cleared,omitempty"`
	GoneWhy  string           `json:"gone_why,omitempty"`
	Advice   []string         `json:"advice,omitempty"`

	Question string `json:"question,omitempty"` // about a serial plate that was photographed

	NewJob *OpenedJob `json:"new_job,omitempty"` // that the act opened; absent: it opened none
}

// OpenedJob is a job that was opened because its number was mentioned, with the open
// jobs that may have been meant.
type OpenedJob struct {
	Number string   `json:"number"`
	Like   []string `json:"like"`
}

// Attach names an uploaded original and what it shows.
type Attach = register.Attach

// Original answers an upload.
type Original struct {
	SHA256    string  `json:"sha256"`
	Bytes     int64   `json:"bytes"`
	MediaType string  `json:"media_type"`
	Width     int64   `json:"width"`
	Height    int64   `json:"height"`
	ClaimedAt *string `json:"claimed_at"`
	Place     *string `json:"claimed_place"` // latitude and longitude in degrees (WGS 84)
	Note      string  `json:"note"`
	Sharpness *int64  `json:"sharpness"` // null where it cannot be judged
	Question  string  `json:"question"`  // about a picture that would not show a serial plate well
}

// Issue reserves numbers for a sheet of labels.
type Issue struct {
	Count int `json:"count"`
}

// Issued are numbers that are printed and free.
type Issued struct {
	Numbers []string `json:"numbers"`
}

// NewToken makes a way in for a script.
type NewToken struct {
	Name string `json:"name"`
	Role string `json:"role"`
	For  string `json:"for,omitempty"` // acts as this person
}

// Token is a way in for scripts. Secret is shown once, when it is made.
type Token struct {
	ID      string        `json:"id"`
	Name    string        `json:"name"`
	Role    string        `json:"role"`
	For     *string       `json:"for"`
	Revoked dates.Instant `json:"revoked"`
	Secret  string        `json:"secret,omitempty"`
}

// Tokens is a list of tokens.
type Tokens struct {
	Tokens []Token `json:"tokens"`
	Next   *string `json:"next"`
}

// Checkpoint is the signed summary of the ledger.
type Checkpoint struct {
	Size        int64  `json:"size"`
	Note        string `json:"note"`
	Key         string `json:"key"` // the verifier key
	Fingerprint string `json:"fingerprint"`

	TimeStamp   *TimeStamp `json:"time_stamp"`    // null: it is not dated
	NoTimeStamp string     `json:"no_time_stamp"` // why, where it should be
}

// TimeStamp is the answer of a time-stamp authority (RFC 3161).
type TimeStamp struct {
	At     dates.Instant `json:"at"`
	Answer []byte        `json:"answer"` // base64
}

// NewCheckpoint asks for a checkpoint.
type NewCheckpoint struct {
	TimeStamp bool `json:"time_stamp,omitempty"` // have the shop's authority date it, where it has one
}

// Verify asks for the whole store to be checked.
type Verify struct {
	Against []string `json:"against,omitempty"` // signed checkpoints kept outside
	Part    string   `json:"part,omitempty"`    // of the originals: "3/10"
	Rolls   string   `json:"rolls,omitempty"`   // to make again: "newest" or "all"; else the newest and those that packets name
}

// Verified says what was checked, and what does not hold.
type Verified struct {
	OK          bool     `json:"ok"`
	Lines       int64    `json:"lines"`
	Records     int64    `json:"records"`
	Originals   int64    `json:"originals"`
	Checkpoints int64    `json:"checkpoints"`
	Withheld    int64    `json:"withheld"`
	Rolls       int64    `json:"rolls"`
	Size        int64    `json:"size"`
	Root        string   `json:"root"`
	Problems    []string `json:"problems"`
	Said        []string `json:"said"` // in words: what this shows and what it does not
}

// Clock is the state of the shop's clock.
type Clock struct {
	Now      dates.Instant `json:"now"`
	Doubtful bool          `json:"doubtful"`
	Latest   dates.Instant `json:"latest"` // the latest time in the ledger
}

// Chores says what was done by itself.
type Chores struct {
	Done []string `json:"done"`
}

// Who is the one whom the server takes you for.
type Who struct {
	Person *string `json:"person"`
	Role   string  `json:"role"`
	Via    string  `json:"via"`
	Device *string `json:"device"` // id of the device that asks
}
