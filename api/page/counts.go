package page

import (
	"cmp"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"pawl/api/page/words"
	"pawl/model"
	"pawl/model/counts"
	"pawl/model/fault"
	"pawl/model/numbers"
	"pawl/model/people"
)

func (p *Pages) countRoutes() []Route {
	return []Route{
		get("/counts", p.countsPage),
		get("/counts/start", p.startCountPage), post("/counts/start", p.startCount),
		get("/counts/plan", p.countPlanPage),
		get("/counts/:id", p.countPage), post("/counts/:id", p.scanCount),
		get("/counts/:id/tools", p.countTools),
		get("/counts/:id/settle/:number", p.settleCountPage), post("/counts/:id/settle/:number", p.settleCount),
		get("/counts/:id/close", p.closeCountPage), post("/counts/:id/close", p.closeCount),
		post("/counts/:id/confirm", p.confirmCount), post("/counts/:id/pause", p.pauseCount), post("/counts/:id/resume", p.resumeCount),
	}
}

// countPath is the page of a count, and what lies below it.
func countPath(id string, below ...string) string {
	return "/counts/" + strings.Join(append([]string{id}, below...), "/")
}

// runs says whether the asker may start, settle and close counts.
func (a *Ask) runs() bool { return people.May(a.Me(), people.RunCount, people.Object{}) }

// countRows are the rows on one page of tools of a count.
const countRows = 50

// countsData is what the list of counts shows.
type countsData struct {
	Counts []model.CountView
	Runs   bool
	More   string
}

func (p *Pages) countsPage(a *Ask) (Reply, error) {
	all, next, err := p.shop.Counts(a.R.Context(), a.By, model.CountQuery{Limit: countRows, Cursor: a.R.URL.Query().Get("cursor")})
	v := countsData{Counts: all, Runs: a.runs()}
	if next != "" {
		v.More = "/counts?cursor=" + url.QueryEscape(next)
	}
	return Show("counts", v), err
}

// startData is what can be counted, and how.
type startData struct {
	Overs, Places, People, Kinds, Hows []Option
}

func (p *Pages) startData(a *Ask) (v startData, err error) {
	lang, ctx := a.language(), a.R.Context()
	v.Overs = p.Options(lang, "count.over.", string(counts.Everything), string(counts.OfPlace), string(counts.OfPerson), string(counts.OfKind))
	v.Hows = p.Options(lang, "count.how.", string(counts.InFull), string(counts.BySample), string(counts.ByStrata), string(counts.ByUnits))
	for _, list := range [][]Option{v.Overs, v.Hows} {
		list[0].Chosen = true
	}
	places, err := p.shop.Places(ctx, a.By)
	for _, one := range places {
		v.Places = append(v.Places, Option{Value: one.Path, Label: one.Path})
	}
	if err != nil {
		return v, err
	}
	everybody, err := p.shop.People(ctx, a.By)
	for _, one := range everybody {
		v.People = append(v.People, Option{Value: one.Name, Label: one.Name})
	}
	if err != nil {
		return v, err
	}
	kinds, err := p.shop.Kinds(ctx, a.By)
	for _, kind := range kinds {
		v.Kinds = append(v.Kinds, Option{Value: kind, Label: kind})
	}
	return v, err
}

func (p *Pages) startCountPage(a *Ask) (Reply, error) {
	if !a.runs() {
		return Reply{}, fault.New(fault.Forbidden, "%s", p.say(a, "count.not-yours"))
	}
	v, err := p.startData(a)
	return Show("countstart", v), err
}

func (p *Pages) startCount(a *Ask) (Reply, error) {
	in := model.StartCount{Scope: a.Value("over"), How: counts.How(a.Value("how")), Tolerable: a.Value("tolerable")}
	if in.Scope != string(counts.Everything) && in.Scope != "" {
		in.Scope += ":" + a.Value(in.Scope)
	}
	if in.How == counts.ByStrata {
		in.Strata = a.lines("strata")
	}
	err := a.sampleAsked(&in)
	var done model.CountView
	if err == nil {
		done, err = p.shop.StartCount(a.R.Context(), a.By, in)
	}
	if err != nil {
		v, failed := p.startData(a)
		if failed != nil {
			return Reply{}, failed
		}
		return a.Again("countstart", v, err), nil
	}
	said := append([]string{p.say(a, "count.started", done.Listed, done.Count.Drawn)}, onScreen(done.Advice)...)
	return Go(countPath(done.ID), said...), nil
}

// sampleAsked reads what is typed of a sample: it is nothing where all are looked for.
func (a *Ask) sampleAsked(in *model.StartCount) error {
	if in.How == counts.InFull || in.How == "" {
		in.Tolerable = ""
		return nil
	}
	if text := a.Value("missing"); text != "" && in.How == counts.BySample {
		n, err := strconv.ParseInt(text, 10, 64)
		if err != nil || n < 1 {
			return fault.At("#/missing", "%q is not a number of tools", text)
		}
		in.MissingAtLeast = n
	}
	if text := a.Value("confidence"); text != "" {
		percent, err := strconv.ParseFloat(strings.TrimSpace(strings.TrimSuffix(text, "%")), 64)
		if err != nil || !(percent > 0 && percent < 100) {
			return fault.At("#/confidence", "%q is not a percentage over 0 and under 100", text)
		}
		in.Confidence = new(shareOf(percent))
	}
	return nil
}

// shareOf is a percentage of at most six decimals as a share: 99.9 is .999, and not
// nearly that.
func shareOf(percent float64) float64 {
	share, _ := strconv.ParseFloat(strconv.FormatFloat(percent/100, 'f', 8, 64), 64)
	return share
}

// countData is what the page of one count shows.
type countData struct {
	model.CountView
	Scope            string
	At               string // path of where the asker stands; empty: not said
	Places           []Option
	ToLookFor        []countRow
	More             bool // there are more to look for than are shown
	Runs             bool
	Me               string
	API, PDF, CSV    string
	Unseen, Looked   int
	Chosen           string
	Seed, Checkpoint string
}

// In counts the listed tools that are in a bucket.
func (d countData) In(bucket string) int { return d.Numbers.By[counts.Bucket(bucket)] }

// countRow is a tool of a count, with what can be done about it here.
type countRow struct {
	model.CountRow
	Words    string // where it is, in words
	Expected string // where it was expected, without the instant
	Moved    string // what its custody did meanwhile, likewise; empty: nothing
	Mine     bool   // the asker has it, and can say so
	SettleAt string // empty: nothing is to be settled, or it is
}

func (p *Pages) countData(a *Ask) (d countData, err error) {
	ctx := a.R.Context()
	if d.CountView, err = p.shop.Count(ctx, a.By, a.Param("id")); err != nil {
		return d, err
	}
	d.Runs, d.Me, d.At = a.runs(), a.Me().Name, cmp.Or(a.Value("at"), a.Query("at"))
	d.API = "/api/v1/counts/" + d.ID
	d.PDF, d.CSV = d.API+"/report?format=pdf", d.API+"/report?format=csv"
	d.Scope = scopeWords(a.language(), d.Count.Scope)
	by := d.Numbers.By
	d.Unseen = by[counts.NotSeen] + by[counts.StillOut] + by[counts.StillAway]
	d.Looked = d.Numbers.Drawn - d.Unseen
	if draw := d.Draw; draw != nil {
		if d.Seed, d.Checkpoint = draw.Seed, draw.Checkpoint; draw.Chosen != nil {
			d.Chosen = strconv.FormatInt(*draw.Chosen, 10)
		}
	}
	if d.Stage() == counts.Closed {
		return d, nil
	}
	rows, next, err := p.shop.CountTools(ctx, a.By, d.ID, model.CountToolsQuery{Which: model.ListToLookFor, Limit: countRows})
	d.ToLookFor, d.More = p.countRows(a, d.CountView, rows), next != ""
	if err != nil {
		return d, err
	}
	places, err := p.shop.Places(ctx, a.By)
	d.Places = []Option{{Label: p.say(a, "count.at-none")}}
	for _, one := range places {
		d.Places = append(d.Places, Option{Value: one.Path, Label: one.Path, Chosen: one.Path == d.At})
	}
	return d, err
}

// scopeWords says what a count is over.
func scopeWords(lang words.Language, scope string) string {
	over, of, _ := strings.Cut(scope, ":")
	return words.Say(lang, "count.scope."+over, of)
}

func (p *Pages) countRows(a *Ask, v model.CountView, rows []model.CountRow) (out []countRow) {
	for _, row := range rows {
		one := countRow{CountRow: row, Mine: row.Bucket == counts.StillOut && row.Holder != "" && row.Holder == a.Me().Name}
		one.Expected, _, _ = strings.Cut(row.Expected, " since ")
		if m := row.Moved; m != nil {
			one.Moved, _, _ = strings.Cut(m.Words, " since ")
			one.Moved, _, _ = strings.Cut(one.Moved, " at ")
		}
		bucket := string(row.Bucket)
		if bucket == "" {
			bucket = model.ListExtra
		}
		one.Words = p.say(a, "count.bucket."+strings.ReplaceAll(bucket, " ", "-"))
		differs := row.Bucket == "" || row.Bucket.Differs()
		if differs && row.Settled == nil && a.runs() && v.Stage() != counts.Closed {
			one.SettleAt = countPath(v.ID, "settle", string(row.Number))
		}
		out = append(out, one)
	}
	return out
}

func (p *Pages) countPage(a *Ask) (Reply, error) {
	d, err := p.countData(a)
	return Show("count", d).WithForm(url.Values{}), err
}

// scanCount records one look, and says what it was. A place that is scanned is where
// the next tools are seen.
func (p *Pages) scanCount(a *Ask) (Reply, error) {
	in := model.ScanCount{Scanned: a.Value("code"), At: a.Value("at"), Condition: a.Value("condition"), Missing: a.lines("pieces"), Happened: shopTime(a.Value("happened"), a.Value("sent"), p.shop.Now())}
	if serial := a.Value("serial"); in.Scanned == "" && serial != "" {
		in.Scanned = "serial:" + serial
	}
	done, err := p.counted(a, in)
	if err != nil {
		d, failed := p.countData(a)
		if failed != nil {
			return Reply{}, failed
		}
		if f := fault.Of(err); len(f.Fields) == 0 {
			err = at("code", err)
		}
		return a.Again("count", d, renamed(err, "code", "#/scanned")), nil
	}
	to, here := countPath(done.Count), in.At
	if done.Done == model.StandsHere {
		here = done.At
	}
	if here != "" {
		to += "?at=" + url.QueryEscape(here)
	}
	return Go(to, p.countSaid(a, done)...), nil
}

// shopTime is on the shop's clock when a look was made that waited on a phone: made and
// sent are by the clock of the phone, and now it comes in. Empty is now, where the phone
// is ahead all the same: that a tool was seen is more than when. What cannot be read stays
// as it is, to be refused.
func shopTime(made, sent string, now time.Time) string {
	at, err := time.Parse(time.RFC3339, made)
	if err != nil {
		return made
	}
	if phone, err := time.Parse(time.RFC3339, sent); err == nil {
		at = at.Add(now.Sub(phone))
	} else if sent != "" {
		return sent
	}
	if at.After(now) {
		return ""
	}
	return at.UTC().Format(time.RFC3339Nano)
}

func (p *Pages) counted(a *Ask, in model.ScanCount) (model.CountedDone, error) {
	if in.Scanned == "" {
		return model.CountedDone{}, fault.At("#/scanned", "%s", p.say(a, "count.say-what"))
	}
	if host := p.foreignHost(a, in.Scanned); host != "" {
		return model.CountedDone{}, fault.At("#/scanned", "%s", p.say(a, "count.foreign", host))
	}
	if label, err := numbers.ParseSymbol(in.Scanned); err == nil && label.Kind == numbers.Tool { // a link of this host is the shop's, even where no address is set
		in.Scanned = "T/" + label.Code
	}
	return p.shop.ScanCount(a.R.Context(), a.By, a.Param("id"), in)
}

// lines are the lines of a long field that say something.
func (a *Ask) lines(name string) (out []string) {
	for line := range strings.Lines(a.Value(name)) {
		if line = strings.TrimSpace(line); line != "" {
			out = append(out, line)
		}
	}
	return out
}

// countSaid is one loud line of what a scan did, and what there is to know beside it.
func (p *Pages) countSaid(a *Ask, d model.CountedDone) []string {
	if d.Done == model.StandsHere {
		return []string{p.say(a, "count.stands", d.At)}
	}
	what := strings.Join(strings.Fields(d.Number.String()+" "+d.Kind+" "+d.Maker+" "+d.Model), " ")
	line := p.say(a, "count.did."+strings.ReplaceAll(d.Done, " ", "-"), what, d.By)
	if d.Why != "" {
		line += ": " + d.Why
	}
	said := []string{line + "."}
	if d.Label != "" {
		said = append(said, p.say(a, "count.label-again"))
	}
	return append(said, onScreen(d.Advice)...)
}

// onScreen are texts as a page says them; what speaks of nothing but a command is left
// out.
func onScreen(all []string) (out []string) {
	for _, text := range all {
		if text = forScreen(text); text != "" {
			out = append(out, text)
		}
	}
	return out
}

// confirmCount keeps the word of whoever has a tool.
func (p *Pages) confirmCount(a *Ask) (Reply, error) {
	done, err := p.shop.ConfirmCount(a.R.Context(), a.By, a.Param("id"), model.ConfirmCount{Number: a.Value("number")})
	if err != nil {
		return Reply{}, err
	}
	return Go(countPath(done.Count), p.countSaid(a, done)...), nil
}

func (p *Pages) pauseCount(a *Ask) (Reply, error) {
	v, err := p.shop.PauseCount(a.R.Context(), a.By, a.Param("id"))
	return Go(countPath(v.ID), p.say(a, "count.paused")), err
}

// resumeCount goes on; the page asks to look again at the last place after a break.
func (p *Pages) resumeCount(a *Ask) (Reply, error) {
	v, err := p.shop.ResumeCount(a.R.Context(), a.By, a.Param("id"))
	return Go(countPath(v.ID), p.say(a, "count.resumed")), err
}

// countList is what a list of tools of a count shows.
type countList struct {
	model.CountView
	Scope string
	Which string
	Lists []Option
	Rows  []countRow
	More  string
}

// countTools lists tools of a count: what differs, extras, not seen, or any bucket.
func (p *Pages) countTools(a *Ask) (Reply, error) {
	ctx := a.R.Context()
	v, err := p.shop.Count(ctx, a.By, a.Param("id"))
	if err != nil {
		return Reply{}, err
	}
	d := countList{CountView: v, Scope: scopeWords(a.language(), v.Count.Scope), Which: cmp.Or(a.Query("which"), model.ListDifferences)}
	lists := []string{model.ListDifferences, model.ListToLookFor, model.ListExtra, model.ListAll}
	for _, b := range counts.Buckets {
		lists = append(lists, string(b))
	}
	for _, which := range lists {
		label := p.say(a, "count.list."+strings.ReplaceAll(which, " ", "-"))
		d.Lists = append(d.Lists, Option{Value: which, Label: label, Chosen: which == d.Which})
	}
	rows, next, err := p.shop.CountTools(ctx, a.By, v.ID, model.CountToolsQuery{Which: d.Which, Limit: countRows, Cursor: a.R.URL.Query().Get("cursor")})
	d.Rows = p.countRows(a, v, rows)
	if next != "" {
		d.More = countPath(v.ID, "tools") + "?which=" + url.QueryEscape(d.Which) + "&cursor=" + url.QueryEscape(next)
	}
	r := Show("counttools", d)
	r.form, r.err = formOf(url.Values{"which": {d.Which}}, nil), err
	return r, nil
}

// settleCountData is what the page shows on which a difference is settled.
type settleCountData struct {
	model.CountView
	Row    countRow
	Hows   []Option
	Places []Option
	People []string
}

func (p *Pages) settleCountData(a *Ask) (d settleCountData, err error) {
	ctx := a.R.Context()
	if d.CountView, err = p.shop.Count(ctx, a.By, a.Param("id")); err != nil {
		return d, err
	}
	number, err := numbers.ParseNumber(a.Param("number"))
	if err != nil {
		return d, err
	}
	row, err := p.difference(a, d.ID, number)
	if err != nil {
		return d, err
	}
	d.Row = p.countRows(a, d.CountView, []model.CountRow{row})[0]
	for _, how := range counts.Settlements {
		if how == counts.Missing && (row.Bucket == "" || row.Bucket == counts.SeenElsewhere) {
			continue // it was seen
		}
		d.Hows = append(d.Hows, p.Options(a.language(), "count.settle.", string(how))...)
		d.Hows[len(d.Hows)-1].Value = string(how)
	}
	places, err := p.shop.Places(ctx, a.By)
	d.Places = []Option{{Label: p.say(a, "count.no-place")}}
	for _, one := range places {
		d.Places = append(d.Places, Option{Value: one.Path, Label: one.Path})
	}
	if err != nil {
		return d, err
	}
	everybody, err := p.shop.People(ctx, a.By)
	for _, one := range everybody {
		d.People = append(d.People, one.Name)
	}
	return d, err
}

// difference finds one tool among those of which something is to be settled, or was.
func (p *Pages) difference(a *Ask, id string, number numbers.Number) (model.CountRow, error) {
	q := model.CountToolsQuery{Which: model.ListDifferences, Limit: 200}
	for {
		rows, next, err := p.shop.CountTools(a.R.Context(), a.By, id, q)
		if err != nil {
			return model.CountRow{}, err
		}
		if i := slices.IndexFunc(rows, func(r model.CountRow) bool { return r.Number == number }); i >= 0 {
			return rows[i], nil
		}
		if q.Cursor = next; next == "" {
			return model.CountRow{}, fault.New(fault.NotFound, "%s", p.say(a, "count.no-difference", number.String()))
		}
	}
}

func (p *Pages) settleCountPage(a *Ask) (Reply, error) {
	d, err := p.settleCountData(a)
	if err == nil && d.Row.SettleAt == "" {
		return Go(countPath(d.ID, "tools"), p.say(a, "count.nothing-to-settle", d.Row.Number.String())), nil
	}
	return Show("countsettle", d).WithForm(url.Values{}), err
}

func (p *Pages) settleCount(a *Ask) (Reply, error) {
	in := model.SettleDifference{Number: a.Param("number"), How: a.Value("how"), At: a.Value("at"), With: a.Value("with"), Note: a.Value("note")}
	var err error
	if in.How == "" {
		err = fault.At("#/how", "%s", p.say(a, "count.say-how"))
	} else {
		_, err = p.shop.SettleDifference(a.R.Context(), a.By, a.Param("id"), in)
	}
	if err != nil {
		d, failed := p.settleCountData(a)
		if failed != nil {
			return Reply{}, failed
		}
		return a.Again("countsettle", d, err), nil
	}
	return Go(countPath(a.Param("id"), "tools"), p.say(a, "count.settled", a.Param("number"))), nil
}

func (p *Pages) closeCountPage(a *Ask) (Reply, error) {
	if !a.runs() {
		return Reply{}, fault.New(fault.Forbidden, "%s", p.say(a, "count.not-yours"))
	}
	d, err := p.countData(a)
	if err == nil && d.Stage() == counts.Closed {
		return Go(countPath(d.ID)), nil
	}
	return Show("countclose", d), err
}

// closeCount ends a count, and shows what it came to.
func (p *Pages) closeCount(a *Ask) (Reply, error) {
	v, err := p.shop.CloseCount(a.R.Context(), a.By, a.Param("id"))
	if err != nil {
		d, failed := p.countData(a)
		if failed != nil {
			return Reply{}, failed
		}
		return a.Again("countclose", d, err), nil
	}
	return Go(countPath(v.ID), p.say(a, "count.closed")), nil
}
