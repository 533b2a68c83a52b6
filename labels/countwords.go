package labels

import (
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"pawl/model/counts"
	"pawl/model/dates"
	"pawl/model/pattern"
)

// CountPDF draws the report of a count; see CountReport.PDF.
func CountPDF(w io.Writer, r counts.Report) error { return CountPaper(r).PDF(w) }

// CountPaper puts the report of a count into the words that are printed.
func CountPaper(r counts.Report) CountReport {
	p := counted{r}
	out := CountReport{ID: r.ID, Scope: ScopeWords(r.Scope) + ", " + p.how(), Shop: r.Shop, As: p.when(r.Made), Paper: r.Paper, Open: r.Closed == 0,
		Facts: p.facts(), Draw: p.draw(), Figures: p.figures(), Sections: p.sections(), Places: p.places()}
	if r.Statement != nil {
		out.Statement = r.Statement.Words
	}
	return out
}

// counted is a report on its way to paper.
type counted struct{ counts.Report }

func (p counted) when(at dates.Instant) string {
	if at == 0 {
		return ""
	}
	if p.Zone == nil {
		return at.String()
	}
	return at.Time().In(p.Zone).Format("2006-01-02 15:04")
}

// instantText is an instant within a text, as records write it.
var instantText = pattern.Late(`[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9:.]+Z`)

// local writes the instants within a text in the shop's zone.
func (p counted) local(text string) string {
	return instantText().ReplaceAllStringFunc(text, func(at string) string {
		i, err := dates.ParseTime(at, time.UTC)
		if err != nil {
			return at
		}
		return p.when(i)
	})
}

// ScopeWords says a scope that was typed: "place:Bay 1" as "Bay 1 and what is in it".
func ScopeWords(scope string) string {
	sort, of, _ := strings.Cut(scope, ":")
	switch counts.Over(sort) {
	case counts.OfPlace:
		return of + " and what is in it"
	case counts.OfPerson:
		return "What belongs to " + of + ", and what they have"
	case counts.OfKind:
		return "All of the kind " + of
	}
	return "Everything"
}

func (p counted) how() string {
	if p.How == counts.ByStrata && p.OwnStrata {
		return "by worth, in parts that somebody chose"
	}
	switch p.How {
	case counts.BySample:
		return "a sample"
	case counts.ByStrata:
		return "a sample by worth, the dearest in full"
	case counts.ByUnits:
		return "a sample by money, the dearer the likelier"
	}
	return "in full"
}

func (p counted) facts() []CountFact {
	who := func(at dates.Instant, by string) string {
		if by == "" {
			return p.when(at)
		}
		return p.when(at) + " by " + by
	}
	out := []CountFact{{"Started", who(p.Started, p.StartedBy)}}
	switch {
	case p.Closed != 0:
		out = append(out, CountFact{"Closed", who(p.Closed, p.ClosedBy)})
	case p.Paused != 0:
		out = append(out, CountFact{"Paused", p.when(p.Paused)})
	}
	by := strings.Join(p.Counted, ", ")
	if by == "" {
		by = "nobody"
	}
	return append(out, CountFact{"Counted by", by}, CountFact{"Digest of the list", p.Digest})
}

func (p counted) draw() *CountDraw {
	d := p.Report.Draw
	if d == nil {
		return nil
	}
	out := &CountDraw{Checkpoint: d.Checkpoint, Nonce: d.Nonce, Seed: d.Seed, When: p.when(d.Drawn)}
	if d.Chosen != nil {
		out.Chosen = strconv.FormatInt(*d.Chosen, 10)
	}
	if p.Redraw != "" {
		out.Redraw = "A sample of the same scope was drawn before this one, in count " + p.Redraw + ". Who may draw until a sample suits can choose which tools are looked at."
	}
	return out
}

func (p counted) figures() []CountFact {
	out := []CountFact{{"Listed", strconv.Itoa(p.Numbers.Listed)}, {"To be looked for", strconv.Itoa(p.Numbers.Drawn)}}
	for _, b := range counts.Buckets {
		if n := p.Numbers.By[b]; n > 0 || b == counts.Seen || b == counts.NotSeen {
			out = append(out, CountFact{sentence(string(b)), strconv.Itoa(n)})
		}
	}
	return append(out, CountFact{"Seen and not listed", strconv.Itoa(p.Numbers.Extra)}, CountFact{"Not settled", strconv.Itoa(p.Numbers.Unsettled)})
}

// sections are the lists that come first: what differed, what nobody saw, and sets that
// are not complete.
func (p counted) sections() []CountSection {
	differ := CountSection{Title: "Differences, and how each was settled", None: "Nothing differed."}
	unseen := CountSection{Title: "Not accounted for, and when last seen", None: "Every tool that was looked for is accounted for."}
	pieces := CountSection{Title: "Pieces missing", None: "No piece was found missing."}
	for _, l := range p.Lines {
		if l.Differs() {
			differ.Rows = append(differ.Rows, p.line(l, true, p.expected(l), p.seen(l), p.moved(l), p.settled(l)))
		}
		if l.Unseen() {
			unseen.Rows = append(unseen.Rows, p.line(l, true, p.expected(l), p.lastSeen(l)))
		}
		if len(l.Missing) > 0 {
			pieces.Rows = append(pieces.Rows, p.line(l, true, "Missing: "+strings.Join(l.Missing, ", "), p.seen(l)))
		}
	}
	return []CountSection{differ, unseen, pieces}
}

// places parts the list where the place changes; the lines come in walking order.
func (p counted) places() (out []CountSection) {
	for i, l := range p.Lines {
		title := l.Place
		switch {
		case l.Bucket == "":
			title = "Seen and not listed"
		case title == "":
			title = "No place on record"
		}
		if i == 0 || out[len(out)-1].Title != title {
			out = append(out, CountSection{Title: title})
		}
		s := &out[len(out)-1]
		s.Rows = append(s.Rows, p.line(l, l.Differs(), p.seen(l), p.moved(l)))
	}
	return out
}

func (p counted) line(l counts.ReportLine, loud bool, more ...string) CountLine {
	out := CountLine{Number: l.Number.String(), What: whatOf(l), Result: string(l.Bucket), Loud: loud}
	if l.Bucket == "" {
		out.Result = "extra"
	}
	if loud {
		out.Result = strings.ToUpper(out.Result)
	}
	for _, text := range more {
		if text != "" {
			out.More = append(out.More, text)
		}
	}
	return out
}

func whatOf(l counts.ReportLine) string {
	what := strings.TrimSpace(l.Maker + " " + l.Model)
	for _, more := range []string{l.Kind, serialWords(l.Serial)} {
		if more != "" && what != "" {
			what += ", "
		}
		what += more
	}
	return what
}

func serialWords(serial string) string {
	if serial == "" {
		return ""
	}
	return "serial number " + serial
}

func (p counted) expected(l counts.ReportLine) string {
	if l.Expected == "" || l.Bucket == "" {
		return ""
	}
	return "Expected: " + p.local(l.Expected)
}

// seen says who saw it, where, in which condition, and what does not fit.
func (p counted) seen(l counts.ReportLine) string {
	if l.SeenAt == 0 {
		return ""
	}
	out := "Seen by " + l.SeenBy
	if l.ByWord {
		out = "Nobody saw it; by the word of " + l.SeenBy
	}
	out += ", " + p.when(l.SeenAt)
	for _, part := range []struct{ before, text string }{{", in ", l.SeenIn}, {"; label ", l.Label}, {"; condition: ", l.Condition}, {"; ", l.Why}} {
		if part.text != "" {
			out += part.before + part.text
		}
	}
	return out
}

func (p counted) moved(l counts.ReportLine) string {
	if l.Moved == "" {
		return ""
	}
	if l.Bucket != counts.Moved {
		return "By the record, meanwhile: " + p.local(l.Moved)
	}
	return "Moved meanwhile: " + p.local(l.Moved)
}

func (p counted) lastSeen(l counts.ReportLine) string {
	if l.LastSeen == 0 {
		return "No record shows it since it was registered"
	}
	return fmt.Sprintf("Last on record %s: %s", p.when(l.LastSeen), l.LastSeenHow)
}

func (p counted) settled(l counts.ReportLine) string {
	if l.Settled == "" {
		return "NOT SETTLED"
	}
	out := "Settled: " + string(l.Settled)
	for _, part := range []struct{ before, text string }{{", in ", l.SettledIn}, {", with ", l.SettledWith}, {"; ", l.SettledNote}} {
		if part.text != "" {
			out += part.before + part.text
		}
	}
	return out + ". " + l.SettledBy + ", " + p.when(l.SettledAt)
}
