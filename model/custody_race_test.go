package model

import (
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
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
// order of the acts on each tool: takes, returns and hand-overs, 20,000 at full size.
func TestCustodyIsLinearizable(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		crew, acts := g.crew(t, 8), pawlSize(600, 2_000, 20_000)
		var tools []string
		for range max(4, acts/1_000) {
			tools = append(tools, g.tool(t))
		}
		var clock atomic.Int64 // orders calls and answers as they are seen here
		histories := make([][]porcupine.Operation, len(crew))
		together(len(crew), func(i int) {
			rng := rand.New(rand.NewPCG(11, uint64(i)))
			for range acts / len(crew) {
				op := porcupine.Operation{ClientId: i, Call: clock.Add(1)}
				op.Input, op.Output = g.randomAct(t, rng, tools, crew)
				op.Return = clock.Add(1)
				histories[i] = append(histories[i], op)
			}
		})
		history := slices.Concat(histories...)
		done := map[string]int{}
		for _, op := range history {
			if op.Output.(custodyOutput).done {
				done[op.Input.(custodyInput).act]++
			}
		}
		for _, act := range []string{"take", "return", "handover"} {
			if done[act] < len(history)/20 || done[act] > len(history)/2 {
				t.Errorf("%d of %d acts were a %s that was done: too few conflicts, or too many, to show anything", done[act], len(history), act)
			}
		}
		result, info := porcupine.CheckOperationsVerbose(oneHolder, history, time.Minute)
		if result != porcupine.Ok {
			t.Errorf("the answers fit no order of the acts: %s; the history is kept in %s", result, keepHistory(t, history, &info))
		}
	})
}

// keptOperation is one act of a history as it is kept to be looked at.
type keptOperation struct {
	Client         int
	Call, Return   int64
	Tool, Act, Who string
	Done           bool
	Holder         string
}

// keepHistory writes a history that failed into a folder that outlives the test: as
// JSON, and where the check left something to draw, as a page.
func keepHistory(t *testing.T, history []porcupine.Operation, info *porcupine.LinearizationInfo) (folder string) {
	t.Helper()
	folder, err := os.MkdirTemp("", "pawl-history-")
	if err != nil {
		t.Fatal(err)
	}
	kept := make([]keptOperation, len(history))
	for i, op := range history {
		in, out := op.Input.(custodyInput), op.Output.(custodyOutput)
		kept[i] = keptOperation{op.ClientId, op.Call, op.Return, in.tool, in.act, in.who, out.done, out.holder}
	}
	text, err := json.Marshal(kept)
	if err == nil {
		err = os.WriteFile(filepath.Join(folder, "history.json"), text, 0o600)
	}
	if err == nil && info != nil {
		err = porcupine.VisualizePath(oneHolder, *info, filepath.Join(folder, "history.html"))
	}
	if err != nil {
		t.Fatal(err)
	}
	return folder
}

// What is kept of a history that failed fails again when it is read.
func TestAFailingHistoryIsKept(t *testing.T) {
	op := func(client int, who string, call, ret int64) porcupine.Operation {
		return porcupine.Operation{ClientId: client, Input: custodyInput{tool: "00E-KM5", act: "take", who: who}, Call: call, Return: ret, Output: custodyOutput{done: true}}
	}
	history := []porcupine.Operation{op(0, "A", 1, 4), op(1, "B", 2, 3)}
	result, info := porcupine.CheckOperationsVerbose(oneHolder, history, time.Minute)
	folder := keepHistory(t, history, &info)
	t.Cleanup(func() { os.RemoveAll(folder) })
	text, err := os.ReadFile(filepath.Join(folder, "history.json"))
	if err != nil {
		t.Fatal(err)
	}
	var kept []keptOperation
	if err := json.Unmarshal(text, &kept); err != nil {
		t.Fatal(err)
	}
	var again []porcupine.Operation
	for _, k := range kept {
		again = append(again, porcupine.Operation{ClientId: k.Client, Call: k.Call, Return: k.Return,
			Input: custodyInput{k.Tool, k.Act, k.Who}, Output: custodyOutput{k.Done, k.Holder}})
	}
	if result != porcupine.Illegal || len(again) != 2 || porcupine.CheckOperations(oneHolder, again) {
		t.Errorf("%s, and what was kept says otherwise: %+v", result, kept)
	}
	if page, err := os.Stat(filepath.Join(folder, "history.html")); err != nil || page.Size() == 0 {
		t.Errorf("no page of it: %v", err)
	}
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
