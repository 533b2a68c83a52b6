package packets

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"pawl/model/bag"
	"pawl/model/claims"
	"pawl/model/dates"
	"pawl/model/evidence"
	"pawl/model/fault"
	"pawl/model/ledger"
	"pawl/model/proofs"
)

// ElsewhereFormat names the form of the copy that is kept elsewhere.
const ElsewhereFormat = "pawl standing copy 1"

// Files of such a copy.
const (
	elsewhereReadMe = "data/00-READ-ME-FIRST.txt"
	elsewhereFile   = "data/standing.json"
	originals       = "data/originals/"
)

// Elsewhere is the head of the copy of a shop that is kept elsewhere. Its records are the
// images of the lines in proof/, so that it says nothing that is not proven; here stands
// what they are read with.
type Elsewhere struct {
	Format   string            `json:"format"`
	ID       string            `json:"id"`
	Ledger   string            `json:"ledger"` // origin of the checkpoint
	Size     int64             `json:"size"`
	Made     dates.Instant     `json:"made"`
	For      string            `json:"for"` // person id of whoever made it; empty = the shop
	Shop     string            `json:"shop"`
	Zone     string            `json:"zone"`
	Currency string            `json:"currency"`
	Paper    string            `json:"paper"`
	Follows  int64             `json:"follows"` // originals that are left out, since an earlier copy has them
	People   []Named           `json:"people"`
	Policies []Covering        `json:"policies"`
	Added    []claims.Addition `json:"added,omitempty"` // what was put in on purpose
	Jobs     []Numbered        `json:"jobs"`            // where they were added, those that the tools were used on; of whose vehicle they were it says nothing
	Points   []Point           `json:"points"`          // older checkpoints, by size: from before each loss, and the last
	Files    []Original        `json:"files"`
}

// Numbered is a job and its number.
type Numbered struct {
	ID     string `json:"id"`
	Number string `json:"number"`
}

// Point is a checkpoint that was signed before, with the answer of a time-stamp authority
// about it where there is one.
type Point struct {
	Size  int64         `json:"size"`
	Made  dates.Instant `json:"made"` // by the shop's clock
	Note  string        `json:"note"`
	Stamp []byte        `json:"stamp,omitempty"`
}

// Named is a person, and whether they share what proves their tools.
type Named struct {
	ID     string `json:"id"`
	Name   string `json:"name"`
	Shares bool   `json:"shares"`
}

// Covering is whom a policy is recorded as covering, and nothing of its money.
type Covering struct {
	ID        string `json:"id"`
	Name      string `json:"name"`
	Owner     string `json:"owner"`
	Employees bool   `json:"employees"`
}

// Original is a photo or paper, and where its bytes are in the bag; empty where an earlier
// copy has them, or where Why says that nobody has.
type Original struct {
	SHA256    string `json:"sha256"`
	MediaType string `json:"media_type"`
	Bytes     int64  `json:"bytes"`
	Path      string `json:"path"`
	Why       string `json:"why,omitempty"` // the shop had no bytes of it any more
}

// OriginalPath names an original in such a copy.
func OriginalPath(sha256, mediaType string) string {
	return originals + sha256 + "." + ending(mediaType)
}

func ending(mediaType string) string {
	_, kind, _ := strings.Cut(mediaType, "/")
	return strings.ReplaceAll(kind, "jpeg", "jpg")
}

const elsewhereText = `The copy of %SHOP% that is kept elsewhere.

proof/lines.jsonl   what was recorded, line by line, with proofs; proof/key.txt is the shop's public key
data/originals/     photos and papers, byte for byte as they were received, with the place that they may carry
data/standing.json  what the lines are read with
Prices and papers of people who do not share them are not in here, nor what was tightened
and measured with their tools. The vehicles that jobs were on are not in here.
%ADDED%

To check it:                 pawl verify FILE.zip --key KEY --against CHECKPOINT
A packet from it alone:      pawl packet --from FILE.zip --tools NUMBER,NUMBER -o FOLDER
Keep it where a fire or a theft in the shop does not reach it.
`

// ElsewhereSource is what such a copy is made of.
type ElsewhereSource struct {
	Elsewhere
	Proofs   proofs.Source
	Original func(sha256 string) (io.ReadCloser, error)
}

// WriteElsewhere writes the copy to w and gives the fingerprint of its bag.
func WriteElsewhere(w io.Writer, day dates.Date, src ElsewhereSource) (fingerprint string, err error) {
	out, err := bag.NewWriter(w, bag.Info{Name: "elsewhere-" + string(day), Date: day, Labels: []bag.Label{
		{Name: "Source-Organization", Value: src.Shop}, {Name: "External-Description", Value: "Copy of a register, to be kept elsewhere"},
		{Name: "Bagging-Date", Value: string(day)}, {Name: "External-Identifier", Value: src.ID}}})
	if err != nil {
		return "", err
	}
	text := strings.ReplaceAll(elsewhereText, "%SHOP%", src.Shop) + src.lost()
	text = strings.ReplaceAll(text, "%ADDED%", src.added())
	if err := out.Add(elsewhereReadMe, false, strings.NewReader(text)); err != nil {
		return "", err
	}
	for _, f := range src.Files {
		if f.Path == "" {
			continue
		}
		r, err := src.Original(f.SHA256)
		if err == nil {
			err = errors.Join(out.Add(f.Path, true, r), r.Close())
		}
		if err != nil {
			return "", err
		}
	}
	raw, err := json.MarshalIndent(src.Elsewhere, "", " ")
	if err == nil {
		err = out.Add(elsewhereFile, false, bytes.NewReader(raw))
	}
	if err == nil {
		err = proofs.Write(out, src.Proofs)
	}
	if err != nil {
		return "", err
	}
	return out.Close()
}

// added says what is in it on purpose, and what is not.
func (src ElsewhereSource) added() string {
	if len(src.Added) == 0 {
		return "Tightenings, rechecks, overrides and the numbers of jobs are not in here: none was asked for."
	}
	said := "In here because it was asked for: " + claims.AdditionList(src.Added) + "."
	if slices.ContainsFunc(src.Added, func(a claims.Addition) bool { return a != claims.AddJobs }) {
		said += "\nA tightening or recheck is in here whole: what was measured, its limits, and every word that was written about it."
	}
	return said
}

// lost says how many originals the shop did not have any more.
func (src ElsewhereSource) lost() string {
	n := 0
	for _, f := range src.Files {
		if f.Why != "" {
			n++
		}
	}
	if n == 0 {
		return ""
	}
	return fmt.Sprintf("\nNOT IN HERE: %d photos and papers that the shop itself did not have any more; data/standing.json names them. Restore them from a backup, and make the copy anew.\n", n)
}

// IsElsewhere says whether a bag is a copy that is kept elsewhere.
func IsElsewhere(b *bag.Bag) bool { return b.Size(elsewhereFile) >= 0 }

// CheckedElsewhere is such a copy that was looked at.
type CheckedElsewhere struct {
	Elsewhere
	Bag         *bag.Bag
	Proven      proofs.Proven
	Fingerprint string
	Here        int64 // originals in it
	proofs.Found
}

// CheckElsewhere looks through such a copy. Its error means that it could not look.
func CheckElsewhere(b *bag.Bag, o proofs.Outside) (c CheckedElsewhere, err error) {
	c.Bag = b
	if !IsElsewhere(b) {
		return c, notElsewhere("there is no %s in it", elsewhereFile)
	}
	report, err := b.Check()
	if err != nil {
		return c, err
	}
	o.Partly = true
	proven, err := proofs.Check(b, o)
	if err != nil {
		return c, err
	}
	if c, err = CheckElsewhereRecords(b, report, proven); err != nil {
		return c, err
	}
	c.Problems = slices.Concat(report.Problems, proven.Problems, c.Problems)
	return c, nil
}

// CheckElsewhereRecords holds what the copy says of itself to the lines that show it, which
// were checked Partly. Its problems are of that alone.
func CheckElsewhereRecords(b *bag.Bag, report bag.Report, proven proofs.Proven) (c CheckedElsewhere, err error) {
	c.Bag, c.Fingerprint, c.Proven, c.Problems = b, report.Fingerprint, proven, tagManifest(b, report.Hashes)
	text, err := b.Text(elsewhereFile, maxStatement)
	if err != nil {
		return c, err
	}
	if c.Elsewhere, err = parseElsewhere(text); err != nil {
		return c, err
	}
	if c.Ledger != c.Proven.Origin || c.Size != c.Proven.Size {
		c.Problem("it says that it is of %.60q at %d lines, the checkpoint is of %q at %d", c.Ledger, c.Size, c.Proven.Origin, c.Proven.Size)
	}
	for _, p := range c.Points {
		switch size, err := c.Proven.Leads(p.Note); {
		case err != nil:
			c.Problem("its older checkpoint of %d lines: %s", p.Size, err)
		case size != p.Size:
			c.Problem("its older checkpoint is of %d lines, and it says %d", size, p.Size)
		}
	}
	if err := c.lost(); err != nil {
		return c, err
	}
	return c, c.originals(report.Hashes)
}

// Covers finds the last roll that was covered by a checkpoint when something happened, and
// how many lines that checkpoint has; nil is none.
func (c *CheckedElsewhere) Covers(by dates.Instant) (then *proofs.Rolled, anchor int64) {
	if p, found := c.PointBy(by); found {
		anchor = p.Size
	}
	if by >= c.Made {
		anchor = c.Size
	}
	for i, r := range c.Proven.Rolls {
		if r.Seq < anchor && (then == nil || r.Size > then.Size) {
			then = &c.Proven.Rolls[i]
		}
	}
	return then, anchor
}

// PointBy is the last of the older checkpoints that was signed by then.
func (c *CheckedElsewhere) PointBy(by dates.Instant) (out Point, found bool) {
	for _, p := range c.Points {
		if p.Made <= by && p.Size < c.Size && p.Size >= out.Size {
			out, found = p, true
		}
	}
	return out, found
}

// lost holds the roll from before each loss to show the tools on its list: a packet about
// the loss rests on it.
func (c *CheckedElsewhere) lost() error {
	listed := map[string][]string{}
	if err := c.latest("loss line", func(_ string, image ledger.Image) {
		loss, _ := image["loss"].(string)
		tool, _ := image["tool"].(string)
		listed[loss] = append(listed[loss], tool)
	}); err != nil {
		return err
	}
	return c.latest("loss", func(id string, image ledger.Image) {
		found, _ := image["found"].(int64)
		if then, _ := c.Covers(dates.Instant(found)); found != 0 && then != nil {
			for _, said := range c.Proven.NotUnder(*then, slices.Values(listed[id])) {
				c.Problem("%s", said)
			}
		}
	})
}

// latest goes through the records of a noun that are shown.
func (c *CheckedElsewhere) latest(noun string, take func(id string, image ledger.Image)) error {
	for _, id := range c.Proven.IDs(noun) {
		r := c.Proven.Records[proofs.RecordID{Noun: noun, ID: id}]
		if r.After == nil {
			continue
		}
		image, err := ledger.ParseImage(r.After)
		if err != nil {
			return err
		}
		take(id, image)
	}
	return nil
}

// originals holds the bytes to the hashes that the lines name.
func (c *CheckedElsewhere) originals(hashes map[string]string) error {
	listed, wanted := map[string]bool{}, map[string]bool{}
	for _, f := range c.Files {
		listed[f.SHA256] = true
		if f.Path == "" {
			continue
		}
		wanted[f.Path], c.Here = true, c.Here+1
		if hashes[f.Path] != f.SHA256 {
			c.Problem("%.120q is not the original with the SHA-256 %.64s", f.Path, f.SHA256)
		}
	}
	for _, path := range c.Bag.Files(originals) {
		if !wanted[path] {
			c.Problem("%s is in the copy, and it does not list it", path)
		}
	}
	for id, r := range c.Proven.Records {
		if id.Noun != "evidence" || r.After == nil {
			continue
		}
		image, err := ledger.ParseImage(r.After)
		if err != nil {
			return err
		}
		if sum, _ := image["sha256"].(string); image["withdrawn"] == nil && !listed[sum] {
			c.Problem("evidence %.40q is shown, and its original %.64s is not listed", id.ID, sum)
		}
	}
	slices.Sort(c.Problems)
	return nil
}

func parseElsewhere(text string) (e Elsewhere, err error) {
	d := json.NewDecoder(strings.NewReader(text))
	d.DisallowUnknownFields()
	if err := d.Decode(&e); err != nil {
		return Elsewhere{}, notElsewhere("%s cannot be read: %.200s", elsewhereFile, err)
	}
	if e.Format != ElsewhereFormat {
		return Elsewhere{}, notElsewhere("its format is %.40q, and this program reads %q", e.Format, ElsewhereFormat)
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return Elsewhere{}, notElsewhere("something follows %s", elsewhereFile)
	}
	return e, nil
}

func notElsewhere(format string, args ...any) error {
	return fault.New(fault.Malformed, "this is no copy that was kept elsewhere: "+format, args...).WithHint("give the file that pawl packet --all wrote")
}

// Keeping says of each line of the ledger whether what it says goes into the copy that is
// kept elsewhere. Lines come by rising place.
type Keeping struct {
	Added  []claims.Addition          // what goes along on purpose
	Shows  func(owner string) bool    // whether what proves an owner's tools goes along
	Latest map[string]Original        // by id of evidence: what stands
	Jobs   map[string]bool            // that what goes along names, by id
	Found  map[string]dates.Instant   // when each loss was found out, by its id
	Listed map[string]map[string]bool // the tools that were ever on the list of each loss, by its id
	owners *Owners
	claims map[string]string // whose each claim is
}

// NewKeeping begins one.
func NewKeeping(shows func(owner string) bool, added []claims.Addition) *Keeping {
	return &Keeping{Shows: shows, Added: added, Latest: map[string]Original{}, Jobs: map[string]bool{}, Found: map[string]dates.Instant{}, Listed: map[string]map[string]bool{}, owners: NewOwners(), claims: map[string]string{}}
}

// money are the columns of a tool that tell what it cost.
var money = []string{"bought", "bought_as", "currency", "deposit", "owed", "owed_on", "owed_to", "price", "seller", "tax", "terms"}

// Concerns says whether a line goes along at all, with what it says or without.
func (k *Keeping) Concerns(line ledger.Line) bool {
	return len(line.Tools) > 0 || slices.Contains([]string{"evidence", "loss", "claim", "fact", "claim line", "life"}, line.Noun)
}

// Takes takes in one line and says whether its image goes along.
func (k *Keeping) Takes(line ledger.Line, image ledger.Image) bool {
	if image == nil {
		return false
	}
	k.owners.Take(line, image)
	text := func(column string) string { s, _ := image[column].(string); return s }
	switch line.Noun {
	case "use":
		return k.use(text("tool"), text("job"), claims.AddTightenings, claims.AddOverrides)
	case "recheck":
		return k.use(text("tool"), text("job"), claims.AddRechecks)
	case "loan":
		k.job(text("job"))
		return true
	case "loss":
		found, _ := image["found"].(int64)
		k.Found[line.ID] = dates.Instant(found)
		return true
	case "loss line":
		if k.Listed[text("loss")] == nil {
			k.Listed[text("loss")] = map[string]bool{}
		}
		k.Listed[text("loss")][text("tool")] = true
		return true
	case "number", "marking", "term", "check", "life":
		return true
	case "tool":
		return k.Shows(text("owner")) || !slices.ContainsFunc(money, func(c string) bool { return image[c] != nil })
	case "quote", "condition":
		return k.Shows(k.owners.tool[text("tool")])
	case "evidence":
		return k.evidence(line, image)
	case "claim":
		k.claims[line.ID] = text("owner")
		return k.Shows(text("owner"))
	case "fact":
		return k.showsClaim(text("claim"))
	case "claim line": // what is asked for a tool tells what it is worth
		return k.showsClaim(text("claim")) && k.Shows(k.owners.tool[text("tool")])
	}
	return false
}

// use says whether what was done with a tool goes along: where one of the additions that
// tell it was asked for, and its owner shares what is known of it.
func (k *Keeping) use(tool, job string, by ...claims.Addition) bool {
	told := k.Shows(k.owners.tool[tool]) && slices.ContainsFunc(by, func(a claims.Addition) bool { return slices.Contains(k.Added, a) })
	if told {
		k.job(job)
	}
	return told
}

// job keeps that a job is named.
func (k *Keeping) job(id string) {
	if slices.Contains(k.Added, claims.AddJobs) {
		k.Jobs[id] = true
	}
}

func (k *Keeping) showsClaim(id string) bool {
	owner, known := k.claims[id]
	return known && k.Shows(owner)
}

// evidence: a photo of a tool is seen by everybody in the shop; a paper is its owner's, and
// what lies unsorted is of whoever uploaded it.
func (k *Keeping) evidence(line ledger.Line, image ledger.Image) bool {
	text := func(column string) string { s, _ := image[column].(string); return s }
	paperOf, paper := k.owners.Paper[line.ID]
	shown := evidence.Kind(text("kind")).Photo() || paper && k.Shows(paperOf) || text("loss") != ""
	if text("tool") == "" && text("loss") == "" {
		shown = false
	}
	delete(k.Latest, line.ID)
	if shown && image["withdrawn"] == nil {
		size, _ := image["bytes"].(int64)
		k.Latest[line.ID] = Original{SHA256: text("sha256"), MediaType: text("media_type"), Bytes: size, Path: OriginalPath(text("sha256"), text("media_type"))}
	}
	return shown
}

// Originals lists what stands, each once, by path.
func (k *Keeping) Originals() []Original {
	out := []Original{}
	for _, o := range k.Latest {
		out = append(out, o)
	}
	slices.SortFunc(out, func(a, b Original) int { return strings.Compare(a.Path, b.Path) })
	return slices.CompactFunc(out, func(a, b Original) bool { return a.Path == b.Path })
}
