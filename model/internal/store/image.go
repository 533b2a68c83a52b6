package store

import (
	"database/sql/driver"
	"fmt"
	"reflect"

	"pawl/model/ledger"
)

// column gives the value of one field as it is stored: string, int64, bool or
// nil. An empty value is nil, so that a column added later changes no image;
// where empty and absent differ the field is a pointer.
func column(rv reflect.Value) (any, error) {
	if rv.Kind() == reflect.Pointer {
		if rv.IsNil() {
			return nil, nil
		}
		return rv.Elem().Int(), nil
	}
	if rv.IsZero() {
		return nil, nil
	}
	switch rv.Kind() {
	case reflect.String:
		return rv.String(), nil
	case reflect.Int64, reflect.Int:
		return rv.Int(), nil
	case reflect.Bool:
		return rv.Bool(), nil
	}
	if val, ok := rv.Interface().(driver.Valuer); ok {
		return val.Value()
	}
	return nil, fmt.Errorf("store: a column cannot hold a %s", rv.Type())
}

// columns gives the stored values of a row in field order, with its canonical
// image: all but id and rev, which stand in the line.
func (t *table) columns(row any) (values []any, image []byte, err error) {
	rv := reflect.ValueOf(row).Elem()
	values = make([]any, len(t.schema.Fields))
	for i, f := range t.schema.Fields {
		if values[i], err = column(rv.FieldByIndex(f.StructField.Index)); err != nil {
			return nil, nil, err
		}
	}
	shown := make([]any, len(t.shown))
	for i, field := range t.shown {
		shown[i] = values[field]
	}
	image, err = ledger.Encode(t.names, shown)
	return values, image, err
}

// head gives the id and revision of a row.
func head(row any) (id string, rev int64) {
	rv := reflect.ValueOf(row).Elem()
	return rv.FieldByName("ID").String(), rv.FieldByName("Rev").Int()
}

func setRev(row any, rev int64) {
	reflect.ValueOf(row).Elem().FieldByName("Rev").SetInt(rev)
}
