package store

import (
	"context"
	"database/sql/driver"
	"fmt"
	"reflect"

	"pawl/model/ledger"
)

// column gives the value of one field as it is stored: string, int64, bool or
// nil. An empty value is nil, so that a column added later changes no image;
// where empty and absent differ the field is a pointer.
func column(v any) (any, error) {
	if val, ok := v.(driver.Valuer); ok {
		var err error
		if v, err = val.Value(); err != nil || v == nil {
			return nil, err
		}
	}
	rv := reflect.ValueOf(v)
	if rv.Kind() == reflect.Pointer {
		if rv.IsNil() {
			return nil, nil
		}
		return rv.Elem().Int(), nil
	}
	if !rv.IsValid() || rv.IsZero() {
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
	return nil, fmt.Errorf("store: a column cannot hold %T", v)
}

// columns gives the stored values of a row in field order, with its image: all
// but id and rev, which stand in the line.
func (t *table) columns(row any) (values []any, image ledger.Image, err error) {
	rv := reflect.ValueOf(row).Elem()
	values, image = make([]any, 0, len(t.schema.Fields)), ledger.Image{}
	for _, f := range t.schema.Fields {
		raw, empty := f.ValueOf(context.Background(), rv)
		if empty {
			values = append(values, nil)
			continue
		}
		v, err := column(raw)
		if err != nil {
			return nil, nil, err
		}
		values = append(values, v)
		if v != nil && f.DBName != "id" && f.DBName != "rev" {
			image[f.DBName] = v
		}
	}
	return values, image, image.Check()
}

// head gives the id and revision of a row.
func head(row any) (id string, rev int64) {
	rv := reflect.ValueOf(row).Elem()
	return rv.FieldByName("ID").String(), rv.FieldByName("Rev").Int()
}

func setRev(row any, rev int64) {
	reflect.ValueOf(row).Elem().FieldByName("Rev").SetInt(rev)
}
