package page

import (
	"net/url"
	"slices"
	"strconv"
	"strings"

	"pawl/api/page/words"
	"pawl/model"
	"pawl/model/dates"
	"pawl/model/evidence"
	"pawl/model/fault"
	"pawl/model/markings"
	"pawl/model/numbers"
	"pawl/model/register"
	"pawl/model/units"
)

func (p *Pages) markingRoutes() []Route {
	return []Route{
		get("/markings", p.markingsPage),
		get("/t/:number/marking", p.markingPage), post("/t/:number/marking", p.markLook),
		post("/t/:number/marking/protect", p.protect), post("/t/:number/marking/another", p.markAnew), post("/t/:number/marking/withdraw", p.withdrawMarking),
	}
}

// roundData is what the page of this month's round shows.
type roundData struct {
	model.RoundView
	Places []roundPlace
	More   string   // address of the next page; empty: this is the last
	Minds  []string // cautions of the kinds on it
	First  string   // address at which its walk begins; empty: all of it was looked at today
}

// roundPlace is a place with what is to be looked at there.
type roundPlace struct {
	Name string
	Rows []model.RoundRow
}

// markingsPage shows this month's round, in walking order.
func (p *Pages) markingsPage(a *Ask) (Reply, error) {
	v, err := p.shop.MarkingRound(a.R.Context(), a.By, model.RoundQuery{Cursor: a.Query("cursor"), Limit: findRows})
	d := roundData{RoundView: v}
	for _, row := range v.Rows {
		if n := len(d.Places); n == 0 || d.Places[n-1].Name != row.Place {
			d.Places = append(d.Places, roundPlace{Name: row.Place})
		}
		at := &d.Places[len(d.Places)-1]
		at.Rows = append(at.Rows, row)
		for _, c := range row.Forecast.Cautions {
			if !slices.Contains(d.Minds, c) {
				d.Minds = append(d.Minds, c)
			}
		}
		if d.First == "" && row.LastLook != v.Today {
			d.First = roundPath(row.Number)
		}
	}
	if v.Next != "" {
		d.More = "/markings?" + url.Values{"cursor": {v.Next}}.Encode()
	}
	return Show("markings", d), err
}

// roundPath is the look at a tool within the round: after it comes the next.
func roundPath(n numbers.Number) string { return toolPath(n, "marking") + "?round=yes" }

// Cost is what a tool of the round costs, with where that is from.
func (d roundData) Cost(r model.RoundRow) *units.Money {
	if r.Cost == nil {
		return nil
	}
	return &units.Money{Minor: *r.Cost, Currency: d.Currency}
}

// markingData is what the page of a tool's markings shows.
type markingData struct {
	model.MarkingsView
	Tool                          model.ToolView
	Now                           *model.MarkingView // the one that shows the maker's serial; nil: none is on record
	Others                        []model.MarkingView
	Step                          *model.RoundStep // nil: outside the round
	Grades                        []Option
	Remarks, Methods, Protections []Option
}

func (p *Pages) markingPage(a *Ask) (Reply, error) {
	d, err := p.markingData(a, a.Query("round") != "")
	if strange(err) && d.Tool.Tool.ID == "" {
		return p.strangeNumber(a)
	}
	return Show("marking", d), err
}

func (p *Pages) markingData(a *Ask, round bool) (d markingData, err error) {
	if d.Tool, err = p.shop.Tool(a.R.Context(), a.By, a.Param("number")); err != nil {
		return d, err
	}
	if d.MarkingsView, err = p.shop.Markings(a.R.Context(), a.By, a.Param("number")); err != nil {
		return d, err
	}
	for i, m := range d.Markings {
		if m.ID == d.Current {
			d.Now = &d.Markings[i]
			continue
		}
		d.Others = append(d.Others, m)
	}
	lang := a.language()
	for _, g := range markings.Grades() {
		d.Grades = append(d.Grades, Option{Value: strconv.FormatInt(g, 10), Label: gradeWords(lang, g)})
	}
	d.Remarks, d.Methods = optionsOf(p, lang, "marking.", markings.Methods), optionsOf(p, lang, "marking.", markings.Permanent)
	d.Protections = optionsOf(p, lang, "protection.", markings.Protections)
	if round {
		step, err := p.shop.RoundStep(a.R.Context(), a.By, d.Number)
		d.Step = &step
		return d, err
	}
	return d, nil
}

func optionsOf[T ~string](p *Pages, lang words.Language, prefix string, all []T) (out []Option) {
	for _, one := range all {
		out = append(out, p.Options(lang, prefix, string(one))...)
	}
	return out
}

// markLook records what somebody saw, and goes on to the next tool of the round.
func (p *Pages) markLook(a *Ask) (Reply, error) {
	round := a.Value("round") != ""
	d, err := p.markingData(a, round)
	if err != nil {
		return Reply{}, err
	}
	in := markings.Entry{Marking: a.Value("marking"), Read: a.Value("read"), On: a.Value("on")}
	if typed := a.Value("grade"); typed != "" {
		g, err := strconv.ParseInt(typed, 10, 64)
		if err != nil {
			return a.Again("marking", d, fault.At("#/grade", "%q is not a grade", typed)), nil
		}
		in.Grade = &g
	}
	if in.Evidence, err = a.Originals("shot", evidence.Plate); err != nil {
		return a.Again("marking", d, at("shot", err)), nil
	}
	v, err := p.shop.Mark(a.R.Context(), a.By, a.Param("number"), in)
	if err != nil {
		return a.Again("marking", d, fieldsAs(err, "evidence", "shot", "photos", "shot")), nil
	}
	told := append([]string{p.say(a, "wear.looked", d.Number.String())}, saidBack(a.language(), append(v.Said, v.Question)...)...)
	if !round {
		return Go(toolPath(d.Number, "marking"), said(told...)...), nil
	}
	next := d.Step.Next
	if a.Has("next") { // as the form had it: a look that is sent once more goes on as it did before
		next, _ = numbers.ParseExact(a.Value("next"))
	}
	if next == "" {
		return Go("/markings", said(append(told, p.say(a, "wear.round-walked"))...)...), nil
	}
	return Go(roundPath(next), said(told...)...), nil
}

// fieldsAs gives the fields of a fault the names that a form has for them: pairs of what
// the rules call it, and the form.
func fieldsAs(err error, pairs ...string) error {
	f := fault.Of(err)
	if f == nil {
		return err
	}
	out := *f
	out.Fields = slices.Clone(f.Fields)
	for i, field := range out.Fields {
		for k := 0; k < len(pairs); k += 2 {
			if fieldName(field.Pointer) == pairs[k] {
				out.Fields[i].Pointer = "#/" + pairs[k+1]
			}
		}
	}
	return &out
}

// protect records how a marking is kept from a day on.
func (p *Pages) protect(a *Ask) (Reply, error) {
	return p.markingDone(a, markings.Entry{Marking: a.Value("marking"), Protection: a.Value("protection"), On: a.Value("protected")}, "wear.kept", "on", "protected")
}

// markAnew records the maker's serial that was marked anew, or a number of the owner's.
func (p *Pages) markAnew(a *Ask) (Reply, error) {
	if a.Value("remark") != "" {
		return p.markingDone(a, markings.Entry{Remark: a.Value("remark"), Where: a.Value("remarked"), On: a.Value("remark_on")}, "wear.remarked", "where", "remarked", "on", "remark_on")
	}
	return p.markingDone(a, markings.Entry{OwnersNumber: a.Value("code"), Method: a.Value("method"), Where: a.Value("spot"), On: a.Value("made")}, "wear.numbered",
		"owners_number", "code", "where", "spot", "on", "made")
}

// markingDone records an entry and comes back to the page of the markings.
func (p *Pages) markingDone(a *Ask, in markings.Entry, done string, names ...string) (Reply, error) {
	v, err := p.shop.Mark(a.R.Context(), a.By, a.Param("number"), in)
	if err != nil {
		d, bad := p.markingData(a, false)
		if bad != nil {
			return Reply{}, bad
		}
		return a.Again("marking", d, fieldsAs(err, names...)), nil
	}
	told := append([]string{p.say(a, done)}, saidBack(a.language(), v.Said...)...)
	return Go(toolPath(v.Number, "marking"), said(told...)...), nil
}

// saidBack puts what an act says of what it did into whole sentences of a language.
func saidBack(lang words.Language, all ...string) (out []string) {
	for _, text := range all {
		if text = faultWords(lang, forScreen(text)); text != "" && !strings.HasSuffix(text, ".") {
			text += "."
		}
		out = append(out, text)
	}
	return out
}

// withdrawMarking takes back a look or a term that was entered by mistake.
func (p *Pages) withdrawMarking(a *Ask) (Reply, error) {
	v, err := p.shop.WithdrawMarking(a.R.Context(), a.By, a.Param("number"), a.Value("id"), a.Value("why"))
	if err != nil {
		d, bad := p.markingData(a, false)
		if bad != nil {
			return Reply{}, bad
		}
		return a.Again("marking", d, err), nil
	}
	return Go(toolPath(v.Number, "marking"), p.say(a, "wear.withdrawn")), nil
}

// gradeWords is what a grade means.
func gradeWords(lang words.Language, g int64) string {
	return words.Say(lang, "grade."+strconv.FormatInt(g, 10))
}

// GradeWords says a grade with its number.
func (v view) GradeWords(g *int64) string {
	if g == nil {
		return words.Say(v.Lang, "grade.none")
	}
	return strconv.FormatInt(*g, 10) + ": " + gradeWords(v.Lang, *g)
}

// IsLost says whether a look found that a character is gone.
func (v view) IsLost(c *markings.Check) bool { return c.Grade != nil && *c.Grade <= markings.Lost }

// ChanceWords writes a chance, so that neither never nor certain is claimed; of what
// nobody knows it says so.
func (v view) ChanceWords(of *float64) string {
	if of == nil {
		return words.Say(v.Lang, "wear.chance-unknown")
	}
	switch {
	case *of < 0.01:
		return words.Say(v.Lang, "find.worn.under")
	case *of > 0.99:
		return words.Say(v.Lang, "find.worn.over")
	}
	return words.Say(v.Lang, "find.worn.chance", int(*of*100+0.5))
}

// StateWords says in a sentence how it stands with a marking: what the last look saw,
// and the chance that the serial is no longer complete. What is not known is said to be.
func (v view) StateWords(f model.MarkingForecast) string {
	switch {
	case f.Lost:
		return words.Say(v.Lang, "wear.lost", v.GradeWords(f.Grade), v.Day(f.AsOf))
	case f.WhyNot != "":
		return v.WhyWords(f)
	case f.Grade == nil && f.Assumed && f.UnreadableToday != nil:
		if f.AsOf == "" { // the day of purchase is not theirs to see
			return words.Say(v.Lang, "wear.assumed-new-once", v.ChanceWords(f.UnreadableToday))
		}
		return words.Say(v.Lang, "wear.assumed-new", v.Day(f.AsOf), v.ChanceWords(f.UnreadableToday))
	}
	return words.Say(v.Lang, "wear.seen", v.GradeWords(f.Grade), v.Day(f.AsOf), v.ChanceWords(f.UnreadableToday))
}

// WhyWords says why there is no forecast of a marking, behind what the last look saw.
func (v view) WhyWords(f model.MarkingForecast) string {
	why := word(v.Lang, "wear.why.", string(f.WhyNot))
	if f.Grade == nil {
		return words.Say(v.Lang, "wear.unknown", why)
	}
	return words.Say(v.Lang, "wear.seen-only", v.GradeWords(f.Grade), v.Day(f.AsOf), why)
}

// AheadWords is a day to come, or that it is too far ahead for one.
func (v view) AheadWords(d dates.Date) string {
	if d == "" {
		return words.Say(v.Lang, "wear.ten-years")
	}
	return v.Day(d)
}

// RestsWords says what a forecast rests on.
func (v view) RestsWords(f model.MarkingForecast) string {
	said := words.Say(v.Lang, "wear.rests-assumed")
	if f.LearnedFrom > 0 {
		said = words.Say(v.Lang, "wear.rests-learned", f.LearnedFrom)
	}
	if f.NewUnsaid {
		said += " " + words.Say(v.Lang, "wear.rests-new")
	}
	if f.NoUsage {
		said += " " + words.Say(v.Lang, "wear.rests-usage")
	}
	if f.Reckoned.Rose {
		said += " " + words.Say(v.Lang, "wear.rests-rose")
	}
	return said
}

// ReasonsWords says why a marking is on the round.
func (v view) ReasonsWords(all []markings.Reason) string {
	var out []string
	for _, r := range all {
		out = append(out, words.Say(v.Lang, "wear.reason."+strings.ReplaceAll(string(r), " ", "-")))
	}
	return strings.Join(out, "; ")
}

// SpreadWords says what a date is worth, and how much tools of a kind are taken to differ.
func (v view) SpreadWords(f model.MarkingForecast) string {
	return words.Say(v.Lang, "wear.spread", int(100*f.Spread.Value+0.5), v.FromWhere(f.Spread.Learned))
}

// FromWhere says whether a figure is assumed or learned.
func (v view) FromWhere(learned bool) string {
	if learned {
		return words.Say(v.Lang, "wear.learned")
	}
	return words.Say(v.Lang, "wear.assumed")
}

// ShareWords is what a day counts for.
func (v view) ShareWords(s markings.Share) string {
	return words.Say(v.Lang, "wear.share", strconv.FormatFloat(s.Value, 'g', 3, 64), v.FromWhere(s.Learned))
}

// Days writes days of daily, unprotected use.
func (markingData) Days(f float64) string { return strconv.FormatFloat(f, 'f', 1, 64) }

// LookURL is the page that finds which tool what is left of a serial may be of.
func (d markingData) LookURL(read string) string {
	return "/find?" + url.Values{"reading": {read}, "found": {"bench"}}.Encode()
}

// TakesLabel says whether anything may be stuck or marked on this kind of thing.
func (d markingData) TakesLabel() bool { return register.TakesLabel(d.Kind) }
