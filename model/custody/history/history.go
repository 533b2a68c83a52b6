// Package history says whether what many people were told about a few tools at once
// fits one order of what they did, which is what linearizable means (M. Herlihy and
// J. Wing, Linearizability: a correctness condition for concurrent objects, 1990). Tests
// record with it; nothing else imports it.
package history

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"github.com/anishathalye/porcupine"
)

// Asked is one act of custody on one tool: take, handover or return. Who gets the tool;
// empty for a return.
type Asked struct{ Tool, Act, Who string }

// Told is what was answered: done, or else who has the tool; an empty Holder is nobody,
// it is in place.
type Told struct {
	Done   bool
	Holder string
}

// Operation is an act from the moment at which it was asked to that of its answer. The
// moments are counted by whoever records, over all clients.
type Operation struct {
	Client       int
	Call, Return int64
	Asked
	Told
}

// custodian is what custody promises of one tool: its state is who has it, empty for in
// place.
var custodian = porcupine.Model{
	Partition: func(all []porcupine.Operation) (out [][]porcupine.Operation) {
		byTool := map[string][]porcupine.Operation{}
		for _, op := range all {
			tool := op.Input.(Asked).Tool
			byTool[tool] = append(byTool[tool], op)
		}
		for _, ops := range byTool {
			out = append(out, ops)
		}
		return out
	},
	Init:              func() any { return "" },
	Step:              step,
	DescribeOperation: func(input, output any) string { return fmt.Sprintf("%+v -> %+v", input, output) },
}

func step(state, input, output any) (bool, any) {
	has, asked, told := state.(string), input.(Asked), output.(Told)
	refused := !told.Done && told.Holder == has
	switch asked.Act {
	case "take":
		if has == "" {
			return told.Done, asked.Who
		}
		return refused, has
	case "handover":
		if has == "" || has == asked.Who {
			return refused, has
		}
		return told.Done, asked.Who
	default:
		if has == "" {
			return refused, has
		}
		return told.Done, ""
	}
}

// Judged is what became of a history.
type Judged struct {
	Fits   bool
	Said   string // how the search for an order ended: Ok, Illegal, Unknown
	result porcupine.CheckResult
	info   porcupine.LinearizationInfo
	all    []Operation
}

// Judge looks for one order that all of it fits, for so long at most.
func Judge(all []Operation, limit time.Duration) Judged {
	ops := make([]porcupine.Operation, len(all))
	for i, op := range all {
		ops[i] = porcupine.Operation{ClientId: op.Client, Call: op.Call, Return: op.Return, Input: op.Asked, Output: op.Told}
	}
	j := Judged{all: all}
	j.result, j.info = porcupine.CheckOperationsVerbose(custodian, ops, limit)
	j.Fits, j.Said = j.result == porcupine.Ok, string(j.result)
	return j
}

// Broken says that no order was found because there is none, and not for want of time.
func (j Judged) Broken() bool { return j.result == porcupine.Illegal }

// Keep writes a history into a folder that outlives the test: as JSON, and where the
// search left something to draw, as a page.
func (j Judged) Keep() (folder string, err error) {
	if folder, err = os.MkdirTemp("", "pawl-history-"); err != nil {
		return "", err
	}
	text, err := json.Marshal(j.all)
	if err == nil {
		err = os.WriteFile(filepath.Join(folder, "history.json"), text, 0o600)
	}
	if err == nil {
		err = porcupine.VisualizePath(custodian, j.info, filepath.Join(folder, "history.html"))
	}
	return folder, err
}
