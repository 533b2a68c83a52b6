package api

import (
	"net/http"
	"strings"
)

// traceOf gives the trace id of a traceparent header (W3C Trace Context, section
// 3.2): 32 hex digits by which others find this request in their logs. It is empty
// where there is none, or where it breaks a rule, and then all of it is left out of
// account. Nothing but the log has it.
func traceOf(h http.Header) string {
	stated := h.Values("traceparent")
	if len(stated) != 1 {
		return ""
	}
	s := stated[0]
	const length = 2 + 1 + 32 + 1 + 16 + 1 + 2
	if len(s) < length || s[2] != '-' || s[35] != '-' || s[52] != '-' {
		return ""
	}
	version, trace, parent, flags := s[:2], s[3:35], s[36:52], s[53:55]
	switch {
	case !lowerHex(version) || !lowerHex(trace) || !lowerHex(parent) || !lowerHex(flags):
		return ""
	case version == "ff" || zeros(trace) || zeros(parent):
		return ""
	case len(s) > length && (version == "00" || s[length] != '-'): // a later version may add to its end
		return ""
	}
	return trace
}

func lowerHex(s string) bool { return strings.Trim(s, "0123456789abcdef") == "" }

func zeros(s string) bool { return strings.Trim(s, "0") == "" }
