package page

import (
	"regexp"
	"slices"
	"strings"
	"sync"

	"pawl/api/page/words"
	"pawl/model"
	"pawl/model/dates"
	"pawl/model/pattern"
)

// What puts work in doubt is said by the rules in English. The catalog has a line for each
// way that they say it, as for faults; the figures of a comparison stay as they were read.

// doubtText is a reason as a screen says it. Figures are of the comparison, in English.
type doubtText struct{ Said, Figures string }

// doubtLines are those of the catalog, the most particular first.
var doubtLines = sync.OnceValue(func() (out []faultLine) {
	for _, key := range words.Keys(words.English) {
		if strings.HasPrefix(key, "doubt.") && !strings.HasPrefix(key, doubtWord) {
			text := placeholder.ReplaceAllString(regexp.QuoteMeta(words.Say(words.English, key)), "(.+)")
			out = append(out, faultLine{regexp.MustCompile("^(?s:" + text + ")$"), key})
		}
	}
	slices.SortStableFunc(out, func(a, b faultLine) int { return len(b.pattern.String()) - len(a.pattern.String()) })
	return out
})

const (
	doubtWord = "doubt.word."
	// What a line names last is a reason itself, or the figures of a comparison.
	ofReason, ofFigures = ".reason", ".figures"
)

// doubtSaid says a reason in a language; what the catalog has no line for stays as the
// rules say it.
func doubtSaid(lang words.Language, text string) doubtText {
	if lang == words.English {
		return doubtText{Said: text}
	}
	for _, line := range doubtLines() {
		found := line.pattern.FindStringSubmatch(text)
		if found == nil {
			continue
		}
		var in []any
		for _, named := range found[1:] {
			in = append(in, wordsWithin(lang, []string{doubtWord, "wrong."}, named))
		}
		last, figures := len(in)-1, ""
		switch {
		case strings.HasSuffix(line.key, ofFigures):
			figures, in = found[last+1], in[:last]
		case strings.HasSuffix(line.key, ofReason):
			inner := doubtSaid(lang, found[last+1])
			in[last], figures = inner.Said, inner.Figures
		}
		return doubtText{words.Say(lang, line.key, in...), figures}
	}
	return doubtText{Said: text}
}

// doubtsSaid says reasons that stand behind each other, without figures.
func doubtsSaid(lang words.Language, text string) string {
	if lang == words.English || text == "" {
		return text
	}
	parts := strings.Split(text, "; ")
	for i, part := range parts {
		parts[i] = doubtSaid(lang, part).Said
	}
	return strings.Join(parts, "; ")
}

// daysInWords says the days in a reason as the rest of the page does.
func (v view) daysInWords(text string) string {
	return isoDay().ReplaceAllStringFunc(text, func(day string) string { return v.Day(dates.Date(day)) })
}

// isoDay is how the rules write a day.
var isoDay = pattern.Late(`\b\d{4}-\d\d-\d\d\b`)

// unknownSaid says what a recheck does not know.
func unknownSaid(lang words.Language, v model.RecheckView) string {
	u := v.Unknown
	if lang == words.English {
		return u.Words
	}
	say := func(key string, in ...any) string { return words.Say(lang, "recheck.unknown."+key, in...) }
	circle := ""
	if u.Circle != "" {
		circle = say("circle", strings.ReplaceAll(u.Circle, " with ", " "+words.Say(lang, "doubt.word.with")+" "))
	}
	if v.Window == nil {
		return strings.TrimSpace(say("nothing-found") + " " + circle)
	}
	parts := []string{say("recorded", u.Tightenings, u.Measurements, u.OnJobs)}
	if u.Tightenings+u.Measurements == 0 {
		parts[0] = say("none-recorded")
	}
	if u.JobsWithoutRecord > 0 {
		parts = append(parts, say("jobs", u.JobsWithoutRecord))
	}
	if u.DaysOutWithoutJob > 0 {
		parts = append(parts, say("days", u.DaysOutWithoutJob))
	}
	parts = append(parts, say("unscanned"))
	for _, what := range u.Unreadable {
		parts = append(parts, say("unreadable", doubtSaid(lang, what).Said))
	}
	return strings.TrimSpace(strings.Join(parts, "; ") + ". " + circle)
}

// limitWords are the words in what a tool must hold, by language, the longest first.
var limitWords = sync.OnceValue(func() map[words.Language]*strings.Replacer {
	var keys []string
	for _, key := range words.Keys(words.English) {
		if strings.HasPrefix(key, "limit.word.") {
			keys = append(keys, key)
		}
	}
	slices.SortStableFunc(keys, func(a, b string) int {
		return len(words.Say(words.English, b)) - len(words.Say(words.English, a))
	})
	out := map[words.Language]*strings.Replacer{}
	for _, lang := range words.Languages() {
		var pairs []string
		for _, key := range keys {
			english, said := words.Say(words.English, key), words.Say(lang, key)
			after := " " + said
			if strings.HasPrefix(said, ",") {
				after = said
			}
			pairs = append(pairs, "("+english, "("+said, " "+english, after)
		}
		out[lang] = strings.NewReplacer(pairs...)
	}
	return out
})

// mustHoldWords says a limit or a scale in a language: figures and units stand as they do in
// English, with other words between them.
func mustHoldWords(lang words.Language, text string) string { return limitWords()[lang].Replace(text) }
