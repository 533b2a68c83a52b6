package page

import (
	"cmp"
	"encoding/base64"
	"encoding/json"
	"maps"
	"net/url"
	"strconv"
	"strings"
	"sync"
	"time"

	"pawl/api/board"
	"pawl/model"
	"pawl/model/custody"
	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/numbers"
	"pawl/model/people"
	"pawl/model/register"
)

func (p *Pages) boardRoutes() []Route {
	return []Route{get("/board", p.boardPage), post("/board", p.boardScan)}
}

// What the board remembers between two scans is kept on the device, where no script
// reads it. The badge is in a cookie of its own, which is gone when taking ends.
const (
	boardCookie  = "board"
	badgeCookie  = "board-badge"
	boardSeconds = 600
)

// boardKept is the longer-lived cookie: all but the badge, and what was said last.
type boardKept struct {
	State  board.State
	Said   string
	Tone   board.Outcome
	Number string
	Kind   string // of the tool that was taken or came back, for its cautions
}

// badgeKept is the other.
type badgeKept struct {
	Badge, Name string
	Opened      time.Duration
}

// boardData is what the page shows, and what its own script is told of a scan.
type boardData struct {
	Said   string
	Tone   board.Outcome
	Number numbers.Number // of the tool that it was about; empty: none
	Taking string         // who takes, and for what
	Left   int64          // milliseconds until taking ends; 0: no badge is open
	Name   string         // of the holder of the badge
	Job    string
	Now    int64  // milliseconds since 1970, on the clock of the shop
	Hosts  string // of links on labels of this shop, with spaces between
	Undo   *boardUndo
	Back   string // path of the page that asks whether all is back from the job
	Own    bool   // the device is somebody's own
	Shell  bool   // the page is one to be kept on the device, and says nothing of now

	Cautions []string // of the tool that was taken or came back
}

// boardUndo names the act that an undo takes back: its replay key, its tool, and since
// when custody is as it left it.
type boardUndo struct {
	Key    string `json:"key"`
	Number string `json:"number"`
	Since  string `json:"since"`
}

// Text is how the page's own script reads it.
func (u *boardUndo) Text() string {
	raw, err := json.Marshal(u)
	if u == nil || err != nil {
		return ""
	}
	return string(raw)
}

func (p *Pages) boardPage(a *Ask) (Reply, error) {
	if a.Query("kept") != "" { // for a device to show without a connection
		d := p.boardView(a, &board.Board{Hosts: p.ownHosts(a)}, boardKept{})
		d.Shell = true
		return Show("board", d), nil
	}
	b, kept := p.boardOf(a)
	b.Ended(p.boardTime())
	return Show("board", p.boardView(a, b, kept)), nil
}

// boardTime is the shop's clock as the machine counts time.
func (p *Pages) boardTime() time.Duration {
	return time.Duration(p.shop.Now().UnixMicro()) * time.Microsecond
}

// boardOf is the machine with what this device remembers.
func (p *Pages) boardOf(a *Ask) (*board.Board, boardKept) {
	var kept boardKept
	var badge badgeKept
	a.remembered(boardCookie, &kept)
	a.remembered(badgeCookie, &badge)
	b := &board.Board{State: kept.State, Hosts: p.ownHosts(a), Typed: true}
	b.Badge, b.Name, b.Opened = badge.Badge, badge.Name, badge.Opened
	return b, kept
}

// ownHosts are those that links on the labels of this shop lead to.
func (p *Pages) ownHosts(a *Ask) []string {
	hosts := []string{strings.ToLower(a.R.Host)}
	if set, err := p.shop.Settings(a.R.Context()); err == nil {
		if own, err := url.Parse(set.Address); err == nil && own.Host != "" {
			hosts = append(hosts, strings.ToLower(own.Host))
		}
	}
	return hosts
}

// remembered reads what remember kept; what cannot be read is nothing.
func (a *Ask) remembered(cookie string, into any) {
	c, err := a.R.Cookie(cookie)
	if err != nil {
		return
	}
	if raw, err := base64.RawURLEncoding.DecodeString(c.Value); err == nil {
		_ = json.Unmarshal(raw, into)
	}
}

func (a *Ask) remember(cookie string, what any, seconds int) {
	raw, err := json.Marshal(what)
	if err != nil || len(raw) > 2500 { // a cookie holds 4 kB at most, in base 64
		raw, seconds = nil, -1
	}
	a.setCookie(cookie, base64.RawURLEncoding.EncodeToString(raw), seconds)
}

// rememberBoard keeps on this device what the next scan has to know.
func (p *Pages) rememberBoard(a *Ask, b *board.Board, kept boardKept) {
	ends, open := b.Ends()
	if left := int((ends - p.boardTime()) / time.Second); open && left >= 0 {
		a.remember(badgeCookie, badgeKept{b.Badge, b.Name, b.Opened}, left+1)
	} else {
		a.setCookie(badgeCookie, "", -1)
	}
	kept.State = b.State
	kept.State.Badge, kept.State.Name, kept.State.Opened = "", "", 0
	if len(kept.State.Code) > 400 { // of a foreign code the beginning tells enough
		kept.State.Code = kept.State.Code[:400]
	}
	a.remember(boardCookie, kept, boardSeconds)
}

func (p *Pages) boardView(a *Ask, b *board.Board, kept boardKept) boardData {
	now := p.boardTime()
	d := boardData{Said: kept.Said, Tone: kept.Tone, Job: b.Job, Name: b.Name, Now: now.Milliseconds(), Hosts: strings.Join(b.Hosts, " "), Own: a.Me().Role == people.Technician}
	if n, err := numbers.ParseExact(kept.Number); err == nil {
		d.Number = n
	}
	if b.Last.Since != "" {
		d.Undo = &boardUndo{b.Last.Key, b.Last.Number, b.Last.Since}
	}
	var taking []string
	if ends, open := b.Ends(); open {
		d.Left = (ends - now).Milliseconds()
		taking = append(taking, p.say(a, "board.open", b.Name, strconv.Itoa(int(board.Taking/time.Second))))
	}
	if b.Job != "" {
		taking = append(taking, p.say(a, "board.for", b.Job))
		if _, err := p.shop.Job(a.R.Context(), a.By, b.Job); err == nil { // else the first tool opens it
			d.Back = jobPath(b.Job, "allback")
		}
	}
	if b.Card == "RETURN" {
		taking = append(taking, p.say(a, "board.return"))
	}
	for _, c := range register.Cautions(kept.Kind) {
		d.Cautions = append(d.Cautions, cautionWords(a.language(), c))
	}
	d.Taking = strings.Join(taking, " ")
	return d
}

// boardScan takes one scan, and tells what came of it. One that waited on the device
// carries what was so when it was scanned, and is no scan of the board as it is now.
func (p *Pages) boardScan(a *Ask) (Reply, error) {
	code, happened := a.Value("code"), a.Value("happened")
	if a.Value("undo") != "" {
		code = "CARD:UNDO"
	}
	b, kept := p.boardOf(a)
	if happened != "" {
		b.State = p.thenSo(a)
	}
	if code == "" {
		b.Ended(p.boardTime())
		return a.Again("board", p.boardView(a, b, kept), fault.At("#/code", "%s", p.say(a, "board.ready"))), nil
	}
	unknown, err := p.boardTold(a, b, code)
	if err != nil {
		return Reply{}, err
	}
	o, end := board.Order{}, unknown
	if unknown.outcome == "" {
		if o, err = p.boardNamed(a, b, code); err == nil {
			end, err = p.boardDo(a, b, o, happened)
		}
	}
	if err != nil { // nothing was decided: it is sent again, as the same scan
		return Reply{}, err
	}
	told := kept
	told.Said, told.Tone, told.Number, told.Kind = end.said.In(a.language()), end.outcome, o.Number, end.kind
	if happened == "" {
		p.rememberBoard(a, b, told)
	} else if end.outcome == board.Done { // of what waited: that it can be undone now
		kept.State.Last = b.Last
		a.remember(boardCookie, kept, boardSeconds)
	}
	return Reply{to: "/board", script: p.boardView(a, b, told)}, nil
}

// boardTold sets what was so on the device when something was scanned, where it says
// so: the shop may not have been told of a badge, a job or a card. A badge that nobody
// has is an end of its own, unless the scan is of another badge, which closes it anyway.
func (p *Pages) boardTold(a *Ask, b *board.Board, code string) (boardEnd, error) {
	if a.Value("told") == "" {
		return boardEnd{}, nil
	}
	now, badge := p.boardTime(), a.Value("under")
	left, err := strconv.Atoi(cmp.Or(a.Value("left"), "0"))
	if open := time.Duration(left) * time.Millisecond; err != nil || open < 0 || open > board.Taking {
		return boardEnd{}, fault.At("#/left", "%q is no number of milliseconds up to %d", a.Value("left"), board.Taking.Milliseconds())
	}
	name := ""
	if strings.EqualFold(badge, b.Badge) {
		name = b.Name
	}
	b.Code = "" // what is one scan is known there
	b.Badge, b.Name, b.Opened = strings.ToUpper(badge), name, now-board.Taking+time.Duration(left)*time.Millisecond
	b.Job, b.Named, b.Card, b.Carded = a.Value("job"), now, a.Value("card"), now
	s, bad := numbers.ParseSymbol(code)
	if badge == "" || name != "" || bad == nil && s.Kind == numbers.Badge && !strings.EqualFold("B/"+s.Code, badge) {
		return boardEnd{}, nil
	}
	by, _, err := p.badged(a, badge)
	if err != nil {
		return p.boardRefused(a, b, board.Order{Kind: board.Who, Code: badge}, err)
	}
	b.Name = by.Name
	return boardEnd{}, nil
}

// boardNamed is what a scan leads to. An undo names the act that it takes back: the
// page's own script does so in full, a form by its key, which must be that of the last
// act here.
func (p *Pages) boardNamed(a *Ask, b *board.Board, code string) (board.Order, error) {
	switch of := a.Value("of"); {
	case a.Value("of-since") != "":
		b.Last = board.Act{Number: a.Value("of-number"), Since: a.Value("of-since"), Key: of}
	case of != "" && of != b.Last.Key && a.Value("undo") != "":
		return b.NotLast(), nil
	}
	return b.Scan(code, p.boardTime()), nil
}

// thenSo is the board as it was when something was scanned that waited.
func (p *Pages) thenSo(a *Ask) board.State {
	now := p.boardTime()
	return board.State{Badge: a.Value("under"), Opened: now, Job: a.Value("job"), Named: now, Card: a.Value("card"), Carded: now}
}

// boardEnd is how a scan ended; kind is that of the tool with which something was
// done.
type boardEnd struct {
	outcome board.Outcome
	said    board.Said
	kind    string
}

// boardDo asks the shop for what a scan leads to. An error leaves it open what the
// shop would have said.
func (p *Pages) boardDo(a *Ask, b *board.Board, o board.Order, happened string) (boardEnd, error) {
	now := p.boardTime()
	var err error
	switch o.Kind {
	case board.Nothing:
		return boardEnd{o.Outcome, o.Said, ""}, nil
	case board.Who:
		var by model.By
		if by, _, err = p.badged(a, o.Code); err == nil {
			return boardEnd{board.Done, b.Open(o.Code, by.Name, now), ""}, nil
		}
	case board.Whether:
		j, missing := p.shop.Job(a.R.Context(), a.By, o.Job)
		switch {
		case missing == nil && j.Closed != 0:
			return boardEnd{board.Failed, board.Closed(j.Number, p.clockOf(a).When(j.Closed)), ""}, nil
		case missing == nil || fault.Is(missing, fault.NotFound):
			return boardEnd{board.Done, b.Attach(o.Job, missing != nil, likeJobs(missing), now), ""}, nil
		}
		err = missing
	case board.Look:
		var v model.ToolView
		if v, err = p.shop.Tool(a.R.Context(), a.By, o.Number); err == nil {
			tool := strings.Join(strings.Fields(v.Tool.Number.String()+" "+v.Tool.Kind+" "+v.Tool.Maker+" "+v.Tool.Model), " ")
			return boardEnd{board.Asks, board.Shown(o, tool), ""}, nil
		}
		b.Offer = "" // what was not shown is not confirmed
	default:
		return p.boardAct(a, b, o, happened)
	}
	return p.boardRefused(a, b, o, err)
}

// likeJobs are the jobs that may have been meant by one that is not there.
func likeJobs(missing error) string {
	if f := fault.Of(missing); f != nil {
		return f.Facts["like"]
	}
	return ""
}

// boardAct does an act. When the clocks disagree about when it was, that it was done
// is more than that.
func (p *Pages) boardAct(a *Ask, b *board.Board, o board.Order, happened string) (boardEnd, error) {
	by, to, err := p.badged(a, o.Badge)
	if err != nil {
		return p.boardRefused(a, b, o, err)
	}
	o.Name = by.Name
	done, err := p.boardAsk(a, by, to, o, happened)
	if f := fault.Of(err); happened != "" && f != nil && f.Kind == fault.Invalid && len(f.Fields) == 1 && f.Fields[0].Pointer == "#/happened" {
		done, err = p.boardAsk(a, by, to, o, "")
	}
	if err != nil {
		return p.boardRefused(a, b, o, err)
	}
	d := board.Did{Number: done.Number.String(), What: strings.Join(strings.Fields(done.Kind+" "+done.Maker+" "+done.Model), " "),
		Person: done.Custody.Person, Job: done.Custody.Job, Since: done.Custody.Since.String()}
	if _, out := custody.DoNotUse(done.Wrongs); out {
		d.DoNotUse = reasonWords(a.language(), done.Wrongs)
	}
	return boardEnd{board.Done, b.Did(o, a.By.Key, d), done.Kind}, nil
}

func (p *Pages) boardAsk(a *Ask, by model.By, to string, o board.Order, happened string) (model.Done, error) {
	ctx := a.R.Context()
	switch o.Kind {
	case board.Take:
		return p.shop.Take(ctx, by, o.Number, model.Take{To: to, Job: o.Job, Happened: happened})
	case board.Return:
		return p.shop.Return(ctx, by, o.Number, model.Return{Happened: happened})
	}
	return p.shop.Undo(ctx, by, o.Number, model.Undo{Since: o.Since, Happened: happened})
}

// badged is whoever acts under a badge, and who gets a tool where that must be said.
// At a shop device the badge names them; at a device of somebody's own, the badge of
// those whom they may take for. No badge is no name.
func (p *Pages) badged(a *Ask, badge string) (by model.By, to string, err error) {
	by = a.By
	switch {
	case badge == "":
		by.Name = ""
		return by, "", nil
	case a.Me().MayBeBoard():
		by.Actor, err = p.shop.ShowBadge(a.R.Context(), a.Me(), badge)
		return by, "", err
	}
	all, err := p.shop.People(a.R.Context(), a.By)
	if err != nil {
		return by, "", err
	}
	for _, other := range all {
		if other.Badge != "" && strings.EqualFold("B/"+other.Badge, badge) && other.Role != people.Viewer {
			by.Name = other.Name
			return by, other.Name, nil
		}
	}
	return by, "", fault.New(fault.Forbidden, "%s", p.say(a, "board.badge.others"))
}

// boardRefused tells why the shop did not do what was ordered.
func (p *Pages) boardRefused(a *Ask, b *board.Board, o board.Order, err error) (boardEnd, error) {
	if !replayable(err) || fault.Is(err, fault.Throttled) {
		return boardEnd{}, err
	}
	f := *fault.Of(err)
	clock := sync.OnceValue(func() view { return p.clockOf(a) })
	f.Message, f.Facts = faultWords(a.language(), forScreen(f.Message)), maps.Clone(f.Facts)
	f.Message = instant().ReplaceAllStringFunc(f.Message, func(at string) string { return clock().instantInWords(at) })
	if why := f.Facts["do_not_use"]; why != "" {
		reasons := strings.Split(why, ", ")
		for i, r := range reasons {
			reasons[i] = word(a.language(), "wrong.", r)
		}
		f.Facts["do_not_use"] = strings.Join(reasons, ", ")
	}
	outcome, said := b.Refused(o, &f, func(since string) string {
		at, bad := time.Parse(time.RFC3339, since)
		if bad != nil {
			return since
		}
		return clock().When(dates.InstantOf(at))
	})
	return boardEnd{outcome, said, ""}, nil
}
