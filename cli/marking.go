package cli

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"

	"pawl/api/wire"
	"pawl/model/fault"
)

type markOptions struct {
	number string
	photos []paper
	said   bool // anything is to be recorded
	wire.Mark
}

func (p *program) markingCommand() *cli.Command {
	return &cli.Command{
		Name: "marking", Usage: "record a look at a serial, how it is protected, or another marking; or show them",
		Description: `pawl marking 00E-KM5
pawl marking 00E-KM5 --grade 3 --read "KD408B2?7" --photo plate=p.jpg --on 2026-11-10
pawl marking 00E-KM5 --protection "clear tape" --on 2026-11-10
pawl marking 00E-KM5 --owners-number "CA 4471 908" --method engraved --where "under the grip"
pawl marking 00E-KM5 --remark sticker --where "on the handle"
pawl marking forecast 00E-KM5
pawl marking round`,
		ArgsUsage: "NUMBER",
		Flags: []cli.Flag{
			value("grade", "how well it can be read, as `GRADE`: 4 crisp, 3 worn but certain at a glance, 2 only with care, 1 a character lost, 0 unreadable"),
			value("read", "what could be read, as `READING`: ? for a character that cannot be read, {B8} for one of two, * where some are gone"),
			values("photo", "a photo of it, taken before any cleaning, `[KIND=]FILE`; else of the plate"),
			value("on", "the `DATE` of it; else today"),
			value("protection", "from that day on: none, \"clear tape\" or lacquer, as `PROTECTION`"),
			value("remark", "the maker's serial is marked anew, by `METHOD`: ends the marking before"),
			value("owners-number", "`CODE` of a permanent number of the owner's, beside the maker's serial"),
			value("method", "how the owner's number is made, as `METHOD`: engraved, etched or stamped"),
			value("where", "where on the tool the new marking is, as `TEXT`"),
			value("marking", "`ID` of the marking that is meant; else the one that shows the maker's serial now"),
		},
		Action:      action(p, parseMarking, runMarking),
		Subcommands: []*cli.Command{p.markingForecastCommand(), p.markingRoundCommand(), p.markingWithdrawCommand()},
	}
}

func parseMarking(c *cli.Context) (o markOptions, err error) {
	numbers, err := operands(c, 1, 1, "a tool NUMBER")
	if err != nil {
		return o, err
	}
	o.number = numbers[0]
	o.Mark = wire.Mark{Marking: c.String("marking"), On: c.String("on"), Read: c.String("read"), Protection: c.String("protection"), Remark: c.String("remark"),
		OwnersNumber: c.String("owners-number"), Method: c.String("method"), Where: c.String("where")}
	if c.IsSet("grade") {
		grade, err := strconv.ParseInt(c.String("grade"), 10, 64)
		if err != nil {
			return o, fault.New(fault.Malformed, "--grade is %q", c.String("grade")).WithHint("give a number from 4, crisp, to 0, unreadable")
		}
		o.Grade = &grade
	}
	if o.photos, err = papersOf(c); err != nil {
		return o, err
	}
	for i, text := range c.StringSlice("photo") {
		if !strings.Contains(text, "=") {
			o.photos[i].kind = "plate"
		}
	}
	for _, name := range []string{"grade", "read", "photo", "on", "protection", "remark", "owners-number", "method", "where"} {
		o.said = o.said || c.IsSet(name)
	}
	return o, nil
}

func runMarking(ctx context.Context, s *session, o markOptions) error {
	if !o.said {
		v, err := s.client.Markings(ctx, o.number)
		if err != nil {
			return err
		}
		return s.markings(ctx, v, o.Marking)
	}
	named, err := s.upload(ctx, o.photos)
	if err != nil {
		return err
	}
	o.Evidence = named
	v, err := s.client.Mark(ctx, o.number, o.Mark)
	if err != nil {
		return err
	}
	return s.marked(v, v.Number+" "+v.Kind+": recorded")
}

// marked says what an act on a marking left behind.
func (s *session) marked(v wire.Marked, sentence string) error {
	if s.json {
		return s.object(v)
	}
	forecast := ""
	for _, m := range v.Markings {
		if v.Current != nil && m.ID == *v.Current {
			forecast = m.Forecast.Words
		}
	}
	err := s.changed(sentence+prefixed("; ", forecast), v.Number, text(v.ID), forecast)
	s.note(v.Said...)
	if v.Question != "" {
		s.note(v.Question)
	}
	s.note(v.Advice...)
	s.note(v.Cautions...)
	return err
}

// markings lists what is on record of a tool's markings, or of one of them.
func (s *session) markings(ctx context.Context, v wire.ToolMarkings, only string) error {
	if only != "" {
		v.Markings = slices.DeleteFunc(v.Markings, func(m wire.MarkingRecord) bool { return m.ID != only })
		if len(v.Markings) == 0 {
			return fault.New(fault.NotFound, "%s has no marking %s", v.Number, only).WithHint("see them with: pawl marking %s", v.Number)
		}
	}
	if s.json {
		return s.object(v)
	}
	var rows [][]string
	for _, m := range v.Markings {
		state := "since " + s.when(m.Since)
		if m.Ended != nil {
			state = "ended " + string(*m.Ended)
		}
		rows = append(rows, []string{m.ID, "marking", text(m.Marked), "", joined(", ", m.Shows, text(m.Code), m.Method, m.Where, "protection "+cmp.Or(m.Protection, "not recorded")), state})
		for _, t := range m.Terms {
			rows = append(rows, []string{t.ID, "term", cmp.Or(text(t.From), "from the start"), "", joined(", ", prefixed("protection ", text(t.Protection)), prefixed("used ", text(t.Usage))), s.taken(t.Withdrawn, t.Why)})
		}
		for _, c := range m.Checks {
			rows = append(rows, []string{c.ID, "look", string(c.On), gradeText(c.Grade), joined(", ", c.Means, c.Read, photoText(c.Photo)), s.taken(c.Withdrawn, c.Why)})
		}
		rows = append(rows, []string{m.ID, "forecast", text(m.Forecast.AsOf), gradeText(m.Forecast.Grade), m.Forecast.Words, ""})
	}
	err := s.table([]string{"ID", "WHAT", "DAY", "GRADE", "SAYS", "STATE"}, rows)
	if len(v.Markings) == 0 {
		s.note("how the serial is marked is not on record: pawl edit " + v.Number + " --marking printed")
	}
	s.note(v.Advice...)
	s.note(v.Cautions...)
	return err
}

// taken says that something was taken back.
func (s *session) taken(at instant, why string) string {
	if at.Time().IsZero() {
		return ""
	}
	return "taken back " + s.when(at) + ": " + why
}

// lostBy is a day by which a serial will have been lost, with what chance.
func lostBy(day, chance string) string {
	if day == "" {
		return ""
	}
	return day + ", " + chance
}

func gradeText(grade *int64) string {
	if grade == nil {
		return ""
	}
	return strconv.FormatInt(*grade, 10)
}

func photoText(sha *string) string {
	if sha == nil {
		return "no photo"
	}
	return "photo " + *sha
}

type forecastOptions struct{ number, marking string }

func (p *program) markingForecastCommand() *cli.Command {
	return &cli.Command{
		Name: "forecast", Usage: "say how long a serial will be readable", ArgsUsage: "NUMBER",
		Description: `pawl marking forecast 00E-KM5`,
		Flags:       []cli.Flag{value("marking", "`ID` of the marking that is meant; else the one that shows the maker's serial now")},
		Action: action(p, func(c *cli.Context) (o forecastOptions, err error) {
			numbers, err := operands(c, 1, 1, "a tool NUMBER")
			if err != nil {
				return o, err
			}
			return forecastOptions{numbers[0], c.String("marking")}, nil
		}, runForecast),
	}
}

func runForecast(ctx context.Context, s *session, o forecastOptions) error {
	f, err := s.client.MarkingForecast(ctx, o.number, o.marking)
	switch {
	case err != nil:
		return err
	case s.json:
		return s.object(f)
	}
	today := ""
	if f.UnreadableToday != nil {
		today = strconv.FormatFloat(*f.UnreadableToday, 'f', 4, 64)
	}
	prior := "assumed"
	if n := f.Prior.LearnedFrom; n > 0 {
		prior = fmt.Sprintf("learned from %d other tools", n)
	}
	defer s.note(f.Cautions...)
	return s.record(append([]field{{"grade", gradeText(f.Grade)}, {"as of", text(f.AsOf)}, {"early", lostBy(text(f.Early), "lost by then with a chance of 10 %")},
		{"expected", lostBy(text(f.Expected), "as likely lost by then as not")}, {"late", lostBy(text(f.Late), "lost by then with a chance of 90 %")},
		{"chance unreadable today", today}, {"exposure days", strconv.FormatFloat(f.Exposure, 'f', 2, 64)},
		{"prior", fmt.Sprintf("%s; shape %.4g, rate %.4g", prior, f.Prior.Shape, f.Prior.Rate)}, {"next photo", text(f.NextPhoto)}, {"says", f.Words}}, factorFields(f.Prior)...))
}

// factorFields say what a day counts for, and how much the tools of a class differ.
func factorFields(p wire.MarkingPrior) (out []field) {
	from := map[bool]string{false: "assumed", true: "learned"}
	for _, f := range p.Factors {
		out = append(out, field{f.Of, fmt.Sprintf("a day counts %.3g; %s", f.Value, from[f.Learned])})
	}
	if p.Spread != nil {
		out = append(out, field{p.Spread.Of, fmt.Sprintf("%.0f %%; %s", 100*p.Spread.Value, from[p.Spread.Learned])})
	}
	return out
}

type roundOptions struct {
	output string
	limit  int
}

func (p *program) markingRoundCommand() *cli.Command {
	return &cli.Command{
		Name: "round", Usage: "list the markings to look at this month, in walking order",
		Description: `pawl marking round
pawl marking round -o round.pdf`,
		Flags: []cli.Flag{limit(), toFile("write the list to `FILE`, a PDF to be carried along; - is stdout")},
		Action: action(p, func(c *cli.Context) (o roundOptions, err error) {
			if o.limit, err = wholeOf(c, "limit"); err != nil {
				return o, err
			}
			if o.output = c.String("output"); o.output != "" && o.limit > 0 {
				return o, fault.New(fault.Malformed, "the file has the whole round").WithHint("leave out --limit, or -o")
			}
			return o, noOperands(c)
		}, runRound),
	}
}

func runRound(ctx context.Context, s *session, o roundOptions) error {
	if o.output != "" {
		return s.toFile(o.output, 0o644, func(w io.Writer) ([]string, error) { return nil, s.client.MarkingRoundFile(ctx, w) })
	}
	v, err := s.client.MarkingRoundAll(ctx)
	if err != nil {
		return err
	}
	if o.limit > 0 && len(v.Markings) > o.limit {
		v.Markings = v.Markings[:o.limit]
	}
	err = list(ctx, s, v, []string{"RANK", "NUMBER", "KIND", "PLACE", "GRADE", "LAST LOOK", "LOST IN 30 DAYS", "COST", "FROM", "PROOF LACKS", "WHY", "DO"}, v.Markings, func(r wire.RoundRow) []string {
		return []string{strconv.Itoa(r.Rank), r.Number, r.Kind, text(r.Place), gradeText(r.Grade), cmp.Or(text(r.LastLook), "never"), r.ChanceWords(), money(r.Cost), r.CostFrom,
			strconv.FormatFloat(r.Proof, 'g', -1, 64), strings.Join(r.Why, ", "), strings.Join(r.Do, " ")}
	})
	var cautions []string
	for _, r := range v.Markings {
		for _, c := range r.Forecast.Cautions {
			if !slices.Contains(cautions, c) {
				cautions = append(cautions, c)
			}
		}
	}
	s.note(cautions...)
	if v.Unmarked > 0 {
		s.note(fmt.Sprintf("not on the round: %d tools with a serial of which nobody recorded how it is marked", v.Unmarked))
	}
	return err
}

type withdrawOptions struct {
	number string
	wire.WithdrawMarking
}

func (p *program) markingWithdrawCommand() *cli.Command {
	return &cli.Command{
		Name: "withdraw", Usage: "take back a look or a term that was entered by mistake; it stays on record with the reason", ArgsUsage: "NUMBER ID",
		Description: `pawl marking withdraw 00E-KM5 M-2H4K9Q7M --why "another tool's plate"`,
		Flags:       []cli.Flag{value("why", "`TEXT` of what was wrong with it")},
		Action: action(p, func(c *cli.Context) (o withdrawOptions, err error) {
			two, err := operands(c, 2, 2, "a tool NUMBER and the ID of a look or a term")
			if err != nil {
				return o, err
			}
			o.number, o.ID = two[0], two[1]
			o.Why, err = need(c, "why", `"another tool's plate"`)
			return o, err
		}, func(ctx context.Context, s *session, o withdrawOptions) error {
			v, err := s.client.WithdrawMarking(ctx, o.number, o.WithdrawMarking)
			if err != nil {
				return err
			}
			return s.marked(v, v.Number+" "+v.Kind+": taken back "+o.ID)
		}),
	}
}
