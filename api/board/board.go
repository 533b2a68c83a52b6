// Package board says what a scan at the tool board means. A badge opens taking for
// its holder, for 30 seconds or until the next badge; a tool that is scanned while
// no badge is open comes back. TAKE and RETURN cards override that, an UNDO card
// takes the last tool back, a job goes with what is taken under the badge.
//
// Its words: a scan is one line from a scanner; an order is what whoever runs the
// board is to ask the shop because of it; said is what is told of it, one line. The
// machine asks nobody and reads no clock: the time is handed in, and so is what the
// shop answered. It never turns one code into another.
package board

import (
	"time"
)

const (
	// Taking is how long a badge opens taking, counted from its scan: more tools do
	// not make it longer, the badge itself does. A card, a job without a badge and a
	// question last as long.
	Taking = 30 * time.Second
	// Double is how soon the same code after itself is one scan still.
	Double = 2 * time.Second
)

// Kind is what is to be asked because of a scan.
type Kind string

const (
	Nothing Kind = ""       // it is settled: Said tells how
	Who     Kind = "badge"  // whose badge Code is; then Open
	Whether Kind = "job"    // whether Job may be taken for; then Attach
	Look    Kind = "look"   // what tool Number is; then Shown
	Take    Kind = "take"   // Number, for the holder of Badge, on Job
	Return  Kind = "return" // Number
	Undo    Kind = "undo"   // the act before on Number, if custody is as of Since
)

// Outcome is how a scan ended.
type Outcome string

const (
	Done    Outcome = "done"
	Already Outcome = "already" // it was so before: nothing to do, and no failure
	Same    Outcome = "same"    // one scan with that before it
	Asks    Outcome = "asks"    // the same again confirms
	Kept    Outcome = "kept"    // to be sent later
	Failed  Outcome = "failed"  // nothing was changed
)

// Order is what a scan leads to.
type Order struct {
	Kind    Kind
	Code    string // of the badge, B/CODE
	Badge   string // under which a tool is taken
	Name    string // of its holder, as far as known
	Number  string // of the tool, 00E-KM5
	Job     string
	Since   string // Undo: custody as the act before left it; empty: that waits itself
	Of      string // Undo: the replay key of the act before
	Outcome Outcome
	Said    Said
}

// Act is something done that may be undone.
type Act struct {
	Number string `json:"n,omitempty"`
	Since  string `json:"s,omitempty"` // empty: it waits to be sent
	Key    string `json:"k,omitempty"`
}

// State is what the board remembers between two scans. Times are counted from any
// one moment.
type State struct {
	Badge  string        `json:"b,omitempty"`
	Name   string        `json:"n,omitempty"`
	Opened time.Duration `json:"bo,omitempty"`

	Card   string        `json:"c,omitempty"` // TAKE or RETURN
	Carded time.Duration `json:"co,omitempty"`

	Job   string        `json:"j,omitempty"`
	Named time.Duration `json:"jo,omitempty"` // when the job was scanned

	Offer   string        `json:"o,omitempty"` // what is asked about
	Offered time.Duration `json:"oo,omitempty"`

	Code string        `json:"l,omitempty"` // of the scan before
	At   time.Duration `json:"la,omitempty"`

	Last Act `json:"a,omitzero"`
}

// Board is the machine with what it needs to know of the shop.
type Board struct {
	State
	Hosts []string // that links on labels of this shop lead to, in lower case
	Typed bool     // a person types here too: a bare number is asked about first
}

// Scan takes one line from a scanner at the time now, which never goes back.
func (b *Board) Scan(line string, now time.Duration) Order {
	b.lapse(now)
	r := b.read(line)
	if r.key == b.Code && now-b.At < Double {
		b.At = now
		return Order{Outcome: Same, Said: say("same")}
	}
	b.Code, b.At = r.key, now
	confirmed := b.Offer == r.key
	b.Offer = ""
	if r.asks && !confirmed {
		return b.ask(r, now)
	}
	switch r.is {
	case isTool:
		return b.tool(r.code)
	case isBadge:
		if b.Card = ""; r.code != b.Badge { // until the next badge, whosever it turns out to be
			b.close()
		}
		return Order{Kind: Who, Code: r.code}
	case isJob:
		return Order{Kind: Whether, Job: r.code}
	case isCard:
		b.Card, b.Carded = r.code, now
		return b.card()
	case isUndo:
		return b.undo()
	}
	return Order{Outcome: Failed, Said: r.bad}
}

// ask offers what a code might mean; the next scan of the same code confirms.
func (b *Board) ask(r reading, now time.Duration) Order {
	b.Offer, b.Offered = r.key, now
	if r.is == isTool {
		return Order{Kind: Look, Number: r.code, Outcome: Asks, Said: r.bad}
	}
	return Order{Outcome: Asks, Said: say("ask.job", r.code)}
}

// tool is the order of a tool's label: by the card, else by whether a badge is open.
func (b *Board) tool(number string) Order {
	switch {
	case b.Card == cardReturn, b.Card == "" && b.Badge == "":
		return Order{Kind: Return, Number: number, Badge: b.Badge, Name: b.Name}
	case b.Badge == "":
		return Order{Outcome: Failed, Number: number, Said: say("whose")}
	}
	return Order{Kind: Take, Number: number, Badge: b.Badge, Name: b.Name, Job: b.Job}
}

func (b *Board) card() Order {
	key := "card.return"
	if b.Card == cardTake {
		if key = "card.take"; b.Badge == "" {
			key = "card.take-whose"
		}
	}
	return Order{Outcome: Done, Said: say(key)}
}

func (b *Board) undo() Order {
	last := b.Last
	if last == (Act{}) {
		return Order{Outcome: Failed, Said: say("undo.nothing")}
	}
	return Order{Kind: Undo, Number: last.Number, Since: last.Since, Of: last.Key, Badge: b.Badge, Name: b.Name}
}

// NotLast is the order of an undo that names an act which is not the last one here.
func (b *Board) NotLast() Order { return Order{Outcome: Failed, Said: say("undo.other")} }

// close ends what the open badge opened, the job that was named under it too.
func (b *Board) close() {
	if b.Badge != "" && b.Named >= b.Opened {
		b.Job = ""
	}
	b.Badge, b.Name, b.Card = "", "", ""
}

// lapse ends what has lasted its time.
func (b *Board) lapse(now time.Duration) {
	if b.Badge != "" && now-b.Opened >= Taking {
		b.close()
		b.Job = ""
	}
	if b.Card != "" && now-b.Carded >= Taking {
		b.Card = ""
	}
	if b.Badge == "" && now-b.Named >= Taking {
		b.Job = ""
	}
	if now-b.Offered >= Taking {
		b.Offer = ""
	}
}

// Ends says when taking ends by itself, if a badge is open.
func (b *Board) Ends() (at time.Duration, open bool) { return b.Opened + Taking, b.Badge != "" }

// Ended ends what has lasted its time, and tells where that was a badge.
func (b *Board) Ended(now time.Duration) (Said, bool) {
	name, open := b.Name, b.Badge != ""
	if b.lapse(now); open && b.Badge == "" {
		return say("ended", name), true
	}
	return Said{}, false
}

// Open opens taking for the holder of a badge, whose name is empty where it could
// not be asked for. A job that was scanned just before, or under the same badge, goes
// with it.
func (b *Board) Open(code, name string, now time.Duration) Said {
	b.Badge, b.Name, b.Opened, b.Named = code, name, now, now
	switch {
	case name == "":
		return say("badge.unasked")
	case b.Job != "":
		return say("badge.job", name, b.Job)
	}
	return say("badge", name)
}

// Attach has the next tools taken for a job. Fresh says that the shop does not know
// it yet: the first tool opens it. Like are then the open jobs that may have been meant.
func (b *Board) Attach(job string, fresh bool, like string, now time.Duration) Said {
	b.Job, b.Named = job, now
	key, args := "job", []string{job}
	switch {
	case fresh && like != "":
		key, args = "job.like", append(args, like)
	case fresh:
		key = "job.fresh"
	}
	if b.Badge == "" {
		key += "-badge"
	}
	return say(key, args...)
}
