// Package words is the one catalog of screen text. Every language is a folder of
// files, one an area of the screens; a line is a key, " = " and the text, in
// which {1}, {2} … stand for what is put in. English is whole; another language
// may lack texts, which are then shown in English.
package words

import (
	"embed"
	"fmt"
	"io/fs"
	"slices"
	"sort"
	"strconv"
	"strings"
	"sync"
)

//go:embed en es
var files embed.FS

// Language is the BCP 47 tag of a language that the catalog has.
type Language string

const (
	English Language = "en"
	Spanish Language = "es"
)

// Languages lists those of the catalog, English first.
func Languages() []Language { return []Language{English, Spanish} }

// catalog is read when a text is first asked for: most commands of the command line
// never do.
var catalog = sync.OnceValue(func() map[Language]map[string]string { return must(read(files)) })

func must(c map[Language]map[string]string, err error) map[Language]map[string]string {
	if err != nil {
		panic("words: " + err.Error())
	}
	return c
}

func read(from fs.FS) (map[Language]map[string]string, error) {
	out := map[Language]map[string]string{}
	for _, lang := range Languages() {
		texts := map[string]string{}
		names, err := fs.Glob(from, string(lang)+"/*.txt")
		if err != nil {
			return nil, err
		}
		for _, name := range names {
			raw, err := fs.ReadFile(from, name)
			if err != nil {
				return nil, err
			}
			if err := parse(texts, string(raw)); err != nil {
				return nil, fmt.Errorf("%s: %w", name, err)
			}
		}
		out[lang] = texts
	}
	for key := range out[Spanish] {
		if _, known := out[English][key]; !known {
			return nil, fmt.Errorf("es has %q, which en has not", key)
		}
	}
	return out, nil
}

func parse(into map[string]string, text string) error {
	for i, line := range strings.Split(text, "\n") {
		line = strings.TrimSpace(line)
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		key, value, found := strings.Cut(line, " = ")
		if !found || key == "" || strings.ContainsAny(key, " \t") || value == "" {
			return fmt.Errorf("line %d is not KEY = TEXT", i+1)
		}
		if _, twice := into[key]; twice {
			return fmt.Errorf("line %d: %s is there already", i+1, key)
		}
		into[key] = value
	}
	return nil
}

// Has says whether the catalog has a key.
func Has(key string) bool { _, known := catalog()[English][key]; return known }

// Keys lists the keys of a language, sorted.
func Keys(lang Language) []string {
	var all []string
	for key := range catalog()[lang] {
		all = append(all, key)
	}
	sort.Strings(all)
	return all
}

// Say gives the text of a key with what is put in. A key that is not in the
// catalog is a mistake of the program.
func Say(lang Language, key string, in ...any) string {
	text, known := catalog()[lang][key]
	if !known {
		text, known = catalog()[English][key]
	}
	if !known {
		panic("words: no text for " + key)
	}
	pairs := make([]string, 0, 2*len(in))
	for i, v := range in {
		pairs = append(pairs, "{"+strconv.Itoa(i+1)+"}", fmt.Sprint(v))
	}
	return strings.NewReplacer(pairs...).Replace(text) // once: what is put in may hold {2}
}

// Count is Say of a text whose first gap is a whole number: of one thing it says
// KEY.one.
func Count(lang Language, key string, n any, more ...any) string {
	if fmt.Sprint(n) == "1" {
		key += ".one"
	}
	return Say(lang, key, append([]any{n}, more...)...)
}

// Find gives the language of a tag, its region left out.
func Find(tag string) (Language, bool) {
	primary, _, _ := strings.Cut(strings.ToLower(strings.TrimSpace(tag)), "-")
	l := Language(primary)
	return l, slices.Contains(Languages(), l)
}

// Prefer picks from an Accept-Language header (RFC 9110 section 12.5.4) the
// language with the greatest weight that the catalog has; English else.
func Prefer(header string) Language {
	best, weight := English, 0.0
	for _, part := range strings.Split(header, ",") {
		tag, params, _ := strings.Cut(part, ";")
		q := 1.0
		if v, found := strings.CutPrefix(strings.TrimSpace(params), "q="); found {
			var err error
			if q, err = strconv.ParseFloat(v, 64); err != nil {
				continue
			}
		}
		if l, ok := Find(tag); ok && q > weight {
			best, weight = l, q
		}
	}
	return best
}
