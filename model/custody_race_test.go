package model

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/anishathalye/porcupine"

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

// custodyInput is one act on one tool, and custodyOutput what was answered: ""
// for done, else who was named as its holder.
type (
	custodyInput struct {
		tool, act string // take, return, handover
		who       string
	}
	custodyOutput struct {
		done   bool
		holder string // who is told to have it; "" = nobody, it is in place
	}
)

// oneHolder is what custody promises of one tool: its state is who has it, ""
// for in place.
var oneHolder = porcupine.Model{
	Partition: func(history []porcupine.Operation) (out [][]porcupine.Operation) {
		byTool := map[string][]porcupine.Operation{}
		for _, op := range history {
			tool := op.Input.(custodyInput).tool
			byTool[tool] = append(byTool[tool], op)
		}
		for _, ops := range byTool {
			out = append(out, ops)
		}
		return out
	},
	Init: func() any { return "" },
	Step: func(state, input, output any) (bool, any) {
		has, in, out := state.(string), input.(custodyInput), output.(custodyOutput)
		switch in.act {
		case "take":
			if has == "" {
				return out.done, in.who
			}
			return !out.done && out.holder == has, has
		case "handover":
			if has == "" || has == in.who {
				return !out.done && out.holder == has, has
			}
			return out.done, in.who
		default:
			if has == "" {
				return !out.done && out.holder == "", has
			}
			return out.done, ""
		}
	},
	DescribeOperation: func(input, output any) string { return fmt.Sprintf("%+v -> %+v", input, output) },
}

// Whatever many people do to a few tools at once, what each is told fits one
// order of the acts on each tool.
func TestCustodyIsLinearizable(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		crew, tools := g.crew(t, 6), []string{g.tool(t), g.tool(t), g.tool(t)}
		acts := pawlSize(25, 100, 400)
		var clock atomic.Int64 // orders calls and answers as they are seen here
		histories := make([][]porcupine.Operation, len(crew))
		together(len(crew), func(i int) {
			rng := rand.New(rand.NewPCG(11, uint64(i)))
			for range acts {
				op := porcupine.Operation{ClientId: i, Call: clock.Add(1)}
				op.Input, op.Output = g.randomAct(t, rng, tools, crew)
				op.Return = clock.Add(1)
				histories[i] = append(histories[i], op)
			}
		})
		var history []porcupine.Operation
		done := 0
		for _, h := range histories {
			for _, op := range h {
				if op.Output.(custodyOutput).done {
					done++
				}
			}
			history = append(history, h...)
		}
		if done < len(history)/5 || done == len(history) {
			t.Errorf("%d of %d acts were done: too few conflicts, or too many, to show anything", done, len(history))
		}
		if result := porcupine.CheckOperationsTimeout(oneHolder, history, time.Minute); result != porcupine.Ok {
			t.Errorf("the answers fit no order of the acts: %s", result)
		}
	})
}

func (g *garage) randomAct(t *testing.T, rng *rand.Rand, tools []string, crew []By) (custodyInput, custodyOutput) {
	who := crew[rng.IntN(len(crew))]
	in := custodyInput{tool: tools[rng.IntN(len(tools))], act: []string{"take", "take", "return", "handover"}[rng.IntN(4)], who: who.Name}
	var err error
	switch in.act {
	case "take":
		_, err = g.Take(ctx, who, in.tool, Take{})
	case "handover":
		_, err = g.Handover(ctx, g.boss, in.tool, Handover{To: who.Name})
	default:
		in.who = ""
		_, err = g.Return(ctx, g.boss, in.tool, Return{})
	}
	if err == nil {
		return in, custodyOutput{done: true}
	}
	var f *fault.Error
	if !errors.As(err, &f) || f.Kind != fault.Conflict {
		t.Errorf("%+v: %v", in, err)
		return in, custodyOutput{}
	}
	return in, custodyOutput{holder: f.Facts["holder"]}
}

// The check can fail: a history in which two hold one tool, one in which the
// wrong holder is told, and one whose order in time is broken.
func TestTheCheckOfCustodyCanFail(t *testing.T) {
	op := func(client int, act, who string, call, ret int64, out custodyOutput) porcupine.Operation {
		return porcupine.Operation{ClientId: client, Input: custodyInput{tool: "00E-KM5", act: act, who: who}, Call: call, Return: ret, Output: out}
	}
	done := custodyOutput{done: true}
	cases := []struct {
		name    string
		history []porcupine.Operation
		want    bool
	}{
		{"a take and a refusal", []porcupine.Operation{op(0, "take", "A", 1, 4, done), op(1, "take", "B", 2, 3, custodyOutput{holder: "A"})}, true},
		{"two takes", []porcupine.Operation{op(0, "take", "A", 1, 4, done), op(1, "take", "B", 2, 3, done)}, false},
		{"the wrong holder told", []porcupine.Operation{op(0, "take", "A", 1, 4, done), op(1, "take", "B", 2, 3, custodyOutput{holder: "C"})}, false},
		{"refused before anybody took it", []porcupine.Operation{op(1, "take", "B", 1, 2, custodyOutput{holder: "A"}), op(0, "take", "A", 3, 4, done)}, false},
	}
	for _, c := range cases {
		if got := porcupine.CheckOperations(oneHolder, c.history); got != c.want {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
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
