package cli

import (
	"context"
	"net/url"
	"os"
	"strconv"
	"strings"
	"time"

	"github.com/urfave/cli/v2"

	"pawl/api/board"
	"pawl/api/wire"
	"pawl/model/fault"
)

type boardOptions struct {
	queue string        // file for what cannot be sent
	host  string        // of the server; empty: the shop is here
	limit time.Duration // for one answer
	wait  time.Duration // at the end, for what could not be sent
	old   string        // what to do with what is too old: send or drop
	as    string        // whose name was taken at this computer
}

const (
	oldSend = "send"
	oldDrop = "drop"
)

func (p *program) boardCommand() *cli.Command {
	return &cli.Command{
		Name: "board", Usage: "take and return with a scanner: a badge opens taking for 30 s, else a scan is a return",
		Description: `pawl board
pawl --server https://tools.example --token-file board.token board
pawl board --json < scans.txt
pawl board --old drop < scans.txt`,
		Flags: []cli.Flag{
			&cli.DurationFlag{Name: "wait", Usage: "at the end, try for `TIME` to send what could not be sent", Value: 10 * time.Second},
			value("old", "what could not be sent for over 25 days: `DO` send or drop; else it stays, and is told"),
		},
		Action: action(p, p.parseBoard, runBoard),
	}
}

// answerLimit is how long a board waits for an answer unless told otherwise: who
// stands before it with a tool in the hand does not wait a minute.
const answerLimit = 5 * time.Second

func (p *program) parseBoard(c *cli.Context) (o boardOptions, err error) {
	if err := noOperands(c); err != nil {
		return o, err
	}
	o.wait, o.old, o.as = c.Duration("wait"), c.String("old"), c.String("as")
	if o.old != "" && o.old != oldSend && o.old != oldDrop {
		return o, fault.New(fault.Malformed, "--old is %q", o.old).WithHint("use send or drop; without it they stay where they are")
	}
	if !c.IsSet("timeout") {
		o.limit = answerLimit
	}
	if at, err := url.Parse(c.String("server")); err == nil {
		o.host = strings.ToLower(at.Host)
	}
	o.queue, err = queuePath(c, p, os.Getenv)
	return o, err
}

func runBoard(ctx context.Context, s *session, o boardOptions) error {
	if o.limit > 0 {
		s.client.Timeout = o.limit
	}
	q, err := openQueue(o.queue)
	if err != nil {
		return err
	}
	defer q.close()
	r := &boardRun{s: s, q: q, start: time.Now(), options: o}
	if err := r.meet(ctx); err != nil {
		return err
	}
	r.takeUp()
	if s.inTerminal {
		s.note("ready to scan: a badge, then tools to take; without a badge a tool comes back; end with Ctrl-D")
	}
	return r.run(ctx)
}

// boardRun is a board at work.
type boardRun struct {
	s       *session
	board   board.Board
	q       *queue
	start   time.Time
	options boardOptions

	told   time.Time // by the shop's clock, the last time that it told
	heard  time.Time // when it told
	met    bool
	zone   *time.Location // the shop's, for sentences; nil where a program reads them
	again  time.Time      // when what waits is tried again
	pause  time.Duration
	tries  map[string]int // by key, of what the server failed at
	lasted map[string]string

	kept    board.Act // what is on disk of what an undo would take back
	forgets bool      // it could not be kept, and that was told

	asked *result // a question that nobody has confirmed yet, where nobody reads it

	total, failed int
	first         error
	firstScan     string
}

// meet asks whom the shop takes this board for, where its labels lead to, and what
// time it is there. A shop that cannot be reached is met later.
func (r *boardRun) meet(ctx context.Context) error {
	r.tries, r.lasted = map[string]int{}, map[string]string{}
	r.board.Typed = r.s.inTerminal
	if r.options.host != "" {
		r.board.Hosts = append(r.board.Hosts, r.options.host)
	}
	who, err := r.s.client.Whoami(ctx)
	if cannotSend(err) {
		r.s.note("the shop cannot be reached now: scans are kept here, and sent later")
		return nil
	}
	if err == nil && who.Person != nil {
		err = fault.New(fault.Forbidden, "this way in is %s's own, and a board is the shop's: badges say who takes", *who.Person).
			WithHint("%s", r.nobodys())
	}
	if err != nil {
		return err
	}
	if settings, _, err := r.s.client.Settings(ctx); err == nil {
		if at, err := url.Parse(settings.Address); err == nil && at.Host != "" {
			r.board.Hosts = append(r.board.Hosts, strings.ToLower(at.Host))
		}
		if zone, err := time.LoadLocation(settings.Zone); err == nil && !r.s.json {
			r.zone, r.s.zone = zone, func() *time.Location { return zone } // kept: the line may be cut when it is needed
		}
	}
	if clock, err := r.s.client.Clock(ctx); err == nil {
		r.hear(clock.Now)
	}
	r.met = true
	return nil
}

// nobodys says how a board asks in the shop's own name.
func (r *boardRun) nobodys() string {
	if r.options.as != "" {
		return "leave out --as " + r.options.as + ": at this computer badges say who takes"
	}
	return "make a token that is nobody's own, pawl token add board --role technician -o board.token, and give it with --token-file board.token"
}

// hear notes what time the shop told.
func (r *boardRun) hear(at instant) { r.told, r.heard = at.Time(), time.Now() }

// shopTime is a moment here on the shop's clock: never ahead of it, never before what
// it told earlier, and untouched by what is done to the clock here. A shop that told
// nothing yet is taken to agree with the clock here.
func (r *boardRun) shopTime(at time.Time) time.Time {
	if r.told.IsZero() {
		return at
	}
	return r.told.Add(at.Sub(r.heard))
}

// happened is the shop's time of a scan here.
func (r *boardRun) happened(at time.Time) string {
	return r.shopTime(at).UTC().Format("2006-01-02T15:04:05.000000Z")
}

func (r *boardRun) since(at time.Time) time.Duration { return at.Sub(r.start) }

// run takes scans as they come, ends what has lasted its time, and sends what waits.
func (r *boardRun) run(ctx context.Context) error {
	if err := r.old(); err != nil {
		return err
	}
	if err := r.flush(ctx); err != nil {
		return err
	}
	lines := scanLines(ctx, r.s.in)
	for {
		alarm := time.NewTimer(r.until())
		select {
		case <-ctx.Done():
			alarm.Stop()
			return ctx.Err()
		case scan, more := <-lines:
			alarm.Stop()
			if !more {
				return r.end(ctx)
			}
			if err := r.scan(ctx, scan); err != nil {
				return err
			}
		case <-alarm.C:
			if err := r.tick(ctx, len(lines) > 0); err != nil {
				return err
			}
		}
	}
}

// until is how long nothing falls due.
func (r *boardRun) until() time.Duration {
	next := time.Hour
	if ends, open := r.board.Ends(); open {
		next = min(next, ends-r.since(time.Now()))
	}
	if r.sendable() {
		next = min(next, time.Until(r.again))
	}
	return max(next, time.Millisecond)
}

// tick does what falls due. A scan that came in time is taken first.
func (r *boardRun) tick(ctx context.Context, more bool) error {
	if more {
		return nil
	}
	if said, ended := r.board.Ended(r.since(time.Now())); ended {
		if err := r.tell(result{done: "ended", said: said.English()}); err != nil {
			return err
		}
	}
	return r.flush(ctx)
}

// scan takes one line. It returns an error only where going on makes no sense.
func (r *boardRun) scan(ctx context.Context, in arrived) error {
	if ctx.Err() != nil {
		return ctx.Err()
	}
	r.total++
	defer r.remember()
	offer := r.board.Offer
	o := r.board.Scan(in.text, r.since(in.at))
	if o.Outcome != board.Same {
		r.answered(o.Outcome != board.Asks && offer == r.board.Code)
	}
	switch o.Kind {
	case board.Nothing:
		return r.tell(result{scan: in.text, outcome: o.Outcome, done: "card", said: o.Said.English(), number: o.Number})
	case board.Who:
		return r.whose(ctx, in, o)
	case board.Whether:
		return r.whether(ctx, in, o)
	case board.Look:
		return r.look(ctx, in, o)
	}
	return r.act(ctx, in, o)
}

// whose asks whose badge was scanned.
func (r *boardRun) whose(ctx context.Context, in arrived, o board.Order) error {
	who, err := r.s.client.WhoseBadge(ctx, o.Code)
	if err != nil && !cannotSend(err) || fault.Is(err, fault.Throttled) {
		return r.refused(ctx, in.text, o, err)
	}
	said := r.board.Open(o.Code, text(who.Person), r.since(in.at))
	return r.tell(result{scan: in.text, outcome: board.Done, done: "badge", said: said.English()})
}

// whether asks whether a job takes tools still.
func (r *boardRun) whether(ctx context.Context, in arrived, o board.Order) error {
	job, err := r.s.client.Job(ctx, o.Job)
	switch {
	case err == nil && job.Closed != 0:
		closed := fault.New(fault.Conflict, "%s", board.Closed(o.Job, r.when(job.Closed.String())).English()).WithFact("since", job.Closed.String())
		return r.tell(result{scan: in.text, outcome: board.Failed, said: closed.Message, err: closed})
	case err != nil && !fault.Is(err, fault.NotFound) && !cannotSend(err):
		return r.refused(ctx, in.text, o, err)
	}
	like := ""
	if f := fault.Of(err); f != nil {
		like = f.Facts["like"]
	}
	said := r.board.Attach(o.Job, fault.Is(err, fault.NotFound), like, r.since(in.at))
	return r.tell(result{scan: in.text, outcome: board.Done, done: "job", said: said.English()})
}

// look shows the tool before a number is acted on.
func (r *boardRun) look(ctx context.Context, in arrived, o board.Order) error {
	t, _, err := r.s.client.Tool(ctx, o.Number)
	if err != nil {
		r.board.Offer = "" // what was not shown is not confirmed
		return r.refused(ctx, in.text, o, err)
	}
	said := board.Shown(o, strings.Join(strings.Fields(t.Number+" "+t.Kind+" "+t.Maker+" "+t.Model), " "))
	return r.tell(result{scan: in.text, outcome: board.Asks, said: said.English(), number: o.Number})
}

// refused tells why the shop did not do what was ordered.
func (r *boardRun) refused(ctx context.Context, scan string, o board.Order, err error) error {
	err = r.s.inShopTime(ctx, err)
	outcome, said := r.board.Refused(o, err, r.when)
	return r.tell(result{scan: scan, outcome: outcome, said: said.English(), number: o.Number, err: err})
}

// when writes an instant that a fault told.
func (r *boardRun) when(told string) string {
	at, err := time.Parse(time.RFC3339, told)
	if err != nil || r.zone == nil {
		return told
	}
	return at.In(r.zone).Format("2006-01-02 15:04")
}

// did makes of an answer what the machine tells.
func did(d wire.Done) board.Did {
	out := board.Did{Number: d.Number, What: strings.Join(strings.Fields(d.Kind+" "+d.Maker+" "+d.Model), " "),
		Person: text(d.Custody.Person), Job: text(d.Custody.Job), Since: d.Custody.Since.String()}
	if d.DoNotUse != nil {
		out.DoNotUse = d.DoNotUse.Reason
	}
	return out
}

// end sends what waits, and sums up.
func (r *boardRun) end(ctx context.Context) error {
	for stop := time.Now().Add(r.options.wait); r.sendable(); {
		if err := r.flush(ctx); err != nil || !r.sendable() {
			if err != nil {
				return err
			}
			break
		}
		left := min(time.Until(r.again), time.Until(stop))
		if left <= 0 {
			break
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(left):
		}
	}
	return r.sum()
}

// answered settles the question before, if there is one: in a pipe nobody reads it,
// and one that the same scan did not confirm left something undone.
func (r *boardRun) answered(confirmed bool) {
	if r.asked != nil && !confirmed {
		if r.failed++; r.first == nil {
			r.first, r.firstScan = fault.New(fault.Invalid, "asked, and not confirmed: %s", r.asked.said), r.asked.scan
		}
	}
	r.asked = nil
}

// sum is how the board exits: with the first failure, else with what waits still. A
// question that is open then is one.
func (r *boardRun) sum() error {
	r.answered(false)
	kept := len(r.q.acts)
	waits := ""
	if kept > 0 {
		waits = board.Waits(strconv.Itoa(kept)).English()
	}
	if r.first != nil {
		f := *fault.Of(r.first)
		f.Message = joined(" ", strconv.Itoa(r.failed)+" of "+strconv.Itoa(r.total)+" failed; the first, "+fault.Clip(r.firstScan)+": "+f.Message, waits)
		return &f
	}
	if kept > 0 {
		return fault.New(fault.Unavailable, "%s", strings.TrimSuffix(waits, ".")).WithHint("start the board again to send it")
	}
	return nil
}
