package cli

import (
	"context"
	"strings"

	"github.com/urfave/cli/v2"

	"pawl/api/wire"
	"pawl/model/fault"
)

// exitNotBack is what allback ends with when a recorded take is not back.
const exitNotBack = 3

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
	if o.stdin {
		if s.inTerminal {
			s.note("ready to scan what came back; end with Ctrl-D")
		}
		err := readLines(ctx, s.in, func(line string) error {
			o.Scanned = append(o.Scanned, line)
			return nil
		})
		if err != nil {
			return err
		}
	}
	var v wire.AllBack
	var err error
	if o.Before == "" && len(o.Scanned)+len(o.Sets) == 0 {
		v, err = s.client.AllBack(ctx, o.job)
	} else {
		v, err = s.client.LookAtJob(ctx, o.job, o.LookAtJob)
	}
	if err != nil {
		return err
	}
	if err := s.allBack(ctx, v); err != nil {
		return err
	}
	if !v.Back {
		return told{exitNotBack}
	}
	return nil
}

// allBack says whether all is back, and what is not.
func (s *session) allBack(ctx context.Context, v wire.AllBack) error {
	if s.json {
		return s.object(v)
	}
	s.inZone(ctx)
	if err := s.changed(v.Words, "all back", yesNo(v.Back), v.Words); err != nil {
		return err
	}
	for _, scan := range v.Scanned {
		if p := scan.Problem; p != nil {
			s.note(scan.Scanned + " NOT TAKEN: " + p.Message)
			continue
		}
		s.note(text(scan.Number) + " " + text(scan.Kind) + ": " + text(scan.Done))
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

func yesNo(is bool) string {
	if is {
		return "yes"
	}
	return "no"
}
