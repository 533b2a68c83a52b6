package model

import (
	"cmp"
	"context"
	"encoding/json"
	"io"
	"slices"

	"pawl/model/copies"
	"pawl/model/dates"
	"pawl/model/evidence"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/ledger"
	"pawl/model/numbers"
	"pawl/model/people"
	"pawl/model/proofs"
)

// maxOlder is how many older checkpoints a copy can be held against.
const maxOlder = 1000

// OwnCopy is a copy of somebody's own tools that is ready to be written.
type OwnCopy struct {
	Name  string // of the file
	Tools int
	Write func(io.Writer) error
}

// CopyOwn makes the copy of somebody's own tools as they stand, with proofs
// under a checkpoint of now. It is for them, and for those who may see their
// prices: it holds all of those. What a tool cost while it was another's, and
// papers from then, are left out.
func (s *Shop) CopyOwn(ctx context.Context, by By, id string) (out OwnCopy, err error) {
	p, err := s.Person(ctx, by, id)
	if err != nil {
		return out, err
	}
	if err := allowed(by, people.SeeMoney, people.Object{Owner: id, OwnerShares: p.Shares}); err != nil {
		return out, fault.New(fault.Forbidden, "the copy holds the prices of %s", p.Name).
			WithHint("they take it themselves, or share their prices first: pawl people edit %q --shares", p.Name)
	}
	point, err := s.Checkpoint(ctx, by)
	if err != nil {
		return out, err
	}
	g := gathering{size: point.Size, person: id}
	src := copies.Source{Original: s.originalBytes, Date: s.dater(ctx, by), Proofs: proofs.Source{Note: point.Note, Key: point.Key}}
	if err := s.db.Read(ctx, func(rx *store.Rx) error {
		g = gathering{size: point.Size, person: id}
		if err := g.gather(rx); err != nil {
			return err
		}
		if src.Proofs.Older, err = olderOf(rx, point.Size); err != nil {
			return err
		}
		rolls, err := rollsFor(ctx, rx, g.ids(), dates.InstantOf(s.clock()), point.Size)
		src.Proofs.Rolls = proofs.Rows(rolls)
		return err
	}); err != nil {
		return out, err
	}
	set, err := s.Settings(ctx)
	if err != nil {
		return out, err
	}
	c, err := ledger.Open(point.Note, point.Key)
	if err != nil {
		return out, err
	}
	made := dates.InstantOf(s.clock())
	src.Copy = copies.Copy{Format: copies.Format, Ledger: c.Origin, Shop: set.Name, Owner: p.Name, Made: made, Tools: g.tools}
	src.Proofs.Lines = func(keep func(proofs.Entry) error) error { return s.entries(ctx, g, keep) }
	loc, err := set.Location()
	day := made.Day(loc)
	return OwnCopy{Name: "tools-copy-" + string(day), Tools: len(g.tools), Write: func(w io.Writer) error {
		_, err := copies.Write(w, day, src)
		return err
	}}, err
}

func (s *Shop) originalBytes(sha256 string) (io.ReadCloser, error) {
	f, _, err := s.originals.Open(sha256)
	return f, err
}

// olderOf makes the proofs from the checkpoints that were given out before.
func olderOf(rx *store.Rx, size int64) (out []proofs.Older, err error) {
	var sizes []int64
	for after := int64(0); ; {
		list, err := rx.Checkpoints(after, 500)
		if err != nil {
			return nil, err
		}
		for _, c := range list {
			if after = c.Size; c.Size < size {
				sizes = append(sizes, c.Size)
			}
		}
		if len(list) == 0 {
			break
		}
	}
	for _, old := range sizes[max(0, len(sizes)-maxOlder):] {
		o, err := proofs.NewOlder(old, size, rx)
		if err != nil {
			return nil, err
		}
		out = append(out, o)
	}
	return out, nil
}

// gathering goes through the lines about somebody's tools.
type gathering struct {
	size   int64
	person string
	tools  []copies.Tool
	places []place
}

// place is where a line stands, and whether what it says stays here.
type place struct {
	seq      int64
	withheld bool
}

func (g *gathering) gather(rx *store.Rx) error {
	tools, err := rx.ToolsOf(g.person)
	if err != nil {
		return err
	}
	for _, t := range tools {
		one := toolLines{gathering: g, records: map[string]map[string]copies.Record{}, other: map[string]bool{}}
		if err := one.read(rx, t.ID); err != nil {
			return err
		}
		if one.mine && one.there {
			g.tools, g.places = append(g.tools, one.tool(t.ID)), append(g.places, one.at...)
		}
	}
	slices.SortFunc(g.places, func(a, b place) int { return cmp.Compare(a.seq, b.seq) })
	return nil
}

// ids are those of the tools.
func (g *gathering) ids() []string {
	out := make([]string, len(g.tools))
	for i, t := range g.tools {
		out[i] = t.Record.ID
	}
	return out
}

// toolLines is what the lines about one tool come to.
type toolLines struct {
	*gathering
	at      []place
	records map[string]map[string]copies.Record // by noun and id, as they stand
	order   []string                            // numbers, as they were joined
	other   map[string]bool                     // papers from when it was another's
	mine    bool                                // by now
	there   bool                                // not gone
}

func (l *toolLines) read(rx *store.Rx, tool string) error {
	for from := int64(0); from < l.size; {
		batch, err := rx.History(tool, from, 500)
		if err != nil || len(batch) == 0 {
			return err
		}
		for _, e := range batch {
			line, err := ledger.ParseLine(e.Raw)
			if err != nil {
				return err
			}
			if from = line.Seq + 1; line.Seq >= l.size {
				return nil
			}
			if line.Noun == "evidence" && line.Rev > 1 {
				if err := l.unsorted(rx, line); err != nil {
					return err
				}
			}
			if err := l.line(line, e); err != nil {
				return err
			}
		}
	}
	return nil
}

// unsorted takes in the lines about a photo from before it was filed under the tool. They are
// about no tool, but without them lines about the photo would be missing. What they say stays
// here.
func (l *toolLines) unsorted(rx *store.Rx, filed ledger.Line) error {
	if _, known := l.records["evidence"][filed.ID]; known || l.other[filed.ID] {
		return nil
	}
	rows, err := rx.LinesOf("evidence", filed.ID)
	if err != nil {
		return err
	}
	for _, e := range rows {
		before, err := ledger.ParseLine(e.Raw)
		if err != nil {
			return err
		}
		if before.Seq < filed.Seq && !slices.ContainsFunc(l.at, func(p place) bool { return p.seq == before.Seq }) {
			l.at = append(l.at, place{before.Seq, true})
		}
	}
	return nil
}

// line takes in one line. The price of a tool, and papers about it, are somebody
// else's as long as the tool is.
func (l *toolLines) line(line ledger.Line, e store.Entry) error {
	image := ledger.Image{}
	if e.After != nil {
		var err error
		if image, err = ledger.ParseImage(e.After); err != nil {
			return err
		}
	}
	withheld := e.After == nil
	switch line.Noun {
	case "tool":
		l.mine, l.there = image["owner"] == l.person, image["gone"] == nil
		withheld = withheld || !l.mine
	case "number":
		id := numbers.Number(line.ID)
		if !slices.Contains(l.order, id.String()) {
			l.order = append(l.order, id.String())
		}
	case "evidence":
		kind, _ := image["kind"].(string)
		if !l.mine && !evidence.Kind(kind).Photo() {
			l.other[line.ID] = true
		}
		withheld = withheld || l.other[line.ID]
	}
	l.at = append(l.at, place{line.Seq, withheld})
	if l.records[line.Noun] == nil {
		l.records[line.Noun] = map[string]copies.Record{}
	}
	delete(l.records[line.Noun], line.ID)
	if !withheld && image["withdrawn"] == nil && image["cleared"] == nil {
		l.records[line.Noun][line.ID] = copies.Record{ID: line.ID, Rev: line.Rev, After: json.RawMessage(e.After)}
	}
	return nil
}

// tool is the tool as the lines leave it.
func (l *toolLines) tool(id string) copies.Tool {
	out := copies.Tool{Record: l.records["tool"][id], Numbers: l.order, Number: l.order[len(l.order)-1],
		Markings: l.sorted("marking"), Terms: l.sorted("term"), Checks: l.sorted("check"), Wrongs: l.sorted("wrong"), Evidence: []copies.Evidence{}}
	for _, r := range l.sorted("evidence") {
		image, _ := r.Image()
		sha, _ := image["sha256"].(string)
		mediaType, _ := image["media_type"].(string)
		out.Evidence = append(out.Evidence, copies.Evidence{Record: r, File: copies.FileOf(sha, mediaType)})
	}
	return out
}

func (l *toolLines) sorted(noun string) []copies.Record {
	out := []copies.Record{}
	for _, r := range l.records[noun] {
		out = append(out, r)
	}
	slices.SortFunc(out, func(a, b copies.Record) int { return cmp.Compare(a.ID, b.ID) })
	return out
}

// entries hands over the lines with their proofs, a batch at a time.
func (s *Shop) entries(ctx context.Context, g gathering, keep func(proofs.Entry) error) error {
	for batch := range slices.Chunk(g.places, 200) {
		rows := make([]proofs.Entry, 0, len(batch))
		err := s.db.Read(ctx, func(rx *store.Rx) error {
			rows = rows[:0]
			return entriesAt(rx, batch, g.size, func(row proofs.Entry) error {
				rows = append(rows, row)
				return nil
			})
		})
		if err != nil {
			return err
		}
		for _, row := range rows {
			if err := keep(row); err != nil {
				return err
			}
		}
	}
	return nil
}
