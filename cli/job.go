package cli

import (
	"cmp"
	"context"
	"io"

	"github.com/urfave/cli/v2"

	"pawl/api/client"
	"pawl/api/wire"
)

func (p *program) jobCommand() *cli.Command {
	return &cli.Command{
		Name: "job", Usage: "open, show, list and close jobs, and answer for what does not add up on them",
		Description: `pawl job open 1042 --vehicle "gray wagon" --safety yes
pawl job show 1042
pawl job list --open
pawl job close 1042`,
		Subcommands: append([]*cli.Command{
			{
				Name: "open", Usage: "open a job, or say more about one that a take opened",
				Description: `pawl job open 1042 --vehicle "gray wagon" --safety yes`,
				ArgsUsage:   "NUMBER",
				Flags: []cli.Flag{
					value("vehicle", "the `VEHICLE` in words"),
					value("vin", "its `VIN`"),
					value("safety", "whether it is safety-critical, as `ANSWER`: yes, no or unknown, which counts as yes"),
				},
				Action: action(p, parseJobOpen, runJobOpen),
			},
			{
				Name: "show", Usage: "show a job",
				Description: `pawl job show 1042`,
				ArgsUsage:   "NUMBER",
				Action:      action(p, parseJobShow, runJobShow),
			},
			{
				Name: "uses", Usage: "list what was tightened and measured on a job, and what of it holds the job open",
				Description: `pawl job uses 1042
pawl job uses 1042 -o uses.csv`,
				ArgsUsage: "NUMBER",
				Flags:     []cli.Flag{toFile("write them to `FILE`, a CSV; - is stdout")},
				Action:    action(p, parseJobUses, runJobUses),
			},
			{
				Name: "sign", Usage: "sign, as a manager, for what was done with a tool that could not be confirmed",
				Description: `pawl job sign V-2H4K9Q7M --why "done again by hand and looked at by the foreman"`,
				ArgsUsage:   "ID",
				Flags:       []cli.Flag{value("why", "the reason, in `WORDS`")},
				Action:      action(p, parseJobSign, runJobSign),
			},
			fastenersCommand(p),
			{
				Name: "list", Usage: "list jobs, newest first",
				Description: `pawl job list
pawl job list --open=false --limit 20`,
				Flags:  []cli.Flag{yes("open", "open ones only; --open=false: closed ones only"), limit()},
				Action: action(p, parseJobList, runJobList),
			},
		}, p.jobClosing()...),
	}
}

func parseJobOpen(c *cli.Context) (in wire.NewJob, err error) {
	numbers, err := operands(c, 1, 1, "a job NUMBER")
	if err != nil {
		return in, err
	}
	return wire.NewJob{Number: numbers[0], Vehicle: given(c, "vehicle"), VIN: given(c, "vin"), Safety: given(c, "safety")}, nil
}

func runJobOpen(ctx context.Context, s *session, in wire.NewJob) error {
	job, err := s.client.OpenJob(ctx, in)
	if err != nil {
		return err
	}
	if s.json {
		return s.object(job)
	}
	defer s.note(job.Warnings...)
	return s.changed("job "+job.Number+" is open: "+joined(", ", job.Vehicle, "safety-critical "+safety(job)), jobRow(s, job)...)
}

// safety says the answer in words, for what counts.
func safety(j wire.Job) string {
	if j.Safety == "unknown" {
		return "unknown: counts as yes"
	}
	return j.Safety
}

func jobRow(s *session, j wire.Job) []string {
	return []string{j.Number, j.Vehicle, j.VIN, j.Safety, s.when(j.Opened), s.when(j.Closed)}
}

func parseJobShow(c *cli.Context) (string, error) {
	numbers, err := operands(c, 1, 1, "a job NUMBER")
	if err != nil {
		return "", err
	}
	return numbers[0], nil
}

func runJobShow(ctx context.Context, s *session, number string) error {
	job, err := s.client.Job(ctx, number)
	if err != nil {
		return err
	}
	if s.json {
		return s.object(job)
	}
	back, err := s.client.AllBack(ctx, number)
	if err != nil {
		return err
	}
	defer s.holding(job.Holds)
	defer s.note(job.Warnings...)
	fields := []field{
		{"number", job.Number}, {"vehicle", job.Vehicle}, {"VIN", job.VIN}, {"safety-critical", safety(job)},
		{"opened", s.when(job.Opened)}, {"closed", s.when(job.Closed)}, {"all back", back.Words},
	}
	if o := back.Override; o != nil {
		over := "an earlier closing was over what was open"
		if o.At == job.Closed {
			over = "CLOSED OVER WHAT IS OPEN"
		}
		fields = append(fields, field{"override", over + ", " + s.when(o.At) + ", by " + o.By + ": " + o.Why})
	}
	if r := back.Reopened; r != nil {
		fields = append(fields, field{"reopened", s.when(r.At) + ", by " + r.By + ": " + r.Why})
	}
	for _, text := range back.Tell {
		fields = append(fields, field{"FLAGGED", text})
	}
	return s.record(fields)
}

type jobListOptions struct {
	client.JobQuery
	most int
}

func parseJobList(c *cli.Context) (o jobListOptions, err error) {
	if err := noOperands(c); err != nil {
		return o, err
	}
	if c.IsSet("open") {
		open := c.Bool("open")
		o.Open = &open
	}
	o.most, err = wholeOf(c, "limit")
	o.Limit = pageOf(o.most)
	return o, err
}

func runJobList(ctx context.Context, s *session, o jobListOptions) error {
	jobs, err := gather(o.most, func(each func(wire.Job) error) error { return s.client.JobsAll(ctx, o.JobQuery, each) })
	if err != nil {
		return err
	}
	return list(ctx, s, wire.Jobs{Jobs: jobs}, []string{"JOB", "VEHICLE", "VIN", "SAFETY", "OPENED", "CLOSED"}, jobs, func(j wire.Job) []string { return jobRow(s, j) })
}

// holding says what holds a job open.
func (s *session) holding(uses []wire.Use) {
	for _, u := range uses {
		if u.Holds {
			s.note(u.ID + " holds it open: " + u.Name + ", " + u.Target.Words() + " with " + u.Number + ": " + u.Settle)
		}
	}
}

type jobUsesOptions struct{ number, output string }

func parseJobUses(c *cli.Context) (o jobUsesOptions, err error) {
	if o.number, err = parseJobShow(c); err != nil {
		return o, err
	}
	o.output, err = csvFile(c)
	return o, err
}

func runJobUses(ctx context.Context, s *session, o jobUsesOptions) error {
	if o.output != "" {
		return s.toFile(o.output, 0o644, func(w io.Writer) ([]string, error) { return nil, s.client.UsesCSV(ctx, o.number, w) })
	}
	all, err := s.client.UsesOn(ctx, o.number)
	if err != nil {
		return err
	}
	if s.json {
		return s.object(all)
	}
	var rows [][]string
	for _, u := range all.Uses {
		rows = append(rows, []string{u.ID, u.What, u.Name, u.Target.String(), u.Number, u.Verdict, s.when(u.Happened), text(u.Person), cmp.Or(holds(u), s.takenBy(u.Withdrawn, u.WithdrawnBy, u.Why))})
	}
	if err := s.table([]string{"ID", "WHAT", "OF", "VALUE", "TOOL", "ANSWER", "AT", "BY", "STATE"}, rows); err != nil {
		return err
	}
	s.holding(all.Uses)
	return nil
}

type jobSignOptions struct{ id, why string }

func parseJobSign(c *cli.Context) (o jobSignOptions, err error) {
	ids, err := operands(c, 1, 1, "the ID of a tightening or measurement")
	if err != nil {
		return o, err
	}
	o.id = ids[0]
	o.why, err = need(c, "why", `"looked at by the foreman"`)
	return o, err
}

func runJobSign(ctx context.Context, s *session, o jobSignOptions) error {
	v, err := s.client.SignUse(ctx, o.id, wire.Sign{Why: o.why})
	if err != nil {
		return err
	}
	return s.used(v)
}
