package cli

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"pawl/api/wire"
)

func (p *program) showCommand() *cli.Command {
	return &cli.Command{
		Name: "show", Usage: "show all that is recorded of a tool",
		Description: `pawl show 00E-KM5
pawl show 00ekm5 --json`,
		ArgsUsage: "NUMBER",
		Action:    action(p, parseShow, runShow),
	}
}

func parseShow(c *cli.Context) (number string, err error) {
	numbers, err := operands(c, 1, 1, "a tool NUMBER")
	if err != nil {
		return "", err
	}
	return numbers[0], nil
}

func runShow(ctx context.Context, s *session, number string) error {
	t, _, err := s.client.Tool(ctx, number)
	if err != nil {
		return err
	}
	if s.json {
		return s.object(t)
	}
	return s.record(s.toolRecord(t))
}

// toolRecord says all of a tool, what matters at the bench first.
func (s *session) toolRecord(t wire.Tool) []field {
	var fields []field
	add := func(name, value string) { fields = append(fields, field{name, value}) }
	add("number", t.Number)
	if gone := s.when(t.Gone); gone != "" {
		add("GONE", joined(", ", t.GoneWhy, prefixed("on ", string(t.GoneOn)), t.GoneNote, "entered "+gone))
	}
	if t.DoNotUse != nil {
		since := ", since " + s.when(t.DoNotUse.Since)
		if t.DoNotUse.Calibration != nil { // its note has the day; nobody may know the hour
			since = ""
		}
		add("DO NOT USE", strings.TrimSuffix(t.DoNotUse.Reason+": "+t.DoNotUse.Note, ": ")+since)
	}
	if len(t.Missing) > 0 {
		add("NOT COMPLETE", pieceList(t.Missing)+" did not come back")
	}
	add("kind", kindOf(t.Kind))
	add("maker", t.Maker)
	add("model", t.Model)
	add("serial", t.Serial.AsRead)
	add("no serial", t.Serial.Why)
	add("lot", t.Serial.Lot)
	add("owner", t.Owner)
	add("place", text(t.Place))
	if t.Gone == 0 || t.Custody.State != "in place" { // "in place" is said of no tool that left
		add("custody", s.custody(t.Custody))
		add("since", s.when(t.Custody.Since))
	}
	add("condition", t.Condition)
	add("usage", t.Usage)
	add("pieces", pieceList(t.Pieces))
	for _, m := range t.Markings {
		add("marking", joined(", ", m.Method, m.Where, "protection "+cmp.Or(m.Protection, "not recorded")))
	}
	fields = append(fields, purchaseRecord(t.Purchase)...)
	if t.Warranty != nil && t.Warranty.Months != 0 {
		add("warranty", fmt.Sprintf("%s, through %s", count(t.Warranty.Months, "month"), t.Warranty.Through))
	}
	for _, e := range t.Evidence {
		add(e.Kind, joined(", ", e.Name, e.SHA256, "received "+s.when(e.ReceivedAt), claimed(e)))
	}
	if t.LabelWanted {
		add("label", "needs a new one")
	}
	fields = append(fields, chainRecord(t)...)
	others := slices.DeleteFunc(slices.Clone(t.Numbers), func(n string) bool { return n == t.Number })
	add("other numbers", strings.Join(others, ", "))
	add("notes", t.Notes)
	add("registered", s.when(t.Created))
	for _, a := range t.Advice {
		add("advice", a)
	}
	return fields
}

func purchaseRecord(p *wire.Purchase) []field {
	if p == nil {
		return nil
	}
	return []field{
		{"bought", joined(", ", string(p.Date), p.As, p.Seller, p.Terms)},
		{"price", joined(" and tax ", money(p.Price), money(p.Tax))},
		{"owed", joined(" ", money(p.Owed), prefixed("to ", p.OwedTo), prefixed("on ", string(p.OwedOn)))},
	}
}

// claimed is what a photo says of itself; a time that differs by a day from when it
// was received is pointed at.
func claimed(e wire.Evidence) string {
	at := text(e.ClaimedAt)
	if e.Differs {
		at += " (NOT when it was received)"
	}
	return prefixed("says of itself: ", joined(", ", at, prefixed("at ", text(e.Place)), prefixed("by ", e.Device)))
}

func pieceList(pieces wire.Pieces) string {
	var names []string
	for _, p := range pieces {
		name := p.Name
		if p.Count > 1 {
			name = fmt.Sprintf("%s*%d", p.Name, p.Count)
		}
		names = append(names, name)
	}
	return strings.Join(names, ", ")
}

// joined joins the parts that say something.
func joined(by string, parts ...string) string {
	var some []string
	for _, p := range parts {
		if p != "" {
			some = append(some, p)
		}
	}
	return strings.Join(some, by)
}

func prefixed(prefix, s string) string {
	if s == "" {
		return ""
	}
	return prefix + s
}
