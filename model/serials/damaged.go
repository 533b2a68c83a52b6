package serials

import (
	"strings"

	"pawl/model/pattern"
)

// What spreadsheets make of codes. They keep 15 significant digits of a number
// (IEEE 754 double, shown so by them), show long ones with an exponent, and take
// 3-12 for a day; ="0012" is how some are told to leave a code alone. In a cell there may
// also stand a word for nothing, which would pass for the serial of one tool, and be
// refused as taken for the next.
var (
	shapeExponent = pattern.Late(`^[0-9](\.[0-9]+)?[eE]\+?[0-9]{2,3}$`)
	shapeDay      = pattern.Late(`(?i)^([0-9]{1,2}[-/. ](jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*([-/. ][0-9]{2,4})?|(jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*[-/. ][0-9]{2,4}|[0-9]{1,2}/[0-9]{1,2}/[0-9]{2,4}|[0-9]{4}-[0-9]{2}-[0-9]{2}( 00:00:00)?)$`)
	shapeText     = pattern.Late(`^="[^"]*"$`)
	shapeNone     = pattern.Late(`(?i)^(n\.?/?a\.?|none|nil|null|unknown|unreadable|illegible|no serial|not? (known|marked|readable)|tbd|#n/a|#value!|#ref!)$`)
	shapeRounded  = pattern.Late(`^[0-9]{16,}$`)
	shapeWhole    = pattern.Late(`^[1-9][0-9]{0,2}0{7,}$`) // 12E9 is kept as 12000000000
)

// significant is how many digits a spreadsheet keeps of a number.
const significant = 15

// Damaged says how a spreadsheet seems to have changed a serial number, or "".
func Damaged(s string) string {
	s = strings.TrimSpace(s)
	switch {
	case shapeExponent().MatchString(s):
		return "it looks like a long number that a spreadsheet shortened; read it from the tool again"
	case shapeDay().MatchString(s):
		return "it looks like a day that a spreadsheet made of a code; read it from the tool again"
	case shapeText().MatchString(s):
		return "it stands as a spreadsheet's formula for text; take the = and the quotes off, unless they are marked on the tool"
	case shapeNone().MatchString(s):
		return "it reads like a word for no serial number; leave it empty, unless it is marked on the tool"
	case shapeRounded().MatchString(s) && strings.Trim(s[significant:], "0") == "":
		return "a spreadsheet keeps 15 digits and writes zeros after them; read it from the tool again"
	case shapeWhole().MatchString(s):
		return "a spreadsheet makes such a number of a code with an E among its digits, as 12E9; compare with the tool"
	}
	return ""
}
