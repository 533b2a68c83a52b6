// Package pattern holds regular expressions back until they are asked for. A command
// needs few of the program's, and to compile all of them took a good part of its start.
package pattern

import (
	"regexp"
	"sync"
)

// Late gives the regular expression (RE2, see regexp/syntax) when it is first called,
// and the same one from then on; goroutines may call it at once. An expression that is
// none panics then, so a test must meet each.
func Late(expr string) func() *regexp.Regexp {
	return sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(expr) })
}
