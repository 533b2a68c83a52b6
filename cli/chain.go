package cli

import (
	"strings"

	"pawl/api/wire"
	"pawl/model/fault"
)

// partsOf reads the tools that came with one.
func partsOf(texts []string) ([]wire.With, error) {
	var parts []wire.With
	for _, t := range texts {
		part, err := wire.ParseWith(t)
		if err != nil {
			f := *fault.Of(err)
			f.Message = "--with " + f.Message
			return nil, &f
		}
		parts = append(parts, part)
	}
	return parts, nil
}

// chainRecord says whose a tool is from outside, and what it is tied to.
func chainRecord(t wire.Tool) (fields []field) {
	add := func(name, value string) {
		if value != "" {
			fields = append(fields, field{name, value})
		}
	}
	if o := t.Outside; o != nil {
		add("from outside", joined(", ", "belongs to "+o.Name, prefixed("deposit ", money(o.Deposit)), prefixed("goes back by ", string(o.DueBack))))
	}
	add("came with", text(t.CameWith))
	for _, p := range t.With {
		add("with it", joined(" ", p.Number, p.Kind, p.Serial))
	}
	add("exchanged for", text(t.Exchanged.For))
	add("exchanged from", text(t.Exchanged.From))
	add("imported from", text(t.Origin))
	add("earlier numbers", strings.Join(t.EarlierNumbers, ", "))
	return fields
}

// stateOf is where a tool is, or how it left.
func stateOf(r wire.ToolRow) string {
	if r.GoneWhy != nil {
		return "gone: " + *r.GoneWhy
	}
	return r.State
}
