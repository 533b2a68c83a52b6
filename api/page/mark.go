package page

import (
	"pawl/model"
	"pawl/model/custody"
	"pawl/model/register"
)

// Mark is the paint mark of a tool: as on a fastener, a stripe in line says that
// nothing moved, an offset one that something did, and none that nobody looked.
type Mark string

const (
	InOrder    Mark = "in-order"
	DoNotUse   Mark = "do-not-use"
	NotChecked Mark = "not-checked"
	NoMark     Mark = "" // of a tool that is gone
)

// markOf gives the mark of a tool. It speaks of this tool only. One that has to
// be looked at by the calendar is not checked until it was, and again when that
// is past.
func markOf(v model.ToolView) Mark {
	switch {
	case v.Tool.Gone != 0:
		return NoMark
	case custody.Reasons(v.Wrongs) != "" || v.Compared.Failed:
		return DoNotUse
	case register.NeedsCheck(v.Tool.Kind) && !v.Compared.InDate:
		return NotChecked
	}
	return InOrder
}
