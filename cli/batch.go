package cli

import (
	"context"
	"fmt"
	"strings"

	"pawl/api/wire"
	"pawl/model/fault"
)

// doing is one act on the tool of that number.
type doing func(ctx context.Context, number string) (wire.Done, error)

// each does an act on every number, one after the other; "-" stands for the
// numbers on stdin, one a line. A single number that fails fails the command.
// Of several, each gets its result line, none stops the others, and the command
// ends with the first failure.
func (s *session) each(ctx context.Context, numbers []string, act doing) error {
	if len(numbers) == 1 && numbers[0] != "-" {
		done, err := act(ctx, numbers[0])
		if err != nil {
			return err
		}
		return s.done(done)
	}
	b := batch{s: s, act: act}
	for _, number := range numbers {
		err := error(nil)
		if number == "-" {
			err = b.stdin(ctx)
		} else {
			err = b.one(ctx, number)
		}
		if err != nil {
			return err
		}
	}
	return b.end()
}

// batch counts the results of one act on many numbers.
type batch struct {
	s             *session
	act           doing
	total, failed int
	first         error
	firstNumber   string
}

func (b *batch) stdin(ctx context.Context) error {
	if b.s.inTerminal {
		b.s.note("ready to scan; end with Ctrl-D")
	}
	return readLines(ctx, b.s.in, func(number string) error { return b.one(ctx, number) })
}

// one does the act on one number. It returns an error only where going on makes
// no sense: nothing can be printed any more, or the command was interrupted.
func (b *batch) one(ctx context.Context, number string) error {
	if ctx.Err() != nil {
		return ctx.Err()
	}
	b.total++
	done, err := b.act(ctx, number)
	if err == nil {
		return b.s.done(done)
	}
	if ctx.Err() != nil {
		return err
	}
	if b.failed++; b.first == nil {
		b.first, b.firstNumber = err, number
	}
	return b.s.notDone(number, b.s.inShopTime(ctx, err))
}

func (b *batch) end() error {
	if b.total == 0 {
		b.s.note("no number came")
	}
	if b.first == nil {
		return nil
	}
	f := *fault.Of(b.first)
	f.Message = fmt.Sprintf("%d of %d failed; the first, %s: %s", b.failed, b.total, b.firstNumber, f.Message)
	return &f
}

// notDone is a result line of an act that failed, among others.
type notDone struct {
	Number  string  `json:"number"`
	Done    *string `json:"done"`
	Problem problem `json:"problem"`
}

func (s *session) notDone(number string, err error) error {
	p := problemOf(err)
	if s.json {
		return s.object(notDone{Number: number, Problem: p})
	}
	return s.changed(fmt.Sprintf("%s NOT DONE: %s", number, p.Message), number, "not done", string(p.Kind), p.Message)
}

// past says what each act left behind.
var past = map[string]string{
	"take": "taken", "return": "returned", "handover": "handed over", "away": "sent away", "back": "back",
	"wrong": "reported", "label again": "labeled again", "join": "joined to a fresh label", "clear": "cleared", "evidence add": "photos and papers added", "evidence file": "photo filed",
	"gone": "gone", "undo": "undone",
}

func pastOf(verb string) string {
	if word, ok := past[verb]; ok {
		return word
	}
	return verb
}

// done is the result line of an act, with what came with it.
func (s *session) done(d wire.Done) error {
	if s.json {
		return s.object(d)
	}
	c, reason := d.Custody, ""
	name := strings.Join(strings.Fields(d.Kind+" "+d.Maker+" "+d.Model), " ")
	sentence := joined(" ", d.Number, name, pastOf(d.Done)) + ": " + s.custody(c)
	if d.GoneWhy != "" {
		sentence, c.State = joined(" ", d.Number, name, "gone:", d.GoneWhy), d.GoneWhy
	}
	if d.DoNotUse != nil {
		reason = d.DoNotUse.Reason
		sentence += "; DO NOT USE: " + reason
	}
	holder := text(c.Person) + text(c.To)
	err := s.changed(sentence, d.Number, pastOf(d.Done), c.State, holder, text(c.Job), c.Since.String(), c.Due.String(), reason, name)
	for _, cleared := range d.Cleared {
		s.note("cleared: " + cleared)
	}
	if d.Question != "" {
		s.note(d.Question)
	}
	s.openedJob(d.NewJob)
	s.note(d.Advice...)
	return err
}

// openedJob tells that an act opened a job: a mistyped number does too.
func (s *session) openedJob(j *wire.OpenedJob) {
	if j == nil {
		return
	}
	text := "job " + j.Number + " is new: it was opened just now"
	if len(j.Like) > 0 {
		text += "; did you mean " + strings.Join(j.Like, ", ") + "?"
	}
	s.note(text)
}

// custody says in words who has a tool.
func (s *session) custody(c wire.Custody) string {
	words := c.State
	switch {
	case c.Person != nil:
		words += " to " + *c.Person
	case c.To != nil:
		words += " at " + *c.To
	}
	if c.Job != nil {
		words += " on job " + *c.Job
	}
	switch {
	case c.For == nil:
	case *c.For == "lent":
		words += ", lent"
	default:
		words += " for " + *c.For
	}
	if due := s.when(c.Due); due != "" {
		words += ", due " + due
	}
	return words
}
