// Package start lets the program begin without collecting garbage. What libraries lay out
// whenever a program starts, and what a short command makes, comes to a few megabytes that
// it keeps; to go through them twice took a fifth of the processor time of `pawl show`.
//
// It holds nothing but this, so that the order that the language prescribes (The Go
// Programming Language Specification, "Program initialization": by import path, as soon as
// what is imported is ready) puts it before all libraries that compile expressions or fill
// maps. TestAStartCollectsNothing of package cli sees that it does.
package start

import (
	"os"
	"runtime"
	"runtime/debug"
)

// By how much the heap may grow, as a percentage of what was left by the collection before,
// or of 4 MB before the first: room is ours until then, usual the Go runtime's own.
const room, usual = 400, 100

func init() { begin() }

func begin() {
	if os.Getenv("GOGC") != "" {
		return // somebody decided it
	}
	debug.SetGCPercent(room)
	// Nobody holds this, so the first collection finds it: from then on all is as ever.
	runtime.AddCleanup(new([16]byte), func(percent int) { debug.SetGCPercent(percent) }, usual)
}
