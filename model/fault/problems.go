package fault

import (
	"fmt"
	"strings"
)

// Problems gathers every value at fault, so that a person mends all of them at
// once rather than one per try. The zero value is ready to use.
type Problems []Field

// Add notes one value at fault.
func (p *Problems) Add(pointer, format string, args ...any) {
	*p = append(*p, Field{Pointer: pointer, Detail: fmt.Sprintf(format, args...)})
}

// Keep notes err, if any, under the pointer.
func (p *Problems) Keep(pointer string, err error) {
	if err != nil {
		p.Add(pointer, "%s", Of(err).Error())
	}
}

// Err returns nil when nothing was noted, else one Invalid fault with all of it.
func (p Problems) Err() error {
	if len(p) == 0 {
		return nil
	}
	all := make([]string, len(p))
	for i, f := range p {
		all[i] = strings.TrimPrefix(f.Pointer, "#/") + ": " + f.Detail
	}
	return &Error{Kind: Invalid, Message: strings.Join(all, "; "), Fields: p}
}
