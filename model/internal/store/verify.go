package store

import (
	"context"
	"fmt"
	"slices"
	"strings"

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

// Outside is a checkpoint that was kept elsewhere, already opened with the
// store's key, and what to call it.
type Outside struct {
	Name string
	ledger.Checkpoint
}

// Verify trusts nothing: one pass over the lines by seq against their hashes,
// digests and checkpoints; one merge of every recorded row with the last line
// about it; the derived tables against lines and rows. It holds a batch in
// memory at a time. Its error means that it could not look, not that something
// is wrong.
func (r *Rx) Verify(ctx context.Context, vkey string, outside []Outside) (Report, error) {
	return r.VerifyRolls(ctx, vkey, outside, WhichRolls{Newest: 1})
}

// WhichRolls says which rolls are made again: so many of the newest, and some by their ids.
type WhichRolls struct {
	Newest int
	Named  []string
}

// VerifyRolls is Verify that makes certain rolls again.
func (r *Rx) VerifyRolls(ctx context.Context, vkey string, outside []Outside, rolls WhichRolls) (Report, error) {
	v := verifier{Rx: r, ctx: ctx, vkey: vkey, outside: slices.Clone(outside), said: newPairs()}
	v.listed.seed = v.said.seed
	slices.SortFunc(v.outside, func(a, b Outside) int { return int(a.Size - b.Size) })
	for _, pass := range []func() error{v.lines, v.records, func() error { return v.rolls(rolls) }, v.search} {
		if err := pass(); err != nil {
			return v.report, err
		}
	}
	return v.report, nil
}

type verifier struct {
	*Rx
	ctx     context.Context
	vkey    string
	outside []Outside
	kept    []Checkpoint // the next of those kept in the store
	all     bool         // no more of them are kept
	walk    ledger.Walk
	whole   bool  // every line was gone through
	said    pairs // tools of lines, as the lines say
	listed  pairs // the same, as the table of them says
	report  Report
}

const verifyBatch = 500

// lines goes through the ledger in order.
func (v *verifier) lines() error {
	if err := v.meet(); err != nil {
		return err
	}
	for {
		if err := v.ctx.Err(); err != nil {
			return canceled(err)
		}
		batch, err := v.keptLines(v.walk.Size())
		if err != nil {
			return err
		}
		for _, k := range batch {
			ok, err := v.line(k)
			if err != nil || !ok {
				return err
			}
		}
		if len(batch) == 0 {
			return v.ended()
		}
	}
}

// keptLine is a line with everything that stands beside it.
type keptLine struct {
	Entry
	seq, act, at, rev int64
	noun, id          string
	hashes            []tlog.Hash
}

// keptLines loads the next batch of lines with their stored hashes.
func (v *verifier) keptLines(from int64) (out []keptLine, err error) {
	err = v.query(func(scan func(...any) error) error {
		var k keptLine
		err := scan(&k.seq, &k.act, &k.at, &k.noun, &k.id, &k.rev, &k.Raw, &k.Salt, &k.After)
		out = append(out, k)
		return err
	}, `SELECT seq, act, "at", noun, id, rev, line, salt, after FROM lines WHERE seq >= ? ORDER BY seq LIMIT ?`, from, verifyBatch)
	if err != nil || len(out) == 0 {
		return nil, err
	}
	at := func(seq int64) *keptLine {
		if i := seq - out[0].seq; i >= 0 && i < int64(len(out)) {
			return &out[i]
		}
		return nil
	}
	end := from + int64(len(out))
	err = v.query(func(scan func(...any) error) error {
		var idx int64
		var raw []byte
		if err := scan(&idx, &raw); err != nil {
			return err
		}
		seq := lineOfHash(idx, from, end)
		if k := at(seq); k != nil {
			var h tlog.Hash
			copy(h[:], raw)
			k.hashes = append(k.hashes, h)
		}
		return nil
	}, "SELECT idx, hash FROM hashes WHERE idx >= ? AND idx < ? ORDER BY idx", ledger.FirstStored(from), ledger.FirstStored(end))
	return out, err
}

// lineOfHash is the seq in [from, end) whose hashes hold that index.
func lineOfHash(idx, from, end int64) int64 {
	lo, hi := from, end
	for hi-lo > 1 {
		if mid := (lo + hi) / 2; ledger.FirstStored(mid) <= idx {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo
}

// line checks one line; false means that what follows cannot be judged.
func (v *verifier) line(k keptLine) (bool, error) {
	l, err := v.walk.Next(k.Raw, k.hashes)
	if err != nil {
		v.report.problem("%s", err)
		return false, nil
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
	return true, v.meet()
}

// meet holds every checkpoint of exactly the lines gone by against them.
func (v *verifier) meet() error {
	size := v.walk.Size()
	if len(v.kept) == 0 && !v.all {
		list, err := v.Checkpoints(size-1, verifyBatch)
		if err != nil {
			return err
		}
		v.kept, v.all = list, len(list) < verifyBatch
	}
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
	return nil
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

// lastLine is the newest line about one record.
type lastLine struct {
	id    string
	rev   int64
	lines int64
	after []byte
}

func (v *verifier) table(t *table) error {
	var rows []ledger.Image
	var lasts []lastLine
	rowAfter, lineAfter := "", ""
	var err error
	for {
		if err := v.ctx.Err(); err != nil {
			return canceled(err)
		}
		if len(rows) == 0 {
			if rows, err = v.rows(t, rowAfter); err != nil {
				return err
			}
		}
		if len(lasts) == 0 {
			if lasts, err = v.lasts(t, lineAfter); err != nil {
				return err
			}
		}
		switch {
		case len(rows) == 0 && len(lasts) == 0:
			return nil
		case len(lasts) == 0 || len(rows) > 0 && rows[0]["id"].(string) < lasts[0].id:
			rowAfter = rows[0]["id"].(string)
			v.report.problem("%s %s has no line in the ledger", t.noun, rowAfter)
			rows = rows[1:]
		case len(rows) == 0 || lasts[0].id < rows[0]["id"].(string):
			lineAfter = lasts[0].id
			v.report.problem("%s %s is gone, but the ledger has a line about it", t.noun, lineAfter)
			lasts = lasts[1:]
		default:
			rowAfter, lineAfter = lasts[0].id, lasts[0].id
			v.record(t, rows[0], lasts[0])
			rows, lasts = rows[1:], lasts[1:]
		}
	}
}

// rows loads stored values as the driver gives them, without any row type, so
// that what is compared is what is kept.
func (v *verifier) rows(t *table, after string) (out []ledger.Image, err error) {
	var names []string
	for _, f := range t.schema.Fields {
		names = append(names, quote(f.DBName))
	}
	err = v.query(func(scan func(...any) error) error {
		values, into := make([]any, len(names)), make([]any, len(names))
		for i := range values {
			into[i] = &values[i]
		}
		if err := scan(into...); err != nil {
			return err
		}
		image := ledger.Image{}
		for i, f := range t.schema.Fields {
			if b, isBytes := values[i].([]byte); isBytes {
				values[i] = string(b)
			}
			if values[i] != nil {
				image[f.DBName] = values[i]
			}
		}
		out = append(out, image)
		return nil
	}, "SELECT "+strings.Join(names, ", ")+" FROM "+quote(t.schema.Table)+" WHERE id > ? ORDER BY id LIMIT ?", after, verifyBatch)
	return out, err
}

func (v *verifier) lasts(t *table, after string) (out []lastLine, err error) {
	err = v.query(func(scan func(...any) error) error {
		var l lastLine
		err := scan(&l.id, &l.rev, &l.lines, &l.after)
		out = append(out, l)
		return err
	}, `SELECT m.id, m.rev, m.lines, l.after FROM
		(SELECT id, max(rev) AS rev, count(*) AS lines FROM lines WHERE noun = ? AND id > ? GROUP BY id ORDER BY id LIMIT ?) m
		JOIN lines l ON l.noun = ? AND l.id = m.id AND l.rev = m.rev ORDER BY m.id`, t.noun, after, verifyBatch, t.noun)
	return out, err
}

// record compares one stored row with the image of its last line.
func (v *verifier) record(t *table, row ledger.Image, last lastLine) {
	v.report.Records++
	id, rev := row["id"], row["rev"]
	delete(row, "id")
	delete(row, "rev")
	if rev != last.rev {
		v.report.problem("%s %s stands at revision %v, but its last line is of revision %d", t.noun, id, rev, last.rev)
		return
	}
	if last.lines != last.rev {
		v.report.problem("%s %s has %d lines for %d revisions", t.noun, id, last.lines, last.rev)
	}
	if last.after == nil {
		return // taken away, and named in the pass over the lines
	}
	image, err := ledger.ParseImage(last.after)
	if err != nil {
		v.report.problem("%s %s: the image of its last line cannot be read: %s", t.noun, id, err)
		return
	}
	if !row.Equal(image) {
		v.report.problem("%s %s is not as its last line left it: %s", t.noun, id, strings.Join(row.Diff(image), ", "))
	}
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
