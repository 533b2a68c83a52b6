package sheets

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"unicode/utf8"

	"pawl/model/fault"
)

// ReadJSON begins to read rows that stand as objects in a list, the first member
// of one object: {"tools": [{"kind": "jack", "serial": null}]}. Names of members
// are the first row, in the order in which they come; null is an empty cell.
func ReadJSON(r io.Reader, _ Options) (*Reader, error) {
	text, err := io.ReadAll(&bounded{r, MaxBytes})
	if err != nil {
		return nil, unread(err)
	}
	if !utf8.Valid(text) {
		return nil, fault.New(fault.Invalid, "the JSON is not UTF-8").WithHint("save it as UTF-8 (RFC 8259 section 8.1)")
	}
	j := &objects{d: json.NewDecoder(bytes.NewReader(text)), at: map[string]int{}}
	if err := j.read(); err != nil {
		return nil, err
	}
	return &Reader{next: j.next}, nil
}

// objects gathers the rows of a list of objects.
type objects struct {
	d      *json.Decoder
	header []string
	at     map[string]int // column of each name
	rows   [][]string
	given  int
}

func (j *objects) read() error {
	for _, want := range []json.Delim{'{', '['} {
		if token, err := j.d.Token(); err != nil || token != want {
			return notObjects(err)
		}
		if want == '{' {
			if _, err := j.d.Token(); err != nil { // the name of the list
				return notObjects(err)
			}
		}
	}
	for j.d.More() {
		row, err := j.object()
		if err != nil {
			return err
		}
		if j.rows = append(j.rows, row); len(j.rows) > MaxRows {
			return fault.New(fault.TooLarge, "the file has over %d rows", MaxRows).WithHint("import it in parts")
		}
	}
	return j.ended()
}

// ended reads what follows the rows, to the bracket that closes the text.
func (j *objects) ended() error {
	if token, err := j.d.Token(); err != nil || token != json.Delim(']') {
		return notObjects(err)
	}
	var last json.Token
	for {
		token, err := j.d.Token()
		switch {
		case errors.Is(err, io.EOF) && last == json.Delim('}'):
			return nil
		case err != nil:
			return notObjects(err)
		}
		last = token
	}
}

// object reads one row.
func (j *objects) object() ([]string, error) {
	if token, err := j.d.Token(); err != nil || token != json.Delim('{') {
		return nil, notObjects(err)
	}
	row, number := make([]string, len(j.header)), len(j.rows)+2
	seen := map[int]bool{}
	for j.d.More() {
		name, err := j.d.Token()
		if err != nil {
			return nil, notObjects(err)
		}
		column, known := j.at[name.(string)]
		if !known {
			if column = len(j.header); column == MaxColumns {
				return nil, tooWide(number)
			}
			j.at[name.(string)], j.header, row = column, append(j.header, name.(string)), append(row, "")
		}
		if seen[column] {
			return nil, atRow(number, "the member %.40q stands there twice", name)
		}
		seen[column] = true
		value, err := j.d.Token()
		switch value := value.(type) {
		case string:
			if row[column] = value; len(value) > MaxField {
				return nil, atRow(number, "%.40q is longer than %d bytes", name, MaxField)
			}
		case nil:
			if err != nil {
				return nil, notObjects(err)
			}
		default:
			return nil, atRow(number, "%.40q is neither text nor null", name)
		}
	}
	_, err := j.d.Token()
	if err != nil {
		return nil, notObjects(err)
	}
	return row, nil
}

func (j *objects) next() ([]string, error) {
	if j.given++; j.given == 1 && len(j.rows) > 0 {
		return j.header, nil
	}
	if j.given-2 >= len(j.rows) || len(j.rows) == 0 {
		return nil, io.EOF
	}
	return j.rows[j.given-2], nil
}

func notObjects(err error) error {
	return fault.New(fault.Invalid, `the file is no JSON such as {"tools": [{"kind": "jack"}]}`).
		WithHint("give what pawl export wrote").WithCause(err)
}
