package api

import (
	"net/http"
	"strings"
	"testing"
)

// The examples of the W3C Trace Context recommendation, sections 3.2.4 and 3.2.2, and
// what breaks its rules.
func TestTraceOf(t *testing.T) {
	const id = "4bf92f3577b34da6a3ce929d0e0e4736"
	for _, c := range []struct {
		name   string
		stated []string
		want   string
	}{
		{"sampled", []string{"00-" + id + "-00f067aa0ba902b7-01"}, id},
		{"not sampled", []string{"00-" + id + "-00f067aa0ba902b7-00"}, id},
		{"a later version with more", []string{"cc-" + id + "-00f067aa0ba902b7-01-what-the-future-will-be-like"}, id},
		{"a later version without more", []string{"cc-" + id + "-00f067aa0ba902b7-01"}, id},
		{"a later version that runs on", []string{"cc-" + id + "-00f067aa0ba902b7-01.what"}, ""},
		{"none", nil, ""},
		{"empty", []string{""}, ""},
		{"two", []string{"00-" + id + "-00f067aa0ba902b7-01", "00-" + id + "-00f067aa0ba902b7-01"}, ""},
		{"this version with more", []string{"00-" + id + "-00f067aa0ba902b7-01-x"}, ""},
		{"version ff", []string{"ff-" + id + "-00f067aa0ba902b7-01"}, ""},
		{"no version", []string{"0x-" + id + "-00f067aa0ba902b7-01"}, ""},
		{"upper case", []string{"00-" + strings.ToUpper(id) + "-00f067aa0ba902b7-01"}, ""},
		{"a trace of zeros", []string{"00-" + strings.Repeat("0", 32) + "-00f067aa0ba902b7-01"}, ""},
		{"a parent of zeros", []string{"00-" + id + "-0000000000000000-01"}, ""},
		{"flags that are none", []string{"00-" + id + "-00f067aa0ba902b7-0g"}, ""},
		{"too short", []string{"00-" + id + "-00f067aa0ba902b7-0"}, ""},
		{"no hyphens", []string{strings.ReplaceAll("00-"+id+"-00f067aa0ba902b7-01", "-", "0")}, ""},
		{"a line of log", []string{"00-" + id + "-00f067aa0ba902b7-01\nlevel=ERROR"}, ""},
	} {
		if got := traceOf(http.Header{"Traceparent": c.stated}); got != c.want {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
}
