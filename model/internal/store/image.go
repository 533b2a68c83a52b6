package store

import (
	"database/sql"
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

// Decode makes the row again of which an image is. What the image holds and the row has no
// column for is passed over: a newer program wrote it.
func Decode[T any](id string, rev int64, image ledger.Image) (row T, err error) {
	t := tableOf(&row)
	rv := reflect.ValueOf(&row).Elem()
	for _, f := range t.schema.Fields {
		v, there := image[f.DBName]
		if !there {
			continue
		}
		if err := setColumn(rv.FieldByIndex(f.StructField.Index), v); err != nil {
			return row, fmt.Errorf("store: column %s of %s %s: %w", f.DBName, t.noun, id, err)
		}
	}
	rv.FieldByName("ID").SetString(id)
	setRev(&row, rev)
	return row, nil
}

func setColumn(rv reflect.Value, v any) error {
	if scanner, ok := rv.Addr().Interface().(sql.Scanner); ok {
		return scanner.Scan(v)
	}
	if rv.Kind() == reflect.Pointer {
		rv.Set(reflect.New(rv.Type().Elem()))
		rv = rv.Elem()
	}
	switch is := v.(type) {
	case string:
		if rv.Kind() == reflect.String {
			rv.SetString(is)
			return nil
		}
	case int64:
		if rv.CanInt() {
			rv.SetInt(is)
			return nil
		}
	case bool:
		if rv.Kind() == reflect.Bool {
			rv.SetBool(is)
			return nil
		}
	}
	return fmt.Errorf("it holds %T", v)
}
