package store

import (
	"context"
	"errors"
	"fmt"
	"sync/atomic"
	"time"

	"gorm.io/gorm"

	"pawl/model/fault"
)

// Act says what is being done, by whom, and under which replay key.
type Act struct {
	Verb  string
	Actor string // as recorded: ids and ways in only
	Key   string // replay key; empty = none
	Print []byte // fingerprint of what was asked, for the replay key
	Long  bool   // takes long: shares its commit with no other, who would wait for it

	Replayed *bool // set, unless nil, when the answer is the one kept
}

// request is one act on its way through the queue.
type request struct {
	ctx   context.Context
	act   Act
	run   func(*Tx) error         // calls the use-case and keeps its answer
	enc   func() ([]byte, error)  // the answer, for the replay key
	dec   func(kept []byte) error // the kept answer instead
	state atomic.Int32
	err   error
	done  chan struct{}
}

// States of a request. Only a queued one can be given up by its caller.
const (
	queued int32 = iota
	started
	abandoned
)

// attempts is how often an act runs when it keeps meeting others.
const attempts = 8

// Write runs fn as one act: everything it puts and the lines about it stand
// together, or nothing does. The caller's ctx is looked at before the act
// begins and never after, so an act that began is finished even when nobody
// waits for it any more. fn may run more than once and must touch nothing but
// its Tx. With a replay key, a repeat gives the first answer again.
func Write[T any](ctx context.Context, d *DB, act Act, fn func(*Tx) (T, error)) (T, error) {
	var answer, none T
	if d.left != "" {
		return none, movedAway(d.left)
	}
	r := newRequest(ctx, act, &answer, fn)
	select {
	case <-d.closed:
		return none, fault.New(fault.Unavailable, "the store is closed")
	case d.queue <- r:
	case <-ctx.Done():
		return none, canceled(ctx.Err())
	}
	select {
	case <-r.done:
	case <-ctx.Done():
		if r.state.CompareAndSwap(queued, abandoned) {
			return none, canceled(ctx.Err())
		}
		<-r.done
	case <-d.closed:
		if r.state.CompareAndSwap(queued, abandoned) {
			return none, fault.New(fault.Unavailable, "the store is closed")
		}
		<-r.done
	}
	if r.err != nil {
		return none, r.err
	}
	return answer, nil
}

// commitLoop takes what is waiting, up to a batch, and commits it together.
func (d *DB) commitLoop() {
	defer d.done.Done()
	for {
		select {
		case <-d.closed:
			return
		case r := <-d.queue:
			batch, long := d.gather(r)
			d.commit(batch)
			if long != nil {
				d.commit([]*request{long})
			}
		}
	}
}

// gather starts r and whatever else waits already, up to one that takes long, which comes
// after the others. A caller that went away while its act was waiting has it dropped here.
func (d *DB) gather(r *request) (batch []*request, long *request) {
	for {
		switch {
		case r.ctx.Err() != nil || !r.state.CompareAndSwap(queued, started):
			r.finish(canceled(context.Cause(r.ctx)))
		case r.act.Long:
			return batch, r
		default:
			batch = append(batch, r)
		}
		if len(batch) >= d.batch {
			return batch, nil
		}
		select {
		case r = <-d.queue:
		default:
			return batch, nil
		}
	}
}

func (r *request) finish(err error) {
	r.err = err
	close(r.done)
}

// commit runs a batch in one transaction, a savepoint each. When the
// transaction itself is lost, nothing of it stands and every act runs alone.
func (d *DB) commit(batch []*request) {
	if len(batch) > 1 {
		results, err := d.transact(batch)
		if err == nil {
			for i, r := range batch {
				r.finish(results[i])
			}
			return
		}
		if d.engine.unsure(err) {
			for _, r := range batch {
				r.finish(maybe(err))
			}
			return
		}
	}
	for _, r := range batch {
		r.finish(d.alone(r))
	}
}

// alone runs one act in its own transaction, again when it met another.
func (d *DB) alone(r *request) error {
	for try := 1; ; try++ {
		results, err := d.transact([]*request{r})
		if err == nil {
			err = results[0]
		} else if d.engine.unsure(err) {
			return maybe(err)
		}
		if err == nil || isFault(err) {
			return err
		}
		if d.engine.full(err) {
			return fault.New(fault.Unavailable, "the disk is full; nothing was changed").WithHint("make room on it, then try again").WithCause(err)
		}
		if !d.engine.again(err) && !errors.Is(err, errMeanwhile) {
			return fault.New(fault.Internal, "the store could not keep it; nothing was changed").
				WithHint("see that the disk has room and the store can be written").WithCause(err)
		}
		if try == attempts {
			return fault.New(fault.Unavailable, "it met other acts %d times", attempts).WithHint("try again").WithCause(err)
		}
		time.Sleep(time.Duration(try*try) * time.Millisecond) // lets the other one end
	}
}

func maybe(err error) error {
	return fault.New(fault.Unavailable, "the store was lost while the act was being kept: it may or may not stand").
		WithHint("ask again under the same key: it is never done twice").WithCause(err)
}

func isFault(err error) bool {
	var f *fault.Error
	return errors.As(err, &f)
}

// transact runs acts in one transaction. Its error means that nothing stands;
// else results holds each act's own.
func (d *DB) transact(batch []*request) (results []error, err error) {
	release, err := d.engine.turn()
	if err != nil {
		return nil, err
	}
	defer release()
	g := d.write.Begin()
	if g.Error != nil {
		return nil, g.Error
	}
	open := true
	defer func() {
		if open {
			g.Rollback()
		}
	}()
	kept := false
	for _, r := range batch {
		wrote, runErr, err := d.within(g, r, len(batch) > 1)
		if err != nil {
			return nil, err
		}
		kept = kept || wrote
		results = append(results, runErr)
	}
	if !kept {
		return results, nil
	}
	open = false
	if err := g.Commit().Error; err != nil {
		return nil, errors.Join(errCommit, err)
	}
	return results, nil
}

// errCommit marks a failure of the commit itself.
var errCommit = errors.New("commit failed")

// within runs one act, under a savepoint when it shares the transaction. Its
// last result means that the transaction is lost.
func (d *DB) within(g *gorm.DB, r *request, shared bool) (wrote bool, failed, lost error) {
	if shared {
		if err := g.SavePoint("act").Error; err != nil {
			return false, nil, err
		}
	}
	tx := newTx(d, d.watch(g.Session(&gorm.Session{NewDB: true})), r.act)
	failed = tx.perform(r)
	if failed != nil && shared {
		if !isFault(failed) {
			// The driver failed, not a rule: only running alone tells what is lost.
			return false, nil, failed
		}
		if err := g.RollbackTo("act").Error; err != nil {
			return false, nil, err
		}
	}
	if shared {
		// One that stays open makes every page that is written dearer.
		if err := g.Exec("RELEASE SAVEPOINT act").Error; err != nil {
			return false, nil, err
		}
	}
	return failed == nil && (len(tx.lines) > 0 || tx.touched), failed, nil
}

// perform runs the act: a kept answer, or the use-case, its lines and its
// answer under the key. A panic of the use-case is an internal fault.
func (tx *Tx) perform(r *request) (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fault.New(fault.Internal, "something went wrong inside Pawl; nothing was changed").
				WithCause(fmt.Errorf("panic in %s: %v", r.act.Verb, p))
		}
	}()
	kept, err := tx.replayed(r.act)
	if err != nil {
		return err
	}
	if r.act.Replayed != nil {
		*r.act.Replayed = kept != nil
	}
	if kept != nil {
		return r.dec(kept)
	}
	if err := r.run(tx); err != nil {
		return tx.unlessMeanwhile(r.act, err)
	}
	if err := tx.indexChanged(); err != nil {
		return err
	}
	if err := tx.dueChanged(); err != nil {
		return err
	}
	if len(tx.lines) == 0 {
		return nil
	}
	first, err := tx.appendLines()
	if err != nil {
		return err
	}
	return tx.keepAnswer(r, first)
}
