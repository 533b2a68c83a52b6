package page

import (
	"cmp"
	"net/url"
	"strconv"
	"strings"
	"time"

	"pawl/api/board"
	"pawl/api/page/words"
	"pawl/model"
	"pawl/model/calibration"
	"pawl/model/fault"
	"pawl/model/jobs"
	"pawl/model/numbers"
	"pawl/model/people"
	"pawl/model/register"
)

// Jobs, what was taken to them and whether it is back, and closing.
func (p *Pages) jobRoutes() []Route {
	return []Route{
		get("/jobs", p.jobList), post("/jobs", p.openJob),
		get("/jobs/:number", p.jobPage), post("/jobs/:number", p.editJob),
		get("/jobs/:number/allback", p.allBackPage), post("/jobs/:number/allback", p.lookAtJob),
		get("/jobs/:number/close", p.closePage), post("/jobs/:number/close", p.closeJob),
		post("/jobs/:number/reopen", p.reopenJob), post("/jobs/:number/held", p.hold), post("/jobs/:number/give", p.giveHeld),
		post("/findings/:id/answer", p.answerFinding),
	}
}

// jobPath is the page of a job, and what lies below it.
func jobPath(number string, below ...string) string {
	return "/jobs/" + strings.Join(append([]string{url.PathEscape(number)}, below...), "/")
}

// jobNumber is the job that the address names.
func (a *Ask) jobNumber() string {
	number, err := url.PathUnescape(a.Param("number"))
	if err != nil {
		return a.Param("number")
	}
	return number
}

// jobListData is what the list of jobs shows.
type jobListData struct {
	Jobs     []jobs.Job
	More     string
	Safeties []Option
}

func (p *Pages) jobListData(a *Ask) (d jobListData, err error) {
	q := model.JobQuery{Cursor: a.Query("after")}
	next := ""
	d.Jobs, next, err = p.shop.Jobs(a.R.Context(), a.By, q)
	if next != "" {
		d.More = "/jobs?" + url.Values{"after": {next}}.Encode()
	}
	d.Safeties = p.safeties(a, jobs.Unknown)
	return d, err
}

func (p *Pages) safeties(a *Ask, now jobs.Safety) []Option {
	out := p.Options(a.language(), "job.safety.", string(jobs.Yes), string(jobs.No), string(jobs.Unknown))
	for i := range out {
		out[i].Chosen = out[i].Value == string(now)
	}
	return out
}

func (p *Pages) jobList(a *Ask) (Reply, error) {
	d, err := p.jobListData(a)
	return Show("jobs", d), err
}

func (p *Pages) openJob(a *Ask) (Reply, error) {
	vehicle, vin, safety := a.Value("vehicle"), a.Value("vin"), cmp.Or(a.Value("safety"), string(jobs.Unknown))
	j, err := p.shop.OpenJob(a.R.Context(), a.By, model.NewJob{Number: a.Value("number"), Vehicle: &vehicle, VIN: &vin, Safety: &safety})
	if err == nil {
		a.rememberJob(j.Number)
		return Go(jobPath(j.Number), p.say(a, "job.opened", j.Number)), nil
	}
	d, bad := p.jobListData(a)
	if bad != nil {
		return Reply{}, err
	}
	return a.Again("jobs", d, refield(err, map[string]string{"job": "number"})), nil
}

// jobData is what the pages of one job show.
type jobData struct {
	model.AllBackView
	Path      string
	Sentence  string // whether all is back
	Tell      []string
	Open      []findingRow
	Answered  []findingRow
	Here      []model.HeldView // still held
	Given     []model.HeldView
	Unlooked  []handData       // sets that nobody looked at, with their pieces
	Asked     []model.LookView // before the engine is started, at hand-over
	Warnings  []string         // of the VIN
	Leads     bool
	Clear     bool // nothing is in the way of closing
	Safeties  []Option
	Cautions  []string
	FindingID string          // whose form was refused
	Device    bool            // the shop's own, at which a badge says who looks
	Looker    string          // whose badge is open there
	Typed     *model.ToolView // by its number, to be seen before it is put back
	TypedCode string
}

// findingRow is a finding in the asker's language.
type findingRow struct {
	model.FindingView
	Says, Answer string
	Answers      []Option
}

func (p *Pages) jobData(a *Ask, number string) (d jobData, err error) {
	v, err := p.shop.AllBack(a.R.Context(), a.By, number)
	if err != nil {
		return d, err
	}
	d = jobData{AllBackView: v, Path: jobPath(v.Job.Number), Sentence: p.allBackWords(a, v), Warnings: jobs.VINWarnings(v.Job.VIN),
		Leads: people.May(a.Me(), people.Override, people.Object{}), Safeties: p.safeties(a, v.Job.Safety), Device: a.Me().Role == people.ShopDevice}
	if d.Device {
		b, _ := p.boardOf(a)
		b.Ended(p.boardTime())
		d.Looker = b.Name
		if d.Looker == "" { // as everything that a shop device is asked: it answers to a badge
			return jobData{AllBackView: model.AllBackView{Job: jobs.Job{Number: v.Job.Number}}, Path: d.Path, Device: true}, nil
		}
	}
	for _, f := range v.Findings {
		row := findingRow{FindingView: f, Says: findingWords(a.language(), f), Answer: answerWords(a.language(), f)}
		for _, answer := range jobs.Answers {
			if f.Sort != jobs.Extra || answer != jobs.NotFound {
				row.Answers = append(row.Answers, p.Options(a.language(), "finding.answer.", string(answer))...)
			}
		}
		if f.Flags() {
			d.Tell = append(d.Tell, tellWords(a.language(), f))
		}
		if f.Open() {
			d.Open = append(d.Open, row)
		} else {
			d.Answered = append(d.Answered, row)
		}
	}
	for _, h := range v.Held {
		if h.GivenAt == 0 {
			d.Here = append(d.Here, h)
		} else {
			d.Given = append(d.Given, h)
		}
	}
	for _, l := range v.Looks {
		if l.Sort == jobs.LookAsked {
			d.Asked = append(d.Asked, l)
		}
	}
	if len(v.Holds) > 0 {
		d.Cautions = calibration.Cautions(calibration.HazardTorque, calibration.HazardDate)
	}
	d.Clear = len(d.Open)+len(v.Unlooked())+len(v.Holds) == 0
	return d, p.unlooked(a, &d)
}

// unlooked sets out the sets that nobody looked at, with their pieces and the photo in
// which all of them lie.
func (p *Pages) unlooked(a *Ask, d *jobData) error {
	for _, t := range d.AllBackView.Unlooked() {
		v, err := p.shop.Tool(a.R.Context(), a.By, string(t.Number))
		if err != nil {
			return err
		}
		row := handData{ToolView: v}
		row.pieces(a)
		d.Unlooked = append(d.Unlooked, row)
	}
	return nil
}

// allBackWords is whether all is back, in the asker's language. It claims no more than
// the record has.
func (p *Pages) allBackWords(a *Ask, v model.AllBackView) string {
	t := v.Tally
	var out []string
	switch {
	case t.Takes == 0:
		out = append(out, p.say(a, "allback.none"))
	case t.Back == t.Takes:
		out = append(out, p.say(a, "allback.all", t.Takes))
	case t.Back+t.Elsewhere == t.Takes:
		out = append(out, p.say(a, "allback.rest", t.Back, t.Takes, t.Elsewhere))
	default:
		out = append(out, p.say(a, "allback.not", t.Back, t.Takes))
	}
	if t.Sets > 0 {
		out = append(out, p.say(a, "allback.sets", t.Looked, t.Sets))
	}
	if t.Open > 0 {
		out = append(out, p.say(a, "allback.open", t.Open))
	}
	return strings.Join(append(out, p.say(a, "allback.not-covered")), " ")
}

// findingWords says what is open.
func findingWords(lang words.Language, f model.FindingView) string {
	say := func(key string, in ...any) string { return words.Say(lang, key, in...) }
	tool := strings.TrimSpace(f.Kind + " " + f.Number.String())
	switch f.Sort {
	case jobs.ToolMissing:
		if f.Holder != "" {
			return say("finding.out", tool, f.Holder)
		}
		return say("finding.tool", tool)
	case jobs.PieceMissing:
		return say("finding.piece", pieceText(register.Piece{Name: f.What, Count: int(f.Count)}), tool)
	case jobs.FragmentMissing:
		return say("finding.fragment", f.What, tool)
	case jobs.Extra:
		return say("finding.extra", tool)
	}
	return say("finding.held", f.What)
}

// answerWords says how a finding was answered for; "" while it is open.
func answerWords(lang words.Language, f model.FindingView) string {
	switch f.Answer {
	case jobs.Found:
		return words.Say(lang, "finding.found", f.Spot)
	case jobs.KnownElsewhere:
		return strings.TrimSpace(words.Say(lang, "finding.elsewhere", f.Whom) + " " + f.Spot)
	case jobs.NotFound:
		return words.Say(lang, "finding.searched", f.Whom, f.Spot)
	}
	return ""
}

// tellWords says what the vehicle's owner must know: what was searched for and not found
// is told also where it turned up since, and then that it did.
func tellWords(lang words.Language, f model.FindingView) string {
	text := words.Say(lang, "finding.flag", findingWords(lang, f))
	if f.Answer != jobs.NotFound {
		text += " " + words.Say(lang, "finding.since", strings.TrimSuffix(answerWords(lang, f), "."))
	}
	if f.ToldAt != 0 {
		return text + " " + words.Say(lang, "finding.told", f.ToldHow)
	}
	return text + " " + words.Say(lang, "finding.tell")
}

// todayWords says what of a job is not settled: it is open, or somebody is to be told.
func todayWords(lang words.Language, f model.FindingView) string {
	if f.Flags() {
		return tellWords(lang, f)
	}
	return findingWords(lang, f)
}

func (p *Pages) jobPage(a *Ask) (Reply, error) {
	d, err := p.jobData(a, a.jobNumber())
	r := Show("job", d).WithForm(url.Values{"vehicle": {d.Job.Vehicle}, "vin": {d.Job.VIN}, "safety": {string(d.Job.Safety)}})
	r.title = p.say(a, "job.head", d.Job.Number)
	return r, err
}

// jobAgain shows a page of a job whose form was refused.
func (p *Pages) jobAgain(a *Ask, page string, err error) (Reply, error) {
	d, bad := p.jobData(a, a.jobNumber())
	if bad != nil {
		return Reply{}, bad
	}
	r := a.Again(page, d, err)
	r.title = p.say(a, "job.head", d.Job.Number)
	return r, nil
}

func (p *Pages) editJob(a *Ask) (Reply, error) {
	vehicle, vin, safety := a.Value("vehicle"), a.Value("vin"), a.Value("safety")
	j, err := p.shop.ChangeJob(a.R.Context(), a.By, a.jobNumber(), model.AnyRevision, model.JobChange{Vehicle: &vehicle, VIN: &vin, Safety: &safety})
	if err != nil {
		return p.jobAgain(a, "job", err)
	}
	return Go(jobPath(j.Number), p.say(a, "job.edited")), nil
}

func (p *Pages) allBackPage(a *Ask) (Reply, error) {
	d, err := p.jobData(a, a.jobNumber())
	r := Show("allback", d)
	if code := a.Query("typed"); code != "" && err == nil && (!d.Device || d.Looker != "") {
		if v, bad := p.shop.Tool(a.R.Context(), a.By, code); bad == nil {
			d.Typed, d.TypedCode = &v, v.Tool.Number.Symbol("")
			r.data = d
		} else {
			r.err = fault.At("#/code", "%s", fault.Of(bad).Error())
			r.form = formOf(url.Values{"code": {code}}, r.err)
		}
	}
	r.title = p.say(a, "allback.head", d.Job.Number)
	return r, err
}

// lookAtJob records one look: a label that was typed or scanned, a set, or that all of
// it was asked.
func (p *Pages) lookAtJob(a *Ask) (Reply, error) {
	if a.Me().Role == people.ShopDevice && !a.Me().Badged() {
		if named, r, err := p.looker(a); !named || err != nil {
			return r, err
		}
	}
	a.By.Key = also(a.By.Key, a.Value("before")+"/"+a.Value("code")+"/"+a.Value("set")) // the forms of one page share its key
	in := model.LookedAtJob{Before: a.Value("before")}
	if code := a.Value("code"); code != "" {
		if _, err := numbers.ParseSymbol(code); err != nil {
			return p.showTyped(a, code)
		}
		in.Scanned = []string{code}
	}
	if set := a.Value("set"); set != "" {
		missing, err := a.missing()
		if err == nil && len(missing) == 0 && a.Value("all") == "" {
			err = fault.At("#/missing", "%s", p.say(a, "allback.tap-something"))
		}
		if err != nil {
			return p.jobAgain(a, "allback", err)
		}
		in.Sets = []model.LookedAtSet{{Number: set, Missing: missing}}
	}
	v, err := p.shop.LookAtJob(a.R.Context(), a.By, a.jobNumber(), in)
	if err != nil {
		return p.jobAgain(a, "allback", refield(err, map[string]string{"scanned": "code", "sets": "missing"}))
	}
	for _, s := range v.Scanned {
		if s.Problem != nil {
			return p.jobAgain(a, "allback", fault.At("#/code", "%s", s.Problem.Error()))
		}
	}
	return Go(jobPath(v.Job.Number, "allback"), p.lookSaid(a, in, v)...), nil
}

// showTyped leads to the tool of a number that was typed, with one button that puts it
// back: a slip that reads like another number is seen before it does anything.
func (p *Pages) showTyped(a *Ask, code string) (Reply, error) {
	v, err := p.shop.Tool(a.R.Context(), a.By, code)
	if err != nil {
		return p.jobAgain(a, "allback", fault.At("#/code", "%s", fault.Of(err).Error()))
	}
	return Go(jobPath(a.jobNumber(), "allback") + "?typed=" + v.Tool.Number.String() + "#scan"), nil
}

// looker finds out who looks at a shop device: a badge that is scanned is open as it is
// at the board, and what is scanned under it is its holder's look.
func (p *Pages) looker(a *Ask) (named bool, r Reply, err error) {
	b, kept := p.boardOf(a)
	now := p.boardTime()
	b.Ended(now)
	badge := b.Badge
	s, bad := numbers.ParseSymbol(a.Value("code"))
	shown := bad == nil && s.Kind == numbers.Badge
	if shown {
		badge = "B/" + s.Code
	}
	if badge == "" {
		a.form.Del("code")
		r, err = p.jobAgain(a, "allback", fault.New(fault.Forbidden, "%s", p.say(a, "badge.needed")).WithHint("%s", p.say(a, "allback.whose")))
		return false, r, err
	}
	by, _, err := p.badged(a, badge)
	if fault.Is(err, fault.Forbidden) || fault.Is(err, fault.Malformed) {
		r, err = p.jobAgain(a, "allback", fault.At("#/code", "%s", fault.Of(err).Message))
		return false, r, err
	}
	if err != nil || !shown {
		a.By = by
		return err == nil, r, err
	}
	if o := b.Scan(badge, now); o.Kind == board.Who { // it ends what was open before it
		b.Open(badge, by.Name, now)
		p.rememberBoard(a, b, kept)
	}
	return false, Go(jobPath(a.jobNumber(), "allback"), p.say(a, "allback.looks", by.Name, strconv.Itoa(int(board.Taking/time.Second)))), nil
}

// lookSaid tells what came of a look.
func (p *Pages) lookSaid(a *Ask, in model.LookedAtJob, v model.AllBackView) (out []string) {
	for _, s := range v.Scanned {
		out = append(out, p.say(a, "allback.scan."+strings.ReplaceAll(s.Done, " ", "-"), strings.TrimSpace(s.Kind+" "+s.Number.String()), s.Holder))
	}
	if len(in.Sets) > 0 {
		out = append(out, p.say(a, "allback.looked"))
	}
	if in.Before != "" {
		out = append(out, p.say(a, "allback.asked")+" "+p.allBackWords(a, v))
	}
	return out
}

func (p *Pages) closePage(a *Ask) (Reply, error) {
	d, err := p.jobData(a, a.jobNumber())
	if err == nil && d.Job.Closed != 0 {
		return Go(d.Path, p.say(a, "job.closed-already", d.ClosedBy, p.clockOf(a).When(d.Job.Closed))), nil
	}
	r := Show("closejob", d).WithForm(url.Values{})
	r.title = p.say(a, "close.head", d.Job.Number)
	return r, err
}

func (p *Pages) closeJob(a *Ask) (Reply, error) {
	override := a.Value("override")
	a.By.Key = also(a.By.Key, override)
	if a.Has("over") && override == "" {
		return p.jobAgain(a, "closejob", fault.At("#/override", "%s", p.say(a, "close.say-why")))
	}
	v, err := p.shop.CloseJob(a.R.Context(), a.By, a.jobNumber(), model.CloseJob{Override: override})
	switch {
	case err == nil:
		return Go(jobPath(v.Job.Number), p.say(a, "job.closed-now", v.Job.Number)), nil
	case fault.Is(err, fault.Refused):
		err = fault.New(fault.Refused, "%s", p.say(a, "close.refused", a.jobNumber())).WithHint("%s", p.say(a, "close.refused-hint"))
	}
	return p.jobAgain(a, "closejob", err)
}

func (p *Pages) reopenJob(a *Ask) (Reply, error) {
	v, err := p.shop.ReopenJob(a.R.Context(), a.By, a.jobNumber(), a.Value("why"))
	if err != nil {
		return p.jobAgain(a, "job", err)
	}
	return Go(jobPath(v.Job.Number), p.say(a, "job.reopened", v.Job.Number)), nil
}

func (p *Pages) hold(a *Ask) (Reply, error) {
	h, err := p.shop.Hold(a.R.Context(), a.By, a.jobNumber(), a.Value("what"))
	if err != nil {
		return p.jobAgain(a, "job", err)
	}
	return Go(jobPath(a.jobNumber()), p.say(a, "job.is-held", h.What)), nil
}

func (p *Pages) giveHeld(a *Ask) (Reply, error) {
	a.By.Key = also(a.By.Key, a.Value("thing"))
	h, err := p.shop.GiveHeld(a.R.Context(), a.By, a.jobNumber(), a.Value("thing"), cmp.Or(a.Value("to"), p.say(a, "job.customer")))
	if err != nil {
		return p.jobAgain(a, "job", err)
	}
	return Go(jobPath(a.jobNumber()), p.say(a, "job.is-given", h.What, h.GivenTo)), nil
}

// answerFinding answers for a finding on the page where its job is closed.
func (p *Pages) answerFinding(a *Ask) (Reply, error) {
	f, err := p.shop.AnswerFinding(a.R.Context(), a.By, a.Param("id"), model.AnswerFinding{Answer: a.Value("answer"), Where: a.Value("where"), Who: a.Value("who"), Told: a.Value("told"), InSet: a.Value("in_set") != ""})
	if err == nil {
		below := []string{}
		if a.Value("back") == "close" {
			below = append(below, "close")
		}
		return Go(jobPath(f.JobNumber, below...), p.say(a, "finding.answered", f.ID)), nil
	}
	d, bad := p.jobData(a, a.Value("job"))
	if bad != nil {
		return Reply{}, err
	}
	d.FindingID = a.Param("id")
	page := "job"
	if a.Value("back") == "close" {
		page = "closejob"
	}
	r := a.Again(page, d, err)
	r.title = p.say(a, "job.head", d.Job.Number)
	return r, nil
}

// lookWords says before what it was asked.
func lookWords(lang words.Language, m jobs.Moment) string {
	return words.Say(lang, "allback.before."+string(m))
}
