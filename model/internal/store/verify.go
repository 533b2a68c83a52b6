package store

import (
	"context"
	"fmt"
	"slices"
	"sync"

	"golang.org/x/mod/sumdb/tlog"

	"pawl/model/fault"
	"pawl/model/ledger"
	"pawl/model/serials"
)

// Report says what a verification looked at and what does not hold. Problems
// name the thing: a line, a record, a checkpoint.
type Report struct {
	Lines, Records, Withheld, Checkpoints, Rolls int64
	Root                                         tlog.Hash
	Problems                                     []string
}

// maxProblems is how many are named; a store that is damaged all over need not
// fill the memory with saying so.
const maxProblems = 200

func (p *Report) problem(format string, args ...any) {
	if len(p.Problems) < maxProblems {
		p.Problems = append(p.Problems, fmt.Sprintf(format, args...))
	}
}

// add takes in what was found beside.
func (p *Report) add(other Report) {
	p.Records, p.Rolls = other.Records, other.Rolls
	for _, problem := range other.Problems {
		p.problem("%s", problem)
	}
}

// Outside is a checkpoint that was kept elsewhere, already opened with the
// store's key, and what to call it.
type Outside struct {
	Name string
	ledger.Checkpoint
}

// Verify trusts nothing: one pass over the lines by seq against their hashes,
// digests and checkpoints; one merge of every recorded row with the last line
// about it; the derived tables against lines and rows. It holds few batches in
// memory at a time: one is gone through while the next is read. What is beside the
// lines is looked at meanwhile, where it has a view of the same moment to itself
// (ReadTwice), and else afterwards. Its error means that it could not look, not that
// something is wrong.
func (r *Rx) Verify(ctx context.Context, beside *Rx, vkey string, outside []Outside, rolls WhichRolls) (Report, error) {
	ctx, stop := context.WithCancel(ctx)
	lines := verifier{Rx: r, ctx: ctx, vkey: vkey, outside: slices.Clone(outside), said: newPairs()}
	slices.SortFunc(lines.outside, func(a, b Outside) int { return int(a.Size - b.Size) })
	tables := verifier{Rx: beside, ctx: ctx, listed: pairs{seed: lines.said.seed}}

	meanwhile := ahead[struct{}]{turn: &sync.Mutex{}, read: func() (none struct{}, more bool, err error) {
		return none, false, tables.allButLines(rolls)
	}}
	defer meanwhile.end()
	defer stop()
	if beside != r {
		meanwhile.begin()
	}
	if err := lines.lines(); err != nil {
		return lines.report, err
	}
	if beside == r {
		meanwhile.begin()
	}
	_, err := meanwhile.take()
	lines.report.add(tables.report)
	if err != nil {
		return lines.report, err
	}
	lines.listed = tables.listed
	err = lines.lineTools()
	return lines.report, err
}

// WhichRolls says which rolls are made again: so many of the newest, and some by their ids.
type WhichRolls struct {
	Newest int
	Named  []string
}

// allButLines goes through everything else.
func (v *verifier) allButLines(rolls WhichRolls) error {
	for _, pass := range []func() error{v.records, func() error { return v.rolls(rolls) }, v.search} {
		if err := pass(); err != nil {
			return err
		}
	}
	return nil
}

type verifier struct {
	*Rx
	ctx     context.Context
	vkey    string
	outside []Outside
	kept    []Checkpoint // of those kept in the store, the next that were read
	walk    ledger.Walk
	whole   bool  // every line was gone through
	said    pairs // tools of lines, as the lines say
	listed  pairs // the same, as the table of them says
	report  Report
}

const verifyBatch = 500

// line checks one line; false means that what follows cannot be judged.
func (v *verifier) line(k keptLine) bool {
	l, err := v.walk.Next(k.Raw, k.hashes)
	if err != nil {
		v.report.problem("%s", err)
		return false
	}
	v.report.Lines++
	if k.seq != l.Seq || k.act != l.Act || k.at != l.At || k.noun != l.Noun || k.id != l.ID || k.rev != l.Rev {
		v.report.problem("ledger line %d: the columns beside it (%s %s rev %d, seq %d, act %d, at %d) are not what it says (%s %s rev %d, act %d, at %d)",
			l.Seq, k.noun, k.id, k.rev, k.seq, k.act, k.at, l.Noun, l.ID, l.Rev, l.Act, l.At)
	}
	for _, tool := range l.Tools {
		v.said.add(tool, l.Seq)
	}
	switch {
	case k.Salt == nil && k.After == nil:
		// No act withholds an image yet, so nobody did it rightly.
		v.report.Withheld++
		v.report.problem("ledger line %d: what it says of %s %s rev %d was taken away", l.Seq, l.Noun, l.ID, l.Rev)
	default:
		if err := l.CheckAfter(k.Salt, k.After); err != nil {
			v.report.problem("%s (%s %s rev %d)", err, l.Noun, l.ID, l.Rev)
		}
	}
	v.meet()
	return true
}

// meet holds every checkpoint of exactly the lines gone by against them.
func (v *verifier) meet() {
	size := v.walk.Size()
	for len(v.kept) > 0 && v.kept[0].Size <= size {
		c, err := ledger.Open(v.kept[0].Note, v.vkey)
		if err == nil && c.Size != v.kept[0].Size {
			err = fault.New(fault.Invalid, "it says %d lines", c.Size)
		}
		if err == nil {
			err = v.walk.Meet(c)
		}
		if err != nil {
			v.report.problem("checkpoint of %d lines kept here: %s", v.kept[0].Size, err)
		}
		v.report.Checkpoints++
		v.kept = v.kept[1:]
	}
	for len(v.outside) > 0 && v.outside[0].Size <= size {
		if err := v.walk.Meet(v.outside[0].Checkpoint); err != nil {
			v.report.problem("checkpoint %s: %s", v.outside[0].Name, err)
		}
		v.report.Checkpoints++
		v.outside = v.outside[1:]
	}
}

// ended looks for what lies beyond the last line.
func (v *verifier) ended() error {
	size := v.walk.Size()
	v.report.Root, v.whole = v.walk.Root(), true
	for _, q := range []struct {
		query   string
		limit   int64
		problem string
	}{
		{"SELECT count(*) FROM hashes WHERE idx >= ?", ledger.FirstStored(size), "there are hashes for more lines than the %d of the ledger: lines were removed"},
		{"SELECT count(*) FROM line_tools WHERE seq >= ?", size, "there are tools listed for more lines than the %d of the ledger: lines were removed"},
		{"SELECT count(*) FROM line_tools WHERE seq < ? OR tool = ''", 0, "there is a tool listed for no line of the %d of the ledger: it was added"},
		{"SELECT count(*) FROM lines WHERE seq < ?", 0, "there is a line before the first of the %d of the ledger: it was added"},
	} {
		n, err := v.count(q.query, q.limit)
		if err != nil {
			return err
		}
		if n > 0 {
			v.report.problem(q.problem, size)
		}
	}
	for _, c := range v.outside {
		v.report.problem("checkpoint %s is of %d lines, but the ledger has only %d: lines were removed", c.Name, c.Size, size)
	}
	more, err := v.Checkpoints(size, verifyBatch)
	for _, c := range more {
		v.report.problem("a checkpoint kept here is of %d lines, but the ledger has only %d: lines were removed", c.Size, size)
	}
	return err
}

// records merges each recorded table with the last line about each record.
func (v *verifier) records() error {
	for _, t := range recorded() {
		if err := v.table(t); err != nil {
			return wrapf(err, "reading %s", t.schema.Table)
		}
		// The merge goes by id and begins after the empty one.
		n, err := v.count("SELECT count(*) FROM " + quote(t.schema.Table) + " WHERE id = ''")
		if err != nil {
			return err
		}
		if n > 0 {
			v.report.problem("there is a %s without an id", t.noun)
		}
	}
	return v.strangers()
}

// strangers looks for lines about nouns that no table holds.
func (v *verifier) strangers() error {
	return v.query(func(scan func(...any) error) error {
		var noun string
		err := scan(&noun)
		if !slices.ContainsFunc(tables, func(t *table) bool { return t.noun == noun }) {
			v.report.problem("the ledger speaks of %q, which this program does not know", noun)
		}
		return err
	}, "SELECT DISTINCT noun FROM lines")
}

// search holds the search tables against the tools.
func (v *verifier) search() error {
	for _, table := range []string{"words", "serial_keys"} {
		n, err := v.count("SELECT count(*) FROM " + table + " s WHERE NOT EXISTS (SELECT 1 FROM tools t WHERE t.id = s.tool)")
		if err != nil {
			return err
		}
		if n > 0 {
			v.report.problem("the search table %s speaks of a tool that is not there; it can be made anew", table)
		}
	}
	for after := ""; ; {
		tools, err := v.searchable(after, verifyBatch)
		if err != nil || len(tools) == 0 {
			return err
		}
		have, err := v.indexed(after, tools[len(tools)-1].id)
		if err != nil {
			return err
		}
		for _, t := range tools {
			want := serials.Words(t.text)
			if t.serialKey != "" {
				want = append(want, " "+serials.Fold(t.serialKey))
			}
			slices.Sort(want)
			slices.Sort(have[t.id])
			if !slices.Equal(want, have[t.id]) {
				v.report.problem("tool %s is not in the search tables as it should be; they can be made anew", t.id)
			}
		}
		after = tools[len(tools)-1].id
	}
}

// indexed gives what the search tables hold of a range of tools; the serial
// key is told from the words by a leading space.
func (v *verifier) indexed(after, upTo string) (map[string][]string, error) {
	have := map[string][]string{}
	err := v.query(func(scan func(...any) error) error {
		var tool, word string
		err := scan(&tool, &word)
		have[tool] = append(have[tool], word)
		return err
	}, `SELECT tool, word FROM words WHERE tool > ? AND tool <= ?
		UNION ALL SELECT tool, ' ' || folded FROM serial_keys WHERE tool > ? AND tool <= ?`, after, upTo, after, upTo)
	return have, err
}
