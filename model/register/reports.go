package register

import (
	"strings"

	"pawl/model/fault"
)

// Report is something wrong with a tool that nobody has cleared yet, in words.
type Report struct{ What, Note string }

// Leaving is what a spreadsheet says of how a tool left for good.
type Leaving struct{ Why, On, Note string }

// Links are tool numbers of other tools that one comes from; empty is none.
type Links struct{ CameWith, ExchangedFrom string }

// reports writes one a line: "dropped", or "dropped: off the cart". Further
// lines of a note begin with a space.
func reports(r Record) string {
	lines := make([]string, len(r.Reports))
	for i, w := range r.Reports {
		if lines[i] = w.What; w.Note != "" {
			lines[i] += ": " + strings.ReplaceAll(w.Note, "\n", "\n ")
		}
	}
	return strings.Join(lines, "\n")
}

// readReports reads what reports wrote.
func readReports(value string) (out []Report, err error) {
	for _, line := range strings.Split(strings.ReplaceAll(value, "\r\n", "\n"), "\n") {
		if more, continued := strings.CutPrefix(line, " "); continued && len(out) > 0 {
			out[len(out)-1].Note += "\n" + more
			continue
		}
		what, note, _ := strings.Cut(line, ":")
		if what = strings.TrimSpace(what); what == "" {
			if note != "" {
				return nil, fault.New(fault.Invalid, "%q does not say what is wrong", fault.Clip(line)).WithHint("write dropped, or dropped: off the cart")
			}
			continue
		}
		out = append(out, Report{What: what, Note: strings.TrimPrefix(note, " ")})
	}
	return out, nil
}

func (e *Entry) setReports(s string) {
	if all, err := readReports(s); err == nil {
		e.Reports = all
	}
}
