package serials

import (
	"fmt"
	"slices"
	"testing"
)

func TestOddities(t *testing.T) {
	var keys []string
	for i := range 40 {
		keys = append(keys, fmt.Sprintf("KD%06d%c", i*7919%1000000, 'A'+i%26))
	}
	p := Learn(append(keys, "", "KDX001"))
	for key, want := range map[string][]string{
		"KD123456Q":  nil,
		"KD1234S6Q":  {"character 7 is the letter S; there stands a digit in 40 of 40 others"},
		"KD12345670": {"it has 10 characters; 40 of 41 others have 9"},
		"KD1234567":  {"character 9 is the digit 7; there stands a letter in 40 of 40 others"},
		"0DO234567": {"character 1 is the digit 0; there stands a letter in 40 of 40 others",
			"character 3 is the letter O; there stands a digit in 40 of 40 others", "character 9 is the digit 7; there stands a letter in 40 of 40 others"},
		"KDX002": nil, // one of 41 is more than hardly ever, and too few to know more
		"":       nil,
	} {
		if got := p.Oddities(key); !slices.Equal(got, want) {
			t.Errorf("Oddities(%q) = %q, want %q", key, got, want)
		}
	}
	odd := Learn(append([]string{"KD1234S6Q"}, keys[:10]...))
	if got := odd.Among("KD1234S6Q"); len(got) != 1 || odd.Among(keys[3]) != nil {
		t.Errorf("among its like: %q and %q", got, odd.Among(keys[3]))
	}
	if got := Learn(keys[:8]).Among(keys[0]); got != nil {
		t.Errorf("of seven others: %q", got)
	}
	if got := Learn(keys[:7]).Oddities("Z"); got != nil {
		t.Errorf("of seven serials something is learned: %q", got)
	}
	if got := Learn(keys[:8]).Oddities("Z"); len(got) != 1 {
		t.Errorf("of eight serials: %q", got)
	}
}
