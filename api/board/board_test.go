package board_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"pawl/api/board"
	"pawl/model/fault"
)

const (
	badgeA = "B/7K3M9P4X"
	badgeB = "B/8K3M9P4X"
	tool   = "T/00EKM5" // 00E-KM5
	other  = "T/00001Y" // 000-01Y
)

// shop answers what the machine asks, as the real one does: who has what.
type shop struct {
	holds map[string]string // by number
	jobs  map[string]string // by number
}

var names = map[string]string{badgeA: "Tech A", badgeB: "Tech B"}

// step runs one scan to its end, and gives the outcome with what was said.
func (s *shop) step(b *board.Board, scan string, at time.Duration) string {
	o := b.Scan(scan, at)
	outcome, said := o.Outcome, o.Said
	switch o.Kind {
	case board.Nothing:
	case board.Who:
		if names[o.Code] == "" {
			outcome, said = b.Refused(o, fault.New(fault.Forbidden, "nobody has it"), plain)
			break
		}
		outcome, said = board.Done, b.Open(o.Code, names[o.Code], at)
	case board.Whether:
		outcome, said = board.Done, b.Attach(o.Job, true, like(o.Job), at)
	case board.Look:
		said = board.Shown(o, o.Number+" ratchet")
	default:
		if err := s.act(o); err != nil {
			outcome, said = b.Refused(o, err, plain)
			break
		}
		outcome, said = board.Done, b.Did(o, "key", board.Did{Number: o.Number, Person: s.holds[o.Number], Job: s.jobs[o.Number], Since: "now"})
	}
	return string(outcome) + " " + strings.TrimPrefix(said.Key, "board.")
}

// like has 1042 taken for a slip of 1024.
func like(job string) string {
	if job == "1024" {
		return "1042"
	}
	return ""
}

func plain(since string) string { return since }

func (s *shop) act(o board.Order) error {
	holder := s.holds[o.Number]
	has := fault.New(fault.Conflict, "no").WithFact("holder", holder)
	if o.Kind == board.Take {
		has = has.WithFact("job", s.jobs[o.Number])
	}
	switch {
	case o.Kind == board.Take && holder != "", o.Kind == board.Return && holder == "":
		return has
	case o.Kind == board.Take:
		s.holds[o.Number], s.jobs[o.Number] = o.Name, o.Job
	case o.Kind == board.Return:
		delete(s.holds, o.Number)
	case holder == "":
		s.holds[o.Number] = "whoever had it"
	default:
		delete(s.holds, o.Number)
	}
	return nil
}

// What each scan means, with the seconds at which it comes; "seconds scan: outcome
// said".
func TestWhatAScanMeans(t *testing.T) {
	for name, script := range map[string]string{
		"a badge opens taking, without one a tool comes back": `
			0 ` + badgeA + `: done badge
			3 ` + tool + `: done took
			6 ` + other + `: done took
			31 ` + tool + `: done returned
			35 ` + tool + `: already already.in-place`,
		"taking ends 30 s after the badge, whatever is taken; the badge again begins anew": `
			0 ` + badgeA + `: done badge
			29.9 ` + tool + `: done took
			30 ` + other + `: already already.in-place
			40 ` + badgeA + `: done badge
			65 ` + badgeA + `: done badge
			90 ` + other + `: done took`,
		"or at the next badge, whosever it is": `
			0 ` + badgeA + `: done badge
			3 ` + badgeB + `: done badge
			4 ` + tool + `: done took
			5 B/ZZZZZZZZ: failed refused
			6 ` + other + `: already already.in-place`,
		"already theirs, and another's": `
			0 ` + badgeA + `: done badge
			1 ` + tool + `: done took
			4 ` + tool + `: already already.yours
			5 ` + badgeB + `: done badge
			6 ` + tool + `: failed has`,
		"already theirs on another job, or on none, is not taken for this one": `
			0 ` + badgeA + `: done badge
			1 ` + other + `: done took
			2 JOB:1042: done job.fresh
			3 ` + tool + `: done took.job
			6 ` + tool + `: already already.yours
			7 JOB:1043: done job.fresh
			9 ` + tool + `: failed has.job
			10 ` + other + `: failed has.no-job
			20 CARD:RETURN: done card.return
			21 ` + tool + `: done returned
			22 CARD:TAKE: done card.take
			24 ` + tool + `: done took.job`,
		"one scan within 2 s of itself": `
			0 ` + badgeA + `: done badge
			1 ` + badgeA + `: same same
			3 ` + tool + `: done took
			4.9 t/00e-km5: same same
			6.8 ` + tool + `: same same
			8.8 ` + tool + `: already already.yours`,
		"cards override": `
			0 CARD:TAKE: done card.take-whose
			1 ` + tool + `: failed whose
			2 ` + badgeA + `: done badge
			3 ` + tool + `: done took
			4 card:return: done card.return
			5 ` + tool + `: done returned
			6 CARD:TAKE: done card.take
			7 ` + tool + `: done took
			8 CARD:RETURN: done card.return
			9 ` + badgeA + `: done badge
			10 ` + other + `: done took
			50 ` + other + `: done returned`,
		"a job that is new names those that may have been meant": `
			0 JOB:1024: done job.like-badge
			9 ` + badgeA + `: done badge.job
			10 JOB:1024: done job.like`,
		"a job goes with the badge, and ends with it": `
			0 ` + badgeA + `: done badge
			1 JOB:1042: done job.fresh
			2 ` + tool + `: done took.job
			3 ` + badgeB + `: done badge
			4 ` + other + `: done took
			5 ` + badgeA + `: done badge
			6 CARD:RETURN: done card.return
			7 ` + tool + `: done returned`,
		"a job just before the badge": `
			0 JOB:1042: done job.fresh-badge
			9 ` + badgeA + `: done badge.job
			10 ` + tool + `: done took.job
			20 ` + badgeA + `: done badge.job
			45 ` + other + `: done took.job
			60 JOB:1042: done job.fresh-badge
			91 ` + badgeA + `: done badge`,
		"a bare order is asked about, and the same again confirms": `
			0 ` + badgeA + `: done badge
			1 1042: asks ask.job
			2 1042: same same
			3 ` + tool + `: done took
			4 1042: asks ask.job
			7 1042: done job.fresh
			8 ` + other + `: done took.job
			9 77001: asks ask.job
			40 77001: asks ask.job`,
		"undo is once, of the last": `
			0 undo: failed undo.nothing
			3 ` + badgeA + `: done badge
			4 ` + tool + `: done took
			5 CARD:UNDO: done undone.take
			9 UNDO: failed undo.nothing
			40 ` + badgeA + `: done badge
			41 ` + tool + `: done took
			80 ` + tool + `: done returned
			82 undo: done undone.return`,
		"a label of elsewhere is asked about": `
			0 https://far.example/T/00EKM5: asks ask.host
			3 https://far.example/T/00EKM5: already already.in-place
			9 HTTPS://OURS.example/t/00ekm5/?a#b: already already.in-place`,
		"a written number counts with its hyphen": `
			0 ` + badgeA + `: done badge
			1 00e-km5: done took
			4 00001y: asks ask.tool
			7 00001y: done took`,
	} {
		t.Run(name, func(t *testing.T) {
			s := &shop{map[string]string{}, map[string]string{}}
			b := &board.Board{Hosts: []string{"ours.example"}}
			for _, line := range strings.Split(strings.TrimSpace(script), "\n") {
				var seconds float64
				when, rest, _ := strings.Cut(strings.TrimSpace(line), " ")
				fmt.Sscan(when, &seconds)
				i := strings.LastIndex(rest, ": ")
				if got := s.step(b, rest[:i], time.Hour+time.Duration(seconds*float64(time.Second))); got != rest[i+2:] {
					t.Errorf("%s: %s", line, got)
				}
			}
		})
	}
}

// What people type is asked about by name, however it is written.
func TestTypedIsAskedAbout(t *testing.T) {
	b := &board.Board{Typed: true}
	if o := b.Scan("00E-KM5", 0); o.Kind != board.Look || o.Number != "00E-KM5" {
		t.Errorf("%+v", o)
	}
	if o := b.Scan("00E-KM5", 3*time.Second); o.Kind != board.Return {
		t.Errorf("confirmed: %+v", o)
	}
}

// What is no code of ours says so in one line, which fits what was wrong.
func TestUnread(t *testing.T) {
	for scan, want := range map[string]string{
		"T/00E": "unread", "00EKM": "unread", "T/00EKM5T/00001Y": "unread", "T/00EKM6": "unread", "": "unread",
		"https://ours.example/t/00EKM": "unread", "https://ours.example/t/00EKM5/more": "unread", "CARD:STEAL": "unread",
		"T-00EKM5": "unread.layout", "T!ààEK?(": "unread.layout", "B-7K3M9P4X": "unread.layout",
		"P/7K3M9P4X": "place", "JOB:a b": "job.strange", strings.Repeat("x", 4096): "unread", "\x00\xff": "unread",
		"T/OOEKM5": "unread", // look-alikes are not folded in what was scanned
	} {
		b := &board.Board{Hosts: []string{"ours.example"}}
		if o := b.Scan(scan, time.Hour); o.Kind != board.Nothing || o.Outcome != board.Failed || o.Said.Key != "board."+want {
			t.Errorf("%.40q: %+v, want %s", scan, o, want)
		}
	}
}

// The end of taking is told once, by name.
func TestEndIsTold(t *testing.T) {
	b := &board.Board{}
	b.Open(badgeA, "Tech A", time.Second)
	if _, ended := b.Ended(30 * time.Second); ended {
		t.Error("it ended after 29 s")
	}
	if said, ended := b.Ended(31 * time.Second); !ended || said.English() != "Taking by Tech A has ended. The next tool scanned is a return." {
		t.Errorf("%v %q", ended, said.English())
	}
	if _, ended := b.Ended(40 * time.Second); ended {
		t.Error("it ended twice")
	}
}
