package model

import (
	"cmp"
	"slices"
	"strconv"

	"pawl/model/dates"
	"pawl/model/markings"
	"pawl/model/register"
)

// The columns of the sheet of markings: a row for each marking, and behind it one for
// each term and each look, those that were taken back among them.
var (
	markingKeys = []string{"number", "marking", "shows", "code", "method", "where", "what", "id", "day", "ended", "protection", "usage", "grade", "reading", "photo",
		"entered", "entered_by", "withdrawn", "why"}
	markingHeaders = []string{"Number", "Marking", "Shows", "Owner's number", "Method", "Where", "What", "ID", "Day", "Ended", "Protection", "Usage", "Grade", "Reading", "Photo",
		"Entered", "Entered by", "Taken back", "Why"}
)

// markingCells are the rows of the markings of tools, by tool, oldest first.
func (d *directory) markingCells(_ By, tools []register.Tool) (out [][]string, err error) {
	ids := make([]string, len(tools))
	for i, t := range tools {
		ids[i] = t.ID
	}
	marks, err := d.MarkingsOf(ids)
	if err != nil {
		return nil, err
	}
	terms, err := d.Terms(ids...)
	if err != nil {
		return nil, err
	}
	checks, err := d.Checks(ids...)
	if err != nil {
		return nil, err
	}
	hung := map[string][][]string{} // by marking
	for _, t := range terms {
		hung[t.Marking] = append(hung[t.Marking], []string{"term", t.ID, string(t.From), "", string(t.Protection), string(t.Usage), "", "", "",
			told(t.Entered), d.person(t.Person), told(t.Withdrawn), t.Why})
	}
	for _, c := range checks {
		grade, photo := "", ""
		if c.Grade != nil {
			grade = strconv.FormatInt(*c.Grade, 10)
		}
		if c.Evidence != "" {
			photo = "yes"
		}
		hung[c.Marking] = append(hung[c.Marking], []string{"look", c.ID, string(c.On), "", "", "", grade, c.Read, photo,
			told(c.Entered), d.person(c.Person), told(c.Withdrawn), c.Why})
	}
	for _, t := range tools {
		for _, m := range marks[t.ID] {
			of := []string{t.Number.String(), m.ID, cmp.Or(m.Shows, "serial number"), m.Code, string(m.Method), m.Spot}
			out = append(out, slices.Concat(of, markingRow(m)))
			for _, row := range hung[m.ID] {
				out = append(out, slices.Concat(of, row))
			}
		}
	}
	return out, nil
}

func markingRow(m markings.Marking) []string {
	return []string{"marking", m.ID, string(m.Marked), string(m.Ended), string(m.Protection), "", "", "", "", told(m.Since), "", "", ""}
}

// told writes an instant; none is empty.
func told(at dates.Instant) string {
	if at == 0 {
		return ""
	}
	return at.String()
}
