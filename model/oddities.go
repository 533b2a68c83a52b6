package model

import (
	"strings"

	"pawl/model/internal/store"
	"pawl/model/register"
	"pawl/model/serials"
)

// oddity asks about a serial that is unlike the maker's others here, by place; ""
// where it is like them, or they are too few to say. The serial stays as entered.
func (d *directory) oddity(t register.Tool) (string, error) {
	if t.SerialKey == "" || t.Gone != 0 {
		return "", nil
	}
	p, err := d.PatternOf(t.MakerKey, t.SerialKey)
	if err != nil {
		return "", err
	}
	return oddWords(t, p.Oddities(t.SerialKey)), nil
}

func oddWords(t register.Tool, odd []string) string {
	if len(odd) == 0 {
		return ""
	}
	return "Look at the serial once more: " + strings.Join(odd, "; ") + " of " + makerName(t) + ". It is kept as entered; if it is marked so, leave it."
}

// oddSerials warns of new serials that are unlike the maker's others, those of the
// store and those of the spreadsheet.
func (p *sheetPlan) oddSerials(rx *store.Rx) error {
	of := map[string][]*plannedTool{}
	var makers []string
	for _, all := range [][]*plannedTool{p.fresh, p.edits} {
		for _, t := range all {
			if t.tool.SerialKey == "" || t.tool.SerialKey == t.was.SerialKey {
				continue
			}
			if of[t.tool.MakerKey] == nil {
				makers = append(makers, t.tool.MakerKey)
			}
			of[t.tool.MakerKey] = append(of[t.tool.MakerKey], t)
		}
	}
	for _, maker := range makers {
		const most = 250
		keys, err := rx.SerialsBeside(maker, of[maker][0].tool.SerialKey, most)
		if err != nil {
			return err
		}
		for _, t := range of[maker] {
			keys = append(keys, t.tool.SerialKey)
		}
		pattern := serials.Learn(keys)
		for _, t := range of[maker] {
			if odd := oddWords(t.tool, pattern.Among(t.tool.SerialKey)); odd != "" {
				p.warn(p.at(t.rows[0], "#/serial", "unlike others", odd))
			}
		}
	}
	return nil
}
