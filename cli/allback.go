package cli

import (
	"context"
	"strings"

	"github.com/urfave/cli/v2"

	"pawl/api/wire"
	"pawl/model/fault"
)

type allBackOptions struct {
	job   string
	stdin bool
	wire.LookAtJob
}

func (p *program) allBackCommand() *cli.Command {
	return &cli.Command{
		Name: "allback", Usage: "ask whether all that was taken to a job is back",
		Description: `pawl allback 1042
pawl allback 1042 - --before engine < scans.txt
pawl allback 1042 --set 00E-KM5 --before handover
pawl allback 1042 --set 00E-KM5 --missing "00E-KM5=10 mm socket"`,
		ArgsUsage: "JOB [-]",
		Flags: []cli.Flag{
			value("before", "it is asked before the engine is started or at hand-over, as `MOMENT`: engine or handover; kept with who looked"),
			values("set", "the set of `NUMBER2` was looked at, piece by piece; all there but what --missing says"),
			values("missing", "that of a set is missing: `NUMBER3=PIECE`, as 00E-KM5=extension*2; give the flag once for each"),
		},
		Action: action(p, parseAllBack, runAllBack),
	}
}

func parseAllBack(c *cli.Context) (o allBackOptions, err error) {
	all, err := operands(c, 1, 2, "a JOB")
	if err != nil {
		return o, err
	}
	o.job, o.Before = all[0], c.String("before")
	if len(all) == 2 {
		if o.stdin = all[1] == "-"; !o.stdin {
			return o, fault.New(fault.Malformed, "%q is not where labels are read from", all[1]).WithHint("write - and scan them, one a line")
		}
	}
	at := map[string]int{}
	for _, number := range c.StringSlice("set") {
		at[bareNumber(number)] = len(o.Sets)
		o.Sets = append(o.Sets, wire.LookAtSet{Number: number})
	}
	for _, text := range c.StringSlice("missing") {
		number, piece, found := strings.Cut(text, "=")
		if !found || strings.TrimSpace(piece) == "" {
			return o, fault.New(fault.Malformed, "--missing is %q", text).WithHint(`write --missing "00E-KM5=10 mm socket"`)
		}
		i, known := at[bareNumber(number)]
		if !known {
			i, at[bareNumber(number)] = len(o.Sets), len(o.Sets)
			o.Sets = append(o.Sets, wire.LookAtSet{Number: strings.TrimSpace(number)})
		}
		o.Sets[i].Missing = append(o.Sets[i].Missing, strings.TrimSpace(piece))
	}
	return o, nil
}

// bareNumber tells two ways apart of writing one number.
func bareNumber(s string) string {
	return strings.ToUpper(strings.NewReplacer("-", "", " ", "").Replace(s))
}

func runAllBack(ctx context.Context, s *session, o allBackOptions) error {
	l := scanningBack{s: s, job: o.job, scanned: []wire.JobScan{}}
	if o.stdin {
		if s.inTerminal {
			s.note("ready to scan what came back; end with Ctrl-D")
		}
		if err := readLines(ctx, s.in, func(line string) error { return l.one(ctx, line) }); err != nil {
			return err
		}
	}
	var v wire.AllBack
	var err error
	if o.Before == "" && len(o.Sets) == 0 {
		v, err = s.client.AllBack(ctx, o.job)
	} else {
		v, err = s.client.LookAtJob(ctx, o.job, o.LookAtJob)
	}
	if err != nil {
		return err
	}
	v.Scanned = l.scanned
	if err := s.allBack(ctx, v); err != nil {
		return err
	}
	switch {
	case l.failed != "":
		return told{exitCodes[l.failed]}
	case v.Back == nil || !*v.Back:
		return told{exitNo}
	}
	return nil
}

// scanningBack sends each label as a look of its own, so that what was scanned is kept
// however the scanning ends.
type scanningBack struct {
	s       *session
	job     string
	scanned []wire.JobScan
	failed  fault.Kind // of the first that was not taken
}

// one sends one label, and tells what came of it unless one object tells all at the end.
func (l *scanningBack) one(ctx context.Context, line string) error {
	v, err := l.s.client.LookAtJob(ctx, l.job, wire.LookAtJob{Scanned: []string{line}})
	if err != nil {
		return err
	}
	l.scanned = append(l.scanned, v.Scanned...)
	for _, scan := range v.Scanned {
		if err := l.tell(scan); err != nil {
			return err
		}
	}
	return nil
}

func (l *scanningBack) tell(scan wire.JobScan) error {
	p := scan.Problem
	if p != nil && l.failed == "" {
		l.failed = fault.Kind(p.Kind)
	}
	switch {
	case l.s.json:
		return nil
	case p != nil:
		return l.s.changed(scan.Scanned+" NOT TAKEN: "+p.Message+hinted(p.Hint), scan.Scanned, "not taken", p.Kind, p.Message)
	}
	return l.s.changed(text(scan.Number)+" "+text(scan.Kind)+": "+text(scan.Done), text(scan.Number), text(scan.Done), text(scan.Kind), text(scan.Person))
}

func hinted(hint string) string {
	if hint == "" {
		return ""
	}
	return "; " + hint
}

// allBack says whether all is back, and what is not.
func (s *session) allBack(ctx context.Context, v wire.AllBack) error {
	if s.json {
		return s.object(v)
	}
	if err := s.changed(v.Words, "all back", whetherBack(v.Back), v.Words); err != nil {
		return err
	}
	var rows [][]string
	for _, t := range v.Tools {
		looked := ""
		if len(t.Pieces) > 0 {
			if looked = s.when(t.LookedAt); looked == "" {
				looked = "NOT LOOKED AT"
			}
		}
		rows = append(rows, []string{t.Number, t.State, strings.TrimSpace(t.Kind + " " + t.Maker + " " + t.Model), text(t.Person), text(t.OnJob), s.when(t.Since), looked})
	}
	if err := s.table([]string{"TOOL", "STATE", "WHAT", "WITH", "JOB", "SINCE", "PIECES"}, rows); err != nil {
		return err
	}
	s.unsettled(v)
	return nil
}

// unsettled notes what is to be answered for.
func (s *session) unsettled(v wire.AllBack) {
	for _, text := range v.Tell {
		s.note(text)
	}
	for _, f := range v.Findings {
		if f.Answer == nil {
			s.note(f.ID + " is open: " + f.Words)
		}
	}
	for _, t := range v.Tools {
		if len(t.Pieces) > 0 && t.LookedAt == 0 && t.State != "gone" && t.State != "lost" {
			s.note("look at the pieces of " + t.Number + " " + t.Kind + ": pawl allback " + v.Job + " --set " + t.Number)
		}
	}
	s.holding(v.Holds)
	s.note(v.Cautions...)
}

// whetherBack is yes or no; where nothing is recorded as taken it is neither.
func whetherBack(back *bool) string {
	if back == nil {
		return "not known"
	}
	return yesNo(*back)
}

func yesNo(is bool) string {
	if is {
		return "yes"
	}
	return "no"
}
