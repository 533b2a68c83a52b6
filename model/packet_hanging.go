package model

import (
	"pawl/model/calibration"
	"pawl/model/claims"
	"pawl/model/custody"
	"pawl/model/evidence"
	"pawl/model/internal/store"
	"pawl/model/markings"
	"pawl/model/packets"
	"pawl/model/register"
	"pawl/model/worth"
)

// hanging is what hangs on tools, by the id of each, whether a shop has it or a copy of one.
type hanging struct {
	numbers  map[string][]register.NumberRow
	markings map[string][]markings.Marking
	checks   map[string][]markings.Check
	evidence map[string][]evidence.Record // as received
	loans    map[string][]custody.Loan    // newest first
	uses     map[string][]calibration.UseRow
	settled  map[string][]calibration.SettledRow
	quotes   map[string][]worth.Quote
	judged   map[string]worth.Condition // that holds
}

// of is what is on record of one tool, but for its cost. PaperOf says whose it was when each
// paper came.
func (h hanging) of(t register.Tool, paperOf map[string]string) claims.ToolFacts {
	return claims.ToolFacts{Tool: t, PaperOf: paperOf, Numbers: h.numbers[t.ID], Markings: h.markings[t.ID], Checks: h.checks[t.ID], Evidence: h.evidence[t.ID],
		Loans: h.loans[t.ID], Uses: h.uses[t.ID], Settled: h.settled[t.ID]}
}

// conditionOf is the condition that holds of a tool; nil is none.
func (h hanging) conditionOf(tool string) *worth.Condition {
	if c, judged := h.judged[tool]; judged {
		return &c
	}
	return nil
}

// jobs are those that tools were used on, by id, and those whose rechecks were settled.
func (h hanging) jobs(ids []string) map[string]bool {
	out := map[string]bool{}
	for _, id := range ids {
		for _, l := range h.loans[id] {
			out[l.Job] = true
		}
		for _, u := range h.uses[id] {
			out[u.Job] = true
		}
		for _, s := range h.settled[id] {
			out[s.Job] = true
		}
	}
	delete(out, "")
	return out
}

// byTool parts rows by their tools, each in the order in which it came.
func byTool[T any](all []T, tool func(T) string) map[string][]T {
	out := map[string][]T{}
	for _, one := range all {
		out[tool(one)] = append(out[tool(one)], one)
	}
	return out
}

// hangingOn reads what hangs on tools of a shop.
func hangingOn(rx *store.Rx, ids []string) (h hanging, err error) {
	if len(ids) == 0 {
		return h, nil
	}
	if h.numbers, err = rx.NumbersOfAll(ids); err != nil {
		return h, err
	}
	if h.markings, err = rx.MarkingsOf(ids); err != nil {
		return h, err
	}
	checks, err := rx.Checks(ids...)
	if err != nil {
		return h, err
	}
	files, err := rx.EvidenceOfTools(ids)
	if err != nil {
		return h, err
	}
	loans, err := rx.LoansOfTools(ids)
	if err != nil {
		return h, err
	}
	uses, err := rx.UsesToo(ids...)
	if err != nil {
		return h, err
	}
	settled, err := rx.Settled(ids...)
	if err != nil {
		return h, err
	}
	if h.quotes, err = rx.Quotes(ids); err != nil {
		return h, err
	}
	h.checks, h.evidence = byTool(checks, func(k markings.Check) string { return k.Tool }), byTool(files, func(e evidence.Record) string { return e.Tool })
	h.loans, h.uses = byTool(loans, func(l custody.Loan) string { return l.Tool }), byTool(uses, func(u calibration.UseRow) string { return u.Tool })
	h.settled = byTool(settled, func(s calibration.SettledRow) string { return s.Tool })
	h.judged, err = rx.Conditions(ids)
	return h, err
}

// papersOf says whose each tool was when papers about it came, under a size of the ledger. A
// tool without one is not asked about.
func (h hanging) papersOf(rx *store.Rx, size int64) (map[string]map[string]string, error) {
	follows := map[string]*packets.Owners{}
	var asked []string
	for tool, files := range h.evidence {
		for _, e := range files {
			if follows[tool] == nil && !e.Kind.Photo() {
				follows[tool], asked = packets.NewOwners(), append(asked, tool)
			}
		}
	}
	if err := rx.OwnerLines(asked, size, func(tool string, e store.Entry) error {
		line, image, err := opened(e)
		if err == nil {
			follows[tool].Take(line, image)
		}
		return err
	}); err != nil {
		return nil, err
	}
	out := map[string]map[string]string{}
	for tool, o := range follows {
		out[tool] = o.Paper
	}
	return out, nil
}

// gathered is what was read within one transaction, for however many packets of it.
type gathered struct {
	tools map[string]claims.ToolFacts // with their cost on the day of the loss that all are of
	left  map[string]string           // why the bytes of an original cannot be handed over, by its hash
}

func newGathered() *gathered { return &gathered{map[string]claims.ToolFacts{}, map[string]string{}} }

// whyNotHanded asks about each original once.
func (g *gathered) whyNotHanded(ask func(evidence.Record) string) func(evidence.Record) string {
	return func(e evidence.Record) string {
		why, known := g.left[e.SHA256]
		if !known {
			why = ask(e)
			g.left[e.SHA256] = why
		}
		return why
	}
}
