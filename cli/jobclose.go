package cli

import (
	"context"
	"io"

	"github.com/urfave/cli/v2"

	"pawl/api/wire"
	"pawl/model/fault"
)

// jobClosing are the words after `job` by which a job is edited and closed.
func (p *program) jobClosing() []*cli.Command {
	return append([]*cli.Command{
		{
			Name: "edit", Usage: "change what is recorded of a job",
			Description: `pawl job edit 1042 --vehicle "gray wagon" --safety yes`,
			ArgsUsage:   "NUMBER",
			Flags: []cli.Flag{
				value("vehicle", "the `VEHICLE` in words"), value("vin", "its `VIN`; one that looks odd is kept, and said"),
				value("safety", "whether it is safety-critical, as `ANSWER`: yes, no or unknown, which counts as yes"),
			},
			Action: action(p, parseJobOpen, runJobEdit),
		},
		{
			Name: "close", Usage: "close a job: nothing is out, missing, held or not looked at without an answer",
			Description: `pawl job close 1042
pawl job close 1042 --override "the owner of the shop takes it over"`,
			ArgsUsage: "NUMBER",
			Flags:     []cli.Flag{value("override", "close it over what is open, as a manager, for that `REASON`; it stays on record and is printed")},
			Action:    action(p, parseJobClose, runJobClose),
		},
		{
			Name: "reopen", Usage: "open a closed job again",
			Description: `pawl job reopen 1042 --why "it rattles"`,
			ArgsUsage:   "NUMBER",
			Flags:       []cli.Flag{value("why", "the `REASON`")},
			Action:      action(p, parseJobReopen, runJobReopen),
		},
		{
			Name: "sheet", Usage: "draw the sheet of a job, to print",
			Description: `pawl job sheet 1042 -o sheet.pdf`,
			ArgsUsage:   "NUMBER",
			Flags:       []cli.Flag{toFile("write it to `FILE`; - is stdout")},
			Action:      action(p, parseJobSheet, runJobSheet),
		},
	}, p.jobAnswering()...)
}

// jobAnswering are those for what the customer's things are, and what does not add up.
func (p *program) jobAnswering() []*cli.Command {
	return []*cli.Command{
		{
			Name: "hold", Usage: "keep a thing of the customer's while the job is open",
			Description: `pawl job hold 1042 --what "wheel-lock key"`,
			ArgsUsage:   "NUMBER",
			Flags:       []cli.Flag{value("what", "the `THING` in words")},
			Action:      action(p, parseJobHold, runJobHold),
		},
		{
			Name: "give", Usage: "give a held thing back",
			Description: `pawl job give 1042 "wheel-lock key" --to "customer"`,
			ArgsUsage:   "NUMBER THING",
			Flags:       []cli.Flag{value("to", "to `WHOM`")},
			Action:      action(p, parseJobGive, runJobGive),
		},
		{
			Name: "answer", Usage: "answer for what does not add up on a job",
			Description: `pawl job answer Z-2H4K9Q7M --answer found --where "on the cart"
pawl job answer Z-2H4K9Q7M --answer found --where "under the hood" --in-set
pawl job answer Z-2H4K9Q7M --answer "known elsewhere" --who "Tech B"
pawl job answer Z-2H4K9Q7M --answer "searched and not found" --who "Tech A, Tech B" --where "engine bay, under-tray"
pawl job answer Z-2H4K9Q7M --told "by phone"`,
			ArgsUsage: "FINDING",
			Flags: []cli.Flag{
				value("answer", "`ANSWER`: found, known elsewhere, or searched and not found"),
				value("where", "`WHERE` it was found, or where was searched"),
				value("who", "with `WHOM` it is, or by whom was searched"),
				value("told", "`HOW` the vehicle's owner was told of what was not found"),
				yes("in-set", "you saw the piece that was found in its set again; with found, or after it"),
			},
			Action: action(p, parseJobAnswer, runJobAnswer),
		},
		{
			Name: "findings", Usage: "list what does not add up on any job and is not settled",
			Description: `pawl job findings`,
			Action:      action(p, parseJobFindings, runJobFindings),
		},
	}
}

func runJobEdit(ctx context.Context, s *session, in wire.NewJob) error {
	_, etag, err := s.client.JobTagged(ctx, in.Number)
	if err != nil {
		return err
	}
	job, err := s.client.ChangeJob(ctx, in.Number, etag, wire.JobChange{Vehicle: in.Vehicle, VIN: in.VIN, Safety: in.Safety})
	if err != nil {
		return err
	}
	if s.json {
		return s.object(job)
	}
	defer s.note(job.Warnings...)
	return s.changed("job "+job.Number+": "+joined(", ", job.Vehicle, "safety-critical "+safety(job)), jobRow(s, job)...)
}

type jobCloseOptions struct{ number, text string }

func parseJobClose(c *cli.Context) (o jobCloseOptions, err error) {
	o.number, err = parseJobShow(c)
	if o.text = c.String("override"); err == nil && c.IsSet("override") && o.text == "" {
		err = fault.New(fault.Malformed, "--override needs a reason").WithHint(`such as --override "the owner of the shop takes it over"`)
	}
	return o, err
}

func runJobClose(ctx context.Context, s *session, o jobCloseOptions) error {
	v, err := s.client.CloseJob(ctx, o.number, wire.CloseJob{Override: o.text})
	if err != nil {
		return err
	}
	return s.jobIs(v, "closed")
}

func parseJobReopen(c *cli.Context) (o jobCloseOptions, err error) {
	if o.number, err = parseJobShow(c); err != nil {
		return o, err
	}
	o.text, err = need(c, "why", `"it rattles"`)
	return o, err
}

func runJobReopen(ctx context.Context, s *session, o jobCloseOptions) error {
	v, err := s.client.ReopenJob(ctx, o.number, wire.ReopenJob{Why: o.text})
	if err != nil {
		return err
	}
	return s.jobIs(v, "open again")
}

// jobIs says what became of a job.
func (s *session) jobIs(v wire.AllBack, is string) error {
	if s.json {
		return s.object(v)
	}
	err := s.changed("job "+v.Job+" is "+is+": "+v.Words, v.Job, is, s.when(v.Closed), v.Words)
	if o := v.Override; o != nil && o.At == v.Closed {
		s.note("CLOSED OVER WHAT IS OPEN by " + o.By + ": " + o.Why)
	} else if o != nil {
		s.note("an earlier closing, " + s.when(o.At) + ", was over what was open, by " + o.By + ": " + o.Why)
	}
	s.unsettled(v)
	return err
}

func parseJobHold(c *cli.Context) (o jobCloseOptions, err error) {
	if o.number, err = parseJobShow(c); err != nil {
		return o, err
	}
	o.text, err = need(c, "what", `"wheel-lock key"`)
	return o, err
}

func runJobHold(ctx context.Context, s *session, o jobCloseOptions) error {
	h, err := s.client.Hold(ctx, o.number, wire.Hold{What: o.text})
	if err != nil {
		return err
	}
	return s.heldThing(o.number, h)
}

func (s *session) heldThing(job string, h wire.HeldThing) error {
	if s.json {
		return s.object(h)
	}
	sentence := h.What + " is held on job " + job
	if h.GivenTo != nil {
		sentence = h.What + " of job " + job + " is given to " + *h.GivenTo
	}
	return s.changed(sentence, h.ID, job, h.What, s.when(h.Since), s.when(h.Given), text(h.GivenTo))
}

type jobGiveOptions struct{ number, thing, to string }

func parseJobGive(c *cli.Context) (o jobGiveOptions, err error) {
	all, err := operands(c, 2, 2, "a job NUMBER and a THING")
	if err != nil {
		return o, err
	}
	o.number, o.thing = all[0], all[1]
	o.to, err = need(c, "to", `"customer"`)
	return o, err
}

func runJobGive(ctx context.Context, s *session, o jobGiveOptions) error {
	h, err := s.client.GiveHeld(ctx, o.number, wire.GiveHeld{Thing: o.thing, To: o.to})
	if err != nil {
		return err
	}
	return s.heldThing(o.number, h)
}

type jobAnswerOptions struct {
	id string
	wire.AnswerFinding
}

func parseJobAnswer(c *cli.Context) (o jobAnswerOptions, err error) {
	ids, err := operands(c, 1, 1, "the ID of a finding")
	if err != nil {
		return o, err
	}
	o.id, o.Answer, o.Where, o.Who, o.Told, o.InSet = ids[0], c.String("answer"), c.String("where"), c.String("who"), c.String("told"), c.Bool("in-set")
	if o.Answer == "" && o.Told == "" && !o.InSet {
		_, err = need(c, "answer", "found --where \"on the cart\"")
	}
	return o, err
}

func runJobAnswer(ctx context.Context, s *session, o jobAnswerOptions) error {
	f, err := s.client.AnswerFinding(ctx, o.id, o.AnswerFinding)
	if err != nil {
		return err
	}
	if s.json {
		return s.object(f)
	}
	err = s.changed(f.ID+" of job "+f.Job+": "+f.Words+"; "+joined(", ", text(f.Answer), f.Who, f.Where), findingRow(s, f)...)
	if f.Flagged && f.ToldAt.Time().IsZero() {
		s.note("the job stays flagged: tell the vehicle's owner, and say how with: pawl job answer " + f.ID + " --told …")
	}
	if f.NotInSet {
		s.note(text(f.Number) + " stays NOT COMPLETE until somebody says that they saw the piece in it: pawl job answer " + f.ID + " --in-set")
	}
	return err
}

func findingRow(s *session, f wire.Finding) []string {
	return []string{f.ID, f.Job, f.Sort, f.Words, text(f.Answer), f.Who, f.Where, s.when(f.At), s.when(f.ToldAt)}
}

func parseJobFindings(c *cli.Context) (struct{}, error) { return struct{}{}, noOperands(c) }

func runJobFindings(ctx context.Context, s *session, _ struct{}) error {
	all, err := gather(0, func(each func(wire.Finding) error) error { return s.client.FindingsAll(ctx, each) })
	if err != nil {
		return err
	}
	return list(ctx, s, wire.Findings{Findings: all}, []string{"ID", "JOB", "SORT", "WHAT", "ANSWER", "WHO", "WHERE", "SINCE", "OWNER TOLD"}, all, func(f wire.Finding) []string { return findingRow(s, f) })
}

type jobSheetOptions struct{ number, output string }

func parseJobSheet(c *cli.Context) (o jobSheetOptions, err error) {
	if o.number, err = parseJobShow(c); err != nil {
		return o, err
	}
	o.output, err = need(c, "output", "sheet.pdf")
	return o, err
}

func runJobSheet(ctx context.Context, s *session, o jobSheetOptions) error {
	return s.toFile(o.output, 0o644, func(w io.Writer) ([]string, error) { return nil, s.client.JobSheet(ctx, o.number, w) })
}
