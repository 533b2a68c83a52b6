package fault

// mostClipped is how many characters of what was typed a message repeats.
const mostClipped = 60

// Clip shortens what a message repeats of what was typed.
func Clip(typed string) string {
	if r := []rune(typed); len(r) > mostClipped {
		return string(r[:mostClipped]) + "…"
	}
	return typed
}
