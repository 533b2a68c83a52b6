package model

import (
	"context"
	"math"
	"slices"
	"strconv"
	"strings"

	"pawl/model/claims"
	"pawl/model/counts"
	"pawl/model/dates"
	"pawl/model/evidence"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/names"
	"pawl/model/numbers"
	"pawl/model/people"
	"pawl/model/register"
	"pawl/model/units"
)

// LossView is a loss in names, with those of its tools that the asker may see.
type LossView struct {
	claims.Loss
	StartedBy string // name; the id stands in the row
	PlacePath string // where what is left was counted
	Stage     string // of that count; empty = there is none
	ToLookFor int    // tools of it that nobody accounted for yet
	Lines     []LossLineView
	Held      []HeldTool        // not seen there, and by the record with somebody: not missing
	Papers    []evidence.Record // of the loss as a whole
	Claims    []ClaimOfLoss     // that the asker may see
	Settles   bool              // the asker may settle all of it, and not only what is their own
	Advice    []string
}

// ClaimOfLoss is a claim on a loss, with the name of its policy.
type ClaimOfLoss struct {
	claims.Claim
	PolicyName string
}

// Left counts the lines that are still open.
func (v LossView) Left() (n int) {
	for _, l := range v.Lines {
		if l.Open() {
			n++
		}
	}
	return n
}

// Unconfirmed counts the lines of tools that are missing, and no more is said of them.
func (v LossView) Unconfirmed() (n int) {
	for _, l := range v.Lines {
		if l.Stands == claims.StateMissing {
			n++
		}
	}
	return n
}

// LossLineView is one tool of a loss.
type LossLineView struct {
	claims.LossLine
	Number    numbers.Number
	Kind      string
	Maker     string
	Model     string
	Serial    string
	Owner     string
	Outside   bool // of somebody outside: nothing is asked for it here
	Stands    claims.State
	AfterLoss bool          // it was recorded after the loss was found out
	SeenSince dates.Instant // of one that is missing: the record shows it after that; 0: it does not
	SeenBy    string        // by what
}

// HeldTool is a tool that was not seen where it belongs, and that somebody has by the
// record.
type HeldTool struct {
	Number numbers.Number
	Kind   string
	Words  string // who has it
}

// lossAct is one act on a loss in progress. Whatever else is done on that loss waits.
type lossAct struct {
	*directory
	shop  *Shop
	tx    *store.Tx
	by    By
	loss  claims.Loss
	lines []claims.LossLine
	said  []string
}

func (a *lossAct) say(text string) { a.said = append(a.said, text) }

// onLoss runs one act on a loss that the asker may see, and gives the loss as it is then.
func (s *Shop) onLoss(ctx context.Context, by By, verb, id string, asked any, fn func(*lossAct) error) (LossView, error) {
	return act(ctx, s, by, verb, []any{id, asked}, func(tx *store.Tx) (v LossView, err error) {
		d, err := readNames(&tx.Rx)
		if err != nil {
			return v, err
		}
		a, err := s.lossFor(tx, d, by, id)
		if err != nil {
			return v, err
		}
		if err := fn(a); err != nil {
			return v, err
		}
		return a.done()
	})
}

// lossFor finds a loss for an act on it.
func (s *Shop) lossFor(tx *store.Tx, d *directory, by By, id string) (*lossAct, error) {
	id, err := parseLossID(id)
	if err != nil {
		return nil, err
	}
	a := &lossAct{directory: d, shop: s, tx: tx, by: by}
	found := false
	if a.loss, found, err = store.Change[claims.Loss](tx, id); err != nil || !found {
		return nil, orElse(err, noLoss(id))
	}
	if a.lines, err = tx.LossLines(id); err != nil {
		return nil, err
	}
	sees, err := d.seesLoss(by, a.loss, a.lines)
	if err == nil && !sees {
		err = noLoss(id)
	}
	return a, err
}

func parseLossID(text string) (string, error) {
	id, err := numbers.ParseID('L', text)
	if err != nil {
		return "", noLoss(text)
	}
	return id, nil
}

func noLoss(id string) *fault.Error {
	return fault.New(fault.NotFound, "there is no loss %.40q", id).WithHint("see them all: pawl loss list")
}

// done keeps the loss and gives it as it is then.
func (a *lossAct) done() (LossView, error) {
	if err := store.Put(a.tx, &a.loss); err != nil {
		return LossView{}, err
	}
	v, err := a.shop.lossView(a.directory, a.by, a.loss)
	v.Advice = slices.Concat(v.Advice, a.said)
	return v, err
}

// settlesLoss says whether somebody may settle all of a loss: a manager, and whoever
// reported it of their own tools.
func settlesLoss(by By, l claims.Loss) bool {
	return people.May(by.Actor, people.RunLoss, people.Object{Owner: l.Person})
}

// seesLine says whether somebody may see the line of a tool.
func (d *directory) seesLine(by By, t register.Tool) bool {
	return people.May(by.Actor, people.RunLoss, d.lossObject(t))
}

// lossObject is what the rules ask about a tool of a loss. A tool of somebody outside is
// the shop's to look after.
func (d *directory) lossObject(t register.Tool) people.Object {
	if t.FromOutside() {
		return people.Object{}
	}
	return d.object(t)
}

// seesLoss says whether somebody may see a loss: who may settle it, and whose tools are
// on it.
func (d *directory) seesLoss(by By, l claims.Loss, lines []claims.LossLine) (bool, error) {
	if settlesLoss(by, l) {
		return true, nil
	}
	tools, err := d.ToolsByID(toolsOfLines(lines))
	for _, t := range tools {
		if d.seesLine(by, t) {
			return true, err
		}
	}
	return false, err
}

func toolsOfLines(lines []claims.LossLine) (ids []string) {
	for _, l := range lines {
		ids = append(ids, l.Tool)
	}
	return ids
}

// lossOf gives how a tool stands by the newest loss that it is on, where the asker may see
// its line.
func (d *directory) lossOf(by By, t register.Tool) (*ToolLoss, error) {
	if !d.seesLine(by, t) {
		return nil, nil
	}
	lines, err := d.LossLinesOf(t.ID)
	lines = slices.DeleteFunc(lines, func(l claims.LossLine) bool { return l.Withdrawn != 0 })
	if err != nil || len(lines) == 0 {
		return nil, err
	}
	var out *ToolLoss
	newest := dates.Instant(0)
	for _, line := range lines {
		l, found, err := d.Loss(line.Loss)
		if err != nil {
			return nil, err
		}
		if found && l.Started >= newest {
			newest, out = l.Started, &ToolLoss{Loss: l.ID, Line: line.Line, Stands: line.State(l.Kind), AfterLoss: t.Created > l.Found}
		}
	}
	return out, nil
}

// LossQuery picks losses, newest first.
type LossQuery struct {
	Limit  int // 0: 50; at most 200
	Cursor string
}

// Losses gives the losses that the asker may see, newest first, with the cursor of the
// next page.
func (s *Shop) Losses(ctx context.Context, by By, q LossQuery) (out []LossView, next string, err error) {
	limit, err := pageLimit(q.Limit)
	if err != nil {
		return nil, "", err
	}
	c, at, err := parseNewest("losses", q.Cursor)
	if err != nil {
		return nil, "", err
	}
	err = s.read(ctx, func(d *directory) error {
		var person *string
		if !people.May(by.Actor, people.RunLoss, people.Object{}) {
			person = &by.Person
		}
		rows, err := d.LossesBefore(at, c.ID, person, limit+1)
		if err != nil {
			return err
		}
		if len(rows) > limit {
			rows = rows[:limit]
			next = cursor{List: c.List, Key: decimal(int64(rows[limit-1].Started)), ID: rows[limit-1].ID}.String()
		}
		out, err = d.lossRows(by, rows)
		return err
	})
	return out, next, err
}

// parseNewest reads a cursor of a list that begins with the newest.
func parseNewest(list, text string) (c cursor, at int64, err error) {
	if c, err = parseCursor(list, text); err != nil || c.Key == "" {
		return c, math.MaxInt64, err
	}
	if at, err = strconv.ParseInt(c.Key, 10, 64); err != nil {
		return c, 0, badCursor()
	}
	return c, at, nil
}

// lossRows puts losses into names, with their lines and without what hangs on them.
func (d *directory) lossRows(by By, rows []claims.Loss) (out []LossView, err error) {
	var ids []string
	for _, l := range rows {
		ids = append(ids, l.ID)
	}
	lines, err := d.LossLines(ids...)
	if err != nil {
		return nil, err
	}
	of := map[string][]claims.LossLine{}
	for _, l := range lines {
		of[l.Loss] = append(of[l.Loss], l)
	}
	for _, l := range rows {
		v := LossView{Loss: l, StartedBy: d.owner(l.Person), PlacePath: d.places.Path(l.Place), Settles: settlesLoss(by, l)}
		if v.Lines, err = d.lossLines(by, l, of[l.ID]); err != nil {
			return nil, err
		}
		out = append(out, v)
	}
	return out, nil
}

// Loss gives one loss as the asker may see it.
func (s *Shop) Loss(ctx context.Context, by By, id string) (v LossView, err error) {
	err = s.read(ctx, func(d *directory) error {
		id, err := parseLossID(id)
		if err != nil {
			return err
		}
		l, found, err := d.Loss(id)
		if err != nil || !found {
			return orElse(err, noLoss(id))
		}
		lines, err := d.LossLines(id)
		if err != nil {
			return err
		}
		if sees, err := d.seesLoss(by, l, lines); err != nil || !sees {
			return orElse(err, noLoss(id))
		}
		v, err = s.lossView(d, by, l)
		return err
	})
	return v, err
}

// lossView is a loss with all that hangs on it, less what the asker may not see.
func (s *Shop) lossView(d *directory, by By, l claims.Loss) (v LossView, err error) {
	all, err := d.lossRows(by, []claims.Loss{l})
	if err != nil {
		return v, err
	}
	v = all[0]
	if v.Settles {
		if v.Papers, err = d.EvidenceOfLoss(l.ID); err != nil {
			return v, err
		}
		if err := s.countOfLoss(d, &v); err != nil {
			return v, err
		}
	}
	of, err := d.ClaimsOfLoss(l.ID)
	if err != nil {
		return v, err
	}
	for _, c := range of {
		if !d.seesClaim(by, c) {
			continue
		}
		p, err := d.policyOf(c)
		if err != nil {
			return v, err
		}
		v.Claims = append(v.Claims, ClaimOfLoss{c, p.Name})
	}
	v.Advice = slices.Concat(d.doubt, v.advice())
	return v, nil
}

// countOfLoss adds how far the count of what is left is, and whom by the record has what
// was not seen and is on no line.
func (s *Shop) countOfLoss(d *directory, v *LossView) error {
	if v.Count == "" {
		return nil
	}
	c, found, err := d.Rx.Count(v.Count)
	if err != nil || !found {
		return orElse(err, noCountOf(v.Loss))
	}
	st, err := s.stand(d.Rx, c)
	if err != nil {
		return err
	}
	v.Stage = string(c.Stage())
	listed := map[string]bool{}
	for _, l := range v.Lines {
		listed[l.Tool] = l.Stands != claims.StateWithdrawn
	}
	var held []string
	for _, e := range st.list.frame {
		if listed[e.Tool] {
			continue
		}
		switch b := st.bucket(e); {
		case b == counts.StillOut || b == counts.StillAway:
			held = append(held, e.Tool)
			v.ToLookFor++
		case b == counts.NotSeen:
			v.ToLookFor++
		}
	}
	tools, err := d.ToolsByID(held)
	if err != nil {
		return err
	}
	loans, err := d.OpenLoans(held)
	if err != nil {
		return err
	}
	words := map[string]string{}
	for _, l := range loans {
		c, err := d.custody(l)
		if err != nil {
			return err
		}
		words[l.Tool] = c.Words()
	}
	for _, id := range held {
		t := tools[id]
		v.Held = append(v.Held, HeldTool{Number: t.Number, Kind: t.Kind, Words: words[id]})
	}
	return nil
}

func noCountOf(l claims.Loss) *fault.Error {
	return fault.New(fault.Internal, "the count of loss %s is not there", l.ID).WithHint("run pawl verify")
}

// lossLines puts lines into names, and leaves out those that the asker may not see.
func (d *directory) lossLines(by By, l claims.Loss, lines []claims.LossLine) (out []LossLineView, err error) {
	ids := toolsOfLines(lines)
	tools, err := d.ToolsByID(ids)
	if err != nil {
		return nil, err
	}
	seen, err := d.LastSeenOf(ids)
	all := people.May(by.Actor, people.RunLoss, people.Object{})
	for _, line := range lines {
		t := tools[line.Tool]
		if !all && !d.seesLine(by, t) {
			continue
		}
		one := LossLineView{LossLine: line, Number: t.Number, Kind: t.Kind, Maker: t.Maker, Model: t.Model, Serial: t.Serial, Owner: d.ownerOf(t), Outside: t.FromOutside(),
			Stands: line.State(l.Kind), AfterLoss: t.Created > l.Found}
		if last := seen[line.Tool]; one.Stands == claims.StateMissing && last.At > l.Found {
			one.SeenSince, one.SeenBy = last.At, last.How
		}
		out = append(out, one)
	}
	return out, err
}

// advice says what is to be done next of a loss.
func (v LossView) advice() (out []string) {
	if v.ToLookFor > 0 && v.Stage != string(counts.Closed) {
		out = append(out, "Still to look for where it happened: "+units.Count(v.ToLookFor, "tool")+". Scan what is left: pawl count scan "+v.Count+" -; then: pawl loss missing "+v.ID)
	}
	if v.Agency == "" && v.Kind == claims.Theft {
		out = append(out, "Not reported to the police on record: insurers ask for it, and soon. Then: pawl loss police "+v.ID+" --agency NAME --report NUMBER")
	}
	for _, l := range v.Lines {
		if l.SeenSince != 0 {
			out = append(out, l.Number.String()+" was seen after the loss was found out ("+l.SeenBy+"): look where it is, and withdraw it.")
		}
	}
	return out
}

// StartLoss is what a loss is started with, as typed. Place has what is left there
// counted; Tools are numbers.
type StartLoss struct {
	Kind, Found, Secure, Where, Place string
	Tools                             []string
}

// StartLoss reports a loss. Where it names a place, a count of what is left there begins
// with it; where it names tools, they are missing from then on.
func (s *Shop) StartLoss(ctx context.Context, by By, in StartLoss) (LossView, error) {
	return act(ctx, s, by, "loss start", in, func(tx *store.Tx) (v LossView, err error) {
		d, err := readNames(&tx.Rx)
		if err != nil {
			return v, err
		}
		a := &lossAct{directory: d, shop: s, tx: tx, by: by}
		if err := a.asked(in); err != nil {
			return v, err
		}
		if err := allowed(by, people.RunLoss, people.Object{Owner: by.Person}); err != nil {
			return v, err
		}
		if a.loss.ID, err = tx.NewID('L'); err != nil {
			return v, err
		}
		a.loss.Started, a.loss.Person = tx.Now(), by.Person
		if a.loss.Place != "" {
			if err := a.notTwice(); err != nil {
				return v, err
			}
			if err := a.countLeft(); err != nil {
				return v, err
			}
		}
		if err := store.Put(tx, &a.loss); err != nil {
			return v, err
		}
		if err := a.addNumbers(in.Tools, false, "#/tools"); err != nil {
			return v, err
		}
		return a.done()
	})
}

// notTwice refuses a loss that is on record: of that kind, found out at that moment, there.
// Named tools need it not: each is on one open list.
func (a *lossAct) notTwice() error {
	same, err := a.tx.LossesFound(a.loss.Found)
	for _, l := range same {
		if l.Kind == a.loss.Kind && l.Place == a.loss.Place && l.Spot == a.loss.Spot {
			return fault.New(fault.Conflict, "this loss is on record: %s is of that moment and place", l.ID).
				WithHint("see it: pawl loss show %s; add tools: pawl loss add %s NUMBER", l.ID, l.ID).WithFact("since", l.Started.String()).WithFact("loss", l.ID)
		}
	}
	return err
}

// asked reads what a loss is started with.
func (a *lossAct) asked(in StartLoss) (err error) {
	var bad fault.Problems
	l := &a.loss
	l.Kind, err = claims.ParseLossKind(in.Kind)
	bad.Keep("#/kind", err)
	if l.Found, err = a.past(in.Found); err == nil && l.Found == 0 {
		err = fault.New(fault.Invalid, "say when it was found out, such as 2026-11-23T07:40")
	}
	bad.Keep("#/found", err)
	l.Secure, err = a.past(in.Secure)
	if err == nil && l.Secure > l.Found {
		err = fault.New(fault.Invalid, "%s is after %s, when it was found out", l.Secure, l.Found)
	}
	bad.Keep("#/secure", err)
	if l.Spot, err = names.Note(in.Where); err == nil && l.Spot == "" {
		err = fault.New(fault.Invalid, "say where it happened")
	}
	bad.Keep("#/where", err)
	if strings.TrimSpace(in.Place) != "" {
		l.Place, err = a.placeAt(in.Place)
		bad.Keep("#/place", err)
		if len(in.Tools) > 0 {
			bad.Add("#/tools", "either what is left in a place is counted, or the tools are named; those found later are added")
		}
	}
	return bad.Err()
}

// past reads a time in the shop's zone that is not in the future; none is 0.
func (a *lossAct) past(text string) (dates.Instant, error) {
	if strings.TrimSpace(text) == "" {
		return 0, nil
	}
	loc, err := a.settings.Location()
	if err != nil {
		return 0, err
	}
	at, err := dates.ParseTime(text, loc)
	if err == nil && at > a.tx.Now() {
		err = fault.New(fault.Invalid, "%s is in the future; it is %s now", at, a.tx.Now()).WithHint("correct the time; without an offset it is the shop's own")
	}
	return at, err
}

// countLeft begins the count of what is left in the place.
func (a *lossAct) countLeft() error {
	if err := allowed(a.by, people.RunCount, people.Object{}); err != nil {
		return err
	}
	c := starting{directory: a.directory, tx: a.tx, by: a.by, in: StartCount{Scope: string(counts.OfPlace) + ":" + a.places.Path(a.loss.Place), How: counts.InFull}}
	err := c.start()
	if fault.Is(err, fault.Invalid) {
		return fault.At("#/place", "nothing belongs in %s by the record: there is nothing to count", a.places.Path(a.loss.Place)).WithHint("name the tools that are missing instead")
	}
	a.loss.Count = c.row.ID
	return err
}
