package cli

import (
	"context"
	"fmt"
	"io"
	"strings"

	"github.com/urfave/cli/v2"

	"pawl/api/wire"
	"pawl/model/fault"
)

func (p *program) claimCommand() *cli.Command {
	return &cli.Command{
		Name: "claim", Usage: "open a claim on a policy, a warranty or whose a tool is, and keep what is known of it",
		Description: `pawl claim open L-2H4K9Q7M --policy "Shop contents"
pawl claim warranty 00E-KM5 --fault "anvil detent fails" -o w.pdf
pawl claim edit C-2H4K9Q7M --adjuster "A. Ling" --proof-due 2027-01-22
pawl claim fact C-2H4K9Q7M --on 2026-12-10 --what "first payment" --amount 399.00`,
		Subcommands: []*cli.Command{
			p.claimOpen(), p.claimWarranty(), p.claimOwnership(), p.claimList(), p.claimShow(), p.claimEdit(), p.claimFact(), p.claimAmounts(),
		},
	}
}

// claimOptions is a claim to be opened, and where its paper goes.
type claimOptions struct {
	wire.NewClaim
	output string
}

func (p *program) claimOpen() *cli.Command {
	return &cli.Command{
		Name: "open", Usage: "open a claim on a policy, of the tools that it is recorded as covering", ArgsUsage: "LOSS",
		Description: `pawl claim open L-2H4K9Q7M --policy "Shop contents"`,
		Flags:       []cli.Flag{value("policy", "`NAME` of the policy")},
		Action: action(p, func(c *cli.Context) (o claimOptions, err error) {
			id, err := parseLossID(c)
			if err != nil {
				return o, err
			}
			o.NewClaim = wire.NewClaim{Kind: "insurance", Loss: id}
			o.Policy, err = need(c, "policy", `"Shop contents"`)
			return o, err
		}, runClaimOpen),
	}
}

func (p *program) claimWarranty() *cli.Command {
	return &cli.Command{
		Name: "warranty", Usage: "open a claim on the warranty of a tool, and write its paper", ArgsUsage: "NUMBER",
		Description: `pawl claim warranty 00E-KM5 --fault "anvil detent fails" -o w.pdf`,
		Flags: []cli.Flag{
			value("fault", "`WHAT` is wrong with it"), value("on", "the `DAY` on which it was seen; else today"),
			toFile("write the paper to `FILE`, a PDF; - is stdout"),
		},
		Action: action(p, func(c *cli.Context) (o claimOptions, err error) {
			numbers, err := operands(c, 1, 1, "a tool NUMBER")
			if err != nil {
				return o, err
			}
			o.NewClaim, o.output = wire.NewClaim{Kind: "warranty", Number: numbers[0], On: c.String("on")}, c.String("output")
			o.Fault, err = need(c, "fault", `"anvil detent fails"`)
			return o, err
		}, runClaimOpen),
	}
}

func (p *program) claimOwnership() *cli.Command {
	return &cli.Command{
		Name: "ownership", Usage: "open a claim to show whose a tool is: to the police, a buyer, a seller", ArgsUsage: "NUMBER",
		Description: `pawl claim ownership 00E-KM5`,
		Action: action(p, func(c *cli.Context) (o claimOptions, err error) {
			numbers, err := operands(c, 1, 1, "a tool NUMBER")
			if err == nil {
				o.NewClaim = wire.NewClaim{Kind: "ownership", Number: numbers[0]}
			}
			return o, err
		}, runClaimOpen),
	}
}

func runClaimOpen(ctx context.Context, s *session, o claimOptions) error {
	v, err := s.client.OpenClaim(ctx, o.NewClaim)
	if err != nil {
		return err
	}
	if o.output != "" {
		if err := s.toFile(o.output, 0o600, func(w io.Writer) ([]string, error) { return nil, s.client.ClaimPaper(ctx, v.ID, w) }); err != nil {
			return err
		}
		if o.output == "-" {
			return nil
		}
	}
	return s.claimDone(v, "claim "+v.ID+" is open: "+joined(", ", v.Kind, text(v.Policy), text(v.Number)), "open")
}

// claimDone says what was done to a claim, with what came with it.
func (s *session) claimDone(v wire.Claim, sentence, did string) error {
	if s.json {
		return s.object(v)
	}
	err := s.changed(sentence, v.ID, did, v.Kind, text(v.Loss), text(v.Policy), text(v.Number), fmt.Sprint(len(v.Tools)), fmt.Sprint(len(v.LeftOut)), v.Claimed)
	for _, l := range v.LeftOut {
		s.note("left out: " + joined(" ", l.Number, l.Kind, "of", l.Owner) + ": " + l.Why)
	}
	s.note(v.Advice...)
	return err
}

func (p *program) claimList() *cli.Command {
	return &cli.Command{
		Name: "list", Usage: "list claims, newest first", Description: "pawl claim list",
		Flags:  []cli.Flag{limit()},
		Action: action(p, wholeFlag("limit"), runClaimList),
	}
}

func runClaimList(ctx context.Context, s *session, most int) error {
	rows, err := gather(most, func(each func(wire.ClaimLine) error) error { return s.client.ClaimsAll(ctx, pageOf(most), each) })
	if err != nil {
		return err
	}
	return list(ctx, s, wire.Claims{Claims: rows}, []string{"CLAIM", "KIND", "LOSS", "POLICY", "TOOL", "OWNER", "OPENED", "AWAITED"}, rows, func(c wire.ClaimLine) []string {
		awaited := ""
		if c.Awaited != nil {
			awaited = string(c.Awaited.On) + " " + c.Awaited.What
		}
		return []string{c.ID, c.Kind, text(c.Loss), text(c.Policy), text(c.Number), c.Owner, s.when(c.Opened), awaited}
	})
}

func parseClaimID(c *cli.Context) (string, error) {
	ids, err := operands(c, 1, 1, "the id of a CLAIM")
	if err != nil {
		return "", err
	}
	return ids[0], nil
}

func (p *program) claimShow() *cli.Command {
	return &cli.Command{
		Name: "show", Usage: "show a claim with its tools, facts and deadlines", ArgsUsage: "CLAIM", Description: "pawl claim show C-2H4K9Q7M",
		Action: action(p, parseClaimID, runClaimShow),
	}
}

func runClaimShow(ctx context.Context, s *session, id string) error {
	v, _, err := s.client.Claim(ctx, id)
	if err != nil {
		return err
	}
	if s.json {
		return s.object(v)
	}
	if err := s.record(claimFields(s, v)); err != nil {
		return err
	}
	err = s.table([]string{"LINE", "SUPPLEMENT", "NUMBER", "WHAT", "OWNER", "IS", "LAST SEEN", "SAID OF IT", "CLAIMED", "OWED"}, cellsOf(v.Tools, func(t wire.ClaimTool) []string {
		claimed := text(t.Claimed)
		if t.Hidden {
			claimed = "its owner's to show"
		}
		return append(s.lossRow(t.LossTool), claimed, joined(" to ", text(t.Owed), text(t.OwedTo)))
	}))
	s.note(v.Advice...)
	return err
}

func claimFields(s *session, v wire.Claim) []field {
	fields := []field{{"claim", v.ID}, {"kind", v.Kind}, {"opened", s.when(v.Opened) + " by " + v.OpenedBy}, {"loss", text(v.Loss)}, {"policy", text(v.Policy)},
		{"tool", joined(" ", text(v.Number), text(v.ToolKind))}, {"named insured", v.Insured}, {"contact", v.Contact}, {"policy number", v.PolicyNumber}, {"claim number", v.ClaimNumber},
		{"adjuster", joined(", ", v.Adjuster, v.AdjusterAt)}, {"other insurance", v.OtherInsurance}, {"fault", joined(", ", v.Fault, string(v.FaultOn))}}
	for _, d := range v.Deadlines {
		fields = append(fields, field{"awaited", joined(", ", string(d.On)+" "+d.What, d.Why)})
	}
	if w := v.Warranty; w != nil {
		through := "its last day is not known"
		if w.Through != nil {
			through = "through " + string(*w.Through)
		}
		fields = append(fields, field{"warranty", strings.ToUpper(w.Within) + ", " + through})
	}
	if r := v.Replacement; r != nil {
		fields = append(fields, field{"exchanged for", joined(" ", r.Number, r.Serial)})
	}
	if len(v.Tools) > 0 {
		fields = append(fields, field{"claimed", v.Claimed + map[bool]string{true: fmt.Sprintf(", and of %d tools nothing is said", v.ClaimedUnsaid)}[v.ClaimedUnsaid > 0]})
	}
	for _, l := range v.LeftOut {
		fields = append(fields, field{"left out", joined(" ", l.Number, l.Kind, "of", l.Owner) + ": " + l.Why})
	}
	for _, f := range v.Facts {
		said := joined(", ", joined(" ", f.What, text(f.Amount)), text(f.Payment))
		if w := f.Withdrawn; w != nil {
			said = "WITHDRAWN: " + said + ": " + w.Why
		}
		fields = append(fields, field{string(f.On), said + " (" + f.ID + ")"})
	}
	return fields
}

type claimEditOptions struct {
	id string
	wire.ClaimChange
}

func (p *program) claimEdit() *cli.Command {
	return &cli.Command{
		Name: "edit", Usage: "say who is insured, who adjusts, and what is awaited by which day", ArgsUsage: "CLAIM",
		Description: `pawl claim edit C-2H4K9Q7M --insured "Our shop" --policy-number HP-55120 --adjuster "A. Ling"
pawl claim edit C-2H4K9Q7M --proof-due 2027-01-22 --suit-due 2027-11-23`,
		Flags: []cli.Flag{
			value("insured", "`NAME` of the insured"), value("contact", "`HOW` to reach them"), value("policy-number", "`NUMBER` of the policy"),
			value("claim-number", "`NUMBER` that the insurer gave the claim"), value("adjuster", "`NAME` of the adjuster"), value("adjuster-at", "`HOW` to reach them"),
			value("other-insurance", "what other `INSURANCE` there is"), value("fault", "`WHAT` is wrong, of a warranty claim"), value("fault-on", "the `DAY` of it"),
			value("proof-due", "the `DAY` by which the sworn proof of loss is due; empty: none"), value("suit-due", "the last `DAY` to sue"),
			value("holdback-due", "the `DAY` by which to ask for the second payment"), value("answer-due", "the `DAY` by which somebody waits for an answer"),
		},
		Action: action(p, func(c *cli.Context) (o claimEditOptions, err error) {
			o.id, err = parseClaimID(c)
			o.ClaimChange = wire.ClaimChange{Insured: given(c, "insured"), Contact: given(c, "contact"), PolicyNumber: given(c, "policy-number"), ClaimNumber: given(c, "claim-number"),
				Adjuster: given(c, "adjuster"), AdjusterAt: given(c, "adjuster-at"), OtherInsurance: given(c, "other-insurance"), Fault: given(c, "fault"), FaultOn: given(c, "fault-on"),
				ProofDue: given(c, "proof-due"), SuitDue: given(c, "suit-due"), HoldbackDue: given(c, "holdback-due"), AnswerDue: given(c, "answer-due")}
			if err == nil && o.ClaimChange == (wire.ClaimChange{}) {
				err = fault.New(fault.Malformed, "nothing is told").WithHint("see %s --help", c.Command.HelpName)
			}
			return o, err
		}, func(ctx context.Context, s *session, o claimEditOptions) error {
			_, etag, err := s.client.Claim(ctx, o.id)
			if err != nil {
				return err
			}
			v, err := s.client.ChangeClaim(ctx, o.id, etag, o.ClaimChange)
			if err != nil {
				return err
			}
			return s.claimDone(v, "kept of claim "+v.ID, "edited")
		}),
	}
}

type claimFactOptions struct {
	id string
	wire.NewFact
	withdraw, why string
}

func (p *program) claimFact() *cli.Command {
	return &cli.Command{
		Name: "fact", Usage: "record a dated fact: reported, adjuster came, first payment, closed; or take one back that was a mistake", ArgsUsage: "CLAIM",
		Description: `pawl claim fact C-2H4K9Q7M --on 2026-12-10 --what "first payment" --amount 399.00 --payment "actual cash"
pawl claim fact C-2H4K9Q7M --withdraw F-2H4K9Q7M --why "it was another claim's"`,
		Flags: []cli.Flag{
			value("on", "the `DAY` of it"), value("what", "`WHAT` happened"), value("amount", "the `AMOUNT` that was paid, if any"),
			value("payment", "`WHAT` the amount is of: \"actual cash\" (the rest is held back), rest (what was held back; 0: given up) or whole"),
			value("withdraw", "the `ID` of one that is taken back; it stays, with why"), value("why", "`WHY` it is taken back"),
		},
		Action: action(p, parseClaimFact, runClaimFact),
	}
}

func parseClaimFact(c *cli.Context) (o claimFactOptions, err error) {
	if o.id, err = parseClaimID(c); err != nil {
		return o, err
	}
	if o.withdraw = c.String("withdraw"); o.withdraw != "" {
		if c.IsSet("on") || c.IsSet("what") || c.IsSet("amount") || c.IsSet("payment") {
			return o, fault.New(fault.Malformed, "--withdraw takes a fact back, and records none").WithHint("record the right one by itself")
		}
		o.why, err = need(c, "why", `"it was another claim's"`)
		return o, err
	}
	if c.IsSet("why") {
		return o, fault.New(fault.Malformed, "--why says why a fact is taken back").WithHint("name it: --withdraw ID; pawl claim show %s lists the ids", o.id)
	}
	if o.On, err = need(c, "on", "2026-12-10"); err != nil {
		return o, err
	}
	o.Amount, o.Payment = c.String("amount"), c.String("payment")
	o.What, err = need(c, "what", `"first payment"`)
	return o, err
}

func runClaimFact(ctx context.Context, s *session, o claimFactOptions) error {
	if o.withdraw != "" {
		v, err := s.client.WithdrawFact(ctx, o.id, o.withdraw, wire.WithdrawFact{Why: o.why})
		if err != nil {
			return err
		}
		return s.claimDone(v, "taken back of claim "+v.ID+": "+o.withdraw, "withdrawn")
	}
	v, err := s.client.AddFact(ctx, o.id, o.NewFact)
	if err != nil {
		return err
	}
	return s.claimDone(v, "kept of claim "+v.ID+": "+joined(" ", o.On, o.What, o.Amount), "fact")
}

func (p *program) claimAmounts() *cli.Command {
	type options struct {
		id      string
		amounts []wire.ClaimAmount
	}
	return &cli.Command{
		Name: "amounts", Usage: "record what is asked for tools of a claim, all or none", ArgsUsage: "CLAIM NUMBER=AMOUNT…",
		Description: `pawl claim amounts C-2H4K9Q7M 00E-KM5=649.00 00E-KM6=89.00`,
		Action: action(p, func(c *cli.Context) (o options, err error) {
			all, err := operands(c, 2, -1, "the id of a CLAIM and NUMBER=AMOUNT")
			if err != nil {
				return o, err
			}
			o.id = all[0]
			for _, text := range all[1:] {
				number, amount, found := strings.Cut(text, "=")
				if !found {
					return o, fault.New(fault.Malformed, "%q is not NUMBER=AMOUNT", text).WithHint("such as 00E-KM5=649.00; NUMBER= takes it away")
				}
				o.amounts = append(o.amounts, wire.ClaimAmount{Number: number, Amount: amount})
			}
			return o, nil
		}, func(ctx context.Context, s *session, o options) error {
			v, err := s.client.SetAmounts(ctx, o.id, o.amounts)
			if err != nil {
				return err
			}
			return s.claimDone(v, "claim "+v.ID+" asks for "+v.Claimed, "amounts")
		}),
	}
}
