package model

import (
	"context"
	"fmt"
	"strings"

	"pawl/labels"
	"pawl/model/dates"
	"pawl/model/jobs"
)

// jobSheetFoot is what a job sheet does not say.
const jobSheetFoot = "By the record alone: tools that nobody scanned are not covered, and nothing here speaks of a fastener. The vehicle maker's service information governs the work."

// JobSheet gives what is on record of a job as it is printed.
func (s *Shop) JobSheet(ctx context.Context, by By, number string) (sheet labels.JobSheet, err error) {
	v, err := s.AllBack(ctx, by, number)
	if err != nil {
		return sheet, err
	}
	err = s.read(ctx, func(d *directory) error {
		p := jobPaper{directory: d, v: v}
		sheet = labels.JobSheet{Symbol: "JOB:" + v.Job.Number, Number: v.Job.Number, Shop: d.settings.Name, Paper: string(d.settings.Paper),
			As: p.at(dates.InstantOf(s.clock())), About: p.about(), Words: v.Words, Foot: jobSheetFoot}
		sheet.Parts = []labels.JobSheetPart{
			{Title: "Tell the vehicle's owner", Loud: true, Lines: p.tell()},
			{Title: "Closed over what was open", Loud: true, Lines: p.override()},
			{Title: "Holds the job open", Loud: true, Lines: p.holds()},
			{Title: "Taken to it", Lines: p.taken()},
			{Title: "What did not add up", Lines: p.findings()},
			{Title: "Held for the customer", Lines: p.held()},
			{Title: "Looked at", Lines: p.looks()},
		}
		return p.bad
	})
	return sheet, err
}

// jobPaper puts a job into the lines that are printed.
type jobPaper struct {
	*directory
	v   AllBackView
	bad error
}

// at says an instant on the shop's clock.
func (p *jobPaper) at(i dates.Instant) string {
	text, err := p.clockTime(i)
	if err != nil {
		p.bad = err
	}
	return text
}

func (p *jobPaper) about() (out []string) {
	j := p.v.Job
	if j.Vehicle != "" {
		out = append(out, j.Vehicle)
	}
	if j.VIN != "" {
		out = append(out, "VIN "+j.VIN)
	}
	out = append(out, map[jobs.Safety]string{jobs.Yes: "a safety job", jobs.No: "marked as not a safety job", jobs.Unknown: "safety unknown: counts as a safety job"}[j.Safety])
	state := "open since " + p.at(j.Opened)
	if j.Closed != 0 {
		state = "closed " + p.at(j.Closed) + " by " + p.v.ClosedBy
	}
	if j.ReopenedAt != 0 {
		state += "; reopened " + p.at(j.ReopenedAt) + " by " + p.v.ReopenedBy + ": " + j.ReopenedWhy
	}
	return append(out, state)
}

func (p *jobPaper) tell() (out []labels.JobSheetLine) {
	for _, text := range p.v.Tell() {
		out = append(out, labels.JobSheetLine{Text: text})
	}
	return out
}

func (p *jobPaper) override() (out []labels.JobSheetLine) {
	if j := p.v.Job; j.OverrideAt != 0 {
		more := "by " + p.v.OverrideBy + ", " + p.at(j.OverrideAt)
		if !p.v.ClosedOver() {
			more = "an earlier closing, " + more
		}
		out = append(out, labels.JobSheetLine{Text: j.OverrideWhy, More: more})
	}
	return out
}

func (p *jobPaper) holds() (out []labels.JobSheetLine) {
	for _, u := range p.v.Holds {
		out = append(out, labels.JobSheetLine{Text: u.ID + ": " + u.Name + ", " + u.Target.Words() + " with " + u.Number, More: u.Settle})
	}
	return out
}

func (p *jobPaper) taken() (out []labels.JobSheetLine) {
	for _, t := range p.v.Tools {
		text := strings.TrimSpace(t.Number.String() + " " + strings.Join(strings.Fields(t.Kind+" "+t.Maker+" "+t.Model), " "))
		out = append(out, labels.JobSheetLine{Text: text + ": " + t.Says(), More: p.more(t)})
	}
	return out
}

// more says what else is known of a tool that was taken.
func (p *jobPaper) more(t TakenTool) string {
	out := []string{"since " + p.at(t.Since)}
	if t.Set() && t.LookedAt != 0 {
		out = append(out, "its pieces were looked at "+p.at(t.LookedAt))
	} else if t.Set() {
		out = append(out, "NOBODY LOOKED AT ITS PIECES")
	}
	if len(t.Missing) > 0 {
		out = append(out, "not complete: "+pieceWords(t.Missing))
	}
	if t.Broken != "" {
		out = append(out, "broken: "+t.Broken)
	}
	if t.Condition != "" {
		out = append(out, "as it came: "+t.Condition)
	}
	return strings.Join(out, "; ")
}

// Says tells in words where a tool is that was taken to a job.
func (t TakenTool) Says() string {
	switch t.Where {
	case TakenOut:
		return "NOT BACK, out to " + t.Holder
	case TakenHandedOn:
		if t.OnJob != "" {
			return "handed on to " + t.Holder + ", job " + t.OnJob
		}
		return "handed on to " + t.Holder
	case TakenAway:
		return "away at " + t.Holder
	case TakenGone:
		return "gone, " + t.GoneWhy
	case TakenLost:
		return "NOT BACK, lost"
	}
	return "back"
}

func (p *jobPaper) findings() (out []labels.JobSheetLine) {
	for _, f := range p.v.Findings {
		line := labels.JobSheetLine{Text: f.ID + ": " + f.Words, Blank: f.Open()}
		if !f.Open() {
			line.More = fmt.Sprintf("%s (%s, %s)", f.Says(), f.AnsweredByPerson, p.at(f.AnsweredAt))
		}
		out = append(out, line)
	}
	return out
}

func (p *jobPaper) held() (out []labels.JobSheetLine) {
	for _, h := range p.v.Held {
		line := labels.JobSheetLine{Text: h.What, More: "since " + p.at(h.At) + ", " + h.By}
		if h.GivenAt != 0 {
			line.More += "; given to " + h.GivenTo + " by " + h.GivenByPerson + ", " + p.at(h.GivenAt)
		}
		out = append(out, line)
	}
	return out
}

func (p *jobPaper) looks() (out []labels.JobSheetLine) {
	for _, l := range p.v.Looks {
		if l.Sort == jobs.LookSeen {
			continue // they stand with the tools
		}
		out = append(out, labels.JobSheetLine{Text: l.Says(), More: l.By + ", " + p.at(l.At)})
	}
	return out
}

// Says tells in words what was looked at.
func (l LookView) Says() string {
	switch {
	case l.Before == jobs.BeforeEngine:
		return "before the engine is started: " + l.Words
	case l.Before == jobs.BeforeHandover:
		return "at hand-over: " + l.Words
	case l.Sort == jobs.LookSet && l.Missing != "":
		return l.Number.String() + " " + l.Kind + ": not complete, " + pieceWords(l.MissingPieces())
	case l.Sort == jobs.LookSet:
		return l.Number.String() + " " + l.Kind + ": all there"
	}
	return l.Number.String() + " " + l.Kind + ": seen back"
}
