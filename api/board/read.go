package board

import (
	"strings"
	"unicode"

	"pawl/model/fault"
	"pawl/model/numbers"
	"pawl/model/pattern"
)

// What a line may be.
const (
	isNothing = iota
	isTool
	isBadge
	isJob
	isCard
	isUndo
)

const (
	cardTake   = "TAKE"
	cardReturn = "RETURN"
	cardUndo   = "UNDO"
)

// reading is a line reduced to what it stands for.
type reading struct {
	is   int
	key  string // the same for whatever means the same
	code string
	asks bool // to be confirmed by the same again
	bad  Said // why it is nothing, or what is asked
}

// bareOrder is how other programs print the number of a repair order: short, and
// with three figures at least. A half-read label of ours is not.
var (
	bareOrder = pattern.Late(`^[0-9A-Za-z][0-9A-Za-z._#-]{2,15}$`)
	jobNumber = pattern.Late(`^[0-9A-Z/._#-]{1,32}$`) // jobs.CheckNumber, of what a symbol holds
	figures   = pattern.Late(`[0-9]`)
	slipped   = pattern.Late(`^[BbPp][^0-9A-Za-z/][0-9A-Za-z]{8}$`) // a badge or a place, with the key of another keyboard for "/"
	hyphened  = pattern.Late(`^[0-9A-Za-z]{3}-[0-9A-Za-z]{3}$`)
)

// read reduces a line. A label's link counts whatever its case and what follows the
// number, if its host is the shop's; look-alikes are not folded. A bare tool number
// with its hyphen is one that somebody wrote: it counts in a pipe, and is asked about
// where people type. A bare code that might be a repair order's is asked about.
func (b *Board) read(line string) reading {
	line = strings.TrimFunc(line, func(r rune) bool { return unicode.IsSpace(r) || unicode.IsControl(r) })
	if strings.EqualFold(line, "undo") {
		return reading{is: isUndo, key: "CARD:" + cardUndo}
	}
	symbol, err := numbers.ParseSymbol(line)
	if err == nil {
		return b.symbol(line, symbol)
	}
	if n, bare := numbers.ParseExact(line); bare == nil {
		key := "T/" + string(n)
		return reading{is: isTool, key: key, code: n.String(), asks: b.Typed || !hyphened().MatchString(line), bad: say("ask.tool")}
	}
	if fault.Of(err).Hint == numbers.LayoutHint || slipped().MatchString(line) {
		return reading{key: line, bad: say("unread.layout", fault.Clip(line))}
	}
	if bareOrder().MatchString(line) && len(figures().FindAllString(line, 3)) == 3 {
		job := strings.ToUpper(line)
		return reading{is: isJob, key: "JOB:" + job, code: job, asks: true}
	}
	return reading{key: line, bad: say("unread", fault.Clip(line))}
}

func (b *Board) symbol(line string, s numbers.Symbol) reading {
	switch s.Kind {
	case numbers.Tool:
		r := reading{is: isTool, key: "T/" + s.Code, code: s.Number().String()}
		if host := numbers.ForeignHost(line, b.Hosts...); host != "" {
			r.asks, r.key, r.bad = true, "T/"+s.Code+" at "+host, say("ask.host", host)
		}
		return r
	case numbers.Badge:
		return reading{is: isBadge, key: "B/" + s.Code, code: "B/" + s.Code}
	case numbers.Job:
		if !jobNumber().MatchString(s.Code) {
			return reading{key: "JOB:" + s.Code, bad: say("job.strange", fault.Clip(s.Code))}
		}
		return reading{is: isJob, key: "JOB:" + s.Code, code: s.Code}
	case numbers.Card:
		if s.Code == cardUndo {
			return reading{is: isUndo, key: "CARD:" + cardUndo}
		}
		return reading{is: isCard, key: "CARD:" + s.Code, code: s.Code}
	}
	return reading{key: line, bad: say("place")}
}
