package cli_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"sync"
	"sync/atomic"
	"testing"

	"pawl/api/client"
	"pawl/api/wire"
	"pawl/model/fault"
)

// One worker owns one tool and takes and returns it in turn, each act under a
// key of its own. acked holds the answers that came; the act that was under way
// when the server died is asked again under its key.
type worker struct {
	tool  string
	acts  int // sent and answered, in this and earlier rounds
	since []string
}

func (w *worker) step(ctx context.Context, c *client.Client) error {
	key := client.Key(fmt.Sprintf("%s-act-%d", w.tool, w.acts))
	var done wire.Done
	var err error
	if w.acts%2 == 0 {
		done, err = c.Take(ctx, w.tool, wire.Take{To: "Tech A"}, key)
	} else {
		done, err = c.Return(ctx, w.tool, wire.Return{}, key)
	}
	if err != nil {
		return err
	}
	w.acts++
	w.since = append(w.since, done.Custody.Since.String())
	return nil
}

// again asks for an act that was answered once more under its key: the same
// answer must come, and nothing be done.
func (w *worker) again(ctx context.Context, c *client.Client, i int) error {
	key := client.Key(fmt.Sprintf("%s-act-%d", w.tool, i))
	var done wire.Done
	var err error
	if i%2 == 0 {
		done, err = c.Take(ctx, w.tool, wire.Take{To: "Tech A"}, key)
	} else {
		done, err = c.Return(ctx, w.tool, wire.Return{}, key)
	}
	if err == nil && done.Custody.Since.String() != w.since[i] {
		err = fmt.Errorf("act %d was answered %s, and %s when asked again", i, w.since[i], done.Custody.Since)
	}
	return err
}

// TestKilledUnderLoad kills the server with SIGKILL while eight workers write,
// again and again. No act that was answered may be lost or doubled, and none
// may be half there: after each round every worker asks for its last answers
// again, and at the end the history of each tool is exactly its worker's acts.
func TestKilledUnderLoad(t *testing.T) {
	t.Parallel()
	data, token, numbers := shopFolder(t, itself, 8)
	workers := make([]*worker, len(numbers))
	for i, n := range numbers {
		workers[i] = &worker{tool: n}
	}
	rng := rand.New(rand.NewPCG(1, 2))
	rounds := size(5, 20, 1000)
	for round := range rounds {
		s := serve(t, data, itself)
		killAfter(t, s, token, workers, int64(20+rng.IntN(100)))
		afterKill(t, data, itself, token, workers, round)
	}
	run(t, nil, itself, "--data", data, "verify")
	acts := 0
	for _, w := range workers {
		acts += w.acts
		checkHistory(t, data, itself, token, w)
	}
	t.Logf("%d rounds, %d acts answered, none lost or doubled", rounds, acts)
}

// killAfter lets the workers write and kills the server when so many acts have
// been answered, with others under way.
func killAfter(t *testing.T, s *server, token string, workers []*worker, acts int64) {
	t.Helper()
	ctx, cancel := context.WithCancel(t.Context())
	var answered atomic.Int64
	reached, idle := make(chan struct{}), make(chan struct{})
	failed := make([]error, len(workers))
	var all sync.WaitGroup
	for i, w := range workers {
		all.Go(func() {
			c := connect(s.url, token)
			for failed[i] == nil {
				if failed[i] = w.step(ctx, c); failed[i] == nil && answered.Add(1) == acts {
					close(reached)
				}
			}
		})
	}
	go func() { all.Wait(); close(idle) }()
	select {
	case <-reached:
	case <-idle:
		t.Fatalf("every worker stopped before the server was killed: %v", failed)
	}
	s.kill(t)
	cancel()
	all.Wait()
}

// afterKill starts the server again, finishes what was under way, and asks for
// the last answers once more.
func afterKill(t *testing.T, data, pawl, token string, workers []*worker, round int) {
	t.Helper()
	s := serve(t, data, pawl)
	defer s.stop(t)
	c := connect(s.url, token)
	for _, w := range workers {
		if err := w.step(t.Context(), c); err != nil {
			t.Fatalf("round %d: the act of %s that was under way cannot be finished: %v", round, w.tool, err)
		}
		for i := max(0, w.acts-4); i < w.acts; i++ {
			if err := w.again(t.Context(), c, i); err != nil {
				t.Fatalf("round %d: %s: %v", round, w.tool, err)
			}
		}
	}
}

// checkHistory holds the lines about loans of one tool against its worker's acts.
func checkHistory(t *testing.T, data, pawl, token string, w *worker) {
	t.Helper()
	s := serve(t, data, pawl)
	defer s.stop(t)
	loans := 0
	err := connect(s.url, token).HistoryAll(t.Context(), w.tool, func(l wire.Line) error {
		if l.Noun != "loan" {
			return nil
		}
		if want := []string{"take", "return"}[loans%2]; l.Verb != want {
			return fault.New(fault.Internal, "line %d is a %s where a %s belongs", l.Seq, l.Verb, want)
		}
		loans++
		return nil
	})
	if err != nil || loans != w.acts {
		t.Errorf("%s: %d acts were answered, the ledger has %d: %v", w.tool, w.acts, loans, err)
	}
}

// TestTwoProcessesWrite lets a second process write through the folder while a
// server writes for 64 callers: neither may ever be told that the store is
// locked, and the second finishes although the first never pauses.
func TestTwoProcessesWrite(t *testing.T) {
	t.Parallel()
	const own = 50
	data, token, numbers := shopFolder(t, itself, 64+own)
	s := serve(t, data, itself)
	ctx, cancel := context.WithCancel(t.Context())
	var all sync.WaitGroup
	var beside atomic.Int64
	for _, n := range numbers[own:] {
		all.Go(func() {
			w, c := &worker{tool: n}, connect(s.url, token)
			for ctx.Err() == nil {
				if err := w.step(ctx, c); err != nil && ctx.Err() == nil {
					t.Errorf("a caller of the server: %v", err)
					return
				}
				beside.Add(1)
			}
		})
	}
	writes := 0
	for target := size(200, 1_000, 10_000); writes < target; writes += 2 * own {
		run(t, lines(numbers[:own]), itself, "--data", data, "take", "-", "--to", "Tech A")
		run(t, lines(numbers[:own]), itself, "--data", data, "return", "-")
	}
	cancel()
	all.Wait()
	s.stop(t)
	run(t, nil, itself, "--data", data, "verify")
	t.Logf("%d writes by the second process beside %d by 64 callers of the server", writes, beside.Load())
}
