package store

import (
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
	where, args := q.where()
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
	where, args := q.where()
	if nowhere(args) {
		return 0, nil
	}
	var n int64
	err := r.g.Model(&register.Tool{}).Where(where+" AND gone IS NOT NULL", args...).Count(&n).Error
	return int(n), err
}

// where says which tools are picked, be they gone or not.
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
	if clause, more := q.text(); clause != "" {
		and(clause, more...)
	}
	return strings.Join(where, " AND "), args
}

// minSerialPart is the shortest part of a serial number that is searched for.
const minSerialPart = 3

// text matches an exact number, a part of the serial, or the beginnings of all
// words.
func (q ToolQuery) text() (clause string, args []any) {
	var or []string
	if q.Number != "" {
		or, args = append(or, "id IN (SELECT tool FROM numbers WHERE id = ?)"), append(args, string(q.Number))
	}
	if part := serials.Fold(serials.Key(q.Text)); len([]rune(part)) >= minSerialPart {
		or = append(or, "id IN (SELECT tool FROM serial_keys WHERE folded LIKE ?)")
		args = append(args, "%"+part+"%")
	}
	var all []string
	for _, w := range serials.Words(q.Text) {
		all = append(all, "EXISTS (SELECT 1 FROM words w WHERE w.tool = tools.id AND w.word >= ? AND w.word < ?)")
		args = append(args, w, w+"\U0010FFFF")
	}
	if len(all) > 0 {
		or = append(or, strings.Join(all, " AND "))
	}
	switch {
	case len(or) > 0:
		return "(" + strings.Join(or, " OR ") + ")", args
	case strings.TrimSpace(q.Text) != "":
		return "1 = 0", nil
	}
	return "", nil
}
