package proofs

import "fmt"

// mostProblems is how many are told of what was looked at: a file that is wrong throughout
// would say the same a million times.
const mostProblems = 200

// Found is what is wrong with something that was looked at. Whatever is checked embeds it.
type Found struct{ Problems []string }

// Problem adds one, in words.
func (f *Found) Problem(format string, args ...any) {
	if len(f.Problems) < mostProblems {
		f.Problems = append(f.Problems, fmt.Sprintf(format, args...))
	}
}
