package api

import (
	"cmp"
	"encoding/json"
	"fmt"
	"maps"
	"net/url"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"pawl/model/fault"
)

// shape compares a JSON value with the Go type that it is for, member by member
// and with names in their exact case, so that nothing that was sent is dropped.
type shape struct{ bad fault.Problems }

// mostProblems is how many values at fault are listed.
const mostProblems = 50

func (s *shape) add(at, format string, args ...any) {
	if len(s.bad) < mostProblems {
		s.bad.Add(at, format, args...)
	}
}

func (s *shape) check(at string, value any, form reflect.Type) {
	if form.Kind() == reflect.Pointer {
		form = form.Elem()
	}
	switch form.Kind() {
	case reflect.Struct:
		s.object(at, value, form)
	case reflect.Slice:
		s.array(at, value, form)
	case reflect.String:
		if _, ok := value.(string); !ok {
			s.add(at, "%s is not a text", named(value))
		}
	case reflect.Bool:
		if _, ok := value.(bool); !ok {
			s.add(at, "%s is not true or false", named(value))
		}
	case reflect.Int, reflect.Int64:
		number, ok := value.(json.Number)
		if _, err := strconv.ParseInt(string(number), 10, form.Bits()); !ok || err != nil {
			s.add(at, "%s is not a whole number", named(value))
		}
	case reflect.Float64:
		number, ok := value.(json.Number)
		if _, err := strconv.ParseFloat(string(number), 64); !ok || err != nil {
			s.add(at, "%s is not a number", named(value))
		}
	default:
		panic("api: no request holds a " + form.String())
	}
}

func (s *shape) object(at string, value any, form reflect.Type) {
	object, ok := value.(map[string]any)
	if !ok {
		s.add(at, "%s is not an object", named(value))
		return
	}
	known := members(form)
	for _, name := range slices.Sorted(maps.Keys(object)) {
		member, ok := known[name]
		if !ok {
			s.add(at+"/"+escape(name), "there is no %q to set here; there is %s", fault.Clip(name), cmp.Or(strings.Join(slices.Sorted(maps.Keys(known)), ", "), "nothing"))
			continue
		}
		s.check(at+"/"+escape(name), object[name], member)
	}
}

func (s *shape) array(at string, value any, form reflect.Type) {
	array, ok := value.([]any)
	if !ok {
		s.add(at, "%s is not a list", named(value))
		return
	}
	for i, element := range array {
		s.check(at+"/"+strconv.Itoa(i), element, form.Elem())
	}
}

// empty puts the empty value of its type in place of each member that is null.
func (s *shape) empty(object map[string]any, form reflect.Type) {
	known := members(form)
	for name, value := range object {
		member, ok := known[name]
		if value != nil || !ok {
			continue
		}
		switch member.Elem().Kind() {
		case reflect.Slice:
			object[name] = []any{}
		case reflect.String:
			object[name] = ""
		case reflect.Bool:
			object[name] = false
		default:
			object[name] = json.Number("0")
		}
	}
}

// members gives the members of a struct by their names in JSON, those of
// embedded structs with them.
func members(form reflect.Type) map[string]reflect.Type {
	all := map[string]reflect.Type{}
	for i := range form.NumField() {
		f := form.Field(i)
		name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
		if f.Anonymous && name == "" {
			maps.Copy(all, members(f.Type))
			continue
		}
		all[cmp.Or(name, f.Name)] = f.Type
	}
	return all
}

// named shows a value in a message.
func named(value any) string {
	switch v := value.(type) {
	case nil:
		return "null"
	case string:
		return strconv.Quote(fault.Clip(v))
	case map[string]any:
		return "an object"
	case []any:
		return "a list"
	}
	return fault.Clip(fmt.Sprint(value))
}

var tilde = strings.NewReplacer("~", "~0", "/", "~1")

// escape writes a name as part of a JSON Pointer in a URI fragment (RFC 6901
// sections 3 and 6).
func escape(name string) string { return url.PathEscape(tilde.Replace(fault.Clip(name))) }
