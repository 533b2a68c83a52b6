package cli

import (
	"context"

	"github.com/urfave/cli/v2"

	"pawl/api/client"
	"pawl/api/wire"
)

type takeBackOptions struct {
	number string
	wire.Withdraw
}

// takesBack is the command by which an entry of one sort is taken back that was made by
// mistake; verb is that by which it was made.
func takesBack[T any](p *program, verb, what, id, why string, ask func(*client.Client, context.Context, string, wire.Withdraw, ...client.Option) (T, error), told func(*session, T, takeBackOptions) error) *cli.Command {
	return &cli.Command{
		Name: "withdraw", Usage: "take back a " + what + " that was entered by mistake; it stays on record with the reason, and counts nowhere", ArgsUsage: "NUMBER ID",
		Description: "pawl " + verb + " withdraw 00E-KM5 " + id + ` --why "` + why + `"`,
		Flags:       []cli.Flag{value("why", "`TEXT` of what was wrong with it")},
		Action: action(p, func(c *cli.Context) (o takeBackOptions, err error) {
			two, err := operands(c, 2, 2, "a tool NUMBER and the ID of a "+what)
			if err != nil {
				return o, err
			}
			o.number, o.ID = two[0], two[1]
			o.Why, err = need(c, "why", `"`+why+`"`)
			return o, err
		}, func(ctx context.Context, s *session, o takeBackOptions) error {
			v, err := ask(s.client, ctx, o.number, o.Withdraw)
			if err != nil {
				return err
			}
			return told(s, v, o)
		}),
	}
}

// comparisonTakenBack says what taking back a tool calibration or bench check left.
func comparisonTakenBack(s *session, v wire.Calibrated, o takeBackOptions) error {
	if s.json {
		return s.object(v)
	}
	err := s.changed(v.Number+" "+v.Kind+": taken back "+v.ID, v.Number, v.ID, text(v.DoNotUse))
	s.note(v.Advice...)
	s.note(v.Cautions...)
	return err
}

// useTakenBack says what taking back a tightening or measurement left.
func useTakenBack(s *session, v wire.Use, o takeBackOptions) error {
	if s.json {
		return s.object(v)
	}
	err := s.changed(v.Number+" "+v.Kind+": taken back "+v.ID+", "+v.Name+" on job "+v.Job, v.ID, v.What, v.Job, v.Name, v.Target.String(), v.Number)
	if v.Words != "" {
		s.note(v.Words)
	}
	s.note(v.Cautions...)
	return err
}

// takenBy says that something was taken back, when, by whom and why.
func (s *session) takenBy(at instant, by *string, why string) string {
	if at.Time().IsZero() {
		return ""
	}
	return "taken back " + s.when(at) + " by " + text(by) + ": " + why
}
