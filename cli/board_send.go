package cli

import (
	"context"
	"crypto/rand"
	"time"

	"pawl/api/board"
	"pawl/api/client"
	"pawl/api/wire"
	"pawl/model/fault"
)

// What waits is tried again after half a second, then after twice as long, up to
// half a minute.
const (
	firstPause = 500 * time.Millisecond
	lastPause  = 30 * time.Second
	// mostTries is how often an act is sent that makes the server fail.
	mostTries = 5
	// tooOld is when a person is asked: the shop forgets replay keys after 30 days.
	tooOld = 25 * 24 * time.Hour
)

// cannotSend says whether a failure leaves it open what the shop would have said.
func cannotSend(err error) bool {
	return fault.Is(err, fault.Unavailable) || fault.Is(err, fault.Throttled) || fault.Is(err, fault.Internal)
}

// act asks for an act under a key of its own, after all that waits; what cannot be
// sent is kept.
func (r *boardRun) act(ctx context.Context, in arrived, o board.Order) error {
	w := waiting{Key: rand.Text(), Scan: in.text, Kind: o.Kind, Number: o.Number, Badge: o.Badge, Name: o.Name, Job: o.Job,
		Since: o.Since, Of: o.Of, Happened: r.happened(in.at)}
	if r.sendable() && !time.Now().Before(r.again) {
		if err := r.flush(ctx); err != nil {
			return err
		}
	}
	if r.sendable() {
		return r.keep(w, o)
	}
	done, err := r.send(ctx, w, "")
	switch {
	case cannotSend(err):
		r.later()
		return r.keep(w, o)
	case err != nil:
		return r.refused(ctx, in.text, o, err)
	}
	r.hear(done.Custody.Since) // it was just then
	said := r.board.Did(o, w.Key, did(done))
	r.s.openedJob(done.NewJob)
	r.s.note(done.Advice...)
	return r.tell(result{scan: in.text, outcome: board.Done, done: string(o.Kind), said: said.English(), number: done.Number, custody: &done.Custody, advice: done.Advice,
		newJob: done.NewJob})
}

// send asks for an act; happened is when it was, where it is sent late.
func (r *boardRun) send(ctx context.Context, w waiting, happened string) (done wire.Done, err error) {
	options := []client.Option{client.Key(w.Key), client.Badge(w.Badge)}
	switch w.Kind {
	case board.Take:
		done, err = r.s.client.Take(ctx, w.Number, wire.Take{Job: w.Job, Happened: happened}, options...)
	case board.Return:
		done, err = r.s.client.Return(ctx, w.Number, wire.Return{Happened: happened}, options...)
	default:
		since := w.Since
		if since == "" {
			since = r.q.since[w.Of]
		}
		if since == "" {
			return done, fault.New(fault.Conflict, "%s", board.Undone().English())
		}
		done, err = r.s.client.Undo(ctx, w.Number, wire.Undo{Since: since, Happened: happened}, options...)
	}
	if err == nil {
		r.lasted[w.Number] = done.Custody.Since.String()
	}
	return done, err
}

// keep puts an act on disk, and then says so.
func (r *boardRun) keep(w waiting, o board.Order) error {
	if err := r.q.add(w); err != nil {
		return r.tell(result{scan: w.Scan, outcome: board.Failed, said: "NOT KEPT: " + fault.Of(err).Message, number: w.Number, err: err})
	}
	return r.tell(result{scan: w.Scan, outcome: board.Kept, said: r.board.Keeps(o, w.Key).English(), number: w.Number})
}

// later puts the next try off.
func (r *boardRun) later() {
	r.pause = min(max(2*r.pause, firstPause), lastPause)
	r.again = time.Now().Add(r.pause)
}

// aged says whether an act waited too long to be sent without a look.
func (r *boardRun) aged(w waiting) bool {
	at, err := time.Parse(time.RFC3339, w.Happened)
	return err != nil || r.shopTime(time.Now()).Sub(at) > tooOld
}

// sendable says whether anything waits that may be sent.
func (r *boardRun) sendable() bool {
	for _, w := range r.q.acts {
		if r.options.old == oldSend || !r.aged(w) {
			return true
		}
	}
	return false
}

// old tells of what waited too long, and does with it what was said.
func (r *boardRun) old() error {
	for _, w := range append([]waiting(nil), r.q.acts...) {
		if !r.aged(w) || r.options.old == oldSend {
			continue
		}
		f := fault.New(fault.Stale, "%s", board.Old(w.Kind, w.Number, r.when(w.Happened)).English()).
			WithHint("then give --old send, or --old drop")
		told := result{scan: w.Scan, outcome: board.Failed, said: f.Message, number: w.Number, err: f, late: true, earlier: r.q.earlier[w.Key]}
		if r.options.old == oldDrop {
			told = result{scan: w.Scan, outcome: board.Done, done: "dropped", said: "Dropped. " + f.Message, number: w.Number, late: true, earlier: r.q.earlier[w.Key]}
			if err := r.q.over(w.Key, ""); err != nil {
				return err
			}
		}
		if err := r.tell(told); err != nil {
			return err
		}
	}
	return nil
}

// flush sends what waits, oldest first, until one cannot be sent.
func (r *boardRun) flush(ctx context.Context) error {
	if time.Now().Before(r.again) {
		return nil
	}
	for _, w := range append([]waiting(nil), r.q.acts...) {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if r.aged(w) && r.options.old != oldSend {
			continue
		}
		if !r.met {
			if err := r.meet(ctx); err != nil {
				return err
			}
		}
		done, err := r.send(ctx, w, latest(w.Happened, r.lasted[w.Number]))
		if f := fault.Of(err); f != nil && f.Kind == fault.Invalid && len(f.Fields) == 1 && f.Fields[0].Pointer == "#/happened" {
			done, err = r.send(ctx, w, "") // the clocks disagree: that it was done is more than when
		}
		if r.tries[w.Key]++; fault.Is(err, fault.Unauthenticated) || cannotSend(err) && !(fault.Is(err, fault.Internal) && r.tries[w.Key] >= mostTries) {
			r.later()
			return nil
		}
		r.pause = 0
		if err := r.settled(w, done, r.s.inShopTime(ctx, err)); err != nil {
			return err
		}
	}
	return nil
}

// latest is the later of two instants in RFC 3339; what is none counts for nothing.
func latest(a, b string) string {
	first, err := time.Parse(time.RFC3339, a)
	second, bad := time.Parse(time.RFC3339, b)
	if err != nil || bad == nil && second.After(first) {
		return b
	}
	return a
}

// settled tells what became of an act that waited, and takes it out.
func (r *boardRun) settled(w waiting, done wire.Done, failed error) error {
	since := ""
	told := result{scan: w.Scan, number: w.Number, late: true, earlier: r.q.earlier[w.Key]}
	if failed != nil {
		var said board.Said
		o := board.Order{Kind: w.Kind, Number: w.Number, Name: w.Name, Badge: w.Badge, Job: w.Job}
		told.outcome, said = board.NotDone(o, failed, r.when)
		told.said, told.err = board.Sent(said, "en"), failed
	} else {
		since = done.Custody.Since.String()
		told.outcome, told.done, told.custody, told.advice = board.Done, string(w.Kind), &done.Custody, done.Advice
		told.said, told.newJob = board.Sent(board.Told(w.Kind, did(done)), "en"), done.NewJob
		r.s.openedJob(done.NewJob)
	}
	if err := r.q.over(w.Key, since); err != nil {
		return err
	}
	r.isLast(w, since)
	return r.tell(told)
}

// isLast notes what became of the act that an undo would take back: since when custody
// is as it left it, or that it was not done.
func (r *boardRun) isLast(w waiting, since string) {
	if r.board.Last.Key != w.Key {
		return
	}
	if r.board.Last.Since = since; since == "" {
		r.board.Last = board.Act{}
	}
	r.remember()
}

// result is what became of one scan.
type result struct {
	scan    string // empty: nothing was scanned
	outcome board.Outcome
	done    string // what was done, where it was
	said    string
	number  string
	custody *wire.Custody
	err     error
	late    bool     // it had waited
	earlier bool     // since an earlier board, which was not told what became of it
	advice  []string // cautions of the tool, and what its record lacks; told as notes without --json

	newJob *wire.OpenedJob // that it opened
}

// scanned is a result under --json.
type scanned struct {
	Scan    *string       `json:"scan"` // null: nothing was scanned
	Done    *string       `json:"done"` // null: nothing, or nothing yet
	Said    string        `json:"said"`
	Number  *string       `json:"number,omitempty"`
	Custody *wire.Custody `json:"custody,omitempty"`
	Advice  []string      `json:"advice,omitempty"`
	Problem *problem      `json:"problem,omitempty"`
	Queued  *bool         `json:"queued,omitempty"` // true: it is kept, to be sent; false: it was

	NewJob *wire.OpenedJob `json:"new_job,omitempty"` // that the act opened
}

// tell prints a result, and counts it.
func (r *boardRun) tell(t result) error {
	if t.earlier { // what was scanned here is counted where it was
		r.total++
	}
	if t.outcome == board.Failed {
		if t.err == nil {
			t.err = fault.New(fault.Invalid, "%s", t.said)
		}
		if r.failed++; r.first == nil {
			r.first, r.firstScan = t.err, t.scan
		}
		if r.s.terminal && !r.s.quiet {
			_, _ = r.s.err.Write([]byte("\a"))
		}
	}
	if t.outcome == board.Asks && !r.s.inTerminal {
		r.asked = &t
	}
	if r.s.json {
		return r.s.object(t.object())
	}
	state := string(t.outcome)
	if t.scan == "" {
		state = t.done
	}
	return r.s.changed(t.said, t.scan, state, t.number, t.said)
}

func (t result) object() scanned {
	out := scanned{Said: t.said, Custody: t.custody, Advice: t.advice, NewJob: t.newJob}
	if t.scan != "" {
		out.Scan = &t.scan
	}
	if t.number != "" {
		out.Number = &t.number
	}
	word := t.done
	switch t.outcome {
	case board.Already, board.Same, board.Asks:
		word = string(t.outcome)
	case board.Failed:
		p := problemOf(t.err)
		out.Problem, word = &p, ""
	case board.Kept:
		word = ""
	}
	if word != "" {
		out.Done = &word
	}
	if waits := t.outcome == board.Kept; waits || t.late {
		out.Queued = &waits
	}
	return out
}
