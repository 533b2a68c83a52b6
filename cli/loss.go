package cli

import (
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

func (p *program) lossCommand() *cli.Command {
	return &cli.Command{
		Name: "loss", Usage: "report what was stolen, burnt or lost, and settle tool by tool what became of it",
		Description: `pawl loss start --kind theft --found 2026-11-23T07:40 --where "Bay 2, side door forced" --place "Bay 2"
pawl loss missing L-2H4K9Q7M
pawl loss confirm L-2H4K9Q7M
pawl loss police L-2H4K9Q7M --agency "County sheriff" --report 26-11873
pawl loss recovered --reading "KD4?8B217" --at "pawn shop, by the police"`,
		Subcommands: []*cli.Command{
			p.lossStart(), p.lossList(), p.lossShow(), p.lossMissing(), p.lossConfirm(), p.lossAdd(), p.lossWithdraw(), p.lossEdit(),
			p.lossPolice(), p.lossSheet(), p.lossGiven(), p.lossEvidence(), p.lossRecovered(),
		},
	}
}

func (p *program) lossStart() *cli.Command {
	return &cli.Command{
		Name: "start", Usage: "report a loss: from what is left in a place, or by the tools that are missing",
		Description: `pawl loss start --kind theft --found 2026-11-23T07:40 --where "Bay 2, side door forced" --place "Bay 2"
pawl loss start --kind theft --found 2026-11-23T07:40 --where van --tools 00E-KM5,00E-KM6`,
		Flags: []cli.Flag{
			value("kind", "`KIND`: theft, fire, water, damage or lost"),
			value("found", "`TIME` at which it was found out: 2026-11-23T07:40 on the shop's clock, or with an offset"),
			value("secure", "`TIME` at which all was last known to be in order"),
			value("where", "`WHERE`, in words"),
			value("place", "count what is left in the place of `PATH`: what nobody sees there is missing"),
			values("tools", "`NUMBERS` of the tools that are missing, with commas between; may be given again"),
		},
		Action: action(p, parseLossStart, runLossStart),
	}
}

func parseLossStart(c *cli.Context) (in wire.StartLoss, err error) {
	if err := noOperands(c); err != nil {
		return in, err
	}
	if in.Kind, err = need(c, "kind", "theft"); err != nil {
		return in, err
	}
	if in.Found, err = need(c, "found", "2026-11-23T07:40"); err != nil {
		return in, err
	}
	if in.Where, err = need(c, "where", `"Bay 2, side door forced"`); err != nil {
		return in, err
	}
	in.Secure, in.Place, in.Tools = c.String("secure"), c.String("place"), listed(c.StringSlice("tools"))
	if in.Place != "" && len(in.Tools) > 0 {
		return in, fault.New(fault.Malformed, "--place and --tools are two ways to begin").WithHint("give one of them; what is found later is added: pawl loss add")
	}
	return in, nil
}

// listed are the values of a flag that may hold several, with commas between.
func listed(all []string) (out []string) {
	for _, some := range all {
		for one := range strings.SplitSeq(some, ",") {
			if one = strings.TrimSpace(one); one != "" {
				out = append(out, one)
			}
		}
	}
	return out
}

func runLossStart(ctx context.Context, s *session, in wire.StartLoss) error {
	v, err := s.client.StartLoss(ctx, in)
	if err != nil {
		return err
	}
	sentence := "loss " + v.ID + " is reported: " + v.Kind + ", " + v.Where
	if v.Count != nil {
		sentence += "; count what is left: " + *v.Count
	}
	return s.lossDone(v, sentence, "reported")
}

// lossDone says what was done to a loss, with what came with it.
func (s *session) lossDone(v wire.Loss, sentence, did string) error {
	if s.json {
		return s.object(v)
	}
	gone, missing := 0, 0
	for _, t := range v.Tools {
		switch t.State {
		case "missing":
			missing++
		case "stolen", "lost", "damaged":
			gone++
		}
	}
	err := s.changed(sentence, v.ID, did, v.Kind, text(v.Count), strconv.Itoa(len(v.Tools)), strconv.Itoa(missing), strconv.Itoa(gone))
	s.note(v.Advice...)
	return err
}

func (p *program) lossList() *cli.Command {
	return &cli.Command{
		Name: "list", Usage: "list losses, newest first", Description: "pawl loss list",
		Flags:  []cli.Flag{limit()},
		Action: action(p, wholeFlag("limit"), runLossList),
	}
}

func runLossList(ctx context.Context, s *session, most int) error {
	rows, err := gather(most, func(each func(wire.LossLine) error) error { return s.client.LossesAll(ctx, pageOf(most), each) })
	if err != nil {
		return err
	}
	return list(ctx, s, wire.Losses{Losses: rows}, []string{"LOSS", "KIND", "FOUND OUT", "WHERE", "TOOLS", "STILL GONE", "NOT CONFIRMED", "POLICE REPORT"}, rows, func(l wire.LossLine) []string {
		return []string{l.ID, l.Kind, s.when(l.Found), l.Where, strconv.Itoa(l.Tools), strconv.Itoa(l.StillGone), strconv.Itoa(l.Unconfirmed), text(l.Report)}
	})
}

func (p *program) lossShow() *cli.Command {
	return &cli.Command{
		Name: "show", Usage: "show a loss with its list", ArgsUsage: "LOSS", Description: "pawl loss show L-2H4K9Q7M",
		Action: action(p, parseLossID, runLossShow),
	}
}

func parseLossID(c *cli.Context) (string, error) {
	ids, err := operands(c, 1, 1, "the id of a LOSS")
	if err != nil {
		return "", err
	}
	return ids[0], nil
}

func runLossShow(ctx context.Context, s *session, id string) error {
	v, _, err := s.client.Loss(ctx, id)
	if err != nil {
		return err
	}
	if s.json {
		return s.object(v)
	}
	fields := []field{{"loss", v.ID}, {"kind", v.Kind}, {"found out", s.when(v.Found)}, {"last in order", s.when(v.Secure)}, {"where", v.Where}, {"entered", v.Entered},
		{"locks", v.Locks}, {"alarm", v.Alarm}, {"cameras", v.Cameras}, {"keys", v.Keys}, {"closed", v.Closed}, {"opened", v.Opened},
		{"reported by", v.StartedBy + ", " + s.when(v.Started)}, {"police", policeWords(v.Police)}, {"count of what is left", joined(", ", text(v.Count), text(v.CountState))}}
	if v.ToLookFor > 0 {
		fields = append(fields, field{"still to look for", strconv.Itoa(v.ToLookFor)})
	}
	for _, c := range v.Claims {
		fields = append(fields, field{"claim", c.ID + " " + c.Policy})
	}
	for _, h := range v.Held {
		fields = append(fields, field{"not missing, " + h.Words, h.Number + " " + h.Kind})
	}
	if err := s.record(fields); err != nil {
		return err
	}
	err = s.table([]string{"LINE", "SUPPLEMENT", "NUMBER", "WHAT", "OWNER", "IS", "LAST SEEN", "SAID OF IT"}, cellsOf(v.Tools, s.lossRow))
	s.note(v.Advice...)
	return err
}

func policeWords(p *wire.LossPolice) string {
	if p == nil {
		return "not reported on record"
	}
	return joined(", ", p.Agency, text(p.Report), text(p.Officer), string(p.Reported))
}

func (s *session) lossRow(t wire.LossTool) []string {
	last := ""
	if t.LastSeen != 0 {
		last = s.when(t.LastSeen)
	}
	last = joined(" ", last, text(t.SeenHow))
	said := []string{}
	add := func(when bool, what string) {
		if when {
			said = append(said, what)
		}
	}
	add(t.Outside, "not the shop's: for the police, in no claim of the shop")
	add(t.AfterLoss, "RECORDED AFTER THE LOSS")
	add(t.SeenSince != 0, "SEEN SINCE "+s.when(t.SeenSince))
	add(t.LeftBehind != "", "left behind: "+t.LeftBehind)
	add(t.Condition != "", "condition: "+t.Condition)
	if r := t.Recovered; r != nil {
		said = append(said, joined(", ", "recovered "+string(r.On), "by its "+r.By, r.At, r.Condition))
	}
	if w := t.Withdrawn; w != nil {
		said = append(said, "withdrawn: "+w.Why)
	}
	return []string{fmt.Sprint(t.Line), fmt.Sprint(t.Supplement), t.Number, joined(" ", t.Kind, t.Maker, t.Model, text(t.Serial)), t.Owner, t.State, last, strings.Join(said, "; ")}
}

// lossTools is a command about tools of a loss.
type lossTools struct {
	id string
	wire.LossTools
}

func parseLossTools(least int) func(c *cli.Context) (lossTools, error) {
	return func(c *cli.Context) (o lossTools, err error) {
		all, err := operands(c, 1+least, -1, "the id of a LOSS"+map[bool]string{true: " and a tool NUMBER"}[least > 0])
		if err != nil {
			return o, err
		}
		o.id, o.Numbers, o.Supplement = all[0], all[1:], c.Bool("supplement")
		return o, nil
	}
}

func (p *program) lossMissing() *cli.Command {
	return &cli.Command{
		Name: "missing", Usage: "put on the list what the count of what is left did not see", ArgsUsage: "LOSS", Description: "pawl loss missing L-2H4K9Q7M",
		Action: action(p, parseLossID, func(ctx context.Context, s *session, id string) error {
			v, err := s.client.MissingFromCount(ctx, id)
			if err != nil {
				return err
			}
			return s.lossDone(v, "the list of loss "+v.ID+" is as the count has it: "+toolsOfLoss(v, "missing"), "missing")
		}),
	}
}

// toolsOfLoss says how many tools of a loss stand in one of those states, and which.
func toolsOfLoss(v wire.Loss, states ...string) string {
	const most = 12
	n, named := 0, []string{}
	for _, t := range v.Tools {
		if slices.Contains(states, t.State) {
			if n++; n <= most {
				named = append(named, t.Number)
			}
		}
	}
	said := count(int64(n), "tool") + " " + strings.Join(states, " or ")
	if n > most {
		named = append(named, "and "+strconv.Itoa(n-most)+" more")
	}
	if n > 0 {
		said += ": " + strings.Join(named, ", ")
	}
	return said
}

func (p *program) lossConfirm() *cli.Command {
	return &cli.Command{
		Name: "confirm", Usage: "say that missing tools are stolen, or lost: all, or those of the numbers", ArgsUsage: "LOSS [NUMBER…]",
		Description: `pawl loss confirm L-2H4K9Q7M
pawl loss confirm L-2H4K9Q7M 00E-KM5`,
		Action: action(p, parseLossTools(0), func(ctx context.Context, s *session, o lossTools) error {
			v, err := s.client.ConfirmLoss(ctx, o.id, o.LossTools)
			if err != nil {
				return err
			}
			confirmed := []string{"stolen", "lost", "damaged"}
			if !slices.ContainsFunc(v.Tools, func(t wire.LossTool) bool { return slices.Contains(confirmed, t.State) }) {
				return s.lossDone(v, "of loss "+v.ID+" nothing is confirmed", "not confirmed")
			}
			return s.lossDone(v, "loss "+v.ID+" is confirmed: "+toolsOfLoss(v, confirmed...), "confirmed")
		}),
	}
}

func (p *program) lossAdd() *cli.Command {
	return &cli.Command{
		Name: "add", Usage: "put tools on the list that were found missing later", ArgsUsage: "LOSS NUMBER…",
		Description: `pawl loss add L-2H4K9Q7M 00E-KM5
pawl loss add L-2H4K9Q7M 00E-KM5 --supplement`,
		Flags: []cli.Flag{yes("supplement", "begin the next list, although the one before was not given out")},
		Action: action(p, parseLossTools(1), func(ctx context.Context, s *session, o lossTools) error {
			v, err := s.client.AddToLoss(ctx, o.id, o.LossTools)
			if err != nil {
				return err
			}
			return s.lossDone(v, count(int64(len(o.Numbers)), "tool")+" on the list of loss "+v.ID, "added")
		}),
	}
}

func (p *program) lossWithdraw() *cli.Command {
	type options struct {
		id string
		wire.WithdrawFromLoss
	}
	return &cli.Command{
		Name: "withdraw", Usage: "take a tool off the list that was not of this loss", ArgsUsage: "LOSS NUMBER",
		Description: `pawl loss withdraw L-2H4K9Q7M 00E-KM5 --why "was in the other van"`,
		Flags:       []cli.Flag{value("why", "`WHY` it was not of this loss")},
		Action: action(p, func(c *cli.Context) (o options, err error) {
			all, err := operands(c, 2, 2, "the id of a LOSS and a tool NUMBER")
			if err != nil {
				return o, err
			}
			o.id, o.Number = all[0], all[1]
			o.Why, err = need(c, "why", `"was in the other van"`)
			return o, err
		}, func(ctx context.Context, s *session, o options) error {
			v, err := s.client.WithdrawFromLoss(ctx, o.id, o.WithdrawFromLoss)
			if err != nil {
				return err
			}
			return s.lossDone(v, o.Number+" is off the list of loss "+v.ID, "withdrawn")
		}),
	}
}

func (p *program) lossSheet() *cli.Command {
	type options struct{ id, output string }
	return &cli.Command{
		Name: "sheet", Usage: "write the sheet for the police, as the loss is on record now", ArgsUsage: "LOSS",
		Description: "pawl loss sheet L-2H4K9Q7M -o police.pdf\npawl loss given L-2H4K9Q7M",
		Flags:       []cli.Flag{toFile("write the PDF to `FILE`; - is stdout")},
		Action: action(p, func(c *cli.Context) (o options, err error) {
			if o.output, err = need(c, "output", "police.pdf"); err != nil {
				return o, err
			}
			o.id, err = parseLossID(c)
			return o, err
		}, func(ctx context.Context, s *session, o options) error {
			s.note("as soon as it is handed over, say so, and it is kept as it is then: pawl loss given " + o.id)
			return s.toFile(o.output, 0o600, func(w io.Writer) ([]string, error) { return nil, s.client.PoliceSheet(ctx, o.id, w) })
		}),
	}
}

func (p *program) lossGiven() *cli.Command {
	return &cli.Command{
		Name: "given", Usage: "say that the list was handed to the police or the insurer: what is found later is a supplement", ArgsUsage: "LOSS",
		Description: "pawl loss given L-2H4K9Q7M",
		Action: action(p, parseLossID, func(ctx context.Context, s *session, id string) error {
			v, err := s.client.GiveLossList(ctx, id)
			if err != nil {
				return err
			}
			return s.lossDone(v, fmt.Sprintf("the list of loss %s, supplement %d, is given out", v.ID, v.Given), "given")
		}),
	}
}
