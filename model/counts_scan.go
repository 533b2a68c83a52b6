package model

import (
	"context"
	"slices"
	"strings"

	"pawl/model/counts"
	"pawl/model/custody"
	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/names"
	"pawl/model/numbers"
	"pawl/model/people"
	"pawl/model/register"
	"pawl/model/serials"
)

// ScanCount is one look in a count: what was scanned or typed, and where, as typed.
type ScanCount struct {
	Scanned   string
	At        string   // path or symbol of the place where one stands; empty = not said
	Missing   []string // pieces of the set that are not there
	Condition string
	Happened  string // when, of a look that is entered late; empty = now
}

// What a scan of a count did.
const (
	StandsHere  = "place"        // a place was scanned: what follows is seen there
	SeenAlready = "seen already" // nothing was changed
)

// CountedDone is what one scan of a count did.
type CountedDone struct {
	Count    string
	Done     string // StandsHere, SeenAlready, or what was found
	Number   numbers.Number
	Kind     string
	Maker    string
	Model    string
	At       string        // path of where it is, or of where one stands now
	Seen     dates.Instant // when it was seen first
	By       string        // and by whom
	Label    string        // counts.LabelUnreadable, where it was known by its serial number
	Why      string        // what does not fit the record
	Missing  register.Pieces
	Custody  CustodyView // who has it by the record
	ToLookAt bool        // it is among those that are to be looked for
	Advice   []string
}

// ScanCount records one look. A tool that was seen already is no mistake: who saw it,
// and when, is said. What cannot be read, or is nobody's here, changes nothing. One that is
// entered late is judged by what was on record when it was made; a repeat under one replay
// key gives the first answer whatever its Happened.
func (s *Shop) ScanCount(ctx context.Context, by By, count string, in ScanCount) (CountedDone, error) {
	asked := in
	asked.Happened = ""
	return s.look(ctx, by, "count scan", count, asked, func(l *looking) (CountedDone, error) {
		if err := allowed(by, people.CountTool, people.Object{}); err != nil {
			return CountedDone{}, err
		}
		return l.scan(in)
	})
}

// looking is one look in progress.
type looking struct {
	*directory
	tx    *store.Tx
	by    By
	count counts.Count
	list  listed
	tool  register.Tool
	loan  custody.Loan
	entry counts.Entry
	on    bool   // the tool is listed
	label string // LabelUnreadable, where it was known by its serial number
	at    dates.Instant
	then  custody.Loan // by which it was out or away at that time; without id: it was in place
	said  []string
}

// look runs one act within an open count, which others wait for.
func (s *Shop) look(ctx context.Context, by By, verb, count string, asked any, fn func(*looking) (CountedDone, error)) (CountedDone, error) {
	if err := s.readFrame(ctx, count); err != nil {
		return CountedDone{}, err
	}
	return act(ctx, s, by, verb, []any{count, asked}, func(tx *store.Tx) (out CountedDone, err error) {
		d, err := readNames(&tx.Rx)
		if err != nil {
			return out, err
		}
		l := looking{directory: d, tx: tx, by: by}
		if l.count, err = countForChange(tx, count); err != nil {
			return out, err
		}
		if err := l.count.MustBeOpen(d.owner); err != nil {
			return out, err
		}
		if l.list, err = s.frameOf(&tx.Rx, l.count); err != nil {
			return out, err
		}
		out, err = fn(&l)
		out.Count = l.count.ID
		return out, err
	})
}

func (l *looking) scan(in ScanCount) (out CountedDone, err error) {
	scan, err := counts.ReadScan(in.Scanned, l.settings.Address)
	if err != nil {
		f := fault.Of(err)
		return out, fault.At("#/scanned", "%s", f.Message).WithHint("%s; nothing was counted", f.Hint)
	}
	if scan.Place != "" {
		id, err := l.placeAt("P/" + scan.Place)
		if err != nil {
			return out, err
		}
		return CountedDone{Done: StandsHere, At: l.places.Path(id)}, nil
	}
	if l.at, err = l.when(in.Happened); err != nil {
		return out, err
	}
	if err := l.find(scan); err != nil {
		return out, err
	}
	return l.see(in, scan)
}

// find finds the tool that was scanned, and what is on record of it now.
func (l *looking) find(scan counts.Scan) (err error) {
	if scan.Serial != "" {
		l.label = counts.LabelUnreadable
		l.tool, err = l.bySerial(scan.Serial)
	} else {
		l.tool, err = resolve(l.Rx, scan.Number.String())
	}
	if err != nil {
		return err
	}
	l.entry, l.on = l.list.entry(l.tool.ID)
	if l.loan, err = l.lastLoan(l.tool); err != nil {
		return err
	}
	return l.goBack()
}

// when is the time of a look: now, or an earlier one while the count went on.
func (l *looking) when(happened string) (dates.Instant, error) {
	if strings.TrimSpace(happened) == "" {
		return l.tx.Now(), nil
	}
	loc, err := l.settings.Location()
	if err != nil {
		return 0, err
	}
	at, err := dates.ParseTime(happened, loc)
	if err != nil {
		return 0, fault.At("#/happened", "%s", fault.Of(err).Error())
	}
	return at, l.count.MayHaveBeenSeen(at, l.tx.Now())
}

// goBack finds where the record had the tool at the time of the look.
func (l *looking) goBack() error {
	if l.at == l.tx.Now() {
		if l.loan.Open() {
			l.then = l.loan
		}
		return nil
	}
	loans, err := l.LoansChangedSince([]string{l.tool.ID}, l.at)
	if err != nil {
		return err
	}
	l.then = holderAt(append(loans[l.tool.ID], l.loan), l.at)
	if l.tool.Gone > l.at {
		l.tool.Gone, l.tool.GoneWhy = 0, ""
	}
	was, found, err := l.PlaceAt(l.tool.ID, l.at)
	if found {
		l.tool.Place = was
	}
	return err
}

// bySerial finds the one tool with that serial number, to the letter. One that is gone
// is found too, since it is here.
func (l *looking) bySerial(serial string) (t register.Tool, err error) {
	all, err := l.ToolsMarked(serials.Key(serial))
	if err != nil {
		return t, err
	}
	var said []string
	for _, t := range all {
		said = append(said, strings.Join(strings.Fields(t.Number.String()+" "+t.Kind+" "+t.Maker), " "))
	}
	switch len(all) {
	case 0:
		return t, fault.New(fault.NotFound, "%.40q is no number of a tool here, and no tool here has it as its serial number", serial).
			WithHint("scan the label again, or read the serial number again; nothing was counted")
	case 1:
		return all[0], nil
	}
	return t, fault.New(fault.Conflict, "several tools have the serial number %s: %s", serial, strings.Join(said, ", ")).
		WithHint("say which one by its number")
}

// see keeps a look at a tool, unless all that it says is kept already.
func (l *looking) see(in ScanCount, scan counts.Scan) (out CountedDone, err error) {
	seen, err := l.sighting(in, scan)
	if err != nil {
		return out, err
	}
	kept, found, err := l.tx.SightingForChange(l.count.ID, l.tool.ID)
	if err != nil {
		return out, err
	}
	if !found {
		return l.put(seen, string(seen.Found))
	}
	if again, more := kept.With(seen); more {
		return l.put(again, string(again.Found))
	}
	return l.done(kept, SeenAlready)
}

// sighting is what a look says.
func (l *looking) sighting(in ScanCount, scan counts.Scan) (s counts.Sighting, err error) {
	s = counts.Sighting{Count: l.count.ID, Tool: l.tool.ID, At: l.at, Person: l.by.Person, Label: l.label, Serial: scan.Serial}
	var bad fault.Problems
	if strings.TrimSpace(in.At) != "" {
		s.Place, err = l.placeAt(in.At)
		bad.Keep("#/at", err)
	}
	s.Condition, err = names.Note(in.Condition)
	bad.Keep("#/condition", err)
	if err := bad.Err(); err != nil {
		return s, err
	}
	if s.Missing, err = missingOf(l.tool, in.Missing); err != nil {
		return s, err
	}
	look := counts.Look{Listed: l.on, Home: l.tool.Place, Now: l.then.Now(), Holder: l.holder(l.then).Name, At: s.Place}
	if l.tool.Gone != 0 {
		look.Gone = l.tool.GoneWhy
	}
	s.Found, s.Why = counts.Judge(look, l.places)
	return s, nil
}

// put keeps a sighting.
func (l *looking) put(s counts.Sighting, done string) (out CountedDone, err error) {
	if s.ID == "" {
		if s.ID, err = l.tx.NewID('E'); err != nil {
			return out, err
		}
	}
	if err := store.Put(l.tx, &s); err != nil {
		return out, err
	}
	return l.done(s, done)
}

// done says what a look did.
func (l *looking) done(s counts.Sighting, done string) (out CountedDone, err error) {
	out = CountedDone{Done: done, Number: l.tool.Number, Kind: l.tool.Kind, Maker: l.tool.Maker, Model: l.tool.Model, At: l.places.Path(s.Place),
		Seen: s.At, By: l.owner(s.Person), Label: s.Label, Why: s.Why, Missing: s.Missing, ToLookAt: l.on && l.entry.Look}
	if out.Custody, err = l.custody(l.loan); err != nil {
		return out, err
	}
	if out.Custody.Since == 0 {
		out.Custody.Since = l.tool.Created
	}
	return out, l.advise(s, &out)
}

func (l *looking) advise(s counts.Sighting, out *CountedDone) error {
	switch {
	case !l.on && l.tool.Gone == 0 && l.tool.Created > l.count.Started:
		l.said = append(l.said, "It was registered after the count started.")
	case l.on && !l.entry.Look:
		l.said = append(l.said, "It is not in the sample: it is kept, and counts for nothing in the statement.")
	}
	if s.Label != "" {
		l.said = append(l.said, "Its label could not be read: print another with: pawl labels "+l.tool.Number.String()+" --again")
	}
	wrongs, err := l.OpenWrongs(l.tool.ID)
	if reasons := custody.Reasons(wrongs); reasons != "" {
		l.said = append(l.said, "DO NOT USE: "+reasons)
	}
	if len(l.tool.Pieces) > 0 && len(s.Missing) == 0 {
		l.said = append(l.said, "It is a set: see that all of it is there, or say what is missing.")
	}
	out.Advice = slices.Concat(l.doubt, l.said)
	return err
}

// ConfirmCount is somebody's word that they have a tool, as typed.
type ConfirmCount struct {
	Number, Note string
}

// ConfirmCount keeps the word of whoever has a tool that is out or away: their own, or
// what they told a manager. It is no look.
func (s *Shop) ConfirmCount(ctx context.Context, by By, count string, in ConfirmCount) (CountedDone, error) {
	return s.look(ctx, by, "count confirm", count, in, func(l *looking) (out CountedDone, err error) {
		if l.tool, err = resolve(l.Rx, in.Number); err != nil {
			return out, fault.At("#/number", "%s", fault.Of(err).Error())
		}
		l.entry, l.on = l.list.entry(l.tool.ID)
		if l.loan, err = l.lastLoan(l.tool); err != nil {
			return out, err
		}
		if err := allowed(by, people.GiveWord, people.Object{Holder: l.loan.Person}); err != nil {
			return out, err
		}
		return l.confirm(in)
	})
}

func (l *looking) confirm(in ConfirmCount) (out CountedDone, err error) {
	note, err := names.Note(in.Note)
	switch {
	case err != nil:
		return out, fault.At("#/note", "%s", fault.Of(err).Error())
	case !l.on:
		return out, fault.New(fault.Conflict, "tool %s is not on the list of this count", l.tool.Number).WithHint("nothing to confirm")
	case !l.loan.Open():
		return out, fault.New(fault.Conflict, "tool %s is in place by the record: nobody has it", l.tool.Number).WithHint("look for it, and scan it")
	}
	kept, found, err := l.tx.SightingForChange(l.count.ID, l.tool.ID)
	if err != nil {
		return out, err
	}
	if found {
		return l.done(kept, SeenAlready)
	}
	why := "by the word of " + l.holder(l.loan).Name
	if l.loan.Person != l.by.Person || l.by.Person == "" {
		why += ", as told to " + l.owner(l.by.Person)
	}
	return l.put(counts.Sighting{Count: l.count.ID, Tool: l.tool.ID, Found: counts.ByWord, At: l.tx.Now(), Person: l.by.Person, Condition: note, Why: why}, string(counts.ByWord))
}
