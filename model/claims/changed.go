package claims

import (
	"bytes"
	"fmt"
	"reflect"
	"slices"
	"strings"

	"pawl/model/fault"
)

// Changed names what is on record otherwise than a statement says, line by line: what was
// frozen is handed over as it is, and this is what was learned since.
func Changed(was, now Statement) (out []string) {
	if w, n := was.Shop, now.Shop; w != n {
		out = append(out, fmt.Sprintf("the shop is called %q now", n))
	}
	out = append(out, differs("the claim", was.Claim, now.Claim)...)
	out = append(out, differs("the loss", was.Loss, now.Loss)...)
	out = append(out, factsChanged(was.Facts, now.Facts)...)
	if !slices.EqualFunc(was.Files, now.Files, sameFile) {
		out = append(out, fmt.Sprintf("photos and papers of the loss: there were %d, there are %d, or one was exchanged", len(was.Files), len(now.Files)))
	}
	for _, w := range was.Lines {
		at := slices.IndexFunc(now.Lines, func(l Line) bool { return l.Line == w.Line && l.Tool == w.Tool })
		if at < 0 {
			out = append(out, fmt.Sprintf("line %d, %s %s, is on it no more", w.Line, w.Number, w.Kind))
			continue
		}
		out = append(out, lineChanged(w, now.Lines[at])...)
	}
	for _, n := range now.Lines {
		if !slices.ContainsFunc(was.Lines, func(l Line) bool { return l.Line == n.Line && l.Tool == n.Tool }) {
			out = append(out, fmt.Sprintf("line %d, %s %s, is new", n.Line, n.Number, n.Kind))
		}
	}
	return out
}

// factsChanged names the dated facts that stand no more, and those that came. Two that say
// the same are two.
func factsChanged(was, now []FactPart) (out []string) {
	came := slices.Clone(now)
	for _, f := range was {
		at := slices.IndexFunc(came, func(o FactPart) bool { return reflect.DeepEqual(f, o) })
		if at < 0 {
			out = append(out, fmt.Sprintf("what happened on %s, %q, was withdrawn", f.On, f.What))
			continue
		}
		came = slices.Delete(came, at, at+1)
	}
	for _, f := range came {
		out = append(out, fmt.Sprintf("what happened on %s, %q, came", f.On, f.What))
	}
	return out
}

// lineChanged names the members of a line that are otherwise now, and photos and papers
// that came or went.
func lineChanged(was, now Line) []string {
	at := fmt.Sprintf("line %d, %s", was.Line, was.Number)
	before, after := was.Files, now.Files
	was.Files, now.Files = nil, nil
	was.Reworded, now.Reworded = false, false
	out := differs(at, &was, &now)
	for _, f := range before {
		if !slices.ContainsFunc(after, func(o File) bool { return sameFile(f, o) }) {
			out = append(out, at+": "+f.Kind+" "+f.Ref+" is withdrawn, or not to be seen any more")
		}
		if slices.ContainsFunc(after, func(o File) bool { return sameFile(f, o) && f.GradeWords() != o.GradeWords() }) {
			out = append(out, at+": what a look says of "+f.Kind+" "+f.Ref+" was changed")
		}
	}
	for _, f := range after {
		if !slices.ContainsFunc(before, func(o File) bool { return sameFile(f, o) }) {
			out = append(out, at+": a "+f.Kind+" came")
		}
	}
	return out
}

func sameFile(a, b File) bool { return a.Record == b.Record && a.SHA256 == b.SHA256 }

// differs names the members of two structures that are not the same.
func differs[T any](what string, was, now *T) (out []string) {
	switch {
	case was == nil && now == nil:
		return nil
	case was == nil || now == nil:
		return []string{what + " was there or is there alone"}
	}
	w, n := reflect.ValueOf(*was), reflect.ValueOf(*now)
	for i := range w.NumField() {
		if !reflect.DeepEqual(w.Field(i).Interface(), n.Field(i).Interface()) {
			name, _, _ := strings.Cut(w.Type().Field(i).Tag.Get("json"), ",")
			out = append(out, what+": "+strings.ReplaceAll(name, "_", " ")+" was changed")
		}
	}
	return out
}

// SameList says whether two sheets of one loss say the same, whenever they were drawn. What a
// sheet marks as read otherwise than before depends on which papers there were before.
func (s Statement) SameList(o Statement) bool {
	plain := func(st Statement) ([]byte, error) {
		st.Created, st.Size = 0, 0
		st.Lines = slices.Clone(st.Lines)
		for i := range st.Lines {
			st.Lines[i].Reworded = false
		}
		return st.Bytes()
	}
	a, failedA := plain(s)
	b, failedB := plain(o)
	return failedA == nil && failedB == nil && bytes.Equal(a, b)
}

// Reworded names what papers that were given out say otherwise than they would now: lines
// that came or went, and words of those that stand.
func Reworded(was, now Statement) (out []string) {
	line := func(of Statement, tool string) int {
		return slices.IndexFunc(of.Lines, func(l Line) bool { return l.Tool == tool })
	}
	for _, w := range was.Lines {
		at := line(now, w.Tool)
		switch {
		case at < 0:
			out = append(out, fmt.Sprintf("line %d, %s %s, is on it no more", w.Line, w.Number, w.Kind))
		case now.Lines[at].Line != w.Line:
			out = append(out, fmt.Sprintf("line %d, %s %s, is line %d", w.Line, w.Number, w.Kind, now.Lines[at].Line))
		case described(now.Lines[at]) != described(w):
			out = append(out, fmt.Sprintf("line %d, %s: it said %q, and would say %q", w.Line, w.Number, described(w), described(now.Lines[at])))
		}
	}
	for _, n := range now.Lines {
		if line(was, n.Tool) < 0 {
			out = append(out, fmt.Sprintf("line %d, %s %s, is new", n.Line, n.Number, n.Kind))
		}
	}
	return out
}

// SameWording refuses a statement whose lines differ in number or wording from one of the
// same loss that was given out before: police and insurer must read the same. Lines that
// came since are a supplement, and are no difference.
func SameWording(before, now Statement) error {
	for _, w := range before.Lines {
		at := slices.IndexFunc(now.Lines, func(l Line) bool { return l.Tool == w.Tool })
		if at < 0 || slices.ContainsFunc(now.Off, func(o OffLine) bool { return o.Line == w.Line }) {
			continue // of another owner's claim, or withdrawn, which the papers say
		}
		n := now.Lines[at]
		switch {
		case n.Line != w.Line:
			return otherwise(w, "it is line %d now", n.Line)
		case described(w) != described(n):
			return otherwise(w, "it said %q, and would say %q", described(w), described(n))
		}
	}
	return nil
}

// MarkReworded marks the lines that read otherwise than in a statement that was given out
// before: whoever has that one gets them again.
func (s *Statement) MarkReworded(before Statement) {
	for i, n := range s.Lines {
		for _, w := range before.Lines {
			if w.Line == n.Line && w.Tool == n.Tool && described(w) != described(n) {
				s.Lines[i].Reworded = true
			}
		}
	}
}

func otherwise(l Line, format string, args ...any) error {
	return fault.New(fault.Refused, "line %d, %s, would not read as on the papers that were given out: %s", l.Line, l.Number, fmt.Sprintf(format, args...)).
		WithFact("line", fmt.Sprint(l.Line)).WithHint("say that it was mended since with --reworded, and give the police the new sheet too")
}

// described is what a line says of the thing.
func described(l Line) string {
	return strings.Join(slices.DeleteFunc([]string{l.Maker, l.Model, l.Kind, strings.Join(l.Pieces, ", "), l.Notes, l.Serial, l.Lot, l.OwnersNo},
		func(s string) bool { return s == "" }), "; ")
}
