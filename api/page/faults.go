package page

import (
	"regexp"
	"slices"
	"strings"
	"sync"

	"pawl/api/page/words"
	"pawl/model/dates"
)

// faultLine is a fault of the rules as its screen text is written: what it names
// stands in groups.
type faultLine struct {
	pattern *regexp.Regexp
	key     string
}

// faultLines are those of the catalog, the most particular first.
// They are read when a page first asks: a command of the command line asks for none.
var faultLines = sync.OnceValue(readFaultLines)

// ruleAreas are the beginnings of the lines that the rules say in English, each with those
// of the words that they name: what is wrong, and what is recorded otherwise since a paper
// was handed over.
var ruleAreas = map[string][]string{"fault": {"wrong.", "gone."}, "since": {"member.", "evidence."}}

func ruleArea(key string) string {
	area, _, _ := strings.Cut(key, ".")
	return area
}

func readFaultLines() (out []faultLine) {
	for _, key := range words.Keys(words.English) {
		if ruleAreas[ruleArea(key)] != nil {
			text := placeholder.ReplaceAllString(regexp.QuoteMeta(words.Say(words.English, key)), "(.+)")
			out = append(out, faultLine{regexp.MustCompile("^(?s:" + text + ")$"), key})
		}
	}
	slices.SortStableFunc(out, func(a, b faultLine) int { return len(b.pattern.String()) - len(a.pattern.String()) })
	return out
}

// placeholder is {1} after its braces were escaped for a pattern. What a line
// names stands in it in that order.
var placeholder = regexp.MustCompile(`\\\{\d\\\}`)

// faultWords says what was wrong in a language; what its catalog has no line for
// stays as the rules say it, in English.
func faultWords(lang words.Language, text string) string {
	if lang == words.English || text == "" {
		return text
	}
	if said, known := faultSaid(lang, text); known {
		return said
	}
	parts := strings.Split(text, "; ")
	for i, part := range parts {
		parts[i] = faultWithHint(lang, part)
	}
	return strings.Join(parts, "; ")
}

// faultWithHint says a fault behind which what to do stands in brackets.
func faultWithHint(lang words.Language, text string) string {
	if said, known := faultSaid(lang, text); known {
		return said
	}
	inner, bracketed := strings.CutSuffix(text, ")")
	before, hint, found := strings.Cut(inner, " (")
	said, known := faultSaid(lang, before)
	if !bracketed || !found || !known {
		return text
	}
	next, _ := faultSaid(lang, hint)
	return said + " (" + next + ")"
}

func faultSaid(lang words.Language, text string) (string, bool) {
	whole := strings.TrimSuffix(text, ".")
	for _, line := range faultLines() {
		found := line.pattern.FindStringSubmatch(whole)
		if found == nil {
			continue
		}
		in := make([]any, len(found)-1)
		for i, named := range found[1:] {
			in[i] = wordsWithin(lang, ruleAreas[ruleArea(line.key)], named)
		}
		return words.Say(lang, line.key, in...), true
	}
	return text, false
}

// wordsWithin says a list of our words that a line names; anything else stays, and so does
// what somebody wrote, which stands in quotes.
func wordsWithin(lang words.Language, prefixes []string, named string) string {
	if strings.HasPrefix(named, `"`) {
		return named
	}
	all := strings.Split(named, ", ")
	for i, each := range all {
		for _, prefix := range prefixes {
			if key := prefix + strings.ReplaceAll(each, " ", "-"); words.Has(key) {
				all[i] = strings.ToLower(words.Say(lang, key))
			}
		}
	}
	return strings.Join(all, ", ")
}

// word is one of our words as a screen says it; one that no catalog has stays.
func word(lang words.Language, prefix, value string) string {
	key := prefix + strings.ReplaceAll(value, " ", "-")
	if !words.Has(key) {
		return value
	}
	return words.Say(lang, key)
}

// sayWhy says a problem as the rest of the page does: in its language, and its
// instants in words, in the shop's zone.
func (v *view) sayWhy() {
	v.Problem.Detail, v.Problem.Hint = v.why(v.Problem.Detail), v.why(v.Problem.Hint)
	for i := range v.Problem.Fields {
		v.Problem.Fields[i].Detail = v.why(v.Problem.Fields[i].Detail)
	}
	for name, text := range v.Form.Errors {
		v.Form.Errors[name] = v.why(text)
	}
}

// why says one text of a fault in the language of the page, and its instants in words.
func (v view) why(text string) string {
	return instant().ReplaceAllStringFunc(faultWords(v.Lang, text), v.instantInWords)
}

func (v view) instantInWords(s string) string {
	i, err := dates.ParseTime(s, v.Now.Location())
	if err != nil {
		return s
	}
	return v.When(i)
}
