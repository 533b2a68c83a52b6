package page

import (
	"cmp"
	"io"
	"net/url"
	"strconv"
	"strings"

	"pawl/labels"
	"pawl/model"
	"pawl/model/custody"
	"pawl/model/fault"
	"pawl/model/numbers"
	"pawl/model/pattern"
	"pawl/model/people"
	"pawl/model/settings"
)

// Everything on paper. A page asks what goes on which sheet, and links to the
// file, which is that of the service for programs, when it can be drawn.
func (p *Pages) labelRoutes() []Route {
	return []Route{
		get("/labels", p.labels),
		post("/labels/again", p.labelAgain),
		get("/labels/blank", p.blank),
		post("/labels/blank", p.blankDone),
		get("/labels/free", p.free),
		get("/labels/join", p.join),
		post("/labels/join", p.joinDone),
		get("/labels/print/:what", p.print),
	}
}

// labeled is the tool whose label is printed again.
type labeled struct {
	Tool  *model.ToolView
	Edits bool
	Unfit bool // it may not be used, and can have a tag that says so
	Whys  []Option
}

// labels lists what there is to print, or, with a number, what there is for
// that tool.
func (p *Pages) labels(a *Ask) (Reply, error) {
	number := a.Query("number")
	if number == "" {
		return Show("labels", nil), nil
	}
	d, err := p.labeled(a, number)
	if err != nil {
		if text, bad := p.shop.LabelText(a.R.Context(), a.By, number); bad == nil { // it is free
			return Go(printPath("labels", url.Values{"number": {text.Number}})), nil
		}
		r := Show("labels", nil).WithForm(a.R.URL.Query())
		r.err = err
		return r, nil
	}
	return Show("labeltool", d), nil
}

func (p *Pages) labeled(a *Ask, number string) (labeled, error) {
	v, err := p.shop.Tool(a.R.Context(), a.By, number)
	d := labeled{Tool: &v, Edits: people.May(a.Me(), people.EditTool, objectOf(v)), Whys: p.Options(a.language(), "labels.why.", "worn", "gone")}
	_, d.Unfit = custody.DoNotUse(v.Wrongs)
	return d, err
}

// labelAgain records that a worn or lost label is printed once more, and leads
// to where it is drawn.
func (p *Pages) labelAgain(a *Ask) (Reply, error) {
	number, why := a.Value("number"), a.Value("why")
	if why == "" {
		d, err := p.labeled(a, number)
		if err != nil {
			return Reply{}, err
		}
		return a.Again("labeltool", d, fault.At("#/why", "%s", p.say(a, "labels.say-why"))), nil
	}
	done, err := p.shop.LabelAgain(a.R.Context(), a.By, number, model.LabelAgain{Why: why})
	if err != nil {
		d, bad := p.labeled(a, number)
		if bad != nil {
			return Reply{}, err
		}
		return a.Again("labeltool", d, err), nil
	}
	return Go(printPath("labels", url.Values{"number": {string(done.Number)}}), p.say(a, "labels.again-done", done.Number)), nil
}

func printPath(what string, q url.Values) string { return "/labels/print/" + what + "?" + q.Encode() }

// sheetForm is how the labels lie on paper, as a form asks for it.
type sheetForm struct {
	Sheets []Option
	Starts bool // a part-used sheet can be gone on with
}

func (p *Pages) sheetForm(a *Ask, alone, starts bool) (sheetForm, labels.Sheet, error) {
	d := sheetForm{Starts: starts}
	now, err := p.shop.Settings(a.R.Context())
	usual := "letter-3x10"
	if now.Paper == settings.A4 {
		usual = "a4-3x7"
	}
	if alone {
		d.Sheets = append(d.Sheets, Option{Label: p.say(a, "labels.alone"), Chosen: true})
	}
	var first labels.Sheet
	for _, s := range labels.Sheets() {
		if s.Name == usual {
			first = s
		}
		d.Sheets = append(d.Sheets, Option{Value: s.Name, Label: p.say(a, "labels.sheet", s.Paper, s.Cols*s.Rows, tenths(s.W), tenths(s.H)), Chosen: !alone && s.Name == usual})
	}
	return d, first, err
}

// tenths writes a length in mm with one decimal.
func tenths(mm float64) string { return strconv.FormatFloat(mm, 'f', 1, 64) }

var offset = pattern.Late(`^-?[0-9]{1,2}(\.[0-9])?$`)

// sheetOf reads how the labels lie on paper, and gives it as the service for
// programs takes it. An empty sheet is a page for each.
func sheetOf(typed url.Values) (o labels.SheetOptions, q url.Values, err error) {
	var bad fault.Problems
	field := func(name string) string { return strings.TrimSpace(typed.Get(name)) }
	q = url.Values{}
	name := cmp.Or(field("own"), field("sheet"))
	if name == "" {
		return o, q, nil
	}
	if o.Sheet, err = labels.ParseSheet(name); err != nil {
		at := "#/sheet"
		if field("own") != "" {
			at = "#/own"
		}
		bad.Add(at, "%s", fault.Of(err).Error())
	}
	q.Set("sheet", name)
	if text := field("start"); text != "" {
		if o.Start, err = strconv.Atoi(text); err != nil || o.Start < 1 {
			bad.Add("#/start", "%q is not the number of a label on the sheet, counted from 1", text)
		}
		q.Set("start", strconv.Itoa(o.Start))
	}
	for name, to := range map[string]*float64{"dx": &o.OffsetX, "dy": &o.OffsetY} {
		text := field(name)
		if text == "" {
			continue
		}
		if *to, err = strconv.ParseFloat(text, 64); err != nil || !offset().MatchString(text) {
			bad.Add("#/"+name, "%q is not a length in mm with one decimal, such as 0.5 or -0.5", text)
		}
		q.Set(name, text)
	}
	return o, q, bad.Err()
}

// blank is the form for labels of tools to come.
func (p *Pages) blank(a *Ask) (Reply, error) {
	d, usual, err := p.sheetForm(a, false, true)
	return Show("labelblank", d).WithForm(url.Values{"count": {strconv.Itoa(usual.Cols * usual.Rows)}}), err
}

// maxBlank is the most numbers of one form: their address stays short.
const maxBlank = 300

// blankDone reserves numbers and leads to where they are drawn. A sheet on which
// they could not be drawn is refused first.
func (p *Pages) blankDone(a *Ask) (Reply, error) {
	d, _, err := p.sheetForm(a, false, true)
	if err != nil {
		return Reply{}, err
	}
	count, err := strconv.Atoi(a.Value("count"))
	if err != nil || count < 1 || count > maxBlank {
		return a.Again("labelblank", d, fault.At("#/count", "%s", p.say(a, "labels.count", a.Value("count"), maxBlank))), nil
	}
	onto, q, err := sheetOf(a.form)
	if err == nil {
		err = p.drawsBlank(a, onto, markedOf(a.form, q))
	}
	if err != nil {
		return a.Again("labelblank", d, err), nil
	}
	all, err := p.shop.IssueNumbers(a.R.Context(), a.By, count)
	if err != nil {
		return a.Again("labelblank", d, err), nil
	}
	for _, n := range all {
		q.Add("number", string(n))
	}
	return Go(printPath("labels", q), p.say(a, "labels.issued", len(all), all[0], all[len(all)-1])), nil
}

// drawsBlank draws a label that has no tool yet, to see whether it fits.
func (p *Pages) drawsBlank(a *Ask, onto labels.SheetOptions, marked bool) error {
	now, err := p.shop.Settings(a.R.Context())
	if err != nil {
		return err
	}
	n, err := numbers.FromCounter(1)
	if err != nil {
		return err
	}
	return labels.PDF(io.Discard, []labels.Text{{Symbol: n.Symbol(now.Address), Number: n.String(), Lines: []string{now.Name}, Marked: marked}}, onto)
}

// freed is the list of numbers that are printed, or meant to be, and free.
type freed struct {
	Numbers []numbers.Number
	More    string
}

func (p *Pages) free(a *Ask) (Reply, error) {
	all, next, err := p.shop.FreeNumbers(a.R.Context(), a.By, 100, a.Query("cursor"))
	d := freed{Numbers: all}
	if next != "" {
		d.More = "/labels/free?" + url.Values{"cursor": {next}}.Encode()
	}
	return Show("labelfree", d), err
}

// joining is a fresh label and the tool that is to have it.
type joining struct {
	Fresh string
	Tool  *model.ToolView // nil: not told yet
}

func (p *Pages) joining(a *Ask, fresh, tool string) (d joining, err error) {
	d.Fresh = fresh
	if tool == "" {
		return d, nil
	}
	v, err := p.shop.Tool(a.R.Context(), a.By, tool)
	if err != nil {
		return d, at("tool", err)
	}
	d.Tool = &v
	return d, nil
}

// join shows the tool before a number that was typed is joined to it.
func (p *Pages) join(a *Ask) (Reply, error) {
	d, err := p.joining(a, a.Query("number"), a.Query("tool"))
	r := Show("labeljoin", d)
	r.form, r.err = formOf(a.R.URL.Query(), err), err
	return r, nil
}

func (p *Pages) joinDone(a *Ask) (Reply, error) {
	d, err := p.joining(a, a.Value("number"), a.Value("tool"))
	if err == nil && d.Tool == nil {
		err = fault.At("#/tool", "%s", p.say(a, "labels.say-tool"))
	}
	if err != nil {
		return a.Again("labeljoin", d, err), nil
	}
	done, err := p.shop.JoinNumber(a.R.Context(), a.By, string(d.Tool.Tool.Number), model.Join{Number: d.Fresh})
	if err != nil {
		return a.Again("labeljoin", d, err), nil
	}
	return Go(toolPath(done.Number), p.say(a, "labels.joined", done.Number)), nil
}
