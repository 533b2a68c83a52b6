package words

import (
	"slices"
	"strings"
	"testing"
)

// Of one thing a text says one, in every language that has the text at all.
func TestCountSaysOneOfOne(t *testing.T) {
	for _, c := range []struct {
		lang Language
		key  string
		n    int
		more []any
		want string
	}{
		{English, "due.left", 2, nil, "2 days left"},
		{English, "due.left", 1, nil, "1 day left"},
		{Spanish, "due.left", 2, nil, "quedan 2 días"},
		{Spanish, "due.left", 1, nil, "queda 1 día"},
		{English, "today.elsewhere-old", 0, []any{"1 Dec"}, "The copy is from 1 Dec, 0 days old. Make it anew."},
		{English, "today.elsewhere-old", 1, []any{"1 Dec"}, "The copy is from 1 Dec, 1 day old. Make it anew."},
	} {
		if got := Count(c.lang, c.key, c.n, c.more...); got != c.want {
			t.Errorf("%d in %s: %q, want %q", c.n, c.lang, got, c.want)
		}
	}
	spanish := Keys(Spanish)
	for _, key := range Keys(English) {
		many, one := strings.CutSuffix(key, ".one")
		if one && !Has(many) {
			t.Errorf("%s is of one thing, and %s of many is not there", key, many)
		}
		if one && slices.Contains(spanish, many) != slices.Contains(spanish, key) {
			t.Errorf("of %s and %s Spanish has only one", many, key)
		}
	}
}

// What is put in is shown as it is: a tool's model may read like a gap of the text.
func TestSayPutsInOnce(t *testing.T) {
	if got, want := Say(English, "due.row", "{2}", "b", "c"), "{2}: b, c"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}
