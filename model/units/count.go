package units

import (
	"strconv"
	"strings"
)

// Count says in words how many there are of something that is named in the singular:
// "1 tool", "3 tools", "2 stretches".
func Count[N int | int64](n N, what string) string {
	text := strconv.FormatInt(int64(n), 10) + " " + what
	switch {
	case n == 1:
		return text
	case strings.HasSuffix(what, "ch"):
		return text + "es"
	}
	return text + "s"
}
