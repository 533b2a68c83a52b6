package page

import (
	"bytes"
	"cmp"
	"encoding/base64"
	"encoding/json"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"pawl/api/page/words"
	"pawl/api/wire"
	"pawl/model/custody"
	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/pattern"
	"pawl/model/people"
)

// Reply is what a page's handler gives: a page to show, or a place to go.
type Reply struct {
	page   string // template
	title  string // of the window; empty: the page's own
	data   any
	form   Form
	err    error // why the form is shown again
	to     string
	said   []string // told on the next page, or on this one
	status int      // 0: 200
	script any      // instead of to, for the page's own script
	static *static
	file   *given
}

// given is a file that somebody takes along.
type given struct {
	name, mediaType string
	bytes           []byte
}

func (g *given) give(a *Ask) {
	h := a.W.Header()
	h.Set("Content-Type", g.mediaType)
	h.Set("Content-Disposition", `attachment; filename="`+g.name+`"`)
	h.Set("Content-Length", strconv.Itoa(len(g.bytes)))
	a.W.WriteHeader(http.StatusOK)
	_, _ = a.W.Write(g.bytes) // an asker who went away is not told
}

// Show shows a page with its data; its forms are empty.
func Show(page string, data any) Reply { return Reply{page: page, data: data} }

// WithForm fills the forms of a page.
func (r Reply) WithForm(values url.Values) Reply {
	r.form.Values = values
	return r
}

// Again shows a page whose form was refused, with what was typed and why.
func (a *Ask) Again(page string, data any, err error) Reply {
	r := Reply{page: page, data: data, err: err}
	r.form = formOf(a.form, err)
	return r
}

// Go sends the asker on after an act that stands, and tells them there.
func Go(to string, said ...string) Reply { return Reply{to: to, said: said} }

// view is what every template gets.
type view struct {
	Page    string
	Title   string // of the window; empty: the page's own
	Shop    string // name of the shop
	Me      people.Actor
	Who     string // whose acts and drafts this phone keeps
	Path    string
	Lang    words.Language
	Said    []string // what the act before left to tell
	Plain   string   // banner where the shop lets plain HTTP be used; empty: none
	Problem *problem
	Form    Form
	Key     string    // one-use key for the forms of this page
	Now     time.Time // in the shop's zone
	Data    any
}

// When says an instant in the shop's zone, in words.
func (v view) When(i dates.Instant) string {
	if i == 0 {
		return ""
	}
	then := i.Time().In(v.Now.Location())
	if dates.Of(then, then.Location()) == dates.Of(v.Now, v.Now.Location()) {
		return words.Say(v.Lang, "time.today", then.Format("15:04"))
	}
	return v.day(then) + " " + then.Format("15:04")
}

// WhenWrong says when something went wrong; of a failure that was entered by its day, the
// day, and that nobody recorded the hour.
func (v view) WhenWrong(w custody.Wrong) string {
	if zone := v.Now.Location(); w.DayOnly(zone) {
		return words.Say(v.Lang, "wrong.hour-not-recorded", v.Day(w.At.Day(zone)))
	}
	return v.When(w.At)
}

// Day says a day in words, so that no order of digits is mistaken.
func (v view) Day(d dates.Date) string {
	then, err := time.Parse(time.DateOnly, string(d))
	if err != nil {
		return string(d)
	}
	return v.day(then)
}

// DayOf is Day for a date that came as text.
func (v view) DayOf(d string) string { return v.Day(dates.Date(d)) }

func (v view) day(t time.Time) string {
	return words.Say(v.Lang, "time.day", t.Day(), words.Say(v.Lang, "month."+strconv.Itoa(int(t.Month()))), t.Year())
}

// problem is why something was not done, in words.
type problem struct {
	Looked              bool `json:"-"` // nothing was to be done: a page was asked for
	Title, Detail, Hint string
	Status              int
	Fields              []fieldProblem
	Retry               bool   // it may work in a moment
	Tool                string // number of the tool that stands in the way, to look at
	Rev                 string // revision that the form is of now: it was filled for an older one
}

type fieldProblem struct{ Name, Detail string }

func problemOf(err error) *problem {
	p := wire.ProblemOf(err, "")
	out := &problem{Title: p.Title, Detail: detailOf(p), Hint: forScreen(p.Hint), Status: p.Status, Retry: p.Status == http.StatusServiceUnavailable || p.Status == http.StatusTooManyRequests}
	if f := fault.Of(err); f != nil {
		out.Tool, out.Rev = f.Facts["number"], f.Facts["rev"]
		for _, field := range f.Fields {
			out.Fields = append(out.Fields, fieldProblem{fieldName(field.Pointer), forScreen(field.Detail)})
		}
	}
	return out
}

// detailOf is what was wrong, without the names that fields have for programs.
func detailOf(p wire.Problem) string {
	var listed, told []string
	for _, field := range p.Errors {
		listed = append(listed, strings.TrimPrefix(field.Pointer, "#/")+": "+field.Detail)
		told = append(told, forScreen(field.Detail))
	}
	if p.Detail == strings.Join(listed, "; ") {
		return strings.Join(told, "; ")
	}
	return forScreen(p.Detail)
}

// forScreen leaves out of a text the command that would do it in a terminal, and
// of the clause before it what says nothing without the command.
func forScreen(text string) string {
	before, _, command := strings.Cut(text, "pawl ")
	if !command {
		return text
	}
	if open := strings.LastIndexByte(before, '('); open >= 0 && !strings.Contains(before[open:], ")") {
		if inner := forScreen(text[open+1:]); inner != "" {
			return before[:open+1] + inner + ")"
		}
		return strings.TrimSpace(before[:open])
	}
	before = strings.TrimRight(before, " :,;")
	if !dangling().MatchString(before) {
		return before
	}
	return strings.TrimRight(before[:max(strings.LastIndexByte(before, ';'), strings.LastIndexByte(before, ','), 0)], " ,;")
}

// dangling ends a clause that led to a command.
var dangling = pattern.Late(`(?:^|\W)(?:with|use|run|what|that|computer)$`)

// fieldName is the name of the form field that a JSON pointer speaks of: its
// last part that is a name.
func fieldName(pointer string) string {
	parts := strings.Split(strings.TrimPrefix(pointer, "#/"), "/")
	for i := len(parts) - 1; i >= 0; i-- {
		if _, err := strconv.Atoi(parts[i]); err != nil {
			return parts[i]
		}
	}
	return ""
}

// say gives a text of the catalog in the asker's language.
func (p *Pages) say(a *Ask, key string, in ...any) string { return words.Say(a.language(), key, in...) }

// Answer runs the handler of a route. What fails is shown as a page, or as a
// problem to the page's own script.
func (p *Pages) Answer(r Route, a *Ask) {
	a.pages = p
	defer a.done()
	headers(a.W.Header())
	var reply Reply
	var err error
	if r.Method == http.MethodPost {
		err = a.readForm()
	}
	answer := r.answer
	if a.Refused != nil {
		if answer = r.refused; answer == nil && err == nil {
			err = a.Refused
		}
	}
	if err == nil {
		reply, err = answer(a)
	}
	if err != nil {
		p.Fail(a, err)
		return
	}
	p.give(a, reply)
}

// Fail answers with a page that says what was wrong and what to do.
func (p *Pages) Fail(a *Ask, err error) {
	a.pages = p
	headers(a.W.Header())
	if fault.Is(err, fault.Unauthenticated) {
		p.give(a, p.strange(a))
		return
	}
	if fault.Is(err, fault.Forbidden) && a.Me().Role == people.Viewer && a.R.Header.Get(byScript) == "" {
		p.give(a, p.viewers(a, err))
		return
	}
	p.give(a, Reply{page: "problem", err: err})
}

// TurnAway answers with a short page of its own why nobody is let in just now, and when to
// ask again. It reads nothing of the shop: there is no room for it.
func (p *Pages) TurnAway(a *Ask, err error) {
	a.pages = p
	headers(a.W.Header())
	v := view{Page: "busy", Path: a.R.URL.RequestURI(), Lang: a.language(), Now: p.shop.Now()}
	p.refuse(a, err, &v)
	if a.R.Header.Get(byScript) != "" {
		a.json(v.Problem.Status, v.Problem)
		return
	}
	a.show(v.Problem.Status, p.mustRender(v))
}

// viewers tells a viewer who asks for anything else what they are let in for.
func (p *Pages) viewers(a *Ask, err error) Reply {
	v, failed := p.self(a)
	if failed != nil {
		return Reply{page: "problem", err: err}
	}
	if a.Failed != nil {
		a.Failed(err)
	}
	r := Show("me", v)
	r.status = http.StatusForbidden
	return r
}

// headers are those of every page: nothing from elsewhere, nothing kept.
func headers(h http.Header) {
	h.Set("Content-Security-Policy", "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; connect-src 'self'; "+
		"manifest-src 'self'; worker-src 'self'; form-action 'self'; base-uri 'none'; object-src 'none'; frame-ancestors 'none'")
	h.Set("Permissions-Policy", "camera=(self), microphone=(), geolocation=()")
	h.Set("Cache-Control", "no-store")
	// With no-referrer a form of ours would be sent from the origin "null", which
	// over plain HTTP looks like a foreign page (Fetch standard, "Origin" header).
	h.Set("Referrer-Policy", "same-origin")
}

// byScript marks a form that the page's own script sends, which asks for JSON.
const byScript = "Pawl-Script"

func (p *Pages) give(a *Ask, r Reply) {
	if r.static != nil {
		r.static.give(a)
		return
	}
	if r.file != nil {
		r.file.give(a)
		return
	}
	if r.to != "" {
		a.goTo(r)
		return
	}
	status := max(r.status, http.StatusOK)
	v := view{Page: r.page, Title: r.title, Me: a.Me(), Who: a.who(), Path: a.R.URL.Path, Lang: a.language(), Form: r.form, Key: p.newKey(), Now: p.shop.Now(), Data: r.data}
	if set, err := p.shop.Settings(a.R.Context()); err == nil {
		v.Shop = set.Name
		if loc, err := set.Location(); err == nil {
			v.Now = v.Now.In(loc)
		}
	}
	if r.err != nil {
		p.refuse(a, r.err, &v)
		status = v.Problem.Status
	}
	if a.R.Header.Get(byScript) != "" && r.err != nil {
		a.json(status, v.Problem)
		return
	}
	if p.door.Plain(a.R) {
		v.Plain = p.say(a, "plain.banner")
	}
	v.Said = r.said
	if a.R.Method != http.MethodHead {
		v.Said = append(a.told(), r.said...)
	}
	a.show(status, p.mustRender(v))
}

func (p *Pages) mustRender(v view) []byte {
	body, err := p.render(v)
	if err != nil {
		panic(err) // a template that does not fit its data is a broken build
	}
	return body
}

// show answers with a page.
func (a *Ask) show(status int, body []byte) {
	h := a.W.Header()
	h.Set("Content-Type", "text/html; charset=utf-8")
	h.Set("Content-Length", strconv.Itoa(len(body)))
	a.W.WriteHeader(status)
	if a.R.Method != http.MethodHead {
		_, _ = a.W.Write(body) // an asker who went away is not told
	}
}

// goTo sends the asker on, with what is to be said there.
func (a *Ask) goTo(r Reply) {
	if r.script != nil && a.R.Header.Get(byScript) != "" {
		a.json(http.StatusOK, r.script)
		return
	}
	a.tell(r.said)
	if a.R.Header.Get(byScript) != "" {
		a.json(http.StatusOK, map[string]any{"to": r.to})
		return
	}
	a.W.Header().Set("Location", r.to)
	a.W.WriteHeader(http.StatusSeeOther)
}

// refuse puts what went wrong on the page.
func (p *Pages) refuse(a *Ask, err error, v *view) {
	if a.Failed != nil {
		a.Failed(err)
	}
	v.Problem = problemOf(err)
	if fault.Of(err).Facts["key"] == "used" {
		v.Problem.Detail, v.Problem.Hint = p.say(a, "problem.sent"), p.say(a, "problem.sent-hint")
	}
	v.sayWhy()
	v.Problem.Looked = a.R.Method != http.MethodPost
	if v.Problem.Retry { // RFC 9110 section 10.2.3
		a.W.Header().Set("Retry-After", cmp.Or(fault.Of(err).Facts[wire.RetryFact], "5"))
	}
	if kept := a.form.Get("key"); kept != "" && !replayable(err) {
		v.Key = kept
	}
}

// instant is how a fault writes one.
var instant = pattern.Late(`\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(?:\.\d+)?Z`)

// replayable says whether the refused form may be sent again under its key:
// after a fault that decided nothing it must be, so that what did get through is
// not done twice.
func replayable(err error) bool {
	f := fault.Of(err)
	return f != nil && f.Kind != fault.Unavailable && f.Kind != fault.Internal
}

func (p *Pages) render(v view) ([]byte, error) {
	var b bytes.Buffer
	err := sets()[v.Lang].ExecuteTemplate(&b, v.Page+".html", v)
	return b.Bytes(), err
}

func (a *Ask) json(status int, body any) {
	raw, err := json.Marshal(body)
	if err != nil {
		panic(err)
	}
	a.W.Header().Set("Content-Type", "application/json")
	a.W.WriteHeader(status)
	_, _ = a.W.Write(raw)
}

// tell keeps what an act said for the next page, in a cookie that lasts a minute
// and that no script reads.
func (a *Ask) tell(said []string) {
	if len(said) == 0 {
		return
	}
	raw, err := json.Marshal(said)
	if err != nil || len(raw) > 2500 { // a cookie holds 4 kB at most, in base 64
		return
	}
	a.setCookie(saidCookie, base64.RawURLEncoding.EncodeToString(raw), 60)
}

// told takes what the act before said.
func (a *Ask) told() (said []string) {
	c, err := a.R.Cookie(saidCookie)
	if err != nil {
		return nil
	}
	a.setCookie(saidCookie, "", -1)
	raw, err := base64.RawURLEncoding.DecodeString(c.Value)
	if err != nil || json.Unmarshal(raw, &said) != nil {
		return nil
	}
	return said
}
