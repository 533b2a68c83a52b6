package cli

import (
	"encoding/json"
	"fmt"
	"io"
	"strings"
	"text/tabwriter"
	"time"
	"unicode"

	"pawl/api/wire"
	"pawl/model/fault"
)

// printer writes answers. A person at a terminal gets tables and sentences; a
// pipe gets tab-separated rows without headings, with times in RFC 3339; --json
// gets what came over the wire, one object a line.
type printer struct {
	out, err io.Writer
	json     bool
	quiet    bool
	terminal bool                  // of out
	zone     func() *time.Location // the shop's; nil: nobody is asked
}

// answers is where answers go. That one cannot be written says nothing of what
// was done before, and must not be taken for a failure of the act.
type answers struct{ w io.Writer }

func (a answers) Write(b []byte) (int, error) {
	n, err := a.w.Write(b)
	if err != nil {
		err = fault.New(fault.Internal, "cannot write the answer: %v", reason(err)).
			WithHint("what was asked for may be done: look before doing it again").WithCause(err)
	}
	return n, err
}

// object writes v as one line of JSON.
func (p *printer) object(v any) error {
	e := json.NewEncoder(p.out)
	e.SetEscapeHTML(false)
	return e.Encode(v)
}

// table writes rows, under headings where a person reads them.
func (p *printer) table(headings []string, rows [][]string) error {
	if !p.terminal {
		for _, row := range rows {
			if err := p.row(row...); err != nil {
				return err
			}
		}
		return nil
	}
	if len(rows) == 0 {
		return nil
	}
	w := tabwriter.NewWriter(p.out, 0, 0, 2, ' ', 0)
	for _, row := range append([][]string{headings}, rows...) {
		fmt.Fprintln(w, strings.TrimRight(strings.Join(cleanAll(row), "\t"), "\t"))
	}
	return w.Flush()
}

// row writes one tab-separated row.
func (p *printer) row(cells ...string) error {
	_, err := fmt.Fprintln(p.out, strings.Join(cleanAll(cells), "\t"))
	return err
}

// field is one thing said of a record.
type field struct{ name, value string }

// record writes what is said of one thing, a line each; empty values are left
// out for people and kept for pipes.
func (p *printer) record(fields []field) error {
	if !p.terminal {
		for _, f := range fields {
			if err := p.row(f.name, f.value); err != nil {
				return err
			}
		}
		return nil
	}
	w := tabwriter.NewWriter(p.out, 0, 0, 2, ' ', 0)
	for _, f := range fields {
		if f.value != "" {
			fmt.Fprintf(w, "%s\t%s\n", clean(f.name), clean(f.value))
		}
	}
	return w.Flush()
}

// changed says in one line what changed: a sentence to people, a row to a pipe.
func (p *printer) changed(sentence string, row ...string) error {
	if !p.terminal {
		return p.row(row...)
	}
	_, err := fmt.Fprintln(p.out, clean(sentence))
	return err
}

// note says on stderr what is not the answer itself: advice, cautions, next
// steps. --quiet and --json leave it out; the JSON carries its own.
func (p *printer) note(texts ...string) {
	if p.quiet || p.json {
		return
	}
	for _, t := range texts {
		fmt.Fprintf(p.err, "note: %s\n", clean(t))
	}
}

// instant is a moment of the wire.
type instant interface {
	Time() time.Time
	String() string
}

// shownTime is how people read a moment.
const shownTime = "2006-01-02 15:04 MST"

// when writes a moment: on the shop's clock to people, RFC 3339 to a pipe.
func (p *printer) when(i instant) string {
	if zone := p.inZone(); zone != nil && !i.Time().IsZero() {
		return i.Time().In(zone).Format(shownTime)
	}
	return i.String()
}

// inZone is the shop's zone, where a person reads; else nil.
func (p *printer) inZone() *time.Location {
	if !p.terminal || p.zone == nil {
		return nil
	}
	return p.zone()
}

// clean keeps text from outside from steering a terminal or breaking a row:
// what is not printable becomes a space.
func clean(s string) string {
	return strings.Map(func(r rune) rune {
		if r != ' ' && !unicode.IsPrint(r) {
			return ' '
		}
		return r
	}, s)
}

func cleanAll(cells []string) []string {
	out := make([]string, len(cells))
	for i, c := range cells {
		out[i] = clean(c)
	}
	return out
}

// text gives what a pointer points at, or nothing.
func text[T ~string](s *T) string {
	if s == nil {
		return ""
	}
	return string(*s)
}

// money writes an amount in the currency's usual decimals: "289.00 USD".
func money(m *wire.Money) string {
	if m == nil {
		return ""
	}
	return m.Words()
}
