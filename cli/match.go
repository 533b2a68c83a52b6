package cli

import (
	"bytes"
	"context"
	"io"
	"os"
	"strconv"

	"github.com/urfave/cli/v2"

	"pawl/api/client"
	"pawl/api/wire"
	"pawl/model/fault"
)

type matchOptions struct {
	client.MatchQuery
	list string // file of readings; empty: one is typed
	copy string // file of a copy of tools; empty: the shop
}

func (p *program) matchCommand() *cli.Command {
	return &cli.Command{
		Name: "match", Usage: "tell which tool a worn serial may be of",
		Description: `pawl match "KD4?8{B8}2*"
pawl match "KD4?8@0.6 2*{0,3}" --maker Brindle --found others --json
pawl match --list recovered.csv --found others
pawl match "KD4?8{B8}2*" --copy copy.zip`,
		ArgsUsage: "[READING]",
		Flags: []cli.Flag{
			value("maker", "only tools of that `MAKER`"),
			value("kind", "only tools of that `KIND`"),
			value("found", "`WHERE` it was found: bench, which is meant where nothing is said, list (of your own losses) or others"),
			value("list", "a CSV of readings in `FILE`, with columns reading, maker, kind: each tool at most once"),
			value("copy", "the tools of a copy in `FILE`, with no shop"),
			limit(),
		},
		Action: func(c *cli.Context) error {
			o, err := parseMatch(c)
			if err == nil && o.copy != "" {
				return p.runMatchCopy(c, o)
			}
			return action(p, func(*cli.Context) (matchOptions, error) { return o, err }, runMatch)(c)
		},
	}
}

func parseMatch(c *cli.Context) (o matchOptions, err error) {
	typed, err := operands(c, 0, 1, "")
	if err != nil {
		return o, err
	}
	o = matchOptions{list: c.String("list"), copy: c.String("copy"), MatchQuery: client.MatchQuery{Maker: c.String("maker"), Kind: c.String("kind"), Found: c.String("found")}}
	if o.Limit, err = wholeOf(c, "limit"); err != nil {
		return o, err
	}
	switch {
	case len(typed) == 1 && c.IsSet("list"):
		return o, fault.New(fault.Malformed, "a READING and --list do not go together").WithHint("match one after the other")
	case len(typed) == 0 && !c.IsSet("list"):
		return o, fault.New(fault.Malformed, "%s needs a READING", c.Command.HelpName).WithHint(`type what can be read, ? for a character that cannot be, * for some that are gone: pawl match "KD4?8*"`)
	case c.IsSet("list") && (o.Maker != "" || o.Kind != "" || o.Limit != 0):
		return o, fault.New(fault.Malformed, "--list goes with --found and --copy only").WithHint("columns maker and kind of the list narrow each row")
	}
	if len(typed) == 1 {
		o.Reading = typed[0]
	}
	return o, nil
}

func runMatch(ctx context.Context, s *session, o matchOptions) error {
	if o.list == "" {
		m, err := s.client.Match(ctx, o.MatchQuery)
		if err != nil {
			return err
		}
		return s.match(m)
	}
	info, err := os.Stat(o.list)
	if err != nil {
		return cannotRead(o.list, err)
	}
	m, err := s.client.MatchList(ctx, o.Found, info.Size(), func() (io.ReadCloser, error) {
		f, err := os.Open(o.list)
		if err != nil {
			return nil, cannotRead(o.list, err)
		}
		return f, nil
	})
	if err != nil {
		return aboutFile(o.list, sheetFault(err))
	}
	return s.matchList(m)
}

// maxList is far beyond any list of readings, in bytes.
const maxList = 4 << 20

// runMatchCopy matches against a copy of tools, without a shop.
func (p *program) runMatchCopy(c *cli.Context, o matchOptions) error {
	s := p.streams(c)
	defer s.progress.clear()
	f, err := os.Open(o.copy)
	if err != nil {
		return cannotRead(o.copy, err)
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return cannotRead(o.copy, err)
	}
	if o.list == "" {
		m, err := matchCopy(c.Context, f, info.Size(), o.MatchQuery)
		if err != nil {
			return err
		}
		return s.match(m)
	}
	list, err := readText(o.list, maxList)
	if err != nil {
		return err
	}
	m, err := matchListCopy(c.Context, f, info.Size(), bytes.NewReader([]byte(list)), o.Found)
	if err != nil {
		return sheetFault(err)
	}
	return s.matchList(m)
}

var matchHeadings = []string{"NUMBER", "CHANCE", "VERDICT", "SERIAL", "KIND", "MAKER", "STATE", "DECIDED BY", "READ OTHERWISE"}

func (s *session) match(m wire.Match) error {
	if s.json {
		return s.object(m)
	}
	if err := s.table(matchHeadings, cellsOf(m.Candidates, candidateRow)); err != nil {
		return err
	}
	s.note("none of these: "+chanceOf(m.NoneOfThese)+"; tools not listed: "+chanceOf(m.Others)+
		" (before anything was read, none of "+strconv.Itoa(m.Registered)+": "+chanceOf(m.NoneBefore)+")",
		"this is a guess: hold the tool beside its photos. It never becomes a serial by itself")
	return nil
}

func candidateRow(c wire.Candidate) []string {
	return []string{c.Number, chanceOf(c.Posterior), c.Verdict, c.Serial, kindOf(c.Kind), c.Maker, c.State, c.Deciding, c.Differing}
}

// chanceOf writes a chance so that neither 0 nor 1 is claimed.
func chanceOf(p float64) string {
	switch {
	case p < 0.0005:
		return "under 0.001"
	case p > 0.9995:
		return "over 0.999"
	}
	return strconv.FormatFloat(p, 'f', 3, 64)
}

func (s *session) matchList(m wire.MatchList) error {
	if s.json {
		return s.object(m)
	}
	for _, h := range m.Ignored {
		s.note("column " + strconv.Quote(h) + " says nothing of a match and was not used")
	}
	rows := cellsOf(m.Rows, func(r wire.MatchRow) []string {
		cells := []string{strconv.Itoa(r.Row), r.Reading, text(r.Assigned), "", "", "", "", chanceOf(r.NoneOfThese)}
		for _, c := range r.Candidates {
			if r.Assigned != nil && c.Number == *r.Assigned {
				cells[3], cells[4], cells[5], cells[6] = chanceOf(c.Posterior), c.Verdict, c.Serial, c.State
			}
		}
		return cells
	})
	if err := s.table([]string{"ROW", "READING", "NUMBER", "CHANCE", "VERDICT", "SERIAL", "STATE", "NONE OF THESE"}, rows); err != nil {
		return err
	}
	for _, r := range m.Rows {
		if r.Said != "" {
			s.note("row " + strconv.Itoa(r.Row) + ": " + r.Said)
		}
	}
	s.note("each tool is taken at most once; all candidates of a row: pawl match READING")
	return nil
}
