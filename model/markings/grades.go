package markings

// Grades are those that a look can give, best first.
func Grades() []int64 { return []int64{Crisp, Worn, WithCare, Lost, Unreadable} }

// GradeWords says what a grade means, as money-and-statistics 5.1 does; "" for a number
// that is none.
func GradeWords(grade int64) string {
	switch grade {
	case Crisp:
		return "crisp"
	case Worn:
		return "worn, every character certain at a glance"
	case WithCare:
		return "readable only with care: side light, magnifier"
	case Lost:
		return "at least one character lost"
	case Unreadable:
		return "unreadable"
	}
	return ""
}
