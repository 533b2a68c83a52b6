package page

import (
	"bytes"
	"fmt"
	"html/template"
	"maps"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"pawl/api/page/words"
	"pawl/model/fault"
	"pawl/model/units"
)

// Form is what was typed into the forms of a page, and what was wrong with it.
type Form struct {
	Values url.Values
	Errors map[string]string // by field name
}

func formOf(values url.Values, err error) Form {
	f := Form{Values: values, Errors: map[string]string{}}
	if e := fault.Of(err); e != nil {
		for _, field := range e.Fields {
			if name := fieldName(field.Pointer); f.Errors[name] == "" {
				f.Errors[name] = forScreen(field.Detail)
			}
		}
	}
	return f
}

// field is one field of a form as its template takes it.
type field struct {
	Name, ID, Label, Hint, Value, Error string
	Type, Mode, Auto                    string // of the input
	List                                string // id of a list of proposals
	Code, Long, Required, Alone         bool   // Alone: nothing is said of whether it may stay empty
	Options                             []Option
}

// Option is one choice of several.
type Option struct {
	Value, Label, Hint string
	Chosen             bool
}

// Options makes choices of plain values, shown by the words under the prefix.
func (p *Pages) Options(lang words.Language, prefix string, values ...string) []Option {
	out := make([]Option, len(values))
	for i, v := range values {
		out[i] = Option{Value: v, Label: words.Say(lang, prefix+strings.ReplaceAll(v, " ", "-"))}
	}
	return out
}

// parts gives the functions by which templates make the parts of a form. A
// field's label is the text field.NAME, its hint, if the catalog has one,
// hint.NAME; the name may be qualified, as in "take:to", for texts of its own.
func parts(lang words.Language, set **template.Template) template.FuncMap {
	make := func(f Form, name string, kinds ...string) (field, error) {
		full, short := strings.ReplaceAll(name, ":", "."), name[strings.LastIndexByte(name, ':')+1:]
		out := field{Name: short, ID: "f-" + short, Label: words.Say(lang, "field."+full), Value: f.Values.Get(short), Error: f.Errors[short], Type: "text"}
		if words.Has("hint." + full) {
			out.Hint = words.Say(lang, "hint."+full)
		}
		for _, kind := range kinds {
			if err := out.be(kind); err != nil {
				return out, err
			}
		}
		return out, nil
	}
	draw := func(part string, data any) (template.HTML, error) {
		var b bytes.Buffer
		err := (*set).ExecuteTemplate(&b, part, data)
		return template.HTML(b.String()), err
	}
	// offer draws a part that gives options, the one that was typed chosen.
	offer := func(part string) func(Form, string, []Option) (template.HTML, error) {
		return func(f Form, name string, options []Option) (template.HTML, error) {
			one, err := make(f, name)
			if err != nil {
				return "", err
			}
			one.Options = slices.Clone(options)
			for i := range one.Options {
				if f.Values.Has(one.Name) {
					one.Options[i].Chosen = one.Options[i].Value == one.Value
				}
			}
			return draw(part, one)
		}
	}
	return template.FuncMap{
		// field FORM NAME KIND…: kinds are code, money, count, measure, date, time, long, required, alone, name, list=… (of proposals), unit=…, or value=….
		"field": func(f Form, name string, kinds ...string) (template.HTML, error) {
			one, err := make(f, name, kinds...)
			if err != nil {
				return "", err
			}
			return draw("field", one)
		},
		// choice FORM NAME OPTIONS: one of several, each a large target.
		"choice": offer("choice"),
		// pick FORM NAME OPTIONS: one of many, as a list to pick from.
		"pick": offer("pick"),
		// photo FORM NAME: the camera, or a picture or paper that is there already.
		"photo": func(f Form, name string) (template.HTML, error) {
			one, err := make(f, name)
			if err != nil {
				return "", err
			}
			return draw("photo", one)
		},
	}
}

// be makes the field one of the kinds.
func (f *field) be(kind string) error {
	switch kind {
	case "code": // a serial or a number: never type=number, which drops zeros
		f.Code = true
	case "money", "measure":
		f.Mode = "decimal"
	case "count":
		f.Mode = "numeric"
	case "date":
		f.Type = "date"
	case "time":
		f.Type = "datetime-local"
	case "long":
		f.Long = true
	case "alone":
		f.Alone = true
	case "required":
		f.Required = true
	case "name":
		f.Auto = "name"
	default:
		if list, found := strings.CutPrefix(kind, "list="); found {
			f.List = list
			return nil
		}
		if unit, found := strings.CutPrefix(kind, "unit="); found {
			f.Label += ", " + units.Unit(unit).Words()
			return nil
		}
		value, found := strings.CutPrefix(kind, "value=")
		if !found {
			return fmt.Errorf("%q is no kind of field", kind)
		}
		if f.Value == "" {
			f.Value = value
		}
	}
	return nil
}

// overtaken tells of a record that was changed while its form was filled: which
// values on record differ from what is typed. What was typed stays, and is saved
// over them when it is sent once more.
func (p *Pages) overtaken(a *Ask, is url.Values, rev int64, message string) error {
	now := strconv.FormatInt(rev, 10)
	a.form.Set("rev", now)
	f := fault.New(fault.Stale, "%s", message).WithHint("%s", p.say(a, "stale.hint")).WithFact("rev", now)
	for _, name := range slices.Sorted(maps.Keys(is)) {
		value := is.Get(name)
		switch {
		case !a.Has(name) || strings.ReplaceAll(a.Value(name), "\r\n", "\n") == value:
		case value == "":
			f.Fields = append(f.Fields, fault.Field{Pointer: "#/" + name, Detail: p.say(a, "stale.now-empty")})
		default:
			f.Fields = append(f.Fields, fault.Field{Pointer: "#/" + name, Detail: p.say(a, "stale.now", value)})
		}
	}
	return f
}
