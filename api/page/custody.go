package page

import (
	"cmp"
	"encoding/base64"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"pawl/api/page/words"
	"pawl/model"
	"pawl/model/custody"
	"pawl/model/evidence"
	"pawl/model/fault"
	"pawl/model/jobs"
	"pawl/model/names"
	"pawl/model/people"
	"pawl/model/register"
)

func (p *Pages) custodyRoutes() []Route {
	var all []Route
	for _, act := range []handAct{
		{"take", p.take}, {"return", p.giveBack}, {"handover", p.handOver}, {"away", p.sendAway}, {"back", p.receive}, {"wrong", p.somethingWrong}, {"clear", p.clear},
	} {
		path := "/t/:number/" + act.page
		all = append(all,
			get(path, func(a *Ask) (Reply, error) { return p.handPage(a, act.page) }),
			Route{Method: http.MethodPost, Path: path,
				answer:  func(a *Ask) (Reply, error) { return p.hand(a, act) },
				refused: func(a *Ask) (Reply, error) { return p.badgeRefused(a, act.page) }})
	}
	return append(all, p.goneRoutes()...)
}

// handAct is an act on a tool that is in somebody's hand: the page of its form,
// and what it does.
type handAct struct {
	page string
	do   func(*Ask, string) (model.Done, error)
}

func (p *Pages) take(a *Ask, number string) (model.Done, error) {
	return p.shop.Take(a.R.Context(), a.By, number, model.Take{To: a.Value("to"), Job: cmp.Or(a.Value("pick"), a.Value("job")), Due: a.Value("due"), Happened: a.Value("happened"), Since: a.Value("since")})
}

func (p *Pages) giveBack(a *Ask, number string) (model.Done, error) {
	missing, err := a.missing()
	if err != nil {
		return model.Done{}, err
	}
	return p.shop.Return(a.R.Context(), a.By, number, model.Return{Missing: missing, Condition: a.Value("condition"), Happened: a.Value("happened"), Since: a.Value("since"),
		AllThere: a.Value("all") != "", Broken: a.Value("broken"), FragmentMissing: a.Value("fragment") != ""})
}

func (p *Pages) handOver(a *Ask, number string) (model.Done, error) {
	if a.Has("form") && a.Value("to") == "" && a.Me().Role != people.ShopDevice { // without the form, it is handed to the asker
		return model.Done{}, fault.At("#/to", "%s", words.Say(a.language(), "handover.say-who"))
	}
	return p.shop.Handover(a.R.Context(), a.By, number, model.Handover{To: a.Value("to"), Job: a.Value("job"), Due: a.Value("due"), Happened: a.Value("happened"), Since: a.Value("since")})
}

func (p *Pages) sendAway(a *Ask, number string) (model.Done, error) {
	return p.shop.Away(a.R.Context(), a.By, number, model.Away{To: a.Value("to"), For: a.Value("for"), Due: a.Value("due"), Happened: a.Value("happened"), Since: a.Value("since")})
}

func (p *Pages) receive(a *Ask, number string) (model.Done, error) {
	return p.shop.Back(a.R.Context(), a.By, number, model.Back{Condition: a.Value("condition"), Happened: a.Value("happened"), Since: a.Value("since")})
}

func (p *Pages) somethingWrong(a *Ask, number string) (model.Done, error) {
	a.By.Key = also(a.By.Key, a.Value("what")) // the reasons of one page share its key, and each is an act
	return p.shop.Wrong(a.R.Context(), a.By, number, model.Wrong{What: a.Value("what"), Note: a.Value("note"), Happened: a.Value("happened")})
}

func (p *Pages) clear(a *Ask, number string) (model.Done, error) {
	return p.shop.Clear(a.R.Context(), a.By, number, model.Clear{Why: a.Value("why")})
}

// also makes a replay key of its own of one that several buttons share.
func also(key, what string) string {
	if key == "" {
		return ""
	}
	return key + ":" + base64.RawURLEncoding.EncodeToString([]byte(what))
}

// missing reads what of a set did not come back: a tap for each piece, or a
// count where there are many alike.
func (a *Ask) missing() (out []string, err error) {
	taps := map[string]int{}
	for _, name := range a.form[missingTaps] {
		taps[name]++
	}
	for name, values := range a.form {
		piece, many := strings.CutPrefix(name, "missing:")
		if !many || strings.TrimSpace(values[0]) == "" {
			continue
		}
		n, err := strconv.Atoi(strings.TrimSpace(values[0]))
		if err != nil || n < 0 {
			return nil, fault.At("#/missing", "%q is not how many %s are missing", values[0], piece)
		}
		taps[piece] += n
	}
	for piece, n := range taps {
		if n > 0 {
			out = append(out, piece+"*"+strconv.Itoa(n))
		}
	}
	slices.Sort(out) // a repeat asks the same
	if len(out) > 0 && a.Value("all") != "" {
		name, _, _ := strings.Cut(out[0], "*")
		return nil, fault.At("#/missing", "%s", words.Say(a.language(), "return.both", name))
	}
	return out, nil
}

// hand runs an act, and tells what is so now. An act that is done already is no
// failure; one that is refused shows its page again, with what was typed.
func (p *Pages) hand(a *Ask, act handAct) (Reply, error) {
	number, me := a.Param("number"), a.Me().Name
	you := me
	if a.Me().Role == people.ShopDevice { // a board speaks of everybody by name
		you = ""
	}
	done, err := act.do(a, number)
	repeated := a.By.Replayed != nil && *a.By.Replayed
	if err == nil && !repeated {
		if act.page == "take" && a.Me().Role != people.ShopDevice {
			a.rememberJob(done.Custody.Job)
		}
		return Go(toolPath(done.Number), p.tellDone(a, act.page, you, done)...), nil
	}
	v, gone := p.shop.Tool(a.R.Context(), a.By, number)
	switch {
	case gone != nil && err == nil:
		return Reply{}, gone
	case gone != nil:
		return Reply{}, err
	case err != nil:
		return p.notDone(a, act.page, v, you, err)
	}
	// A repeat: what was so after it need not be so now.
	if act.page == "take" && holds(v, a.Me()) {
		a.rememberJob(v.Custody.Job)
	}
	return Go(toolPath(v.Tool.Number), p.say(a, "custody.repeated", p.isNow(a, v, you))), nil
}

// notDone tells why an act was not done. That things are as it wanted them is no
// failure, unless more was told with it.
func (p *Pages) notDone(a *Ask, page string, v model.ToolView, you string, err error) (Reply, error) {
	now := p.isNow(a, v, you)
	switch {
	case v.Tool.Gone != 0:
		return p.tapRefused(a, v, fault.New(fault.Conflict, "%s", strings.TrimSuffix(now, ".")))
	case !fault.Is(err, fault.Conflict) || !already(page, v, cmp.Or(a.Value("to"), a.Me().Name)):
		return p.handRefused(a, page, v, err)
	case p.unrecorded(a, v):
		d, bad := p.handData(a, page, v)
		return a.Again(page, d, fault.New(fault.Conflict, "%s", p.say(a, "custody.unrecorded", strings.TrimSuffix(now, "."))).
			WithHint("%s", p.say(a, "custody.unrecorded-hint"))), bad
	}
	return Go(toolPath(v.Tool.Number), p.say(a, "custody.already", now)), nil
}

// isNow says in one sentence where a tool is, or how it left.
func (p *Pages) isNow(a *Ask, v model.ToolView, me string) string {
	if v.Tool.Gone != 0 {
		return p.say(a, "tool.gone", goneWords(a.language(), v.Tool.GoneWhy), p.clockOf(a).Day(v.Tool.GoneOn))
	}
	return p.whoHas(a, v.Custody, me)
}

// unrecorded says whether more was told with an act than that it was done: that
// is on record nowhere when the act itself was done already.
func (p *Pages) unrecorded(a *Ask, v model.ToolView) bool {
	if job := cmp.Or(a.Value("pick"), a.Value("job")); job != "" && names.Key(job) != names.Key(v.Custody.Job) {
		return true
	}
	missing, err := a.missing()
	return err != nil || len(missing) > 0 || a.Value("broken") != "" || a.Value("condition") != "" || a.Value("due") != ""
}

// badgeRefused shows the page of an act at a shop device again, with what was
// typed into it and why the badge does not count.
func (p *Pages) badgeRefused(a *Ask, page string) (Reply, error) {
	v, err := p.shop.Tool(a.R.Context(), a.By, a.Param("number"))
	if err != nil {
		return Reply{}, err
	}
	told := p.badgeInWords(a)
	if v.Tool.Gone != 0 {
		return p.tapRefused(a, v, told)
	}
	d, err := p.handData(a, page, v)
	return a.Again(page, d, told), err
}

// badgeInWords says why the badge of an act does not count, beside its field,
// which it empties: a scanner types into what stands there.
func (p *Pages) badgeInWords(a *Ask) error {
	told := *fault.Of(a.Refused)
	switch {
	case told.Facts["badge"] != "":
		told.Message, told.Hint = p.say(a, "badge.needed"), p.say(a, "badge.scan")
	case fault.Is(a.Refused, fault.Malformed):
		told.Message, told.Hint = p.say(a, "badge.unread"), p.say(a, "badge.scan")
	}
	told.Fields = []fault.Field{{Pointer: "#/badge", Detail: told.Message}}
	a.form.Del("badge")
	return &told
}

// handRefused shows why an act was not done: on the tool's page, where its one
// tap was, or on the page of its form.
func (p *Pages) handRefused(a *Ask, page string, v model.ToolView, err error) (Reply, error) {
	told := p.inWords(a, v, err)
	if a.Has("form") || fault.Is(err, fault.Invalid) {
		d, bad := p.handData(a, page, v)
		if bad != nil {
			return Reply{}, bad
		}
		return a.Again(page, d, told), nil
	}
	return p.tapRefused(a, v, told)
}

// tapRefused shows why one tap did nothing on the tool's page as it is now.
func (p *Pages) tapRefused(a *Ask, v model.ToolView, told error) (Reply, error) {
	if a.R.Header.Get(byScript) == "1" && (fault.Is(told, fault.Conflict) || fault.Is(told, fault.Refused)) {
		// Nothing was typed, and what the page shows is old: it is shown anew.
		return Go(toolPath(v.Tool.Number), p.say(a, "custody.not-done", p.clockOf(a).why(problemOf(told).Detail))), nil
	}
	d, bad := p.toolData(a, a.Param("number"))
	if bad != nil {
		return Reply{}, bad
	}
	return a.Again("tool", d, told), nil
}

// already says whether things are as an act that was refused wanted them.
func already(act string, v model.ToolView, to string) bool {
	switch act {
	case "take", "handover":
		return v.Custody.State == custody.Out && names.Key(v.Custody.Person) == names.Key(to)
	case "return", "back":
		return v.Custody.State == custody.InPlace
	}
	return false
}

// inWords says a refusal that comes of where the tool is or of what is wrong
// with it in the language of the page; others stay as they are.
func (p *Pages) inWords(a *Ask, v model.ToolView, err error) error {
	f, lang := fault.Of(err), a.language()
	_, bad := custody.DoNotUse(v.Wrongs)
	switch {
	case f.Kind == fault.Refused && bad && f.Facts["do_not_use"] != "":
		return fault.New(f.Kind, "%s", words.Say(lang, "custody.do-not-use", reasonWords(lang, v.Wrongs))).WithHint("%s", words.Say(lang, "custody.take-another"))
	case f.Kind == fault.Conflict && f.Facts["changed"] != "" && v.Custody.State == custody.InPlace:
		return fault.New(f.Kind, "%s", p.say(a, "custody.changed"))
	case f.Kind == fault.Conflict && f.Facts["since"] != "" && v.Tool.Gone == 0 && v.Custody.State != custody.InPlace:
		return fault.New(f.Kind, "%s", strings.TrimSuffix(p.whoHas(a, v.Custody, ""), "."))
	}
	return err
}

// reasonWords gives every open reason for which a tool is out of use.
func reasonWords(lang words.Language, open []custody.Wrong) string {
	var out []string
	for _, w := range open {
		if text := wrongWord(lang, w.What); w.Cleared == 0 && w.What != custody.LabelGone && !slices.Contains(out, text) {
			out = append(out, text)
		}
	}
	return strings.ToLower(strings.Join(out, ", "))
}

// reasonList says reasons that a list of tools gives joined.
func reasonList(lang words.Language, list string) string {
	all := strings.Split(list, ", ")
	for i, what := range all {
		all[i] = strings.ToLower(wrongWord(lang, custody.What(what)))
	}
	return strings.Join(all, ", ")
}

// tellDone says what an act left behind.
func (p *Pages) tellDone(a *Ask, act, me string, done model.Done) (out []string) {
	lang := a.language()
	switch act {
	case "wrong":
		last := done.Wrongs[len(done.Wrongs)-1]
		if out = []string{words.Say(lang, "custody.reported", wrongWord(lang, last.What))}; last.What == custody.LabelGone {
			out[0] = words.Say(lang, "custody.label-wanted")
		}
	case "clear":
		out = []string{words.Say(lang, "custody.cleared")}
	default:
		out = []string{p.whoHas(a, done.Custody, me)}
	}
	standing := register.Cautions(done.Kind)
	for _, text := range done.Advice {
		switch {
		case slices.Contains(standing, text), strings.HasPrefix(text, "NOT COMPLETE"):
		case strings.HasPrefix(text, "It belongs to "):
			out = append(out, words.Say(lang, "custody.belongs", done.Owner))
		default:
			out = append(out, forScreen(text))
		}
	}
	return append(out, p.openedJob(a, done.NewJob)...)
}

// openedJob tells that an act opened a job: a mistyped number does too.
func (p *Pages) openedJob(a *Ask, j *model.OpenedJob) []string {
	switch {
	case j == nil:
		return nil
	case len(j.Like) == 0:
		return []string{p.say(a, "custody.new-job", j.Number)}
	}
	return []string{p.say(a, "custody.new-job-like", j.Number, strings.Join(j.Like, ", "))}
}

// whoHas says in one sentence where a tool is; me is whoever asks.
func (p *Pages) whoHas(a *Ask, c model.CustodyView, me string) string {
	lang := a.language()
	when := p.clockOf(a).When
	var text string
	switch {
	case c.State == custody.InPlace:
		return words.Say(lang, "custody.in-place")
	case c.State == custody.Away:
		text = words.Say(lang, "custody.away", c.To, words.Say(lang, "purpose."+string(c.Purpose)), when(c.Since))
	case me != "" && c.Person == me:
		text = words.Say(lang, "custody.you-have", when(c.Since))
	default:
		text = words.Say(lang, "custody.has", c.Person, when(c.Since))
	}
	if c.Job != "" {
		text += words.Say(lang, "custody.for-job", c.Job)
	}
	if c.Due != 0 {
		text += words.Say(lang, "custody.due", when(c.Due))
	}
	return text + "."
}

// clockOf says times as the page does.
func (p *Pages) clockOf(a *Ask) view {
	v := view{Lang: a.language(), Now: p.shop.Now()}
	if set, err := p.shop.Settings(a.R.Context()); err == nil {
		if loc, err := set.Location(); err == nil {
			v.Now = v.Now.In(loc)
		}
	}
	return v
}

// lastJob is the job that this phone remembers, unless it is closed. One that
// nobody mentioned yet is opened by the taking.
func (p *Pages) lastJob(a *Ask) string {
	number := a.job()
	if number == "" || a.Me().Role == people.ShopDevice {
		return ""
	}
	j, err := p.shop.Job(a.R.Context(), a.By, number)
	switch {
	case fault.Is(err, fault.NotFound):
		return number
	case err != nil || j.Closed != 0:
		return ""
	}
	return j.Number
}

// handData is what the form of an act shows.
type handData struct {
	model.ToolView
	Device   bool
	Others   bool // may act for somebody else
	People   []Option
	Jobs     []jobs.Job
	Purposes []Option
	Whats    []Option
	Pieces   []pieceChoice
	Drawer   *evidence.Record
	Has      string
	Reasons  string
	Cautions []string
	Job      string
}

// pieceChoice is a piece of a set to be tapped when it is missing: Each stands
// for one of a few alike; many alike are counted.
type pieceChoice struct {
	Name  string
	Count int
	Each  []int
	Lost  string // typed count
}

// missingTaps is the field of the taps; brackets say that it stands there often.
const missingTaps = "missing[]"

// fewAlike is up to how many equal pieces there is a tap for each.
const fewAlike = 4

func (p *Pages) handPage(a *Ask, page string) (Reply, error) {
	v, err := p.shop.Tool(a.R.Context(), a.By, a.Param("number"))
	if strange(err) {
		return p.strangeNumber(a)
	}
	if err != nil {
		return Reply{}, err
	}
	if v.Tool.Gone != 0 && !(page == "back" && v.ComesBack) { // its page says how it left, and takes nothing
		return Go(toolPath(v.Tool.Number)), nil
	}
	if page == "clear" && !people.May(a.Me(), people.ClearTool, objectOf(v)) || page == "away" && !people.May(a.Me(), people.EditTool, objectOf(v)) ||
		v.Tool.Gone != 0 && !people.May(a.Me(), people.EndTool, objectOf(v)) {
		return Go(toolPath(v.Tool.Number), words.Say(a.language(), "custody.not-yours")), nil
	}
	d, err := p.handData(a, page, v)
	return Show(page, d), err
}

func (p *Pages) handData(a *Ask, page string, v model.ToolView) (d handData, err error) {
	lang, me := a.language(), a.Me()
	d = handData{ToolView: v, Device: me.Role == people.ShopDevice, Has: p.whoHas(a, v.Custody, me.Name), Reasons: reasonWords(lang, v.Wrongs),
		Cautions: register.Cautions(v.Tool.Kind)}
	switch page {
	case "take", "handover":
		if d.Others = !d.Device && (page == "handover" || me.Role == people.Manager || me.Person == ""); d.Others {
			if d.People, err = p.peopleFor(a, page, v); err != nil {
				return d, err
			}
		}
		if page == "take" {
			d.Job = p.lastJob(a)
		}
		if d.Device { // jobs are read under a badge
			return d, nil
		}
		open := true
		d.Jobs, _, err = p.shop.Jobs(a.R.Context(), a.By, model.JobQuery{Open: &open, Limit: 6})
	case "away":
		d.Purposes = p.Options(lang, "purpose.", string(custody.ForCalibration), string(custody.ForRepair), string(custody.ForLent))
		if d.Reasons != "" { // what is out of use is lent to nobody
			d.Purposes = d.Purposes[:2]
		}
	case "wrong":
		for _, w := range custody.Whats {
			d.Whats = append(d.Whats, Option{Value: string(w), Label: wrongWord(lang, w)})
		}
	case "return":
		d.pieces(a)
	}
	return d, err
}

// peopleFor lists who may get the tool: everybody, less whoever has it. Taking
// names the asker first.
func (p *Pages) peopleFor(a *Ask, page string, v model.ToolView) (out []Option, err error) {
	all, err := p.shop.People(a.R.Context(), a.By)
	for _, one := range all {
		if one.Role == people.Viewer || v.Custody.State == custody.Out && one.Name == v.Custody.Person {
			continue
		}
		o := Option{Value: one.Name, Label: one.Name}
		if one.ID == a.Me().Person {
			o.Label, o.Chosen = words.Say(a.language(), "custody.me", one.Name), page == "take"
			out = slices.Insert(out, 0, o)
			continue
		}
		out = append(out, o)
	}
	return out, err
}

// pieces sets out a set's pieces, and the photo in which all of them lie.
func (d *handData) pieces(a *Ask) {
	for i, e := range d.Evidence {
		if e.Withdrawn != 0 || !hasView(e) {
			continue
		}
		if e.Kind == evidence.Drawer || e.Kind == evidence.Whole && (d.Drawer == nil || d.Drawer.Kind == evidence.Whole) {
			d.Drawer = &d.Evidence[i]
		}
	}
	for _, piece := range d.Tool.Pieces {
		c := pieceChoice{Name: piece.Name, Count: piece.Count}
		if piece.Count <= fewAlike {
			for i := range piece.Count {
				c.Each = append(c.Each, i+1)
			}
		} else if a.form != nil {
			c.Lost = a.form.Get("missing:" + piece.Name)
		}
		d.Pieces = append(d.Pieces, c)
	}
}

// Tapped says whether a piece was tapped as missing that often, so that a form
// that was refused shows it again.
func (d handData) Tapped(f Form, piece string, nth int) bool {
	n := 0
	for _, name := range f.Values[missingTaps] {
		if name == piece {
			n++
		}
	}
	return nth <= n
}

func pieceText(p register.Piece) string {
	if p.Count == 1 {
		return p.Name
	}
	return p.Name + " (" + strconv.Itoa(p.Count) + ")"
}
