package store

import (
	"slices"
	"strings"

	"pawl/model/custody"
	"pawl/model/numbers"
	"pawl/model/register"
	"pawl/model/serials"
)

// Tool gives one by id.
func (r *Rx) Tool(id string) (register.Tool, bool, error) { return one[register.Tool](r, "id = ?", id) }

// Number gives the row of a tool number.
func (r *Rx) Number(n numbers.Number) (register.NumberRow, bool, error) {
	return one[register.NumberRow](r, "id = ?", string(n))
}

// NumbersOf gives every number of a tool, in the order they were joined.
func (r *Rx) NumbersOf(tool string) ([]register.NumberRow, error) {
	return many[register.NumberRow](r, "since, id", 0, "tool = ?", tool)
}

// FreeNumbers gives numbers that are issued and free, after one, in their order.
func (r *Rx) FreeNumbers(after numbers.Number, limit int) ([]register.NumberRow, error) {
	return many[register.NumberRow](r, "id", limit, "id > ? AND state = ?", string(after), string(register.Issued))
}

// LastNumber gives the greatest number ever issued, "" before the first.
// Numbers sort by bytes as they count.
func (r *Rx) LastNumber() (n numbers.Number, err error) {
	err = r.query(func(scan func(...any) error) error { return scan((*string)(&n)) }, "SELECT coalesce(max(id), '') FROM numbers")
	return n, err
}

// ToolWithSerial gives the tool with that maker and serial key, gone ones too.
func (r *Rx) ToolWithSerial(makerKey, serialKey string) (register.Tool, bool, error) {
	return one[register.Tool](r, "coalesce(maker_key, '') = ? AND serial_key = ?", makerKey, serialKey)
}

// ToolsMarked gives the tools of any maker with that serial, in the order of
// their numbers.
func (r *Rx) ToolsMarked(serialKey string) ([]register.Tool, error) {
	return many[register.Tool](r, "number", 0, "id IN (SELECT tool FROM serial_keys WHERE folded = ?) AND serial_key = ?", serials.Fold(serialKey), serialKey)
}

// ToolsWith gives the tools that came with one, in the order of their numbers.
func (r *Rx) ToolsWith(tool string) ([]register.Tool, error) {
	return many[register.Tool](r, "number", 0, "came_with = ?", tool)
}

// ToolFrom gives the tool that was imported from there.
func (r *Rx) ToolFrom(origin string) (register.Tool, bool, error) {
	return one[register.Tool](r, "origin = ?", origin)
}

// ToolsOf gives a person's own tools that are not gone, by number.
func (r *Rx) ToolsOf(person string) ([]register.Tool, error) {
	return many[register.Tool](r, "number", 0, "owner = ? AND gone IS NULL", person)
}

// Outsiders gives the names of owners outside whose tools are here.
func (r *Rx) Outsiders() (out []string, err error) {
	err = r.query(func(scan func(...any) error) error {
		var name string
		err := scan(&name)
		out = append(out, name)
		return err
	}, "SELECT DISTINCT outsider FROM tools WHERE outsider IS NOT NULL ORDER BY outsider")
	return out, err
}

// ToolQuery picks tools; empty members do not narrow.
type ToolQuery struct {
	Text   string
	Number numbers.Number // an exact number that the text reads as
	Kind   string
	Maker  string   // key of the maker
	Places []string // ids; the tool belongs in one of them
	Owner  *string  // person id; "" = the shop
	From   string   // name of an owner outside
	State  custody.State
	Person string // person id: who has it
	Gone   bool   // gone tools too

	Unfinished bool // only those without a kind: photographed, not yet typed

	After numbers.Number
	Limit int
}

// Tools gives tools in the order of their numbers, after one. Its exact number finds
// a tool that is gone too: whoever types a number holds a label or a paper of that one.
func (r *Rx) Tools(q ToolQuery) ([]register.Tool, error) {
	where, args, err := r.picked(q)
	if err != nil {
		return nil, err
	}
	switch {
	case q.Gone:
	case q.Number != "" && !q.Unfinished:
		where, args = where+" AND (gone IS NULL OR id IN (SELECT tool FROM numbers WHERE id = ?))", append(args, string(q.Number))
	default:
		where += " AND gone IS NULL"
	}
	return many[register.Tool](r, "number", q.Limit, where, args...)
}

// GoneTools counts the tools that a query would give and that are gone.
func (r *Rx) GoneTools(q ToolQuery) (int, error) {
	where, args, err := r.picked(q)
	if err != nil || nowhere(args) {
		return 0, err
	}
	var n int64
	err = r.g.Model(&register.Tool{}).Where(where+" AND gone IS NOT NULL", args...).Count(&n).Error
	return int(n), err
}

// picked says which tools are picked, be they gone or not.
func (r *Rx) picked(q ToolQuery) (clause string, args []any, err error) {
	clause, args = q.where()
	if strings.TrimSpace(q.Text) == "" {
		return clause, args, nil
	}
	if nowhere([]any{q.Text}) {
		return "1 = 0", nil, nil
	}
	text, more, err := r.text(q.Text, q.Number)
	return clause + " AND " + text, append(args, more...), err
}

// where says which tools are picked whatever their text, be they gone or not.
func (q ToolQuery) where() (clause string, args []any) {
	where, args := []string{"number > ?"}, []any{string(q.After)}
	and := func(clause string, more ...any) {
		where, args = append(where, clause), append(args, more...)
	}
	if q.Kind != "" {
		and("kind = ?", q.Kind)
	}
	if q.Maker != "" {
		and("maker_key = ?", q.Maker)
	}
	if q.Unfinished {
		and("kind IS NULL")
	}
	if q.Places != nil {
		and("place IN ?", q.Places)
	}
	if q.Owner != nil {
		and("coalesce(owner, '') = ? AND outsider IS NULL", *q.Owner)
	}
	if q.From != "" {
		and("outsider = ?", q.From)
	}
	if q.Person != "" {
		and("EXISTS (SELECT 1 FROM loans l WHERE l.tool = tools.id AND l.ended IS NULL AND l.person = ?)", q.Person)
	}
	switch q.State {
	case custody.InPlace:
		and("NOT EXISTS (SELECT 1 FROM loans l WHERE l.tool = tools.id AND l.ended IS NULL)")
	case custody.Out, custody.Away:
		and("EXISTS (SELECT 1 FROM loans l WHERE l.tool = tools.id AND l.ended IS NULL AND l.state = ?)", string(q.State))
	}
	return strings.Join(where, " AND "), args
}

// minSerialPart is the shortest part of a serial number that is searched for.
const minSerialPart = 3

// serialPart is the pattern of serials that hold a text, "" for one too short.
func serialPart(text string) string {
	part := serials.Fold(serials.Key(text))
	if len([]rune(part)) < minSerialPart {
		return ""
	}
	return "%" + part + "%"
}

// afterWord is where the words end that begin as one does.
func afterWord(w string) string { return w + "\U0010FFFF" }

// fewTools is how many tools may fit a text for no others to be looked at.
const fewTools = 1000

// text picks the tools that a text fits: an exact number, a part of the serial, or the
// beginnings of all words. Of what many fit enough turn up early on the way through all
// numbers. What few fit, or none, would take the whole way, so those are asked for first:
// a word that few have is enough.
func (r *Rx) text(text string, n numbers.Number) (clause string, args []any, err error) {
	named, err := r.texts("SELECT tool FROM numbers WHERE id = ? AND tool IS NOT NULL", string(n))
	if err != nil {
		return "", nil, err
	}
	words := serials.Words(text)
	var worded []string
	few := len(words) == 0
	for i := 0; i < len(words) && !few; i++ {
		worded, err = r.texts("SELECT tool FROM words WHERE word >= ? AND word < ? LIMIT ?", words[i], afterWord(words[i]), fewTools+1)
		if err != nil {
			return "", nil, err
		}
		few = len(worded) <= fewTools
	}
	marked := "SELECT tool FROM serial_keys WHERE folded LIKE ?"
	part := serialPart(text)
	if few && part != "" {
		some, err := r.texts(marked+" LIMIT ?", part, fewTools+1)
		if err != nil {
			return "", nil, err
		}
		if few = len(some) <= fewTools; few {
			named, part = append(named, some...), ""
		}
	}
	or, args := []string{"id IN ?"}, []any{named}
	if len(words) > 0 {
		each := slices.Repeat([]string{"EXISTS (SELECT 1 FROM words w WHERE w.tool = tools.id AND w.word >= ? AND w.word < ?)"}, len(words))
		or = append(or, strings.Join(each, " AND "))
		for _, w := range words {
			args = append(args, w, afterWord(w))
		}
	}
	if part != "" { // last: all serials are looked through for the first tool that nothing else fits
		or, args = append(or, "id IN ("+marked+")"), append(args, part)
	}
	clause = "(" + strings.Join(or, " OR ") + ")"
	if few {
		clause, args = "id IN ? AND "+clause, append([]any{slices.Concat(named, worded)}, args...)
	}
	return clause, args, nil
}
