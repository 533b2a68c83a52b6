package model

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"pawl/model/custody/history"
	"pawl/model/fault"
)

// Exactly one holder: of 20 who take one tool at once, one wins and 19 are told
// who.
func TestTwentyTakersOfOneTool(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		n, takers := g.tool(t), g.crew(t, 20)
		errs := make([]error, len(takers))
		together(len(takers), func(i int) { _, errs[i] = g.Take(ctx, takers[i], n, Take{Job: "1042"}) })
		v, err := g.Tool(ctx, g.boss, n)
		if err != nil {
			t.Fatal(err)
		}
		won := 0
		for i, err := range errs {
			if err == nil {
				won++
				if v.Custody.Person != takers[i].Name {
					t.Errorf("%s won, but %s has it", takers[i].Name, v.Custody.Person)
				}
				continue
			}
			wantFault(t, err, fault.Conflict, v.Custody.Person, "holder", v.Custody.Person, "since", v.Custody.Since.String())
		}
		if won != 1 {
			t.Errorf("%d won, want 1", won)
		}
	})
}

// 40 who take a tool each do not stand in one another's way.
func TestFortyTakersOfFortyTools(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		takers := g.crew(t, 40)
		tools := make([]string, len(takers))
		for i := range tools {
			tools[i] = g.tool(t)
		}
		together(len(takers), func(i int) {
			// All name one new job, which is opened once.
			if _, err := g.Take(ctx, takers[i], tools[i], Take{Job: "1042"}); err != nil {
				t.Errorf("%s: %v", takers[i].Name, err)
			}
		})
		rows, _, err := g.Find(ctx, g.boss, FindQuery{State: "out", Limit: 200})
		if err != nil || len(rows) != 40 {
			t.Errorf("%d out, %v; want 40", len(rows), err)
		}
		for _, r := range rows {
			if i := index(tools, r.Number.String()); i < 0 || takers[i].Name != r.Person {
				t.Errorf("%s is out to %s", r.Number, r.Person)
			}
		}
	})
}

func index(list []string, s string) int {
	for i, v := range list {
		if v == s {
			return i
		}
	}
	return -1
}

func (g *garage) crew(t *testing.T, n int) (crew []By) {
	t.Helper()
	for i := range n {
		crew = append(crew, g.hire(t, fmt.Sprint("Hand ", i), "technician"))
	}
	return crew
}

// together runs fn in n goroutines that begin at once.
func together(n int, fn func(i int)) {
	var all sync.WaitGroup
	begin := make(chan struct{})
	for i := range n {
		all.Go(func() {
			<-begin
			fn(i)
		})
	}
	close(begin)
	all.Wait()
}

// Whatever many people do to a few tools at once, what each is told fits one
// order of the acts on each tool: takes, returns and hand-overs, 20,000 at full size.
func TestCustodyIsLinearizable(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		crew, acts := g.crew(t, 8), pawlSize(600, 2_000, 20_000)
		var tools []string
		for range max(4, acts/1_000) {
			tools = append(tools, g.tool(t))
		}
		var clock atomic.Int64 // orders calls and answers as they are seen here
		histories := make([][]history.Operation, len(crew))
		together(len(crew), func(i int) {
			rng := rand.New(rand.NewPCG(11, uint64(i)))
			for range acts / len(crew) {
				op := history.Operation{Client: i, Call: clock.Add(1)}
				op.Asked, op.Told = g.randomAct(t, rng, tools, crew)
				op.Return = clock.Add(1)
				histories[i] = append(histories[i], op)
			}
		})
		all := slices.Concat(histories...)
		done := map[string]int{}
		for _, op := range all {
			if op.Done {
				done[op.Act]++
			}
		}
		for _, act := range []string{"take", "return", "handover"} {
			if done[act] < len(all)/20 || done[act] > len(all)/2 {
				t.Errorf("%d of %d acts were a %s that was done: too few conflicts, or too many, to show anything", done[act], len(all), act)
			}
		}
		if j := history.Judge(all, time.Minute); !j.Fits {
			folder, err := j.Keep()
			t.Errorf("the answers fit no order of the acts: %s; the history is kept in %s, %v", j.Said, folder, err)
		}
	})
}

func (g *garage) randomAct(t *testing.T, rng *rand.Rand, tools []string, crew []By) (history.Asked, history.Told) {
	who := crew[rng.IntN(len(crew))]
	in := history.Asked{Tool: tools[rng.IntN(len(tools))], Act: []string{"take", "take", "return", "handover"}[rng.IntN(4)], Who: who.Name}
	var err error
	switch in.Act {
	case "take":
		_, err = g.Take(ctx, who, in.Tool, Take{})
	case "handover":
		_, err = g.Handover(ctx, g.boss, in.Tool, Handover{To: who.Name})
	default:
		in.Who = ""
		_, err = g.Return(ctx, g.boss, in.Tool, Return{})
	}
	if err == nil {
		return in, history.Told{Done: true}
	}
	var f *fault.Error
	if !errors.As(err, &f) || f.Kind != fault.Conflict {
		t.Errorf("%+v: %v", in, err)
		return in, history.Told{}
	}
	return in, history.Told{Holder: f.Facts["holder"]}
}

// Under a batch, acts of many callers share commits, and each still gets its own.
func TestTakersInBatches(t *testing.T) {
	g := emptyGarage(t, "sqlite")
	g.Batch = 8
	s := g.open(t)
	g.Shop = s
	n, takers := g.tool(t), g.crew(t, 20)
	var won atomic.Int32
	var told sync.Map
	together(len(takers), func(i int) {
		_, err := g.Take(ctx, takers[i], n, Take{})
		switch {
		case err == nil:
			won.Add(1)
		case fault.Is(err, fault.Conflict):
			told.Store(fault.Of(err).Facts["holder"], true)
		default:
			t.Error(err)
		}
	})
	v, err := g.Tool(ctx, g.boss, n)
	var names []string
	told.Range(func(name, _ any) bool { names = append(names, name.(string)); return true })
	if err != nil || won.Load() != 1 || strings.Join(names, " ") != v.Custody.Person {
		t.Errorf("%d won, %q were named, %s has it, %v", won.Load(), names, v.Custody.Person, err)
	}
}
