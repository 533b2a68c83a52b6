package cli

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"testing"

	"pawl/api/wire"
	"pawl/model/numbers"
)

// corruptedScans is how many corrupted scans are tried.
const corruptedScans = 10_000

// spoiler makes of good scans such as must change nothing.
type spoiler struct {
	*rand.Rand
	good []string // symbols of tools, badges and jobs as they are printed
}

func (s spoiler) one() string { return s.good[s.IntN(len(s.good))] }

// layoutKeys is what another keyboard makes of the keys that a scanner presses for
// a US one; from memory, as reference interfaces 1.4 marks it.
var layoutKeys = []*strings.Replacer{
	// QWERTZ
	strings.NewReplacer("Y", "Z", "Z", "Y", "/", "-", "-", "ß", ":", "Ö"),
	// AZERTY
	strings.NewReplacer("A", "Q", "Q", "A", "W", "Z", "Z", "W", "M", "?", "/", "!", "-", ")", ":", "M",
		"0", "à", "1", "&", "2", "é", "3", `"`, "4", "'", "5", "(", "6", "-", "7", "è", "8", "_", "9", "ç"),
}

// stroke loses, doubles, swaps or changes one key stroke: what the check character
// of a tool number is for.
func (s spoiler) stroke(code string) string {
	i := 2 + s.IntN(len(code)-3)
	a, b := code[i], code[i+1]
	switch s.IntN(4) {
	case 0:
		return code[:i] + code[i+1:]
	case 1:
		return code[:i] + string(a) + code[i:]
	case 2:
		return code[:i] + string(b) + string(a) + code[i+2:]
	}
	const keys = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
	return code[:i] + string(keys[s.IntN(len(keys))]) + code[i+1:]
}

func (s spoiler) foreign() string {
	switch s.IntN(4) {
	case 0:
		return fmt.Sprintf("https://far%d.example/T/%s", s.IntN(1_000_000), strings.TrimPrefix(s.one(), "T/"))
	case 1:
		return fmt.Sprintf("WIFI:T:WPA;S:bay %d;P:%x;;", s.IntN(1_000_000), s.Uint64())
	case 2:
		return fmt.Sprintf("%013d", s.Uint64N(10_000_000_000_000)) // a barcode on a box
	}
	b := make([]byte, 1+s.IntN(4096))
	for i := range b {
		b[i] = byte(s.Uint32())
		if b[i] == '\n' || b[i] == '\r' {
			b[i] = ' '
		}
	}
	return string(b)
}

// spoiled is one corrupted scan, of a tool if of any.
func (s spoiler) spoiled() (line, tool string) {
	tool = s.good[s.IntN(len(s.good)/2)] // the first half are tools
	switch s.IntN(5) {
	case 0: // half of one
		if cut := 1 + s.IntN(len(tool)-1); s.IntN(2) == 0 {
			return tool[:cut], tool
		} else {
			return tool[cut:], tool
		}
	case 1: // two run together
		return s.one() + s.one(), ""
	case 2:
		return layoutKeys[s.IntN(len(layoutKeys))].Replace(tool), tool
	case 3:
		return s.stroke(tool), tool
	}
	return s.foreign(), ""
}

// stands says what number stands in a line as the symbol of a tool.
func stands(line string) string {
	symbol, err := numbers.ParseSymbol(line)
	if err != nil || symbol.Kind != numbers.Tool {
		return ""
	}
	return "T/" + symbol.Code
}

// TestCorruptedScans: half codes, two run together, single strokes gone wrong, wrong
// keyboard layouts and foreign codes of up to 4 kB, while a badge is open: not one of
// them acts on any tool, the ledger is as it was, and each gets its one line.
func TestCorruptedScans(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "shop")
	pawl := func(stdin string, args ...string) (string, int) {
		var out, errs bytes.Buffer
		code := Run(append([]string{"pawl", "--data", dir}, args...), strings.NewReader(stdin), &out, &errs)
		return out.String(), code
	}
	pawl("", "people", "add", "Tech A", "--role", "technician")
	var people wire.People
	text, _ := pawl("", "people", "--json")
	if err := json.Unmarshal([]byte(text), &people); err != nil {
		t.Fatal(err, text)
	}
	badge := people.People[0].Badge
	s := spoiler{rand.New(rand.NewPCG(6, 7)), nil}
	const tools = 20
	for range tools {
		var r wire.Registered
		text, _ := pawl("", "register", "--kind", "ratchet", "--json")
		if err := json.Unmarshal([]byte(text), &r); err != nil {
			t.Fatal(err, text)
		}
		s.good = append(s.good, "T/"+strings.ReplaceAll(r.Number, "-", ""))
	}
	for i := range tools {
		s.good = append(s.good, []string{badge, "JOB:1042", s.good[i]}[i%3])
	}
	var feed strings.Builder
	sent, left := 0, 0
	for sent < corruptedScans {
		if sent%250 == 0 {
			feed.WriteString(badge + "\n")
		}
		line, tool := s.spoiled()
		if n := stands(line); n == tool && n != "" { // a stroke changed into itself, or two alike changed places
			left++
			continue
		} else if n != "" && !strings.Contains(line, "far") {
			t.Fatalf("%q, spoiled, is %s", line, n)
		}
		if trimLine(line) == "" || trimLine(line) == badge || strings.EqualFold(trimLine(line), "undo") {
			continue
		}
		feed.WriteString(line + "\n")
		sent++
	}
	history := func() string { text, _ := pawl("", "verify", "--json"); return text }
	before := history()
	out, code := pawl(feed.String(), "board", "--json")
	if after := history(); after != before {
		t.Errorf("the ledger was %s and is %s", before, after)
	}
	answers := strings.Count(out, "\n")
	if code == 0 || answers < sent {
		t.Errorf("exit %d with %d answers to %d scans", code, answers, sent)
	}
	for _, line := range strings.Split(strings.TrimSpace(out), "\n") {
		var a scanned
		if err := json.Unmarshal([]byte(line), &a); err != nil || a.Said == "" {
			t.Fatalf("%v: %.200s", err, line)
		}
		if a.Custody != nil {
			t.Errorf("it acted: %.200s", line)
		}
	}
	t.Logf("%d corrupted scans, %d more were whole after all", sent, left)
}
