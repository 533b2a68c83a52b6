package page

import (
	"errors"
	"fmt"
	"html/template"
	"io/fs"
	"maps"
	"net/url"
	"slices"
	"strings"

	"pawl/api/page/words"
	"pawl/model"
	"pawl/model/calibration"
	"pawl/model/custody"
	"pawl/model/evidence"
	"pawl/model/jobs"
	"pawl/model/numbers"
	"pawl/model/units"
)

// templates reads every template with the words of one language.
func templates(lang words.Language) *template.Template {
	var set *template.Template
	funcs := template.FuncMap{
		"t":             func(key string, in ...any) string { return words.Say(lang, key, in...) },
		"tn":            func(key string, n any, more ...any) string { return words.Count(lang, key, n, more...) },
		"has":           words.Has,
		"file":          file,
		"dict":          dict,
		"number":        func(n numbers.Number) string { return n.String() },
		"path":          toolPath,
		"before_words":  func(m jobs.Moment) string { return lookWords(lang, m) },
		"finding_words": func(f model.FindingView) string { return todayWords(lang, f) },
		"job_path":      jobPath,
		"photo_url": func(sha string, size string) string {
			return "/api/v1/evidence/" + sha + "?view=" + url.QueryEscape(size)
		},
		"first_photo":  firstPhoto,
		"mark":         func(v model.ToolView) Mark { return markOf(v) },
		"money":        func(m *units.Money) string { return m.String() },
		"caution":      func(text string) string { return cautionWords(lang, text) },
		"wrong_word":   func(w custody.What) string { return wrongWord(lang, w) },
		"reasons":      func(open []custody.Wrong) string { return reasonWords(lang, open) },
		"gone_word":    func(why string) string { return goneWords(lang, why) },
		"reason_words": func(list string) string { return reasonList(lang, list) },
		"beginning":    beginning,
		"forscreen":    forScreen,
		"word":         func(prefix string, value any) string { return word(lang, prefix, fmt.Sprint(value)) },
		"piece":        pieceText,
		"has_view":     hasView,
		"suspicious":   evidence.Suspicious,
		"claims":       photoSays,
		"join":         strings.Join,
		"lower":        strings.ToLower,
		"verdict":      verdictKey,
		"digits":       inDigits,
		"limit_words":  func(l calibration.Limit) string { return mustHoldWords(lang, l.Words()) },
		"scale_words":  func(s calibration.Scale) string { return mustHoldWords(lang, s.String()) },
		"reason":       func(code calibration.ReasonCode) string { return reasonTitle(lang, code) },
		"code":         func(number string) string { return strings.ReplaceAll(number, "-", "") },
		"scope":        func(text string) string { return scopeWords(lang, text) },
		"dashed":       func(text any) string { return strings.ReplaceAll(fmt.Sprint(text), " ", "-") },
	}
	maps.Copy(funcs, parts(lang, &set))
	set = template.New("pages").Funcs(funcs).Option("missingkey=error")
	files, err := fs.Sub(templateFiles, "templates")
	if err != nil {
		panic("page: " + err.Error())
	}
	set = template.Must(set.ParseFS(files, "*.html"))
	return set
}

// dict joins names and values for a part that takes several.
func dict(pairs ...any) (map[string]any, error) {
	if len(pairs)%2 != 0 {
		return nil, errors.New("dict takes pairs")
	}
	out := map[string]any{}
	for i := 0; i < len(pairs); i += 2 {
		name, ok := pairs[i].(string)
		if !ok {
			return nil, fmt.Errorf("dict: %v is not a name", pairs[i])
		}
		out[name] = pairs[i+1]
	}
	return out, nil
}

// proseLength is up to how many characters of what somebody typed stand on a page
// unfolded.
const proseLength = 240

// beginning is what a folded text shows of itself; empty: it is short.
func beginning(text string) string {
	all := []rune(text)
	if len(all) <= proseLength {
		return ""
	}
	return strings.TrimSpace(string(all[:proseLength/2])) + " …"
}

// toolPath is the page of a tool, and what lies below it.
func toolPath(n numbers.Number, below ...string) string {
	return "/t/" + strings.Join(append([]string{string(n)}, below...), "/")
}

// photoSays is what a photo says of itself: its time, its place in degrees, what it
// was taken with.
func photoSays(e evidence.Record) string {
	said := slices.DeleteFunc([]string{e.ClaimedAt, e.ClaimedPlace, e.Device}, func(s string) bool { return s == "" })
	return strings.Join(said, ", ")
}
