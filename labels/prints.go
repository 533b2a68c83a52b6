package labels

import (
	"strings"
	"unicode"
	"unicode/utf8"
)

// NeverStick says where no label, tag or sticker belongs (DESIGN 20).
const NeverStick = "Never stick anything on gloves, insulation, vents or rating plates."

// Badge is what somebody scans before they take tools at the board.
type Badge struct {
	Symbol           string // B/CODE
	Name, Role, Shop string
}

// Card lays a badge out.
func (b Badge) Card() Card {
	return Card{W: badgeW, H: badgeH, Symbol: b.Symbol, Heading: b.Name, Lines: []string{sentence(b.Role), b.Shop},
		Foot: []string{"Scan at the board before you take tools. It opens nothing else."}}
}

// PlaceLabel marks a bay, box or drawer.
type PlaceLabel struct {
	Symbol     string // P/CODE
	Path, Shop string // "Bay 1/Cart"
}

// Card lays the label of a place out: its own name large, where it is below.
func (p PlaceLabel) Card() Card {
	above, name := "", p.Path
	if i := strings.LastIndex(p.Path, "/"); i >= 0 {
		above, name = "in "+p.Path[:i], p.Path[i+1:]
	}
	return Card{W: halfW, H: halfH, Symbol: p.Symbol, Heading: name, Lines: []string{above, p.Shop}}
}

// JobTag hangs on the keys of the vehicle of a job.
type JobTag struct {
	Symbol                string // JOB:NUMBER
	Number, Vehicle, Shop string
}

// Card lays a key tag out.
func (j JobTag) Card() Card {
	return Card{W: halfW, H: halfH, Symbol: j.Symbol, Heading: "Job " + j.Number, Lines: []string{j.Vehicle, j.Shop},
		Foot: []string{"Tools taken to this job: scan this tag. All back before the engine is started."}}
}

// DoNotUseTag hangs on a tool that is out of use.
type DoNotUseTag struct {
	Symbol   string // T/NUMBER, or the link
	Number   string
	What     string // the tool in words
	Reason   string // what is wrong: "dropped"
	Note     string
	Since    string   // as people write it
	By       string   // who reported it
	Cautions []string // of the kind of tool
}

// Card lays a do-not-use tag out: the words, the paint mark broken and offset,
// why, since when, by whom. A letter that cannot be printed does not hold the
// tag up: the tag says what "?" stands for.
func (d DoNotUseTag) Card() Card {
	lines := []string{d.What, "Since " + d.Since}
	if d.By != "" {
		lines = append(lines, "Reported by "+d.By)
	}
	if d.Note != "" {
		lines = append(lines, "“"+d.Note+"”")
	}
	foot := []string{"Leave this tag on until a manager has cleared the tool in the register. Tie it on. " + NeverStick}
	if lineFace.lacks(strings.Join(lines, " ")) != "" {
		foot = append(foot, "Here “?” also stands for letters that cannot be printed. Scan to read them.")
	}
	return Card{W: tagW, H: tagH, Symbol: d.Symbol, Heading: "DO NOT USE", Number: d.Number, Lead: sentence(d.Reason), Lines: lines,
		Foot: append(foot, d.Cautions...), Offset: true, Marked: true}
}

// BoardCards are the cards beside the board that override what a scan means.
func BoardCards(shop string) []Card {
	card := func(word, line string) Card {
		return Card{W: tagW, H: tagH, Symbol: "CARD:" + word, Heading: word, Lines: []string{line, shop}}
	}
	return []Card{
		card("TAKE", "Scan this card, then every tool that you take."),
		card("RETURN", "Scan this card, then every tool that you bring back."),
		card("UNDO", "Scan this card when the last tool was scanned by mistake."),
	}
}

// sentence gives a text a capital.
func sentence(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	if n == 0 {
		return s
	}
	return string(unicode.ToUpper(r)) + s[n:]
}
