package register

import (
	"database/sql/driver"
	"encoding/json"
	"fmt"
)

// Texts is a short list of texts, kept as JSON.
type Texts []string

// Value gives JSON text, or null for none.
func (x Texts) Value() (driver.Value, error) {
	if len(x) == 0 {
		return nil, nil
	}
	b, err := json.Marshal([]string(x))
	return string(b), err
}

// Scan reads what Value gave.
func (x *Texts) Scan(v any) error {
	*x = nil
	switch v := v.(type) {
	case nil:
		return nil
	case string:
		return json.Unmarshal([]byte(v), x)
	case []byte:
		return json.Unmarshal(v, x)
	}
	return fmt.Errorf("texts: cannot read a %T", v)
}
