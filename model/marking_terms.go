package model

import (
	"cmp"
	"slices"
	"strconv"

	"pawl/model/dates"
	"pawl/model/evidence"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/markings"
	"pawl/model/matching"
	"pawl/model/names"
	"pawl/model/people"
	"pawl/model/register"
	"pawl/model/serials"
)

// protect begins a term with another protection.
func (m *marking) protect() error {
	p, err := markings.ParseProtection(m.in.Protection)
	if err != nil {
		return fault.At("#/protection", "%s", fault.Of(err).Error())
	}
	row, err := load[markings.Marking](m.tx, m.row.ID, "marking")
	if err != nil {
		return err
	}
	if m.term, err = beginTerm(m.tx, m.by, m.tool, row, markings.Term{From: m.on, Protection: p}); err != nil {
		return err
	}
	if m.term == "" {
		m.said = append(m.said, "It is on record so already: "+string(p)+".")
	}
	return nil
}

// beginTerm records that a marking is kept otherwise from a day on, in its protection or
// in its usage; before it how it was from the start, where that is on record and no term
// says so yet. Nothing is written where it is on record so, and the id is empty then. The
// marking must be loaded for change; t is the tool as it was until now.
func beginTerm(tx *store.Tx, by By, t register.Tool, m markings.Marking, term markings.Term) (string, error) {
	terms, err := termsOf(tx, m)
	if err != nil {
		return "", err
	}
	was := keptOn(markings.Stretches(m, t.Usage, term.From, terms), term.From)
	if term.Repeats(was) {
		return "", nil
	}
	start := markings.Term{}
	protection, usage := markings.SpeakOf(markings.InForce(terms))
	if term.Protection != "" && !protection {
		start.Protection = was.Protection
	}
	if term.Usage != "" && !usage {
		start.Usage = was.Usage
	}
	if start != (markings.Term{}) {
		if err := putTerm(tx, by, m, &start); err != nil {
			return "", err
		}
		terms = append(terms, start)
	}
	if err := putTerm(tx, by, m, &term); err != nil {
		return "", err
	}
	now := keptNow(m, append(terms, term))
	if term.Protection == "" || now.Protection == m.Protection {
		return term.ID, nil
	}
	m.Protection = now.Protection
	return term.ID, store.Put(tx, &m)
}

// keptNow is how a marking is kept by its terms alone, empty where they do not say.
func keptNow(m markings.Marking, terms []markings.Term) markings.Stretch {
	m.Protection = ""
	all := markings.Stretches(m, "", "", terms)
	return all[len(all)-1]
}

func keptOn(all []markings.Stretch, day dates.Date) markings.Stretch {
	at := all[0]
	for _, k := range all {
		if !k.From.After(day) {
			at = k
		}
	}
	return at
}

func putTerm(tx *store.Tx, by By, m markings.Marking, term *markings.Term) (err error) {
	term.Tool, term.Marking, term.Entered, term.Person = m.Tool, m.ID, tx.Now(), by.Person
	if term.ID, err = tx.NewID('M'); err != nil {
		return err
	}
	return store.Put(tx, term)
}

func termsOf(tx *store.Tx, m markings.Marking) ([]markings.Term, error) {
	all, err := tx.Terms(m.Tool)
	return slices.DeleteFunc(all, func(t markings.Term) bool { return t.Marking != m.ID }), err
}

// anew records another marking: the maker's serial marked otherwise, which ends the
// marking before, or a number of the owner's beside it.
func (m *marking) anew() (err error) {
	if m.row, err = m.in.New(m.on); err != nil {
		return err
	}
	m.row.Tool, m.row.Since = m.tool.ID, m.tx.Now()
	all, err := m.tx.Markings(m.tool.ID)
	if err != nil {
		return err
	}
	for _, one := range all {
		if m.row.Shows == markings.OwnersNumber && one.Shows == m.row.Shows && one.Ended == "" && names.Key(one.Code) == names.Key(m.row.Code) {
			return fault.New(fault.Conflict, "%s carries the owner's number %s already", m.tool.Number, one.Code).WithHint("look at it: pawl marking %s --marking %s --grade …", m.tool.Number, one.ID)
		}
	}
	if now, is := markings.Current(all); is && m.row.Shows == "" {
		if err := endMarking(m.tx, now.ID, m.on); err != nil {
			return err
		}
		m.said = append(m.said, "The marking before it ended on "+string(m.on)+"; what was seen of it stays with it.")
	}
	if m.row.ID, err = m.tx.NewID('M'); err != nil {
		return err
	}
	return store.Put(m.tx, &m.row)
}

// endMarking ends a marking on a day, which is not before what is on record of it.
func endMarking(tx *store.Tx, id string, on dates.Date) error {
	row, err := load[markings.Marking](tx, id, "marking")
	if err != nil {
		return err
	}
	if on.Before(row.Marked) {
		return fault.At("#/on", "the marking before it was made on %s, after %s", row.Marked, on).WithHint("correct the date")
	}
	checks, err := tx.Checks(row.Tool)
	if err != nil {
		return err
	}
	for _, c := range checks {
		if c.Marking == id && c.Withdrawn == 0 && c.On.After(on) {
			return fault.At("#/on", "the marking before it was looked at on %s, after %s", c.On, on).WithHint("correct the date, or withdraw that look first: %s", c.ID)
		}
	}
	row.Ended = on
	return store.Put(tx, &row)
}

// look records a look at the marking.
func (m *marking) look() (err error) {
	if err := m.notBefore(); err != nil {
		return err
	}
	c := &m.check
	*c = markings.Check{Tool: m.tool.ID, Marking: m.row.ID, On: m.on, Grade: m.in.Grade, Entered: m.tx.Now(), Person: m.by.Person}
	if m.in.Read != "" {
		if c.Read, err = m.read(); err != nil {
			return err
		}
	}
	for _, a := range m.in.Evidence {
		if err := m.photoOfMarking(a); err != nil {
			return err
		}
	}
	if c.Evidence, err = m.shop.attachPaper(m.tx, m.by, m.hand, m.in.Evidence); err != nil {
		return err
	}
	if c.ID, err = m.tx.NewID('M'); err != nil {
		return err
	}
	m.seen()
	return store.Put(m.tx, c)
}

// earliestLook is how many months before a tool is registered it may have been looked at,
// where its purchase is not on record: a mistyped year is refused, an old photo is not. A
// rule of this project.
const earliestLook = 60

// notBefore refuses a look dated before anything that is known of the tool: all the time
// between would count as wear, of this tool and, by what is learned, of its like.
func (m *marking) notBefore() error {
	if bought := m.tool.Bought; bought != "" {
		switch {
		case !m.on.Before(bought):
			return nil
		case !people.May(m.by.Actor, people.SeeMoney, m.object(m.tool)): // the day is not theirs to know
			return fault.At("#/on", "a look on %s is before the day on which the tool was bought by the record", m.on).WithHint("correct the date; whoever may see the purchase corrects that, if it is wrong")
		}
		return fault.At("#/on", "a look on %s is before the tool was bought, on %s", m.on, bought).
			WithHint("correct the date; or, if that is wrong, the purchase: pawl edit %s --bought DATE", m.tool.Number)
	}
	loc, err := m.settings.Location()
	if err != nil {
		return err
	}
	registered := m.tool.Created.Day(loc)
	if m.on.Before(registered.AddMonths(-earliestLook)) {
		return fault.At("#/on", "a look on %s is more than five years before the tool was registered, on %s", m.on, registered).
			WithHint("correct the date; or, if that is right, enter first when it was bought: pawl edit %s --bought DATE", m.tool.Number)
	}
	return nil
}

// read takes a reading as it was typed, and says where it does not fit what is on
// record. It never changes that.
func (m *marking) read() (string, error) {
	text, err := names.Line(m.in.Read)
	if err != nil {
		return "", fault.At("#/read", "%s", fault.Of(err).Error())
	}
	r, err := matching.Parse(text)
	if err != nil {
		return "", fault.At("#/read", "%s", fault.Of(err).Error())
	}
	shows, key := "the serial on record", shownBy(m.tool, m.row)
	if m.row.Shows == markings.OwnersNumber {
		shows = "the owner's number on record"
	}
	fits := key == "" || r.Fits(key)
	if !fits {
		m.said = append(m.said, "What was read, "+text+", does not fit "+shows+". Read it once more, from the photo too: either it was misread, or this is another tool, or the record is wrong. Nothing on record was changed.")
		if m.in.Grade != nil {
			m.said = append(m.said, "As long as it does not fit, the grade of this look counts in no forecast.")
		}
	}
	if err := m.agree(text, r, fits, key != ""); err != nil {
		return "", err
	}
	switch {
	case m.in.Grade == nil:
	case *m.in.Grade >= markings.Worn && r.Partial():
		m.said = append(m.said, "Grade "+strconv.FormatInt(*m.in.Grade, 10)+" says that every character is certain, and the reading leaves some open: at grade 2 it takes care to read, at 1 a character is lost.")
	case *m.in.Grade == markings.WithCare && r.Lacks():
		m.said = append(m.said, "Grade 2 says that every character can be read with care, and the reading leaves some out: at 1 a character is lost.")
	}
	return text, nil
}

// agree refuses a grade of lost characters beside a reading that has them all: one of both
// was mistyped. A reading that does not fit the record is asked about instead; one of which
// the record shows nothing may lack its ends.
func (m *marking) agree(text string, r matching.Reading, fits, known bool) error {
	if m.in.Grade == nil {
		return nil
	}
	grade := *m.in.Grade
	if r.Sure() && fits && (grade == markings.Unreadable || grade == markings.Lost && known) {
		return fault.At("#/grade", "grade %d says that characters are lost, and in the reading %s every one is read", grade, text).
			WithHint("give grade %d, readable only with care, or better; or type ? for a character that cannot be read, * where some are gone", markings.WithCare)
	}
	return nil
}

// shownBy is what a marking shows by the record, as a key; empty where nothing is on record.
func shownBy(t register.Tool, m markings.Marking) string {
	if m.Shows == markings.OwnersNumber {
		return serials.Key(m.Code)
	}
	return t.SerialKey
}

// fitting leaves out the looks at which something else was read than a marking shows by
// the record: they may be of another tool, and say nothing of the wear of this one.
func fitting(t register.Tool, m markings.Marking, all []markings.Check) []markings.Check {
	key := shownBy(t, m)
	other := func(c markings.Check) bool {
		if c.Read == "" || c.Grade == nil {
			return false
		}
		r, err := matching.Parse(c.Read)
		return err == nil && !r.Fits(key)
	}
	if key == "" || !slices.ContainsFunc(all, other) {
		return all
	}
	return slices.DeleteFunc(slices.Clone(all), other)
}

// seen says what a look lacks.
func (m *marking) seen() {
	n := m.tool.Number.String()
	if len(m.in.Evidence) == 0 {
		m.said = append(m.said, "No photo of this look: a photo proves what words cannot. Take one now, before any cleaning (brake cleaner takes print off): pawl evidence add "+n+" --photo plate=FILE")
	}
	if m.in.Grade == nil {
		m.said = append(m.said, "No grade was given, so this look says nothing of the wear. "+markings.GradesInWords()+".")
	}
}

func (d *directory) photoOfMarking(a register.Attach) error {
	kind, err := evidence.ParseKind(a.Kind)
	if err != nil {
		return fault.At("#/evidence", "%s", fault.Of(err).Error())
	}
	if !kind.Photo() {
		return fault.At("#/evidence", "a %s does not show a marking", kind.Words()).WithHint("give a photo: plate=FILE, taken close; papers are added with: pawl evidence add NUMBER")
	}
	return nil
}

// withdrawMarking takes back a look, or a term.
func (h *hand) withdrawMarking(id, why string) error {
	why, err := whyWithdrawn(why)
	if err != nil {
		return err
	}
	c, is, err := store.Change[markings.Check](h.tx, id)
	switch {
	case err != nil:
		return err
	case is && c.Tool == h.tool.ID:
		return h.withdrawCheck(c, why)
	}
	t, is, err := store.Change[markings.Term](h.tx, id)
	switch {
	case err != nil:
		return err
	case is && t.Tool == h.tool.ID:
		return h.withdrawTerm(t, why)
	}
	return fault.New(fault.NotFound, "%s has no look and no term %s", h.tool.Number, id).WithHint("see them with: pawl marking %s", h.tool.Number)
}

// withdrawCheck takes back a look: whoever entered it, or may edit the tool.
func (h *hand) withdrawCheck(c markings.Check, why string) error {
	if err := takesBack(h.by, c, h.object(h.tool)); err != nil {
		return err
	}
	if c.Withdrawn != 0 {
		return withdrawnAlready("look "+c.ID, c.Why, c.Withdrawn)
	}
	c.Withdrawn, c.Why = h.tx.Now(), why
	return store.Put(h.tx, &c)
}

// takesBack says why somebody may not take back a look: nil where they may.
func takesBack(by By, c markings.Check, o people.Object) error {
	if by.Person != "" && c.Person == by.Person && by.Role != people.ShopDevice {
		return nil
	}
	return allowed(by, people.EditTool, o)
}

func withdrawnAlready(what, why string, at dates.Instant) error {
	return fault.New(fault.Conflict, "%s was taken back already: %s", what, why).WithFact("since", at.String())
}

// withdrawTerm takes back how a marking was kept from a day on, or from the start: what
// the term before says holds on. How often a tool is used belongs to the tool, and is
// taken back for all of its markings.
func (h *hand) withdrawTerm(t markings.Term, why string) error {
	if err := allowed(h.by, people.EditTool, h.object(h.tool)); err != nil {
		return err
	}
	if t.Withdrawn != 0 {
		return withdrawnAlready("term "+t.ID, t.Why, t.Withdrawn)
	}
	terms, err := h.tx.Terms(h.tool.ID)
	if err != nil {
		return err
	}
	for i, o := range terms {
		same := o.ID == t.ID || t.Usage != "" && o.Usage == t.Usage && o.From == t.From
		if o.Withdrawn != 0 || !same {
			continue
		}
		if o, err = load[markings.Term](h.tx, o.ID, "term"); err != nil {
			return err
		}
		o.Withdrawn, o.Why = h.tx.Now(), why
		if err := store.Put(h.tx, &o); err != nil {
			return err
		}
		terms[i] = o
	}
	if t.Usage != "" {
		if err := h.usedNow(t.Marking, terms); err != nil {
			return err
		}
	}
	return h.protectedNow(t.Marking, terms)
}

// protectedNow keeps in a marking how it is protected, where terms spoke of that.
func (h *hand) protectedNow(id string, terms []markings.Term) error {
	m, err := load[markings.Marking](h.tx, id, "marking")
	if err != nil {
		return err
	}
	terms = slices.DeleteFunc(slices.Clone(terms), func(t markings.Term) bool { return t.Marking != id || t.Protection == "" })
	if len(terms) == 0 {
		return nil
	}
	now := keptNow(m, terms).Protection
	if now == m.Protection {
		return nil
	}
	m.Protection = now
	return store.Put(h.tx, &m)
}

// usedNow keeps in the tool how often it is used by the terms of a marking.
func (h *hand) usedNow(marking string, terms []markings.Term) error {
	now := keptNow(markings.Marking{ID: marking}, terms).Usage
	if now == h.tool.Usage {
		return nil
	}
	h.tool.Usage = now
	return store.Put(h.tx, &h.tool)
}

// usageChanged begins a term of every marking on a tool whose usage is another one now, or
// is not said any more: else the term before would hold on.
func usageChanged(tx *store.Tx, by By, was, t register.Tool) error {
	if t.Usage == was.Usage {
		return nil
	}
	all, err := tx.Markings(t.ID)
	if err != nil {
		return err
	}
	today, err := todayOf(tx)
	if err != nil {
		return err
	}
	for _, m := range all {
		if m.Ended != "" {
			continue
		}
		if m, err = load[markings.Marking](tx, m.ID, "marking"); err != nil {
			return err
		}
		if _, err := beginTerm(tx, by, was, m, markings.Term{From: today, Usage: cmp.Or(t.Usage, markings.NotSaid)}); err != nil {
			return err
		}
	}
	return nil
}

// find gives a marking by id; empty is the one that shows the maker's serial now.
func (v MarkingsView) find(id string) (MarkingView, error) {
	if id == "" {
		id = v.Current
	}
	at := slices.IndexFunc(v.Markings, func(m MarkingView) bool { return m.ID == id })
	switch {
	case at >= 0:
		return v.Markings[at], nil
	case id == "":
		return MarkingView{}, fault.New(fault.NotFound, "how the serial of %s is marked is not on record", v.Number).
			WithHint("record it: pawl edit %s --marking printed, or another of %s", v.Number, markings.MethodsInWords())
	}
	return MarkingView{}, fault.New(fault.NotFound, "%s has no marking %s", v.Number, id).WithHint("see them with: pawl marking %s", v.Number)
}
