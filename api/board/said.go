package board

import (
	"cmp"
	"strings"

	"pawl/api/page/words"
	"pawl/model/fault"
)

// Said is one line to be told, in any language of the catalog.
type Said struct {
	Key  string   `json:"k,omitempty"`
	Args []string `json:"a,omitempty"`
}

func say(key string, args ...string) Said { return Said{"board." + key, args} }

// In gives the line in a language.
func (s Said) In(lang words.Language) string {
	if s.Key == "" {
		return ""
	}
	in := make([]any, len(s.Args))
	for i, a := range s.Args {
		in[i] = cmp.Or(a, "?")
	}
	return words.Say(lang, s.Key, in...)
}

// English gives the line in English.
func (s Said) English() string { return s.In(words.English) }

// Did is what the shop answered to an act.
type Did struct {
	Number, What string // the tool
	Person, Job  string // of its custody now
	Since        string
	DoNotUse     string // why, where it is out of use
}

// Did notes that an order was done under a replay key, and tells it.
func (b *Board) Did(o Order, key string, d Did) Said {
	b.Last = Act{Number: d.Number, Since: d.Since, Key: key}
	if o.Kind == Undo {
		b.Last = Act{} // once is enough: what is undone is done anew by a scan
	}
	return Told(o.Kind, d)
}

// Told tells what an act left behind.
func Told(kind Kind, d Did) Said {
	tool := strings.TrimSpace(d.Number + " " + d.What)
	switch {
	case kind == Take && d.Job != "":
		return say("took.job", tool, d.Person, d.Job)
	case kind == Take:
		return say("took", tool, d.Person)
	case kind == Return && d.DoNotUse != "":
		return say("returned.stop", tool, d.DoNotUse)
	case kind == Return:
		return say("returned", tool)
	case d.Person != "":
		return say("undone.return", tool, d.Person)
	}
	return say("undone.take", tool)
}

// Keeps notes that an order waits under a key to be sent later, and tells it.
func (b *Board) Keeps(o Order, key string) Said {
	b.Last = Act{Number: o.Number, Key: key}
	if o.Kind == Undo {
		b.Last = Act{}
	}
	return say("kept."+string(o.Kind), o.Number)
}

// Shown asks about a tool that was typed, or whose label is of elsewhere.
func Shown(o Order, tool string) Said {
	o.Said.Args = append(o.Said.Args, tool)
	return o.Said
}

// Refused notes that the shop did not do what was ordered, and tells why; a badge
// that is not known opens nothing.
func (b *Board) Refused(o Order, err error, when func(string) string) (Outcome, Said) {
	if o.Kind == Who {
		b.close()
	}
	return NotDone(o, err, when)
}

// NotDone tells why the shop did not do what was ordered; when writes an instant.
// That things are as they were wanted is no failure.
func NotDone(o Order, err error, when func(string) string) (Outcome, Said) {
	f := fault.Of(err)
	holder, held := f.Facts["holder"]
	since := when(f.Facts["since"])
	switch {
	case f.Kind == fault.Refused && f.Facts["do_not_use"] != "":
		return Failed, say("stop", o.Number, f.Facts["do_not_use"])
	case f.Kind == fault.NotFound && o.Kind != Who:
		return Failed, say("unknown", o.Number)
	case f.Kind != fault.Conflict:
		return Failed, say("refused", f.Message)
	case o.Kind == Return && held && holder == "":
		return Already, say("already.in-place", o.Number)
	case o.Kind == Return && held:
		return Failed, say("away", o.Number, holder, since)
	case o.Kind == Take && held && holder == o.Name && onAnother(o.Job, f.Facts):
		if job := f.Facts["job"]; job != "" {
			return Failed, say("has.job", o.Number, holder, since, job, o.Job)
		}
		return Failed, say("has.no-job", o.Number, holder, since, o.Job)
	case o.Kind == Take && held && holder == o.Name && o.Name != "":
		return Already, say("already.yours", o.Number, holder, since)
	case o.Kind == Take && held:
		return Failed, say("has", o.Number, holder, since)
	case o.Kind == Undo && f.Facts["changed"] != "":
		return Failed, say("undo.changed", o.Number)
	}
	return Failed, say("refused", f.Message)
}

// onAnother says whether a tool is out, but not on the job that it was scanned for: who
// has it already has it on another, or on none. Numbers of jobs are the same whatever
// their case.
func onAnother(job string, facts map[string]string) bool {
	now, told := facts["job"]
	return job != "" && told && !strings.EqualFold(now, job)
}

// Closed tells that a job is closed.
func Closed(job, since string) Said { return say("job.closed", job, since) }

// Sent tells of something that waited what became of it.
func Sent(said Said, lang words.Language) string { return words.Say(lang, "board.sent", said.In(lang)) }

// Waits tells how many acts wait still.
func Waits(n string) Said { return say("waits", n) }

// Undone is told of what cannot be undone because it was never done.
func Undone() Said { return say("undo.never") }

// Old asks about an act that waited too long to be sent without a look.
func Old(kind Kind, number, since string) Said { return say("old."+string(kind), number, since) }
