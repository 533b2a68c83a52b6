package api

import (
	"net/http"
	"sync/atomic"

	"pawl/api/wire"
	"pawl/model/fault"
)

// crowd counts the requests of a server, so that more than it can do are turned away at
// once and those that it took are answered soon. A request is at work but while it waits
// for its body or for somebody to read its answer: slow people keep nobody out.
type crowd struct {
	most    int64 // at work at once
	working atomic.Int64
	present atomic.Int64
}

// presentPerWork is how many times as many requests may be there, most of them waiting for a
// body, as may be at work.
const presentPerWork = 4

// retryCrowded is after how many seconds to ask again: longer than what is waiting takes.
const retryCrowded = "2"

// enter counts a request in, unless there are too many. Whoever gets true leaves.
func (c *crowd) enter() bool {
	present, working := c.present.Add(1), c.working.Add(1)
	if present <= c.most*presentPerWork && working <= c.most {
		return true
	}
	c.leave()
	return false
}

func (c *crowd) leave() {
	c.working.Add(-1)
	c.present.Add(-1)
}

// wait runs something that waits for the other side. Who was turned away is in no crowd.
func (c *crowd) wait(do func() (int, error)) (int, error) {
	if c == nil {
		return do()
	}
	c.working.Add(-1)
	defer c.working.Add(1)
	return do()
}

// turnedAwayKey marks the context of a request that the server does not look at; its
// value is why.
type turnedAwayKey struct{}

const (
	stopping = "stopping"
	crowded  = "crowded"
)

// refuseTurnedAway answers what the server has no place for. The process is still live.
func (s *service) refuseTurnedAway(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		why, _ := r.Context().Value(turnedAwayKey{}).(string)
		ready := why == crowded && r.URL.Path == "/readyz" // a server that is busy is no sick one
		if why == "" || ready || r.URL.Path == "/livez" {
			next.ServeHTTP(w, r)
			return
		}
		s.metrics.turnedAway(why)
		refused := fault.New(fault.Unavailable, "this server is stopping").WithHint("try again; nothing was changed")
		if why == crowded {
			refused = fault.New(fault.Unavailable, "too many ask at once").WithHint("try again in %s seconds; nothing was changed", retryCrowded).WithFact(wire.RetryFact, retryCrowded)
		}
		if !wantsPage(r) {
			exchangeOf(r).fail(w, refused)
			return
		}
		w.Header().Set("Vary", "Accept")
		w.Header().Set("Connection", "close") // what is left of the body is not waited for
		s.pages.TurnAway(askOf(w, r), refused)
	})
}
