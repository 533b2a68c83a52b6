package labels

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"net/url"
	"strings"
	"sync"

	"pawl/model/claims"
)

// ReadMeParts are what the first page of an annex links to beside the files of the
// statement. Paths are relative to the page.
type ReadMeParts struct {
	Thumb     func(claims.File) string // of a small picture; nil or "": none
	Documents []ReadMeLink
	Proof     bool // the annex has proof/HOW-TO-CHECK.txt beside data/
}

// ReadMeLink is a document in the annex.
type ReadMeLink struct{ Path, Words string }

//go:embed readme.html
var readMeText string

var readMePage = sync.OnceValue(func() *template.Template { return template.Must(template.New("readme").Parse(readMeText)) })

// readMe is what the page says.
type readMe struct {
	Title, Shop, By, Caution, Proof string
	Supplement                      string
	HowToCheck                      bool
	Groups                          []readMeGroup
	Documents                       []readMeFile
	Files                           []readMeFile
	Lines                           []readMeLine
}

type readMeGroup struct {
	Title string
	Notes []readMeNote
}

type readMeNote struct{ Name, Value string }

type readMeLine struct {
	Line         int64
	Words        string
	Left, Middle []readMeNote
	Files        []readMeFile
}

type readMeFile struct {
	Ref, Words, Caption, Gap string
	Left                     string // why there are no bytes of it here
	Copy                     bool   // without the place that the photo carries
	Path, Thumb              template.URL
	SHA256                   string
}

// ReadMe writes the page that is opened first in an annex: the lines in the words of
// every paper, with links to their photos and papers. It has no script and asks nothing
// of any network.
func ReadMe(w io.Writer, s claims.Statement, parts ReadMeParts) error {
	if err := s.Check(); err != nil {
		return err
	}
	c := &claimPaper{s: s}
	page := readMe{Title: readMeTitle(c), Shop: s.Shop, Caution: claims.NoAdvice, Proof: claims.ProofWords, HowToCheck: parts.Proof,
		By: fmt.Sprintf("From what is on record on %s (%s). %s.", s.When(s.Created), s.Zone, c.preparedFor())}
	if s.Supplement > 1 {
		page.Supplement = supplementWords(s)
	}
	groups := c.groups()
	if s.Kind != claims.Insurance {
		groups = groups[:0]
	}
	for _, g := range append(groups, c.factGroup(), c.sayingGroup()) {
		if len(g.notes) > 0 {
			page.Groups = append(page.Groups, readMeGroup{g.title, saidNotes(g.notes)})
		}
	}
	for _, d := range parts.Documents {
		page.Documents = append(page.Documents, readMeFile{Words: d.Words, Path: relative(d.Path)})
	}
	page.Files = readMeFiles(s, s.Files, parts)
	for _, l := range s.Lines {
		left := c.identity(l)
		if s.Loss != nil {
			left = append(append(left, lossState(s, l)...), lossSeen(s, l)...)
		}
		page.Lines = append(page.Lines, readMeLine{l.Line, l.Words(), saidNotes(left), saidNotes(append(c.money(l), c.story(l)...)), readMeFiles(s, l.Files, parts)})
	}
	var b bytes.Buffer
	if err := readMePage().Execute(&b, page); err != nil {
		return unwritten("page", err)
	}
	if _, err := b.WriteTo(w); err != nil {
		return unwritten("page", err)
	}
	return nil
}

func readMeTitle(c *claimPaper) string {
	switch c.s.Kind {
	case claims.Warranty:
		return "Warranty claim"
	case claims.Ownership:
		return "Ownership record"
	}
	return c.title()
}

func saidNotes(notes []note) (out []readMeNote) {
	for _, n := range notes {
		out = append(out, readMeNote{n.name, n.value})
	}
	return out
}

func readMeFiles(s claims.Statement, files []claims.File, parts ReadMeParts) (out []readMeFile) {
	for _, f := range files {
		said := readMeFile{Ref: f.Ref, Words: f.Words(), Caption: captionOf(s, f), Gap: f.Gap(), Left: f.Missing(), Copy: f.Copy, SHA256: f.SHA256}
		if said.Left == "" {
			said.Path = relative(f.Path)
		}
		if parts.Thumb != nil && said.Gap == "" {
			said.Thumb = relative(parts.Thumb(f))
		}
		out = append(out, said)
	}
	return out
}

// relative makes a path of the annex a link from the page, which lies in data/: never an
// address elsewhere, and none out of the annex.
func relative(path string) template.URL {
	path = strings.TrimPrefix(path, "data/")
	if path == "" {
		return ""
	}
	var steps []string
	for _, step := range strings.Split(path, "/") {
		if step == "" || step == "." || step == ".." {
			return ""
		}
		steps = append(steps, url.PathEscape(step))
	}
	return template.URL("./" + strings.Join(steps, "/")) // escaped step by step, and begins with no scheme
}
