package calibration

import (
	"slices"
	"strings"

	"pawl/model/fault"
	"pawl/model/pattern"
)

// Settlement is how a line of a recheck is settled.
type Settlement string

const (
	TightenedAgain   Settlement = "loosened and tightened again"
	FastenerReplaced Settlement = "fastener replaced"
	CheckedByMethod  Settlement = "checked"
	CustomerTold     Settlement = "customer told"
)

// Settlements are the words taken.
var Settlements = []Settlement{TightenedAgain, FastenerReplaced, CheckedByMethod, CustomerTold}

// RecheckID gives the id of a line, from the id of the use or of the stretch of custody
// that it is about: the same characters, whose check still holds, behind the letter U.
func RecheckID(source string) string {
	if len(source) < 2 {
		return ""
	}
	return "U" + source[1:]
}

var (
	clicked  = pattern.Late(`(?i)\bclic(k|ó|o)?\w*|\b(did(n.t| not)|does(n.t| not)|no) (move|turn|budge|movement|turning)`)
	loosened = pattern.Late(`(?i)\bloosen|\bslacken|\bback(ed)? (it |them )?off\b|\baflo[jx]`)
	replaced = pattern.Late(`(?i)\breplac|\bnew (bolt|nut|stud|screw|fastener)|\breempla`)
	looked   = pattern.Late(`(?i)\b(re)?(check|measur|verif|inspect|look|stretch|ultrason|compar|test)|\b(comprob|revis|medid|midi)`)
	told     = pattern.Late(`(?i)\b(told|called|informed|wrote to|notified)\b|\bavisad`)
)

// SettlementOf reads how a line was settled: as said, or from the words of what was
// done; where they do not say it, it is asked for. A click on a fastener that is already tight proves nothing (Navy 14113) and
// is refused.
func SettlementOf(how, done string) (Settlement, error) {
	text := strings.TrimSpace(done)
	if text == "" {
		return "", fault.At("#/done", "say what was done").WithHint(`such as "loosened and tightened again, 108 N·m, with 00F-LN6"`)
	}
	s := Settlement(strings.ToLower(strings.TrimSpace(how)))
	if s == "" {
		switch {
		case loosened().MatchString(text):
			s = TightenedAgain
		case replaced().MatchString(text):
			s = FastenerReplaced
		case told().MatchString(text):
			s = CustomerTold
		case looked().MatchString(text), clicked().MatchString(text):
			s = CheckedByMethod
		default: // "signed" says nothing of the fastener, and must not stand as a check of it
			return "", fault.At("#/how", "%q does not say how it was settled", fault.Clip(text)).WithHint("say it too, with --how: %s", settlementWords())
		}
	}
	if !slices.Contains(Settlements, s) {
		return "", fault.At("#/how", "%q is not how a line is settled", fault.Clip(how)).WithHint("use one of: %s", settlementWords())
	}
	if clicked().MatchString(text) && !loosened().MatchString(text) && !replaced().MatchString(text) && s != CustomerTold {
		return "", fault.At("#/done", "a click on a fastener that is already tight does not show its torque").
			WithHint("loosen it and tighten it again as the vehicle maker's service information says, replace it, or check it by a method that the maker names")
	}
	return s, nil
}

func settlementWords() string {
	words := make([]string, len(Settlements))
	for i, one := range Settlements {
		words[i] = string(one)
	}
	return strings.Join(words, ", ")
}
