package cli

import (
	"context"
	"fmt"

	"github.com/urfave/cli/v2"

	"pawl/api/wire"
	"pawl/model/fault"
)

type countScanOptions struct {
	id    string
	scans []string
	wire.ScanCount
}

func (p *program) countScan() *cli.Command {
	return &cli.Command{
		Name: "scan", Usage: "record what is seen, one look a line", ArgsUsage: "COUNT SCAN… | COUNT -",
		Description: `pawl count scan N-2H4K9Q7M 00E-KM5 --at "Bay 1/Cart"
pawl count scan N-2H4K9Q7M serial:KD408-B217
pawl count scan N-2H4K9Q7M 00E-KM5 --missing "extension*2" --condition "case cracked"
pawl count scan N-2H4K9Q7M 00E-KM5 --happened 2026-11-25T16:30
pawl count scan N-2H4K9Q7M - --json < scans.txt`,
		Flags: []cli.Flag{
			value("at", "seen in the place of `PATH`, or of its code P/CODE; the code of a place among the scans says so for what follows"),
			values("missing", "a `PIECE` of the set that is not there; once for each"),
			value("condition", "how it looks, in `WORDS`"),
			happened(),
		},
		Action: action(p, parseCountScan, runCountScan),
	}
}

func parseCountScan(c *cli.Context) (o countScanOptions, err error) {
	all, err := operands(c, 2, -1, "the id of a COUNT, and what was scanned or -")
	if err != nil {
		return o, err
	}
	o.id, o.scans = all[0], all[1:]
	o.At, o.Missing, o.Condition, o.Happened = c.String("at"), c.StringSlice("missing"), c.String("condition"), c.String("happened")
	if (len(o.Missing) > 0 || o.Condition != "") && (len(o.scans) > 1 || o.scans[0] == "-") {
		return o, fault.New(fault.Malformed, "--missing and --condition are of one tool").WithHint("scan that one by itself")
	}
	return o, nil
}

func runCountScan(ctx context.Context, s *session, o countScanOptions) error {
	b := batch{s: s}
	look := func(scanned string) error {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		in := o.ScanCount
		in.Scanned = scanned
		d, err := s.client.ScanCount(ctx, o.id, in)
		b.total++
		if err == nil {
			if d.Done == "place" {
				o.At = *d.At
			}
			return s.looked(d)
		}
		if ctx.Err() != nil || len(o.scans) == 1 && scanned == o.scans[0] {
			return err
		}
		if b.failed++; b.first == nil {
			b.first, b.firstNumber = err, scanned
		}
		return s.notDone(scanned, err)
	}
	for _, scanned := range o.scans {
		err := error(nil)
		if scanned == "-" {
			if s.inTerminal {
				s.note("ready to scan; end with Ctrl-D")
			}
			err = readLines(ctx, s.in, look)
		} else {
			err = look(scanned)
		}
		if err != nil {
			return err
		}
	}
	return b.end()
}

// looked is the result line of one look.
func (s *session) looked(d wire.Counted) error {
	if s.json {
		return s.object(d)
	}
	if d.Done == "place" {
		return s.changed("you are at "+*d.At, "", d.Done, *d.At)
	}
	sentence := joined(" ", text(d.Number), d.Kind, d.Maker, d.Model, d.Done)
	if d.Done == "seen already" {
		sentence += ", by " + text(d.By) + ", " + s.when(d.Seen)
	}
	if d.At != nil {
		sentence += ", in " + *d.At
	}
	if d.Why != nil {
		sentence += ": " + *d.Why
	}
	err := s.changed(sentence, text(d.Number), d.Done, text(d.At), text(d.Why), d.Seen.String(), text(d.By), d.Kind)
	s.note(d.Advice...)
	return err
}

type countConfirmOptions struct {
	id string
	wire.ConfirmCount
}

func (p *program) countConfirm() *cli.Command {
	return &cli.Command{
		Name: "confirm", Usage: "record the word of whoever has a tool that is out or away", ArgsUsage: "COUNT NUMBER",
		Description: `pawl count confirm N-2H4K9Q7M 00E-KM5 --note "by phone"`,
		Flags:       []cli.Flag{value("note", "how they said so, in `WORDS`")},
		Action:      action(p, parseCountConfirm, runCountConfirm),
	}
}

func parseCountConfirm(c *cli.Context) (o countConfirmOptions, err error) {
	all, err := operands(c, 2, 2, "the id of a COUNT and a tool NUMBER")
	if err != nil {
		return o, err
	}
	o.id, o.Number, o.Note = all[0], all[1], c.String("note")
	return o, nil
}

func runCountConfirm(ctx context.Context, s *session, o countConfirmOptions) error {
	d, err := s.client.ConfirmCount(ctx, o.id, o.ConfirmCount)
	if err != nil {
		return err
	}
	return s.looked(d)
}

type countSettleOptions struct {
	id string
	wire.SettleDifference
}

func (p *program) countSettle() *cli.Command {
	return &cli.Command{
		Name: "settle", Usage: "say what became of a difference", ArgsUsage: "COUNT NUMBER",
		Description: `pawl count settle N-2H4K9Q7M 00E-KM5 --how found --at "Bay 2/Box"
pawl count settle N-2H4K9Q7M 00E-KM5 --how "known elsewhere" --with "Lab 1" --note "by phone"
pawl count settle N-2H4K9Q7M 00E-KM5 --how "record mended" --at "Bay 2/Box"
pawl count settle N-2H4K9Q7M 00E-KM5 --how missing --note "both bays and the van searched"`,
		Flags: []cli.Flag{
			value("how", "`HOW`: found, known elsewhere, record mended or missing"),
			value("at", "in the place of `PATH`: where it was found, or where it belongs from now on"),
			value("with", "with `WHOM` it is"),
			value("note", "what was searched, by whom, or how the record was mended, in `WORDS`"),
		},
		Action: action(p, parseCountSettle, runCountSettle),
	}
}

func parseCountSettle(c *cli.Context) (o countSettleOptions, err error) {
	all, err := operands(c, 2, 2, "the id of a COUNT and a tool NUMBER")
	if err != nil {
		return o, err
	}
	o.id, o.Number = all[0], all[1]
	o.At, o.With, o.Note = c.String("at"), c.String("with"), c.String("note")
	o.How, err = need(c, "how", `"known elsewhere"`)
	return o, err
}

func runCountSettle(ctx context.Context, s *session, o countSettleOptions) error {
	t, err := s.client.SettleDifference(ctx, o.id, o.SettleDifference)
	if err != nil {
		return err
	}
	if s.json {
		return s.object(t)
	}
	return s.changed(t.Number+" settled: "+t.Settled.How, s.countRow(t)...)
}

// countStep is a command that needs no more than the count.
func (p *program) countStep(verb, usage string) *cli.Command {
	return &cli.Command{
		Name: verb, Usage: usage, ArgsUsage: "COUNT", Description: "pawl count " + verb + " N-2H4K9Q7M",
		Action: action(p, parseCountStep, func(ctx context.Context, s *session, id string) error {
			do := map[string]func(context.Context, string) (wire.Count, error){
				"pause":  func(ctx context.Context, id string) (wire.Count, error) { return s.client.PauseCount(ctx, id) },
				"resume": func(ctx context.Context, id string) (wire.Count, error) { return s.client.ResumeCount(ctx, id) },
				"close":  func(ctx context.Context, id string) (wire.Count, error) { return s.client.CloseCount(ctx, id) },
			}[verb]
			v, err := do(ctx, id)
			if err != nil {
				return err
			}
			return s.stepped(v)
		}),
	}
}

func parseCountStep(c *cli.Context) (string, error) {
	ids, err := operands(c, 1, 1, "the id of a COUNT")
	if err != nil {
		return "", err
	}
	return ids[0], nil
}

// stepped says how a count stands after a step; of one that was closed, what it shows.
func (s *session) stepped(v wire.Count) error {
	n := v.Numbers
	if err := s.countDone(v, fmt.Sprintf("count %s is %s: %d missing, %d to settle", v.ID, v.State, n.Missing, n.Unsettled), v.State); err != nil || s.json || v.Statement == nil {
		return err
	}
	for _, line := range v.Statement.Words {
		if err := s.changed(line, "statement", line); err != nil {
			return err
		}
	}
	for _, t := range v.Unsettled {
		if err := s.changed(joined(" ", "not settled:", t.Number, t.Kind, orWord(t.Bucket, "extra")+",", t.Expected), append([]string{"not settled"}, s.countRow(t)...)...); err != nil {
			return err
		}
	}
	return nil
}
