package cli

import (
	"context"
	"fmt"

	"github.com/urfave/cli/v2"

	"pawl/api/client"
	"pawl/api/wire"
)

type tightenOptions struct {
	number string
	wire.Tighten
}

func (p *program) tightenCommand() *cli.Command {
	return &cli.Command{
		Name: "tighten", Usage: "record a torque applied on a job",
		Description: `pawl tighten 00E-KM5 --job 1042 --fastener "front wheel nuts" --target "108 N·m" --limits 100..116 --direction cw --count 5`,
		ArgsUsage:   "NUMBER",
		Flags: append([]cli.Flag{
			value("job", "on the repair order of `NUMBER`"),
			value("fastener", "the `FASTENERS` in words: \"front wheel nuts\""),
			value("target", "to `VALUE`, with its unit: \"108 N·m\""),
			value("count", "`N` of them; else 1"),
		}, append(useFlags(), askFlags()...)...),
		Action: action(p, parseTighten, runTighten),
		Subcommands: []*cli.Command{takesBack(p, "tighten", "tightening", "V-2H4K9Q7M", "it was done with another wrench",
			(*client.Client).WithdrawTightening, useTakenBack)},
	}
}

// useFlags are those of tightenings and measurements alike.
func useFlags() []cli.Flag {
	return []cli.Flag{
		value("not-safety-why", "why it is not safety-critical, in `WORDS`; goes with --not-safety"),
		value("redoes", "it does again what has that `ID`"),
		happened(),
	}
}

// useOf reads what tightenings and measurements have in common: the tool, the job and
// the question, with happened, not-safety-why and redoes.
func useOf(c *cli.Context) (u wire.Tighten, number string, err error) {
	numbers, err := operands(c, 1, 1, "a tool NUMBER")
	if err != nil {
		return u, "", err
	}
	u.Ask, u.Happened, u.NotSafetyWhy, u.Redoes = askOf(c), c.String("happened"), c.String("not-safety-why"), c.String("redoes")
	u.Job, err = need(c, "job", "1042")
	return u, numbers[0], err
}

func parseTighten(c *cli.Context) (o tightenOptions, err error) {
	if o.Tighten, o.number, err = useOf(c); err != nil {
		return o, err
	}
	if o.Fastener, err = need(c, "fastener", `"front wheel nuts"`); err != nil {
		return o, err
	}
	if _, err = need(c, "target", `"108 N·m"`); err != nil {
		return o, err
	}
	count, err := wholeOf(c, "count")
	o.Count = int64(max(count, 1))
	return o, err
}

func runTighten(ctx context.Context, s *session, o tightenOptions) error {
	v, err := s.client.Tighten(ctx, o.number, o.Tighten)
	if err != nil {
		return err
	}
	return s.used(v)
}

// used says what was recorded, and loudly what it leaves open.
func (s *session) used(v wire.Use) error {
	if s.json {
		return s.object(v)
	}
	sentence := fmt.Sprintf("%s recorded on job %s: %s, %s with %s", v.What, v.Job, v.Name, v.Target.Words(), v.Number)
	if v.Unconfirmed {
		sentence += "; DONE WITHOUT A CONFIRMED TOOL (" + v.Verdict + ")"
	}
	err := s.changed(sentence, v.ID, v.What, v.Job, v.Name, v.Target.String(), v.Number, v.Verdict, v.Outcome, holds(v))
	s.openedJob(v.NewJob)
	if v.Outcome != "" {
		s.note("the value is: " + v.Outcome)
	}
	if v.Words != "" {
		s.note(v.Words)
	}
	if v.Holds {
		s.note("it holds job " + v.Job + " open: " + v.Settle)
	}
	s.note(v.Cautions...)
	return err
}

func holds(v wire.Use) string {
	if v.Holds {
		return "holds the job"
	}
	return ""
}
